//! Values that are exceeded in a share of the hours.

/// Values in falling order, for percentiles.
///
/// Definition used everywhere here: the value exceeded in `q` percent of `n` hours lies at rank `q n / 100 + 1/2` of the
/// values in falling order, linear between the two ranks beside it. So exactly `q n / 100` hours, to the half hour, lie
/// above it; 0.4 % of 8760 h is 35 h, and the value lies between the 35th and the 36th largest.
#[derive(Debug, Clone, PartialEq)]
pub struct Exceedance {
    falling: Vec<f64>,
}

impl Exceedance {
    /// From values in any order; all must be finite, which a weather year assures.
    ///
    /// ```
    /// use drycoil_climate::Exceedance;
    /// let hours: Vec<f64> = (1..=1000).map(f64::from).collect();
    /// let ranked = Exceedance::new(&hours);
    /// assert_eq!(ranked.exceeded_in_percent(1.0), Some(990.5));
    /// assert_eq!(hours.iter().filter(|&&v| v > 990.5).count(), 10);
    /// ```
    pub fn new(values: &[f64]) -> Self {
        let mut falling = values.to_vec();
        falling.sort_by(|a, b| b.total_cmp(a));
        Self { falling }
    }

    /// The value that is exceeded in `percent` of the hours; `None` when the rank lies outside the values, which for a
    /// year of hours happens only within 0.006 % of 0 and 100 %.
    pub fn exceeded_in_percent(&self, percent: f64) -> Option<f64> {
        let rank = percent / 100.0 * self.falling.len() as f64 + 0.5;
        if !(rank >= 1.0 && rank <= self.falling.len() as f64) {
            return None;
        }
        let below = rank.floor();
        let at = self.falling[below as usize - 1];
        let share = rank - below;
        let next = self.falling.get(below as usize).copied().unwrap_or(at);
        Some(at + share * (next - at))
    }
}
