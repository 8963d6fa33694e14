//! `drycoil weather`: what a weather file holds.

use crate::cli::quantity;
use crate::render::findings;
use crate::render::table::Table;
use crate::render::text::{clean, whole_length, wrap};
use crate::{Context, Exit, Failure, Form, files};
use clap::Args;
use drycoil_climate::{
    Bands, Calendar, ClimateError, DegreeDayBases, DesignConditions, DewPointBand, EnteredConditions,
    MonthRow, Origin, SolarClosure, Valued, WeatherYear, dew_point_bands, hours_above_dew_point,
    monthly_table, solar_closure,
};
use drycoil_findings::{Finding, Place, registry::weather as wx};
use drycoil_intake::weather::{FillGaps, ReadOptions, Reading, StationOverride, read_weather_with};
use drycoil_units::{
    Angle, Energy, Length, Quantity, QuantityKind, Temperature, TemperatureDifference, Time, UnitSystem,
    fixed,
};
use serde_json::{Value, json};
use std::fmt::Write as _;
use std::path::PathBuf;

/// Arguments of `drycoil weather`.
#[derive(Debug, Clone, Args)]
#[command(
    after_help = "Formats: TMY3 CSV, TMY2, PVGIS typical-year CSV, NSRDB CSV, CSV with a unit in every title.\n\
Example: drycoil weather nsrdb.csv --latitude \"39.7 deg\" --longitude \"-106.2 deg\" --elevation \"2070 m\" --utc-offset \"-7 h\""
)]
pub struct WeatherArgs {
    /// Weather file; the format is recognised from its content
    #[arg(value_name = "FILE")]
    pub file: PathBuf,
    /// Name of the place, instead of the file's
    #[arg(long, value_name = "NAME")]
    pub name: Option<String>,
    /// Latitude, north positive, such as "36.1 deg"; instead of the file's, or where the file has none
    #[arg(long, value_name = "QUANTITY", value_parser = quantity::<Angle>, allow_hyphen_values = true)]
    pub latitude: Option<Angle>,
    /// Longitude, east positive, such as "-79.95 deg"
    #[arg(long, value_name = "QUANTITY", value_parser = quantity::<Angle>, allow_hyphen_values = true)]
    pub longitude: Option<Angle>,
    /// Height above sea level, such as "897 ft"
    #[arg(long, value_name = "QUANTITY", value_parser = quantity::<Length>, allow_hyphen_values = true)]
    pub elevation: Option<Length>,
    /// Local standard time minus UTC, such as "-5 h"
    #[arg(long, value_name = "QUANTITY", value_parser = quantity::<Time>, allow_hyphen_values = true)]
    pub utc_offset: Option<Time>,
    /// Fill gaps of up to this many hours on the straight line between their neighbours; each filled hour is listed
    #[arg(long, value_name = "HOURS", value_parser = clap::value_parser!(u32).range(1..=24))]
    pub fill_gaps: Option<u32>,
}

/// Limits above which the hours of outdoor dew point are counted, degF: the room limit of these systems, the indoor limit of
/// the ventilation standard, and two wetter ones.
const DEW_POINT_LIMITS_F: [f64; 4] = [55.0, 60.0, 65.0, 70.0];

/// What is said about a weather year.
struct Summary {
    conditions: DesignConditions,
    bands: Vec<DewPointBand>,
    above: Vec<(Temperature, usize)>,
    months: [MonthRow; 12],
    closure: SolarClosure,
}

impl Summary {
    fn new(year: &WeatherYear, bands: Bands) -> Result<Self, ClimateError> {
        Ok(Self {
            conditions: DesignConditions::from_year(year, &EnteredConditions::default())?,
            bands: dew_point_bands(year, bands),
            above: DEW_POINT_LIMITS_F
                .iter()
                .map(|f| Temperature::fahrenheit(*f))
                .map(|limit| (limit, hours_above_dew_point(year, limit)))
                .collect(),
            months: monthly_table(year, DegreeDayBases::default()),
            closure: solar_closure(year)?,
        })
    }
}

