//! Present-value factors of NIST Handbook 135.
//!
//! Formulas of NIST Handbook 135 and 10 CFR 436A, from memory of the two texts: `SPV = (1+d)^-n`,
//! `UPV = [1 - (1+d)^-n] / d`, `UPV* = (1+e)/(d-e) [1 - ((1+e)/(1+d))^n]`.

use crate::error::{EconomicsError, finite, within};
use crate::quantity::{DiscountRate, EscalationRate, YearCount, YearsAfterBase};

/// Single present value factor: present value of 1 paid once at a date.
///
/// ```
/// use drycoil_economics::{DiscountRate, YearsAfterBase, single_present_value};
/// let factor = single_present_value(DiscountRate::per_year(0.03)?, YearsAfterBase::new(10.0)?);
/// assert!((factor - 0.7441).abs() < 5e-5);
/// # Ok::<(), drycoil_economics::EconomicsError>(())
/// ```
pub fn single_present_value(discount: DiscountRate, at: YearsAfterBase) -> f64 {
    (-at.years() * discount.share().ln_1p()).exp()
}

/// Uniform present value factor: present value of 1 paid at the end of each year. At a discount rate of 0 it is the
/// number of years.
///
/// ```
/// use drycoil_economics::{DiscountRate, YearCount, uniform_present_value};
/// let factor = uniform_present_value(DiscountRate::per_year(0.03)?, YearCount::new(20)?);
/// assert!((factor - 14.877).abs() < 5e-4);
/// # Ok::<(), drycoil_economics::EconomicsError>(())
/// ```
pub fn uniform_present_value(discount: DiscountRate, years: YearCount) -> f64 {
    uniform(discount.share(), years)
}

/// Modified uniform present value factor: present value of what costs 1 in prices of the base date and escalates, paid
/// at the end of each year.
///
/// Payment `t` is `((1+e)/(1+d))^t`, so the factor is the uniform one at the net rate `(d-e)/(1+e)`; where d = e the
/// plain formula divides by zero and the limit is the number of years, approached without a jump.
///
/// ```
/// use drycoil_economics::{DiscountRate, EscalationRate, YearCount, escalating_present_value};
/// let (d, e) = (DiscountRate::per_year(0.03)?, EscalationRate::per_year(0.03)?);
/// assert_eq!(escalating_present_value(d, e, YearCount::new(25)?), 25.0);
/// # Ok::<(), drycoil_economics::EconomicsError>(())
/// ```
pub fn escalating_present_value(discount: DiscountRate, escalation: EscalationRate, years: YearCount) -> f64 {
    uniform(net_rate(discount, escalation), years)
}

/// Discount rate net of escalation, per year: `(d-e)/(1+e)`.
pub fn net_rate(discount: DiscountRate, escalation: EscalationRate) -> f64 {
    (discount.share() - escalation.share()) / (1.0 + escalation.share())
}

/// Capital recovery factor: the equal payment at the end of each year that is worth 1 today; 1 / UPV.
///
/// ```
/// use drycoil_economics::{DiscountRate, YearCount, capital_recovery};
/// let factor = capital_recovery(DiscountRate::per_year(0.07)?, YearCount::new(20)?);
/// assert!((factor - 1.0 / 10.594).abs() < 1e-5);
/// # Ok::<(), drycoil_economics::EconomicsError>(())
/// ```
pub fn capital_recovery(discount: DiscountRate, years: YearCount) -> f64 {
    1.0 / uniform_present_value(discount, years)
}

/// `[1 - (1+r)^-n] / r` without loss of digits at small r; n at r = 0.
fn uniform(rate: f64, years: YearCount) -> f64 {
    let n = f64::from(years.count());
    if rate == 0.0 { n } else { -(-n * rate.ln_1p()).exp_m1() / rate }
}

