//! From files to a project.

use super::flows::Flows;
use super::section::{DefaultUsed, Log, Section, child, named, parse};
use super::spec::Problem;
use super::tables::RoomDefaults;
use super::text::{Encoding, Text, decode};
use super::{FILES, catalogue, economics, keys, kinds, sequence, sheet, table, tables, year};
use crate::files::{FileSet, Fingerprint};
use drycoil_findings::{
    Finding, Place, Waiver, did_you_mean, registry::project as pf, registry::rooms as rm,
};
use drycoil_project::{
    AllAirInput, Arrangement, CoilAir, Construction, ConstructionLayer, Criteria, DewPointPins, DuctInput,
    Economics, EnteredClimate, FORMAT, Glazing, HeatingKind, HeatingSource, Parts, PlantInput,
    PrimaryAirInput, Project, RecoveryKind, ReheatKind, SequenceInput, Site, Surface, TerminalInput,
    UseProfile, WaiverRule, WaterInput, YearInput,
};
use drycoil_units::{AirFlowBasis, Angle, Length, STANDARD_PRESSURE_PA, Time, UnitSystem};
use drycoil_working::{Origin, Sourced};
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;
use std::thread::{Scope, ScopedJoinHandle};
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// What a project needs to know of its weather station before its flows can be read.
#[derive(Debug, Clone, PartialEq)]
pub struct StationFacts {
    /// Name of the place.
    pub name: String,
    /// Height above sea level.
    pub elevation: Length,
}

/// What the weather reader needs to know of the project.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct WeatherRequest {
    /// Weather file as the project names it, with `/` between folders.
    pub file: String,
    /// Where the name is written.
    pub place: Place,
    /// Latitude, when the project states it.
    pub latitude: Option<Angle>,
    /// Longitude, when the project states it.
    pub longitude: Option<Angle>,
    /// Elevation, when the project states it.
    pub elevation: Option<Length>,
    /// Standard time minus UTC, when the project states it.
    pub utc_offset: Option<Time>,
    /// Longest gap that may be filled; zero when none.
    pub fill_gaps_up_to: Time,
}

/// A project that was read, and what there is to say about the reading.
#[derive(Debug, Clone)]
pub struct Loaded {
    /// The project.
    pub project: Project,
    /// Notes and warnings that do not stop the job.
    pub notes: Vec<Finding>,
    /// Weather file as the project names it, with `/` between folders.
    pub weather_file: String,
    /// Files that were read, with their sizes in bytes.
    pub read: Vec<(String, usize)>,
    /// Defaults that applied.
    pub defaults: Vec<DefaultUsed>,
}

/// What the weather reader needs of a parsed project file: the name of the weather file and the station values of the
/// project. `Err` when its `[site]` cannot be used; the project reader reports the same and more.
fn request_of(text: &Text, root: &DeTable<'_>) -> Result<WeatherRequest, Vec<Finding>> {
    let mut log = Log::default();
    let site = child(&mut log, text, Some(root), "site");
    let request = {
        let mut s = Section::new(&mut log, text, site, "site", keys::SITE.keys, &["conditions"]);
        WeatherRequest {
            file: portable(&s.text("weather").value),
            place: s.place("weather"),
            latitude: s.quantity_if("latitude").map(|v| v.value),
            longitude: s.quantity_if("longitude").map(|v| v.value),
            elevation: s.quantity_if("elevation").map(|v| v.value),
            utc_offset: s.quantity_if("utc_offset").map(|v| v.value),
            fill_gaps_up_to: s.quantity("fill_gaps_up_to").value,
        }
    };
    if log.findings.iter().any(Finding::is_bad_input) { Err(log.findings) } else { Ok(request) }
}

/// Backslashes of another system's paths become `/`.
fn portable(path: &str) -> String {
    path.replace('\\', "/")
}

/// The bytes of a needed file, or a finding.
fn open(files: &dyn FileSet, name: &str, log: &mut Log) -> Option<Arc<[u8]>> {
    let mut finding = match files.bytes(name) {
        Ok(Some(bytes)) => return Some(bytes),
        Ok(None) => Finding::new(pf::MISSING_FILE, format!("there is no `{name}` in the project folder")),
        Err(error) => Finding::new(pf::MISSING_FILE, format!("`{name}` cannot be read: {error}")),
    };
    finding = finding.at(Place::file(name));
    let list = files.list();
    let near = list.iter().map(String::as_str).filter(|n| !FILES.contains(n));
    if let Some(near) = did_you_mean(name, near) {
        finding = finding.hint(format!("the folder holds `{near}`; did you mean that file?"));
    } else if name == "project.toml" {
        finding = finding.hint("`drycoil new DIR` begins a project");
    }
    log.findings.push(finding);
    None
}

