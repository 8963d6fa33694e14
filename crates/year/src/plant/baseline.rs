//! What the all-air scheme is assumed to be, in one table: each assumption with its value, its source and the key of the
//! project that overrides it.

use crate::assumptions::Assumption;
use drycoil_project::{
    AirEconomizer, AllAirDemandControl, AllAirRecovery, BoxKind, ClimateKind, ClimateZone, MinimumFlow,
    MultipleZoneMethod, OutdoorAirReset, PressureReset, Project, Sourced, StandbyChoice, SupplyAirReset,
};
use drycoil_units::{Fraction, Quantity, UnitSystem};
use drycoil_working::Origin;

fn source_of(origin: &Origin) -> String {
    match origin {
        Origin::File(_) => "entered in the project".to_owned(),
        Origin::Default { rule, source } => format!("{rule}; {source}"),
        Origin::Line(line) => line.clone(),
        Origin::Constant(what) => (*what).to_owned(),
        Origin::Table { row, source, .. } => format!("{row}; {source}"),
        Origin::Weather(what) => what.clone(),
    }
}

/// 1000 ft2, m2: 0.3048 m is a foot.
const M2_PER_1000_FT2: f64 = 0.3048 * 0.3048 * 1000.0;

/// As the standard writes it: 4A.
fn climate_zone(zone: ClimateZone) -> String {
    let letter = match zone.kind {
        ClimateKind::Moist => 'A',
        ClimateKind::Dry => 'B',
        ClimateKind::Marine => 'C',
    };
    if zone.number < 7 { format!("{}{letter}", zone.number) } else { zone.number.to_string() }
}

fn row<T>(what: &str, key: &str, value: &Sourced<T>, shown: String) -> Assumption {
    Assumption {
        about: "all-air".to_owned(),
        what: what.to_owned(),
        value: shown,
        source: source_of(&value.origin),
        key: key.to_owned(),
    }
}

fn quantity<Q: Quantity>(
    out: &mut Vec<Assumption>,
    units: UnitSystem,
    what: &str,
    key: &str,
    value: &Sourced<Q>,
) {
    out.push(row(what, key, value, value.value.show(units)));
}

