//! `drycoil units`: the units that may be written.

use crate::render::table::{Align, Table};
use crate::{Context, Exit, Failure, Form};
use clap::Args;
use drycoil_findings::did_you_mean;
use drycoil_units::{QuantityKind, UnitSystem, significant};
use serde_json::{Value, json};
use std::io::Write;

/// Arguments of `drycoil units`.
#[derive(Debug, Clone, Args)]
pub struct UnitsArgs {
    /// Kind of quantity, such as "standard air flow"; without it all kinds are listed
    #[arg(value_name = "KIND")]
    pub kind: Option<String>,
}

/// Runs the command.
pub fn run(args: &UnitsArgs, context: &mut Context) -> Result<Exit, Failure> {
    let kinds: Vec<QuantityKind> = match &args.kind {
        None => QuantityKind::ALL.to_vec(),
        Some(name) => vec![find(name)?],
    };
    if context.settings.form == Form::Json {
        let list = kinds.iter().map(|kind| as_json(*kind)).collect();
        return context.print_json(&Value::Array(list)).map(|()| Exit::Clean);
    }
    let width = context.settings.width;
    if let (Some(_), [kind]) = (&args.kind, kinds.as_slice()) {
        let mut table = Table::new(["unit", "also read", "one unit in SI"]).align(2, Align::Right);
        for unit in kind.units() {
            let si = unit.factor + unit.offset;
            table.row([
                unit.symbol.to_owned(),
                unit.aliases.join(", "),
                format!("{} {}", significant(si, 9), kind.units()[0].symbol),
            ]);
        }
        write!(context.out, "{}\n\n{}", kind.label(), table.draw(width))?;
        return Ok(Exit::Clean);
    }
    let mut table = Table::new(["quantity", "SI shows", "IP shows", "units that may be written"]).wrapping(3);
    for kind in kinds {
        table.row([
            kind.label().to_owned(),
            UnitSystem::Si.symbol(kind).to_owned(),
            UnitSystem::Ip.symbol(kind).to_owned(),
            kind.accepted(),
        ]);
    }
    write!(context.out, "{}", table.draw(width))?;
    Ok(Exit::Clean)
}

fn find(name: &str) -> Result<QuantityKind, Failure> {
    let wanted = name.trim().to_lowercase().replace('_', " ");
    QuantityKind::ALL.iter().copied().find(|k| k.label() == wanted).ok_or_else(|| {
        let near = did_you_mean(&wanted, QuantityKind::ALL.iter().map(|k| k.label()));
        Failure::usage(format!("no kind of quantity is called `{name}`")).hint(near.map_or_else(
            || "`drycoil units` lists all kinds".to_owned(),
            |near| format!("did you mean `{near}`?"),
        ))
    })
}

fn as_json(kind: QuantityKind) -> Value {
    let units: Vec<Value> = kind
        .units()
        .iter()
        .map(|u| json!({ "symbol": u.symbol, "aliases": u.aliases, "factor": u.factor, "offset": u.offset }))
        .collect();
    json!({
        "quantity": kind.label(),
        "si": kind.si_symbol(),
        "ip": kind.ip_symbol(),
        "key_suffix": kind.key_suffix(),
        "units": units,
    })
}
