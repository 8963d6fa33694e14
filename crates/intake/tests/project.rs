//! The project folder, from bytes to a checked project.

use drycoil_findings::Finding;
use drycoil_intake::project::{
    StationFacts, built_in_catalogue, built_in_kinds, built_in_profiles, read_project,
};
use drycoil_intake::{FileSet, MemoryFiles};
use drycoil_project::TerminalChoice;
use drycoil_units::{Length, StandardAirFlow};

/// The smallest project: everything else has a default.
const MINIMAL: &str = r#"
[project]
format = 1
name = "One room"

[site]
weather = "year.csv"
"#;

const ONE_ROOM: &str = "id,floor,kind,floor_area [ft2]\n101,1,meeting,400\n";

fn minimal() -> MemoryFiles {
    MemoryFiles::new().with("project.toml", MINIMAL).with("rooms.csv", ONE_ROOM)
}

fn findings(files: &dyn FileSet) -> Vec<Finding> {
    match read_project(files, None) {
        Ok(loaded) => loaded.notes,
        Err(findings) => findings,
    }
}

fn ids(files: &dyn FileSet) -> Vec<&'static str> {
    findings(files).iter().map(Finding::id).collect()
}

#[test]
fn the_smallest_project_is_read() {
    let loaded = read_project(&minimal(), None).unwrap();
    let project = &loaded.project;
    assert_eq!(loaded.weather_file, "year.csv");
    assert_eq!(project.rooms.len(), 1);
    let room = &project.rooms[0];
    // 20 cfm/person: common practice, no source. 250/200 and 245/155 Btu/h: ASHRAE Fundamentals, from memory.
    assert!((room.outdoor_air_per_person.to_cfm() - 20.0).abs() < 1e-9);
    assert!((room.latent_per_person.to_btu_per_hour() - 155.0).abs() < 1e-9);
    assert!((room.people.value - 20.0).abs() < 1e-9);
    assert!((room.cooling_set_point.to_fahrenheit() - 75.0).abs() < 1e-9);
    assert_eq!(room.terminal.value, TerminalChoice::Auto);
    assert!(project.criteria.pins.supply_dew_point.is_none());
    assert!((project.criteria.required_margin().to_fahrenheit() - 3.0).abs() < 1e-9);
    assert!(loaded.defaults.iter().any(|d| d.key == "primary_air.drying_water" && d.text == "42 degF"));
    assert_eq!(loaded.notes.iter().map(Finding::id).collect::<Vec<_>>(), ["RM-034"]);
}

#[test]
fn built_in_tables_are_whole() {
    let kinds = built_in_kinds();
    assert!(kinds.len() >= 40);
    let profiles = built_in_profiles();
    for kind in &kinds {
        assert!(profiles.iter().any(|p| p.name == kind.profile), "{}", kind.id);
        if let Some(v) = &kind.ventilation {
            assert!(v.edition.contains("62.1"), "{}", kind.id);
        }
    }
    let catalogue = built_in_catalogue();
    assert_eq!(catalogue.models.len(), 8);
    assert!(catalogue.models.windows(2).all(|w| w[0].primary_max.to_cfm() < w[1].primary_max.to_cfm()));
}

#[test]
fn val_ventilation_rates_per_person() {
    // ANSI/ASHRAE 62.1 Table 6-1, combined rate Rp + 1000 Ra / density, cfm/person (from memory, rounded to 0.1).
    for (id, combined) in [
        ("office-open", 17.0),
        ("reception", 7.0),
        ("lobby", 11.0),
        ("meeting", 6.2),
        ("break-room", 7.4),
        ("classroom-5-8", 14.8),
        ("classroom", 13.4),
        ("training", 8.4),
        ("lecture-hall", 7.9),
        ("library", 17.0),
        ("courtroom", 5.9),
        ("auditorium", 5.4),
        ("museum", 9.0),
        ("retail", 15.5),
        ("dining", 10.1),
        ("canteen-kitchen", 13.5),
        ("gym", 45.7),
        ("aerobics", 21.5),
        ("fitness", 26.0),
        ("assembly", 5.5),
        ("bedroom", 11.0),
        ("dormitory", 8.0),
        ("storage", 35.0),
        ("pharmacy", 23.0),
    ] {
        let kinds = built_in_kinds();
        let kind = kinds.iter().find(|k| k.id == id).unwrap_or_else(|| panic!("{id}"));
        let v = kind.ventilation.as_ref().unwrap();
        let per_area = v.per_area.to_cfm_per_ft2();
        let density_per_ft2 = kind.people_per_m2.value * 0.3048 * 0.3048;
        let all = v.per_person.to_cfm() + per_area / density_per_ft2;
        assert!((all - combined).abs() < 0.06, "{id}: {all}");
    }
}

