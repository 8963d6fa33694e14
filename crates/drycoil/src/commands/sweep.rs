//! `drycoil sweep`: the project under many values of its inputs, or of what nobody can fix.

use super::year::{RunSettings, SchemeWord, Simulated, simulated};
use crate::files::{self, AtomicFile};
use crate::project::{FolderFiles, load};
use crate::render::progress::Progress;
use crate::render::{findings, sweep};
use crate::{Context, Exit, Failure, Form};
use clap::Args;
use drycoil_findings::{Finding, Place, registry::year as kinds};
use drycoil_intake::job::{Job, WeatherShelf, read_with_shelf};
use drycoil_intake::variant::{SweepValues, Variant, literal, read_sweep};
use drycoil_intake::{FileSet, Fingerprint, MemoryFiles};
use drycoil_results::{GoalRecord, MetricRecord, PointRecord, SweepDocument, UncertaintyDocument};
use drycoil_units::{Fraction, Quantity, TemperatureDifference, Time};
use drycoil_year::prepare::ReductionCache;
use drycoil_year::result::Scheme;
use drycoil_year::sweep::influence::influence;
use drycoil_year::sweep::optimum::optimum;
use drycoil_year::sweep::pareto::{Goal, pareto};
use drycoil_year::sweep::plan::{Input, Levels, Method, Plan};
use drycoil_year::sweep::run::{self, PointResult, metrics};
use drycoil_year::sweep::uncertain::{Uncertainty, probabilities};
use std::cell::RefCell;
use std::fmt::Write as _;
use std::io::Write as _;
use std::path::{Path, PathBuf};
use std::sync::Mutex;

/// Arguments of `drycoil sweep`.
#[derive(Debug, Clone, Args)]
pub struct SweepArgs {
    /// Project folder
    #[arg(value_name = "PROJECT")]
    pub project: PathBuf,
    /// An input and its values: `KEY=VALUE,VALUE` or `KEY=FROM..TO/COUNT`; may be given several times
    #[arg(long, value_name = "KEY=VALUES")]
    pub vary: Vec<String>,
    /// File that names inputs and values, `[sweep]` and `[vary]`
    #[arg(long, value_name = "FILE")]
    pub plan: Option<PathBuf>,
    /// Number of points that fill the space evenly (Latin hypercube), instead of every combination
    #[arg(long, value_name = "N")]
    pub samples: Option<usize>,
    /// Seed of the samples
    #[arg(long, value_name = "SEED")]
    pub seed: Option<u64>,
    /// Metrics of which the Pareto set wants the least, separated by commas
    #[arg(long, value_name = "METRICS", value_delimiter = ',')]
    pub least: Vec<String>,
    /// Metrics of which the Pareto set wants the most, separated by commas
    #[arg(long, value_name = "METRICS", value_delimiter = ',')]
    pub most: Vec<String>,
    /// Keep the design and sample people, leakage and sensor error this many times: how likely each coil gets wet
    #[arg(long, value_name = "N", conflicts_with_all = ["vary", "plan", "samples", "least", "most"])]
    pub uncertain: Option<usize>,
    /// People over those of the project, lowest and highest
    #[arg(long, value_name = "FROM..TO", requires = "uncertain", default_value = "80 %..120 %")]
    pub people: String,
    /// Leakage of the facade over that of the project, lowest and highest
    #[arg(long, value_name = "FROM..TO", requires = "uncertain", default_value = "50 %..200 %")]
    pub infiltration: String,
    /// Bound of the error of the dew-point measurement; without it, that of the criteria
    #[arg(long, value_name = "DIFFERENCE", requires = "uncertain",
          value_parser = crate::cli::quantity::<TemperatureDifference>)]
    pub sensor_error: Option<TemperatureDifference>,
    /// Time step, 30 s to 1 h, a whole part of an hour; without it, as the project says
    #[arg(long, value_name = "TIME", value_parser = crate::cli::quantity::<Time>)]
    pub step: Option<Time>,
    /// Simulate one scheme only
    #[arg(long, value_name = "SCHEME")]
    pub scheme: Option<SchemeWord>,
    /// Folder for the result files; without it, `results` in the project folder
    #[arg(long, value_name = "DIR")]
    pub out: Option<PathBuf>,
    /// List every point, not only the best
    #[arg(long)]
    pub all: bool,
}

