//! Weather bins of the building's occupied hours.
//!
//! Every occupied hour of the year falls into one bin of day type, month, hour of the day and, on the many weekdays, third of
//! the humidity ratio within that month and hour. A bin holds the mean state of its hours, so drying, which is not linear in
//! humidity, is computed on three humidities for each hour of each month. The sun stands where it does on the middle
//! day of the month.

use crate::needs::Prepared;
use drycoil_climate::WeatherYear;
use drycoil_project::{DayType, Project};
use drycoil_sun::raw::{RawSky, raw_tilted_irradiance};
use drycoil_sun::{LocalTime, Place, Refraction, SkyModel, extraterrestrial_normal, sun_position};
use drycoil_units::Length;

/// Hours that a third of the humidity must hold at least; fewer hours (the Saturdays of a month) stay in one bin.
const HOURS_PER_PART: usize = 5;

/// Facings for which bins hold irradiance: north, east, south, west, horizontal.
pub(crate) const FACINGS: [(f64, f64); 5] =
    [(90.0, 0.0), (90.0, 90.0), (90.0, 180.0), (90.0, 270.0), (0.0, 0.0)];

/// Index into [`FACINGS`] of the nearest facing.
pub(crate) fn facing_index(tilt_deg: f64, azimuth_deg: f64) -> usize {
    if tilt_deg < 45.0 {
        return 4;
    }
    ((azimuth_deg.rem_euclid(360.0) / 90.0).round() as usize) % 4
}

/// One bin.
#[derive(Debug, Clone)]
pub(crate) struct Bin {
    pub day: DayType,
    pub hour: usize,
    /// Hours a year.
    pub hours: f64,
    pub dry_bulb_c: f64,
    pub humidity_ratio: f64,
    pub wet_bulb_c: f64,
    /// Irradiance on [`FACINGS`].
    pub sun_w_per_m2: [f64; 5],
}

/// Type of every day of the year.
pub fn day_types(project: &Project, weather: &WeatherYear) -> Vec<DayType> {
    let first = usize::from(project.site.first_weekday.value);
    let days = weather.dry_bulb_c().len() / 24;
    (0..days)
        .map(|d| {
            let stamp = weather.stamp(d * 24);
            if stamp.is_some_and(|s| project.site.holidays.value.contains(&(s.month, s.day))) {
                return DayType::Holiday;
            }
            match (first + d) % 7 {
                5 => DayType::Saturday,
                6 => DayType::Sunday,
                _ => DayType::Weekday,
            }
        })
        .collect()
}

/// Hours of each day type in which somebody is in a room with primary air.
pub(crate) fn occupied(project: &Project, prepared: &Prepared) -> [[bool; 24]; 4] {
    let mut any = [[false; 24]; 4];
    for room in prepared.rooms.iter().filter(|r| r.zone != usize::MAX).map(|r| &project.rooms[r.index]) {
        let profile = project.profile_of(room);
        for day in DayType::ALL {
            for (h, slot) in any[day as usize].iter_mut().enumerate() {
                *slot |= profile.share(drycoil_project::UseShare::People, day, h) > 0.0;
            }
        }
    }
    any
}

/// The bins of a year.
pub(crate) fn bins(project: &Project, weather: &WeatherYear, prepared: &Prepared) -> Vec<Bin> {
    let types = day_types(project, weather);
    let open = occupied(project, prepared);
    let pressure_pa = prepared.pressure_pa;
    // Group the hours by day type, month and hour; day types keep their own bins since gains differ.
    let mut groups: Vec<Vec<usize>> = vec![Vec::new(); 4 * 12 * 24];
    for (d, day) in types.iter().enumerate() {
        for h in 0..24 {
            if open[*day as usize][h] {
                let index = d * 24 + h;
                let Some(stamp) = weather.stamp(index) else { continue };
                groups[(*day as usize * 12 + usize::from(stamp.month - 1)) * 24 + h].push(index);
            }
        }
    }
    let sky: Vec<[Option<(f64, f64, f64)>; 24]> = (1..=12).map(|m| month_sun(weather, m)).collect();
    let w = weather.humidity_ratio();
    let mut out = Vec::new();
    for (g, hours) in groups.iter_mut().enumerate() {
        if hours.is_empty() {
            continue;
        }
        let (hour, month, day) = (g % 24, (g / 24) % 12, DayType::ALL[g / (24 * 12)]);
        hours.sort_by(|a, b| w[*a].total_cmp(&w[*b]).then(a.cmp(b)));
        let parts = (hours.len() / HOURS_PER_PART).clamp(1, 3);
        for part in 0..parts {
            let slice = &hours[part * hours.len() / parts..(part + 1) * hours.len() / parts];
            out.push(bin(project, weather, slice, sky[month][hour], day, hour, pressure_pa));
        }
    }
    out
}

