//! Load duration curves of both schemes.

use crate::axes::{
    ALL_AIR, DECOUPLED, Key, Panel, below_axis, heading, heading_height, left_axis, left_width, legend,
    legend_height, upright, within,
};
use crate::canvas::{AXIS, Align, Area, Canvas, Mark, Options, Picture};
use crate::error::{PictureError, all_finite, length};
use crate::scale::Scale;
use crate::show::{Shown, largest};
use crate::text::shorten;
use std::fmt::Write as _;

/// What a load is counted as.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LoadKind {
    /// Cooling: kW, or tons.
    Cooling,
    /// Heating: kW, or kBtu/h.
    Heating,
    /// Electricity: kW.
    Electricity,
}

/// Hourly loads of one kind in both schemes.
#[derive(Debug, Clone, PartialEq)]
pub struct DurationPanel {
    /// What the load is, as "cooling by the plant".
    pub label: String,
    /// What the load is counted as.
    pub kind: LoadKind,
    /// Load of each hour in the decoupled scheme, W, in any order.
    pub decoupled_w: Vec<f64>,
    /// Load of each hour in the all-air scheme, W, in any order; as many hours.
    pub all_air_w: Vec<f64>,
}

/// Hours of the year in which a load is reached, for both schemes.
#[derive(Debug, Clone, PartialEq)]
pub struct LoadDuration {
    /// Heading.
    pub title: String,
    /// One to four panels, one above the other.
    pub panels: Vec<DurationPanel>,
}

const PANEL: f64 = 170.0;
const BETWEEN: f64 = 62.0;
/// Points of a curve: about one for every second unit of width, and the ends.
const POINTS: usize = 320;

