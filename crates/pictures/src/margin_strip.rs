//! Dew-point margin of every room, sorted.

use crate::axes::{LIMIT, Panel, across, below_axis, heading, heading_height, left_axis, upright};
use crate::canvas::{
    AXIS, Align, Area, Canvas, Fill, Ground, Mark, Options, Pen, Picture, PictureWidth, STRONG, TICK,
};
use crate::error::{PictureError, all_finite, finite};
use crate::ink::Ink;
use crate::scale::{Scale, number};
use crate::show::{Shown, extent};
use crate::text::shorten;
use drycoil_units::QuantityKind;

/// Least margin of a room.
#[derive(Debug, Clone, PartialEq)]
pub struct RoomMargin {
    /// Name of the room.
    pub name: String,
    /// Water or coil-surface temperature less room dew point, K.
    pub margin_k: f64,
}

/// Dew-point margin by room: the worst rooms by name, then all of them as one strip.
#[derive(Debug, Clone, PartialEq)]
pub struct MarginStrip {
    /// Heading.
    pub title: String,
    /// The rooms, in any order.
    pub rooms: Vec<RoomMargin>,
    /// The margin that is required, K.
    pub required_k: f64,
}

/// Rooms that are named.
const fn named(width: PictureWidth) -> usize {
    match width {
        PictureWidth::Usual => 12,
        PictureWidth::Narrow => 6,
    }
}
const ROW: f64 = 18.0;
const STRIP: f64 = 130.0;