/// Hours in which nobody is in the building, of a month, a third of them by wet bulb.
#[derive(Debug, Clone, Copy)]
pub(crate) struct ClosedBin {
    /// Hours a year.
    pub hours: f64,
    /// Mean wet bulb, degC.
    pub wet_bulb_c: f64,
    /// Mean dry bulb, degC.
    pub dry_bulb_c: f64,
}

/// The closed hours of a year.
pub(crate) fn closed(project: &Project, weather: &WeatherYear, prepared: &Prepared) -> Vec<ClosedBin> {
    let types = day_types(project, weather);
    let open = occupied(project, prepared);
    let mut months: Vec<Vec<(f64, f64)>> = vec![Vec::new(); 12];
    for (d, day) in types.iter().enumerate() {
        for h in (0..24).filter(|h| !open[*day as usize][*h]) {
            let index = d * 24 + h;
            let Some(stamp) = weather.stamp(index) else { continue };
            let (t, w) = (weather.dry_bulb_c()[index], weather.humidity_ratio()[index]);
            months[usize::from(stamp.month - 1)]
                .push((drycoil_air::raw::wet_bulb_c(t, w, prepared.pressure_pa), t));
        }
    }
    let mut out = Vec::new();
    for hours in &mut months {
        hours.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1)));
        for part in 0..3 {
            let slice = &hours[part * hours.len() / 3..(part + 1) * hours.len() / 3];
            if !slice.is_empty() {
                let n = slice.len() as f64;
                out.push(ClosedBin {
                    hours: n,
                    wet_bulb_c: slice.iter().map(|x| x.0).sum::<f64>() / n,
                    dry_bulb_c: slice.iter().map(|x| x.1).sum::<f64>() / n,
                });
            }
        }
    }
    out
}

/// Zenith, azimuth and extraterrestrial irradiance in the middle of each hour of the middle day of a month.
fn month_sun(weather: &WeatherYear, month: u8) -> [Option<(f64, f64, f64)>; 24] {
    let station = weather.station();
    let place =
        Place { latitude: station.latitude, longitude: station.longitude, elevation: Length::metres(0.0) };
    std::array::from_fn(|h| {
        let time = LocalTime {
            year: 2001,
            month,
            day: 15,
            hour: h as f64 + 0.5,
            utc_offset_hours: station.utc_offset_hours,
        };
        let sun = sun_position(&place, &time, Refraction::None).ok()?;
        let zenith = sun.zenith.to_degrees();
        let day_of_year = u16::from(month) * 30 - 15;
        (zenith < 89.0)
            .then(|| (zenith, sun.azimuth.to_degrees(), extraterrestrial_normal(day_of_year).to_w_per_m2()))
    })
}

fn bin(
    project: &Project,
    weather: &WeatherYear,
    hours: &[usize],
    sun: Option<(f64, f64, f64)>,
    day: DayType,
    hour: usize,
    pressure_pa: f64,
) -> Bin {
    let n = hours.len() as f64;
    let mean = |column: &[f64]| hours.iter().map(|i| column[*i]).sum::<f64>() / n;
    let humidity_ratio = mean(weather.humidity_ratio());
    // The mean of nearly saturated states can lie above the saturation curve (that is how mist forms when they mix). The
    // bin then stands on the curve at its humidity, a few hundredths of a kelvin warmer than the mean.
    let dry_bulb_c =
        mean(weather.dry_bulb_c()).max(drycoil_air::raw::dew_point_c(humidity_ratio, pressure_pa) + 1e-9);
    let sun_w_per_m2 = match sun {
        None => [0.0; 5],
        Some((zenith_deg, azimuth_deg, extraterrestrial)) => {
            let sky = RawSky {
                zenith_deg,
                azimuth_deg,
                direct_normal_w_per_m2: mean(weather.direct_normal_w_per_m2()),
                diffuse_horizontal_w_per_m2: mean(weather.diffuse_horizontal_w_per_m2()),
                global_horizontal_w_per_m2: mean(weather.global_horizontal_w_per_m2()),
                extraterrestrial_normal_w_per_m2: extraterrestrial,
            };
            FACINGS.map(|(tilt, azimuth)| {
                let t = raw_tilted_irradiance(
                    SkyModel::Perez,
                    tilt,
                    azimuth,
                    &sky,
                    project.site.ground_reflectance.value.to_ratio(),
                );
                t.total().to_w_per_m2()
            })
        }
    };
    Bin {
        day,
        hour,
        hours: n,
        dry_bulb_c,
        humidity_ratio,
        wet_bulb_c: drycoil_air::raw::wet_bulb_c(dry_bulb_c, humidity_ratio, pressure_pa),
        sun_w_per_m2,
    }
}