/// Runs the command.
pub fn run(args: &WeatherArgs, context: &mut Context) -> Result<Exit, Failure> {
    let name = args.file.display().to_string().replace('\\', "/");
    let bytes = files::read(&args.file)?;
    context.detail(&format!("read {name}: {} bytes", bytes.len()));
    let options = ReadOptions {
        station: StationOverride {
            name: args.name.clone(),
            latitude: args.latitude,
            longitude: args.longitude,
            elevation: args.elevation,
            utc_offset: args.utc_offset,
        },
        fill_gaps: args.fill_gaps.map_or(FillGaps::Refuse, |max_hours| FillGaps::Interpolate { max_hours }),
    };
    if args.fill_gaps.is_none() {
        context.detail("default: gaps are refused (`--fill-gaps HOURS` fills short ones)");
    }
    let reading = read_weather_with(&name, &bytes, &options).map_err(Failure::Findings)?;
    let system = context.settings.unit_system(None);
    // JSON is SI, whatever is shown.
    let shown = if context.settings.form == Form::Json { UnitSystem::Si } else { system };
    let summary = bands(shown).and_then(|bands| Summary::new(&reading.year, bands)).map_err(|error| {
        Failure::Findings(vec![
            Finding::new(wx::SHORT_OF_CHECK, error.to_string()).at(Place::file(name.clone())),
        ])
    })?;
    if context.settings.form == Form::Json {
        context.print_json(&as_json(&name, &reading, &summary))?;
        return Ok(findings::exit(&reading.findings, context.settings.fail_on));
    }
    let text = draw(&name, &reading, &summary, system, context.settings.width);
    context.out.write_all(text.as_bytes())?;
    context.out.flush()?;
    Ok(if reading.findings.is_empty() { Exit::Clean } else { context.log_findings(&reading.findings) })
}

/// Dew-point bands: 5 degF in the inch-pound system, 2 K in the other.
fn bands(system: UnitSystem) -> Result<Bands, ClimateError> {
    match system {
        UnitSystem::Ip => Bands::new(Temperature::fahrenheit(55.0), TemperatureDifference::fahrenheit(5.0)),
        UnitSystem::Si => Bands::new(Temperature::celsius(12.0), TemperatureDifference::kelvin(2.0)),
    }
}

fn number(system: UnitSystem, kind: QuantityKind, si: f64) -> String {
    fixed(system.value(kind, si), system.decimals(kind))
}

fn temperature(system: UnitSystem, t: Temperature) -> String {
    number(system, QuantityKind::Temperature, t.si())
}

fn signed_angle(degrees: f64, positive: char, negative: char) -> String {
    format!("{:.3} deg {}", degrees.abs(), if degrees < 0.0 { negative } else { positive })
}

