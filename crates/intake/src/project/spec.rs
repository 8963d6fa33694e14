//! Declarations of keys and columns, from which reader, schema and documentation are made.

use drycoil_findings::{Finding, FindingKind, did_you_mean, registry::project as pf};
use drycoil_units::{AirFlowBasis, QuantityKind, Unit, UnitError, parse_air_flow, parse_kind, parse_number};

/// The lowest and the highest allowed value, each with its unit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Limits {
    pub low: &'static str,
    pub high: &'static str,
}

pub(crate) const fn between(low: &'static str, high: &'static str) -> Limits {
    Limits { low, high }
}

impl Limits {
    /// SI values.
    pub fn si(self, kind: QuantityKind) -> (f64, f64) {
        let read = |t| parse_kind(kind, t).expect("declared limit");
        (read(self.low), read(self.high))
    }
}

/// What a key or a cell holds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum ValueKind {
    /// A number with a unit.
    Quantity(QuantityKind, Limits),
    /// An air flow, which may say its basis.
    AirFlow(Limits),
    /// A plain number.
    Number(f64, f64),
    /// A whole number.
    Count(u32, u32),
    /// One of a few words.
    Word(&'static [&'static str]),
    /// Any text.
    Text,
    /// A name that others refer to: not empty.
    Name,
    /// True or false.
    Flag,
    /// A date, `YYYY-MM-DD`.
    Date,
    /// A list of days of every year, `MM-DD`.
    Days,
    /// Twelve plain numbers, January first.
    Monthly(f64, f64),
    /// Twenty-four plain numbers, from midnight.
    Hourly(f64, f64),
    /// A compass word or an angle clockwise from north.
    Facing,
    /// A list of tables with these keys.
    Rows(&'static [KeySpec]),
}

impl ValueKind {
    /// Whether this text is one of the words.
    pub fn has_word(self, text: &str) -> bool {
        matches!(self, Self::Word(words) if words.contains(&text))
    }
}

/// What happens when nothing is written.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Need {
    /// A finding.
    Required,
    /// Nothing is assumed; the words say what the program does instead.
    Optional(&'static str),
    /// A named default.
    Default { text: &'static str, rule: &'static str, source: &'static str },
}

/// One key of `project.toml` or `catalogue.toml`, or one column of a table.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct KeySpec {
    pub name: &'static str,
    pub kind: ValueKind,
    pub need: Need,
    pub doc: &'static str,
}

/// One table of keys.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct TableSpec {
    /// Dotted name, with `NAME` for a name that the user chooses.
    pub path: &'static str,
    pub shape: Shape,
    pub doc: &'static str,
    pub keys: &'static [KeySpec],
}

/// How a table stands in the file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Shape {
    /// `[path]`, once.
    Single,
    /// `[path.NAME]`, any number.
    Named,
    /// `[[path]]`, any number.
    List,
}

/// Reason used where no publication stands behind a default.
pub(crate) const COMMON: &str = "common practice, no source";

/// A value that was read.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Value {
    Si(f64),
    Flow(f64, Option<AirFlowBasis>),
    Number(f64),
    Count(u32),
    Word(usize),
    Text(String),
    Flag(bool),
    Days(Vec<(u8, u8)>),
    Monthly([f64; 12]),
    Hourly([f64; 24]),
}

/// Why a value cannot be used; becomes a finding when a place is added.
#[derive(Debug, Clone)]
pub(crate) struct Problem {
    pub kind: &'static FindingKind,
    pub message: String,
    pub value: Option<String>,
    pub allowed: Option<String>,
    pub hint: Option<String>,
}

impl Problem {
    pub fn new(kind: &'static FindingKind, message: impl Into<String>) -> Self {
        Self { kind, message: message.into(), value: None, allowed: None, hint: None }
    }

    pub fn value(mut self, v: impl Into<String>) -> Self {
        self.value = Some(v.into());
        self
    }

    pub fn allowed(mut self, v: impl Into<String>) -> Self {
        self.allowed = Some(v.into());
        self
    }

    pub fn hint(mut self, v: impl Into<String>) -> Self {
        self.hint = Some(v.into());
        self
    }

