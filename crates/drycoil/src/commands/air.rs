//! `drycoil air`: the moist-air calculator.

use crate::cli::quantity;
use crate::{Context, Exit, Failure};
use clap::Args;
use drycoil_units::{Fraction, HumidityRatio, Length, Pressure, Temperature};
use std::path::PathBuf;

/// Arguments of `drycoil air`.
#[derive(Debug, Clone, Args)]
#[command(
    after_help = "Give any two quantities of the state, each with its unit, and the altitude or the pressure.\n\
Example: drycoil air --dry-bulb \"75 degF\" --rh \"50 %\" --altitude \"0 ft\""
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
    #[arg(long, value_name = "QUANTITY", value_parser = quantity::<Fraction>)]
    pub rh: Option<Fraction>,
    /// Humidity ratio, such as "65 gr/lb" or "9.3 g/kg"
    #[arg(long, value_name = "QUANTITY", value_parser = quantity::<HumidityRatio>)]
    pub humidity_ratio: Option<HumidityRatio>,
    /// Enthalpy per mass of dry air, such as "28.1 Btu/lb"; zero at 0 degC or 0 degF as the unit has it
    #[arg(long, value_name = "QUANTITY", allow_hyphen_values = true)]
    pub enthalpy: Option<String>,
    /// Altitude above sea level, such as "5000 ft"
    #[arg(long, value_name = "QUANTITY", value_parser = quantity::<Length>, allow_hyphen_values = true,
          conflicts_with = "pressure")]
    pub altitude: Option<Length>,
    /// Absolute pressure, such as "101.325 kPa"
    #[arg(long, value_name = "QUANTITY", value_parser = quantity::<Pressure>)]
    pub pressure: Option<Pressure>,
    /// CSV file of states, one a row, with the unit in each column title; results go to standard output or `--out`
    #[arg(long, value_name = "FILE", conflicts_with_all = ["dry_bulb", "wet_bulb", "dew_point", "rh", "humidity_ratio", "enthalpy"])]
    pub csv: Option<PathBuf>,
    /// File for the results of `--csv`
    #[arg(long, value_name = "FILE", requires = "csv")]
    pub out: Option<PathBuf>,
}

/// Runs the command.
pub fn run(_args: &AirArgs, _context: &mut Context) -> Result<Exit, Failure> {
    Err(super::not_built_yet("air"))
}
