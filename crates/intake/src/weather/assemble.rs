//! From checked rows to a weather year: order, gaps, filling, time zone, physics.

use super::report::Report;
use super::station::{FileStation, OffsetRule, resolve};
use super::table::{MISSING, Need, Rows, Series};
use super::{FillGaps, ReadOptions};
use drycoil_climate::{
    Calendar, Column, DewPointRounding, Moisture, Station, WeatherColumns, WeatherFormat, WeatherYear,
};
use drycoil_findings::{Finding, registry::weather as wx};
use std::collections::{BTreeMap, BTreeSet};

/// In which zone the stamps are.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Zone {
    /// Local standard time of the station.
    Local,
    /// So many hours from UTC.
    Utc(f64),
}

/// What an irradiance value is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Irradiance {
    /// The mean over the interval.
    Mean,
    /// The value at one instant.
    Sample { after_stamp_h: f64 },
}

/// The convention of the stamps. A slot is the hour that begins at, or holds, the stamp.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Clock {
    pub(super) zone: Zone,
    /// Minute of the stamps, as a part of an hour.
    pub(super) minute: f64,
    pub(super) irradiance: Irradiance,
}

/// What a format's reader hands over.
#[derive(Debug)]
pub(super) struct Parsed {
    pub(super) format: WeatherFormat,
    pub(super) station: FileStation,
    pub(super) rows: Rows,
    pub(super) clock: Clock,
}

/// First slot of 29 February in the leap calendar.
const LEAP_DAY: usize = 59 * 24;

/// Beyond this the centre of the irradiance does not fit the time zone, h. The centre of the day moves by a quarter of an
/// hour with the equation of time and by about as much with cloud that prefers morning or afternoon.
const SOLAR_NOON_TOLERANCE_H: f64 = 1.0;

/// Beyond this share the yearly mean pressure does not fit the elevation. Mean sea-level pressure differs by under 2 %
/// between climates.
const PRESSURE_TOLERANCE: f64 = 0.04;

/// A series laid out by hour.
struct Laid {
    series: Series,
    values: Vec<f64>,
}

/// The year, and the hours of it in which something was filled.
pub(super) fn assemble(
    report: &mut Report<'_>,
    parsed: Parsed,
    options: &ReadOptions,
) -> Option<(WeatherYear, Vec<usize>)> {
    let Parsed { format, station: file_station, mut rows, clock } = parsed;
    let rule = match (format, file_station.utc_offset_h) {
        (WeatherFormat::PvgisCsv, _) => OffsetRule::ByLongitude,
        _ => OffsetRule::Stated,
    };
    let station = resolve(report, &file_station, Some(&options.station), rule);
    if rows.lines.is_empty() {
        report.add(if rows.unplaced > 0 { wx::ROW_COUNT } else { wx::TRUNCATED }, |r, f| {
            Finding { message: "the file holds no row that could be read".into(), ..f }
                .at(r.line(rows.title_line.max(1)))
                .value(format!("{} rows", rows.unplaced))
                .allowed("8760 rows of one hour")
        });
        return None;
    }
    check_humidity(report, &rows);
    let row_of = order(report, &rows)?;
    let (calendar, slots) = calendar_of(&row_of);
    let mut laid: Vec<Laid> = std::mem::take(&mut rows.series)
        .into_iter()
        .map(|series| {
            let values = slots
                .iter()
                .map(|slot| row_of[*slot].map_or(MISSING, |row| series.values[row as usize]))
                .collect();
            Laid { series, values }
        })
        .collect();
    let has_row: Vec<Option<u32>> =
        slots.iter().map(|slot| row_of[*slot].map(|r| rows.lines[r as usize])).collect();
    let filled = match options.fill_gaps {
        FillGaps::Refuse => BTreeSet::new(),
        FillGaps::Interpolate { max_hours } => fill(report, &mut laid, calendar, clock, max_hours),
    };
    leave_out_optional(report, &mut laid);
    report_gaps(report, &rows, &laid, &has_row, calendar, clock);
    if report.has_errors() {
        return None;
    }
    let station = station?;
    let n = calendar.hours();
    let shift = local_time(&station, clock).0.rem_euclid(n as f64) as usize;
    let filled: BTreeSet<usize> = filled.into_iter().map(|slot| (slot + shift) % n).collect();
    let columns = columns(report, station, format, &laid, clock)?;
    check_offset(report, &columns.station, &file_station);
    check_time_zone(report, &columns, &file_station);
    check_pressure(report, &columns, &file_station);
    if matches!(columns.moisture, Moisture::RelativeHumidity(_)) {
        report.add(wx::DERIVED_DEW_POINT, |r, f| {
            Finding { message: "dew points follow from relative humidity, dry bulb and pressure".into(), ..f }
                .at(r.whole())
        });
    }
    let step_k = columns.rounding.step_k();
    match WeatherYear::new(columns) {
        Ok(year) => {
            note_rounded(report, &year, step_k);
            Some((year, filled.into_iter().collect()))
        }
        Err(errors) => {
            for error in errors {
                report.add(wx::SHORT_OF_CHECK, |r, f| {
                    Finding { message: error.to_string(), ..f }.at(r.whole())
                });
            }
            None
        }
    }
}

