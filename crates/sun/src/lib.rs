//! Sun position, clear and measured sky, sun on tilted surfaces, glass.
//!
//! Conventions: azimuths run clockwise from north (east 90, south 180); tilt is 0 for a surface that faces the
//! zenith and 90 for a wall; longitudes are east positive; times are local standard time with its offset from UTC.
//!
//! A south wall in Greensboro on a July noon, under the clear sky of the tau model:
//!
//! ```
//! use drycoil_sun::{
//!     ClearSkyCoefficients, LocalTime, Place, Refraction, SkyIrradiance, SkyModel, Surface, SurfaceSun,
//!     extraterrestrial_normal, sun_position, tilted_irradiance,
//! };
//! use drycoil_units::{Angle, Fraction, Length, Quantity};
//!
//! let place = Place {
//!     latitude: Angle::degrees(36.1),
//!     longitude: Angle::degrees(-79.95),
//!     elevation: Length::metres(273.0),
//! };
//! let noon = LocalTime { year: 2023, month: 7, day: 21, hour: 12.5, utc_offset_hours: -5.0 };
//! let sun = sun_position(&place, &noon, Refraction::None)?;
//! let extraterrestrial = extraterrestrial_normal(202);
//! let sky = ClearSkyCoefficients::Ashrae2013.irradiance(0.44, 2.2, sun.altitude(), extraterrestrial)?;
//! let irradiance = SkyIrradiance {
//!     direct_normal: sky.beam_normal,
//!     diffuse_horizontal: sky.diffuse_horizontal,
//!     global_horizontal: sky.global_horizontal,
//!     extraterrestrial_normal: extraterrestrial,
//! };
//! let wall = Surface::new(Angle::degrees(90.0), Angle::degrees(180.0))?;
//! let on_wall = tilted_irradiance(SkyModel::Perez, &wall, &sun, &irradiance, Fraction::ratio(0.2))?;
//! assert!(on_wall.total().si() > 350.0 && on_wall.total().si() < 480.0);
//! # let _: Option<SurfaceSun> = None;
//! # Ok::<(), drycoil_sun::SunError>(())
//! ```

mod clear_sky;
mod error;
mod geometry;
mod glass;
mod position;
pub mod series;
mod shading;
mod simple_glass;
mod tilted;

pub use clear_sky::{
    ClearSkyCoefficients, ClearSkyIrradiance, SOLAR_CONSTANT_W_PER_M2, extraterrestrial_normal,
    relative_air_mass,
};
pub use error::SunError;
pub use geometry::{Surface, SurfaceSun};
pub use glass::{GlassShares, Glazing, Pane, Polarized, interface_reflectance};
pub use position::{LocalTime, Place, Refraction, SunPosition, sun_position};
pub use shading::{Fin, Overhang, SideFins, WindowShading};
pub use simple_glass::{
    AngularModifier, SimpleGlass, SolarSplit, TRANSMITTED_SHARE_OF_CLEAR_DOUBLE_GLASS, WindowGain,
};
pub use tilted::{PerezTerms, SkyIrradiance, SkyModel, TiltedIrradiance, tilted_irradiance};

/// The same relations on bare numbers, for loops over many hours; angles in degrees, irradiance in W/m2.
pub mod raw {
    pub use crate::clear_sky::{raw_extraterrestrial_normal_w_per_m2, raw_relative_air_mass};
    pub use crate::geometry::raw_cos_incidence;
    pub use crate::glass::raw_interface_reflectance;
    pub use crate::tilted::{PreparedSky, RawPlane, RawSky, raw_tilted_irradiance};
}
