//! Chillers by second-law efficiency: what a compressor makes of the ideal cycle between its refrigerant
//! temperatures.
//!
//! Evaporating temperature is the leaving chilled water less an approach, condensing temperature the leaving
//! condenser water plus an approach, both approaches in proportion to the heat that passes. The coefficient of
//! performance is `efficiency * evaporating / lift` in kelvin, where the lift never counts as less than the smallest
//! lift of the machine. The efficiency is below one for every load, so no result exceeds the ideal cycle. It is
//! calibrated to a rating point, to four part-load ratings, to any number of ratings by least squares, or given as
//! a table by lift and load. Warm chilled water thus earns its true gain and no more.
//!
//! ```
//! use drycoil_plant::chiller::{Chiller, Condenser, Rating, Settings};
//! use drycoil_units::{Conductance, Power, Temperature, TemperatureDifference};
//! let rating = Rating {
//!     capacity: Power::tons(300.0),
//!     cop: 6.1,
//!     leaving_chilled: Temperature::fahrenheit(44.0),
//!     entering_condenser: Temperature::fahrenheit(85.0),
//!     condenser_capacity_rate: Conductance::w_per_k(300.0 * 3.0 * 263.0),
//! };
//! let chiller = Chiller::from_rating(rating, Settings::default())?;
//! let at = |t| {
//!     let tower = Condenser::Entering {
//!         temperature: Temperature::fahrenheit(85.0),
//!         capacity_rate: rating.condenser_capacity_rate,
//!     };
//!     chiller.run(Power::tons(300.0), Temperature::fahrenheit(t), tower)
//! };
//! assert!((at(44.0)?.cop - 6.1).abs() < 1e-9);
//! assert!(at(55.0)?.cop / at(44.0)?.cop < 1.30);
//! # Ok::<(), drycoil_plant::PlantError>(())
//! ```

use crate::error::{PlantError, not_negative, positive, rising, within};
use crate::limits::{Limit, Limits};
use crate::solve::{self, interpolate, least_squares};
use drycoil_units::{Conductance, Power, Quantity, Temperature, TemperatureDifference};

const KELVIN: f64 = 273.15;

/// One published performance point.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rating {
    /// Cooling made.
    pub capacity: Power,
    /// Cooling over electric power.
    pub cop: f64,
    /// Leaving chilled water.
    pub leaving_chilled: Temperature,
    /// Entering condenser water, or entering air of an air-cooled machine.
    pub entering_condenser: Temperature,
    /// Mass flow times specific heat of the condenser water or air.
    pub condenser_capacity_rate: Conductance,
}

/// What a rating point does not say.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Settings {
    /// Leaving chilled water less evaporating temperature at rated load.
    pub evaporator_approach: TemperatureDifference,
    /// Condensing temperature less leaving condenser water at rated load.
    pub condenser_approach: TemperatureDifference,
    /// Smallest difference of condensing and evaporating temperature at which the machine runs.
    pub minimum_lift: TemperatureDifference,
    /// Share of the power at rated load that does not fall with the load; used where no part-load rating is given.
    pub fixed_loss_share: f64,
    /// Smallest share of the rated capacity; below it the machine runs part of the time.
    pub minimum_share: f64,
    /// Loss of efficiency by cycling, at a run time near zero.
    pub cycling_loss: f64,
    /// How the capacity moves with the temperatures.
    pub capacity: CapacityLaw,
}

impl Default for Settings {
    /// Common practice, no source: approaches 1.5 K, smallest lift 11 K, 8 % fixed loss, turn-down to 15 %, 10 %
    /// cycling loss, and [`CapacityLaw::default`].
    fn default() -> Self {
        Self {
            evaporator_approach: TemperatureDifference::kelvin(1.5),
            condenser_approach: TemperatureDifference::kelvin(1.5),
            minimum_lift: TemperatureDifference::kelvin(11.0),
            fixed_loss_share: 0.08,
            minimum_share: 0.15,
            cycling_loss: 0.10,
            capacity: CapacityLaw::default(),
        }
    }
}

/// Available capacity over rated capacity: `1 + a (chilled - rated) + b (condenser leaving - rated)`, at most
/// `largest`. The condenser leaving temperature counts at rated heat rejection.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CapacityLaw {
    /// Share per K of leaving chilled water.
    pub per_kelvin_chilled: f64,
    /// Share per K of leaving condenser water; negative.
    pub per_kelvin_condenser: f64,
    /// Largest ratio, set by motor and heat exchangers.
    pub largest: f64,
}

impl Default for CapacityLaw {
    /// Common practice, no source: 2.5 % per K of chilled water, -1 % per K of condenser water, at most 1.25.
    fn default() -> Self {
        Self { per_kelvin_chilled: 0.025, per_kelvin_condenser: -0.01, largest: 1.25 }
    }
}

/// A rating at part load with the rated flows of water.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PartLoadRating {
    /// Share of the rated capacity.
    pub share: f64,
    /// Cooling over electric power.
    pub cop: f64,
    /// Entering condenser water.
    pub entering_condenser: Temperature,
}

/// Second-law efficiency against load, and where given against lift.
#[derive(Debug, Clone, PartialEq)]
pub enum EfficiencyCurve {
    /// `1 / efficiency = constant + fixed / share + proportional * share`: losses that go with the load, that stay,
    /// and that go with its square.
    Losses {
        /// Losses in proportion to the load.
        constant: f64,
        /// Losses that stay.
        fixed: f64,
        /// Losses that rise with the square of the load.
        proportional: f64,
    },
    /// Straight lines between (share of capacity, efficiency).
    Points(Vec<(f64, f64)>),
    /// Rows by lift, columns by share of capacity, linear between; held at the edge and flagged outside.
    Table {
        /// Rising lifts, K.
        lifts_k: Vec<f64>,
        /// Rising shares of capacity.
        shares: Vec<f64>,
        /// Efficiency by row and column.
        efficiency: Vec<Vec<f64>>,
    },
}

impl EfficiencyCurve {
    /// Efficiency at a share of capacity and a lift, and whether the pair lies within the data.
    fn at(&self, share: f64, lift_k: f64) -> (f64, bool) {
        match self {
            Self::Losses { constant, fixed, proportional } => {
                (1.0 / (constant + fixed / share + proportional * share), true)
            }
            Self::Points(points) => {
                let (low, high) = (points[0].0, points[points.len() - 1].0);
                let x = share.clamp(low, high);
                let value = interpolate(points, x).unwrap_or(points[points.len() - 1].1);
                (value, share >= low - 1e-12 && share <= high + 1e-12)
            }
            Self::Table { lifts_k, shares, efficiency } => {
                let (i, u, in_lift) = bracket(lifts_k, lift_k);
                let (j, v, in_share) = bracket(shares, share);
                let e = |r: usize, c: usize| efficiency[r][c];
                let low = e(i, j) + v * (e(i, j + 1) - e(i, j));
                let high = e(i + 1, j) + v * (e(i + 1, j + 1) - e(i + 1, j));
                (low + u * (high - low), in_lift && in_share)
            }
        }
    }

