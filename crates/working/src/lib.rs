//! Calculation lines: what a scheduled number is made of.
//!
//! A [`Line`] holds a formula, the values of its symbols with the origin of each, the result and the source of the
//! formula. The text "with numbers" is made from the values, never typed, and [`check::evaluate`] reads it back.
//!
//! ```
//! use drycoil_units::{QuantityKind, UnitSystem};
//! use drycoil_working::{Line, Origin, Source, check};
//! let line = Line::new("dW", "humidity ratio that the latent gain adds", "q_latent / (m_air * h_g)")
//!     .with("q_latent", QuantityKind::Power, 58.6, Origin::default_value("latent heat of people", "ASHRAE F18"))
//!     .with("m_air", QuantityKind::MassFlow, 0.01134, Origin::Line("m_air".into()))
//!     .with("h_g", QuantityKind::SpecificEnthalpy, 2.5453e6, Origin::Constant("enthalpy of vapour at 75 degF"))
//!     .result(QuantityKind::HumidityRatio, 58.6 / (0.01134 * 2.5453e6))
//!     .source(Source::new("ASHRAE Handbook Fundamentals ch. 1", "mass balance of water"));
//! let shown = line.numbers(UnitSystem::Ip);
//! let value = check::evaluate(&shown).unwrap();
//! assert!((value / line.result_si() - 1.0).abs() < 1e-3);
//! ```

pub mod check;
mod line;

pub use line::{Input, Line, Origin, Sheet, Source, Sourced, TradeUnits};
