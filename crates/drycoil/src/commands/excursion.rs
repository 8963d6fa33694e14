//! `drycoil excursion`: upsets of minutes to hours under the dew-point sequence.

use crate::files::{self, AtomicFile};
use crate::project::load;
use crate::render::{excursion as render, findings};
use crate::{Context, Exit, Failure, Form};
use clap::Args;
use drycoil_control::excursion::building::{Building, BuildingError};
use drycoil_control::excursion::case::Case;
use drycoil_control::excursion::library::library;
use drycoil_control::excursion::read::read_cases;
use drycoil_control::excursion::result::{Criteria, Excursion, ExcursionResult, excursions};
use drycoil_control::excursion::sample::robustness;
use drycoil_control::settings::sequence_settings;
use drycoil_findings::registry::excursion as ex;
use drycoil_findings::{Finding, Place, did_you_mean};
use drycoil_pictures::Options;
use drycoil_results::ExcursionDocument;
use drycoil_units::{Quantity, Time};
use drycoil_year::prepare::ReductionCache;
use std::io::Write as _;
use std::path::{Path, PathBuf};

/// Interval of histories, s.
const HISTORY_S: f64 = 60.0;
/// Largest part of a balance that may be missing.
const CLOSED: f64 = 1e-9;

/// Arguments of `drycoil excursion`.
#[derive(Debug, Clone, Args)]
pub struct ExcursionArgs {
    /// Project folder
    #[arg(value_name = "PROJECT")]
    pub project: PathBuf,
    /// Run this case only; may be given more than once
    #[arg(long, value_name = "NAME")]
    pub case: Vec<String>,
    /// Run the cases of this TOML file instead of the library
    #[arg(long, value_name = "FILE")]
    pub cases: Option<PathBuf>,
    /// List the cases, with what happens in each of them, and run nothing
    #[arg(long)]
    pub list: bool,
    /// Time step, 1 s to 60 s, a whole part of a minute; without it, 5 s
    #[arg(long, value_name = "TIME", value_parser = crate::cli::quantity::<Time>)]
    pub step: Option<Time>,
    /// Write the minutes of the cases, zone by zone, to this CSV file
    #[arg(long, value_name = "FILE")]
    pub history: Option<PathBuf>,
    /// Write a picture of the zone with the smallest margin of each case to this folder
    #[arg(long, value_name = "DIR")]
    pub pictures: Option<PathBuf>,
    /// Draw this many samples of errors, settings and unknowns for the one case named, 30 to 100000
    #[arg(long, value_name = "N", requires = "case")]
    pub sample: Option<usize>,
    /// Seed of the samples
    #[arg(long, value_name = "SEED", default_value_t = 1, requires = "sample")]
    pub seed: u64,
    /// Folder for the result file; without it, `results` in the project folder
    #[arg(long, value_name = "DIR")]
    pub out: Option<PathBuf>,
    /// List every zone, not only those that were upset
    #[arg(long)]
    pub all: bool,
}

/// The cases that are asked for.
fn chosen(all: Vec<Case>, names: &[String]) -> Result<Vec<Case>, Failure> {
    for name in names {
        if !all.iter().any(|c| c.name == *name) {
            let failure = Failure::usage(format!("there is no case `{name}`"));
            return Err(match did_you_mean(name, all.iter().map(|c| c.name.as_str())) {
                Some(near) => failure.hint(format!("did you mean `{near}`?")),
                None => failure.hint("`--list` shows all cases"),
            });
        }
    }
    Ok(all.into_iter().filter(|c| names.is_empty() || names.contains(&c.name)).collect())
}

