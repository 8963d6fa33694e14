//! A humid upset over time: dew point, water, condensate film, stages of the sequence.

use crate::axes::{
    Key, LIMIT, Panel, below_axis, heading, heading_height, hours, left_axis, left_width, legend,
    legend_height, upright, within,
};
use crate::canvas::{AXIS, Align, Area, Canvas, Dash, Fill, LABEL, Mark, Options, Pen, Picture};
use crate::error::{PictureError, all_finite, finite, length, rising};
use crate::ink::Ink;
use crate::scale::{Scale, number};
use crate::show::{Shown, extent, largest};
use crate::text::{Weight, shorten};
use drycoil_units::{QuantityKind, UnitSystem};
use std::fmt::Write as _;

/// Time in which one stage of the sequence holds.
#[derive(Debug, Clone, PartialEq)]
pub struct StageBand {
    /// Begin, s from the start of the excursion.
    pub from_s: f64,
    /// End, s.
    pub to_s: f64,
    /// What the sequence does.
    pub label: String,
}

/// Dew point, water temperature and film mass of one coil through an excursion.
#[derive(Debug, Clone, PartialEq)]
pub struct ExcursionSeries {
    /// Heading.
    pub title: String,
    /// Times, s from the start, rising; at least two.
    pub time_s: Vec<f64>,
    /// Room dew point, degC.
    pub dew_point_c: Vec<f64>,
    /// Water entering the terminal, degC.
    pub water_c: Vec<f64>,
    /// Water on the coil, kg.
    pub film_kg: Vec<f64>,
    /// Film mass from which water drips, kg.
    pub drip_kg: Option<f64>,
    /// Stages, in rising order of time, not overlapping.
    pub stages: Vec<StageBand>,
}

const WIDTH: f64 = 720.0;
const UPPER: f64 = 190.0;
const LOWER: f64 = 96.0;

