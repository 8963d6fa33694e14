//! The psychrometric chart.

mod net;

use crate::axes::{Key, column_size, heading, heading_height, legend, legend_column, legend_height};
use crate::canvas::{
    AXIS, Align, Area, Canvas, Dash, Fill, LABEL, Mark, Options, Pen, Picture, Point, STRONG, Type,
};
use crate::error::{PictureError, finite, length};
use crate::ink::Ink;
use crate::place::Placer;
use crate::scale::{Scale, covering_ticks};
use crate::show::{Shown, extent};
use crate::text::{Weight, shorten};
use drycoil_air::{MoistAir, ValidRange, raw};
use drycoil_units::{HumidityRatio, Pressure, Quantity, QuantityKind, Temperature, UnitSystem};
use net::{Chart, steps};
use std::fmt::Write as _;

/// A state of moist air at the pressure of the chart.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AirPoint {
    /// Dry bulb, degC.
    pub dry_bulb_c: f64,
    /// Humidity ratio, kg of vapour per kg of dry air.
    pub humidity_ratio_kg_per_kg: f64,
}

impl AirPoint {
    /// A state from dry bulb and humidity ratio.
    pub fn new(dry_bulb_c: f64, humidity_ratio_kg_per_kg: f64) -> Self {
        Self { dry_bulb_c, humidity_ratio_kg_per_kg }
    }
}

/// Whether a room is named beside its mark.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Naming {
    /// A mark with the name.
    Named,
    /// A mark only.
    Mark,
}

/// State of a room.
#[derive(Debug, Clone, PartialEq)]
pub struct RoomState {
    /// Name of the room.
    pub name: String,
    /// Its air.
    pub state: AirPoint,
    /// Whether the name is written.
    pub naming: Naming,
}

/// What happens to primary air between two states.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ProcessKind {
    /// Exchange with exhaust air.
    Recovery,
    /// Drying and cooling by the coil.
    Coil,
    /// Heat of the fan.
    Fan,
    /// Heat taken up by ducts or given by a heater.
    Reheat,
}

impl ProcessKind {
    const ALL: [Self; 4] = [Self::Recovery, Self::Coil, Self::Fan, Self::Reheat];

    const fn word(self) -> &'static str {
        match self {
            Self::Recovery => "energy recovery",
            Self::Coil => "drying coil",
            Self::Fan => "fan heat",
            Self::Reheat => "reheat and duct gain",
        }
    }

    const fn pen(self) -> Pen {
        match self {
            Self::Recovery => Pen::new(Ink::Orange, 2.4).dash(Dash::Dashed),
            Self::Coil => Pen::new(Ink::Blue, 2.8),
            Self::Fan => Pen::new(Ink::Violet, 3.6).dash(Dash::Dotted),
            Self::Reheat => Pen::new(Ink::Claret, 2.4).dash(Dash::Alternating),
        }
    }
}

/// A step of the primary-air process, from the state before to the state after it.
#[derive(Debug, Clone, PartialEq)]
pub struct ProcessStep {
    /// What happens.
    pub kind: ProcessKind,
    /// State after the step.
    pub to: AirPoint,
    /// Name of that state, as "leaving the coil".
    pub label: String,
}

/// The primary-air process.
#[derive(Debug, Clone, PartialEq)]
pub struct AirProcess {
    /// State of outdoor air.
    pub start: AirPoint,
    /// Name of that state.
    pub label: String,
    /// The steps in the direction of flow.
    pub steps: Vec<ProcessStep>,
}

/// Two streams that mix.
#[derive(Debug, Clone, PartialEq)]
pub struct MixingLine {
    /// One stream.
    pub first: AirPoint,
    /// The other stream.
    pub second: AirPoint,
    /// What they become.
    pub mixed: AirPoint,
    /// Name of the mixture.
    pub label: String,
}

