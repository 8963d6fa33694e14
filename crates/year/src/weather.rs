//! Hourly weather as the steps of the year: air between hour centres, sun on every orientation.
//!
//! Dry bulb, humidity ratio and wet bulb run straight from one hour centre to the next; the year closes on itself, so
//! the first half hour runs from the last one. Irradiance is that of mid-hour, held over the hour.

use crate::prepare::Facing;
use crate::signals::Outdoor;
use drycoil_air::batch;
use drycoil_climate::{ClimateError, WeatherYear};
use drycoil_sun::raw::{PreparedSky, RawPlane, RawSky};
use drycoil_sun::{AngularModifier, SimpleGlass, SkyModel, SolarSplit, SunPosition, extraterrestrial_normal};
use drycoil_units::{Fraction, Quantity};
use rayon::prelude::*;

/// Days at the start of the year that are repeated until rooms come back to themselves: a week, with its days of rest.
pub const WARM_UP_DAYS: usize = 7;

/// Outdoor air of every step.
#[derive(Debug, Clone)]
pub struct StepWeather {
    /// Steps in an hour.
    pub steps_per_hour: usize,
    /// Dry bulb at the end of each step, degC.
    pub end_c: Vec<f64>,
    /// Means over each step.
    pub mean: Vec<Outdoor>,
    /// Mean dry bulb of the year, degC.
    pub mean_dry_bulb_c: f64,
    /// Mean dry bulb of the days that are repeated for the warm-up, degC.
    pub warm_up_c: f64,
    /// Half of the range of the dry bulb, K.
    pub half_range_k: f64,
    /// Largest change of the dry bulb from one step to the next, K.
    pub change_per_step_k: f64,
    /// Largest sum of beam, diffuse and global irradiance of an hour: no orientation gets more, W/m2.
    pub highest_irradiance_w_per_m2: f64,
}

impl StepWeather {
    /// The weather of a year at `pressure_pa` in `steps_per_hour` steps.
    ///
    /// # Errors
    /// An hour without a wet bulb.
    pub fn new(weather: &WeatherYear, pressure_pa: f64, steps_per_hour: usize) -> Result<Self, ClimateError> {
        let t = weather.dry_bulb_c();
        let hours = t.len();
        // The measured dew point at the pressure of the site: air that is saturated at the pressure of the day stays so.
        let w: Vec<f64> = weather
            .dew_point_c()
            .iter()
            .map(|dew_point_c| drycoil_air::raw::humidity_ratio_at_dew_point(*dew_point_c, pressure_pa))
            .collect();
        let w = w.as_slice();
        let mut wet = vec![0.0; hours];
        let pressure = vec![pressure_pa; hours];
        batch::wet_bulb_from_humidity_ratio(t, w, &pressure, &mut wet)
            .map_err(|e| ClimateError::MoistAir { what: "wet bulb", reason: e.to_string() })?;
        for hour in batch::refused(&wet).collect::<Vec<_>>() {
            // A saturated hour is its own wet bulb; its humidity ratio may stand a rounding above saturation.
            let saturated = drycoil_air::raw::saturation_humidity_ratio(t[hour], pressure_pa);
            if (w[hour] / saturated - 1.0).abs() < 1e-6 {
                wet[hour] = t[hour];
                continue;
            }
            return Err(ClimateError::MoistAir {
                what: "wet bulb",
                reason: format!("hour {hour} at {} degC, {} kg/kg has none", t[hour], w[hour]),
            });
        }
        // Value at a time in hours from the start of the year.
        let at = |series: &[f64], time: f64| {
            let x = time - 0.5 + hours as f64;
            let i = x.floor();
            let part = x - i;
            let (a, b) = (series[i as usize % hours], series[(i as usize + 1) % hours]);
            a + part * (b - a)
        };
        let n = steps_per_hour as f64;
        let steps = hours * steps_per_hour;
        let end_c: Vec<f64> = (0..steps).map(|k| at(t, (k as f64 + 1.0) / n)).collect();
        let mean = (0..steps)
            .map(|k| {
                let time = (k as f64 + 0.5) / n;
                Outdoor { t_c: at(t, time), w: at(w, time), wet_bulb_c: at(&wet, time), p_pa: pressure_pa }
            })
            .collect();
        let low = t.iter().fold(f64::INFINITY, |a, b| a.min(*b));
        let high = t.iter().fold(f64::NEG_INFINITY, |a, b| a.max(*b));
        let change = end_c.windows(2).map(|w| (w[1] - w[0]).abs()).fold(0.0, f64::max);
        let sun = weather.direct_normal_w_per_m2().iter().zip(weather.diffuse_horizontal_w_per_m2());
        let brightest =
            sun.zip(weather.global_horizontal_w_per_m2()).map(|((b, d), g)| b + d + g).fold(0.0, f64::max);
        Ok(Self {
            steps_per_hour,
            warm_up_c: t[..24 * WARM_UP_DAYS].iter().sum::<f64>() / (24 * WARM_UP_DAYS) as f64,
            mean_dry_bulb_c: t.iter().sum::<f64>() / hours as f64,
            half_range_k: 0.5 * (high - low),
            change_per_step_k: change.max((end_c[0] - end_c[steps - 1]).abs()),
            highest_irradiance_w_per_m2: brightest,
            end_c,
            mean,
        })
    }
}

