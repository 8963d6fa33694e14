//! What a year costs and emits: bills by tariff, first costs, life-cycle cost by NIST Handbook 135, emissions.
//!
//! Every price comes from the project. What has none is named and stays unpriced; it is never counted as zero.

use crate::result::{Scheme, SchemeYear, Year};
use drycoil_climate::Calendar as WeatherCalendar;
use drycoil_economics as money;
use drycoil_economics::{
    Alternative, Calendar, CarrierUse, Category, Charge, Comparison, CostItem, DiscountRate, EconomicsError,
    EmissionRate, Escalation, LifeCycleCost, Measure, Money, Payback, Priced, Study, Tariff,
    TariffOnCalendar, Weekday, YearCount, YearKind,
};
use drycoil_project::Project;
use drycoil_sizing::Design;
use drycoil_units::{Energy, Quantity, Time};
use serde::Serialize;

/// Shortest interval over which a bill averages power, s.
const SHORTEST_INTERVAL_S: f64 = 60.0;

/// An amount, or what it lacks. `value` is null as soon as one part has no price.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct AmountRecord {
    /// Sum of everything, in the currency; null when something has no price.
    pub value: Option<f64>,
    /// Sum of what has a price, in the currency.
    pub known: f64,
    /// What has no price.
    pub not_priced: Vec<String>,
}

impl AmountRecord {
    fn new(known: Money, total: &Priced<Money>) -> Self {
        Self {
            value: total.known().map(|m| m.value()),
            known: known.value(),
            not_priced: total.missing().to_vec(),
        }
    }
}

/// Bill of one carrier.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct BillRecord {
    /// `electricity`, `fuel` or `water`.
    pub carrier: String,
    /// Name of the tariff.
    pub tariff: String,
    /// Amount of each month.
    pub months: Vec<AmountRecord>,
    /// Amount of each charge over the year.
    pub charges: Vec<ChargeRecord>,
    /// Amount of the year.
    pub year: AmountRecord,
}

/// One charge of a bill over the year.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ChargeRecord {
    /// Name.
    pub charge: String,
    /// Amount.
    pub amount: AmountRecord,
}

/// A first cost of a scheme.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FirstCost {
    /// What is bought.
    pub item: String,
    /// Quantity and unit price in words; what is missing where there is no price.
    pub basis: String,
    /// Amount in the currency; null without a price.
    pub amount: Option<f64>,
}

/// Emissions of one carrier.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CarrierEmissionRecord {
    /// Carrier.
    pub carrier: String,
    /// Mass emitted, kg; null where the project gives no factor.
    pub mass_kg: Option<f64>,
}

/// Cost and emissions of a scheme.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SchemeCost {
    /// Scheme.
    pub scheme: Scheme,
    /// Bills.
    pub bills: Vec<BillRecord>,
    /// Energy and water of the year.
    pub yearly: AmountRecord,
    /// First costs.
    pub first_costs: Vec<FirstCost>,
    /// Sum of the first costs.
    pub first: AmountRecord,
    /// Present value of everything over the study; null without discount rate or study period.
    pub life_cycle: Option<AmountRecord>,
    /// Present value of the bills alone; null without discount rate or study period.
    pub life_cycle_of_bills: Option<AmountRecord>,
    /// Emissions by carrier.
    pub emissions: Vec<CarrierEmissionRecord>,
    /// Emissions of the year, kg; null when a carrier has no factor.
    pub emissions_kg: Option<f64>,
}

/// The decoupled scheme against the all-air scheme as the base case.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LifeCycleComparison {
    /// Life-cycle cost of the base case less that of the alternative.
    pub net_savings: f64,
    /// Present value of lower running cost.
    pub operating_savings: f64,
    /// Present value of added investment.
    pub added_investment: f64,
    /// Savings-to-investment ratio; null where no added investment exists.
    pub savings_to_investment: Option<f64>,
    /// Adjusted internal rate of return per year; null where it does not exist.
    pub adjusted_internal_rate_of_return: Option<f64>,
    /// Years to simple payback; null where nothing is to be paid back or it never is.
    pub simple_payback_years: Option<f64>,
    /// Years to discounted payback; null where nothing is to be paid back or it never is.
    pub discounted_payback_years: Option<f64>,
    /// What the ratio and the paybacks that are null stand for.
    pub remarks: Vec<String>,
}