/// The coldest surface of a coil.
#[derive(Debug, Clone, PartialEq)]
pub struct CoilSurface {
    /// Surface temperature, degC.
    pub temperature_c: f64,
    /// Name, as "surface of the drying coil".
    pub label: String,
}

/// Distance between the dew point of a room and the water in its terminal.
#[derive(Debug, Clone, PartialEq)]
pub struct WaterMargin {
    /// Name of the room.
    pub room: String,
    /// Its dew point, degC.
    pub dew_point_c: f64,
    /// Water entering its terminal, or the surface of its coil, degC.
    pub water_c: f64,
}

/// A psychrometric chart with what is to be seen on it.
#[derive(Debug, Clone, PartialEq)]
pub struct PsychrometricChart {
    /// Heading.
    pub title: String,
    /// Absolute pressure, Pa.
    pub pressure_pa: f64,
    /// Corners of the comfort region; none, or at least three.
    pub comfort: Vec<AirPoint>,
    /// Rooms.
    pub rooms: Vec<RoomState>,
    /// The primary-air process.
    pub process: Option<AirProcess>,
    /// Mixing of streams.
    pub mixing: Vec<MixingLine>,
    /// Coil surface.
    pub coil_surface: Option<CoilSurface>,
    /// The dew-point margin that is shown.
    pub margin: Option<WaterMargin>,
}

impl PsychrometricChart {
    /// A chart at a pressure, with nothing on it.
    pub fn new(title: impl Into<String>, pressure_pa: f64) -> Self {
        Self {
            title: title.into(),
            pressure_pa,
            comfort: Vec::new(),
            rooms: Vec::new(),
            process: None,
            mixing: Vec::new(),
            coil_surface: None,
            margin: None,
        }
    }
}

const WIDTH: f64 = 720.0;
const PLOT: f64 = 430.0;

impl PsychrometricChart {
    /// Draws the chart.
    ///
    /// # Errors
    /// A state that does not exist at the pressure (supersaturated, out of range, not finite); a comfort region of one
    /// or two corners.
    ///
    /// ```
    /// use drycoil_pictures::{AirPoint, Naming, Options, PsychrometricChart, RoomState};
    /// use drycoil_units::UnitSystem;
    /// let mut chart = PsychrometricChart::new("Room air", 101_325.0);
    /// chart.rooms.push(RoomState {
    ///     name: "Office 101".into(),
    ///     state: AirPoint::new(24.0, 0.0088),
    ///     naming: Naming::Named,
    /// });
    /// let picture = chart.draw(&Options::new(UnitSystem::Si, "chart"))?;
    /// assert!(picture.svg().contains("Office 101"));
    /// chart.rooms[0].state.humidity_ratio_kg_per_kg = 0.05;
    /// assert!(chart.draw(&Options::new(UnitSystem::Si, "chart")).is_err());
    /// # Ok::<(), drycoil_pictures::PictureError>(())
    /// ```
    pub fn draw(&self, options: &Options) -> Result<Picture, PictureError> {
        self.check()?;
        let system = options.system;
        let top = heading_height(&self.title, WIDTH) + 22.0;
        let area = Area { left: 30.0, top, right: WIDTH - 62.0, bottom: top + PLOT };
        let chart = self.scales(system, area);
        let entries = self.entries();
        let (key_wide, key_high) = column_size(&entries);
        // The key stands in the empty corner above the saturation curve when there is room for it.
        let key_bottom = area.top + 14.0 + key_high;
        let w_there = chart.humidity.si(chart.y.low
            + (area.bottom - key_bottom) / (area.bottom - area.top) * (chart.y.high - chart.y.low));
        let curve_there = chart.at(chart.saturated_at(w_there.max(1e-6)), 0.0).0;
        let corner = 12.0 + key_wide + 40.0 < curve_there;
        let below = if corner { 0.0 } else { legend_height(&entries, WIDTH - 24.0) + 6.0 };
        let height = area.bottom + 46.0 + below;

        let mut canvas = Canvas::new(options, WIDTH, height)?;
        heading(&mut canvas, &self.title)?;
        // The plot, and the strip above the saturation curve where lines are named.
        let mut placer = Placer::new(Area {
            left: area.left - 24.0,
            top: area.top + 2.0,
            right: area.right - 2.0,
            bottom: area.bottom - 2.0,
        });
        let shown = Shown::of(QuantityKind::Pressure, system);
        let text = format!("at {}", shown.text(self.pressure_pa));
        canvas.text((12.0, area.top - 10.0), Align::Left, &text, AXIS)?;
        let nets = net::lines(&mut canvas, &chart, system);
        net::frame(&mut canvas, &chart, system)?;
        canvas.plot(
            area,
            [chart.temperature.si(chart.x.low), chart.temperature.si(chart.x.high)],
            [chart.humidity.si(chart.y.low), chart.humidity.si(chart.y.high)],
        );
        if corner {
            placer.take(Area { left: 0.0, top: area.top, right: 18.0 + key_wide, bottom: key_bottom });
            legend_column(&mut canvas, 12.0, area.top + 8.0, &entries)?;
        } else {
            legend(&mut canvas, 12.0, area.bottom + 44.0, WIDTH - 24.0, &entries)?;
        }
        let hidden = self.states(&mut canvas, &chart, &mut placer)?;
        for (places, text, set) in nets {
            placer.at_one_of(&mut canvas, places, &text, set)?;
        }
        let description = self.description(&chart, system, hidden);
        canvas.finish(&self.title, &description)
    }

