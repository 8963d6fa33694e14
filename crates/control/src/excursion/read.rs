//! A project's own cases, from a small TOML file. `docs/EXCURSION_FORMAT.md` describes it; everything that is wrong is
//! found with its line.

use super::building::Building;
use super::case::CaseError;
use super::case::{Case, CaseDay, Disturbance, PlantSensor, Upset};
use super::lag::SensorFault;
use super::result::Criteria;
use drycoil_findings::registry::project as pf;
use drycoil_findings::{Finding, FindingKind, Place, did_you_mean};
use drycoil_units::{
    Fraction, Mass, Quantity, STANDARD_AIR_DENSITY_KG_PER_M3 as RHO, StandardAirFlow, Temperature,
    TemperatureDifference, Time,
};
use std::ops::Range;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// Cases of a file, and criteria where it has its own.
#[derive(Debug, Clone, PartialEq)]
pub struct CaseFile {
    /// Cases.
    pub cases: Vec<Case>,
    /// Criteria.
    pub criteria: Criteria,
}

struct Reader<'a> {
    name: &'a str,
    text: &'a str,
    found: Vec<Finding>,
}

type Item<'t> = Spanned<DeValue<'t>>;

impl Reader<'_> {
    fn place(&self, span: Range<usize>) -> Place {
        let before = &self.text[..span.start.min(self.text.len())];
        let line = before.bytes().filter(|b| *b == b'\n').count() as u32 + 1;
        let column = before.rsplit('\n').next().map_or(0, |l| l.chars().count()) as u32 + 1;
        Place::line(self.name, line, column).span(span.start, span.end)
    }

    fn refuse(&mut self, kind: &'static FindingKind, message: String, span: Range<usize>) {
        let place = self.place(span);
        self.found.push(Finding::new(kind, message).at(place));
    }

    /// Only these keys may be there.
    fn keys(&mut self, table: &DeTable<'_>, what: &str, known: &[&str]) {
        for (key, _) in table {
            let name = key.get_ref().as_ref();
            if !known.contains(&name) {
                let place = self.place(key.span());
                let finding = Finding::new(pf::UNKNOWN_KEY, format!("`{name}` is not a key of {what}"))
                    .at(place)
                    .allowed(known.join(", "));
                self.found.push(match did_you_mean(name, known.iter().copied()) {
                    Some(near) => finding.hint(format!("did you mean `{near}`?")),
                    None => finding,
                });
            }
        }
    }

    fn need<'t, 'b>(
        &mut self,
        table: &'b DeTable<'t>,
        key: &str,
        what: &str,
        span: &Range<usize>,
    ) -> Option<&'b Item<'t>> {
        let item = table.get(key);
        if item.is_none() {
            self.refuse(pf::MISSING_KEY, format!("{what} has no `{key}`"), span.clone());
        }
        item
    }

    fn text(&mut self, item: &Item<'_>, key: &str) -> Option<String> {
        match item.get_ref() {
            DeValue::String(s) if !s.trim().is_empty() => Some(s.to_string()),
            _ => {
                self.refuse(pf::WRONG_TYPE, format!("`{key}` is a text in quotes"), item.span());
                None
            }
        }
    }

    fn quantity<Q: Quantity>(&mut self, item: &Item<'_>, key: &str) -> Option<f64> {
        let text = self.text(item, key)?;
        match Q::parse(&text) {
            Ok(q) => Some(q.si()),
            Err(e) => {
                let place = self.place(item.span());
                self.found.push(
                    Finding::new(pf::WRONG_TYPE, format!("`{key}`: {e}"))
                        .at(place)
                        .value(text)
                        .hint(e.hint()),
                );
                None
            }
        }
    }

    fn number(&mut self, item: &Item<'_>, key: &str) -> Option<f64> {
        let number = match item.get_ref() {
            DeValue::Integer(n) => n.as_str().parse().ok(),
            DeValue::Float(x) => x.as_str().parse().ok(),
            _ => None,
        };
        if number.is_none() {
            self.refuse(pf::WRONG_TYPE, format!("`{key}` is a number"), item.span());
        }
        number.filter(|n: &f64| n.is_finite())
    }

    /// A time of the day as "13:30", s from midnight; hours may run on past 24.
    fn clock(&mut self, item: &Item<'_>, key: &str) -> Option<f64> {
        let text = self.text(item, key)?;
        let parsed = text.split_once(':').and_then(|(h, m)| {
            let (h, m) = (h.parse::<u32>().ok()?, m.parse::<u32>().ok()?);
            (h <= 96 && m < 60).then(|| f64::from(h * 3600 + m * 60))
        });
        if parsed.is_none() {
            self.refuse(
                pf::WRONG_TYPE,
                format!("`{key}` is a time of the day such as \"13:30\""),
                item.span(),
            );
        }
        parsed
    }

    fn one_of(&mut self, item: &Item<'_>, key: &str, of: &[String]) -> Option<usize> {
        let text = self.text(item, key)?;
        let found = of.iter().position(|o| *o == text);
        if found.is_none() {
            let place = self.place(item.span());
            let finding = Finding::new(pf::UNKNOWN_WORD, format!("`{key}` names nothing that is there"))
                .at(place)
                .value(&text);
            self.found.push(match did_you_mean(&text, of.iter().map(String::as_str)) {
                Some(near) => finding.hint(format!("did you mean `{near}`?")),
                None => finding,
            });
        }
        found
    }
}

