//! The sequence in plain words.

use crate::declare::{
    Comparison, Declaration, Direction, Expr, Gathered, Item, Kind, NeighbourFigure, Region, Rule, Scope,
    SignalRow, Transition, Truth,
};
use crate::machine::MachineError;
use crate::setup::{Setup, ZoneSensor, shown_as};
use drycoil_units::{QuantityKind, UnitSystem};

/// Unit in which values of a kind are written; none for yes or no, counts and shares.
pub(crate) fn kind_unit(kind: Kind, system: UnitSystem) -> &'static str {
    match (kind, system) {
        (Kind::Temperature, _) => system.symbol(QuantityKind::Temperature),
        (Kind::Difference, _) => system.symbol(QuantityKind::TemperatureDifference),
        (Kind::Rate, UnitSystem::Si) => "K/s",
        (Kind::Rate, UnitSystem::Ip) => "degF/s",
        (Kind::Time, _) => "s",
        (Kind::Fraction | Kind::Boolean | Kind::Count, _) => "",
    }
}

/// Value in that unit.
pub(crate) fn kind_value(kind: Kind, si: f64, system: UnitSystem) -> f64 {
    match kind {
        Kind::Temperature => system.value(QuantityKind::Temperature, si),
        Kind::Difference | Kind::Rate => system.value(QuantityKind::TemperatureDifference, si),
        _ => si,
    }
}

/// Value with its unit, as an operator reads it.
pub(crate) fn show(kind: Kind, si: f64, system: UnitSystem) -> String {
    match kind {
        Kind::Boolean => if si == 0.0 { "no" } else { "yes" }.to_owned(),
        Kind::Count => format!("{si}"),
        Kind::Fraction => format!("{:.0} %", si * 100.0),
        Kind::Time if si >= 120.0 && (si / 60.0).fract() == 0.0 => format!("{:.0} min", si / 60.0),
        Kind::Time => format!("{si} s"),
        Kind::Rate => {
            let unit = match system {
                UnitSystem::Si => "K/min",
                UnitSystem::Ip => "degF/min",
            };
            format!("{:.2} {unit}", kind_value(kind, si, system) * 60.0)
        }
        _ => match shown_as(kind) {
            // A tenth would hide settings of 0.25.
            Some(quantity) => format!("{:.2} {}", system.value(quantity, si), system.symbol(quantity)),
            None => format!("{si}"),
        },
    }
}

struct Teller<'a> {
    declaration: &'a Declaration,
    setup: &'a Setup,
    system: UnitSystem,
}

