//! Heat and moisture of rooms: network, exact stepping, gains.
