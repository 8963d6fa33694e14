//! Month, kind of day and hour of every interval of a series.

use crate::error::{EconomicsError, within};
use drycoil_units::{Quantity, Time};
use std::fmt;
use std::ops::Range;

/// Kind of day of a tariff.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum DayType {
    /// Monday to Friday, no holiday.
    Workday,
    /// Saturday.
    Saturday,
    /// Sunday.
    Sunday,
    /// Holiday, on whatever day it falls.
    Holiday,
}

/// Which part of the year an interval is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Stamp {
    month: u8,
    day_type: DayType,
    hour: u8,
}

impl Stamp {
    /// Month 1 to 12, hour 0 to 23 (hour 0 begins at midnight).
    ///
    /// # Errors
    /// [`EconomicsError::OutOfRange`].
    pub fn new(month: u8, day_type: DayType, hour: u8) -> Result<Self, EconomicsError> {
        within("month", f64::from(month), 1.0, 12.0, "")?;
        within("hour", f64::from(hour), 0.0, 23.0, "")?;
        Ok(Self { month, day_type, hour })
    }

    /// Month, 1 to 12.
    pub const fn month(self) -> u8 {
        self.month
    }

    /// Kind of day.
    pub const fn day_type(self) -> DayType {
        self.day_type
    }

    /// Hour, 0 to 23.
    pub const fn hour(self) -> u8 {
        self.hour
    }
}

impl fmt::Display for Stamp {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let day = match self.day_type {
            DayType::Workday => "workday",
            DayType::Saturday => "Saturday",
            DayType::Sunday => "Sunday",
            DayType::Holiday => "holiday",
        };
        write!(f, "month {}, {day}, hour {}", self.month, self.hour)
    }
}

/// A set of months.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Months(u16);

impl Months {
    /// All of them.
    pub const ALL: Self = Self(0xFFF);

    /// From the first to the last, both included, over the end of the year where the last comes before the first.
    ///
    /// ```
    /// use drycoil_economics::Months;
    /// let winter = Months::from_to(11, 2)?;
    /// assert!(winter.has(12) && winter.has(2) && !winter.has(3));
    /// # Ok::<(), drycoil_economics::EconomicsError>(())
    /// ```
    ///
    /// # Errors
    /// [`EconomicsError::OutOfRange`] for a month outside 1 to 12.
    pub fn from_to(first: u8, last: u8) -> Result<Self, EconomicsError> {
        for month in [first, last] {
            within("month", f64::from(month), 1.0, 12.0, "")?;
        }
        let mut set = 1 << (last - 1);
        let mut month = first;
        while month != last {
            set |= 1 << (month - 1);
            month = month % 12 + 1;
        }
        Ok(Self(set))
    }

    /// The months that are not in the set.
    #[must_use]
    pub const fn others(self) -> Self {
        Self(!self.0 & Self::ALL.0)
    }

    /// Whether this month, 1 to 12, is in the set.
    pub const fn has(self, month: u8) -> bool {
        month >= 1 && month <= 12 && self.0 >> (month - 1) & 1 == 1
    }
}

/// A set of kinds of day.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct DayTypes(u8);

impl DayTypes {
    /// All of them.
    pub const ALL: Self = Self(0b1111);
    /// Workdays only.
    pub const WORKDAYS: Self = Self(0b0001);
    /// Everything but workdays.
    pub const FREE_DAYS: Self = Self(0b1110);

    /// These kinds.
    pub fn of(kinds: &[DayType]) -> Self {
        Self(kinds.iter().fold(0, |set, kind| set | 1 << *kind as u8))
    }

    /// Whether this kind is in the set.
    pub const fn has(self, kind: DayType) -> bool {
        self.0 >> kind as u8 & 1 == 1
    }
}

/// A set of hours of the day.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Hours(u32);

impl Hours {
    /// All of them.
    pub const ALL: Self = Self(0xFF_FFFF);

    /// From one full hour to another, over midnight where the end comes before the start: 14 to 20 are the six hours
    /// that begin at 14, 15, ... 19 o'clock.
    ///
    /// # Errors
    /// [`EconomicsError::OutOfRange`] for a start outside 0 to 23, an end outside 0 to 24, or an end equal to the start.
    pub fn from_to(start: u8, end: u8) -> Result<Self, EconomicsError> {
        within("start hour", f64::from(start), 0.0, 23.0, "")?;
        within("end hour", f64::from(end), 0.0, 24.0, "")?;
        let last = end % 24;
        if start == end {
            return Err(EconomicsError::OutOfRange {
                name: "hours of a period",
                value: 0.0,
                low: 1.0,
                high: 24.0,
                unit: "h",
            });
        }
        let (mut set, mut hour) = (0, start);
        loop {
            set |= 1 << hour;
            hour = (hour + 1) % 24;
            if hour == last {
                return Ok(Self(set));
            }
        }
    }

    /// The hours that are not in the set.
    #[must_use]
    pub const fn others(self) -> Self {
        Self(!self.0 & Self::ALL.0)
    }

    /// Whether the hour that begins at this full hour, 0 to 23, is in the set.
    pub const fn has(self, hour: u8) -> bool {
        hour < 24 && self.0 >> hour & 1 == 1
    }
}

/// Season, kinds of day and hours in which a price holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Window {
    /// Season.
    pub months: Months,
    /// Kinds of day.
    pub days: DayTypes,
    /// Hours of the day.
    pub hours: Hours,
}