impl MarginStrip {
    /// Draws the strip. Without rooms it says so.
    ///
    /// # Errors
    /// A margin that is not finite.
    ///
    /// ```
    /// use drycoil_pictures::{MarginStrip, Options, RoomMargin};
    /// use drycoil_units::UnitSystem;
    /// let room = |name: &str, margin_k: f64| RoomMargin { name: name.into(), margin_k };
    /// let picture = MarginStrip {
    ///     title: "Dew-point margin by room".into(),
    ///     rooms: vec![room("Office 101", 2.4), room("Conference 204", 0.8)],
    ///     required_k: 1.0,
    /// }
    /// .draw(&Options::new(UnitSystem::Si, "margins"))?;
    /// assert!(picture.description().contains("Conference 204"));
    /// # Ok::<(), drycoil_pictures::PictureError>(())
    /// ```
    pub fn draw(&self, options: &Options) -> Result<Picture, PictureError> {
        all_finite("dew-point margin in K", self.rooms.iter().map(|r| r.margin_k))?;
        finite("required margin in K", self.required_k)?;
        let shown = Shown::of(QuantityKind::TemperatureDifference, options.system);
        let mut rooms: Vec<&RoomMargin> = self.rooms.iter().collect();
        rooms.sort_by(|a, b| a.margin_k.total_cmp(&b.margin_k).then_with(|| a.name.cmp(&b.name)));
        let named = rooms.len().min(named(options.width));
        let strip = rooms.len() > named;

        let wide = options.width.units();
        let top = heading_height(&self.title, wide) + 26.0;
        let rows = if rooms.is_empty() { 1.0 } else { named as f64 };
        let bottom = top + rows * ROW + 6.0;
        let height = bottom + 44.0 + if strip { STRIP + 70.0 } else { 0.0 };
        let mut canvas = Canvas::new(options, wide, height)?;
        heading(&mut canvas, &self.title)?;

        if rooms.is_empty() {
            canvas.text((12.0, top + 8.0), Align::Left, "no room is on the system", AXIS)?;
            return canvas
                .finish(&self.title, "No room is on the system, so there is no dew-point margin to show.");
        }

        let names: Vec<String> =
            rooms[..named].iter().map(|r| shorten(&r.name, AXIS.size, AXIS.weight, wide / 3.0)).collect();
        let left = 12.0 + names.iter().map(|n| AXIS.width(n)).fold(0.0, f64::max) + 8.0;
        let right = wide - 60.0;
        let (low, high) = extent(rooms[..named].iter().map(|r| r.margin_k).chain([0.0, self.required_k]));
        let ticks = across(shown.value(low), shown.value(high), right - left);
        let panel = Panel {
            area: Area { left, top, right, bottom },
            x: Scale::over(&ticks, left, right),
            y: Scale::new(0.0, rows, top + 3.0, bottom - 3.0),
        };
        let zero = panel.x.at(0.0);
        for v in &ticks.values {
            canvas.line((panel.x.at(*v), top), (panel.x.at(*v), bottom), Pen::new(Ink::Net, 0.8));
        }
        for (i, (room, name)) in rooms[..named].iter().zip(&names).enumerate() {
            let y = panel.y.at(i as f64 + 0.5);
            let end = panel.x.at(shown.value(room.margin_k));
            let (fill, pen, mark) = self.look(room.margin_k);
            let bar = Area { left: zero.min(end), top: y - 5.0, right: zero.max(end), bottom: y + 5.0 };
            canvas.rect(bar, fill, Some(pen));
            canvas.mark((end, y), mark, 8.0, pen.ink);
            canvas.text((left - 8.0, y + 3.8), Align::Right, name, AXIS)?;
            let row = Area { left: 12.0, top: y - ROW / 2.0, right: wide - 12.0, bottom: y + ROW / 2.0 };
            canvas.spot(row, &room.name);
        }
        canvas.line((zero, top), (zero, bottom), Pen::new(Ink::Main, 1.2));
        let required = panel.x.at(shown.value(self.required_k));
        canvas.line((required, top - 4.0), (required, bottom), LIMIT);
        let text = format!("required {}", shown.text(self.required_k));
        let align = if required > f64::midpoint(left, right) { Align::Right } else { Align::Left };
        canvas.text((required, top - 8.0), align, &text, STRONG)?;
        // Values in a column of their own, where no bar reaches.
        // A margin that is not zero is not written as zero.
        let small = |r: &&RoomMargin| r.margin_k != 0.0 && shown.value(r.margin_k).abs() < 0.05;
        let decimals = if rooms[..named].iter().any(small) { 2 } else { 1 };
        canvas.text((wide - 14.0, top - 8.0), Align::Right, &shown.symbol, AXIS)?;
        for (i, room) in rooms[..named].iter().enumerate() {
            let y = panel.y.at(i as f64 + 0.5);
            let text = number(shown.value(room.margin_k), decimals);
            let set = if room.margin_k < self.required_k { STRONG } else { AXIS };
            canvas.text((wide - 14.0, y + 3.8), Align::Right, &text, set)?;
        }
        let title = if strip {
            format!("dew-point margin of the {named} nearest to condensation, {}", shown.symbol)
        } else {
            shown.title("dew-point margin")
        };
        below_axis(&mut canvas, &panel, &ticks, &title)?;
        if strip {
            self.strip(&mut canvas, &rooms, &shown, bottom + 44.0 + 26.0)?;
        }
        let description = self.description(&rooms, &shown);
        canvas.finish(&self.title, &description)
    }

    fn look(&self, margin_k: f64) -> (Ground, Pen, Mark) {
        if margin_k < 0.0 {
            (Fill::Ink(Ink::Claret).into(), Pen::new(Ink::Claret, 1.0), Mark::Cross)
        } else if margin_k < self.required_k {
            (Ground::Hatched(Ink::Orange, 1), Pen::new(Ink::Orange, 1.2), Mark::Triangle)
        } else {
            (Fill::Wash(Ink::Blue, 0.25).into(), Pen::new(Ink::Blue, 1.2), Mark::Dot)
        }
    }

