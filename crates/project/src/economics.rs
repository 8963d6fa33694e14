//! Prices, rates and emission factors.

use drycoil_findings::Place;
use drycoil_units::{EnergyPrice, Fraction, Power, Time};
use drycoil_working::Sourced;

/// Kinds of day of a tariff.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TariffDays {
    /// Every day.
    All,
    /// Monday to Friday without holidays.
    Workdays,
    /// Saturdays, Sundays and holidays.
    FreeDays,
}

/// Season, kinds of day and hours. Written ends count: months 6 to 9 are June to September; hours 14 to 20 are the six
/// hours that begin at 14, 15 ... 19 o'clock. An end before its start runs over the end of the year or of the day.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct TariffWindow {
    /// First month, 1 to 12.
    pub first_month: u32,
    /// Last month, 1 to 12.
    pub last_month: u32,
    /// Kinds of day.
    pub days: TariffDays,
    /// Hour at which it begins, 0 to 23.
    pub from_hour: u32,
    /// Hour at which it ends, 1 to 24.
    pub to_hour: u32,
}

impl TariffWindow {
    /// Whether a month from 1 to 12 belongs to the season.
    pub const fn has_month(&self, month: u32) -> bool {
        if self.first_month <= self.last_month {
            self.first_month <= month && month <= self.last_month
        } else {
            month >= self.first_month || month <= self.last_month
        }
    }

    /// Whether the hour that begins at this full hour, 0 to 23, belongs to the window.
    pub const fn has_hour(&self, hour: u32) -> bool {
        if self.from_hour < self.to_hour {
            self.from_hour <= hour && hour < self.to_hour
        } else {
            hour >= self.from_hour || hour < self.to_hour
        }
    }

    /// Whether some hour of the year lies in both windows.
    pub fn meets(&self, other: &Self) -> bool {
        let days = self.days == other.days || self.days == TariffDays::All || other.days == TariffDays::All;
        days && (1..=12).any(|m| self.has_month(m) && other.has_month(m))
            && (0..24).any(|h| self.has_hour(h) && other.has_hour(h))
    }
}

/// A price of energy that holds in a window. Outside every window the flat price of the carrier holds.
#[derive(Debug, Clone, PartialEq)]
pub struct PricePeriod {
    /// Name.
    pub name: String,
    /// When.
    pub window: TariffWindow,
    /// Price.
    pub price: Sourced<EnergyPrice>,
    /// Where it is written.
    pub place: Place,
}

/// A charge on the highest mean power of a month.
#[derive(Debug, Clone, PartialEq)]
pub struct DemandCharge {
    /// Name.
    pub name: String,
    /// When power counts.
    pub window: TariffWindow,
    /// Price per W and month.
    pub price_per_watt_month: Sourced<f64>,
    /// Time over which power is averaged.
    pub average_over: Time,
    /// Demand billed at least.
    pub minimum: Option<Power>,
    /// Share of the highest peak of earlier months billed at least.
    pub ratchet: Option<Fraction>,
    /// Months looked back, 1 to 11.
    pub ratchet_months: u32,
    /// Where it is written.
    pub place: Place,
}

/// Tariff of one carrier.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct TariffInput {
    /// Price outside every period.
    pub flat: Option<Sourced<EnergyPrice>>,
    /// Periods with a price of their own.
    pub periods: Vec<PricePeriod>,
    /// Demand charges.
    pub demand: Vec<DemandCharge>,
    /// Fixed charge of a month.
    pub monthly: Option<Sourced<f64>>,
}

impl TariffInput {
    /// Whether any price is given.
    pub fn is_priced(&self) -> bool {
        self.flat.is_some() || !self.periods.is_empty()
    }

    /// Whether some hour of a year lies in no period, so that the flat price is needed.
    pub fn needs_flat(&self) -> bool {
        let open = |days: TariffDays| {
            (1..=12).any(|m| {
                (0..24).any(|h| {
                    !self.periods.iter().any(|p| {
                        (p.window.days == TariffDays::All || p.window.days == days)
                            && p.window.has_month(m)
                            && p.window.has_hour(h)
                    })
                })
            })
        };
        open(TariffDays::Workdays) || open(TariffDays::FreeDays)
    }
}

/// Whether rates are above or with general inflation.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum RateBasis {
    /// Above general inflation, with prices of the base date.
    Real,
    /// With general inflation, with prices of the day.
    Nominal,
}