/// Sun on one orientation in one hour.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct FacingSun {
    /// On opaque surfaces, W/m2.
    pub opaque: f64,
    /// Through glass: what would pass at normal incidence and gives the same gain, W/m2.
    pub glass: f64,
}

/// What an hour's sky sends, prepared for any orientation. The same relations as [`PreparedSky`], with everything that
/// does not depend on the orientation taken out; a test holds both together.
#[derive(Debug, Clone, Copy, PartialEq)]
struct HourSky {
    /// Direction to the sun: north, east, up.
    sun: [f64; 3],
    beam: f64,
    circumsolar: f64,
    dome: f64,
    horizon: f64,
    ground: f64,
}

/// The skies of a year and the modifier of glass.
#[derive(Debug, Clone)]
pub struct Skies {
    hours: Vec<Option<HourSky>>,
    modifier: Vec<f64>,
    diffuse_modifier: f64,
}

/// Intervals of the table of the modifier, by cosine of incidence.
const MODIFIER_INTERVALS: usize = 2048;

/// An orientation, prepared.
#[derive(Debug, Clone, Copy)]
pub struct FacingPlane {
    normal: [f64; 3],
    horizontal: f64,
    cos_tilt: f64,
    sin_tilt: f64,
    overhang_ratio: f64,
}

impl FacingPlane {
    /// From an orientation.
    pub fn new(facing: &Facing) -> Self {
        let (tilt, azimuth) = (facing.tilt_deg.to_radians(), facing.azimuth_deg.to_radians());
        Self {
            normal: [azimuth.cos(), azimuth.sin(), tilt.cos()],
            horizontal: tilt.sin(),
            cos_tilt: tilt.cos(),
            sin_tilt: tilt.sin(),
            overhang_ratio: facing.overhang_ratio,
        }
    }
}

impl Skies {
    /// The skies of a weather year. All glass has the modifier of the networks of [`drycoil_sizing::network`].
    ///
    /// # Errors
    /// A station whose sun cannot be placed.
    pub fn new(weather: &WeatherYear, ground_reflectance: f64) -> Result<Self, ClimateError> {
        let hours = (0..weather.hours())
            .into_par_iter()
            .map(|h| {
                // Where the sun stands is asked only for hours in which the sky sends something.
                if is_dark(weather, h) {
                    return Ok(None);
                }
                let Some(sun) = weather.sun_position(h)? else { return Ok(None) };
                let day = weather
                    .stamp(h)
                    .and_then(|s| weather.calendar().day_of_year(s.month, s.day))
                    .unwrap_or(1);
                let sky = raw_sky(weather, h, &sun, extraterrestrial_normal(day as u16).si());
                Ok(hour_sky(&sky, ground_reflectance))
            })
            .collect::<Result<_, ClimateError>>()?;
        let glass = unit_glass()?;
        let modifier = (0..=MODIFIER_INTERVALS)
            .map(|i| glass.raw_beam(i as f64 / MODIFIER_INTERVALS as f64).modifier)
            .collect();
        Ok(Self { hours, modifier, diffuse_modifier: glass.diffuse().modifier })
    }

    /// Sun on an orientation in an hour.
    #[inline]
    pub fn on(&self, facing: &FacingPlane, hour: usize) -> FacingSun {
        let Some(s) = &self.hours[hour] else {
            return FacingSun::default();
        };
        let turn = s.sun[0] * facing.normal[0] + s.sun[1] * facing.normal[1];
        let cosine = turn * facing.horizontal + s.sun[2] * facing.normal[2];
        let sunny = cosine.clamp(0.0, 1.0);
        let dome = s.dome * (1.0 + facing.cos_tilt) + s.horizon * facing.sin_tilt;
        let ground = s.ground * (1.0 - facing.cos_tilt);
        // The source's own limit: the horizon term may not make the sky negative.
        let (around, even) =
            if dome + s.circumsolar * sunny > 0.0 { (s.circumsolar, dome + ground) } else { (0.0, ground) };
        let direct = (s.beam + around) * sunny;
        // The overhang starts at the head of the window; its shadow falls by the profile angle.
        let lit = if facing.overhang_ratio > 0.0 && turn > 0.0 {
            (1.0 - facing.overhang_ratio * s.sun[2].max(0.0) / turn).max(0.0)
        } else {
            1.0
        };
        let x = sunny * MODIFIER_INTERVALS as f64;
        let i = (x as usize).min(MODIFIER_INTERVALS - 1);
        let part = x - i as f64;
        let modifier = self.modifier[i] + part * (self.modifier[i + 1] - self.modifier[i]);
        FacingSun { opaque: direct + even, glass: direct * lit * modifier + even * self.diffuse_modifier }
    }
}

/// Glass with a solar heat gain coefficient of one: its gains are the modifiers of all glass.
fn unit_glass() -> Result<SimpleGlass, ClimateError> {
    SimpleGlass::new(
        Fraction::ratio(1.0),
        SolarSplit::ShareOfGain(Fraction::ratio(1.0)),
        AngularModifier::KarlssonRoos { panes: 2, category: 4 },
    )
    .map_err(|e| ClimateError::Sun { reason: e.to_string() })
}

