//! Heat and mass exchangers: coils, energy recovery, cooling tower.
