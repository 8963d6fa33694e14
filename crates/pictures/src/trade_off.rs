//! What each supply dew point would cost.

use crate::axes::{
    Panel, across, below_axis, heading, heading_height, left_axis, left_width, upright, value_text,
};
use crate::canvas::{AXIS, Align, Area, Canvas, Dash, LABEL, Mark, Options, Pen, Picture, STRONG, Type};
use crate::error::{PictureError, all_finite, finite, length, rising};
use crate::ink::Ink;
use crate::place::Placer;
use crate::scale::Scale;
use crate::show::{Shown, extent, largest};
use crate::text::{Weight, shorten};
use drycoil_units::QuantityKind;
use std::fmt::Write as _;

/// One supply dew point that was looked at.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TradeOffPoint {
    /// Supply dew point, degC.
    pub supply_dew_point_c: f64,
    /// Primary air at it, m3/s of standard air.
    pub primary_flow_m3_per_s: f64,
    /// Heat that the drying coil takes out, W.
    pub drying_load_w: f64,
    /// Fan power, W.
    pub fan_power_w: f64,
    /// What is minimised, in [`TradeOff::objective_unit`].
    pub objective: f64,
}

/// A room or rule that forbids supply dew points on one side.
#[derive(Debug, Clone, PartialEq)]
pub struct Pin {
    /// The last supply dew point that it allows, degC.
    pub supply_dew_point_c: f64,
    /// Who or what it is.
    pub label: String,
}

/// Primary air, drying load, fan power and objective over the supply dew point.
#[derive(Debug, Clone, PartialEq)]
pub struct TradeOff {
    /// Heading.
    pub title: String,
    /// The points, in rising order of the supply dew point; at least two.
    pub points: Vec<TradeOffPoint>,
    /// The supply dew point that was chosen, degC.
    pub chosen_c: f64,
    /// What limits the choice.
    pub pins: Vec<Pin>,
    /// Words for what is minimised, as "cost a year".
    pub objective_label: String,
    /// Its unit, as "USD"; may be empty.
    pub objective_unit: String,
}

const WIDTH: f64 = 720.0;
const PANEL: f64 = 78.0;

