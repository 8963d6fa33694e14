//! What a sequence is made of: signals, rules, regions with stages and transitions, all of it data.
//!
//! A declaration is a value. The interpreter runs it, the exporters print it, the property checks explore it; none
//! of them knows the dew-point sequence by any other way. [`Declaration::check`] refuses one that adds temperatures,
//! reads what is not yet known, or names what does not exist.

use std::fmt;

/// What a value of a signal, parameter or expression means.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// A point on a temperature scale, degC.
    Temperature,
    /// A distance between two temperatures, K.
    Difference,
    /// Change of temperature over time, K/s.
    Rate,
    /// Time, s.
    Time,
    /// A share of one.
    Fraction,
    /// Yes or no.
    Boolean,
    /// A whole number of votes or sensors.
    Count,
}

/// Whether there is one of something for the building, or one for each zone.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Scope {
    /// One for the building.
    Building,
    /// One for each zone.
    Zone,
}

/// Where the value of a signal comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Direction {
    /// Measured or commanded by others.
    Input,
    /// Commanded by the sequence.
    Output,
    /// Worked out on the way.
    Inner,
}

/// An expression over signals, parameters and stages.
#[derive(Debug, Clone, PartialEq)]
pub enum Expr {
    /// Always the same yes or no.
    Always(Truth),
    /// A plain number: a share or a count. Every number with a unit is a parameter.
    Number(Kind, f64),
    /// A signal of this step.
    Signal(&'static str),
    /// A signal as the last step left it.
    Previous(&'static str),
    /// A parameter.
    Parameter(&'static str),
    /// Time since the last step.
    Cycle,
    /// A region stands in a stage.
    In(&'static str, &'static str),
    /// All of them.
    All(Vec<Expr>),
    /// At least one of them.
    Any(Vec<Expr>),
    /// The opposite.
    Not(Box<Expr>),
    /// A comparison of two values of one kind; false when either is not a number.
    Compare(Comparison, Box<Expr>, Box<Expr>),
    /// Sum.
    Add(Box<Expr>, Box<Expr>),
    /// Difference.
    Subtract(Box<Expr>, Box<Expr>),
    /// Product of a rate and a time.
    Multiply(Box<Expr>, Box<Expr>),
    /// The share that one difference is of another, which is not zero.
    Ratio(Box<Expr>, Box<Expr>),
    /// The larger.
    Larger(Box<Expr>, Box<Expr>),
    /// The smaller.
    Smaller(Box<Expr>, Box<Expr>),
    /// The second if the first is true, else the third.
    Choose(Box<Expr>, Box<Expr>, Box<Expr>),
}

/// A constant yes or no.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Truth {
    /// Yes.
    Yes,
    /// No.
    No,
}

/// How two values are compared.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Comparison {
    /// Greater than.
    Above,
    /// Greater than or equal to.
    AtLeast,
    /// Less than.
    Below,
    /// Less than or equal to.
    AtMost,
}

/// A number of the project that the declaration uses.
#[derive(Debug, Clone, PartialEq)]
pub struct ParameterRow {
    /// Name.
    pub name: &'static str,
    /// Kind of value.
    pub kind: Kind,
    /// One for the building, or one for each zone.
    pub scope: Scope,
    /// What it is, for the written sequence.
    pub words: &'static str,
}

/// A value that enters, leaves or is worked out.
#[derive(Debug, Clone, PartialEq)]
pub struct SignalRow {
    /// Name.
    pub name: &'static str,
    /// Kind of value.
    pub kind: Kind,
    /// One for the building, or one for each zone.
    pub scope: Scope,
    /// Input, output or inner.
    pub direction: Direction,
    /// What it is.
    pub words: &'static str,
    /// Value before the first step, SI; of a parameter when it has a name.
    pub initial: Initial,
    /// Least and largest value, SI, where there is such a thing.
    pub range: Option<(f64, f64)>,
    /// What an operator is told when it is true.
    pub alarm: Option<&'static str>,
    /// Class of the Brick schema.
    pub brick: Option<&'static str>,
    /// Markers of Project Haystack.
    pub haystack: Option<&'static str>,
}

/// Value of a signal before the first step.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Initial {
    /// Zero, or no.
    Zero,
    /// The value of a parameter.
    Parameter(&'static str),
}

/// A signal and how it is worked out.
#[derive(Debug, Clone, PartialEq)]
pub struct Rule {
    /// The signal that gets the value.
    pub signal: &'static str,
    /// The value.
    pub value: Expr,
}

/// One stage of a region.
#[derive(Debug, Clone, PartialEq)]
pub struct Stage {
    /// Name.
    pub name: &'static str,
    /// What happens in it, for the written sequence.
    pub words: &'static str,
}

/// A way from one stage to another.
#[derive(Debug, Clone, PartialEq)]
pub struct Transition {
    /// Stages from which it leads away.
    pub from: Vec<&'static str>,
    /// Stage to which it leads.
    pub to: &'static str,
    /// What must hold.
    pub when: Expr,
    /// Parameter that says for how long it must hold; at once when there is none.
    pub delay: Option<&'static str>,
    /// Why, in words.
    pub reason: &'static str,
}

/// A set of stages of which exactly one is taken.
#[derive(Debug, Clone, PartialEq)]
pub struct Region {
    /// Name.
    pub name: &'static str,
    /// Stages; the first is taken before the first step.
    pub stages: Vec<Stage>,
    /// Transitions; of those whose time has come, the first in this order is taken.
    pub transitions: Vec<Transition>,
}

/// Part of a block, in the order of work.
#[derive(Debug, Clone, PartialEq)]
pub enum Item {
    /// A signal is worked out.
    Rule(Rule),
    /// A region may change its stage.
    Region(Region),
}

/// A number found among the neighbours of a zone.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NeighbourFigure {
    /// How many readings count.
    Count,
    /// Distance to the reading that is nearest to the own one; zero without a reading that counts.
    NearestDistance,
    /// Highest reading.
    Highest,
    /// Lowest reading.
    Lowest,
}

