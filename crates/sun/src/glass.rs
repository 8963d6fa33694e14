//! Sun through clear and absorbing panes, by Fresnel's equations and ray tracing between panes.
//!
//! Source: Duffie and Beckman, Solar Engineering of Thermal Processes, ch. 5 (from memory). Both polarisations are
//! carried through the whole stack and averaged at the end. Panes are bare and alike on both faces; coatings are
//! outside this model (use [`crate::SimpleGlass`] with the rated solar heat gain coefficient).

use crate::error::{SunError, within};
use drycoil_units::{Angle, Fraction, Quantity, ThermalResistance};

/// A value for each polarisation of light.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Polarized {
    /// Electric field perpendicular to the plane of incidence.
    pub perpendicular: f64,
    /// Electric field parallel to the plane of incidence.
    pub parallel: f64,
}

impl Polarized {
    /// Mean of the two: unpolarised light.
    pub fn mean(self) -> f64 {
        0.5 * (self.perpendicular + self.parallel)
    }
}

/// Reflectance of one face between air and glass; angle of incidence in degrees, 0 to 90.
pub fn raw_interface_reflectance(refractive_index: f64, incidence_deg: f64) -> Polarized {
    let theta = incidence_deg.to_radians();
    let cos_in = theta.cos();
    let sin_refracted = theta.sin() / refractive_index;
    let cos_refracted = (1.0 - sin_refracted * sin_refracted).sqrt();
    let perpendicular =
        (cos_in - refractive_index * cos_refracted) / (cos_in + refractive_index * cos_refracted);
    let parallel = (refractive_index * cos_in - cos_refracted) / (refractive_index * cos_in + cos_refracted);
    Polarized { perpendicular: perpendicular * perpendicular, parallel: parallel * parallel }
}

/// Reflectance of one face between air and glass for an angle of incidence of 0 to 90 deg.
///
/// # Errors
/// [`SunError::OutOfRange`]: refractive index outside 1.0 to 3.0, angle outside 0 to 90 deg.
///
/// ```
/// use drycoil_units::Angle;
/// let r = drycoil_sun::interface_reflectance(1.526, Angle::degrees(60.0)).unwrap();
/// assert!((r.mean() - 0.09346).abs() < 1e-5);
/// ```
pub fn interface_reflectance(refractive_index: f64, incidence: Angle) -> Result<Polarized, SunError> {
    within("refractive index", refractive_index, 1.0, 3.0, "")?;
    let incidence_deg = within("angle of incidence", incidence.to_degrees(), 0.0, 90.0, "deg")?;
    Ok(raw_interface_reflectance(refractive_index, incidence_deg))
}

/// One bare pane.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pane {
    refractive_index: f64,
    absorption: f64,
}

impl Pane {
    /// A pane by its refractive index (1.0 to 3.0; glass 1.526) and its absorption: extinction coefficient times
    /// thickness, 0 to 10 (3 mm of clear float glass about 0.1).
    ///
    /// # Errors
    /// [`SunError::OutOfRange`].
    pub fn new(refractive_index: f64, absorption: f64) -> Result<Self, SunError> {
        within("refractive index", refractive_index, 1.0, 3.0, "")?;
        within("absorption of a pane", absorption, 0.0, 10.0, "")?;
        Ok(Self { refractive_index, absorption })
    }

    /// Transmitted and reflected share of one polarisation, with all inner reflections.
    fn shares(&self, incidence_deg: f64, face_reflectance: f64) -> (f64, f64) {
        let sin_refracted = incidence_deg.to_radians().sin() / self.refractive_index;
        let internal = (-self.absorption / (1.0 - sin_refracted * sin_refracted).sqrt()).exp();
        let r = face_reflectance;
        // At 90 deg the faces reflect all but a rounding error.
        if r > 1.0 - 1e-12 {
            return (0.0, 1.0);
        }
        let transmitted = internal * (1.0 - r) * (1.0 - r) / (1.0 - r * r * internal * internal);
        (transmitted, r * (1.0 + internal * transmitted))
    }
}

/// Where the sun that meets a glazing goes; shares of the incident irradiance.
#[derive(Debug, Clone, PartialEq)]
pub struct GlassShares {
    /// Passed into the room as short-wave radiation.
    pub transmitted: f64,
    /// Sent back outdoors.
    pub reflected: f64,
    /// Absorbed in each pane, from outdoors to indoors.
    pub absorbed: Vec<f64>,
    /// Part of the absorbed share that flows indoors.
    pub inward: f64,
}

impl GlassShares {
    /// Solar heat gain coefficient: transmitted + inward-flowing.
    pub fn solar_heat_gain_coefficient(&self) -> f64 {
        self.transmitted + self.inward
    }
}

/// A stack of bare panes with gaps between them.
#[derive(Debug, Clone, PartialEq)]
pub struct Glazing {
    panes: Vec<Pane>,
    inward_fraction: Vec<f64>,
}