    fn check(&self, minimum_share: f64, largest_share: f64) -> Result<(), PlantError> {
        match self {
            Self::Losses { .. } => {
                // Convex in the share, so the smallest value is at an end or at the stationary point.
                let Self::Losses { fixed, proportional, .. } = *self else { unreachable!() };
                let mut xs = vec![minimum_share, 1.0, largest_share];
                if proportional > 0.0 && fixed > 0.0 {
                    xs.push((fixed / proportional).sqrt().clamp(minimum_share, largest_share));
                }
                for x in xs {
                    efficiency_below_one(self.at(x, 0.0).0)?;
                }
                Ok(())
            }
            Self::Points(points) => {
                if points.is_empty() {
                    return Err(PlantError::TooFewPoints { what: "chiller efficiency", given: 0, needed: 1 });
                }
                rising("share of chiller capacity", points.iter().map(|p| p.0))?;
                within("smallest share of chiller capacity", minimum_share, points[0].0, 1.0)?;
                points.iter().try_for_each(|p| efficiency_below_one(p.1).map(|_| ()))
            }
            Self::Table { lifts_k, shares, efficiency } => {
                if lifts_k.len() < 2 || shares.len() < 2 {
                    let given = lifts_k.len().min(shares.len());
                    return Err(PlantError::TooFewPoints {
                        what: "chiller efficiency table",
                        given,
                        needed: 2,
                    });
                }
                rising("lift of the efficiency table", lifts_k.iter().copied())?;
                rising("share of the efficiency table", shares.iter().copied())?;
                if efficiency.len() != lifts_k.len() {
                    return Err(PlantError::TooFewPoints {
                        what: "rows of the efficiency table",
                        given: efficiency.len(),
                        needed: lifts_k.len(),
                    });
                }
                for row in efficiency {
                    if row.len() != shares.len() {
                        return Err(PlantError::TooFewPoints {
                            what: "columns of the efficiency table",
                            given: row.len(),
                            needed: shares.len(),
                        });
                    }
                    row.iter().try_for_each(|e| efficiency_below_one(*e).map(|_| ()))?;
                }
                Ok(())
            }
        }
    }
}

fn efficiency_below_one(value: f64) -> Result<f64, PlantError> {
    within("second-law efficiency of the chiller", value, 1e-3, 0.999)
}

fn bracket(xs: &[f64], x: f64) -> (usize, f64, bool) {
    let last = xs.len() - 1;
    let inside = x >= xs[0] && x <= xs[last];
    let x = x.clamp(xs[0], xs[last]);
    let i = xs.partition_point(|p| *p <= x).clamp(1, last) - 1;
    (i, (x - xs[i]) / (xs[i + 1] - xs[i]), inside)
}

/// The condenser side at one condition.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Condenser {
    /// Water or air enters at a temperature with a capacity rate.
    Entering {
        /// Entering temperature.
        temperature: Temperature,
        /// Mass flow times specific heat.
        capacity_rate: Conductance,
    },
    /// Flow follows so that the water leaves at a temperature, as in heat recovery.
    Leaving {
        /// Leaving temperature.
        temperature: Temperature,
    },
}

/// A calibrated chiller.
#[derive(Debug, Clone, PartialEq)]
pub struct Chiller {
    /// The rating point it is calibrated to.
    pub rating: Rating,
    /// The settings it is calibrated with.
    pub settings: Settings,
    /// Efficiency against load.
    pub efficiency: EfficiencyCurve,
    /// Evaporating temperature at the rating point.
    pub rated_evaporating: Temperature,
    /// Condensing temperature at the rating point.
    pub rated_condensing: Temperature,
    /// Second-law efficiency at the rating point.
    pub rated_efficiency: f64,
    /// Condenser leaving temperature at the rating point.
    pub rated_condenser_leaving: Temperature,
    /// Largest relative error of the coefficient of performance over the ratings used in a fit; 0 when exact.
    pub fit_residual: f64,
}

/// A chiller at one condition.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ChillerState {
    /// Cooling asked.
    pub load_asked: Power,
    /// Cooling made.
    pub load_met: Power,
    /// Cooling asked and not made.
    pub unmet: Power,
    /// Cooling the machine could make at these temperatures.
    pub capacity: Power,
    /// Cooling made over rated capacity.
    pub share_of_rated: f64,
    /// Share of the time the compressor runs; below 1 when cycling.
    pub run_share: f64,
    /// Evaporating temperature while running.
    pub evaporating: Temperature,
    /// Condensing temperature while running, before the smallest lift applies.
    pub condensing: Temperature,
    /// Lift that counts: the larger of actual and smallest lift.
    pub lift: TemperatureDifference,
    /// Ideal coefficient of performance at that lift.
    pub ideal_cop: f64,
    /// Second-law efficiency while running.
    pub efficiency: f64,
    /// Cooling over electric power, cycling included; 0 when off.
    pub cop: f64,
    /// Electric power.
    pub power: Power,
    /// Heat to the condenser side: cooling plus power.
    pub heat_rejected: Power,
    /// Leaving condenser water, mixed over the cycle.
    pub condenser_leaving: Temperature,
    /// Limits reached.
    pub limits: Limits,
    /// What is left of the efficiency balance, relative; 0 where the solution is closed.
    pub residual: f64,
    /// Steps taken; 0 where the solution is closed.
    pub count: u32,
}

struct RatedCycle {
    evaporating_k: f64,
    condensing_k: f64,
    rejected_w: f64,
    leaving_c: f64,
    efficiency: f64,
}

fn rated_cycle(r: &Rating, s: &Settings) -> Result<RatedCycle, PlantError> {
    let q = positive("chiller capacity in W", r.capacity.si())?;
    let cop = within("chiller coefficient of performance", r.cop, 0.5, 50.0)?;
    let chilled = within("leaving chilled water in degC", r.leaving_chilled.si(), -20.0, 40.0)?;
    let entering = within("entering condenser water in degC", r.entering_condenser.si(), -20.0, 80.0)?;
    let rate = positive("condenser capacity rate in W/K", r.condenser_capacity_rate.si())?;
    let a_e = within("evaporator approach in K", s.evaporator_approach.si(), 0.0, 15.0)?;
    let a_c = within("condenser approach in K", s.condenser_approach.si(), 0.0, 25.0)?;
    let least = within("smallest lift in K", s.minimum_lift.si(), 1.0, 40.0)?;
    within("fixed loss share", s.fixed_loss_share, 0.0, 0.6)?;
    within("smallest share of capacity", s.minimum_share, 0.01, 1.0)?;
    within("cycling loss", s.cycling_loss, 0.0, 0.9)?;
    within("capacity per K of chilled water", s.capacity.per_kelvin_chilled, 0.0, 0.1)?;
    within("capacity per K of condenser water", s.capacity.per_kelvin_condenser, -0.1, 0.0)?;
    within("largest capacity ratio", s.capacity.largest, 1.0, 2.0)?;
    let rejected_w = q * (1.0 + 1.0 / cop);
    let leaving_c = entering + rejected_w / rate;
    let evaporating_k = chilled - a_e + KELVIN;
    let condensing_k = leaving_c + a_c + KELVIN;
    let efficiency = cop * (condensing_k - evaporating_k).max(least) / evaporating_k;
    efficiency_below_one(efficiency)?;
    Ok(RatedCycle { evaporating_k, condensing_k, rejected_w, leaving_c, efficiency })
}