/// A zone signal worked out from the readings of its neighbours.
#[derive(Debug, Clone, PartialEq)]
pub struct NeighbourRule {
    /// Zone signal that gets the value.
    pub signal: &'static str,
    /// What is looked for.
    pub figure: NeighbourFigure,
    /// Zone signal that is compared.
    pub value: &'static str,
    /// Zone signal that says whether a reading counts.
    pub counts: &'static str,
    /// Parameter that is taken when no reading counts; zero when there is none.
    pub otherwise: Option<&'static str>,
}

/// A building signal worked out from all zones.
#[derive(Debug, Clone, PartialEq)]
pub struct Gather {
    /// Building signal that gets the value.
    pub signal: &'static str,
    /// How.
    pub figure: Gathered,
}

/// How a building signal comes from the zones.
#[derive(Debug, Clone, PartialEq)]
pub enum Gathered {
    /// Sum of the votes of the zones for which this holds.
    Votes {
        /// What must hold in a zone.
        when: Expr,
        /// Zone parameter with its votes.
        votes: &'static str,
    },
    /// The highest value that zones with more than the ignored votes reach or exceed.
    HighestBeyondIgnored {
        /// What must hold in a zone for its value to count.
        when: Expr,
        /// Zone signal.
        value: &'static str,
        /// Zone parameter with its votes.
        votes: &'static str,
        /// Building parameter with the votes that are ignored.
        ignored: &'static str,
        /// Building parameter that is taken when the votes do not suffice.
        otherwise: &'static str,
    },
}

