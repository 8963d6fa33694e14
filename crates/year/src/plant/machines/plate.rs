//! Plate exchanger of the waterside economizer: the closed equations of [`drycoil_plant::economizer::PlateExchanger`].
//!
//! The pump on the tower side follows the loop: both sides carry the same capacity rate, down to a least flow, so that a
//! small load at night does not turn over the water of the whole building.

use drycoil_exchange::effectiveness::raw::counterflow;
use drycoil_plant::economizer::PlateExchanger;
use drycoil_sizing::machine_data::LEAST_TOWER_SHARE;
use drycoil_units::Quantity;

/// Exponent of the conductance over the flow of both sides: turbulent flow between plates, about 0.7 to 0.8. Common
/// practice, no source.
const EXPONENT: f64 = 0.75;

/// The exchanger.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PlateForm {
    ua: f64,
    c_tower: f64,
}

/// What the exchanger can do for a loop: heat per kelvin between return and tower water.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PlateAble {
    /// Effectiveness times the smaller capacity rate, W/K.
    pub w_per_k: f64,
    /// Water coming back, degC.
    pub return_c: f64,
    /// Heat of the loop, the most that it takes, W.
    pub load_w: f64,
    /// Capacity rate on the tower side, W/K.
    pub tower_w_per_k: f64,
}

impl PlateForm {
    /// From the model.
    pub fn new(plate: &PlateExchanger) -> Self {
        Self { ua: plate.conductance.si(), c_tower: plate.tower_capacity_rate.si() }
    }

    /// Capacity rate on the tower side at design, W/K.
    pub fn tower_w_per_k(&self) -> f64 {
        self.c_tower
    }

    /// The exchanger on a loop of `load_w` with water from `return_c` to `supply_c`; `None` where the loop has no rise.
    #[inline]
    pub fn on(&self, load_w: f64, return_c: f64, supply_c: f64) -> Option<PlateAble> {
        let range = return_c - supply_c;
        if load_w <= 0.0 || range <= 1e-9 {
            return None;
        }
        let c_loop = load_w / range;
        let tower_w_per_k = c_loop.clamp(LEAST_TOWER_SHARE * self.c_tower, self.c_tower);
        let ua = self.ua * (tower_w_per_k / self.c_tower).powf(EXPONENT);
        let (small, large) = (c_loop.min(tower_w_per_k), c_loop.max(tower_w_per_k));
        Some(PlateAble {
            w_per_k: counterflow(ua / small, small / large) * small,
            return_c,
            load_w,
            tower_w_per_k,
        })
    }
}

impl PlateAble {
    /// Heat taken with tower water at `tower_c`, W.
    #[inline]
    pub fn taken_w(&self, tower_c: f64) -> f64 {
        (self.w_per_k * (self.return_c - tower_c)).clamp(0.0, self.load_w)
    }

    /// Tower water that takes the whole load, degC.
    #[inline]
    pub fn enough_c(&self) -> f64 {
        self.return_c - self.load_w / self.w_per_k
    }
}