/// Runs the command.
pub fn run(args: &SweepArgs, context: &mut Context) -> Result<Exit, Failure> {
    let job = load(&args.project, context)?;
    let folder = args.out.clone().unwrap_or_else(|| args.project.join("results"));
    match args.uncertain {
        Some(samples) => uncertain(args, samples, &job, &folder, context),
        None => points(args, &job, &folder, context),
    }
}

/// The plan of the arguments and of the file.
fn plan(args: &SweepArgs, context: &mut Context) -> Result<Plan, Failure> {
    let wrong = |e: drycoil_year::sweep::plan::PlanError| {
        Failure::usage(e.to_string())
            .hint("as in --vary \"dew_point.supply=46 degF..52 degF/7\" or --vary \"water.arrangement=separate,return-reuse\"")
    };
    let mut inputs = Vec::new();
    let (mut samples, mut seed) = (args.samples, args.seed);
    if let Some(path) = &args.plan {
        let bytes = files::read(path)?;
        let name = path.file_name().map_or_else(String::new, |n| n.to_string_lossy().into_owned());
        context.sources.add(name.clone(), String::from_utf8_lossy(&bytes).into_owned());
        let file = read_sweep(&name, &bytes).map_err(Failure::Findings)?;
        samples = samples.or(file.samples.map(|n| n as usize));
        seed = seed.or(file.seed);
        for input in file.inputs {
            let refused = |e: drycoil_year::sweep::plan::PlanError| {
                Failure::Findings(vec![
                    Finding::new(drycoil_findings::registry::project::BAD_LIST, e.to_string())
                        .at(input.place.clone()),
                ])
            };
            let one = match &input.values {
                SweepValues::Text(text) => Input::parse(&format!("{}={text}", input.key)).map_err(refused)?,
                SweepValues::List(values) => {
                    let one = Input { key: input.key.clone(), levels: Levels::List(values.clone()) };
                    one.check().map_err(refused)?;
                    one
                }
            };
            inputs.push(one);
        }
    }
    for text in &args.vary {
        inputs.push(Input::parse(text).map_err(wrong)?);
    }
    let method = match samples {
        Some(count) => Method::Samples { count, seed: seed.unwrap_or(1) },
        None if seed.is_some() => return Err(Failure::usage("a seed without a number of samples")),
        None => Method::Grid,
    };
    Ok(Plan { inputs, method })
}

/// The files of the project in memory: those that a project may hold, and every weather file that a point names.
fn in_memory(folder: &Path, weather: &[String]) -> Result<MemoryFiles, Failure> {
    let files = FolderFiles::open(folder)?;
    let mut out = MemoryFiles::new();
    let names = drycoil_intake::project::FILES.iter().map(|n| (*n).to_owned()).chain(weather.iter().cloned());
    for name in names {
        match files.bytes(&name) {
            Ok(Some(bytes)) => out = out.with(&name, &bytes),
            // What is missing and needed is found by the reader.
            Ok(None) => {}
            Err(error) => return Err(Failure::reading(&folder.join(&name), std::io::Error::other(error))),
        }
    }
    Ok(out)
}

/// What a thread computes its points with: it works alone, so that a point equals a lone run and threads do not wait for
/// each other, and keeps the reduced rooms of earlier points.
struct Alone {
    pool: rayon::ThreadPool,
    cache: ReductionCache,
}

/// Reduced rooms that a thread keeps.
const MOST_ROOMS_KEPT: usize = 4096;

std::thread_local! {
    static ALONE: RefCell<Result<Alone, String>> = RefCell::new(
        rayon::ThreadPoolBuilder::new()
            .num_threads(1)
            .build()
            .map(|pool| Alone { pool, cache: ReductionCache::default() })
            .map_err(|e| e.to_string()),
    );
}

