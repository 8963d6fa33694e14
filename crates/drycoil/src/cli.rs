//! The tree of commands. Completions, the manual and the tests share it with the program.

use clap::{Args, CommandFactory, Parser, Subcommand, ValueEnum};
use drycoil_findings::Severity;
use drycoil_units::{Quantity, UnitSystem};
use std::num::NonZeroUsize;

use crate::commands::{
    air::AirArgs, changes::ChangesArgs, check::CheckArgs, completions::CompletionsArgs,
    excursion::ExcursionArgs, explain::ExplainArgs, man::ManArgs, new::NewArgs, open::OpenArgs,
    papers::PapersArgs, proofs::ProofsArgs, schema::SchemaArgs, sequence::SequenceArgs, size::SizeArgs,
    sweep::SweepArgs, units::UnitsArgs, weather::WeatherArgs, working::WorkingArgs, year::YearArgs,
};

/// Designs decoupled air conditioning and proves that its coils stay dry.
///
/// A central primary-air unit dries and delivers the ventilation air; dry fan-powered terminal units cool and heat
/// each zone with medium-temperature water. Results are design aids for a licensed engineer.
#[derive(Debug, Parser)]
#[command(name = "drycoil", version = crate::VERSION, after_help = EXIT_CODES, max_term_width = 100)]
pub struct Cli {
    /// Options of every command.
    #[command(flatten)]
    pub global: Global,
    /// The command.
    #[command(subcommand)]
    pub command: Command,
}

const EXIT_CODES: &str = "Exit codes: 0 nothing or notes only, 1 warnings or errors in the result, 2 bad input, \
3 wrong usage, 4 cannot read or write, 130 cancelled.";

/// Options that every command takes.
#[allow(clippy::struct_excessive_bools)] // Each is a switch of the command line.
#[derive(Debug, Clone, Args)]
pub struct Global {
    /// Unit system of what is shown; without it the project decides, or SI where there is no project
    #[arg(long, global = true, value_name = "SYSTEM", help_heading = "Options of every command")]
    pub units: Option<Units>,
    /// Print the result as JSON: SI values, keys that carry their unit
    #[arg(long, global = true, help_heading = "Options of every command")]
    pub json: bool,
    /// Print the result and one line per error or warning, no log
    #[arg(long, short, global = true, conflicts_with = "verbose", help_heading = "Options of every command")]
    pub quiet: bool,
    /// Say what was read and which defaults apply, with all that --notes lists
    #[arg(long, short, global = true, help_heading = "Options of every command")]
    pub verbose: bool,
    /// List every note and every finding of a kind, instead of counting them
    #[arg(long, global = true, help_heading = "Options of every command")]
    pub notes: bool,
    /// Lowest severity in the result that gives exit code 1
    #[arg(
        long,
        global = true,
        value_name = "LEVEL",
        default_value = "warning",
        help_heading = "Options of every command"
    )]
    pub fail_on: Level,
    /// Number of threads; without it, as many as the machine runs at once
    #[arg(
        long,
        global = true,
        value_name = "N",
        value_parser = threads,
        help_heading = "Options of every command"
    )]
    pub threads: Option<NonZeroUsize>,
    /// Colour on a terminal
    #[arg(
        long,
        global = true,
        value_name = "WHEN",
        default_value = "auto",
        help_heading = "Options of every command"
    )]
    pub color: Color,
}

/// A unit system on the command line.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum Units {
    /// International System
    Si,
    /// Inch-pound
    Ip,
}

impl From<Units> for UnitSystem {
    fn from(units: Units) -> Self {
        match units {
            Units::Si => Self::Si,
            Units::Ip => Self::Ip,
        }
    }
}

/// A severity on the command line.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum Level {
    /// Errors only
    Error,
    /// Warnings and errors
    Warning,
    /// Anything, notes included
    Note,
}

impl From<Level> for Severity {
    fn from(level: Level) -> Self {
        match level {
            Level::Error => Self::Error,
            Level::Warning => Self::Warning,
            Level::Note => Self::Note,
        }
    }
}