impl Teller<'_> {
    /// Kind and SI value of an expression of parameters alone that are the same everywhere.
    fn constant(&self, expr: &Expr) -> Option<(Kind, f64)> {
        match expr {
            Expr::Number(kind, value) => Some((*kind, *value)),
            Expr::Parameter(name) => {
                let row = self.declaration.parameter(name)?;
                let value = match row.scope {
                    Scope::Building => self.setup.parameters().value(name),
                    Scope::Zone => self.setup.common_value(name),
                };
                Some((row.kind, value?))
            }
            Expr::Add(a, b) => {
                let ((kind, a), (_, b)) = (self.constant(a)?, self.constant(b)?);
                Some((kind, a + b))
            }
            Expr::Subtract(a, b) => {
                let ((kind, a), (other, b)) = (self.constant(a)?, self.constant(b)?);
                let kind = if kind == Kind::Temperature && other == Kind::Temperature {
                    Kind::Difference
                } else {
                    kind
                };
                Some((kind, a - b))
            }
            _ => None,
        }
    }

    fn value(&self, expr: &Expr) -> String {
        if let Some((kind, si)) = self.constant(expr) {
            return show(kind, si, self.system);
        }
        match expr {
            Expr::Signal(name) => {
                self.declaration.signal(name).map_or_else(String::new, |s| s.words.to_owned())
            }
            Expr::Previous(name) => {
                self.declaration.signal(name).map_or_else(String::new, |s| format!("the last {}", s.words))
            }
            Expr::Parameter(name) => {
                self.declaration.parameter(name).map_or_else(String::new, |p| p.words.to_owned())
            }
            Expr::Cycle => "time since the last cycle".to_owned(),
            Expr::Add(a, b) => format!("{} plus {}", self.value(a), self.value(b)),
            Expr::Subtract(a, b) => format!("{} less {}", self.value(a), self.value(b)),
            Expr::Multiply(a, b) => format!("{} times {}", self.value(a), self.value(b)),
            Expr::Ratio(a, b) => format!("{} over {}", self.compound(a), self.compound(b)),
            Expr::Larger(a, b) | Expr::Smaller(a, b)
                if matches!(self.constant(a), Some((Kind::Fraction, _))) =>
            {
                let word = if matches!(expr, Expr::Larger(..)) { "least" } else { "most" };
                format!("{}, at {word} {}", self.value(b), self.value(a))
            }
            Expr::Larger(a, b) => format!("the larger of {} and {}", self.operand(a), self.operand(b)),
            Expr::Smaller(a, b) => format!("the smaller of {} and {}", self.operand(a), self.operand(b)),
            Expr::Choose(..) => {
                let (mut parts, mut rest) = (Vec::new(), expr);
                while let Expr::Choose(c, then, otherwise) = rest {
                    let then = match &**then {
                        Expr::Choose(..) => self.operand(then),
                        _ => self.value(then),
                    };
                    parts.push(format!("{then} if {}", self.condition(c)));
                    rest = otherwise;
                }
                parts.push(self.value(rest));
                parts.join("; otherwise ")
            }
            other => self.condition(other),
        }
    }

    /// A sum or difference within a product stands in brackets.
    fn compound(&self, expr: &Expr) -> String {
        if self.constant(expr).is_some() { self.value(expr) } else { format!("[{}]", self.value(expr)) }
    }

    /// A value within another: what has parts of its own stands in brackets.
    fn operand(&self, expr: &Expr) -> String {
        match expr {
            Expr::Larger(..) | Expr::Smaller(..) | Expr::Choose(..) | Expr::Ratio(..) => {
                format!("[{}]", self.value(expr))
            }
            _ => self.value(expr),
        }
    }

    fn condition(&self, expr: &Expr) -> String {
        let list = |parts: &[Expr], word: &str| {
            let parts: Vec<String> = parts
                .iter()
                .map(|part| match part {
                    // Stages of one region read as one.
                    Expr::Any(stages) if stages.iter().all(|s| matches!(s, Expr::In(..))) => {
                        self.condition(part)
                    }
                    Expr::All(_) | Expr::Any(_) => format!("({})", self.condition(part)),
                    _ => self.condition(part),
                })
                .collect();
            parts.join(word)
        };
        match expr {
            Expr::Always(Truth::Yes) => "nothing else happened".to_owned(),
            Expr::Always(Truth::No) => "never".to_owned(),
            Expr::Signal(_) | Expr::Parameter(_) | Expr::Previous(_) => {
                format!("\"{}\" is true", self.value(expr))
            }
            Expr::In(region, stage) => format!("{} is \"{}\"", plain(region), plain(stage)),
            Expr::All(parts) => list(parts, " and "),
            Expr::Any(parts) => {
                let stages: Option<Vec<(&str, String)>> = parts
                    .iter()
                    .map(|p| if let Expr::In(r, s) = p { Some((*r, plain(s))) } else { None })
                    .collect();
                match stages {
                    Some(stages) if stages.iter().all(|(r, _)| *r == stages[0].0) => {
                        let names: Vec<&str> = stages.iter().map(|(_, s)| s.as_str()).collect();
                        format!("{} is \"{}\"", plain(stages[0].0), names.join("\" or \""))
                    }
                    _ => list(parts, " or "),
                }
            }
            Expr::Not(part) => match &**part {
                Expr::Signal(_) | Expr::Parameter(_) => format!("\"{}\" is not true", self.value(part)),
                // Counts and flags only stand behind a negation; a reading that is no number is never compared so.
                Expr::Compare(comparison, a, b) => {
                    let word = match comparison {
                        Comparison::Above => "is not above",
                        Comparison::AtLeast => "is below",
                        Comparison::Below => "is not below",
                        Comparison::AtMost => "is above",
                    };
                    format!("{} {word} {}", self.value(a), self.value(b))
                }
                Expr::In(region, stage) => format!("{} is not \"{}\"", plain(region), plain(stage)),
                other => format!("it is not so that {}", self.condition(other)),
            },
            Expr::Compare(comparison, a, b) => {
                let word = match comparison {
                    Comparison::Above => "is above",
                    Comparison::AtLeast => "is at least",
                    Comparison::Below => "is below",
                    Comparison::AtMost => "is at most",
                };
                format!("{} {word} {}", self.value(a), self.value(b))
            }
            other => self.value(other),
        }
    }
}

/// A name of the declaration in words.
pub(crate) fn plain(name: &str) -> String {
    name.replace('_', " ")
}

/// A way from stage to stage, in words.
#[derive(Debug, Clone, PartialEq)]
pub struct WrittenTransition {
    /// Stages that are left.
    pub from: Vec<String>,
    /// Stage that is taken.
    pub to: String,
    /// What must hold, with the project's numbers.
    pub when: String,
    /// For how long; none for at once.
    pub delay: Option<String>,
    /// Why.
    pub reason: String,
}