    fn check(&self) -> Result<(), PictureError> {
        let pressure = Pressure::from_si(self.pressure_pa);
        let mut points: Vec<AirPoint> = self.rooms.iter().map(|r| r.state).collect();
        points.extend(&self.comfort);
        if let Some(process) = &self.process {
            points.push(process.start);
            points.extend(process.steps.iter().map(|s| s.to));
        }
        points.extend(self.mixing.iter().flat_map(|m| [m.first, m.second, m.mixed]));
        finite("absolute pressure in Pa", self.pressure_pa)?;
        ValidRange::PRESSURE.check(self.pressure_pa)?;
        for point in points {
            finite("dry bulb in degC", point.dry_bulb_c)?;
            finite("humidity ratio in kg/kg", point.humidity_ratio_kg_per_kg)?;
            MoistAir::new(
                Temperature::from_si(point.dry_bulb_c),
                HumidityRatio::from_si(point.humidity_ratio_kg_per_kg),
                pressure,
            )?;
        }
        let mut temperatures = Vec::new();
        if let Some(surface) = &self.coil_surface {
            temperatures.push(surface.temperature_c);
        }
        if let Some(margin) = &self.margin {
            temperatures.extend([margin.dew_point_c, margin.water_c]);
        }
        for t in temperatures {
            finite("temperature in degC", t)?;
            MoistAir::saturated(Temperature::from_si(t), pressure)?;
        }
        if !self.comfort.is_empty() {
            length("corners of the comfort region", self.comfort.len(), 3, 64)?;
        }
        Ok(())
    }

