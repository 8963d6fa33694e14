//! The few moist-air relations that a weather year needs.

/// Saturation pressure over water or ice, Pa (ASHRAE Fundamentals ch. 1 eq. 5 and 6).
fn saturation_pressure_pa(t_c: f64) -> f64 {
    let t = t_c + 273.15;
    if t_c <= 0.01 {
        (-5.6745359e3 / t + 6.3925247 - 9.677843e-3 * t + 6.2215701e-7 * t * t + 2.0747825e-9 * t.powi(3)
            - 9.484024e-13 * t.powi(4)
            + 4.1635019 * t.ln())
        .exp()
    } else {
        (-5.8002206e3 / t + 1.3914993 - 4.8640239e-2 * t + 4.1764768e-5 * t * t - 1.4452093e-8 * t.powi(3)
            + 6.5459673 * t.ln())
        .exp()
    }
}

/// Humidity ratio of saturated air, kg/kg.
pub(crate) fn saturation_w(t_c: f64, p_pa: f64) -> f64 {
    let ps = saturation_pressure_pa(t_c);
    0.621945 * ps / (p_pa - ps)
}

/// Humidity ratio at a relative humidity, kg/kg.
pub(crate) fn w_from_rh(t_c: f64, rh: f64, p_pa: f64) -> f64 {
    let pw = rh * saturation_pressure_pa(t_c);
    0.621945 * pw / (p_pa - pw)
}

/// Dew point at a humidity ratio, degC; `None` when it lies outside -100 to 100 degC.
pub(crate) fn dew_point_c(w: f64, p_pa: f64) -> Option<f64> {
    let target = p_pa * w / (0.621945 + w);
    let (mut low, mut high) = (-100.0, 100.0);
    if !(saturation_pressure_pa(low)..=saturation_pressure_pa(high)).contains(&target) {
        return None;
    }
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        if saturation_pressure_pa(middle) < target { low = middle } else { high = middle }
    }
    Some(0.5 * (low + high))
}
