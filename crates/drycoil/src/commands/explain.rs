//! `drycoil explain`: the page of a finding.

use crate::render::{table, text};
use crate::{Context, Exit, Failure, Form};
use clap::Args;
use drycoil_findings::{FindingKind, Stage, did_you_mean, registry};
use serde_json::{Value, json};
use std::fmt::Write as _;
use std::io::Write as _;

/// Arguments of `drycoil explain`.
#[derive(Debug, Clone, Args)]
pub struct ExplainArgs {
    /// Id of a finding, such as DP-014; without it all ids are listed
    #[arg(value_name = "ID")]
    pub id: Option<String>,
    /// Print every page as the documentation has it
    #[arg(long, conflicts_with = "id")]
    pub markdown: bool,
}

/// Runs the command.
pub fn run(args: &ExplainArgs, context: &mut Context) -> Result<Exit, Failure> {
    let kinds = registry::all();
    if args.markdown {
        write!(context.out, "{}", markdown(&kinds))?;
        return Ok(Exit::Clean);
    }
    let Some(id) = &args.id else {
        list(&kinds, context)?;
        return Ok(Exit::Clean);
    };
    let Some(kind) = registry::find(id) else {
        let near = did_you_mean(id, kinds.iter().map(|k| k.id));
        return Err(Failure::usage(format!("no finding has the id `{id}`")).hint(near.map_or_else(
            || "`drycoil explain` lists all ids".to_owned(),
            |near| format!("did you mean `{near}`?"),
        )));
    };
    if context.settings.form == Form::Json {
        return context.print_json(&as_json(kind)).map(|()| Exit::Clean);
    }
    let width = context.settings.width;
    let out = &mut context.out;
    writeln!(out, "{}: {}", kind.id, kind.title)?;
    writeln!(out, "{}, {}", kind.severity.word(), stage_words(kind.stage))?;
    writeln!(out, "\n{}", text::wrap(kind.why, width, ""))?;
    writeln!(out, "\nWhat to do: {}", text::wrap(kind.remedy, width, "").trim_start())?;
    Ok(Exit::Clean)
}

fn list(kinds: &[&FindingKind], context: &mut Context) -> Result<(), Failure> {
    if context.settings.form == Form::Json {
        return context.print_json(&Value::Array(kinds.iter().map(|k| as_json(k)).collect()));
    }
    let mut rows = table::Table::new(["id", "severity", "found in", "what"]).wrapping(3);
    for kind in kinds {
        rows.row([kind.id, kind.severity.word(), stage_words(kind.stage), kind.title]);
    }
    write!(context.out, "{}", rows.draw(context.settings.width))?;
    Ok(())
}

const fn stage_words(stage: Stage) -> &'static str {
    match stage {
        Stage::Input => "input",
        Stage::Result => "result",
    }
}

fn as_json(kind: &FindingKind) -> Value {
    json!({
        "id": kind.id,
        "severity": kind.severity.word(),
        "stage": stage_words(kind.stage),
        "title": kind.title,
        "why": kind.why,
        "remedy": kind.remedy,
    })
}

/// Every page, for `docs/FINDINGS.md`.
pub fn markdown(kinds: &[&FindingKind]) -> String {
    let mut out = String::from(
        "# Findings\n\nGenerated from the registry by `cargo xtask generate`. `drycoil explain ID` prints one page.\n\n\
         | id | severity | found in | what |\n|---|---|---|---|\n",
    );
    for k in kinds {
        let _ = writeln!(
            out,
            "| [{0}](#{1}) | {2} | {3} | {4} |",
            k.id,
            k.id.to_lowercase(),
            k.severity.word(),
            stage_words(k.stage),
            k.title
        );
    }
    for k in kinds {
        let _ = writeln!(
            out,
            "\n## {}\n\n{}: {}. {}\n\nWhat to do: {}",
            k.id,
            capital(k.severity.word()),
            k.title,
            k.why,
            k.remedy
        );
    }
    out
}

fn capital(word: &str) -> String {
    let mut chars = word.chars();
    chars.next().map_or_else(String::new, |c| c.to_uppercase().chain(chars).collect())
}