/// A file that may be absent.
fn open_if(files: &dyn FileSet, name: &str, log: &mut Log) -> Option<Arc<[u8]>> {
    match files.bytes(name) {
        Ok(None) => None,
        Ok(Some(bytes)) => Some(bytes),
        Err(_) => open(files, name, log),
    }
}

/// Reads a whole project. `station` is what the weather file says of its place; without it, flows written as actual
/// volume need the elevation or pressure in the project.
///
/// # Errors
/// Everything that is wrong with the input, each finding with its places; notes are among them.
pub fn read_project(files: &dyn FileSet, station: Option<StationFacts>) -> Result<Loaded, Vec<Finding>> {
    read_project_with(files, |_| station)
}

/// As [`read_project`]; what the weather file says of its place is asked for as soon as the project names that file, so
/// that the project file is parsed once. A project file that does not say which weather it takes asks with `None`.
///
/// The tables that need nothing of the project file are read beside it. What is noticed there is told in the order of the
/// files all the same.
pub(crate) fn read_project_with(
    files: &dyn FileSet,
    station: impl FnOnce(Option<WeatherRequest>) -> Option<StationFacts>,
) -> Result<Loaded, Vec<Finding>> {
    std::thread::scope(|scope| {
        let profiles = TableAhead::begin(scope, files, "profiles.csv", tables::profiles);
        let surfaces = TableAhead::begin(scope, files, "surfaces.csv", tables::surfaces);
        assemble(files, station, profiles, surfaces)
    })
}

