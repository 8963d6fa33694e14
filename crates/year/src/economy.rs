//! What a year costs and emits: bills by tariff, first costs, life-cycle cost by NIST Handbook 135, emissions.
//!
//! Every price comes from the project. What has none is named and stays unpriced; it is never counted as zero.

use crate::plant::all_air_design::AllAirDesign;
use crate::result::{Scheme, SchemeYear, Year};
use drycoil_climate::Calendar as WeatherCalendar;
use drycoil_economics as money;
use drycoil_economics::{
    Alternative, Before, Calendar, CarrierUse, Category, Charge, ChargeKind, Comparison, CostItem, DayTypes,
    Demand, DemandPrice, DiscountRate, EconomicsError, EmissionFactor, EmissionRate, Escalation,
    EscalationRate, Hours, LifeCycleCost, Measure, Money, Months, Payback, Period, Priced, Ratchet, Study,
    Tariff, TariffOnCalendar, Times, Weekday, Window, YearCount, YearKind,
};
use drycoil_project::{EmissionInput, Project, RateBasis, TariffDays, TariffInput, TariffWindow};
use drycoil_sizing::{Design, Service};
use drycoil_units::{Energy, EnergyPrice, Fraction, Quantity, STANDARD_AIR_DENSITY_KG_PER_M3, Time};
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
    /// `electricity` or `fuel`.
    pub carrier: String,
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
    /// What is bought, with the scheme.
    pub item: String,
    /// How much; null when the sizing does not say.
    pub quantity: Option<f64>,
    /// Unit of the quantity, SI, or `each`.
    pub unit: String,
    /// Price of one; null without a price.
    pub unit_price: Option<f64>,
    /// Amount in the currency; null without quantity or price.
    pub amount: Option<f64>,
    /// Years that it lasts; null when it lasts as long as the study.
    pub life_years: Option<u32>,
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
    /// Energy of the year.
    pub yearly_energy: AmountRecord,
    /// Water and maintenance of the year.
    pub yearly_other: AmountRecord,
    /// First costs.
    pub first_costs: Vec<FirstCost>,
    /// Sum of the first costs.
    pub first: AmountRecord,
    /// Present value of everything over the study; null without discount rate or study period.
    pub life_cycle: Option<AmountRecord>,
    /// Present value of the energy alone; null without discount rate or study period.
    pub life_cycle_of_energy: Option<AmountRecord>,
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
    /// Where the emission factors come from; null when the project does not say.
    pub emission_source: Option<String>,
    /// One entry for each simulated scheme.
    pub schemes: Vec<SchemeCost>,
    /// Measures of the decoupled scheme against the all-air scheme; null unless both are simulated and all is priced.
    pub comparison: Option<LifeCycleComparison>,
    /// First cost that the decoupled scheme may have above the all-air scheme before its life-cycle cost is higher,
    /// from energy alone; negative when its energy costs more; null unless both schemes' energy is priced.
    pub break_even_added_first_cost: Option<f64>,
}

impl Economy {
    /// Cost of a scheme.
    pub fn scheme(&self, scheme: Scheme) -> Option<&SchemeCost> {
        self.schemes.iter().find(|s| s.scheme == scheme)
    }
}

/// What the project says about prices, in the terms of the sums. Rates are real: nominal ones are freed from inflation.
#[derive(Debug, Clone)]
struct Prices {
    electricity: Tariff,
    fuel: Tariff,
    electricity_rise: Escalation,
    fuel_rise: Escalation,
    water_rise: Escalation,
    upkeep_rise: Escalation,
    study: Option<Study>,
}

impl Prices {
    fn new(project: &Project) -> Result<Self, EconomicsError> {
        let e = &project.economics;
        let inflation = match e.rates.value {
            RateBasis::Real => 0.0,
            RateBasis::Nominal => e.inflation.as_ref().map_or(0.0, |i| i.value.to_ratio()),
        };
        let real = |rate: Fraction| (1.0 + rate.to_ratio()) / (1.0 + inflation) - 1.0;
        let rise = |rate: Fraction| -> Result<Escalation, EconomicsError> {
            Ok(Escalation::Constant(EscalationRate::per_year(real(rate))?))
        };
        let study = match (&e.discount_rate, &e.life) {
            (Some(rate), Some(life)) => {
                Some(Study { discount: DiscountRate::per_year(real(rate.value))?, years: years(life.value)? })
            }
            _ => None,
        };
        let flat = |own: &Option<drycoil_project::Sourced<EnergyPrice>>, tariff: &TariffInput| {
            own.as_ref().or(tariff.flat.as_ref()).map(|p| p.value)
        };
        Ok(Self {
            electricity: tariff(
                "electricity",
                flat(&e.electricity, &e.electricity_tariff),
                &e.electricity_tariff,
            )?,
            fuel: tariff("fuel", flat(&e.fuel, &e.fuel_tariff), &e.fuel_tariff)?,
            electricity_rise: rise(e.electricity_escalation.value)?,
            fuel_rise: rise(e.fuel_escalation.value)?,
            water_rise: rise(e.water_escalation.value)?,
            upkeep_rise: rise(e.maintenance_escalation.value)?,
            study,
        })
    }
}

