//! Weather readers on real years, on years written in every format, and on broken files.

use drycoil_climate::{
    DewPointRounding, Moisture, WeatherColumns, WeatherFormat, WeatherYear, solar_closure,
};
use drycoil_findings::{Finding, Severity};
use drycoil_intake::weather::{
    FillGaps, ReadOptions, Reading, StationOverride, detect, read_weather, read_weather_with,
};
use drycoil_units::{Angle, Length, Time};
use std::fmt::Write as _;

const GREENSBORO: &[u8] = include_bytes!("../../../examples/weather/greensboro-nc-tmy3.csv");
const PIEDMONT: &[u8] = include_bytes!("../../../examples/weather/pvgis-45n-8e-tmy.csv");
const DAYS: [u32; 12] = [31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31];

/// One hour of the Greensboro year, in the units of its file.
#[derive(Clone, Copy)]
struct Hour {
    month: u32,
    day: u32,
    /// Start of the interval, 0 to 23.
    starts: u32,
    dry_bulb: f64,
    dew_point: f64,
    rh: f64,
    mbar: f64,
    direction: f64,
    speed: f64,
    global: f64,
    direct: f64,
    diffuse: f64,
}

/// The Greensboro year read by position, without the reader under test.
fn hours() -> Vec<Hour> {
    let text = std::str::from_utf8(GREENSBORO).unwrap();
    text.lines()
        .skip(2)
        .map(|line| {
            let f: Vec<&str> = line.split(',').collect();
            let n = |i: usize| f[i].parse::<f64>().unwrap();
            Hour {
                month: f[0][..2].parse().unwrap(),
                day: f[0][3..5].parse().unwrap(),
                starts: f[1][..2].parse::<u32>().unwrap() - 1,
                dry_bulb: n(31),
                dew_point: n(34),
                rh: n(37),
                mbar: n(40),
                direction: n(43),
                speed: n(46),
                global: n(4),
                direct: n(7),
                diffuse: n(10),
            }
        })
        .collect()
}

fn tmy3() -> String {
    String::from_utf8(GREENSBORO.to_vec()).unwrap()
}

fn tmy2() -> String {
    // Header and record positions: NREL/SP-463-7668, tables 3-1 and 3-2.
    let mut out = format!(
        " {:>5} {:<22} {:<2} {:>3} N {:>2} {:>2} W {:>3} {:>2}  {:>4}\n",
        13723, "GREENSBORO", "NC", -5, 36, 6, 79, 57, 273
    );
    for h in hours() {
        let record = format!(
            " 88{:02}{:02}{:02}{:>4}{:>4}{:04.0}I5{:04.0}I5{:04.0}I50000I50000I50000I50000I510A710A7{:>4.0}A7{:>4.0}A7{:03.0}A7{:04.0}A7{:03.0}A7{:03.0}A70161A777777A70999999999013F8062F8000A788E7",
            h.month,
            h.day,
            h.starts + 1,
            "0000",
            "0000",
            h.global,
            h.direct,
            h.diffuse,
            h.dry_bulb * 10.0,
            h.dew_point * 10.0,
            h.rh,
            h.mbar,
            h.direction,
            h.speed * 10.0,
        );
        assert_eq!(record.len(), 142);
        out.push_str(&record);
        out.push('\n');
    }
    out
}

#[derive(Clone, Copy, PartialEq)]
enum Header {
    With,
    Without,
}

fn nsrdb(header: Header) -> String {
    let mut out = String::new();
    if header == Header::With {
        out.push_str(
            "Source,Location ID,City,State,Country,Latitude,Longitude,Time Zone,Elevation,Local Time Zone,Dew Point Units,Pressure Units,Wind Speed\n\
             NSRDB,1234,-,-,-,36.1,-79.95,-5,273,-5,c,mbar,m/s\n",
        );
        out.push_str("Year,Month,Day,Hour,Minute,Temperature,Dew Point,DHI,DNI,GHI,Surface Albedo,Pressure,Wind Direction,Wind Speed\n");
    } else {
        out.push_str(",Year,Month,Day,Hour,Minute,Temperature,Dew Point,DHI,DNI,GHI,Surface Albedo,Pressure,Wind Direction,Wind Speed\n");
    }
    for (i, h) in hours().iter().enumerate() {
        if header == Header::Without {
            write!(out, "{i},").unwrap();
        }
        writeln!(
            out,
            "2003,{},{},{},30,{},{},{},{},{},0.2,{},{},{}",
            h.month,
            h.day,
            h.starts,
            h.dry_bulb,
            h.dew_point,
            h.diffuse,
            h.direct,
            h.global,
            h.mbar,
            h.direction,
            h.speed
        )
        .unwrap();
    }
    out
}

/// Own CSV in inch-pound units, with relative humidity or dew point.
fn plain() -> String {
    let mut out = String::from(
        "# station: Greensboro\n# region: NC\n# latitude: 36.1 deg\n# longitude: -79.95 deg\n# elevation: 895.6693 ft\n# utc_offset: -5 h\n\
         # a free remark\nmonth,day,hour,dry_bulb [degF],dew_point [degF],pressure [psia],wind_speed [mph],wind_direction [deg],\
         global_horizontal [Btu/h ft2],direct_normal [W/m2],diffuse_horizontal [W/m2]\n",
    );
    for h in hours() {
        writeln!(
            out,
            "{},{},{},{:.4},{:.4},{:.6},{:.5},{},{:.6},{},{}",
            h.month,
            h.day,
            h.starts,
            h.dry_bulb * 1.8 + 32.0,
            h.dew_point * 1.8 + 32.0,
            h.mbar * 100.0 / 6_894.757_293,
            h.speed / 0.447_04,
            h.direction,
            h.global / 3.154_590_745,
            h.direct,
            h.diffuse
        )
        .unwrap();
    }
    out
}

