//! `drycoil air`: the moist-air calculator.

mod table;

use crate::cli::quantity;
use crate::render::table::{Align, Table};
use crate::{Context, Exit, Failure, Form};
use clap::Args;
use drycoil_air::{AirError, MoistAir, Property, raw, standard_pressure};
use drycoil_units::{
    Fraction, HumidityRatio, Length, Pressure, Quantity, QuantityKind as K, STANDARD_PRESSURE_PA,
    SpecificEnthalpy, Temperature, UnitSystem, fixed, parse_kind, parse_number,
};
use serde::Serialize;
use std::io::Write;
use std::path::PathBuf;

/// Arguments of `drycoil air`.
#[derive(Debug, Clone, Args)]
#[command(
    after_help = "Give any two quantities of the state, each with its unit, and the altitude or the pressure; without either \
the pressure is that of sea level.\n\
Example: drycoil air --dry-bulb \"75 degF\" --rh \"50 %\" --altitude \"5000 ft\"\n\n\
Columns read by --csv: dry_bulb, wet_bulb, dew_point, rh, humidity_ratio, enthalpy (two of them), pressure or altitude, \
each title with its unit: dry_bulb [degF],rh [%]"
)]
pub struct AirArgs {
    /// Dry-bulb temperature, such as "75 degF"
    #[arg(long, value_name = "QUANTITY", value_parser = quantity::<Temperature>, allow_hyphen_values = true)]
    pub dry_bulb: Option<Temperature>,
    /// Thermodynamic wet-bulb temperature
    #[arg(long, value_name = "QUANTITY", value_parser = quantity::<Temperature>, allow_hyphen_values = true)]
    pub wet_bulb: Option<Temperature>,
    /// Dew-point temperature
    #[arg(long, value_name = "QUANTITY", value_parser = quantity::<Temperature>, allow_hyphen_values = true)]
    pub dew_point: Option<Temperature>,
    /// Relative humidity, such as "50 %"
    #[arg(long, value_name = "QUANTITY", value_parser = quantity::<Fraction>, allow_hyphen_values = true)]
    pub rh: Option<Fraction>,
    /// Humidity ratio, such as "65 gr/lb" or "9.3 g/kg"
    #[arg(long, value_name = "QUANTITY", value_parser = quantity::<HumidityRatio>, allow_hyphen_values = true)]
    pub humidity_ratio: Option<HumidityRatio>,
    /// Enthalpy per mass of dry air; kJ/kg count from 0 degC, Btu/lb from 0 degF, as the tables do
    #[arg(long, value_name = "QUANTITY", value_parser = enthalpy, allow_hyphen_values = true)]
    pub enthalpy: Option<SpecificEnthalpy>,
    /// Altitude above sea level, such as "5000 ft"
    #[arg(long, value_name = "QUANTITY", value_parser = quantity::<Length>, allow_hyphen_values = true,
          conflicts_with = "pressure")]
    pub altitude: Option<Length>,
    /// Absolute pressure, such as "101.325 kPa"
    #[arg(long, value_name = "QUANTITY", value_parser = quantity::<Pressure>, allow_hyphen_values = true)]
    pub pressure: Option<Pressure>,
    /// CSV file of states, one a row, with the unit in each column title; results go to standard output or `--out`
    #[arg(long, value_name = "FILE", conflicts_with_all = ["dry_bulb", "wet_bulb", "dew_point", "rh", "humidity_ratio", "enthalpy"])]
    pub csv: Option<PathBuf>,
    /// File for the results of `--csv`
    #[arg(long, value_name = "FILE", requires = "csv")]
    pub out: Option<PathBuf>,
}

