//! What is answered under `/api/`. Every answer is made from one snapshot.

use crate::desk::{Desk, Draft, Step, Stopped};
use crate::engine::{Engine, Extent, Snapshot};
use crate::excursions::Excursions;
use crate::http::{Method, Request, Response};
use crate::view;
use drycoil_papers::{AppliedDefault, Issue, Links, PaperFile, PaperSize, papers};
use drycoil_pictures::{Appearance, Options};
use drycoil_results::{ResultDocument, YearDocument, YearParts};
use drycoil_units::UnitSystem;
use serde::Deserialize;
use serde_json::{Value, json};
use std::sync::{Arc, Mutex, PoisonError};

/// Papers of one snapshot, kept while they are read.
type Shelf = Mutex<Option<(u64, UnitSystem, Arc<Vec<PaperFile>>)>>;

/// What requests are answered from.
pub struct Api {
    /// The files.
    pub desk: Desk,
    /// The results.
    pub engine: Engine,
    /// Excursions.
    pub excursions: Excursions,
    /// Threads for papers and excursions.
    pub pool: Arc<rayon::ThreadPool>,
    /// Version of the program, with its commit.
    pub version: String,
    shelf: Shelf,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct EditBody {
    window: String,
    step: Step,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct WindowBody {
    window: String,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct DraftBody {
    window: String,
    draft: Option<Draft>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct ExcursionBody {
    /// Names of cases; all of them when this is null.
    cases: Option<Vec<String>>,
}

/// Most cases that are asked for by name.
const MAX_CASES: usize = 200;

fn body<'a, T: Deserialize<'a>>(request: &'a Request) -> Result<T, Response> {
    serde_json::from_slice(&request.body)
        .map_err(|e| Response::words(400, format!("the request is not understood: {e}")))
}

/// The name of a window of the browser.
fn window(name: &str) -> Result<&str, Response> {
    let plain =
        !name.is_empty() && name.len() <= 64 && name.bytes().all(|b| b.is_ascii_alphanumeric() || b == b'-');
    if plain { Ok(name) } else { Err(Response::words(400, "the window has no name")) }
}

impl Api {
    /// Answers from these.
    pub fn new(desk: Desk, engine: Engine, pool: Arc<rayon::ThreadPool>, version: String) -> Self {
        let excursions = Excursions::new(engine.excursions_teller());
        Self { desk, engine, excursions, pool, version, shelf: Mutex::default() }
    }

    fn system(request: &Request, s: &Snapshot) -> UnitSystem {
        match request.asked("units") {
            Some("si") => UnitSystem::Si,
            Some("ip") => UnitSystem::Ip,
            _ => s.job.as_ref().map_or(UnitSystem::Si, |j| j.loaded.project.units()),
        }
    }

    fn appearance(request: &Request) -> Appearance {
        if request.asked("theme") == Some("dark") { Appearance::Dark } else { Appearance::Light }
    }

    /// Answers a request whose path begins with `/api/`.
    pub fn answer(&self, request: &Request) -> Response {
        let path = request.path.strip_prefix("/api/").unwrap_or_default();
        let result = match request.method {
            Method::Get => self.get(path, request),
            Method::Post => self.post(path, request),
        };
        result.unwrap_or_else(|refusal| refusal)
    }

    fn get(&self, path: &str, request: &Request) -> Result<Response, Response> {
        let s = self.engine.now();
        let system = Self::system(request, &s);
        let (first, rest) = path.split_once('/').unwrap_or((path, ""));
        let missing = |what: &str| Response::words(404, format!("there is no {what}"));
        let asked = |name: &str| {
            request.asked(name).ok_or_else(|| Response::words(400, format!("`{name}` is not given")))
        };
        let number = |name: &str| {
            let number: Result<f64, _> = asked(name)?.parse();
            match number {
                Ok(v) if v.is_finite() => Ok(v),
                _ => Err(Response::words(400, format!("`{name}` is no number"))),
            }
        };
        let value: Value = match (first, rest) {
            ("state", "") => {
                let mut value = view::state(&s, system);
                value["version"] = json!(self.version);
                value["units"] = json!(view::system_word(system));
                if let Some(name) = request.asked("window") {
                    value["history"] = json!(self.desk.history(window(name)?));
                }
                value
            }
            ("stage", id) => view::stage(&s, id, system).ok_or_else(|| missing("such stage"))?,
            ("form", "") => {
                let file = asked("file")?;
                if !matches!(file, "project.toml" | "catalogue.toml") {
                    return Err(missing("such form"));
                }
                view::forms(self.desk.folder(), file, request.asked("stage"))
                    .map_err(|e| Response::words(500, e))?
            }
            ("table", "") => {
                let file = asked("file")?;
                if !matches!(file, "rooms.csv" | "rooms.xlsx" | "surfaces.csv" | "profiles.csv") {
                    return Err(missing("such table"));
                }
                let table = view::table(self.desk.folder(), file, &s).map_err(|e| Response::words(500, e))?;
                // A window that has it already need not take it again.
                if request.asked("have").is_some_and(|have| table["version"] == have) {
                    json!({ "file": file, "same": true })
                } else {
                    table
                }
            }
            ("working", "") => view::working(&s, asked("place")?, asked("quantity")?, system)
                .ok_or_else(|| missing("working of this number"))?,
            ("explain", "") => view::explain(asked("id")?).ok_or_else(|| missing("finding of this id"))?,
            ("picture", name) => {
                let appearance = Self::appearance(request);
                view::picture(&s, name, system, appearance).map_err(|why| Response::words(404, why))?
            }
            ("excursion", "") => view::excursions(&s, system),
            ("excursion", name) => {
                let options = Options::new(system, "excursion").appearance(Self::appearance(request));
                view::excursion(&s, name, request.asked("zone"), system, &options)
                    .map_err(|why| Response::words(404, why))?
            }
            ("day", "") => {
                let day = asked("day")?.parse().map_err(|_| Response::words(400, "`day` is no number"))?;
                view::day(&s, day, system).map_err(|why| Response::words(404, why))?
            }
            ("air", "") => view::air(&s, number("t_c")?, number("w")?, system)
                .map_err(|why| Response::words(422, why))?,
            ("pin", "") => {
                let at = match request.asked("c") {
                    Some(_) => view::At::DewPoint(number("c")?),
                    None => view::At::HumidityRatio(number("w")?),
                };
                view::pin(&s, at, system).map_err(|why| Response::words(422, why))?
            }
            ("drafts", "") => json!(self.desk.drafts()),
            ("result", "design.json") => return self.design_document(&s),
            ("result", "year.json") => return self.year_document(&s),
            ("papers", "") => {
                let list = self.papers(&s, system)?;
                json!(
                    list.iter()
                        .map(|p| json!({ "name": p.file_name(), "title": p.title }))
                        .collect::<Vec<_>>()
                )
            }
            ("papers", name) => {
                let list = self.papers(&s, system)?;
                let paper =
                    list.iter().find(|p| p.file_name() == name).ok_or_else(|| missing("such paper"))?;
                return Ok(Response::new(200, "text/html; charset=utf-8", paper.html.clone()).with(
                    "Content-Security-Policy",
                    "default-src 'none'; style-src 'unsafe-inline'; img-src data:; frame-ancestors 'self'; sandbox \
                     allow-popups allow-top-navigation-by-user-activation allow-same-origin",
                ));
            }
            _ => return Err(missing("such address")),
        };
        Ok(Response::json(200, &value))
    }

    fn post(&self, path: &str, request: &Request) -> Result<Response, Response> {
        let done = |label: Option<String>, name: &str| {
            let history = self.desk.history(name);
            Response::json(200, &json!({ "done": label, "history": history }))
        };
        match path {
            "edit" => {
                let EditBody { window: name, step } = body(request)?;
                let name = window(&name)?;
                self.desk.make(name, &step).map_err(|e| stopped(&e))?;
                self.engine.written();
                Ok(done(Some(step.label.clone()), name))
            }
            "undo" | "redo" => {
                let WindowBody { window: name } = body(request)?;
                let name = window(&name)?;
                let label = if path == "undo" { self.desk.undo(name) } else { self.desk.redo(name) };
                let label = label.map_err(|e| stopped(&e))?;
                self.engine.written();
                Ok(done(Some(label), name))
            }
            "forget" => {
                let WindowBody { window: name } = body(request)?;
                let name = window(&name)?;
                self.desk.forget(name);
                Ok(done(None, name))
            }
            "draft" => {
                let DraftBody { window: name, draft } = body(request)?;
                self.desk.keep_draft(window(&name)?, draft).map_err(|e| stopped(&e))?;
                Ok(Response::json(200, &json!({})))
            }
            "excursion" => {
                let ExcursionBody { cases } = body(request)?;
                if cases.as_ref().is_some_and(|c| c.len() > MAX_CASES) {
                    return Err(Response::words(
                        422,
                        format!("at most {MAX_CASES} cases are asked for by name"),
                    ));
                }
                let s = self.engine.now();
                let designed = s.designed.as_ref().filter(|_| !s.design_is_stale() && s.job.is_some());
                let designed = designed.ok_or_else(|| {
                    Response::words(409, "excursions wait for a design of the files as they are now")
                })?;
                self.excursions
                    .ask(designed, cases, &self.pool)
                    .map_err(|e| Response::words(503, e.to_string()))?;
                Ok(Response::json(200, &json!({})))
            }
            "excursion-cancel" => {
                self.excursions.cancel();
                Ok(Response::json(200, &json!({})))
            }
            "cancel" => {
                self.engine.cancel();
                Ok(Response::json(200, &json!({})))
            }
            "run" => {
                self.engine.want();
                Ok(Response::json(200, &json!({})))
            }
            _ => Err(Response::words(404, "there is no such address")),
        }
    }

    fn design_document(&self, s: &Snapshot) -> Result<Response, Response> {
        let d = s.designed.as_ref().ok_or_else(|| Response::words(404, "there is no design yet"))?;
        if d.extent != Extent::Whole {
            return Err(Response::words(409, "the design is not told to its end yet"));
        }
        let mut list = d.job.notes();
        list.extend(d.design.findings.iter().cloned());
        let document = ResultDocument::new(&d.job.loaded.project, &d.design, &list, &self.version);
        let bytes = document.to_json().map_err(|e| Response::words(500, e.to_string()))?;
        Ok(Response::new(200, "application/json", bytes))
    }

    fn year_document(&self, s: &Snapshot) -> Result<Response, Response> {
        let y = s.simulated.as_ref().ok_or_else(|| Response::words(404, "there is no year yet"))?;
        let mut list = y.designed.job.notes();
        list.extend(y.designed.design.findings.iter().chain(&y.told.findings).cloned());
        let project = &y.designed.job.loaded.project;
        let document = YearDocument::new(project, YearParts::of(&y.year, &y.told), &list, &self.version);
        let bytes = document.to_json().map_err(|e| Response::words(500, e.to_string()))?;
        Ok(Response::new(200, "application/json", bytes))
    }

    /// The papers of the newest design, made once.
    fn papers(&self, s: &Snapshot, system: UnitSystem) -> Result<Arc<Vec<PaperFile>>, Response> {
        let d = s.designed.as_ref().ok_or_else(|| Response::words(404, "there is no design yet"))?;
        if s.design_is_stale() || s.job.is_none() || d.extent != Extent::Whole {
            return Err(Response::words(409, "the papers wait for a design of the files as they are now"));
        }
        let mut shelf = self.shelf.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some((serial, of, list)) = &*shelf
            && (*serial, *of) == (s.serial, system)
        {
            return Ok(Arc::clone(list));
        }
        let mut job = (*d.job).clone();
        job.loaded.project = job.loaded.project.told_in(system);
        let project = &job.loaded.project;
        let year = s.simulated.as_ref().filter(|_| !s.year_is_stale());
        let mut list = job.notes();
        list.extend(d.design.findings.iter().cloned());
        if let Some(y) = year {
            list.extend(y.told.findings.iter().cloned());
        }
        let document = ResultDocument::new(project, &d.design, &list, &self.version);
        let defaults: Vec<AppliedDefault> = job
            .loaded
            .defaults
            .iter()
            .map(|d| AppliedDefault {
                key: d.key.clone(),
                text: d.text.clone(),
                rule: d.rule.clone(),
                source: d.source.clone(),
            })
            .collect();
        let weather = format!(
            "{} ({}), station {}, {} hours",
            job.loaded.weather_file,
            job.weather.year.format(),
            job.weather.year.station().name,
            job.weather.year.hours()
        );
        let issue = Issue {
            project,
            design: &d.design,
            document: &document,
            findings: &list,
            year: year.map(|y| YearParts::of(&y.year, &y.told)),
            defaults: &defaults,
            weather: &weather,
            system,
            paper: if system == UnitSystem::Ip { PaperSize::Letter } else { PaperSize::A4 },
            links: Links::BetweenFiles,
        };
        let made = Arc::new(papers(&issue, &self.pool));
        *shelf = Some((s.serial, system, Arc::clone(&made)));
        Ok(made)
    }
}

fn stopped(why: &Stopped) -> Response {
    match why {
        Stopped::Conflicts(list) => {
            Response::json(409, &json!({ "error": "somebody else changed the same", "conflicts": list }))
        }
        Stopped::Impossible(text) => Response::words(422, text.clone()),
        Stopped::Disk(text) => Response::words(503, format!("the file cannot be written: {text}")),
        Stopped::Nothing => Response::words(422, "there is nothing to take back"),
    }
}
