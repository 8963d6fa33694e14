//! The primary-air unit at a step: the equations of [`drycoil_plant::primary_air::PrimaryAirUnit`] on plain numbers.
//!
//! Order as there: recovery, heating coil, first half of a wrap-around, drying coil, second half, reheat, fan, duct. Beside
//! the model, the unit can draw return air in place of outdoor air, and its coil can be short of cold water.

use crate::plant::air::{Air, Saturation};
use crate::plant::machines::coil::{CoilForm, CoilStep};
use crate::plant::machines::fan::{FanForm, FanStep};
use crate::plant::machines::recovery::{RecoveryForm, RecoveryStreams};
use crate::signals::PlantLimit;
use drycoil_exchange::bypass::CP_CONDENSATE_J_PER_KG_K;

/// How air is warmed behind the drying coil.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum ReheatForm {
    /// Not at all.
    None,
    /// By hot water.
    Coil,
    /// By condenser heat.
    CondenserHeat,
    /// Around the coil with this effectiveness, the rest by hot water.
    WrapAround(f64),
}

/// The unit.
#[derive(Debug, Clone)]
pub struct CentralUnit {
    /// Energy recovery.
    pub recovery: Option<RecoveryForm>,
    /// Drying coil.
    pub coil: CoilForm,
    /// Reheat.
    pub reheat: ReheatForm,
    /// Supply fan.
    pub supply_fan: FanForm,
    /// Exhaust fan behind the recovery.
    pub exhaust_fan: FanForm,
    /// Warming in the duct, K.
    pub duct_gain_k: f64,
    /// Share of the fan's flow that leaks before the rooms.
    pub leakage: f64,
}

/// Air that the unit draws.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Draw {
    /// Outdoor air, with the exhaust through the recovery.
    Outdoor,
    /// Return air through the drying coil; what the return lacks is drawn from outdoors.
    Return,
}

/// What the unit is asked.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct UnitDemand {
    /// Air drawn.
    pub draw: Draw,
    /// Outdoor air.
    pub outdoor: Air,
    /// Return air.
    pub back: Air,
    /// Dry air to the rooms, kg/s; above zero.
    pub delivered_kg_per_s: f64,
    /// Dry air coming back, kg/s.
    pub back_kg_per_s: f64,
    /// Humidity ratio that the coil must not exceed.
    pub target_w: Option<f64>,
    /// Lowest discharge behind the fan, degC.
    pub coldest_c: Option<f64>,
    /// Highest discharge behind the fan, degC.
    pub warmest_c: Option<f64>,
}

/// The unit in a step.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct UnitStep {
    /// Air through the unit, kg/s.
    pub through_kg_per_s: f64,
    /// Outdoor air drawn, kg/s.
    pub outdoor_kg_per_s: f64,
    /// Air behind the recovery or the mixing.
    pub after_recovery: Air,
    /// Share of the recovery in use.
    pub recovery_share: f64,
    /// Whether the recovery runs.
    pub recovering: bool,
    /// Enthalpy flow given to the outdoor air by the recovery, W.
    pub recovered_w: f64,
    /// Heating coil ahead of an idle drying coil, W.
    pub heating_w: f64,
    /// The drying coil, per kg/s of air.
    pub coil: CoilStep,
    /// Heat that the coil would give to cold water without limit, W.
    pub coil_asked_w: f64,
    /// Heat carried around the coil, W.
    pub wrap_w: f64,
    /// Reheat, W.
    pub reheat_w: f64,
    /// Supply fan.
    pub supply_fan: FanStep,
    /// Exhaust fan.
    pub exhaust_fan: FanStep,
    /// Air delivered.
    pub delivered: Air,
    /// Condensate of recovery and coil, kg/s.
    pub condensate_kg_per_s: f64,
    /// What is left of the energy balance of unit and duct, W.
    pub residual_w: f64,
    /// What is left of the water balance, kg/s.
    pub water_residual_kg_per_s: f64,
    /// Limits, as bits of [`PlantLimit`].
    pub limits: u32,
}

