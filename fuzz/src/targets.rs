//! One target per reader.

use drycoil_control::excursion::case::{CaseDay, CaseError};
use drycoil_control::excursion::read::{Places, read_cases_at};
use drycoil_findings::Finding;
use drycoil_intake::project::read_project;
use drycoil_intake::{MemoryFiles, weather};
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
    Target { name: "project", run: project_toml, seeds: project_seeds },
    Target { name: "catalogue", run: catalogue, seeds: catalogue_seeds },
    Target { name: "rooms", run: rooms_csv, seeds: rooms_seeds },
    Target { name: "surfaces", run: surfaces_csv, seeds: surfaces_seeds },
    Target { name: "profiles", run: profiles_csv, seeds: profiles_seeds },
    Target { name: "workbook", run: workbook, seeds: workbook_seeds },
    Target { name: "cases", run: cases, seeds: case_seeds },
    Target { name: "sequence", run: sequence, seeds: sequence_seeds },
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

const SMALL_PROJECT: &str = "[project]\nformat = 1\nname = \"Small\"\n[site]\nweather = \"year.csv\"\n[constructions.brick-wall]\n\
layers = [{ name = \"brick\", resistance = \"1 m2K/W\" }]\n";
const SMALL_ROOMS: &str =
    "id,floor,kind,floor_area [ft2],people\n101,1,office-enclosed,160,1\n102,1,meeting,320,12\n";

/// Reads a small project in which one file is replaced.
fn read(name: &str, bytes: &[u8]) {
    let files = MemoryFiles::new()
        .with("project.toml", SMALL_PROJECT)
        .with("rooms.csv", SMALL_ROOMS)
        .with(name, bytes);
    let files = if name == "rooms.xlsx" { files.without("rooms.csv") } else { files };
    match read_project(&files, None) {
        Ok(loaded) => {
            assert!(!loaded.notes.iter().any(Finding::is_bad_input), "read with an error");
            for room in &loaded.project.rooms {
                // What was read is finite and belongs to a kind and a profile.
                assert!(
                    room.floor_area.value.to_square_metres().is_finite() && room.people.value.is_finite()
                );
                let _ = (loaded.project.kind_of(room), loaded.project.profile_of(room));
            }
        }
        Err(findings) => assert!(findings.iter().any(Finding::is_bad_input), "refused without an error"),
    }
}

/// Cases of one's own for the excursion, in a building of three rooms.
fn cases(bytes: &[u8]) {
    let places = Places {
        rooms: ["101", "102", "103"].map(String::from).into(),
        zones: ["102", "103"].map(String::from).into(),
        // A year whose days are all there but for the leap day.
        has_day: &|case| match case.day {
            CaseDay::Date { month: 2, day: 29.. } => Err(CaseError::Day("no such day".to_owned())),
            _ => Ok(()),
        },
    };
    match read_cases_at("cases.toml", bytes, &places) {
        Ok(file) => {
            for case in &file.cases {
                case.check(places.rooms.len(), places.zones.len()).expect("a case that was read can be run");
            }
        }
        Err(findings) => assert!(!findings.is_empty(), "refused without a reason"),
    }
}

fn case_seeds() -> Vec<Vec<u8>> {
    let page = fs::read_to_string(repository().join("docs/EXCURSION_FORMAT.md")).unwrap_or_default();
    let mut seeds: Vec<Vec<u8>> =
        page.split("```toml\n").skip(1).filter_map(|t| t.split("```").next()).map(Into::into).collect();
    for (what, keys) in [
        ("people", "room = \"102\"\npeople = 5"),
        ("moisture", "room = \"102\"\nwater = \"2 kg/h\""),
        ("valve-stuck", "zone = \"102\"\nposition = \"40 %\""),
        ("zone-sensor", "zone = \"103\"\nfault = \"drift\"\ndrift = \"-1 K\""),
        ("power-off", ""),
    ] {
        seeds.push(
            format!("[[case]]\nname = \"a\"\nday = \"07-21\"\n[[case.upset]]\nwhat = \"{what}\"\n{keys}\nfrom = \"10:00\"\nto = \"11:00\"\n")
                .into_bytes(),
        );
    }
    seeds.extend(kept_inputs("cases").into_iter().map(|(_, bytes)| bytes));
    seeds
}

/// Keys of the sequence, behind a project that is otherwise sound.
fn sequence(bytes: &[u8]) {
    let mut file = fs::read(repository().join("examples/one-room/project.toml")).unwrap_or_default();
    file.extend_from_slice(b"\n[sequence]\n");
    file.extend_from_slice(bytes);
    project_toml(&file);
}

fn sequence_seeds() -> Vec<Vec<u8>> {
    let mut seeds: Vec<Vec<u8>> = [
        "order = \"water-first\"\nnotice_delay = \"2 min\"\nmore_air_flow = \"120 %\"\n",
        "shut_margin = \"0.5 K\"\nignored_votes = 2\nprimary_start_delay = \"20 min\"\n",
        "sensors = \"listed\"\nzones = [ { zone = \"102\", sensor = \"own\", votes = 0, neighbours = [\"103\"] } ]\n",
        "sensor_low = \"-20 degC\"\nwater_rise = \"8 degF\"\nprimary_wet_limit = \"51 degF\"\n",
    ]
    .map(|text| text.as_bytes().to_vec())
    .into();
    seeds.extend(kept_inputs("sequence").into_iter().map(|(_, bytes)| bytes));
    seeds
}

fn project_toml(bytes: &[u8]) {
    read("project.toml", bytes);
}

fn catalogue(bytes: &[u8]) {
    read("catalogue.toml", bytes);
}

fn rooms_csv(bytes: &[u8]) {
    read("rooms.csv", bytes);
}

fn surfaces_csv(bytes: &[u8]) {
    read("surfaces.csv", bytes);
}

fn profiles_csv(bytes: &[u8]) {
    read("profiles.csv", bytes);
}

fn workbook(bytes: &[u8]) {
    read("rooms.xlsx", bytes);
}

/// The file of this name in every broken example, and the inputs that were kept.
fn example_files(target: &str, name: &str) -> Vec<Vec<u8>> {
    let mut folders: Vec<PathBuf> = fs::read_dir(repository().join("examples/bad"))
        .map(|entries| entries.filter_map(Result::ok).map(|e| e.path()).collect())
        .unwrap_or_default();
    folders.sort();
    let mut seeds: Vec<Vec<u8>> =
        folders.iter().filter_map(|folder| fs::read(folder.join(name)).ok()).collect();
    seeds.sort();
    seeds.dedup();
    seeds.extend(kept_inputs(target).into_iter().map(|(_, bytes)| bytes));
    seeds
}

fn project_seeds() -> Vec<Vec<u8>> {
    example_files("project", "project.toml")
}

fn catalogue_seeds() -> Vec<Vec<u8>> {
    example_files("catalogue", "catalogue.toml")
}

fn rooms_seeds() -> Vec<Vec<u8>> {
    example_files("rooms", "rooms.csv")
}

fn surfaces_seeds() -> Vec<Vec<u8>> {
    example_files("surfaces", "surfaces.csv")
}

fn profiles_seeds() -> Vec<Vec<u8>> {
    example_files("profiles", "profiles.csv")
}

fn workbook_seeds() -> Vec<Vec<u8>> {
    example_files("workbook", "rooms.xlsx")
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
