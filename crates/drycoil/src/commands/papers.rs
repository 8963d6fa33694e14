//! `drycoil papers`: documents for a checker, a contractor and an owner.

use super::year;
use crate::browser::{self, Surroundings};
use crate::files::{self, ScratchFolder};
use crate::project::load;
use crate::render::findings;
use crate::render::progress::Progress;
use crate::{Context, Exit, Failure, Form};
use clap::{Args, ValueEnum};
use drycoil_intake::job::Job;
use drycoil_papers::{AppliedDefault, Issue, Links, PaperFile, PaperSize, papers, schedules_xlsx};
use drycoil_results::{ResultDocument, YearParts};
use drycoil_units::UnitSystem;
use drycoil_year::prepare::ReductionCache;
use rayon::prelude::*;
use serde_json::json;
use std::path::{Path, PathBuf};

/// Arguments of `drycoil papers`.
#[derive(Debug, Clone, Args)]
pub struct PapersArgs {
    /// Project folder
    #[arg(value_name = "PROJECT")]
    pub project: PathBuf,
    /// Folder for the documents; without it, `papers` in the project folder
    #[arg(long, value_name = "DIR")]
    pub out: Option<PathBuf>,
    /// Paper to print on; without it, Letter for inch-pound units and A4 for SI
    #[arg(long, value_name = "SIZE")]
    pub paper: Option<PaperWord>,
    /// Print every document to PDF as well, with an installed browser of the Chromium family
    #[arg(long)]
    pub pdf: bool,
    /// The browser that prints; without it that of the variable BROWSER or the first that is installed
    #[arg(long, value_name = "PROGRAM", requires = "pdf")]
    pub browser: Option<PathBuf>,
    /// Leave the year out: no comparison of the schemes, no cost
    #[arg(long)]
    pub without_year: bool,
}

/// A paper size on the command line.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum PaperWord {
    /// 8.5 by 11 in
    Letter,
    /// 210 by 297 mm
    A4,
}

impl From<PaperWord> for PaperSize {
    fn from(word: PaperWord) -> Self {
        match word {
            PaperWord::Letter => Self::Letter,
            PaperWord::A4 => Self::A4,
        }
    }
}

/// The weather in words.
pub(crate) fn weather_words(job: &Job) -> String {
    let year = &job.weather.year;
    format!(
        "{} ({}), station {}, {} hours",
        job.loaded.weather_file,
        year.format(),
        year.station().name,
        year.hours()
    )
}

/// The defaults that applied.
pub(crate) fn applied_defaults(job: &Job) -> Vec<AppliedDefault> {
    job.loaded
        .defaults
        .iter()
        .map(|d| AppliedDefault {
            key: d.key.clone(),
            text: d.text.clone(),
            rule: d.rule.clone(),
            source: d.source.clone(),
        })
        .collect()
}

