//! Drycoil's own CSV: comment lines for the station, titles with units, stamps in local standard time.
//!
//! See `docs/WEATHER_FORMATS.md`.

use super::assemble::{Clock, Irradiance, Parsed, Zone};
use super::detect::{is_comment, plain_title_line};
use super::report::Report;
use super::station::FileStation;
use super::table::{BadStamp, Layout, Series, Titles, read_rows, slot, small_number};
use super::text::{delimiter_of, shown};
use drycoil_climate::{Column, WeatherFormat};
use drycoil_findings::{Finding, did_you_mean, registry::weather as wx};
use drycoil_units::{QuantityKind, UnitError, parse_kind, split_title};

/// Titles that are known, without their units.
pub(super) const TITLES: [&str; 11] = [
    "dry_bulb",
    "dew_point",
    "rh",
    "humidity_ratio",
    "pressure",
    "wind_speed",
    "wind_direction",
    "global_horizontal",
    "direct_normal",
    "diffuse_horizontal",
    "sky_infrared",
];
const STAMP_TITLES: [&str; 4] = ["year", "month", "day", "hour"];
const KEYS: [&str; 7] =
    ["station", "region", "latitude", "longitude", "elevation", "utc_offset", "hour_stamp"];

fn column_of(name: &str) -> Option<(Column, QuantityKind)> {
    Some(match name {
        "dry_bulb" => (Column::DryBulb, QuantityKind::Temperature),
        "dew_point" => (Column::DewPoint, QuantityKind::Temperature),
        "rh" => (Column::RelativeHumidity, QuantityKind::Fraction),
        "humidity_ratio" => (Column::HumidityRatio, QuantityKind::HumidityRatio),
        "pressure" => (Column::Pressure, QuantityKind::Pressure),
        "wind_speed" => (Column::WindSpeed, QuantityKind::Velocity),
        "wind_direction" => (Column::WindDirection, QuantityKind::Angle),
        "global_horizontal" => (Column::GlobalHorizontal, QuantityKind::HeatFlux),
        "direct_normal" => (Column::DirectNormal, QuantityKind::HeatFlux),
        "diffuse_horizontal" => (Column::DiffuseHorizontal, QuantityKind::HeatFlux),
        "sky_infrared" => (Column::SkyInfrared, QuantityKind::HeatFlux),
        _ => return None,
    })
}

#[derive(Clone, Copy, PartialEq)]
enum HourStamp {
    Start,
    End,
}

pub(super) fn read(report: &mut Report<'_>, lines: &[&str], whole: bool) -> Option<Parsed> {
    let title_index = plain_title_line(lines)?;
    let delimiter = delimiter_of(lines[title_index]);
    let (station, hour_stamp) = meta(report, &lines[..title_index], delimiter);
    let number = title_index as u32 + 1;
    let titles = Titles::new(lines[title_index], delimiter, number);
    let mut series: Vec<Series> = Vec::new();
    let mut stamps = [None; 4];
    for (field, title) in titles.names.iter().enumerate() {
        let (name, unit) = split_title(title);
        let name = name.to_ascii_lowercase();
        if let Some(i) = STAMP_TITLES.iter().position(|t| *t == name) {
            stamps[i] = Some(field);
            continue;
        }
        let Some((column, kind)) = column_of(&name) else {
            unknown_title(report, number, title, &name);
            continue;
        };
        if series.iter().any(|s| s.column == column) {
            report.add(wx::BAD_HEADER, |r, f| {
                Finding { message: format!("the column `{name}` stands twice"), ..f }
                    .at(r.line(number).key(shown(title)))
            });
            continue;
        }
        let Some(known) = unit.and_then(|u| kind.unit(u)) else {
            report.add(wx::BAD_UNIT, |r, f| {
                let message = match unit {
                    None => format!("the title `{name}` has no unit"),
                    Some(u) => format!("`{}` is not a unit of {}", shown(u), kind.label()),
                };
                Finding { message, ..f }
                    .at(r.line(number).key(shown(title)))
                    .allowed(kind.accepted())
                    .hint(format!("write `{name} [{}]`", kind.units()[0].symbol))
            });
            continue;
        };
        series
            .push(Series::new(column, title, known.symbol, 1.0, field).converted(known.factor, known.offset));
    }
    for (name, found) in STAMP_TITLES.iter().zip(stamps).skip(1) {
        if found.is_none() {
            titles.need(report, name, &format!("the {name}"));
        }
    }
    let moisture = [Column::DewPoint, Column::RelativeHumidity, Column::HumidityRatio];
    let given: Vec<Column> = moisture.into_iter().filter(|c| series.iter().any(|s| s.column == *c)).collect();
    match given.len() {
        0 => {
            report.add(wx::MISSING_COLUMN, |r, f| {
                Finding { message: "a column of moisture is missing".into(), ..f }
                    .at(r.line(number))
                    .allowed("one of `dew_point [degC]`, `rh [%]`, `humidity_ratio [g/kg]`")
            });
        }
        1 => {}
        _ => {
            report.add(wx::BAD_HEADER, |r, f| {
                Finding { message: "moisture is given more than once".into(), ..f }
                    .at(r.line(number))
                    .value(given.iter().map(ToString::to_string).collect::<Vec<_>>().join(", "))
                    .allowed("one of dew point, relative humidity, humidity ratio")
                    .hint("delete the columns from which the others were computed")
            });
            series.retain(|s| !moisture.contains(&s.column) || s.column == given[0]);
        }
    }
    for name in TITLES {
        let Some((column, kind)) = column_of(name) else { continue };
        let optional = moisture.contains(&column) || column == Column::SkyInfrared;
        let written = titles.names.iter().any(|t| split_title(t).0.eq_ignore_ascii_case(name));
        if !optional && !written {
            titles.need(report, &format!("{name} [{}]", kind.units()[0].symbol), &column.to_string());
        }
    }
    let (month, day, hour) = (stamps[1]?, stamps[2]?, stamps[3]?);
    let rows = read_rows(
        report,
        lines,
        Layout { first: title_index + 1, delimiter, fields: titles.names.len(), last_line_is_whole: whole },
        series,
        |_| false,
        |fields| {
            let allowed = match hour_stamp {
                HourStamp::Start => "month 1 to 12, a day of the month, hour 0 to 23 (start of the hour)",
                HourStamp::End => "month 1 to 12, a day of the month, hour 1 to 24 (end of the hour)",
            };
            let part = |field: usize, what: &str| {
                fields.get(field).and_then(|t| small_number(t)).ok_or_else(|| BadStamp {
                    field,
                    message: format!("the {what} cannot be read"),
                    allowed,
                })
            };
            let (m, d, h) = (part(month, "month")?, part(day, "day")?, part(hour, "hour")?);
            let start = match hour_stamp {
                HourStamp::Start => Some(h),
                HourStamp::End => h.checked_sub(1),
            };
            start
                .filter(|h| *h < 24)
                .ok_or_else(|| BadStamp { field: hour, message: "the hour does not exist".into(), allowed })
                .and_then(|h| {
                    slot(m.min(99) as u8, d.min(99) as u8, h as u8).ok_or_else(|| BadStamp {
                        field: day,
                        message: "the date does not exist".into(),
                        allowed,
                    })
                })
        },
    );
    let clock = Clock { zone: Zone::Local, minute: 0.0, irradiance: Irradiance::Mean };
    Some(Parsed { format: WeatherFormat::PlainCsv, station, rows, clock })
}

