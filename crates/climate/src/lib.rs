//! Weather years, design conditions, design days.
