//! How much of the spread of a measure each input explains on its own, and what is left to inputs acting together.

use serde::Serialize;

/// Share of one input.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Influence {
    /// Key of the input; `together` for what no input explains on its own.
    pub input: String,
    /// Share of the variance of the measure between the groups of points with like values of the input.
    pub share: f64,
    /// Largest less smallest mean of the groups, in the unit of the measure.
    pub range: f64,
}

/// Groups into which the values of an input that takes many are sorted.
const GROUPS: usize = 5;

/// Share of the variance between groups of each input, the largest first, and the rest. `inputs[i]` is the key of an input
/// with its values over the points, numbers where they are numbers; points without a measure are left out. In a whole grid
/// the shares of the inputs and the rest add up to 1, and the rest is interaction; in samples the groups are of
/// neighbouring values, and the rest is also what changes within a group. Empty when the measure does not vary.
pub fn influence(inputs: &[(String, Vec<String>)], measure: &[Option<f64>]) -> Vec<Influence> {
    let used: Vec<usize> = (0..measure.len()).filter(|i| measure[*i].is_some()).collect();
    let value = |i: usize| measure[i].unwrap_or(0.0);
    let n = used.len() as f64;
    let mean = used.iter().map(|i| value(*i)).sum::<f64>() / n.max(1.0);
    let variance = used.iter().map(|i| (value(*i) - mean).powi(2)).sum::<f64>();
    if used.len() < 2 || variance <= 0.0 {
        return Vec::new();
    }
    let mut out: Vec<Influence> = inputs
        .iter()
        .map(|(key, values)| {
            let mut groups: Vec<(f64, f64)> = Vec::new();
            for group in grouped(&used, values) {
                let count = group.len() as f64;
                groups.push((count, group.iter().map(|i| value(*i)).sum::<f64>() / count));
            }
            let between = groups.iter().map(|(count, m)| count * (m - mean).powi(2)).sum::<f64>();
            let high = groups.iter().map(|g| g.1).fold(f64::NEG_INFINITY, f64::max);
            let low = groups.iter().map(|g| g.1).fold(f64::INFINITY, f64::min);
            Influence { input: key.clone(), share: between / variance, range: high - low }
        })
        .collect();
    out.sort_by(|a, b| b.share.total_cmp(&a.share));
    let explained: f64 = out.iter().map(|i| i.share).sum();
    out.push(Influence { input: "together".to_owned(), share: (1.0 - explained).max(0.0), range: 0.0 });
    out
}

/// Points with like values: the same text where there are few texts, else neighbours in equal numbers.
fn grouped(used: &[usize], values: &[String]) -> Vec<Vec<usize>> {
    let mut texts: Vec<&str> = Vec::new();
    for i in used {
        if !texts.contains(&values[*i].as_str()) {
            texts.push(&values[*i]);
            if texts.len() > 2 * GROUPS {
                break;
            }
        }
    }
    if texts.len() <= 2 * GROUPS {
        return texts
            .iter()
            .map(|t| used.iter().copied().filter(|i| values[*i] == *t).collect::<Vec<_>>())
            .collect();
    }
    let number = |i: usize| {
        let text = values[i].as_str();
        let end = text.find(' ').unwrap_or(text.len());
        text[..end].parse::<f64>().unwrap_or(f64::NAN)
    };
    let mut order = used.to_vec();
    order.sort_by(|a, b| number(*a).total_cmp(&number(*b)).then(a.cmp(b)));
    order.chunks(order.len().div_ceil(GROUPS)).map(<[usize]>::to_vec).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn input(key: &str, values: &[&str]) -> (String, Vec<String>) {
        (key.to_owned(), values.iter().map(|v| (*v).to_owned()).collect())
    }

    #[test]
    fn val_a_sum_has_no_interaction_and_a_product_has() {
        // 3 x + y over x, y in {-1, 1}: variances 9 and 1 of 10.
        let inputs = [input("x", &["-1", "-1", "1", "1"]), input("y", &["-1", "1", "-1", "1"])];
        let sum = [-4.0, -2.0, 2.0, 4.0].map(Some);
        let found = influence(&inputs, &sum);
        assert_eq!(found[0].input, "x");
        assert!((found[0].share - 0.9).abs() < 1e-12 && (found[0].range - 6.0).abs() < 1e-12);
        assert!((found[1].share - 0.1).abs() < 1e-12);
        assert!(found[2].share.abs() < 1e-12);
        // x y: nothing alone, everything together.
        let found = influence(&inputs, &[1.0, -1.0, -1.0, 1.0].map(Some));
        assert!(found[0].share.abs() < 1e-12 && (found[2].share - 1.0).abs() < 1e-12);
        assert!(influence(&inputs, &[Some(1.0); 4]).is_empty());
        assert!(influence(&inputs, &[Some(1.0), None, None, None]).is_empty());
    }

    #[test]
    fn phys_many_values_are_grouped_with_their_neighbours() {
        let texts: Vec<String> = (0..100).map(|i| format!("{} degF", 50 + i)).collect();
        let measure: Vec<Option<f64>> = (0..100).map(|i| Some(f64::from(i))).collect();
        let found = influence(&[("t".to_owned(), texts)], &measure);
        // Five groups of a straight line explain 1 - 1/25 of it.
        assert!((found[0].share - 0.96).abs() < 1e-3, "{found:?}");
    }
}
