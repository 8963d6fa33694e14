//! Air that leaks through the facade, reduced by pressurization.

use crate::error::{RoomError, within};
use drycoil_units::{Area, PressureDifference, Quantity, StandardAirFlow, StandardAirFlowPerArea};

/// Pressure at which facade leakage is rated, Pa.
pub const REFERENCE_PRESSURE_PA: f64 = 75.0;

/// Share of the 75 Pa leakage that enters on average at 10 mph (90.1 appendix G, G3.1.1.4). It holds a wind
/// coefficient; a pressure power law alone would give 0.15 to 0.17.
pub const AVERAGE_SHARE_OF_RATED: f64 = 0.112;

/// Exponent of the leakage power law (common practice, no source).
pub const FLOW_EXPONENT: f64 = 0.65;

/// A leaking facade: flow = rated flow x (pressure / 75 Pa)^n, for pressures that drive air in.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Facade {
    area_m2: f64,
    rated_m_per_s: f64,
    driving_pa: f64,
    exponent: f64,
}

/// Infiltration with its intermediates.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Infiltration {
    /// Flow without pressurization.
    pub unpressurized: StandardAirFlow,
    /// Pressure at which the surplus leaves through the same facade.
    pub room_pressure: PressureDifference,
    /// Pressure left to drive air in (0 when pressurization wins).
    pub remaining_pressure: PressureDifference,
    /// Flow that enters.
    pub flow: StandardAirFlow,
}

impl Facade {
    /// A facade of 0 to 1e6 m2 with its leakage at 75 Pa (0 to 0.05 m3/s per m2) and the share of that leakage that
    /// enters on average (0 to 1; see [`AVERAGE_SHARE_OF_RATED`]).
    pub fn new(area: Area, rated: StandardAirFlowPerArea, share: f64) -> Result<Self, RoomError> {
        let share = within("share of the rated leakage", share, 0.0, 1.0, "1")?;
        Ok(Self {
            area_m2: within("facade area", area.si(), 0.0, 1e6, "m2")?,
            rated_m_per_s: within("leakage at 75 Pa", rated.si(), 0.0, 0.05, "m3/(s m2)")?,
            driving_pa: REFERENCE_PRESSURE_PA * share.powf(1.0 / FLOW_EXPONENT),
            exponent: FLOW_EXPONENT,
        })
    }

    /// Pressure that would drive the average infiltration.
    pub fn driving_pressure(&self) -> PressureDifference {
        PressureDifference::from_si(self.driving_pa)
    }

    /// Infiltration when `surplus` more air is supplied than exhausted (0 or more).
    ///
    /// The surplus leaves through the same facade and raises the room's pressure to
    /// `75 (surplus / rated flow)^(1/n)`; what remains of the driving pressure lets air in.
    ///
    /// ```
    /// use drycoil_rooms::infiltration::{AVERAGE_SHARE_OF_RATED, Facade};
    /// use drycoil_units::{Area, StandardAirFlow, StandardAirFlowPerArea};
    /// let facade = Facade::new(
    ///     Area::square_feet(1000.0),
    ///     StandardAirFlowPerArea::cfm_per_ft2(0.4),
    ///     AVERAGE_SHARE_OF_RATED,
    /// )?;
    /// let still = facade.infiltration(StandardAirFlow::cfm(0.0))?;
    /// assert!((still.flow.to_cfm() - 44.8).abs() < 1e-9);
    /// let pressurized = facade.infiltration(StandardAirFlow::cfm(44.8))?;
    /// assert!(pressurized.flow.to_cfm() < 1e-6);
    /// # Ok::<(), drycoil_rooms::RoomError>(())
    /// ```
    pub fn infiltration(&self, surplus: StandardAirFlow) -> Result<Infiltration, RoomError> {
        let surplus = within("surplus of supply over exhaust", surplus.si(), 0.0, 1e5, "m3/s")?;
        let rated = self.rated_m_per_s * self.area_m2;
        let at = |pa: f64| rated * (pa / REFERENCE_PRESSURE_PA).powf(self.exponent);
        let room_pa = if rated > 0.0 {
            REFERENCE_PRESSURE_PA * (surplus / rated).powf(1.0 / self.exponent)
        } else {
            0.0
        };
        let remaining = (self.driving_pa - room_pa).max(0.0);
        Ok(Infiltration {
            unpressurized: StandardAirFlow::from_si(at(self.driving_pa)),
            room_pressure: PressureDifference::from_si(room_pa),
            remaining_pressure: PressureDifference::from_si(remaining),
            flow: StandardAirFlow::from_si(at(remaining)),
        })
    }
}