/// Second-law efficiency that a part-load rating implies.
fn implied_efficiency(
    r: &Rating,
    s: &Settings,
    cycle: &RatedCycle,
    p: &PartLoadRating,
) -> Result<f64, PlantError> {
    let share = within("share of the part-load rating", p.share, 0.01, 1.5)?;
    let cop = within("coefficient of performance of the part-load rating", p.cop, 0.5, 60.0)?;
    let entering = within("entering condenser water in degC", p.entering_condenser.si(), -20.0, 80.0)?;
    let load = share * r.capacity.si();
    let rejected = load * (1.0 + 1.0 / cop);
    let evaporating = r.leaving_chilled.si() + KELVIN - s.evaporator_approach.si() * share;
    let condensing = entering
        + KELVIN
        + rejected / r.condenser_capacity_rate.si()
        + s.condenser_approach.si() * rejected / cycle.rejected_w;
    efficiency_below_one(cop * (condensing - evaporating).max(s.minimum_lift.si()) / evaporating)
}

impl Chiller {
    fn build(
        rating: Rating,
        settings: Settings,
        cycle: &RatedCycle,
        efficiency: EfficiencyCurve,
        fit_residual: f64,
    ) -> Result<Self, PlantError> {
        efficiency.check(settings.minimum_share, settings.capacity.largest)?;
        Ok(Self {
            rating,
            settings,
            efficiency,
            rated_evaporating: Temperature::from_si(cycle.evaporating_k - KELVIN),
            rated_condensing: Temperature::from_si(cycle.condensing_k - KELVIN),
            rated_efficiency: cycle.efficiency,
            rated_condenser_leaving: Temperature::from_si(cycle.leaving_c),
            fit_residual,
        })
    }

    /// Calibrated to one rating point; part load by the fixed loss share of the settings.
    ///
    /// # Errors
    /// A value out of range, or a rating that would need more than the ideal cycle gives.
    pub fn from_rating(rating: Rating, settings: Settings) -> Result<Self, PlantError> {
        let cycle = rated_cycle(&rating, &settings)?;
        let s = settings.fixed_loss_share;
        let curve = EfficiencyCurve::Losses {
            constant: (1.0 - s) / cycle.efficiency,
            fixed: s / cycle.efficiency,
            proportional: 0.0,
        };
        Self::build(rating, settings, &cycle, curve, 0.0)
    }

    /// Calibrated to the rating point and to part-load ratings, which are reproduced exactly. Below the smallest
    /// part-load rating the machine cycles.
    ///
    /// # Errors
    /// As [`from_rating`](Self::from_rating); shares that do not rise or reach 1.
    pub fn from_part_load_ratings(
        rating: Rating,
        part_load: &[PartLoadRating],
        settings: Settings,
    ) -> Result<Self, PlantError> {
        let cycle = rated_cycle(&rating, &settings)?;
        let mut points = Vec::with_capacity(part_load.len() + 1);
        for p in part_load {
            within("share of the part-load rating", p.share, 0.01, 0.999)?;
            points.push((p.share, implied_efficiency(&rating, &settings, &cycle, p)?));
        }
        points.push((1.0, cycle.efficiency));
        rising("share of the part-load ratings", points.iter().map(|p| p.0))?;
        let settings = Settings { minimum_share: settings.minimum_share.max(points[0].0), ..settings };
        Self::build(rating, settings, &cycle, EfficiencyCurve::Points(points), 0.0)
    }

    /// Calibrated to the rating point and to an integrated part-load value alone: the fixed losses are set so that the
    /// value is met; where even no fixed loss is not enough, losses that rise with the square of the load are.
    ///
    /// ```
    /// use drycoil_plant::chiller::{Chiller, Rating, Settings};
    /// use drycoil_units::{Conductance, Power, Temperature};
    /// let rating = Rating {
    ///     capacity: Power::tons(400.0),
    ///     cop: 6.28,
    ///     leaving_chilled: Temperature::fahrenheit(44.0),
    ///     entering_condenser: Temperature::fahrenheit(85.0),
    ///     condenser_capacity_rate: Conductance::w_per_k(400.0 * 3.0 * 263.8),
    /// };
    /// let chiller = Chiller::from_part_load_value(rating, 7.03, Settings::default())?;
    /// assert!((chiller.integrated_part_load_value()? - 7.03).abs() < 1e-6);
    /// # Ok::<(), drycoil_plant::PlantError>(())
    /// ```
    ///
    /// # Errors
    /// As [`from_rating`](Self::from_rating); a value that no such chiller has below the ideal cycle.
    pub fn from_part_load_value(
        rating: Rating,
        integrated_part_load_value: f64,
        settings: Settings,
    ) -> Result<Self, PlantError> {
        let target = within("integrated part-load value", integrated_part_load_value, 0.5, 50.0)?;
        let cycle = rated_cycle(&rating, &settings)?;
        let rated = cycle.efficiency;
        // Above zero: share of fixed losses. Below zero: share of losses with the square of the load.
        let make = |u: f64| {
            let (fixed, square) = (u.max(0.0), (-u).max(0.0));
            let curve = EfficiencyCurve::Losses {
                constant: (1.0 - fixed - square) / rated,
                fixed: fixed / rated,
                proportional: square / rated,
            };
            let settings = Settings { fixed_loss_share: fixed, ..settings };
            Self::build(rating, settings, &cycle, curve, 0.0)
        };
        let gap = |u: f64| -> Result<f64, PlantError> { Ok(make(u)?.integrated_part_load_value()? - target) };
        let room = (1.0 - rated / 0.99) / (1.0 - settings.minimum_share.min(0.9));
        let (low, high) = (-room.clamp(0.0, 0.6), 0.9);
        let (best, worst) = (gap(low)?, gap(high)?);
        if best < 0.0 || worst > 0.0 {
            return Err(PlantError::Contradiction {
                what: "the integrated part-load value cannot go with this rating, nearest",
                value: target,
                limit: target + if best < 0.0 { best } else { worst },
            });
        }
        let root = solve::root("part-load losses of the chiller", low, high, 1e-11 * target, gap)?;
        make(root.x)
    }

