//! One target per reader.

use drycoil_findings::Finding;
use drycoil_intake::weather;
use drycoil_units::{QuantityKind, parse_air_flow, parse_kind, parse_number, split_title};
use drycoil_working::check;
use std::fs;
use std::path::{Path, PathBuf};

/// A reader under test.
#[derive(Debug, Clone, Copy)]
pub struct Target {
    /// Name on the command line and of the folder of its kept inputs.
    pub name: &'static str,
    /// Reads the input; a panic is a failure, and so is a broken promise, which it raises as a panic.
    pub run: fn(&[u8]),
    /// Inputs to begin with.
    pub seeds: fn() -> Vec<Vec<u8>>,
}

/// Every target.
pub const TARGETS: &[Target] = &[
    Target { name: "units", run: units, seeds: unit_seeds },
    Target { name: "numbers", run: numbers, seeds: number_seeds },
    Target { name: "weather", run: weather, seeds: weather_seeds },
];

fn text(bytes: &[u8]) -> std::borrow::Cow<'_, str> {
    String::from_utf8_lossy(bytes)
}

/// Quantities, air flows and column titles.
fn units(bytes: &[u8]) {
    let text = text(bytes);
    for kind in QuantityKind::ALL {
        if let Ok(value) = parse_kind(*kind, &text) {
            assert!(value.is_finite(), "{kind:?} of {text:?} is {value}");
        }
    }
    if let Ok((flow, _)) = parse_air_flow(&text) {
        assert!(flow.is_finite(), "{flow}");
    }
    let (name, unit) = split_title(&text);
    assert!(name.len() + unit.map_or(0, str::len) <= text.len());
    if let Some((_, rest)) = parse_number(&text) {
        assert!(rest.len() < text.len());
    }
}

fn unit_seeds() -> Vec<Vec<u8>> {
    let mut seeds: Vec<String> = QuantityKind::ALL
        .iter()
        .flat_map(|kind| kind.units())
        .flat_map(|unit| std::iter::once(unit.symbol).chain(unit.aliases.iter().copied()))
        .map(|symbol| format!("-1_234.5e-3 {symbol}"))
        .collect();
    seeds.extend(
        ["floor_area [ft2]", "supply_dew_point [degF]", "20 scfm", "20 acfm", "55"].map(String::from),
    );
    seeds.into_iter().map(String::into_bytes).collect()
}

/// The "with numbers" text of a calculation line.
fn numbers(bytes: &[u8]) {
    // A wrong text is an error; a right one has a value, which may be infinite, as that of 1/0 is.
    let _ = check::evaluate(&text(bytes));
}

fn number_seeds() -> Vec<Vec<u8>> {
    [
        "64.364 gr/lb - 200 Btu/h / (90 lb/h * 1094.3 Btu/lb)",
        "max(3, 2 * 2) ^ -1.5",
        "sum(1 cfm, 2 cfm, 3 cfm) * 18 delta degF",
        "exp(ln(2)) + sqrt(abs(-4)) / min(1, 2)",
    ]
    .map(|text| text.as_bytes().to_vec())
    .into()
}

/// Weather files of every format.
fn weather(bytes: &[u8]) {
    let detected = weather::detect(bytes);
    match weather::read_weather("site.csv", bytes, None) {
        Ok(_) => assert!(detected.is_some(), "a file of no known format was read"),
        Err(findings) => assert!(findings.iter().any(Finding::is_bad_input), "refused without an error"),
    }
}

/// The heads of the example files: whole ones would make a run a hundred times slower.
fn weather_seeds() -> Vec<Vec<u8>> {
    let mut seeds = Vec::new();
    for path in files(&repository().join("examples/weather")) {
        if let Ok(bytes) = fs::read(&path) {
            for lines in [3, 60] {
                seeds.push(bytes.split_inclusive(|b| *b == b'\n').take(lines).collect::<Vec<_>>().concat());
            }
        }
    }
    seeds.extend(kept_inputs("weather").into_iter().map(|(_, bytes)| bytes));
    seeds
}

/// Inputs that once failed or that reach deep, by file name; the tests replay them.
pub fn kept_inputs(target: &str) -> Vec<(PathBuf, Vec<u8>)> {
    files(&repository().join("fuzz/seeds").join(target))
        .into_iter()
        .filter_map(|path| fs::read(&path).ok().map(|bytes| (path, bytes)))
        .collect()
}

fn repository() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR")).parent().expect("the crate lies in the repository")
}

fn files(folder: &Path) -> Vec<PathBuf> {
    let Ok(entries) = fs::read_dir(folder) else { return Vec::new() };
    let mut files: Vec<PathBuf> =
        entries.filter_map(Result::ok).map(|e| e.path()).filter(|p| p.is_file()).collect();
    files.sort();
    files
}