fn alone<T>(
    compute: impl FnOnce(&mut ReductionCache, &rayon::ThreadPool) -> Result<T, String>,
) -> Result<T, String> {
    ALONE.with_borrow_mut(|alone| match alone {
        Ok(Alone { pool, cache }) => {
            // A room is some ten kilobytes; a long sweep over walls must not keep them all.
            if cache.len() > MOST_ROOMS_KEPT {
                *cache = ReductionCache::default();
            }
            compute(cache, pool)
        }
        Err(error) => Err(format!("cannot start threads: {error}")),
    })
}

/// The first error of a list in one line.
fn first(list: &[Finding]) -> String {
    let worst = list.iter().find(|f| f.severity() == drycoil_findings::Severity::Error).or(list.first());
    worst.map_or_else(|| "no result".to_owned(), |f| format!("{}: {}", f.id(), f.message))
}

fn points(args: &SweepArgs, job: &Job, folder: &Path, context: &mut Context) -> Result<Exit, Failure> {
    let plan = plan(args, context)?;
    let points = plan.points().map_err(|e| {
        Failure::usage(e.to_string())
            .hint("name inputs with --vary or --plan; `drycoil schema --markdown` lists the keys")
    })?;
    let keys: Vec<&str> = plan.inputs.iter().map(|i| i.key.as_str()).collect();
    let goals = goals(args, &job.loaded.project)?;
    let weather: Vec<String> = match keys.iter().position(|k| *k == "site.weather") {
        Some(column) => points.iter().map(|p| p[column].clone()).collect(),
        None => vec![job.loaded.weather_file.clone()],
    };
    let mut weather = weather;
    weather.sort();
    weather.dedup();
    let files = in_memory(&args.project, &weather)?;
    let shelf = WeatherShelf::default();
    let variant = |index: usize| {
        let values: Vec<(&str, String)> =
            keys.iter().zip(&points[index]).map(|(k, v)| (*k, literal(v))).collect();
        Variant::new(files.clone(), &values).and_then(|v| read_with_shelf(&v, &shelf))
    };
    // A key that means nothing is wrong at every point, so it is said before any is computed.
    if let Err(list) = variant(0) {
        let of_key = |f: &Finding| f.id() == "PF-002" || f.id() == "PF-004" || f.id() == "PF-005";
        if list.iter().any(of_key) {
            return Err(Failure::Findings(list));
        }
    }
    let settings = super::year::settings(&job.loaded.project, args.step, args.scheme)?;
    let compute = |index: usize| -> PointResult {
        let result = variant(index).map_err(|list| first(&list)).and_then(|job| {
            alone(|cache, pool| {
                let Simulated { begun, year, economy } = simulated(&job, &settings, cache, pool)?;
                Ok(PointResult::of(&job.loaded.project, begun.design(), &year, &economy))
            })
        });
        result.unwrap_or_else(PointResult::failed)
    };

    files::create_folder(folder)?;
    let mut identity = Fingerprint::default();
    identity.add("program", crate::VERSION.as_bytes());
    identity.add("settings", format!("{settings:?}").as_bytes());
    for name in drycoil_intake::project::FILES.iter().map(|n| (*n).to_owned()).chain(weather) {
        if let Ok(Some(bytes)) = files.bytes(&name) {
            identity.add(&name, &bytes);
        }
    }
    for (index, key) in keys.iter().enumerate() {
        identity.add(key, points.iter().map(|p| p[index].as_str()).collect::<Vec<_>>().join("\n").as_bytes());
    }
    let journal = Journal::open(&folder.join("sweep.part"), identity.value(), points.len())?;
    let resumed = journal.known.iter().flatten().count();
    if resumed > 0 {
        context
            .note(&format!("{resumed} of {} points are known from a run that was interrupted", points.len()));
    }
    let pool = context.pool()?;
    let bar = Progress::new(&context.settings, "points", points.len() as u64);
    bar.advance(resumed as u64);
    let known = journal.known.clone();
    let writer = Mutex::new(journal);
    let results = run::run(&known, &pool, &compute, &|index, result| {
        writer.lock().unwrap_or_else(std::sync::PoisonError::into_inner).add(index, result);
        bar.advance(1);
    });
    drop(bar);
    let journal = writer.into_inner().unwrap_or_else(std::sync::PoisonError::into_inner);
    journal.check()?;

    let document = document(job, &plan, &points, &results, &goals);
    let csv = folder.join("sweep.csv");
    write_csv(&csv, &document)?;
    let json_file = folder.join("sweep.json");
    let mut json = serde_json::to_vec_pretty(&document)?;
    json.push(b'\n');
    files::write(&json_file, &json)?;
    journal.remove();

    let mut list = Vec::new();
    for p in document.points.iter().filter(|p| p.problem.is_some()) {
        let reason = p.problem.clone().unwrap_or_default();
        list.push(
            Finding::new(kinds::POINT_WITHOUT_RESULT, format!("point {} has no result: {reason}", p.point))
                .at(Place::part(format!("point {}", p.point)))
                .value(p.inputs.join(", ")),
        );
    }
    if context.settings.form == Form::Json {
        context.out.write_all(&json)?;
    } else {
        let system = context.settings.unit_system(Some(job.loaded.project.units()));
        let text = sweep::draw(&document, system, context.settings.width, args.all);
        context.out.write_all(text.as_bytes())?;
        writeln!(context.out, "\nFindings: {}", findings::summary(&list))?;
        writeln!(context.out, "Written: {}", csv.display())?;
        writeln!(context.out, "         {}", json_file.display())?;
        context.out.flush()?;
    }
    Ok(context.log_findings(&list))
}

