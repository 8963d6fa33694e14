//! Second opinions: states that the program computed, judged by general-purpose libraries.
//!
//! An example of a crate prints thousands of seeded random states; a script reads them and compares, with a gate on
//! quantiles. The scripts run in an environment below `target` with exactly the pinned packages.

use crate::{Failed, demo, process, read, root, write};
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

/// Where the scripts and the list of packages are.
pub const FOLDER: &str = "proofs/second_opinions";

/// One comparison.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Opinion {
    /// The script.
    pub script: &'static str,
    /// The crate whose example prints the states.
    pub package: &'static str,
    /// The example.
    pub example: &'static str,
    /// Number of states and seed.
    pub arguments: &'static [&'static str],
}

const fn states(script: &'static str, arguments: &'static [&'static str]) -> Opinion {
    Opinion { script, package: "drycoil-proofs", example: "second_opinion_states", arguments }
}

/// Every comparison; a test sees to it that no script is left out.
pub const OPINIONS: &[Opinion] = &[
    Opinion {
        script: "sun_and_sky.py",
        package: "drycoil-sun",
        example: "sun_and_sky_states",
        arguments: &["5000", "1"],
    },
    states("moist_air.py", &["moist_air", "20000", "1"]),
    states("real_gas.py", &["moist_air", "3000", "2"]),
    states("heat_exchange.py", &["heat_exchange", "5000", "3"]),
    states("friction.py", &["friction", "20000", "4"]),
    states("water.py", &["water", "3000", "5"]),
    states("moist_coil.py", &["moist_coil", "120", "6"]),
    states("tower.py", &["tower", "1500", "7"]),
    Opinion { script: "weather_sums.py", package: "drycoil-year", example: "weather_sums", arguments: &[] },
    Opinion {
        script: "structured_text.py",
        package: "drycoil-sequence",
        example: "structured_text",
        arguments: &[],
    },
    Opinion { script: "room_week.py", package: "drycoil-rooms", example: "dump_room", arguments: &[] },
    Opinion { script: "room_year.py", package: "drycoil-year", example: "room_year", arguments: &[] },
];

/// What the scripts share; not a comparison itself.
const SHARED: &str = "gates.py";

/// The script that reads a workbook of schedules back and compares it with the JSON of the same design.
const SPREADSHEET: &str = "spreadsheet.py";

/// Designs whose workbooks are read back: the project and the unit system in which it is issued.
const WORKBOOKS: &[(&str, &str)] = &[("public-services-building", "ip"), ("two-storey-school", "si")];

/// Scripts that no comparison runs, and comparisons whose script is missing.
pub fn unlisted(root: &Path) -> Result<Vec<String>, Failed> {
    let folder = root.join(FOLDER);
    let failed = |error: std::io::Error| Failed::new(format!("cannot list {FOLDER}: {error}"));
    let mut found = Vec::new();
    for entry in std::fs::read_dir(&folder).map_err(failed)? {
        let path = entry.map_err(failed)?.path();
        let name = path.file_name().unwrap_or_default().to_string_lossy().into_owned();
        if path.extension().is_some_and(|e| e == "py")
            && name != SHARED
            && name != SPREADSHEET
            && !OPINIONS.iter().any(|o| o.script == name)
        {
            found.push(format!(
                "{FOLDER}/{name}: not in the list of xtask/src/opinions.rs, so nobody runs it"
            ));
        }
    }
    for script in OPINIONS.iter().map(|o| o.script).chain([SPREADSHEET]) {
        if !folder.join(script).is_file() {
            found.push(format!("{FOLDER}/{script}: listed, but not there"));
        }
    }
    found.sort();
    Ok(found)
}

/// Runs every comparison, and names all that failed.
pub fn run() -> Result<(), Failed> {
    let folder = root().join(FOLDER);
    let python = environment(&folder.join("requirements.txt"))?;
    let mut failed = Vec::new();
    for opinion in OPINIONS {
        eprintln!("+ {} of {} to {}", opinion.example, opinion.package, opinion.script);
        if let Err(Failed(reason)) = one(opinion, &python, &folder) {
            failed.push(reason);
        }
    }
    for (project, system) in WORKBOOKS {
        if let Err(Failed(reason)) = spreadsheet(project, system, &python, &folder) {
            failed.push(reason);
        }
    }
    if failed.is_empty() { Ok(()) } else { Err(Failed::new(failed.join("; "))) }
}

fn spreadsheet(project: &str, system: &str, python: &Path, folder: &Path) -> Result<(), Failed> {
    let out = root().join("target").join("workbooks").join(project);
    let program = demo::build()?;
    let mut size = Command::new(program);
    size.args([
        "size",
        &format!("examples/{project}"),
        "--quiet",
        "--units",
        system,
        "--fail-on",
        "error",
        "--out",
    ]);
    size.arg(&out).stdout(Stdio::null()).stderr(Stdio::null());
    process::run(&mut size)?;
    process::run(
        Command::new(python)
            .arg(folder.join(SPREADSHEET))
            .arg(out.join("design.json"))
            .arg(out.join("schedules.xlsx"))
            .arg(system),
    )
}

fn one(opinion: &Opinion, python: &Path, folder: &Path) -> Result<(), Failed> {
    let named = |what: &str| Failed::new(format!("second opinion {}: {what}", opinion.script));
    let mut states = process::cargo()
        .args([
            "run",
            "--quiet",
            "--locked",
            "--package",
            opinion.package,
            "--example",
            opinion.example,
            "--",
        ])
        .args(opinion.arguments)
        .current_dir(root())
        .stdout(Stdio::piped())
        .spawn()
        .map_err(|error| named(&format!("cannot start the example: {error}")))?;
    let pipe = states.stdout.take().ok_or_else(|| named("the example has no output"))?;
    let judged = Command::new(python)
        .arg(folder.join(opinion.script))
        .stdin(pipe)
        .current_dir(root())
        .status()
        .map_err(|error| named(&format!("cannot start Python: {error}")))?;
    let printed = states.wait().map_err(|error| named(&format!("the example: {error}")))?;
    if !judged.success() {
        return Err(named(&format!("ended with {judged}")));
    }
    if printed.success() { Ok(()) } else { Err(named(&format!("the example ended with {printed}"))) }
}

/// The Python of this machine.
pub fn system_python() -> Option<&'static str> {
    ["python3", "python"].into_iter().find(|name| {
        process::works(Command::new(name).args(["-c", "import sys; sys.exit(sys.version_info < (3, 11))"]))
    })
}

/// The environment with exactly the pinned packages; made anew when the list changes.
fn environment(requirements: &Path) -> Result<PathBuf, Failed> {
    let folder = root().join("target").join("second_opinions_venv");
    let python = folder.join(if cfg!(windows) { "Scripts/python.exe" } else { "bin/python" });
    let stamp = folder.join("installed.txt");
    let wanted = read(requirements)?;
    if python.is_file() && std::fs::read_to_string(&stamp).is_ok_and(|have| have == wanted) {
        return Ok(python);
    }
    let system = system_python().ok_or_else(|| Failed::new("there is no Python 3.11 or later"))?;
    process::run(Command::new(system).args(["-m", "venv", "--clear"]).arg(&folder))?;
    process::run(
        Command::new(&python)
            .args(["-m", "pip", "install", "--quiet", "--disable-pip-version-check", "--requirement"])
            .arg(requirements),
    )?;
    write(&stamp, wanted.as_bytes())?;
    Ok(python)
}
