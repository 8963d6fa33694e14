//! Which points a sweep has.

use super::random::latin_hypercube;
use std::fmt;

/// Most points of one sweep.
pub const MOST_POINTS: usize = 100_000;

/// Values that an input takes.
#[derive(Debug, Clone, PartialEq)]
pub enum Levels {
    /// These, as they would be written in the project.
    List(Vec<String>),
    /// Everything between two numbers with the same unit.
    Range {
        /// Lowest number.
        from: f64,
        /// Highest number.
        to: f64,
        /// Unit as written; empty for a bare number.
        unit: String,
        /// Values of a grid, both ends among them; unused for samples.
        steps: Option<usize>,
    },
}

/// One input that varies.
#[derive(Debug, Clone, PartialEq)]
pub struct Input {
    /// Key of the project, such as `dew_point.supply`.
    pub key: String,
    /// Its values.
    pub levels: Levels,
}

/// How points are chosen.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Method {
    /// Every combination.
    Grid,
    /// A Latin hypercube.
    Samples {
        /// How many points.
        count: usize,
        /// Seed.
        seed: u64,
    },
}

/// What is wrong with a plan: lower case, no final stop.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PlanError(pub String);

impl fmt::Display for PlanError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

impl std::error::Error for PlanError {}

fn wrong<T>(text: impl Into<String>) -> Result<T, PlanError> {
    Err(PlanError(text.into()))
}

impl Input {
    /// Reads `key=value,value` or `key=from..to`, with `/steps` after a range for a grid.
    ///
    /// ```
    /// use drycoil_year::sweep::plan::{Input, Levels};
    /// let input = Input::parse("dew_point.supply=46 degF..52 degF/4").unwrap();
    /// assert_eq!(input.values().unwrap(), ["46 degF", "48 degF", "50 degF", "52 degF"]);
    /// let input = Input::parse("water.arrangement=separate,return-reuse").unwrap();
    /// assert_eq!(input.values().unwrap().len(), 2);
    /// assert!(Input::parse("dew_point.supply=46 degF..12 degC").is_err());
    /// ```
    ///
    /// # Errors
    /// No key, no value, a range whose ends have different units or do not rise.
    pub fn parse(text: &str) -> Result<Self, PlanError> {
        let Some((key, values)) = text.split_once('=') else {
            return wrong(format!("`{text}` has no `=` between key and values"));
        };
        let key = key.trim().to_owned();
        if key.is_empty() {
            return wrong(format!("`{text}` has no key"));
        }
        let levels = if let Some((from, rest)) = values.split_once("..") {
            let (to, steps) = match rest.rsplit_once('/') {
                Some((to, steps))
                    if steps.trim().bytes().all(|b| b.is_ascii_digit()) && !steps.trim().is_empty() =>
                {
                    (to, Some(steps))
                }
                _ => (rest, None),
            };
            let steps = match steps {
                None => None,
                Some(s) => match s.trim().parse::<usize>() {
                    Ok(n) => Some(n),
                    Err(_) => return wrong(format!("`{key}`: `{s}` is no number of values")),
                },
            };
            Self::range(&key, from.trim(), to.trim(), steps)?
        } else {
            Levels::List(values.split(',').map(|v| v.trim().to_owned()).collect())
        };
        let input = Self { key, levels };
        input.check()?;
        Ok(input)
    }

    /// A range between two numbers as written; a unit at the upper end alone stands for both.
    ///
    /// # Errors
    /// An end that is no number, or different units.
    pub fn range(key: &str, from: &str, to: &str, steps: Option<usize>) -> Result<Levels, PlanError> {
        let (low, low_unit) = number(key, from)?;
        let (high, unit) = number(key, to)?;
        if !low_unit.is_empty() && low_unit != unit {
            return wrong(format!("`{key}`: the ends `{from}` and `{to}` have different units"));
        }
        Ok(Levels::Range { from: low, to: high, unit, steps })
    }

