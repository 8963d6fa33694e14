//! Emissions of the energy used.

use crate::bill::check_energy;
use crate::calendar::Calendar;
use crate::error::{EconomicsError, named, within};
use drycoil_units::{Energy, Mass, Quantity};

/// Mass emitted per energy used, of whatever the factor stands for (commonly carbon dioxide equivalent); held in kg/J.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub struct EmissionFactor(f64);

impl EmissionFactor {
    /// From kg per kWh, -10 to 10; negative where a use of energy is credited.
    ///
    /// # Errors
    /// [`EconomicsError::OutOfRange`].
    pub fn per_kwh(kg: f64) -> Result<Self, EconomicsError> {
        within("emission factor", kg, -10.0, 10.0, "kg/kWh").map(|kg| Self(kg / 3.6e6))
    }

    /// kg per kWh.
    pub const fn to_per_kwh(self) -> f64 {
        self.0 * 3.6e6
    }

    /// kg per J.
    pub const fn kg_per_joule(self) -> f64 {
        self.0
    }
}

/// Emission factor of a carrier.
#[derive(Debug, Clone, PartialEq)]
pub enum EmissionRate {
    /// The same at all times.
    Constant(EmissionFactor),
    /// One for each interval of the series.
    ByInterval(Vec<EmissionFactor>),
    /// None is given; the carrier is listed, never counted as zero.
    NotGiven,
}

impl EmissionRate {
    /// A factor for each hour of the day in each month, laid over a calendar; `table[0][13]` is January, 13 to 14 h.
    pub fn by_month_and_hour(calendar: &Calendar, table: &[[EmissionFactor; 24]; 12]) -> Self {
        let of = |s: &crate::calendar::Stamp| table[usize::from(s.month()) - 1][usize::from(s.hour())];
        Self::ByInterval(calendar.stamps().iter().map(of).collect())
    }
}

/// Energy of one carrier with its emission factor.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CarrierUse<'a> {
    /// Name of the carrier.
    pub carrier: &'a str,
    /// Energy of each interval.
    pub energy: &'a [Energy],
    /// Its factor.
    pub rate: &'a EmissionRate,
}

/// Emissions of one carrier.
#[derive(Debug, Clone, PartialEq)]
pub struct CarrierEmissions {
    /// Name of the carrier.
    pub carrier: String,
    /// Energy used.
    pub energy: Energy,
    /// Mass emitted; none where no factor is given.
    pub mass: Option<Mass>,
}

/// Emissions of all carriers.
#[derive(Debug, Clone, PartialEq)]
pub struct Emissions {
    /// Each carrier, in the order given.
    pub carriers: Vec<CarrierEmissions>,
    /// Sum over the carriers that have a factor.
    pub known: Mass,
    /// Sum over all carriers; none as soon as one has no factor.
    pub total: Option<Mass>,
    /// Carriers without a factor.
    pub not_given: Vec<String>,
}

/// Emissions of the energy used.
///
/// ```
/// use drycoil_economics::{CarrierUse, EmissionFactor, EmissionRate, emissions};
/// use drycoil_units::Energy;
/// let used = [Energy::kilowatt_hours(100.0), Energy::kilowatt_hours(50.0)];
/// let grid = EmissionRate::Constant(EmissionFactor::per_kwh(0.4)?);
/// let found = emissions(&[
///     CarrierUse { carrier: "electricity", energy: &used, rate: &grid },
///     CarrierUse { carrier: "fuel", energy: &used, rate: &EmissionRate::NotGiven },
/// ])?;
/// assert!((found.known.to_kilograms() - 60.0).abs() < 1e-9);
/// assert!(found.total.is_none() && found.not_given == ["fuel"]);
/// # Ok::<(), drycoil_economics::EconomicsError>(())
/// ```
///
/// # Errors
/// [`EconomicsError::NoName`]; [`EconomicsError::BadEnergy`]; [`EconomicsError::WrongLength`] when there is not one
/// factor for each interval.
pub fn emissions(uses: &[CarrierUse<'_>]) -> Result<Emissions, EconomicsError> {
    let carriers = uses
        .iter()
        .map(|used| {
            named("carrier", used.carrier)?;
            check_energy(used.energy)?;
            let joules = used.energy.iter().fold(0.0, |sum, e| sum + e.si());
            let mass = match used.rate {
                EmissionRate::NotGiven => None,
                EmissionRate::Constant(factor) => Some(factor.0 * joules),
                EmissionRate::ByInterval(factors) if factors.len() == used.energy.len() => {
                    Some(used.energy.iter().zip(factors).fold(0.0, |sum, (e, f)| sum + e.si() * f.0))
                }
                EmissionRate::ByInterval(factors) => {
                    return Err(EconomicsError::WrongLength {
                        what: format!("emission factors of `{}`", used.carrier),
                        given: factors.len(),
                        needed: used.energy.len(),
                    });
                }
            };
            Ok(CarrierEmissions {
                carrier: used.carrier.to_owned(),
                energy: Energy::from_si(joules),
                mass: mass.map(Mass::from_si),
            })
        })
        .collect::<Result<Vec<_>, EconomicsError>>()?;
    let known = Mass::from_si(carriers.iter().filter_map(|c| c.mass).fold(0.0, |sum, m| sum + m.si()));
    let not_given: Vec<String> =
        carriers.iter().filter(|c| c.mass.is_none()).map(|c| c.carrier.clone()).collect();
    let total = not_given.is_empty().then_some(known);
    Ok(Emissions { carriers, known, total, not_given })
}
