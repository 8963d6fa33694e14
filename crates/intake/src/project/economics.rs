//! `[economics]`: prices, tariffs, rates, emission factors.

use super::keys;
use super::section::Section;
use super::spec::{KeySpec, Problem};
use drycoil_findings::registry::project as pf;
use drycoil_project::{
    DemandCharge, Economics, EmissionInput, FirstCostInput, Lives, PricePeriod, RateBasis, TariffDays,
    TariffInput, TariffWindow,
};
use drycoil_units::EnergyPrice;
use drycoil_working::Sourced;

/// Joules in a kilowatt-hour.
const KWH_J: f64 = 3.6e6;

pub(crate) fn read(s: &mut Section<'_, '_>) -> Economics {
    let electricity = s.quantity_if::<EnergyPrice>("electricity");
    let fuel = s.quantity_if::<EnergyPrice>("fuel");
    let rates = s.choice("rates", &[RateBasis::Real, RateBasis::Nominal]);
    let inflation = s.quantity_if("inflation");
    if rates.value == RateBasis::Nominal && s.raw("inflation").is_none() {
        s.refuse(
            "rates",
            Problem::new(pf::MISSING_KEY, "`inflation` is missing: nominal rates need it")
                .hint("add `inflation`, or use rates above general inflation with `rates = \"real\"`"),
        );
    }
    let source = s.text_if("emission_source");
    for key in ["electricity_emissions", "electricity_emissions_by_hour", "fuel_emissions"] {
        if s.raw(key).is_some() && s.raw("emission_source").is_none() {
            s.refuse(
                key,
                Problem::new(pf::MISSING_KEY, "`emission_source` is missing: a factor needs its source")
                    .hint("write where the factor comes from, with its year"),
            );
        }
    }
    let by_hour = emissions_by_hour(s);
    let flat = s.number_if("electricity_emissions");
    if by_hour.is_some() && flat.is_some() {
        s.refuse(
            "electricity_emissions",
            Problem::new(
                pf::WRITTEN_TWICE,
                "emissions of electricity also stand in `electricity_emissions_by_hour`",
            ),
        );
    }
    Economics {
        currency: s.text("currency"),
        electricity_tariff: TariffInput {
            flat: electricity.clone(),
            periods: s.rows("electricity_periods", keys::PRICE_PERIOD, period),
            demand: s.rows("electricity_demand", keys::DEMAND_CHARGE, demand),
            monthly: s.number_if("electricity_monthly"),
        },
        fuel_tariff: TariffInput {
            flat: fuel.clone(),
            periods: s.rows("fuel_periods", keys::PRICE_PERIOD, period),
            demand: Vec::new(),
            monthly: s.number_if("fuel_monthly"),
        },
        electricity,
        fuel,
        water_per_m3: s.number_if("water"),
        electricity_escalation: s.quantity("electricity_escalation"),
        fuel_escalation: s.quantity("fuel_escalation"),
        water_escalation: s.quantity("water_escalation"),
        maintenance_escalation: s.quantity("maintenance_escalation"),
        discount_rate: s.quantity_if("discount_rate"),
        rates,
        inflation,
        life: s.quantity_if("life"),
        primary_air_per_m3_per_s: s.number_if("primary_air"),
        cooling_plant_per_watt: s.number_if("cooling_plant"),
        terminal_each: s.number_if("terminal_each"),
        separate_service_each: s.number_if("separate_service_each"),
        first_costs: FirstCostInput {
            air_handler_per_m3_per_s: s.number_if("air_handler"),
            box_each: s.number_if("box_each"),
            controls_each: s.number_if("controls_each"),
            tower_per_watt: s.number_if("tower"),
            heating_plant_per_watt: s.number_if("heating_plant"),
            pump_each: s.number_if("pump_each"),
            duct_per_m2: s.number_if("ducts"),
            pipes_per_m2: s.number_if("pipes"),
        },
        lives: Lives {
            terminals: s.quantity_if("terminal_life"),
            air_units: s.quantity_if("air_unit_life"),
            plant: s.quantity_if("plant_life"),
            distribution: s.quantity_if("distribution_life"),
        },
        decoupled_maintenance: s.number_if("decoupled_maintenance"),
        all_air_maintenance: s.number_if("all_air_maintenance"),
        electricity_emissions: match (by_hour, flat) {
            (Some(table), _) => EmissionInput::ByMonthAndHour(table),
            (None, Some(factor)) => EmissionInput::Constant(factor),
            (None, None) => EmissionInput::NotGiven,
        },
        fuel_emissions: s
            .number_if("fuel_emissions")
            .map_or(EmissionInput::NotGiven, EmissionInput::Constant),
        emission_source: source,
    }
}

/// Window of a period or of a demand charge.
fn window(s: &mut Section<'_, '_>) -> TariffWindow {
    let window = TariffWindow {
        first_month: s.count("first_month").value,
        last_month: s.count("last_month").value,
        days: s.choice("days", &[TariffDays::All, TariffDays::Workdays, TariffDays::FreeDays]).value,
        from_hour: s.count("from_hour").value,
        to_hour: s.count("to_hour").value,
    };
    if window.from_hour == window.to_hour {
        s.refuse(
            "from_hour",
            Problem::new(pf::LIMITS_CROSSED, "the window ends at the hour at which it begins")
                .value(format!("{} and {}", window.from_hour, window.to_hour))
                .hint("leave both out for a window of the whole day"),
        );
    }
    window
}

fn period(s: &mut Section<'_, '_>) -> PricePeriod {
    PricePeriod {
        name: s.text("name").value,
        window: window(s),
        price: s.quantity("price"),
        place: s.own_place(),
    }
}

fn demand(s: &mut Section<'_, '_>) -> DemandCharge {
    DemandCharge {
        name: s.text("name").value,
        window: window(s),
        price_per_watt_month: s.number("price"),
        average_over: s.quantity("average_over").value,
        minimum: s.quantity_if("minimum").map(|m: Sourced<_>| m.value),
        ratchet: s.quantity_if("ratchet").map(|r: Sourced<_>| r.value),
        ratchet_months: s.count("ratchet_months").value,
        place: s.own_place(),
    }
}

/// The table by month and hour, kg/J; none when it is not written or cannot be used.
fn emissions_by_hour(s: &mut Section<'_, '_>) -> Option<Box<[[f64; 24]; 12]>> {
    const KEY: &str = "electricity_emissions_by_hour";
    const MONTH: &[KeySpec] = keys::EMISSION_MONTH;
    s.raw(KEY)?;
    let rows = s.rows(KEY, MONTH, |row| (row.count("month").value, row.hourly("kg_per_kwh").value));
    let mut table = Box::new([[0.0; 24]; 12]);
    let mut seen = [false; 12];
    for (month, hours) in &rows {
        let slot = *month as usize - 1;
        if std::mem::replace(&mut seen[slot], true) {
            s.refuse(
                KEY,
                Problem::new(pf::BAD_LIST, format!("month {month} is there twice")).value(month.to_string()),
            );
            return None;
        }
        table[slot] = hours.map(|kg| kg / KWH_J);
    }
    if rows.len() != 12 {
        s.refuse(
            KEY,
            Problem::new(pf::BAD_LIST, "expected twelve months").value(format!("{} months", rows.len())),
        );
        return None;
    }
    Some(table)
}
