//! What the tests share: running the program, and reading and sizing the examples.

use drycoil::project::FolderFiles;
use drycoil_intake::job::{self, Job};
use drycoil_sizing::Design;
use serde_json::Value;
use std::ffi::OsStr;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};

/// The folder of the repository.
pub fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../..")
}

/// A text of the repository.
pub fn read(path: &str) -> String {
    std::fs::read_to_string(root().join(path)).unwrap().replace("\r\n", "\n")
}

/// A folder or file of the examples.
pub fn example(name: &str) -> PathBuf {
    root().join("examples").join(name)
}

/// The demonstration as an argument.
pub fn demo() -> String {
    example("public-services-building").to_string_lossy().into_owned()
}

/// An example, read.
pub fn job(name: &str) -> Job {
    job::read(&FolderFiles::open(&example(name)).expect("the folder is there")).expect("a project")
}

/// An example, sized on so many threads.
pub fn designed(name: &str, threads: usize) -> (Job, Design) {
    let job = job(name);
    let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
    let design = drycoil_sizing::size(&job.loaded.project, &job.weather.year, &pool).expect("a design");
    (job, design)
}

/// The program with these arguments, in this folder. The environment is empty and nothing is a terminal, so that 100
/// columns are filled on every machine. What is printed names paths as they are given: a test that looks at lines gives
/// short ones, relative to the folder.
pub fn command(folder: &Path, arguments: &[impl AsRef<OsStr>]) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_drycoil"));
    command.args(arguments).current_dir(folder).env_clear().stdin(Stdio::null());
    // Windows programs do not start without it.
    if let Some(root) = std::env::var_os("SystemRoot") {
        command.env("SystemRoot", root);
    }
    command
}

/// How the program ended and what it wrote.
pub struct Ran {
    /// Exit code.
    pub code: Option<i32>,
    /// Standard output.
    pub out: String,
    /// Standard error.
    pub err: String,
}

impl Ran {
    /// Standard output as JSON.
    pub fn json(&self) -> Value {
        serde_json::from_str(&self.out).unwrap_or_else(|e| panic!("{e}\n{}{}", self.out, self.err))
    }

    /// The words of standard output with one space between them, however the lines were broken.
    pub fn words(&self) -> String {
        let words: Vec<&str> = self.out.split_whitespace().collect();
        words.join(" ")
    }
}

impl From<Output> for Ran {
    fn from(output: Output) -> Self {
        Self {
            code: output.status.code(),
            out: String::from_utf8(output.stdout).unwrap(),
            err: String::from_utf8(output.stderr).unwrap(),
        }
    }
}

/// Runs the program in a folder.
pub fn run_in(folder: &Path, arguments: &[impl AsRef<OsStr>]) -> Ran {
    Ran::from(command(folder, arguments).output().unwrap())
}

/// Runs the program in the folder of the examples.
pub fn run(arguments: &[impl AsRef<OsStr>]) -> Ran {
    run_in(&example(""), arguments)
}
