//! Scales with round ticks.

/// Values at which an axis is marked: whole multiples of a round step.
#[derive(Debug, Clone, PartialEq)]
pub struct Ticks {
    /// Distance between two ticks: 1, 2 or 5 times a power of ten.
    pub step: f64,
    /// The ticks, rising.
    pub values: Vec<f64>,
    /// Decimals with which they are written.
    pub decimals: usize,
}

impl Ticks {
    /// Text of a tick, with a group mark from five digits on.
    pub(crate) fn text(&self, value: f64) -> String {
        number(value, self.decimals)
    }
}

/// A number with so many decimals; five digits and more are grouped by a space that does not break.
pub(crate) fn number(value: f64, decimals: usize) -> String {
    let plain = format!("{value:.decimals$}");
    let plain = if plain.trim_start_matches('-').chars().all(|c| matches!(c, '0' | '.')) {
        plain.trim_start_matches('-').to_owned()
    } else {
        plain
    };
    let (sign, rest) = plain.strip_prefix('-').map_or(("", plain.as_str()), |r| ("-", r));
    let (whole, fraction) = rest.split_once('.').map_or((rest, None), |(w, f)| (w, Some(f)));
    if whole.len() < 5 {
        return plain;
    }
    let mut grouped = String::from(sign);
    for (i, c) in whole.chars().enumerate() {
        if i > 0 && (whole.len() - i) % 3 == 0 {
            grouped.push('\u{a0}');
        }
        grouped.push(c);
    }
    if let Some(fraction) = fraction {
        grouped.push('.');
        grouped.push_str(fraction);
    }
    grouped
}

/// The round numbers from which a step is taken, with the power of ten split off.
fn steps_from(rough: f64) -> impl Iterator<Item = (f64, i32)> {
    let start = rough.log10().floor() as i32;
    (start..).flat_map(|power| [1.0, 2.0, 5.0].map(|m| (m, power)))
}

fn value_of(step: (f64, i32), index: i64) -> f64 {
    // Division keeps 0.3 from becoming 0.30000000000000004.
    let whole = step.0 * index as f64;
    if step.1 >= 0 { whole * 10f64.powi(step.1) } else { whole / 10f64.powi(-step.1) }
}

fn ticks_of(step: (f64, i32), low: f64, high: f64) -> Ticks {
    let size = value_of(step, 1);
    // A thousandth of a step: rounding must not lose a tick at the end.
    let first = (low / size - 1e-3).ceil() as i64;
    let last = (high / size + 1e-3).floor() as i64;
    Ticks {
        step: size,
        values: (first..=last).map(|i| value_of(step, i)).collect(),
        decimals: if step.1 < 0 { step.1.unsigned_abs() as usize } else { 0 },
    }
}

/// Ticks within a range, at most so many, at least one step apart.
///
/// The range must be finite and rising and the count at least 2; otherwise there are no ticks.
///
/// ```
/// let ticks = drycoil_pictures::round_ticks(3.0, 47.0, 6);
/// assert_eq!(ticks.values, [10.0, 20.0, 30.0, 40.0]);
/// ```
pub fn round_ticks(low: f64, high: f64, at_most: usize) -> Ticks {
    if !(low.is_finite() && high.is_finite() && low < high) || at_most < 2 {
        return Ticks { step: 1.0, values: Vec::new(), decimals: 0 };
    }
    let rough = (high - low) / at_most as f64;
    for step in steps_from(rough) {
        let ticks = ticks_of(step, low, high);
        if ticks.values.len() <= at_most {
            return ticks;
        }
    }
    unreachable!("a step as long as the range has at most two ticks")
}

/// Ticks whose first is not above `low` and whose last is not below `high`: the range of an axis.
pub(crate) fn covering_ticks(low: f64, high: f64, at_most: usize) -> Ticks {
    let (low, high) = spread(low, high);
    let rough = (high - low) / at_most.max(2) as f64;
    for step in steps_from(rough) {
        let size = value_of(step, 1);
        let first = (low / size + 1e-9).floor() as i64;
        let last = (high / size - 1e-9).ceil() as i64;
        if last - first < at_most.max(2).cast_signed() as i64 {
            return ticks_of(step, value_of(step, first), value_of(step, last));
        }
    }
    unreachable!("a step as long as the range has at most three ticks")
}

/// A range that is not a single point.
fn spread(low: f64, high: f64) -> (f64, f64) {
    let least = (low.abs().max(high.abs()) * 1e-6).max(1e-9);
    if high - low > least {
        return (low, high);
    }
    let half = if low == 0.0 && high == 0.0 { 1.0 } else { low.abs().max(high.abs()) * 0.5 };
    (low - half, high + half)
}

