//! `drycoil proofs`: the program beside published cases.

use crate::render::table::{Align, Table};
use crate::render::text::count;
use crate::{Context, Exit, Failure, Form};
use clap::Args;
use drycoil_proofs::{Case, Outcome, Role, markdown, references, run_all};
use drycoil_units::significant;
use serde_json::{Value, json};
use std::io::Write as _;

/// Arguments of `drycoil proofs`.
#[derive(Debug, Clone, Args)]
pub struct ProofsArgs {
    /// Only cases whose name contains this text
    #[arg(value_name = "TEXT", conflicts_with = "markdown")]
    pub filter: Option<String>,
    /// Print the page of the documentation instead of a table
    #[arg(long)]
    pub markdown: bool,
}

/// Runs the command.
pub fn run(args: &ProofsArgs, context: &mut Context) -> Result<Exit, Failure> {
    let broken =
        |error: drycoil_proofs::CaseError| Failure::bad_input(format!("the built-in cases: {error}"));
    let mut results = run_all().map_err(broken)?;
    if let Some(text) = &args.filter {
        results.retain(|(case, _)| case.file.contains(text.as_str()) || case.topic.contains(text.as_str()));
        if results.is_empty() {
            return Err(Failure::usage(format!("no case has `{text}` in its name or topic"))
                .hint("`drycoil proofs` lists all cases"));
        }
    }
    let exit = if results.iter().all(|(_, outcome)| outcome.pass()) { Exit::Clean } else { Exit::Found };
    if args.markdown {
        write!(context.out, "{}", markdown(&results, &references().map_err(broken)?))?;
    } else if context.settings.form == Form::Json {
        context.print_json(&Value::Array(results.iter().map(|(c, o)| as_json(c, o)).collect()))?;
    } else {
        print_table(&results, context)?;
    }
    Ok(exit)
}

fn print_table(results: &[(Case, Outcome)], context: &mut Context) -> Result<(), Failure> {
    let known = references().map_err(|e| Failure::bad_input(e.to_string()))?;
    let mut table = Table::new(["case", "what", "source", "rows", "worst error", "of tolerance", "holds"])
        .numbers([3])
        .align(5, Align::Right)
        .wrapping(1)
        .wrapping(2);
    let (mut rows, mut compared, mut failed) = (0, 0, 0);
    for (case, outcome) in results {
        rows += outcome.rows;
        compared += outcome.compared + outcome.refused;
        failed += usize::from(!outcome.pass());
        let source = known.get(&case.source.key).map_or(case.source.key.as_str(), |r| r.title.as_str());
        let worst = outcome.worst.as_ref().map_or_else(
            || "refused".to_owned(),
            |w| {
                let unit = case.columns.iter().find(|c| c.name == w.column).map_or("", |c| c.unit.as_str());
                format!("{} {}", significant(w.absolute(), 2), if unit == "1" { "" } else { unit })
            },
        );
        let share = outcome.worst.as_ref().map_or(0.0, drycoil_proofs::Deviation::share);
        table.row([
            case.file.trim_end_matches(".toml").to_owned(),
            case.title.clone(),
            format!("{source}, {}", case.source.place),
            outcome.rows.to_string(),
            worst.trim_end().to_owned(),
            format!("{:.0} %", 100.0 * share),
            if outcome.pass() { "yes" } else { "NO" }.to_owned(),
        ]);
    }
    write!(context.out, "{}", table.draw(context.settings.width))?;
    writeln!(
        context.out,
        "\n{}, {}, {} compared or refusals asked for, cases that do not hold: {failed}",
        count(results.len(), "case"),
        count(rows, "row"),
        count(compared, "number"),
    )?;
    if let [(case, _)] = results {
        writeln!(context.out, "\nread: {}. {}", case.source.read, case.source.note)?;
        for column in &case.columns {
            if let Role::Result(tolerance) = &column.role {
                writeln!(context.out, "{}: {}, {}", column.name, tolerance.words(), tolerance.reason)?;
            }
        }
        for d in &case.discrepancies {
            writeln!(context.out, "row {}, {}: right is {}, {}", d.row, d.column, d.recomputed, d.reason)?;
        }
    }
    for (case, outcome) in results {
        for failure in &outcome.failures {
            writeln!(context.out, "{}: {failure}", case.file)?;
        }
    }
    Ok(())
}

fn as_json(case: &Case, outcome: &Outcome) -> Value {
    let tolerances: Vec<Value> = case
        .columns
        .iter()
        .filter_map(|column| match &column.role {
            Role::Result(t) => Some(json!({
                "result": column.name,
                "unit": column.unit,
                "tolerance": t.words(),
                "reason": t.reason,
            })),
            Role::Input => None,
        })
        .collect();
    let discrepancies: Vec<Value> = case
        .discrepancies
        .iter()
        .map(|d| json!({ "row": d.row, "column": d.column, "recomputed": d.recomputed, "reason": d.reason }))
        .collect();
    json!({
        "case": case.file.trim_end_matches(".toml"),
        "topic": case.topic,
        "title": case.title,
        "function": case.function,
        "source": case.source.key,
        "place": case.source.place,
        "status": case.source.status.iter().map(|s| s.words()).collect::<Vec<_>>(),
        "read": case.source.read,
        "note": case.source.note,
        "rows": outcome.rows,
        "compared": outcome.compared,
        "refused": outcome.refused,
        "max_abs": outcome.max_abs,
        "max_rel": outcome.max_rel,
        "worst": outcome.worst.as_ref().map(|w| json!({
            "row": w.row,
            "column": w.column,
            "expected": w.expected,
            "found": w.found,
            "allowed": w.allowed,
        })),
        "tolerances": tolerances,
        "known_discrepancies": discrepancies,
        "pass": outcome.pass(),
        "failures": outcome.failures,
    })
}
