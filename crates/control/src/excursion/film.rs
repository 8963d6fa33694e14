//! Water on a coil: it forms, holds up to a limit, drips beyond it, and evaporates again.

/// What a coil's surface holds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FilmSettings {
    /// Air-side surface, m2; above 0.
    pub area_m2: f64,
    /// Water that stays on the surface, kg/m2; at least 0.
    pub hold_kg_per_m2: f64,
}

/// Water on a surface, and what became of it: `formed - evaporated - dripped = on_coil`.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Film {
    /// On the surface now, kg.
    pub on_coil_kg: f64,
    /// Largest so far, kg.
    pub most_kg: f64,
    /// Left the air so far, kg.
    pub formed_kg: f64,
    /// Returned to the air so far, kg.
    pub evaporated_kg: f64,
    /// Fell off so far, kg.
    pub dripped_kg: f64,
    /// Time with water on the surface, s.
    pub wet_s: f64,
}

impl Film {
    /// One step. `from_air_kg_per_s` is the vapour that the surface would take from the air, negative where it would
    /// give; it cannot give more than it has. Returns the water that left the air, kg, negative where it returned.
    pub fn advance(&mut self, settings: &FilmSettings, from_air_kg_per_s: f64, step_s: f64) -> f64 {
        let asked = from_air_kg_per_s * step_s;
        let had = self.on_coil_kg;
        let taken = if asked < -had { -had } else { asked };
        if taken > 0.0 {
            self.formed_kg += taken;
        } else {
            self.evaporated_kg -= taken;
        }
        self.on_coil_kg = had + taken;
        let held = settings.area_m2 * settings.hold_kg_per_m2;
        if self.on_coil_kg > held {
            self.dripped_kg += self.on_coil_kg - held;
            self.on_coil_kg = held;
        }
        if self.on_coil_kg > self.most_kg {
            self.most_kg = self.on_coil_kg;
        }
        if self.on_coil_kg > 0.0 || had > 0.0 {
            // The last of it dries within the step.
            let share = if self.on_coil_kg == 0.0 && asked < 0.0 { had / -asked } else { 1.0 };
            self.wet_s += step_s * share;
        }
        taken
    }

    /// What is missing in its balance, kg: 0 but for rounding.
    pub fn residual_kg(&self) -> f64 {
        self.formed_kg - self.evaporated_kg - self.dripped_kg - self.on_coil_kg
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const COIL: FilmSettings = FilmSettings { area_m2: 10.0, hold_kg_per_m2: 0.05 };

    /// Balance over 20 000 steps of any sign (1e-9 of what formed: the promise of the excursion).
    #[test]
    fn phys_no_water_is_lost_or_made() {
        let mut film = Film::default();
        let mut air = 0.0;
        for k in 0..20_000_u64 {
            let rate = 2e-4 * crate::excursion::lag::noise(3, 1, k / 40);
            air += film.advance(&COIL, rate, 5.0);
        }
        assert!(film.formed_kg > 1.0 && film.dripped_kg > 0.0 && film.evaporated_kg > 0.0);
        assert!(film.residual_kg().abs() < 1e-9 * film.formed_kg, "{}", film.residual_kg());
        assert!((air - (film.formed_kg - film.evaporated_kg)).abs() < 1e-9 * film.formed_kg);
    }

    #[test]
    fn phys_a_film_holds_then_drips_and_gives_back_only_what_it_has() {
        let mut film = Film::default();
        film.advance(&COIL, 0.5 / 60.0, 60.0);
        assert_eq!((film.on_coil_kg, film.dripped_kg), (0.5, 0.0));
        film.advance(&COIL, 0.1 / 60.0, 60.0);
        assert!((film.dripped_kg - 0.1).abs() < 1e-15 && film.on_coil_kg == 0.5);
        // Twice as much as there is would go: half a step of drying.
        let back = film.advance(&COIL, -1.0 / 60.0, 60.0);
        assert_eq!(back, -0.5);
        assert!((film.wet_s - 150.0).abs() < 1e-9, "{}", film.wet_s);
        film.advance(&COIL, -1.0, 60.0);
        assert!((film.wet_s - 150.0).abs() < 1e-9 && film.on_coil_kg == 0.0);
    }
}