/// As [`PreparedSky::is_dark`].
fn is_dark(weather: &WeatherYear, hour: usize) -> bool {
    weather.direct_normal_w_per_m2()[hour] == 0.0
        && weather.diffuse_horizontal_w_per_m2()[hour] == 0.0
        && weather.global_horizontal_w_per_m2()[hour] == 0.0
}

fn raw_sky(weather: &WeatherYear, hour: usize, sun: &SunPosition, extraterrestrial: f64) -> RawSky {
    RawSky {
        zenith_deg: sun.zenith.to_degrees(),
        azimuth_deg: sun.azimuth.to_degrees(),
        direct_normal_w_per_m2: weather.direct_normal_w_per_m2()[hour],
        diffuse_horizontal_w_per_m2: weather.diffuse_horizontal_w_per_m2()[hour],
        global_horizontal_w_per_m2: weather.global_horizontal_w_per_m2()[hour],
        extraterrestrial_normal_w_per_m2: extraterrestrial,
    }
}

fn hour_sky(sky: &RawSky, ground_reflectance: f64) -> Option<HourSky> {
    let prepared = PreparedSky::new(SkyModel::Perez, sky);
    if prepared.is_dark() {
        return None;
    }
    let (zenith, azimuth) = (sky.zenith_deg.to_radians(), sky.azimuth_deg.to_radians());
    let up = sky.zenith_deg < 90.0;
    let diffuse = sky.diffuse_horizontal_w_per_m2;
    let level = prepared.on(&RawPlane::new(0.0, 0.0), ground_reflectance);
    let (circumsolar, horizon) = level.perez.map_or((0.0, 0.0), |p| {
        (diffuse * p.circumsolar / zenith.cos().max(85f64.to_radians().cos()), diffuse * p.horizon)
    });
    Some(HourSky {
        sun: [zenith.sin() * azimuth.cos(), zenith.sin() * azimuth.sin(), zenith.cos()],
        beam: if up { sky.direct_normal_w_per_m2 } else { 0.0 },
        circumsolar,
        dome: 0.5 * level.perez.map_or(level.dome.si(), |p| diffuse * (1.0 - p.circumsolar)),
        horizon,
        ground: 0.5 * ground_reflectance * sky.global_horizontal_w_per_m2,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use drycoil_sun::raw::raw_tilted_irradiance;

    /// Against the relations of the crate `sun`, part by part, on 40 orientations under 600 skies: opaque 1e-9 of the
    /// brightest, glass 1e-4 (the table of the modifier has 2048 intervals; its error is largest near 90 degrees, where the
    /// modifier falls steeply).
    #[test]
    fn xchk_sun_on_any_orientation() {
        let glass = unit_glass().unwrap();
        let table = |sky: Option<HourSky>| Skies {
            hours: vec![sky],
            modifier: (0..=MODIFIER_INTERVALS)
                .map(|i| glass.raw_beam(i as f64 / MODIFIER_INTERVALS as f64).modifier)
                .collect(),
            diffuse_modifier: glass.diffuse().modifier,
        };
        let mut seed = 5_u64;
        let mut between = |low: f64, high: f64| {
            seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            low + (high - low) * ((seed >> 11) as f64 / (1_u64 << 53) as f64)
        };
        for _ in 0..600 {
            let zenith_deg = between(0.0, 95.0);
            let beam = between(0.0, 950.0);
            let diffuse = between(0.0, 350.0);
            let sky = RawSky {
                zenith_deg,
                azimuth_deg: between(0.0, 360.0),
                direct_normal_w_per_m2: beam,
                diffuse_horizontal_w_per_m2: diffuse,
                global_horizontal_w_per_m2: diffuse + beam * zenith_deg.to_radians().cos().max(0.0),
                extraterrestrial_normal_w_per_m2: 1367.0,
            };
            let skies = table(hour_sky(&sky, 0.2));
            for _ in 0..40 {
                let facing = Facing {
                    tilt_deg: [0.0, 90.0, between(0.0, 180.0)][between(0.0, 3.0) as usize],
                    azimuth_deg: between(0.0, 360.0),
                    overhang_ratio: 0.0,
                };
                let t =
                    raw_tilted_irradiance(SkyModel::Perez, facing.tilt_deg, facing.azimuth_deg, &sky, 0.2);
                let found = skies.on(&FacingPlane::new(&facing), 0);
                assert!((found.opaque - t.total().si()).abs() < 1e-6, "{found:?} {t:?}");
                let direct = t.beam.si() + t.circumsolar.si();
                let even = t.dome.si() + t.horizon.si() + t.ground.si();
                let glazed =
                    direct * glass.raw_beam(t.cos_incidence).modifier + even * glass.diffuse().modifier;
                assert!(
                    (found.glass - glazed).abs() < 0.1,
                    "{} {glazed} at {}",
                    found.glass,
                    t.cos_incidence
                );
            }
        }
    }
}