impl Window {
    /// Always.
    pub const ALWAYS: Self = Self { months: Months::ALL, days: DayTypes::ALL, hours: Hours::ALL };

    /// Whether the interval lies in the window.
    pub const fn has(&self, stamp: Stamp) -> bool {
        self.months.has(stamp.month) && self.days.has(stamp.day_type) && self.hours.has(stamp.hour)
    }
}

/// Intervals of one month.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct BillingMonth {
    /// Month, 1 to 12.
    pub month: u8,
    /// Its intervals, counted from 0.
    pub intervals: Range<usize>,
}

/// Month, kind of day and hour of each interval of a series of at most a year, with the length of the intervals.
#[derive(Debug, Clone, PartialEq)]
pub struct Calendar {
    step: Time,
    stamps: Vec<Stamp>,
    months: Vec<BillingMonth>,
}

impl Calendar {
    /// From the intervals in order. Each calendar month is one billing month.
    ///
    /// # Errors
    /// [`EconomicsError::BadStep`] for a step that is no whole part of an hour between one minute and one hour;
    /// [`EconomicsError::EmptyCalendar`]; [`EconomicsError::MonthReturns`] when a month comes back after another one.
    pub fn new(step: Time, stamps: Vec<Stamp>) -> Result<Self, EconomicsError> {
        intervals_per_hour(step)?;
        let mut months: Vec<BillingMonth> = Vec::new();
        for (index, stamp) in stamps.iter().enumerate() {
            if let Some(last) = months.last_mut().filter(|last| last.month == stamp.month) {
                last.intervals.end = index + 1;
            } else if months.iter().any(|m| m.month == stamp.month) {
                return Err(EconomicsError::MonthReturns { month: stamp.month, index });
            } else {
                months.push(BillingMonth { month: stamp.month, intervals: index..index + 1 });
            }
        }
        if months.is_empty() {
            return Err(EconomicsError::EmptyCalendar);
        }
        Ok(Self { step, stamps, months })
    }

    /// A whole year from 1 January.
    ///
    /// ```
    /// use drycoil_economics::{Calendar, Weekday, YearKind};
    /// use drycoil_units::Time;
    /// let year = Calendar::of_year(YearKind::Common, Weekday::Sunday, &[(7, 4)], Time::hours(1.0))?;
    /// assert_eq!((year.len(), year.months().len()), (8760, 12));
    /// # Ok::<(), drycoil_economics::EconomicsError>(())
    /// ```
    ///
    /// # Errors
    /// [`EconomicsError::BadStep`]; [`EconomicsError::NoSuchDate`] for a holiday, (month, day), that is no day of the year.
    pub fn of_year(
        kind: YearKind,
        first_day: Weekday,
        holidays: &[(u8, u8)],
        step: Time,
    ) -> Result<Self, EconomicsError> {
        let lengths = kind.days_of_months();
        for &(month, day) in holidays {
            let length = lengths.get(usize::from(month).wrapping_sub(1)).copied().unwrap_or(0);
            if day == 0 || day > length {
                return Err(EconomicsError::NoSuchDate { month, day });
            }
        }
        let per_hour = intervals_per_hour(step)?;
        let mut weekday = first_day as usize;
        let mut stamps = Vec::with_capacity(366 * 24 * per_hour);
        for (month, length) in (1..=12).zip(lengths) {
            for day in 1..=length {
                let day_type = match weekday {
                    _ if holidays.contains(&(month, day)) => DayType::Holiday,
                    5 => DayType::Saturday,
                    6 => DayType::Sunday,
                    _ => DayType::Workday,
                };
                weekday = (weekday + 1) % 7;
                for hour in 0..24 {
                    stamps.extend(std::iter::repeat_n(Stamp { month, day_type, hour }, per_hour));
                }
            }
        }
        Self::new(step, stamps)
    }

    /// Length of an interval.
    pub const fn step(&self) -> Time {
        self.step
    }

    /// The intervals.
    pub fn stamps(&self) -> &[Stamp] {
        &self.stamps
    }

    /// The billing months, in the order of the series.
    pub fn months(&self) -> &[BillingMonth] {
        &self.months
    }

    /// Number of intervals.
    pub fn len(&self) -> usize {
        self.stamps.len()
    }

    /// Never: a calendar has at least one interval.
    pub fn is_empty(&self) -> bool {
        self.stamps.is_empty()
    }
}

fn intervals_per_hour(step: Time) -> Result<usize, EconomicsError> {
    let seconds = step.si();
    let count = 3600.0 / seconds;
    if (60.0..=3600.0).contains(&seconds) && count.fract() == 0.0 {
        Ok(count as usize)
    } else {
        Err(EconomicsError::BadStep { seconds })
    }
}

/// Length of a year.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum YearKind {
    /// 365 days, 8760 h.
    Common,
    /// 366 days, 8784 h.
    Leap,
}

impl YearKind {
    /// Days of the twelve months.
    pub const fn days_of_months(self) -> [u8; 12] {
        let february = match self {
            Self::Common => 28,
            Self::Leap => 29,
        };
        [31, february, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31]
    }
}

/// Day of the week.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Weekday {
    /// Monday.
    Monday,
    /// Tuesday.
    Tuesday,
    /// Wednesday.
    Wednesday,
    /// Thursday.
    Thursday,
    /// Friday.
    Friday,
    /// Saturday.
    Saturday,
    /// Sunday.
    Sunday,
}
