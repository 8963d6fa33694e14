//! Properties of liquid water, 0 to 100 degC.
//!
//! Closed forms of the IAPWS Revised Supplementary Release on Properties of Liquid Water at 100 kPa (2011),
//! valid there for 253.15 to 383.15 K. Stated uncertainty of the release: density 0.0001 % to 0.003 %, specific
//! heat 0.1 %, viscosity 1 %, thermal conductivity 1.5 %. Water in closed loops stands at 1 to 10 bar; against
//! 3 bar the density is 0.009 % low and the specific heat 0.02 % high, which is left out and stated here.

use crate::WaterError;
use crate::error::within;
use drycoil_units::{Conductivity, Density, Quantity, SpecificHeat, Temperature};

/// Lowest temperature at which properties are given, degC.
pub const MIN_C: f64 = 0.0;
/// Highest temperature at which properties are given, degC.
pub const MAX_C: f64 = 100.0;

/// The closed forms on plain numbers, for hot loops. The caller keeps the temperature within
/// [`MIN_C`] to [`MAX_C`]; outside, the formulas continue without a check.
pub mod raw {
    const R_J_PER_KG_K: f64 = 461.51805;
    const T_R: f64 = 10.0;
    const P0_PA: f64 = 1e5;
    const T_A: f64 = 593.0;
    const T_B: f64 = 232.0;

    /// Density of liquid water at 100 kPa, kg/m3.
    #[inline]
    pub fn density_kg_per_m3(t_c: f64) -> f64 {
        let t = t_c + 273.15;
        let a = T_R / (T_A - t);
        let b = T_R / (t - T_B);
        let a4 = a * a * a * a;
        let sum_a = a4
            * (6.74458446e3
                + a * (-2.22521604e5 + a * a * (1.00231247e8 + a * (-1.63552118e9 + a * 8.32299658e9))));
        let sum_b = b
            * (5.78545292e-3
                + b * (-1.53195665e-2
                    + b * (3.11337859e-2 + b * (-4.23546241e-2 + b * (3.38713507e-2 + b * -1.19946761e-2)))));
        P0_PA / (R_J_PER_KG_K * T_R * (1.93763157e-2 + sum_a + sum_b))
    }

    /// Specific heat at constant pressure of liquid water at 100 kPa, J/(kg K).
    #[inline]
    pub fn specific_heat_j_per_kg_k(t_c: f64) -> f64 {
        let t = t_c + 273.15;
        let tau = t / T_R;
        let a = T_R / (T_A - t);
        let b = T_R / (t - T_B);
        let a2 = a * a;
        let a6 = a2 * a2 * a2;
        let sum_a =
            a6 * (20.0 * -1.661470539e5 + a * (30.0 * 2.708781640e6 + a * a * (56.0 * -1.557191544e8)));
        let b4 = b * b * b * b;
        let sum_b = b4
            * (6.0 * -8.237426256e-1
                + b * (12.0 * 1.908956353 + b * (20.0 * -2.017597384 + b * (30.0 * 8.546361348e-1))));
        -R_J_PER_KG_K * (-8.983025854 + tau * (sum_a + sum_b))
    }

    /// Dynamic viscosity of liquid water at 100 kPa, Pa s.
    #[inline]
    pub fn viscosity_pa_s(t_c: f64) -> f64 {
        // The powers of the release through one logarithm.
        let ln_r = ((t_c + 273.15) / 300.0).ln();
        let power = |n: f64| (n * ln_r).exp();
        1e-6 * (280.68 * power(-1.9) + 511.45 * power(-7.7) + 61.131 * power(-19.6) + 0.45903 * power(-40.0))
    }

    /// Thermal conductivity of liquid water at 100 kPa, W/(m K).
    #[inline]
    pub fn conductivity_w_per_m_k(t_c: f64) -> f64 {
        let ln_r = ((t_c + 273.15) / 300.0).ln();
        let power = |n: f64| (n * ln_r).exp();
        1.6630 * power(-1.15) - 1.7781 * power(-3.4) + 1.1567 * power(-6.0) - 0.432115 * power(-7.6)
    }
}

/// Properties of liquid water at one temperature.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WaterProperties {
    /// The temperature.
    pub temperature: Temperature,
    /// Density.
    pub density: Density,
    /// Specific heat at constant pressure.
    pub specific_heat: SpecificHeat,
    /// Dynamic viscosity, Pa s.
    pub viscosity_pa_s: f64,
    /// Thermal conductivity.
    pub conductivity: Conductivity,
}

impl WaterProperties {
    /// Properties at this temperature, 0 to 100 degC.
    ///
    /// ```
    /// use drycoil_units::Temperature;
    /// use drycoil_water::liquid::WaterProperties;
    /// let w = WaterProperties::at(Temperature::celsius(20.0)).unwrap();
    /// assert!((w.density.to_kg_per_m3() - 998.2).abs() < 0.05);
    /// assert!(WaterProperties::at(Temperature::celsius(-1.0)).is_err());
    /// ```
    pub fn at(temperature: Temperature) -> Result<Self, WaterError> {
        let t_c = within("water temperature", temperature.si(), MIN_C, MAX_C, "degC")?;
        Ok(Self {
            temperature,
            density: Density::from_si(raw::density_kg_per_m3(t_c)),
            specific_heat: SpecificHeat::from_si(raw::specific_heat_j_per_kg_k(t_c)),
            viscosity_pa_s: raw::viscosity_pa_s(t_c),
            conductivity: Conductivity::from_si(raw::conductivity_w_per_m_k(t_c)),
        })
    }

