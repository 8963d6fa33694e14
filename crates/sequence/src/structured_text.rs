//! The sequence as Structured Text of IEC 61131-3.
//!
//! Only standard constructs: enumerations, structures, typed variables, function blocks, `IF`, `CASE`, `FOR`, `WHILE`,
//! and the functions `MAX`, `MIN`, `ABS`, `SEL`. Delays add up the cycle time, so the text does not hang on the clock
//! of one make of controller. Temperatures are in the unit of the caller's system; times in seconds.

use crate::declare::{
    Comparison, Declaration, Direction, Expr, Gathered, Initial, Item, Kind, NeighbourFigure, Region, Scope,
    Truth,
};
use crate::machine::MachineError;
use crate::setup::Setup;
use crate::words::{kind_unit, kind_value};
use drycoil_units::UnitSystem;
use std::fmt::Write;

/// Name in upper camel case, as types carry it.
pub(crate) fn camel(name: &str) -> String {
    name.split('_')
        .map(|part| {
            let mut chars = part.chars();
            chars.next().map_or_else(String::new, |c| c.to_uppercase().chain(chars).collect())
        })
        .collect()
}

/// A stage as enumerated value. The name of its region makes it one of its kind, so that it needs no type before it,
/// which not every compiler reads.
fn stage_value(region: &str, stage: &str) -> String {
    format!("{region}_{stage}")
}

fn real(value: f64) -> String {
    let text = format!("{value:?}");
    match text.split_once('e') {
        Some((mantissa, exponent)) if !mantissa.contains('.') => format!("{mantissa}.0E{exponent}"),
        Some((mantissa, exponent)) => format!("{mantissa}E{exponent}"),
        None => text,
    }
}

fn type_of(kind: Kind) -> &'static str {
    match kind {
        Kind::Boolean => "BOOL",
        Kind::Count => "DINT",
        _ => "LREAL",
    }
}

fn literal(kind: Kind, si: f64, system: UnitSystem) -> String {
    match kind {
        Kind::Boolean => if si == 0.0 { "FALSE" } else { "TRUE" }.to_owned(),
        Kind::Count => format!("{si}"),
        _ => real(kind_value(kind, si, system)),
    }
}

struct Writer<'a> {
    declaration: &'a Declaration,
    setup: &'a Setup,
    system: UnitSystem,
    out: String,
}

/// How signals are reached from where an expression stands.
#[derive(Clone, Copy)]
struct Paths<'a> {
    zone: &'a str,
    building: &'a str,
}

const IN_BLOCK: Paths<'static> = Paths { zone: "z", building: "b" };

