//! Sweep of designs with the front of those that none other beats.

use crate::axes::{
    Key, Panel, across, below_axis, heading, heading_height, left_axis, left_width, legend, legend_height,
    upright,
};
use crate::canvas::{Area, Canvas, Dash, LABEL, Mark, Options, Pen, Picture, Point, STRONG};
use crate::error::{PictureError, all_finite, length};
use crate::ink::Ink;
use crate::place::Placer;
use crate::scale::Scale;
use crate::show::{Shown, extent, largest};
use crate::text::{Weight, shorten};
use drycoil_units::{QuantityKind, UnitSystem};
use std::fmt::Write as _;

/// What is measured along an axis.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Measure {
    /// A physical quantity, given in SI and shown in the unit system.
    Quantity(QuantityKind),
    /// A number shown as it is with this unit, as "USD"; the unit may be empty.
    Plain(String),
}

/// Which of two values is better.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Better {
    /// The smaller one.
    Less,
    /// The larger one.
    More,
}

/// An axis of the sweep.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Criterion {
    /// What it is.
    pub label: String,
    /// How it is measured.
    pub measure: Measure,
    /// Which way is better.
    pub better: Better,
}

/// One design of the sweep.
#[derive(Debug, Clone, PartialEq)]
pub struct SweepPoint {
    /// Name of the design.
    pub label: String,
    /// First criterion.
    pub x: f64,
    /// Second criterion.
    pub y: f64,
}

/// Scatter of a sweep.
#[derive(Debug, Clone, PartialEq)]
pub struct ParetoScatter {
    /// Heading.
    pub title: String,
    /// Horizontal axis.
    pub x: Criterion,
    /// Vertical axis.
    pub y: Criterion,
    /// The designs; at least one.
    pub points: Vec<SweepPoint>,
    /// The design that was chosen, by its place in `points`.
    pub chosen: Option<usize>,
}

const WIDTH: f64 = 720.0;
const PLOT: f64 = 330.0;
/// Designs of the front that are named.
const NAMED: usize = 7;

