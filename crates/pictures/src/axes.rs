//! Panels with axes, and legends.

use crate::canvas::{AXIS, Align, Area, Canvas, Dash, Ground, LABEL, Mark, Pen, Point, TICK};
use crate::error::PictureError;
use crate::ink::Ink;
use crate::scale::{Scale, Ticks, covering_ticks, hour_ticks, round_ticks};
use crate::text::{Weight, wrap};

/// Least distance of two numbers along a horizontal axis.
const BETWEEN: f64 = 12.0;

/// A plotting area with its two scales.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Panel {
    pub(crate) area: Area,
    pub(crate) x: Scale,
    pub(crate) y: Scale,
}

impl Panel {
    pub(crate) fn at(&self, x: f64, y: f64) -> Point {
        (self.x.at(x), self.y.at(y))
    }
}

/// As many ticks as there is room for numbers side by side.
fn fitting(wide: f64, make: impl Fn(usize) -> Ticks) -> Ticks {
    let mut at_most = 14;
    loop {
        let ticks = make(at_most);
        let text = ticks.values.iter().map(|v| TICK.width(&ticks.text(*v))).fold(0.0, f64::max);
        let count = ticks.values.len().max(2) as f64 - 1.0;
        if at_most <= 2 || (text + BETWEEN) * count <= wide {
            return ticks;
        }
        at_most -= 1;
    }
}

/// Ticks of a horizontal axis that covers a range.
pub(crate) fn across(low: f64, high: f64, wide: f64) -> Ticks {
    fitting(wide, |n| covering_ticks(low, high, n.max(3)))
}

/// Ticks of a horizontal axis that ends where the range ends.
pub(crate) fn within(low: f64, high: f64, wide: f64) -> Ticks {
    fitting(wide, |n| round_ticks(low, high, n))
}

/// Ticks of a horizontal axis in hours.
pub(crate) fn hours(low: f64, high: f64, wide: f64) -> Ticks {
    fitting(wide, |n| hour_ticks(low, high, n))
}

/// Ticks of a vertical axis that covers a range.
pub(crate) fn upright(low: f64, high: f64, tall: f64) -> Ticks {
    covering_ticks(low, high, ((tall / 18.0) as usize).clamp(3, 10))
}

/// Net and numbers of a vertical axis on the left, with its title above.
pub(crate) fn left_axis(
    canvas: &mut Canvas,
    panel: &Panel,
    ticks: &Ticks,
    title: &str,
) -> Result<(), PictureError> {
    for v in &ticks.values {
        let y = panel.y.at(*v);
        let pen = if *v == 0.0 { Pen::new(Ink::Quiet, 1.0) } else { Pen::new(Ink::Net, 0.8) };
        canvas.line((panel.area.left, y), (panel.area.right, y), pen);
        canvas.text((panel.area.left - 6.0, y + 3.4), Align::Right, &ticks.text(*v), TICK)?;
    }
    if !title.is_empty() {
        canvas.text((panel.area.left, panel.area.top - 9.0), Align::Left, title, AXIS.halo())?;
    }
    Ok(())
}

/// Width that the numbers of a vertical axis need.
pub(crate) fn left_width(ticks: &Ticks) -> f64 {
    ticks.values.iter().map(|v| TICK.width(&ticks.text(*v))).fold(0.0, f64::max) + 8.0
}

/// Ticks and numbers of a horizontal axis below, with its title under them.
pub(crate) fn below_axis(
    canvas: &mut Canvas,
    panel: &Panel,
    ticks: &Ticks,
    title: &str,
) -> Result<(), PictureError> {
    let Area { left, right, bottom, .. } = panel.area;
    canvas.line((left, bottom), (right, bottom), Pen::new(Ink::Quiet, 1.0));
    for v in &ticks.values {
        let x = panel.x.at(*v);
        canvas.line((x, bottom), (x, bottom + 4.0), Pen::new(Ink::Quiet, 1.0));
        canvas.text((x, bottom + 15.0), Align::Middle, &ticks.text(*v), TICK)?;
    }
    if !title.is_empty() {
        canvas.text((f64::midpoint(left, right), bottom + 31.0), Align::Middle, title, AXIS)?;
    }
    Ok(())
}

/// What stands before a word of a legend.
#[derive(Debug, Clone, Copy)]
pub(crate) enum Key {
    Line(Pen),
    Marked(Pen, Mark),
    Mark(Mark, Ink),
    Box(Ground, Option<Pen>),
}

const KEY: f64 = 24.0;
const ROW: f64 = 17.0;

