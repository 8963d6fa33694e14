//! Rows of weather values, checked one by one.

use super::report::Report;
use super::text::{shown, split};
use drycoil_climate::{Calendar, Column};
use drycoil_findings::{Finding, Place, did_you_mean, registry::weather as wx};
use std::collections::BTreeMap;

/// A value that the file does not give.
pub(super) const MISSING: f64 = f64::NAN;
/// A value that was refused; its finding is already written.
pub(super) const REFUSED: f64 = f64::INFINITY;

/// Numbers that stand for a missing value in the formats read here.
///
/// They are only taken so where they lie outside the range of the column.
const MARKERS: [f64; 12] =
    [-9900.0, -9999.0, -999.0, -999.9, -99.9, -99.0, 999.0, 999.9, 9999.0, 9999.9, 99999.0, 99999.9];

/// Whether a column may be left out.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Need {
    Always,
    Optional,
}

/// One column of the file and how it becomes SI: `si = value * factor / divisor + offset`. Tenths are divided, not
/// multiplied, so that 317 tenths become 31.7 and not a neighbour of it.
#[derive(Debug, Clone)]
pub(super) struct Series {
    pub(super) column: Column,
    /// Title in the file.
    pub(super) title: String,
    /// Unit in the file.
    pub(super) unit: String,
    pub(super) factor: f64,
    pub(super) divisor: f64,
    pub(super) offset: f64,
    /// Position of the field, from 0.
    pub(super) field: usize,
    pub(super) need: Need,
    /// SI values, a row each.
    pub(super) values: Vec<f64>,
    /// Most decimals seen.
    pub(super) decimals: u32,
    /// Numbers that mark a missing value, by row.
    pub(super) marked: BTreeMap<usize, String>,
}

impl Series {
    /// A column whose factor to SI is 1, a power of ten, or one over a power of ten.
    pub(super) fn new(column: Column, title: &str, unit: &str, factor: f64, field: usize) -> Self {
        Self {
            column,
            title: title.to_owned(),
            unit: unit.to_owned(),
            factor: factor.max(1.0),
            divisor: (1.0 / factor.min(1.0)).round(),
            offset: 0.0,
            field,
            need: if column == Column::SkyInfrared { Need::Optional } else { Need::Always },
            values: Vec::with_capacity(Calendar::Common.hours()),
            decimals: 0,
            marked: BTreeMap::new(),
        }
    }

    /// With a conversion of units.
    pub(super) const fn converted(mut self, factor: f64, offset: f64) -> Self {
        self.factor = factor;
        self.divisor = 1.0;
        self.offset = offset;
        self
    }

    /// Step to which the file rounds, in the SI unit.
    pub(super) fn step(&self) -> f64 {
        10f64.powi(-(self.decimals.min(12).cast_signed())) * (self.factor / self.divisor).abs()
    }

    fn in_file_unit(&self, si: f64) -> f64 {
        let value = (si - self.offset) * self.divisor / self.factor;
        (value * 1e6).round() / 1e6 + 0.0
    }
}

/// The rows of a file in file order.
#[derive(Debug, Default)]
pub(super) struct Rows {
    /// Line of each row, from 1.
    pub(super) lines: Vec<u32>,
    /// Hour slot of each row in the leap calendar, 0 to 8783.
    pub(super) slots: Vec<u16>,
    pub(super) series: Vec<Series>,
    /// Line (from 1) of the titles; rows of the table are counted from it.
    pub(super) title_line: u32,
    /// Rows whose stamp could not be read.
    pub(super) unplaced: usize,
    /// Whether the last line was cut off.
    pub(super) cut_off: bool,
}

impl Rows {
    /// Place of a value.
    pub(super) fn place(&self, report: &Report<'_>, line: u32, column: Option<u32>, title: &str) -> Place {
        let row = line.saturating_sub(self.title_line);
        Place { column, ..report.line(line).row(row).key(title) }
    }
}

/// The slot of an hour in the leap calendar; `None` for a date that does not exist.
pub(super) fn slot(month: u8, day: u8, hour: u8) -> Option<u16> {
    if hour > 23 {
        return None;
    }
    let day = Calendar::Leap.day_of_year(month, day)?;
    Some(((day - 1) * 24 + usize::from(hour)) as u16)
}

/// What is wrong with a stamp: position of the field and the sentence.
pub(super) struct BadStamp {
    pub(super) field: usize,
    pub(super) message: String,
    pub(super) allowed: &'static str,
}