fn assemble(
    files: &dyn FileSet,
    station: impl FnOnce(Option<WeatherRequest>) -> Option<StationFacts>,
    profiles_ahead: TableAhead<'_, Vec<UseProfile>>,
    surfaces_ahead: TableAhead<'_, Vec<Surface>>,
) -> Result<Loaded, Vec<Finding>> {
    let mut log = Log::default();
    let mut read: Vec<(String, usize)> = Vec::new();
    let mut fingerprint = Fingerprint::default();
    let mut keep = |name: &str, bytes: &[u8]| {
        fingerprint.add(name, bytes);
        read.push((name.to_owned(), bytes.len()));
    };

    // project.toml
    let toml = open(files, "project.toml", &mut log).inspect(|b| keep("project.toml", b));
    let toml = toml.and_then(|b| decode("project.toml", &b, Encoding::Utf8, &mut log.findings));
    let text = toml.unwrap_or_else(|| Text::new("project.toml", String::new()));
    let unreadable = !log.findings.is_empty();
    let root = parse(&text, &mut log);
    let broken = unreadable || root.is_none();
    let request = root.as_ref().and_then(|root| request_of(&text, root.get_ref()).ok());
    let station = station(request);
    let empty = DeTable::new();
    // When the file is broken its tables are unknown, so nothing is said about them.
    let mut silent = Log::default();
    let head = {
        let log = if broken { &mut silent } else { &mut log };
        if let Some(root) = &root {
            check_format(log, &text, root.get_ref());
        }
        if !broken && log.findings.iter().any(|f| f.kind.id == pf::NEWER_FORMAT.id) {
            return Err(std::mem::take(&mut log.findings));
        }
        read_head(log, &text, root.as_ref().map_or(&empty, Spanned::get_ref), station.as_ref())
    };

    // catalogue.toml
    let mut own_models = Vec::new();
    if let Some(bytes) = open_if(files, "catalogue.toml", &mut log) {
        keep("catalogue.toml", &bytes);
        if let Some(text) = decode("catalogue.toml", &bytes, Encoding::Utf8, &mut log.findings)
            && let Some(root) = parse(&text, &mut log)
        {
            let _ = Section::new(&mut log, &text, Some((root.get_ref(), 0..0)), "", &[], &["models"]);
            // A catalogue states standard air unless a flow says otherwise.
            let flows = Flows { basis: AirFlowBasis::Standard, ..head.flows };
            own_models = catalogue::read_all(&mut log, &text, Some(root.get_ref()), flows);
        }
    }
    let catalogue = catalogue::with_built_in(own_models, catalogue::built_in_catalogue());

    // profiles.csv
    let mut profiles = super::built_in_profiles();
    if let Some(own) = profiles_ahead.finish(files, &mut log, &mut keep) {
        let mut known: BTreeMap<String, usize> =
            profiles.iter().enumerate().map(|(i, p)| (p.name.clone(), i)).collect();
        for profile in own {
            let i = *known.entry(profile.name.clone()).or_insert(profiles.len());
            match profiles.get_mut(i) {
                Some(slot) => *slot = profile,
                None => profiles.push(profile),
            }
        }
    }
    if !broken {
        kinds_use_known_profiles(&head.kinds, &profiles, &mut log);
    }

    // Room list.
    let csv = matches!(files.bytes("rooms.csv"), Ok(Some(_)) | Err(_));
    let xlsx = open_if(files, "rooms.xlsx", &mut log);
    let grid = match (csv, xlsx) {
        (true, Some(_)) => {
            log.findings.push(
                Finding::new(rm::TWO_ROOM_LISTS, "the folder holds `rooms.csv` and `rooms.xlsx`")
                    .at(Place::file("rooms.csv"))
                    .at(Place::file("rooms.xlsx"))
                    .hint("move one of the two out of the folder"),
            );
            None
        }
        (false, Some(bytes)) => {
            keep("rooms.xlsx", &bytes);
            sheet::grid_of("rooms.xlsx", &bytes, &mut log)
        }
        (_, None) => {
            if csv {
                table_file(files, "rooms.csv", &mut log, &mut keep)
            } else {
                open(files, "rooms.csv", &mut log);
                None
            }
        }
    };
    let defaults = RoomDefaults {
        kinds: &head.kinds,
        height: head.height.clone(),
        cooling_set_point: head.cooling_set_point.clone(),
        heating_set_point: head.heating_set_point.clone(),
        outdoor_air_per_person: head.primary_air.outdoor_air_per_person.clone(),
        moisture_capacity: head.criteria.moisture_capacity.clone(),
        primary_air_control: head.year.primary_air_control.clone(),
        flows: head.flows,
    };
    let rooms = grid.map_or_else(Vec::new, |grid| tables::rooms(grid, &defaults, &mut log));

    let rooms_readable = !rooms.is_empty();

    // surfaces.csv
    let surfaces = if let Some(surfaces) = surfaces_ahead.finish(files, &mut log, &mut keep) {
        surfaces
    } else {
        if matches!(files.bytes("surfaces.csv"), Ok(None)) {
            log.findings.push(
                Finding::new(rm::NO_SURFACES, "there is no `surfaces.csv`: every room is an inside room")
                    .at(Place::file("surfaces.csv")),
            );
        }
        Vec::new()
    };

    // A file whose name is nearly one that is read.
    let weather_file = portable(&head.site.weather.value);
    for name in files.list() {
        if FILES.contains(&name.as_str()) || name == weather_file {
            continue;
        }
        if let Some(near) = did_you_mean(&name, FILES)
            && !read.iter().any(|(n, _)| n == near)
            && !log
                .findings
                .iter()
                .any(|f| f.kind.id == pf::MISSING_FILE.id && f.places[0].file.as_deref() == Some(near))
        {
            log.findings.push(
                Finding::new(pf::UNREAD_FILE, format!("`{name}` is not read"))
                    .at(Place::file(name.clone()))
                    .hint(format!("did you mean `{near}`?")),
            );
        }
    }
    // The weather is input too. What is wrong with it is the weather reader's to say.
    if let Ok(Some(bytes)) = files.bytes(&weather_file) {
        fingerprint.add("weather", &bytes);
    }

    let bad_before = log.findings.iter().any(Finding::is_bad_input);
    let parts = Parts {
        name: head.name,
        revision: head.revision,
        units: head.units,
        site: head.site,
        criteria: head.criteria,
        primary_air: head.primary_air,
        terminals: head.terminals,
        water: head.water,
        plant: head.plant,
        ducts: head.ducts,
        sequence: head.sequence,
        year: head.year,
        all_air: head.all_air,
        economics: head.economics,
        constructions: head.constructions,
        glazings: head.glazings,
        kinds: head.kinds,
        profiles,
        rooms,
        surfaces,
        catalogue,
        waivers: head.waivers,
        fingerprint: fingerprint.value(),
    };
    match Project::new(parts) {
        Ok(project) if !bad_before => {
            let mut notes = log.findings;
            notes.extend(project.notes());
            Ok(Loaded { project, notes, weather_file, read, defaults: log.defaults })
        }
        other => {
            let between = match other {
                Ok(project) => project.notes(),
                Err(findings) => findings,
            };
            let mut findings = log.findings;
            // Checks between parts mean something only when the parts were there to be read.
            if !broken && rooms_readable {
                let told = Told::new(findings.iter().filter_map(|f| f.places.first()));
                findings.extend(between.into_iter().filter(|f| !told.has(f)));
            }
            Err(findings)
        }
    }
}

