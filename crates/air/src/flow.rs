//! Air flow in its bases, with types that name them.

use crate::error::AirError;
use crate::moist_air::MoistAir;
use crate::range::ValidRange;
use crate::raw;
use drycoil_units::{ActualAirFlow, Length, MassFlow, Pressure, Quantity, StandardAirFlow, Temperature};

/// Volume flow at a state of this dry-air mass flow.
pub fn actual_flow_at(dry_air: MassFlow, state: MoistAir) -> ActualAirFlow {
    ActualAirFlow::from_si(dry_air.si() * state.volume_m3_per_kg_dry_air())
}

/// Dry-air mass flow of a volume flow at a state.
pub fn dry_air_of_actual_flow_at(flow: ActualAirFlow, state: MoistAir) -> MassFlow {
    MassFlow::from_si(flow.si() / state.volume_m3_per_kg_dry_air())
}

/// Volume flow at the pressure of the site and the temperature of standard air: density 0.075 lb/ft3 times site
/// pressure over sea-level pressure.
///
/// ```
/// use drycoil_units::{Pressure, StandardAirFlow};
/// // 20 standard cfm at 5 000 ft occupy about 24 cfm.
/// let p = Pressure::psia(12.2278);
/// let actual = drycoil_air::actual_at_site(StandardAirFlow::cfm(20.0), p)?;
/// assert!((actual.to_acfm() - 20.0 * 14.696 / 12.2278).abs() < 1e-3);
/// # Ok::<(), drycoil_air::AirError>(())
/// ```
pub fn actual_at_site(flow: StandardAirFlow, site: Pressure) -> Result<ActualAirFlow, AirError> {
    let p = ValidRange::PRESSURE.check(site.si())?;
    Ok(ActualAirFlow::from_si(raw::dry_air_to_actual_at_site_m3_per_s(flow.dry_air_mass_flow().si(), p)))
}

/// Standard flow of a volume flow counted at the pressure of the site and the temperature of standard air.
pub fn standard_of_actual_at_site(flow: ActualAirFlow, site: Pressure) -> Result<StandardAirFlow, AirError> {
    let p = ValidRange::PRESSURE.check(site.si())?;
    Ok(MassFlow::from_si(raw::actual_at_site_to_dry_air_kg_per_s(flow.si(), p)).as_dry_air_to_standard_flow())
}

/// Standard pressure at an elevation; refused outside [`ValidRange::ELEVATION`].
pub fn standard_pressure(elevation: Length) -> Result<Pressure, AirError> {
    ValidRange::ELEVATION.check(elevation.si()).map(|z| Pressure::from_si(raw::standard_pressure_pa(z)))
}

/// Standard temperature at an elevation; refused outside [`ValidRange::ELEVATION`].
pub fn standard_temperature(elevation: Length) -> Result<Temperature, AirError> {
    ValidRange::ELEVATION.check(elevation.si()).map(|z| Temperature::celsius(raw::standard_temperature_c(z)))
}