impl ParetoScatter {
    /// The designs that no other design beats: places in `points`, from the best in `x` to the best in `y`. A design
    /// equal to another in both criteria stands on the front with it.
    pub fn front(&self) -> Vec<usize> {
        let sign = |better| if better == Better::Less { 1.0 } else { -1.0 };
        let (sx, sy) = (sign(self.x.better), sign(self.y.better));
        let mut order: Vec<usize> = (0..self.points.len()).collect();
        let key = |i: usize| (sx * self.points[i].x, sy * self.points[i].y);
        order.sort_by(|&a, &b| {
            let (a, b) = (key(a), key(b));
            a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1))
        });
        let mut front: Vec<usize> = Vec::new();
        for i in order {
            let beaten = front.last().is_some_and(|&l| {
                let (last, this) = (key(l), key(i));
                this.1 >= last.1 && this != last
            });
            if !beaten {
                front.push(i);
            }
        }
        front
    }

    /// Draws the scatter.
    ///
    /// # Errors
    /// No design, a criterion that is not finite, a chosen design that is not there.
    ///
    /// ```
    /// use drycoil_pictures::{Better, Criterion, Measure, Options, ParetoScatter, SweepPoint};
    /// use drycoil_units::{QuantityKind, UnitSystem};
    /// let point = |label: &str, x, y| SweepPoint { label: label.into(), x, y };
    /// let scatter = ParetoScatter {
    ///     title: "Cost and energy of the sweep".into(),
    ///     x: Criterion {
    ///         label: "energy a year".into(),
    ///         measure: Measure::Quantity(QuantityKind::Energy),
    ///         better: Better::Less,
    ///     },
    ///     y: Criterion {
    ///         label: "life-cycle cost".into(),
    ///         measure: Measure::Plain("USD".into()),
    ///         better: Better::Less,
    ///     },
    ///     points: vec![point("a", 3.6e11, 9e5), point("b", 2.9e11, 1.1e6), point("c", 4.0e11, 1.2e6)],
    ///     chosen: Some(0),
    /// };
    /// assert_eq!(scatter.front(), [1, 0]);
    /// let picture = scatter.draw(&Options::new(UnitSystem::Si, "sweep"))?;
    /// assert!(picture.svg().contains("life-cycle cost"));
    /// # Ok::<(), drycoil_pictures::PictureError>(())
    /// ```
    pub fn draw(&self, options: &Options) -> Result<Picture, PictureError> {
        length("designs of the sweep", self.points.len(), 1, usize::MAX)?;
        all_finite("first criterion", self.points.iter().map(|p| p.x))?;
        all_finite("second criterion", self.points.iter().map(|p| p.y))?;
        if self.chosen.is_some_and(|c| c >= self.points.len()) {
            return Err(PictureError::Part { what: "the chosen design is not one of the sweep" });
        }
        let (shown_x, shown_y) = (
            shown(&self.x.measure, options.system, self.points.iter().map(|p| p.x)),
            shown(&self.y.measure, options.system, self.points.iter().map(|p| p.y)),
        );
        let front = self.front();
        let entries = [
            (Key::Mark(Mark::Ring, Ink::Quiet), format!("{} designs", self.points.len())),
            (
                Key::Marked(Pen::new(Ink::Blue, 1.8), Mark::Dot),
                format!("front: {} that no other design beats", front.len()),
            ),
            (Key::Mark(Mark::Diamond, Ink::Orange), "chosen".to_owned()),
        ];
        let entries = if self.chosen.is_some() { &entries[..] } else { &entries[..2] };
        let top = heading_height(&self.title, WIDTH) + 4.0;
        let first = top + legend_height(entries, WIDTH - 24.0) + 30.0;
        let mut canvas = Canvas::new(options, WIDTH, first + PLOT + 44.0)?;
        heading(&mut canvas, &self.title)?;
        legend(&mut canvas, 12.0, top, WIDTH - 24.0, entries)?;

        let (low, high) = extent(self.points.iter().map(|p| shown_y.value(p.y)));
        let y_ticks = upright(low, high, PLOT);
        let left = left_width(&y_ticks) + 12.0;
        let right = WIDTH - 26.0;
        let (low, high) = extent(self.points.iter().map(|p| shown_x.value(p.x)));
        let x_ticks = across(low, high, right - left);
        let area = Area { left, top: first, right, bottom: first + PLOT };
        let panel = Panel {
            area,
            x: Scale::over(&x_ticks, left, right),
            y: Scale::over(&y_ticks, area.bottom, area.top),
        };
        for v in &x_ticks.values {
            let x = panel.x.at(*v);
            canvas.line((x, area.top), (x, area.bottom), Pen::new(Ink::Net, 0.8));
        }
        let words = |criterion: &Criterion, shown: &Shown| {
            let way = match criterion.better {
                Better::Less => "less is better",
                Better::More => "more is better",
            };
            shorten(
                &format!("{} ({way})", shown.title(&criterion.label)),
                11.0,
                Weight::Regular,
                right - left,
            )
        };
        left_axis(&mut canvas, &panel, &y_ticks, &words(&self.y, &shown_y))?;
        below_axis(&mut canvas, &panel, &x_ticks, &words(&self.x, &shown_x))?;

        let place = |p: &SweepPoint| panel.at(shown_x.value(p.x), shown_y.value(p.y));
        let mut placer = Placer::new(Area {
            left: left + 2.0,
            right: WIDTH - 4.0,
            top: first + 2.0,
            bottom: area.bottom - 2.0,
        });
        for p in &self.points {
            canvas.mark(place(p), Mark::Ring, 5.0, Ink::Quiet);
            placer.avoid_mark(place(p), 6.0);
        }
        // A step line: between two designs of the front nothing better is known.
        let mut steps: Vec<Point> = Vec::new();
        for (n, &i) in front.iter().enumerate() {
            let at = place(&self.points[i]);
            if n > 0 {
                let before = place(&self.points[front[n - 1]]);
                steps.push((at.0, before.1));
            }
            steps.push(at);
        }
        canvas.polyline(&steps, Pen::new(Ink::Blue, 1.8).dash(Dash::Solid));
        placer.avoid(&steps);
        for &i in &front {
            canvas.mark(place(&self.points[i]), Mark::Dot, 8.0, Ink::Blue);
            placer.take_mark(place(&self.points[i]), 8.0);
        }
        let mut wanted: Vec<(usize, bool)> = Vec::new();
        if let Some(chosen) = self.chosen {
            canvas.mark(place(&self.points[chosen]), Mark::Diamond, 11.0, Ink::Orange);
            placer.take_mark(place(&self.points[chosen]), 12.0);
            wanted.push((chosen, true));
        }
        // Some designs of the front, evenly along it and with both ends.
        let named = front.len().min(NAMED);
        for k in 0..named {
            let i = front[if named > 1 { k * (front.len() - 1) / (named - 1) } else { 0 }];
            if Some(i) != self.chosen {
                wanted.push((i, false));
            }
        }
        for (i, chosen) in wanted {
            let set = if chosen { STRONG } else { LABEL };
            let text = shorten(&self.points[i].label, set.size, set.weight, 190.0);
            if !text.is_empty() {
                placer.label(&mut canvas, place(&self.points[i]), 7.0, &[(text, set)])?;
            }
        }

        let mut description = format!(
            "Scatter of {} designs: {} against {}. {} of them are not beaten in both by another",
            self.points.len(),
            self.x.label,
            self.y.label,
            front.len()
        );
        let text = |i: usize| {
            let p = &self.points[i];
            format!("{} with {} and {}", p.label, shown_x.text(p.x), shown_y.text(p.y))
        };
        let named: Vec<String> = front.iter().take(12).map(|&i| text(i)).collect();
        let _ = write!(description, ": {}.", named.join("; "));
        if let Some(chosen) = self.chosen {
            let _ = write!(description, " Chosen is {}.", text(chosen));
        }
        canvas.finish(&self.title, &description)
    }
}

fn shown(measure: &Measure, system: UnitSystem, values: impl Iterator<Item = f64>) -> Shown {
    match measure {
        Measure::Quantity(QuantityKind::Energy) => Shown::energy(largest(values)),
        Measure::Quantity(QuantityKind::Power) => Shown::power(system, largest(values)),
        Measure::Quantity(kind) => Shown::of(*kind, system),
        Measure::Plain(symbol) => Shown::plain(symbol),
    }
}
