//! A small profile of one day, for a room sheet.

use crate::axes::{Panel, below_axis, hours, left_axis, left_width};
use crate::canvas::{AXIS, Align, Area, Canvas, Dash, Fill, Mark, Options, Pen, Picture, TICK};
use crate::error::{PictureError, all_finite, length};
use crate::ink::Ink;
use crate::scale::{Scale, covering_ticks};
use crate::show::{Shown, extent};
use crate::text::{Weight, shorten};
use drycoil_units::QuantityKind;
use std::fmt::Write as _;

/// One quantity over a day, small.
#[derive(Debug, Clone, PartialEq)]
pub struct DayProfile {
    /// What is shown, as "sensible load".
    pub title: String,
    /// Kind of the values.
    pub kind: QuantityKind,
    /// SI values at equal steps from midnight; 24 for hours, at most 1440.
    pub values: Vec<f64>,
    /// A limit that is drawn beside the values.
    pub limit: Option<f64>,
}

const WIDTH: f64 = 260.0;
const PLOT: f64 = 74.0;

impl DayProfile {
    /// Draws the profile with its peak.
    ///
    /// # Errors
    /// Fewer than two or more than 1440 values, a number that is not finite.
    ///
    /// ```
    /// use drycoil_pictures::{DayProfile, Options};
    /// use drycoil_units::{QuantityKind, UnitSystem};
    /// let values = (0..24).map(|h| 900.0 + 700.0 * f64::from(12 - (h - 15_i32).abs()) / 12.0).collect();
    /// let profile =
    ///     DayProfile { title: "sensible load".into(), kind: QuantityKind::Power, values, limit: None };
    /// let picture = profile.draw(&Options::new(UnitSystem::Si, "day-101"))?;
    /// assert!(picture.description().contains("hour 15"));
    /// # Ok::<(), drycoil_pictures::PictureError>(())
    /// ```
    pub fn draw(&self, options: &Options) -> Result<Picture, PictureError> {
        length("values of the day", self.values.len(), 2, 1440)?;
        all_finite("value of the day", self.values.iter().copied().chain(self.limit))?;
        let (low, high) = extent(self.values.iter().copied().chain(self.limit));
        let shown = match self.kind {
            QuantityKind::Power => Shown::power(options.system, high.abs().max(low.abs())),
            kind => Shown::of(kind, options.system),
        };
        // Loads and flows grow from zero; a temperature has no zero of its own.
        let from_zero = !matches!(self.kind, QuantityKind::Temperature);
        let (low, high) =
            extent([shown.value(low), shown.value(high)].into_iter().chain(from_zero.then_some(0.0)));
        let ticks = covering_ticks(low, high, 4);
        let left = left_width(&ticks) + 4.0;
        let area = Area { left, top: 34.0, right: WIDTH - 12.0, bottom: 34.0 + PLOT };
        let panel = Panel {
            area,
            x: Scale::new(0.0, 24.0, area.left, area.right),
            y: Scale::over(&ticks, area.bottom, area.top),
        };
        let mut canvas = Canvas::new(options, WIDTH, area.bottom + 36.0)?;
        left_axis(&mut canvas, &panel, &ticks, "")?;
        below_axis(&mut canvas, &panel, &hours(0.0, 24.0, area.width()), "")?;
        canvas.text(
            (f64::midpoint(area.left, area.right), area.bottom + 29.0),
            Align::Middle,
            "hour",
            TICK,
        )?;

        let count = self.values.len() as f64;
        let step = 24.0 / count;
        let mut line = Vec::new();
        for (i, v) in self.values.iter().enumerate() {
            let y = panel.y.at(shown.value(*v));
            line.push((panel.x.at(i as f64 * step), y));
            line.push((panel.x.at((i as f64 + 1.0) * step), y));
        }
        let base = panel.y.at(if from_zero { 0.0 } else { panel.y.low });
        let mut field = line.clone();
        field.push((area.right, base));
        field.push((area.left, base));
        canvas.polygon(&field, Fill::Wash(Ink::Blue, 0.14), None);
        canvas.polyline(&line, Pen::new(Ink::Blue, 1.6));
        if let Some(limit) = self.limit {
            let y = panel.y.at(shown.value(limit));
            canvas.line((area.left, y), (area.right, y), Pen::new(Ink::Claret, 1.3).dash(Dash::Long));
        }
        let peak = self
            .values
            .iter()
            .enumerate()
            .fold(0, |best, (i, v)| if *v > self.values[best] { i } else { best });
        let hour = (peak as f64 * step).floor() as usize;
        let at = panel.at((peak as f64 + 0.5) * step, shown.value(self.values[peak]));
        canvas.mark(at, Mark::Dot, 6.0, Ink::Blue);
        let peak_text = format!("peak {} at {hour}", shown.text(self.values[peak]));
        let room = WIDTH - 14.0 - AXIS.width(&peak_text) - 10.0;
        canvas.text((WIDTH - 6.0, 16.0), Align::Right, &peak_text, AXIS)?;
        let title = shorten(&self.title, 11.0, Weight::Bold, room);
        canvas.text((6.0, 16.0), Align::Left, &title, crate::canvas::STRONG)?;

        let mut description =
            format!("{} over a day: peak {} in hour {hour}.", self.title, shown.text(self.values[peak]));
        if let Some(limit) = self.limit {
            let _ = write!(description, " Limit {}.", shown.text(limit));
        }
        canvas.finish(&self.title, &description)
    }
}
