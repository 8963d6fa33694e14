//! Surfaces and the angle at which the sun meets them.

use crate::error::{SunError, within};
use crate::position::SunPosition;
use drycoil_units::Angle;

/// A plane surface.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Surface {
    tilt: Angle,
    azimuth: Angle,
}

impl Surface {
    /// A surface by its tilt (0 faces the zenith, 90 a wall, 180 faces the ground) and the azimuth it faces, clockwise
    /// from north, 0 to 360 deg.
    ///
    /// # Errors
    /// [`SunError::OutOfRange`].
    pub fn new(tilt: Angle, azimuth: Angle) -> Result<Self, SunError> {
        within("tilt", tilt.to_degrees(), 0.0, 180.0, "deg")?;
        within("azimuth", azimuth.to_degrees(), 0.0, 360.0, "deg")?;
        Ok(Self { tilt, azimuth })
    }

    /// Tilt: 0 faces the zenith.
    pub const fn tilt(&self) -> Angle {
        self.tilt
    }

    /// The azimuth it faces, clockwise from north.
    pub const fn azimuth(&self) -> Angle {
        self.azimuth
    }

    /// How the sun meets the surface.
    pub fn sun(&self, sun: &SunPosition) -> SurfaceSun {
        let cos_incidence = raw_cos_incidence(
            self.tilt.to_degrees(),
            self.azimuth.to_degrees(),
            sun.zenith.to_degrees(),
            sun.azimuth.to_degrees(),
        );
        SurfaceSun {
            cos_incidence,
            incidence: Angle::degrees(cos_incidence.acos().to_degrees()),
            surface_solar_azimuth: Angle::degrees(
                (sun.azimuth.to_degrees() - self.azimuth.to_degrees() + 540.0).rem_euclid(360.0) - 180.0,
            ),
        }
    }
}

/// How the sun meets a surface.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SurfaceSun {
    /// Cosine of the angle of incidence; negative when the sun is behind the surface.
    pub cos_incidence: f64,
    /// Angle of incidence, 0 to 180 deg.
    pub incidence: Angle,
    /// Sun azimuth minus surface azimuth, -180 to 180 deg.
    pub surface_solar_azimuth: Angle,
}

/// Cosine of the angle of incidence; all angles in degrees, azimuths clockwise from north.
#[inline]
pub fn raw_cos_incidence(
    tilt_deg: f64,
    surface_azimuth_deg: f64,
    zenith_deg: f64,
    sun_azimuth_deg: f64,
) -> f64 {
    let (tilt, zenith) = (tilt_deg.to_radians(), zenith_deg.to_radians());
    let cosine = tilt.cos() * zenith.cos()
        + tilt.sin() * zenith.sin() * (sun_azimuth_deg - surface_azimuth_deg).to_radians().cos();
    // Rounding may leave the unit interval by one part in 1e16.
    cosine.clamp(-1.0, 1.0)
}
