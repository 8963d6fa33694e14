//! What a tariff consists of.

use crate::calendar::{Months, Window};
use crate::error::{EconomicsError, finite, named, within};
use crate::priced::Priced;
use crate::quantity::Money;
use drycoil_units::{Energy, EnergyPrice, Fraction, Power, Quantity, Time};

/// Price of demand: money per W of billed demand and month.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub struct DemandPrice(f64);

impl DemandPrice {
    /// From money per kW and month.
    pub const fn per_kw_month(price: f64) -> Self {
        Self(price / 1000.0)
    }

    /// Money per kW and month.
    pub const fn to_per_kw_month(self) -> f64 {
        self.0 * 1000.0
    }

    /// Money per W and month.
    pub const fn per_watt_month(self) -> f64 {
        self.0
    }
}

/// A tariff: charges that add up, for one carrier and one meter. Prices may be negative (riders that give back).
///
/// See [`TariffOnCalendar`](crate::TariffOnCalendar) for an example.
#[derive(Debug, Clone, PartialEq)]
pub struct Tariff {
    /// Name.
    pub name: String,
    /// Its charges. Each charge of energy prices all the energy, so that supply and delivery may be listed apart.
    pub charges: Vec<Charge>,
}

/// One charge.
#[derive(Debug, Clone, PartialEq)]
pub struct Charge {
    /// Name.
    pub name: String,
    /// How it is reckoned.
    pub kind: ChargeKind,
}

/// How a charge is reckoned.
#[derive(Debug, Clone, PartialEq)]
pub enum ChargeKind {
    /// Energy at prices by season, kind of day and hour; exactly one period holds at any time.
    Energy(Vec<Period>),
    /// Energy of a month in blocks: so much at the first price, the next at the second, and so on.
    Blocks(Vec<Block>),
    /// Highest mean power of a month.
    Demand(Demand),
    /// Each month.
    Monthly(Priced<Money>),
}

/// Time in which a price of energy holds.
#[derive(Debug, Clone, PartialEq)]
pub struct Period {
    /// Name.
    pub name: String,
    /// When.
    pub times: Times,
    /// Price; without one, the bill names charge and period.
    pub price: Priced<EnergyPrice>,
}

/// When a period holds.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Times {
    /// In any of these windows.
    Within(Vec<Window>),
    /// Whenever no other period of the charge holds.
    Otherwise,
}

/// A part of the energy of a month.
#[derive(Debug, Clone, PartialEq)]
pub struct Block {
    /// Energy of the month at which the block ends; none for the last.
    pub up_to: Option<Energy>,
    /// Price.
    pub price: Priced<EnergyPrice>,
}

/// Charge on the highest mean power of a month. It falls in the months that have an interval in the window.
#[derive(Debug, Clone, PartialEq)]
pub struct Demand {
    /// When power counts.
    pub window: Window,
    /// Time over which power is averaged, one average after the other from the full hour; commonly 15, 30 or 60
    /// minutes. A series of longer intervals does not show it and is refused.
    pub average_over: Time,
    /// Price per month.
    pub price: Priced<DemandPrice>,
    /// Demand that is billed at least.
    pub minimum: Option<Power>,
    /// Share of earlier peaks that is billed at least.
    pub ratchet: Option<Ratchet>,
}

/// A share of the highest peak of earlier months that is billed at least.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ratchet {
    /// The share, 0 to 1.
    pub share: Fraction,
    /// Months looked back, 1 to 11.
    pub look_back: u8,
    /// Months whose peaks count.
    pub set_in: Months,
    /// What came before the first month of the series.
    pub before: Before,
}

/// Peaks before the first month of a series.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Before {
    /// The same year over again; needs twelve months.
    SameYear,
    /// A new connection without earlier peaks.
    Nothing,
    /// This was the highest peak, whichever month is asked for.
    Peak(Power),
}

impl Charge {
    /// One price of energy at all times.
    pub fn flat(name: &str, price: Priced<EnergyPrice>) -> Self {
        let period = Period { name: "all hours".to_owned(), times: Times::Otherwise, price };
        Self { name: name.to_owned(), kind: ChargeKind::Energy(vec![period]) }
    }

    /// An amount each month.
    pub fn monthly(name: &str, amount: Priced<Money>) -> Self {
        Self { name: name.to_owned(), kind: ChargeKind::Monthly(amount) }
    }

    /// Checks the numbers that need no calendar.
    pub(crate) fn check(&self) -> Result<(), EconomicsError> {
        named("charge", &self.name)?;
        let energy_price = |price: &Priced<EnergyPrice>| {
            price.known().map_or(Ok(0.0), |p| finite(&self.name, p.si())).map(|_| ())
        };
        match &self.kind {
            ChargeKind::Energy(periods) => periods.iter().try_for_each(|period| {
                named("period", &period.name)?;
                energy_price(&period.price)
            }),
            ChargeKind::Blocks(blocks) => {
                let bad = |index: usize, reason: &'static str| {
                    Err(EconomicsError::BadBlocks { charge: self.name.clone(), block: index + 1, reason })
                };
                let mut lower = 0.0;
                for (index, block) in blocks.iter().enumerate() {
                    energy_price(&block.price)?;
                    match block.up_to {
                        Some(end) if index + 1 == blocks.len() => {
                            finite(&self.name, end.si())?;
                            return bad(index, "the last block has an end, so energy above it has no price");
                        }
                        None if index + 1 < blocks.len() => return bad(index, "only the last block is open"),
                        Some(end) if finite(&self.name, end.si())? <= lower => {
                            return bad(index, "it does not end above the block before");
                        }
                        Some(end) => lower = end.si(),
                        None => {}
                    }
                }
                if blocks.is_empty() { bad(0, "there is none") } else { Ok(()) }
            }
            ChargeKind::Demand(demand) => demand.check(&self.name),
            ChargeKind::Monthly(amount) => {
                amount.known().map_or(Ok(0.0), |m| finite(&self.name, m.value())).map(|_| ())
            }
        }
    }
}

impl Demand {
    fn check(&self, name: &str) -> Result<(), EconomicsError> {
        if let Some(price) = self.price.known() {
            finite(name, price.per_watt_month())?;
        }
        let power = |what, p: Power| within(what, p.si(), 0.0, 1e12, "W").map(|_| ());
        if let Some(minimum) = self.minimum {
            power("minimum billed demand", minimum)?;
        }
        if let Some(ratchet) = self.ratchet {
            within("ratchet share", ratchet.share.si(), 0.0, 1.0, "")?;
            within("months that a ratchet looks back", f64::from(ratchet.look_back), 1.0, 11.0, "")?;
            if let Before::Peak(peak) = ratchet.before {
                power("peak before the series", peak)?;
            }
        }
        Ok(())
    }
}
