//! `WX`: weather.

kinds! {}