impl ExcursionSeries {
    /// Draws the series.
    ///
    /// # Errors
    /// Lists of different lengths, fewer than two times, times or stages out of order, a number that is not finite, a
    /// negative film mass.
    ///
    /// ```
    /// use drycoil_pictures::{ExcursionSeries, Options, StageBand};
    /// use drycoil_units::UnitSystem;
    /// let picture = ExcursionSeries {
    ///     title: "Door propped open".into(),
    ///     time_s: vec![0.0, 1800.0, 3600.0],
    ///     dew_point_c: vec![11.0, 13.5, 12.0],
    ///     water_c: vec![13.0, 13.0, 15.0],
    ///     film_kg: vec![0.0, 0.004, 0.001],
    ///     drip_kg: None,
    ///     stages: vec![StageBand { from_s: 900.0, to_s: 3600.0, label: "water raised".into() }],
    /// }
    /// .draw(&Options::new(UnitSystem::Si, "excursion"))?;
    /// assert!(picture.svg().contains("water raised"));
    /// # Ok::<(), drycoil_pictures::PictureError>(())
    /// ```
    pub fn draw(&self, options: &Options) -> Result<Picture, PictureError> {
        self.check()?;
        let system = options.system;
        let temperature = Shown::of(QuantityKind::Temperature, system);
        let (mass_symbol, mass_factor, mass_decimals) = match system {
            UnitSystem::Si => ("g", 1e3, 1),
            // Grains would be exact and read by few; ounces are 1/16 lb.
            UnitSystem::Ip => ("oz", 16.0 / 0.453_592_37, 2),
        };
        let end_h = self.time_s[self.time_s.len() - 1] / 3600.0;
        let start_h = self.time_s[0] / 3600.0;
        // Short excursions are counted in minutes.
        let minutes = end_h - start_h < 3.0;
        let per = if minutes { 60.0 } else { 3600.0 };

        let dew_pen = Pen::new(Ink::Orange, 2.2);
        let water_pen = Pen::new(Ink::Blue, 2.0).dash(Dash::Dashed);
        let wet_fill = Fill::Wash(Ink::Claret, 0.35);
        let mut entries = vec![
            (Key::Line(dew_pen), "dew point of the room".to_owned()),
            (Key::Line(water_pen), "water of the terminal".to_owned()),
            (Key::Box(wet_fill.into(), Some(Pen::new(Ink::Claret, 0.8))), "dew point above water".to_owned()),
        ];
        if self.drip_kg.is_some() {
            entries.push((Key::Line(LIMIT), "film that drips".to_owned()));
        }
        let top = heading_height(&self.title, WIDTH) + 4.0;
        // Stages are listed by letter, one row each, so that their words never have to fit a short band.
        let list = top + legend_height(&entries, WIDTH - 24.0) + 4.0;
        let lane = list + self.stages.len() as f64 * 15.0 + 8.0;
        let band_high = if self.stages.is_empty() { 0.0 } else { 18.0 };
        let first = lane + band_high + 26.0;
        let second = first + UPPER + 34.0;
        let mut canvas = Canvas::new(options, WIDTH, second + LOWER + 44.0)?;
        heading(&mut canvas, &self.title)?;
        legend(&mut canvas, 12.0, top, WIDTH - 24.0, &entries)?;

        let (low, high) = extent(self.dew_point_c.iter().chain(&self.water_c).map(|c| temperature.value(*c)));
        let t_ticks = upright(low, high, UPPER);
        let most = largest(self.film_kg.iter().copied().chain(self.drip_kg)) * mass_factor;
        let film_ticks = upright(0.0, most, LOWER);
        let left = left_width(&t_ticks).max(left_width(&film_ticks)) + 12.0;
        let right = WIDTH - 22.0;
        let x = Scale::new(self.time_s[0] / per, self.time_s[self.time_s.len() - 1] / per, left, right);
        let at = |s: f64| x.at(s / per);
        let upper = Panel {
            area: Area { left, top: first, right, bottom: first + UPPER },
            x,
            y: Scale::over(&t_ticks, first + UPPER, first),
        };
        let lower = Panel {
            area: Area { left, top: second, right, bottom: second + LOWER },
            x,
            y: Scale::over(&film_ticks, second + LOWER, second),
        };

        let seconds = [x.low * per, x.high * per];
        canvas.plot(upper.area, seconds, [temperature.si(upper.y.low), temperature.si(upper.y.high)]);
        canvas.plot(lower.area, seconds, [lower.y.low / mass_factor, lower.y.high / mass_factor]);

        for (i, stage) in self.stages.iter().enumerate() {
            let (a, b) = (at(stage.from_s), at(stage.to_s));
            let letter = letter(i);
            for area in [upper.area, lower.area] {
                let band = Area { left: a, right: b, top: area.top, bottom: area.bottom };
                canvas.rect(band, Fill::Ink(if i % 2 == 0 { Ink::Field } else { Ink::Paper }), None);
                canvas.line((a, area.top), (a, area.bottom), Pen::new(Ink::Faint, 0.9).dash(Dash::Dotted));
                canvas.line((b, area.top), (b, area.bottom), Pen::new(Ink::Faint, 0.9).dash(Dash::Dotted));
            }
            let band = Area { left: a, right: b, top: lane, bottom: lane + 16.0 };
            canvas.rect(
                band,
                Fill::Ink(if i % 2 == 0 { Ink::Field } else { Ink::Paper }),
                Some(Pen::new(Ink::Quiet, 0.8)),
            );
            if LABEL.width(&letter) + 4.0 < b - a {
                canvas.text((f64::midpoint(a, b), lane + 12.0), Align::Middle, &letter, AXIS)?;
            }
            let time = |s: f64| {
                if minutes {
                    return number(s / per, 0);
                }
                let total = (s / 60.0).round() as i64;
                format!("{}:{:02}", total / 60, total % 60)
            };
            let unit = if minutes { "min" } else { "h" };
            let text =
                format!("{letter}: {} to {} {unit}, {}", time(stage.from_s), time(stage.to_s), stage.label);
            let text = shorten(&text, AXIS.size, Weight::Regular, WIDTH - 30.0);
            canvas.text((16.0, list + 11.0 + i as f64 * 15.0), Align::Left, &text, AXIS)?;
        }

        left_axis(&mut canvas, &upper, &t_ticks, &temperature.title("temperature"))?;
        left_axis(&mut canvas, &lower, &film_ticks, &format!("water on the coil, {mass_symbol}"))?;
        let (x_ticks, title) = if minutes {
            (within(x.low, x.high, right - left), "minutes")
        } else {
            (hours(x.low, x.high, right - left), "hours")
        };
        for panel in [&upper, &lower] {
            for v in &x_ticks.values {
                canvas.line(
                    (x.at(*v), panel.area.top),
                    (x.at(*v), panel.area.bottom),
                    Pen::new(Ink::Net, 0.7),
                );
            }
        }
        below_axis(&mut canvas, &lower, &x_ticks, title)?;

        for wet in self.wet(|s, c| upper.at(s / per, temperature.value(c))) {
            canvas.polygon(&wet, wet_fill, None);
        }
        let line = |values: &[f64]| -> Vec<(f64, f64)> {
            self.time_s.iter().zip(values).map(|(s, c)| upper.at(s / per, temperature.value(*c))).collect()
        };
        canvas.polyline(&line(&self.dew_point_c), dew_pen);
        canvas.polyline(&line(&self.water_c), water_pen);
        let film: Vec<(f64, f64)> = self
            .time_s
            .iter()
            .zip(&self.film_kg)
            .map(|(s, kg)| lower.at(s / per, kg * mass_factor))
            .collect();
        let mut field = film.clone();
        field.push((right, lower.area.bottom));
        field.push((left, lower.area.bottom));
        canvas.polygon(&field, Fill::Wash(Ink::Teal, 0.25), None);
        canvas.polyline(&film, Pen::new(Ink::Teal, 1.8));
        if let Some(drip) = self.drip_kg {
            let y = lower.y.at(drip * mass_factor);
            canvas.line((left, y), (right, y), LIMIT);
        }
        let peak = self
            .film_kg
            .iter()
            .enumerate()
            .fold(0, |best, (i, v)| if *v > self.film_kg[best] { i } else { best });
        if self.film_kg[peak] > 0.0 {
            canvas.mark(film[peak], Mark::Dot, 6.0, Ink::Teal);
        }
        let mut text =
            format!("most {} {mass_symbol}", number(self.film_kg[peak] * mass_factor, mass_decimals));
        if let Some(drip) = self.drip_kg {
            let _ = write!(text, ", drips from {} {mass_symbol}", number(drip * mass_factor, mass_decimals));
        }
        canvas.text((right, second - 9.0), Align::Right, &text, AXIS)?;

        let smallest =
            self.dew_point_c.iter().zip(&self.water_c).map(|(d, w)| w - d).fold(f64::INFINITY, f64::min);
        let k = Shown::of(QuantityKind::TemperatureDifference, system);
        let mut description = format!(
            "Excursion over {} {title}: dew point of the room and water of the terminal, smallest dew-point margin {}; \
             water on the coil, {text}.",
            number(x.high - x.low, usize::from(!minutes)),
            k.text(smallest)
        );
        for stage in &self.stages {
            let _ = write!(
                description,
                " From {} to {} {title}: {}.",
                number(stage.from_s / per, 1),
                number(stage.to_s / per, 1),
                stage.label
            );
        }
        canvas.finish(&self.title, &description)
    }

