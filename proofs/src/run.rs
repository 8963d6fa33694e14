//! The runner.

use crate::CaseError;
use crate::case::{Case, Cell, Role};
use crate::cases::all_cases;
use crate::functions::function;
use crate::value::{FunctionError, Given};

/// How far one number is off.
#[derive(Debug, Clone, PartialEq)]
pub struct Deviation {
    /// Row, counted from 1.
    pub row: usize,
    /// Column.
    pub column: String,
    /// What the program must give: the printed value, or the right one where the printed one disagrees.
    pub expected: f64,
    /// What the program gives.
    pub found: f64,
    /// Half width of the tolerance, in the unit of the column.
    pub allowed: f64,
}

impl Deviation {
    /// Difference, in the unit of the column.
    pub fn absolute(&self) -> f64 {
        (self.found - self.expected).abs()
    }

    /// Difference over the expected value; none where that is zero.
    pub fn relative(&self) -> Option<f64> {
        (self.expected != 0.0).then(|| self.absolute() / self.expected.abs())
    }

    /// Share of the tolerance that is used; above one it does not hold.
    pub fn share(&self) -> f64 {
        if self.absolute() == 0.0 { 0.0 } else { self.absolute() / self.allowed }
    }
}

/// Result of one case.
#[derive(Debug, Clone, PartialEq)]
pub struct Outcome {
    /// Rows that were run.
    pub rows: usize,
    /// Numbers that were compared.
    pub compared: usize,
    /// Rows that had to be refused, and were.
    pub refused: usize,
    /// Printed numbers that disagree with physics or their own inputs, as listed.
    pub discrepancies: usize,
    /// Largest difference, in the unit of its column.
    pub max_abs: f64,
    /// Largest difference as a share of the expected value.
    pub max_rel: f64,
    /// The number that uses most of its tolerance.
    pub worst: Option<Deviation>,
    /// What does not hold, each with its row.
    pub failures: Vec<String>,
}

impl Outcome {
    /// Everything holds.
    pub fn pass(&self) -> bool {
        self.failures.is_empty()
    }

    /// Row of the number that uses most of its tolerance, counted from 1.
    pub fn worst_row(&self) -> Option<usize> {
        self.worst.as_ref().map(|w| w.row)
    }
}

/// Runs one case.
pub fn run_case(case: &Case) -> Outcome {
    let mut outcome = Outcome {
        rows: case.rows.len(),
        compared: 0,
        refused: 0,
        discrepancies: 0,
        max_abs: 0.0,
        max_rel: 0.0,
        worst: None,
        failures: Vec::new(),
    };
    let Some(function) = function(&case.function) else {
        outcome.failures.push(format!("there is no function `{}`", case.function));
        return outcome;
    };
    for (index, cells) in case.rows.iter().enumerate() {
        let row = index + 1;
        let mut given = Given::default();
        for (name, text) in &case.fixed {
            given.text(name, text);
        }
        for (cell, column) in cells.iter().zip(&case.columns).filter(|(_, c)| c.role == Role::Input) {
            match cell {
                Cell::Number(x) => given.number(&column.name, *x, &column.unit),
                Cell::Text(text) => given.text(&column.name, text),
                Cell::Blank | Cell::Refused => {}
            }
        }
        let wants_refusal = cells.contains(&Cell::Refused);
        let found = match (function.run)(&given) {
            Ok(found) if wants_refusal => {
                outcome.failures.push(format!("row {row}: not refused: {found:?}"));
                continue;
            }
            Ok(found) => found,
            Err(FunctionError::Refused(_)) if wants_refusal => {
                outcome.refused += 1;
                continue;
            }
            Err(error) => {
                outcome.failures.push(format!("row {row}: {error}"));
                continue;
            }
        };
        for name in given.unused() {
            outcome.failures.push(format!("row {row}: the function takes no `{name}`"));
        }
        for (cell, column) in cells.iter().zip(&case.columns) {
            let (Role::Result(tolerance), Cell::Number(printed)) = (&column.role, cell) else { continue };
            let found = match found.in_unit(&column.name, &column.unit) {
                Ok(found) => found,
                Err(error) => {
                    outcome.failures.push(format!("row {row}: {error}"));
                    continue;
                }
            };
            let known = case.discrepancies.iter().find(|d| d.row == row && d.column == column.name);
            let expected = known.map_or(*printed, |d| d.recomputed);
            let allowed = tolerance.half_width(expected);
            if known.is_some() {
                outcome.discrepancies += 1;
                if (printed - expected).abs() <= allowed {
                    outcome.failures.push(format!(
                        "row {row}: `{}`: the printed {printed} does not disagree with {expected}",
                        column.name
                    ));
                }
            }
            outcome.compared += 1;
            let deviation = Deviation { row, column: column.name.clone(), expected, found, allowed };
            // A result that is no number fails too.
            if deviation.absolute().partial_cmp(&allowed).is_none_or(std::cmp::Ordering::is_gt) {
                outcome.failures.push(format!(
                    "row {row}: `{}` is {found}, expected {expected} within {allowed:.3e} {}",
                    column.name, column.unit
                ));
            }
            outcome.max_abs = outcome.max_abs.max(deviation.absolute());
            outcome.max_rel = outcome.max_rel.max(deviation.relative().unwrap_or(0.0));
            if outcome.worst.as_ref().is_none_or(|w| w.share() < deviation.share()) {
                outcome.worst = Some(deviation);
            }
        }
    }
    outcome
}

