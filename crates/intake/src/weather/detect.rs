//! Telling the format from the content.

use super::text::{delimiter_of, split};
use drycoil_climate::WeatherFormat;

/// So many lines are looked at.
const HEAD: usize = 60;

/// Format of a file whose first lines these are.
pub(super) fn detect_lines(lines: &[&str]) -> Option<WeatherFormat> {
    let head = &lines[..lines.len().min(HEAD)];
    if head.iter().take(3).any(|l| is_tmy3_titles(l)) {
        return Some(WeatherFormat::Tmy3Csv);
    }
    if pvgis_title_line(head).is_some()
        || head.iter().take(3).any(|l| l.starts_with("Latitude (decimal degrees)"))
    {
        return Some(WeatherFormat::PvgisCsv);
    }
    if nsrdb_title_line(head).is_some() {
        return Some(WeatherFormat::NsrdbPsmCsv);
    }
    if is_tmy2(head) {
        return Some(WeatherFormat::Tmy2);
    }
    plain_title_line(head).map(|_| WeatherFormat::PlainCsv)
}

fn is_tmy3_titles(line: &str) -> bool {
    let lower = line.to_ascii_lowercase();
    lower.contains("date (mm/dd/yyyy)") || (lower.contains("dry-bulb (") && lower.contains("time ("))
}

/// Line (from 0) of the titles of a PVGIS table.
pub(super) fn pvgis_title_line(head: &[&str]) -> Option<usize> {
    head.iter().take(HEAD).position(|l| {
        let l = l.trim_start().to_ascii_lowercase();
        l.starts_with("time(utc)") || (l.starts_with("time,") && l.contains("t2m"))
    })
}

/// Line (from 0) of the titles of an NSRDB table.
pub(super) fn nsrdb_title_line(head: &[&str]) -> Option<usize> {
    let mut fields = Vec::new();
    head.iter().take(5).position(|line| {
        split(line, delimiter_of(line), &mut fields);
        let has = |name: &str| fields.iter().any(|f| f.trim().eq_ignore_ascii_case(name));
        has("Year") && has("Month") && has("Day") && has("Hour") && !line.contains('[')
    })
}

fn is_tmy2(head: &[&str]) -> bool {
    let header = head.first().is_some_and(|l| {
        let b = l.as_bytes();
        b.len() >= 50 && matches!(b[37], b'N' | b'S') && matches!(b[45], b'E' | b'W')
    });
    let record = head.iter().skip(1).take(3).any(|l| {
        let b = l.as_bytes();
        b.len() >= 100 && b[0] == b' ' && b[1..21].iter().all(u8::is_ascii_digit) && !l.contains(',')
    });
    header || record
}

/// Line (from 0) of the titles of an own CSV file.
pub(super) fn plain_title_line(head: &[&str]) -> Option<usize> {
    let position = head.iter().position(|l| !l.trim().is_empty() && !is_comment(l))?;
    let line = head[position];
    let mut fields = Vec::new();
    split(line, delimiter_of(line), &mut fields);
    let known = fields.iter().filter(|f| {
        let name = f.split('[').next().unwrap_or("").trim().to_ascii_lowercase();
        super::plain::TITLES.contains(&name.as_str()) || matches!(name.as_str(), "month" | "day" | "hour")
    });
    (known.count() >= 3).then_some(position)
}

/// Whether a line of an own CSV file is a comment.
pub(super) fn is_comment(line: &str) -> bool {
    let l = line.trim_start();
    l.starts_with('#') || l.starts_with("\"#")
}