/// A sequence as data. A step works through its parts in the order of the fields.
#[derive(Debug, Clone, PartialEq)]
pub struct Declaration {
    /// Parameters.
    pub parameters: Vec<ParameterRow>,
    /// Signals.
    pub signals: Vec<SignalRow>,
    /// For each zone: what its own inputs tell.
    pub sensing: Vec<Item>,
    /// For each zone: what its neighbours tell.
    pub neighbours: Vec<NeighbourRule>,
    /// For each zone: what is believed.
    pub judging: Vec<Item>,
    /// For the building: what the zones tell. Stages of zones are those of the step before.
    pub gathering: Vec<Gather>,
    /// For the building: stages and commands.
    pub building: Vec<Item>,
    /// For each zone: stages and commands.
    pub zone: Vec<Item>,
}

/// Why a declaration is refused.
#[derive(Debug, Clone, PartialEq)]
pub enum DeclarationError {
    /// A name that nothing carries.
    Unknown {
        /// The name.
        name: String,
        /// Where it is used.
        at: String,
    },
    /// A name given twice.
    Twice(String),
    /// Kinds that do not go together.
    Kinds(String),
    /// A signal is read before it is worked out.
    TooEarly {
        /// The signal.
        name: String,
        /// Where it is read.
        at: String,
    },
    /// A signal that nothing works out, or that is worked out twice, or an input that is overwritten.
    Assigned(String),
}

impl fmt::Display for DeclarationError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Unknown { name, at } => write!(f, "`{name}` in `{at}` is not declared"),
            Self::Twice(name) => write!(f, "`{name}` is declared twice"),
            Self::Kinds(at) => write!(f, "kinds of values in `{at}` do not go together"),
            Self::TooEarly { name, at } => write!(f, "`{name}` is read in `{at}` before it is worked out"),
            Self::Assigned(name) => write!(f, "`{name}` must be worked out exactly once, and an input never"),
        }
    }
}

impl std::error::Error for DeclarationError {}

impl Declaration {
    /// The signal of this name.
    pub fn signal(&self, name: &str) -> Option<&SignalRow> {
        self.signals.iter().find(|row| row.name == name)
    }

    /// The parameter of this name.
    pub fn parameter(&self, name: &str) -> Option<&ParameterRow> {
        self.parameters.iter().find(|row| row.name == name)
    }

    /// Regions with their scope, in the order of work.
    pub fn regions(&self) -> impl Iterator<Item = (Scope, &Region)> {
        [
            (Scope::Zone, &self.sensing),
            (Scope::Zone, &self.judging),
            (Scope::Building, &self.building),
            (Scope::Zone, &self.zone),
        ]
        .into_iter()
        .flat_map(|(scope, items)| {
            items.iter().filter_map(move |item| match item {
                Item::Region(region) => Some((scope, region)),
                Item::Rule(_) => None,
            })
        })
    }

    /// The region of this name, with its scope.
    pub fn region(&self, name: &str) -> Option<(Scope, &Region)> {
        self.regions().find(|(_, region)| region.name == name)
    }