/// What a result gives reason to say.
fn told(r: &ExcursionResult) -> Vec<Finding> {
    let at = |zone: &str| Place::part(format!("zone {zone}"));
    let mut out = Vec::new();
    for z in r.zones.iter().filter(|z| z.water.dripped_kg > 0.0) {
        out.push(
            Finding::new(
                ex::DRIPS,
                format!("in case {} water drips from the coil of zone {}", r.case, z.zone),
            )
            .at(at(&z.zone))
            .value(format!("{:.0} g", 1e3 * z.water.dripped_kg))
            .allowed("0 g"),
        );
    }
    for c in r.criteria.iter().filter(|c| !c.passed && c.unit != "kg") {
        let (factor, unit) = if c.unit == "s" { (1.0 / 60.0, "min") } else { (100.0, "%") };
        let mut missed = Finding::new(
            ex::CRITERION_MISSED,
            format!("case {} misses a criterion: {}", r.case, c.criterion),
        );
        if c.unit == "s"
            && let Some(best) = r.best_recovery_s
        {
            missed = missed.hint(format!(
                "with every dew point known at once the same plant would take {:.0} min",
                best / 60.0
            ));
        }
        out.push(
            missed
                .at(at(&r.worst_zone))
                .value(c.value.map_or_else(
                    || "did not come to rest within the case".to_owned(),
                    |v| format!("{:.0} {unit}", v * factor),
                ))
                .allowed(format!("{:.0} {unit}", c.allowed * factor)),
        );
    }
    if let Some(share) = r.cooling_lost_to_upset_share.filter(|share| *share >= 0.005) {
        out.push(
            Finding::new(
                ex::LOST_TO_UPSET,
                format!("case {} takes cooling that no control could have kept dry", r.case),
            )
            .value(format!(
                "{:.0} % of {:.0} % lost",
                100.0 * share,
                100.0 * r.cooling_lost_share.unwrap_or(0.0)
            )),
        );
    }
    let c = &r.closure;
    for (what, missing) in [
        ("water of a room", c.room_water),
        ("heat of a room", c.room_heat),
        ("water on a coil", c.coil_water),
    ] {
        if missing > CLOSED || missing.is_nan() {
            out.push(
                Finding::new(
                    ex::UNBALANCED,
                    format!("case {}: the balance of the {what} does not close", r.case),
                )
                .value(format!("{missing:.1e}"))
                .allowed(format!("{CLOSED:.0e}")),
            );
        }
    }
    out
}

fn write_history(path: &Path, building: &Building, all: &[Excursion]) -> Result<(), Failure> {
    use std::fmt::Write as _;
    let mut file = AtomicFile::create(path)?;
    let mut text = String::from(
        "case,time_s,place,stage,outdoor_dew_point_c,primary_dew_point_c,water_c,dew_point_c,sensed_dew_point_c,\
         room_c,surface_c,film_kg,dripped_kg,coil_w,primary_kg_per_s,valve\n",
    );
    for e in all {
        for m in &e.run.history {
            let _ = writeln!(
                text,
                "{},{},building,{},{},{},{},,,,,,,,,",
                e.case.name, m.time_s, m.stage, m.outdoor_dew_point_c, m.primary_dew_point_c, m.water_c
            );
            for (zone, z) in building.zones.iter().zip(&m.zones) {
                let id = if zone.id.contains([',', '"']) {
                    format!("\"{}\"", zone.id.replace('"', "\"\""))
                } else {
                    zone.id.clone()
                };
                let _ = writeln!(
                    text,
                    "{},{},{id},{},,,{},{},{},{},{},{},{},{},{},{}",
                    e.case.name,
                    m.time_s,
                    z.stage,
                    z.water_c,
                    z.dew_point_c,
                    z.sensed_dew_point_c,
                    z.room_c,
                    z.surface_c,
                    z.film_kg,
                    z.dripped_kg,
                    z.coil_w,
                    z.primary_kg_per_s,
                    z.valve
                );
            }
        }
    }
    file.write_all(text.as_bytes()).map_err(|error| Failure::writing(path, error))?;
    file.commit()
}

