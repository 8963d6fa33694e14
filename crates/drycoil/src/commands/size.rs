//! `drycoil size`: the design-day design of a project.

use crate::project::load;
use crate::render::design::{Terminals, draw};
use crate::render::findings;
use crate::{Context, Exit, Failure, Form, files};
use clap::Args;
use drycoil_results::ResultDocument;
use std::path::PathBuf;

/// Arguments of `drycoil size`.
#[derive(Debug, Clone, Args)]
pub struct SizeArgs {
    /// Project folder
    #[arg(value_name = "PROJECT")]
    pub project: PathBuf,
    /// Folder for the result files; without it, `results` in the project folder
    #[arg(long, value_name = "DIR")]
    pub out: Option<PathBuf>,
    /// List every terminal, not only those with the smallest dew-point margins
    #[arg(long)]
    pub all: bool,
}

/// Runs the command.
pub fn run(args: &SizeArgs, context: &mut Context) -> Result<Exit, Failure> {
    let job = load(&args.project, context)?;
    let project = &job.loaded.project;
    let pool = context.pool()?;
    let design =
        drycoil_sizing::size(project, &job.weather.year, &pool).map_err(|e| Failure::Findings(e.findings))?;
    let mut list = job.notes();
    list.extend(design.findings.iter().cloned());
    let system = context.settings.unit_system(Some(project.units()));

    let document = ResultDocument::new(project, &design, &list, crate::VERSION);
    let folder = args.out.clone().unwrap_or_else(|| args.project.join("results"));
    files::create_folder(&folder)?;
    let (design_file, schedules_file) = (folder.join("design.json"), folder.join("schedules.xlsx"));
    let (json, book) = pool.install(|| {
        rayon::join(
            || -> Result<Vec<u8>, Failure> {
                let json = document.to_json()?;
                files::write(&design_file, &json)?;
                Ok(json)
            },
            || -> Result<(), Failure> {
                let book = drycoil_papers::schedules_xlsx(project, &design, &document, &list, system)
                    .map_err(|error| Failure::Stream(std::io::Error::other(error.to_string())))?;
                files::write(&schedules_file, &book)
            },
        )
    });
    let json = json?;
    book?;

    if context.settings.form == Form::Json {
        context.out.write_all(&json)?;
    } else {
        let which = if args.all { Terminals::All } else { Terminals::Smallest };
        let text = draw(project, &design, system, context.settings.width, which);
        context.out.write_all(text.as_bytes())?;
        writeln!(context.out, "\nFindings: {}", findings::summary(&list))?;
        writeln!(context.out, "Written: {}", design_file.display())?;
        writeln!(context.out, "         {}", schedules_file.display())?;
        context.out.flush()?;
    }
    Ok(context.log_findings(&list))
}