#[test]
fn val_actual_flow_needs_the_elevation() {
    let toml = MINIMAL.to_owned() + "[primary_air]\noutdoor_air_per_person = \"20 acfm\"\n";
    let files = minimal().with("project.toml", &toml);
    assert_eq!(ids(&files), ["PF-022", "RM-034"]);
    // ASHRAE Fundamentals 2017 ch. 1 Table 1: 12.228 psia at 5000 ft.
    let station = StationFacts { name: "High place".into(), elevation: Length::feet(5000.0) };
    let loaded = read_project(&files, Some(station)).unwrap();
    let flow = loaded.project.rooms[0].outdoor_air_per_person.value;
    assert!((flow.to_cfm() - 20.0 * 12.228 / 14.696).abs() < 0.01, "{}", flow.to_cfm());
    assert_eq!(loaded.project.site.place.value, "High place");
    let toml = MINIMAL.to_owned() + "elevation = \"5000 ft\"\n[primary_air]\nflow_basis = \"actual\"\n";
    let rooms =
        "id,floor,kind,floor_area [ft2],outdoor_air_per_person [cfm],exhaust [scfm]\n1,1,meeting,400,20,30\n";
    let loaded = read_project(&minimal().with("project.toml", &toml).with("rooms.csv", rooms), None).unwrap();
    let room = &loaded.project.rooms[0];
    assert!((room.outdoor_air_per_person.to_cfm() - 16.64).abs() < 0.01);
    assert!((room.exhaust.to_cfm() - 30.0).abs() < 1e-9);
    // The default of 20 cfm is a standard flow.
    assert!((loaded.project.primary_air.outdoor_air_per_person.to_cfm() - 20.0).abs() < 1e-9);
    assert_eq!(StandardAirFlow::cfm(20.0), loaded.project.primary_air.outdoor_air_per_person.value);
}

#[test]
fn all_problems_come_in_one_pass() {
    let toml = r#"
[project]
format = 1
nam = "Slip"
[site]
weather = "year.csv"
elevation = 300
[criteria]
sensor_error = "1 degree"
night_cooling = "300 degF"
[primary_air]
recovery = "enthalpy wheel"
[plant]
chillers = "two"
"#;
    let rooms = "id;floor;kind;floor_area [m2];lightning [W/m2]\nA1;1;meetng;40;3\nA1;1;meeting;-4;3\n";
    let files = MemoryFiles::new().with("project.toml", toml).with("rooms.csv", rooms);
    let found = findings(&files);
    let got: Vec<(&str, Option<u32>)> = found.iter().map(|f| (f.id(), f.places[0].line)).collect();
    assert_eq!(
        got,
        [
            ("PF-002", Some(4)),
            ("PF-003", Some(2)),
            ("PF-005", Some(7)),
            ("PF-006", Some(9)),
            ("PF-008", Some(10)),
            ("PF-009", Some(12)),
            ("PF-004", Some(14)),
            ("RM-014", Some(1)),
            ("PF-008", Some(3)),
            ("RM-034", None),
            ("RM-002", Some(2)),
            ("RM-001", Some(3)),
        ],
        "{found:#?}"
    );
    assert_eq!(found[0].hint.as_deref(), Some("did you mean `name`?"));
}

