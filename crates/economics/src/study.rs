//! Life-cycle cost of one alternative.

use crate::cost::{Category, CostItem, Side};
use crate::error::{EconomicsError, named};
use crate::factor::{SeriesFactor, capital_recovery};
use crate::priced::{Priced, known_and_total, total};
use crate::quantity::{DiscountRate, Money, YearCount};

/// What all alternatives of a comparison have in common.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Study {
    /// Discount rate; real when prices are those of the base date.
    pub discount: DiscountRate,
    /// Length of the study period.
    pub years: YearCount,
}

/// One way to build, with all its costs.
#[derive(Debug, Clone, PartialEq)]
pub struct Alternative {
    /// Name.
    pub name: String,
    /// Its costs, in the order of reports.
    pub costs: Vec<CostItem>,
}

/// Present value of one cost.
#[derive(Debug, Clone, PartialEq)]
pub struct ItemPresentValue {
    /// The cost as given.
    pub item: CostItem,
    /// Its dates, and the factor on its amount.
    pub series: SeriesFactor,
    /// Present value as a cost: negative for a positive residual value.
    pub present_value: Priced<Money>,
}

/// Present value of one kind of cost.
#[derive(Debug, Clone, PartialEq)]
pub struct CategoryPresentValue {
    /// Kind.
    pub category: Category,
    /// Sum of what is priced.
    pub known: Money,
    /// Sum as a cost; zero when the alternative has no such cost.
    pub total: Priced<Money>,
}

/// Life-cycle cost of an alternative, with what it is made of.
#[derive(Debug, Clone, PartialEq)]
pub struct LifeCycleCost {
    /// Name of the alternative.
    pub alternative: String,
    /// Discount rate and length.
    pub study: Study,
    /// Each cost.
    pub items: Vec<ItemPresentValue>,
    /// Each kind of cost, in the order of [`Category::ALL`].
    pub categories: [CategoryPresentValue; 6],
    /// Present value of what is priced.
    pub known: Money,
    /// Life-cycle cost: present value of everything; not priced when a cost has no price.
    pub total: Priced<Money>,
    /// Capital recovery factor of the study.
    pub capital_recovery: f64,
    /// The equal payment at the end of each year that is worth the life-cycle cost.
    pub annual_equivalent: Priced<Money>,
}

impl LifeCycleCost {
    /// Present value of one side of the savings-to-investment ratio.
    pub fn side(&self, side: Side) -> Priced<Money> {
        total(self.categories.iter().filter(|c| c.category.side() == side).map(|c| &c.total))
    }
}

/// Present value of every cost of an alternative (NIST Handbook 135).
///
/// ```
/// use drycoil_economics::*;
/// let study = Study { discount: DiscountRate::per_year(0.15)?, years: YearCount::new(15)? };
/// let machine = Alternative {
///     name: "machine".into(),
///     costs: vec![
///         CostItem::once("price", Category::Investment, Priced::Known(Money::amount(450e3)), YearsAfterBase::BASE),
///         CostItem::annual("upkeep", Category::Maintenance, Priced::Known(Money::amount(27e3))),
///     ],
/// };
/// let cost = life_cycle_cost(&machine, study)?;
/// assert!((cost.total.known().unwrap().value() - 607_879.0).abs() < 1.0);
/// # Ok::<(), EconomicsError>(())
/// ```
///
/// # Errors
/// [`EconomicsError::NoName`], [`EconomicsError::NotFinite`], [`EconomicsError::AfterStudy`],
/// [`EconomicsError::NoSuchYears`], [`EconomicsError::EscalationTooShort`] or [`EconomicsError::OutOfRange`].
pub fn life_cycle_cost(alternative: &Alternative, study: Study) -> Result<LifeCycleCost, EconomicsError> {
    named("alternative", &alternative.name)?;
    let items = alternative
        .costs
        .iter()
        .map(|item| {
            let series = item.terms(&study)?;
            let sign = item.category.sign();
            let present_value = item.amount.map(|amount| *amount * (sign * series.factor));
            Ok(ItemPresentValue { item: item.clone(), series, present_value })
        })
        .collect::<Result<Vec<_>, EconomicsError>>()?;
    let categories = Category::ALL.map(|category| {
        let (known, total) =
            known_and_total(items.iter().filter(|i| i.item.category == category).map(|i| &i.present_value));
        CategoryPresentValue { category, known, total }
    });
    let known = categories.iter().map(|c| c.known).sum();
    let total = total(categories.iter().map(|c| &c.total));
    let capital_recovery = capital_recovery(study.discount, study.years);
    let annual_equivalent = total.map(|money| *money * capital_recovery);
    Ok(LifeCycleCost {
        alternative: alternative.name.clone(),
        study,
        items,
        categories,
        known,
        total,
        capital_recovery,
        annual_equivalent,
    })
}
