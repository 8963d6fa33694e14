//! What the all-air scheme is assumed to be, in one table: each assumption with its value, its source and the key of the
//! project that overrides it.

use crate::plant::machines::fan::PressureHold;
use drycoil_project::Project;
use drycoil_sizing::Design;
use drycoil_units::{PressureDifference, Quantity, Temperature, TemperatureDifference};

/// Climate zone as ANSI/ASHRAE Standard 169 counts them.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ClimateZone {
    /// 0 (extremely hot) to 8 (subarctic).
    pub number: u8,
    /// Moist, dry or marine.
    pub kind: ClimateKind,
}

/// Moisture of a climate zone.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ClimateKind {
    /// A.
    Moist,
    /// B.
    Dry,
    /// C.
    Marine,
}

impl ClimateZone {
    /// Estimated from the design conditions: the number from the 99.6 % heating dry bulb, moist or dry from the humidity
    /// ratio that goes with the 0.4 % cooling dry bulb. No source: the standard counts degree-days and rain, which a
    /// design does not hold; the project can say its zone.
    pub fn estimated(design: &Design) -> Self {
        let heating = design.conditions.heating.dry_bulb_c;
        let number =
            [4.0, -3.5, -7.5, -13.0, -21.0, -26.0, -34.0].iter().filter(|t| heating < **t).count() + 1;
        let kind = if design.conditions.cooling.humidity_ratio_kg_per_kg < 0.010 {
            ClimateKind::Dry
        } else {
            ClimateKind::Moist
        };
        Self { number: number as u8, kind }
    }

    /// As written: `4A`.
    pub fn word(self) -> String {
        let letter = match self.kind {
            ClimateKind::Moist => "A",
            ClimateKind::Dry => "B",
            ClimateKind::Marine => "C",
        };
        format!("{}{}", self.number, if self.number >= 7 { "" } else { letter })
    }
}

/// Least supply flow of the boxes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum MinimumFlow {
    /// Reheat at a fixed fraction of the largest flow.
    UsualFraction {
        /// Fraction of the largest flow.
        fraction: f64,
    },
    /// Low minimum in cooling; in heating the flow rises to a maximum of its own.
    DualMaximum {
        /// Least controllable fraction of the largest flow.
        fraction: f64,
        /// Largest flow in heating over the largest flow.
        heating: f64,
    },
}

/// Airside economizer.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum AirsideEconomizer {
    /// None.
    None,
    /// Open while the outdoor dry bulb is below this, degC.
    DryBulb {
        /// High limit, degC.
        limit_c: f64,
    },
    /// Open while the enthalpy of the outdoor air is below that of the return air, and its dry bulb below the limit.
    DifferentialEnthalpy {
        /// High limit of the dry bulb, degC.
        limit_c: f64,
    },
}

/// How the intake of outdoor air is controlled.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum IntakeControl {
    /// Fixed at the design intake.
    Design,
    /// Reset at each step to the multiple-zone equations at that moment.
    Dynamic,
}

/// Reset of the supply-air temperature.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum SupplyReset {
    /// None.
    Constant,
    /// Rises while the box that is most open is less open than `target`, to at most `highest_c`.
    WarmestZone {
        /// Flow share of the box that is most open at which the supply holds.
        target: f64,
        /// Warmest supply, degC.
        highest_c: f64,
    },
    /// By the outdoor dry bulb, between the design supply at `warm_outdoor_c` and `highest_c` at `cool_outdoor_c`.
    Outdoor {
        /// Outdoor dry bulb of the design supply, degC.
        warm_outdoor_c: f64,
        /// Outdoor dry bulb of the warmest supply, degC.
        cool_outdoor_c: f64,
        /// Warmest supply, degC.
        highest_c: f64,
    },
}