fn pvgis() -> String {
    String::from_utf8(PIEDMONT.to_vec()).unwrap()
}

fn greensboro_place() -> StationOverride {
    StationOverride {
        name: Some("Greensboro".into()),
        latitude: Some(Angle::degrees(36.1)),
        longitude: Some(Angle::degrees(-79.95)),
        elevation: Some(Length::metres(273.0)),
        utc_offset: Some(Time::hours(-5.0)),
    }
}

fn good(name: &str, text: &str) -> (WeatherYear, Vec<Finding>) {
    read_weather(name, text.as_bytes(), None).unwrap_or_else(|f| panic!("{name}: {f:#?}"))
}

fn bad(text: &str) -> Vec<Finding> {
    read_weather("year.csv", text.as_bytes(), None).expect_err("must be refused")
}

fn ids(findings: &[Finding]) -> Vec<&str> {
    let mut list: Vec<&str> = findings.iter().map(Finding::id).collect();
    list.dedup();
    list
}

fn one<'a>(findings: &'a [Finding], id: &str) -> &'a Finding {
    findings.iter().find(|f| f.id() == id).unwrap_or_else(|| panic!("{id} is not among {findings:#?}"))
}

fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len() as f64
}

fn monthly(values: &[f64]) -> Vec<f64> {
    let mut start = 0;
    DAYS.iter()
        .map(|days| {
            let end = start + *days as usize * 24;
            let m = mean(&values[start..end]);
            start = end;
            m
        })
        .collect()
}

fn close(a: &[f64], b: &[f64], tolerance: f64) {
    assert_eq!(a.len(), b.len());
    for (i, (x, y)) in a.iter().zip(b).enumerate() {
        assert!((x - y).abs() <= tolerance, "hour {i}: {x} and {y}");
    }
}

/// Replaces line `number` (from 1).
fn with_line(text: &str, number: usize, change: impl Fn(&str) -> String) -> String {
    text.lines()
        .enumerate()
        .map(|(i, l)| if i + 1 == number { change(l) } else { l.to_owned() } + "\n")
        .collect()
}

fn without_lines(text: &str, gone: std::ops::Range<usize>) -> String {
    text.lines()
        .enumerate()
        .filter(|(i, _)| !gone.contains(&(i + 1)))
        .map(|(_, l)| l.to_owned() + "\n")
        .collect()
}

/// Replaces a field (from 0) of a comma-separated line.
fn with_field(text: &str, line: usize, field: usize, value: &str) -> String {
    with_line(text, line, |l| {
        let mut f: Vec<&str> = l.split(',').collect();
        f[field] = value;
        f.join(",")
    })
}

// ---- real years

#[test]
fn val_greensboro_tmy3() {
    // Source: the file itself, added up by a separate script over its columns (csv module, plain sums), without this reader.
    let (year, findings) = good("greensboro-nc-tmy3.csv", &tmy3());
    assert!(findings.is_empty(), "{findings:#?}");
    assert_eq!(year.format(), WeatherFormat::Tmy3Csv);
    let station = year.station();
    assert_eq!(station.name, "GREENSBORO PIEDMONT TRIAD INT");
    assert_eq!(station.region.as_deref(), Some("NC"));
    assert_eq!((station.latitude.to_degrees(), station.longitude.to_degrees()), (36.1, -79.95));
    assert_eq!((station.elevation.to_metres(), station.utc_offset_hours), (273.0, -5.0));
    // Means are printed to four decimals: half of the last one.
    let half = 5.1e-5;
    assert!((mean(year.dry_bulb_c()) - 14.4218).abs() < half);
    assert!((mean(year.dew_point_c()) - 8.1796).abs() < half);
    assert!((mean(year.pressure_pa()) - 98_691.72).abs() < 0.01);
    assert!((mean(year.wind_speed_m_per_s()) - 3.0544).abs() < half);
    assert!((mean(year.wind_direction_deg()) - 165.1667).abs() < half);
    assert!((mean(year.global_horizontal_w_per_m2()) - 178.7903).abs() < half);
    assert!((mean(year.direct_normal_w_per_m2()) - 168.5558).abs() < half);
    assert!((mean(year.diffuse_horizontal_w_per_m2()) - 77.8793).abs() < half);
    close(
        &monthly(year.dry_bulb_c()),
        &[
            0.3321, 5.0299, 11.4140, 14.6853, 19.0316, 23.5915, 25.4331, 24.7609, 20.0760, 13.1200, 10.8208,
            4.2286,
        ],
        half,
    );
    close(
        &monthly(year.dew_point_c()),
        &[
            -5.6669, -1.9171, 3.8946, 6.1189, 12.2112, 18.8039, 19.8199, 19.5636, 15.4397, 8.6340, 3.2849,
            -2.6559,
        ],
        half,
    );
    // Row number in the file is the interval: the stamp closes the hour.
    assert_eq!(year.dry_bulb_c()[844], -16.7);
    assert_eq!(year.dry_bulb_c()[4549], 35.6);
    assert_eq!(year.dew_point_c()[4812], 25.0);
    assert_eq!(year.global_horizontal_w_per_m2()[3852], 1013.0);
    assert_eq!(year.dry_bulb_c().iter().copied().fold(f64::MIN, f64::max), 35.6);
    assert_eq!(year.dew_point_c().iter().copied().fold(f64::MAX, f64::min), -23.9);
}