    /// Kinematic viscosity, m2/s.
    pub fn kinematic_viscosity_m2_per_s(&self) -> f64 {
        self.viscosity_pa_s / self.density.si()
    }

    /// Prandtl number.
    pub fn prandtl(&self) -> f64 {
        self.specific_heat.si() * self.viscosity_pa_s / self.conductivity.si()
    }

    /// Heat carried per volume and kelvin, J/(m3 K).
    pub fn volumetric_heat_j_per_m3_k(&self) -> f64 {
        self.density.si() * self.specific_heat.si()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rel(a: f64, b: f64) -> f64 {
        (a / b - 1.0).abs()
    }

    #[test]
    fn val_release_check_point_300_k() {
        // IAPWS supplementary release SR6-08(2011) at 300 K as evaluated by an independent open implementation of the
        // release: v 1.00345559e-3 m3/kg, cp 4180.7518 J/(kg K), viscosity 853.720 uPa s, conductivity 0.609485 W/(m K).
        // Rounding only.
        let t = 26.85;
        assert!(rel(raw::density_kg_per_m3(t), 996.5563072677797) < 1e-12);
        assert!(rel(raw::specific_heat_j_per_kg_k(t), 4180.751822678172) < 1e-12);
        assert!(rel(raw::viscosity_pa_s(t), 8.5372003e-4) < 1e-8);
        assert!(rel(raw::conductivity_w_per_m_k(t), 0.609485) < 1e-6);
    }

    #[test]
    fn val_against_full_formulation() {
        // IAPWS-95 with its transport releases at 1 bar, from a general-purpose property library: degC, kg/m3, J/(kg K),
        // Pa s, W/(m K). Tolerances are the release's own fit: 1e-5, 2e-4; viscosity 1e-3, conductivity 3e-3.
        for (t, rho, cp, mu, k) in [
            (0.5, 999.8740260744657, 4217.7540934326635, 0.001760972729879937, 0.5569225387752618),
            (20.0, 998.2065434976615, 4184.055067054595, 0.001001596551303983, 0.598011574911497),
            (60.0, 983.1952445303499, 4184.95622331867, 0.0004660347593758045, 0.6509995898072309),
            (99.0, 959.0654387926754, 4214.531672078765, 0.00028456497319418855, 0.6768274526282124),
        ] {
            assert!(rel(raw::density_kg_per_m3(t), rho) < 1e-5, "{t}: density");
            assert!(rel(raw::specific_heat_j_per_kg_k(t), cp) < 2e-4, "{t}: specific heat");
            assert!(rel(raw::viscosity_pa_s(t), mu) < 1e-3, "{t}: viscosity");
            assert!(rel(raw::conductivity_w_per_m_k(t), k) < 3e-3, "{t}: conductivity");
        }
    }

    #[test]
    fn val_heat_per_flow_against_full_equation_of_state() {
        // Btu/h per gpm and degF, full IAPWS-95 equation at 3 bar (recomputed with a general-purpose property
        // library). 0.02 %: the forms here stand at 1 bar.
        for (f, want) in
            [(44.0, 502.37), (55.0, 500.91), (60.0, 500.33), (85.0, 497.79), (120.0, 494.29), (140.0, 492.08)]
        {
            let w = WaterProperties::at(Temperature::fahrenheit(f)).unwrap();
            let gpm = 3.785_411_784e-3 / 60.0;
            let got = w.volumetric_heat_j_per_m3_k() * gpm / 1.8 / (1055.05585262 / 3600.0);
            assert!(rel(got, want) < 2e-4, "{f} degF: {got} against {want}");
        }
    }

    #[test]
    fn val_kinematic_viscosity_against_full_equation_of_state() {
        // ft2/s, same source; 0.1 % covers the release's simpler viscosity form.
        for (f, want) in
            [(44.0, 1.5515e-5), (55.0, 1.3006e-5), (60.0, 1.2076e-5), (85.0, 8.719e-6), (140.0, 5.102e-6)]
        {
            let w = WaterProperties::at(Temperature::fahrenheit(f)).unwrap();
            let got = w.kinematic_viscosity_m2_per_s() / (0.3048 * 0.3048);
            assert!(rel(got, want) < 1e-3, "{f} degF: {got} against {want}");
        }
    }

    #[test]
    fn phys_density_peaks_at_four_degrees() {
        let peak = (0..=1000).max_by(|&i, &j| {
            raw::density_kg_per_m3(f64::from(i) * 0.01)
                .total_cmp(&raw::density_kg_per_m3(f64::from(j) * 0.01))
        });
        let t = f64::from(peak.unwrap()) * 0.01;
        // Temperature of maximum density 3.98 degC: common knowledge, no source needed beyond the release.
        assert!((t - 3.98).abs() < 0.03, "{t}");
    }

    #[test]
    fn phys_viscosity_falls_and_prandtl_falls() {
        let mut last: Option<WaterProperties> = None;
        for i in 0..=100 {
            let w = WaterProperties::at(Temperature::celsius(f64::from(i))).unwrap();
            if let Some(l) = last {
                assert!(w.viscosity_pa_s < l.viscosity_pa_s && w.prandtl() < l.prandtl());
            }
            last = Some(w);
        }
    }

    #[test]
    fn phys_outside_range_is_refused() {
        for t in [-0.01, 100.01, f64::NAN, f64::INFINITY] {
            assert!(WaterProperties::at(Temperature::celsius(t)).is_err(), "{t}");
        }
        let e = WaterProperties::at(Temperature::celsius(120.0)).unwrap_err();
        assert_eq!(e.to_string(), "water temperature is 120 degC, allowed is 0 to 100 degC");
    }
}
