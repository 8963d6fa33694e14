//! TMY2: fixed columns, one header line, stamps at the end of the hour in local standard time.
//!
//! Layout: W. Marion, K. Urban, *User's Manual for TMY2s*, NREL/SP-463-7668, tables 3-1 and 3-2 (positions from 1):
//! header 2-6 station number, 8-29 city, 31-32 state, 34-36 time zone, 38 N or S, 40-41 degrees, 43-44 minutes, 46 E or
//! W, 48-50 degrees, 52-53 minutes, 56-59 elevation (m). Record of 142 characters: 2-3 year, 4-5 month, 6-7 day, 8-9 hour
//! (1 to 24), 18-21 global horizontal, 24-27 direct normal, 30-33 diffuse horizontal (Wh/m2 over the hour that ends at the
//! stamp), 68-71 dry bulb (0.1 degC), 74-77 dew point (0.1 degC), 85-88 pressure (mbar), 91-93 wind direction (deg),
//! 96-98 wind speed (0.1 m/s). Nines mark a missing value.

use super::assemble::{Clock, Irradiance, Parsed, Zone};
use super::report::Report;
use super::station::FileStation;
use super::table::{MISSING, REFUSED, Rows, Series, slot, value};
use super::text::shown;
use drycoil_climate::{Column, WeatherFormat};
use drycoil_findings::{Finding, Place, registry::weather as wx};

/// Characters of a record.
const RECORD: usize = 142;

/// Title, column, unit as printed, factor to SI, first byte and byte after the last (from 0), mark of a missing value.
const COLUMNS: [(&str, Column, &str, f64, usize, usize, &str); 8] = [
    ("dry bulb (68-71)", Column::DryBulb, "tenths of degC", 0.1, 67, 71, "9999"),
    ("dew point (74-77)", Column::DewPoint, "tenths of degC", 0.1, 73, 77, "9999"),
    ("pressure (85-88)", Column::Pressure, "mbar", 100.0, 84, 88, "9999"),
    ("wind speed (96-98)", Column::WindSpeed, "tenths of m/s", 0.1, 95, 98, "999"),
    ("wind direction (91-93)", Column::WindDirection, "deg", 1.0, 90, 93, "999"),
    ("global horizontal (18-21)", Column::GlobalHorizontal, "Wh/m2", 1.0, 17, 21, "9999"),
    ("direct normal (24-27)", Column::DirectNormal, "Wh/m2", 1.0, 23, 27, "9999"),
    ("diffuse horizontal (30-33)", Column::DiffuseHorizontal, "Wh/m2", 1.0, 29, 33, "9999"),
];

