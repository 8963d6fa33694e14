//! Energy of each month by end use, both schemes side by side.

use crate::axes::{
    Key, Panel, heading, heading_height, left_axis, left_width, legend, legend_height, upright,
};
use crate::canvas::{
    AXIS, Align, Area, Canvas, Fill, Ground, HATCHINGS, Options, Pen, Picture, PictureWidth, TICK,
};
use crate::carpet::MONTHS;
use crate::error::{PictureError, length, within};
use crate::ink::Ink;
use crate::scale::Scale;
use crate::show::{Shown, largest};
use crate::text::shorten;
use std::fmt::Write as _;

/// Energy of one end use in each month.
#[derive(Debug, Clone, PartialEq)]
pub struct EndUse {
    /// What uses the energy.
    pub label: String,
    /// Decoupled scheme, J from January to December.
    pub decoupled_j: [f64; 12],
    /// All-air scheme, J from January to December.
    pub all_air_j: [f64; 12],
}

/// Monthly end uses of both schemes as stacked bars side by side.
#[derive(Debug, Clone, PartialEq)]
pub struct MonthlyEndUses {
    /// Heading.
    pub title: String,
    /// The end uses, from the bottom of the bars to the top; one to eight.
    pub end_uses: Vec<EndUse>,
}

/// Height of the bars.
const fn panel_high(width: PictureWidth) -> f64 {
    match width {
        PictureWidth::Usual => 240.0,
        PictureWidth::Narrow => 180.0,
    }
}

/// Each end use has an ink and a hatching of its own, so that a bar reads in grey too.
const LOOKS: [(Ink, usize); HATCHINGS] = [
    (Ink::Blue, 0),
    (Ink::Orange, 1),
    (Ink::Teal, 2),
    (Ink::Claret, 3),
    (Ink::Violet, 5),
    (Ink::Olive, 4),
    (Ink::Quiet, 6),
    (Ink::Faint, 0),
];

impl MonthlyEndUses {
    /// Draws the bars.
    ///
    /// # Errors
    /// No end use or more than eight, an energy that is not finite or is negative.
    ///
    /// ```
    /// use drycoil_pictures::{EndUse, MonthlyEndUses, Options};
    /// use drycoil_units::UnitSystem;
    /// let fans = EndUse { label: "fans".into(), decoupled_j: [2e10; 12], all_air_j: [5e10; 12] };
    /// let picture = MonthlyEndUses { title: "Energy by month".into(), end_uses: vec![fans] }
    ///     .draw(&Options::new(UnitSystem::Ip, "months"))?;
    /// assert!(picture.description().contains("fans"));
    /// # Ok::<(), drycoil_pictures::PictureError>(())
    /// ```
    pub fn draw(&self, options: &Options) -> Result<Picture, PictureError> {
        length("end uses", self.end_uses.len(), 1, HATCHINGS)?;
        for end_use in &self.end_uses {
            for j in end_use.decoupled_j.iter().chain(&end_use.all_air_j) {
                within("energy in J", *j, 0.0, 1e18)?;
            }
        }
        let sums: [[f64; 12]; 2] = [
            std::array::from_fn(|m| self.end_uses.iter().map(|e| e.decoupled_j[m]).sum()),
            std::array::from_fn(|m| self.end_uses.iter().map(|e| e.all_air_j[m]).sum()),
        ];
        let peak = largest(sums.iter().flatten().copied());
        let shown = Shown::energy(peak);
        let high = panel_high(options.width);
        let ticks = upright(0.0, shown.value(peak), high);

        // The legend reads from the top of a bar to its bottom, as the bar does.
        let entries: Vec<(Key, String)> = self
            .end_uses
            .iter()
            .zip(LOOKS)
            .map(|(e, look)| {
                let text = shorten(&e.label, AXIS.size, AXIS.weight, 240.0);
                (Key::Box(fill(look), Some(edge(look))), text)
            })
            .collect();
        let wide = options.width.units();
        let top = heading_height(&self.title, wide) + 4.0;
        let key = legend_height(&entries, wide - 24.0);
        let first = top + key + 30.0;
        let height = first + high + 60.0;
        let mut canvas = Canvas::new(options, wide, height)?;
        heading(&mut canvas, &self.title)?;
        legend(&mut canvas, 12.0, top, wide - 24.0, &entries)?;

        let left = left_width(&ticks) + 12.0;
        let area = Area { left, top: first, right: wide - 14.0, bottom: first + high };
        let panel = Panel {
            area,
            x: Scale::new(0.0, 12.0, area.left, area.right),
            y: Scale::over(&ticks, area.bottom, area.top),
        };
        left_axis(&mut canvas, &panel, &ticks, &shown.title("energy a month"))?;
        let wide = area.width() / 12.0;
        let bar = wide * 0.36;
        // One path an end use: many shapes are heavy in print.
        let mut bars: Vec<Vec<Area>> = vec![Vec::new(); self.end_uses.len()];
        for (m, (name, _)) in MONTHS.iter().enumerate() {
            let middle = panel.x.at(m as f64 + 0.5);
            for (scheme, letter) in [(0, "D"), (1, "A")] {
                let x = middle + if scheme == 0 { -bar - 1.5 } else { 1.5 };
                let mut sum = 0.0;
                for (e, bars) in self.end_uses.iter().zip(&mut bars) {
                    let j = if scheme == 0 { e.decoupled_j[m] } else { e.all_air_j[m] };
                    let (from, to) = (panel.y.at(shown.value(sum)), panel.y.at(shown.value(sum + j)));
                    sum += j;
                    if from - to > 0.05 {
                        bars.push(Area { left: x, top: to, right: x + bar, bottom: from });
                    }
                }
                canvas.text((x + bar / 2.0, area.bottom + 13.0), Align::Middle, letter, TICK)?;
            }
            canvas.text((middle, area.bottom + 28.0), Align::Middle, name, AXIS)?;
        }
        for (bars, look) in bars.iter().zip(LOOKS) {
            canvas.rects(bars, fill(look), Some(edge(look)));
        }
        canvas.line((area.left, area.bottom), (area.right, area.bottom), Pen::new(Ink::Main, 1.2));
        let year = [0, 1].map(|s| sums[s].iter().sum::<f64>());
        let shown_year = Shown::energy(largest(year));
        let total = format!(
            "D decoupled, {} a year; A all-air, {} a year",
            shown_year.text(year[0]),
            shown_year.text(year[1])
        );
        canvas.text(
            (f64::midpoint(area.left, area.right), area.bottom + 48.0),
            Align::Middle,
            &total,
            AXIS,
        )?;

        let mut description = format!(
            "Stacked bars of energy by end use for each month, decoupled beside all-air. A year takes {} decoupled and {} \
             all-air.",
            shown_year.text(year[0]),
            shown_year.text(year[1])
        );
        for e in &self.end_uses {
            let _ = write!(
                description,
                " {}: {} decoupled, {} all-air.",
                e.label,
                shown_year.text(e.decoupled_j.iter().sum()),
                shown_year.text(e.all_air_j.iter().sum())
            );
        }
        canvas.finish(&self.title, &description)
    }
}

fn fill((ink, hatching): (Ink, usize)) -> Ground {
    if hatching == 0 { Fill::Ink(ink).into() } else { Ground::Hatched(ink, hatching) }
}

fn edge((ink, _): (Ink, usize)) -> Pen {
    Pen::new(if ink == Ink::Faint { Ink::Quiet } else { ink }, 0.9)
}