fn draw(name: &str, reading: &Reading, summary: &Summary, system: UnitSystem, width: usize) -> String {
    let year = &reading.year;
    let mut out = String::new();
    draw_place(&mut out, name, reading, summary, system, width);
    let t = system.symbol(QuantityKind::Temperature);
    let w = system.symbol(QuantityKind::HumidityRatio);

    out.push_str("\nDesign conditions\n");
    let mut table = Table::new([
        "for".to_owned(),
        "exceeded\n%".to_owned(),
        "design\nvalue of".to_owned(),
        format!("design\n{t}"),
        "mean\ncoincident".to_owned(),
        format!("coincident\n{t}"),
        format!("humidity\nratio {w}"),
        "coincident\nhours".to_owned(),
    ])
    .numbers([1, 3, 5, 6, 7]);
    let percent = |p: f64| format!("{p}");
    let hours = |o: Origin| match o {
        Origin::Entered => "entered".to_owned(),
        Origin::OneYear { hours } => hours.to_string(),
    };
    let ratio = |si: f64| number(system, QuantityKind::HumidityRatio, si);
    let c = &summary.conditions;
    for x in &c.cooling {
        table.row([
            "cooling".to_owned(),
            percent(x.exceeded_percent),
            "dry bulb".into(),
            temperature(system, x.dry_bulb.value),
            "wet bulb".into(),
            temperature(system, x.wet_bulb.value),
            ratio(x.humidity_ratio.si()),
            hours(x.wet_bulb.origin),
        ]);
    }
    for x in &c.dehumidification {
        table.row([
            "dehumidification".to_owned(),
            percent(x.exceeded_percent),
            "dew point".into(),
            temperature(system, x.dew_point.value),
            "dry bulb".into(),
            temperature(system, x.dry_bulb.value),
            ratio(x.humidity_ratio.si()),
            hours(x.dry_bulb.origin),
        ]);
    }
    for x in &c.evaporation {
        table.row([
            "cooling tower".to_owned(),
            percent(x.exceeded_percent),
            "wet bulb".into(),
            temperature(system, x.wet_bulb.value),
            "dry bulb".into(),
            temperature(system, x.dry_bulb.value),
            String::new(),
            hours(x.dry_bulb.origin),
        ]);
    }
    for x in &c.heating {
        table.row([
            "heating".to_owned(),
            percent(x.exceeded_percent),
            "dry bulb".into(),
            temperature(system, x.dry_bulb.value),
            String::new(),
            String::new(),
            ratio(x.humidity_ratio.value.si()),
            hours(x.humidity_ratio.origin),
        ]);
    }
    out.push_str(&table.draw(width));
    let _ = writeln!(out, "{}", wrap(&method(system), width, ""));

    let total = year.hours() as f64;
    let _ = writeln!(out, "\nHours by outdoor dew point");
    let mut table = Table::new([
        format!("from\n{t}"),
        format!("to\n{t}"),
        "hours".into(),
        "share\n%".into(),
        "hours in this\nband or above".into(),
    ])
    .numbers(0..5);
    let mut above: usize = summary.bands.iter().map(|b| b.hours).sum();
    for band in &summary.bands {
        table.row([
            format!("{:.0}", system.value(QuantityKind::Temperature, band.low.si())),
            format!("{:.0}", system.value(QuantityKind::Temperature, band.high.si())),
            band.hours.to_string(),
            format!("{:.1}", band.hours as f64 / total * 100.0),
            above.to_string(),
        ]);
        above -= band.hours;
    }
    out.push_str(&table.draw(width));
    let limits: Vec<String> = summary
        .above
        .iter()
        .map(|(limit, hours)| {
            // The limits are whole degrees of one system; two decimals name them in the other.
            let edge = match system {
                UnitSystem::Ip => limit.show(system),
                UnitSystem::Si => format!("{:.2} {t}", limit.to_celsius()),
            };
            format!("{edge}: {hours} h")
        })
        .collect();
    let text = format!("At or above a dew point of {}.", limits.join(", "));
    let _ = writeln!(out, "{}", wrap(&text, width, ""));

    draw_months(&mut out, summary, system, width);
    out
}

fn draw_place(
    out: &mut String,
    name: &str,
    reading: &Reading,
    summary: &Summary,
    system: UnitSystem,
    width: usize,
) {
    let year = &reading.year;
    let station = year.station();
    let region = station.region.as_ref().map_or_else(String::new, |r| format!(", {}", clean(r)));
    let _ = writeln!(out, "{}{region}", clean(&station.name));
    let mut line = |key: &str, text: String| {
        let _ = writeln!(out, "  {key:<14}{}", wrap(&text, width, "                "));
    };
    line(
        "place",
        format!(
            "{}, {}, {} above sea level, UTC{:+} h",
            signed_angle(station.latitude.to_degrees(), 'N', 'S'),
            signed_angle(station.longitude.to_degrees(), 'E', 'W'),
            whole_length(system, station.elevation),
            station.utc_offset_hours
        ),
    );
    // A long path may fill lines of its own, so the format does not stand behind it.
    line("file", clean(name));
    line("format", year.format().to_string());
    let calendar = match year.calendar() {
        Calendar::Common => "",
        Calendar::Leap => ", with 29 February",
    };
    line(
        "completeness",
        format!(
            "{} of {} hours{calendar}; {} filled; {} with a dew point rounded above the dry bulb",
            year.hours() - reading.filled_hours.len(),
            year.hours(),
            reading.filled_hours.len(),
            year.rounded_hours().len()
        ),
    );
    line("pressure", format!("{} mean", summary.conditions.pressure.value.show(system)));
    line(
        "sun check",
        format!(
            "global less direct and diffuse: {:.1} W/m2 root mean square over {} hours",
            summary.closure.root_mean_square_w_per_m2, summary.closure.hours
        ),
    );
}

