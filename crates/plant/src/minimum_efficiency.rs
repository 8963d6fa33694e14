//! Minimum efficiency of water-cooled chillers, the common yardstick for both schemes of a comparison.
//!
//! ASHRAE 90.1, editions 2013 to 2022, in kW per ton at full load and as integrated part-load value; from memory, to be
//! confirmed against the adopted edition.

use crate::error::{PlantError, positive};
use drycoil_units::{Power, Quantity};

/// Compressor of a chiller.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Compressor {
    /// Screw, scroll, reciprocating.
    PositiveDisplacement,
    /// Centrifugal.
    Centrifugal,
}

/// Which of the two paths of compliance.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CompliancePath {
    /// Emphasis on full load.
    A,
    /// Emphasis on part load.
    B,
}

/// A minimum requirement.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MinimumEfficiency {
    /// kW per ton at full load.
    pub full_load_kw_per_ton: f64,
    /// kW per ton as integrated part-load value.
    pub part_load_kw_per_ton: f64,
}

const KW_PER_TON_AT_COP_1: f64 = 3.516_852_842;

impl MinimumEfficiency {
    /// Coefficient of performance at full load.
    pub fn full_load_cop(&self) -> f64 {
        KW_PER_TON_AT_COP_1 / self.full_load_kw_per_ton
    }

    /// Integrated part-load value as a coefficient of performance.
    pub fn part_load_cop(&self) -> f64 {
        KW_PER_TON_AT_COP_1 / self.part_load_kw_per_ton
    }
}

type Row = (f64, [f64; 2], [f64; 2]);

/// Upper end of the class in tons, path A, path B.
const POSITIVE_DISPLACEMENT: [Row; 5] = [
    (75.0, [0.750, 0.600], [0.780, 0.500]),
    (150.0, [0.720, 0.560], [0.750, 0.490]),
    (300.0, [0.660, 0.540], [0.680, 0.440]),
    (600.0, [0.610, 0.520], [0.625, 0.410]),
    (f64::INFINITY, [0.560, 0.500], [0.585, 0.380]),
];

const CENTRIFUGAL: [Row; 5] = [
    (150.0, [0.610, 0.550], [0.695, 0.440]),
    (300.0, [0.610, 0.550], [0.635, 0.400]),
    (400.0, [0.560, 0.520], [0.595, 0.390]),
    (600.0, [0.560, 0.500], [0.585, 0.380]),
    (f64::INFINITY, [0.560, 0.500], [0.585, 0.380]),
];

/// The minimum for a compressor, a capacity and a path. A capacity at the border of two classes belongs to the larger.
///
/// ```
/// use drycoil_plant::minimum_efficiency::{CompliancePath, Compressor, water_cooled};
/// use drycoil_units::Power;
/// let m = water_cooled(Compressor::Centrifugal, Power::tons(450.0), CompliancePath::A)?;
/// assert_eq!((m.full_load_kw_per_ton, m.part_load_kw_per_ton), (0.560, 0.500));
/// assert!((m.full_load_cop() - 6.280).abs() < 1e-3);
/// # Ok::<(), drycoil_plant::PlantError>(())
/// ```
///
/// # Errors
/// A capacity that is not above zero.
pub fn water_cooled(
    compressor: Compressor,
    capacity: Power,
    path: CompliancePath,
) -> Result<MinimumEfficiency, PlantError> {
    let tons = positive("chiller capacity in W", capacity.si())? / Power::tons(1.0).si();
    let table = match compressor {
        Compressor::PositiveDisplacement => &POSITIVE_DISPLACEMENT,
        Compressor::Centrifugal => &CENTRIFUGAL,
    };
    let row = table.iter().find(|r| tons < r.0 - 1e-9).unwrap_or(&table[table.len() - 1]);
    let [full, part] = match path {
        CompliancePath::A => row.1,
        CompliancePath::B => row.2,
    };
    Ok(MinimumEfficiency { full_load_kw_per_ton: full, part_load_kw_per_ton: part })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chiller::{Chiller, Rating, Settings};
    use drycoil_units::{Conductance, Temperature};

    #[test]
    fn val_class_borders() {
        // ASHRAE 90.1, from memory: 75 to 150 tons 0.720/0.560, 150 to 300 tons 0.660/0.540 on path A.
        let at = |t: f64| {
            water_cooled(Compressor::PositiveDisplacement, Power::tons(t), CompliancePath::A).unwrap()
        };
        assert_eq!(at(149.9).full_load_kw_per_ton, 0.720);
        assert_eq!(at(150.0).full_load_kw_per_ton, 0.660);
        assert_eq!(at(5000.0).part_load_kw_per_ton, 0.500);
        assert!(water_cooled(Compressor::Centrifugal, Power::tons(0.0), CompliancePath::B).is_err());
    }

    #[test]
    fn phys_every_minimum_is_below_the_ideal_cycle_and_can_be_calibrated() {
        for compressor in [Compressor::PositiveDisplacement, Compressor::Centrifugal] {
            for path in [CompliancePath::A, CompliancePath::B] {
                for tons in [50.0, 100.0, 200.0, 350.0, 500.0, 900.0] {
                    let m = water_cooled(compressor, Power::tons(tons), path).unwrap();
                    let rating = Rating {
                        capacity: Power::tons(tons),
                        cop: m.full_load_cop(),
                        leaving_chilled: Temperature::fahrenheit(44.0),
                        entering_condenser: Temperature::fahrenheit(85.0),
                        condenser_capacity_rate: Conductance::w_per_k(tons * 3.0 * 263.76),
                    };
                    let c = Chiller::from_part_load_value(rating, m.part_load_cop(), Settings::default())
                        .unwrap();
                    let value = c.integrated_part_load_value().unwrap();
                    assert!((value / m.part_load_cop() - 1.0).abs() < 1e-9, "{tons} {path:?} {value}");
                }
            }
        }
    }
}