/// Emission factor of a carrier.
#[derive(Debug, Clone, PartialEq)]
pub enum EmissionInput {
    /// None given: listed, never counted as zero.
    NotGiven,
    /// The same at all times, kg/J.
    Constant(Sourced<f64>),
    /// By month and hour of the day, kg/J; `table[0][13]` is January, 13 to 14 h.
    ByMonthAndHour(Box<[[f64; 24]; 12]>),
}

/// A cost item with the years it lasts. Without a life it lasts as long as the study.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Lives {
    /// Terminals, boxes and their controls.
    pub terminals: Option<Sourced<Time>>,
    /// Primary-air units and air handlers.
    pub air_units: Option<Sourced<Time>>,
    /// Chillers, towers, boilers and pumps.
    pub plant: Option<Sourced<Time>>,
    /// Ducts and pipes.
    pub distribution: Option<Sourced<Time>>,
}

/// First costs; the same price is used in both schemes where both buy the thing.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct FirstCostInput {
    /// Air handlers of the all-air scheme, per m3/s of standard flow.
    pub air_handler_per_m3_per_s: Option<Sourced<f64>>,
    /// One box of the all-air scheme with its heater.
    pub box_each: Option<Sourced<f64>>,
    /// Controls of one zone, where the price of the terminal or box does not hold them.
    pub controls_each: Option<Sourced<f64>>,
    /// Tower, per W rejected, where `cooling_plant` does not hold it.
    pub tower_per_watt: Option<Sourced<f64>>,
    /// Heating plant, per W.
    pub heating_plant_per_watt: Option<Sourced<f64>>,
    /// One pump with its drive.
    pub pump_each: Option<Sourced<f64>>,
    /// Ducts, per m2 of sheet.
    pub duct_per_m2: Option<Sourced<f64>>,
    /// Pipes with insulation, per floor area served, m2.
    pub pipes_per_m2: Option<Sourced<f64>>,
}

/// Prices. What is not priced stays unpriced and is said to be so.
#[derive(Debug, Clone, PartialEq)]
pub struct Economics {
    /// Word for the currency.
    pub currency: Sourced<String>,
    /// Price of electricity in hours without a period; see [`Self::electricity_tariff`].
    pub electricity: Option<Sourced<EnergyPrice>>,
    /// Price of heating fuel in hours without a period; see [`Self::fuel_tariff`].
    pub fuel: Option<Sourced<EnergyPrice>>,
    /// Tariff of electricity; its flat price is [`Self::electricity`].
    pub electricity_tariff: TariffInput,
    /// Tariff of fuel; its flat price is [`Self::fuel`].
    pub fuel_tariff: TariffInput,
    /// Price of water with waste water, per m3.
    pub water_per_m3: Option<Sourced<f64>>,
    /// Rise of the price of electricity per year, on the basis of the rates.
    pub electricity_escalation: Sourced<Fraction>,
    /// Rise of the price of fuel per year.
    pub fuel_escalation: Sourced<Fraction>,
    /// Rise of the price of water per year.
    pub water_escalation: Sourced<Fraction>,
    /// Rise of the price of maintenance and replacements per year.
    pub maintenance_escalation: Sourced<Fraction>,
    /// Discount rate.
    pub discount_rate: Option<Sourced<Fraction>>,
    /// Basis of discount rate and escalations.
    pub rates: Sourced<RateBasis>,
    /// General inflation; needed with nominal rates.
    pub inflation: Option<Sourced<Fraction>>,
    /// Study period.
    pub life: Option<Sourced<Time>>,
    /// First cost of primary-air capacity, per m3/s of standard flow.
    pub primary_air_per_m3_per_s: Option<Sourced<f64>>,
    /// First cost of chiller and tower capacity, per W.
    pub cooling_plant_per_watt: Option<Sourced<f64>>,
    /// First cost of one terminal with its controls.
    pub terminal_each: Option<Sourced<f64>>,
    /// Extra first cost of a second terminal or supplementary primary-air box for a room.
    pub separate_service_each: Option<Sourced<f64>>,
    /// Other first costs.
    pub first_costs: FirstCostInput,
    /// How long things last.
    pub lives: Lives,
    /// Maintenance of the decoupled scheme per year.
    pub decoupled_maintenance: Option<Sourced<f64>>,
    /// Maintenance of the all-air scheme per year.
    pub all_air_maintenance: Option<Sourced<f64>>,
    /// Emissions of electricity.
    pub electricity_emissions: EmissionInput,
    /// Emissions of fuel.
    pub fuel_emissions: EmissionInput,
    /// Where the factors come from.
    pub emission_source: Option<Sourced<String>>,
}
