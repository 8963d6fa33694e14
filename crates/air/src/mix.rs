//! Adiabatic mixing of two streams at one pressure.

use crate::error::{AirError, PropertyKind};
use crate::moist_air::MoistAir;
use crate::raw::{self, Root};
use drycoil_units::{Fraction, HumidityRatio, MassFlow, Quantity, SpecificEnthalpy, Temperature};

/// What two streams become.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Mixture {
    /// Moist air at or below saturation.
    Clear(MoistAir),
    /// The straight line between the two states passes saturation: saturated air with droplets or ice crystals.
    Fog {
        /// The saturated air between the droplets.
        air: MoistAir,
        /// Condensed water, kg per kg of dry air; liquid above 0 degC, ice below.
        condensed: HumidityRatio,
        /// Share of the condensed water that is ice: 1 below 0 degC, 0 above, between at exactly 0 degC.
        ice: Fraction,
        /// What is left of the enthalpy balance, J per kg of dry air.
        residual_j_per_kg: f64,
        /// Evaluations spent.
        iterations: u32,
    },
}

/// Result of [`mix`] with the sums that it conserves.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Mixed {
    /// Dry-air mass flow of both streams.
    pub dry_air: MassFlow,
    /// Water of both streams per kg of dry air, vapour and condensed.
    pub total_water: HumidityRatio,
    /// Enthalpy of both streams per kg of dry air.
    pub enthalpy: SpecificEnthalpy,
    /// The state.
    pub mixture: Mixture,
}

/// Mixes two streams of moist air adiabatically: dry air, water and enthalpy are conserved.
///
/// Errors: streams at different pressures; a negative or non-finite flow; both flows zero.
///
/// ```
/// use drycoil_air::{MoistAir, Mixture, mix};
/// use drycoil_units::{Fraction, MassFlow, Pressure, Temperature};
/// let p = Pressure::pascals(101_325.0);
/// let cool = MoistAir::saturated(Temperature::celsius(14.0), p)?;
/// let warm = MoistAir::from_relative_humidity(Temperature::celsius(32.0), Fraction::percent(60.0), p)?;
/// let mixed = mix(cool, MassFlow::kg_per_s(1.0), warm, MassFlow::kg_per_s(0.4))?;
/// assert!(matches!(mixed.mixture, Mixture::Clear(_)));
/// # Ok::<(), drycoil_air::AirError>(())
/// ```
pub fn mix(
    first: MoistAir,
    first_dry_air: MassFlow,
    second: MoistAir,
    second_dry_air: MassFlow,
) -> Result<Mixed, AirError> {
    let (a, b) = (first_dry_air.si(), second_dry_air.si());
    for flow in [a, b] {
        if !(flow >= 0.0 && flow.is_finite()) {
            return Err(AirError::BadFlow { dry_air_kg_per_s: flow });
        }
    }
    let sum = a + b;
    if sum <= 0.0 {
        return Err(AirError::BadFlow { dry_air_kg_per_s: sum });
    }
    let p = first.pressure().si();
    if p != second.pressure().si() {
        return Err(AirError::DifferentPressures { first_pa: p, second_pa: second.pressure().si() });
    }
    let w = (a * first.humidity_ratio().si() + b * second.humidity_ratio().si()) / sum;
    let h = (a * first.enthalpy().si() + b * second.enthalpy().si()) / sum;
    let t = raw::dry_bulb_from_enthalpy_c(h, w);
    let mixture = match MoistAir::new(Temperature::celsius(t), HumidityRatio::from_si(w), first.pressure()) {
        Ok(air) => Mixture::Clear(air),
        Err(AirError::AboveSaturation { .. }) => {
            let (root, ice) = fog(h, w, p, t);
            if root.residual.abs() > 1e-6 + 1e-11 * h.abs() {
                return Err(AirError::NotConverged {
                    what: PropertyKind::DryBulb,
                    residual: root.residual,
                    iterations: root.iterations,
                });
            }
            let air = MoistAir::saturated(Temperature::celsius(root.value), first.pressure())?;
            Mixture::Fog {
                air,
                condensed: HumidityRatio::from_si(w - air.humidity_ratio().si()),
                ice: Fraction::ratio(ice),
                residual_j_per_kg: root.residual,
                iterations: root.iterations,
            }
        }
        Err(e) => return Err(e),
    };
    Ok(Mixed {
        dry_air: MassFlow::kg_per_s(sum),
        total_water: HumidityRatio::from_si(w),
        enthalpy: SpecificEnthalpy::from_si(h),
        mixture,
    })
}

/// Heat of fusion of ice at 0 degC, J/kg. From memory of ASHRAE Fundamentals ch. 1 (enthalpy of ice -333.4 kJ/kg).
pub const FUSION_AT_0_C_J_PER_KG: f64 = 333_400.0;

/// Enthalpy of condensed water, J/kg, zero for liquid at 0 degC: liquid 4.186 t, ice -333.4 + 2.1 t kJ/kg (the heat
/// capacities of the wet-bulb equations).
pub fn condensed_water_enthalpy_j_per_kg(t_c: f64) -> f64 {
    if t_c >= 0.0 { 4186.0 * t_c } else { -FUSION_AT_0_C_J_PER_KG + 2100.0 * t_c }
}

/// Temperature of fog with this enthalpy and water, and the share of ice.
fn fog(h: f64, w: f64, p: f64, clear_c: f64) -> (Root, f64) {
    let balance = |t: f64, water_j_per_kg: f64| {
        let w_s = raw::saturation_humidity_ratio(t, p);
        raw::enthalpy_j_per_kg(t, w_s) + (w - w_s) * water_j_per_kg - h
    };
    // Condensing warms the air: the answer lies between the clear temperature and the dew point of all the water.
    let dew_c = raw::dew_point_c(w, p);
    let (liquid, frozen) = (balance(0.0, 0.0), balance(0.0, -FUSION_AT_0_C_J_PER_KG));
    if clear_c < 0.0 && dew_c > 0.0 && frozen <= 0.0 && liquid >= 0.0 {
        let ice = liquid / (liquid - frozen);
        let residual = balance(0.0, -FUSION_AT_0_C_J_PER_KG * ice);
        return (Root { value: 0.0, residual, iterations: 3 }, ice);
    }
    // The melting step at 0 degC is not inside the interval searched.
    let (low, high) =
        if liquid < 0.0 { (clear_c.max(0.0), dew_c) } else { (clear_c, dew_c.min(-f64::MIN_POSITIVE)) };
    let (low, high) = if clear_c >= 0.0 { (clear_c, dew_c) } else { (low, high) };
    let root = raw::root_between(low, high, |t| balance(t, condensed_water_enthalpy_j_per_kg(t)));
    (root, if root.value < 0.0 { 1.0 } else { 0.0 })
}