#[test]
fn titles_of_other_lists_get_the_title_that_was_meant() {
    let rooms = "id,floor,kind,Area (m2),Occ.,floor area (m2)\nA1,1,Open Office,40,3,40\n";
    let found = findings(&minimal().with("rooms.csv", rooms));
    let hints: Vec<&str> = found.iter().filter_map(|f| f.hint.as_deref()).collect();
    assert_eq!(
        hints[..3],
        ["did you mean `floor_area [m2]`?", "did you mean `people`?", "did you mean `floor_area [m2]`?",]
    );
    let rooms = "id,floor,kind,floor_area [m2]\nA1,1,Open Office,40\n";
    let found = findings(&minimal().with("rooms.csv", rooms));
    let kind = found.iter().find(|f| f.id() == "RM-002").unwrap();
    assert_eq!(kind.hint.as_deref(), Some("did you mean `office-open`?"));
}

#[test]
fn lines_above_the_titles_are_one_finding() {
    let rooms =
        "Rooms of the town hall;;;\nstate of May;;;\nid;floor;kind;floor_area [m2]\nA1;1;meeting;40\n";
    let found = findings(&minimal().with("rooms.csv", rooms));
    let list: Vec<&Finding> = found.iter().filter(|f| f.id() != "RM-034").collect();
    assert_eq!(list.len(), 1, "{found:#?}");
    assert_eq!(list[0].id(), "RM-015");
    assert!(list[0].message.contains("line 3"), "{}", list[0].message);
    assert!(list[0].hint.as_deref().is_some_and(|h| h.contains("begin them with `#`")));
    let commented = rooms.replace("Rooms of", "# Rooms of").replace("state of", "# state of");
    assert!(ids(&minimal().with("rooms.csv", commented)).iter().all(|id| *id == "RM-034"));
}

#[test]
fn the_delimiter_may_be_declared_as_a_spreadsheet_does() {
    let rooms = "sep=;\r\nid;floor;kind;floor_area [m2]\r\nA1;1;meeting;37,5\r\nA2;1;meetng;40\r\n";
    let found = findings(&minimal().with("rooms.csv", rooms));
    let got: Vec<(&str, Option<u32>)> =
        found.iter().filter(|f| f.id() != "RM-034").map(|f| (f.id(), f.places[0].line)).collect();
    assert_eq!(got, [("RM-002", Some(4))], "{found:#?}");
}

#[test]
fn a_file_beyond_the_limit_is_refused() {
    let large = vec![b' '; drycoil_intake::project::MAX_FILE_BYTES + 1];
    assert_eq!(ids(&minimal().with("rooms.csv", large)), ["PF-014", "RM-034"]);
}

#[test]
fn spreadsheets_of_any_country_are_read() {
    let text = "\u{feff}id;floor;kind;floor_area [m\u{b2}];cooling_set_point [\u{b0}C]\r\nR-1;EG;meeting;37,5;24,5\r\n;;;;\r\n";
    let loaded = read_project(&minimal().with("rooms.csv", text), None).unwrap();
    let room = &loaded.project.rooms[0];
    assert!((room.floor_area.to_square_metres() - 37.5).abs() < 1e-12);
    assert!((room.cooling_set_point.to_celsius() - 24.5).abs() < 1e-12);
    // The same as Windows-1252 without a mark.
    let bytes: Vec<u8> =
        text.trim_start_matches('\u{feff}').chars().map(|c| u8::try_from(u32::from(c)).unwrap()).collect();
    let loaded = read_project(&minimal().with("rooms.csv", bytes), None).unwrap();
    assert!((loaded.project.rooms[0].floor_area.to_square_metres() - 37.5).abs() < 1e-12);
    assert!(loaded.notes.iter().any(|f| f.id() == "PF-026"));
    // Tabs, and a unit in the cell.
    let text = "id\tfloor\tkind\tfloor_area\nR1\t1\tmeeting\t400 ft2\n";
    let loaded = read_project(&minimal().with("rooms.csv", text), None).unwrap();
    assert!((loaded.project.rooms[0].floor_area.to_square_feet() - 400.0).abs() < 1e-9);
}

