//! The dew-point margin of every hour of a year.

use crate::axes::{heading, heading_height};
use crate::canvas::{
    AXIS, Align, Area, Canvas, Fill, Ground, Options, Pen, Picture, PictureWidth, STRONG, TICK,
};
use crate::error::{PictureError, finite, length};
use crate::ink::Ink;
use crate::scale::number;
use crate::show::Shown;
use drycoil_units::{QuantityKind, UnitSystem};
use std::fmt::Write as _;

/// 365 days of 24 hours, each coloured by its dew-point margin.
#[derive(Debug, Clone, PartialEq)]
pub struct Carpet {
    /// Heading.
    pub title: String,
    /// Margin of each hour from the first of January, K; none where no terminal had cold water.
    pub margin_k: Vec<Option<f64>>,
    /// The margin that is required, K.
    pub required_k: f64,
}

pub(crate) const HOURS: usize = 8760;
pub(crate) const MONTHS: [(&str, usize); 12] = [
    ("Jan", 31),
    ("Feb", 28),
    ("Mar", 31),
    ("Apr", 30),
    ("May", 31),
    ("Jun", 30),
    ("Jul", 31),
    ("Aug", 31),
    ("Sep", 30),
    ("Oct", 31),
    ("Nov", 30),
    ("Dec", 31),
];
const CELL_HIGH: f64 = 8.0;
/// Classes from wettest to driest.
const CLASSES: [Ink; 9] =
    [Ink::Wet2, Ink::Wet1, Ink::Dry1, Ink::Dry2, Ink::Dry3, Ink::Dry4, Ink::Dry5, Ink::Dry6, Ink::Dry7];

/// Limits between the classes in the shown unit.
fn limits(system: UnitSystem) -> [f64; 8] {
    match system {
        UnitSystem::Si => [-1.0, 0.0, 0.5, 1.0, 1.5, 2.0, 3.0, 5.0],
        UnitSystem::Ip => [-2.0, 0.0, 1.0, 2.0, 3.0, 4.0, 6.0, 10.0],
    }
}

impl Carpet {
    /// Draws the carpet.
    ///
    /// # Errors
    /// Another number of hours than 8760, a margin that is not finite.
    ///
    /// ```
    /// use drycoil_pictures::{Carpet, Options};
    /// use drycoil_units::UnitSystem;
    /// let margin_k = (0..8760).map(|h| Some(2.0 + f64::from(h % 24) / 10.0)).collect();
    /// let picture = Carpet { title: "Margin through the year".into(), margin_k, required_k: 1.0 }
    ///     .draw(&Options::new(UnitSystem::Si, "carpet"))?;
    /// assert!(picture.description().contains("8760"));
    /// # Ok::<(), drycoil_pictures::PictureError>(())
    /// ```
    pub fn draw(&self, options: &Options) -> Result<Picture, PictureError> {
        length("hours of the year", self.margin_k.len(), HOURS, HOURS)?;
        finite("required margin in K", self.required_k)?;
        for (index, value) in self.margin_k.iter().enumerate() {
            if let Some(value) = *value
                && !value.is_finite()
            {
                return Err(PictureError::NotFinite { what: "dew-point margin in K", index, value });
            }
        }
        let shown = Shown::of(QuantityKind::TemperatureDifference, options.system);
        let limits = limits(options.system);
        let class = |k: f64| limits.iter().filter(|l| shown.value(k) >= **l).count();

        let wide = options.width.units();
        let top = heading_height(&self.title, wide) + 26.0;
        let area = Area { left: 44.0, top, right: wide - 14.0, bottom: top + 24.0 * CELL_HIGH };
        let title_high = if options.width == PictureWidth::Narrow { 10.0 } else { 0.0 };
        let height = area.bottom + 104.0 + title_high;
        let mut canvas = Canvas::new(options, wide, height)?;
        heading(&mut canvas, &self.title)?;
        canvas.text((area.left, area.top - 8.0), Align::Left, "hour of the day", AXIS)?;
        canvas.rect(area, Ground::Hatched(Ink::Net, 3), None);

        canvas.plot(area, [0.0, 365.0], [0.0, 24.0]);

        // Each class is one path of vertical runs, so that a year stays a small text.
        let day_wide = area.width() / 365.0;
        let mut counts = [0_usize; CLASSES.len()];
        let mut runs: Vec<Vec<Area>> = vec![Vec::new(); CLASSES.len()];
        for day in 0..365 {
            let left = area.left + day as f64 * day_wide;
            let mut hour = 0;
            while hour < 24 {
                let Some(k) = self.margin_k[day * 24 + hour] else {
                    hour += 1;
                    continue;
                };
                let this = class(k);
                let mut until = hour;
                while until < 24 && self.margin_k[day * 24 + until].is_some_and(|k| class(k) == this) {
                    until += 1;
                }
                counts[this] += until - hour;
                // Hour 0 lies at the bottom.
                runs[this].push(Area {
                    left,
                    right: left + day_wide,
                    top: area.bottom - until as f64 * CELL_HIGH,
                    bottom: area.bottom - hour as f64 * CELL_HIGH,
                });
                hour = until;
            }
        }
        for (ink, areas) in CLASSES.iter().zip(&runs) {
            canvas.rects(areas, Fill::Ink(*ink), None);
        }

        for hour in [0, 6, 12, 18, 24] {
            let y = area.bottom - f64::from(hour) * CELL_HIGH;
            canvas.line((area.left - 4.0, y), (area.left, y), Pen::new(Ink::Quiet, 1.0));
            canvas.text((area.left - 7.0, y + 3.4), Align::Right, &hour.to_string(), TICK)?;
        }
        let mut day = 0;
        for (name, days) in MONTHS {
            let x = area.left + day as f64 * day_wide;
            if day > 0 {
                canvas.line((x, area.top), (x, area.bottom), Pen::new(Ink::Main, 0.5));
            }
            canvas.line((x, area.bottom), (x, area.bottom + 4.0), Pen::new(Ink::Quiet, 1.0));
            let middle = x + days as f64 * day_wide / 2.0;
            canvas.text((middle, area.bottom + 14.0), Align::Middle, name, TICK)?;
            day += days;
        }
        canvas.rect_outline(area, Pen::new(Ink::Quiet, 1.0));

        self.key(&mut canvas, &shown, &limits, &counts, area.bottom + 38.0 + title_high)?;
        let description = self.description(&shown, &counts);
        canvas.finish(&self.title, &description)
    }