    fn scales(&self, system: UnitSystem, area: Area) -> Chart {
        let temperature = Shown::of(QuantityKind::Temperature, system);
        let humidity = Shown::of(QuantityKind::HumidityRatio, system);
        let p = self.pressure_pa;
        let mut t: Vec<f64> = vec![5.0, 32.0];
        let mut w: Vec<f64> = vec![0.014];
        let mut add = |point: AirPoint| {
            t.push(point.dry_bulb_c);
            w.push(point.humidity_ratio_kg_per_kg);
        };
        self.rooms.iter().for_each(|r| add(r.state));
        self.comfort.iter().for_each(|c| add(*c));
        if let Some(process) = &self.process {
            add(process.start);
            process.steps.iter().for_each(|s| add(s.to));
        }
        self.mixing.iter().flat_map(|m| [m.first, m.second, m.mixed]).for_each(add);
        let mut saturated = |c: f64| {
            t.push(c);
            w.push(raw::saturation_humidity_ratio(c, p));
        };
        if let Some(surface) = &self.coil_surface {
            saturated(surface.temperature_c);
        }
        if let Some(margin) = &self.margin {
            saturated(margin.dew_point_c);
            saturated(margin.water_c);
        }
        let (low_c, high_c) = extent(t);
        let (_, top_w) = extent(w);
        let step = steps(system, high_c - low_c).dry_bulb;
        let low = ((temperature.value(low_c - 1.5)) / step).floor() * step;
        let high = ((temperature.value(high_c + 2.0)) / step).ceil() * step;
        let w_ticks = covering_ticks(0.0, humidity.value(top_w * 1.08), 12);
        let x = Scale::new(low, high, area.left, area.right);
        let y = Scale::over(&w_ticks, area.bottom, area.top);
        Chart {
            p,
            area,
            x,
            y,
            low_c: temperature.si(low),
            high_c: temperature.si(high),
            top_w: humidity.si(y.high),
            temperature,
            humidity,
        }
    }

    /// Everything that belongs to the design; gives how many names found no place.
    fn states(&self, canvas: &mut Canvas, chart: &Chart, placer: &mut Placer) -> Result<usize, PictureError> {
        let mut wanted: Vec<(Point, Vec<(String, Type)>)> = Vec::new();
        let say = |point: AirPoint| {
            format!(
                "{}, {}",
                chart.temperature.text(point.dry_bulb_c),
                chart.humidity.text(point.humidity_ratio_kg_per_kg)
            )
        };
        let name = |text: &str| shorten(text, LABEL.size, Weight::Bold, 200.0);
        placer.avoid(&chart.line(|t| Some(chart.saturation(t)), chart.low_c, chart.high_c));

        if self.comfort.len() > 2 {
            let corners: Vec<Point> = self.comfort.iter().map(|c| chart.of(*c)).collect();
            canvas.polygon(&corners, Fill::Wash(Ink::Teal, 0.16), Some(Pen::new(Ink::Teal, 1.4)));
            placer.avoid(&corners);
            placer.avoid(&[corners[corners.len() - 1], corners[0]]);
        }
        for mixing in &self.mixing {
            let [a, b, m] = [mixing.first, mixing.second, mixing.mixed].map(|p| chart.of(p));
            canvas.line(a, b, Pen::new(Ink::Main, 1.2).dash(Dash::Alternating));
            canvas.mark(a, Mark::Dot, 5.0, Ink::Main);
            canvas.mark(b, Mark::Dot, 5.0, Ink::Main);
            canvas.mark(m, Mark::Square, 8.0, Ink::Main);
            placer.avoid(&[a, b]);
            placer.take_mark(m, 8.0);
            wanted.push((m, vec![(name(&mixing.label), STRONG), (say(mixing.mixed), LABEL)]));
        }
        for room in &self.rooms {
            let at = chart.of(room.state);
            if room.naming == Naming::Mark {
                canvas.mark(at, Mark::Ring, 5.0, Ink::Olive);
                placer.avoid_mark(at, 6.0);
            }
        }
        if let Some(process) = &self.process {
            let mut before = chart.of(process.start);
            canvas.mark(before, Mark::Dot, 8.0, Ink::Main);
            placer.take_mark(before, 8.0);
            wanted.push((before, vec![(name(&process.label), STRONG), (say(process.start), LABEL)]));
            for step in &process.steps {
                let after = chart.of(step.to);
                let pen = step.kind.pen();
                canvas.line(before, after, pen);
                let tip = (before.0 + (after.0 - before.0) * 0.56, before.1 + (after.1 - before.1) * 0.56);
                if (after.0 - before.0).hypot(after.1 - before.1) > 44.0 {
                    canvas.arrow_head(before, tip, 10.0, pen.ink);
                }
                placer.avoid(&[before, after]);
                canvas.mark(before, Mark::Dot, 8.0, Ink::Main);
                canvas.mark(after, Mark::Dot, 8.0, Ink::Main);
                placer.take_mark(after, 8.0);
                wanted.push((after, vec![(name(&step.label), STRONG), (say(step.to), LABEL)]));
                before = after;
            }
        }
        if let Some(surface) = &self.coil_surface {
            let at = chart.at(surface.temperature_c, chart.saturation(surface.temperature_c));
            canvas.mark(at, Mark::Diamond, 9.0, Ink::Blue);
            placer.take_mark(at, 10.0);
            let text = chart.temperature.text(surface.temperature_c);
            wanted.push((at, vec![(name(&surface.label), STRONG), (text, LABEL)]));
        }
        if let Some(margin) = &self.margin {
            wanted.insert(0, margin_line(canvas, chart, placer, margin));
        }
        for room in self.rooms.iter().filter(|r| r.naming == Naming::Named) {
            let at = chart.of(room.state);
            canvas.mark(at, Mark::Triangle, 8.0, Ink::Olive);
            placer.take_mark(at, 9.0);
            wanted.push((at, vec![(name(&room.name), LABEL)]));
        }
        let mut hidden = 0;
        for (at, lines) in wanted {
            if !placer.label(canvas, at, 7.0, &lines)? {
                hidden += 1;
            }
        }
        if self.comfort.len() > 2 {
            // Inside the region, wherever there is room.
            let (left, right) = extent(self.comfort.iter().map(|c| chart.of(*c).0));
            let (top, bottom) = extent(self.comfort.iter().map(|c| chart.of(*c).1));
            let places = [0.5, 0.3, 0.7, 0.15, 0.85].into_iter().flat_map(|v| {
                [0.5, 0.35, 0.65].map(|u| (left + (right - left) * u, top + (bottom - top) * v))
            });
            placer.at_one_of(canvas, places, "comfort", LABEL)?;
        }
        Ok(hidden)
    }