/// Reads an enthalpy. Inch-pound tables count dry air from 0 degF, SI tables from 0 degC; the unit tells which is meant.
fn enthalpy(text: &str) -> Result<SpecificEnthalpy, String> {
    let kind = K::SpecificEnthalpy;
    let value = parse_kind(kind, text).map_err(|error| format!("{error}; {}", error.hint()))?;
    let unit = parse_number(text).map_or("", |(_, unit)| unit);
    Ok(SpecificEnthalpy::from_si(value - enthalpy_datum(unit)))
}

/// What the datum of this unit adds to an enthalpy counted from 0 degC.
fn enthalpy_datum(unit: &str) -> f64 {
    if K::SpecificEnthalpy.unit(unit) == K::SpecificEnthalpy.unit("Btu/lb") {
        raw::DRY_AIR_ENTHALPY_AT_32_F_FROM_0_F_J_PER_KG
    } else {
        0.0
    }
}

/// Runs the command.
pub fn run(args: &AirArgs, context: &mut Context) -> Result<Exit, Failure> {
    let system = context.settings.unit_system(None);
    let (pressure, basis) = pressure(args, system)?;
    if args.csv.is_some() {
        return table::run(args, pressure, context);
    }
    let given: Vec<Property> = [
        args.dry_bulb.map(Property::DryBulb),
        args.wet_bulb.map(Property::WetBulb),
        args.dew_point.map(Property::DewPoint),
        args.rh.map(Property::RelativeHumidity),
        args.humidity_ratio.map(Property::HumidityRatio),
        args.enthalpy.map(Property::Enthalpy),
    ]
    .into_iter()
    .flatten()
    .collect();
    let [first, second] = given[..] else {
        return Err(Failure::usage(format!(
            "a state needs exactly two of its quantities, {} given",
            match given.len() {
                0 => "none is".to_owned(),
                1 => "one is".to_owned(),
                n => format!("{n} are"),
            }
        ))
        .hint(
            "choose two of --dry-bulb, --wet-bulb, --dew-point, --rh, --humidity-ratio, --enthalpy, or a --csv file",
        ));
    };
    let air =
        MoistAir::from_pair(first, second, pressure).map_err(|e| Failure::bad_input(e.describe(system)))?;
    let state = State::of(air, args.wet_bulb).map_err(|e| Failure::bad_input(e.describe(system)))?;
    if args.altitude.is_none() && args.pressure.is_none() {
        context.note("pressure: sea level, 101.325 kPa (neither --altitude nor --pressure is given)");
    }
    if context.settings.form == Form::Json {
        return context.print_json(&state).map(|()| Exit::Clean);
    }
    let text = state.draw(system, &basis, context.settings.width);
    context.out.write_all(text.as_bytes())?;
    if let Some(other) = other_wet_bulb(air, &state) {
        let t = system.value(K::Temperature, other);
        let unit = system.symbol(K::Temperature);
        let surface = if other < 0.0 { "ice" } else { "liquid water" };
        context.note(&format!("note: the same air also has a wet bulb over {surface}, {t:.2} {unit}"));
    }
    Ok(Exit::Clean)
}

fn pressure(args: &AirArgs, system: UnitSystem) -> Result<(Pressure, String), Failure> {
    match (args.altitude, args.pressure) {
        (Some(z), _) => standard_pressure(z)
            .map(|p| (p, format!("standard atmosphere at {}", z.show(system))))
            .map_err(|e| Failure::bad_input(e.describe(system))),
        (None, Some(p)) => Ok((p, "as given".to_owned())),
        (None, None) => Ok((Pressure::pascals(STANDARD_PRESSURE_PA), "sea level".to_owned())),
    }
}

/// The other wet bulb of air that has one over liquid water and one over ice.
fn other_wet_bulb(air: MoistAir, state: &State) -> Option<f64> {
    let over_ice = air.wet_bulb_on_ice()?.si();
    if state.wet_bulb_c < 0.0 {
        air.wet_bulb().ok().map(Temperature::si).filter(|t| *t >= 0.0)
    } else {
        Some(over_ice)
    }
}