/// Metrics and goals of the Pareto set.
fn goals(args: &SweepArgs, project: &drycoil_project::Project) -> Result<Vec<(usize, Goal)>, Failure> {
    let all = metrics();
    let find = |name: &str| {
        all.iter().position(|m| m.name == name).ok_or_else(|| {
            let names: Vec<&str> = all.iter().map(|m| m.name).collect();
            let failure = Failure::usage(format!("`{name}` is not a metric of a sweep"));
            match drycoil_findings::did_you_mean(name, names.iter().copied()) {
                Some(near) => failure.hint(format!("did you mean `{near}`?")),
                None => failure.hint(format!("the metrics are {}", names.join(", "))),
            }
        })
    };
    let (mut least, mut most) = (args.least.clone(), args.most.clone());
    if least.is_empty() && most.is_empty() {
        let scheme = super::year::schemes(project, args.scheme);
        if scheme.contains(&Scheme::Decoupled) {
            least.push("simulated_objective".to_owned());
            most.push("smallest_margin_k".to_owned());
        } else {
            least.push("all_air_site_energy_j".to_owned());
        }
    }
    let mut out = Vec::new();
    for name in &least {
        out.push((find(name)?, Goal::Least));
    }
    for name in &most {
        out.push((find(name)?, Goal::Most));
    }
    Ok(out)
}

fn document(
    job: &Job,
    plan: &Plan,
    points: &[Vec<String>],
    results: &[PointResult],
    goals: &[(usize, Goal)],
) -> SweepDocument {
    let mut document = SweepDocument::new(&job.loaded.project, crate::VERSION);
    let all = metrics();
    document.inputs = plan.inputs.iter().map(|i| i.key.clone()).collect();
    document.method = match plan.method {
        Method::Grid => "every combination".to_owned(),
        Method::Samples { count, seed } => format!("Latin hypercube of {count} points, seed {seed}"),
    };
    document.metrics = all
        .iter()
        .map(|m| MetricRecord { name: m.name.into(), words: m.words.into(), unit: m.unit.into() })
        .collect();
    let chosen: Vec<Vec<Option<f64>>> =
        results.iter().map(|r| goals.iter().map(|(m, _)| r.values[*m]).collect()).collect();
    let set = pareto(&chosen, &goals.iter().map(|(_, g)| *g).collect::<Vec<_>>());
    document.points = points
        .iter()
        .zip(results)
        .zip(set)
        .enumerate()
        .map(|(index, ((inputs, result), pareto))| PointRecord {
            point: index + 1,
            inputs: inputs.clone(),
            values: result.values.clone(),
            pareto,
            problem: result.problem.clone(),
        })
        .collect();
    document.goals = goals
        .iter()
        .map(|(m, g)| GoalRecord {
            metric: all[*m].name.to_owned(),
            goal: match g {
                Goal::Least => "least",
                Goal::Most => "most",
            }
            .to_owned(),
        })
        .collect();
    let objective = all.iter().position(|m| m.name == "simulated_objective");
    let measure: Vec<Option<f64>> = results.iter().map(|r| objective.and_then(|c| r.values[c])).collect();
    let columns: Vec<(String, Vec<String>)> = plan
        .inputs
        .iter()
        .enumerate()
        .map(|(c, input)| (input.key.clone(), points.iter().map(|p| p[c].clone()).collect()))
        .collect();
    document.influence = influence(&columns, &measure);
    document.optimum = optimum(results);
    document
}