/// File, line, row and key of a place.
type Spot = (Option<String>, Option<u32>, Option<u32>, Option<String>);

/// Places about which the reader has said something already.
struct Told(BTreeSet<Spot>);

impl Told {
    fn new<'a>(places: impl Iterator<Item = &'a Place>) -> Self {
        Self(places.map(Self::spot).collect())
    }

    fn spot(p: &Place) -> Spot {
        (p.file.clone(), p.line, p.row, p.key.clone())
    }

    /// Whether a finding only follows from one of the reader: it has the same place, or it judges a construction of
    /// a surface whose kind could not be read.
    fn has(&self, finding: &Finding) -> bool {
        let Some(place) = finding.places.first() else { return false };
        let spot = Self::spot(place);
        let by_kind =
            finding.kind.id == rm::UNKNOWN_CONSTRUCTION.id || finding.kind.id == rm::UNKNOWN_GLAZING.id;
        self.0.contains(&spot) || (by_kind && self.0.contains(&(spot.0, spot.1, spot.2, Some("kind".into()))))
    }
}

/// A table that another thread reads.
struct TableAhead<'scope, T> {
    name: &'static str,
    /// The bytes; none when the table is not there.
    bytes: Option<Arc<[u8]>>,
    /// What reads them.
    thread: Option<ScopedJoinHandle<'scope, (Option<T>, Log)>>,
}

impl<'scope, T: Send + 'scope> TableAhead<'scope, T> {
    /// Begins to read the table if the file is there.
    fn begin(
        scope: &'scope Scope<'scope, '_>,
        files: &dyn FileSet,
        name: &'static str,
        read: fn(table::Grid, &mut Log) -> T,
    ) -> Self {
        let bytes = files.bytes(name).ok().flatten();
        let thread = bytes.clone().map(|bytes| {
            scope.spawn(move || {
                let mut log = Log::default();
                let grid = grid_of(name, &bytes, &mut log);
                (grid.map(|grid| read(grid, &mut log)), log)
            })
        });
        Self { name, bytes, thread }
    }

    /// What was read, with all that was noticed put at the end of the log; nothing when there is no table.
    fn finish(self, files: &dyn FileSet, log: &mut Log, keep: &mut impl FnMut(&str, &[u8])) -> Option<T> {
        let (Some(bytes), Some(thread)) = (self.bytes, self.thread) else {
            // Says why it cannot be read when it is there.
            open_if(files, self.name, log);
            return None;
        };
        keep(self.name, &bytes);
        let (table, told) = thread.join().unwrap_or_else(|panic| std::panic::resume_unwind(panic));
        log.findings.extend(told.findings);
        log.defaults.extend(told.defaults);
        table
    }
}

fn grid_of(name: &str, bytes: &[u8], log: &mut Log) -> Option<table::Grid> {
    let text = decode(name, bytes, Encoding::Utf8OrWindows1252, &mut log.findings)?;
    table::grid_of(&text, log)
}

fn table_file(
    files: &dyn FileSet,
    name: &str,
    log: &mut Log,
    keep: &mut impl FnMut(&str, &[u8]),
) -> Option<table::Grid> {
    let bytes = open_if(files, name, log)?;
    keep(name, &bytes);
    grid_of(name, &bytes, log)
}