/// Cost and emissions of the simulated schemes.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Economy {
    /// Word for the currency.
    pub currency: String,
    /// Real discount rate per year; null when not given.
    pub discount_rate: Option<f64>,
    /// Length of the study, years; null when not given.
    pub study_years: Option<u32>,
    /// One entry for each simulated scheme.
    pub schemes: Vec<SchemeCost>,
    /// Measures of the decoupled scheme against the all-air scheme; null unless both are simulated and all is priced.
    pub comparison: Option<LifeCycleComparison>,
    /// First cost that the decoupled scheme may have above the all-air scheme before its life-cycle cost is higher,
    /// from the bills alone; negative when its bills are higher; null unless both schemes' bills are priced.
    pub break_even_added_first_cost: Option<f64>,
}

impl Economy {
    /// Cost of a scheme.
    pub fn scheme(&self, scheme: Scheme) -> Option<&SchemeCost> {
        self.schemes.iter().find(|s| s.scheme == scheme)
    }
}

/// What the project says about prices, in the terms of the sums.
#[derive(Debug, Clone)]
struct Prices {
    electricity: Tariff,
    fuel: Tariff,
    electricity_rate: EmissionRate,
    fuel_rate: EmissionRate,
    electricity_rise: Escalation,
    fuel_rise: Escalation,
    study: Option<Study>,
}

impl Prices {
    fn new(project: &Project) -> Result<Self, EconomicsError> {
        let e = &project.economics;
        let flat = |name: &str, price: Option<drycoil_units::EnergyPrice>| Tariff {
            name: name.to_owned(),
            charges: vec![Charge::flat("energy", Priced::from_option(price, "price"))],
        };
        let study = match (&e.discount_rate, &e.life) {
            (Some(rate), Some(life)) => Some(Study {
                discount: DiscountRate::per_year(rate.value.to_ratio())?,
                years: YearCount::new((life.value.si() / SECONDS_A_YEAR).round() as u32)?,
            }),
            _ => None,
        };
        Ok(Self {
            electricity: flat("electricity", e.electricity.as_ref().map(|p| p.value)),
            fuel: flat("fuel", e.fuel.as_ref().map(|p| p.value)),
            electricity_rate: EmissionRate::NotGiven,
            fuel_rate: EmissionRate::NotGiven,
            electricity_rise: Escalation::None,
            fuel_rise: Escalation::None,
            study,
        })
    }
}

const SECONDS_A_YEAR: f64 = 365.0 * 86_400.0;

/// The calendar of bills: the weather year with the project's weekdays and holidays, in intervals of this length.
fn calendar(project: &Project, hours: usize, interval_s: f64) -> Result<Calendar, EconomicsError> {
    const DAYS: [Weekday; 7] = [
        Weekday::Monday,
        Weekday::Tuesday,
        Weekday::Wednesday,
        Weekday::Thursday,
        Weekday::Friday,
        Weekday::Saturday,
        Weekday::Sunday,
    ];
    let kind = match WeatherCalendar::from_hours(hours) {
        Some(WeatherCalendar::Leap) => YearKind::Leap,
        _ => YearKind::Common,
    };
    Calendar::of_year(
        kind,
        DAYS[usize::from(project.site.first_weekday.value) % 7],
        &project.site.holidays.value,
        Time::from_si(interval_s),
    )
}

/// Means over whole groups of values.
fn coarser(values: &[f64], group: usize) -> Vec<f64> {
    values.chunks(group).map(|c| c.iter().sum::<f64>() / c.len() as f64).collect()
}

fn energies(power_w: &[f64], interval_s: f64) -> Vec<Energy> {
    power_w.iter().map(|w| Energy::from_si(w * interval_s)).collect()
}

/// Cost and emissions of every simulated scheme.
///
/// # Errors
/// Prices that the sums refuse: a rate out of range, a study that is no whole number of years from 1 to 200.
pub fn economy(project: &Project, design: &Design, year: &Year) -> Result<Economy, EconomicsError> {
    let prices = Prices::new(project)?;
    let mut schemes = Vec::new();
    let mut costs: Vec<LifeCycleCost> = Vec::new();
    for scheme in &year.schemes {
        let (record, cost) = scheme_cost(project, design, year, scheme, &prices)?;
        schemes.push(record);
        costs.extend(cost);
    }
    let find = |s: Scheme| costs.iter().find(|c| c.alternative == s.word());
    let comparison = match (find(Scheme::AllAir), find(Scheme::Decoupled)) {
        (Some(base), Some(alternative)) => match money::compare(base, alternative)? {
            Priced::Known(c) => Some(comparison_record(&c)),
            Priced::NotPriced(_) => None,
        },
        _ => None,
    };
    let of_bills = |s: Scheme| {
        let c = schemes.iter().find(|c: &&SchemeCost| c.scheme == s)?;
        c.life_cycle_of_bills.as_ref()?.value
    };
    let break_even = match (of_bills(Scheme::AllAir), of_bills(Scheme::Decoupled)) {
        (Some(all_air), Some(decoupled)) => Some(all_air - decoupled),
        _ => None,
    };
    Ok(Economy {
        currency: project.economics.currency.value.clone(),
        discount_rate: prices.study.map(|s| s.discount.share()),
        study_years: prices.study.map(|s| s.years.count()),
        schemes,
        comparison,
        break_even_added_first_cost: break_even,
    })
}