fn write_csv(path: &Path, document: &SweepDocument) -> Result<(), Failure> {
    let mut out = csv::Writer::from_writer(AtomicFile::create(path)?);
    let fail = |e: csv::Error| Failure::writing(path, std::io::Error::other(e));
    let mut titles = vec!["point".to_owned()];
    titles.extend(document.inputs.iter().cloned());
    titles.extend(document.metrics.iter().map(|m| m.name.clone()));
    titles.extend(["pareto".to_owned(), "problem".to_owned()]);
    out.write_record(&titles).map_err(fail)?;
    for p in &document.points {
        let mut row = vec![p.point.to_string()];
        row.extend(p.inputs.iter().cloned());
        row.extend(p.values.iter().map(|v| v.map_or_else(String::new, |v| v.to_string())));
        row.push(if p.pareto { "yes" } else { "no" }.to_owned());
        row.push(p.problem.clone().unwrap_or_default());
        out.write_record(&row).map_err(fail)?;
    }
    let file = out.into_inner().map_err(|e| Failure::writing(path, std::io::Error::other(e.to_string())))?;
    file.commit()
}

/// Points of a sweep that are done, one line each, so that an interrupted sweep goes on where it was.
struct Journal {
    path: PathBuf,
    file: std::fs::File,
    known: Vec<Option<PointResult>>,
    failed: Option<std::io::Error>,
}

impl Journal {
    /// Opens the journal of a sweep; one of another sweep is begun anew.
    fn open(path: &Path, identity: u64, points: usize) -> Result<Self, Failure> {
        let head = format!("drycoil sweep {identity:016x} {points}\n");
        let mut known = vec![None; points];
        let text = match std::fs::read_to_string(path) {
            Ok(text) if text.starts_with(&head) => text,
            Ok(_) => String::new(),
            Err(error) if error.kind() == std::io::ErrorKind::NotFound => String::new(),
            Err(error) => return Err(Failure::reading(path, error)),
        };
        // The last line may have been cut off by the interrupt.
        let whole = text.rfind('\n').map_or(0, |end| end + 1);
        for line in text[..whole].lines().skip(1) {
            if let Some((index, result)) = parse_line(line)
                && let Some(slot) = known.get_mut(index)
            {
                *slot = Some(result);
            }
        }
        let mut begun = head;
        for (index, result) in known.iter().enumerate() {
            if let Some(result) = result {
                begun.push_str(&line_of(index, result));
            }
        }
        files::write(path, begun.as_bytes())?;
        let file = std::fs::OpenOptions::new()
            .append(true)
            .open(path)
            .map_err(|error| Failure::writing(path, error))?;
        Ok(Self { path: path.to_path_buf(), file, known, failed: None })
    }

    fn add(&mut self, index: usize, result: &PointResult) {
        if self.failed.is_none()
            && let Err(error) = self.file.write_all(line_of(index, result).as_bytes())
        {
            self.failed = Some(error);
        }
    }

