//! Life-cycle cost, tariffs and emissions.
//!
//! - Life-cycle cost by the method of NIST Handbook 135: present-value factors ([`single_present_value`],
//!   [`uniform_present_value`], [`escalating_present_value`], [`series_present_value`]), costs with their dates
//!   ([`CostItem`]), the cost of an alternative ([`life_cycle_cost`]) and its measures against a base case ([`compare`]).
//! - Tariffs by season, kind of day and hour, blocks, demand with ratchet ([`Tariff`], [`TariffOnCalendar`]).
//! - Emissions by carrier and hour ([`emissions`]).
//!
//! What has no price stays [`Priced::NotPriced`] with its name through every sum, and is never zero. No price, rate or
//! factor is built in, and no currency is known. Sums run in the order given.
//!
//! ```
//! use drycoil_economics::*;
//! use drycoil_units::{Energy, EnergyPrice, Time};
//!
//! let year = Calendar::of_year(YearKind::Common, Weekday::Monday, &[], Time::hours(1.0))?;
//! let tariff = Tariff {
//!     name: "electricity".into(),
//!     charges: vec![
//!         Charge::flat("energy", Priced::Known(EnergyPrice::per_kwh(0.12))),
//!         Charge::monthly("meter", Priced::Known(Money::amount(20.0))),
//!     ],
//! };
//! let bill = TariffOnCalendar::new(&tariff, &year)?.bill(&vec![Energy::kilowatt_hours(10.0); year.len()])?;
//!
//! let study = Study { discount: DiscountRate::per_year(0.03)?, years: YearCount::new(20)? };
//! let rise = Escalation::Constant(EscalationRate::per_year(0.01)?);
//! let plant = Alternative {
//!     name: "plant".into(),
//!     costs: vec![
//!         CostItem::annual("electricity", Category::Energy, bill.total.clone()).escalating(rise),
//!         CostItem::once("chiller", Category::Investment, Priced::not_priced("chiller"), YearsAfterBase::BASE),
//!     ],
//! };
//! let cost = life_cycle_cost(&plant, study)?;
//! assert!((cost.known.value() - (8760.0 * 1.2 + 240.0) * 16.3827).abs() < 1.0);
//! assert_eq!(cost.total.missing(), ["chiller"]);
//! # Ok::<(), EconomicsError>(())
//! ```

mod bill;
mod calendar;
mod comparison;
mod cost;
mod emission;
mod error;
mod factor;
mod priced;
mod quantity;
mod study;
mod tariff;

pub use bill::{Bill, BillLine, Billed, MonthBill, TariffOnCalendar};
pub use calendar::{
    BillingMonth, Calendar, DayType, DayTypes, Hours, Months, Stamp, Weekday, Window, YearKind,
};
pub use comparison::{Comparison, Lasting, Measure, Payback, YearOfSavings, compare};
pub use cost::{Category, CostItem, Side, Timing, When, equipment};
pub use emission::{CarrierEmissions, CarrierUse, EmissionFactor, EmissionRate, Emissions, emissions};
pub use error::EconomicsError;
pub use factor::{
    Escalation, SeriesFactor, Term, capital_recovery, escalating_present_value, net_rate,
    series_present_value, single_present_value, uniform_present_value,
};
pub use priced::{NotPriced, Priced, total};
pub use quantity::{DiscountRate, EscalationRate, InflationRate, Money, YearCount, YearsAfterBase};
pub use study::{Alternative, CategoryPresentValue, ItemPresentValue, LifeCycleCost, Study, life_cycle_cost};
pub use tariff::{Before, Block, Charge, ChargeKind, Demand, DemandPrice, Period, Ratchet, Tariff, Times};
