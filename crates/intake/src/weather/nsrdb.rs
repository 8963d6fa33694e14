//! NSRDB physical solar model: comma-separated, with or without the two header lines of the station.
//!
//! Layout: NREL, National Solar Radiation Database, documentation of the PSM download (CSV). Line 1 names and line 2 gives
//! the station values and the units; line 3 titles. A file saved from a table program may lack lines 1 and 2 and carry
//! an index in the first column. Columns `Year, Month, Day, Hour, Minute`; the minute (30 in hourly files) is the instant
//! of the values, so that a stamp 0:30 is the middle of interval 0. With the header, stamps are in `Time Zone`.
//! Without it they are local standard time, as the typical years of the database are issued.

use super::assemble::{Clock, Irradiance, Parsed, Zone};
use super::detect::nsrdb_title_line;
use super::report::Report;
use super::station::FileStation;
use super::table::{BadStamp, Layout, Series, Titles, read_rows, slot, small_number};
use super::text::{delimiter_of, shown, split};
use drycoil_climate::{Column, WeatherFormat};
use drycoil_findings::{Finding, registry::weather as wx};

/// Title, column, unit, factor, title of the unit in the header, accepted texts of the unit.
type Entry = (&'static str, Column, &'static str, f64, &'static str, &'static [&'static str]);

const COLUMNS: [Entry; 7] = [
    ("Temperature", Column::DryBulb, "degC", 1.0, "Temperature Units", &["c", "degc", "degrees c"]),
    ("Pressure", Column::Pressure, "mbar", 100.0, "Pressure Units", &["mbar", "hpa", "millibar"]),
    ("Wind Speed", Column::WindSpeed, "m/s", 1.0, "Wind Speed", &["m/s"]),
    (
        "Wind Direction",
        Column::WindDirection,
        "deg",
        1.0,
        "Wind Direction Units",
        &["degrees", "deg", "degree"],
    ),
    ("GHI", Column::GlobalHorizontal, "W/m2", 1.0, "GHI Units", &["w/m2"]),
    ("DNI", Column::DirectNormal, "W/m2", 1.0, "DNI Units", &["w/m2"]),
    ("DHI", Column::DiffuseHorizontal, "W/m2", 1.0, "DHI Units", &["w/m2"]),
];

pub(super) fn read(report: &mut Report<'_>, lines: &[&str], whole: bool) -> Option<Parsed> {
    let title_index = nsrdb_title_line(lines)?;
    let delimiter = delimiter_of(lines[title_index]);
    let titles = Titles::new(lines[title_index], delimiter, title_index as u32 + 1);
    let mut header = Header::default();
    if title_index >= 2 {
        header.read(report, lines[title_index - 2], lines[title_index - 1], delimiter, title_index as u32);
    } else if title_index == 1 {
        report.add(wx::BAD_HEADER, |r, f| {
            Finding { message: "one line stands above the titles where two are needed".into(), ..f }
                .at(r.line(1))
                .allowed("a line of names and a line of values, or neither")
        });
    }
    let mut series = Vec::new();
    for (title, column, unit, factor, unit_title, accepted) in COLUMNS {
        if let Some(field) = titles.need(report, title, &column.to_string()) {
            header.check_unit(report, title_index as u32, unit_title, accepted);
            series.push(Series::new(column, title, unit, factor, field));
        }
    }
    if let Some(field) = titles.find("Dew Point") {
        header.check_unit(report, title_index as u32, "Dew Point Units", &["c", "degc", "degrees c"]);
        series.push(Series::new(Column::DewPoint, "Dew Point", "degC", 1.0, field));
    } else if let Some(field) = titles.find("Relative Humidity") {
        header.check_unit(report, title_index as u32, "Relative Humidity Units", &["%"]);
        series.push(Series::new(Column::RelativeHumidity, "Relative Humidity", "%", 0.01, field));
    } else {
        titles.need(report, "Dew Point", "moisture (`Dew Point` or `Relative Humidity`)");
    }
    let month = titles.find("Month")?;
    let day = titles.find("Day")?;
    let hour = titles.find("Hour")?;
    let minute = titles.need(report, "Minute", "the minute of the stamp")?;
    let mut of_file = None;
    let rows = read_rows(
        report,
        lines,
        Layout { first: title_index + 1, delimiter, fields: titles.names.len(), last_line_is_whole: whole },
        series,
        |_| false,
        |fields| {
            let part = |field: usize, what: &str| {
                fields.get(field).and_then(|t| small_number(t)).ok_or_else(|| BadStamp {
                    field,
                    message: format!("the {what} cannot be read"),
                    allowed: "whole numbers for month, day, hour (0 to 23) and minute (0 to 59)",
                })
            };
            let m = part(minute, "minute")?;
            let slot = slot(
                part(month, "month")?.min(99) as u8,
                part(day, "day")?.min(99) as u8,
                part(hour, "hour")?.min(99) as u8,
            )
            .filter(|_| m < 60)
            .ok_or(BadStamp {
                field: day,
                message: "the date or hour does not exist".into(),
                allowed: "a day of the year, hour 0 to 23, minute 0 to 59",
            })?;
            if *of_file.get_or_insert(m) != m {
                return Err(BadStamp {
                    field: minute,
                    message: "the minute differs from that of the first row, so the step is not one hour"
                        .into(),
                    allowed: "one row an hour",
                });
            }
            Ok(slot)
        },
    );
    let zone = match (header.station.utc_offset_h, header.stamp_zone) {
        (Some(_), Some(stamps)) => Zone::Utc(stamps),
        _ => Zone::Local,
    };
    let minute = f64::from(of_file.unwrap_or(0)) / 60.0;
    let clock = Clock { zone, minute, irradiance: Irradiance::Sample { after_stamp_h: 0.0 } };
    Some(Parsed { format: WeatherFormat::NsrdbPsmCsv, station: header.station, rows, clock })
}

#[derive(Default)]
struct Header<'a> {
    station: FileStation,
    /// Zone of the stamps, h from UTC.
    stamp_zone: Option<f64>,
    pairs: Vec<(&'a str, &'a str)>,
}

impl<'a> Header<'a> {
    fn read(&mut self, report: &mut Report<'_>, names: &'a str, values: &'a str, delimiter: char, line: u32) {
        let (mut n, mut v) = (Vec::new(), Vec::new());
        split(names, delimiter, &mut n);
        split(values, delimiter, &mut v);
        self.pairs = n.into_iter().map(str::trim).zip(v.into_iter().map(str::trim)).collect();
        self.station.line = line;
        let number = |report: &mut Report<'_>, key: &str| {
            let text = self.get(key)?;
            let value = text.parse::<f64>().ok().filter(|v| v.is_finite());
            if value.is_none() {
                report.add(wx::BAD_HEADER, |r, f| {
                    Finding {
                        message: format!("the {} of the station cannot be read", key.to_lowercase()),
                        ..f
                    }
                    .at(r.line(line).key(key))
                    .value(shown(text))
                    .allowed("a decimal number")
                });
            }
            value
        };
        let latitude = number(report, "Latitude");
        let longitude = number(report, "Longitude");
        let elevation = number(report, "Elevation");
        let stamps = number(report, "Time Zone");
        let local = number(report, "Local Time Zone").or(stamps);
        let text = |key: &str| self.get(key).filter(|t| !t.is_empty() && *t != "-").map(ToOwned::to_owned);
        let name = text("City").or_else(|| text("Location ID").map(|id| format!("NSRDB location {id}")));
        let region = text("State").or_else(|| text("Country"));
        self.station = FileStation {
            name,
            region,
            latitude_deg: latitude,
            longitude_deg: longitude,
            elevation_m: elevation,
            utc_offset_h: local,
            line,
        };
        self.stamp_zone = stamps;
    }

    fn get(&self, key: &str) -> Option<&'a str> {
        self.pairs.iter().find(|(k, _)| k.eq_ignore_ascii_case(key)).map(|(_, v)| *v)
    }

    fn check_unit(&self, report: &mut Report<'_>, line: u32, key: &str, accepted: &[&str]) {
        let Some(unit) = self.get(key) else { return };
        if !accepted.contains(&unit.to_lowercase().as_str()) {
            report.add(wx::BAD_UNIT, |r, f| {
                Finding { message: format!("`{key}` names a unit that this format does not use"), ..f }
                    .at(r.line(line).key(key))
                    .value(shown(unit))
                    .allowed(accepted.join(", "))
            });
        }
    }
}
