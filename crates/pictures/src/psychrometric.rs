//! The psychrometric chart.

use crate::axes::{Key, across, column_size, heading, heading_height, legend, legend_column, legend_height};
use crate::canvas::{
    AXIS, Align, Area, Canvas, Dash, Fill, LABEL, Mark, Options, Pen, Picture, Point, STRONG, TICK, Type,
};
use crate::error::{PictureError, finite, length};
use crate::ink::Ink;
use crate::place::Placer;
use crate::scale::{Scale, covering_ticks};
use crate::show::{Shown, extent};
use crate::text::{Weight, shorten};
use drycoil_air::{MoistAir, ValidRange, raw};
use drycoil_units::{HumidityRatio, Pressure, Quantity, QuantityKind, Temperature, UnitSystem};

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
            Self::Reheat => Pen::new(Ink::Claret, 2.4).dash(Dash::DashDot),
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

/// What is common to everything that is drawn.
struct Chart {
    p: f64,
    area: Area,
    x: Scale,
    y: Scale,
    temperature: Shown,
    humidity: Shown,
    low_c: f64,
    high_c: f64,
    top_w: f64,
}

impl Chart {
    fn at(&self, t_c: f64, w: f64) -> Point {
        (self.x.at(self.temperature.value(t_c)), self.y.at(self.humidity.value(w)))
    }

    fn of(&self, point: AirPoint) -> Point {
        self.at(point.dry_bulb_c, point.humidity_ratio_kg_per_kg)
    }

    fn saturation(&self, t_c: f64) -> f64 {
        raw::saturation_humidity_ratio(t_c, self.p)
    }

    /// Dry bulb at which saturated air has a humidity ratio, by halving.
    fn saturated_at(&self, w: f64) -> f64 {
        let (mut low, mut high) = (-60.0, 90.0);
        for _ in 0..60 {
            let middle = f64::midpoint(low, high);
            if self.saturation(middle) < w { low = middle } else { high = middle }
        }
        f64::midpoint(low, high)
    }

    /// A line of states inside the chart: the stretch of samples that is within its limits and not above saturation.
    fn line(&self, w_of: impl Fn(f64) -> Option<f64>, from_c: f64, to_c: f64) -> Vec<Point> {
        const SAMPLES: usize = 160;
        let inside = |t: f64| {
            let w = w_of(t)?;
            let good = w >= 0.0 && w <= self.top_w && w <= self.saturation(t) * (1.0 + 1e-9);
            good.then_some(w)
        };
        let mut line = Vec::new();
        let t_of = |i: usize| from_c + (to_c - from_c) * i as f64 / SAMPLES as f64;
        let mut before: Option<f64> = None;
        for i in 0..=SAMPLES {
            let t = t_of(i);
            let now = inside(t);
            // Where the line enters or leaves, the edge is found by halving, so that it ends on the frame.
            if i > 0 && now.is_some() != before.is_some() {
                let (mut good, mut bad) = if now.is_some() { (t, t_of(i - 1)) } else { (t_of(i - 1), t) };
                for _ in 0..40 {
                    let middle = f64::midpoint(good, bad);
                    if inside(middle).is_some() { good = middle } else { bad = middle }
                }
                if let Some(w) = inside(good) {
                    line.push(self.at(good, w));
                }
            }
            if let Some(w) = now {
                line.push(self.at(t, w));
            }
            before = now;
        }
        line
    }
}

/// Steps of the nets in the units of a system.
struct Steps {
    dry_bulb: f64,
    wet_bulb: f64,
    enthalpy: f64,
    volume: f64,
}

fn steps(system: UnitSystem, range_c: f64) -> Steps {
    let wide = range_c > 45.0;
    match system {
        UnitSystem::Si => Steps {
            dry_bulb: 5.0,
            wet_bulb: if wide { 10.0 } else { 5.0 },
            enthalpy: 20.0,
            volume: if wide { 0.04 } else { 0.02 },
        },
        UnitSystem::Ip => Steps {
            dry_bulb: 10.0,
            wet_bulb: if wide { 20.0 } else { 10.0 },
            enthalpy: 10.0,
            volume: if wide { 0.5 } else { 0.25 },
        },
    }
}

