//! The best point as sizing estimates it beside the best point of the simulated year, and what makes the difference.

use super::run::{ESTIMATED_PARTS, PointResult, metrics};
use serde::Serialize;

/// A part of the yearly use in which the two choices differ.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PartOfDifference {
    /// Which part.
    pub part: String,
    /// What sizing expects it to change from its own best point to that of the simulation, J.
    pub estimated_j: f64,
    /// What it changes in the simulated years, J.
    pub simulated_j: f64,
}

/// Both optima over the points of a sweep.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Optimum {
    /// Point that is best by sizing's objective.
    pub by_sizing: usize,
    /// Point that is best by the same objective with the simulated year.
    pub by_year: usize,
    /// What following sizing costs: simulated objective of its point less that of the best point; 0 when they agree.
    pub loss: f64,
    /// The loss as a share of the best simulated objective.
    pub loss_share: f64,
    /// Largest less smallest simulated objective over the points: how much the sweep can gain at all.
    pub spread: f64,
    /// What changes between the two points, the largest disagreement first; empty when they agree.
    pub parts: Vec<PartOfDifference>,
}

/// Compares both optima; none when no point has both objectives.
pub fn optimum(points: &[PointResult]) -> Option<Optimum> {
    let all = metrics();
    let column = |name: &str| all.iter().position(|m| m.name == name);
    let (sizing, year) = (column("sizing_objective")?, column("simulated_objective")?);
    let of = |p: usize, c: usize| points[p].values.get(c).copied().flatten();
    let both: Vec<usize> =
        (0..points.len()).filter(|p| of(*p, sizing).is_some() && of(*p, year).is_some()).collect();
    let best = |c: usize| {
        both.iter().copied().min_by(|a, b| {
            let v = |p: usize| of(p, c).unwrap_or(f64::INFINITY);
            v(*a).total_cmp(&v(*b))
        })
    };
    let (by_sizing, by_year) = (best(sizing)?, best(year)?);
    let value = |p: usize| of(p, year).unwrap_or(f64::NAN);
    let least = value(by_year);
    let most = both.iter().map(|p| value(*p)).fold(f64::NEG_INFINITY, f64::max);
    let mut parts: Vec<PartOfDifference> = Vec::new();
    if by_sizing != by_year {
        for (words, estimated, simulated) in ESTIMATED_PARTS {
            let change = |name: &str| {
                let c = column(name)?;
                Some(of(by_year, c)? - of(by_sizing, c)?)
            };
            if let (Some(estimated_j), Some(simulated_j)) = (change(estimated), change(simulated)) {
                parts.push(PartOfDifference { part: words.to_owned(), estimated_j, simulated_j });
            }
        }
        let apart = |p: &PartOfDifference| (p.estimated_j - p.simulated_j).abs();
        parts.sort_by(|a, b| apart(b).total_cmp(&apart(a)));
    }
    let loss = value(by_sizing) - least;
    Some(Optimum {
        by_sizing,
        by_year,
        loss,
        loss_share: if least > 0.0 { loss / least } else { 0.0 },
        spread: most - least,
        parts,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn point(sizing: f64, year: f64, estimated_fans: f64, fans: f64) -> PointResult {
        let mut p = PointResult::failed("");
        p.problem = None;
        for (i, m) in metrics().iter().enumerate() {
            p.values[i] = match m.name {
                "sizing_objective" => Some(sizing),
                "simulated_objective" => Some(year),
                "estimated_central_fans_j" => Some(estimated_fans),
                "central_fans_j" => Some(fans),
                n if n.ends_with("_j") => Some(1.0),
                _ => None,
            };
        }
        p
    }

    #[test]
    fn phys_the_loss_is_what_following_sizing_costs() {
        let points = [
            point(10.0, 13.0, 5.0, 8.0),
            point(11.0, 12.0, 6.0, 6.0),
            PointResult::failed("no"),
            point(12.0, 20.0, 1.0, 1.0),
        ];
        let o = optimum(&points).unwrap();
        assert_eq!((o.by_sizing, o.by_year), (0, 1));
        assert!((o.loss - 1.0).abs() < 1e-12 && (o.loss_share - 1.0 / 12.0).abs() < 1e-12);
        assert!((o.spread - 8.0).abs() < 1e-12);
        // Sizing expects the fans to take 1 J more; they take 2 J less.
        assert_eq!(o.parts[0].part, "central fans");
        assert_eq!((o.parts[0].estimated_j, o.parts[0].simulated_j), (1.0, -2.0));
    }

    #[test]
    fn phys_agreement_costs_nothing() {
        let o = optimum(&[point(1.0, 2.0, 0.0, 0.0), point(3.0, 4.0, 0.0, 0.0)]).unwrap();
        assert_eq!((o.by_sizing, o.by_year, o.loss), (0, 0, 0.0));
        assert!(o.parts.is_empty());
        assert!(optimum(&[PointResult::failed("no")]).is_none());
    }
}
