//! Costs of an alternative, with their dates.

use crate::error::{EconomicsError, finite, named, within};
use crate::factor::{Escalation, SeriesFactor, Term, single_present_value};
use crate::priced::Priced;
use crate::quantity::{Money, YearCount, YearsAfterBase};
use crate::study::Study;
use drycoil_units::{Fraction, Quantity};

/// Kind of cost; the terms of `LCC = I + Repl - Res + E + W + OM&R` (NIST Handbook 135).
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Category {
    /// Initial investment.
    Investment,
    /// Capital replacement.
    Replacement,
    /// Residual value: resale, scrap or remaining life, less disposal. A positive amount is received.
    Residual,
    /// Energy.
    Energy,
    /// Water.
    Water,
    /// Operation, maintenance and repair.
    Maintenance,
}

impl Category {
    /// Every category, in the order of reports.
    pub const ALL: [Self; 6] =
        [Self::Investment, Self::Replacement, Self::Residual, Self::Energy, Self::Water, Self::Maintenance];

    /// Words of reports.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Investment => "investment",
            Self::Replacement => "replacement",
            Self::Residual => "residual value",
            Self::Energy => "energy",
            Self::Water => "water",
            Self::Maintenance => "operation, maintenance and repair",
        }
    }

    /// On which side of the savings-to-investment ratio it stands.
    pub const fn side(self) -> Side {
        match self {
            Self::Investment | Self::Replacement | Self::Residual => Side::Investment,
            Self::Energy | Self::Water | Self::Maintenance => Side::Operation,
        }
    }

    /// 1 for a cost, -1 for what is received.
    pub(crate) const fn sign(self) -> f64 {
        match self {
            Self::Residual => -1.0,
            _ => 1.0,
        }
    }
}

/// Side of the savings-to-investment ratio.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Side {
    /// Below the line: investment, replacement, residual value.
    Investment,
    /// Above the line: energy, water, operation, maintenance and repair.
    Operation,
}

/// When in a year an annual cost falls.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Timing {
    /// At its end, the convention of the Handbook's tables.
    EndOfYear,
    /// In its middle.
    MiddleOfYear,
    /// At its beginning.
    BeginningOfYear,
    /// After this share of it, 0 to 1.
    After(Fraction),
}

impl Timing {
    fn share(self) -> Result<f64, EconomicsError> {
        match self {
            Self::EndOfYear => Ok(1.0),
            Self::MiddleOfYear => Ok(0.5),
            Self::BeginningOfYear => Ok(0.0),
            Self::After(share) => within("share of the year", share.si(), 0.0, 1.0, ""),
        }
    }
}

/// When a cost falls.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum When {
    /// Once.
    Once(YearsAfterBase),
    /// Each year of the study.
    EachYear(Timing),
    /// Each year from the first to the last one named, counted from 1.
    Years {
        /// First year.
        first: u32,
        /// Last year.
        last: u32,
        /// When in the year.
        timing: Timing,
    },
}

/// One cost of an alternative.
#[derive(Debug, Clone, PartialEq)]
pub struct CostItem {
    /// Name, for reports and for the list of what is not priced.
    pub name: String,
    /// Kind.
    pub category: Category,
    /// Amount in prices of the base date; per year for annual costs.
    pub amount: Priced<Money>,
    /// When it falls.
    pub when: When,
    /// How its price moves.
    pub escalation: Escalation,
}

impl CostItem {
    /// A cost that falls once, its price not escalating.
    pub fn once(name: &str, category: Category, amount: Priced<Money>, at: YearsAfterBase) -> Self {
        Self { name: name.to_owned(), category, amount, when: When::Once(at), escalation: Escalation::None }
    }

    /// A cost at the end of each year of the study, its price not escalating.
    pub fn annual(name: &str, category: Category, amount: Priced<Money>) -> Self {
        Self {
            name: name.to_owned(),
            category,
            amount,
            when: When::EachYear(Timing::EndOfYear),
            escalation: Escalation::None,
        }
    }

