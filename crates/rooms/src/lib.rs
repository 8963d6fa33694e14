//! Heat and moisture of rooms: constructions, the thermal network, exact stepping, repeated days, moisture, gains.
//!
//! A room is a linear network. Its walls come from layers ([`WallModel`]), the room from walls and windows
//! ([`Room`]), and one symmetric eigen-decomposition turns it into independent modes ([`ModalRoom`]) that are stepped
//! exactly ([`exact`]) or solved for a repeated design day ([`periodic`]). For a year of many rooms it is reduced to a few
//! lags with a proven bound ([`reduction`]) and stepped in blocks ([`block`]).
//!
//! ```
//! use drycoil_rooms::exact::{Control, Hold};
//! use drycoil_rooms::periodic::{Day, PeriodicRoom};
//! use drycoil_rooms::{Beyond, Construction, Layer, Room, Source, Wall, WallDetail, WallModel, gains};
//! use drycoil_units::{
//!     Area, Conductivity, Density, Fraction, Length, Power, Quantity, SpecificHeat, ThermalTransmittance,
//! };
//! use std::sync::Arc;
//!
//! let brick = Layer::solid(
//!     Length::metres(0.22),
//!     Conductivity::from_si(0.77),
//!     Density::from_si(1700.0),
//!     SpecificHeat::from_si(1000.0),
//! )?;
//! let model = Arc::new(WallModel::new(&Construction::new(vec![brick])?, WallDetail::DESIGN)?);
//! let h = ThermalTransmittance::from_si;
//! let facade = Wall::new(
//!     model,
//!     Area::square_metres(15.0),
//!     h(2.5),
//!     h(5.2),
//!     Beyond::Temperature { film: h(25.0), source: Source::Walls },
//! )?;
//! let room = Room::new(500e3, vec![facade], vec![])?.modal()?;
//!
//! let profile: Vec<f64> = (0..24).map(|k| if (8..18).contains(&k) { 1.0 } else { 0.0 }).collect();
//! let day = Day {
//!     boundary_c: vec![(0..24).map(|k| 30.0 + 8.0 * (f64::from(k - 15) / 24.0 * 6.283).cos()).collect()],
//!     window_outside_c: vec![],
//!     window_absorbed_w: vec![],
//!     heat: vec![gains::scheduled(Source::Lights, Power::watts(300.0), Fraction::ratio(0.5), &profile)?],
//!     air: vec![],
//!     control: vec![Control::held(24.0); 24],
//!     reference_c: 24.0,
//! };
//! let loads = PeriodicRoom::new(&room, 24, 3600.0, Hold::Linear)?.solve(&day)?;
//! let (peak_w, hour) = loads.peak_cooling();
//! assert!(peak_w > 300.0 && (8..24).contains(&hour));
//! let sum: f64 = loads.parts.iter().map(|p| p.load_w[hour]).sum();
//! assert!((sum - peak_w).abs() < 1e-9 * peak_w);
//! # Ok::<(), drycoil_rooms::RoomError>(())
//! ```

pub mod analytic;
pub mod block;
mod error;
pub mod exact;
pub mod gains;
pub mod infiltration;
mod layer;
mod lu;
pub mod moisture;
pub mod periodic;
pub mod phi;
pub mod reduction;
mod room;
pub mod sol_air;
pub mod transfer_matrix;
mod wall;

pub use error::RoomError;
pub use layer::{Construction, Films, Layer, Solid};
pub use room::{Beyond, Inputs, ModalRoom, Output, PlainNetwork, Room, Source, Wall, Window};
pub use wall::{WallDetail, WallModel};