/// Row of each slot; findings for rows that go back in time or stand for the same hour.
fn order(report: &mut Report<'_>, rows: &Rows) -> Option<Vec<Option<u32>>> {
    let count = rows.lines.len();
    let leap = Calendar::Leap.hours();
    let mut row_of: Vec<Option<u32>> = vec![None; leap];
    let mut previous: Option<u16> = None;
    let mut doubled = 0usize;
    for (row, slot) in rows.slots.iter().enumerate() {
        let line = rows.lines[row];
        if let Some(first) = row_of[usize::from(*slot)] {
            doubled += 1;
            if count < 2 * Calendar::Common.hours() {
                let first_line = rows.lines[first as usize];
                report.add(wx::DUPLICATE_STAMP, |r, f| {
                    Finding { message: format!("the row stands for the same hour as line {first_line}"), ..f }
                        .at(r.line(line).row(line.saturating_sub(rows.title_line)))
                        .at(r.line(first_line).row(first_line.saturating_sub(rows.title_line)))
                        .value(hour_text(Calendar::Leap, usize::from(*slot)))
                        .allowed("each hour once")
                });
            }
            continue;
        }
        row_of[usize::from(*slot)] = Some(row as u32);
        if let Some(before) = previous.filter(|b| b > slot) {
            report.add(wx::STAMP_ORDER, |r, f| {
                Finding { message: "the row goes back in time".into(), ..f }
                    .at(r.line(line).row(line.saturating_sub(rows.title_line)))
                    .value(format!(
                        "{} after {}",
                        hour_text(Calendar::Leap, usize::from(*slot)),
                        hour_text(Calendar::Leap, usize::from(before))
                    ))
                    .allowed("rows from the first hour of January to the last of December")
            });
        }
        previous = Some(*slot);
    }
    if count >= 2 * Calendar::Common.hours() {
        report.add(wx::ROW_COUNT, |r, f| {
            Finding { message: "the file holds more than one row an hour, or more than one year".into(), ..f }
                .at(r.whole())
                .value(format!("{count} rows, {doubled} of them for an hour that another row stands for"))
                .allowed("8760 rows of one hour (8784 with 29 February)")
                .hint("export one year in steps of one hour")
        });
        return None;
    }
    Some(row_of)
}

/// The calendar, and its hours as slots of the leap calendar. One row on 29 February makes it a leap year.
fn calendar_of(row_of: &[Option<u32>]) -> (Calendar, Vec<usize>) {
    let leap = row_of[LEAP_DAY..LEAP_DAY + 24].iter().any(Option::is_some);
    if leap {
        (Calendar::Leap, (0..row_of.len()).collect())
    } else {
        (Calendar::Common, (0..LEAP_DAY).chain(LEAP_DAY + 24..row_of.len()).collect())
    }
}

fn hour_text(calendar: Calendar, hour: usize) -> String {
    calendar.stamp(hour).map_or_else(|| format!("hour {hour}"), |s| s.to_string())
}

fn span_text(calendar: Calendar, start: usize, length: usize, clock: Clock) -> String {
    let n = calendar.hours();
    let zone = match clock.zone {
        Zone::Utc(0.0) => " UTC",
        _ => "",
    };
    let first = hour_text(calendar, start % n);
    if length == 1 {
        return format!("the hour from {first}{zone}");
    }
    format!(
        "{length} hours from {first}{zone} to the hour from {}",
        hour_text(calendar, (start + length - 1) % n)
    )
}

