//! Small helpers on moist air shared by the exchangers.

use crate::ExchangeError;
use crate::bypass::CP_CONDENSATE_J_PER_KG_K;
use drycoil_air::raw as air;
use drycoil_solve::bracketed;

/// Temperature of saturated air with this enthalpy, degC, by Newton's method from an estimate.
pub(crate) fn saturated_from_enthalpy_c(h_j_per_kg: f64, estimate_c: f64, p_pa: f64) -> f64 {
    let mut t = estimate_c;
    for _ in 0..40 {
        let w = air::saturation_humidity_ratio(t, p_pa);
        let f = air::enthalpy_j_per_kg(t, w) - h_j_per_kg;
        let d = air::humid_specific_heat_j_per_kg_k(w)
            + air::vapour_enthalpy_j_per_kg(t) * air::saturation_humidity_ratio_slope_per_k(t, p_pa);
        t -= f / d;
        if (f / d).abs() < 1e-12 {
            break;
        }
    }
    t
}

/// Air after any fog has fallen out.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Settled {
    pub t_c: f64,
    pub w: f64,
    /// Fog, kg per kg of dry air.
    pub fog: f64,
    /// Dry bulb that the air would have without the fog, degC.
    pub unsettled_c: f64,
}

/// Lets fog fall out of air that holds more moisture than it can: air and droplets together keep their enthalpy,
/// the droplets are liquid (also below 0 degC).
pub(crate) fn settle(h_j_per_kg: f64, w: f64, p_pa: f64) -> Result<Settled, ExchangeError> {
    let t = air::dry_bulb_from_enthalpy_c(h_j_per_kg, w);
    if w <= air::saturation_humidity_ratio(t, p_pa) {
        return Ok(Settled { t_c: t, w, fog: 0.0, unsettled_c: t });
    }
    let excess = |t: f64| {
        let ws = air::saturation_humidity_ratio(t, p_pa);
        air::enthalpy_j_per_kg(t, ws) + (w - ws) * CP_CONDENSATE_J_PER_KG_K * t - h_j_per_kg
    };
    // Condensing heats the air, at most to the dew point of the whole moisture.
    let high = air::dew_point_c(w, p_pa) + 1e-6;
    let t_c = bracketed::<ExchangeError>("saturated air under fog", t, high, 1e-9, |t| Ok(excess(t)))?.x;
    let ws = air::saturation_humidity_ratio(t_c, p_pa);
    Ok(Settled { t_c, w: ws, fog: w - ws, unsettled_c: t })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn inv_saturated_from_enthalpy() {
        for t in [-20.0, -0.5, 0.5, 12.8, 35.0] {
            let h = air::saturation_enthalpy_j_per_kg(t, 101_325.0);
            assert!((saturated_from_enthalpy_c(h, t + 3.0, 101_325.0) - t).abs() < 1e-9, "{t}");
        }
    }

    #[test]
    fn phys_fog_keeps_enthalpy() {
        let (h, w) = (air::enthalpy_j_per_kg(10.0, 0.009), 0.009);
        let s = settle(h, w, 101_325.0).unwrap();
        assert!(s.fog > 0.0 && s.t_c > 10.0 && s.unsettled_c < s.t_c);
        let after = air::enthalpy_j_per_kg(s.t_c, s.w) + s.fog * CP_CONDENSATE_J_PER_KG_K * s.t_c;
        assert!((after / h - 1.0).abs() < 1e-12);
    }
}
