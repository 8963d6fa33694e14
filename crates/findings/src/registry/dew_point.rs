//! `DP`: primary air and the supply dew point.

kinds! {}