    pub fn finding(self) -> Finding {
        let mut f = Finding::new(self.kind, self.message);
        f.value = self.value;
        f.allowed = self.allowed;
        f.hint = self.hint;
        f
    }
}

/// A number without needless digits.
pub(crate) fn plain(x: f64) -> String {
    if x == 0.0 {
        return "0".into();
    }
    let text = drycoil_units::significant(x, 5);
    if text.contains('.') && !text.contains('e') {
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    } else {
        text
    }
}

/// The limits in the unit that was written.
pub(crate) fn allowed_in(unit: &Unit, low: f64, high: f64) -> String {
    let to = |si: f64| plain((si - unit.offset) / unit.factor);
    if unit.symbol == "1" {
        return format!("{} to {}", to(low), to(high));
    }
    format!("{} to {} {}", to(low), to(high), unit.symbol)
}

/// An accepted unit with an example, for a number that has none.
pub(crate) fn unit_problem(kind: QuantityKind, error: &UnitError) -> Problem {
    let base = match error {
        UnitError::NoUnit { .. } => pf::NO_UNIT,
        UnitError::WrongUnit { .. } => pf::WRONG_UNIT,
        _ => pf::NOT_A_NUMBER,
    };
    let mut problem = Problem::new(base, error.to_string()).hint(error.hint());
    problem.value = match error {
        UnitError::NoUnit { text, .. }
        | UnitError::NotANumber { text, .. }
        | UnitError::NotFinite { text, .. } => Some(text.clone()),
        UnitError::WrongUnit { unit, .. } => Some(unit.clone()),
        UnitError::Empty { .. } => None,
    };
    if matches!(error, UnitError::WrongUnit { .. }) {
        problem.allowed = Some(kind.accepted());
    }
    problem
}

/// Checks a quantity against its limits; `written` is the text.
pub(crate) fn in_limits(
    kind: QuantityKind,
    si: f64,
    (low, high): (f64, f64),
    written: &str,
) -> Result<f64, Problem> {
    // Limits and values pass through the same conversions, whose rounding must not refuse the limit itself.
    let slack = 1e-9 * (high - low).abs();
    if si >= low - slack && si <= high + slack {
        return Ok(si);
    }
    let unit_text = parse_number(written).map_or("", |(_, u)| u);
    let unit = kind.unit(unit_text).unwrap_or(&kind.units()[0]);
    let side = if si < low { "below" } else { "above" };
    Err(Problem::new(pf::OUT_OF_RANGE, format!("the {} is {side} what is allowed", kind.label()))
        .value(written.trim())
        .allowed(allowed_in(unit, low, high)))
}

/// Longest name or remark. Tables and workbooks show them in one cell.
const MAX_TEXT_CHARACTERS: usize = 1000;