/// Hours of a day or of some days, marked at hours that people count in.
pub(crate) fn hour_ticks(low: f64, high: f64, at_most: usize) -> Ticks {
    for step in [1.0, 2.0, 3.0, 6.0, 12.0, 24.0, 48.0, 96.0, 168.0, 336.0, 672.0, 1344.0, 2688.0] {
        let first = (low / step - 1e-9).ceil() as i64;
        let last = (high / step + 1e-9).floor() as i64;
        if last - first < at_most.max(2).cast_signed() as i64 {
            return Ticks { step, values: (first..=last).map(|i| i as f64 * step).collect(), decimals: 0 };
        }
    }
    round_ticks(low, high, at_most)
}

/// From values to places.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Scale {
    pub(crate) low: f64,
    pub(crate) high: f64,
    pub(crate) at_low: f64,
    pub(crate) at_high: f64,
}

impl Scale {
    pub(crate) fn new(low: f64, high: f64, at_low: f64, at_high: f64) -> Self {
        Self { low, high, at_low, at_high }
    }

    pub(crate) fn over(ticks: &Ticks, at_low: f64, at_high: f64) -> Self {
        let (low, high) = (ticks.values[0], ticks.values[ticks.values.len() - 1]);
        Self { low, high, at_low, at_high }
    }

    pub(crate) fn at(self, value: f64) -> f64 {
        self.at_low + (value - self.low) / (self.high - self.low) * (self.at_high - self.at_low)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn is_round(step: f64) -> bool {
        let mantissa = step / 10f64.powf(step.log10().floor());
        [1.0, 2.0, 5.0, 10.0].iter().any(|m| (mantissa - m).abs() < 1e-9)
    }

    #[test]
    fn phys_ticks_are_round_within_and_not_too_many() {
        for exponent in -7..9 {
            for mantissa in [1.0, 1.7, 2.3, 4.9, 5.0, 7.7, 9.99] {
                for offset in [-3.3, -1.0, -0.4, 0.0, 0.2, 7.0] {
                    for at_most in [2, 3, 5, 8, 12] {
                        let range = mantissa * 10f64.powi(exponent);
                        let (low, high) = (offset * range, (offset + 1.0) * range);
                        let ticks = round_ticks(low, high, at_most);
                        assert!(is_round(ticks.step), "{ticks:?}");
                        assert!(ticks.values.len() <= at_most, "{ticks:?}");
                        let slack = 2e-3 * ticks.step;
                        assert!(
                            ticks.values.iter().all(|v| *v >= low - slack && *v <= high + slack),
                            "{ticks:?}"
                        );
                        let cover = covering_ticks(low, high, at_most.max(3));
                        assert!(is_round(cover.step), "{cover:?}");
                        assert!(cover.values.len() <= at_most.max(3), "{cover:?}");
                        assert!(cover.values[0] <= low + cover.step * 1e-6, "{cover:?} {low}");
                        assert!(
                            *cover.values.last().unwrap() >= high - cover.step * 1e-6,
                            "{cover:?} {high}"
                        );
                        for v in &cover.values {
                            let back: f64 = cover.text(*v).replace('\u{a0}', "").parse().unwrap();
                            assert!(
                                (back - v).abs() <= 1e-9 * v.abs().max(cover.step),
                                "{v} is written {back}"
                            );
                        }
                    }
                }
            }
        }
    }

    #[test]
    fn a_range_without_extent_still_has_ticks() {
        for v in [0.0, 5.0, -3.0, 1e6, 1e-5] {
            let ticks = covering_ticks(v, v, 5);
            assert!(ticks.values.len() >= 2, "{v}");
            assert!(ticks.values[0] < v && *ticks.values.last().unwrap() > v, "{v} {ticks:?}");
        }
        assert!(round_ticks(f64::NAN, 1.0, 5).values.is_empty());
        assert!(round_ticks(2.0, 1.0, 5).values.is_empty());
    }

    #[test]
    fn numbers_are_grouped_and_have_no_negative_zero() {
        assert_eq!(number(9999.0, 0), "9999");
        assert_eq!(number(1_234_567.25, 1), "1\u{a0}234\u{a0}567.2");
        assert_eq!(number(-12_345.0, 0), "-12\u{a0}345");
        assert_eq!(number(-0.0001, 1), "0.0");
    }

    #[test]
    fn hours_are_marked_as_people_count_them() {
        assert_eq!(hour_ticks(0.0, 24.0, 5).values, [0.0, 6.0, 12.0, 18.0, 24.0]);
        assert_eq!(hour_ticks(0.0, 72.0, 7).values, [0.0, 12.0, 24.0, 36.0, 48.0, 60.0, 72.0]);
    }
}
