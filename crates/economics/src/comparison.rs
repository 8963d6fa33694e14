//! An alternative against a base case.

use crate::cost::Side;
use crate::error::EconomicsError;
use crate::priced::{Priced, total};
use crate::quantity::Money;
use crate::study::LifeCycleCost;

/// A ratio or rate that does not exist for every pair.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Measure {
    /// Its value.
    Value(f64),
    /// The alternative asks for no more investment than the base case.
    NoAddedInvestment,
    /// The alternative costs no less to run than the base case.
    NoSavings,
}

impl Measure {
    /// The value, if it exists.
    pub const fn value(self) -> Option<f64> {
        match self {
            Self::Value(value) => Some(value),
            Self::NoAddedInvestment | Self::NoSavings => None,
        }
    }
}

/// When the added investment has come back.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Payback {
    /// At no date had more been spent than in the base case.
    NothingToPayBack,
    /// In this year, counted from 1.
    InYear {
        /// The first year at whose end the sum of net savings is not negative any more.
        year: u32,
        /// Years after the base date, linear within that year.
        years: f64,
        /// Whether the sum stays there.
        lasting: Lasting,
    },
    /// Not within the study.
    NotWithinStudy {
        /// What is missing at its end.
        missing: Money,
    },
}

/// Whether investment that came back stays back, or a later cost, such as a replacement, takes it away.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Lasting {
    /// To the end of the study.
    ToTheEnd,
    /// The sum is negative again at the end of this year.
    LostInYear(u32),
}

/// Net savings of one year: costs of the base case less costs of the alternative.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct YearOfSavings {
    /// Year, 0 for the base date. A year holds what falls after the end of the one before, up to its own end.
    pub year: u32,
    /// Net savings.
    pub net: Money,
    /// Their sum from the base date.
    pub sum: Money,
    /// Net savings, present value.
    pub discounted: Money,
    /// Their sum from the base date.
    pub discounted_sum: Money,
}

/// Measures of NIST Handbook 135 for an alternative against a base case.
#[derive(Debug, Clone, PartialEq)]
pub struct Comparison {
    /// Name of the base case.
    pub base: String,
    /// Name of the alternative.
    pub alternative: String,
    /// Life-cycle cost of the base case.
    pub base_cost: Money,
    /// Life-cycle cost of the alternative.
    pub alternative_cost: Money,
    /// Present value of the savings in energy, water, operation, maintenance and repair.
    pub operating_savings: Money,
    /// Present value of the added investment and replacement, less added residual value.
    pub added_investment: Money,
    /// Net savings: life-cycle cost of the base case less that of the alternative.
    pub net_savings: Money,
    /// Savings-to-investment ratio: operating savings over added investment.
    pub savings_to_investment: Measure,
    /// Adjusted internal rate of return per year: `(1+d) SIR^(1/N) - 1`, savings reinvested at the discount rate.
    pub adjusted_internal_rate_of_return: Measure,
    /// Each year from the base date.
    pub years: Vec<YearOfSavings>,
    /// Payback without discounting.
    pub simple_payback: Payback,
    /// Payback of present values.
    pub discounted_payback: Payback,
}