    fn check(&self) -> Result<(), Failure> {
        match &self.failed {
            Some(error) => {
                Err(Failure::writing(&self.path, std::io::Error::new(error.kind(), error.to_string())))
            }
            None => Ok(()),
        }
    }

    fn remove(self) {
        drop(self.file);
        // The results are written; a journal that stays behind is only read again.
        let _ = std::fs::remove_file(&self.path);
    }
}

/// One line: index, then `value` or `-` for each metric, then the problem. The shortest text of a number reads back as
/// the same bits.
fn line_of(index: usize, result: &PointResult) -> String {
    let mut line = index.to_string();
    for v in &result.values {
        match v {
            Some(v) => {
                let _ = write!(line, "\t{v:?}");
            }
            None => line.push_str("\t-"),
        }
    }
    match &result.problem {
        Some(p) => {
            let _ = write!(line, "\t!{}", p.replace(['\t', '\n', '\r'], " "));
        }
        None => line.push_str("\t."),
    }
    line.push('\n');
    line
}

fn parse_line(line: &str) -> Option<(usize, PointResult)> {
    let parts: Vec<&str> = line.split('\t').collect();
    let count = metrics().len();
    if parts.len() != count + 2 {
        return None;
    }
    let index = parts[0].parse().ok()?;
    let values = parts[1..=count]
        .iter()
        .map(|p| if *p == "-" { Some(None) } else { p.parse::<f64>().ok().map(Some) })
        .collect::<Option<Vec<_>>>()?;
    let problem = match parts[count + 1] {
        "." => None,
        text => Some(text.strip_prefix('!')?.to_owned()),
    };
    Some((index, PointResult { values, problem }))
}

/// Lowest and highest share of `80 %..120 %`.
fn share_range(name: &str, text: &str) -> Result<[f64; 2], Failure> {
    let wrong = |why: String| Failure::usage(format!("--{name}: {why}")).hint("as in `80 %..120 %`");
    let (from, to) = text.split_once("..").ok_or_else(|| wrong(format!("`{text}` is no range")))?;
    let share = |t: &str| {
        Fraction::parse(t.trim()).map(drycoil_units::Fraction::to_ratio).map_err(|e| wrong(e.to_string()))
    };
    let (low, high) = (share(from)?, share(to)?);
    if !(0.0 <= low && low <= high && high <= 10.0) {
        return Err(wrong(format!("`{text}` does not rise from at least 0 % to at most 1000 %")));
    }
    Ok([low, high])
}