#[test]
fn val_piedmont_pvgis() {
    // Source: the file itself, added up by a separate script, moved one hour later (UTC+1) by hand for the months.
    let (year, findings) = good("pvgis-45n-8e-tmy.csv", &pvgis());
    assert_eq!(ids(&findings), ["WX-022", "WX-030", "WX-028"]);
    assert_eq!(year.format(), WeatherFormat::PvgisCsv);
    assert_eq!(year.station().utc_offset_hours, 1.0);
    let half = 5.1e-6;
    assert!((mean(year.dry_bulb_c()) - 13.56410).abs() < half);
    assert!((mean(year.pressure_pa()) - 99_854.908_68).abs() < half);
    assert!((mean(year.global_horizontal_w_per_m2()) - 163.91107).abs() < half, "the shift keeps the sum");
    assert!((mean(year.direct_normal_w_per_m2()) - 181.68552).abs() < half);
    assert!((mean(year.diffuse_horizontal_w_per_m2()) - 65.17660).abs() < half);
    assert!((mean(year.sky_infrared_w_per_m2().unwrap()) - 322.06738).abs() < half);
    close(
        &monthly(year.dry_bulb_c()),
        &[
            5.19587, 6.95847, 8.73138, 12.36036, 17.03517, 22.45053, 21.92241, 22.15089, 20.19917, 14.97715,
            6.32310, 4.05374,
        ],
        half,
    );
    // 00:00 UTC is 01:00 local; the last row of the file becomes the first hour.
    assert_eq!(year.dry_bulb_c()[1], 2.04);
    assert_eq!(year.dry_bulb_c()[0], 2.1);
    assert_eq!(year.dry_bulb_c()[4336], 34.33);
    // Samples of 08:00 and 09:00 UTC: 32 and 149 W/m2; 0.5 - 0.1761 h after the first.
    let expected = 32.0 * (1.0 - 0.3239) + 149.0 * 0.3239;
    assert!((year.global_horizontal_w_per_m2()[9] - expected).abs() < 1e-9);
}

/// Centre of the day of the irradiance in solar time, h.
fn solar_centre(year: &WeatherYear) -> f64 {
    let g = year.global_horizontal_w_per_m2();
    let weighted: f64 = g.iter().enumerate().map(|(i, v)| v * ((i % 24) as f64 + 0.5)).sum();
    let station = year.station();
    weighted / g.iter().sum::<f64>() + station.longitude.to_degrees() / 15.0 - station.utc_offset_hours
}

#[test]
fn phys_irradiance_is_centred_on_solar_noon() {
    // The equation of time averages to nothing; cloud moves the centre by a few minutes. A stamp convention that is off
    // by one hour would show.
    for text in [tmy3(), pvgis()] {
        let (year, _) = good("year", &text);
        let centre = solar_centre(&year);
        assert!((centre - 12.0).abs() < 0.25, "{centre}");
    }
}

#[test]
fn xchk_irradiance_closes_with_the_sun_of_mid_hour() {
    // Global = direct cos(zenith) + diffuse holds for the sun of the right instant only. The reader's year against the same
    // year moved by an hour either way: the reader's must fit best by far. The size itself depends on the source, which
    // models or measures the three apart.
    // Bounds, W/m2: whole watts in TMY3; PVGIS is interpolated between samples.
    for (text, bound) in [(tmy3(), 1.5), (pvgis(), 6.0)] {
        let (year, _) = good("year", &text);
        let closure = solar_closure(&year).unwrap();
        assert!(closure.root_mean_square_w_per_m2 < bound);
        assert!(closure.hours > 3000);
        assert_eq!(closure.night_hours_with_sun, 0);
        for hours in [-1.0, 1.0] {
            let mut moved = year.station().clone();
            // The sun an hour later is the sun 15 degrees further west.
            moved.longitude = Angle::degrees(moved.longitude.to_degrees() + 15.0 * hours);
            let columns = WeatherColumns {
                station: moved,
                format: year.format(),
                dry_bulb_c: year.dry_bulb_c().to_vec(),
                moisture: Moisture::DewPointC(year.dew_point_c().to_vec()),
                rounding: DewPointRounding::TENTH_KELVIN,
                pressure_pa: year.pressure_pa().to_vec(),
                wind_speed_m_per_s: year.wind_speed_m_per_s().to_vec(),
                wind_direction_deg: year.wind_direction_deg().to_vec(),
                global_horizontal_w_per_m2: year.global_horizontal_w_per_m2().to_vec(),
                direct_normal_w_per_m2: year.direct_normal_w_per_m2().to_vec(),
                diffuse_horizontal_w_per_m2: year.diffuse_horizontal_w_per_m2().to_vec(),
                sky_infrared_w_per_m2: None,
            };
            let other = solar_closure(&WeatherYear::new(columns).unwrap()).unwrap();
            assert!(closure.root_mean_square_w_per_m2 < 0.2 * other.root_mean_square_w_per_m2);
        }
    }
}

#[test]
fn xchk_moving_the_samples_of_pvgis_pays() {
    // A header that claims half an hour leaves the samples where they are, under the sun of mid-hour.
    let unmoved =
        pvgis().replacen("Irradiance Time Offset (h): 0.1761", "Irradiance Time Offset (h): 0.5", 1);
    let (year, f) = good("unmoved", &unmoved);
    assert!(!ids(&f).contains(&"WX-030"));
    let unmoved = solar_closure(&year).unwrap().root_mean_square_w_per_m2;
    let moved = solar_closure(&good("moved", &pvgis()).0).unwrap().root_mean_square_w_per_m2;
    // The figures of docs/WEATHER_FORMATS.md.
    assert!((moved - 5.2).abs() < 0.1 && (unmoved - 17.6).abs() < 0.1, "{moved} {unmoved}");
}

