//! Expressions as flat programs: tests with two ways on, and assignments with one. Nothing recurs and nothing is
//! allocated when one runs; parameters that all zones share are folded into constants.

use crate::declare::{Comparison, Declaration, DeclarationError, Expr, Scope, Truth};
use crate::setup::Setup;

/// Where a value is kept.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Place {
    Zone(usize),
    Building(usize),
}

/// A value that is at hand.
#[derive(Debug, Clone, Copy)]
enum Leaf {
    Constant(f64),
    Zone(u32),
    Building(u32),
}

impl Leaf {
    fn at(place: Place) -> Self {
        match place {
            Place::Zone(k) => Self::Zone(k as u32),
            Place::Building(k) => Self::Building(k as u32),
        }
    }

    #[inline]
    fn get(self, zone: &[f64], building: &[f64]) -> f64 {
        match self {
            Self::Constant(value) => value,
            Self::Zone(k) => zone[k as usize],
            Self::Building(k) => building[k as usize],
        }
    }
}

#[derive(Debug, Clone, Copy)]
enum Arithmetic {
    Copy,
    Add,
    Subtract,
    Multiply,
    Ratio,
    Larger,
    Smaller,
}

impl Arithmetic {
    #[inline]
    fn of(self, a: f64, b: f64) -> f64 {
        match self {
            Self::Copy => a,
            Self::Add => a + b,
            Self::Subtract => a - b,
            Self::Multiply => a * b,
            Self::Ratio => a / b,
            Self::Larger => a.max(b),
            Self::Smaller => a.min(b),
        }
    }
}

/// One operation. Places to go on are those of operations, or [`YES`], [`NO`], [`DONE`].
#[derive(Debug, Clone, Copy)]
enum Operation {
    Flag {
        value: Leaf,
        yes: u16,
        no: u16,
    },
    /// One region in one of several stages, as bits.
    Stages {
        value: Leaf,
        bits: u32,
        yes: u16,
        no: u16,
    },
    Compare {
        comparison: Comparison,
        a: Leaf,
        b: Leaf,
        yes: u16,
        no: u16,
    },
    Set {
        to: u32,
        how: Arithmetic,
        a: Leaf,
        b: Leaf,
        then: u16,
    },
}

const YES: u16 = u16::MAX;
const NO: u16 = u16::MAX - 1;
const DONE: u16 = u16::MAX - 2;

/// A program for one expression in one scope.
#[derive(Debug, Clone)]
pub(crate) struct Program {
    operations: Box<[Operation]>,
    start: u16,
    scope: Scope,
    /// Where a number ends up.
    result: Leaf,
}

impl Program {
    /// Runs it; the last places of the rows are scratch. Gives where it ended.
    #[inline]
    fn run(&self, zone: &mut [f64], building: &mut [f64]) -> u16 {
        let mut at = self.start;
        while let Some(operation) = self.operations.get(at as usize) {
            at = match *operation {
                Operation::Flag { value, yes, no } => {
                    if value.get(zone, building) == 0.0 {
                        no
                    } else {
                        yes
                    }
                }
                Operation::Stages { value, bits, yes, no } => {
                    if bits >> (value.get(zone, building) as u32) & 1 == 1 { yes } else { no }
                }
                Operation::Compare { comparison, a, b, yes, no } => {
                    let (a, b) = (a.get(zone, building), b.get(zone, building));
                    let holds = match comparison {
                        Comparison::Above => a > b,
                        Comparison::AtLeast => a >= b,
                        Comparison::Below => a < b,
                        Comparison::AtMost => a <= b,
                    };
                    if holds { yes } else { no }
                }
                Operation::Set { to, how, a, b, then } => {
                    let value = how.of(a.get(zone, building), b.get(zone, building));
                    match self.scope {
                        Scope::Zone => zone[to as usize] = value,
                        Scope::Building => building[to as usize] = value,
                    }
                    then
                }
            };
        }
        at
    }

    /// Whether the condition holds.
    #[inline]
    pub fn holds(&self, zone: &mut [f64], building: &mut [f64]) -> bool {
        self.run(zone, building) == YES
    }

    /// The number; yes is 1.
    #[inline]
    pub fn number(&self, zone: &mut [f64], building: &mut [f64]) -> f64 {
        self.run(zone, building);
        self.result.get(zone, building)
    }
}

/// Names of values, in the order of their places.
#[derive(Debug)]
pub(crate) struct Names {
    pub zone: Vec<&'static str>,
    pub building: Vec<&'static str>,
}