/// Runs (start, length) of hours for which the test holds, in order.
fn runs(n: usize, test: impl Fn(usize) -> bool) -> Vec<(usize, usize)> {
    let mut list: Vec<(usize, usize)> = Vec::new();
    for i in 0..n {
        if test(i) {
            match list.last_mut() {
                Some((start, length)) if *start + *length == i => *length += 1,
                _ => list.push((i, 1)),
            }
        }
    }
    list
}

/// Fills runs of missing values up to the length asked for, on the straight line between their neighbours. The year is
/// taken as a ring, so that a run at its end leans on 1 January.
fn fill(
    report: &mut Report<'_>,
    laid: &mut [Laid],
    calendar: Calendar,
    clock: Clock,
    max_hours: u32,
) -> BTreeSet<usize> {
    let n = calendar.hours();
    let mut filled: BTreeMap<(usize, usize), Vec<String>> = BTreeMap::new();
    for Laid { series, values } in laid.iter_mut() {
        let mut list = runs(n, |i| values[i].is_nan());
        if list.len() > 1 && list[0].0 == 0 && list.last().is_some_and(|(s, l)| s + l == n) {
            let (start, length) = list.pop().expect("more than one run");
            list[0] = (start, length + list[0].1);
        }
        for (start, length) in list {
            if length > max_hours as usize || length + 2 > n {
                continue;
            }
            let before = values[(start + n - 1) % n];
            let after = values[(start + length) % n];
            if !before.is_finite() || !after.is_finite() {
                continue;
            }
            let mut step = after - before;
            if series.column == Column::WindDirection {
                // The shorter way round the compass.
                step -= (step / 360.0).round() * 360.0;
            }
            for k in 0..length {
                let mut v = before + step * (k + 1) as f64 / (length + 1) as f64;
                if series.column == Column::WindDirection {
                    v = v.rem_euclid(360.0);
                }
                values[(start + k) % n] = v;
            }
            filled.entry((start, length)).or_default().push(series.title.clone());
        }
    }
    let mut slots = BTreeSet::new();
    for ((start, length), titles) in filled {
        slots.extend((0..length).map(|k| (start + k) % n));
        let hours: Vec<String> = (0..length).map(|k| hour_text(calendar, (start + k) % n)).collect();
        let place = report.whole().key(titles.join(", "));
        report.add_always(
            Finding::new(
                wx::FILLED,
                format!(
                    "{} filled on the straight line between the neighbours",
                    span_text(calendar, start, length, clock)
                ),
            )
            .at(place)
            .value(hours.join("; "))
            .allowed(format!("gaps of up to {max_hours} h, as asked")),
        );
    }
    slots
}

fn leave_out_optional(report: &mut Report<'_>, laid: &mut Vec<Laid>) {
    laid.retain(|l| {
        let bad = l.values.iter().filter(|v| !v.is_finite()).count();
        if l.series.need == Need::Always || bad == 0 {
            return true;
        }
        report.add(wx::COLUMN_LEFT_OUT, |r, f| {
            Finding { message: format!("the column `{}` is not used", l.series.title), ..f }
                .at(r.whole().key(l.series.title.clone()))
                .value(format!("{bad} hours without a value"))
        });
        false
    });
}

