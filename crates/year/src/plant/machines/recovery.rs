//! Energy recovery: the closed equations of [`drycoil_exchange::recovery::Recovery`], turned down by a share and kept from
//! frost.

use crate::plant::SetUpError;
use crate::plant::air::{Air, Saturation};
use crate::signals::PlantLimit;
use drycoil_exchange::bypass::CP_CONDENSATE_J_PER_KG_K;
use drycoil_exchange::effectiveness::FlowArrangement;
use drycoil_exchange::recovery::{Recovery, raw};
use drycoil_units::Quantity;

/// The exchanger.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RecoveryForm {
    arrangement: FlowArrangement,
    ntu_sensible: f64,
    ntu_latent: f64,
    rated_kg_per_s: f64,
    exponent: f64,
    transfer: f64,
    frost_c: f64,
    /// Flows of the last step with their effectivenesses.
    last: [f64; 4],
}

/// The exchanger between two air streams at its full exchange.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RecoveryStreams {
    outdoor: Air,
    exhaust: Air,
    h_exhaust: f64,
    h_outdoor: f64,
    /// Effectiveness times the smaller over the outdoor flow.
    sensible: f64,
    latent: f64,
    /// Share of the supply that is exhaust air.
    carried: f64,
    /// Outdoor air through the exchanger, kg/s.
    pub outdoor_kg_per_s: f64,
    /// Exhaust that leaves, kg/s.
    pub exhaust_kg_per_s: f64,
    /// Supply, kg/s.
    pub supply_kg_per_s: f64,
    /// Effectiveness at these flows on the smaller flow, sensible and latent.
    pub effectiveness: (f64, f64),
}

/// What the exchanger does at a share.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RecoveryStep {
    /// Share of the full exchange.
    pub share: f64,
    /// Supply air, carry-over included.
    pub supply: Air,
    /// Exhaust leaving.
    pub leaving: Air,
    /// Heat given to the outdoor air, W; negative when taken from it.
    pub given_w: f64,
    /// Condensate of both sides, kg/s.
    pub condensate_kg_per_s: f64,
    /// Heat that it carries away, W.
    pub condensate_w: f64,
    /// Limits, as bits of [`PlantLimit`].
    pub limits: u32,
}

impl RecoveryForm {
    /// From the model, turned down so that the exhaust leaves no colder than `frost_c`.
    ///
    /// # Errors
    /// As [`Recovery::rated_transfer_units`].
    pub fn new(recovery: &Recovery, frost_c: f64) -> Result<Self, SetUpError> {
        let (ntu_sensible, ntu_latent) = recovery.rated_transfer_units()?;
        Ok(Self {
            arrangement: recovery.kind.arrangement(),
            ntu_sensible,
            ntu_latent: if recovery.latent_effectiveness == 0.0 { 0.0 } else { ntu_latent },
            rated_kg_per_s: recovery.rated_dry_air.si(),
            exponent: recovery.flow_exponent,
            transfer: recovery.exhaust_transfer,
            frost_c,
            last: [0.0; 4],
        })
    }

    /// The exchanger with these streams; `None` when the exhaust is too little for its carry-over.
    #[inline]
    pub fn between(
        &mut self,
        outdoor: Air,
        exhaust: Air,
        supply_kg_per_s: f64,
        exhaust_kg_per_s: f64,
    ) -> Option<RecoveryStreams> {
        let carried = self.transfer * supply_kg_per_s;
        let m_o = supply_kg_per_s - carried;
        let m_e = exhaust_kg_per_s - carried;
        if m_e <= 1e-6 || m_o <= 1e-6 {
            return None;
        }
        if self.last[0] != m_o || self.last[1] != m_e {
            let at = |ntu: f64| {
                if ntu == 0.0 {
                    return 0.0;
                }
                let (x, y) = (m_o / self.rated_kg_per_s, m_e / self.rated_kg_per_s);
                raw::effectiveness_at(self.arrangement, ntu, self.exponent, x, y)
            };
            self.last = [m_o, m_e, at(self.ntu_sensible), at(self.ntu_latent)];
        }
        let part = m_o.min(m_e) / m_o;
        Some(RecoveryStreams {
            outdoor,
            exhaust,
            h_exhaust: exhaust.h(),
            h_outdoor: outdoor.h(),
            sensible: self.last[2] * part,
            latent: self.last[3] * part,
            carried: self.transfer,
            outdoor_kg_per_s: m_o,
            exhaust_kg_per_s: m_e,
            supply_kg_per_s,
            effectiveness: (self.last[2], self.last[3]),
        })
    }

