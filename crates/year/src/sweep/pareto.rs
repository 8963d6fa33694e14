//! Points that no other point beats.

/// Which way a measure is better.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Goal {
    /// The less, the better.
    Least,
    /// The more, the better.
    Most,
}

/// Whether each point is in the Pareto set: no other point is at least as good in every measure and better in one.
/// Points with a value that is missing take no part. `values[point][measure]`.
///
/// ```
/// use drycoil_year::sweep::pareto::{Goal, pareto};
/// let points = [vec![Some(1.0), Some(5.0)], vec![Some(2.0), Some(6.0)], vec![Some(2.0), Some(4.0)]];
/// assert_eq!(pareto(&points, &[Goal::Least, Goal::Most]), [true, true, false]);
/// ```
pub fn pareto(values: &[Vec<Option<f64>>], goals: &[Goal]) -> Vec<bool> {
    // Everything as "less is better".
    let cost: Vec<Option<Vec<f64>>> = values
        .iter()
        .map(|point| {
            point
                .iter()
                .zip(goals)
                .map(|(v, goal)| match goal {
                    Goal::Least => *v,
                    Goal::Most => v.map(|v| -v),
                })
                .collect()
        })
        .collect();
    let beats =
        |a: &[f64], b: &[f64]| a.iter().zip(b).all(|(a, b)| a <= b) && a.iter().zip(b).any(|(a, b)| a < b);
    cost.iter()
        .map(|point| point.as_ref().is_some_and(|p| !cost.iter().flatten().any(|other| beats(other, p))))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sweep::random::Random;

    #[test]
    fn phys_every_point_outside_is_beaten_by_one_inside_and_none_inside_is() {
        let mut r = Random::new(11, 0);
        let points: Vec<Vec<Option<f64>>> =
            (0..200).map(|_| (0..3).map(|_| Some((r.unit() * 20.0).round())).collect()).collect();
        let goals = [Goal::Least, Goal::Most, Goal::Least];
        let set = pareto(&points, &goals);
        assert!(set.iter().any(|s| *s) && set.iter().any(|s| !*s));
        let better = |a: &[Option<f64>], b: &[Option<f64>]| {
            let mut strict = false;
            for ((a, b), g) in a.iter().zip(b).zip(goals) {
                let (a, b) = (a.unwrap(), b.unwrap());
                let (a, b) = if g == Goal::Most { (b, a) } else { (a, b) };
                if a > b {
                    return false;
                }
                strict |= a < b;
            }
            strict
        };
        for (i, p) in points.iter().enumerate() {
            let beaten_inside = points.iter().zip(&set).any(|(o, inside)| *inside && better(o, p));
            assert_eq!(set[i], !beaten_inside, "{p:?}");
        }
    }

    #[test]
    fn a_point_without_a_value_takes_no_part() {
        let points = [vec![None, Some(1.0)], vec![Some(9.0), Some(9.0)]];
        assert_eq!(pareto(&points, &[Goal::Least, Goal::Least]), [false, true]);
        assert_eq!(pareto(&[], &[Goal::Least]), Vec::<bool>::new());
    }
}
