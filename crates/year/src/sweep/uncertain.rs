//! What nobody can fix: people, leakage, sensors. One design is run through many samples of them, which gives the
//! probability that each coil gets wet, not only yes or no.
//!
//! Method, stated with the result: each sample is a whole year in which the building has more or fewer people in every
//! room and a leakier or tighter facade, the same all year; the design stays as it is. The dew-point sensors have the same
//! error all year, and what they say is what the control acts on: which coils are shut, how the water and the supply are
//! reset, when rooms are dried. All three are uniform within their bounds.

use super::random::latin_hypercube;
use crate::result::{Scheme, Year};
use drycoil_findings::Finding;
use drycoil_project::Project;
use drycoil_units::{Quantity, StandardAirFlowPerArea};
use serde::Serialize;

/// What is uncertain.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Uncertainty {
    /// Number of samples.
    pub samples: usize,
    /// Seed.
    pub seed: u64,
    /// People over those of the project, lowest and highest.
    pub people: [f64; 2],
    /// Leakage of the facade over that of the project, lowest and highest.
    pub infiltration: [f64; 2],
    /// Bound of the error of the dew-point measurement in both directions, K.
    pub sensor_error_k: f64,
}

/// One sample.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Sample {
    /// People over those of the project.
    pub people: f64,
    /// Leakage over that of the project.
    pub infiltration: f64,
    /// Error of the dew-point measurement, K: the room is by so much more humid than it is believed to be.
    pub sensor_error_k: f64,
}

impl Uncertainty {
    /// The samples: a Latin hypercube.
    pub fn draw(&self) -> Vec<Sample> {
        let within = |[low, high]: [f64; 2], x: f64| low + (high - low) * x;
        latin_hypercube(3, self.samples, self.seed)
            .iter()
            .map(|x| Sample {
                people: within(self.people, x[0]),
                infiltration: within(self.infiltration, x[1]),
                sensor_error_k: within([-self.sensor_error_k, self.sensor_error_k], x[2]),
            })
            .collect()
    }
}

impl Sample {
    /// The project as it is in this sample, checked like any other.
    ///
    /// # Errors
    /// What the project's own checks find.
    pub fn project(&self, project: &Project) -> Result<Project, Vec<Finding>> {
        let mut parts = project.clone().into_parts();
        for room in &mut parts.rooms {
            room.people.value *= self.people;
        }
        let leakage = parts.criteria.infiltration.value.si() * self.infiltration;
        parts.criteria.infiltration.value = StandardAirFlowPerArea::from_si(leakage);
        Project::new(parts)
    }

    /// The smallest true margin of each room with a coil while it is occupied, K; in the order of the rooms.
    pub fn margins(&self, year: &Year) -> Vec<Option<f64>> {
        year.scheme(Scheme::Decoupled).map_or_else(Vec::new, |s| {
            s.rooms.iter().map(|r| r.margin.as_ref()?.smallest_occupied_k).collect()
        })
    }
}

/// How likely the coil of a room is to get wet while the room is in use, at least once in the year.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct WetProbability {
    /// Room.
    pub room: String,
    /// Samples in which it does.
    pub wet: usize,
    /// Samples in which the margin counts.
    pub samples: usize,
    /// Share of the samples.
    pub probability: f64,
    /// Bounds that hold the true share with 95 % confidence (Wilson's interval, as for independent samples).
    pub low: f64,
    /// Upper bound.
    pub high: f64,
    /// Mean of the smallest margins, K.
    pub mean_margin_k: f64,
    /// Smallest margin of all samples, K.
    pub smallest_margin_k: f64,
}

/// Probabilities of the rooms with a coil, the likeliest first. `margins[sample][room]`.
pub fn probabilities(rooms: &[&str], margins: &[Vec<Option<f64>>]) -> Vec<WetProbability> {
    let mut out: Vec<WetProbability> = rooms
        .iter()
        .enumerate()
        .filter_map(|(index, room)| {
            let of: Vec<f64> = margins.iter().filter_map(|m| m.get(index).copied().flatten()).collect();
            if of.is_empty() {
                return None;
            }
            let wet = of.iter().filter(|m| **m < 0.0).count();
            let [low, high] = wilson(wet, of.len());
            Some(WetProbability {
                room: (*room).to_owned(),
                wet,
                samples: of.len(),
                probability: wet as f64 / of.len() as f64,
                low,
                high,
                mean_margin_k: of.iter().sum::<f64>() / of.len() as f64,
                smallest_margin_k: of.iter().copied().fold(f64::INFINITY, f64::min),
            })
        })
        .collect();
    out.sort_by(|a, b| {
        b.probability.total_cmp(&a.probability).then(a.mean_margin_k.total_cmp(&b.mean_margin_k))
    });
    out
}

/// Wilson's 95 % interval of a share (E. B. Wilson 1927).
fn wilson(hits: usize, of: usize) -> [f64; 2] {
    const Z: f64 = 1.959_963_984_540_054;
    let n = of as f64;
    let p = hits as f64 / n;
    let denominator = 1.0 + Z * Z / n;
    let middle = (p + Z * Z / (2.0 * n)) / denominator;
    let half = Z * (p * (1.0 - p) / n + Z * Z / (4.0 * n * n)).sqrt() / denominator;
    [if hits == 0 { 0.0 } else { middle - half }, if hits == of { 1.0 } else { middle + half }]
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 10 of 100: 0.0552 to 0.1744 (Wilson's interval, from memory of published tables).
    #[test]
    fn val_wilson_interval() {
        let [low, high] = wilson(10, 100);
        assert!((low - 0.0552).abs() < 1e-4 && (high - 0.1744).abs() < 1e-4, "{low} {high}");
        assert_eq!(wilson(0, 50)[0], 0.0);
        assert_eq!(wilson(50, 50)[1], 1.0);
    }

    #[test]
    fn phys_probabilities_count_what_is_below_zero() {
        let margins = vec![
            vec![Some(1.0), None, Some(-0.1)],
            vec![Some(0.5), None, Some(0.2)],
            vec![Some(0.1), None, Some(-0.3)],
            vec![Some(0.0), None, Some(0.4)],
        ];
        let p = probabilities(&["a", "b", "c"], &margins);
        assert_eq!(p.len(), 2, "a room whose margin never counts is left out");
        assert_eq!((p[0].room.as_str(), p[0].wet, p[0].probability), ("c", 2, 0.5));
        assert_eq!((p[1].room.as_str(), p[1].wet), ("a", 0));
        assert!(p[0].low < 0.5 && p[0].high > 0.5);
        assert!((p[0].smallest_margin_k + 0.3).abs() < 1e-12);
    }

    #[test]
    fn phys_samples_stay_within_their_bounds() {
        let u = Uncertainty {
            samples: 100,
            seed: 3,
            people: [0.8, 1.2],
            infiltration: [0.5, 2.0],
            sensor_error_k: 0.5,
        };
        let samples = u.draw();
        assert_eq!(samples.len(), 100);
        for s in &samples {
            assert!((0.8..=1.2).contains(&s.people) && (0.5..=2.0).contains(&s.infiltration));
            assert!(s.sensor_error_k.abs() <= 0.5);
        }
        let mean = samples.iter().map(|s| s.sensor_error_k).sum::<f64>() / 100.0;
        // Slices of 0.01 K, each off its middle by at most half of it.
        assert!(mean.abs() <= 0.005);
        assert_eq!(samples, u.draw());
    }
}