fn method(system: UnitSystem) -> String {
    let width = match system {
        UnitSystem::Si => "0.5 K",
        UnitSystem::Ip => "0.9 degF",
    };
    format!(
        "Derived from this one typical year, whose months are average ones: milder than values from a station's long record, which \
         are preferred where they are known. A design value is exceeded in the given share of the hours of the year. Mean \
         coincident: mean of the hours within {width} of the design value."
    )
}

fn draw_months(out: &mut String, summary: &Summary, system: UnitSystem, width: usize) {
    let t = system.symbol(QuantityKind::Temperature);
    let (days, energy, per_kwh) = match system {
        UnitSystem::Si => ("K d", "kWh/m2", 1.0),
        // 1 kWh/m2 is 3.6 MJ; a square foot is 0.09290304 m2 by definition.
        UnitSystem::Ip => ("degF d", "kBtu/ft2", Energy::kilowatt_hours(1.0).in_unit("kBtu") * 0.092_903_04),
    };
    let degree_days = |kelvin: f64| match system {
        UnitSystem::Si => format!("{kelvin:.0}"),
        UnitSystem::Ip => format!("{:.0}", kelvin * 1.8),
    };
    out.push_str("\nMonths\n");
    let mut table = Table::new([
        "month".to_owned(),
        format!("dry bulb\nmean {t}"),
        "\nhighest".into(),
        "\nlowest".into(),
        format!("dew point\nmean {t}"),
        "\nhighest".into(),
        format!("heating\n{days}"),
        format!("cooling\n{days}"),
        format!("global\n{energy}"),
        format!("direct\n{energy}"),
    ])
    .numbers(1..10);
    for m in &summary.months {
        table.row([
            month(m.month).to_owned(),
            temperature(system, m.dry_bulb.mean),
            temperature(system, m.dry_bulb.high),
            temperature(system, m.dry_bulb.low),
            temperature(system, m.dew_point.mean),
            temperature(system, m.dew_point.high),
            degree_days(m.heating_degree_days_k),
            degree_days(m.cooling_degree_days_k),
            format!("{:.1}", m.global_horizontal_kwh_per_m2 * per_kwh),
            format!("{:.1}", m.direct_normal_kwh_per_m2 * per_kwh),
        ]);
    }
    out.push_str(&table.draw(width));
    let bases = DegreeDayBases::default();
    let _ = writeln!(
        out,
        "{}",
        wrap(
            &format!(
                "Degree-days from daily means: heating below {}, cooling above {}.",
                bases.heating.show(system),
                bases.cooling.show(system)
            ),
            width,
            ""
        )
    );
}

fn month(number: u8) -> &'static str {
    const NAMES: [&str; 12] =
        ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"];
    NAMES[usize::from(number) - 1]
}

fn origin(o: Origin) -> Value {
    match o {
        Origin::Entered => json!("entered"),
        Origin::OneYear { .. } => json!("one_typical_year"),
    }
}

fn origin_hours(o: Origin) -> Value {
    match o {
        Origin::Entered => Value::Null,
        Origin::OneYear { hours } => json!(hours),
    }
}

fn celsius(v: Valued<Temperature>) -> f64 {
    v.value.to_celsius()
}