impl TradeOff {
    /// Draws the curve.
    ///
    /// # Errors
    /// Fewer than two points, points out of order, a number that is not finite, a chosen dew point outside the points.
    ///
    /// ```
    /// use drycoil_pictures::{Options, TradeOff, TradeOffPoint};
    /// use drycoil_units::UnitSystem;
    /// let point = |t: f64| TradeOffPoint {
    ///     supply_dew_point_c: t,
    ///     primary_flow_m3_per_s: 6.0 / (13.0 - t),
    ///     drying_load_w: 20e3 * (20.0 - t),
    ///     fan_power_w: 12e3 / (13.0 - t),
    ///     objective: 9000.0 + 80.0 * (t - 9.0) * (t - 9.0),
    /// };
    /// let picture = TradeOff {
    ///     title: "Choice of the supply dew point".into(),
    ///     points: (5..=11).map(|t| point(f64::from(t))).collect(),
    ///     chosen_c: 9.0,
    ///     pins: vec![],
    ///     objective_label: "cost a year".into(),
    ///     objective_unit: "USD".into(),
    /// }
    /// .draw(&Options::new(UnitSystem::Ip, "trade-off"))?;
    /// assert!(picture.svg().contains("supply dew point"));
    /// # Ok::<(), drycoil_pictures::PictureError>(())
    /// ```
    pub fn draw(&self, options: &Options) -> Result<Picture, PictureError> {
        self.check()?;
        let system = options.system;
        let temperature = Shown::of(QuantityKind::Temperature, system);
        let dew = |c: f64| temperature.value(c);
        let column = |f: fn(&TradeOffPoint) -> f64| self.points.iter().map(f).collect::<Vec<f64>>();
        let loads = column(|p| p.drying_load_w);
        let fans = column(|p| p.fan_power_w);
        let panels = [
            (
                "primary air",
                Shown::of(QuantityKind::StandardAirFlow, system),
                column(|p| p.primary_flow_m3_per_s),
            ),
            ("drying load", Shown::cooling(system, largest(loads.iter().copied())), loads),
            ("fan power", Shown::electric(largest(fans.iter().copied())), fans),
            (self.objective_label.as_str(), Shown::plain(&self.objective_unit), column(|p| p.objective)),
        ];
        let pens = [
            (Pen::new(Ink::Blue, 2.0), Mark::Dot),
            (Pen::new(Ink::Teal, 2.0).dash(Dash::Dashed), Mark::Square),
            (Pen::new(Ink::Violet, 2.0).dash(Dash::Alternating), Mark::Triangle),
            (Pen::new(Ink::Main, 2.4), Mark::Diamond),
        ];

        let top = heading_height(&self.title, WIDTH) + 10.0;
        // Names of the chosen point and of the pins stand in a lane above the first panel, under its title, so that their
        // lines cross no text.
        let names = self.pins.len() as f64 + 1.0;
        let lane = names * 15.0 + 4.0;
        let first = top + 18.0 + lane;
        let height = first + 4.0 * PANEL + 3.0 * 34.0 + 44.0;
        let mut canvas = Canvas::new(options, WIDTH, height)?;
        heading(&mut canvas, &self.title)?;

        let axes: Vec<_> = panels
            .iter()
            .map(|(_, shown, values)| {
                let (low, high) = extent(values.iter().map(|v| shown.value(*v)));
                upright(low, high, PANEL)
            })
            .collect();
        let left = axes.iter().map(left_width).fold(0.0, f64::max) + 12.0;
        let right = WIDTH - 22.0;
        let (low, high) = extent(
            self.points
                .iter()
                .map(|p| p.supply_dew_point_c)
                .chain(self.pins.iter().map(|p| p.supply_dew_point_c)),
        );
        let x_ticks = across(dew(low), dew(high), right - left);
        let x = Scale::over(&x_ticks, left, right);
        let last = first + 3.0 * (PANEL + 34.0) + PANEL;

        // The lane: one line each, beside its line, on the side where there is more room.
        let mut lane_y = top + 20.0;
        let chosen = format!("chosen: {}", temperature.text(self.chosen_c));
        let mut entries: Vec<_> = std::iter::once((self.chosen_c, chosen, STRONG, Pen::new(Ink::Main, 1.4)))
            .chain(self.pins.iter().map(|pin| {
                let text = format!("{}: {}", pin.label, temperature.text(pin.supply_dew_point_c));
                (pin.supply_dew_point_c, text, LABEL, crate::axes::LIMIT)
            }))
            .map(|(c, text, set, pen)| {
                let at = x.at(dew(c));
                (at, right - at > at - 12.0, text, set, pen)
            })
            .collect();
        // A line goes down through the lines of text below its own. Outer ones come first, so that no name lies across.
        entries.sort_by(|a, b| {
            let outer = |e: &(f64, bool, String, Type, Pen)| if e.1 { e.0 } else { right - e.0 };
            b.1.cmp(&a.1).then_with(|| outer(a).total_cmp(&outer(b)))
        });
        for (at, to_right, text, set, pen) in entries {
            let room = if to_right { right - at } else { at - 12.0 } - 8.0;
            let text = shorten(&text, set.size, set.weight, room);
            canvas.line((at, lane_y), (at, first), pen);
            let (place, align) = if to_right { (at + 6.0, Align::Left) } else { (at - 6.0, Align::Right) };
            canvas.text((place, lane_y + 5.0), align, &text, set)?;
            lane_y += 15.0;
        }

        for (i, ((what, shown, values), ticks)) in panels.iter().zip(&axes).enumerate() {
            let top = first + i as f64 * (PANEL + 34.0);
            let area = Area { left, top, right, bottom: top + PANEL };
            let panel = Panel { area, x, y: Scale::over(ticks, area.bottom, area.top) };
            canvas.plot(
                area,
                [temperature.si(x.low), temperature.si(x.high)],
                [shown.si(panel.y.low), shown.si(panel.y.high)],
            );
            for v in &x_ticks.values {
                canvas.line((x.at(*v), top), (x.at(*v), area.bottom), Pen::new(Ink::Net, 0.8));
            }
            let title = shorten(&shown.title(what), 11.0, Weight::Regular, right - left - 120.0);
            if i == 0 {
                left_axis(&mut canvas, &panel, ticks, "")?;
                canvas.text((left, top - lane - 9.0), Align::Left, &title, AXIS.halo())?;
            } else {
                left_axis(&mut canvas, &panel, ticks, &title)?;
            }
            for pin in &self.pins {
                let at = x.at(dew(pin.supply_dew_point_c));
                canvas.line((at, top), (at, area.bottom), crate::axes::LIMIT);
            }
            let at = x.at(dew(self.chosen_c));
            canvas.line((at, top), (at, area.bottom), Pen::new(Ink::Main, 1.4));
            let (pen, mark) = pens[i];
            let line: Vec<_> = self
                .points
                .iter()
                .zip(values)
                .map(|(p, v)| panel.at(dew(p.supply_dew_point_c), shown.value(*v)))
                .collect();
            canvas.polyline(&line, pen);
            if line.len() <= 16 {
                for p in &line {
                    canvas.mark(*p, mark, 5.0, pen.ink);
                }
            }
            let chosen = self.at_chosen(values);
            let point = panel.at(dew(self.chosen_c), shown.value(chosen));
            canvas.mark(point, mark, 9.0, pen.ink);
            let mut placer = Placer::new(area);
            placer.avoid(&line);
            placer.avoid(&[(at, top), (at, area.bottom)]);
            for pin in &self.pins {
                let at = x.at(dew(pin.supply_dew_point_c));
                placer.avoid(&[(at, top), (at, area.bottom)]);
            }
            placer.take_mark(point, 8.0);
            let text = value_text(shown, chosen, ticks.step);
            placer.label(&mut canvas, point, 6.0, &[(text, STRONG)])?;
            if i == 3 {
                below_axis(&mut canvas, &panel, &x_ticks, &temperature.title("supply dew point"))?;
            }
        }

        debug_assert!(last < height);

        let best = self.points.iter().min_by(|a, b| a.objective.total_cmp(&b.objective)).expect("two points");
        let mut description = format!(
            "Four curves over the supply dew point from {} to {}: primary air, drying load, fan power and {}. Chosen is \
             {}, with primary air of {}, a drying load of {}, fan power of {} and {} of {}. The least {} lies at {}.",
            temperature.text(low),
            temperature.text(high),
            self.objective_label,
            temperature.text(self.chosen_c),
            panels[0].1.text(self.at_chosen(&panels[0].2)),
            panels[1].1.text(self.at_chosen(&panels[1].2)),
            panels[2].1.text(self.at_chosen(&panels[2].2)),
            self.objective_label,
            panels[3].1.text(self.at_chosen(&panels[3].2)),
            self.objective_label,
            temperature.text(best.supply_dew_point_c),
        );
        for pin in &self.pins {
            let _ =
                write!(description, " Limit by {}: {}.", pin.label, temperature.text(pin.supply_dew_point_c));
        }
        canvas.finish(&self.title, &description)
    }