#[test]
fn regress_half_hour_between_stamp_and_middle() {
    // The figures of docs/WEATHER_FORMATS.md.
    for (text, rms, largest) in [(tmy3(), 0.66, 5.55), (pvgis(), 0.51, 3.86)] {
        let (year, _) = good("year", &text);
        let t = year.dry_bulb_c();
        let n = t.len();
        let half: Vec<f64> = (0..n).map(|i| 0.5 * (t[i] - t[(i + n - 1) % n])).collect();
        assert!((mean(&half.iter().map(|d| d * d).collect::<Vec<_>>()).sqrt() - rms).abs() < 0.005);
        assert!((half.iter().fold(0.0_f64, |a, b| a.max(b.abs())) - largest).abs() < 0.005);
    }
}

// ---- every format holds the same year

#[test]
fn inv_every_format_gives_the_same_year() {
    let (year, _) = good("tmy3", &tmy3());
    for (format, text) in [
        (WeatherFormat::Tmy2, tmy2()),
        (WeatherFormat::NsrdbPsmCsv, nsrdb(Header::With)),
        (WeatherFormat::NsrdbPsmCsv, nsrdb(Header::Without)),
        (WeatherFormat::PlainCsv, plain()),
    ] {
        assert_eq!(detect(text.as_bytes()), Some(format));
        let (other, findings) = read_weather("other", text.as_bytes(), Some(&greensboro_place())).unwrap();
        assert!(findings.iter().all(|f| f.severity() == Severity::Note), "{findings:#?}");
        assert_eq!(other.format(), format);
        // TMY2 holds tenths exactly; the own CSV was written in inch-pound units to four to six decimals.
        close(other.dry_bulb_c(), year.dry_bulb_c(), 1e-4);
        close(other.dew_point_c(), year.dew_point_c(), 1e-4);
        close(other.pressure_pa(), year.pressure_pa(), 0.01);
        close(other.wind_speed_m_per_s(), year.wind_speed_m_per_s(), 1e-4);
        close(other.wind_direction_deg(), year.wind_direction_deg(), 0.0);
        close(other.global_horizontal_w_per_m2(), year.global_horizontal_w_per_m2(), 1e-4);
        close(other.direct_normal_w_per_m2(), year.direct_normal_w_per_m2(), 0.0);
        close(other.diffuse_horizontal_w_per_m2(), year.diffuse_horizontal_w_per_m2(), 0.0);
    }
}

#[test]
fn inv_nsrdb_in_utc_is_brought_to_local_time() {
    let (local, _) = good("local", &nsrdb(Header::With));
    let n = 8760;
    let rows = hours();
    let mut text: String = nsrdb(Header::With).lines().take(3).map(|l| l.to_owned() + "\n").collect();
    text = text.replace("36.1,-79.95,-5,273,-5", "36.1,-79.95,0,273,-5");
    for i in 0..n {
        // UTC hour i is local hour i - 5.
        let (stamp, h) = (rows[i], rows[(i + n - 5) % n]);
        writeln!(
            text,
            "2003,{},{},{},30,{},{},{},{},{},0.2,{},{},{}",
            stamp.month,
            stamp.day,
            stamp.starts,
            h.dry_bulb,
            h.dew_point,
            h.diffuse,
            h.direct,
            h.global,
            h.mbar,
            h.direction,
            h.speed
        )
        .unwrap();
    }
    let (year, findings) = good("utc", &text);
    assert!(findings.is_empty(), "{findings:#?}");
    close(year.dry_bulb_c(), local.dry_bulb_c(), 0.0);
    close(year.global_horizontal_w_per_m2(), local.global_horizontal_w_per_m2(), 0.0);
}

#[test]
fn plain_csv_with_relative_humidity_and_end_stamps() {
    let mut text = String::from(
        "# station: A\n# latitude: 36.1 deg\n# longitude: -79.95 deg\n# elevation: 273 m\n# utc_offset: -5 h\n# hour_stamp: end\n\
         month;day;hour;dry_bulb [degC];rh [%];pressure [hPa];wind_speed [m/s];wind_direction [deg];global_horizontal [W/m2];\
         direct_normal [W/m2];diffuse_horizontal [W/m2]\n",
    );
    for h in hours() {
        writeln!(
            text,
            "{};{};{};{};{};{};{};{};{};{};{}",
            h.month,
            h.day,
            h.starts + 1,
            h.dry_bulb,
            h.rh,
            h.mbar,
            h.speed,
            h.direction,
            h.global,
            h.direct,
            h.diffuse
        )
        .unwrap();
    }
    let (year, findings) = good("a.csv", &text);
    assert_eq!(ids(&findings), ["WX-028"]);
    let (tmy3, _) = good("tmy3", &tmy3());
    close(year.dry_bulb_c(), tmy3.dry_bulb_c(), 0.0);
    // RH is printed to 1 %, which is up to 0.25 K of dew point at 30 % RH; below freezing the column is over water, the
    // year type over ice, so dew points above freezing are compared. A few rows of the file disagree within themselves.
    let rows = hours();
    let mut d: Vec<f64> = rows
        .iter()
        .enumerate()
        .filter(|(_, h)| h.dew_point > 0.5 && h.rh > 30.0)
        .map(|(i, _)| (year.dew_point_c()[i] - tmy3.dew_point_c()[i]).abs())
        .collect();
    d.sort_by(f64::total_cmp);
    let quantile = |q: f64| d[((d.len() - 1) as f64 * q) as usize];
    assert!(
        d.len() > 4000 && quantile(0.5) < 0.1 && quantile(0.99) < 0.3,
        "{} {} {}",
        d.len(),
        quantile(0.5),
        quantile(0.99)
    );
}