fn as_json(name: &str, reading: &Reading, summary: &Summary) -> Value {
    let year = &reading.year;
    let station = year.station();
    let c = &summary.conditions;
    json!({
        "station": {
            "name": station.name,
            "region": station.region,
            "latitude_deg": station.latitude.to_degrees(),
            "longitude_deg": station.longitude.to_degrees(),
            "elevation_m": station.elevation.to_metres(),
            "utc_offset_h": station.utc_offset_hours,
        },
        "file": { "name": name, "format": year.format().to_string(), "fingerprint": format!("{:016x}", year.fingerprint()) },
        "completeness": {
            "hours": year.hours(),
            "leap_day": year.calendar() == Calendar::Leap,
            "filled_hours": reading.filled_hours,
            "rounded_dew_point_hours": year.rounded_hours().len(),
        },
        "sun_check": {
            "hours": summary.closure.hours,
            "mean_w_per_m2": summary.closure.mean_w_per_m2,
            "root_mean_square_w_per_m2": summary.closure.root_mean_square_w_per_m2,
            "night_hours_with_sun": summary.closure.night_hours_with_sun,
        },
        "design_conditions": {
            "method": method(UnitSystem::Si),
            "pressure_pa": c.pressure.value.to_pascals(),
            "cooling": c.cooling.iter().map(|x| json!({
                "exceeded_percent": x.exceeded_percent,
                "dry_bulb_c": celsius(x.dry_bulb),
                "mean_coincident_wet_bulb_c": celsius(x.wet_bulb),
                "humidity_ratio": x.humidity_ratio.si(),
                "coincident_hours": origin_hours(x.wet_bulb.origin),
                "origin": origin(x.dry_bulb.origin),
            })).collect::<Vec<_>>(),
            "dehumidification": c.dehumidification.iter().map(|x| json!({
                "exceeded_percent": x.exceeded_percent,
                "dew_point_c": celsius(x.dew_point),
                "mean_coincident_dry_bulb_c": celsius(x.dry_bulb),
                "humidity_ratio": x.humidity_ratio.si(),
                "coincident_hours": origin_hours(x.dry_bulb.origin),
                "origin": origin(x.dew_point.origin),
            })).collect::<Vec<_>>(),
            "cooling_tower": c.evaporation.iter().map(|x| json!({
                "exceeded_percent": x.exceeded_percent,
                "wet_bulb_c": celsius(x.wet_bulb),
                "mean_coincident_dry_bulb_c": celsius(x.dry_bulb),
                "coincident_hours": origin_hours(x.dry_bulb.origin),
                "origin": origin(x.wet_bulb.origin),
            })).collect::<Vec<_>>(),
            "heating": c.heating.iter().map(|x| json!({
                "exceeded_percent": x.exceeded_percent,
                "dry_bulb_c": celsius(x.dry_bulb),
                "humidity_ratio": x.humidity_ratio.value.si(),
                "coincident_hours": origin_hours(x.humidity_ratio.origin),
                "origin": origin(x.dry_bulb.origin),
            })).collect::<Vec<_>>(),
            "hottest_month": c.hottest_month,
            "coldest_month": c.coldest_month,
            "most_humid_month": c.most_humid_month,
        },
        "dew_point_bands": summary.bands.iter().map(|b| json!({
            "from_c": b.low.to_celsius(), "to_c": b.high.to_celsius(), "hours": b.hours,
        })).collect::<Vec<_>>(),
        "hours_above_dew_point": summary.above.iter().map(|(limit, hours)| json!({
            "dew_point_c": limit.to_celsius(), "hours": hours,
        })).collect::<Vec<_>>(),
        "months": summary.months.iter().map(|m| json!({
            "month": m.month,
            "hours": m.hours,
            "dry_bulb_mean_c": m.dry_bulb.mean.to_celsius(),
            "dry_bulb_highest_c": m.dry_bulb.high.to_celsius(),
            "dry_bulb_lowest_c": m.dry_bulb.low.to_celsius(),
            "dew_point_mean_c": m.dew_point.mean.to_celsius(),
            "dew_point_highest_c": m.dew_point.high.to_celsius(),
            "dew_point_lowest_c": m.dew_point.low.to_celsius(),
            "heating_degree_days_k_d": m.heating_degree_days_k,
            "cooling_degree_days_k_d": m.cooling_degree_days_k,
            "global_horizontal_kwh_per_m2": m.global_horizontal_kwh_per_m2,
            "direct_normal_kwh_per_m2": m.direct_normal_kwh_per_m2,
        })).collect::<Vec<_>>(),
        "findings": findings::as_json(&reading.findings),
    })
}
