//! Days and months of a weather year.

use std::fmt;

/// Which calendar the hours of a year follow.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Calendar {
    /// 365 days, 8760 hours: every typical year.
    Common,
    /// 366 days, 8784 hours: 29 February is kept.
    Leap,
}

const COMMON_DAYS: [usize; 12] = [31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31];
const MONTH_NAMES: [&str; 12] = [
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
];

/// Start of an hourly interval in local standard time.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct HourStamp {
    /// Month, 1 to 12.
    pub month: u8,
    /// Day of the month, 1 to 31.
    pub day: u8,
    /// Hour at which the interval starts, 0 to 23.
    pub hour: u8,
}

impl fmt::Display for HourStamp {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let name = month_name(self.month).unwrap_or("unknown month");
        write!(f, "{} {name} {:02}:00", self.day, self.hour)
    }
}

/// English name of a month, 1 to 12; `None` for any other number.
///
/// ```
/// assert_eq!(drycoil_climate::month_name(7), Some("July"));
/// ```
pub fn month_name(month: u8) -> Option<&'static str> {
    MONTH_NAMES.get(usize::from(month).checked_sub(1)?).copied()
}

impl Calendar {
    /// The calendar with this many hours; `None` unless `hours` is 8760 or 8784.
    pub const fn from_hours(hours: usize) -> Option<Self> {
        match hours {
            8760 => Some(Self::Common),
            8784 => Some(Self::Leap),
            _ => None,
        }
    }

    /// The year whose sun stands for every year of this calendar.
    pub(crate) const fn nominal_year(self) -> i32 {
        match self {
            Self::Common => 2023,
            Self::Leap => 2024,
        }
    }

    /// Days of the year: 365 or 366.
    pub const fn days(self) -> usize {
        match self {
            Self::Common => 365,
            Self::Leap => 366,
        }
    }

    /// Hours of the year: 8760 or 8784.
    pub const fn hours(self) -> usize {
        self.days() * 24
    }

    /// Days in a month, 1 to 12.
    ///
    /// # Panics
    /// When `month` is not 1 to 12 (a programming error).
    pub fn days_in_month(self, month: u8) -> usize {
        let days = COMMON_DAYS[usize::from(month) - 1];
        if month == 2 && self == Self::Leap { days + 1 } else { days }
    }

    /// Index of the first hour of a month and of the first hour after it.
    ///
    /// # Panics
    /// When `month` is not 1 to 12 (a programming error).
    pub fn month_hours(self, month: u8) -> std::ops::Range<usize> {
        let before: usize = (1..month).map(|m| self.days_in_month(m)).sum();
        before * 24..(before + self.days_in_month(month)) * 24
    }

    /// Day of the year, counted from 1 on 1 January; `None` for a day that the calendar does not have.
    ///
    /// ```
    /// use drycoil_climate::Calendar;
    /// assert_eq!(Calendar::Common.day_of_year(7, 21), Some(202));
    /// assert_eq!(Calendar::Common.day_of_year(2, 29), None);
    /// ```
    pub fn day_of_year(self, month: u8, day: u8) -> Option<usize> {
        if !(1..=12).contains(&month) || day == 0 || usize::from(day) > self.days_in_month(month) {
            return None;
        }
        Some(self.month_hours(month).start / 24 + usize::from(day))
    }

    /// Start of the interval with this index; `None` past the end of the year.
    ///
    /// ```
    /// use drycoil_climate::Calendar;
    /// assert_eq!(Calendar::Common.stamp(8759).unwrap().to_string(), "31 December 23:00");
    /// assert_eq!(Calendar::Leap.stamp(59 * 24).unwrap().to_string(), "29 February 00:00");
    /// ```
    pub fn stamp(self, index: usize) -> Option<HourStamp> {
        let month = (1..=12u8).find(|&m| self.month_hours(m).contains(&index))?;
        let within = index - self.month_hours(month).start;
        Some(HourStamp { month, day: (within / 24 + 1) as u8, hour: (within % 24) as u8 })
    }
}
