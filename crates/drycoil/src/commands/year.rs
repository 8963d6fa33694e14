//! `drycoil year`: every hour of a year, every scheme.

use crate::files::{self, AtomicFile};
use crate::project::load;
use crate::render::hours::Hours;
use crate::render::progress::Progress;
use crate::render::year::{Rooms, Show, draw};
use crate::render::{findings, summary};
use crate::{Context, Exit, Failure, Form};
use clap::{Args, ValueEnum};
use drycoil_climate::WeatherYear;
use drycoil_findings::did_you_mean;
use drycoil_intake::job::Job;
use drycoil_project::Project;
use drycoil_results::{YearDocument, YearParts};
use drycoil_sizing::{Begun, Design};
use drycoil_units::{Quantity, Time};
use drycoil_year::economy::Economy;
use drycoil_year::prepare::ReductionCache;
use drycoil_year::result::{PlantHour, RoomHour, Scheme, Year};
use drycoil_year::simulate::{self, Observer, Options, Unobserved};
use drycoil_year::told::{self, TellError, Told};
use std::io::Write as _;
use std::path::PathBuf;

/// Arguments of `drycoil year`.
#[derive(Debug, Clone, Args)]
pub struct YearArgs {
    /// Project folder
    #[arg(value_name = "PROJECT")]
    pub project: PathBuf,
    /// Time step, 30 s to 1 h, a whole part of an hour; without it, as the project says
    #[arg(long, value_name = "TIME", value_parser = crate::cli::quantity::<Time>)]
    pub step: Option<Time>,
    /// Simulate one scheme only
    #[arg(long, value_name = "SCHEME")]
    pub scheme: Option<SchemeWord>,
    /// Write the hours of the plant and of the rooms named with --rooms to this CSV file
    #[arg(long, value_name = "FILE")]
    pub hours: Option<PathBuf>,
    /// Rooms of the file of hours, separated by commas
    #[arg(long, value_name = "IDS", value_delimiter = ',', requires = "hours")]
    pub rooms: Vec<String>,
    /// Print one page that an owner understands, instead of the tables
    #[arg(long, conflicts_with = "json")]
    pub summary: bool,
    /// Folder for the result file; without it, `results` in the project folder
    #[arg(long, value_name = "DIR")]
    pub out: Option<PathBuf>,
    /// List every room, not only those with the smallest dew-point margins
    #[arg(long)]
    pub all: bool,
}

/// A scheme on the command line.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum SchemeWord {
    /// Dry terminals with primary air
    Decoupled,
    /// Variable air volume with reheat
    AllAir,
}

impl From<SchemeWord> for Scheme {
    fn from(word: SchemeWord) -> Self {
        match word {
            SchemeWord::Decoupled => Self::Decoupled,
            SchemeWord::AllAir => Self::AllAir,
        }
    }
}

/// The schemes to simulate: those of the command line, else those of the project.
pub fn schemes(project: &Project, asked: Option<SchemeWord>) -> Vec<Scheme> {
    asked.map_or_else(|| told::schemes(project.year.schemes.value), |word| vec![word.into()])
}

/// A step that the simulation takes, in s.
fn step(project: &Project, asked: Option<Time>) -> Result<f64, Failure> {
    let s = asked.unwrap_or(project.year.step.value).si();
    let part = 3600.0 / s;
    if !(30.0..=3600.0).contains(&s) || (part - part.round()).abs() >= 1e-9 {
        return Err(Failure::usage(format!(
            "a step of {s} s is not a whole part of an hour between 30 s and 1 h"
        ))
        .hint("15 min is usual; 5 min shows start-ups better"));
    }
    // Known before anything is computed; the project's own step is checked with the project.
    for charge in &project.economics.electricity_tariff.demand {
        let over = charge.average_over.si() / s;
        if over < 1.0 - 1e-9 || (over - over.round()).abs() >= 1e-9 {
            return Err(Failure::usage(format!(
                "the demand charge `{}` averages power over {} s, which a step of {s} s does not divide",
                charge.name,
                charge.average_over.si()
            ))
            .hint("take a step that divides it, or leave --step out"));
        }
    }
    Ok(s)
}