    fn strip(
        &self,
        canvas: &mut Canvas,
        rooms: &[&RoomMargin],
        shown: &Shown,
        top: f64,
    ) -> Result<(), PictureError> {
        let (low, high) = extent(rooms.iter().map(|r| r.margin_k).chain([0.0, self.required_k]));
        let ticks = upright(shown.value(low), shown.value(high), STRIP);
        let area = Area {
            left: 12.0 + crate::axes::left_width(&ticks),
            top,
            right: canvas.width - 60.0,
            bottom: top + STRIP,
        };
        let count = rooms.len() as f64;
        let panel = Panel {
            area,
            x: Scale::new(0.0, count, area.left, area.right),
            y: Scale::over(&ticks, area.bottom, area.top),
        };
        left_axis(
            canvas,
            &panel,
            &ticks,
            &format!("all {} in the same order, {}", rooms.len(), shown.symbol),
        )?;
        let zero = panel.y.at(0.0);
        // Many bars run into each other, so that no hairline shows between them.
        let gap = if count < 150.0 { 1.0 } else { -0.4 };
        for (limit, keep) in [
            (Ink::Claret, (|m: f64, _| m < 0.0) as fn(f64, f64) -> bool),
            (Ink::Orange, |m, r| m >= 0.0 && m < r),
            (Ink::Blue, |m, r| m >= 0.0 && m >= r),
        ] {
            let bars: Vec<Area> = rooms
                .iter()
                .enumerate()
                .filter(|(_, r)| keep(r.margin_k, self.required_k))
                .map(|(i, r)| {
                    let y = panel.y.at(shown.value(r.margin_k));
                    Area {
                        left: panel.x.at(i as f64),
                        right: panel.x.at(i as f64 + 1.0) - gap,
                        top: y.min(zero),
                        bottom: y.max(zero).max(y.min(zero) + 0.8),
                    }
                })
                .collect();
            let fill = match limit {
                Ink::Orange => Ground::Hatched(limit, 1),
                Ink::Blue => Fill::Wash(limit, 0.25).into(),
                ink => Fill::Ink(ink).into(),
            };
            canvas.rects(&bars, fill, None);
        }
        for (i, r) in rooms.iter().enumerate() {
            let column = Area {
                left: panel.x.at(i as f64),
                right: panel.x.at(i as f64 + 1.0),
                top: area.top,
                bottom: area.bottom,
            };
            canvas.spot(column, &r.name);
        }
        // The upper edge of all bars, for print in grey.
        let mut edge = Vec::new();
        for (i, r) in rooms.iter().enumerate() {
            let y = panel.y.at(shown.value(r.margin_k));
            edge.push((panel.x.at(i as f64), y));
            edge.push((panel.x.at(i as f64 + 1.0), y));
        }
        canvas.polyline(&edge, Pen::new(Ink::Main, 1.2));
        let y = panel.y.at(shown.value(self.required_k));
        canvas.line((area.left, y), (area.right, y), LIMIT);
        canvas.line((area.left, zero), (area.right, zero), Pen::new(Ink::Main, 1.2));
        let x_ticks = crate::axes::within(0.0, count, area.width());
        let place = |v: f64| panel.x.at(v);
        for v in x_ticks.values.iter().filter(|v| **v > 0.0) {
            canvas.line((place(*v), area.bottom), (place(*v), area.bottom + 4.0), Pen::new(Ink::Quiet, 1.0));
            canvas.text((place(*v), area.bottom + 15.0), Align::Middle, &x_ticks.text(*v), TICK)?;
        }
        canvas.line((area.left, area.bottom), (area.right, area.bottom), Pen::new(Ink::Quiet, 1.0));
        canvas.text(
            (f64::midpoint(area.left, area.right), area.bottom + 31.0),
            Align::Middle,
            "counted from the smallest margin",
            AXIS,
        )?;
        Ok(())
    }

    fn description(&self, rooms: &[&RoomMargin], shown: &Shown) -> String {
        let below = rooms.iter().filter(|r| r.margin_k < self.required_k).count();
        let wet = rooms.iter().filter(|r| r.margin_k < 0.0).count();
        let worst: Vec<String> =
            rooms.iter().take(5).map(|r| format!("{} {}", r.name, shown.text(r.margin_k))).collect();
        format!(
            "Dew-point margin of {} terminals or rooms, sorted. Required is {}. Below it: {below}; of these with a negative \
             margin: {wet}. Smallest: {}.",
            rooms.len(),
            shown.text(self.required_k),
            worst.join(", ")
        )
    }
}