/// The all-air scheme as assumed.
#[derive(Debug, Clone, PartialEq)]
pub struct AllAirBaseline {
    /// Climate zone.
    pub zone: ClimateZone,
    /// Supply air as it enters the boxes, degC.
    pub supply_c: f64,
    /// Cold water leaving the chillers, degC.
    pub cold_water_c: f64,
    /// Rise of the cold water in the coil, K.
    pub water_rise_k: f64,
    /// Share of air that passes the coil untouched.
    pub bypass: f64,
    /// Total pressure of the supply fan without recovery, Pa.
    pub supply_fan_pa: f64,
    /// Total pressure of the return fan without recovery, Pa.
    pub return_fan_pa: f64,
    /// Pressure of the recovery on each side, overcome by fans of its own while it runs, Pa.
    pub recovery_pa: f64,
    /// Share of the supply fan's pressure that is held in the duct.
    pub held_share: f64,
    /// Reset of the held pressure.
    pub pressure: PressureHold,
    /// Least flow of the boxes.
    pub minimum: MinimumFlow,
    /// Least flow of a box over the outdoor air of its zone.
    pub minimum_over_outdoor: f64,
    /// Warmest discharge of a box above the room in heating, K.
    pub heating_difference_k: f64,
    /// Airside economizer.
    pub economizer: AirsideEconomizer,
    /// Intake.
    pub intake: IntakeControl,
    /// Supply-air temperature.
    pub reset: SupplyReset,
    /// Humidity ratio of the wettest room above which the supply is not reset, as a dew point, degC.
    pub reset_dew_point_c: f64,
    /// Whether the standard asks for energy recovery is decided by outdoor share and flow; this overrides it.
    pub recovery: Option<RecoveryChoice>,
    /// Share of supply air that leaks before the boxes.
    pub leakage: f64,
    /// Warming in the supply duct, K.
    pub duct_gain_k: f64,
    /// Efficiency of fans, drives and motors.
    pub fan_efficiency: f64,
}

/// Energy recovery by decree.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum RecoveryChoice {
    /// There is one.
    Present,
    /// There is none.
    Absent,
}

/// One line of the table.
#[derive(Debug, Clone, PartialEq)]
pub struct BaselineRow {
    /// What is assumed.
    pub what: &'static str,
    /// Its value with unit.
    pub value: String,
    /// Where it comes from.
    pub source: &'static str,
    /// Key of the project that overrides it.
    pub key: &'static str,
}

const PRACTICE: &str = "common practice, no source";

impl AllAirBaseline {
    /// The assumptions for a project.
    pub fn of(project: &Project, design: &Design) -> Self {
        let zone = ClimateZone::estimated(design);
        let a = &project.primary_air;
        let f = |t: f64| Temperature::fahrenheit(t).to_celsius();
        let supply_c = project.ducts.all_air_supply.value.to_celsius();
        let economizer = match (zone.number, zone.kind) {
            (0 | 1, _) => AirsideEconomizer::None,
            (2..=4, ClimateKind::Moist) => AirsideEconomizer::DryBulb { limit_c: f(65.0) },
            (5 | 6, ClimateKind::Moist) => AirsideEconomizer::DryBulb { limit_c: f(70.0) },
            _ => AirsideEconomizer::DryBulb { limit_c: f(75.0) },
        };
        Self {
            zone,
            supply_c,
            cold_water_c: f(44.0),
            water_rise_k: TemperatureDifference::fahrenheit(15.0).to_kelvin(),
            bypass: drycoil_sizing::machine_data::BYPASS,
            supply_fan_pa: PressureDifference::inches_of_water(4.5).to_pascals(),
            return_fan_pa: PressureDifference::inches_of_water(1.0).to_pascals(),
            recovery_pa: PressureDifference::inches_of_water(0.8).to_pascals(),
            held_share: 0.3,
            pressure: PressureHold::Reset,
            minimum: MinimumFlow::DualMaximum { fraction: 0.15, heating: 0.5 },
            minimum_over_outdoor: 1.5,
            heating_difference_k: TemperatureDifference::fahrenheit(20.0).to_kelvin(),
            economizer,
            intake: IntakeControl::Dynamic,
            reset: SupplyReset::WarmestZone { target: 0.85, highest_c: supply_c + 5.0 / 1.8 },
            reset_dew_point_c: f(57.0),
            recovery: None,
            leakage: a.duct_leakage.value.to_ratio(),
            duct_gain_k: a.duct_gain.value.to_kelvin(),
            fan_efficiency: a.fan_efficiency.value.to_ratio(),
        }
    }