/// What is simulated.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct RunSettings {
    /// Step, s.
    pub step_s: f64,
    /// Schemes.
    pub schemes: Vec<Scheme>,
    /// Error of the dew-point sensors, K.
    pub sensor_error_k: f64,
}

impl RunSettings {
    /// The options of the simulation.
    fn options(&self) -> Options {
        Options {
            step_s: self.step_s,
            schemes: self.schemes.clone(),
            sensor_error_k: self.sensor_error_k,
            ..Options::default()
        }
    }
}

/// What is simulated, from the arguments and the project.
pub(crate) fn settings(
    project: &Project,
    asked_step: Option<Time>,
    asked_scheme: Option<SchemeWord>,
) -> Result<RunSettings, Failure> {
    Ok(RunSettings {
        step_s: step(project, asked_step)?,
        schemes: schemes(project, asked_scheme),
        sensor_error_k: 0.0,
    })
}

/// A project that was sized and simulated.
pub(crate) struct Simulated<'a> {
    /// The design; what is told beside the choice is not worked out.
    pub begun: Begun<'a>,
    pub year: Year,
    pub economy: Economy,
}

/// Sizes and simulates, without anybody watching; the reason when there is no result.
pub(crate) fn simulated<'a>(
    job: &'a Job,
    settings: &RunSettings,
    cache: &mut ReductionCache,
    pool: &'a rayon::ThreadPool,
) -> Result<Simulated<'a>, String> {
    let project = &job.loaded.project;
    let begun = drycoil_sizing::begin(project, &job.weather.year, pool).map_err(|e| e.to_string())?;
    let year = simulate_quietly(project, begun.design(), &job.weather.year, settings, cache, pool)?;
    let economy = told::priced(project, begun.design(), &year).map_err(|e| e.to_string())?;
    Ok(Simulated { begun, year, economy })
}

/// Simulates a design without anybody watching; the reason when there is no result.
pub(crate) fn simulate_quietly(
    project: &Project,
    design: &Design,
    weather: &WeatherYear,
    settings: &RunSettings,
    cache: &mut ReductionCache,
    pool: &rayon::ThreadPool,
) -> Result<Year, String> {
    simulate::simulate(project, design, weather, &settings.options(), cache, pool, &mut Unobserved)
        .map_err(|e| e.to_string())
}

/// Watches a simulation: moves the bar on, writes the file of hours.
struct Watch {
    bar: Progress,
    hours: Option<Hours<AtomicFile>>,
}

impl Observer for Watch {
    fn day_finished(&mut self, _finished: usize, _days: usize) -> simulate::Progress {
        self.bar.advance(1);
        // Without a place to write the rest of the year is of no use.
        if self.hours.as_ref().is_some_and(Hours::has_failed) {
            simulate::Progress::Stop
        } else {
            simulate::Progress::Continue
        }
    }

    fn room_hour(&mut self, scheme: Scheme, hour: usize, room: &RoomHour) {
        if let Some(hours) = &mut self.hours {
            hours.room(scheme, hour, room);
        }
    }

    fn plant_hour(&mut self, scheme: Scheme, hour: usize, plant: &PlantHour) {
        if let Some(hours) = &mut self.hours {
            hours.plant(scheme, hour, plant);
        }
    }
}

/// Positions of the rooms with these ids.
fn positions(project: &Project, ids: &[String]) -> Result<Vec<usize>, Failure> {
    ids.iter()
        .map(|id| {
            project.room_index(id).ok_or_else(|| {
                let failure = Failure::usage(format!("`{id}` is not a room of the project"));
                match did_you_mean(id, project.rooms.iter().map(|r| r.id.as_str())) {
                    Some(near) => failure.hint(format!("did you mean `{near}`?")),
                    None => failure.hint("rooms are named by the id of the room list"),
                }
            })
        })
        .collect()
}

