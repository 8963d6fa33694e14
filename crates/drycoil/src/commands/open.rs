//! `drycoil open`: the page of a project, in a browser of this machine.

use super::new;
use crate::project::OpenFolder;
use crate::{Context, Exit, Failure, browser};
use clap::Args;
use drycoil_server::{Parts, Server};
use std::io::{IsTerminal, Write};
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// Arguments of `drycoil open`.
#[derive(Debug, Clone, Args)]
pub struct OpenArgs {
    /// Project folder; without it the current one, or a copy of the demo where that is none
    #[arg(value_name = "PROJECT")]
    pub project: Option<PathBuf>,
    /// Port of this machine; without it the system chooses a free one
    #[arg(long, value_name = "N", default_value_t = 0)]
    pub port: u16,
    /// Print the address and open no browser
    #[arg(long)]
    pub no_browser: bool,
}

/// Where a bare `drycoil open` puts its copy of the demo.
const DEMO_FOLDER: &str = "drycoil-demo";

/// Runs the command. It ends with the process: by an interrupt.
pub fn run(args: &OpenArgs, context: &mut Context) -> Result<Exit, Failure> {
    let folder = match &args.project {
        Some(folder) => folder.clone(),
        None => choose(context)?,
    };
    let files = OpenFolder::open(&folder)?;
    let parts = Parts {
        folder: Arc::new(files),
        pool: context.pool()?,
        version: crate::VERSION.to_owned(),
        token: token()?,
        port: args.port,
    };
    let server = Server::bind(parts).map_err(|error| {
        if error.kind() == std::io::ErrorKind::AddrInUse {
            Failure::usage(format!("port {} is taken", args.port))
                .hint("leave --port out, and a free one is chosen; perhaps the page is open already")
        } else {
            Failure::Stream(error)
        }
    })?;
    let address = server.address();
    writeln!(context.out, "{address}")?;
    context.out.flush()?;
    if !args.no_browser
        && let Err(why) = browser::open_page(&address)
    {
        context.note(&format!("no browser was opened ({why}); open the address above by hand"));
    }
    context.note(&format!("the page of {} is open; end it with Ctrl+C", folder.display()));
    server.run()?;
    Ok(Exit::Clean)
}

/// The current folder when it holds a project; otherwise the demo, when the user agrees.
fn choose(context: &mut Context) -> Result<PathBuf, Failure> {
    let here = Path::new(".");
    if here.join("project.toml").is_file() {
        return Ok(here.to_path_buf());
    }
    let demo = PathBuf::from(DEMO_FOLDER);
    if demo.join("project.toml").is_file() {
        return Ok(demo);
    }
    let failure = || {
        Failure::usage("no project is named, and the current folder holds none")
            .hint(format!("`drycoil new {DEMO_FOLDER}` and `drycoil open {DEMO_FOLDER}` begin with the demo"))
    };
    if !std::io::stdin().is_terminal() {
        return Err(failure());
    }
    write!(
        context.err,
        "There is no project here. Begin with a copy of the demo in `{DEMO_FOLDER}`? [y/n] "
    )?;
    context.err.flush()?;
    let mut answer = String::new();
    std::io::stdin().read_line(&mut answer)?;
    if !matches!(answer.trim().to_lowercase().as_str(), "y" | "yes") {
        return Err(failure());
    }
    new::copy_demo(&demo)?;
    Ok(demo)
}

/// The secret of the session: 256 bits of the system's generator, in hexadecimal.
fn token() -> Result<String, Failure> {
    let mut bytes = [0u8; 32];
    getrandom::fill(&mut bytes).map_err(|error| Failure::Stream(std::io::Error::other(error.to_string())))?;
    let digit = |half: u8| char::from_digit(u32::from(half), 16).unwrap_or('0');
    Ok(bytes.iter().flat_map(|b| [digit(b >> 4), digit(b & 15)]).collect())
}
