//! Sun and sky on tilted surfaces.

use crate::clear_sky::raw_relative_air_mass;
use crate::error::{SunError, within};
use crate::geometry::Surface;
use crate::position::SunPosition;
use drycoil_units::{Fraction, HeatFlux, Quantity};

/// How the brightness of the sky is spread.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum SkyModel {
    /// Even over the whole dome (Liu and Jordan).
    Isotropic,
    /// Even dome with a part that comes from the sun's direction (Hay and Davies 1980).
    HayDavies,
    /// Even dome, circumsolar part and horizon band (Perez et al. 1990, all-sites composite).
    #[default]
    Perez,
}

/// Irradiance from sun and sky, as measured or from a clear-sky model.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SkyIrradiance {
    /// Beam on a plane that faces the sun, 0 to 1500 W/m2.
    pub direct_normal: HeatFlux,
    /// Diffuse on the horizontal, 0 to 1500 W/m2.
    pub diffuse_horizontal: HeatFlux,
    /// Beam and diffuse on the horizontal, 0 to 2000 W/m2.
    pub global_horizontal: HeatFlux,
    /// Above the atmosphere, on a plane that faces the sun, 1000 to 1500 W/m2.
    pub extraterrestrial_normal: HeatFlux,
}

/// The steps of the Perez model.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PerezTerms {
    /// Clearness.
    pub clearness: f64,
    /// Brightness.
    pub brightness: f64,
    /// Circumsolar coefficient F1, not below zero.
    pub circumsolar: f64,
    /// Horizon coefficient F2; may be negative.
    pub horizon: f64,
}

/// Irradiance on a tilted surface, part by part.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TiltedIrradiance {
    /// Cosine of the angle of incidence; negative when the sun is behind the surface.
    pub cos_incidence: f64,
    /// Beam; zero when the sun is behind the surface or below the horizon.
    pub beam: HeatFlux,
    /// All diffuse from the sky: dome + circumsolar + horizon.
    pub sky_diffuse: HeatFlux,
    /// Sky diffuse that is even over the dome.
    pub dome: HeatFlux,
    /// Sky diffuse from around the sun: it has the sun's angle of incidence.
    pub circumsolar: HeatFlux,
    /// Sky diffuse of the horizon band; may be negative.
    pub horizon: HeatFlux,
    /// Reflected from the ground.
    pub ground: HeatFlux,
    /// The steps of the Perez model, when it was used and the sky was bright.
    pub perez: Option<PerezTerms>,
}

impl TiltedIrradiance {
    /// Beam, sky and ground together.
    pub fn total(&self) -> HeatFlux {
        HeatFlux::w_per_m2(self.beam.si() + self.sky_diffuse.si() + self.ground.si())
    }
}

/// Sun and sky as bare numbers.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RawSky {
    /// Zenith angle of the sun, degrees.
    pub zenith_deg: f64,
    /// Azimuth of the sun, clockwise from north, degrees.
    pub azimuth_deg: f64,
    /// Beam normal, W/m2.
    pub direct_normal_w_per_m2: f64,
    /// Diffuse horizontal, W/m2.
    pub diffuse_horizontal_w_per_m2: f64,
    /// Global horizontal, W/m2.
    pub global_horizontal_w_per_m2: f64,
    /// Extraterrestrial normal, W/m2.
    pub extraterrestrial_normal_w_per_m2: f64,
}

/// Upper bounds of the clearness bins.
const CLEARNESS_BINS: [f64; 7] = [1.065, 1.230, 1.500, 1.950, 2.800, 4.500, 6.200];

/// Perez et al. 1990, all sites composite: F11, F12, F13, F21, F22, F23.
const PEREZ_1990: [[f64; 6]; 8] = [
    [-0.008, 0.588, -0.062, -0.060, 0.072, -0.022],
    [0.130, 0.683, -0.151, -0.019, 0.066, -0.029],
    [0.330, 0.487, -0.221, 0.055, -0.064, -0.026],
    [0.568, 0.187, -0.295, 0.109, -0.152, -0.014],
    [0.873, -0.392, -0.362, 0.226, -0.462, 0.001],
    [1.132, -1.237, -0.412, 0.288, -0.823, 0.056],
    [1.060, -1.600, -0.359, 0.264, -1.127, 0.131],
    [0.678, -0.327, -0.250, 0.156, -1.377, 0.251],
];