    /// Integrated part-load value at the rated chilled water and flows, with the condenser water of the part-load
    /// ratings ([`PART_LOAD_CONDENSER_F`]).
    ///
    /// # Errors
    /// As [`run`](Self::run).
    pub fn integrated_part_load_value(&self) -> Result<f64, PlantError> {
        let mut cops = [0.0; 4];
        for ((cop, share), t) in cops.iter_mut().zip([1.0, 0.75, 0.5, 0.25]).zip(PART_LOAD_CONDENSER_F) {
            let condenser = Condenser::Entering {
                temperature: Temperature::fahrenheit(t),
                capacity_rate: self.rating.condenser_capacity_rate,
            };
            *cop = self.run(self.rating.capacity * share, self.rating.leaving_chilled, condenser)?.cop;
        }
        integrated_part_load_value(cops)
    }

    /// Calibrated to the rating point and fitted to any number of further ratings by least squares of
    /// `1 / efficiency = constant + fixed / share + proportional * share`; the largest relative error of the
    /// coefficient of performance is kept in `fit_residual`.
    ///
    /// # Errors
    /// Fewer than three ratings at different loads; a fit that would pass the ideal cycle; a value out of range.
    pub fn fit(rating: Rating, ratings: &[PartLoadRating], settings: Settings) -> Result<Self, PlantError> {
        if ratings.len() < 3 {
            return Err(PlantError::TooFewPoints {
                what: "chiller ratings",
                given: ratings.len(),
                needed: 3,
            });
        }
        let cycle = rated_cycle(&rating, &settings)?;
        let mut rows = Vec::with_capacity(ratings.len());
        for p in ratings {
            let e = implied_efficiency(&rating, &settings, &cycle, p)?;
            // Weighted by the efficiency, so that the relative error counts.
            rows.push(([e, e / p.share, e * p.share], 1.0));
        }
        let [constant, fixed, proportional] = least_squares(&rows).ok_or(PlantError::TooFewPoints {
            what: "chiller ratings at different loads",
            given: 2,
            needed: 3,
        })?;
        let curve = EfficiencyCurve::Losses { constant, fixed, proportional };
        let residual = rows
            .iter()
            .map(|(row, _)| (row[0] * constant + row[1] * fixed + row[2] * proportional - 1.0).abs())
            .fold(0.0, f64::max);
        Self::build(rating, settings, &cycle, curve, residual)
    }

    /// With a user's own efficiency curve.
    ///
    /// # Errors
    /// An efficiency outside 0.001 to 0.999, lists that do not rise or do not match; a value out of range.
    pub fn with_curve(
        rating: Rating,
        curve: EfficiencyCurve,
        settings: Settings,
    ) -> Result<Self, PlantError> {
        let cycle = rated_cycle(&rating, &settings)?;
        Self::build(rating, settings, &cycle, curve, 0.0)
    }

    /// Cooling the machine can make at these temperatures.
    ///
    /// # Errors
    /// A temperature out of range.
    pub fn available_capacity(
        &self,
        leaving_chilled: Temperature,
        condenser: Condenser,
    ) -> Result<Power, PlantError> {
        let chilled = within("leaving chilled water in degC", leaving_chilled.si(), -20.0, 40.0)?;
        let rejected = self.rating.capacity.si() * (1.0 + 1.0 / self.rating.cop);
        let leaving = match condenser {
            Condenser::Entering { temperature, capacity_rate } => {
                within("entering condenser water in degC", temperature.si(), -20.0, 80.0)?
                    + rejected / positive("condenser capacity rate in W/K", capacity_rate.si())?
            }
            Condenser::Leaving { temperature } => {
                within("leaving condenser water in degC", temperature.si(), -20.0, 90.0)?
            }
        };
        let law = &self.settings.capacity;
        let ratio = 1.0
            + law.per_kelvin_chilled * (chilled - self.rating.leaving_chilled.si())
            + law.per_kelvin_condenser * (leaving - self.rated_condenser_leaving.si());
        Ok(self.rating.capacity * ratio.clamp(0.0, law.largest))
    }

    /// Inverse coefficient of performance while running at `load`, and what led to it.
    fn running(&self, load: f64, chilled_c: f64, condenser: Condenser) -> Result<Running, PlantError> {
        let s = &self.settings;
        let share = load / self.rating.capacity.si();
        let rejected_rated = self.rating.capacity.si() * (1.0 + 1.0 / self.rating.cop);
        let evaporating = chilled_c + KELVIN - s.evaporator_approach.si() * share;
        let approach_per_w = s.condenser_approach.si() / rejected_rated;
        let (base, per_w) = match condenser {
            Condenser::Entering { temperature, capacity_rate } => {
                (temperature.si() + KELVIN, 1.0 / capacity_rate.si() + approach_per_w)
            }
            Condenser::Leaving { temperature } => (temperature.si() + KELVIN, approach_per_w),
        };
        let least = s.minimum_lift.si();
        let condensing = |y: f64| base + load * (1.0 + y) * per_w;
        let finish = |y: f64, residual: f64, count: u32| {
            let actual = condensing(y) - evaporating;
            let lift = actual.max(least);
            let (efficiency, inside) = self.efficiency.at(share, lift);
            Running {
                inverse_cop: y,
                evaporating,
                condensing: condensing(y),
                lift,
                at_least: actual < least,
                efficiency,
                inside,
                residual,
                count,
            }
        };
        if let EfficiencyCurve::Table { .. } = self.efficiency {
            let balance = |y: f64| {
                let lift = (condensing(y) - evaporating).max(least);
                let efficiency = self.efficiency.at(share, lift).0;
                y - lift / (efficiency * evaporating)
            };
            let root = solve::root("chiller efficiency", 0.0, 5.0, 1e-13, |y| Ok(balance(y)))?;
            return Ok(finish(root.x, root.residual, root.iterations));
        }
        // Efficiency does not depend on the lift, so the balance is linear in 1/COP:
        // y efficiency T_e = base + load (1 + y) per_w - T_e.
        let efficiency = self.efficiency.at(share, 0.0).0;
        let k = load * per_w;
        let ideal = efficiency * evaporating;
        let mut y = least / ideal;
        if condensing(y) - evaporating > least {
            if ideal <= k {
                return Err(PlantError::Contradiction {
                    what: "the condenser flow is too small for the heat rejected, K of rise against",
                    value: k,
                    limit: ideal,
                });
            }
            y = (base + k - evaporating) / (ideal - k);
        }
        Ok(finish(y, 0.0, 0))
    }