#[test]
fn leap_year_keeps_29_february() {
    let mut text: String = plain().lines().take(8).map(|l| l.to_owned() + "\n").collect();
    for (i, line) in plain().lines().skip(8).enumerate() {
        if i == 59 * 24 {
            for hour in 0..24 {
                writeln!(text, "2,29,{hour},40,30,14.3,0,0,0,0,0").unwrap();
            }
        }
        text.push_str(line);
        text.push('\n');
    }
    let (year, _) = good("leap", &text);
    assert_eq!(year.hours(), 8784);
    assert!((year.dry_bulb_c()[59 * 24] - 40.0 / 1.8 + 32.0 / 1.8).abs() < 1e-9);
    // 29 February with 23 hours is a gap, not another year.
    let line = 8 + 59 * 24 + 5;
    let findings = bad(&without_lines(&text, line..line + 1));
    assert!(one(&findings, "WX-009").message.contains("29 February"), "{findings:#?}");
}

#[test]
fn forms_of_text_are_read() {
    let (year, _) = good("plain", &tmy3());
    let crlf = tmy3().replace('\n', "\r\n");
    let bom = format!("\u{feff}{}", tmy3());
    let no_end = tmy3().trim_end().to_owned();
    let cr = tmy3().replace('\n', "\r");
    let semicolons = tmy3().replace(',', ";");
    for text in [crlf, bom, no_end, cr, semicolons] {
        assert_eq!(good("other", &text).0.fingerprint(), year.fingerprint());
    }
    let mut latin = tmy3().replace("GREENSBORO PIEDMONT", "GR*ENSBORO PIEDMONT").into_bytes();
    let at = latin.iter().position(|b| *b == b'*').unwrap();
    latin[at] = 0xc9;
    let (year, _) = read_weather("latin", &latin, None).unwrap();
    assert_eq!(year.station().name, "GR\u{c9}ENSBORO PIEDMONT TRIAD INT");
}

// ---- broken files

#[test]
fn unusable_bytes_are_refused() {
    assert_eq!(ids(&bad("")), ["WX-001"]);
    assert_eq!(ids(&bad("\n \r\n")), ["WX-001"]);
    assert_eq!(ids(&bad("a,b\nc\0d\n")), ["WX-002"]);
    assert_eq!(one(&bad("a,b\nc\0d\n"), "WX-002").places[0].line, Some(2));
    let utf16: Vec<u8> =
        [0xff, 0xfe].into_iter().chain(tmy3().encode_utf16().flat_map(u16::to_le_bytes)).collect();
    assert_eq!(read_weather("u", &utf16, None).unwrap_err()[0].id(), "WX-002");
    let long = format!("{}\n{}", tmy3(), "x".repeat(9000));
    assert_eq!(ids(&bad(&long)), ["WX-003"]);
    let huge = vec![b'\n'; 33 * 1024 * 1024];
    assert_eq!(read_weather("h", &huge, None).unwrap_err()[0].id(), "WX-003");
    let many = "1,\n".repeat(700_000);
    assert_eq!(ids(&bad(&many)), ["WX-003"]);
    assert_eq!(ids(&bad(&"1,\n".repeat(1_300_000))), ["WX-003"]);
    let letter = bad("Dear all,\nplease find the weather attached.\n");
    assert_eq!(ids(&letter), ["WX-004"]);
    assert!(letter[0].value.as_ref().unwrap().contains("Dear all"));
}

#[test]
fn bad_values_are_named_at_row_and_title() {
    let text = tmy3();
    let f = bad(&with_field(&text, 102, 31, "warm"));
    let b = one(&f, "WX-014");
    assert_eq!(b.places[0].line, Some(102));
    assert_eq!(b.places[0].row, Some(100));
    assert_eq!(b.places[0].key.as_deref(), Some("Dry-bulb (C)"));
    assert_eq!(b.value.as_deref(), Some("warm"));
    assert_eq!(f.len(), 1, "{f:#?}");

    let f = bad(&with_field(&text, 102, 40, "98700"));
    let b = one(&f, "WX-016");
    assert_eq!(b.allowed.as_deref(), Some("600 to 1080 mbar"));
    assert!(b.hint.as_ref().unwrap().contains("fit in Pa"));

    let f = bad(&with_field(&text, 102, 31, "95"));
    assert!(one(&f, "WX-016").hint.as_ref().unwrap().contains("degF"));

    let f = bad(&with_field(&text, 102, 34, "30.0"));
    let b = one(&f, "WX-017");
    assert_eq!((b.places[0].line, b.places[0].key.as_deref()), (Some(102), Some("Dew-point (C)")));

    let f = bad(&with_field(&text, 102, 31, "\"12,5\""));
    assert_eq!(ids(&f), ["WX-015"]);
    assert!(f[0].hint.as_ref().unwrap().contains("point"));

    for marker in ["-9900", "9999", "", "NaN"] {
        let f = bad(&with_field(&text, 102, 31, marker));
        let b = one(&f, "WX-010");
        assert_eq!(ids(&f), ["WX-010"], "{marker}");
        assert!(b.message.contains("5 January 03:00"), "{}", b.message);
        // What stands there is said with its line.
        let number = marker.parse::<f64>().is_ok_and(f64::is_finite);
        assert_eq!(
            b.value.as_deref() == Some(&format!("`{marker}` in line 102, 1 h")),
            number,
            "{:?}",
            b.value
        );
    }
}