/// Air behind recovery or mixing with what belongs to it.
#[derive(Clone, Copy)]
struct Entering {
    air: Air,
    share: f64,
}

#[derive(Clone, Copy)]
struct Behind {
    entering: Entering,
    coil: CoilStep,
    heating: f64,
    wrap: f64,
    reheat: f64,
    after_reheat: Air,
    limits: u32,
    /// Heating and cooling taken; what is missed counts first.
    cost: f64,
}

struct Targets {
    w: Option<f64>,
    cold_c: Option<f64>,
    warm_c: Option<f64>,
    m: f64,
}

impl CentralUnit {
    /// Temperature ahead of the fan for a temperature behind it.
    #[inline]
    fn before_fan(&self, m: f64, behind_c: f64, w: f64, p_pa: f64) -> f64 {
        let k = self.supply_fan.warming(m, 1.0, w, p_pa);
        (behind_c - 273.15 * k) / (1.0 + k)
    }

    fn behind(&self, s: &Saturation, entering: Entering, x: &Targets) -> Behind {
        let (air, m, p) = (entering.air, x.m, s.pressure_pa());
        // Rounding of a share that just meets what is asked does not start the coil.
        let want_dry = x.w.is_some_and(|w| air.w > w * (1.0 + 1e-8));
        let supply_w = x.w.map_or(air.w, |w| air.w.min(w));
        let warm = x.warm_c.map(|t| self.before_fan(m, t, supply_w, p));
        let cold =
            if x.cold_c == x.warm_c { warm } else { x.cold_c.map(|t| self.before_fan(m, t, supply_w, p)) };
        let runs = want_dry || warm.is_some_and(|t| air.t > t + 1e-6);
        let (mut heating, mut after_heating) = (0.0, air);
        if !runs
            && let Some(t) = cold
            && air.t < t
        {
            heating = m * air.cp() * (t - air.t);
            after_heating = Air { t, w: air.w };
        }
        let mut limits = 0;
        let mut wrap = 0.0;
        let mut coil = CoilStep::idle(after_heating);
        if runs {
            coil = self.coil.run(s, after_heating, x.w, warm);
            if let ReheatForm::WrapAround(e) = self.reheat {
                (wrap, coil) = self.wrap(s, after_heating, coil, e, cold, warm, x, &mut limits);
            }
        }
        let mut t = coil.leaving.t + wrap / (m * coil.leaving.cp());
        let mut reheat = 0.0;
        if runs
            && self.reheat != ReheatForm::None
            && let Some(c) = cold
            && t < c
        {
            reheat = m * coil.leaving.cp() * (c - t);
            t = c;
        }
        let missed = coil.missed_w * 1e3 + coil.missed_k;
        Behind {
            entering,
            heating,
            wrap,
            reheat,
            after_reheat: Air { t, w: coil.leaving.w },
            limits: limits | coil.limits,
            cost: missed * 1e9 + (m * coil.total).abs() + heating + reheat,
            coil,
        }
    }

