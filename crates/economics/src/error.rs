//! What can be wrong with a request.

use std::fmt;

/// Why a value cannot be computed.
#[derive(Debug, Clone, PartialEq)]
pub enum EconomicsError {
    /// A value is outside its range, or not a finite number.
    OutOfRange {
        /// What the value is.
        name: &'static str,
        /// The value.
        value: f64,
        /// Lowest allowed value.
        low: f64,
        /// Highest allowed value.
        high: f64,
        /// Unit of the three numbers; empty for a bare number.
        unit: &'static str,
    },
    /// A number of a named thing is not finite.
    NotFinite {
        /// The thing.
        name: String,
        /// The number.
        value: f64,
    },
    /// A thing has no name, so nothing could be said about it.
    NoName {
        /// What kind of thing.
        what: &'static str,
    },
    /// A cost falls after the end of the study.
    AfterStudy {
        /// The cost.
        item: String,
        /// Its date, years after the base date.
        years: f64,
        /// Years of the study.
        study: u32,
    },
    /// The years of an annual cost are empty or begin before the first.
    NoSuchYears {
        /// The cost.
        item: String,
        /// First year.
        first: u32,
        /// Last year.
        last: u32,
    },
    /// A year-by-year list of prices ends before the cost does.
    EscalationTooShort {
        /// Years in the list.
        given: usize,
        /// Years needed.
        needed: usize,
    },
    /// Two life-cycle costs of different discount rate or length do not compare.
    DifferentStudies {
        /// Discount rate and years of the base case.
        base: (f64, u32),
        /// Discount rate and years of the alternative.
        alternative: (f64, u32),
    },
    /// A series does not have one value for each interval.
    WrongLength {
        /// What the series is.
        what: String,
        /// Values given.
        given: usize,
        /// Values needed.
        needed: usize,
    },
    /// The energy of an interval is negative or not finite; feeding back is not billed.
    BadEnergy {
        /// Interval, counted from 0.
        index: usize,
        /// The energy, J.
        joules: f64,
    },
    /// A calendar without intervals.
    EmptyCalendar,
    /// Intervals must divide an hour.
    BadStep {
        /// Length given, s.
        seconds: f64,
    },
    /// A month comes back after another one, so its bill would be split.
    MonthReturns {
        /// Month, 1 to 12.
        month: u8,
        /// Interval at which it comes back, counted from 0.
        index: usize,
    },
    /// The calendar has no such date.
    NoSuchDate {
        /// Month.
        month: u8,
        /// Day.
        day: u8,
    },
    /// An interval that no period of a charge covers.
    Uncovered {
        /// The charge.
        charge: String,
        /// Interval, counted from 0.
        index: usize,
        /// Month, kind of day and hour, in words.
        when: String,
    },
    /// An interval that two periods of a charge cover.
    CoveredTwice {
        /// The charge.
        charge: String,
        /// The earlier period.
        first: String,
        /// The later period.
        second: String,
        /// Interval, counted from 0.
        index: usize,
        /// Month, kind of day and hour, in words.
        when: String,
    },
    /// Blocks must rise, and the last one must be open.
    BadBlocks {
        /// The charge.
        charge: String,
        /// Block, counted from 1.
        block: usize,
        /// What is wrong.
        reason: &'static str,
    },
    /// Demand is asked over an interval that the series cannot show.
    BadDemandInterval {
        /// The charge.
        charge: String,
        /// Interval of the charge, s.
        interval_s: f64,
        /// Interval of the series, s.
        step_s: f64,
    },
    /// The intervals over which demand is averaged do not begin with the hours of the calendar.
    Misaligned {
        /// The charge.
        charge: String,
        /// First interval of the average, counted from 0.
        index: usize,
    },
    /// A ratchet that looks back over the end of the year needs twelve months.
    RatchetNeedsYear {
        /// The charge.
        charge: String,
        /// Months of the series.
        months: usize,
    },
}

impl fmt::Display for EconomicsError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::OutOfRange { name, value, low, high, unit } => {
                let space = if unit.is_empty() { "" } else { " " };
                write!(f, "{name} {value}{space}{unit} is outside {low} to {high}{space}{unit}")
            }
            Self::NotFinite { name, value } => write!(f, "`{name}`: {value} is not a finite number"),
            Self::NoName { what } => write!(f, "a {what} has no name"),
            Self::AfterStudy { item, years, study } => {
                write!(f, "`{item}` falls {years} years after the base date; the study ends after {study}")
            }
            Self::NoSuchYears { item, first, last } => {
                write!(
                    f,
                    "`{item}` runs from year {first} to year {last}; years run from 1 and do not end before they begin"
                )
            }
            Self::EscalationTooShort { given, needed } => {
                write!(f, "the list of prices holds {given} years; the cost needs {needed}")
            }
            Self::DifferentStudies { base, alternative } => write!(
                f,
                "studies differ: discount rate {} over {} years against {} over {} years",
                base.0, base.1, alternative.0, alternative.1
            ),
            Self::WrongLength { what, given, needed } => {
                write!(f, "{what}: {given} values for {needed} intervals")
            }
            Self::BadEnergy { index, joules } => {
                write!(f, "energy of interval {index} is {joules} J; a finite number from 0 is needed")
            }
            Self::EmptyCalendar => write!(f, "the calendar has no intervals"),
            Self::BadStep { seconds } => {
                write!(f, "an interval of {seconds} s is not a whole part of an hour (60 s to 3600 s)")
            }
            Self::MonthReturns { month, index } => {
                write!(f, "month {month} comes back at interval {index}; its bill would be split")
            }
            Self::NoSuchDate { month, day } => {
                write!(f, "there is no day {day} in month {month} of the year")
            }
            Self::Uncovered { charge, index, when } => {
                write!(f, "`{charge}` has no price for interval {index} ({when})")
            }
            Self::CoveredTwice { charge, first, second, index, when } => {
                write!(f, "`{charge}`: `{first}` and `{second}` both price interval {index} ({when})")
            }
            Self::BadBlocks { charge, block, reason } => write!(f, "`{charge}`, block {block}: {reason}"),
            Self::BadDemandInterval { charge, interval_s, step_s } => write!(
                f,
                "`{charge}` averages demand over {interval_s} s; with intervals of {step_s} s it must be a \
                 multiple of them and a whole part of an hour"
            ),
            Self::Misaligned { charge, index } => write!(
                f,
                "`{charge}`: the demand average that begins at interval {index} does not lie within one hour of the calendar"
            ),
            Self::RatchetNeedsYear { charge, months } => write!(
                f,
                "`{charge}`: a ratchet on a year that repeats needs 12 months, the series has {months}"
            ),
        }
    }
}

impl std::error::Error for EconomicsError {}

/// Passes a finite value within its range.
pub(crate) fn within(
    name: &'static str,
    value: f64,
    low: f64,
    high: f64,
    unit: &'static str,
) -> Result<f64, EconomicsError> {
    if value.is_finite() && value >= low && value <= high {
        Ok(value)
    } else {
        Err(EconomicsError::OutOfRange { name, value, low, high, unit })
    }
}

/// Passes a finite value of a named thing.
pub(crate) fn finite(name: &str, value: f64) -> Result<f64, EconomicsError> {
    if value.is_finite() {
        Ok(value)
    } else {
        Err(EconomicsError::NotFinite { name: name.to_owned(), value })
    }
}

/// Passes a name that says something.
pub(crate) fn named(what: &'static str, name: &str) -> Result<(), EconomicsError> {
    if name.trim().is_empty() { Err(EconomicsError::NoName { what }) } else { Ok(()) }
}
