//! TMY3: comma-separated, two header lines, stamps at the end of the hour in local standard time.
//!
//! Layout: S. Wilcox, W. Marion, *Users Manual for TMY3 Data Sets*, NREL/TP-581-43156, tables 1-1 and 1-2.
//! Line 1: station id, name, state, time zone, latitude, longitude, elevation (m). Line 2: titles with units.
//! Rows: date `MM/DD/YYYY`, time `HH:MM` from 01:00 to 24:00. Irradiance is the mean over the hour that ends at the
//! stamp, so row 01:00 is interval 0. Temperatures, pressure and wind are those of the stamp.

use super::assemble::{Clock, Irradiance, Parsed, Zone};
use super::report::Report;
use super::station::FileStation;
use super::table::{BadStamp, Layout, Series, Titles, read_rows, slot, small_number};
use super::text::{delimiter_of, shown, split};
use drycoil_climate::{Column, WeatherFormat};
use drycoil_findings::{Finding, registry::weather as wx};

const COLUMNS: [(&str, Column, &str, f64); 8] = [
    ("Dry-bulb (C)", Column::DryBulb, "degC", 1.0),
    ("Dew-point (C)", Column::DewPoint, "degC", 1.0),
    ("Pressure (mbar)", Column::Pressure, "mbar", 100.0),
    ("Wspd (m/s)", Column::WindSpeed, "m/s", 1.0),
    ("Wdir (degrees)", Column::WindDirection, "deg", 1.0),
    ("GHI (W/m^2)", Column::GlobalHorizontal, "W/m2", 1.0),
    ("DNI (W/m^2)", Column::DirectNormal, "W/m2", 1.0),
    ("DHI (W/m^2)", Column::DiffuseHorizontal, "W/m2", 1.0),
];

pub(super) fn read(report: &mut Report<'_>, lines: &[&str], whole: bool) -> Option<Parsed> {
    let title_index = lines.iter().take(3).position(|l| {
        l.to_ascii_lowercase().contains("time (hh:mm)") || l.to_ascii_lowercase().contains("dry-bulb (")
    })?;
    let delimiter = delimiter_of(lines[title_index]);
    let titles = Titles::new(lines[title_index], delimiter, title_index as u32 + 1);
    let station = if title_index == 0 {
        report.add(wx::BAD_HEADER, |r, f| {
            Finding { message: "the line of the station is missing above the titles".into(), ..f }
                .at(r.line(1))
                .allowed("station id, name, state, time zone, latitude, longitude, elevation")
        });
        FileStation::default()
    } else {
        station_line(report, lines[title_index - 1], delimiter, title_index as u32)
    };
    let date = titles.need(report, "Date (MM/DD/YYYY)", "the date");
    let time = titles.need(report, "Time (HH:MM)", "the time");
    let mut series = Vec::new();
    for (title, column, unit, factor) in COLUMNS {
        if let Some(field) = titles.need(report, title, &column.to_string()) {
            series.push(Series::new(column, title, unit, factor, field));
        }
    }
    let (date, time) = (date?, time?);
    let rows = read_rows(
        report,
        lines,
        Layout { first: title_index + 1, delimiter, fields: titles.names.len(), last_line_is_whole: whole },
        series,
        |_| false,
        |fields| {
            let (d, t) = (fields.get(date).copied().unwrap_or(""), fields.get(time).copied().unwrap_or(""));
            let (month, day) = month_day(d).ok_or_else(|| BadStamp {
                field: date,
                message: "the date cannot be read".into(),
                allowed: "MM/DD/YYYY",
            })?;
            let bad_time =
                |message: &str| BadStamp { field: time, message: message.into(), allowed: "01:00 to 24:00" };
            let (hour, minute) =
                t.trim().split_once(':').ok_or_else(|| bad_time("the time cannot be read"))?;
            let hour = small_number(hour).ok_or_else(|| bad_time("the time cannot be read"))?;
            if small_number(minute) != Some(0) {
                return Err(bad_time("the time is not a full hour"));
            }
            if !(1..=24).contains(&hour) {
                return Err(bad_time("the hour is not one of 1 to 24"));
            }
            slot(month, day, hour as u8 - 1).ok_or_else(|| BadStamp {
                field: date,
                message: "the date does not exist".into(),
                allowed: "a day of the year as MM/DD/YYYY",
            })
        },
    );
    let clock = Clock { zone: Zone::Local, minute: 0.0, irradiance: Irradiance::Mean };
    Some(Parsed { format: WeatherFormat::Tmy3Csv, station, rows, clock })
}

fn month_day(text: &str) -> Option<(u8, u8)> {
    let mut parts = text.trim().split('/');
    let month = small_number(parts.next()?)?;
    let day = small_number(parts.next()?)?;
    let year = small_number(parts.next()?)?;
    if parts.next().is_some() || month > 12 || day > 31 || year < 1800 {
        return None;
    }
    Some((month as u8, day as u8))
}

fn station_line(report: &mut Report<'_>, line: &str, delimiter: char, number: u32) -> FileStation {
    let mut fields = Vec::new();
    split(line, delimiter, &mut fields);
    let mut station = FileStation { line: number, ..FileStation::default() };
    let mut read = |index: usize, what: &str| {
        let text = fields.get(index).map_or("", |f| f.trim());
        let value = text.parse::<f64>().ok().filter(|v| v.is_finite());
        if value.is_none() {
            report.add(wx::BAD_HEADER, |r, f| {
                Finding { message: format!("the {what} of the station cannot be read"), ..f }
                    .at(r.line(number).key(what))
                    .value(shown(text))
                    .allowed(format!("a number as field {} of this line", index + 1))
            });
        }
        value
    };
    station.utc_offset_h = read(3, "time zone");
    station.latitude_deg = read(4, "latitude");
    station.longitude_deg = read(5, "longitude");
    station.elevation_m = read(6, "elevation");
    let text = |index: usize| fields.get(index).map(|f| f.trim().to_owned()).filter(|f| !f.is_empty());
    station.name = text(1).or_else(|| text(0));
    station.region = text(2);
    station
}