/// Reads text as a value of this kind.
pub(crate) fn parse_text(kind: ValueKind, text: &str) -> Result<Value, Problem> {
    let trimmed = text.trim();
    match kind {
        ValueKind::Quantity(q, limits) => {
            let si = parse_kind(q, text).map_err(|e| unit_problem(q, &e))?;
            in_limits(q, si, limits.si(q), text).map(Value::Si)
        }
        ValueKind::AirFlow(limits) => {
            let q = QuantityKind::StandardAirFlow;
            let (si, basis) = parse_air_flow(text).map_err(|e| unit_problem(q, &e))?;
            in_limits(q, si, limits.si(q), text).map(|v| Value::Flow(v, basis))
        }
        ValueKind::Number(low, high) => match parse_number(trimmed) {
            Some((n, "")) if n.is_finite() => number_in(n, low, high, trimmed).map(Value::Number),
            _ => Err(Problem::new(pf::NOT_A_NUMBER, "expected a plain number").value(trimmed)),
        },
        ValueKind::Count(low, high) => match trimmed.parse::<i64>() {
            Ok(n) => count_in(n, low, high).map(Value::Count),
            Err(_) => Err(Problem::new(pf::NOT_A_NUMBER, "expected a whole number").value(trimmed)),
        },
        ValueKind::Word(words) => word(words, trimmed).map(Value::Word),
        ValueKind::Text | ValueKind::Name if text.chars().nth(MAX_TEXT_CHARACTERS).is_some() => {
            let begin: String = trimmed.chars().take(40).collect();
            Err(Problem::new(pf::OUT_OF_RANGE, "the text is longer than allowed")
                .value(format!("{begin}... ({} characters)", text.chars().count()))
                .allowed(format!("up to {MAX_TEXT_CHARACTERS} characters")))
        }
        ValueKind::Text => Ok(Value::Text(text.to_owned())),
        ValueKind::Name if trimmed.is_empty() => Err(Problem::new(pf::EMPTY_NAME, "the name is empty")),
        ValueKind::Name => Ok(Value::Text(trimmed.to_owned())),
        ValueKind::Flag => match trimmed {
            "true" | "yes" => Ok(Value::Flag(true)),
            "false" | "no" => Ok(Value::Flag(false)),
            _ => Err(Problem::new(pf::UNKNOWN_WORD, "expected yes or no").value(trimmed).allowed("yes, no")),
        },
        ValueKind::Date => date(trimmed).map(|()| Value::Text(trimmed.to_owned())),
        ValueKind::Days => {
            let mut days = Vec::new();
            for part in trimmed.split(',').map(str::trim).filter(|p| !p.is_empty()) {
                days.push(month_day(part)?);
            }
            Ok(Value::Days(days))
        }
        ValueKind::Facing => facing(trimmed).map(Value::Si),
        ValueKind::Monthly(..) | ValueKind::Hourly(..) | ValueKind::Rows(_) => {
            Err(Problem::new(pf::WRONG_TYPE, "expected a list, found a text").value(trimmed))
        }
    }
}

pub(crate) fn number_in(n: f64, low: f64, high: f64, written: &str) -> Result<f64, Problem> {
    if (low..=high).contains(&n) {
        Ok(n)
    } else {
        let side = if n < low { "below" } else { "above" };
        Err(Problem::new(pf::OUT_OF_RANGE, format!("the number is {side} what is allowed"))
            .value(written)
            .allowed(format!("{} to {}", plain(low), plain(high))))
    }
}

pub(crate) fn count_in(n: i64, low: u32, high: u32) -> Result<u32, Problem> {
    u32::try_from(n).ok().filter(|n| (low..=high).contains(n)).ok_or_else(|| {
        Problem::new(pf::OUT_OF_RANGE, "the count is outside what is allowed")
            .value(n.to_string())
            .allowed(format!("{low} to {high}"))
    })
}

pub(crate) fn word(words: &'static [&'static str], text: &str) -> Result<usize, Problem> {
    words.iter().position(|w| *w == text).ok_or_else(|| {
        let mut problem = Problem::new(pf::UNKNOWN_WORD, format!("`{text}` is not one of the choices"))
            .value(text)
            .allowed(words.join(", "));
        problem.hint = did_you_mean(text, words.iter().copied()).map(|w| format!("did you mean `{w}`?"));
        problem
    })
}

const DAYS_IN_MONTH: [u8; 12] = [31, 29, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31];

/// Reads `MM-DD`.
pub(crate) fn month_day(text: &str) -> Result<(u8, u8), Problem> {
    let bad = || {
        Problem::new(pf::BAD_DATE, format!("`{text}` is not a day of the year"))
            .value(text)
            .allowed("MM-DD, as in 07-04")
    };
    let (m, d) = text.split_once('-').ok_or_else(bad)?;
    if m.len() != 2 || d.len() != 2 || !text.bytes().all(|b| b.is_ascii_digit() || b == b'-') {
        return Err(bad());
    }
    let (m, d): (u8, u8) = (m.parse().map_err(|_| bad())?, d.parse().map_err(|_| bad())?);
    if (1..=12).contains(&m) && d >= 1 && d <= DAYS_IN_MONTH[usize::from(m - 1)] {
        Ok((m, d))
    } else {
        Err(bad())
    }
}