/// Runs the command.
pub fn run(args: &ExcursionArgs, context: &mut Context) -> Result<Exit, Failure> {
    let step_s = args.step.map_or(5.0, Quantity::si);
    let part = 60.0 / step_s;
    if !(1.0..=60.0).contains(&step_s) || (part - part.round()).abs() > 1e-9 {
        return Err(Failure::usage(BuildingError::Step { step_s }.to_string())
            .hint("5 s is usual; a shorter one shows how much the step matters"));
    }
    if args.sample.is_some_and(|n| !(30..=100_000).contains(&n))
        || (args.sample.is_some() && args.case.len() != 1)
    {
        return Err(Failure::usage("--sample takes 30 to 100000 samples of one case")
            .hint("name the case with --case, for example --case door-open --sample 1000"));
    }
    let job = load(&args.project, context)?;
    let project = &job.loaded.project;
    let weather = &job.weather.year;
    let system = context.settings.unit_system(Some(project.units()));
    let pool = context.pool()?;
    let design = drycoil_sizing::size(project, weather, &pool).map_err(|e| Failure::Findings(e.findings))?;
    let sequence = sequence_settings(project, &design).map_err(Failure::Findings)?;
    let building =
        Building::new(project, &design, &sequence, weather, step_s, &mut ReductionCache::default(), &pool)
            .map_err(|error| Failure::bad_input(format!("no excursion can be simulated: {error}")))?;
    let (cases, criteria) = match &args.cases {
        None => (library(&building), Criteria::default()),
        Some(path) => {
            let bytes = files::read(path)?;
            let name = path.file_name().map_or_else(String::new, |n| n.to_string_lossy().into_owned());
            context.sources.add(name.clone(), String::from_utf8_lossy(&bytes).into_owned());
            let file = read_cases(&name, &bytes, &building).map_err(Failure::Findings)?;
            (file.cases, file.criteria)
        }
    };
    let cases = chosen(cases, &args.case)?;
    if args.list {
        for case in &cases {
            writeln!(context.out, "{:20} {}\n{:20} {}", case.name, case.title, "", case.story)?;
        }
        context.out.flush()?;
        return Ok(Exit::Clean);
    }

    // Places that cannot be written are known before the long work.
    let folder = args.out.clone().unwrap_or_else(|| args.project.join("results"));
    files::create_folder(&folder)?;
    let file = folder.join("excursion.json");
    let mut written = AtomicFile::create(&file)?;
    if let Some(pictures) = &args.pictures {
        files::create_folder(pictures)?;
    }
    let keeps = args.history.is_some() || args.pictures.is_some();
    let all = excursions(&building, &cases, &criteria, keeps.then_some(HISTORY_S), &pool)
        .map_err(|error| Failure::bad_input(error.to_string()))?;

    let mut list = job.notes();
    list.extend(design.findings.iter().cloned());
    list.extend(sequence.findings.iter().cloned());
    list.extend(all.iter().flat_map(|e| told(&e.result)));
    let mut samples = Vec::new();
    if let (Some(count), [case]) = (args.sample, cases.as_slice()) {
        let found = robustness(&building, case, count, args.seed, &pool)
            .map_err(|error| Failure::bad_input(format!("case {}: {error}", case.name)))?;
        samples.push(found);
    }
    let results: Vec<&ExcursionResult> = all.iter().map(|e| &e.result).collect();
    let json = ExcursionDocument::new(
        project,
        results.clone(),
        &samples,
        &building.physics.listed(),
        &list,
        crate::VERSION,
    )
    .to_json()?;
    written.write_all(&json).map_err(|error| Failure::writing(&file, error))?;
    written.commit()?;
    let mut paths = vec![file];
    if let Some(path) = &args.history {
        write_history(path, &building, &all)?;
        paths.push(path.clone());
    }
    if let Some(folder) = &args.pictures {
        for e in &all {
            let path = folder.join(format!("{}.svg", e.case.name));
            let drawn = drycoil_papers::pictures::excursion(
                &building,
                e,
                &e.result.worst_zone,
                &Options::new(system, "excursion"),
            )
            .map_err(|error| Failure::Stream(std::io::Error::other(format!("no picture: {error}"))))?;
            files::write(&path, drawn.svg().as_bytes())?;
            paths.push(path);
        }
    }

    if context.settings.form == Form::Json {
        context.out.write_all(&json)?;
    } else {
        let width = context.settings.width;
        let text = match results.as_slice() {
            [one] => render::case(one, system, width, args.all),
            many => render::overview(many, system, width),
        };
        context.out.write_all(text.as_bytes())?;
        for found in &samples {
            context.out.write_all(render::robustness(found, width).as_bytes())?;
        }
        writeln!(context.out, "\nFindings: {}", findings::summary(&list))?;
        for (i, path) in paths.iter().enumerate() {
            writeln!(context.out, "{} {}", if i == 0 { "Written:" } else { "        " }, path.display())?;
        }
    }
    context.out.flush()?;
    Ok(context.log_findings(&list))
}