fn years(time: Time) -> Result<YearCount, EconomicsError> {
    YearCount::new((time.si() / SECONDS_A_YEAR).round() as u32)
}

fn window(w: &TariffWindow) -> Result<Window, EconomicsError> {
    Ok(Window {
        months: Months::from_to(w.first_month as u8, w.last_month as u8)?,
        days: match w.days {
            TariffDays::All => DayTypes::ALL,
            TariffDays::Workdays => DayTypes::WORKDAYS,
            TariffDays::FreeDays => DayTypes::FREE_DAYS,
        },
        hours: Hours::from_to(w.from_hour as u8, w.to_hour as u8)?,
    })
}

/// The tariff of a carrier as the project writes it.
fn tariff(name: &str, flat: Option<EnergyPrice>, input: &TariffInput) -> Result<Tariff, EconomicsError> {
    let mut charges = Vec::new();
    if input.periods.is_empty() {
        charges.push(Charge::flat("energy", Priced::from_option(flat, "price")));
    } else {
        let mut periods: Vec<Period> = input
            .periods
            .iter()
            .map(|p| {
                Ok(Period {
                    name: p.name.clone(),
                    times: Times::Within(vec![window(&p.window)?]),
                    price: Priced::Known(p.price.value),
                })
            })
            .collect::<Result<_, EconomicsError>>()?;
        if input.needs_flat() {
            periods.push(Period {
                name: "other hours".to_owned(),
                times: Times::Otherwise,
                price: Priced::from_option(flat, "price of other hours"),
            });
        }
        charges.push(Charge { name: "energy".to_owned(), kind: ChargeKind::Energy(periods) });
    }
    for d in &input.demand {
        let ratchet = d.ratchet.map(|share| Ratchet {
            share,
            look_back: d.ratchet_months as u8,
            set_in: Months::ALL,
            before: Before::SameYear,
        });
        charges.push(Charge {
            name: d.name.clone(),
            kind: ChargeKind::Demand(Demand {
                window: window(&d.window)?,
                average_over: d.average_over,
                price: Priced::Known(DemandPrice::per_kw_month(d.price_per_watt_month.value * 1000.0)),
                minimum: d.minimum,
                ratchet,
            }),
        });
    }
    if let Some(m) = &input.monthly {
        charges.push(Charge::monthly("each month", Priced::Known(Money::amount(m.value))));
    }
    Ok(Tariff { name: name.to_owned(), charges })
}

/// The emission factor of a carrier on the calendar of its energy.
fn emission_rate(input: &EmissionInput, calendar: &Calendar) -> Result<EmissionRate, EconomicsError> {
    let factor = |kg_per_j: f64| EmissionFactor::per_kwh(kg_per_j * 3.6e6);
    Ok(match input {
        EmissionInput::NotGiven => EmissionRate::NotGiven,
        EmissionInput::Constant(f) => EmissionRate::Constant(factor(f.value)?),
        EmissionInput::ByMonthAndHour(table) => {
            let mut factors = [[factor(0.0)?; 24]; 12];
            for (row, values) in factors.iter_mut().zip(table.iter()) {
                for (cell, value) in row.iter_mut().zip(values) {
                    *cell = factor(*value)?;
                }
            }
            EmissionRate::by_month_and_hour(calendar, &factors)
        }
    })
}

const SECONDS_A_YEAR: f64 = 365.0 * 86_400.0;

/// What the all-air scheme buys, from its own sizing.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct AllAirQuantities {
    /// Air handlers, standard m3/s in all.
    pub air_handlers_m3_per_s: f64,
    /// Boxes.
    pub boxes: f64,
    /// Chillers, W in all.
    pub cooling_w: f64,
    /// Tower, W rejected.
    pub tower_w: f64,
    /// Heating plant, W in all.
    pub heating_w: f64,
    /// Pumps.
    pub pumps: f64,
}