/// Runs every case, in the order of their files.
pub fn run_all() -> Result<Vec<(Case, Outcome)>, CaseError> {
    Ok(all_cases()?
        .into_iter()
        .map(|case| {
            let outcome = run_case(&case);
            (case, outcome)
        })
        .collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn case(rows: &str, more: &str, status: &str) -> Case {
        let count = rows.matches('[').count();
        Case::parse(
            "f",
            &format!(
                "topic='a'\ntitle='b'\nfunction='air.saturation_pressure'\nrow_count={count}\nrows=[{rows}]\n\
                 [source]\nkey='k'\nplace='p'\nstatus=[{status}]\nread='r'\n\
                 [[column]]\nname='dry_bulb'\nunit='degC'\n\
                 [[column]]\nname='saturation_pressure'\nunit='Pa'\ntolerance={{kind='rel',value=3e-4,reason='x'}}\n{more}"
            ),
        )
        .unwrap()
    }

    #[test]
    fn a_wrong_number_fails_with_its_row() {
        let good = run_case(&case("[25.0,3169.7]", "", "'found'"));
        assert!(good.pass() && good.compared == 1 && good.worst_row() == Some(1), "{good:?}");
        let bad = run_case(&case("[25.0,3169.7],[25.0,3180.0]", "", "'found'"));
        assert!(!bad.pass() && bad.failures[0].starts_with("row 2: `saturation_pressure`"), "{bad:?}");
    }

    #[test]
    fn an_input_that_is_not_taken_and_a_missing_function_fail() {
        let mut more = case("[25.0,3169.7]", "", "'found'");
        more.fixed.push(("x".into(), "1".into()));
        let unknown = run_case(&more);
        assert!(unknown.failures.iter().any(|f| f.contains("takes no `x`")), "{unknown:?}");
        let mut none = case("[25.0,3169.7]", "", "'found'");
        none.function = "air.nothing".into();
        assert!(run_case(&none).failures[0].contains("no function"));
    }

    #[test]
    fn a_refusal_is_asked_for_and_a_stale_discrepancy_is_found() {
        let stale =
            "[[known_discrepancy]]\nrow=1\ncolumn='saturation_pressure'\nrecomputed=3169.7\nreason='x'\n";
        let outcome = run_case(&case("[25.0,3169.7]", stale, "'disagrees'"));
        assert!(outcome.failures[0].contains("does not disagree"), "{outcome:?}");
        let outcome = run_case(&case("[25.0,'refused']", "", "'found'"));
        assert!(outcome.failures[0].contains("not refused"), "{outcome:?}");
        let outcome = run_case(&case("[900.0,'refused']", "", "'found'"));
        assert!(outcome.pass() && outcome.refused == 1, "{outcome:?}");
    }
}