#[test]
fn column_of_a_place_counts_characters() {
    let f = bad(&with_field(&tmy3(), 3, 31, "warm"));
    let line = tmy3().lines().nth(2).unwrap().to_owned();
    let before: usize = line.split(',').take(31).map(|s| s.len() + 1).sum();
    assert_eq!(one(&f, "WX-014").places[0].column, Some(before as u32 + 1));
}

#[test]
fn rounded_dew_points_are_noted_not_refused() {
    let mut text = tmy3();
    for line in [102, 202] {
        let db: f64 = text.lines().nth(line - 1).unwrap().split(',').nth(31).unwrap().parse().unwrap();
        text = with_field(&text, line, 34, &format!("{:.1}", db + 0.1));
    }
    let (year, findings) = good("rounded", &text);
    assert_eq!(ids(&findings), ["WX-020"]);
    assert!(findings[0].message.starts_with("2 hours"));
    assert_eq!(year.rounded_hours().len(), 2);
}

#[test]
fn gaps_doubles_and_order() {
    let text = tmy3();
    let f = bad(&without_lines(&text, 1000..1004));
    assert_eq!(ids(&f), ["WX-009", "WX-008"]);
    assert!(f[0].message.contains("4 hours from 11 February 13:00"), "{}", f[0].message);
    assert_eq!(f[0].places[0].line, Some(1000));
    assert_eq!(one(&f, "WX-008").value.as_deref(), Some("8756 rows"));

    let f = bad(&with_line(&text, 500, |l| format!("{l}\n{l}")));
    let b = one(&f, "WX-011");
    assert_eq!((b.places[0].line, b.places[1].line), (Some(501), Some(500)));

    let lines: Vec<&str> = text.lines().collect();
    let mut swapped = lines.clone();
    swapped.swap(700, 701);
    let f = bad(&(swapped.join("\n") + "\n"));
    assert_eq!(ids(&f), ["WX-012"]);

    let f = bad(&without_lines(&text, 5000..9000));
    assert!(ids(&f).contains(&"WX-018"), "{f:#?}");

    let two: String = text.lines().chain(text.lines().skip(2)).map(|l| l.to_owned() + "\n").collect();
    assert_eq!(ids(&bad(&two)), ["WX-008"]);
}

#[test]
fn cut_off_files() {
    let text = tmy3();
    let f = bad(&text[..text.len() / 2]);
    assert!(ids(&f).contains(&"WX-018"), "{f:#?}");
    let t = tmy2();
    let f = bad(&t[..t.len() / 3]);
    assert!(ids(&f).contains(&"WX-018"), "{f:#?}");
    for text in [tmy3(), tmy2(), pvgis(), nsrdb(Header::With), plain()] {
        let head: String = text
            .lines()
            .take(if text.contains("PVGIS") { 67 } else { 58 })
            .map(|l| l.to_owned() + "\n")
            .collect();
        let f = bad(&head);
        assert!(ids(&f).contains(&"WX-018") && ids(&f).contains(&"WX-008"), "{f:#?}");
    }
}

#[test]
fn shape_and_stamps() {
    let text = tmy3();
    let f = bad(&with_line(&text, 300, |l| l.replacen(',', "", 1)));
    assert!(ids(&f).contains(&"WX-019"));
    let f = bad(&with_field(&text, 300, 0, "1988-01-13"));
    assert_eq!(one(&f, "WX-013").allowed.as_deref(), Some("MM/DD/YYYY"));
    let f = bad(&with_field(&text, 300, 1, "00:00"));
    assert_eq!(one(&f, "WX-013").places[0].line, Some(300));
    let f = bad(&with_field(&text, 300, 0, "02/30/1988"));
    assert!(one(&f, "WX-013").message.contains("does not exist"));
    let f = bad(&with_line(&tmy2(), 300, |l| l[1..].to_owned()));
    assert!(ids(&f).contains(&"WX-019"));
    let f = bad(&pvgis().replace("20180101:0500", "2018-01-01 05:00"));
    assert!(ids(&f).contains(&"WX-013"));
}

#[test]
fn headers() {
    let text = tmy3();
    let f = bad(&text.replacen("Dry-bulb (C)", "Dry-bulb (F)", 1));
    assert!(one(&f, "WX-005").hint.as_ref().unwrap().contains("Dry-bulb (F)"));
    let f = bad(&with_line(&text, 1, |l| l.replace("36.100", "north")));
    assert!(ids(&f).contains(&"WX-006") && ids(&f).contains(&"WX-007"), "{f:#?}");
    let f = bad(&without_lines(&text, 1..2));
    assert!(one(&f, "WX-007").message.contains("latitude, longitude, elevation, offset from UTC"));
    let f = bad(&with_line(&text, 1, |l| l.replace("36.100", "361.00")));
    assert_eq!(one(&f, "WX-006").allowed.as_deref(), Some("-90 to 90 deg"));
    let f = bad(&nsrdb(Header::Without));
    assert_eq!(ids(&f), ["WX-007"]);
    assert!(f[0].hint.as_ref().unwrap().contains("--utc-offset"));
    let f = bad(&nsrdb(Header::With).replace(",mbar,", ",Pa,"));
    assert_eq!(one(&f, "WX-027").value.as_deref(), Some("Pa"));
    let f = bad(&nsrdb(Header::With).replacen("Dew Point,DHI", "Dew,DHI", 1));
    assert!(ids(&f).contains(&"WX-005"));
    let f =
        bad(&pvgis().replacen("Latitude (decimal degrees): 45.000", "Latitude (decimal degrees): 45,000", 1));
    assert!(ids(&f).contains(&"WX-006"));
    let f = bad(&plain().replacen("dry_bulb [degF]", "dry_bulb", 1));
    assert_eq!(one(&f, "WX-027").hint.as_deref(), Some("write `dry_bulb [degC]`"));
    let f = bad(&plain().replacen("dry_bulb [degF]", "dry_bulb [W]", 1));
    assert!(ids(&f).contains(&"WX-027"));
    let f = bad(&plain().replacen("dew_point [degF]", "dew_pont [degF]", 1));
    assert_eq!(one(&f, "WX-026").hint.as_deref(), Some("did you mean `dew_point`?"));
    assert!(ids(&f).contains(&"WX-005"));
    let f = bad(&plain().replacen("# latitude", "# latitud", 1));
    assert!(one(&f, "WX-006").hint.as_ref().unwrap().contains("latitude"));
    let f = bad(&plain().replacen("36.1 deg", "36.1", 1));
    assert!(one(&f, "WX-006").message.contains("no unit"));
}