    fn entries(&self) -> Vec<(Key, String)> {
        let mut entries = Vec::new();
        if let Some(process) = &self.process {
            for kind in ProcessKind::ALL {
                if process.steps.iter().any(|s| s.kind == kind) {
                    entries.push((Key::Line(kind.pen()), kind.word().to_owned()));
                }
            }
        }
        if !self.mixing.is_empty() {
            entries.push((Key::Line(Pen::new(Ink::Main, 1.2).dash(Dash::Alternating)), "mixing".into()));
        }
        if self.coil_surface.is_some() {
            entries.push((Key::Mark(Mark::Diamond, Ink::Blue), "coil surface".into()));
        }
        if self.margin.is_some() {
            entries.push((Key::Mark(Mark::Square, Ink::Teal), "water of the terminal".into()));
        }
        if self.rooms.iter().any(|r| r.naming == Naming::Named) {
            entries.push((Key::Mark(Mark::Triangle, Ink::Olive), "room, named".into()));
        }
        if self.rooms.iter().any(|r| r.naming == Naming::Mark) {
            entries.push((Key::Mark(Mark::Ring, Ink::Olive), "other room".into()));
        }
        if !self.comfort.is_empty() {
            entries.push((
                Key::Box(Fill::Wash(Ink::Teal, 0.16).into(), Some(Pen::new(Ink::Teal, 1.4))),
                "comfort region".into(),
            ));
        }
        entries.push((Key::Line(Pen::new(Ink::Faint, 0.9)), "wet bulb".into()));
        entries.push((Key::Line(Pen::new(Ink::Faint, 0.9).dash(Dash::Alternating)), "enthalpy".into()));
        entries.push((Key::Line(Pen::new(Ink::Faint, 0.9).dash(Dash::Dotted)), "volume".into()));
        entries
    }

