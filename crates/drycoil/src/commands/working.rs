//! `drycoil working`: how a scheduled number was computed.

use crate::project::load;
use crate::render::{sheet, text};
use crate::{Context, Exit, Failure, Form};
use clap::Args;
use drycoil_findings::did_you_mean;
use drycoil_project::Project;
use drycoil_results::SheetRecord;
use drycoil_sizing::Design;
use drycoil_units::UnitSystem;
use drycoil_working::Sheet;
use serde_json::{Map, Value};
use std::io::Write;
use std::path::PathBuf;

/// Arguments of `drycoil working`.
#[derive(Debug, Clone, Args)]
pub struct WorkingArgs {
    /// Project folder
    #[arg(value_name = "PROJECT")]
    pub project: PathBuf,
    /// Room, terminal or system, such as "B-204" or "primary air"; without it the places are listed
    #[arg(value_name = "PLACE")]
    pub place: Option<String>,
    /// Scheduled quantity, such as `primary_air_flow`; without it the quantities of the place are listed
    #[arg(value_name = "QUANTITY", requires = "place")]
    pub quantity: Option<String>,
}

/// What can show the working of its numbers.
pub trait Sheets {
    /// The places that have scheduled quantities, in the order of the schedules.
    fn places(&self) -> Vec<String>;
    /// The scheduled quantities of a place, in the order of the schedule; empty when there is no such place.
    fn quantities(&self, place: &str) -> Vec<String>;
    /// The sheet behind one scheduled quantity.
    fn sheet(&self, place: &str, quantity: &str) -> Option<Sheet>;
}

/// The sheets of a design.
struct Designed<'a> {
    project: &'a Project,
    design: &'a Design,
}

impl Sheets for Designed<'_> {
    fn places(&self) -> Vec<String> {
        drycoil_sizing::places(self.project, self.design)
    }
    fn quantities(&self, place: &str) -> Vec<String> {
        drycoil_sizing::quantities(self.project, self.design, place)
    }
    fn sheet(&self, place: &str, quantity: &str) -> Option<Sheet> {
        drycoil_sizing::sheet(self.project, self.design, place, quantity)
    }
}

/// Runs the command.
pub fn run(args: &WorkingArgs, context: &mut Context) -> Result<Exit, Failure> {
    let job = load(&args.project, context)?;
    let project = &job.loaded.project;
    let pool = context.pool()?;
    let design =
        drycoil_sizing::size(project, &job.weather.year, &pool).map_err(|e| Failure::Findings(e.findings))?;
    let system = context.settings.unit_system(Some(project.units()));
    let sheets = Designed { project, design: &design };
    answer(&sheets, args.place.as_deref(), args.quantity.as_deref(), system, context)
}

/// Answers from sheets: one sheet, or the list of what may be asked when the place or the quantity is not given.
pub fn answer(
    sheets: &impl Sheets,
    place: Option<&str>,
    quantity: Option<&str>,
    system: UnitSystem,
    context: &mut Context,
) -> Result<Exit, Failure> {
    let Some(place) = place else {
        list_places(sheets, context)?;
        return Ok(Exit::Clean);
    };
    let place = choose("place", place, &sheets.places(), "`drycoil working PROJECT` lists the places")?;
    let quantities = sheets.quantities(&place);
    let Some(quantity) = quantity else {
        list(&quantities, context)?;
        return Ok(Exit::Clean);
    };
    let wanted = quantity.trim().replace([' ', '-'], "_");
    let hint = like(&place, &wanted, &quantities);
    let quantity = choose("quantity", &wanted, &quantities, &hint)?;
    let Some(sheet) = sheets.sheet(&place, &quantity) else {
        return Err(Failure::usage(format!("{place} has no {quantity} in this design")));
    };
    if context.settings.form == Form::Json {
        context.print_json(&serde_json::to_value(SheetRecord::new(&sheet, system))?)?;
    } else {
        let width = context.settings.width;
        write!(context.out, "{}", sheet::draw(&sheet, system, width))?;
    }
    Ok(Exit::Clean)
}

/// The name that was meant: exact, or the only one that differs in case; otherwise an error with one suggestion.
fn choose(what: &str, name: &str, names: &[String], otherwise: &str) -> Result<String, Failure> {
    if let Some(found) = names.iter().find(|n| *n == name) {
        return Ok(found.clone());
    }
    let mut alike = names.iter().filter(|n| n.eq_ignore_ascii_case(name));
    if let (Some(found), None) = (alike.next(), alike.next()) {
        return Ok(found.clone());
    }
    let near = did_you_mean(name, names.iter().map(String::as_str));
    let hint = near.map_or_else(|| otherwise.to_owned(), |near| format!("did you mean `{near}`?"));
    Err(Failure::usage(format!("no {what} is called `{name}`")).hint(hint))
}

/// So many names of quantities are read at a glance.
const FEW: usize = 6;

/// What is said of the quantities of a place where none has the name asked for: all of them where they are few, otherwise
/// those that share most words with it.
fn like(place: &str, wanted: &str, quantities: &[String]) -> String {
    if quantities.len() <= FEW {
        return format!("{place} has {}", quantities.join(", "));
    }
    let words: Vec<&str> = wanted.split('_').filter(|w| w.len() > 2).collect();
    let shared = |name: &str| name.split('_').filter(|w| words.contains(w)).count();
    let mut near: Vec<(usize, &String)> =
        quantities.iter().map(|q| (shared(q), q)).filter(|(n, _)| *n > 0).collect();
    near.sort_by_key(|(n, q)| (std::cmp::Reverse(*n), q.len()));
    let near: Vec<&str> = near.iter().take(FEW).map(|(_, q)| q.as_str()).collect();
    let all = format!("`drycoil working PROJECT \"{place}\"` lists all {}", quantities.len());
    if near.is_empty() { all } else { format!("near are {}; {all}", near.join(", ")) }
}

fn list_places(sheets: &impl Sheets, context: &mut Context) -> Result<(), Failure> {
    let places = sheets.places();
    if context.settings.form == Form::Json {
        let map: Map<String, Value> =
            places.iter().map(|p| (p.clone(), sheets.quantities(p).into())).collect();
        return context.print_json(&map);
    }
    // Rooms of one kind share their list; it is printed once, behind all of them.
    let mut groups: Vec<(Vec<String>, Vec<String>)> = Vec::new();
    for place in places {
        let quantities = sheets.quantities(&place);
        match groups.iter_mut().find(|(_, q)| *q == quantities) {
            Some((names, _)) => names.push(place),
            None => groups.push((vec![place], quantities)),
        }
    }
    let width = context.settings.width;
    for (names, quantities) in groups {
        writeln!(context.out, "{}", text::wrap(&text::clean(&names.join(", ")), width, ""))?;
        writeln!(context.out, "    {}", text::wrap(&quantities.join(", "), width.saturating_sub(4), "    "))?;
    }
    Ok(())
}

fn list(names: &[String], context: &mut Context) -> Result<(), Failure> {
    if context.settings.form == Form::Json {
        return context.print_json(&names);
    }
    for name in names {
        writeln!(context.out, "{}", text::clean(name))?;
    }
    Ok(())
}