/// When to colour.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum Color {
    /// On a terminal that can show it
    Auto,
    /// Never
    Never,
}

/// The commands, in the order in which a job needs them.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Moist-air state from any two of its quantities, one or millions
    Air(AirArgs),
    /// What a weather file holds: place, completeness, design conditions, dew-point bands
    Weather(WeatherArgs),
    /// Begin a project folder
    New(NewArgs),
    /// Open the page of a project in the browser: edit it, see the design and the year as they change
    Open(OpenArgs),
    /// Read a project and report everything that is wrong with it
    Check(CheckArgs),
    /// Design the system: loads, primary air, dew point, terminals, primary-air unit, water plant
    Size(SizeArgs),
    /// Simulate a year of both schemes: margins hour by hour, energy, cost, an honest comparison
    Year(YearArgs),
    /// Size and simulate the project under many values of its inputs, or of what nobody can fix
    Sweep(SweepArgs),
    /// Try the controls on hours in which something goes wrong: dew-point margins, water on coils, recovery
    Excursion(ExcursionArgs),
    /// Issue the documents: design basis, room sheets, schedules, calculation book, owner's page
    Papers(PapersArgs),
    /// Hand over the dew-point sequence: written sequence, point list, Structured Text, test sheet
    Sequence(SequenceArgs),
    /// What changed between two revisions: inputs, scheduled numbers, and which input leads to which number
    Changes(ChangesArgs),
    /// Show how a scheduled number was computed
    Working(WorkingArgs),
    /// The page of a finding, or the list of all
    Explain(ExplainArgs),
    /// Compare the program with published cases
    Proofs(ProofsArgs),
    /// JSON Schema of project.toml
    Schema(SchemaArgs),
    /// The units that may be written
    Units(UnitsArgs),
    /// Completions for a shell
    Completions(CompletionsArgs),
    /// Write the manual pages
    Man(ManArgs),
}

/// The tree of commands as data.
pub fn command() -> clap::Command {
    Cli::command()
}

/// Reads an argument such as `75 degF`; for `#[arg(value_parser = quantity::<Temperature>)]`.
pub fn quantity<Q: Quantity>(text: &str) -> Result<Q, String> {
    Q::parse(text).map_err(|error| format!("{error}; {}", error.hint()))
}

/// Most threads that may be asked for: far above any machine, and below what a system refuses to start.
const MOST_THREADS: usize = 1024;

/// A number of threads.
fn threads(text: &str) -> Result<NonZeroUsize, String> {
    text.parse()
        .ok()
        .filter(|n: &NonZeroUsize| n.get() <= MOST_THREADS)
        .ok_or_else(|| format!("a whole number from 1 to {MOST_THREADS} is needed"))
}

#[cfg(test)]
mod tests {
    use super::*;
    use drycoil_units::Temperature;

    #[test]
    fn the_tree_is_consistent() {
        command().debug_assert();
    }

    #[test]
    fn every_command_and_argument_says_what_it_does() {
        for sub in command().get_subcommands() {
            assert!(sub.get_about().is_some(), "{}", sub.get_name());
            for arg in sub.get_arguments() {
                assert!(arg.get_help().is_some(), "{} {}", sub.get_name(), arg.get_id());
            }
        }
    }

    #[test]
    fn a_quantity_argument_needs_its_unit() {
        assert!(quantity::<Temperature>("75 degF").is_ok());
        let error = quantity::<Temperature>("75").unwrap_err();
        assert!(error.contains("has no unit") && error.contains("degF"), "{error}");
    }

    #[test]
    fn threads_are_bounded() {
        assert_eq!(threads("2").unwrap().get(), 2);
        assert_eq!(threads("1024").unwrap().get(), MOST_THREADS);
        for text in ["0", "-1", "1025", "99999999999", "1e400", ""] {
            assert!(threads(text).is_err(), "{text}");
        }
    }
}