    fn description(&self, chart: &Chart, system: UnitSystem, hidden: usize) -> String {
        let t = Shown::of(QuantityKind::Temperature, system);
        let w = Shown::of(QuantityKind::HumidityRatio, system);
        let k = Shown::of(QuantityKind::TemperatureDifference, system);
        let p = Shown::of(QuantityKind::Pressure, system);
        let say =
            |a: AirPoint| format!("{} and {}", t.text(a.dry_bulb_c), w.text(a.humidity_ratio_kg_per_kg));
        let mut text = format!(
            "Psychrometric chart at {}, dry bulb from {} to {}, humidity ratio up to {}.",
            p.text(self.pressure_pa),
            t.text(chart.low_c),
            t.text(chart.high_c),
            w.text(chart.top_w)
        );
        if let Some(process) = &self.process {
            let _ = write!(text, " Primary air: {} {}", process.label, say(process.start));
            for step in &process.steps {
                let _ = write!(text, "; {} to {} {}", step.kind.word(), step.label, say(step.to));
            }
            text.push('.');
        }
        for m in &self.mixing {
            let _ = write!(text, " Mixing gives {} {}.", m.label, say(m.mixed));
        }
        if let Some(surface) = &self.coil_surface {
            let _ = write!(text, " {}: {}.", surface.label, t.text(surface.temperature_c));
        }
        if let Some(m) = &self.margin {
            let _ = write!(
                text,
                " {}: dew point {}, water {}, dew-point margin {}.",
                m.room,
                t.text(m.dew_point_c),
                t.text(m.water_c),
                k.text(m.water_c - m.dew_point_c)
            );
        }
        if !self.rooms.is_empty() {
            let _ = write!(text, " {} rooms are marked.", self.rooms.len());
        }
        for room in self.rooms.iter().filter(|r| r.naming == Naming::Named) {
            let _ = write!(text, " {}: {}.", room.name, say(room.state));
        }
        if hidden > 0 {
            let _ = write!(text, " {hidden} names found no place on the chart and stand only here.");
        }
        text
    }
}

/// The horizontal distance from the dew point of a room to the water on the saturation curve.
fn margin_line(
    canvas: &mut Canvas,
    chart: &Chart,
    placer: &mut Placer,
    margin: &WaterMargin,
) -> (Point, Vec<(String, Type)>) {
    let w = chart.saturation(margin.dew_point_c);
    let w_water = chart.saturation(margin.water_c);
    let dew = chart.at(margin.dew_point_c, w);
    let water = chart.at(margin.water_c, w_water);
    let foot = (water.0, dew.1);
    let difference = margin.water_c - margin.dew_point_c;
    let ink = if difference < 0.0 { Ink::Claret } else { Ink::Blue };
    canvas.line(water, foot, Pen::new(ink, 1.0).dash(Dash::Dashed));
    canvas.line(dew, foot, Pen::new(ink, 3.4));
    for x in [dew.0, foot.0] {
        canvas.line((x, dew.1 - 6.0), (x, dew.1 + 6.0), Pen::new(ink, 1.6));
    }
    canvas.mark(dew, Mark::Dot, 7.0, Ink::Olive);
    canvas.mark(water, Mark::Square, 8.0, Ink::Teal);
    placer.avoid(&[dew, foot]);
    placer.avoid(&[water, foot]);
    placer.take_mark(water, 9.0);
    placer.take_mark(dew, 9.0);
    let kelvin = Shown::of(QuantityKind::TemperatureDifference, canvas.system());
    let lines = vec![
        (format!("dew-point margin {}", kelvin.text(difference)), STRONG),
        (shorten(&margin.room, LABEL.size, LABEL.weight, 170.0), LABEL),
        (format!("dew point {}", chart.temperature.text(margin.dew_point_c)), LABEL),
        (format!("water {}", chart.temperature.text(margin.water_c)), LABEL),
    ];
    // The left end lies on the saturation curve or above it, where the chart is empty.
    let left = if difference < 0.0 { (f64::midpoint(dew.0, foot.0), dew.1) } else { dew };
    (left, lines)
}