    /// Checks names, kinds and order.
    ///
    /// # Errors
    /// The first thing that is wrong.
    pub fn check(&self) -> Result<(), DeclarationError> {
        let mut names: Vec<&str> = self
            .parameters
            .iter()
            .map(|p| p.name)
            .chain(self.signals.iter().map(|s| s.name))
            .chain(self.regions().map(|(_, r)| r.name))
            .collect();
        names.sort_unstable();
        if let Some(pair) = names.windows(2).find(|pair| pair[0] == pair[1]) {
            return Err(DeclarationError::Twice(pair[0].to_owned()));
        }
        let mut checker = Checker { declaration: self, known: Vec::new() };
        for row in &self.signals {
            if row.direction == Direction::Input {
                checker.known.push(row.name);
            }
            if let Initial::Parameter(name) = row.initial
                && checker.parameter(name, row.scope, row.name)? != row.kind
            {
                return Err(DeclarationError::Kinds(row.name.to_owned()));
            }
        }
        checker.items(&self.sensing, Scope::Zone)?;
        for rule in &self.neighbours {
            let value = checker.read(rule.value, Scope::Zone, rule.signal)?;
            if checker.read(rule.counts, Scope::Zone, rule.signal)? != Kind::Boolean {
                return Err(DeclarationError::Kinds(rule.signal.to_owned()));
            }
            let kind = match (rule.figure, value) {
                (NeighbourFigure::Count, _) => Kind::Count,
                (NeighbourFigure::NearestDistance, Kind::Temperature) => Kind::Difference,
                (NeighbourFigure::NearestDistance, _) => {
                    return Err(DeclarationError::Kinds(rule.signal.to_owned()));
                }
                (NeighbourFigure::Highest | NeighbourFigure::Lowest, kind) => kind,
            };
            if let Some(name) = rule.otherwise
                && checker.parameter(name, Scope::Zone, rule.signal)? != kind
            {
                return Err(DeclarationError::Kinds(rule.signal.to_owned()));
            }
            checker.assign(rule.signal, Scope::Zone, kind)?;
        }
        checker.items(&self.judging, Scope::Zone)?;
        for gather in &self.gathering {
            let kind = match &gather.figure {
                Gathered::Votes { when, votes } => {
                    checker.boolean(when, Scope::Zone, gather.signal)?;
                    checker.parameter(votes, Scope::Zone, gather.signal)?
                }
                Gathered::HighestBeyondIgnored { when, value, votes, ignored, otherwise } => {
                    checker.boolean(when, Scope::Zone, gather.signal)?;
                    let kind = checker.read(value, Scope::Zone, gather.signal)?;
                    let counts = [
                        checker.parameter(votes, Scope::Zone, gather.signal)?,
                        checker.parameter(ignored, Scope::Building, gather.signal)?,
                    ];
                    let other = checker.parameter(otherwise, Scope::Building, gather.signal)?;
                    if counts != [Kind::Count; 2] || other != kind {
                        return Err(DeclarationError::Kinds(gather.signal.to_owned()));
                    }
                    kind
                }
            };
            checker.assign(gather.signal, Scope::Building, kind)?;
        }
        checker.items(&self.building, Scope::Building)?;
        checker.items(&self.zone, Scope::Zone)?;
        match self.signals.iter().find(|row| !checker.known.contains(&row.name)) {
            Some(row) => Err(DeclarationError::Assigned(row.name.to_owned())),
            None => Ok(()),
        }
    }
}

struct Checker<'a> {
    declaration: &'a Declaration,
    known: Vec<&'static str>,
}