    /// Heat carried around the coil: it cools the air ahead of it and warms the air behind it.
    #[allow(clippy::too_many_arguments)]
    fn wrap(
        &self,
        s: &Saturation,
        base: Air,
        without: CoilStep,
        effectiveness: f64,
        cold: Option<f64>,
        warm: Option<f64>,
        x: &Targets,
        limits: &mut u32,
    ) -> (f64, CoilStep) {
        let m = x.m;
        let wish = cold.unwrap_or(f64::INFINITY);
        let carried = |q: f64, c: &CoilStep| {
            let able = effectiveness * m * base.cp().min(c.leaving.cp()) * (base.t - c.leaving.t);
            able.min(m * c.leaving.cp() * (wish - c.leaving.t).max(0.0)) - q
        };
        let at = |q: f64| {
            let cooled = Air { t: base.t - q / (m * base.cp()), w: base.w };
            self.coil.run(s, cooled, x.w, warm)
        };
        let most = (m * base.cp() * (base.t - s.dew_point(base.w))).max(0.0);
        let f0 = carried(0.0, &without);
        if most <= 0.0 || f0 <= 0.0 {
            return (0.0, without);
        }
        let end = at(most);
        let f1 = carried(most, &end);
        if f1 >= 0.0 {
            return (most, end);
        }
        let (mut a, mut fa, mut b, mut fb) = (0.0, f0, most, f1);
        let mut side = 0;
        for _ in 0..40 {
            let q = (fa * b - fb * a) / (fa - fb);
            let c = at(q);
            let f = carried(q, &c);
            if f.abs() <= 1e-9 * most {
                return (q, c);
            }
            if f > 0.0 {
                (a, fa) = (q, f);
                if side == 1 {
                    fb *= 0.5;
                }
                side = 1;
            } else {
                (b, fb) = (q, f);
                if side == -1 {
                    fa *= 0.5;
                }
                side = -1;
            }
        }
        *limits |= PlantLimit::NotSettled.bit();
        (a, at(a))
    }