    /// With another escalation.
    #[must_use]
    pub fn escalating(self, escalation: Escalation) -> Self {
        Self { escalation, ..self }
    }

    /// At other dates.
    #[must_use]
    pub fn falling(self, when: When) -> Self {
        Self { when, ..self }
    }

    /// Dates, price indices and discount of the cost; the factor that turns the amount into its present value.
    pub(crate) fn terms(&self, study: &Study) -> Result<SeriesFactor, EconomicsError> {
        named("cost", &self.name)?;
        if let Priced::Known(money) = &self.amount {
            finite(&self.name, money.value())?;
        }
        let end = study.years.count();
        let (dates, last) = match self.when {
            When::Once(at) => (vec![(at, at.year_of_study())], at.year_of_study()),
            When::EachYear(timing) => (dates(1, end, timing)?, end),
            When::Years { first, last, timing } => {
                if first == 0 || last < first {
                    return Err(EconomicsError::NoSuchYears { item: self.name.clone(), first, last });
                }
                if last > end {
                    return Err(self.after(f64::from(last), study));
                }
                (dates(first, last, timing)?, last)
            }
        };
        if let Some((at, _)) = dates.iter().find(|(at, _)| at.years() > f64::from(end)) {
            return Err(self.after(at.years(), study));
        }
        let indices = self.escalation.indices(last)?;
        let terms = dates
            .into_iter()
            .map(|(at, year)| Term {
                at,
                price_index: if year == 0 { 1.0 } else { indices[year as usize - 1] },
                discount: single_present_value(study.discount, at),
            })
            .collect();
        Ok(SeriesFactor::of(terms))
    }

    fn after(&self, years: f64, study: &Study) -> EconomicsError {
        EconomicsError::AfterStudy { item: self.name.clone(), years, study: study.years.count() }
    }
}

/// Date of each year, with the year whose price holds.
fn dates(first: u32, last: u32, timing: Timing) -> Result<Vec<(YearsAfterBase, u32)>, EconomicsError> {
    let share = timing.share()?;
    (first..=last).map(|year| Ok((YearsAfterBase::new(f64::from(year - 1) + share)?, year))).collect()
}

/// Investment at the base date, a replacement at the end of each service life before the end of the study, and the
/// value of the life that then remains, in proportion to it (a rule of NIST Handbook 135 where no market price is known).
///
/// ```
/// use drycoil_economics::{Category, Money, Priced, YearCount, equipment};
/// let fan = equipment("fan", &Priced::Known(Money::amount(1000.0)), YearCount::new(8)?, YearCount::new(20)?)?;
/// // Bought at 0, 8 and 16; at 20 half of the last life remains.
/// assert_eq!(fan.len(), 4);
/// assert_eq!(fan[3].category, Category::Residual);
/// assert_eq!(fan[3].amount, Priced::Known(Money::amount(500.0)));
/// # Ok::<(), drycoil_economics::EconomicsError>(())
/// ```
///
/// # Errors
/// [`EconomicsError::NoName`], [`EconomicsError::NotFinite`].
pub fn equipment(
    name: &str,
    cost: &Priced<Money>,
    service_life: YearCount,
    study: YearCount,
) -> Result<Vec<CostItem>, EconomicsError> {
    named("cost", name)?;
    if let Priced::Known(money) = cost {
        finite(name, money.value())?;
    }
    let (life, end) = (service_life.count(), study.count());
    let mut items = vec![CostItem::once(name, Category::Investment, cost.clone(), YearsAfterBase::BASE)];
    let mut bought = 0;
    while bought + life < end {
        bought += life;
        let at = YearsAfterBase::new(f64::from(bought))?;
        items.push(CostItem::once(name, Category::Replacement, cost.clone(), at));
    }
    let remaining = bought + life - end;
    if remaining > 0 {
        let share = f64::from(remaining) / f64::from(life);
        let value = cost.map(|money| *money * share);
        items.push(CostItem::once(name, Category::Residual, value, YearsAfterBase::end_of(study)));
    }
    Ok(items)
}