const WHAT: [&str; 14] = [
    "outdoor-air",
    "leakage",
    "people",
    "moisture",
    "drying-lost",
    "primary-air-off",
    "water-at",
    "water-off",
    "power-off",
    "valve-stuck",
    "damper-stuck",
    "zone-sensor",
    "plant-sensor",
    "outdoor-dew-point",
];

/// Reads a file of cases for a building.
///
/// # Errors
/// Everything that is wrong with the file, with its places.
pub fn read_cases(name: &str, bytes: &[u8], b: &Building) -> Result<CaseFile, Vec<Finding>> {
    let places = Places {
        rooms: b.rooms.clone(),
        zones: b.zones.iter().map(|z| z.id.clone()).collect(),
        has_day: &|case| b.day_of(case).map(|_| ()),
    };
    read_cases_at(name, bytes, &places)
}

/// What a file of cases may name.
pub struct Places<'a> {
    /// Rooms in the order of the room list.
    pub rooms: Vec<String>,
    /// Zones in the order of the building.
    pub zones: Vec<String>,
    /// Whether the weather year has the day of a case.
    pub has_day: &'a dyn Fn(&Case) -> Result<(), CaseError>,
}

/// As [`read_cases`], for places that need no building.
///
/// # Errors
/// As [`read_cases`].
pub fn read_cases_at(name: &str, bytes: &[u8], b: &Places<'_>) -> Result<CaseFile, Vec<Finding>> {
    let Ok(text) = std::str::from_utf8(bytes.strip_prefix(&[0xef, 0xbb, 0xbf]).unwrap_or(bytes)) else {
        return Err(vec![Finding::new(pf::NOT_TEXT, "the file is not UTF-8 text").at(Place::file(name))]);
    };
    let mut r = Reader { name, text, found: Vec::new() };
    let (root, errors) = DeTable::parse_recoverable(text);
    if !errors.is_empty() {
        for e in errors {
            r.refuse(pf::SYNTAX, e.message().to_owned(), e.span().unwrap_or(0..0));
        }
        return Err(r.found);
    }
    let root = root.get_ref();
    r.keys(root, "a file of cases", &["criteria", "case"]);
    let mut criteria = Criteria::default();
    if let Some(item) = root.get("criteria") {
        match item.get_ref() {
            DeValue::Table(t) => read_criteria(&mut r, t, &mut criteria),
            _ => r.refuse(pf::WRONG_TYPE, "`criteria` is a table".to_owned(), item.span()),
        }
    }
    let mut cases = Vec::new();
    match root.get("case").map(|i| (i.span(), i.get_ref())) {
        Some((_, DeValue::Array(list))) => {
            for item in list {
                match item.get_ref() {
                    DeValue::Table(t) => {
                        if let Some(case) = read_case(&mut r, t, &item.span(), b) {
                            cases.push(case);
                        }
                    }
                    _ => r.refuse(pf::WRONG_TYPE, "a case is a table `[[case]]`".to_owned(), item.span()),
                }
            }
        }
        Some((span, _)) => {
            r.refuse(pf::WRONG_TYPE, "cases are written as `[[case]]`".to_owned(), span);
        }
        None => r.refuse(pf::MISSING_KEY, "the file has no `[[case]]`".to_owned(), 0..0),
    }
    for (i, case) in cases.iter().enumerate() {
        if cases[..i].iter().any(|other: &Case| other.name == case.name) {
            r.refuse(pf::WRONG_TYPE, format!("case `{}` is there twice", case.name), 0..0);
        }
    }
    if r.found.is_empty() { Ok(CaseFile { cases, criteria }) } else { Err(r.found) }
}