    /// One step; `room_for_coil_w` is the heat that the cold water can take from the coil.
    pub fn step(&mut self, s: &Saturation, d: &UnitDemand, room_for_coil_w: f64) -> UnitStep {
        let p = s.pressure_pa();
        let m = d.delivered_kg_per_s / (1.0 - self.leakage);
        let x = Targets { w: d.target_w, cold_c: d.coldest_c, warm_c: d.warmest_c, m };
        let mut limits = 0;
        let mut streams: Option<RecoveryStreams> = None;
        let mut best;
        let mut outdoor_kg = m;
        let mut mixed_in = 0.0;
        let (mut mist, mut mist_w) = (0.0, 0.0);
        match d.draw {
            Draw::Return => {
                let back = d.back_kg_per_s.min(m);
                outdoor_kg = m - back;
                mixed_in = back;
                let share = outdoor_kg / m;
                let w = d.back.w + share * (d.outdoor.w - d.back.w);
                let h = d.back.h() + share * (d.outdoor.h() - d.back.h());
                let (mixed, ok) = s.settle(h, w);
                if !ok {
                    limits |= PlantLimit::NotSettled.bit();
                }
                best = self.behind(s, Entering { air: mixed.air, share: 0.0 }, &x);
                mist = m * mixed.fog;
                mist_w = mist * CP_CONDENSATE_J_PER_KG_K * mixed.air.t;
            }
            Draw::Outdoor => {
                best = self.behind(s, Entering { air: d.outdoor, share: 0.0 }, &x);
                let found = self
                    .recovery
                    .as_mut()
                    .and_then(|r| r.between(d.outdoor, d.back, m, d.back_kg_per_s).map(|y| (*r, y)));
                if let Some((recovery, y)) = found {
                    let (most, frost) = recovery.frost_free_share(s, &y);
                    let mut turned = most;
                    if most > 0.0 {
                        let (full, ..) = y.supply(s, most);
                        let (none, ..) = y.supply(s, 0.0);
                        let mut try_at = |share: f64, best: &mut Behind| {
                            let (air, _, _, bits) = y.supply(s, share);
                            let mut b = self.behind(s, Entering { air, share }, &x);
                            b.limits |= bits;
                            if b.cost < best.cost * (1.0 - 1e-12) {
                                *best = b;
                                streams = Some(y);
                                turned = share;
                            }
                        };
                        try_at(most, &mut best);
                        // Shares at which the recovered air just meets what is asked: a line through both ends and one
                        // correction.
                        let mut between = |read: &dyn Fn(Air) -> f64, best: &mut Behind| {
                            let (low, high) = (read(none), read(full));
                            if low * high < 0.0 {
                                let first = most * low / (low - high);
                                let middle = read(y.supply(s, first).0);
                                let slope = (high - low) / most;
                                try_at((first - middle / slope).clamp(0.0, most), best);
                            }
                        };
                        let ask = d.target_w;
                        let ahead =
                            |t: f64, a: Air| a.t - self.before_fan(m, t, ask.map_or(a.w, |w| a.w.min(w)), p);
                        if let Some(t) = d.coldest_c {
                            between(&|a| ahead(t, a), &mut best);
                        }
                        if let Some(t) = d.warmest_c
                            && d.coldest_c != d.warmest_c
                        {
                            between(&|a| ahead(t, a), &mut best);
                        }
                        if let Some(w) = ask {
                            between(&|a| a.w - w, &mut best);
                        }
                    }
                    if most == 0.0 || (streams.is_some() && turned >= most) {
                        limits |= frost;
                    }
                }
            }
        }
        limits |= best.limits;

        // Cold water short of the coil's heat: part of the air passes untouched.
        let asked = m * best.coil.total;
        if asked > room_for_coil_w {
            let share = (room_for_coil_w / asked).clamp(0.0, 1.0);
            best.coil = best.coil.share(share, d.target_w, None);
            let t = best.coil.leaving.t + (best.wrap + best.reheat) / (m * best.coil.leaving.cp());
            best.after_reheat = Air { t, w: best.coil.leaving.w };
            limits |= PlantLimit::ChillerCapacity.bit();
        }
        if best.coil.missed_w > 0.0 {
            limits |= PlantLimit::DewPointMissed.bit();
        }

        let into_fan = best.after_reheat;
        let supply_fan = self.supply_fan.run(m, 1.0, into_fan.t, into_fan.w, p);
        let discharge = Air { t: into_fan.t + supply_fan.power_w / (m * into_fan.cp()), w: into_fan.w };
        let delivered = Air { t: discharge.t + self.duct_gain_k, w: discharge.w };
        let duct_w = m * discharge.cp() * self.duct_gain_k;

        let exhaust_in =
            if d.draw == Draw::Return { (d.back_kg_per_s - mixed_in).max(0.0) } else { d.back_kg_per_s };
        let recovery = streams.map(|y| (y, y.at(s, best.entering.share)));
        let (leaving, leaving_kg) =
            recovery.map_or((d.back, exhaust_in), |(y, r)| (r.leaving, y.exhaust_kg_per_s));
        if let Some((y, r)) = &recovery {
            outdoor_kg = y.outdoor_kg_per_s;
            limits |= r.limits;
        }
        let exhaust_fan = self.exhaust_fan.run(leaving_kg, 1.0, leaving.t, leaving.w, p);

        let drained = recovery.map_or(mist, |(_, r)| r.condensate_kg_per_s);
        let drained_w = recovery.map_or(mist_w, |(_, r)| r.condensate_w);
        let coil = &best.coil;
        let energy_in = outdoor_kg * d.outdoor.h()
            + (exhaust_in + mixed_in) * d.back.h()
            + best.heating
            + best.reheat
            + supply_fan.power_w
            + duct_w;
        let energy_out = m * delivered.h()
            + leaving_kg * leaving.h()
            + drained_w
            + m * (coil.total + coil.condensate_heat);
        let water_in = outdoor_kg * d.outdoor.w + (exhaust_in + mixed_in) * d.back.w;
        let water_out = m * delivered.w + leaving_kg * leaving.w + drained + m * coil.condensate;
        UnitStep {
            through_kg_per_s: m,
            outdoor_kg_per_s: outdoor_kg,
            after_recovery: best.entering.air,
            recovery_share: best.entering.share,
            recovering: recovery.is_some(),
            recovered_w: recovery.map_or(0.0, |(_, r)| r.given_w),
            heating_w: best.heating,
            coil: *coil,
            coil_asked_w: asked,
            wrap_w: best.wrap,
            reheat_w: best.reheat,
            supply_fan,
            exhaust_fan,
            delivered,
            condensate_kg_per_s: drained + m * coil.condensate,
            residual_w: energy_in - energy_out,
            water_residual_kg_per_s: water_in - water_out,
            limits,
        }
    }
}
