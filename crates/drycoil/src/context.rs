//! What every command is given: the settings of this run, the two output streams, the source texts that were read.

use crate::cli::{Color, Global, Level};
use crate::render::findings::{self, Colour, Extent, Sources};
use crate::{Exit, Failure};
use drycoil_findings::{Finding, Severity};
use drycoil_units::UnitSystem;
use serde::Serialize;
use std::io::{self, BufWriter, IsTerminal, Write};
use std::num::NonZeroUsize;
use std::sync::Arc;

/// How results are printed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Form {
    /// Tables and sentences.
    Human,
    /// JSON.
    Json,
}

/// How much is said beside the result.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Detail {
    /// The result, and one line per error or warning.
    Quiet,
    /// What was done.
    Normal,
    /// What was read and which defaults apply.
    Verbose,
}

/// The settings of this run.
#[derive(Debug, Clone)]
pub struct Settings {
    /// Unit system asked for; `None` leaves it to the project.
    pub units: Option<UnitSystem>,
    /// Human or JSON.
    pub form: Form,
    /// How much is said on standard error.
    pub detail: Detail,
    /// Whether notes, and many findings of a kind, are counted or listed.
    pub findings: Extent,
    /// Lowest severity that gives exit code 1.
    pub fail_on: Severity,
    /// Number of threads; `None` is as many as the machine runs at once.
    pub threads: Option<NonZeroUsize>,
    /// Whether standard output shows colour.
    pub colour_out: Colour,
    /// Whether standard error shows colour.
    pub colour_err: Colour,
    /// Whether a progress bar may be drawn on standard error.
    pub progress: bool,
    /// Columns to fill.
    pub width: usize,
}

impl Settings {
    /// Settings without a terminal: 100 columns, no colour, no progress.
    pub fn plain() -> Self {
        Self {
            units: None,
            form: Form::Human,
            detail: Detail::Normal,
            findings: Extent::Short,
            fail_on: Severity::Warning,
            threads: None,
            colour_out: Colour::Plain,
            colour_err: Colour::Plain,
            progress: false,
            width: WIDTH_OFF_A_TERMINAL,
        }
    }

    /// The unit system shown: what was asked for, else what the project says, else SI.
    pub fn unit_system(&self, project: Option<UnitSystem>) -> UnitSystem {
        self.units.or(project).unwrap_or(UnitSystem::Si)
    }
}

const WIDTH_OFF_A_TERMINAL: usize = 100;

/// What every command is given.
pub struct Context {
    /// The settings of this run.
    pub settings: Settings,
    /// Standard output: data only.
    pub out: Box<dyn Write + Send>,
    /// Standard error: log and findings.
    pub err: Box<dyn Write + Send>,
    /// Texts of the files that were read, for drawing findings.
    pub sources: Sources,
    pool: Option<Arc<rayon::ThreadPool>>,
}

impl Context {
    /// A context that writes to these streams.
    pub fn new(settings: Settings, out: Box<dyn Write + Send>, err: Box<dyn Write + Send>) -> Self {
        Self { settings, out, err, sources: Sources::default(), pool: None }
    }

    /// The context of the running program.
    pub fn from_terminal(global: &Global) -> Self {
        let wants_colour = global.color == Color::Auto;
        let (stdout, stderr) = (io::stdout(), io::stderr());
        let choice_out = if wants_colour && stdout.is_terminal() {
            anstream::AutoStream::choice(&stdout)
        } else {
            anstream::ColorChoice::Never
        };
        let choice_err = if wants_colour && stderr.is_terminal() {
            anstream::AutoStream::choice(&stderr)
        } else {
            anstream::ColorChoice::Never
        };
        let detail = match (global.quiet, global.verbose) {
            (true, _) => Detail::Quiet,
            (_, true) => Detail::Verbose,
            _ => Detail::Normal,
        };
        let width = if stdout.is_terminal() {
            terminal_size::terminal_size()
                .map_or(WIDTH_OFF_A_TERMINAL, |(w, _)| usize::from(w.0).clamp(60, 160))
        } else {
            WIDTH_OFF_A_TERMINAL
        };
        let settings = Settings {
            units: global.units.map(Into::into),
            form: if global.json { Form::Json } else { Form::Human },
            detail,
            // Where a note decides the exit code, it is shown.
            findings: if global.notes || detail == Detail::Verbose || global.fail_on == Level::Note {
                Extent::Full
            } else {
                Extent::Short
            },
            fail_on: global.fail_on.into(),
            threads: global.threads,
            colour_out: colour(choice_out),
            colour_err: colour(choice_err),
            progress: stderr.is_terminal() && detail > Detail::Quiet,
            width,
        };
        // Large streams of data must not pass through the colour filter, so it is used on a terminal only.
        let out: Box<dyn Write + Send> = if stdout.is_terminal() {
            Box::new(anstream::AutoStream::new(stdout, choice_out))
        } else {
            Box::new(BufWriter::with_capacity(1 << 16, stdout))
        };
        let err: Box<dyn Write + Send> = if stderr.is_terminal() {
            Box::new(anstream::AutoStream::new(stderr, choice_err))
        } else {
            Box::new(stderr)
        };
        Self::new(settings, out, err)
    }