    fn check(&self) -> Result<(), PictureError> {
        length("points of the trade-off", self.points.len(), 2, usize::MAX)?;
        all_finite("supply dew point in degC", self.points.iter().map(|p| p.supply_dew_point_c))?;
        all_finite("primary air in m3/s", self.points.iter().map(|p| p.primary_flow_m3_per_s))?;
        all_finite("drying load in W", self.points.iter().map(|p| p.drying_load_w))?;
        all_finite("fan power in W", self.points.iter().map(|p| p.fan_power_w))?;
        all_finite("objective", self.points.iter().map(|p| p.objective))?;
        all_finite("dew point of a pin in degC", self.pins.iter().map(|p| p.supply_dew_point_c))?;
        length("pins of the trade-off", self.pins.len(), 0, 6)?;
        let points: Vec<f64> = self.points.iter().map(|p| p.supply_dew_point_c).collect();
        rising("supply dew point in degC", &points)?;
        finite("chosen supply dew point in degC", self.chosen_c)?;
        crate::error::within(
            "chosen supply dew point in degC",
            self.chosen_c,
            points[0],
            points[points.len() - 1],
        )?;
        Ok(())
    }

    /// Value of a curve at the chosen dew point, on the line between its neighbours.
    fn at_chosen(&self, values: &[f64]) -> f64 {
        let after = self
            .points
            .iter()
            .position(|p| p.supply_dew_point_c >= self.chosen_c)
            .expect("checked: chosen within the points");
        if after == 0 {
            return values[0];
        }
        let (a, b) = (self.points[after - 1].supply_dew_point_c, self.points[after].supply_dew_point_c);
        values[after - 1] + (values[after] - values[after - 1]) * (self.chosen_c - a) / (b - a)
    }
}