fn read_criteria(r: &mut Reader<'_>, t: &DeTable<'_>, criteria: &mut Criteria) {
    r.keys(t, "`[criteria]`", &["dripped", "film", "recovery", "cooling_lost"]);
    if let Some(item) = t.get("dripped")
        && let Some(v) = r.quantity::<Mass>(item, "dripped")
    {
        criteria.dripped_kg = v;
    }
    if let Some(item) = t.get("film")
        && let Some(v) = r.quantity::<Fraction>(item, "film")
    {
        criteria.film_share = v;
    }
    if let Some(item) = t.get("recovery")
        && let Some(v) = r.quantity::<Time>(item, "recovery")
    {
        criteria.recovery_s = v;
    }
    if let Some(item) = t.get("cooling_lost")
        && let Some(v) = r.quantity::<Fraction>(item, "cooling_lost")
    {
        criteria.cooling_lost_share = v;
    }
}

fn read_case(r: &mut Reader<'_>, t: &DeTable<'_>, span: &Range<usize>, b: &Places<'_>) -> Option<Case> {
    r.keys(t, "`[[case]]`", &["name", "title", "story", "day", "from", "hours", "upset"]);
    let before = r.found.len();
    let name = r.need(t, "name", "the case", span).and_then(|i| r.text(i, "name"));
    let title = t.get("title").and_then(|i| r.text(i, "title"));
    let story = t.get("story").and_then(|i| r.text(i, "story"));
    let day = match t.get("day") {
        None => CaseDay::Humid,
        Some(item) => {
            let text = r.text(item, "day")?;
            let date =
                text.split_once('-').and_then(|(m, d)| Some((m.parse::<u8>().ok()?, d.parse::<u8>().ok()?)));
            match (text.as_str(), date) {
                ("humid", _) => CaseDay::Humid,
                ("humid-after-rest", _) => CaseDay::HumidAfterRest,
                ("dry", _) => CaseDay::Dry,
                (_, Some((month, day))) => CaseDay::Date { month, day },
                _ => {
                    r.refuse(
                        pf::WRONG_TYPE,
                        "`day` is humid, humid-after-rest, dry or a date such as \"07-21\"".to_owned(),
                        item.span(),
                    );
                    CaseDay::Humid
                }
            }
        }
    };
    let from_s = t.get("from").map_or(Some(8.0 * 3600.0), |i| r.clock(i, "from"));
    let length_s = t.get("hours").map_or(Some(13.0 * 3600.0), |i| r.number(i, "hours").map(|h| h * 3600.0));
    let mut upsets = Vec::new();
    match t.get("upset").map(|i| (i.span(), i.get_ref())) {
        None => {}
        Some((_, DeValue::Array(list))) => {
            for item in list {
                if let DeValue::Table(u) = item.get_ref() {
                    upsets.extend(read_upset(r, u, &item.span(), b));
                } else {
                    r.refuse(pf::WRONG_TYPE, "an upset is a table `[[case.upset]]`".to_owned(), item.span());
                }
            }
        }
        Some((at, _)) => {
            r.refuse(pf::WRONG_TYPE, "upsets are written as `[[case.upset]]`".to_owned(), at);
        }
    }
    if r.found.len() > before {
        return None;
    }
    let name = name?;
    let case = Case {
        title: title.unwrap_or_else(|| name.clone()),
        story: story.unwrap_or_default(),
        name,
        day,
        from_s: from_s?,
        length_s: length_s?,
        upsets,
    };
    let checked = case.check(b.rooms.len(), b.zones.len()).and_then(|()| (b.has_day)(&case));
    if let Err(e) = checked {
        r.refuse(pf::WRONG_TYPE, format!("case `{}`: {e}", case.name), span.clone());
        return None;
    }
    Some(case)
}

