//! How the year is simulated, and what is assumed of the all-air alternative.

use super::flows::Flows;
use super::section::Section;
use super::spec::Problem;
use drycoil_findings::registry::project as pf;
use drycoil_project::{
    AirEconomizer, AllAirDemandControl, AllAirInput, AllAirRecovery, BoxKind, ClimateZone, CoilRelease,
    MinimumFlow, MultipleZoneMethod, NightAir, OutdoorAirReset, PressureReset, PrimaryAirControl,
    SchemeChoice, StandbyChoice, SupplyAirReset, SupplyDewPointReset, WaterReset, YearInput,
};
use drycoil_units::{AirFlowBasis, Temperature};
use drycoil_working::Sourced;

pub(crate) const PRIMARY_AIR_CONTROLS: [PrimaryAirControl; 3] =
    [PrimaryAirControl::Constant, PrimaryAirControl::Profile, PrimaryAirControl::Occupancy];

/// `[year]`.
pub(crate) fn read(s: &mut Section<'_, '_>) -> YearInput {
    YearInput {
        step: s.quantity("step"),
        schemes: s.choice("schemes", &[SchemeChoice::Both, SchemeChoice::Decoupled, SchemeChoice::AllAir]),
        night_dew_point_limit: s.quantity_if("night_dew_point_limit"),
        night_air: s.choice("night_air", &[NightAir::Recirculated, NightAir::Outdoor]),
        coil_release: s.choice("coil_release", &[CoilRelease::WhenDry, CoilRelease::AtOnce]),
        supply_dew_point_reset: s
            .choice("supply_dew_point_reset", &[SupplyDewPointReset::Constant, SupplyDewPointReset::WhenDry]),
        supply_dew_point_rise: s.quantity("supply_dew_point_rise"),
        supply_dew_point_margin: s.quantity("supply_dew_point_margin"),
        water_reset: s.choice("water_reset", &[WaterReset::Constant, WaterReset::FollowWettestRoom]),
        water_reset_offset: s.quantity("water_reset_offset"),
        water_reset_rise: s.quantity("water_reset_rise"),
        primary_air_control: s.choice("primary_air_control", &PRIMARY_AIR_CONTROLS),
        standby: s.choice("standby", &[StandbyChoice::WhereAllowed, StandbyChoice::Never]),
        standby_relaxation: s.quantity("standby_relaxation"),
    }
}

/// `[all_air]`. The supply temperature may stand in `[ducts]` instead, the hot water is that of the terminals unless it
/// is written.
pub(crate) fn read_all_air(
    s: &mut Section<'_, '_>,
    flows: Flows,
    duct_supply: &Sourced<Temperature>,
    terminal_water: &Sourced<Temperature>,
) -> AllAirInput {
    let supply = match s.quantity_if::<Temperature>("supply") {
        Some(own) => {
            if duct_supply.is_written() {
                s.refuse(
                    "supply",
                    Problem::new(
                        pf::WRITTEN_TWICE,
                        "the supply temperature also stands in `ducts.all_air_supply`",
                    ),
                );
            }
            own
        }
        None => duct_supply.clone(),
    };
    let largest = s.flow("largest_unit");
    // A default is a standard flow, whatever the basis of written flows.
    let flows = if largest.is_written() { flows } else { Flows { basis: AirFlowBasis::Standard, ..flows } };
    AllAirInput {
        climate_zone: s.sourced_choice_if("climate_zone", &ClimateZone::ALL),
        supply,
        minimum_flow: s.choice("minimum_flow", &[MinimumFlow::SingleMaximum, MinimumFlow::DualMaximum]),
        single_minimum: s.quantity("single_minimum"),
        dual_minimum: s.quantity("dual_minimum"),
        minimum_over_outdoor: s.number("minimum_over_outdoor"),
        heating_maximum: s.quantity("heating_maximum"),
        heating_rise: s.quantity("heating_rise"),
        boxes: s.choice("boxes", &[BoxKind::HotWaterReheat, BoxKind::ElectricReheat]),
        heating_water: s.quantity_if("heating_water").unwrap_or_else(|| terminal_water.clone()),
        economizer: s.choice(
            "economizer",
            &[
                AirEconomizer::None,
                AirEconomizer::FixedDryBulb,
                AirEconomizer::DifferentialDryBulb,
                AirEconomizer::FixedEnthalpy,
                AirEconomizer::DifferentialEnthalpy,
            ],
        ),
        economizer_dry_bulb: s.quantity("economizer_dry_bulb"),
        economizer_enthalpy: s.quantity("economizer_enthalpy"),
        supply_reset: s.choice(
            "supply_reset",
            &[SupplyAirReset::None, SupplyAirReset::OutdoorAir, SupplyAirReset::WarmestZone],
        ),
        supply_reset_rise: s.quantity("supply_reset_rise"),
        supply_reset_target: s.quantity("supply_reset_target"),
        supply_reset_warm: s.quantity("supply_reset_warm"),
        supply_reset_cold: s.quantity("supply_reset_cold"),
        supply_reset_dew_point: s.quantity("supply_reset_dew_point"),
        supply_fan_pressure: s.quantity("supply_fan_pressure"),
        return_fan_pressure: s.quantity("return_fan_pressure"),
        duct_pressure: s.quantity("duct_pressure"),
        pressure_reset: s.choice("pressure_reset", &[PressureReset::None, PressureReset::MostOpenBox]),
        duct_pressure_least: s.quantity("duct_pressure_least"),
        fan_efficiency: s.quantity("fan_efficiency"),
        duct_gain: s.quantity("duct_gain"),
        duct_leakage: s.quantity("duct_leakage"),
        largest_unit: flows.standard(largest, s.log),
        spare: s.quantity("spare"),
        recovery: s
            .choice("recovery", &[AllAirRecovery::Required, AllAirRecovery::None, AllAirRecovery::Always]),
        recovery_sensible: s.quantity("recovery_sensible"),
        recovery_latent: s.quantity("recovery_latent"),
        recovery_pressure: s.quantity("recovery_pressure"),
        cold_water: s.quantity("cold_water"),
        cold_water_rise: s.quantity("cold_water_rise"),
        multiple_zone: s
            .choice("multiple_zone", &[MultipleZoneMethod::Simplified2019, MultipleZoneMethod::CriticalZone]),
        outdoor_air_reset: s
            .choice("outdoor_air_reset", &[OutdoorAirReset::Design, OutdoorAirReset::Dynamic]),
        demand_control: s.choice(
            "demand_control",
            &[AllAirDemandControl::Required, AllAirDemandControl::None, AllAirDemandControl::EveryRoom],
        ),
        demand_control_density: s.number("demand_control_density"),
        demand_control_area: s.quantity("demand_control_area"),
    }
}