/// Whole multiples of a step between two values.
fn multiples(step: f64, low: f64, high: f64) -> impl Iterator<Item = f64> {
    let first = (low / step).ceil() as i64;
    let last = (high / step).floor() as i64;
    (first..=last).map(move |i| i as f64 * step)
}

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
        let nets = self.nets(&mut canvas, &chart, system);
        self.frame(&mut canvas, &chart, system)?;
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

    /// Axes with their numbers.
    fn frame(&self, canvas: &mut Canvas, chart: &Chart, system: UnitSystem) -> Result<(), PictureError> {
        let Area { left, top, right, bottom } = chart.area;
        let ticks = across(chart.x.low, chart.x.high, right - left);
        let step = ticks.step.max(steps(system, chart.high_c - chart.low_c).dry_bulb);
        for v in multiples(step, chart.x.low, chart.x.high) {
            let x = chart.x.at(v);
            canvas.line((x, bottom), (x, bottom + 4.0), Pen::new(Ink::Quiet, 1.0));
            canvas.text((x, bottom + 15.0), Align::Middle, &ticks.text(v), TICK)?;
        }
        let title = chart.temperature.title("dry bulb");
        canvas.text(((left + right) / 2.0, bottom + 32.0), Align::Middle, &title, AXIS)?;
        let ticks = covering_ticks(chart.y.low, chart.y.high, 12);
        for v in &ticks.values {
            let y = chart.y.at(*v);
            canvas.line((right, y), (right + 4.0, y), Pen::new(Ink::Quiet, 1.0));
            canvas.text((right + 8.0, y + 3.4), Align::Left, &ticks.text(*v), TICK)?;
        }
        canvas.line((left, bottom), (right, bottom), Pen::new(Ink::Quiet, 1.0));
        canvas.line((right, top), (right, bottom), Pen::new(Ink::Quiet, 1.0));
        let title = chart.humidity.title("humidity ratio");
        canvas.text((WIDTH - 12.0, top - 10.0), Align::Right, &title, AXIS)?;
        Ok(())
    }

    /// Lines of constant properties; gives where their names may stand.
    fn nets(
        &self,
        canvas: &mut Canvas,
        chart: &Chart,
        system: UnitSystem,
    ) -> Vec<(Vec<Point>, String, Type)> {
        let mut names = Vec::new();
        let p = chart.p;
        let (low, high) = (chart.low_c, chart.high_c);
        let step = steps(system, high - low);
        let area = chart.area;
        let note = |ink| Type { size: 9.0, weight: Weight::Regular, ink, halo: true };

        // Dry bulb and humidity ratio, up to saturation.
        for v in multiples(step.dry_bulb, chart.x.low, chart.x.high) {
            let t = chart.temperature.si(v);
            let w = chart.saturation(t).min(chart.top_w);
            canvas.line(chart.at(t, 0.0), chart.at(t, w), Pen::new(Ink::Net, 0.7));
        }
        for v in covering_ticks(chart.y.low, chart.y.high, 12).values {
            let w = chart.humidity.si(v);
            if w > 0.0 {
                let t = chart.saturated_at(w).max(low);
                if t < high {
                    canvas.line(chart.at(t, w), chart.at(high, w), Pen::new(Ink::Net, 0.7));
                }
            }
        }
        // Volume: the steepest lines, named where they stand on the axis.
        let volume = match system {
            UnitSystem::Si => Shown::plain("m\u{b3}/kg"),
            UnitSystem::Ip => Shown::plain("ft\u{b3}/lb"),
        };
        let per_si = match system {
            UnitSystem::Si => 1.0,
            // 1 m3/kg in ft3/lb.
            UnitSystem::Ip => 0.453_592_37 / 0.3048_f64.powi(3),
        };
        let v_low = raw::volume_m3_per_kg(low, 0.0, p) * per_si;
        let v_high = raw::volume_m3_per_kg(high, chart.top_w, p) * per_si;
        for v in multiples(step.volume, v_low, v_high) {
            // v = R T (1 + W / e) / p, with e the ratio of the molar masses.
            let w_of = |t: f64| {
                Some((v / per_si * p / (raw::GAS_CONSTANT_DRY_AIR * (t + 273.15)) - 1.0) * raw::MASS_RATIO)
            };
            let line = chart.line(w_of, low, high);
            canvas.polyline(&line, Pen::new(Ink::Faint, 0.8).dash(Dash::Dotted));
            if let (Some(_), Some(end)) = (line.first(), line.last()) {
                let text =
                    if names.is_empty() { volume.text_with(v, 2) } else { Shown::plain("").text_with(v, 2) };
                let start = line[0];
                let at = |s: f64| (end.0 + (start.0 - end.0) * s, end.1 + (start.1 - end.1) * s);
                names.push(([0.04, 0.1, 0.18, 0.28].map(at).to_vec(), text, note(Ink::Quiet)));
            }
        }
        // Enthalpy: faint, carried a little beyond saturation, where it is named.
        let datum = match system {
            UnitSystem::Si => 0.0,
            UnitSystem::Ip => raw::DRY_AIR_ENTHALPY_AT_32_F_FROM_0_F_J_PER_KG,
        };
        let enthalpy = Shown::of(QuantityKind::SpecificEnthalpy, system);
        let h_high = enthalpy.value(raw::enthalpy_j_per_kg(high, chart.top_w) + datum);
        let h_low = enthalpy.value(raw::enthalpy_j_per_kg(low, 0.0) + datum);
        let mut first = true;
        for v in multiples(step.enthalpy, h_low, h_high) {
            let h = enthalpy.si(v) - datum;
            let w_of = |t: f64| {
                Some(
                    (h - raw::CP_DRY_AIR_J_PER_KG_K * t)
                        / (raw::VAPORIZATION_AT_0_C_J_PER_KG + raw::CP_VAPOUR_J_PER_KG_K * t),
                )
            };
            let line = chart.line(w_of, low, high);
            canvas.polyline(&line, Pen::new(Ink::Faint, 0.8).dash(Dash::DashDot));
            let Some(start) = line.first().copied() else { continue };
            let on_curve = start.0 > area.left + 1.0 && start.1 > area.top + 1.0;
            if !on_curve || line.len() < 2 {
                continue;
            }
            let (dx, dy) = (start.0 - line[1].0, start.1 - line[1].1);
            let d = dx.hypot(dy).max(1e-9);
            let out = |by: f64| (start.0 + dx / d * by, start.1 + dy / d * by);
            canvas.line(start, out(12.0), Pen::new(Ink::Faint, 0.8));
            let text = if first { enthalpy.text_with(enthalpy.si(v), 0) } else { format!("{v:.0}") };
            first = false;
            names.push((vec![out(22.0), out(30.0), out(38.0)], text, note(Ink::Quiet)));
        }
        // Wet bulb, named on the curve.
        let t_low = chart.temperature.value(low);
        let t_high = chart.temperature.value(high);
        for v in multiples(step.wet_bulb, t_low, t_high) {
            let wet = chart.temperature.si(v);
            let w_of = |t: f64| (t >= wet).then(|| raw::humidity_ratio_at_wet_bulb(t, wet, p));
            let line = chart.line(w_of, wet.max(low), high);
            canvas.polyline(&line, Pen::new(Ink::Faint, 0.9));
            if line.len() > 8 {
                let text = format!("{v:.0}\u{b0} wet bulb");
                let places = [0.82, 0.72, 0.9, 0.6].map(|s| line[((line.len() - 1) as f64 * s) as usize]);
                names.push((places.to_vec(), text, note(Ink::Quiet)));
            }
        }
        // Relative humidity.
        for percent in (10..=90).step_by(10) {
            let rh = f64::from(percent) / 100.0;
            let line = chart.line(|t| Some(raw::humidity_ratio_from_relative_humidity(t, rh, p)), low, high);
            let labelled = percent % 20 == 0;
            let pen = if labelled { Pen::new(Ink::Faint, 1.1) } else { Pen::new(Ink::Net, 0.8) };
            canvas.polyline(&line, pen);
            if labelled && line.len() > 8 {
                let places =
                    [0.93, 0.86, 0.97, 0.78, 0.7, 0.6].map(|s| line[((line.len() - 1) as f64 * s) as usize]);
                names.push((places.to_vec(), format!("{percent} % RH"), note(Ink::Ink)));
            }
        }
        let curve = chart.line(|t| Some(chart.saturation(t)), low, high);
        canvas.polyline(&curve, Pen::new(Ink::Ink, 1.8));
        if curve.len() > 8 {
            let places = [0.5, 0.42, 0.34, 0.6]
                .map(|s| curve[((curve.len() - 1) as f64 * s) as usize])
                .map(|(x, y)| (x - 33.0, y - 11.0));
            names.push((places.to_vec(), "saturation".into(), note(Ink::Ink)));
        }
        names.reverse();
        names
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
            canvas.line(a, b, Pen::new(Ink::Ink, 1.2).dash(Dash::DashDot));
            canvas.mark(a, Mark::Dot, 5.0, Ink::Ink);
            canvas.mark(b, Mark::Dot, 5.0, Ink::Ink);
            canvas.mark(m, Mark::Square, 8.0, Ink::Ink);
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
            canvas.mark(before, Mark::Dot, 8.0, Ink::Ink);
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
                canvas.mark(before, Mark::Dot, 8.0, Ink::Ink);
                canvas.mark(after, Mark::Dot, 8.0, Ink::Ink);
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
            wanted.insert(0, self.margin_line(canvas, chart, placer, margin));
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

    /// The horizontal distance from the dew point of a room to the water on the saturation curve.
    fn margin_line(
        &self,
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
            entries.push((Key::Line(Pen::new(Ink::Ink, 1.2).dash(Dash::DashDot)), "mixing".into()));
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
                Key::Box(Fill::Wash(Ink::Teal, 0.16), Some(Pen::new(Ink::Teal, 1.4))),
                "comfort region".into(),
            ));
        }
        entries.push((Key::Line(Pen::new(Ink::Faint, 0.9)), "wet bulb".into()));
        entries.push((Key::Line(Pen::new(Ink::Faint, 0.9).dash(Dash::DashDot)), "enthalpy".into()));
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
            text.push_str(&format!(" Primary air: {} {}", process.label, say(process.start)));
            for step in &process.steps {
                text.push_str(&format!("; {} to {} {}", step.kind.word(), step.label, say(step.to)));
            }
            text.push('.');
        }
        for m in &self.mixing {
            text.push_str(&format!(" Mixing gives {} {}.", m.label, say(m.mixed)));
        }
        if let Some(surface) = &self.coil_surface {
            text.push_str(&format!(" {}: {}.", surface.label, t.text(surface.temperature_c)));
        }
        if let Some(m) = &self.margin {
            text.push_str(&format!(
                " {}: dew point {}, water {}, dew-point margin {}.",
                m.room,
                t.text(m.dew_point_c),
                t.text(m.water_c),
                k.text(m.water_c - m.dew_point_c)
            ));
        }
        if !self.rooms.is_empty() {
            text.push_str(&format!(" {} rooms are marked.", self.rooms.len()));
        }
        for room in self.rooms.iter().filter(|r| r.naming == Naming::Named) {
            text.push_str(&format!(" {}: {}.", room.name, say(room.state)));
        }
        if hidden > 0 {
            text.push_str(&format!(" {hidden} names found no place on the chart and stand only here."));
        }
        text
    }
}