    /// Refuses an input without values, a range that does not rise, a grid of fewer than two values.
    ///
    /// # Errors
    /// As said.
    pub fn check(&self) -> Result<(), PlanError> {
        let key = &self.key;
        match &self.levels {
            Levels::List(values) => {
                if values.is_empty() || values.iter().any(String::is_empty) {
                    return wrong(format!("`{key}` has an empty value"));
                }
                for (i, v) in values.iter().enumerate() {
                    if values[..i].contains(v) {
                        return wrong(format!("`{key}` has the value `{v}` twice"));
                    }
                }
                Ok(())
            }
            Levels::Range { from, to, steps, .. } => {
                if !(from.is_finite() && to.is_finite() && from < to) {
                    return wrong(format!("`{key}`: the range from {from} to {to} does not rise"));
                }
                match steps {
                    Some(n) if *n < 2 => {
                        wrong(format!("`{key}`: a range has at least 2 values, {n} asked for"))
                    }
                    Some(n) if *n > MOST_POINTS => {
                        wrong(format!("`{key}`: at most {MOST_POINTS} values, {n} asked for"))
                    }
                    _ => Ok(()),
                }
            }
        }
    }

    /// Values of a grid.
    ///
    /// # Errors
    /// A range without a number of values.
    pub fn values(&self) -> Result<Vec<String>, PlanError> {
        match &self.levels {
            Levels::List(values) => Ok(values.clone()),
            Levels::Range { from, to, unit, steps: Some(n) } => {
                Ok((0..*n).map(|i| text(from + (to - from) * i as f64 / (n - 1) as f64, unit)).collect())
            }
            Levels::Range { steps: None, .. } => wrong(format!(
                "`{}` is a range without a number of values; a grid needs `/N` after it, or ask for samples",
                self.key
            )),
        }
    }

    /// The value at a place between 0 and 1.
    fn at(&self, x: f64) -> String {
        match &self.levels {
            Levels::List(values) => {
                values[((x * values.len() as f64) as usize).min(values.len() - 1)].clone()
            }
            Levels::Range { from, to, unit, .. } => text(from + (to - from) * x, unit),
        }
    }
}

/// Number and unit of a value as written.
fn number(key: &str, written: &str) -> Result<(f64, String), PlanError> {
    let end = written
        .char_indices()
        .find(|(i, c)| !(c.is_ascii_digit() || *c == '.' || ((*c == '-' || *c == '+') && *i == 0)))
        .map_or(written.len(), |(i, _)| i);
    match written[..end].parse::<f64>() {
        Ok(n) if n.is_finite() => Ok((n, written[end..].trim().to_owned())),
        _ => wrong(format!("`{key}`: `{written}` does not begin with a number")),
    }
}

/// A number with its unit, to nine significant digits at most: a value that a person could have written.
fn text(n: f64, unit: &str) -> String {
    let digits = if n == 0.0 { 0 } else { (8 - n.abs().log10().floor() as i32).clamp(0, 12) as usize };
    let mut t = format!("{n:.digits$}");
    if t.contains('.') {
        t.truncate(t.trim_end_matches('0').trim_end_matches('.').len());
    }
    if unit.is_empty() { t } else { format!("{t} {unit}") }
}

/// A sweep.
#[derive(Debug, Clone, PartialEq)]
pub struct Plan {
    /// What varies, in the order of the columns.
    pub inputs: Vec<Input>,
    /// How points are chosen.
    pub method: Method,
}

