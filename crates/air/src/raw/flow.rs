//! Air flow in its bases: standard flow, dry-air mass flow, actual flow at a state, and actual flow at the pressure
//! of the site and the temperature of standard air.

use super::state::volume_m3_per_kg;
use drycoil_units::{STANDARD_AIR_DENSITY_KG_PER_M3, STANDARD_PRESSURE_PA};

/// Dry-air mass flow of a standard air flow, kg/s.
#[inline]
pub fn standard_flow_to_dry_air_kg_per_s(standard_m3_per_s: f64) -> f64 {
    standard_m3_per_s * STANDARD_AIR_DENSITY_KG_PER_M3
}

/// Standard air flow that carries this dry-air mass flow, m3/s.
#[inline]
pub fn dry_air_to_standard_flow_m3_per_s(dry_air_kg_per_s: f64) -> f64 {
    dry_air_kg_per_s / STANDARD_AIR_DENSITY_KG_PER_M3
}

/// Volume flow at a state, m3/s, of this dry-air mass flow.
#[inline]
pub fn dry_air_to_actual_flow_m3_per_s(dry_air_kg_per_s: f64, t_c: f64, w_kg_per_kg: f64, p_pa: f64) -> f64 {
    dry_air_kg_per_s * volume_m3_per_kg(t_c, w_kg_per_kg, p_pa)
}

/// Dry-air mass flow, kg/s, of a volume flow at a state.
#[inline]
pub fn actual_flow_to_dry_air_kg_per_s(actual_m3_per_s: f64, t_c: f64, w_kg_per_kg: f64, p_pa: f64) -> f64 {
    actual_m3_per_s / volume_m3_per_kg(t_c, w_kg_per_kg, p_pa)
}

/// Dry-air density that turns "actual at the site" flow into mass flow: 0.075 lb/ft3 times site pressure over
/// sea-level pressure, that is, air of the site's pressure at the temperature of standard air.
#[inline]
pub fn actual_at_site_density_kg_per_m3(p_pa: f64) -> f64 {
    STANDARD_AIR_DENSITY_KG_PER_M3 * (p_pa / STANDARD_PRESSURE_PA)
}

/// Dry-air mass flow, kg/s, of a flow counted at site pressure and the temperature of standard air.
#[inline]
pub fn actual_at_site_to_dry_air_kg_per_s(actual_m3_per_s: f64, p_pa: f64) -> f64 {
    actual_m3_per_s * actual_at_site_density_kg_per_m3(p_pa)
}

/// Flow counted at site pressure and the temperature of standard air, m3/s, of a dry-air mass flow.
#[inline]
pub fn dry_air_to_actual_at_site_m3_per_s(dry_air_kg_per_s: f64, p_pa: f64) -> f64 {
    dry_air_kg_per_s / actual_at_site_density_kg_per_m3(p_pa)
}