impl Names {
    pub fn place(&self, name: &str, scope: Scope) -> Result<Place, DeclarationError> {
        if scope == Scope::Zone
            && let Some(k) = self.zone.iter().position(|n| *n == name)
        {
            return Ok(Place::Zone(k));
        }
        self.building
            .iter()
            .position(|n| *n == name)
            .map(Place::Building)
            .ok_or_else(|| DeclarationError::Unknown { name: name.to_owned(), at: "plan".to_owned() })
    }
}

/// Name of the time since the last step.
pub(crate) const CYCLE: &str = "cycle";

/// Turns expressions into programs.
pub(crate) struct Compiler<'a> {
    pub declaration: &'a Declaration,
    pub setup: &'a Setup,
    pub names: Names,
    /// Places read as the last step left them.
    pub kept: Vec<Place>,
    /// Scratch places behind the named ones, zone and building.
    pub scratch: [usize; 2],
}

struct Writing {
    operations: Vec<Operation>,
    scope: Scope,
}

impl Writing {
    fn emit(&mut self, operation: Operation) -> u16 {
        self.operations.push(operation);
        (self.operations.len() - 1) as u16
    }
}

impl Compiler<'_> {
    pub fn keep(&mut self, place: Place) {
        if !self.kept.contains(&place) {
            self.kept.push(place);
        }
    }

    pub fn stage(&self, region: &str, stage: &str) -> usize {
        let stages = self.declaration.region(region).map_or(&[][..], |(_, r)| &r.stages[..]);
        stages.iter().position(|s| s.name == stage).unwrap_or(usize::MAX)
    }

    /// A program that tells whether a condition holds.
    pub fn condition(&mut self, expr: &Expr, scope: Scope) -> Result<Program, DeclarationError> {
        let mut w = Writing { operations: Vec::new(), scope };
        let start = self.test(expr, &mut w, YES, NO, 0)?;
        Ok(Program { operations: w.operations.into(), start, scope, result: Leaf::Constant(0.0) })
    }

    /// A program that gives a number.
    pub fn value(&mut self, expr: &Expr, scope: Scope) -> Result<Program, DeclarationError> {
        let mut w = Writing { operations: Vec::new(), scope };
        if let Some(result) = self.leaf(expr, scope)? {
            return Ok(Program { operations: Box::new([]), start: DONE, scope, result });
        }
        let to = self.scratch_place(scope, 0);
        let start = self.number(expr, &mut w, to, DONE, 1)?;
        let result = match scope {
            Scope::Zone => Leaf::Zone(to),
            Scope::Building => Leaf::Building(to),
        };
        Ok(Program { operations: w.operations.into(), start, scope, result })
    }

    fn scratch_place(&mut self, scope: Scope, depth: usize) -> u32 {
        let (names, k) = match scope {
            Scope::Zone => (self.names.zone.len(), 0),
            Scope::Building => (self.names.building.len(), 1),
        };
        self.scratch[k] = self.scratch[k].max(depth + 1);
        (names + depth) as u32
    }

    /// Value of a parameter that is the same everywhere.
    fn constant(&self, name: &str) -> Option<f64> {
        match self.declaration.parameter(name)?.scope {
            Scope::Building => self.setup.parameters().value(name),
            Scope::Zone => self.setup.common_value(name),
        }
    }

    /// An expression that is at hand, or known beforehand.
    fn leaf(&mut self, expr: &Expr, scope: Scope) -> Result<Option<Leaf>, DeclarationError> {
        Ok(Some(match expr {
            Expr::Always(truth) => Leaf::Constant(f64::from(u8::from(*truth == Truth::Yes))),
            Expr::Number(_, value) => Leaf::Constant(*value),
            Expr::Parameter(name) => match self.constant(name) {
                Some(value) => Leaf::Constant(value),
                None => Leaf::at(self.names.place(name, scope)?),
            },
            Expr::Signal(name) => Leaf::at(self.names.place(name, scope)?),
            Expr::Previous(name) => {
                let place = self.names.place(name, scope)?;
                self.keep(place);
                Leaf::at(place)
            }
            Expr::Cycle => Leaf::at(self.names.place(CYCLE, scope)?),
            _ => {
                let Some((how, a, b)) = arithmetic(expr) else { return Ok(None) };
                let (Some(Leaf::Constant(a)), Some(Leaf::Constant(b))) =
                    (self.leaf(a, scope)?, self.leaf(b, scope)?)
                else {
                    return Ok(None);
                };
                Leaf::Constant(how.of(a, b))
            }
        }))
    }

    /// Two operands at hand, and where their working out begins before `then`.
    fn operands(
        &mut self,
        [a, b]: [&Expr; 2],
        w: &mut Writing,
        depth: usize,
        finish: impl FnOnce(&mut Writing, Leaf, Leaf) -> u16,
    ) -> Result<u16, DeclarationError> {
        let mut places = [Leaf::Constant(0.0); 2];
        let mut later = [None; 2];
        for (k, expr) in [a, b].into_iter().enumerate() {
            if let Some(leaf) = self.leaf(expr, w.scope)? {
                places[k] = leaf;
                continue;
            }
            let to = self.scratch_place(w.scope, depth + k);
            places[k] = match w.scope {
                Scope::Zone => Leaf::Zone(to),
                Scope::Building => Leaf::Building(to),
            };
            later[k] = Some((expr, to));
        }
        let mut start = finish(w, places[0], places[1]);
        for (expr, to) in later.into_iter().flatten() {
            start = self.number(expr, w, to, start, depth + 2)?;
        }
        Ok(start)
    }

    /// Writes what puts a number into `to` and goes on at `then`; where it begins.
    fn number(
        &mut self,
        expr: &Expr,
        w: &mut Writing,
        to: u32,
        then: u16,
        depth: usize,
    ) -> Result<u16, DeclarationError> {
        if let Some(a) = self.leaf(expr, w.scope)? {
            return Ok(w.emit(Operation::Set { to, how: Arithmetic::Copy, a, b: a, then }));
        }
        if let Some((how, a, b)) = arithmetic(expr) {
            return self.operands([a, b], w, depth, |w, a, b| w.emit(Operation::Set { to, how, a, b, then }));
        }
        let ways = if let Expr::Choose(condition, first, second) = expr {
            let first = self.number(first, w, to, then, depth)?;
            let second = self.number(second, w, to, then, depth)?;
            return self.test(condition, w, first, second, depth);
        } else {
            [1.0, 0.0].map(|value| {
                let a = Leaf::Constant(value);
                w.emit(Operation::Set { to, how: Arithmetic::Copy, a, b: a, then })
            })
        };
        self.test(expr, w, ways[0], ways[1], depth)
    }

    /// Writes what goes on at `yes` or `no`; where it begins.
    fn test(
        &mut self,
        expr: &Expr,
        w: &mut Writing,
        yes: u16,
        no: u16,
        depth: usize,
    ) -> Result<u16, DeclarationError> {
        match expr {
            Expr::Always(Truth::Yes) => Ok(yes),
            Expr::Always(Truth::No) => Ok(no),
            Expr::Not(part) => self.test(part, w, no, yes, depth),
            Expr::In(region, stage) => {
                let value = Leaf::at(self.names.place(region, w.scope)?);
                let bits = 1 << self.stage(region, stage) as u32;
                Ok(w.emit(Operation::Stages { value, bits, yes, no }))
            }
            Expr::All(parts) => {
                parts.iter().rev().try_fold(yes, |next, part| self.test(part, w, next, no, depth))
            }
            Expr::Any(parts) => {
                let mut bits = 0;
                let mut one = None;
                for part in parts {
                    if let Expr::In(region, stage) = part
                        && one.is_none_or(|r: &str| r == *region)
                    {
                        one = Some(*region);
                        bits |= 1 << self.stage(region, stage) as u32;
                    } else {
                        return parts
                            .iter()
                            .rev()
                            .try_fold(no, |next, part| self.test(part, w, yes, next, depth));
                    }
                }
                let value = Leaf::at(self.names.place(one.unwrap_or(""), w.scope)?);
                Ok(w.emit(Operation::Stages { value, bits, yes, no }))
            }
            Expr::Compare(comparison, a, b) => self.operands([a, b], w, depth, |w, a, b| {
                w.emit(Operation::Compare { comparison: *comparison, a, b, yes, no })
            }),
            other => match self.leaf(other, w.scope)? {
                Some(Leaf::Constant(value)) => Ok(if value == 0.0 { no } else { yes }),
                Some(value) => Ok(w.emit(Operation::Flag { value, yes, no })),
                None => {
                    let to = self.scratch_place(w.scope, depth);
                    let value = match w.scope {
                        Scope::Zone => Leaf::Zone(to),
                        Scope::Building => Leaf::Building(to),
                    };
                    let flag = w.emit(Operation::Flag { value, yes, no });
                    self.number(other, w, to, flag, depth + 1)
                }
            },
        }
    }
}

fn arithmetic(expr: &Expr) -> Option<(Arithmetic, &Expr, &Expr)> {
    Some(match expr {
        Expr::Add(a, b) => (Arithmetic::Add, a, b),
        Expr::Subtract(a, b) => (Arithmetic::Subtract, a, b),
        Expr::Multiply(a, b) => (Arithmetic::Multiply, a, b),
        Expr::Ratio(a, b) => (Arithmetic::Ratio, a, b),
        Expr::Larger(a, b) => (Arithmetic::Larger, a, b),
        Expr::Smaller(a, b) => (Arithmetic::Smaller, a, b),
        _ => return None,
    })
}