    /// The largest share that keeps the exhaust from freezing, and limits: 0 where even no exchange does not.
    #[inline]
    pub fn frost_free_share(&self, s: &Saturation, x: &RecoveryStreams) -> (f64, u32) {
        if self.margin(s, x, 1.0) >= 0.0 {
            return (1.0, 0);
        }
        if x.exhaust.t < self.frost_c {
            return (0.0, PlantLimit::RecoveryFrost.bit());
        }
        // At the limit the leaving air has a known temperature, so its enthalpy, fog included, is nearly linear in the
        // share: Newton's steps with a chord.
        let gap = |share: f64| {
            let (_, h2, w2) = x.sides(share);
            let ws = s.w(self.frost_c);
            let w = w2.min(ws);
            let limit = Air { t: self.frost_c, w }.h() + (w2 - w) * CP_CONDENSATE_J_PER_KG_K * self.frost_c;
            h2 - limit
        };
        let (mut a, mut b) = (0.0, 1.0);
        let (mut fa, mut fb) = (gap(a), gap(b));
        for _ in 0..60 {
            let share = (fa * b - fb * a) / (fa - fb);
            let f = gap(share);
            if f.abs() < 1e-7 {
                return (share.clamp(0.0, 1.0), PlantLimit::RecoveryFrost.bit());
            }
            // The enthalpy of the exhaust falls as the share rises.
            if f > 0.0 {
                (a, fa) = (share, f);
                fb *= 0.5;
            } else {
                (b, fb) = (share, f);
                fa *= 0.5;
            }
        }
        (a, PlantLimit::RecoveryFrost.bit() | PlantLimit::NotSettled.bit())
    }

    fn margin(&self, s: &Saturation, x: &RecoveryStreams, share: f64) -> f64 {
        let (_, h2, w2) = x.sides(share);
        let t = drycoil_air::raw::dry_bulb_from_enthalpy_c(h2, w2);
        if t >= self.frost_c {
            // Fog only warms.
            return t - self.frost_c;
        }
        s.settle(h2, w2).0.air.t - self.frost_c
    }
}

impl RecoveryStreams {
    /// Outdoor air behind the exchanger, enthalpy and humidity of the leaving exhaust before fog falls out.
    #[inline]
    fn sides(&self, share: f64) -> (Air, f64, f64) {
        let (o, e) = (self.outdoor, self.exhaust);
        let after =
            Air { t: o.t - share * self.sensible * (o.t - e.t), w: o.w - share * self.latent * (o.w - e.w) };
        let ratio = self.outdoor_kg_per_s / self.exhaust_kg_per_s;
        (after, self.h_exhaust + ratio * (self.h_outdoor - after.h()), e.w + ratio * (o.w - after.w))
    }

    /// Supply air at a share, without the exhaust side; fog included where it forms.
    #[inline]
    pub fn supply(&self, s: &Saturation, share: f64) -> (Air, f64, f64, u32) {
        let (after, _, _) = self.sides(share);
        let (first, ok1) = s.settle(after.h(), after.w);
        let (mut drained, mut heat) = (self.outdoor_kg_per_s * first.fog, 0.0);
        if first.fog > 0.0 {
            heat += drained * CP_CONDENSATE_J_PER_KG_K * first.air.t;
        }
        let x = self.carried;
        if x == 0.0 {
            return (first.air, drained, heat, if ok1 { 0 } else { PlantLimit::NotSettled.bit() });
        }
        let w = (1.0 - x) * first.air.w + x * self.exhaust.w;
        let h = (1.0 - x) * first.air.h() + x * self.h_exhaust;
        let (mixed, ok2) = s.settle(h, w);
        if mixed.fog > 0.0 {
            drained += self.supply_kg_per_s * mixed.fog;
            heat += self.supply_kg_per_s * mixed.fog * CP_CONDENSATE_J_PER_KG_K * mixed.air.t;
        }
        (mixed.air, drained, heat, if ok1 && ok2 { 0 } else { PlantLimit::NotSettled.bit() })
    }

    /// Both sides at a share.
    #[inline]
    pub fn at(&self, s: &Saturation, share: f64) -> RecoveryStep {
        let (after, h2, w2) = self.sides(share);
        let (supply, mut condensate_kg_per_s, mut condensate_w, mut limits) = self.supply(s, share);
        let (leaving, settled) = s.settle(h2, w2);
        if !settled {
            limits |= PlantLimit::NotSettled.bit();
        }
        let drained = self.exhaust_kg_per_s * leaving.fog;
        condensate_kg_per_s += drained;
        condensate_w += drained * CP_CONDENSATE_J_PER_KG_K * leaving.air.t;
        RecoveryStep {
            share,
            supply,
            leaving: leaving.air,
            given_w: self.outdoor_kg_per_s * (after.h() - self.h_outdoor),
            condensate_kg_per_s,
            condensate_w,
            limits,
        }
    }
}