#[test]
fn a_room_kind_takes_over_what_it_does_not_say() {
    let toml = MINIMAL.to_owned()
        + "[room_kinds.huddle]\nbased_on = \"meeting\"\nname = \"Huddle room\"\npeople_density = \"30 person/1000 ft2\"\n";
    let rooms = ONE_ROOM.replace("meeting", "huddle");
    let loaded = read_project(&minimal().with("project.toml", toml).with("rooms.csv", rooms), None).unwrap();
    let room = &loaded.project.rooms[0];
    assert!((room.people.value - 12.0).abs() < 1e-9);
    assert!(room.people.is_written(), "the density is written in the project");
    let kind = loaded.project.kind_of(room);
    assert!((kind.ventilation.as_ref().unwrap().per_person.to_cfm() - 5.0).abs() < 1e-9);
    assert!((room.latent_per_person.to_btu_per_hour() - 155.0).abs() < 1e-9);
}

#[test]
fn the_fingerprint_follows_every_byte() {
    let one = read_project(&minimal(), None).unwrap().project.fingerprint;
    let same = read_project(&minimal(), None).unwrap().project.fingerprint;
    assert_eq!(one, same);
    let rooms = ONE_ROOM.replace("400", "401");
    assert_ne!(one, read_project(&minimal().with("rooms.csv", rooms), None).unwrap().project.fingerprint);
    // The weather is input too.
    assert_ne!(one, read_project(&minimal().with("year.csv", "x"), None).unwrap().project.fingerprint);
}

#[test]
fn line_ends_and_backslashes_of_another_system_are_read() {
    let toml = MINIMAL.replace("\"year.csv\"", "'..\\weather\\year.csv'").replace('\n', "\r\n");
    let loaded = read_project(
        &minimal().with("project.toml", toml).with("rooms.csv", ONE_ROOM.replace('\n', "\r\n")),
        None,
    );
    assert_eq!(loaded.unwrap().weather_file, "../weather/year.csv");
}

/// What no reader of ours writes, but people have: each is one finding at its place.
#[test]
fn odd_texts_are_refused_at_their_place() {
    let long = format!("id,floor,kind,floor_area [ft2]\n{},1,meeting,400\n", "a".repeat(40_000));
    let old_line_ends = ONE_ROOM.replace('\n', "\r");
    for (rooms, id, place, told) in [
        (long.as_str(), "PF-008", "rooms.csv:2, row 1, `id`", "up to 1000 characters"),
        (old_line_ends.as_str(), "PF-013", "rooms.csv:1:1", "line ends of Windows"),
        (
            "id;floor;kind;floor_area [m2]\n101;1;meeting;1.039,5\n",
            "PF-006",
            "rooms.csv:2, row 1",
            "decimals stand behind",
        ),
    ] {
        let list = findings(&MemoryFiles::new().with("project.toml", MINIMAL).with("rooms.csv", rooms));
        let found = list.iter().find(|f| f.id() == id).unwrap_or_else(|| panic!("{id}: {list:#?}"));
        assert!(found.places[0].to_string().starts_with(place), "{:?}", found.places);
        assert!(format!("{found:?}").contains(told), "{found:#?}");
        let errors = list.iter().filter(|f| f.severity() == drycoil_findings::Severity::Error).count();
        assert_eq!(errors, 1, "{list:#?}");
    }
}

#[test]
fn ten_thousand_rooms_are_looked_up_without_a_search() {
    use std::fmt::Write as _;
    let mut rooms = String::from("id,floor,kind,zone,floor_area [ft2],people,exhaust [cfm]\n");
    let mut surfaces = String::from("room,kind,construction,area [ft2],facing\n");
    for i in 0..10_000 {
        writeln!(rooms, "R{i},{},office-enclosed,Z{i},160,1,5", i / 100).unwrap();
        writeln!(surfaces, "R{i},wall,brick,90,S").unwrap();
    }
    let toml = MINIMAL.to_owned()
        + "[constructions.brick]\nlayers = [{ name = \"brick\", resistance = \"1 m2K/W\" }]\n";
    let files = minimal().with("project.toml", toml).with("rooms.csv", rooms).with("surfaces.csv", surfaces);
    let start = std::time::Instant::now();
    let project = read_project(&files, None).unwrap().project;
    let read = start.elapsed();
    assert_eq!(project.rooms.iter().map(|r| project.surfaces_of(r).count()).sum::<usize>(), 10_000);
    // Ten times the time of a release build, so that only a search of the whole list in each room is caught.
    assert!(read.as_secs_f64() < 5.0, "{read:?}");
}