    /// The chiller at one condition.
    ///
    /// # Errors
    /// A negative load, a temperature out of range, a condenser flow too small for the heat.
    pub fn run(
        &self,
        load: Power,
        leaving_chilled: Temperature,
        condenser: Condenser,
    ) -> Result<ChillerState, PlantError> {
        let asked = not_negative("chiller load in W", load.si())?;
        let capacity = self.available_capacity(leaving_chilled, condenser)?;
        let mut limits = Limits::NONE;
        let met = asked.min(capacity.si());
        if met < asked {
            limits.add(Limit::Capacity);
        }
        let least_load = (self.settings.minimum_share * self.rating.capacity.si()).min(capacity.si());
        let run_share = if met > 0.0 && met < least_load { met / least_load } else { 1.0 };
        let running_load = if run_share < 1.0 { least_load } else { met };
        let chilled = leaving_chilled.si();
        let off = met == 0.0;
        let r = self.running(if off { least_load.max(1.0) } else { running_load }, chilled, condenser)?;
        let mut inverse = r.inverse_cop;
        if run_share < 1.0 {
            limits.add(Limit::Cycling);
            inverse /= 1.0 - self.settings.cycling_loss * (1.0 - run_share);
        }
        if !off && r.at_least {
            limits.add(Limit::MinimumLift);
        }
        if !off && !r.inside {
            limits.add(Limit::OutsideRatedRange);
        }
        let power = met * inverse;
        let rejected = met + power;
        let leaving = match condenser {
            Condenser::Entering { temperature, capacity_rate } => {
                temperature.si() + rejected / capacity_rate.si()
            }
            Condenser::Leaving { temperature } => temperature.si(),
        };
        Ok(ChillerState {
            load_asked: load,
            load_met: Power::watts(met),
            unmet: Power::watts(asked - met),
            capacity,
            share_of_rated: met / self.rating.capacity.si(),
            run_share: if off { 0.0 } else { run_share },
            evaporating: Temperature::from_si(r.evaporating - KELVIN),
            condensing: Temperature::from_si(r.condensing - KELVIN),
            lift: TemperatureDifference::kelvin(r.lift),
            ideal_cop: r.evaporating / r.lift,
            efficiency: r.efficiency,
            cop: if off { 0.0 } else { 1.0 / inverse },
            power: Power::watts(power),
            heat_rejected: Power::watts(rejected),
            condenser_leaving: Temperature::from_si(leaving),
            limits,
            residual: r.residual,
            count: r.count,
        })
    }

    /// Heat recovery: runs so that neither more cooling is made than asked nor more heat than wanted, with condenser
    /// water leaving at the heating temperature. The smaller of the two governs.
    ///
    /// # Errors
    /// As [`run`](Self::run); a balance that does not settle.
    pub fn recover_heat(
        &self,
        cooling_asked: Power,
        heating_asked: Power,
        leaving_chilled: Temperature,
        heating_supply: Temperature,
    ) -> Result<HeatRecoveryState, PlantError> {
        let heating = not_negative("heating demand in W", heating_asked.si())?;
        let condenser = Condenser::Leaving { temperature: heating_supply };
        let full = self.run(cooling_asked, leaving_chilled, condenser)?;
        let (state, governed_by, residual, count) = if full.heat_rejected.si() <= heating {
            (full, HeatRecoveryGovernor::Cooling, 0.0, 0)
        } else if heating == 0.0 {
            let idle = self.run(Power::watts(0.0), leaving_chilled, condenser)?;
            (idle, HeatRecoveryGovernor::Heating, 0.0, 0)
        } else {
            let root = solve::root(
                "heat recovery load",
                0.0,
                full.load_met.si(),
                1e-9 * heating.max(1.0),
                |load| {
                    Ok(self.run(Power::watts(load), leaving_chilled, condenser)?.heat_rejected.si() - heating)
                },
            )?;
            let state = self.run(Power::watts(root.x), leaving_chilled, condenser)?;
            (state, HeatRecoveryGovernor::Heating, root.residual, root.iterations)
        };
        Ok(HeatRecoveryState {
            cooling_left: Power::watts(cooling_asked.si() - state.load_met.si()),
            heating_left: Power::watts(heating - state.heat_rejected.si()),
            governed_by,
            chiller: state,
            residual: Power::watts(residual),
            count,
        })
    }
}

struct Running {
    inverse_cop: f64,
    evaporating: f64,
    condensing: f64,
    lift: f64,
    at_least: bool,
    efficiency: f64,
    inside: bool,
    residual: f64,
    count: u32,
}

/// Equal chillers side by side, started only as the load needs them.
#[derive(Debug, Clone, PartialEq)]
pub struct ChillerBank {
    /// One of them.
    pub chiller: Chiller,
    /// How many there are.
    pub machines: u32,
}

/// A bank at one condition.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ChillerBankState {
    /// Machines that run.
    pub running: u32,
    /// Each of the running machines.
    pub each: ChillerState,
    /// Cooling made by all.
    pub load_met: Power,
    /// Cooling asked and not made.
    pub unmet: Power,
    /// Electric power of all.
    pub power: Power,
    /// Heat rejected by all.
    pub heat_rejected: Power,
}

impl ChillerBank {
    /// Runs the number of machines, of those that carry the load, that takes the least power; each gets an equal share
    /// of the load, and the condenser flow given is that of one machine.
    ///
    /// # Errors
    /// No machine; as [`Chiller::run`].
    pub fn run(
        &self,
        load: Power,
        leaving_chilled: Temperature,
        condenser: Condenser,
    ) -> Result<ChillerBankState, PlantError> {
        let machines = self.machines;
        within("number of chillers", f64::from(machines), 1.0, 100.0)?;
        let mut best: Option<ChillerBankState> = None;
        for running in 1..=machines {
            let n = f64::from(running);
            let each = self.chiller.run(load / n, leaving_chilled, condenser)?;
            let state = ChillerBankState {
                running: if load.si() == 0.0 { 0 } else { running },
                each,
                load_met: each.load_met * n,
                unmet: each.unmet * n,
                power: each.power * n,
                heat_rejected: each.heat_rejected * n,
            };
            let better = best
                .is_none_or(|b| state.unmet < b.unmet || (state.unmet == b.unmet && state.power < b.power));
            if better {
                best = Some(state);
            }
        }
        best.ok_or(PlantError::TooFewPoints { what: "chillers", given: 0, needed: 1 })
    }
}

/// Which side limits a heat-recovery chiller.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum HeatRecoveryGovernor {
    /// The cooling asked (or the capacity) limits the heat.
    Cooling,
    /// The heating asked limits the cooling.
    Heating,
}

/// A heat-recovery chiller at one condition.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HeatRecoveryState {
    /// The chiller; its heat rejected is the heat delivered.
    pub chiller: ChillerState,
    /// Which side limits.
    pub governed_by: HeatRecoveryGovernor,
    /// Cooling left to other machines.
    pub cooling_left: Power,
    /// Heating left to other machines.
    pub heating_left: Power,
    /// Heat delivered less heat asked at the solution, where heating governs.
    pub residual: Power,
    /// Steps taken.
    pub count: u32,
}

