//! Water on a coil: it forms, holds up to a limit, drips beyond it, and evaporates again.

/// What a coil's surface holds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FilmSettings {
    /// Air-side surface, m2; above 0.
    pub area_m2: f64,
    /// Water that stays on the surface, kg/m2; at least 0.
    pub hold_kg_per_m2: f64,
}

/// Water on a coil, and what became of it. `formed - evaporated - dripped = on_coil`, tested to 1e-9.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Film {
    /// On the coil now, kg.
    pub on_coil_kg: f64,
    /// Largest so far, kg.
    pub most_kg: f64,
    /// Left the air so far, kg.
    pub formed_kg: f64,
    /// Returned to the air so far, kg.
    pub evaporated_kg: f64,
    /// Fell off so far, kg.
    pub dripped_kg: f64,
    /// Time with water on the coil, s.
    pub wet_s: f64,
}

impl Film {
    /// One step. `from_air_kg_per_s` is the vapour that the surface would take from the air, negative where it would
    /// give; it cannot give more than it has. Returns the water that left the air, kg, negative where it returned.
    pub fn advance(&mut self, settings: &FilmSettings, from_air_kg_per_s: f64, step_s: f64) -> f64 {
        let asked = from_air_kg_per_s * step_s;
        let taken = if asked < -self.on_coil_kg { -self.on_coil_kg } else { asked };
        if taken > 0.0 {
            self.formed_kg += taken;
        } else {
            self.evaporated_kg -= taken;
        }
        self.on_coil_kg += taken;
        let held = settings.area_m2 * settings.hold_kg_per_m2;
        if self.on_coil_kg > held {
            self.dripped_kg += self.on_coil_kg - held;
            self.on_coil_kg = held;
        }
        if self.on_coil_kg > self.most_kg {
            self.most_kg = self.on_coil_kg;
        }
        if self.on_coil_kg > 0.0 {
            self.wet_s += step_s;
        }
        taken
    }
}