/// Findings for hours without a row, for rows without a value, for a file that stops early, for the count.
fn report_gaps(
    report: &mut Report<'_>,
    rows: &Rows,
    laid: &[Laid],
    has_row: &[Option<u32>],
    calendar: Calendar,
    clock: Clock,
) {
    let n = calendar.hours();
    let needed: Vec<&Laid> = laid.iter().filter(|l| l.series.need == Need::Always).collect();
    let open =
        |i: usize| has_row[i].is_none() && (needed.is_empty() || needed.iter().any(|l| l.values[i].is_nan()));
    let mut holes = false;
    for (start, length) in runs(n, open) {
        holes = true;
        let after = (start + length..n).find_map(|i| has_row[i]);
        let before = (0..start).rev().find_map(|i| has_row[i]);
        let ends_early = start + length == n && rows.unplaced == 0;
        let message = format!("no row for {}", span_text(calendar, start, length, clock));
        report.add(if ends_early { wx::TRUNCATED } else { wx::GAP }, |r, f| {
            let finding = Finding { message, ..f }.value(format!("{length} h"));
            match (before, after) {
                (Some(b), _) if ends_early => finding
                    .at(r.line(b))
                    .allowed("rows to the last hour of December")
                    .hint("fetch the file again"),
                (_, Some(a)) => finding
                    .at(r.line(a).row(a.saturating_sub(rows.title_line)))
                    .allowed("a row for each hour of the year")
                    .hint("the missing rows belong before this one"),
                (Some(b), None) => finding.at(r.line(b)).allowed("a row for each hour of the year"),
                (None, None) => finding.at(r.whole()),
            }
        });
    }
    for l in &needed {
        for (start, length) in runs(n, |i| has_row[i].is_some() && l.values[i].is_nan()) {
            let line = has_row[start].unwrap_or(1);
            let marker = rows.lines.binary_search(&line).ok().and_then(|row| l.series.marked.get(&row));
            report.add(wx::MISSING_VALUE, |r, f| {
                Finding {
                    message: format!(
                        "no {} for {}{}",
                        l.series.column,
                        span_text(calendar, start, length, clock),
                        marker.map_or_else(String::new, |m| format!(": `{m}` marks a missing value"))
                    ),
                    ..f
                }
                .at(rows.place(r, line, None, &l.series.title))
                .value(match marker {
                    Some(m) => format!("`{m}` in line {line}, {length} h"),
                    None => format!("{length} h"),
                })
                .allowed("a value in each row")
                .hint("short gaps are filled only when that is asked for")
            });
        }
    }
    let count = rows.lines.len() + rows.unplaced;
    if count != n && (holes || report.has_errors()) {
        report.add(wx::ROW_COUNT, |r, f| {
            Finding { message: "the file does not hold one row for each hour of a year".into(), ..f }
                .at(r.whole())
                .value(format!("{count} rows"))
                .allowed(format!("{n} rows"))
        });
    }
}

/// Rounding step of the temperatures: the coarser of the two columns, at least 0.1 K.
fn rounding(dry_bulb: &Series, moisture: &Series) -> f64 {
    let step = match moisture.column {
        Column::DewPoint => dry_bulb.step().max(moisture.step()),
        // A share of moisture has no step in kelvin.
        _ => 0.1,
    };
    step.clamp(0.1, 1.0)
}

/// Dew points above the dry bulb, at their rows.
fn check_humidity(report: &mut Report<'_>, rows: &Rows) {
    let find = |column| rows.series.iter().find(|s| s.column == column);
    let (Some(dry_bulb), Some(dew_point)) = (find(Column::DryBulb), find(Column::DewPoint)) else { return };
    let step = rounding(dry_bulb, dew_point);
    for (row, line) in rows.lines.iter().enumerate() {
        let (db, dp) = (dry_bulb.values[row], dew_point.values[row]);
        if db.is_finite() && dp.is_finite() && dp - db > step + 5e-7 {
            report.add(wx::IMPOSSIBLE_HUMIDITY, |r, f| {
                Finding { message: "the dew point is above the dry bulb".into(), ..f }
                    .at(rows.place(r, *line, None, &dew_point.title))
                    .value(format!("dew point {dp:.2} degC at dry bulb {db:.2} degC"))
                    .allowed(format!("up to {step} K above, the rounding of the file"))
                    .hint("correct the wrong one of the two")
            });
        }
    }
}

/// A stamp at `hour + minute` of the file's zone lies so many whole intervals later in local standard time, and at this
/// part of its interval.
fn local_time(station: &Station, clock: Clock) -> (f64, f64) {
    let ahead = clock.minute
        + match clock.zone {
            Zone::Local => 0.0,
            Zone::Utc(zone) => station.utc_offset_hours - zone,
        };
    (ahead.floor(), ahead - ahead.floor())
}