    /// Boxes of all classes with the limits between them and the hours in each below.
    fn key(
        &self,
        canvas: &mut Canvas,
        shown: &Shown,
        limits: &[f64; 8],
        counts: &[usize; CLASSES.len()],
        top: f64,
    ) -> Result<(), PictureError> {
        let left = 44.0;
        let title = shown.title("margin");
        // On a narrow picture the title stands above the boxes instead of beside them.
        let (wide, beside) = match canvas.options.width {
            PictureWidth::Usual => (52.0, AXIS.width(&title) + 14.0),
            PictureWidth::Narrow => (45.0, 0.0),
        };
        let decimals = usize::from(limits.iter().any(|l| l.fract() != 0.0));
        let above = if beside > 0.0 { top + 1.0 } else { top - 10.0 };
        canvas.text((left, above), Align::Left, &title, AXIS)?;
        let start = left + beside;
        let boxes = top + 8.0;
        for (i, ink) in CLASSES.iter().enumerate() {
            let x = start + i as f64 * wide;
            let area = Area { left: x, top: boxes, right: x + wide, bottom: boxes + 14.0 };
            canvas.rect(area, Fill::Ink(*ink), Some(Pen::new(Ink::Quiet, 0.6)));
            canvas.text((x + wide / 2.0, boxes + 27.0), Align::Middle, &format!("{} h", counts[i]), TICK)?;
            if let Some(limit) = limits.get(i) {
                canvas.text((x + wide, top + 2.0), Align::Middle, &number(*limit, decimals), TICK)?;
            }
        }
        // The sign change is marked by a line through the key, the required margin by a wedge below it.
        let zero = start + 2.0 * wide;
        canvas.line((zero, boxes - 2.0), (zero, boxes + 17.0), Pen::new(Ink::Main, 2.0));
        let off: usize = self.margin_k.iter().filter(|k| k.is_none()).count();
        let x = start + CLASSES.len() as f64 * wide + 16.0;
        let area = Area { left: x, top: boxes, right: x + 30.0, bottom: boxes + 14.0 };
        canvas.rect(area, Ground::Hatched(Ink::Net, 3), Some(Pen::new(Ink::Quiet, 0.6)));
        canvas.text((x + 15.0, top + 2.0), Align::Middle, "off", TICK)?;
        canvas.text((x + 15.0, boxes + 27.0), Align::Middle, &format!("{off} h"), TICK)?;
        let below = self.below(self.required_k);
        let wet = self.below(0.0);
        let text = format!(
            "required {}: below it in {below} h, of these {wet} h with a negative margin",
            shown.text(self.required_k)
        );
        canvas.text((left, boxes + 46.0), Align::Left, &text, if below > 0 { STRONG } else { AXIS })?;
        Ok(())
    }

    fn below(&self, limit_k: f64) -> usize {
        self.margin_k.iter().flatten().filter(|k| **k < limit_k).count()
    }

    fn description(&self, shown: &Shown, counts: &[usize; CLASSES.len()]) -> String {
        let on: usize = counts.iter().sum();
        let smallest = self
            .margin_k
            .iter()
            .enumerate()
            .filter_map(|(h, k)| k.map(|k| (h, k)))
            .min_by(|a, b| a.1.total_cmp(&b.1));
        let mut text = format!(
            "Dew-point margin of the 8760 hours of a year, days from left to right and hours from bottom to top. Cold \
             water runs in {on} hours; the margin is below the required {} in {} hours and negative in {}.",
            shown.text(self.required_k),
            self.below(self.required_k),
            self.below(0.0),
        );
        if let Some((hour, k)) = smallest {
            let mut day = hour / 24;
            let mut date = String::new();
            for (name, days) in MONTHS {
                if day < days {
                    date = format!("{name} {}", day + 1);
                    break;
                }
                day -= days;
            }
            let _ = write!(text, " The smallest is {}, on {date} at hour {}.", shown.text(k), hour % 24);
        }
        text
    }
}