#[test]
fn doubtful_places_give_warnings() {
    let wrong_zone = with_line(&tmy3(), 1, |l| l.replace("-5.0", "0.0"));
    let (_, f) = good("zone", &wrong_zone);
    assert_eq!(ids(&f), ["WX-032", "WX-024"]);
    let (_, f) = good("sign", &with_line(&tmy3(), 1, |l| l.replace("-79.950", "79.950")));
    assert_eq!(ids(&f), ["WX-032", "WX-024"]);
    let two = with_line(&tmy3(), 1, |l| l.replace("-5.0", "-7.0"));
    assert_eq!(ids(&good("two hours", &two).1), ["WX-024"]);
    let feet = with_line(&tmy3(), 1, |l| l.replace(",273", ",896"));
    let (_, f) = good("feet", &feet);
    assert_eq!(ids(&f), ["WX-031"]);
    // Twelve hours off has the same mean hour, but not the same direction on the clock face.
    let twelve = with_line(&tmy3(), 1, |l| l.replace("-5.0", "7.0"));
    assert_eq!(ids(&good("twelve", &twelve).1), ["WX-032", "WX-024"]);
}

#[test]
fn lists_are_capped_and_counted() {
    let text = tmy3().replace(",993,A,7,", ",99300,A,7,");
    let wrong = text.matches(",99300,A,7,").count();
    let f = bad(&text);
    assert_eq!(f.iter().filter(|f| f.id() == "WX-016").count(), 11);
    let last = f.iter().rfind(|f| f.id() == "WX-016").unwrap();
    assert!(last.message.contains(&format!("and {} more", wrong - 10)), "{}", last.message);
    assert!(last.message.contains(&format!("{wrong} in all")));
}

#[test]
fn all_problems_in_one_pass() {
    let mut text = with_field(&tmy3(), 102, 31, "warm");
    text = with_field(&text, 2000, 40, "9");
    text = with_field(&text, 3000, 34, "39");
    text = with_field(&text, 4000, 4, "");
    text = without_lines(&text, 6000..6001);
    let f = bad(&text);
    for id in ["WX-014", "WX-016", "WX-017", "WX-010", "WX-009", "WX-008"] {
        assert!(ids(&f).contains(&id), "{id}: {f:#?}");
    }
}

// ---- filling

#[test]
fn gaps_are_filled_only_when_asked_and_listed() {
    let text = with_field(&without_lines(&tmy3(), 1000..1003), 3000, 31, "-9900");
    let options =
        |max_hours| ReadOptions { fill_gaps: FillGaps::Interpolate { max_hours }, ..ReadOptions::default() };
    let Reading { year, findings: f, filled_hours } =
        read_weather_with("gap", text.as_bytes(), &options(3)).unwrap();
    assert_eq!(filled_hours, [997, 998, 999, 3000]);
    assert_eq!(ids(&f), ["WX-021"]);
    assert_eq!(f.len(), 2);
    let three = f.iter().find(|f| f.message.starts_with("3 hours")).unwrap();
    assert_eq!(three.value.as_deref(), Some("11 February 13:00; 11 February 14:00; 11 February 15:00"));
    assert!(three.places[0].key.as_ref().unwrap().contains("GHI (W/m^2)"));
    let rows = hours();
    let (a, b) = (rows[996].dry_bulb, rows[1000].dry_bulb);
    for k in 1..=3 {
        let expected = a + (b - a) * f64::from(k) / 4.0;
        assert!((year.dry_bulb_c()[996 + k as usize] - expected).abs() < 1e-9);
    }
    let f = read_weather_with("gap", text.as_bytes(), &options(2)).unwrap_err();
    assert!(ids(&f).contains(&"WX-009") && ids(&f).contains(&"WX-021"), "{f:#?}");
    // A gap at the end of the year leans on 1 January.
    let end = without_lines(&tmy3(), 8761..8763);
    let Reading { year, findings: f, .. } = read_weather_with("end", end.as_bytes(), &options(2)).unwrap();
    assert_eq!(ids(&f), ["WX-021"]);
    let (a, b) = (rows[8757].dry_bulb, rows[0].dry_bulb);
    assert!((year.dry_bulb_c()[8759] - (a + (b - a) * 2.0 / 3.0)).abs() < 1e-9);
}

#[test]
fn wind_direction_is_filled_the_short_way_round() {
    let mut text = with_field(&tmy3(), 1000, 43, "350");
    text = with_field(&text, 1001, 43, "");
    text = with_field(&text, 1002, 43, "20");
    let options = ReadOptions { fill_gaps: FillGaps::Interpolate { max_hours: 1 }, ..ReadOptions::default() };
    let year = read_weather_with("wind", text.as_bytes(), &options).unwrap().year;
    assert!((year.wind_direction_deg()[998] - 5.0).abs() < 1e-9);
}