/// Integrated part-load value of coefficients of performance (or energy efficiency ratios) at 100, 75, 50 and 25 %:
/// `0.01 A + 0.42 B + 0.45 C + 0.12 D` (AHRI 550/590, from memory).
///
/// # Errors
/// A value that is not above zero.
pub fn integrated_part_load_value(at_100_75_50_25: [f64; 4]) -> Result<f64, PlantError> {
    let mut sum = 0.0;
    for (weight, value) in PART_LOAD_WEIGHTS.iter().zip(at_100_75_50_25) {
        sum += weight * positive("coefficient of performance", value)?;
    }
    Ok(sum)
}

/// The same from values in kW per ton: the reciprocal of the weighted reciprocals (AHRI 550/590, from memory).
///
/// # Errors
/// A value that is not above zero.
pub fn integrated_part_load_value_kw_per_ton(at_100_75_50_25: [f64; 4]) -> Result<f64, PlantError> {
    let mut sum = 0.0;
    for (weight, value) in PART_LOAD_WEIGHTS.iter().zip(at_100_75_50_25) {
        sum += weight / positive("kW per ton", value)?;
    }
    Ok(1.0 / sum)
}

const PART_LOAD_WEIGHTS: [f64; 4] = [0.01, 0.42, 0.45, 0.12];

/// Entering condenser water of the four part-load ratings, degF (AHRI 550/590, from memory).
pub const PART_LOAD_CONDENSER_F: [f64; 4] = [85.0, 75.0, 65.0, 65.0];

/// Adjustment of the efficiency requirement of centrifugal chillers at other temperatures than the rating point.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CentrifugalAdjustment {
    /// Condenser leaving less evaporator leaving.
    pub lift: TemperatureDifference,
    /// Factor by lift.
    pub a: f64,
    /// Factor by leaving chilled water.
    pub b: f64,
    /// Product of both; the requirement in kW per ton is divided by it.
    pub factor: f64,
}

/// `Kadj = A B` of ASHRAE 90.1 for centrifugal chillers (coefficients from memory).
///
/// # Errors
/// Lift outside 20 to 80 degF (11.1 to 44.4 K), or chilled water outside 36 to 60 degF.
pub fn centrifugal_adjustment(
    leaving_chilled: Temperature,
    leaving_condenser: Temperature,
) -> Result<CentrifugalAdjustment, PlantError> {
    let chilled =
        within("leaving chilled water in degF", leaving_chilled.to_fahrenheit(), 36.0 - 1e-9, 60.0 + 1e-9)?;
    let lift = leaving_condenser - leaving_chilled;
    let l = within("lift in degF", lift.to_fahrenheit(), 20.0, 80.0)?;
    let a = 3.9302 + l * (-0.147199 + l * (0.00314196 + l * (-3.46496e-5 + l * 1.4592e-7)));
    let b = 0.0015 * chilled + 0.934;
    Ok(CentrifugalAdjustment { lift, a, b, factor: a * b })
}