impl Writer<'_> {
    fn path(&self, name: &str, paths: Paths<'_>) -> String {
        let scope = self
            .declaration
            .signal(name)
            .map(|s| s.scope)
            .or_else(|| self.declaration.parameter(name).map(|p| p.scope))
            .or_else(|| self.declaration.region(name).map(|(scope, _)| scope));
        match scope {
            Some(Scope::Building) if self.declaration.parameter(name).is_some() => format!("p_{name}"),
            Some(Scope::Zone) => format!("{}.{name}", paths.zone),
            _ => format!("{}.{name}", paths.building),
        }
    }

    fn expr(&self, expr: &Expr, paths: Paths<'_>) -> String {
        let e = |part: &Expr| self.expr(part, paths);
        let join = |parts: &[Expr], word: &str| {
            format!("({})", parts.iter().map(e).collect::<Vec<_>>().join(&format!(" {word} ")))
        };
        match expr {
            Expr::Always(truth) => if *truth == Truth::Yes { "TRUE" } else { "FALSE" }.to_owned(),
            Expr::Number(kind, value) => literal(*kind, *value, self.system),
            Expr::Signal(name) | Expr::Previous(name) | Expr::Parameter(name) => self.path(name, paths),
            Expr::Cycle => "cycle_s".to_owned(),
            Expr::In(region, stage) => {
                format!("({} = {})", self.path(region, paths), stage_value(region, stage))
            }
            Expr::All(parts) => join(parts, "AND"),
            Expr::Any(parts) => join(parts, "OR"),
            Expr::Not(part) => format!("NOT {}", e(part)),
            Expr::Compare(comparison, a, b) => {
                let sign = match comparison {
                    Comparison::Above => ">",
                    Comparison::AtLeast => ">=",
                    Comparison::Below => "<",
                    Comparison::AtMost => "<=",
                };
                format!("({} {sign} {})", e(a), e(b))
            }
            Expr::Add(a, b) => format!("({} + {})", e(a), e(b)),
            Expr::Subtract(a, b) => format!("({} - {})", e(a), e(b)),
            Expr::Multiply(a, b) => format!("({} * {})", e(a), e(b)),
            Expr::Larger(a, b) => format!("MAX({}, {})", e(a), e(b)),
            Expr::Smaller(a, b) => format!("MIN({}, {})", e(a), e(b)),
            Expr::Ratio(a, b) => format!("({} / {})", e(a), e(b)),
            // SEL takes the value for FALSE first.
            Expr::Choose(c, a, b) => format!("SEL({}, {}, {})", e(c), e(b), e(a)),
        }
    }

    fn line(&mut self, depth: usize, text: &str) {
        let _ = writeln!(self.out, "{:1$}{text}", "", 2 * depth);
    }

    fn comment(text: &str) -> String {
        // A comment must not end within its text.
        format!("(* {} *)", text.replace("*)", "* )").replace("(*", "( *"))
    }

    fn types(&mut self) {
        let regions: Vec<(Scope, &Region)> = self.declaration.regions().collect();
        for (_, region) in &regions {
            self.line(0, "TYPE");
            let stages: Vec<String> =
                region.stages.iter().map(|s| stage_value(region.name, s.name)).collect();
            self.line(1, &format!("{} : ({});", camel(region.name), stages.join(", ")));
            self.line(0, "END_TYPE");
            self.line(0, "");
        }
        for (scope, name) in [(Scope::Building, "BuildingData"), (Scope::Zone, "ZoneData")] {
            self.line(0, "TYPE");
            self.line(1, &format!("{name} : STRUCT"));
            for p in self.declaration.parameters.iter().filter(|p| p.scope == scope && scope == Scope::Zone) {
                let unit = kind_unit(p.kind, self.system);
                let unit = if unit.is_empty() { String::new() } else { format!(", {unit}") };
                let words = Self::comment(&format!("{}{unit}", p.words));
                self.line(2, &format!("{} : {}; {words}", p.name, type_of(p.kind)));
            }
            for s in self.declaration.signals.iter().filter(|s| s.scope == scope) {
                let initial = match s.initial {
                    Initial::Zero => String::new(),
                    Initial::Parameter(p) => {
                        self.setup.parameters().value(p).map_or_else(String::new, |si| {
                            format!(" := {}", literal(s.kind, si, self.system))
                        })
                    }
                };
                let unit = kind_unit(s.kind, self.system);
                let side = match s.direction {
                    Direction::Input => "input: ",
                    Direction::Output => "output: ",
                    Direction::Inner => "",
                };
                let unit = if unit.is_empty() { String::new() } else { format!(", {unit}") };
                self.line(
                    2,
                    &format!(
                        "{} : {}{initial}; {}",
                        s.name,
                        type_of(s.kind),
                        Self::comment(&format!("{side}{}{unit}", s.words))
                    ),
                );
            }
            for (_, region) in regions.iter().filter(|(s, _)| *s == scope) {
                self.line(
                    2,
                    &format!(
                        "{} : {} := {};",
                        region.name,
                        camel(region.name),
                        stage_value(region.name, region.stages[0].name)
                    ),
                );
            }
            self.line(1, "END_STRUCT;");
            self.line(0, "END_TYPE");
            self.line(0, "");
        }
    }

    fn globals(&mut self) {
        self.line(0, "VAR_GLOBAL CONSTANT");
        self.line(1, &format!("zone_count : DINT := {};", self.setup.zones().len()));
        let most = self.setup.zones().iter().map(|z| z.neighbours.len()).max().unwrap_or(0).max(1);
        self.line(1, &format!("neighbour_places : DINT := {most};"));
        for p in self.declaration.parameters.iter().filter(|p| p.scope == Scope::Building) {
            let si = self.setup.parameters().value(p.name).unwrap_or(f64::NAN);
            let unit = kind_unit(p.kind, self.system);
            let unit = if unit.is_empty() { String::new() } else { format!(", {unit}") };
            self.line(
                1,
                &format!(
                    "p_{} : {} := {}; {}",
                    p.name,
                    type_of(p.kind),
                    literal(p.kind, si, self.system),
                    Self::comment(&format!("{}{unit}", p.words))
                ),
            );
        }
        self.line(0, "END_VAR");
        self.line(0, "");
        self.line(0, "VAR_GLOBAL");
        self.line(1, "cycle_s : LREAL; (* time since the last cycle, s, written before each cycle *)");
        self.line(1, "b : BuildingData;");
        let zones = self.setup.zones().len();
        self.line(1, &format!("zones : ARRAY[1..{zones}] OF ZoneData;"));
        self.line(0, "END_VAR");
        self.line(0, "");
    }

    fn region(&mut self, region: &Region) {
        let own = self.path(region.name, IN_BLOCK);
        let (name, kind) = (region.name, camel(region.name));
        self.line(1, &Self::comment(&format!("{kind}: at most one change of stage in a cycle")));
        self.line(1, &format!("next_{name} := {own};"));
        self.line(1, &format!("CASE {own} OF"));
        for stage in &region.stages {
            self.line(2, &format!("{}:", stage_value(name, stage.name)));
            let ways = region
                .transitions
                .iter()
                .filter(|t| t.from.contains(&stage.name) && t.to != stage.name)
                .collect::<Vec<_>>();
            if ways.is_empty() {
                self.line(3, ";");
            }
            for (k, way) in ways.iter().enumerate() {
                let free = format!("(next_{name} = {own})");
                let take =
                    format!("next_{name} := {}; {}", stage_value(name, way.to), Self::comment(way.reason));
                let when = self.expr(&way.when, IN_BLOCK);
                let Some(delay) = way.delay else {
                    self.line(3, &format!("IF {free} AND {when} THEN"));
                    self.line(4, &take);
                    self.line(3, "END_IF;");
                    continue;
                };
                let wait = format!("wait_{name}[{}]", k + 1);
                self.line(3, &format!("IF {when} THEN"));
                self.line(4, &format!("{wait} := {wait} + cycle_s;"));
                self.line(4, &format!("IF {free} AND ({wait} >= {}) THEN", self.path(delay, IN_BLOCK)));
                self.line(5, &take);
                self.line(4, "END_IF;");
                self.line(3, "ELSE");
                self.line(4, &format!("{wait} := 0.0;"));
                self.line(3, "END_IF;");
            }
        }
        self.line(1, "END_CASE;");
        self.line(1, &format!("IF next_{name} <> {own} THEN"));
        self.line(2, &format!("FOR k := 1 TO {} DO", widest(region)));
        self.line(3, &format!("wait_{name}[k] := 0.0;"));
        self.line(2, "END_FOR;");
        self.line(2, &format!("{own} := next_{name};"));
        self.line(1, "END_IF;");
    }

    fn block(&mut self, name: &str, items: &[Item], scope: Scope, words: &str) {
        self.line(0, &Self::comment(words));
        self.line(0, &format!("FUNCTION_BLOCK {name}"));
        self.line(0, "VAR_INPUT");
        self.line(1, "cycle_s : LREAL;");
        self.line(0, "END_VAR");
        self.line(0, "VAR_IN_OUT");
        self.line(1, "b : BuildingData;");
        if scope == Scope::Zone {
            self.line(1, "z : ZoneData;");
        }
        self.line(0, "END_VAR");
        let regions: Vec<&Region> = items
            .iter()
            .filter_map(|item| if let Item::Region(region) = item { Some(region) } else { None })
            .collect();
        if !regions.is_empty() {
            self.line(0, "VAR");
            self.line(1, "k : DINT;");
            for region in &regions {
                self.line(1, &format!("next_{} : {};", region.name, camel(region.name)));
                self.line(1, &format!("wait_{} : ARRAY[1..{}] OF LREAL;", region.name, widest(region)));
            }
            self.line(0, "END_VAR");
        }
        for item in items {
            match item {
                Item::Rule(rule) => {
                    let text = format!(
                        "{} := {};",
                        self.path(rule.signal, IN_BLOCK),
                        self.expr(&rule.value, IN_BLOCK)
                    );
                    self.line(1, &text);
                }
                Item::Region(region) => self.region(region),
            }
        }
        self.line(0, "END_FUNCTION_BLOCK");
        self.line(0, "");
    }

    fn neighbours(&mut self) {
        let here = Paths { zone: "zones[i]", building: "b" };
        let there = Paths { zone: "zones[n]", building: "b" };
        for rule in &self.declaration.neighbours {
            let otherwise = match rule.otherwise {
                Some(name) => self.path(name, here),
                None if rule.figure == NeighbourFigure::Count => "0".to_owned(),
                None => "0.0".to_owned(),
            };
            let own = self.path(rule.signal, here);
            self.line(2, &format!("{own} := {otherwise};"));
        }
        self.line(2, "FOR k := 1 TO neighbour_places DO");
        self.line(3, "n := neighbours[i, k];");
        self.line(3, "IF n > 0 THEN");
        for rule in &self.declaration.neighbours {
            let own = self.path(rule.signal, here);
            let value = self.path(rule.value, there);
            let found = format!("found_{}", rule.signal);
            self.line(4, &format!("IF {} THEN", self.path(rule.counts, there)));
            match rule.figure {
                NeighbourFigure::Count => self.line(5, &format!("{own} := {own} + 1;")),
                figure => {
                    let (take, merge) = match figure {
                        NeighbourFigure::NearestDistance => {
                            let distance = format!("ABS({value} - {})", self.path(rule.value, here));
                            (distance.clone(), format!("MIN({own}, {distance})"))
                        }
                        NeighbourFigure::Highest => (value.clone(), format!("MAX({own}, {value})")),
                        _ => (value.clone(), format!("MIN({own}, {value})")),
                    };
                    self.line(5, &format!("IF {found} = i THEN"));
                    self.line(6, &format!("{own} := {merge};"));
                    self.line(5, "ELSE");
                    self.line(6, &format!("{own} := {take};"));
                    self.line(6, &format!("{found} := i;"));
                    self.line(5, "END_IF;");
                }
            }
            self.line(4, "END_IF;");
        }
        self.line(3, "END_IF;");
        self.line(2, "END_FOR;");
    }

    fn gathering(&mut self) {
        let here = Paths { zone: "zones[i]", building: "b" };
        for gather in &self.declaration.gathering {
            let own = self.path(gather.signal, here);
            match &gather.figure {
                Gathered::Votes { when, votes } => {
                    self.line(1, &format!("{own} := 0;"));
                    self.line(1, "FOR i := 1 TO zone_count DO");
                    self.line(2, &format!("IF {} THEN", self.expr(when, here)));
                    self.line(3, &format!("{own} := {own} + {};", self.path(votes, here)));
                    self.line(2, "END_IF;");
                    self.line(1, "END_FOR;");
                }
                Gathered::HighestBeyondIgnored { when, value, votes, ignored, otherwise } => {
                    let value = self.path(value, here);
                    self.line(1, &Self::comment("each pass takes the next lower value and adds its votes"));
                    self.line(1, &format!("{own} := {};", self.path(otherwise, here)));
                    self.line(1, "passed := FALSE;");
                    self.line(1, "level_known := FALSE;");
                    self.line(1, "sum := 0;");
                    self.line(1, "WHILE NOT passed DO");
                    self.line(2, "found := FALSE;");
                    self.line(2, "FOR i := 1 TO zone_count DO");
                    self.line(3, &format!("IF {} THEN", self.expr(when, here)));
                    self.line(4, &format!("IF (NOT level_known) OR ({value} < level) THEN"));
                    self.line(5, &format!("IF (NOT found) OR ({value} > highest) THEN"));
                    self.line(6, &format!("highest := {value};"));
                    self.line(6, "found := TRUE;");
                    self.line(5, "END_IF;");
                    self.line(4, "END_IF;");
                    self.line(3, "END_IF;");
                    self.line(2, "END_FOR;");
                    self.line(2, "IF found THEN");
                    self.line(3, "FOR i := 1 TO zone_count DO");
                    self.line(4, &format!("IF {} AND ({value} = highest) THEN", self.expr(when, here)));
                    self.line(5, &format!("sum := sum + {};", self.path(votes, here)));
                    self.line(4, "END_IF;");
                    self.line(3, "END_FOR;");
                    self.line(3, "level := highest;");
                    self.line(3, "level_known := TRUE;");
                    self.line(3, &format!("IF sum > {} THEN", self.path(ignored, here)));
                    self.line(4, &format!("{own} := level;"));
                    self.line(4, "passed := TRUE;");
                    self.line(3, "END_IF;");
                    self.line(2, "ELSE");
                    self.line(3, "passed := TRUE;");
                    self.line(2, "END_IF;");
                    self.line(1, "END_WHILE;");
                }
            }
        }
    }

    fn program(&mut self) {
        let zones = self.setup.zones().len();
        let most = self.setup.zones().iter().map(|z| z.neighbours.len()).max().unwrap_or(0).max(1);
        self.line(0, "PROGRAM DewPointSequence");
        self.line(0, "VAR");
        self.line(1, "started, found, passed, level_known : BOOL;");
        self.line(1, "i, k, n, sum : DINT;");
        self.line(1, "level, highest : LREAL;");
        let names: Vec<&str> = self
            .declaration
            .neighbours
            .iter()
            .filter(|rule| rule.figure != NeighbourFigure::Count)
            .map(|rule| rule.signal)
            .collect();
        for name in names {
            self.line(1, &format!("found_{name} : DINT;"));
        }
        self.line(1, &format!("neighbours : ARRAY[1..{zones}, 1..{most}] OF DINT;"));
        self.line(1, &format!("sensing : ARRAY[1..{zones}] OF ZoneSensing;"));
        self.line(1, &format!("judging : ARRAY[1..{zones}] OF ZoneJudging;"));
        self.line(1, &format!("acting : ARRAY[1..{zones}] OF ZoneSequence;"));
        self.line(1, "building : BuildingSequence;");
        self.line(0, "END_VAR");
        self.line(1, "IF NOT started THEN");
        self.line(2, "started := TRUE;");
        for (index, zone) in self.setup.zones().iter().enumerate() {
            let i = index + 1;
            self.line(2, &Self::comment(&format!("zone {i}: {}", zone.id)));
            for p in self.declaration.parameters.iter().filter(|p| p.scope == Scope::Zone) {
                let si = self.setup.zone_value(index, p.name).unwrap_or(f64::NAN);
                self.line(2, &format!("zones[{i}].{} := {};", p.name, literal(p.kind, si, self.system)));
            }
            for (k, neighbour) in zone.neighbours.iter().enumerate() {
                self.line(2, &format!("neighbours[{i}, {}] := {};", k + 1, neighbour + 1));
            }
        }
        self.line(1, "END_IF;");
        self.line(1, "FOR i := 1 TO zone_count DO");
        self.line(2, "sensing[i](cycle_s := cycle_s, b := b, z := zones[i]);");
        self.line(1, "END_FOR;");
        self.line(1, "FOR i := 1 TO zone_count DO");
        let names: Vec<&str> = self
            .declaration
            .neighbours
            .iter()
            .filter(|rule| rule.figure != NeighbourFigure::Count)
            .map(|rule| rule.signal)
            .collect();
        for name in names {
            self.line(2, &format!("found_{name} := 0;"));
        }
        self.neighbours();
        self.line(2, "judging[i](cycle_s := cycle_s, b := b, z := zones[i]);");
        self.line(1, "END_FOR;");
        self.gathering();
        self.line(1, "building(cycle_s := cycle_s, b := b);");
        self.line(1, "FOR i := 1 TO zone_count DO");
        self.line(2, "acting[i](cycle_s := cycle_s, b := b, z := zones[i]);");
        self.line(1, "END_FOR;");
        self.line(0, "END_PROGRAM");
    }
}