/// What the Perez model takes from the sky alone: the terms, and the cosine of the zenith angle with its limit.
fn perez(sky: &RawSky, zenith: f64) -> Option<(PerezTerms, f64)> {
    let diffuse = sky.diffuse_horizontal_w_per_m2;
    if diffuse <= 0.0 {
        return None;
    }
    let kappa_z3 = 1.041 * zenith * zenith * zenith;
    let clearness = ((diffuse + sky.direct_normal_w_per_m2) / diffuse + kappa_z3) / (1.0 + kappa_z3);
    let air_mass = raw_relative_air_mass(90.0 - sky.zenith_deg);
    let brightness = diffuse * air_mass / sky.extraterrestrial_normal_w_per_m2;
    let bin = CLEARNESS_BINS.iter().take_while(|&&bound| clearness >= bound).count();
    let f = PEREZ_1990[bin];
    let f1 = (f[0] + f[1] * brightness + f[2] * zenith).max(0.0);
    let f2 = f[3] + f[4] * brightness + f[5] * zenith;
    let b = zenith.cos().max(85f64.to_radians().cos());
    Some((PerezTerms { clearness, brightness, circumsolar: f1, horizon: f2 }, b))
}

/// How the diffuse part of a sky is spread, as far as the sky alone decides it.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Spread {
    Even,
    /// Share from the sun's direction, and cosine of the zenith angle with its limit.
    HayDavies(f64, f64),
    /// No diffuse irradiance to spread.
    Dark,
    /// Terms, and cosine of the zenith angle with its limit.
    Perez(PerezTerms, f64),
}

/// A plane as bare numbers, with the cosine and sine of its tilt.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RawPlane {
    cos_tilt: f64,
    sin_tilt: f64,
    azimuth_deg: f64,
}

impl RawPlane {
    /// From tilt and azimuth in degrees.
    pub fn new(tilt_deg: f64, azimuth_deg: f64) -> Self {
        let tilt = tilt_deg.to_radians();
        Self { cos_tilt: tilt.cos(), sin_tilt: tilt.sin(), azimuth_deg }
    }
}

/// A sky with everything that does not depend on the surface, computed once for many surfaces.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PreparedSky {
    sky: RawSky,
    cos_zenith: f64,
    sin_zenith: f64,
    spread: Spread,
}

impl PreparedSky {
    /// Prepares a sky, without range checks.
    pub fn new(model: SkyModel, sky: &RawSky) -> Self {
        let zenith = sky.zenith_deg.to_radians();
        let up = sky.zenith_deg < 90.0;
        let spread = match model {
            SkyModel::HayDavies if up => {
                let anisotropy = sky.direct_normal_w_per_m2 / sky.extraterrestrial_normal_w_per_m2;
                Spread::HayDavies(anisotropy, zenith.cos().max(89f64.to_radians().cos()))
            }
            SkyModel::Perez if up => {
                perez(sky, zenith).map_or(Spread::Dark, |(terms, b)| Spread::Perez(terms, b))
            }
            SkyModel::Isotropic | SkyModel::HayDavies | SkyModel::Perez => Spread::Even,
        };
        Self { sky: *sky, cos_zenith: zenith.cos(), sin_zenith: zenith.sin(), spread }
    }

    /// Whether the sky sends nothing.
    pub fn is_dark(&self) -> bool {
        let s = &self.sky;
        s.direct_normal_w_per_m2 == 0.0
            && s.diffuse_horizontal_w_per_m2 == 0.0
            && s.global_horizontal_w_per_m2 == 0.0
    }

    /// Irradiance on a plane.
    pub fn on(&self, plane: &RawPlane, ground_reflectance: f64) -> TiltedIrradiance {
        let sky = &self.sky;
        let turn = (sky.azimuth_deg - plane.azimuth_deg).to_radians().cos();
        let cosine = plane.cos_tilt * self.cos_zenith + plane.sin_tilt * self.sin_zenith * turn;
        let cos_incidence = cosine.clamp(-1.0, 1.0);
        let sun_side = cos_incidence.max(0.0);
        let up = sky.zenith_deg < 90.0;
        let diffuse = sky.diffuse_horizontal_w_per_m2;
        let even = diffuse * (1.0 + plane.cos_tilt) / 2.0;
        let beam = if up { sky.direct_normal_w_per_m2 * sun_side } else { 0.0 };
        let (dome, circumsolar, horizon, terms) = match self.spread {
            Spread::Even => (even, 0.0, 0.0, None),
            Spread::HayDavies(anisotropy, b) => {
                (even * (1.0 - anisotropy), diffuse * anisotropy * (sun_side / b), 0.0, None)
            }
            Spread::Dark => (0.0, 0.0, 0.0, None),
            Spread::Perez(terms, b) => {
                let dome = diffuse * (1.0 - terms.circumsolar) * (1.0 + plane.cos_tilt) / 2.0;
                let circumsolar = diffuse * terms.circumsolar * sun_side / b;
                let horizon = diffuse * terms.horizon * plane.sin_tilt;
                if dome + circumsolar + horizon > 0.0 {
                    (dome, circumsolar, horizon, Some(terms))
                } else {
                    // The source's own limit: the horizon term may not make the sky negative.
                    (0.0, 0.0, 0.0, Some(terms))
                }
            }
        };
        let ground = ground_reflectance * sky.global_horizontal_w_per_m2 * (1.0 - plane.cos_tilt) / 2.0;
        TiltedIrradiance {
            cos_incidence,
            beam: HeatFlux::w_per_m2(beam),
            sky_diffuse: HeatFlux::w_per_m2(dome + circumsolar + horizon),
            dome: HeatFlux::w_per_m2(dome),
            circumsolar: HeatFlux::w_per_m2(circumsolar),
            horizon: HeatFlux::w_per_m2(horizon),
            ground: HeatFlux::w_per_m2(ground),
            perez: terms,
        }
    }
}