    fn check(&self) -> Result<(), PictureError> {
        let count = self.time_s.len();
        length("times of the excursion", count, 2, usize::MAX)?;
        for (what, values) in [
            ("dew points of the excursion", &self.dew_point_c),
            ("water temperatures of the excursion", &self.water_c),
            ("film masses of the excursion", &self.film_kg),
        ] {
            length(what, values.len(), count, count)?;
        }
        all_finite("time in s", self.time_s.iter().copied())?;
        all_finite("dew point in degC", self.dew_point_c.iter().copied())?;
        all_finite("water temperature in degC", self.water_c.iter().copied())?;
        for kg in self.film_kg.iter().chain(&self.drip_kg) {
            crate::error::within("film mass in kg", *kg, 0.0, 1e6)?;
        }
        rising("time in s", &self.time_s)?;
        length("stages of the excursion", self.stages.len(), 0, 12)?;
        let mut before = self.time_s[0];
        for (index, stage) in self.stages.iter().enumerate() {
            finite("begin of a stage in s", stage.from_s)?;
            finite("end of a stage in s", stage.to_s)?;
            if stage.from_s < before || stage.to_s <= stage.from_s {
                return Err(PictureError::Unordered { what: "time of a stage in s", index });
            }
            crate::error::within("end of a stage in s", stage.to_s, before, self.time_s[count - 1])?;
            before = stage.to_s;
        }
        Ok(())
    }

    /// Areas in which the dew point lies above the water, with the crossings on the lines between two times.
    fn wet(&self, place: impl Fn(f64, f64) -> (f64, f64)) -> Vec<Vec<(f64, f64)>> {
        let mut areas = Vec::new();
        let (mut above, mut under) = (Vec::<(f64, f64)>::new(), Vec::<(f64, f64)>::new());
        let mut close = |above: &mut Vec<(f64, f64)>, under: &mut Vec<(f64, f64)>| {
            if above.len() > 1 {
                let mut area = std::mem::take(above);
                area.extend(under.drain(..).rev());
                areas.push(area);
            }
            above.clear();
            under.clear();
        };
        let excess = |i: usize| self.dew_point_c[i] - self.water_c[i];
        for i in 0..self.time_s.len() {
            if i > 0 && (excess(i) > 0.0) != (excess(i - 1) > 0.0) {
                let share = excess(i - 1) / (excess(i - 1) - excess(i));
                let between = |v: &[f64]| v[i - 1] + (v[i] - v[i - 1]) * share;
                let at = place(between(&self.time_s), between(&self.dew_point_c));
                above.push(at);
                under.push(at);
                if excess(i) <= 0.0 {
                    close(&mut above, &mut under);
                }
            }
            if excess(i) > 0.0 {
                above.push(place(self.time_s[i], self.dew_point_c[i]));
                under.push(place(self.time_s[i], self.water_c[i]));
            }
        }
        close(&mut above, &mut under);
        areas
    }
}

/// Letter of a stage.
fn letter(index: usize) -> String {
    char::from(b'a' + index as u8).to_string()
}