impl Checker<'_> {
    fn items(&mut self, items: &[Item], scope: Scope) -> Result<(), DeclarationError> {
        for item in items {
            match item {
                Item::Rule(rule) => {
                    let kind = self.kind(&rule.value, scope, rule.signal)?;
                    self.assign(rule.signal, scope, kind)?;
                }
                Item::Region(region) => {
                    for transition in &region.transitions {
                        for stage in transition.from.iter().chain([&transition.to]) {
                            Self::stage(region, stage, region.name)?;
                        }
                        self.boolean(&transition.when, scope, region.name)?;
                        if let Some(delay) = transition.delay
                            && self.parameter(delay, scope, region.name)? != Kind::Time
                        {
                            return Err(DeclarationError::Kinds(region.name.to_owned()));
                        }
                    }
                }
            }
        }
        Ok(())
    }

    fn stage(region: &Region, stage: &str, at: &str) -> Result<(), DeclarationError> {
        if region.stages.iter().any(|s| s.name == stage) {
            return Ok(());
        }
        Err(DeclarationError::Unknown { name: stage.to_owned(), at: at.to_owned() })
    }

    fn assign(&mut self, name: &'static str, scope: Scope, kind: Kind) -> Result<(), DeclarationError> {
        let row = self
            .declaration
            .signal(name)
            .ok_or_else(|| DeclarationError::Unknown { name: name.to_owned(), at: name.to_owned() })?;
        if self.known.contains(&name) || row.scope != scope {
            return Err(DeclarationError::Assigned(name.to_owned()));
        }
        if row.kind != kind {
            return Err(DeclarationError::Kinds(name.to_owned()));
        }
        self.known.push(name);
        Ok(())
    }

    fn declared(&self, name: &str, scope: Scope, at: &str) -> Result<Kind, DeclarationError> {
        match self.declaration.signal(name) {
            Some(row) if row.scope == scope || scope == Scope::Zone => Ok(row.kind),
            _ => Err(DeclarationError::Unknown { name: name.to_owned(), at: at.to_owned() }),
        }
    }

    fn read(&self, name: &'static str, scope: Scope, at: &str) -> Result<Kind, DeclarationError> {
        let kind = self.declared(name, scope, at)?;
        if !self.known.contains(&name) {
            return Err(DeclarationError::TooEarly { name: name.to_owned(), at: at.to_owned() });
        }
        Ok(kind)
    }

    fn parameter(&self, name: &str, scope: Scope, at: &str) -> Result<Kind, DeclarationError> {
        match self.declaration.parameter(name) {
            Some(row) if row.scope == Scope::Building || scope == Scope::Zone => Ok(row.kind),
            _ => Err(DeclarationError::Unknown { name: name.to_owned(), at: at.to_owned() }),
        }
    }

    fn boolean(&self, expr: &Expr, scope: Scope, at: &str) -> Result<(), DeclarationError> {
        if self.kind(expr, scope, at)? == Kind::Boolean {
            return Ok(());
        }
        Err(DeclarationError::Kinds(at.to_owned()))
    }

    fn kind(&self, expr: &Expr, scope: Scope, at: &str) -> Result<Kind, DeclarationError> {
        let wrong = || DeclarationError::Kinds(at.to_owned());
        match expr {
            Expr::Always(_) => Ok(Kind::Boolean),
            Expr::Number(kind @ (Kind::Fraction | Kind::Count), _) => Ok(*kind),
            Expr::Number(..) => Err(wrong()),
            Expr::Signal(name) => self.read(name, scope, at),
            Expr::Previous(name) => self.declared(name, scope, at),
            Expr::Parameter(name) => self.parameter(name, scope, at),
            Expr::Cycle => Ok(Kind::Time),
            Expr::In(region, stage) => match self.declaration.region(region) {
                Some((of, region)) if of == scope || scope == Scope::Zone => {
                    Self::stage(region, stage, at)?;
                    Ok(Kind::Boolean)
                }
                _ => Err(DeclarationError::Unknown { name: (*region).to_owned(), at: at.to_owned() }),
            },
            Expr::All(parts) | Expr::Any(parts) => {
                if parts.is_empty() {
                    return Err(wrong());
                }
                for part in parts {
                    self.boolean(part, scope, at)?;
                }
                Ok(Kind::Boolean)
            }
            Expr::Not(part) => {
                self.boolean(part, scope, at)?;
                Ok(Kind::Boolean)
            }
            Expr::Compare(_, a, b) => {
                let (a, b) = (self.kind(a, scope, at)?, self.kind(b, scope, at)?);
                if a == b && a != Kind::Boolean { Ok(Kind::Boolean) } else { Err(wrong()) }
            }
            Expr::Add(a, b) => match (self.kind(a, scope, at)?, self.kind(b, scope, at)?) {
                (Kind::Temperature, Kind::Difference) => Ok(Kind::Temperature),
                (Kind::Difference, Kind::Difference) => Ok(Kind::Difference),
                _ => Err(wrong()),
            },
            Expr::Subtract(a, b) => match (self.kind(a, scope, at)?, self.kind(b, scope, at)?) {
                (Kind::Temperature, Kind::Difference) => Ok(Kind::Temperature),
                (Kind::Difference, Kind::Difference) | (Kind::Temperature, Kind::Temperature) => {
                    Ok(Kind::Difference)
                }
                _ => Err(wrong()),
            },
            Expr::Multiply(a, b) => match (self.kind(a, scope, at)?, self.kind(b, scope, at)?) {
                (Kind::Rate, Kind::Time) => Ok(Kind::Difference),
                _ => Err(wrong()),
            },
            Expr::Ratio(a, b) => match (self.kind(a, scope, at)?, self.kind(b, scope, at)?) {
                (Kind::Difference, Kind::Difference) => Ok(Kind::Fraction),
                _ => Err(wrong()),
            },
            Expr::Larger(a, b) | Expr::Smaller(a, b) => {
                let (a, b) = (self.kind(a, scope, at)?, self.kind(b, scope, at)?);
                if a == b && a != Kind::Boolean { Ok(a) } else { Err(wrong()) }
            }
            Expr::Choose(c, a, b) => {
                self.boolean(c, scope, at)?;
                let (a, b) = (self.kind(a, scope, at)?, self.kind(b, scope, at)?);
                if a == b { Ok(a) } else { Err(wrong()) }
            }
        }
    }
}