fn widest(region: &Region) -> usize {
    region
        .stages
        .iter()
        .map(|stage| region.transitions.iter().filter(|t| t.from.contains(&stage.name)).count())
        .max()
        .unwrap_or(0)
        .max(1)
}

/// The sequence as Structured Text, with the numbers of the setup in the caller's units.
///
/// The controller writes inputs into `b` and `zones[i]` and the time since the last cycle into `cycle_s`, calls the
/// program, and reads outputs from the same places.
///
/// # Errors
/// A declaration that does not check, or one that wants a parameter that the setup does not have.
///
/// ```
/// use drycoil_sequence::*;
/// use drycoil_units::{Temperature, UnitSystem};
/// let f = Temperature::fahrenheit;
/// let zone = ZoneSettings { id: "office".into(), sensor: ZoneSensor::Own, votes: 1, neighbours: vec![], room_limit: None };
/// let setup = Setup::new(Parameters::for_design(f(55.0), f(57.0), f(48.0)), vec![zone])?;
/// let text = structured_text(&dew_point_sequence(WaterOrder::AfterValves), &setup, UnitSystem::Ip)?;
/// assert!(text.contains("FUNCTION_BLOCK ZoneSequence"));
/// assert!(text.contains("life safety"));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn structured_text(
    declaration: &Declaration,
    setup: &Setup,
    system: UnitSystem,
) -> Result<String, MachineError> {
    declaration.check().map_err(MachineError::Declaration)?;
    for p in &declaration.parameters {
        let value = match p.scope {
            Scope::Building => setup.parameters().value(p.name),
            Scope::Zone => setup.zone_value(0, p.name),
        };
        value.ok_or(MachineError::NoValue(p.name))?;
    }
    let mut w = Writer { declaration, setup, system, out: String::new() };
    w.line(0, "(* Dew-point sequence, Structured Text of IEC 61131-3. Times in s. *)");
    w.line(0, "(* Life safety, smoke control and health-care room pressure outrank this sequence. Wire the wet switch of each");
    w.line(0, "   coil to its valve as well, so that it shuts the valve without this program. *)");
    w.line(0, "");
    w.types();
    w.globals();
    w.block("ZoneSensing", &declaration.sensing, Scope::Zone, "What the inputs of one zone tell");
    w.block(
        "ZoneJudging",
        &declaration.judging,
        Scope::Zone,
        "What is believed of the dew point of one zone",
    );
    w.block(
        "BuildingSequence",
        &declaration.building,
        Scope::Building,
        "Stages and commands of the building",
    );
    w.block("ZoneSequence", &declaration.zone, Scope::Zone, "Stages and commands of one zone");
    w.program();
    Ok(w.out)
}