    /// The table.
    pub fn rows(&self, project: &Project) -> Vec<BaselineRow> {
        let units = project.told_units();
        let t = |c: f64| Temperature::celsius(c).show(units);
        let dt = |k: f64| TemperatureDifference::kelvin(k).show(units);
        let pa = |x: f64| PressureDifference::pascals(x).show(units);
        let percent = |x: f64| format!("{:.0} %", 100.0 * x);
        let row = |what, value: String, source, key| BaselineRow { what, value, source, key };
        vec![
            row(
                "climate zone",
                self.zone.word(),
                "estimated from the design conditions, no source; zones are those of ANSI/ASHRAE Standard 169",
                "all_air.climate_zone",
            ),
            row("supply air entering the boxes", t(self.supply_c), PRACTICE, "ducts.all_air_supply"),
            row(
                "cold water leaving the chillers",
                t(self.cold_water_c),
                "rating point of AHRI 550/590",
                "all_air.cold_water",
            ),
            row(
                "rise of the cold water",
                dt(self.water_rise_k),
                "WAC 51-11C-40338, which mirrors ANSI/ASHRAE/IES 90.1 6.5.4.7",
                "all_air.water_rise",
            ),
            row(
                "bypass of the cooling coil",
                percent(self.bypass),
                "common practice, no source; as the drying coil",
                "all_air.bypass",
            ),
            row(
                "total pressure of the supply fan",
                pa(self.supply_fan_pa),
                "common practice, no source; within the fan power limit of ANSI/ASHRAE/IES 90.1-2019 6.5.3.1 (from memory)",
                "all_air.supply_fan_pressure",
            ),
            row(
                "total pressure of the return fan",
                pa(self.return_fan_pa),
                "common practice, no source; within the fan power limit of ANSI/ASHRAE/IES 90.1-2019 6.5.3.1 (from memory)",
                "all_air.return_fan_pressure",
            ),
            row(
                "pressure of energy recovery on each side",
                pa(self.recovery_pa),
                PRACTICE,
                "all_air.recovery_pressure",
            ),
            row(
                "efficiency of fans, drives and motors",
                percent(self.fan_efficiency),
                "the project's own, as the primary-air unit",
                "primary_air.fan_efficiency",
            ),
            row(
                "share of fan pressure held in the duct",
                percent(self.held_share),
                PRACTICE,
                "all_air.held_pressure",
            ),
            row(
                "reset of the held pressure",
                match self.pressure {
                    PressureHold::Fixed => "none".to_owned(),
                    PressureHold::Reset => "by the box that is most open".to_owned(),
                },
                "ANSI/ASHRAE/IES 90.1-2019 6.5.3.2.3 (from memory)",
                "all_air.pressure_reset",
            ),
            row(
                "least flow of the boxes",
                match self.minimum {
                    MinimumFlow::UsualFraction { fraction } => {
                        format!("usual: {} of the largest flow", percent(fraction))
                    }
                    MinimumFlow::DualMaximum { fraction, heating } => format!(
                        "dual maximum: {} of the largest flow in cooling, up to {} in heating",
                        percent(fraction),
                        percent(heating)
                    ),
                },
                "common practice, no source; within ANSI/ASHRAE/IES 90.1-2019 6.5.2.1 (from memory)",
                "all_air.minimum_flow",
            ),
            row(
                "least flow of a box over the outdoor air of its zone",
                format!("{:.2}", self.minimum_over_outdoor),
                "ANSI/ASHRAE 62.1-2019, simplified procedure for minimum primary air (from memory)",
                "all_air.minimum_over_outdoor",
            ),
            row(
                "discharge above the room in heating",
                dt(self.heating_difference_k),
                "ANSI/ASHRAE/IES 90.1-2019 6.5.2.1.1 (from memory)",
                "all_air.heating_difference",
            ),
            row(
                "airside economizer",
                match self.economizer {
                    AirsideEconomizer::None => "none".to_owned(),
                    AirsideEconomizer::DryBulb { limit_c } => format!("below {}", t(limit_c)),
                    AirsideEconomizer::DifferentialEnthalpy { limit_c } => {
                        format!("below the enthalpy of return air and {}", t(limit_c))
                    }
                },
                "ANSI/ASHRAE/IES 90.1-2019 tables 6.5.1-1 and 6.5.1.1.3, by climate zone (from memory)",
                "all_air.economizer",
            ),
            row(
                "outdoor-air intake",
                match self.intake {
                    IntakeControl::Design => "fixed at design".to_owned(),
                    IntakeControl::Dynamic => "multiple-zone equations at each step".to_owned(),
                },
                "ANSI/ASHRAE/IES 90.1-2019 6.5.3.3 ventilation optimization (from memory)",
                "all_air.intake",
            ),
            row(
                "reset of the supply air",
                match self.reset {
                    SupplyReset::Constant => "none".to_owned(),
                    SupplyReset::WarmestZone { target, highest_c } => {
                        format!("up to {} while the most open box is below {}", t(highest_c), percent(target))
                    }
                    SupplyReset::Outdoor { warm_outdoor_c, cool_outdoor_c, highest_c } => format!(
                        "up to {} from {} down to {} outdoors",
                        t(highest_c),
                        t(warm_outdoor_c),
                        t(cool_outdoor_c)
                    ),
                },
                "ANSI/ASHRAE/IES 90.1-2019 6.5.3.5, a quarter of the difference to the room (from memory)",
                "all_air.supply_reset",
            ),
            row(
                "room dew point above which the supply is not reset",
                t(self.reset_dew_point_c),
                PRACTICE,
                "all_air.reset_dew_point",
            ),
            row(
                "energy recovery",
                match self.recovery {
                    None => "where outdoor share and flow ask for it".to_owned(),
                    Some(RecoveryChoice::Present) => "present".to_owned(),
                    Some(RecoveryChoice::Absent) => "absent".to_owned(),
                },
                "ANSI/ASHRAE/IES 90.1-2019 table 6.5.6.1.2-1 (from memory)",
                "all_air.energy_recovery",
            ),
            row(
                "leakage of the supply duct",
                percent(self.leakage),
                "the project's own, as the primary-air duct",
                "primary_air.duct_leakage",
            ),
            row(
                "warming in the supply duct",
                dt(self.duct_gain_k),
                "the project's own, as the primary-air duct",
                "primary_air.duct_gain",
            ),
        ]
    }

