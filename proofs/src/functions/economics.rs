//! Life-cycle cost.

use super::Function;
use crate::value::{Found, FunctionError, Given};
use drycoil_economics::{
    Alternative, Category, CostItem, DiscountRate, Escalation, EscalationRate, LifeCycleCost, Money, Payback,
    Priced, Study, YearCount, YearsAfterBase, capital_recovery, compare, escalating_present_value,
    life_cycle_cost, single_present_value, uniform_present_value,
};

pub const FUNCTIONS: &[Function] = &[
    Function {
        id: "economics.factors",
        calls: "drycoil_economics::{single,uniform,escalating}_present_value",
        run: factors,
    },
    Function {
        id: "economics.present_worth",
        calls: "drycoil_economics::life_cycle_cost",
        run: present_worth,
    },
    Function { id: "economics.two_designs", calls: "drycoil_economics::compare", run: two_designs },
];

fn study(given: &Given) -> Result<Study, FunctionError> {
    Ok(Study {
        discount: DiscountRate::per_year(given.plain("discount_rate")?)?,
        years: years(given, "years")?,
    })
}

fn years(given: &Given, name: &str) -> Result<YearCount, FunctionError> {
    let count = given.plain(name)?;
    if count.fract() == 0.0 && (0.0..=1e6).contains(&count) {
        Ok(YearCount::new(count as u32)?)
    } else {
        Err(FunctionError::Case(format!("`{name}`: {count} is not a number of years")))
    }
}

fn money(given: &Given, name: &str) -> Result<Priced<Money>, FunctionError> {
    Ok(Priced::Known(Money::amount(given.plain(name)?)))
}

fn known(money: &Priced<Money>) -> Result<f64, FunctionError> {
    money.known().map(|m| m.value()).ok_or_else(|| FunctionError::Case("something has no price".into()))
}

fn factors(given: &Given) -> Result<Found, FunctionError> {
    let Study { discount, years } = study(given)?;
    let mut found = Found::new()
        .number("single", single_present_value(discount, YearsAfterBase::end_of(years)))
        .number("uniform", uniform_present_value(discount, years))
        .number("capital_recovery", capital_recovery(discount, years));
    if given.has("escalation_rate") {
        let escalation = EscalationRate::per_year(given.plain("escalation_rate")?)?;
        found = found.number("escalating", escalating_present_value(discount, escalation, years));
    }
    Ok(found)
}

/// First cost and what is paid or, negative, earned each year.
fn present_worth(given: &Given) -> Result<Found, FunctionError> {
    let first = money(given, "first_cost")?;
    let yearly = money(given, "cost_per_year")?;
    let costs = vec![
        CostItem::once("first cost", Category::Investment, first, YearsAfterBase::BASE),
        CostItem::annual("each year", Category::Maintenance, yearly),
    ];
    let cost = life_cycle_cost(&Alternative { name: "alternative".into(), costs }, study(given)?)?;
    let present = known(&cost.total)?;
    Ok(Found::new().number("present_cost", present).number("present_worth", -present))
}

/// A design of the two, whose inputs begin with its name.
fn design(given: &Given, name: &str) -> Result<LifeCycleCost, FunctionError> {
    let of = |what: &str| money(given, &format!("{name}_{what}"));
    let study = study(given)?;
    let replaced = YearsAfterBase::end_of(years(given, "replaced_after")?);
    let rise = Escalation::Constant(EscalationRate::per_year(given.plain("energy_escalation")?)?);
    let costs = vec![
        CostItem::once("first cost", Category::Investment, of("first_cost")?, YearsAfterBase::BASE),
        CostItem::once("replacement", Category::Replacement, of("replacement")?, replaced),
        CostItem::once("residual", Category::Residual, of("residual")?, YearsAfterBase::end_of(study.years)),
        CostItem::annual("energy", Category::Energy, of("energy")?).escalating(rise),
        CostItem::annual("upkeep", Category::Maintenance, of("upkeep")?),
    ];
    Ok(life_cycle_cost(&Alternative { name: name.to_owned(), costs }, study)?)
}

fn two_designs(given: &Given) -> Result<Found, FunctionError> {
    let (a, b) = (design(given, "a")?, design(given, "b")?);
    let Priced::Known(c) = compare(&a, &b)? else {
        return Err(FunctionError::Case("something has no price".into()));
    };
    let mut found = Found::new()
        .number("a_cost", known(&a.total)?)
        .number("b_cost", known(&b.total)?)
        .number("net_savings", c.net_savings.value());
    if let Some(ratio) = c.savings_to_investment.value() {
        found = found.number("savings_to_investment", ratio);
    }
    if let Some(rate) = c.adjusted_internal_rate_of_return.value() {
        found = found.number("rate_of_return", rate);
    }
    if let Payback::InYear { year, .. } = c.discounted_payback {
        found = found.number("payback_year", f64::from(year));
    }
    Ok(found)
}