#[test]
fn an_optional_column_with_holes_is_left_out() {
    let text = pvgis().replacen("94.38,0.0,-0.0,0.0,283.58", "94.38,0.0,-0.0,0.0,", 1);
    let (year, f) = good("pvgis", &text);
    assert!(ids(&f).contains(&"WX-025"));
    assert!(year.sky_infrared_w_per_m2().is_none());
}

// ---- robustness

/// A small generator (xorshift64*), so that each run is the same.
struct Random(u64);

impl Random {
    fn next(&mut self) -> u64 {
        self.0 ^= self.0 >> 12;
        self.0 ^= self.0 << 25;
        self.0 ^= self.0 >> 27;
        self.0.wrapping_mul(0x2545_F491_4F6C_DD1D)
    }

    fn below(&mut self, n: usize) -> usize {
        (self.next() % n.max(1) as u64) as usize
    }
}

fn mutate(bytes: &mut Vec<u8>, random: &mut Random) {
    let lines: Vec<(usize, usize)> = {
        let mut start = 0;
        bytes
            .split_inclusive(|b| *b == b'\n')
            .map(|l| {
                start += l.len();
                (start - l.len(), start)
            })
            .collect()
    };
    if lines.is_empty() {
        return;
    }
    // Half of the changes near the header, where structure is.
    let line = lines
        [if random.below(2) == 0 { random.below(lines.len().min(20)) } else { random.below(lines.len()) }];
    let at = line.0 + random.below(line.1 - line.0);
    match random.below(12) {
        0 => bytes.truncate(at),
        1 => bytes[at] ^= 1 << random.below(8),
        2 => bytes[at] = b"\0,;\"\t\n\r -.9e:#[]N\xff\xc3"[random.below(19)],
        3 => {
            let copy = bytes[line.0..line.1].to_vec();
            bytes.splice(line.0..line.0, copy);
        }
        4 => {
            bytes.drain(line.0..line.1);
        }
        5 => {
            bytes.remove(at);
        }
        6 => {
            let long = vec![b"9,-\"#"[random.below(5)]; random.below(3000)];
            bytes.splice(at..at, long);
        }
        7 => {
            // Deletes one column of the whole file.
            let column = random.below(14);
            let text = String::from_utf8_lossy(bytes).into_owned();
            *bytes = text
                .lines()
                .map(|l| {
                    let fields: Vec<&str> =
                        l.split(',').enumerate().filter(|(i, _)| *i != column).map(|(_, f)| f).collect();
                    fields.join(",") + "\n"
                })
                .collect::<String>()
                .into_bytes();
        }
        8 => {
            let other = lines[random.below(lines.len())];
            let copy = bytes[other.0..other.1].to_vec();
            bytes.splice(line.0..line.1, copy);
        }
        9 => {
            let value: &[u8] = [
                &b"9999"[..],
                b"-9900",
                b"1e308",
                b"nan",
                b"inf",
                b"",
                b"1,5",
                b"--1",
                b"99999999999999999999",
            ][random.below(9)];
            let end = bytes[at..line.1].iter().position(|b| *b == b',').map_or(at, |p| at + p);
            bytes.splice(at..end, value.iter().copied());
        }
        10 => {
            let tail = bytes[..at].to_vec();
            bytes.extend(tail);
            bytes.truncate(4_000_000);
        }
        _ => {
            bytes.splice(0..0, *b"\xef\xbb\xbf");
        }
    }
}

fn check(bytes: &[u8], options: &ReadOptions) {
    let start = std::time::Instant::now();
    let _ = detect(bytes);
    match read_weather_with("mutant", bytes, options) {
        Ok(Reading { year, findings, .. }) => {
            assert!(year.hours() == 8760 || year.hours() == 8784);
            assert!(year.dry_bulb_c().iter().chain(year.humidity_ratio()).all(|v| v.is_finite()));
            assert!(findings.iter().all(|f| f.severity() != Severity::Error));
        }
        Err(findings) => {
            assert!(findings.iter().any(Finding::is_bad_input));
            assert!(findings.len() < 400, "{}", findings.len());
            for f in &findings {
                assert!(!f.message.is_empty() && !f.places.is_empty() && f.message.len() < 400, "{f:?}");
            }
        }
    }
    // Far above what the slowest machine needs: a hang, not a speed.
    assert!(start.elapsed().as_secs() < 20);
}

#[test]
fn mutated_files_never_panic() {
    let mut random = Random(0x5EED_0001);
    let place =
        ReadOptions { station: greensboro_place(), fill_gaps: FillGaps::Interpolate { max_hours: 6 } };
    let plain_options = ReadOptions::default();
    for text in [tmy3(), tmy2(), pvgis(), nsrdb(Header::With), nsrdb(Header::Without), plain()] {
        let short: Vec<u8> =
            text.lines().take(50).map(|l| l.to_owned() + "\n").collect::<String>().into_bytes();
        for case in 0..1500 {
            let mut bytes = short.clone();
            for _ in 0..=random.below(4) {
                mutate(&mut bytes, &mut random);
            }
            check(&bytes, if case % 2 == 0 { &place } else { &plain_options });
        }
        for case in 0..25 {
            let mut bytes = text.clone().into_bytes();
            for _ in 0..=random.below(3) {
                mutate(&mut bytes, &mut random);
            }
            check(&bytes, if case % 2 == 0 { &place } else { &plain_options });
        }
    }
}
