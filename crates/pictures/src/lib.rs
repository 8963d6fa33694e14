//! Pictures of a design as SVG text: for documents, for the page, and for files of their own.
//!
//! Each picture is a plain struct of SI numbers with a `draw` function. The same data gives the same bytes. A picture
//! - is whole in itself: no font, script or file from elsewhere;
//! - has a title and a text alternative that says what it shows with its main numbers;
//! - shows numbers in the unit system that is asked for, at round ticks;
//! - measures its texts before it places them, so that none covers another or leaves the picture; a name for which there
//!   is no place is left out of the drawing and stands in the text alternative;
//! - tells lines apart by dash and mark as well as by colour, and areas by hatching, so that it reads in grey;
//! - is coloured by custom properties (`--drycoil-ink` and others, see [`custom_properties`]) with colours of its own
//!   where a page sets none.
//!
//! Numbers that are not finite, lists of wrong length and states of air that cannot exist are refused by
//! [`PictureError`].
//!
//! ```
//! use drycoil_pictures::{MarginStrip, Options, RoomMargin};
//! use drycoil_units::UnitSystem;
//! let strip = MarginStrip {
//!     title: "Dew-point margin by room".into(),
//!     rooms: vec![RoomMargin { name: "Office 101".into(), margin_k: 1.9 }],
//!     required_k: 1.0,
//! };
//! let picture = strip.draw(&Options::new(UnitSystem::Ip, "margins"))?;
//! assert!(picture.svg().starts_with("<svg"));
//! assert!(picture.overlapping().is_empty());
//! # Ok::<(), drycoil_pictures::PictureError>(())
//! ```

mod axes;
mod canvas;
mod carpet;
mod day;
mod duration;
mod error;
mod excursion;
mod hatch;
mod ink;
mod margin_strip;
mod months;
mod pareto;
mod place;
mod psychrometric;
mod scale;
mod show;
mod text;
mod trade_off;
mod water_loop;

pub use canvas::{Label, Options, Picture, PictureWidth, Plot, Spot};
pub use carpet::Carpet;
pub use day::DayProfile;
pub use duration::{DurationPanel, LoadDuration, LoadKind};
pub use error::PictureError;
pub use excursion::{ExcursionSeries, StageBand};
pub use ink::{Appearance, LEAST_DISTANCE, custom_properties};
pub use margin_strip::{MarginStrip, RoomMargin};
pub use months::{EndUse, MonthlyEndUses};
pub use pareto::{Better, Criterion, Measure, ParetoScatter, SweepPoint};
pub use psychrometric::{
    AirPoint, AirProcess, CoilSurface, MixingLine, Naming, ProcessKind, ProcessStep, PsychrometricChart,
    RoomState, WaterMargin,
};
pub use scale::{Ticks, round_ticks};
pub use trade_off::{Pin, TradeOff, TradeOffPoint};
pub use water_loop::{WaterArrangement, WaterBranch, WaterLoop};