pub(super) fn read(report: &mut Report<'_>, lines: &[&str], whole: bool) -> Option<Parsed> {
    let station = header(report, lines.first()?);
    let mut rows = Rows { title_line: 1, ..Rows::default() };
    let mut series: Vec<Series> = COLUMNS
        .iter()
        .enumerate()
        .map(|(i, (title, column, unit, factor, ..))| Series::new(*column, title, unit, *factor, i))
        .collect();
    let last = lines.iter().rposition(|l| !l.trim().is_empty()).unwrap_or(0);
    for (i, line) in lines.iter().enumerate().skip(1) {
        if line.trim().is_empty() || *line == "\u{1a}" {
            continue;
        }
        let number = i as u32 + 1;
        let line = line.trim_end();
        let good = line.len() == RECORD && line.is_ascii();
        if !good {
            let cut = i == last && line.len() < RECORD && !whole;
            rows.cut_off |= cut;
            report.add(if cut { wx::TRUNCATED } else { wx::ROW_SHAPE }, |r, f| {
                let message =
                    if cut { "the last record is cut off" } else { "the record has the wrong length" };
                Finding { message: message.into(), ..f }
                    .at(r.line(number).row(number - 1))
                    .value(format!("{} characters", line.chars().count()))
                    .allowed(format!("{RECORD} characters"))
                    .hint("a record begins with one space; an editor may have removed or added blanks")
            });
        }
        let Some(slot) = stamp(line) else {
            rows.unplaced += 1;
            if good {
                report.add(wx::BAD_STAMP, |r, f| {
                    Finding { message: "the month, day and hour cannot be read".into(), ..f }
                        .at(Place { column: Some(4), ..r.line(number).row(number - 1).key("date (4-9)") })
                        .value(line.get(3..9).unwrap_or("").to_owned())
                        .allowed("month, day and hour (01 to 24), two digits each")
                });
            }
            continue;
        };
        rows.lines.push(number);
        rows.slots.push(slot);
        for (s, (.., start, end, mark)) in series.iter_mut().zip(COLUMNS) {
            let v = match line.get(start..end) {
                Some(text) if good && text == mark => MISSING,
                Some(text) if good => value(report, s, text, |r, title| Place {
                    column: Some(start as u32 + 1),
                    ..r.line(number).row(number - 1).key(title)
                }),
                _ => REFUSED,
            };
            s.values.push(v);
        }
    }
    rows.series = series;
    let clock = Clock { zone: Zone::Local, minute: 0.0, irradiance: Irradiance::Mean };
    Some(Parsed { format: WeatherFormat::Tmy2, station, rows, clock })
}

fn stamp(line: &str) -> Option<u16> {
    let two = |from: usize| {
        let text = line.get(from..from + 2)?.trim_start();
        (!text.is_empty() && text.bytes().all(|b| b.is_ascii_digit()))
            .then(|| text.parse::<u8>().ok())
            .flatten()
    };
    let hour = two(7)?;
    slot(two(3)?, two(5)?, hour.checked_sub(1)?)
}

fn header(report: &mut Report<'_>, line: &str) -> FileStation {
    let mut read = |from: usize, to: usize, what: &str| {
        let text = line.get(from..to.min(line.len())).unwrap_or("").trim();
        let value = text.parse::<f64>().ok().filter(|v| v.is_finite());
        if value.is_none() {
            report.add(wx::BAD_HEADER, |r, f| {
                Finding { message: format!("the {what} of the station cannot be read"), ..f }
                    .at(Place { column: Some(from as u32 + 1), ..r.line(1).key(what) })
                    .value(shown(text))
                    .allowed(format!("a number at characters {} to {to}", from + 1))
            });
        }
        value
    };
    let utc_offset_h = read(33, 36, "time zone");
    let latitude = (read(39, 41, "degrees of latitude"), read(42, 44, "minutes of latitude"));
    let longitude = (read(47, 50, "degrees of longitude"), read(51, 53, "minutes of longitude"));
    let elevation_m = read(55, 59, "elevation");
    let mut side = |at: usize, plus: &str, minus: &str, what: &str| {
        let text = line.get(at..=at).unwrap_or("");
        if text != plus && text != minus {
            report.add(wx::BAD_HEADER, |r, f| {
                Finding { message: format!("the {what} of the station has no side"), ..f }
                    .at(Place { column: Some(at as u32 + 1), ..r.line(1).key(what) })
                    .value(shown(text))
                    .allowed(format!("`{plus}` or `{minus}`"))
            });
            return None;
        }
        Some(if text == minus { -1.0 } else { 1.0 })
    };
    let angle =
        |sign: Option<f64>, parts: (Option<f64>, Option<f64>)| Some(sign? * (parts.0? + parts.1? / 60.0));
    let text =
        |from: usize, to: usize| line.get(from..to).map(|t| t.trim().to_owned()).filter(|t| !t.is_empty());
    FileStation {
        name: text(7, 29),
        region: text(30, 32),
        latitude_deg: angle(side(37, "N", "S", "latitude"), latitude),
        longitude_deg: angle(side(45, "E", "W", "longitude"), longitude),
        elevation_m,
        utc_offset_h,
        line: 1,
    }
}