/// Short ways to write expressions.
pub mod write {
    use super::{Comparison, Expr, Kind};

    /// A signal of this step.
    pub fn signal(name: &'static str) -> Expr {
        Expr::Signal(name)
    }
    /// A parameter.
    pub fn parameter(name: &'static str) -> Expr {
        Expr::Parameter(name)
    }
    /// A share of one.
    pub fn share(value: f64) -> Expr {
        Expr::Number(Kind::Fraction, value)
    }
    /// A count.
    pub fn count(value: u32) -> Expr {
        Expr::Number(Kind::Count, f64::from(value))
    }
    /// A region stands in a stage.
    pub fn stage_is(region: &'static str, stage: &'static str) -> Expr {
        Expr::In(region, stage)
    }
    /// A region stands in one of these stages.
    pub fn stage_among(region: &'static str, stages: &[&'static str]) -> Expr {
        Expr::Any(stages.iter().map(|stage| Expr::In(region, stage)).collect())
    }
    /// All of them.
    pub fn all<const N: usize>(parts: [Expr; N]) -> Expr {
        Expr::All(parts.into())
    }
    /// At least one of them.
    pub fn any<const N: usize>(parts: [Expr; N]) -> Expr {
        Expr::Any(parts.into())
    }
    /// The opposite.
    pub fn not(part: Expr) -> Expr {
        Expr::Not(Box::new(part))
    }
    /// Greater than.
    pub fn above(a: Expr, b: Expr) -> Expr {
        Expr::Compare(Comparison::Above, Box::new(a), Box::new(b))
    }
    /// Greater than or equal to.
    pub fn at_least(a: Expr, b: Expr) -> Expr {
        Expr::Compare(Comparison::AtLeast, Box::new(a), Box::new(b))
    }
    /// Less than or equal to.
    pub fn at_most(a: Expr, b: Expr) -> Expr {
        Expr::Compare(Comparison::AtMost, Box::new(a), Box::new(b))
    }
    /// Sum.
    pub fn plus(a: Expr, b: Expr) -> Expr {
        Expr::Add(Box::new(a), Box::new(b))
    }
    /// Difference.
    pub fn minus(a: Expr, b: Expr) -> Expr {
        Expr::Subtract(Box::new(a), Box::new(b))
    }
    /// Product.
    pub fn times(a: Expr, b: Expr) -> Expr {
        Expr::Multiply(Box::new(a), Box::new(b))
    }
    /// Share that one difference is of another.
    pub fn ratio(a: Expr, b: Expr) -> Expr {
        Expr::Ratio(Box::new(a), Box::new(b))
    }
    /// The larger.
    pub fn larger(a: Expr, b: Expr) -> Expr {
        Expr::Larger(Box::new(a), Box::new(b))
    }
    /// The smaller.
    pub fn smaller(a: Expr, b: Expr) -> Expr {
        Expr::Smaller(Box::new(a), Box::new(b))
    }
    /// The second if the first holds, else the third.
    pub fn choose(condition: Expr, then: Expr, otherwise: Expr) -> Expr {
        Expr::Choose(Box::new(condition), Box::new(then), Box::new(otherwise))
    }
}
