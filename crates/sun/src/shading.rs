//! Shade of overhangs and fins on the beam that meets a window in a wall.

use crate::error::{SunError, within};
use crate::geometry::Surface;
use crate::position::SunPosition;
use drycoil_units::{Fraction, Length, Quantity};

/// A level overhang, taken as reaching far beyond both sides of the window.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Overhang {
    /// How far it stands out from the glass, 0 to 50 m.
    pub depth: Length,
    /// Its height above the window head, 0 to 50 m.
    pub height_above_head: Length,
}

impl Overhang {
    /// An overhang at the window head by its projection factor: depth over window height.
    pub fn from_projection_factor(projection_factor: f64, window_height: Length) -> Self {
        Self { depth: window_height * projection_factor, height_above_head: Length::metres(0.0) }
    }
}

/// An upright fin, taken as reaching far above and below the window.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Fin {
    /// How far it stands out from the glass, 0 to 50 m.
    pub depth: Length,
    /// Its distance from the edge of the window, 0 to 50 m.
    pub distance_from_edge: Length,
}

/// Fins beside a window, as seen by someone outdoors who faces it.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct SideFins {
    /// On the left of the one who faces the window from outdoors.
    pub left: Option<Fin>,
    /// On the right.
    pub right: Option<Fin>,
}

/// A window in a wall, with what shades it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WindowShading {
    width: f64,
    height: f64,
    overhang: Option<(f64, f64)>,
    left: Option<(f64, f64)>,
    right: Option<(f64, f64)>,
}

fn device(
    depth_name: &'static str,
    depth: Length,
    away_name: &'static str,
    away: Length,
) -> Result<(f64, f64), SunError> {
    Ok((within(depth_name, depth.si(), 0.0, 50.0, "m")?, within(away_name, away.si(), 0.0, 50.0, "m")?))
}

impl WindowShading {
    /// A window, 0.01 to 100 m wide and high.
    ///
    /// # Errors
    /// [`SunError::OutOfRange`].
    pub fn new(
        width: Length,
        height: Length,
        overhang: Option<Overhang>,
        fins: SideFins,
    ) -> Result<Self, SunError> {
        let fin = |f: Fin| device("depth of a fin", f.depth, "distance of a fin", f.distance_from_edge);
        Ok(Self {
            width: within("window width", width.si(), 0.01, 100.0, "m")?,
            height: within("window height", height.si(), 0.01, 100.0, "m")?,
            overhang: overhang
                .map(|o| {
                    device("depth of the overhang", o.depth, "height of the overhang", o.height_above_head)
                })
                .transpose()?,
            left: fins.left.map(fin).transpose()?,
            right: fins.right.map(fin).transpose()?,
        })
    }

    /// Share of the window that the beam reaches: 1 unshaded, 0 when the sun is behind the wall or below the horizon.
    ///
    /// By the profile angle: the overhang's shadow is `depth tan(altitude) / cos(g)` deep and a fin's
    /// `depth |tan(g)|` wide, with `g` the sun's azimuth against that of the wall. Only beam and circumsolar sky are
    /// shaded; the loss of diffuse sky is neglected.
    ///
    /// # Errors
    /// [`SunError::NotVertical`] unless the surface is a wall.
    ///
    /// ```
    /// use drycoil_sun::{Overhang, SideFins, SunPosition, Surface, WindowShading};
    /// use drycoil_units::{Angle, Length, Quantity};
    /// let height = Length::metres(2.0);
    /// let overhang = Overhang::from_projection_factor(0.5, height);
    /// let window =
    ///     WindowShading::new(Length::metres(3.0), height, Some(overhang), SideFins::default()).unwrap();
    /// let south = Surface::new(Angle::degrees(90.0), Angle::degrees(180.0)).unwrap();
    /// let sun = SunPosition {
    ///     zenith: Angle::degrees(45.0),
    ///     azimuth: Angle::degrees(180.0),
    ///     declination: Angle::degrees(0.0),
    ///     distance_au: 1.0,
    /// };
    /// assert!((window.sunlit_fraction(&south, &sun).unwrap().si() - 0.5).abs() < 1e-12);
    /// ```
    pub fn sunlit_fraction(&self, surface: &Surface, sun: &SunPosition) -> Result<Fraction, SunError> {
        let tilt_deg = surface.tilt().to_degrees();
        if (tilt_deg - 90.0).abs() > 1e-6 {
            return Err(SunError::NotVertical { tilt_deg });
        }
        let meets = surface.sun(sun);
        let altitude = sun.altitude().to_radians();
        if meets.cos_incidence <= 0.0 || altitude <= 0.0 {
            return Ok(Fraction::ratio(0.0));
        }
        let gamma = meets.surface_solar_azimuth.to_radians();
        let lit = |size: f64, shadow: f64| (size - shadow.max(0.0)).max(0.0) / size;
        let height = self
            .overhang
            .map_or(1.0, |(depth, above)| lit(self.height, depth * altitude.tan() / gamma.cos() - above));
        // Facing the window from outdoors, one looks against the wall's azimuth: a sun at a larger azimuth than the
        // wall's stands on the left.
        let side = if gamma > 0.0 { self.left } else { self.right };
        let width = side.map_or(1.0, |(depth, away)| lit(self.width, depth * gamma.tan().abs() - away));
        Ok(Fraction::ratio(height * width))
    }
}