/// [`tilted_irradiance`] on bare numbers, without range checks.
pub fn raw_tilted_irradiance(
    model: SkyModel,
    tilt_deg: f64,
    surface_azimuth_deg: f64,
    sky: &RawSky,
    ground_reflectance: f64,
) -> TiltedIrradiance {
    PreparedSky::new(model, sky).on(&RawPlane::new(tilt_deg, surface_azimuth_deg), ground_reflectance)
}

/// Irradiance on a tilted surface.
///
/// When the sun (taken in the middle of an interval) is below the horizon there is no beam, and whatever diffuse the
/// interval still holds is spread evenly. The models' own limits apply: Perez takes the cosine of the zenith angle not
/// below that of 85 deg, Hay and Davies not below that of 89 deg, so that the circumsolar part stays finite at sunrise.
///
/// # Errors
/// [`SunError::OutOfRange`] for irradiance outside the ranges stated at the fields and reflectance outside 0 to 1.
///
/// ```
/// use drycoil_sun::{SkyIrradiance, SkyModel, SunPosition, Surface, tilted_irradiance};
/// use drycoil_units::{Angle, Fraction, HeatFlux, Quantity};
/// let sun = SunPosition {
///     zenith: Angle::degrees(40.0),
///     azimuth: Angle::degrees(200.0),
///     declination: Angle::degrees(0.0),
///     distance_au: 1.0,
/// };
/// let sky = SkyIrradiance {
///     direct_normal: HeatFlux::w_per_m2(650.0),
///     diffuse_horizontal: HeatFlux::w_per_m2(202.07),
///     global_horizontal: HeatFlux::w_per_m2(700.0),
///     extraterrestrial_normal: HeatFlux::w_per_m2(1367.0),
/// };
/// let south = Surface::new(Angle::degrees(90.0), Angle::degrees(180.0)).unwrap();
/// let on_wall = tilted_irradiance(SkyModel::Perez, &south, &sun, &sky, Fraction::ratio(0.2)).unwrap();
/// assert!((on_wall.sky_diffuse.si() - 170.39).abs() < 0.01);
/// ```
pub fn tilted_irradiance(
    model: SkyModel,
    surface: &Surface,
    sun: &SunPosition,
    sky: &SkyIrradiance,
    ground_reflectance: Fraction,
) -> Result<TiltedIrradiance, SunError> {
    let raw = RawSky {
        zenith_deg: within("zenith angle", sun.zenith.to_degrees(), 0.0, 180.0, "deg")?,
        azimuth_deg: within("sun azimuth", sun.azimuth.to_degrees(), 0.0, 360.0, "deg")?,
        direct_normal_w_per_m2: within(
            "direct normal irradiance",
            sky.direct_normal.si(),
            0.0,
            1500.0,
            "W/m2",
        )?,
        diffuse_horizontal_w_per_m2: within(
            "diffuse horizontal irradiance",
            sky.diffuse_horizontal.si(),
            0.0,
            1500.0,
            "W/m2",
        )?,
        global_horizontal_w_per_m2: within(
            "global horizontal irradiance",
            sky.global_horizontal.si(),
            0.0,
            2000.0,
            "W/m2",
        )?,
        extraterrestrial_normal_w_per_m2: within(
            "extraterrestrial irradiance",
            sky.extraterrestrial_normal.si(),
            1000.0,
            1500.0,
            "W/m2",
        )?,
    };
    let reflectance = within("ground reflectance", ground_reflectance.si(), 0.0, 1.0, "")?;
    Ok(raw_tilted_irradiance(
        model,
        surface.tilt().to_degrees(),
        surface.azimuth().to_degrees(),
        &raw,
        reflectance,
    ))
}