impl Plan {
    /// The points: of each, the value of every input. The last input of a grid varies fastest.
    ///
    /// # Errors
    /// Nothing varies, an input twice, too many points, a range without a number of values in a grid.
    pub fn points(&self) -> Result<Vec<Vec<String>>, PlanError> {
        if self.inputs.is_empty() {
            return wrong("nothing varies");
        }
        for (i, input) in self.inputs.iter().enumerate() {
            input.check()?;
            if self.inputs[..i].iter().any(|o| o.key == input.key) {
                return wrong(format!("`{}` is given twice", input.key));
            }
        }
        match self.method {
            Method::Grid => {
                let axes: Vec<Vec<String>> =
                    self.inputs.iter().map(Input::values).collect::<Result<_, _>>()?;
                let count = axes.iter().try_fold(1usize, |n, a| n.checked_mul(a.len()));
                let Some(count) = count.filter(|n| *n <= MOST_POINTS) else {
                    return wrong(format!("the grid has more than {MOST_POINTS} points"));
                };
                Ok((0..count)
                    .map(|index| {
                        let mut rest = index;
                        let mut point: Vec<String> = axes
                            .iter()
                            .rev()
                            .map(|axis| {
                                let value = axis[rest % axis.len()].clone();
                                rest /= axis.len();
                                value
                            })
                            .collect();
                        point.reverse();
                        point
                    })
                    .collect())
            }
            Method::Samples { count, seed } => {
                if count == 0 || count > MOST_POINTS {
                    return wrong(format!(
                        "the number of samples is from 1 to {MOST_POINTS}, {count} asked for"
                    ));
                }
                let cube = latin_hypercube(self.inputs.len(), count, seed);
                Ok(cube
                    .iter()
                    .map(|x| self.inputs.iter().zip(x).map(|(input, x)| input.at(*x)).collect())
                    .collect())
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn plan(inputs: &[&str], method: Method) -> Plan {
        Plan { inputs: inputs.iter().map(|t| Input::parse(t).unwrap()).collect(), method }
    }

    #[test]
    fn a_grid_holds_every_combination_once_in_order() {
        let points = plan(&["a.x=1..2/3", "b=u,v"], Method::Grid).points().unwrap();
        let text: Vec<String> = points.iter().map(|p| p.join(" ")).collect();
        assert_eq!(text, ["1 u", "1 v", "1.5 u", "1.5 v", "2 u", "2 v"]);
    }

    #[test]
    fn samples_stay_within_and_use_every_value_of_a_list() {
        let points = plan(&["t=50 degF..60 degF", "k=a,b,c,d"], Method::Samples { count: 40, seed: 5 })
            .points()
            .unwrap();
        assert_eq!(points.len(), 40);
        for value in ["a", "b", "c", "d"] {
            assert_eq!(points.iter().filter(|p| p[1] == value).count(), 10);
        }
        for p in &points {
            let t: f64 = p[0].strip_suffix(" degF").unwrap().parse().unwrap();
            assert!((50.0..=60.0).contains(&t), "{}", p[0]);
        }
    }

    #[test]
    fn bad_plans_are_refused_with_the_reason() {
        for (text, part) in [
            ("a", "no `=`"),
            ("=1", "no key"),
            ("a=", "empty value"),
            ("a=1,1", "twice"),
            ("a=2..1/3", "does not rise"),
            ("a=1 degF..2 degC/3", "different units"),
            ("a=x..2/3", "begin with a number"),
            ("a=1..2/1", "at least 2"),
        ] {
            let error = Input::parse(text).unwrap_err().to_string();
            assert!(error.contains(part), "{text}: {error}");
        }
        let error = |inputs: &[&str], method| plan(inputs, method).points().unwrap_err().to_string();
        assert!(error(&[], Method::Grid).contains("nothing varies"));
        assert!(error(&["a=1..2"], Method::Grid).contains("without a number of values"));
        assert!(error(&["a=1,2", "a=3,4"], Method::Grid).contains("given twice"));
        assert!(error(&["a=1..2/1000", "b=1..2/1000"], Method::Grid).contains("more than"));
        assert!(error(&["a=1,2"], Method::Samples { count: 0, seed: 1 }).contains("from 1 to"));
    }

    #[test]
    fn numbers_are_written_as_a_person_would() {
        assert_eq!(text(46.0, "degF"), "46 degF");
        assert_eq!(text(1.0 / 3.0, ""), "0.333333333");
        assert_eq!(text(-0.5, "K"), "-0.5 K");
        assert_eq!(text(0.0, "K"), "0 K");
        assert_eq!(text(120_000.0, "W"), "120000 W");
    }
}
