//! `drycoil new`: begins a project folder.

use crate::project::load;
use crate::{Context, Exit, Failure, files};
use clap::Args;
use drycoil_findings::Finding;
use std::fs;
use std::path::{Path, PathBuf};

/// Arguments of `drycoil new`.
#[derive(Debug, Clone, Args)]
pub struct NewArgs {
    /// Folder to create; it must not exist or must be empty
    #[arg(value_name = "DIR")]
    pub folder: PathBuf,
    /// Begin with the smallest project instead of a copy of the demo
    #[arg(long, conflicts_with = "rooms")]
    pub blank: bool,
    /// Begin with the rooms of this room list, CSV or XLSX; the folder is written also where the list has errors, which exit
    /// with 2
    #[arg(long, value_name = "FILE")]
    pub rooms: Option<PathBuf>,
}

/// Name of the weather file in a copy of the demo.
const DEMO_WEATHER: &str = "greensboro-nc-tmy3.csv";

/// The files of the demo project; a test compares the list with the folder.
const DEMO: &[(&str, &str)] = &[
    ("project.toml", include_str!("../../../../examples/public-services-building/project.toml")),
    ("rooms.csv", include_str!("../../../../examples/public-services-building/rooms.csv")),
    ("surfaces.csv", include_str!("../../../../examples/public-services-building/surfaces.csv")),
];

/// The weather year of the demo.
const DEMO_YEAR: &[u8] = include_bytes!("../../../../examples/weather/greensboro-nc-tmy3.csv");

const BLANK_PROJECT: &str = include_str!("../../data/blank-project.toml");
const BLANK_ROOMS: &str = include_str!("../../data/blank-rooms.csv");

/// Runs the command.
pub fn run(args: &NewArgs, context: &mut Context) -> Result<Exit, Failure> {
    let folder = &args.folder;
    let mut written: Vec<(String, Vec<u8>)> = Vec::new();
    if let Some(list) = &args.rooms {
        written.push(("project.toml".into(), BLANK_PROJECT.into()));
        written.push((room_list_name(list)?.into(), files::read(list)?));
    } else if args.blank {
        written.push(("project.toml".into(), BLANK_PROJECT.into()));
        written.push(("rooms.csv".into(), BLANK_ROOMS.into()));
    } else {
        written = demo();
    }
    refuse_used(folder)?;
    files::create_folder(folder)?;
    for (name, bytes) in &written {
        files::write(&folder.join(name), bytes)?;
    }
    writeln!(context.out, "{}", folder.display())?;
    for (name, _) in &written {
        writeln!(context.out, "  {name}")?;
    }
    context.out.flush()?;
    if args.blank {
        context.note(
            "next: name the weather file in project.toml, fill rooms.csv, then `drycoil check` the folder",
        );
        return Ok(Exit::Clean);
    }
    if args.rooms.is_some() {
        let list = match load(folder, context) {
            Ok(job) => job.notes(),
            Err(Failure::Findings(list)) => list,
            Err(failure) => return Err(failure),
        };
        context.log_findings(&list);
        context.note("next: mend what is listed above, name the weather file in project.toml, then `drycoil check` the folder");
        // A project that is just begun lacks its weather file; an error of the room list is bad input.
        let of_list = |f: &Finding| {
            let file = f.places.first().and_then(|p| p.file.as_deref());
            f.is_bad_input() && file.is_some_and(|file| file.starts_with("rooms."))
        };
        if list.iter().any(of_list) {
            return Ok(Exit::BadInput);
        }
    } else {
        context.note("next: `drycoil check` the folder, then `drycoil size` it");
    }
    Ok(Exit::Clean)
}

/// The files of a copy of the demo.
fn demo() -> Vec<(String, Vec<u8>)> {
    let of = |(name, text): &(&str, &str)| {
        let text =
            if *name == "project.toml" { with_weather(text, DEMO_WEATHER) } else { (*text).to_owned() };
        ((*name).to_owned(), text.into_bytes())
    };
    DEMO.iter().map(of).chain([(DEMO_WEATHER.to_owned(), DEMO_YEAR.to_vec())]).collect()
}

/// Copies the demo into a folder that does not exist or is empty.
pub fn copy_demo(folder: &Path) -> Result<(), Failure> {
    refuse_used(folder)?;
    files::create_folder(folder)?;
    demo().iter().try_for_each(|(name, bytes)| files::write(&folder.join(name), bytes))
}

/// Nothing is ever written over.
fn refuse_used(folder: &Path) -> Result<(), Failure> {
    match fs::read_dir(folder) {
        Ok(mut entries) => match entries.next() {
            None => Ok(()),
            Some(_) => Err(Failure::usage(format!("`{}` is not empty", folder.display()))
                .hint("name a folder that does not exist yet")),
        },
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => Ok(()),
        Err(_) if folder.is_file() => Err(Failure::usage(format!("`{}` is a file", folder.display()))
            .hint("name a folder that does not exist yet")),
        Err(error) => Err(Failure::reading(folder, error)),
    }
}

/// The name that a room list has in the project.
fn room_list_name(list: &Path) -> Result<&'static str, Failure> {
    let extension = list.extension().map(|e| e.to_string_lossy().to_ascii_lowercase());
    match extension.as_deref() {
        Some("xlsx") => Ok("rooms.xlsx"),
        Some("csv" | "txt" | "tsv") => Ok("rooms.csv"),
        _ => Err(Failure::usage(format!("`{}` is neither CSV nor XLSX", list.display()))
            .hint("save the room list as `.csv` or `.xlsx`")),
    }
}

/// The text with another weather file.
fn with_weather(text: &str, name: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for line in text.split_inclusive('\n') {
        match line.trim_start().strip_prefix("weather") {
            Some(rest) if rest.trim_start().starts_with('=') => {
                out.push_str("weather = \"");
                out.push_str(name);
                out.push_str("\"\n");
            }
            _ => out.push_str(line),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_whole_demo_is_copied() {
        let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../examples/public-services-building");
        let mut there: Vec<String> = fs::read_dir(folder)
            .unwrap()
            .map(|e| e.unwrap().file_name().to_string_lossy().into_owned())
            .filter(|n| drycoil_intake::project::FILES.contains(&n.as_str()))
            .collect();
        there.sort();
        let mut copied: Vec<&str> = DEMO.iter().map(|(name, _)| *name).collect();
        copied.sort_unstable();
        assert_eq!(there, copied);
    }

    #[test]
    fn only_the_weather_line_changes() {
        let text = "[site]\nweather = \"../x.csv\" # remark\n# weather year\nweather_note = 1\n";
        assert_eq!(
            with_weather(text, "y.csv"),
            "[site]\nweather = \"y.csv\"\n# weather year\nweather_note = 1\n"
        );
    }
}
