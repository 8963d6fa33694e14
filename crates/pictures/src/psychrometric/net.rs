//! The chart without a design on it: scales, axes and lines of constant properties.

use super::{AirPoint, WIDTH};
use crate::axes::across;
use crate::canvas::{AXIS, Align, Area, Canvas, Dash, Pen, Point, TICK, Type};
use crate::error::PictureError;
use crate::ink::Ink;
use crate::scale::{Scale, covering_ticks};
use crate::show::Shown;
use crate::text::Weight;
use drycoil_air::raw;
use drycoil_units::{QuantityKind, UnitSystem};

/// What is common to everything that is drawn.
pub(super) struct Chart {
    pub(super) p: f64,
    pub(super) area: Area,
    pub(super) x: Scale,
    pub(super) y: Scale,
    pub(super) temperature: Shown,
    pub(super) humidity: Shown,
    pub(super) low_c: f64,
    pub(super) high_c: f64,
    pub(super) top_w: f64,
}

impl Chart {
    pub(super) fn at(&self, t_c: f64, w: f64) -> Point {
        (self.x.at(self.temperature.value(t_c)), self.y.at(self.humidity.value(w)))
    }

    pub(super) fn of(&self, point: AirPoint) -> Point {
        self.at(point.dry_bulb_c, point.humidity_ratio_kg_per_kg)
    }

    pub(super) fn saturation(&self, t_c: f64) -> f64 {
        raw::saturation_humidity_ratio(t_c, self.p)
    }

    /// Dry bulb at which saturated air has a humidity ratio, by halving.
    pub(super) fn saturated_at(&self, w: f64) -> f64 {
        let (mut low, mut high) = (-60.0, 90.0);
        for _ in 0..60 {
            let middle = f64::midpoint(low, high);
            if self.saturation(middle) < w { low = middle } else { high = middle }
        }
        f64::midpoint(low, high)
    }

    /// A line of states inside the chart: the stretch of samples that is within its limits and not above saturation.
    pub(super) fn line(&self, w_of: impl Fn(f64) -> Option<f64>, from_c: f64, to_c: f64) -> Vec<Point> {
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
pub(super) struct Steps {
    pub(super) dry_bulb: f64,
    pub(super) wet_bulb: f64,
    pub(super) enthalpy: f64,
    pub(super) volume: f64,
}

pub(super) fn steps(system: UnitSystem, range_c: f64) -> Steps {
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

/// Axes with their numbers.
pub(super) fn frame(canvas: &mut Canvas, chart: &Chart, system: UnitSystem) -> Result<(), PictureError> {
    let Area { left, top, right, bottom } = chart.area;
    let ticks = across(chart.x.low, chart.x.high, right - left);
    let step = ticks.step.max(steps(system, chart.high_c - chart.low_c).dry_bulb);
    for v in multiples(step, chart.x.low, chart.x.high) {
        let x = chart.x.at(v);
        canvas.line((x, bottom), (x, bottom + 4.0), Pen::new(Ink::Quiet, 1.0));
        canvas.text((x, bottom + 15.0), Align::Middle, &ticks.text(v), TICK)?;
    }
    let title = chart.temperature.title("dry bulb");
    canvas.text((f64::midpoint(left, right), bottom + 32.0), Align::Middle, &title, AXIS)?;
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
pub(super) fn lines(
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
        canvas.polyline(&line, Pen::new(Ink::Faint, 0.8).dash(Dash::Alternating));
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
            let text = format!("{} wet bulb", chart.temperature.text_with(wet, 0));
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
            names.push((places.to_vec(), format!("{percent} % RH"), note(Ink::Main)));
        }
    }
    let curve = chart.line(|t| Some(chart.saturation(t)), low, high);
    canvas.polyline(&curve, Pen::new(Ink::Main, 1.8));
    if curve.len() > 8 {
        let places = [0.5, 0.42, 0.34, 0.6]
            .map(|s| curve[((curve.len() - 1) as f64 * s) as usize])
            .map(|(x, y)| (x - 33.0, y - 11.0));
        names.push((places.to_vec(), "saturation".into(), note(Ink::Main)));
    }
    names.reverse();
    names
}