    /// Says what was done; not with `--quiet`.
    pub fn note(&mut self, text: &str) {
        if self.settings.detail > Detail::Quiet {
            // Standard error may be closed; there is nobody left to tell.
            let _ = writeln!(self.err, "{text}");
        }
    }

    /// Says what was read or which default applies; with `--verbose` only.
    pub fn detail(&mut self, text: &str) {
        if self.settings.detail == Detail::Verbose {
            let _ = writeln!(self.err, "{text}");
        }
    }

    /// The thread pool of this run, with `--threads` threads.
    pub fn pool(&mut self) -> Result<Arc<rayon::ThreadPool>, Failure> {
        if let Some(pool) = &self.pool {
            return Ok(Arc::clone(pool));
        }
        let threads = self.settings.threads.map_or(0, NonZeroUsize::get);
        let pool = rayon::ThreadPoolBuilder::new()
            .num_threads(threads)
            .build()
            .map_err(|error| Failure::Threads(error.to_string()))?;
        let pool = Arc::new(pool);
        self.pool = Some(Arc::clone(&pool));
        Ok(pool)
    }

    /// Prints a result as indented JSON with a final line end.
    pub fn print_json(&mut self, value: &impl Serialize) -> Result<(), Failure> {
        serde_json::to_writer_pretty(&mut self.out, value)?;
        writeln!(self.out)?;
        Ok(())
    }

    /// Draws findings on standard error, followed by a line of counts, and returns the exit code that they give.
    pub fn log_findings(&mut self, list: &[Finding]) -> Exit {
        let text = self.drawn(list, self.settings.colour_err);
        let _ = self.err.write_all(text.as_bytes());
        findings::exit(list, self.settings.fail_on)
    }

    /// Draws findings on standard output, for a command whose result they are, and returns the exit code that they
    /// give. With `--json` the result is an object with the one key `findings`.
    pub fn print_findings(&mut self, list: &[Finding]) -> Result<Exit, Failure> {
        if self.settings.form == Form::Json {
            self.print_json(&serde_json::json!({ "findings": findings::as_json(list) }))?;
        } else {
            let text = self.drawn(list, self.settings.colour_out);
            self.out.write_all(text.as_bytes())?;
        }
        Ok(findings::exit(list, self.settings.fail_on))
    }

    fn drawn(&self, list: &[Finding], colour: Colour) -> String {
        let style = match self.settings.detail {
            Detail::Quiet => findings::Style::Concise,
            Detail::Normal | Detail::Verbose => findings::Style::Drawn,
        };
        findings::draw(list, &self.sources, style, self.settings.findings, colour, self.settings.width)
    }

    /// Ends the run: reports a failure, flushes, and gives the exit code.
    pub fn finish(&mut self, result: Result<Exit, Failure>) -> Exit {
        let mut exit = match result {
            Ok(exit) => exit,
            Err(Failure::Findings(list)) => match self.settings.form {
                Form::Human => self.log_findings(&list),
                Form::Json => match self.print_findings(&list) {
                    Ok(exit) => exit,
                    Err(failure) => self.say(&failure),
                },
            },
            Err(failure) => self.say(&failure),
        };
        if let Err(error) = self.out.flush() {
            exit = self.say(&Failure::Stream(error));
        }
        let _ = self.err.flush();
        exit
    }

    fn say(&mut self, failure: &Failure) -> Exit {
        let _ = self.err.write_all(failure.text().as_bytes());
        failure.exit()
    }
}

fn colour(choice: anstream::ColorChoice) -> Colour {
    if choice == anstream::ColorChoice::Never { Colour::Plain } else { Colour::Styled }
}