/// A part of the written sequence.
#[derive(Debug, Clone, PartialEq)]
pub enum Paragraph {
    /// Heading.
    Heading(String),
    /// Text.
    Text(String),
    /// Name and value.
    Setting {
        /// Parameter of the declaration; none for a zone.
        parameter: Option<&'static str>,
        /// Name.
        name: String,
        /// Value with unit.
        value: String,
    },
    /// Name of a stage and what happens in it.
    Stage {
        /// Name.
        name: String,
        /// What happens.
        words: String,
    },
    /// A way from stage to stage.
    Transition(WrittenTransition),
    /// A signal and how it is worked out.
    Rule {
        /// What it is.
        name: String,
        /// How it is worked out.
        value: String,
    },
}

impl std::fmt::Display for Paragraph {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Heading(text) => write!(f, "## {text}"),
            Self::Text(text) => write!(f, "{text}"),
            Self::Setting { name, value, .. } => write!(f, "- {name}: {value}"),
            Self::Stage { name, words } => write!(f, "- Stage \"{name}\". {words}"),
            Self::Transition(t) => {
                write!(f, "- From \"{}\" to \"{}\" ", t.from.join("\", \""), t.to)?;
                match &t.delay {
                    Some(delay) => write!(f, "after {delay}, ")?,
                    None => write!(f, "at once, ")?,
                }
                write!(f, "if {}. Reason shown: {}.", t.when, t.reason)
            }
            Self::Rule { name, value } => write!(f, "- {name}: {value}."),
        }
    }
}

/// The written sequence: what outranks it, settings, stages, transitions, commands, with the project's numbers.
///
/// # Errors
/// A declaration that does not check.
///
/// ```
/// use drycoil_sequence::*;
/// use drycoil_units::{Temperature, UnitSystem};
/// let f = Temperature::fahrenheit;
/// let zone = ZoneSettings { id: "office".into(), sensor: ZoneSensor::Own, votes: 1, neighbours: vec![], room_limit: None };
/// let setup = Setup::new(Parameters::for_design(f(55.0), f(57.0), f(48.0)), vec![zone])?;
/// let text = written_sequence(&dew_point_sequence(WaterOrder::AfterValves), &setup, UnitSystem::Ip)?;
/// let text: Vec<String> = text.iter().map(ToString::to_string).collect();
/// assert!(text.iter().any(|line| line.contains("is above 55.00 degF")));
/// assert!(text[1].contains("Life safety"));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn written_sequence(
    declaration: &Declaration,
    setup: &Setup,
    system: UnitSystem,
) -> Result<Vec<Paragraph>, MachineError> {
    declaration.check().map_err(MachineError::Declaration)?;
    let teller = Teller { declaration, setup, system };
    let mut out = vec![
        Paragraph::Heading("What outranks this sequence".to_owned()),
        Paragraph::Text(
            "Life safety and smoke control outrank this sequence: while either has priority the sequence commands no \
             damper, and coil valves are shut. Health-care room pressure control outranks it for the primary damper \
             of its zone. Nothing in this sequence may delay or undo their commands."
                .to_owned(),
        ),
        Paragraph::Text(
            "The wet switch at each coil is wired to its valve and shuts it without software. The software follows, \
             tells the operator, and opens the valve only after the release."
                .to_owned(),
        ),
        Paragraph::Text(
            "In each cycle every region changes its stage at most once; of several transitions whose time has come \
             the first listed is taken. A delay counts only while its condition holds without a break."
                .to_owned(),
        ),
        Paragraph::Heading("Settings".to_owned()),
    ];
    for p in declaration.parameters.iter().filter(|p| p.scope == Scope::Building) {
        let si = setup.parameters().value(p.name).ok_or(MachineError::NoValue(p.name))?;
        out.push(Paragraph::Setting {
            parameter: Some(p.name),
            name: sentence(p.words),
            value: show(p.kind, si, system),
        });
    }
    for p in declaration.parameters.iter().filter(|p| p.scope == Scope::Zone) {
        if matches!(p.kind, Kind::Boolean | Kind::Count) {
            continue;
        }
        setup.zone_value(0, p.name).ok_or(MachineError::NoValue(p.name))?;
        out.push(Paragraph::Setting {
            parameter: Some(p.name),
            name: sentence(p.words),
            value: match setup.common_value(p.name) {
                Some(si) => show(p.kind, si, system),
                None => "zone by zone, as listed".to_owned(),
            },
        });
    }
    out.push(Paragraph::Heading("Zones".to_owned()));
    for (index, zone) in setup.zones().iter().enumerate() {
        let own: String = declaration
            .parameters
            .iter()
            .filter(|p| p.scope == Scope::Zone && !matches!(p.kind, Kind::Boolean | Kind::Count))
            .filter(|p| setup.common_value(p.name).is_none())
            .filter_map(|p| {
                Some(format!("; {} {}", p.words, show(p.kind, setup.zone_value(index, p.name)?, system)))
            })
            .collect();
        let neighbours: Vec<&str> = zone.neighbours.iter().map(|&n| setup.zones()[n].id.as_str()).collect();
        let sensor = match zone.sensor {
            ZoneSensor::Own => "own dew-point sensor",
            ZoneSensor::Neighbours => "no dew-point sensor; its neighbours stand in",
        };
        let neighbours = if neighbours.is_empty() {
            "no neighbours".to_owned()
        } else {
            format!("neighbours {}", neighbours.join(", "))
        };
        out.push(Paragraph::Setting {
            parameter: None,
            name: zone.id.clone(),
            value: format!("{sensor}; votes {}; {neighbours}{own}", zone.votes),
        });
    }
    let told = |name: &str| declaration.signal(name).map_or_else(String::new, |row| row.words.to_owned());
    let neighbours = declaration.neighbours.iter().map(|rule| {
        let figure = match rule.figure {
            NeighbourFigure::Count => "number of neighbours that count",
            NeighbourFigure::NearestDistance => {
                "least distance of the own value to that of a neighbour that counts"
            }
            NeighbourFigure::Highest => "highest value among neighbours that count",
            NeighbourFigure::Lowest => "lowest value among neighbours that count",
        };
        let value =
            format!("{figure}; value: {}; a neighbour counts if: {}", told(rule.value), told(rule.counts));
        Paragraph::Rule { name: sentence(&told(rule.signal)), value }
    });
    let gathering = declaration.gathering.iter().map(|gather| {
        let value = match &gather.figure {
            Gathered::Votes { when, .. } => {
                format!("sum of the votes of all zones for which {}", teller.condition(when))
            }
            Gathered::HighestBeyondIgnored { when, value, ignored, .. } => format!(
                "the highest value that zones with more than {} votes together reach or exceed; value: {}; a zone \
                 counts if {}",
                teller.value(&Expr::Parameter(ignored)),
                told(value),
                teller.condition(when)
            ),
        };
        Paragraph::Rule { name: sentence(&told(gather.signal)), value }
    });
    let parts: [(&str, Vec<Paragraph>, &[Item]); 4] = [
        ("What the inputs of a zone tell", Vec::new(), &declaration.sensing),
        ("What is believed of the dew point of a zone", neighbours.collect(), &declaration.judging),
        ("Building", gathering.collect(), &declaration.building),
        ("Each zone", Vec::new(), &declaration.zone),
    ];
    for (title, first, items) in parts {
        out.push(Paragraph::Heading(title.to_owned()));
        out.extend(first);
        for item in items {
            match item {
                Item::Region(region) => region_words(&teller, region, &mut out),
                Item::Rule(rule) => out.push(rule_words(&teller, rule)),
            }
        }
    }
    Ok(out)
}