fn columns(
    report: &mut Report<'_>,
    station: Station,
    format: WeatherFormat,
    laid: &[Laid],
    clock: Clock,
) -> Option<WeatherColumns> {
    let find = |column: Column| laid.iter().find(|l| l.series.column == column);
    let moisture_column =
        [Column::DewPoint, Column::RelativeHumidity, Column::HumidityRatio].into_iter().find_map(find)?;
    let step_k = rounding(&find(Column::DryBulb)?.series, &moisture_column.series);

    let (shift, within) = local_time(&station, clock);
    let state = |l: &Laid| rotate(&l.values, shift as i64);
    let to_middle = match clock.irradiance {
        Irradiance::Mean => 0.0,
        Irradiance::Sample { after_stamp_h } => 0.5 - (within + after_stamp_h),
    };
    let sun = |l: &Laid| at_middle(&rotate(&l.values, shift as i64), to_middle);
    if to_middle != 0.0 {
        report.add(wx::IRRADIANCE_MOVED, |r, f| {
            Finding { message: "irradiance samples were moved to the middle of their hour".into(), ..f }
                .at(r.whole())
                .value(format!("{:+.1} min", to_middle * 60.0))
        });
    }
    let moisture = match moisture_column.series.column {
        Column::DewPoint => Moisture::DewPointC(state(moisture_column)),
        Column::RelativeHumidity => Moisture::RelativeHumidity(state(moisture_column)),
        _ => Moisture::HumidityRatio(state(moisture_column)),
    };
    Some(WeatherColumns {
        format,
        dry_bulb_c: state(find(Column::DryBulb)?),
        moisture,
        rounding: DewPointRounding::step(step_k).ok()?,
        pressure_pa: state(find(Column::Pressure)?),
        wind_speed_m_per_s: state(find(Column::WindSpeed)?),
        wind_direction_deg: state(find(Column::WindDirection)?),
        global_horizontal_w_per_m2: sun(find(Column::GlobalHorizontal)?),
        direct_normal_w_per_m2: sun(find(Column::DirectNormal)?),
        diffuse_horizontal_w_per_m2: sun(find(Column::DiffuseHorizontal)?),
        sky_infrared_w_per_m2: find(Column::SkyInfrared).map(state),
        station,
    })
}

/// The year as a ring, moved later by so many hours.
pub(super) fn rotate(values: &[f64], hours: i64) -> Vec<f64> {
    let n = values.len();
    if n == 0 {
        return Vec::new();
    }
    let k = hours.rem_euclid(n.cast_signed() as i64) as usize;
    let mut out = values.to_vec();
    out.rotate_right(k);
    out
}

/// Values on the straight line between samples, so many hours later than the sample of the same index. The year is a
/// ring, so the sum does not change.
pub(super) fn at_middle(samples: &[f64], later_h: f64) -> Vec<f64> {
    if later_h == 0.0 {
        return samples.to_vec();
    }
    let whole = later_h.floor();
    let part = later_h - whole;
    let here = rotate(samples, -(whole as i64));
    let next = rotate(samples, -(whole as i64) - 1);
    here.iter().zip(&next).map(|(a, b)| a * (1.0 - part) + b * part).collect()
}

/// Beyond this legal time does not fit the sun, h. The west of China, at 73.5 deg E on UTC+8, has the most: 3.1 h.
const LEGAL_TIME_TOLERANCE_H: f64 = 3.5;

/// The offset from UTC against the longitude, on the ring of 24 h.
fn check_offset(report: &mut Report<'_>, station: &Station, file: &FileStation) {
    let off = station.utc_offset_hours - station.longitude.to_degrees() / 15.0;
    let off = (off + 12.0).rem_euclid(24.0) - 12.0;
    if off.abs() > LEGAL_TIME_TOLERANCE_H {
        report.add(wx::OFFSET_LONGITUDE, |r, f| {
            Finding { message: "the offset from UTC does not fit the longitude".into(), ..f }
                .at(r.line(file.line.max(1)))
                .value(format!(
                    "{:+} h at longitude {:.2} deg, {off:+.1} h from the time of the sun",
                    station.utc_offset_hours,
                    station.longitude.to_degrees()
                ))
                .allowed(format!("within {LEGAL_TIME_TOLERANCE_H} h"))
                .hint("east is positive")
        });
    }
}