fn read_upset(r: &mut Reader<'_>, t: &DeTable<'_>, span: &Range<usize>, b: &Places<'_>) -> Option<Upset> {
    let from = r.need(t, "from", "the upset", span).and_then(|i| r.clock(i, "from"));
    let to = r.need(t, "to", "the upset", span).and_then(|i| r.clock(i, "to"));
    let words: Vec<String> = WHAT.iter().map(|w| (*w).to_owned()).collect();
    let item = r.need(t, "what", "the upset", span)?;
    let what = WHAT[r.one_of(item, "what", &words)?];
    let own: &[&str] = match what {
        "outdoor-air" => &["room", "flow"],
        "leakage" => &["factor"],
        "people" => &["room", "people"],
        "moisture" => &["room", "water_per_hour"],
        "drying-lost" => &["share"],
        "water-at" => &["temperature"],
        "valve-stuck" | "damper-stuck" => &["zone", "position"],
        "zone-sensor" => &["zone", "fault"],
        "plant-sensor" => &["sensor", "fault"],
        "outdoor-dew-point" => &["rise"],
        _ => &[],
    };
    let mut known = vec!["what", "from", "to"];
    known.extend(own);
    if own.contains(&"fault") {
        known.extend(["bias", "drift_per_hour"]);
    }
    r.keys(t, &format!("an upset `{what}`"), &known);
    let ids = &b.zones;
    let needed =
        |r: &mut Reader<'_>, key: &str| t.get(key).is_some() || r.need(t, key, "the upset", span).is_some();
    for key in own {
        if !needed(r, key) {
            return None;
        }
    }
    let at = |key: &str| t.get(key).expect("looked for above");
    let room = |r: &mut Reader<'_>| r.one_of(at("room"), "room", &b.rooms);
    let zone = |r: &mut Reader<'_>| r.one_of(at("zone"), "zone", ids);
    let fault = |r: &mut Reader<'_>| -> Option<SensorFault> {
        let faults = ["bias", "drift", "stuck", "failed"].map(str::to_owned);
        Some(match r.one_of(at("fault"), "fault", &faults)? {
            0 => SensorFault::Bias {
                k: {
                    let item = r.need(t, "bias", "the fault", span)?;
                    r.quantity::<TemperatureDifference>(item, "bias")?
                },
            },
            1 => SensorFault::Drift {
                k_per_s: {
                    let item = r.need(t, "drift_per_hour", "the fault", span)?;
                    r.quantity::<TemperatureDifference>(item, "drift_per_hour")? / 3600.0
                },
            },
            2 => SensorFault::Stuck,
            _ => SensorFault::Failed,
        })
    };
    let what = match what {
        "outdoor-air" => Disturbance::OutdoorAir {
            room: room(r)?,
            kg_per_s: r.quantity::<StandardAirFlow>(at("flow"), "flow")? * RHO,
        },
        "leakage" => Disturbance::Leakage { factor: r.number(at("factor"), "factor")? },
        "people" => Disturbance::People { room: room(r)?, people: r.number(at("people"), "people")? },
        "moisture" => Disturbance::Moisture {
            room: room(r)?,
            kg_per_s: r.quantity::<Mass>(at("water_per_hour"), "water_per_hour")? / 3600.0,
        },
        "drying-lost" => Disturbance::DryingLost { share: r.quantity::<Fraction>(at("share"), "share")? },
        "primary-air-off" => Disturbance::PrimaryAirOff,
        "water-at" => {
            Disturbance::WaterAt { c: r.quantity::<Temperature>(at("temperature"), "temperature")? }
        }
        "water-off" => Disturbance::WaterOff,
        "power-off" => Disturbance::PowerOff,
        "valve-stuck" => Disturbance::ValveStuck {
            zone: zone(r)?,
            position: r.quantity::<Fraction>(at("position"), "position")?,
        },
        "damper-stuck" => Disturbance::DamperStuck {
            zone: zone(r)?,
            position: r.quantity::<Fraction>(at("position"), "position")?,
        },
        "zone-sensor" => Disturbance::ZoneSensor { zone: zone(r)?, fault: fault(r)? },
        "plant-sensor" => {
            let sensors = ["primary-dew-point", "drying-coil", "water"].map(str::to_owned);
            let sensor = match r.one_of(at("sensor"), "sensor", &sensors)? {
                0 => PlantSensor::PrimaryDewPoint,
                1 => PlantSensor::DryingCoil,
                _ => PlantSensor::Water,
            };
            Disturbance::PlantSensor { sensor, fault: fault(r)? }
        }
        _ => {
            Disturbance::OutdoorDewPoint { rise_k: r.quantity::<TemperatureDifference>(at("rise"), "rise")? }
        }
    };
    Some(Upset { from_s: from?, to_s: to?, what })
}
