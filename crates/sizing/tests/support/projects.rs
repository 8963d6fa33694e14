//! Projects for the tests: written as text, read by the readers, sized on one thread.

#![allow(dead_code)]

use drycoil_climate::WeatherYear;
use drycoil_intake::project::{StationFacts, read_project};
use drycoil_intake::weather::read_weather;
use drycoil_intake::{FileSet, MemoryFiles, job};
use drycoil_project::Project;
use drycoil_sizing::{Design, RoomNeeds, SizingError};
use std::path::Path;
use std::sync::OnceLock;

/// A pool of so many threads.
pub fn pool(threads: usize) -> rayon::ThreadPool {
    rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap()
}

fn example(name: &str) -> std::path::PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../../examples").join(name)
}

/// The weather year of the demo, read once.
pub fn greensboro() -> &'static WeatherYear {
    static YEAR: OnceLock<WeatherYear> = OnceLock::new();
    YEAR.get_or_init(|| {
        let path = example("weather/greensboro-nc-tmy3.csv");
        let bytes = std::fs::read(&path).expect("the weather of the examples");
        read_weather("greensboro-nc-tmy3.csv", &bytes, None).expect("a year").0
    })
}

/// A folder of the examples with its weather.
pub fn read_example(name: &str) -> job::Job {
    let mut files = MemoryFiles::new();
    for entry in std::fs::read_dir(example(name)).expect("the example is there") {
        let path = entry.unwrap().path();
        // A folder of results may lie beside the inputs.
        if !path.is_file() {
            continue;
        }
        let file = path.file_name().unwrap().to_string_lossy().into_owned();
        files = files.with(&file, std::fs::read(&path).unwrap());
    }
    let text = String::from_utf8(files.bytes("project.toml").unwrap().unwrap().to_vec()).unwrap();
    let weather =
        text.lines().find_map(|l| l.strip_prefix("weather = ")).unwrap().trim_matches('"').to_owned();
    let year = std::fs::read(example(name).join(&weather)).expect("the weather of the example");
    job::read(&files.with(&weather, year)).unwrap_or_else(|f| panic!("{f:#?}"))
}

/// The three files of a project.
#[derive(Debug, Clone)]
pub struct Text {
    pub toml: String,
    pub rooms: String,
    pub surfaces: String,
}

/// A project at sea level; `toml` follows the tables that every project needs.
pub fn text(toml: &str, rooms: &str, surfaces: &str) -> Text {
    let head = "[project]\nformat = 1\nname = \"Test\"\nunits = \"ip\"\n\n[site]\nweather = \"year.csv\"\nelevation = \"0 ft\"\n\n\
                [constructions.wall]\nlayers = [\n\
                { name = \"brick\", thickness = \"4 in\", conductivity = \"0.75 Btu/h ft degF\", density = \"120 lb/ft3\", \
                specific_heat = \"0.19 Btu/lb degF\" },\n\
                { name = \"insulation\", resistance = \"12 h ft2 degF/Btu\" },\n]\n\n\
                [glazings.double]\nu_value = \"0.42 Btu/h ft2 degF\"\nsolar_heat_gain = \"38 %\"\n\n";
    Text { toml: format!("{head}{toml}"), rooms: rooms.to_owned(), surfaces: surfaces.to_owned() }
}

/// The project of a text.
pub fn project(text: &Text) -> Project {
    let mut files = MemoryFiles::new().with("project.toml", &text.toml).with("rooms.csv", &text.rooms);
    if !text.surfaces.is_empty() {
        files = files.with("surfaces.csv", &text.surfaces);
    }
    let station = greensboro().station();
    let facts = StationFacts { name: station.name.clone(), elevation: station.elevation };
    read_project(&files, Some(facts)).unwrap_or_else(|f| panic!("{f:#?}\n{text:#?}")).project
}

/// Sizes a text.
pub fn try_size(text: &Text) -> Result<Design, SizingError> {
    drycoil_sizing::size(&project(text), greensboro(), &pool(1))
}

/// Sizes a text that has a design.
pub fn size(text: &Text) -> Design {
    try_size(text).unwrap_or_else(|e| panic!("{e:#?}"))
}

/// The needs of a room.
pub fn need<'a>(design: &'a Design, room: &str) -> &'a RoomNeeds {
    design.needs.iter().find(|n| n.room == room).unwrap_or_else(|| panic!("no room {room}"))
}

pub fn f(celsius: f64) -> f64 {
    celsius * 1.8 + 32.0
}

pub fn c(fahrenheit: f64) -> f64 {
    (fahrenheit - 32.0) / 1.8
}

/// Standard cfm of a flow in m3/s.
pub fn cfm(m3_per_s: f64) -> f64 {
    m3_per_s / (0.3048_f64.powi(3) / 60.0)
}

/// Whether two numbers agree to this share of the larger.
pub fn close(a: f64, b: f64, share: f64) -> bool {
    (a - b).abs() <= share * a.abs().max(b.abs()) + 1e-300
}