/// Whole number of at most four digits.
pub(super) fn small_number(text: &str) -> Option<u16> {
    let t = text.trim();
    // Some exports write whole numbers as `1.0`.
    let t = t.strip_suffix(".0").unwrap_or(t);
    if t.is_empty() || t.len() > 4 || !t.bytes().all(|b| b.is_ascii_digit()) {
        return None;
    }
    t.parse().ok()
}

/// Reads one value. Anything that is not a value in range gives a finding.
pub(super) fn value(
    report: &mut Report<'_>,
    series: &mut Series,
    text: &str,
    place: impl Fn(&Report<'_>, &str) -> Place,
) -> f64 {
    let t = text.trim();
    let word = t.bytes().next().is_none_or(|b| b.is_ascii_alphabetic());
    if word && (t.is_empty() || t.eq_ignore_ascii_case("nan") || t.eq_ignore_ascii_case("na")) {
        return MISSING;
    }
    let plain = t.bytes().all(|b| b.is_ascii_digit() || matches!(b, b'+' | b'-' | b'.' | b'e' | b'E'));
    let Some(number) = plain.then(|| t.parse::<f64>().ok()).flatten().filter(|v| v.is_finite()) else {
        let comma = t.contains(',')
            && t.bytes().all(|b| b.is_ascii_digit() || matches!(b, b',' | b'.' | b'-' | b'+'));
        let kind = if comma { wx::DECIMAL_COMMA } else { wx::BAD_NUMBER };
        report.add(kind, |r, f| {
            let shown = shown(t);
            let finding = Finding { message: format!("`{shown}` is not a number"), ..f }
                .at(place(r, &series.title))
                .value(shown)
                .allowed(format!("a number of {}", series.unit));
            if comma { finding.hint("write the decimal mark as a point: 12.5, not 12,5") } else { finding }
        });
        return REFUSED;
    };
    if let Some(point) = t.find('.') {
        let decimals = t[point + 1..].bytes().take_while(u8::is_ascii_digit).count() as u32;
        series.decimals = series.decimals.max(decimals);
    }
    // Adding zero turns the minus zero of some exports into zero.
    let si = number * series.factor / series.divisor + series.offset + 0.0;
    let (low, high) = series.column.allowed();
    // A conversion of units may miss a bound by the last binary digit.
    let slack = 1e-9 * high.abs().max(low.abs());
    if si >= low - slack && si <= high + slack {
        return si.max(low).min(high);
    }
    if MARKERS.contains(&number) {
        series.marked.insert(series.values.len(), t.to_owned());
        return MISSING;
    }
    report.add(wx::OUT_OF_RANGE, |r, f| {
        let column = series.column;
        Finding { message: format!("{column} is outside what can be"), ..f }
            .at(place(r, &series.title))
            .value(format!("{t} {}", series.unit))
            .allowed(format!("{} to {} {}", series.in_file_unit(low), series.in_file_unit(high), series.unit))
            .hint(unit_hint(series, number))
    });
    REFUSED
}

fn unit_hint(series: &Series, number: f64) -> String {
    let (low, high) = series.column.allowed();
    let within = |si: f64| si >= low && si <= high;
    match series.column {
        Column::Pressure if within(number) && series.factor != 1.0 => {
            "the value would fit in Pa: check the unit of the column".into()
        }
        Column::Pressure if within(number * 100.0) => {
            "the value would fit in hPa (mbar): check the unit of the column".into()
        }
        Column::Pressure if within(number * 1000.0) => {
            "the value would fit in kPa: check the unit of the column".into()
        }
        Column::DryBulb | Column::DewPoint if within((number - 32.0) / 1.8) => {
            "the value would fit in degF: check the unit of the column".into()
        }
        Column::DryBulb | Column::DewPoint if within(number - 273.15) => {
            "the value would fit in K: check the unit of the column".into()
        }
        _ => "correct the value, or leave the field empty when it is missing".into(),
    }
}

/// Finds the columns of a format by their titles.
pub(super) struct Titles<'a> {
    pub(super) names: Vec<&'a str>,
    pub(super) line: u32,
}

impl<'a> Titles<'a> {
    pub(super) fn new(line: &'a str, delimiter: char, number: u32) -> Self {
        let mut names = Vec::new();
        split(line, delimiter, &mut names);
        for name in &mut names {
            *name = name.trim();
        }
        Self { names, line: number }
    }

    pub(super) fn find(&self, title: &str) -> Option<usize> {
        self.names.iter().position(|n| n.eq_ignore_ascii_case(title))
    }