impl AllAirQuantities {
    /// The quantities of a sized all-air scheme.
    pub fn of(design: &AllAirDesign) -> Self {
        let water = &design.water;
        let bank = |b: &crate::plant::water_plant::BankDesign| f64::from(b.count) * b.capacity_w;
        let pumps = [
            water.coil_pump,
            water.sensible_pump,
            water.cold_pump,
            water.warm_pump,
            water.condenser_pump,
            water.hot_pump,
        ];
        Self {
            air_handlers_m3_per_s: design.largest_kg_per_s / STANDARD_AIR_DENSITY_KG_PER_M3,
            boxes: design.boxes.iter().filter(|b| b.largest_kg_per_s > 0.0).count() as f64,
            cooling_w: bank(&water.cold) + water.warm.as_ref().map_or(0.0, bank),
            tower_w: water.tower_heat_w,
            heating_w: water.heating_w,
            pumps: pumps.iter().filter(|p| p.flow_m3_per_s > 0.0).count() as f64,
        }
    }
}

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

/// Cost and emissions of every simulated scheme. Without the quantities of the all-air scheme its first costs are not
/// priced.
///
/// # Errors
/// Prices that the sums refuse: a rate out of range, a study that is no whole number of years from 1 to 200, demand that
/// is averaged over less than a step.
pub fn economy(
    project: &Project,
    design: &Design,
    all_air: Option<&AllAirQuantities>,
    year: &Year,
) -> Result<Economy, EconomicsError> {
    let prices = Prices::new(project)?;
    let mut schemes = Vec::new();
    let mut costs: Vec<LifeCycleCost> = Vec::new();
    for scheme in &year.schemes {
        let first = first_costs(project, design, all_air, scheme.scheme);
        let (record, cost) = scheme_cost(project, year, scheme, first, &prices)?;
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
    let of_energy = |s: Scheme| {
        let c = schemes.iter().find(|c: &&SchemeCost| c.scheme == s)?;
        c.life_cycle_of_energy.as_ref()?.value
    };
    let break_even = match (of_energy(Scheme::AllAir), of_energy(Scheme::Decoupled)) {
        (Some(all_air), Some(decoupled)) => Some(all_air - decoupled),
        _ => None,
    };
    Ok(Economy {
        currency: project.economics.currency.value.clone(),
        discount_rate: prices.study.map(|s| s.discount.share()),
        study_years: prices.study.map(|s| s.years.count()),
        emission_source: project.economics.emission_source.as_ref().map(|s| s.value.clone()),
        schemes,
        comparison,
        break_even_added_first_cost: break_even,
    })
}

fn amount_of(parts: &[Priced<Money>]) -> AmountRecord {
    AmountRecord::new(parts.iter().filter_map(Priced::known).copied().sum(), &money::total(parts))
}

fn scheme_cost(
    project: &Project,
    year: &Year,
    scheme: &SchemeYear,
    first_costs: Vec<FirstCost>,
    prices: &Prices,
) -> Result<(SchemeCost, Option<LifeCycleCost>), EconomicsError> {
    let group = (SHORTEST_INTERVAL_S / year.step_s).ceil().max(1.0) as usize;
    let interval_s = year.step_s * group as f64;
    let fine = calendar(project, year.hours, interval_s)?;
    let hourly = calendar(project, year.hours, 3600.0)?;
    let electricity = energies(&coarser(&scheme.electricity_by_step_w, group), interval_s);
    let fuel = energies(&scheme.hourly.fuel_w, 3600.0);
    let e = &project.economics;

    let electricity_bill = TariffOnCalendar::new(&prices.electricity, &fine)?.bill(&electricity)?;
    let fuel_bill = TariffOnCalendar::new(&prices.fuel, &hourly)?.bill(&fuel)?;
    let mut bills = vec![bill_record("electricity", &electricity_bill, &prices.electricity)];
    let mut energy = vec![("electricity", electricity_bill.total, &prices.electricity_rise)];
    // A carrier that is never used needs no price.
    if fuel_bill.energy.si() > 0.0 {
        bills.push(bill_record("fuel", &fuel_bill, &prices.fuel));
        energy.push(("fuel", fuel_bill.total, &prices.fuel_rise));
    }
    let energy_items: Vec<CostItem> = energy
        .iter()
        .map(|(carrier, total, rise)| {
            CostItem::annual(carrier, Category::Energy, total.clone()).escalating((*rise).clone())
        })
        .collect();
    let energy_known: f64 = bills.iter().map(|b| b.year.known).sum();
    let energy_totals: Vec<Priced<Money>> = energy.into_iter().map(|(_, total, _)| total).collect();
    let yearly_energy = AmountRecord::new(Money::amount(energy_known), &money::total(&energy_totals));

    let mut other = Vec::new();
    if scheme.water_kg() > 0.0 {
        // A cubic metre of water taken as 1000 kg, as meters and bills do.
        let price = e.water_per_m3.as_ref().map(|p| Money::amount(p.value * scheme.water_kg() / 1000.0));
        other.push(
            CostItem::annual("water", Category::Water, Priced::from_option(price, "water"))
                .escalating(prices.water_rise.clone()),
        );
    }
    let (maintenance, name) = match scheme.scheme {
        Scheme::Decoupled => (&e.decoupled_maintenance, "maintenance of the decoupled scheme"),
        Scheme::AllAir => (&e.all_air_maintenance, "maintenance of the all-air scheme"),
    };
    let upkeep = Priced::from_option(maintenance.as_ref().map(|m| Money::amount(m.value)), name);
    other.push(CostItem::annual(name, Category::Maintenance, upkeep).escalating(prices.upkeep_rise.clone()));
    let other_amounts: Vec<Priced<Money>> = other.iter().map(|i| i.amount.clone()).collect();
    let yearly_other = amount_of(&other_amounts);

    let priced: Vec<Priced<Money>> = first_costs
        .iter()
        .map(|f| Priced::from_option(f.amount.map(Money::amount), f.item.clone()))
        .collect();
    let first = amount_of(&priced);

    let (life_cycle, life_cycle_of_energy, cost) = match prices.study {
        None => (None, None, None),
        Some(study) => {
            let of = |costs: Vec<CostItem>| {
                money::life_cycle_cost(&Alternative { name: scheme.scheme.word().to_owned(), costs }, study)
            };
            let running = of(energy_items.clone())?;
            let mut all = Vec::new();
            for (f, p) in first_costs.iter().zip(&priced) {
                let items = match f.life_years {
                    Some(life) => money::equipment(&f.item, p, YearCount::new(life)?, study.years)?,
                    None => vec![CostItem::once(
                        &f.item,
                        Category::Investment,
                        p.clone(),
                        money::YearsAfterBase::BASE,
                    )],
                };
                // What is bought at the base date costs what it costs; later purchases follow the price of upkeep.
                all.extend(items.into_iter().map(|i| match i.category {
                    Category::Investment => i,
                    _ => i.escalating(prices.upkeep_rise.clone()),
                }));
            }
            all.extend(energy_items);
            all.extend(other);
            let whole = of(all)?;
            (
                Some(AmountRecord::new(whole.known, &whole.total)),
                Some(AmountRecord::new(running.known, &running.total)),
                Some(whole),
            )
        }
    };

    let electricity_rate = emission_rate(&e.electricity_emissions, &fine)?;
    let fuel_rate = emission_rate(&e.fuel_emissions, &hourly)?;
    let uses = [
        CarrierUse { carrier: "electricity", energy: &electricity, rate: &electricity_rate },
        CarrierUse { carrier: "fuel", energy: &fuel, rate: &fuel_rate },
    ];
    let used: Vec<CarrierUse<'_>> =
        uses.into_iter().filter(|u| u.energy.iter().any(|e| e.si() > 0.0)).collect();
    let emitted = money::emissions(&used)?;
    let record = SchemeCost {
        scheme: scheme.scheme,
        bills,
        yearly_energy,
        yearly_other,
        first_costs,
        first,
        life_cycle,
        life_cycle_of_energy,
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

/// Sheet of duct mains of a scheme: perimeter over the length of each main, m2; none where a main fits no listed size.
fn duct_sheet_m2(project: &Project, design: &Design, scheme: Scheme) -> Option<f64> {
    let length = project.ducts.main_length.value.to_metres();
    let mains = design.ducts.mains.iter().filter(|m| m.scheme == scheme.word());
    let sheet: f64 = mains.map(|m| 2.0 * (m.width_m + m.height_m) * length).sum();
    sheet.is_finite().then_some(sheet)
}

/// What a scheme buys first. Both lists name the same kinds of thing, so that one price is never set against nothing.
fn first_costs(
    project: &Project,
    design: &Design,
    all_air: Option<&AllAirQuantities>,
    scheme: Scheme,
) -> Vec<FirstCost> {
    type Price<'a> = &'a Option<drycoil_project::Sourced<f64>>;
    type Life<'a> = &'a Option<drycoil_project::Sourced<Time>>;
    let e = &project.economics;
    let f = &e.first_costs;
    let lives = &e.lives;
    let item = |name: &str, quantity: Option<f64>, unit: &str, price: Price<'_>, life: Life<'_>| {
        let amount = quantity.zip(price.as_ref()).map(|(q, p)| q * p.value);
        FirstCost {
            item: format!("{name} of the {} scheme", scheme.word()),
            quantity,
            unit: unit.to_owned(),
            unit_price: price.as_ref().map(|p| p.value),
            amount,
            life_years: life.as_ref().map(|l| (l.value.si() / SECONDS_A_YEAR).round() as u32),
        }
    };
    let served: f64 = project
        .rooms
        .iter()
        .zip(&design.needs)
        .filter(|(_, n)| !matches!(n.service, Service::OffSystem))
        .map(|(r, _)| r.floor_area.value.to_square_metres())
        .sum();
    let zones = design.terminals.len() as f64;
    let mut out = Vec::new();
    let (cooling, tower, heating, pumps);
    match scheme {
        Scheme::Decoupled => {
            let unit = design.primary_unit.unit_m3_per_s * f64::from(design.primary_unit.units);
            out.push(item(
                "primary-air units",
                Some(unit),
                "m3/s",
                &e.primary_air_per_m3_per_s,
                &lives.air_units,
            ));
            let units: f64 = design.terminals.iter().map(|t| f64::from(t.units)).sum();
            out.push(item("terminals", Some(units), "each", &e.terminal_each, &lives.terminals));
            let apart = design.terminals.iter().filter(|t| t.supplementary_m3_per_s > 0.0).count();
            if apart > 0 {
                out.push(item(
                    "supplementary primary-air boxes",
                    Some(apart as f64),
                    "each",
                    &e.separate_service_each,
                    &lives.terminals,
                ));
            }
            let chosen = design.plant.arrangements.iter().find(|a| a.chosen);
            cooling =
                chosen.map(|a| a.chillers.iter().map(|c| c.capacity_w * f64::from(c.count)).sum::<f64>());
            tower = Some(design.plant.tower_heat_w);
            heating = Some(design.plant.heating.capacity_w * f64::from(design.plant.heating.count));
            pumps = chosen.map(|a| a.pumps.len() as f64 + 1.0);
        }
        Scheme::AllAir => {
            let q = |f: fn(&AllAirQuantities) -> f64| all_air.map(f);
            let flow = q(|a| a.air_handlers_m3_per_s);
            out.push(item("air handlers", flow, "m3/s", &f.air_handler_per_m3_per_s, &lives.air_units));
            out.push(item("boxes", q(|a| a.boxes), "each", &f.box_each, &lives.terminals));
            cooling = q(|a| a.cooling_w);
            tower = q(|a| a.tower_w);
            heating = q(|a| a.heating_w);
            pumps = q(|a| a.pumps);
        }
    }
    if f.controls_each.is_some() {
        let count = match scheme {
            Scheme::Decoupled => Some(zones),
            Scheme::AllAir => all_air.map(|a| a.boxes),
        };
        out.push(item("controls", count, "each", &f.controls_each, &lives.terminals));
    }
    out.push(item("cooling plant", cooling, "W", &e.cooling_plant_per_watt, &lives.plant));
    if f.tower_per_watt.is_some() {
        out.push(item("tower", tower, "W", &f.tower_per_watt, &lives.plant));
    }
    out.push(item("heating plant", heating, "W", &f.heating_plant_per_watt, &lives.plant));
    out.push(item("pumps", pumps, "each", &f.pump_each, &lives.plant));
    let sheet = duct_sheet_m2(project, design, scheme);
    out.push(item("duct mains", sheet, "m2", &f.duct_per_m2, &lives.distribution));
    // The same floor in both: to coils and heaters of terminals there, to heaters of boxes here. One price for both
    // favours neither; a project that knows better prices the pipes as part of terminals and boxes.
    out.push(item("pipes", Some(served), "m2", &f.pipes_per_m2, &lives.distribution));
    out
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