impl Glazing {
    /// Panes from outdoors to indoors, with the resistances of the outdoor film, of each gap and of the indoor film.
    ///
    /// The inward-flowing fraction of what a pane absorbs is the resistance outdoors of it over the whole resistance;
    /// the panes' own resistance is neglected.
    ///
    /// # Errors
    /// [`SunError::GapCount`] unless there is one gap fewer than panes; [`SunError::OutOfRange`] for no pane, more
    /// than 5, or a resistance outside 0.001 to 5 m2K/W.
    ///
    /// ```
    /// use drycoil_sun::{Glazing, Pane};
    /// use drycoil_units::{Angle, ThermalResistance};
    /// let pane = Pane::new(1.526, 0.1).unwrap();
    /// let r = ThermalResistance::m2_k_per_w;
    /// let double = Glazing::new(vec![pane, pane], r(0.04), &[r(0.17)], r(0.12)).unwrap();
    /// let shares = double.at_incidence(Angle::degrees(0.0)).unwrap();
    /// let sum = shares.transmitted + shares.reflected + shares.absorbed.iter().sum::<f64>();
    /// assert!((sum - 1.0).abs() < 1e-12);
    /// ```
    pub fn new(
        panes: Vec<Pane>,
        outdoor_film: ThermalResistance,
        gaps: &[ThermalResistance],
        indoor_film: ThermalResistance,
    ) -> Result<Self, SunError> {
        within("number of panes", panes.len() as f64, 1.0, 5.0, "")?;
        if gaps.len() + 1 != panes.len() {
            return Err(SunError::GapCount { panes: panes.len(), gaps: gaps.len() });
        }
        let mut outside = within("outdoor film resistance", outdoor_film.si(), 0.001, 5.0, "m2K/W")?;
        let mut resistances = vec![outside];
        for gap in gaps {
            outside += within("gap resistance", gap.si(), 0.001, 5.0, "m2K/W")?;
            resistances.push(outside);
        }
        let whole = outside + within("indoor film resistance", indoor_film.si(), 0.001, 5.0, "m2K/W")?;
        let inward_fraction = resistances.into_iter().map(|r| r / whole).collect();
        Ok(Self { panes, inward_fraction })
    }

    /// Shares for beam at an angle of incidence of 0 to 90 deg.
    ///
    /// # Errors
    /// [`SunError::OutOfRange`] for other angles.
    pub fn at_incidence(&self, incidence: Angle) -> Result<GlassShares, SunError> {
        let incidence_deg = within("angle of incidence", incidence.to_degrees(), 0.0, 90.0, "deg")?;
        Ok(self.shares(incidence_deg))
    }

    /// Shares for diffuse irradiance that is even over the half space in front of the glazing.
    pub fn diffuse(&self) -> GlassShares {
        let mut sum = GlassShares {
            transmitted: 0.0,
            reflected: 0.0,
            absorbed: vec![0.0; self.panes.len()],
            inward: 0.0,
        };
        for (incidence_deg, weight) in hemisphere() {
            let at = self.shares(incidence_deg);
            sum.transmitted += weight * at.transmitted;
            sum.reflected += weight * at.reflected;
            sum.inward += weight * at.inward;
            for (total, part) in sum.absorbed.iter_mut().zip(&at.absorbed) {
                *total += weight * part;
            }
        }
        sum
    }

    fn shares(&self, incidence_deg: f64) -> GlassShares {
        let count = self.panes.len();
        let mut result =
            GlassShares { transmitted: 0.0, reflected: 0.0, absorbed: vec![0.0; count], inward: 0.0 };
        let pick: [fn(Polarized) -> f64; 2] = [|p| p.perpendicular, |p| p.parallel];
        for component in pick {
            let each: Vec<(f64, f64)> = self
                .panes
                .iter()
                .map(|pane| {
                    let face = raw_interface_reflectance(pane.refractive_index, incidence_deg);
                    pane.shares(incidence_deg, component(face))
                })
                .collect();
            // Reflectance of pane i and all behind it, seen from outdoors; nothing stands behind the last.
            let mut behind = vec![0.0; count + 1];
            for i in (0..count).rev() {
                let (t, r) = each[i];
                // At grazing incidence a pane passes nothing, and its faces reflect all.
                behind[i] = if t > 0.0 { r + t * t * behind[i + 1] / (1.0 - r * behind[i + 1]) } else { r };
            }
            let mut incoming = 1.0;
            for i in 0..count {
                let (t, r) = each[i];
                let passed = if t > 0.0 { incoming * t / (1.0 - r * behind[i + 1]) } else { 0.0 };
                let returned = passed * behind[i + 1];
                result.absorbed[i] += 0.5 * (1.0 - t - r) * (incoming + returned);
                incoming = passed;
            }
            result.transmitted += 0.5 * incoming;
            result.reflected += 0.5 * behind[0];
        }
        result.inward = result.absorbed.iter().zip(&self.inward_fraction).map(|(a, n)| a * n).sum();
        result
    }

    /// Solar heat gain coefficient at normal incidence.
    pub fn solar_heat_gain_coefficient(&self) -> Fraction {
        Fraction::ratio(self.shares(0.0).solar_heat_gain_coefficient())
    }
}

/// Angles of incidence and weights (sum 1) of the mean over a half space, `integral of f(a) sin(2a) da`, by Simpson's
/// rule in steps of 1 deg.
pub(crate) fn hemisphere() -> impl Iterator<Item = (f64, f64)> {
    const STEPS: u32 = 90;
    let weight = |i: u32| {
        let simpson = match i {
            0 | STEPS => 1.0,
            odd if odd % 2 == 1 => 4.0,
            _ => 2.0,
        };
        simpson / 3.0 * 1f64.to_radians() * (2.0 * f64::from(i)).to_radians().sin()
    };
    let sum: f64 = (0..=STEPS).map(weight).sum();
    (0..=STEPS).map(move |i| (f64::from(i), weight(i) / sum))
}