/// Compares an alternative with a base case of the same study. Not priced, with every name, when either has a cost
/// without a price.
///
/// ```
/// use drycoil_economics::*;
/// let study = Study { discount: DiscountRate::per_year(0.03)?, years: YearCount::new(20)? };
/// let build = |name: &str, first, yearly| Alternative {
///     name: name.into(),
///     costs: vec![
///         CostItem::once("plant", Category::Investment, Priced::Known(Money::amount(first)), YearsAfterBase::BASE),
///         CostItem::annual("energy", Category::Energy, Priced::Known(Money::amount(yearly))),
///     ],
/// };
/// let base = life_cycle_cost(&build("base", 1000.0, 500.0), study)?;
/// let other = life_cycle_cost(&build("other", 1500.0, 400.0), study)?;
/// let Priced::Known(c) = compare(&base, &other)? else { unreachable!() };
/// assert!(matches!(c.discounted_payback, Payback::InYear { year: 6, .. }));
/// assert!(c.net_savings.value() > 0.0);
/// # Ok::<(), EconomicsError>(())
/// ```
///
/// # Errors
/// [`EconomicsError::DifferentStudies`].
pub fn compare(
    base: &LifeCycleCost,
    alternative: &LifeCycleCost,
) -> Result<Priced<Comparison>, EconomicsError> {
    if base.study != alternative.study {
        let of = |c: &LifeCycleCost| (c.study.discount.share(), c.study.years.count());
        return Err(EconomicsError::DifferentStudies { base: of(base), alternative: of(alternative) });
    }
    let named = |c: &LifeCycleCost| c.total.clone().below(&c.alternative);
    let (of_base, of_alternative) = (named(base), named(alternative));
    if let Priced::NotPriced(missing) = total([&of_base, &of_alternative]) {
        return Ok(Priced::NotPriced(missing));
    }
    // Everything is priced, so what is known is everything.
    let side = |c: &LifeCycleCost, side: Side| {
        c.categories.iter().filter(|x| x.category.side() == side).map(|x| x.known).sum::<Money>()
    };
    let operating_savings = side(base, Side::Operation) - side(alternative, Side::Operation);
    let added_investment = side(alternative, Side::Investment) - side(base, Side::Investment);
    let turnover = (side(base, Side::Investment).value().abs()
        + side(alternative, Side::Investment).value().abs())
        * ROUNDING;
    let savings_to_investment = if added_investment.value() > turnover {
        Measure::Value(operating_savings / added_investment)
    } else {
        Measure::NoAddedInvestment
    };
    let n = f64::from(base.study.years.count());
    let adjusted_internal_rate_of_return = match savings_to_investment {
        Measure::Value(ratio) if ratio > 0.0 => {
            Measure::Value((1.0 + base.study.discount.share()) * ratio.powf(1.0 / n) - 1.0)
        }
        Measure::Value(_) => Measure::NoSavings,
        other => other,
    };
    let years = savings_by_year(base, alternative);
    let gross = gross_flow(base) + gross_flow(alternative);
    Ok(Priced::Known(Comparison {
        base: base.alternative.clone(),
        alternative: alternative.alternative.clone(),
        base_cost: base.known,
        alternative_cost: alternative.known,
        operating_savings,
        added_investment,
        net_savings: base.known - alternative.known,
        savings_to_investment,
        adjusted_internal_rate_of_return,
        simple_payback: payback(years.iter().map(|y| y.sum), gross * ROUNDING),
        discounted_payback: payback(years.iter().map(|y| y.discounted_sum), gross * ROUNDING),
        years,
    }))
}

/// Share of the money that passes within which two sums are equal: the same costs in another order.
const ROUNDING: f64 = 1e-12;

/// Everything that passes, without sign or discount.
fn gross_flow(cost: &LifeCycleCost) -> f64 {
    let gross = |amount: &Money, indices: f64| amount.value().abs() * indices;
    cost.items
        .iter()
        .filter_map(|i| {
            let indices = i.series.terms.iter().fold(0.0, |sum, term| sum + term.price_index);
            i.item.amount.known().map(|amount| gross(amount, indices))
        })
        .fold(0.0, |sum, x| sum + x)
}

fn savings_by_year(base: &LifeCycleCost, alternative: &LifeCycleCost) -> Vec<YearOfSavings> {
    let end = base.study.years.count();
    let mut flows = vec![(Money::ZERO, Money::ZERO); end as usize + 1];
    for (cost, saving) in [(base, 1.0), (alternative, -1.0)] {
        for item in &cost.items {
            let Some(amount) = item.item.amount.known() else { continue };
            let amount = *amount * (saving * item.item.category.sign());
            for term in &item.series.terms {
                let flow = &mut flows[term.at.year_of_study() as usize];
                flow.0 = flow.0 + amount * term.price_index;
                flow.1 = flow.1 + amount * term.factor();
            }
        }
    }
    let (mut sum, mut discounted_sum) = (Money::ZERO, Money::ZERO);
    (0..=end)
        .zip(flows)
        .map(|(year, (net, discounted))| {
            sum = sum + net;
            discounted_sum = discounted_sum + discounted;
            YearOfSavings { year, net, sum, discounted, discounted_sum }
        })
        .collect()
}

/// Payback from the running sum of net savings at the base date and at the end of each year.
fn payback(sums: impl Iterator<Item = Money>, slack: f64) -> Payback {
    let sums: Vec<f64> = sums.map(Money::value).collect();
    let owed = |year: usize| sums[year] < -slack;
    let Some(spent) = (0..sums.len()).find(|y| owed(*y)) else { return Payback::NothingToPayBack };
    let Some(back) = (spent + 1..sums.len()).find(|y| !owed(*y)) else {
        return Payback::NotWithinStudy { missing: Money::amount(-sums[sums.len() - 1]) };
    };
    let (before, after) = (sums[back - 1], sums[back]);
    let lost = (back..sums.len()).find(|y| owed(*y));
    Payback::InYear {
        year: back as u32,
        years: (back - 1) as f64 + before / (before - after),
        lasting: lost.map_or(Lasting::ToTheEnd, |y| Lasting::LostInYear(y as u32)),
    }
}
