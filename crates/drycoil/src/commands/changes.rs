//! `drycoil changes`: what changed between two revisions.

use super::papers::PaperWord;
use crate::project::{FolderFiles, load};
use crate::render::changes as render;
use crate::{Context, Exit, Failure, Form, files};
use clap::Args;
use drycoil_changes::{
    CHANGES_FORMAT, ChangesDocument, Revision, RevisionHead, arisen, compare, compare_documents,
};
use drycoil_findings::Finding;
use drycoil_intake::job::Job;
use drycoil_intake::project::{WrittenValue, written_values};
use drycoil_papers::{Issue, Links, PaperSize, changes_paper};
use drycoil_results::ResultDocument;
use drycoil_sizing::Design;
use drycoil_units::UnitSystem;
use serde_json::Value;
use std::path::{Path, PathBuf};

/// Arguments of `drycoil changes`.
#[derive(Debug, Clone, Args)]
pub struct ChangesArgs {
    /// Old project folder, or an old result file such as results/design.json
    #[arg(value_name = "OLD")]
    pub old: PathBuf,
    /// New project folder, or a new result file
    #[arg(value_name = "NEW")]
    pub new: PathBuf,
    /// List every changed number, also those that look the same in print
    #[arg(long)]
    pub all: bool,
    /// Write the changes as a document (HTML) to this file
    #[arg(long, value_name = "FILE")]
    pub out: Option<PathBuf>,
    /// Paper of the document; without it, Letter for inch-pound units and A4 for SI
    #[arg(long, value_name = "SIZE", requires = "out")]
    pub paper: Option<PaperWord>,
}

/// A revision that was read and sized.
struct Sized {
    job: Job,
    design: Design,
    written: Vec<WrittenValue>,
    findings: Vec<Finding>,
}

impl Sized {
    fn revision(&self) -> Revision<'_> {
        Revision {
            project: &self.job.loaded.project,
            design: &self.design,
            written: &self.written,
            findings: &self.findings,
        }
    }

    fn document(&self) -> ResultDocument<'_> {
        ResultDocument::new(&self.job.loaded.project, &self.design, &self.findings, crate::VERSION)
    }
}

fn size(folder: &Path, context: &mut Context) -> Result<Sized, Failure> {
    let read = |context: &mut Context| -> Result<Sized, Failure> {
        let job = load(folder, context)?;
        let written = written_values(&FolderFiles::open(folder)?);
        let pool = context.pool()?;
        let project = &job.loaded.project;
        let design = drycoil_sizing::size(project, &job.weather.year, &pool)
            .map_err(|e| Failure::Findings(e.findings))?;
        let mut findings = job.notes();
        findings.extend(design.findings.iter().cloned());
        Ok(Sized { job, design, written, findings })
    };
    // Files of both folders have the same names, so it is said which one is meant.
    read(context).inspect_err(|failure| {
        if matches!(failure, Failure::Findings(_)) {
            context.note(&format!("in {}:", folder.display()));
        }
    })
}

fn head(document: &ResultDocument<'_>) -> RevisionHead {
    RevisionHead {
        project: document.project.clone(),
        revision: document.revision.clone(),
        fingerprint: document.fingerprint.clone(),
    }
}

/// Runs the command.
pub fn run(args: &ChangesArgs, context: &mut Context) -> Result<Exit, Failure> {
    match (args.old.is_dir(), args.new.is_dir()) {
        (true, true) => projects(args, context),
        (false, false) => documents(args, context),
        _ => Err(Failure::usage("one is a folder and the other is not")
            .hint("give two project folders, or two result files")),
    }
}

fn projects(args: &ChangesArgs, context: &mut Context) -> Result<Exit, Failure> {
    let old = size(&args.old, context)?;
    let new = size(&args.new, context)?;
    let system = context.settings.unit_system(Some(new.job.loaded.project.units()));
    let pool = context.pool()?;
    let changes = compare(old.revision(), new.revision(), system, &pool);
    let (before, after) = (old.document(), new.document());
    let document = ChangesDocument {
        format: CHANGES_FORMAT,
        program: crate::VERSION.to_owned(),
        before: head(&before),
        after: head(&after),
        changes: Some(changes),
        keys: None,
    };
    if let Some(path) = &args.out {
        let default_paper = if system == UnitSystem::Ip { PaperSize::Letter } else { PaperSize::A4 };
        let issue = Issue {
            project: &new.job.loaded.project,
            design: &new.design,
            document: &after,
            findings: &new.findings,
            year: None,
            defaults: &[],
            weather: &new.job.loaded.weather_file,
            system,
            paper: args.paper.map_or(default_paper, Into::into),
            links: Links::WithinFile,
        };
        files::write(path, changes_paper(&issue, &document).html.as_bytes())?;
    }
    if context.settings.form == Form::Json {
        context.print_json(&document)?;
    } else {
        let text = render::draw(&document, system, context.settings.width, args.all);
        context.out.write_all(text.as_bytes())?;
        if let Some(path) = &args.out {
            writeln!(context.out, "Written: {}", path.display())?;
        }
        context.out.flush()?;
    }
    // What the old revision had already is no news.
    let news: Vec<Finding> = arisen(&old.findings, &new.findings).into_iter().cloned().collect();
    Ok(context.log_findings(&news))
}

fn documents(args: &ChangesArgs, context: &mut Context) -> Result<Exit, Failure> {
    if args.out.is_some() {
        return Err(Failure::usage("result files hold no inputs, so no document is made of them")
            .hint("compare the two project folders"));
    }
    let old = result_file(&args.old)?;
    let new = result_file(&args.new)?;
    if old["format"] != new["format"] {
        return Err(Failure::bad_input(format!(
            "the files have different formats: {} and {}",
            old["format"], new["format"]
        ))
        .hint("write both anew with one version of the program"));
    }
    let sort = |v: &Value| ["design", "year", "points"].into_iter().find(|k| v.get(*k).is_some());
    if sort(&old) != sort(&new) {
        return Err(Failure::bad_input("one file is of a design and the other is not"));
    }
    let text = |v: &Value, key: &str| v[key].as_str().unwrap_or_default().to_owned();
    let head = |v: &Value| RevisionHead {
        project: text(v, "project"),
        revision: text(v, "revision"),
        fingerprint: text(v, "fingerprint"),
    };
    let document = ChangesDocument {
        format: CHANGES_FORMAT,
        program: crate::VERSION.to_owned(),
        before: head(&old),
        after: head(&new),
        changes: None,
        keys: Some(compare_documents(&old, &new)),
    };
    if context.settings.form == Form::Json {
        context.print_json(&document)?;
    } else {
        let text = render::draw(&document, UnitSystem::Si, context.settings.width, args.all);
        context.out.write_all(text.as_bytes())?;
        context.out.flush()?;
    }
    Ok(Exit::Clean)
}

/// A result file of this program.
fn result_file(path: &Path) -> Result<Value, Failure> {
    let bytes = files::read(path)?;
    let value: Value = serde_json::from_slice(&bytes)
        .map_err(|error| Failure::bad_input(format!("`{}` is not JSON: {error}", path.display())))?;
    let ours = ["format", "program", "fingerprint"].iter().all(|key| value.get(*key).is_some());
    if !ours {
        return Err(Failure::bad_input(format!("`{}` is no result file", path.display()))
            .hint("`drycoil size PROJECT` writes results/design.json"));
    }
    Ok(value)
}