/// Checks `YYYY-MM-DD`.
pub(crate) fn date(text: &str) -> Result<(), Problem> {
    let bad = || {
        Problem::new(pf::BAD_DATE, format!("`{text}` is not a date"))
            .value(text)
            .allowed("YYYY-MM-DD, as in 2026-03-31")
    };
    let (year, rest) = text.split_once('-').ok_or_else(bad)?;
    if year.len() != 4 || !year.bytes().all(|b| b.is_ascii_digit()) {
        return Err(bad());
    }
    let (month, day) = month_day(rest).map_err(|_| bad())?;
    let y: u32 = year.parse().map_err(|_| bad())?;
    let leap = y.is_multiple_of(4) && (!y.is_multiple_of(100) || y.is_multiple_of(400));
    if month == 2 && day == 29 && !leap { Err(bad()) } else { Ok(()) }
}

const COMPASS: [&str; 16] =
    ["N", "NNE", "NE", "ENE", "E", "ESE", "SE", "SSE", "S", "SSW", "SW", "WSW", "W", "WNW", "NW", "NNW"];

/// Reads a compass word or an angle with its unit.
pub(crate) fn facing(text: &str) -> Result<f64, Problem> {
    let upper = text.to_ascii_uppercase();
    if let Some(i) = COMPASS.iter().position(|c| *c == upper) {
        return Ok(i as f64 * 22.5);
    }
    if text.starts_with(|c: char| c.is_ascii_alphabetic()) {
        return Err(Problem::new(pf::UNKNOWN_WORD, format!("`{text}` is not a compass direction"))
            .value(text)
            .allowed("N, NNE, NE ... NNW, or an angle clockwise from north such as `135 deg`, or 135 below a title `facing [deg]`"));
    }
    let si = parse_kind(QuantityKind::Angle, text).map_err(|e| unit_problem(QuantityKind::Angle, &e))?;
    in_limits(QuantityKind::Angle, si, (0.0, 360.0), text)
}

/// A value to read on with after a finding; the project is refused, so it is never used.
pub(crate) fn placeholder(kind: ValueKind) -> Value {
    match kind {
        ValueKind::Quantity(q, limits) => Value::Si(f64::midpoint(limits.si(q).0, limits.si(q).1)),
        ValueKind::AirFlow(limits) => Value::Flow(limits.si(QuantityKind::StandardAirFlow).0, None),
        ValueKind::Number(low, _) => Value::Number(low),
        ValueKind::Count(low, _) => Value::Count(low),
        ValueKind::Word(_) => Value::Word(0),
        ValueKind::Text | ValueKind::Name | ValueKind::Date => Value::Text(String::new()),
        ValueKind::Flag => Value::Flag(false),
        ValueKind::Days | ValueKind::Rows(_) => Value::Days(Vec::new()),
        ValueKind::Monthly(low, _) => Value::Monthly([low; 12]),
        ValueKind::Hourly(low, _) => Value::Hourly([low; 24]),
        ValueKind::Facing => Value::Si(0.0),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn dates_name_real_days() {
        assert!(date("2024-02-29").is_ok());
        for bad in ["2023-02-29", "2026-13-01", "31/12/2026", "2026-1-1", "26-01-01", "2026-02-30"] {
            assert!(date(bad).is_err(), "{bad}");
        }
    }

    #[test]
    fn compass_words_and_angles() {
        assert_eq!(facing("SE").unwrap(), 135.0);
        assert_eq!(facing("nnw").unwrap(), 337.5);
        assert_eq!(facing("135 deg").unwrap(), 135.0);
        assert_eq!(facing("135").unwrap_err().kind.id, "PF-005");
        assert_eq!(facing("400 deg").unwrap_err().kind.id, "PF-008");
        assert_eq!(facing("south").unwrap_err().kind.id, "PF-009");
    }

    #[test]
    fn limits_are_shown_in_the_written_unit() {
        let kind = ValueKind::Quantity(QuantityKind::Temperature, between("0 degC", "30 degC"));
        let problem = parse_text(kind, "100 degF").unwrap_err();
        assert_eq!(problem.allowed.as_deref(), Some("32 to 86 degF"));
        assert!(parse_text(kind, "86 degF").is_ok(), "the limit itself is allowed");
    }
}
