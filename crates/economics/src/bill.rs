//! Bills: a tariff applied to a series of energy.

use crate::calendar::Calendar;
use crate::error::{EconomicsError, named};
use crate::priced::{Priced, known_and_total};
use crate::quantity::Money;
use crate::tariff::{Before, Block, Charge, ChargeKind, Demand, DemandPrice, Period, Ratchet, Tariff, Times};
use drycoil_units::{Energy, EnergyPrice, Power, Quantity};

/// A tariff laid over a calendar: every interval has exactly one price in each charge of energy.
///
/// ```
/// use drycoil_economics::*;
/// use drycoil_units::{Energy, EnergyPrice, Time};
/// let year = Calendar::of_year(YearKind::Common, Weekday::Monday, &[], Time::hours(1.0))?;
/// let peak = Window { months: Months::from_to(6, 9)?, days: DayTypes::WORKDAYS, hours: Hours::from_to(14, 20)? };
/// let at = |name: &str, times, price| Period { name: name.into(), times, price };
/// let periods = vec![
///     at("peak", Times::Within(vec![peak]), Priced::Known(EnergyPrice::per_kwh(0.30))),
///     at("off peak", Times::Otherwise, Priced::Known(EnergyPrice::per_kwh(0.10))),
/// ];
/// let tariff = Tariff {
///     name: "electricity".into(),
///     charges: vec![Charge { name: "energy".into(), kind: ChargeKind::Energy(periods) }],
/// };
/// let bill = TariffOnCalendar::new(&tariff, &year)?.bill(&[Energy::kilowatt_hours(1.0); 8760])?;
/// // 86 workdays of June to September, six hours each, at the high price.
/// let expected = 516.0 * 0.30 + (8760.0 - 516.0) * 0.10;
/// assert!((bill.total.known().unwrap().value() - expected).abs() < 1e-6);
/// # Ok::<(), EconomicsError>(())
/// ```
#[derive(Debug, Clone)]
pub struct TariffOnCalendar<'a> {
    tariff: &'a Tariff,
    calendar: &'a Calendar,
    laid: Vec<Laid<'a>>,
}