fn sentence(words: &str) -> String {
    let mut chars = words.chars();
    chars.next().map_or_else(String::new, |c| c.to_uppercase().chain(chars).collect())
}

fn rule_words(teller: &Teller<'_>, rule: &Rule) -> Paragraph {
    let row: Option<&SignalRow> = teller.declaration.signal(rule.signal);
    let name = row.map_or(rule.signal, |row| row.words);
    let name = match row.map(|row| row.direction) {
        Some(Direction::Output) => format!("{}: {name}", output_word(row)),
        _ => sentence(name),
    };
    let value = match row.map(|row| row.kind) {
        Some(Kind::Boolean) => format!("true while {}", teller.condition(&rule.value)),
        _ => teller.value(&rule.value),
    };
    Paragraph::Rule { name, value }
}

/// What an output is to who reads the sequence.
fn output_word(row: Option<&SignalRow>) -> &'static str {
    match row {
        Some(row) if row.alarm.is_some() => "Alarm",
        Some(row) if row.name == "notice" || row.name.ends_with("_released") => "Status",
        _ => "Command",
    }
}

fn region_words(teller: &Teller<'_>, region: &Region, out: &mut Vec<Paragraph>) {
    out.push(Paragraph::Text(format!("Stages of \"{}\":", plain(region.name))));
    for stage in &region.stages {
        out.push(Paragraph::Stage { name: plain(stage.name), words: stage.words.to_owned() });
    }
    for t in &region.transitions {
        out.push(Paragraph::Transition(transition_words(teller, t)));
    }
}

fn transition_words(teller: &Teller<'_>, t: &Transition) -> WrittenTransition {
    WrittenTransition {
        from: t.from.iter().map(|s| plain(s)).collect(),
        to: plain(t.to),
        when: teller.condition(&t.when),
        delay: t
            .delay
            .and_then(|d| teller.setup.parameters().value(d))
            .map(|si| show(Kind::Time, si, teller.system)),
        reason: t.reason.to_owned(),
    }
}