fn uncertain(
    args: &SweepArgs,
    samples: usize,
    job: &Job,
    folder: &Path,
    context: &mut Context,
) -> Result<Exit, Failure> {
    if samples == 0 || samples > drycoil_year::sweep::plan::MOST_POINTS {
        return Err(Failure::usage(format!("{samples} samples cannot be drawn")).hint("200 are usual"));
    }
    let project = &job.loaded.project;
    let error = args.sensor_error.unwrap_or(project.criteria.sensor_error.value).to_kelvin();
    if error < 0.0 {
        return Err(Failure::usage("--sensor-error: the bound of an error is not negative"));
    }
    let what = Uncertainty {
        samples,
        seed: args.seed.unwrap_or(1),
        people: share_range("people", &args.people)?,
        infiltration: share_range("infiltration", &args.infiltration)?,
        sensor_error_k: error,
    };
    let settings = super::year::settings(project, args.step, Some(SchemeWord::Decoupled))?;
    let pool = context.pool()?;
    let design =
        drycoil_sizing::size(project, &job.weather.year, &pool).map_err(|e| Failure::Findings(e.findings))?;
    let drawn = what.draw();
    let bar = Progress::new(&context.settings, "samples", samples as u64);
    let results = run::run(
        &vec![None; samples],
        &pool,
        &|index| -> Result<Vec<Option<f64>>, String> {
            let sample = &drawn[index];
            let varied = sample.project(project).map_err(|list| first(&list))?;
            let settings = RunSettings { sensor_error_k: sample.sensor_error_k, ..settings.clone() };
            alone(|cache, pool| {
                let weather = &job.weather.year;
                let year = super::year::simulate_quietly(&varied, &design, weather, &settings, cache, pool)?;
                Ok(sample.margins(&year))
            })
        },
        &|_, _| bar.advance(1),
    );
    drop(bar);
    let margins: Vec<Vec<Option<f64>>> = results.iter().filter_map(|r| r.clone().ok()).collect();
    let rooms: Vec<&str> = project.rooms.iter().map(|r| r.id.as_str()).collect();
    let mut document = UncertaintyDocument::new(project, crate::VERSION);
    document.method = format!(
        "{samples} years (Latin hypercube, seed {}); people {} and facade leakage {} of the project, dew-point sensors \
         that the control acts on off by up to {}, each uniform and the same all year; the design is not changed",
        what.seed,
        args.people,
        args.infiltration,
        TemperatureDifference::kelvin(error).show(project.told_units())
    );
    document.samples = drawn;
    document.rooms = probabilities(&rooms, &margins);
    let wet = margins.iter().filter(|m| m.iter().flatten().any(|k| *k < 0.0)).count();
    document.any_wet = if margins.is_empty() { 0.0 } else { wet as f64 / margins.len() as f64 };
    document.problems = results.iter().filter_map(|r| r.clone().err()).collect();

    files::create_folder(folder)?;
    let file = folder.join("wet-probability.json");
    let mut json = serde_json::to_vec_pretty(&document)?;
    json.push(b'\n');
    files::write(&file, &json)?;
    let list: Vec<Finding> = document
        .problems
        .iter()
        .map(|p| Finding::new(kinds::POINT_WITHOUT_RESULT, format!("a sample has no result: {p}")))
        .collect();
    if context.settings.form == Form::Json {
        context.out.write_all(&json)?;
    } else {
        let system = context.settings.unit_system(Some(project.units()));
        let text = sweep::draw_uncertain(&document, system, context.settings.width, args.all);
        context.out.write_all(text.as_bytes())?;
        writeln!(context.out, "\nFindings: {}", findings::summary(&list))?;
        writeln!(context.out, "Written: {}", file.display())?;
        context.out.flush()?;
    }
    Ok(context.log_findings(&list))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_of_the_journal_reads_back_as_the_same_bits() {
        let mut values = vec![None; metrics().len()];
        values[0] = Some(0.1 + 0.2);
        values[3] = Some(-1.0 / 3.0);
        values[5] = Some(1e300);
        let result = PointResult { values, problem: None };
        assert_eq!(parse_line(line_of(7, &result).trim_end()), Some((7, result)));
        let failed = PointResult::failed("a\treason\nwith breaks");
        let (_, read) = parse_line(line_of(1, &failed).trim_end_matches('\n')).unwrap();
        assert_eq!(read.problem.as_deref(), Some("a reason with breaks"));
        assert_eq!(parse_line("7\t1.0"), None);
    }

    #[test]
    fn a_journal_keeps_whole_lines_of_the_same_sweep_only() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("sweep.part");
        let result = PointResult::failed("no");
        let mut journal = Journal::open(&path, 1, 5).unwrap();
        journal.add(2, &result);
        journal.add(4, &result);
        drop(journal);
        // An interrupt in the middle of a line.
        let text = std::fs::read_to_string(&path).unwrap();
        std::fs::write(&path, &text[..text.len() - 3]).unwrap();
        let journal = Journal::open(&path, 1, 5).unwrap();
        let known: Vec<bool> = journal.known.iter().map(Option::is_some).collect();
        assert_eq!(known, [false, false, true, false, false]);
        drop(journal);
        assert!(Journal::open(&path, 2, 5).unwrap().known.iter().all(Option::is_none));
    }

    #[test]
    fn ranges_of_shares() {
        assert_eq!(share_range("people", "80 %..120 %").unwrap(), [0.8, 1.2]);
        for bad in ["80 %", "120 %..80 %", "0.8..1.2 kg", "-5 %..5 %"] {
            assert!(share_range("people", bad).is_err(), "{bad}");
        }
    }
}