/// A charge with what it needs of the calendar.
#[derive(Debug, Clone)]
enum Laid<'a> {
    /// Periods, and the period of each interval.
    Periods { periods: &'a [Period], of_interval: Vec<usize> },
    /// Blocks.
    Blocks(&'a [Block]),
    /// Demand, intervals in one average, and of each average whether it counts.
    Demand { demand: &'a Demand, intervals: usize, counts: Vec<Counts> },
    /// An amount each month.
    Monthly(&'a Priced<Money>),
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Counts {
    Yes,
    No,
}

/// What is billed in a line, and at which price.
#[derive(Debug, Clone, PartialEq)]
pub enum Billed {
    /// Energy of a period or block.
    Energy {
        /// The energy.
        energy: Energy,
        /// Its price.
        price: Priced<EnergyPrice>,
    },
    /// Demand.
    Demand {
        /// Highest mean power of the month within the window.
        peak: Power,
        /// First interval of the average that is the peak, counted from 0; the earliest of equals.
        peak_at: usize,
        /// Share of the earlier peak that is billed at least, where a ratchet finds one.
        ratchet: Option<Power>,
        /// Demand that is billed: the largest of peak, ratchet and minimum.
        billed: Power,
        /// Its price per month.
        price: Priced<DemandPrice>,
    },
    /// The month.
    Month,
}

/// A line of a bill.
#[derive(Debug, Clone, PartialEq)]
pub struct BillLine {
    /// The charge, by its place in the tariff.
    pub charge: usize,
    /// Name of the charge, with period or block.
    pub name: String,
    /// What is billed.
    pub billed: Billed,
    /// Amount.
    pub amount: Priced<Money>,
}

/// Bill of one month.
#[derive(Debug, Clone, PartialEq)]
pub struct MonthBill {
    /// Month, 1 to 12.
    pub month: u8,
    /// Energy of the month.
    pub energy: Energy,
    /// Lines, charge by charge.
    pub lines: Vec<BillLine>,
    /// Sum of the lines that are priced.
    pub known: Money,
    /// Sum of all lines.
    pub total: Priced<Money>,
}

/// Bills of a series.
#[derive(Debug, Clone, PartialEq)]
pub struct Bill {
    /// Name of the tariff.
    pub tariff: String,
    /// The months, in the order of the series.
    pub months: Vec<MonthBill>,
    /// Energy of the series.
    pub energy: Energy,
    /// Sum of what is priced.
    pub known: Money,
    /// Sum of everything.
    pub total: Priced<Money>,
}

impl Bill {
    /// Known part and sum of one charge over all months, by its place in the tariff.
    pub fn of_charge(&self, charge: usize) -> (Money, Priced<Money>) {
        let lines = self.months.iter().flat_map(|m| &m.lines).filter(|l| l.charge == charge);
        known_and_total(lines.map(|l| &l.amount))
    }

    /// Mean price of the energy; none without energy.
    pub fn mean_energy_price(&self) -> Option<Priced<EnergyPrice>> {
        let energy = self.energy.si();
        (energy > 0.0).then(|| self.total.map(|money| EnergyPrice::from_si(money.value() / energy)))
    }
}

impl<'a> TariffOnCalendar<'a> {
    /// Lays the tariff over the calendar.
    ///
    /// # Errors
    /// [`EconomicsError::NoName`], [`EconomicsError::NotFinite`], [`EconomicsError::OutOfRange`],
    /// [`EconomicsError::BadBlocks`]; [`EconomicsError::Uncovered`] or [`EconomicsError::CoveredTwice`] when an
    /// interval has no price or two; [`EconomicsError::BadDemandInterval`], [`EconomicsError::Misaligned`];
    /// [`EconomicsError::RatchetNeedsYear`].
    pub fn new(tariff: &'a Tariff, calendar: &'a Calendar) -> Result<Self, EconomicsError> {
        named("tariff", &tariff.name)?;
        let laid = tariff
            .charges
            .iter()
            .map(|charge| {
                charge.check()?;
                match &charge.kind {
                    ChargeKind::Energy(periods) => lay_periods(charge, periods, calendar),
                    ChargeKind::Blocks(blocks) => Ok(Laid::Blocks(blocks)),
                    ChargeKind::Demand(demand) => lay_averages(charge, demand, calendar),
                    ChargeKind::Monthly(amount) => Ok(Laid::Monthly(amount)),
                }
            })
            .collect::<Result<_, _>>()?;
        Ok(Self { tariff, calendar, laid })
    }

    /// Bills of the energy of each interval.
    ///
    /// # Errors
    /// [`EconomicsError::WrongLength`]; [`EconomicsError::BadEnergy`] for energy that is negative or not finite.
    pub fn bill(&self, energy: &[Energy]) -> Result<Bill, EconomicsError> {
        if energy.len() != self.calendar.len() {
            return Err(EconomicsError::WrongLength {
                what: format!("energy for `{}`", self.tariff.name),
                given: energy.len(),
                needed: self.calendar.len(),
            });
        }
        check_energy(energy)?;
        let mut months: Vec<MonthBill> = self
            .calendar
            .months()
            .iter()
            .map(|m| MonthBill {
                month: m.month,
                energy: sum(&energy[m.intervals.clone()]),
                lines: Vec::new(),
                known: Money::ZERO,
                total: Priced::Known(Money::ZERO),
            })
            .collect();
        for (index, (charge, laid)) in self.tariff.charges.iter().zip(&self.laid).enumerate() {
            self.add_lines(index, charge, laid, energy, &mut months);
        }
        for month in &mut months {
            (month.known, month.total) = known_and_total(month.lines.iter().map(|l| &l.amount));
        }
        let (known, total) = known_and_total(months.iter().map(|m| &m.total));
        // Months with something unpriced still hold known parts.
        let known = if total.known().is_some() { known } else { months.iter().map(|m| m.known).sum() };
        let total = total.below(&self.tariff.name);
        let energy = months.iter().map(|m| m.energy).sum();
        Ok(Bill { tariff: self.tariff.name.clone(), months, energy, known, total })
    }

    fn add_lines(
        &self,
        index: usize,
        charge: &Charge,
        laid: &Laid<'_>,
        energy: &[Energy],
        months: &mut [MonthBill],
    ) {
        let spans = self.calendar.months();
        match laid {
            Laid::Periods { periods, of_interval } => {
                for (span, month) in spans.iter().zip(months) {
                    let mut sums = vec![0.0; periods.len()];
                    let mut met = vec![Counts::No; periods.len()];
                    for i in span.intervals.clone() {
                        let period = of_interval[i];
                        sums[period] += energy[i].si();
                        met[period] = Counts::Yes;
                    }
                    for ((period, joules), met) in periods.iter().zip(sums).zip(met) {
                        if met == Counts::Yes {
                            let name = format!("{}, {}", charge.name, period.name);
                            let energy = Energy::from_si(joules);
                            month.lines.push(energy_line(index, name, energy, &period.price));
                        }
                    }
                }
            }
            Laid::Blocks(blocks) => {
                for month in months {
                    for (number, (block, energy)) in
                        blocks.iter().zip(split(month.energy, blocks)).enumerate()
                    {
                        let name = format!("{}, block {}", charge.name, number + 1);
                        month.lines.push(energy_line(index, name, energy, &block.price));
                    }
                }
            }
            Laid::Demand { demand, intervals, counts } => {
                let seconds = demand.average_over.si();
                let peaks: Vec<Option<(f64, usize)>> = spans
                    .iter()
                    .map(|span| {
                        let averages = span.intervals.start / intervals..span.intervals.end / intervals;
                        let mut peak: Option<(f64, usize)> = None;
                        for average in averages.filter(|a| counts[*a] == Counts::Yes) {
                            let first = average * intervals;
                            let power = sum(&energy[first..first + intervals]).si() / seconds;
                            if peak.is_none_or(|(highest, _)| power > highest) {
                                peak = Some((power, first));
                            }
                        }
                        peak
                    })
                    .collect();
                for (number, month) in months.iter_mut().enumerate() {
                    let Some((peak, peak_at)) = peaks[number] else { continue };
                    let ratchet = demand.ratchet.and_then(|ratchet| {
                        let of = |m: usize| (spans[m].month, peaks[m].map(|p| p.0));
                        ratchet_floor(&ratchet, number, spans.len(), of)
                    });
                    let minimum = demand.minimum.map_or(0.0, Quantity::si);
                    let billed = peak.max(ratchet.unwrap_or(0.0)).max(minimum);
                    let amount = match &demand.price {
                        Priced::Known(price) => Priced::Known(Money::amount(price.per_watt_month() * billed)),
                        Priced::NotPriced(_) => Priced::not_priced(charge.name.clone()),
                    };
                    month.lines.push(BillLine {
                        charge: index,
                        name: charge.name.clone(),
                        billed: Billed::Demand {
                            peak: Power::from_si(peak),
                            peak_at,
                            ratchet: ratchet.map(Power::from_si),
                            billed: Power::from_si(billed),
                            price: demand.price.clone(),
                        },
                        amount,
                    });
                }
            }
            Laid::Monthly(amount) => {
                for month in months {
                    let amount = match amount {
                        Priced::Known(money) => Priced::Known(*money),
                        Priced::NotPriced(_) => Priced::not_priced(charge.name.clone()),
                    };
                    let name = charge.name.clone();
                    month.lines.push(BillLine { charge: index, name, billed: Billed::Month, amount });
                }
            }
        }
    }
}

/// Refuses energy that is negative or not finite.
pub(crate) fn check_energy(energy: &[Energy]) -> Result<(), EconomicsError> {
    match energy.iter().position(|e| !(e.si().is_finite() && e.si() >= 0.0)) {
        Some(index) => Err(EconomicsError::BadEnergy { index, joules: energy[index].si() }),
        None => Ok(()),
    }
}

/// Sum in order.
fn sum(energy: &[Energy]) -> Energy {
    Energy::from_si(energy.iter().fold(0.0, |sum, e| sum + e.si()))
}

fn energy_line(charge: usize, name: String, energy: Energy, price: &Priced<EnergyPrice>) -> BillLine {
    let amount = match price {
        Priced::Known(price) => Priced::Known(Money::amount(price.si() * energy.si())),
        Priced::NotPriced(_) => Priced::not_priced(name.clone()),
    };
    BillLine { charge, name, billed: Billed::Energy { energy, price: price.clone() }, amount }
}

/// Energy of a month, block by block.
fn split(energy: Energy, blocks: &[Block]) -> impl Iterator<Item = Energy> {
    let mut lower = 0.0;
    blocks.iter().map(move |block| {
        let upper = block.up_to.map_or(energy.si(), |end| end.si().min(energy.si()));
        let part = (upper - lower).max(0.0);
        lower = upper.max(lower);
        Energy::from_si(part)
    })
}

/// Share of the highest peak of the months that the ratchet looks back on, W.
fn ratchet_floor(
    ratchet: &Ratchet,
    month: usize,
    months: usize,
    of: impl Fn(usize) -> (u8, Option<f64>),
) -> Option<f64> {
    let mut highest: Option<f64> = None;
    let mut count = |peak: f64| highest = Some(highest.map_or(peak, |h: f64| h.max(peak)));
    for back in 1..=usize::from(ratchet.look_back) {
        let earlier = match (month.checked_sub(back), ratchet.before) {
            (Some(earlier), _) => earlier,
            (None, Before::SameYear) => month + months - back,
            (None, Before::Nothing) => break,
            (None, Before::Peak(peak)) => {
                count(peak.si());
                break;
            }
        };
        let (number, peak) = of(earlier);
        if let (true, Some(peak)) = (ratchet.set_in.has(number), peak) {
            count(peak);
        }
    }
    highest.map(|peak| peak * ratchet.share.si())
}

fn lay_periods<'a>(
    charge: &Charge,
    periods: &'a [Period],
    calendar: &Calendar,
) -> Result<Laid<'a>, EconomicsError> {
    let otherwise: Vec<usize> =
        (0..periods.len()).filter(|p| periods[*p].times == Times::Otherwise).collect();
    let mut of_interval = Vec::with_capacity(calendar.len());
    for (index, stamp) in calendar.stamps().iter().enumerate() {
        let within = |period: &usize| match &periods[*period].times {
            Times::Within(windows) => windows.iter().any(|w| w.has(*stamp)),
            Times::Otherwise => false,
        };
        let mut holding = (0..periods.len()).filter(within).peekable();
        let (first, second) = if holding.peek().is_some() {
            (holding.next(), holding.next())
        } else {
            (otherwise.first().copied(), otherwise.get(1).copied())
        };
        let Some(period) = first else {
            return Err(EconomicsError::Uncovered {
                charge: charge.name.clone(),
                index,
                when: stamp.to_string(),
            });
        };
        if let Some(second) = second {
            return Err(EconomicsError::CoveredTwice {
                charge: charge.name.clone(),
                first: periods[period].name.clone(),
                second: periods[second].name.clone(),
                index,
                when: stamp.to_string(),
            });
        }
        of_interval.push(period);
    }
    Ok(Laid::Periods { periods, of_interval })
}

fn lay_averages<'a>(
    charge: &Charge,
    demand: &'a Demand,
    calendar: &Calendar,
) -> Result<Laid<'a>, EconomicsError> {
    let (asked, step) = (demand.average_over.si(), calendar.step().si());
    let intervals = asked / step;
    let fits = asked.is_finite() && intervals >= 1.0 && asked <= 3600.0;
    if !fits || intervals.fract() != 0.0 || (3600.0 / asked).fract() != 0.0 {
        return Err(EconomicsError::BadDemandInterval {
            charge: charge.name.clone(),
            interval_s: asked,
            step_s: step,
        });
    }
    let intervals = intervals as usize;
    let counts = calendar
        .stamps()
        .chunks(intervals)
        .enumerate()
        .map(|(number, stamps)| {
            if stamps.len() < intervals || stamps.iter().any(|s| *s != stamps[0]) {
                let index = number * intervals;
                return Err(EconomicsError::Misaligned { charge: charge.name.clone(), index });
            }
            Ok(if demand.window.has(stamps[0]) { Counts::Yes } else { Counts::No })
        })
        .collect::<Result<_, _>>()?;
    let whole_year = calendar.months().len() == 12;
    if demand.ratchet.is_some_and(|r| r.before == Before::SameYear) && !whole_year {
        return Err(EconomicsError::RatchetNeedsYear {
            charge: charge.name.clone(),
            months: calendar.months().len(),
        });
    }
    Ok(Laid::Demand { demand, intervals, counts })
}