/// The eight quantities of a state.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
struct State {
    dry_bulb_c: f64,
    wet_bulb_c: f64,
    /// Dry air has none.
    dew_point_c: Option<f64>,
    relative_humidity: f64,
    humidity_ratio: f64,
    enthalpy_j_per_kg: f64,
    volume_m3_per_kg: f64,
    pressure_pa: f64,
}

impl State {
    /// A wet bulb that was given is shown as given: near 0 degC the same air has two.
    fn of(air: MoistAir, given_wet_bulb: Option<Temperature>) -> Result<Self, AirError> {
        let dew_point_c = match air.dew_point() {
            Ok(t) => Some(t.si()),
            Err(AirError::NoDewPoint { .. }) => None,
            Err(e) => return Err(e),
        };
        let wet_bulb_c = match given_wet_bulb {
            Some(t) => t.si(),
            None => air.wet_bulb()?.si(),
        };
        Ok(Self {
            dry_bulb_c: air.dry_bulb().si(),
            wet_bulb_c,
            dew_point_c,
            relative_humidity: air.relative_humidity().si(),
            humidity_ratio: air.humidity_ratio().si(),
            enthalpy_j_per_kg: air.enthalpy().si(),
            volume_m3_per_kg: air.volume_m3_per_kg_dry_air(),
            pressure_pa: air.pressure().si(),
        })
    }

    fn draw(&self, system: UnitSystem, basis: &str, width: usize) -> String {
        let show = |kind: K, si: f64, decimals: usize| {
            (fixed(system.value(kind, si), decimals), system.symbol(kind))
        };
        let t = |c: f64| show(K::Temperature, c, 2);
        let none = || ("none".to_owned(), "");
        let dew_point = self.dew_point_c.map_or_else(none, t);
        let dew_remark = match self.dew_point_c {
            None => "drier than -100 degC dew point",
            Some(c) if c <= raw::TRIPLE_POINT_C => "frost point",
            Some(_) => "",
        };
        let wet_remark = if self.wet_bulb_c < 0.0 { "over ice" } else { "" };
        let enthalpy = match system {
            UnitSystem::Si => show(K::SpecificEnthalpy, self.enthalpy_j_per_kg, 2),
            UnitSystem::Ip => show(K::SpecificEnthalpy, self.enthalpy_j_per_kg + enthalpy_datum("Btu/lb"), 2),
        };
        let enthalpy_remark = match system {
            UnitSystem::Si => "per kg of dry air, from 0 degC",
            UnitSystem::Ip => "per lb of dry air, from 0 degF",
        };
        let (volume, volume_unit) = volume_in(system);
        let rows = [
            ("dry bulb", t(self.dry_bulb_c), ""),
            ("wet bulb", t(self.wet_bulb_c), wet_remark),
            ("dew point", dew_point, dew_remark),
            ("relative humidity", show(K::Fraction, self.relative_humidity, 2), ""),
            ("humidity ratio", show(K::HumidityRatio, self.humidity_ratio, 3), "per mass of dry air"),
            ("enthalpy", enthalpy, enthalpy_remark),
            (
                "volume",
                (format!("{:.4}", self.volume_m3_per_kg / volume), volume_unit),
                "per mass of dry air",
            ),
            ("pressure", show(K::Pressure, self.pressure_pa, 3), basis),
        ];
        let mut table = Table::new(["quantity", "value", "unit", ""]).align(1, Align::Right);
        for (name, (value, unit), remark) in rows {
            table.row([name, value.as_str(), unit, remark]);
        }
        table.draw(width)
    }
}

/// m3/kg in one unit of volume per mass of dry air, and its symbol.
fn volume_in(system: UnitSystem) -> (f64, &'static str) {
    match system {
        UnitSystem::Si => (1.0, "m3/kg"),
        UnitSystem::Ip => (0.3048 * 0.3048 * 0.3048 / 0.453_592_37, "ft3/lb"),
    }
}