/// How a price moves against the base date. The price of a year holds throughout that year.
#[derive(Debug, Clone, PartialEq)]
pub enum Escalation {
    /// It stays.
    None,
    /// The same rate each year.
    Constant(EscalationRate),
    /// A rate for year 1, for year 2 and so on, each upon the year before.
    ByYear(Vec<EscalationRate>),
    /// Price of year 1, of year 2 and so on, over the price of the base date; positive.
    Index(Vec<f64>),
}

impl Escalation {
    /// Price of each year from 1 to this one, over the price of the base date.
    ///
    /// # Errors
    /// [`EconomicsError::EscalationTooShort`] when a list ends early; [`EconomicsError::OutOfRange`] for an index that
    /// is not between 1e-6 and 1e6.
    pub fn indices(&self, last_year: u32) -> Result<Vec<f64>, EconomicsError> {
        let needed = last_year as usize;
        let enough = |given: usize| {
            if given < needed { Err(EconomicsError::EscalationTooShort { given, needed }) } else { Ok(()) }
        };
        match self {
            Self::None => Ok(vec![1.0; needed]),
            Self::Constant(rate) => {
                Ok((1..=last_year).map(|t| (f64::from(t) * rate.share().ln_1p()).exp()).collect())
            }
            Self::ByYear(rates) => {
                enough(rates.len())?;
                let mut index = 1.0;
                Ok(rates[..needed]
                    .iter()
                    .map(|rate| {
                        index *= 1.0 + rate.share();
                        index
                    })
                    .collect())
            }
            Self::Index(indices) => {
                enough(indices.len())?;
                indices[..needed]
                    .iter()
                    .map(|i| within("price index", finite("price index", *i)?, 1e-6, 1e6, ""))
                    .collect()
            }
        }
    }
}

/// One term of a present value.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Term {
    /// When it falls.
    pub at: YearsAfterBase,
    /// Price over the price of the base date.
    pub price_index: f64,
    /// Single present value factor of the date.
    pub discount: f64,
}

impl Term {
    /// Present value of what costs 1 in prices of the base date.
    pub fn factor(&self) -> f64 {
        self.price_index * self.discount
    }
}

/// A present-value factor as the sum of its terms.
#[derive(Debug, Clone, PartialEq)]
pub struct SeriesFactor {
    /// The terms, by date.
    pub terms: Vec<Term>,
    /// Their sum.
    pub factor: f64,
}

impl SeriesFactor {
    pub(crate) fn of(terms: Vec<Term>) -> Self {
        let factor = terms.iter().fold(0.0, |sum, term| sum + term.factor());
        Self { terms, factor }
    }
}

/// Present value of what costs 1 in prices of the base date, paid at the end of each year, for any escalation.
///
/// ```
/// use drycoil_economics::{DiscountRate, Escalation, EscalationRate, YearCount, series_present_value};
/// let rates = [0.02, 0.0, -0.01].map(EscalationRate::per_year).into_iter().collect::<Result<Vec<_>, _>>()?;
/// let series = series_present_value(DiscountRate::per_year(0.03)?, &Escalation::ByYear(rates), YearCount::new(3)?)?;
/// assert_eq!(series.terms.len(), 3);
/// assert!((series.terms[2].price_index - 1.02 * 0.99).abs() < 1e-15);
/// # Ok::<(), drycoil_economics::EconomicsError>(())
/// ```
///
/// # Errors
/// Those of [`Escalation::indices`].
pub fn series_present_value(
    discount: DiscountRate,
    escalation: &Escalation,
    years: YearCount,
) -> Result<SeriesFactor, EconomicsError> {
    let indices = escalation.indices(years.count())?;
    let terms = (1..=years.count())
        .zip(indices)
        .map(|(t, price_index)| {
            let at = YearsAfterBase::new(f64::from(t))?;
            Ok(Term { at, price_index, discount: single_present_value(discount, at) })
        })
        .collect::<Result<_, EconomicsError>>()?;
    Ok(SeriesFactor::of(terms))
}