/// Runs the command.
pub fn run(args: &PapersArgs, context: &mut Context) -> Result<Exit, Failure> {
    // A browser that is missing is known before the long work.
    let browser = if args.pdf {
        Some(browser::find(args.browser.as_deref(), &Surroundings::of_process())?)
    } else {
        None
    };
    let job = load(&args.project, context)?;
    let project = &job.loaded.project;
    let system = context.settings.unit_system(Some(project.units()));
    let pool = context.pool()?;
    let design =
        drycoil_sizing::size(project, &job.weather.year, &pool).map_err(|e| Failure::Findings(e.findings))?;
    let folder = args.out.clone().unwrap_or_else(|| args.project.join("papers"));
    files::create_folder(&folder)?;

    let mut list = job.notes();
    list.extend(design.findings.iter().cloned());
    let simulated = if args.without_year {
        None
    } else {
        let settings = year::settings(project, None, None)?;
        let weather = &job.weather.year;
        let mut cache = ReductionCache::default();
        let year =
            year::simulate_quietly(project, &design, weather, &settings, &mut cache, &pool).map_err(|e| {
                Failure::bad_input(format!("the year cannot be simulated: {e}"))
                    .hint("--without-year issues the design alone")
            })?;
        let told = year::tell(project, &design, weather, &year)?;
        list.extend(told.findings.iter().cloned());
        Some((year, told))
    };

    let document = ResultDocument::new(project, &design, &list, crate::VERSION);
    let defaults = applied_defaults(&job);
    let weather = weather_words(&job);
    let default_paper = if system == UnitSystem::Ip { PaperSize::Letter } else { PaperSize::A4 };
    let issue = Issue {
        project,
        design: &design,
        document: &document,
        findings: &list,
        year: simulated.as_ref().map(|(year, told)| YearParts::of(year, told)),
        defaults: &defaults,
        weather: &weather,
        system,
        paper: args.paper.map_or(default_paper, Into::into),
        links: Links::BetweenFiles,
    };
    let (set, book) = pool.install(|| {
        rayon::join(
            || papers(&issue, &pool),
            || {
                schedules_xlsx(project, &design, &document, &list, system)
                    .map_err(|error| Failure::Stream(std::io::Error::other(error.to_string())))
            },
        )
    });
    let book = book?;
    let mut written: Vec<PathBuf> = set.iter().map(|paper| folder.join(paper.file_name())).collect();
    pool.install(|| {
        set.par_iter().zip(&written).try_for_each(|(paper, path)| files::write(path, paper.html.as_bytes()))
    })?;
    let workbook = folder.join("schedules.xlsx");
    files::write(&workbook, &book)?;
    written.push(workbook);
    if let Some(browser) = &browser {
        let alone = Issue { links: Links::WithinFile, ..issue };
        written.extend(print(browser, &papers(&alone, &pool), &folder, context)?);
    }

    for paper in &set {
        for reason in &paper.not_drawn {
            context.note(&format!("{}: {reason}", paper.file_name()));
        }
    }
    for old in older(&folder, &written)? {
        context.note(&format!("{} is of an earlier issue and was not written now", old.display()));
    }
    if context.settings.form == Form::Json {
        let names: Vec<String> = written.iter().map(|p| p.display().to_string()).collect();
        context.print_json(&json!({
            "project": document.project,
            "revision": document.revision,
            "fingerprint": document.fingerprint,
            "program": document.program,
            "files": names,
        }))?;
    } else {
        for (paper, path) in set.iter().zip(&written) {
            writeln!(context.out, "{}: {}", paper.title, path.display())?;
        }
        for path in &written[set.len()..] {
            writeln!(context.out, "{}", path.display())?;
        }
        writeln!(context.out, "Findings: {}", findings::summary(&list))?;
        context.out.flush()?;
    }
    Ok(context.log_findings(&list))
}

/// Prints documents to PDF beside the others.
fn print(
    browser: &Path,
    set: &[PaperFile],
    folder: &Path,
    context: &mut Context,
) -> Result<Vec<PathBuf>, Failure> {
    let scratch = ScratchFolder::create(folder, "printing")?;
    let bar = Progress::new(&context.settings, "papers", set.len() as u64);
    let mut written = Vec::with_capacity(set.len());
    for paper in set {
        let html = scratch.path().join(paper.file_name());
        let pdf = scratch.path().join(format!("{}.pdf", paper.name));
        files::write(&html, paper.html.as_bytes())?;
        browser::print(browser, &html, &pdf, &scratch.path().join("profile"))?;
        let mut bytes = files::read(&pdf)?;
        browser::without_dates(&mut bytes);
        let target = folder.join(format!("{}.pdf", paper.name));
        files::write(&target, &bytes)?;
        written.push(target);
        bar.advance(1);
    }
    Ok(written)
}

/// Documents in the folder that bear a name of ours and were not written now.
fn older(folder: &Path, written: &[PathBuf]) -> Result<Vec<PathBuf>, Failure> {
    let reading = |error| Failure::reading(folder, error);
    let mut found = Vec::new();
    for entry in std::fs::read_dir(folder).map_err(reading)? {
        let path = entry.map_err(reading)?.path();
        let stem = path.file_stem().unwrap_or_default().to_string_lossy().into_owned();
        let ending = path.extension().unwrap_or_default();
        let ours = ["owners-page", "design-basis", "room-sheets", "schedules"].contains(&stem.as_str())
            || stem.strip_prefix("calculation-book-").is_some_and(|n| n.parse::<u32>().is_ok());
        if ours && (ending == "html" || ending == "pdf") && !written.contains(&path) {
            found.push(path);
        }
    }
    found.sort();
    Ok(found)
}