    /// Whether the standard asks for energy recovery: flow of the system above a threshold by outdoor share and climate.
    ///
    /// ANSI/ASHRAE/IES 90.1-2019 table 6.5.6.1.2-1, systems that run less than 8000 h a year, thresholds in cfm (from
    /// memory).
    pub fn recovery_required(zone: ClimateZone, outdoor_share: f64, supply_m3_per_s: f64) -> bool {
        const NONE: f64 = f64::INFINITY;
        let row: [f64; 8] = match (zone.number, zone.kind) {
            (3..=5, ClimateKind::Dry) | (3 | 4, ClimateKind::Marine) => [NONE; 8],
            (0..=2, ClimateKind::Dry) | (5, ClimateKind::Marine) => {
                [NONE, NONE, NONE, NONE, 26000.0, 12000.0, 5000.0, 4000.0]
            }
            (6, ClimateKind::Dry) => [28000.0, 26500.0, 11000.0, 5500.0, 4500.0, 3500.0, 2500.0, 1500.0],
            (7.., _) => [4500.0, 4000.0, 2500.0, 1000.0, 140.0, 120.0, 100.0, 80.0],
            _ => [26000.0, 16000.0, 5500.0, 4500.0, 3500.0, 2000.0, 1000.0, 120.0],
        };
        if outdoor_share < 0.1 {
            return false;
        }
        let column = ((outdoor_share * 10.0) as usize - 1).min(7);
        let cfm = supply_m3_per_s / 0.000_471_947_443_2;
        cfm >= row[column]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn val_energy_recovery_thresholds() {
        // ANSI/ASHRAE/IES 90.1-2019 table 6.5.6.1.2-1, from memory.
        let a4 = ClimateZone { number: 4, kind: ClimateKind::Moist };
        let cfm = 0.000_471_947_443_2;
        for (share, flow, asked) in [
            (0.05, 1e5, false),
            (0.15, 25_000.0, false),
            (0.15, 26_500.0, true),
            (0.35, 5_400.0, false),
            (0.35, 5_600.0, true),
            (0.95, 200.0, true),
        ] {
            assert_eq!(AllAirBaseline::recovery_required(a4, share, flow * cfm), asked, "{share} {flow}");
        }
        let b4 = ClimateZone { number: 4, kind: ClimateKind::Dry };
        assert!(!AllAirBaseline::recovery_required(b4, 0.9, 20.0));
    }
}