    /// The position, or a finding.
    pub(super) fn need(&self, report: &mut Report<'_>, title: &str, what: &str) -> Option<usize> {
        let found = self.find(title);
        if found.is_none() {
            let near = did_you_mean(title, self.names.iter().copied().filter(|n| n.len() < 60));
            report.add(wx::MISSING_COLUMN, |r, f| {
                let finding = Finding { message: format!("the column of {what} is missing"), ..f }
                    .at(r.line(self.line).key(title))
                    .allowed(format!("a column titled `{title}`"));
                match near {
                    Some(near) => {
                        finding.hint(format!("the title `{near}` is near; is it the same quantity and unit?"))
                    }
                    None => finding.hint("export the file with this column"),
                }
            });
        }
        found
    }
}

/// Where the rows of a delimited file stand.
#[derive(Debug, Clone, Copy)]
pub(super) struct Layout {
    /// Index of the first line below the titles.
    pub(super) first: usize,
    pub(super) delimiter: char,
    /// Fields of a row.
    pub(super) fields: usize,
    /// Whether the file ends with a line end; without one its last row may be cut off.
    pub(super) last_line_is_whole: bool,
}

/// Reads the rows below the titles of a delimited file.
///
/// `stop` ends the table at a line, `stamp` gives the hour slot of a row.
pub(super) fn read_rows<'a>(
    report: &mut Report<'_>,
    lines: &[&'a str],
    layout: Layout,
    mut series: Vec<Series>,
    mut stop: impl FnMut(&str) -> bool,
    mut stamp: impl FnMut(&[&'a str]) -> Result<u16, BadStamp>,
) -> Rows {
    let Layout { first, delimiter, fields, last_line_is_whole } = layout;
    let mut rows = Rows { title_line: first as u32, ..Rows::default() };
    let mut out: Vec<&'a str> = Vec::with_capacity(fields);
    let last = lines.iter().rposition(|l| !l.trim().is_empty()).unwrap_or(0);
    for (i, line) in lines.iter().enumerate().skip(first) {
        let number = i as u32 + 1;
        if stop(line) {
            break;
        }
        if line.trim().is_empty() || *line == "\u{1a}" {
            continue;
        }
        let closed = split(line, delimiter, &mut out);
        // A spreadsheet may add empty fields at the end of each row.
        while out.len() > fields && out.last().is_some_and(|f| f.trim().is_empty()) {
            out.pop();
        }
        let whole = closed && out.len() == fields;
        if !whole {
            let found = out.len();
            let cut = i == last && found < fields && !last_line_is_whole;
            rows.cut_off |= cut;
            let kind = if cut { wx::TRUNCATED } else { wx::ROW_SHAPE };
            report.add(kind, |r, f| {
                let message = if cut {
                    "the last row is cut off"
                } else if closed {
                    "the row has the wrong number of fields"
                } else {
                    "a quotation mark is not closed, or text follows it"
                };
                let finding = Finding { message: message.into(), ..f }
                    .at(r.line(number).row(number.saturating_sub(first as u32)))
                    .value(if found == 1 { "1 field".to_owned() } else { format!("{found} fields") })
                    .allowed(format!("{fields} fields, as in the titles"));
                if found > fields && delimiter == ',' {
                    finding.hint(
                        "numbers with a decimal comma split into two fields: write decimals with a point",
                    )
                } else {
                    finding
                }
            });
        }
        match stamp(&out) {
            Ok(slot) => {
                rows.lines.push(number);
                rows.slots.push(slot);
                for s in &mut series {
                    let v = match out.get(s.field) {
                        Some(text) if whole => {
                            let text: &str = text;
                            value(report, s, text, |r, title| {
                                let byte = (text.as_ptr() as usize).saturating_sub(line.as_ptr() as usize);
                                let column = line.get(..byte).map(|before| before.chars().count() as u32 + 1);
                                let row = number.saturating_sub(first as u32);
                                Place { column, ..r.line(number).row(row).key(title) }
                            })
                        }
                        _ => REFUSED,
                    };
                    s.values.push(v);
                }
            }
            Err(bad) => {
                rows.unplaced += 1;
                if whole {
                    report.add(wx::BAD_STAMP, |r, f| {
                        let text = shown(out.get(bad.field).copied().unwrap_or(""));
                        Finding { message: bad.message, ..f }
                            .at(r.line(number).row(number.saturating_sub(first as u32)))
                            .value(text)
                            .allowed(bad.allowed)
                    });
                }
            }
        }
    }
    rows.series = series;
    rows
}