/// The format number decides whether anything else can be read.
fn check_format(log: &mut Log, text: &Text, root: &DeTable<'_>) {
    let table = root.get("project").and_then(|p| p.get_ref().as_table());
    let Some(value) = table.and_then(|t| t.get("format")) else {
        let place = root.get("project").map_or_else(
            || text.place(0..0).key("project.format"),
            |p| text.place(p.span()).key("project.format"),
        );
        log.findings.push(
            Finding::new(pf::NO_FORMAT, "`format` is missing in `[project]`")
                .at(place)
                .allowed(FORMAT.to_string())
                .hint(format!("write `format = {FORMAT}`")),
        );
        return;
    };
    let DeValue::Integer(n) = value.get_ref() else { return };
    let Ok(number) = i64::from_str_radix(n.as_str(), n.radix()) else { return };
    let place = text.place(value.span()).key("project.format");
    if number > i64::from(FORMAT) {
        log.findings.push(
            Finding::new(pf::NEWER_FORMAT, format!("format {number} is newer than this version reads"))
                .at(place)
                .value(number.to_string())
                .allowed(FORMAT.to_string())
                .hint("use the version of the program that wrote the project, or a later one"),
        );
    } else if number < i64::from(FORMAT) {
        log.findings.push(
            Finding::new(pf::NO_FORMAT, format!("there is no format {number}"))
                .at(place)
                .value(number.to_string())
                .allowed(FORMAT.to_string())
                .hint(format!("write `format = {FORMAT}`; no earlier format was ever issued")),
        );
    }
}

fn kinds_use_known_profiles(kinds: &[drycoil_project::RoomKind], profiles: &[UseProfile], log: &mut Log) {
    for kind in kinds.iter().filter(|k| k.place.file.is_some()) {
        if kind.profile.is_empty() || profiles.iter().any(|p| p.name == kind.profile) {
            continue;
        }
        let mut finding = Finding::new(pf::UNKNOWN_NAME, format!("there is no profile `{}`", kind.profile))
            .at(kind.place.clone())
            .value(kind.profile.clone());
        if let Some(near) = did_you_mean(&kind.profile, profiles.iter().map(|p| p.name.as_str())) {
            finding = finding.hint(format!("did you mean `{near}`?"));
        }
        log.findings.push(finding);
    }
}

/// Everything of `project.toml`.
struct Head {
    name: Sourced<String>,
    revision: Sourced<String>,
    units: UnitSystem,
    site: Site,
    criteria: Criteria,
    height: Sourced<Length>,
    cooling_set_point: Sourced<drycoil_units::Temperature>,
    heating_set_point: Sourced<drycoil_units::Temperature>,
    primary_air: PrimaryAirInput,
    terminals: TerminalInput,
    water: WaterInput,
    plant: PlantInput,
    ducts: DuctInput,
    sequence: SequenceInput,
    year: YearInput,
    all_air: AllAirInput,
    economics: Economics,
    constructions: Vec<Construction>,
    glazings: Vec<Glazing>,
    kinds: Vec<drycoil_project::RoomKind>,
    waivers: Vec<WaiverRule>,
    flows: Flows,
}