impl LoadDuration {
    /// Draws the curves.
    ///
    /// # Errors
    /// No panel or more than four, no hour or more than 8784, schemes with different numbers of hours, a load that is
    /// not finite or is negative.
    ///
    /// ```
    /// use drycoil_pictures::{DurationPanel, LoadDuration, LoadKind, Options};
    /// use drycoil_units::UnitSystem;
    /// let hours = |peak: f64| (0..8760).map(|h| peak * f64::from(h % 24) / 24.0).collect();
    /// let panel = DurationPanel { label: "cooling".into(), kind: LoadKind::Cooling, decoupled_w: hours(300e3), all_air_w: hours(380e3) };
    /// let picture = LoadDuration { title: "Load duration".into(), panels: vec![panel] }
    ///     .draw(&Options::new(UnitSystem::Si, "duration"))?;
    /// assert!(picture.svg().contains("all-air"));
    /// # Ok::<(), drycoil_pictures::PictureError>(())
    /// ```
    pub fn draw(&self, options: &Options) -> Result<Picture, PictureError> {
        length("panels of the load duration", self.panels.len(), 1, 4)?;
        for panel in &self.panels {
            length("hours of a load", panel.decoupled_w.len(), 1, 8784)?;
            let hours = panel.decoupled_w.len();
            length("hours of the all-air load", panel.all_air_w.len(), hours, hours)?;
            for loads in [&panel.decoupled_w, &panel.all_air_w] {
                all_finite("load in W", loads.iter().copied())?;
                for &w in loads {
                    crate::error::within("load in W", w, 0.0, 1e12)?;
                }
            }
        }
        let entries = [
            (Key::Marked(DECOUPLED, Mark::Dot), "decoupled".to_owned()),
            (Key::Marked(ALL_AIR, Mark::Triangle), "all-air".to_owned()),
        ];
        let wide = options.width.units();
        let top = heading_height(&self.title, wide) + 4.0;
        let first = top + legend_height(&entries, wide) + 30.0;
        let count = self.panels.len() as f64;
        let height = first + count * PANEL + (count - 1.0) * BETWEEN + 42.0;
        let mut canvas = Canvas::new(options, wide, height)?;
        heading(&mut canvas, &self.title)?;
        legend(&mut canvas, 12.0, top, wide - 24.0, &entries)?;

        let mut prepared = Vec::new();
        for panel in &self.panels {
            let peak = largest(panel.decoupled_w.iter().chain(&panel.all_air_w).copied());
            let shown = match panel.kind {
                LoadKind::Cooling => Shown::cooling(options.system, peak),
                LoadKind::Heating => Shown::power(options.system, peak),
                LoadKind::Electricity => Shown::electric(peak),
            };
            let ticks = upright(0.0, shown.value(peak), PANEL);
            prepared.push((panel, shown, ticks));
        }
        let left = prepared.iter().map(|(_, _, t)| left_width(t)).fold(0.0, f64::max) + 12.0;
        let right = wide - 22.0;
        let mut description = String::from("Load duration curves of both schemes.");
        for (i, (data, shown, ticks)) in prepared.iter().enumerate() {
            let top = first + i as f64 * (PANEL + BETWEEN);
            let hours = data.decoupled_w.len() as f64;
            let area = Area { left, top, right, bottom: top + PANEL };
            let panel = Panel {
                area,
                x: Scale::new(0.0, hours, left, right),
                y: Scale::over(ticks, area.bottom, area.top),
            };
            let x_ticks = within(0.0, hours, right - left);
            below_axis(&mut canvas, &panel, &x_ticks, "hours in which the load is reached or exceeded")?;
            let mut peaks = Vec::new();
            let mut lines = Vec::new();
            for (loads, pen, mark, name) in [
                (&data.decoupled_w, DECOUPLED, Mark::Dot, "decoupled"),
                (&data.all_air_w, ALL_AIR, Mark::Triangle, "all-air"),
            ] {
                let mut sorted = loads.clone();
                sorted.sort_by(|a, b| b.total_cmp(a));
                let line = curve(&sorted, &panel, shown);
                lines.push((line, pen, mark));
                peaks.push(format!("{name} {}", shown.text(sorted[0])));
                let total: f64 = loads.iter().sum::<f64>() * 3600.0;
                let _ = write!(
                    description,
                    " {}, {name}: peak {}, {} over all hours, not zero in {} hours.",
                    data.label,
                    shown.text(sorted[0]),
                    Shown::energy(total).text(total),
                    loads.iter().filter(|w| **w > 0.0).count()
                );
            }
            let peaks = format!("highest hour: {}", peaks.join(", "));
            canvas.text((right, area.top - 9.0), Align::Right, &peaks, AXIS.halo())?;
            let room = right - left - AXIS.width(&peaks) - 14.0;
            let title = shorten(&shown.title(&data.label), AXIS.size, AXIS.weight, room);
            left_axis(&mut canvas, &panel, ticks, &title)?;
            for (line, pen, mark) in lines.iter().rev() {
                canvas.polyline(line, *pen);
                for share in [0.08, 0.3, 0.55, 0.8] {
                    let at = line[((line.len() - 1) as f64 * share) as usize];
                    // Along the axis a mark would say nothing.
                    if at.1 < area.bottom - 1.0 {
                        canvas.mark(at, *mark, 7.0, pen.ink);
                    }
                }
            }
        }
        canvas.finish(&self.title, &description)
    }
}

/// Sorted loads as a line with no more points than can be seen; the first and the last hour are kept.
fn curve(sorted: &[f64], panel: &Panel, shown: &Shown) -> Vec<(f64, f64)> {
    let last = sorted.len() - 1;
    let count = POINTS.min(last).max(1);
    let mut line: Vec<(f64, f64)> = (0..=count)
        .map(|i| {
            let at = (i * last) / count;
            panel.at(at as f64, shown.value(sorted[at]))
        })
        .collect();
    // The last hour ends where the axis ends.
    line.push(panel.at(sorted.len() as f64, shown.value(sorted[last])));
    line
}
