//! Chillers, economizer, pumps, boilers, fans, the water loops.