fn read_head(log: &mut Log, text: &Text, root: &DeTable<'_>, station: Option<&StationFacts>) -> Head {
    const NO_KEYS: &[super::spec::KeySpec] = &[super::spec::KeySpec {
        name: "waive",
        kind: super::spec::ValueKind::Rows(keys::WAIVE.keys),
        need: super::spec::Need::Optional("nothing is waived"),
        doc: "Accepted findings.",
    }];
    let waivers = {
        let mut s = Section::new(log, text, Some((root, 0..0)), "", NO_KEYS, keys::TOP);
        s.rows("waive", keys::WAIVE.keys, |w| WaiverRule {
            id: w.text("id").value,
            part: w.text_if("part").map(|t| t.value),
            waiver: Waiver {
                reason: w.text("reason").value,
                role: w.text("role").value,
                date: w.text("date").value,
            },
            place: w.place("id"),
        })
    };
    macro_rules! open {
        ($spec:expr, $inner:expr) => {{
            let found = child(log, text, Some(root), $spec.path);
            Section::new(log, text, found, $spec.path, $spec.keys, $inner)
        }};
    }

    let (name, revision, units) = {
        let mut s = open!(keys::PROJECT, &[]);
        // `format` was looked at before everything else; here only its type counts.
        if s.raw("format").is_some() {
            let _ = s.written("format");
        }
        (s.text("name"), s.text("revision"), s.choice("units", &[UnitSystem::Si, UnitSystem::Ip]).value)
    };

    let conditions = {
        let site = child(&mut Log::default(), text, Some(root), "site");
        let found = child(log, text, site.map(|(t, _)| t), "site.conditions");
        let mut s = Section::new(log, text, found, "site.conditions", keys::CONDITIONS.keys, &[]);
        EnteredClimate {
            cooling_dry_bulb: s.quantity_if("cooling_dry_bulb"),
            cooling_wet_bulb: s.quantity_if("cooling_wet_bulb"),
            dehumidification_dew_point: s.quantity_if("dehumidification_dew_point"),
            dehumidification_dry_bulb: s.quantity_if("dehumidification_dry_bulb"),
            tower_wet_bulb: s.quantity_if("tower_wet_bulb"),
            heating_dry_bulb: s.quantity_if("heating_dry_bulb"),
            heating_humidity_ratio: s.quantity_if("heating_humidity_ratio"),
            daily_range: s.quantity_if("daily_range"),
            tau_beam: s.monthly_if("tau_beam"),
            tau_diffuse: s.monthly_if("tau_diffuse"),
        }
    };
    let site = {
        let mut s = open!(keys::SITE, &["conditions"]);
        let weather = s.text("weather").map(|w| portable(&w));
        if weather.value.starts_with('/') || weather.value.as_bytes().get(1) == Some(&b':') {
            s.refuse(
                "weather",
                Problem::new(pf::ABSOLUTE_PATH, "the weather file is named by an absolute path")
                    .value(weather.value.clone()),
            );
        }
        Site {
            place: s.text_if("place").unwrap_or_else(|| match station {
                Some(facts) => {
                    Sourced::new(facts.name.clone(), Origin::Weather("name of the weather station".into()))
                }
                None => {
                    Sourced::default_value("not stated".into(), "no place stated", "docs/PROJECT_FORMAT.md")
                }
            }),
            latitude: s.quantity_if("latitude"),
            longitude: s.quantity_if("longitude"),
            elevation: s.quantity_if("elevation"),
            pressure: s.quantity_if("pressure"),
            utc_offset: s.quantity_if("utc_offset"),
            weather,
            first_weekday: s.choice("first_weekday", &[0u8, 1, 2, 3, 4, 5, 6]),
            holidays: s.days("holidays"),
            fill_gaps_up_to: s.quantity("fill_gaps_up_to"),
            ground_reflectance: s.quantity("ground_reflectance"),
            ground_temperature: s.quantity_if("ground_temperature"),
            conditions,
        }
    };
    let pressure = site.pressure.as_ref().map(|p| p.value).or_else(|| {
        site.elevation
            .as_ref()
            .map(|e| e.value)
            .or_else(|| station.map(|s| s.elevation))
            // The limits of `elevation` lie within those of the standard atmosphere.
            .and_then(|z| drycoil_air::standard_pressure(z).ok())
    });
    let ratio = pressure.map(|p| p.to_pascals() / STANDARD_PRESSURE_PA);

    let pins = {
        let mut s = open!(keys::DEW_POINT, &[]);
        DewPointPins {
            supply_dew_point: s.quantity_if("supply"),
            room_limit: s.quantity_if("room_limit"),
            sensible_water: s.quantity_if("water"),
        }
    };
    let (criteria, height, cooling_set_point, heating_set_point) = {
        let mut s = open!(keys::CRITERIA, &[]);
        let criteria = Criteria {
            pins,
            design_margin: s.quantity("design_margin"),
            sensor_error: s.quantity("sensor_error"),
            water_control_band: s.quantity("water_control_band"),
            humidity_low: s.quantity("humidity_low"),
            humidity_high: s.quantity("humidity_high"),
            code_dew_point: s.quantity("code_dew_point"),
            infiltration: s.quantity("infiltration"),
            pressurized_infiltration: s.quantity("pressurized_infiltration"),
            pressurization: s.quantity("pressurization"),
            night_cooling: s.quantity("night_cooling"),
            night_heating: s.quantity("night_heating"),
            start_up: s.quantity("start_up"),
            moisture_capacity: s.number("moisture_capacity"),
        };
        (
            criteria,
            s.quantity("ceiling_height"),
            s.quantity("cooling_set_point"),
            s.quantity("heating_set_point"),
        )
    };

    let (primary_air, flows) = {
        let mut s = open!(keys::PRIMARY_AIR, &[]);
        let basis = s.choice("flow_basis", &[AirFlowBasis::Standard, AirFlowBasis::Actual]);
        let flows = Flows { basis: basis.value, ratio };
        let per_person = s.flow("outdoor_air_per_person");
        let largest = s.flow("largest_unit");
        // A default is a standard flow, whatever the basis of written flows.
        let convert = |s: &mut Section<'_, '_>, flow: Sourced<(f64, Option<AirFlowBasis>)>| {
            let flows =
                if flow.is_written() { flows } else { Flows { basis: AirFlowBasis::Standard, ratio } };
            flows.standard(flow, s.log)
        };
        let input = PrimaryAirInput {
            outdoor_air_per_person: convert(&mut s, per_person),
            flow_basis: basis,
            recovery: s.choice(
                "recovery",
                &[RecoveryKind::None, RecoveryKind::EnthalpyWheel, RecoveryKind::SensiblePlate],
            ),
            recovery_sensible: s.quantity("recovery_sensible"),
            recovery_latent: s.quantity("recovery_latent"),
            exhaust_transfer: s.quantity("exhaust_transfer"),
            drying_water: s.quantity("drying_water"),
            drying_water_rise: s.quantity("drying_water_rise"),
            coil_approach: s.quantity("coil_approach"),
            face_velocity: s.quantity("face_velocity"),
            supply_fan_pressure: s.quantity("supply_fan_pressure"),
            exhaust_fan_pressure: s.quantity("exhaust_fan_pressure"),
            fan_efficiency: s.quantity("fan_efficiency"),
            duct_gain: s.quantity("duct_gain"),
            duct_leakage: s.quantity("duct_leakage"),
            reheat: s.choice(
                "reheat",
                &[ReheatKind::None, ReheatKind::Coil, ReheatKind::WrapAround, ReheatKind::HeatRecovery],
            ),
            reheat_temperature: s.quantity("reheat_temperature"),
            winter_temperature: s.quantity("winter_temperature"),
            largest_unit: convert(&mut s, largest),
            spare: s.quantity("spare"),
        };
        (input, flows)
    };

    let terminals = {
        let mut s = open!(keys::TERMINALS, &[]);
        TerminalInput {
            coil_air: s.choice("coil_air", &[CoilAir::Room, CoilAir::Plenum]),
            plenum_share: s.quantity("plenum_share"),
            spare: s.quantity("spare"),
            external_pressure: s.quantity("external_pressure"),
            lowest_discharge: s.quantity("lowest_discharge"),
            highest_discharge: s.quantity("highest_discharge"),
            sound_limit: s.number("sound_limit"),
            water_rise: s.quantity("water_rise"),
            heating: s
                .choice("heating", &[HeatingKind::HotWater, HeatingKind::Electric, HeatingKind::Perimeter]),
            heating_water: s.quantity("heating_water"),
            heating_water_drop: s.quantity("heating_water_drop"),
            most_per_room: s.count("most_per_room"),
        }
    };
    let water = {
        let mut s = open!(keys::WATER, &[]);
        WaterInput {
            arrangement: s.choice("arrangement", &Arrangement::ALL),
            pipe_friction_pa_per_m: s.number("pipe_friction"),
            circuit_length: s.quantity("circuit_length"),
            fittings: s.quantity("fittings"),
            terminal_drop: s.quantity("terminal_drop"),
            machine_drop: s.quantity("machine_drop"),
            pump_efficiency: s.quantity("pump_efficiency"),
            diversity: s.quantity_if("diversity"),
            hours: s.quantity("hours"),
        }
    };
    let plant = {
        let mut s = open!(keys::PLANT, &[]);
        PlantInput {
            chillers: s.count("chillers"),
            chiller_cop: s.number("chiller_cop"),
            rating_chilled: s.quantity("rating_chilled"),
            rating_condenser: s.quantity("rating_condenser"),
            chiller_iplv: s.number_if("chiller_iplv"),
            spare: s.quantity("spare"),
            tower_approach: s.quantity("tower_approach"),
            tower_range: s.quantity("tower_range"),
            tower_fan: s.number("tower_fan"),
            cycles: s.number("cycles"),
            economizer: s.flag("economizer"),
            economizer_approach: s.quantity("economizer_approach"),
            heating: s.choice(
                "heating",
                &[HeatingSource::Boiler, HeatingSource::ElectricBoiler, HeatingSource::HeatRecoveryChiller],
            ),
            boiler_efficiency: s.quantity("boiler_efficiency"),
            largest_chiller: s.quantity("largest_chiller"),
        }
    };
    let ducts = {
        let mut s = open!(keys::DUCTS, &[]);
        DuctInput {
            friction_pa_per_m: s.number("friction"),
            velocity: s.quantity("velocity"),
            height: s.quantity("height"),
            main_length: s.quantity("main_length"),
            all_air_supply: s.quantity("all_air_supply"),
        }
    };
    let all_air = {
        let mut s = open!(keys::ALL_AIR, &[]);
        year::read_all_air(&mut s, flows, &ducts.all_air_supply, &terminals.heating_water)
    };
    // One supply temperature, wherever it is written.
    let ducts = DuctInput { all_air_supply: all_air.supply.clone(), ..ducts };
    let sequence = sequence::read(&mut open!(keys::SEQUENCE, &[]));
    let year = year::read(&mut open!(keys::YEAR, &[]));
    let economics = economics::read(&mut open!(keys::ECONOMICS, &[]));

    let mut constructions = Vec::new();
    for (name, table, span) in named(log, text, Some(root), &keys::CONSTRUCTION) {
        let path = format!("constructions.{name}");
        let mut s = Section::new(log, text, Some((table, span)), &path, keys::CONSTRUCTION.keys, &[]).quiet();
        let layers: Vec<ConstructionLayer> =
            s.rows("layers", keys::LAYER, layer).into_iter().flatten().collect();
        if layers.is_empty()
            && s.raw("layers").is_some_and(|v| v.get_ref().as_array().is_some_and(|a| a.is_empty()))
        {
            s.refuse("layers", Problem::new(pf::BAD_LIST, "a construction needs at least one layer"));
        }
        constructions.push(Construction {
            name: name.to_owned(),
            layers,
            solar_absorptance: s.quantity("solar_absorptance"),
            place: s.own_place(),
        });
    }
    let mut glazings = Vec::new();
    for (name, table, span) in named(log, text, Some(root), &keys::GLAZING) {
        let path = format!("glazings.{name}");
        let mut s = Section::new(log, text, Some((table, span)), &path, keys::GLAZING.keys, &[]).quiet();
        glazings.push(Glazing {
            name: name.to_owned(),
            u_value: s.quantity("u_value"),
            solar_heat_gain: s.quantity("solar_heat_gain"),
            interior_shading: s.quantity("interior_shading"),
            place: s.own_place(),
        });
    }
    let built_in = kinds::built_in_kinds();
    // The rates of the standards are standard flows unless a value says otherwise.
    let rates = Flows { basis: AirFlowBasis::Standard, ..flows };
    let own = kinds::read_all(log, text, Some(root), &built_in, rates, kinds::Home::Project);
    let kinds = kinds::with_built_in(own, built_in);

    Head {
        name,
        revision,
        units,
        site,
        criteria,
        height,
        cooling_set_point,
        heating_set_point,
        primary_air,
        terminals,
        water,
        plant,
        ducts,
        sequence,
        year,
        all_air,
        economics,
        constructions,
        glazings,
        kinds,
        waivers,
        flows,
    }
}