/// Rows that a legend needs.
pub(crate) fn legend_height(entries: &[(Key, String)], wide: f64) -> f64 {
    rows(entries, wide).iter().map(|r| r.0).max().map_or(0.0, |r| (r + 1) as f64 * ROW)
}

/// Row and left edge of each entry.
fn rows(entries: &[(Key, String)], wide: f64) -> Vec<(usize, f64)> {
    let (mut row, mut x) = (0, 0.0);
    entries
        .iter()
        .map(|(_, text)| {
            let w = KEY + 6.0 + LABEL.width(text);
            if x > 0.0 && x + w > wide {
                row += 1;
                x = 0.0;
            }
            let place = (row, x);
            x += w + 18.0;
            place
        })
        .collect()
}

pub(crate) fn draw_key(canvas: &mut Canvas, key: Key, left: f64, y: f64) {
    match key {
        Key::Line(pen) => canvas.line((left, y), (left + KEY, y), pen),
        Key::Marked(pen, mark) => {
            canvas.line((left, y), (left + KEY, y), pen);
            canvas.mark((left + KEY / 2.0, y), mark, 7.0, pen.ink);
        }
        Key::Mark(mark, ink) => canvas.mark((left + KEY / 2.0, y), mark, 8.0, ink),
        Key::Box(fill, pen) => {
            canvas.rect(
                Area { left: left + 4.0, top: y - 6.0, right: left + KEY, bottom: y + 6.0 },
                fill,
                pen,
            );
        }
    }
}

/// A legend in rows from a corner; entries that do not fit begin a new row.
pub(crate) fn legend(
    canvas: &mut Canvas,
    left: f64,
    top: f64,
    wide: f64,
    entries: &[(Key, String)],
) -> Result<(), PictureError> {
    for ((key, text), (row, x)) in entries.iter().zip(rows(entries, wide)) {
        let y = top + row as f64 * ROW + ROW / 2.0;
        draw_key(canvas, *key, left + x, y);
        canvas.text((left + x + KEY + 6.0, y + 3.8), Align::Left, text, crate::canvas::AXIS)?;
    }
    Ok(())
}

/// A legend one below the other; gives the size without drawing.
pub(crate) fn column_size(entries: &[(Key, String)]) -> (f64, f64) {
    let wide = entries.iter().map(|(_, t)| LABEL.width(t)).fold(0.0, f64::max) + KEY + 6.0;
    (wide, entries.len() as f64 * ROW)
}

pub(crate) fn legend_column(
    canvas: &mut Canvas,
    left: f64,
    top: f64,
    entries: &[(Key, String)],
) -> Result<(), PictureError> {
    for (i, (key, text)) in entries.iter().enumerate() {
        let y = top + i as f64 * ROW + ROW / 2.0;
        draw_key(canvas, *key, left, y);
        canvas.text((left + KEY + 6.0, y + 3.8), Align::Left, text, AXIS)?;
    }
    Ok(())
}

/// The heading of a picture, in as many lines as it needs; gives the height used.
pub(crate) fn heading(canvas: &mut Canvas, title: &str) -> Result<f64, PictureError> {
    let set = crate::canvas::HEADING;
    let room = canvas.width - 24.0;
    let mut top = 8.0;
    for line in wrap(title, set.size, Weight::Bold, room) {
        canvas.text_in(12.0, top, &line, set)?;
        top += set.height() + 2.0;
    }
    Ok(top)
}

/// Height that a heading will use.
pub(crate) fn heading_height(title: &str, wide: f64) -> f64 {
    let set = crate::canvas::HEADING;
    8.0 + wrap(title, set.size, Weight::Bold, wide - 24.0).len() as f64 * (set.height() + 2.0)
}

/// Pen of the required or allowed value.
pub(crate) const LIMIT: Pen = Pen::new(Ink::Claret, 1.5).dash(Dash::Long);
/// Pens of the two schemes.
pub(crate) const DECOUPLED: Pen = Pen::new(Ink::Blue, 2.2);
pub(crate) const ALL_AIR: Pen = Pen::new(Ink::Orange, 2.0).dash(Dash::Dashed);

/// Text of a value on an axis: at least two digits, and as fine as the axis is marked.
pub(crate) fn value_text(shown: &crate::show::Shown, si: f64, step: f64) -> String {
    let size = shown.value(si).abs();
    let digits = if size > 0.0 { (1.0 - size.log10().floor()).max(0.0) as usize } else { 0 };
    let marked = (-step.log10().floor()).max(0.0) as usize;
    shown.text_with(si, digits.max(marked).min(3))
}