/// Works out what a simulated year means.
pub(crate) fn tell(
    project: &Project,
    design: &Design,
    weather: &WeatherYear,
    year: &Year,
) -> Result<Told, Failure> {
    told::tell(project, design, weather, year).map_err(|error| {
        let failure = Failure::bad_input(error.to_string());
        match error {
            TellError::AllAir(_) => failure,
            TellError::Prices(_) => failure.hint(
                "look at `[economics]`; demand cannot be averaged over less than a step of the simulation",
            ),
        }
    })
}

/// Runs the command.
pub fn run(args: &YearArgs, context: &mut Context) -> Result<Exit, Failure> {
    let mut job = load(&args.project, context)?;
    let system = context.settings.unit_system(Some(job.loaded.project.units()));
    job.loaded.project = job.loaded.project.told_in(system);
    let project = &job.loaded.project;
    let weather = &job.weather.year;
    let settings = settings(project, args.step, args.scheme)?;
    let watched = positions(project, &args.rooms)?;
    let pool = context.pool()?;
    let design = drycoil_sizing::size(project, weather, &pool).map_err(|e| Failure::Findings(e.findings))?;

    // Everything that is written is begun before the long work, so that a place that cannot be written is known first.
    let folder = args.out.clone().unwrap_or_else(|| args.project.join("results"));
    files::create_folder(&folder)?;
    let year_file = folder.join("year.json");
    let mut written = AtomicFile::create(&year_file)?;
    let hours = match &args.hours {
        None => None,
        Some(path) => {
            let file = AtomicFile::create(path)?;
            let rooms: Vec<(usize, String)> =
                watched.iter().copied().zip(args.rooms.iter().cloned()).collect();
            let hours = Hours::new(file, system, weather.calendar(), &settings.schemes, &rooms)
                .map_err(|error| Failure::writing(path, error))?;
            Some(hours)
        }
    };

    let options = Options { watch_plant: hours.is_some(), watched, ..settings.options() };
    let days = weather.calendar().days() as u64;
    let mut watch = Watch { bar: Progress::new(&context.settings, "year", days), hours };
    let year = simulate::simulate(
        project,
        &design,
        weather,
        &options,
        &mut ReductionCache::default(),
        &pool,
        &mut watch,
    );
    let Watch { bar, hours } = watch;
    drop(bar);
    if let (Some(hours), Some(path)) = (hours, &args.hours) {
        // The error of writing explains a simulation that was stopped for it.
        let file = hours.finish().map_err(|error| Failure::writing(path, error))?;
        if year.is_ok() {
            file.commit()?;
        }
    }
    let year =
        year.map_err(|stopped| Failure::bad_input(format!("the year cannot be simulated: {stopped}")))?;

    let told = tell(project, &design, weather, &year)?;
    let parts = YearParts::of(&year, &told);
    let mut list = job.notes();
    list.extend(design.findings.iter().cloned());
    list.extend(told.findings.iter().cloned());

    let json = YearDocument::new(project, parts, &list, crate::VERSION).to_json()?;
    written.write_all(&json).map_err(|error| Failure::writing(&year_file, error))?;
    written.commit()?;

    if context.settings.form == Form::Json {
        context.out.write_all(&json)?;
    } else {
        let show = Show { system, width: context.settings.width, currency: &told.economy.currency };
        let text = if args.summary {
            summary::draw(project, &design, &parts, show)
        } else {
            let rooms = if args.all { Rooms::All } else { Rooms::Smallest };
            draw(project, &design, &parts, show, rooms)
        };
        context.out.write_all(text.as_bytes())?;
        if !args.summary {
            writeln!(context.out, "\nFindings: {}", findings::summary(&list))?;
            writeln!(context.out, "Written: {}", year_file.display())?;
            if let Some(path) = &args.hours {
                writeln!(context.out, "         {}", path.display())?;
            }
        }
        context.out.flush()?;
    }
    Ok(context.log_findings(&list))
}
