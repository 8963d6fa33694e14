//! Weather files: five formats, told apart by their content, to one checked [`WeatherYear`].
//!
//! | format | stamp in the file | interval of the year | irradiance |
//! |---|---|---|---|
//! | TMY3 CSV, TMY2 | end of the hour, local standard time, 1 to 24 | stamp 01:00 is interval 0 | mean over the interval, as it stands |
//! | PVGIS CSV | UTC, instant | the interval of local standard time that holds the stamp | sample, moved to the middle of the interval |
//! | NSRDB CSV | instant (minute 30), zone of the header | the interval that holds the stamp | sample; at minute 30 as it stands |
//! | own CSV | start (or end) of the hour, local standard time | the hour named | mean over the interval |
//!
//! Temperatures, moisture, pressure and wind keep the values of the file: the state at a stamp stands for the interval to
//! which the stamp belongs. So percentiles, extremes and coincident pairs are those of the source. The price is a shift
//! of up to half an hour between state and sun; `docs/WEATHER_FORMATS.md` gives its size.
//!
//! A year that ends in one time zone and begins in another is closed to a ring: hours that a shift moves past
//! 31 December stand at 1 January.

mod assemble;
mod detect;
mod nsrdb;
mod plain;
mod pvgis;
mod report;
mod station;
mod table;
mod text;
mod tmy2;
mod tmy3;

pub use station::StationOverride;
pub use text::{MAX_FILE_BYTES, MAX_LINE_BYTES, MAX_LINES};

use drycoil_climate::{WeatherFormat, WeatherYear};
use drycoil_findings::{Finding, registry::weather as wx};
use report::Report;

/// What to do with missing hours.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum FillGaps {
    /// Each one is an error.
    #[default]
    Refuse,
    /// Gaps up to this length are filled on the straight line between their neighbours, and each hour is listed.
    Interpolate {
        /// Longest gap that is filled, h.
        max_hours: u32,
    },
}

/// How a weather file is read.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct ReadOptions {
    /// Station values that are used instead of those of the file.
    pub station: StationOverride,
    /// What to do with missing hours.
    pub fill_gaps: FillGaps,
}

/// A weather file that was read.
#[derive(Debug, Clone, PartialEq)]
pub struct Reading {
    /// The checked year.
    pub year: WeatherYear,
    /// Notes and warnings.
    pub findings: Vec<Finding>,
    /// Indices of the hours of the year in which something was filled, rising.
    pub filled_hours: Vec<usize>,
}

/// The format of a file, told from its content; `None` when it is none of the five.
///
/// ```
/// use drycoil_climate::WeatherFormat;
/// use drycoil_intake::weather::detect;
/// assert_eq!(detect(b"time(UTC),T2m,RH,G(h),Gb(n),Gd(h),IR(h),WS10m,WD10m,SP\n"), Some(WeatherFormat::PvgisCsv));
/// assert_eq!(detect(b"Dear all,\nplease find attached"), None);
/// ```
pub fn detect(bytes: &[u8]) -> Option<WeatherFormat> {
    let mut report = Report::new("");
    let text = text::decode(&mut report, bytes)?;
    let lines = text::lines(&mut report, &text)?;
    detect::detect_lines(&lines)
}

/// Reads a weather file; missing hours are errors.
///
/// `name` is the file as the user names it, for the places of findings; it decides nothing.
///
/// # Errors
/// All that is wrong with the file, in one pass. On success the list holds notes and warnings only.
///
/// ```
/// use drycoil_intake::weather::read_weather;
/// let findings = read_weather("site.csv", b"", None).unwrap_err();
/// assert_eq!(findings[0].id(), "WX-001");
/// ```
pub fn read_weather(
    name: &str,
    bytes: &[u8],
    station: Option<&StationOverride>,
) -> Result<(WeatherYear, Vec<Finding>), Vec<Finding>> {
    let options = ReadOptions { station: station.cloned().unwrap_or_default(), ..ReadOptions::default() };
    read_weather_with(name, bytes, &options).map(|reading| (reading.year, reading.findings))
}

/// Reads a weather file with options.
///
/// # Errors
/// All that is wrong with the file, in one pass.
pub fn read_weather_with(name: &str, bytes: &[u8], options: &ReadOptions) -> Result<Reading, Vec<Finding>> {
    let mut report = Report::new(name);
    let read = read(&mut report, bytes, options);
    let failed = report.has_errors();
    match read {
        Some((year, filled_hours)) if !failed => {
            Ok(Reading { year, findings: report.finish(), filled_hours })
        }
        _ => {
            if !failed {
                report.add(wx::BAD_HEADER, |r, f| {
                    Finding { message: "the header cannot be used".into(), ..f }.at(r.whole())
                });
            }
            Err(report.finish())
        }
    }
}

fn read(report: &mut Report<'_>, bytes: &[u8], options: &ReadOptions) -> Option<(WeatherYear, Vec<usize>)> {
    let text = text::decode(report, bytes)?;
    let lines = text::lines(report, &text)?;
    let Some(format) = detect::detect_lines(&lines) else {
        report.add(wx::UNKNOWN_FORMAT, |r, f| {
            let first: String =
                lines.iter().find(|l| !l.trim().is_empty()).unwrap_or(&"").chars().take(60).collect();
            Finding { message: "the content is none of the known weather formats".into(), ..f }
                .at(r.whole())
                .value(format!("begins with `{first}`"))
                .allowed("TMY3 CSV, TMY2, PVGIS typical-year CSV, NSRDB CSV, CSV with units in the titles")
        });
        return None;
    };
    // A file whose last line has no end may have been cut off in it.
    let whole = text.ends_with(['\n', '\r', '\u{1a}']);
    let parsed = match format {
        WeatherFormat::Tmy3Csv => tmy3::read(report, &lines, whole),
        WeatherFormat::Tmy2 => tmy2::read(report, &lines, whole),
        WeatherFormat::PvgisCsv => pvgis::read(report, &lines, whole),
        WeatherFormat::NsrdbPsmCsv => nsrdb::read(report, &lines, whole),
        WeatherFormat::PlainCsv => plain::read(report, &lines, whole),
    }?;
    assemble::assemble(report, parsed, options)
}
