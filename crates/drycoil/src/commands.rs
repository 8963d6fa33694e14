//! One module per command.

pub mod air;
pub mod changes;
pub mod check;
pub mod completions;
pub mod excursion;
pub mod explain;
pub mod man;
pub mod new;
pub mod open;
pub mod papers;
pub mod proofs;
pub mod schema;
pub mod sequence;
pub mod size;
pub mod sweep;
pub mod units;
pub mod weather;
pub mod working;
pub mod year;

use crate::cli::Command;
use crate::{Context, Exit, Failure};

/// Runs one command.
pub fn run(command: &Command, context: &mut Context) -> Result<Exit, Failure> {
    match command {
        Command::Air(args) => air::run(args, context),
        Command::Weather(args) => weather::run(args, context),
        Command::New(args) => new::run(args, context),
        Command::Open(args) => open::run(args, context),
        Command::Check(args) => check::run(args, context),
        Command::Size(args) => size::run(args, context),
        Command::Year(args) => year::run(args, context),
        Command::Sweep(args) => sweep::run(args, context),
        Command::Excursion(args) => excursion::run(args, context),
        Command::Papers(args) => papers::run(args, context),
        Command::Sequence(args) => sequence::run(args, context),
        Command::Changes(args) => changes::run(args, context),
        Command::Working(args) => working::run(args, context),
        Command::Explain(args) => explain::run(args, context),
        Command::Proofs(args) => proofs::run(args, context),
        Command::Schema(args) => schema::run(args, context),
        Command::Units(args) => units::run(args, context),
        Command::Completions(args) => completions::run(args, context),
        Command::Man(args) => man::run(args, context),
    }
}