/// Ideal coefficient of performance between two temperatures.
///
/// # Errors
/// A condensing temperature that is not above the evaporating temperature.
pub fn ideal_cop(evaporating: Temperature, condensing: Temperature) -> Result<f64, PlantError> {
    let lift = condensing.si() - evaporating.si();
    positive("lift in K", lift)?;
    Ok((evaporating.si() + KELVIN) / lift)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn f(t: f64) -> Temperature {
        Temperature::fahrenheit(t)
    }

    fn rating(cop: f64) -> Rating {
        Rating {
            capacity: Power::tons(300.0),
            cop,
            leaving_chilled: f(44.0),
            entering_condenser: f(85.0),
            // 3 gpm per ton, 500 Btu/h per gpm degF.
            condenser_capacity_rate: Conductance::w_per_k(300.0 * 3.0 * 500.0 * 0.293_071_07 * 1.8),
        }
    }

    fn tower(t: f64) -> Condenser {
        Condenser::Entering { temperature: f(t), capacity_rate: rating(6.0).condenser_capacity_rate }
    }

    fn standard_part_load(cops: [f64; 4]) -> (Rating, [PartLoadRating; 3]) {
        let p = |i: usize| PartLoadRating {
            share: [1.0, 0.75, 0.5, 0.25][i],
            cop: cops[i],
            entering_condenser: f(PART_LOAD_CONDENSER_F[i]),
        };
        (rating(cops[0]), [p(3), p(2), p(1)])
    }

    #[test]
    fn val_ideal_gain_of_warm_water() {
        // Recomputed: Carnot on water temperatures 44/95 9.876, 55/95 12.867, 44/85 12.285, 55/85 17.156.
        for (e, c, cop) in
            [(44.0, 95.0, 9.876), (55.0, 95.0, 12.867), (44.0, 85.0, 12.285), (55.0, 85.0, 17.156)]
        {
            assert!((ideal_cop(f(e), f(c)).unwrap() - cop).abs() < 6e-4, "{e}/{c}");
        }
        let gain = |c| ideal_cop(f(55.0), f(c)).unwrap() / ideal_cop(f(44.0), f(c)).unwrap() - 1.0;
        // 30 % at 95 degF and 40 % at 85 degF, as printed in whole percent.
        assert!((gain(95.0) - 0.30).abs() < 0.005);
        assert!((gain(85.0) - 0.40).abs() < 0.005);
        assert!(ideal_cop(f(55.0), f(55.0)).is_err());
    }

    #[test]
    fn val_rating_flows() {
        // AHRI 550/590-2015 I-P table 1: evaporator 54 to 44 degF. Recomputed 2.3987 gpm per ton with 8.3378 lb/gal;
        // condenser rise 9.274 degF at 3 gpm per ton and 0.56 kW per ton ("500" rule).
        let lb_per_gal = 8.3378;
        assert!((12_000.0f64 / (60.0 * lb_per_gal * 10.0) - 2.3987).abs() < 1e-4);
        let c = Chiller::from_rating(rating(3.516_852_84 / 0.56), Settings::default()).unwrap();
        let s = c.run(Power::tons(300.0), f(44.0), tower(85.0)).unwrap();
        assert!((s.power.si() / 1000.0 / 300.0 - 0.56).abs() < 1e-9);
        assert!((s.condenser_leaving - f(85.0)).to_fahrenheit() - 9.274 < 1e-3);
        assert!((s.condenser_leaving - f(85.0)).to_fahrenheit() - 9.274 > -1e-3);
    }

    #[test]
    fn val_integrated_part_load_value() {
        // AHRI 550/590 weights, from memory; values recomputed.
        assert!((integrated_part_load_value([5.5, 6.5, 8.0, 7.0]).unwrap() - 7.225).abs() < 1e-12);
        let kw = integrated_part_load_value_kw_per_ton([0.60, 0.55, 0.45, 0.50]).unwrap();
        assert!((kw - 0.494975).abs() < 1e-6);
        assert!(integrated_part_load_value([0.0, 6.5, 8.0, 7.0]).is_err());
    }

    #[test]
    fn val_centrifugal_adjustment() {
        // ASHRAE 90.1, coefficients from memory; rows recomputed from them. Standard point 44/94.3 degF gives 1.
        for (chilled, condenser, factor) in [
            (44.0, 94.3, 0.99999),
            (42.0, 91.16, 1.01971),
            (55.0, 95.0, 1.24558),
            (55.0, 90.0, 1.38295),
            (55.0, 85.0, 1.54981),
            (40.0, 94.3, 0.91686),
        ] {
            let k = centrifugal_adjustment(f(chilled), f(condenser)).unwrap();
            // Five printed places.
            assert!((k.factor - factor).abs() < 1e-5, "{chilled}/{condenser}: {}", k.factor);
        }
        assert!(centrifugal_adjustment(f(44.0), f(50.0)).is_err());
    }

    #[test]
    fn inv_rating_point_is_reproduced() {
        let c = Chiller::from_rating(rating(6.1), Settings::default()).unwrap();
        let s = c.run(Power::tons(300.0), f(44.0), tower(85.0)).unwrap();
        assert!((s.cop - 6.1).abs() < 1e-10);
        assert!((s.condensing.si() - c.rated_condensing.si()).abs() < 1e-9);
        assert!((s.efficiency - c.rated_efficiency).abs() < 1e-12);
        assert!(s.limits.is_empty());
    }

    #[test]
    fn inv_part_load_ratings_and_their_integrated_value_are_reproduced() {
        let cops = [5.5, 6.5, 8.0, 7.0];
        let (r, p) = standard_part_load(cops);
        let c = Chiller::from_part_load_ratings(r, &p, Settings::default()).unwrap();
        let got: Vec<f64> = [1.0, 0.75, 0.5, 0.25]
            .iter()
            .zip(PART_LOAD_CONDENSER_F)
            .map(|(share, t)| c.run(Power::tons(300.0 * share), f(44.0), tower(t)).unwrap().cop)
            .collect();
        for (a, b) in got.iter().zip(cops) {
            assert!((a - b).abs() < 1e-9, "{a} {b}");
        }
        let value = integrated_part_load_value([got[0], got[1], got[2], got[3]]).unwrap();
        assert!((value - 7.225).abs() < 1e-9);
        // Below the last rating the machine cycles, and says so.
        let low = c.run(Power::tons(30.0), f(44.0), tower(65.0)).unwrap();
        assert!(low.limits.has(Limit::Cycling) && low.cop < 7.0 && (low.run_share - 0.4).abs() < 1e-9);
    }

    #[test]
    fn inv_fit_recovers_a_loss_curve() {
        let s = Settings::default();
        let truth = Chiller::with_curve(
            rating(6.1),
            EfficiencyCurve::Losses { constant: 1.2, fixed: 0.08, proportional: 0.25 },
            s,
        )
        .unwrap();
        let points: Vec<PartLoadRating> = [(0.25, 65.0), (0.4, 70.0), (0.6, 75.0), (0.8, 80.0), (1.0, 85.0)]
            .iter()
            .map(|(share, t)| PartLoadRating {
                share: *share,
                cop: truth.run(Power::tons(300.0 * share), f(44.0), tower(*t)).unwrap().cop,
                entering_condenser: f(*t),
            })
            .collect();
        // Condenser approach goes with the rated rejection, so the fit is exact only with the same rating.
        let fit = Chiller::fit(rating(6.1), &points, s).unwrap();
        assert!(fit.fit_residual < 1e-9);
        let EfficiencyCurve::Losses { constant, fixed, proportional } = fit.efficiency else { panic!() };
        assert!(
            (constant - 1.2).abs() < 1e-7
                && (fixed - 0.08).abs() < 1e-7
                && (proportional - 0.25).abs() < 1e-7
        );
        assert!(Chiller::fit(rating(6.1), &points[..2], s).is_err());
    }

    #[test]
    fn xchk_table_of_constant_efficiency_equals_the_closed_form() {
        let eta = 0.6;
        let flat = EfficiencyCurve::Points(vec![(0.1, eta), (1.25, eta)]);
        let table = EfficiencyCurve::Table {
            lifts_k: vec![5.0, 60.0],
            shares: vec![0.1, 1.25],
            efficiency: vec![vec![eta; 2]; 2],
        };
        let s = Settings::default();
        let a = Chiller::with_curve(rating(6.1), flat, s).unwrap();
        let b = Chiller::with_curve(rating(6.1), table, s).unwrap();
        for (share, chilled, t) in
            [(1.0, 44.0, 85.0), (0.4, 55.0, 70.0), (0.2, 55.0, 45.0), (0.05, 42.0, 90.0)]
        {
            let x = a.run(Power::tons(300.0 * share), f(chilled), tower(t)).unwrap();
            let y = b.run(Power::tons(300.0 * share), f(chilled), tower(t)).unwrap();
            assert!((x.cop - y.cop).abs() < 1e-9, "{} {}", x.cop, y.cop);
            assert!(y.count > 0 && y.residual.abs() <= 1e-12);
        }
    }

    #[test]
    fn phys_minimum_lift_bounds_the_gain_of_cold_condenser_water() {
        let c = Chiller::from_rating(rating(6.1), Settings::default()).unwrap();
        let at = |t| c.run(Power::tons(200.0), f(55.0), tower(t)).unwrap();
        let (cool, cold) = (at(50.0), at(40.0));
        assert!(cold.limits.has(Limit::MinimumLift) && cool.limits.has(Limit::MinimumLift));
        assert!((cool.cop - cold.cop).abs() < 1e-12);
        assert!(!at(85.0).limits.has(Limit::MinimumLift));
    }

    #[test]
    fn phys_capacity_limit_is_applied_and_reported() {
        let c = Chiller::from_rating(rating(6.1), Settings::default()).unwrap();
        let s = c.run(Power::tons(400.0), f(44.0), tower(85.0)).unwrap();
        assert!(s.limits.has(Limit::Capacity));
        assert!((s.load_met.to_tons() - 300.0).abs() < 1e-6);
        assert!((s.unmet.to_tons() - 100.0).abs() < 1e-6);
        // Warm water: 55 degF is 6.11 K above the rating, 2.5 % each.
        let warm = c.available_capacity(f(55.0), tower(85.0)).unwrap();
        assert!((warm.to_tons() / 300.0 - (1.0 + 0.025 * 11.0 / 1.8)).abs() < 1e-9);
        let off = c.run(Power::watts(0.0), f(44.0), tower(85.0)).unwrap();
        assert_eq!((off.power.si(), off.cop, off.heat_rejected.si()), (0.0, 0.0, 0.0));
    }

    #[test]
    fn phys_a_rating_above_the_ideal_cycle_is_refused() {
        assert!(matches!(
            Chiller::from_rating(rating(12.0), Settings::default()),
            Err(PlantError::OutOfRange { .. })
        ));
        let (r, mut p) = standard_part_load([5.5, 6.5, 8.0, 7.0]);
        p[1].cop = 30.0;
        assert!(Chiller::from_part_load_ratings(r, &p, Settings::default()).is_err());
        assert!(Chiller::from_rating(Rating { cop: f64::NAN, ..rating(6.0) }, Settings::default()).is_err());
    }

    #[test]
    fn phys_heat_recovery_serves_the_smaller_side() {
        let c = Chiller::from_rating(rating(6.1), Settings::default()).unwrap();
        let heating = Temperature::celsius(45.0);
        let plenty = c.recover_heat(Power::tons(100.0), Power::tons(500.0), f(44.0), heating).unwrap();
        assert_eq!(plenty.governed_by, HeatRecoveryGovernor::Cooling);
        assert!((plenty.cooling_left.si()).abs() < 1e-6 && plenty.heating_left.si() > 0.0);
        let scarce = c.recover_heat(Power::tons(200.0), Power::tons(80.0), f(44.0), heating).unwrap();
        assert_eq!(scarce.governed_by, HeatRecoveryGovernor::Heating);
        assert!(scarce.heating_left.si().abs() < 1e-3, "{}", scarce.heating_left.si());
        assert!(scarce.cooling_left.to_tons() > 100.0 && scarce.count > 0);
        // First law: heat delivered is cooling plus power.
        let s = scarce.chiller;
        assert!((s.heat_rejected.si() - s.load_met.si() - s.power.si()).abs() < 1e-6);
        let none = c.recover_heat(Power::tons(200.0), Power::watts(0.0), f(44.0), heating).unwrap();
        assert_eq!(none.chiller.power.si(), 0.0);
        // The heating temperature costs: the same cooling with a tower takes less power.
        let normal = c.run(Power::tons(100.0), f(44.0), tower(85.0)).unwrap();
        assert!(plenty.chiller.power.si() > normal.power.si());
    }

    #[test]
    fn phys_bank_runs_what_the_load_needs() {
        let chiller = Chiller::from_rating(rating(6.1), Settings::default()).unwrap();
        let bank = ChillerBank { chiller: chiller.clone(), machines: 3 };
        let at = |tons: f64| bank.run(Power::tons(tons), f(44.0), tower(85.0)).unwrap();
        assert_eq!(at(0.0).running, 0);
        assert_eq!(at(100.0).running, 1);
        assert!(at(850.0).running == 3 && at(850.0).unmet.si() == 0.0);
        let over = at(1000.0);
        assert!((over.unmet.to_tons() - 100.0).abs() < 1e-6 && over.each.limits.has(Limit::Capacity));
        // Never worse than all machines together.
        let all = chiller.run(Power::tons(100.0), f(44.0), tower(85.0)).unwrap().power * 3.0;
        assert!(at(300.0).power.si() <= all.si());
        assert!(ChillerBank { chiller, machines: 0 }.run(Power::tons(1.0), f(44.0), tower(85.0)).is_err());
    }

    proptest! {
        #[test]
        fn phys_no_result_above_the_ideal_cycle(
            share in 0.001f64..1.3, chilled in 3.0f64..20.0, entering in 2.0f64..45.0, cop in 3.0f64..7.0,
            fixed in 0.0f64..0.5, least in 2.0f64..20.0, kind in 0usize..2,
        ) {
            let s = Settings {
                minimum_lift: TemperatureDifference::kelvin(least), fixed_loss_share: fixed, ..Settings::default()
            };
            let c = if kind == 0 {
                Chiller::from_rating(rating(cop), s).unwrap()
            } else {
                let (r, p) = standard_part_load([cop, cop * 1.15, cop * 1.3, cop * 1.1]);
                match Chiller::from_part_load_ratings(r, &p, s) { Ok(c) => c, Err(_) => return Ok(()) }
            };
            let condenser = Condenser::Entering {
                temperature: Temperature::celsius(entering),
                capacity_rate: rating(6.0).condenser_capacity_rate,
            };
            let x = c.run(Power::tons(300.0 * share), Temperature::celsius(chilled), condenser).unwrap();
            let lift = x.condensing.si() - x.evaporating.si();
            if lift > 0.0 {
                prop_assert!(x.cop < (x.evaporating.si() + 273.15) / lift);
            }
            prop_assert!(x.cop < x.ideal_cop);
            prop_assert!(x.lift.si() >= least - 1e-9);
            // First law, and the condenser water carries what is rejected.
            let rejected = x.load_met.si() + x.power.si();
            prop_assert!((x.heat_rejected.si() - rejected).abs() <= 1e-9 * rejected);
            let carried = (x.condenser_leaving.si() - entering) * rating(6.0).condenser_capacity_rate.si();
            prop_assert!((carried - rejected).abs() <= 1e-9 * rejected);
            prop_assert!((x.load_met.si() + x.unmet.si() - x.load_asked.si()).abs() <= 1e-9 * x.load_asked.si());
            prop_assert!((x.limits.has(Limit::Capacity)) == (x.unmet.si() > 0.0));
        }

        #[test]
        fn phys_warmer_chilled_water_and_colder_condenser_water_never_cost_power(
            share in 0.2f64..0.8, chilled in 4.0f64..15.0, entering in 10.0f64..32.0,
        ) {
            let c = Chiller::from_rating(rating(6.0), Settings::default()).unwrap();
            let p = |t: f64, e: f64| {
                let condenser = Condenser::Entering {
                    temperature: Temperature::celsius(e),
                    capacity_rate: rating(6.0).condenser_capacity_rate,
                };
                c.run(Power::tons(300.0 * share), Temperature::celsius(t), condenser).unwrap().power.si()
            };
            prop_assert!(p(chilled + 1.0, entering) <= p(chilled, entering) * (1.0 + 1e-12));
            prop_assert!(p(chilled, entering - 1.0) <= p(chilled, entering) * (1.0 + 1e-12));
        }

        #[test]
        fn phys_warm_water_gain_stays_below_the_ideal_gain_on_refrigerant_temperatures(
            share in 0.2f64..0.9, entering in 15.0f64..32.0,
        ) {
            let c = Chiller::from_rating(rating(6.0), Settings::default()).unwrap();
            let condenser = Condenser::Entering {
                temperature: Temperature::celsius(entering),
                capacity_rate: rating(6.0).condenser_capacity_rate,
            };
            let cold = c.run(Power::tons(300.0 * share), f(44.0), condenser).unwrap();
            let warm = c.run(Power::tons(300.0 * share), f(55.0), condenser).unwrap();
            let ideal = |s: &ChillerState| {
                (s.evaporating.si() + 273.15) / (s.condensing.si() - s.evaporating.si()).max(1e-9)
            };
            prop_assert!(warm.cop / cold.cop <= ideal(&warm) / ideal(&cold) * (1.0 + 1e-9));
        }
    }
}