fn unknown_title(report: &mut Report<'_>, line: u32, title: &str, name: &str) {
    let near = did_you_mean(name, TITLES.into_iter().chain(STAMP_TITLES));
    report.add(wx::UNKNOWN_COLUMN, |r, f| {
        let shown = shown(title);
        let finding = Finding { message: format!("`{shown}` is not a known title"), ..f }
            .at(r.line(line).key(shown))
            .allowed(STAMP_TITLES.into_iter().chain(TITLES).collect::<Vec<_>>().join(", "));
        match near {
            Some(near) => finding.hint(format!("did you mean `{near}`?")),
            None => finding,
        }
    });
}

/// The sentence of a unit error without the text of the file, which the finding shows apart.
fn cannot_read(key: &str, error: &UnitError) -> String {
    match error {
        UnitError::Empty { .. } => format!("`{key}` has no value"),
        UnitError::NotANumber { .. } => format!("`{key}` does not begin with a number"),
        UnitError::NotFinite { .. } => format!("`{key}` is not finite"),
        UnitError::NoUnit { .. } => format!("`{key}` has no unit"),
        UnitError::WrongUnit { kind, unit, .. } => {
            format!("`{}` is not a unit of {}", shown(unit), kind.label())
        }
    }
}

fn meta(report: &mut Report<'_>, lines: &[&str], delimiter: char) -> (FileStation, HourStamp) {
    let mut station = FileStation { line: 1, ..FileStation::default() };
    let mut hour_stamp = HourStamp::Start;
    for (i, line) in lines.iter().enumerate() {
        if !is_comment(line) {
            continue;
        }
        let number = i as u32 + 1;
        // A spreadsheet closes the line with empty fields and may quote it.
        let text = line.trim().trim_end_matches(delimiter).trim_matches('"').trim_start_matches('#');
        let Some((key, text)) = text.split_once(':') else { continue };
        let key = key.trim().to_ascii_lowercase().replace([' ', '-'], "_");
        let text = text.trim();
        let mut read = |kind: QuantityKind| {
            let value = parse_kind(kind, text);
            value
                .map_err(|e| {
                    report.add(wx::BAD_HEADER, |r, f| {
                        Finding { message: cannot_read(&key, &e), ..f }
                            .at(r.line(number).key(shown(&key)))
                            .value(shown(text))
                            .hint(e.hint())
                    });
                })
                .ok()
        };
        match key.as_str() {
            "station" => station.name = Some(text.to_owned()).filter(|t| !t.is_empty()),
            "region" => station.region = Some(text.to_owned()).filter(|t| !t.is_empty()),
            "latitude" => station.latitude_deg = read(QuantityKind::Angle),
            "longitude" => station.longitude_deg = read(QuantityKind::Angle),
            "elevation" => station.elevation_m = read(QuantityKind::Length),
            "utc_offset" => station.utc_offset_h = read(QuantityKind::Time).map(|s| s / 3600.0),
            "hour_stamp" => match text {
                "start" => hour_stamp = HourStamp::Start,
                "end" => hour_stamp = HourStamp::End,
                _ => report.add(wx::BAD_HEADER, |r, f| {
                    Finding { message: "`hour_stamp` says which end of the hour is written".into(), ..f }
                        .at(r.line(number).key("hour_stamp"))
                        .value(shown(text))
                        .allowed("`start` (hours 0 to 23) or `end` (hours 1 to 24)")
                }),
            },
            _ => {
                if let Some(near) = did_you_mean(&key, KEYS) {
                    report.add(wx::BAD_HEADER, |r, f| {
                        Finding { message: format!("`{}` is not a key of the station", shown(&key)), ..f }
                            .at(r.line(number).key(shown(&key)))
                            .hint(format!("did you mean `{near}`?"))
                    });
                }
            }
        }
    }
    (station, hour_stamp)
}
