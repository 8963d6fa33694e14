//! Pump power.

use crate::WaterError;
use crate::error::within;
use drycoil_units::{Fraction, Power, PressureDifference, Quantity, WaterFlow};

/// Power of a pump, from water to wire.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PumpPower {
    /// Flow times pressure rise.
    pub hydraulic: Power,
    /// At the pump shaft.
    pub shaft: Power,
    /// At the terminals of motor and drive.
    pub electric: Power,
}

/// Pump power from flow, pressure rise and the efficiencies of pump and of motor with drive, each above 0, at most 1.
///
/// ```
/// use drycoil_units::{Fraction, PressureDifference, WaterFlow};
/// use drycoil_water::pump::pump_power;
/// let p = pump_power(
///     WaterFlow::gpm(100.0),
///     PressureDifference::pascals(149_446.0),
///     Fraction::ratio(0.70),
///     Fraction::ratio(0.90),
/// )
/// .unwrap();
/// assert!((p.shaft.to_watts() - 1347.0).abs() < 1.0);
/// ```
pub fn pump_power(
    flow: WaterFlow,
    pressure_rise: PressureDifference,
    pump_efficiency: Fraction,
    motor_efficiency: Fraction,
) -> Result<PumpPower, WaterError> {
    within("water flow", flow.si(), 0.0, 100.0, "m3/s")?;
    within("pressure rise", pressure_rise.si(), 0.0, 1e8, "Pa")?;
    within("pump efficiency", pump_efficiency.si(), 0.01, 1.0, "")?;
    within("motor efficiency", motor_efficiency.si(), 0.01, 1.0, "")?;
    let hydraulic = flow.si() * pressure_rise.si();
    let shaft = hydraulic / pump_efficiency.si();
    Ok(PumpPower {
        hydraulic: Power::from_si(hydraulic),
        shaft: Power::from_si(shaft),
        electric: Power::from_si(shaft / motor_efficiency.si()),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn val_pump_examples() {
        // Cengel and Cimbala, Ex. 14-2: 370 gpm printed as 0.0233 m3/s, 7.3 m at 70 %: 2379 W; 21.9 m at 76.5 %: 6530 W.
        // Density 998, g 9.81 (the book's).
        for (head, eta, want) in [(7.3, 0.70, 2379.0), (21.9, 0.765, 6530.0)] {
            let p = pump_power(
                WaterFlow::m3_per_s(0.0233),
                PressureDifference::pascals(998.0 * 9.81 * head),
                Fraction::ratio(eta),
                Fraction::ratio(1.0),
            )
            .unwrap();
            assert!((p.shaft.to_watts() / want - 1.0).abs() < 1e-3, "{p:?}");
        }
    }

    #[test]
    fn val_hundred_gpm_at_fifty_feet() {
        // Trade form 100 gpm x 50 ft / (3960 x 0.70) = 1.80375 bhp = 1.34506 kW; exact SI 1.34579 kW (recomputed with
        // water at 60 degF). 0.1 %.
        let rho = 999.0;
        let p = pump_power(
            WaterFlow::gpm(100.0),
            PressureDifference::pascals(rho * 9.80665 * 50.0 * 0.3048),
            Fraction::ratio(0.70),
            Fraction::ratio(1.0),
        )
        .unwrap();
        assert!((p.shaft.to_watts() / 1345.79 - 1.0).abs() < 1e-3, "{p:?}");
        assert!((p.shaft.to_watts() / 1345.06 - 1.0).abs() < 1e-3, "{p:?}");
    }

    #[test]
    fn phys_losses_only_add() {
        let p = pump_power(
            WaterFlow::gpm(100.0),
            PressureDifference::pascals(1e5),
            Fraction::ratio(0.6),
            Fraction::ratio(0.9),
        )
        .unwrap();
        assert!(p.hydraulic < p.shaft && p.shaft < p.electric);
        assert!(
            pump_power(
                WaterFlow::gpm(1.0),
                PressureDifference::pascals(1.0),
                Fraction::ratio(0.0),
                Fraction::ratio(1.0)
            )
            .is_err()
        );
        assert!(
            pump_power(
                WaterFlow::gpm(1.0),
                PressureDifference::pascals(1.0),
                Fraction::ratio(1.1),
                Fraction::ratio(1.0)
            )
            .is_err()
        );
    }
}