/// The table for a project.
pub fn of_all_air(project: &Project) -> Vec<Assumption> {
    let a = &project.all_air;
    let units = project.told_units();
    let mut out = Vec::new();
    let mut word = |what: &str, key: &str, origin: &Origin, shown: &str| {
        out.push(Assumption {
            about: "all-air".to_owned(),
            what: what.to_owned(),
            value: shown.to_owned(),
            source: source_of(origin),
            key: key.to_owned(),
        });
    };
    word(
        "least flow of the boxes",
        "all_air.minimum_flow",
        &a.minimum_flow.origin,
        match a.minimum_flow.value {
            MinimumFlow::SingleMaximum => "one minimum, at which reheat works",
            MinimumFlow::DualMaximum => "low minimum in cooling, flow rises in heating",
        },
    );
    word(
        "heater of the boxes",
        "all_air.boxes",
        &a.boxes.origin,
        match a.boxes.value {
            BoxKind::HotWaterReheat => "hot water",
            BoxKind::ElectricReheat => "electric",
        },
    );
    word(
        "airside economizer",
        "all_air.economizer",
        &a.economizer.origin,
        match a.economizer.value {
            AirEconomizer::None => "none",
            AirEconomizer::FixedDryBulb => "off above a fixed dry bulb",
            AirEconomizer::DifferentialDryBulb => "off while outdoor air is warmer than return air",
            AirEconomizer::FixedEnthalpy => "off above a fixed enthalpy or dry bulb",
            AirEconomizer::DifferentialEnthalpy => {
                "off while outdoor air has more enthalpy than return air, or above a fixed dry bulb"
            }
        },
    );
    word(
        "reset of the supply air",
        "all_air.supply_reset",
        &a.supply_reset.origin,
        match a.supply_reset.value {
            SupplyAirReset::None => "none",
            SupplyAirReset::OutdoorAir => "by outdoor temperature",
            SupplyAirReset::WarmestZone => "by the box that is most open",
        },
    );
    word(
        "reset of the duct pressure",
        "all_air.pressure_reset",
        &a.pressure_reset.origin,
        match a.pressure_reset.value {
            PressureReset::None => "none",
            PressureReset::MostOpenBox => "by the box that is most open",
        },
    );
    word(
        "energy recovery",
        "all_air.recovery",
        &a.recovery.origin,
        match a.recovery.value {
            AllAirRecovery::Required => "where supply flow and outdoor share ask for it",
            AllAirRecovery::None => "none",
            AllAirRecovery::Always => "an enthalpy wheel",
        },
    );
    word(
        "outdoor air of several zones",
        "all_air.multiple_zone",
        &a.multiple_zone.origin,
        match a.multiple_zone.value {
            MultipleZoneMethod::Simplified2019 => "efficiency from diversity",
            MultipleZoneMethod::CriticalZone => "efficiency of the critical zone",
        },
    );
    word(
        "outdoor air hour by hour",
        "all_air.outdoor_air_reset",
        &a.outdoor_air_reset.origin,
        match a.outdoor_air_reset.value {
            OutdoorAirReset::Design => "design intake",
            OutdoorAirReset::Dynamic => "critical zone of the moment, at most the design intake",
        },
    );
    word(
        "demand-controlled ventilation",
        "all_air.demand_control",
        &a.demand_control.origin,
        match a.demand_control.value {
            AllAirDemandControl::Required => "in rooms that are dense and large",
            AllAirDemandControl::None => "none",
            AllAirDemandControl::EveryRoom => "in every room",
        },
    );
    word(
        "standby of empty rooms",
        "year.standby",
        &project.year.standby.origin,
        match project.year.standby.value {
            StandbyChoice::WhereAllowed => "where the kind of room allows it, in both schemes",
            StandbyChoice::Never => "never, in both schemes",
        },
    );
    let humid = Sourced::default_value((), "that of the humid climates", "common practice, no source");
    match &a.climate_zone {
        Some(z) => out.push(row(
            "climate zone for energy recovery",
            "all_air.climate_zone",
            z,
            climate_zone(z.value),
        )),
        None => out.push(row(
            "climate zone for energy recovery",
            "all_air.climate_zone",
            &humid,
            "not written".to_owned(),
        )),
    }
    quantity(&mut out, units, "supply air as it enters the boxes", "all_air.supply", &a.supply);
    quantity(&mut out, units, "minimum flow with one maximum", "all_air.single_minimum", &a.single_minimum);
    quantity(&mut out, units, "minimum flow with two maxima", "all_air.dual_minimum", &a.dual_minimum);
    quantity(
        &mut out,
        units,
        "flow in heating with two maxima",
        "all_air.heating_maximum",
        &a.heating_maximum,
    );
    quantity(
        &mut out,
        units,
        "discharge above the heating set point",
        "all_air.heating_rise",
        &a.heating_rise,
    );
    quantity(&mut out, units, "hot water to the boxes", "all_air.heating_water", &a.heating_water);
    quantity(
        &mut out,
        units,
        "economizer off above dry bulb",
        "all_air.economizer_dry_bulb",
        &a.economizer_dry_bulb,
    );
    quantity(
        &mut out,
        units,
        "economizer off above enthalpy",
        "all_air.economizer_enthalpy",
        &a.economizer_enthalpy,
    );
    quantity(
        &mut out,
        units,
        "most that the supply air is raised",
        "all_air.supply_reset_rise",
        &a.supply_reset_rise,
    );
    quantity(
        &mut out,
        units,
        "reset by outdoor air ends at",
        "all_air.supply_reset_warm",
        &a.supply_reset_warm,
    );
    quantity(
        &mut out,
        units,
        "reset by outdoor air is full at",
        "all_air.supply_reset_cold",
        &a.supply_reset_cold,
    );
    quantity(
        &mut out,
        units,
        "no reset above outdoor dew point",
        "all_air.supply_reset_dew_point",
        &a.supply_reset_dew_point,
    );
    quantity(
        &mut out,
        units,
        "pressure of the supply fan",
        "all_air.supply_fan_pressure",
        &a.supply_fan_pressure,
    );
    quantity(
        &mut out,
        units,
        "pressure of the return fan",
        "all_air.return_fan_pressure",
        &a.return_fan_pressure,
    );
    quantity(&mut out, units, "pressure at the duct sensor", "all_air.duct_pressure", &a.duct_pressure);
    quantity(
        &mut out,
        units,
        "lowest pressure at the duct sensor",
        "all_air.duct_pressure_least",
        &a.duct_pressure_least,
    );
    quantity(&mut out, units, "efficiency of fans", "all_air.fan_efficiency", &a.fan_efficiency);
    quantity(&mut out, units, "warming in the duct", "all_air.duct_gain", &a.duct_gain);
    quantity(&mut out, units, "leakage of the duct", "all_air.duct_leakage", &a.duct_leakage);
    quantity(&mut out, units, "largest air handler", "all_air.largest_unit", &a.largest_unit);
    quantity(&mut out, units, "spare of boxes and air handlers", "all_air.spare", &a.spare);
    quantity(
        &mut out,
        units,
        "sensible effectiveness of recovery",
        "all_air.recovery_sensible",
        &a.recovery_sensible,
    );
    quantity(
        &mut out,
        units,
        "latent effectiveness of recovery",
        "all_air.recovery_latent",
        &a.recovery_latent,
    );
    quantity(
        &mut out,
        units,
        "pressure of recovery on each side",
        "all_air.recovery_pressure",
        &a.recovery_pressure,
    );
    quantity(&mut out, units, "cold water entering the coil", "all_air.cold_water", &a.cold_water);
    quantity(&mut out, units, "rise of the cold water", "all_air.cold_water_rise", &a.cold_water_rise);
    out.push(row(
        "least flow of a box over the outdoor air of its zone",
        "all_air.minimum_over_outdoor",
        &a.minimum_over_outdoor,
        format!("{:.2}", a.minimum_over_outdoor.value),
    ));
    quantity(
        &mut out,
        units,
        "flow share of the most open box at which the supply air holds",
        "all_air.supply_reset_target",
        &a.supply_reset_target,
    );
    out.push(row(
        "people per floor area from which demand control is required",
        "all_air.demand_control_density",
        &a.demand_control_density,
        match units {
            UnitSystem::Si => format!("{:.1} person/100 m2", a.demand_control_density.value * 100.0),
            UnitSystem::Ip => {
                format!("{:.1} person/1000 ft2", a.demand_control_density.value * M2_PER_1000_FT2)
            }
        },
    ));
    quantity(
        &mut out,
        units,
        "floor area from which demand control is required",
        "all_air.demand_control_area",
        &a.demand_control_area,
    );
    // Shared with the decoupled scheme, so that both have the same class of machines and the same margins.
    let p = &project.plant;
    out.push(row(
        "chiller at its rating point",
        "plant.chiller_cop",
        &p.chiller_cop,
        format!("{:.2}", p.chiller_cop.value),
    ));
    quantity(&mut out, units, "spare of the plant", "plant.spare", &p.spare);
    quantity(&mut out, units, "approach of the tower", "plant.tower_approach", &p.tower_approach);
    out.push(row(
        "fan power of the tower over heat rejected",
        "plant.tower_fan",
        &p.tower_fan,
        Fraction::ratio(p.tower_fan.value).show(units),
    ));
    quantity(&mut out, units, "efficiency of the boiler", "plant.boiler_efficiency", &p.boiler_efficiency);
    quantity(&mut out, units, "efficiency of pumps", "water.pump_efficiency", &project.water.pump_efficiency);
    out
}
