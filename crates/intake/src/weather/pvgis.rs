//! PVGIS typical year: comma-separated, a header of single values, stamps in UTC, a legend below the table.
//!
//! Layout: European Commission Joint Research Centre, PVGIS user manual, section on the typical meteorological year.
//! Stamps `YYYYMMDD:HHMM`. Temperature, humidity, wind and pressure are instantaneous at the stamp; irradiance is a
//! satellite sample at the stamp plus the `Irradiance Time Offset` of the header.

use super::assemble::{Clock, Irradiance, Parsed, Zone};
use super::detect::pvgis_title_line;
use super::report::Report;
use super::station::FileStation;
use super::table::{BadStamp, Layout, Series, Titles, read_rows, slot, small_number};
use super::text::{delimiter_of, shown};
use drycoil_climate::{Column, WeatherFormat};
use drycoil_findings::{Finding, registry::weather as wx};

const COLUMNS: [(&str, Column, &str, f64); 8] = [
    ("T2m", Column::DryBulb, "degC", 1.0),
    ("RH", Column::RelativeHumidity, "%", 0.01),
    ("SP", Column::Pressure, "Pa", 1.0),
    ("WS10m", Column::WindSpeed, "m/s", 1.0),
    ("WD10m", Column::WindDirection, "deg", 1.0),
    ("G(h)", Column::GlobalHorizontal, "W/m2", 1.0),
    ("Gb(n)", Column::DirectNormal, "W/m2", 1.0),
    ("Gd(h)", Column::DiffuseHorizontal, "W/m2", 1.0),
];

pub(super) fn read(report: &mut Report<'_>, lines: &[&str], whole: bool) -> Option<Parsed> {
    let Some(title_index) = pvgis_title_line(lines) else {
        report.add(wx::BAD_HEADER, |r, f| {
            Finding { message: "the line of titles is missing".into(), ..f }
                .at(r.whole())
                .allowed("a line that begins with `time(UTC)`")
        });
        return None;
    };
    let mut station = FileStation { line: 1, ..FileStation::default() };
    let mut sample_offset = None;
    for (i, line) in lines.iter().take(title_index).enumerate() {
        let Some((key, text)) = line.split_once(':') else { continue };
        let key = key.trim().trim_start_matches('"').to_ascii_lowercase();
        let target = if key.starts_with("latitude") {
            &mut station.latitude_deg
        } else if key.starts_with("longitude") {
            &mut station.longitude_deg
        } else if key.starts_with("elevation") {
            &mut station.elevation_m
        } else if key.starts_with("irradiance time offset") {
            &mut sample_offset
        } else {
            continue;
        };
        let text = text.trim().trim_end_matches([',', ';', '"']).trim();
        *target = text.parse::<f64>().ok().filter(|v| v.is_finite());
        if target.is_none() {
            report.add(wx::BAD_HEADER, |r, f| {
                Finding { message: format!("the {} cannot be read", shown(&key)), ..f }
                    .at(r.line(i as u32 + 1).key(shown(&key)))
                    .value(shown(text))
                    .allowed("a decimal number")
            });
        }
    }
    if let Some(offset) = sample_offset.filter(|o| !(-1.0..=1.0).contains(o)) {
        report.add(wx::BAD_HEADER, |r, f| {
            Finding { message: "the irradiance time offset is outside what can be".into(), ..f }
                .at(r.whole().key("Irradiance Time Offset (h)"))
                .value(format!("{offset} h"))
                .allowed("-1 to 1 h")
        });
        return None;
    }
    let delimiter = delimiter_of(lines[title_index]);
    let titles = Titles::new(lines[title_index], delimiter, title_index as u32 + 1);
    let mut series = Vec::new();
    for (title, column, unit, factor) in COLUMNS {
        if let Some(field) = titles.need(report, title, &column.to_string()) {
            series.push(Series::new(column, title, unit, factor, field));
        }
    }
    if let Some(field) = titles.find("IR(h)") {
        series.push(Series::new(Column::SkyInfrared, "IR(h)", "W/m2", 1.0, field));
    }
    let mut blank = false;
    let mut minute = None;
    let rows = read_rows(
        report,
        lines,
        Layout { first: title_index + 1, delimiter, fields: titles.names.len(), last_line_is_whole: whole },
        series,
        |line| {
            // The legend follows the table after a blank line.
            let empty = line.trim().trim_matches([',', ';']).is_empty();
            blank |= empty;
            blank && !empty && !line.starts_with(|c: char| c.is_ascii_digit())
        },
        |fields| {
            let bad = |message: &str| BadStamp {
                field: 0,
                message: message.into(),
                allowed: "YYYYMMDD:HHMM in UTC",
            };
            let text = fields.first().map_or("", |f| f.trim());
            let (date, time) = text.split_once(':').ok_or_else(|| bad("the stamp cannot be read"))?;
            if date.len() != 8 || time.len() != 4 || !text.is_ascii() {
                return Err(bad("the stamp cannot be read"));
            }
            let part = |t: &str| small_number(t).ok_or_else(|| bad("the stamp cannot be read"));
            let (month, day) = (part(&date[4..6])?, part(&date[6..8])?);
            let (hour, m) = (part(&time[..2])?, part(&time[2..])?);
            if *minute.get_or_insert(m) != m {
                return Err(bad("the minute differs from that of the first row"));
            }
            slot(month as u8, day as u8, hour as u8)
                .filter(|_| m < 60)
                .ok_or_else(|| bad("the date or hour does not exist"))
        },
    );
    let minute = f64::from(minute.unwrap_or(0)) / 60.0;
    let clock = Clock {
        zone: Zone::Utc(0.0),
        minute,
        irradiance: Irradiance::Sample { after_stamp_h: sample_offset.unwrap_or(0.0) },
    };
    Some(Parsed { format: WeatherFormat::PvgisCsv, station, rows, clock })
}