/// The centre of the irradiance over the day, as a mean direction on the clock face.
fn check_time_zone(report: &mut Report<'_>, columns: &WeatherColumns, file: &FileStation) {
    use std::f64::consts::TAU;
    let (mut x, mut y) = (0.0, 0.0);
    for (i, g) in columns.global_horizontal_w_per_m2.iter().enumerate() {
        let angle = TAU * ((i % 24) as f64 + 0.5) / 24.0;
        x += g * angle.cos();
        y += g * angle.sin();
    }
    let total: f64 = columns.global_horizontal_w_per_m2.iter().sum();
    // Without a clear day and night there is no centre.
    if total <= 0.0 || x.hypot(y) < 0.2 * total {
        return;
    }
    let clock_h = y.atan2(x).rem_euclid(TAU) / TAU * 24.0;
    let station = &columns.station;
    let solar_h = clock_h + station.longitude.to_degrees() / 15.0 - station.utc_offset_hours;
    let off = (solar_h - 12.0 + 12.0).rem_euclid(24.0) - 12.0;
    if off.abs() > SOLAR_NOON_TOLERANCE_H {
        report.add(wx::TIME_ZONE_DOUBTFUL, |r, f| {
            Finding { message: "the irradiance is not centred on solar noon".into(), ..f }
                .at(r.line(file.line.max(1)))
                .value(format!(
                    "centre {off:+.1} h from solar noon at longitude {:.2} deg and {:+} h from UTC",
                    station.longitude.to_degrees(),
                    station.utc_offset_hours
                ))
                .allowed(format!("within {SOLAR_NOON_TOLERANCE_H} h"))
                .hint("check longitude, offset from UTC and whether the stamps are in UTC")
        });
    }
}

/// The yearly mean pressure against the standard atmosphere (ASHRAE Fundamentals ch. 1, eq. 3).
fn check_pressure(report: &mut Report<'_>, columns: &WeatherColumns, file: &FileStation) {
    let mean = columns.pressure_pa.iter().sum::<f64>() / columns.pressure_pa.len().max(1) as f64;
    let z = columns.station.elevation.to_metres();
    let standard = 101_325.0 * (1.0 - 2.25577e-5 * z).powf(5.2559);
    if (mean / standard - 1.0).abs() > PRESSURE_TOLERANCE {
        report.add(wx::PRESSURE_ELEVATION, |r, f| {
            Finding { message: "the mean pressure does not fit the elevation".into(), ..f }
                .at(r.line(file.line.max(1)))
                .value(format!("{:.1} kPa at {z:.0} m", mean / 1e3))
                .allowed(format!("within {} % of {:.1} kPa", PRESSURE_TOLERANCE * 100.0, standard / 1e3))
                .hint("check the elevation and its unit, and that the file gives station pressure")
        });
    }
}

fn note_rounded(report: &mut Report<'_>, year: &WeatherYear, step_k: f64) {
    let rounded = year.rounded_hours();
    if rounded.is_empty() {
        return;
    }
    let worst = rounded.iter().map(|h| h.excess_k).fold(0.0, f64::max);
    let listed: Vec<String> =
        rounded.iter().take(5).filter_map(|h| year.stamp(h.hour).map(|s| s.to_string())).collect();
    let more = rounded.len().saturating_sub(5);
    let tail = if more > 0 { format!("; and {more} more") } else { String::new() };
    report.add(wx::ROUNDED_DEW_POINT, |r, f| {
        Finding {
            message: format!("{} hours hold a dew point a rounding step above the dry bulb", rounded.len()),
            ..f
        }
        .at(r.whole())
        .value(format!("up to {worst:.2} K above: {}{tail}", listed.join("; ")))
        .allowed(format!("up to {step_k} K, the rounding of the file"))
    });
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn phys_moving_samples_keeps_the_sum() {
        let samples: Vec<f64> = (0..8760).map(|i| f64::from((i * 7919) % 1000)).collect();
        let sum: f64 = samples.iter().sum();
        for later in [0.3239, -0.25, 0.5, 1.5, -1.75] {
            let moved: f64 = at_middle(&samples, later).iter().sum();
            // Summation of 8760 terms of up to 1000.
            assert!((moved - sum).abs() < 1e-7 * sum, "{later}");
        }
    }

    #[test]
    fn inv_rotation() {
        let v: Vec<f64> = (0..24).map(f64::from).collect();
        assert_eq!(rotate(&rotate(&v, 5), -5), v);
        assert_eq!(rotate(&v, 1)[0], 23.0);
        assert_eq!(at_middle(&v, 0.5)[3], 3.5);
        assert_eq!(at_middle(&v, -0.5)[3], 2.5);
        assert_eq!(at_middle(&v, 1.0)[3], 4.0);
    }

    #[test]
    fn runs_are_found() {
        let gap = [true, false, true, true, false];
        assert_eq!(runs(5, |i| gap[i]), [(0, 1), (2, 2)]);
    }
}