fn layer(s: &mut Section<'_, '_>) -> Option<ConstructionLayer> {
    const MATERIAL: [&str; 4] = ["thickness", "conductivity", "density", "specific_heat"];
    let name = s.text("name").value;
    let given: Vec<&str> = MATERIAL.iter().copied().filter(|k| s.raw(k).is_some()).collect();
    let resistance = s.raw("resistance").is_some();
    if resistance == given.is_empty() && (resistance || given.len() == 4) {
        if resistance {
            return Some(ConstructionLayer::Resistance {
                name,
                resistance: s.quantity_if("resistance")?.value,
            });
        }
        let (a, b, c, d) = (
            s.quantity_if("thickness"),
            s.quantity_if("conductivity"),
            s.quantity_if("density"),
            s.quantity_if("specific_heat"),
        );
        return Some(ConstructionLayer::Material {
            name,
            thickness: a?.value,
            conductivity: b?.value,
            density: c?.value,
            specific_heat: d?.value,
        });
    }
    let message = if resistance {
        format!("the layer `{name}` has a resistance and {}", given.join(", "))
    } else {
        let missing: Vec<&str> = MATERIAL.iter().copied().filter(|k| !given.contains(k)).collect();
        format!("the layer `{name}` lacks {}", missing.join(", "))
    };
    let finding = Problem::new(pf::BAD_LAYER, message)
        .hint("give thickness, conductivity, density and specific_heat, or `resistance` alone")
        .finding()
        .at(s.own_place());
    s.log.findings.push(finding);
    None
}