fn scheme_cost(
    project: &Project,
    design: &Design,
    year: &Year,
    scheme: &SchemeYear,
    prices: &Prices,
) -> Result<(SchemeCost, Option<LifeCycleCost>), EconomicsError> {
    let group = (SHORTEST_INTERVAL_S / year.step_s).ceil().max(1.0) as usize;
    let interval_s = year.step_s * group as f64;
    let fine = calendar(project, year.hours, interval_s)?;
    let hourly = calendar(project, year.hours, 3600.0)?;
    let electricity = energies(&coarser(&scheme.electricity_by_step_w, group), interval_s);
    let fuel = energies(&scheme.hourly.fuel_w, 3600.0);

    let electricity_bill = TariffOnCalendar::new(&prices.electricity, &fine)?.bill(&electricity)?;
    let fuel_bill = TariffOnCalendar::new(&prices.fuel, &hourly)?.bill(&fuel)?;
    let mut bills = vec![("electricity", electricity_bill, &prices.electricity, &prices.electricity_rise)];
    // A carrier that is never used needs no price.
    if fuel_bill.energy.si() > 0.0 {
        bills.push(("fuel", fuel_bill, &prices.fuel, &prices.fuel_rise));
    }
    let items: Vec<CostItem> = bills
        .iter()
        .map(|(carrier, bill, _, rise)| {
            CostItem::annual(carrier, Category::Energy, bill.total.clone()).escalating((*rise).clone())
        })
        .collect();
    let yearly_known = bills.iter().map(|(_, b, ..)| b.known).sum();
    let totals: Vec<Priced<Money>> = bills.iter().map(|(_, b, ..)| b.total.clone()).collect();
    let yearly = AmountRecord::new(yearly_known, &money::total(&totals));

    let first_costs = first_costs(project, design, scheme.scheme);
    let priced: Vec<Priced<Money>> = first_costs
        .iter()
        .map(|f| Priced::from_option(f.amount.map(Money::amount), f.item.clone()))
        .collect();
    let first_known = priced.iter().filter_map(Priced::known).copied().sum();
    let first = AmountRecord::new(first_known, &money::total(&priced));

    let (life_cycle, life_cycle_of_bills, cost) = match prices.study {
        None => (None, None, None),
        Some(study) => {
            let of = |costs: Vec<CostItem>| {
                money::life_cycle_cost(&Alternative { name: scheme.scheme.word().to_owned(), costs }, study)
            };
            let running = of(items.clone())?;
            let mut all: Vec<CostItem> = first_costs
                .iter()
                .zip(&priced)
                .map(|(f, p)| {
                    CostItem::once(&f.item, Category::Investment, p.clone(), money::YearsAfterBase::BASE)
                })
                .collect();
            all.extend(items);
            let whole = of(all)?;
            (
                Some(AmountRecord::new(whole.known, &whole.total)),
                Some(AmountRecord::new(running.known, &running.total)),
                Some(whole),
            )
        }
    };

    let uses = [
        CarrierUse { carrier: "electricity", energy: &electricity, rate: &prices.electricity_rate },
        CarrierUse { carrier: "fuel", energy: &fuel, rate: &prices.fuel_rate },
    ];
    let used: Vec<CarrierUse<'_>> =
        uses.into_iter().filter(|u| u.energy.iter().any(|e| e.si() > 0.0)).collect();
    let emitted = money::emissions(&used)?;
    let record = SchemeCost {
        scheme: scheme.scheme,
        bills: bills.iter().map(|(carrier, bill, tariff, _)| bill_record(carrier, bill, tariff)).collect(),
        yearly,
        first_costs,
        first,
        life_cycle,
        life_cycle_of_bills,
        emissions: emitted
            .carriers
            .iter()
            .map(|c| CarrierEmissionRecord { carrier: c.carrier.clone(), mass_kg: c.mass.map(Quantity::si) })
            .collect(),
        emissions_kg: emitted.total.map(Quantity::si),
    };
    Ok((record, cost))
}

