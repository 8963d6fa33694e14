//! The place of a weather file.

use super::report::Report;
use drycoil_climate::Station;
use drycoil_findings::{Finding, registry::weather as wx};
use drycoil_units::{Angle, Length, Time};

/// Station values stated outside the weather file. Each one that is given is used instead of the file's.
///
/// ```
/// use drycoil_intake::weather::StationOverride;
/// use drycoil_units::{Angle, Length, Time};
/// let place = StationOverride {
///     latitude: Some(Angle::degrees(39.7)),
///     longitude: Some(Angle::degrees(-106.2)),
///     elevation: Some(Length::metres(2070.0)),
///     utc_offset: Some(Time::hours(-7.0)),
///     ..StationOverride::default()
/// };
/// assert!(place.name.is_none());
/// ```
#[derive(Debug, Clone, PartialEq, Default)]
pub struct StationOverride {
    /// Name of the place.
    pub name: Option<String>,
    /// Latitude, north positive, -90 to 90 deg.
    pub latitude: Option<Angle>,
    /// Longitude, east positive, -180 to 180 deg.
    pub longitude: Option<Angle>,
    /// Height above sea level, -450 to 6000 m.
    pub elevation: Option<Length>,
    /// Local standard time minus UTC, -12 to 14 h.
    pub utc_offset: Option<Time>,
}

/// What the file itself says.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct FileStation {
    pub(super) name: Option<String>,
    pub(super) region: Option<String>,
    pub(super) latitude_deg: Option<f64>,
    pub(super) longitude_deg: Option<f64>,
    pub(super) elevation_m: Option<f64>,
    pub(super) utc_offset_h: Option<f64>,
    /// Line (from 1) of the header that says it.
    pub(super) line: u32,
}

/// Whether the offset from UTC may follow from the longitude when nothing states it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum OffsetRule {
    /// It must be stated.
    Stated,
    /// The stamps are in UTC, so only the use of the building depends on it.
    ByLongitude,
}

struct Item {
    what: &'static str,
    option: &'static str,
    unit: &'static str,
    low: f64,
    high: f64,
}

const LATITUDE: Item = Item { what: "latitude", option: "--latitude", unit: "deg", low: -90.0, high: 90.0 };
const LONGITUDE: Item =
    Item { what: "longitude", option: "--longitude", unit: "deg", low: -180.0, high: 180.0 };
const ELEVATION: Item =
    Item { what: "elevation", option: "--elevation", unit: "m", low: -450.0, high: 6000.0 };
const OFFSET: Item =
    Item { what: "offset from UTC", option: "--utc-offset", unit: "h", low: -12.0, high: 14.0 };

/// The station from file and override; `None` after a finding.
pub(super) fn resolve(
    report: &mut Report<'_>,
    file: &FileStation,
    stated: Option<&StationOverride>,
    rule: OffsetRule,
) -> Option<Station> {
    let none = StationOverride::default();
    let stated = stated.unwrap_or(&none);
    let mut missing = Vec::new();
    let mut take = |report: &mut Report<'_>, item: &Item, in_file: Option<f64>, other: Option<f64>| {
        if let (Some(old), Some(new)) = (in_file, other)
            && (old - new).abs() > 1e-9
        {
            report.add(wx::STATION_REPLACED, |r, f| {
                Finding {
                    message: format!("the {} of the file is replaced by the stated one", item.what),
                    ..f
                }
                .at(r.line(file.line).key(item.what))
                .value(format!("{new} {} instead of {old} {}", item.unit, item.unit))
            });
        }
        let value = other.or(in_file);
        match value {
            None => {
                missing.push((item.what, item.option));
                None
            }
            Some(v) if !v.is_finite() || v < item.low || v > item.high => {
                report.add(wx::BAD_HEADER, |r, f| {
                    Finding { message: format!("the {} is outside what can be", item.what), ..f }
                        .at(if other.is_some() { r.whole() } else { r.line(file.line) }.key(item.what))
                        .value(format!("{v} {}", item.unit))
                        .allowed(format!("{} to {} {}", item.low, item.high, item.unit))
                });
                None
            }
            Some(v) => Some(v),
        }
    };
    let latitude = take(report, &LATITUDE, file.latitude_deg, stated.latitude.map(Angle::to_degrees));
    let longitude = take(report, &LONGITUDE, file.longitude_deg, stated.longitude.map(Angle::to_degrees));
    let elevation = take(report, &ELEVATION, file.elevation_m, stated.elevation.map(Length::to_metres));
    let stated_offset = stated.utc_offset.map(Time::to_hours);
    let offset = match (file.utc_offset_h, stated_offset, rule, longitude) {
        (None, None, OffsetRule::ByLongitude, Some(longitude)) => {
            let hours = (longitude / 15.0).round() + 0.0;
            report.add(wx::ASSUMED_UTC_OFFSET, |r, f| {
                Finding {
                    message: "the file is in UTC; local standard time follows from the longitude".into(),
                    ..f
                }
                .at(r.line(file.line))
                .value(format!("{hours:+} h at longitude {longitude} deg"))
                .hint("state the legal time zone with `--utc-offset` or in the project")
            });
            Some(hours)
        }
        (None, None, OffsetRule::ByLongitude, None) => None,
        _ => take(report, &OFFSET, file.utc_offset_h, stated_offset),
    };
    if !missing.is_empty() {
        let names: Vec<&str> = missing.iter().map(|m| m.0).collect();
        let options: Vec<&str> = missing.iter().map(|m| m.1).collect();
        report.add(wx::MISSING_STATION, |r, f| {
            Finding { message: format!("the file does not say: {}", names.join(", ")), ..f }
                .at(r.whole())
                .hint(format!("give {} or the same keys in the project", options.join(", ")))
        });
    }
    Some(Station {
        name: stated.name.clone().or_else(|| file.name.clone()).unwrap_or_else(|| {
            match (latitude, longitude) {
                (Some(a), Some(o)) => format!("{a:.3} deg, {o:.3} deg"),
                _ => String::new(),
            }
        }),
        region: file.region.clone(),
        latitude: Angle::degrees(latitude?),
        longitude: Angle::degrees(longitude?),
        elevation: Length::metres(elevation?),
        utc_offset_hours: offset?,
    })
}