fn bill_record(carrier: &str, bill: &money::Bill, tariff: &Tariff) -> BillRecord {
    BillRecord {
        carrier: carrier.to_owned(),
        tariff: bill.tariff.clone(),
        months: bill.months.iter().map(|m| AmountRecord::new(m.known, &m.total)).collect(),
        charges: tariff
            .charges
            .iter()
            .enumerate()
            .map(|(index, charge)| {
                let (known, total) = bill.of_charge(index);
                ChargeRecord { charge: charge.name.clone(), amount: AmountRecord::new(known, &total) }
            })
            .collect(),
        year: AmountRecord::new(bill.known, &bill.total),
    }
}

/// What a scheme buys first. Both lists name the same kinds of thing, so that one price is never set against nothing.
fn first_costs(project: &Project, design: &Design, scheme: Scheme) -> Vec<FirstCost> {
    let e = &project.economics;
    let priced = |item: &str, quantity: f64, unit: &str, price: Option<f64>| FirstCost {
        item: item.to_owned(),
        basis: match price {
            Some(p) => format!("{quantity:.4} {unit} at {p} each"),
            None => format!("{quantity:.4} {unit}, no price"),
        },
        amount: price.map(|p| p * quantity),
    };
    let open =
        |item: &str, why: &str| FirstCost { item: item.to_owned(), basis: why.to_owned(), amount: None };
    match scheme {
        Scheme::Decoupled => {
            let unit = design.primary_unit.unit_m3_per_s * f64::from(design.primary_unit.units);
            let plant: f64 = design
                .plant
                .arrangements
                .iter()
                .filter(|a| a.chosen)
                .flat_map(|a| &a.chillers)
                .map(|c| c.capacity_w * f64::from(c.count))
                .sum();
            let terminals: f64 = design.terminals.iter().map(|t| f64::from(t.units)).sum();
            let apart: f64 =
                design.terminals.iter().filter(|t| t.supplementary_m3_per_s > 0.0).count() as f64;
            let mut out = vec![
                priced(
                    "primary-air units",
                    unit,
                    "m3/s",
                    e.primary_air_per_m3_per_s.as_ref().map(|p| p.value),
                ),
                priced(
                    "terminals with controls",
                    terminals,
                    "terminals",
                    e.terminal_each.as_ref().map(|p| p.value),
                ),
                priced("cooling plant", plant, "W", e.cooling_plant_per_watt.as_ref().map(|p| p.value)),
            ];
            if apart > 0.0 {
                out.push(priced(
                    "supplementary primary-air boxes",
                    apart,
                    "boxes",
                    e.separate_service_each.as_ref().map(|p| p.value),
                ));
            }
            out.push(open("heating plant of the decoupled scheme", "no price"));
            out.push(open("ducts of the decoupled scheme", "no price"));
            out.push(open("water pipes of the decoupled scheme", "no price"));
            out
        }
        Scheme::AllAir => vec![
            open("air handlers", "no price"),
            open("boxes with reheat and controls", "no price"),
            open("cooling plant of the all-air scheme", "no price"),
            open("heating plant of the all-air scheme", "no price"),
            open("ducts of the all-air scheme", "no price"),
            open("water pipes of the all-air scheme", "no price"),
        ],
    }
}

fn comparison_record(c: &Comparison) -> LifeCycleComparison {
    let mut remarks = Vec::new();
    let mut measure = |what: &str, m: Measure| match m {
        Measure::Value(v) => Some(v),
        Measure::NoAddedInvestment => {
            remarks.push(format!("{what}: no added investment"));
            None
        }
        Measure::NoSavings => {
            remarks.push(format!("{what}: no savings"));
            None
        }
    };
    let savings_to_investment = measure("savings-to-investment ratio", c.savings_to_investment);
    let rate = measure("adjusted internal rate of return", c.adjusted_internal_rate_of_return);
    let mut back = |what: &str, p: Payback| match p {
        Payback::InYear { years, .. } => Some(years),
        Payback::NothingToPayBack => {
            remarks.push(format!("{what}: nothing to pay back"));
            None
        }
        Payback::NotWithinStudy { .. } => {
            remarks.push(format!("{what}: not within the study"));
            None
        }
    };
    let simple_payback_years = back("simple payback", c.simple_payback);
    let discounted_payback_years = back("discounted payback", c.discounted_payback);
    LifeCycleComparison {
        net_savings: c.net_savings.value(),
        operating_savings: c.operating_savings.value(),
        added_investment: c.added_investment.value(),
        savings_to_investment,
        adjusted_internal_rate_of_return: rate,
        simple_payback_years,
        discounted_payback_years,
        remarks,
    }
}
