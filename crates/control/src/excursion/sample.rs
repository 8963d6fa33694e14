//! Robustness of one case: errors of sensors, settings of the sequence and what is not known are drawn by the thousand.
//!
//! A sample ends at the whole hour after which everything has been at rest for an hour since the end of the cause, or with
//! its case. Draws are a Latin hypercube that belongs to the seed and the number of samples alone, so that any count of threads
//! gives the same bits. Every sample begins at the state in which the building stands without errors.

use super::building::{Building, Physics};
use super::case::Case;
use super::lag::uniform;
use super::result::CaseRunError;
use super::simulate::{Controls, Ready, SensorErrors, Settings, ready, run};
use drycoil_sequence::{Machine, Parameters, Setup};
use drycoil_units::{TemperatureDifference, Time};
use rayon::prelude::*;
use serde::Serialize;

/// What kind of thing varies.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum VariedKind {
    /// A lasting error of sensors.
    SensorError,
    /// A setting of the sequence.
    Setting,
    /// Something that is not known.
    Unknown,
}

/// An input that varies, evenly between two values.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Varied {
    /// Name.
    pub name: &'static str,
    /// Kind.
    pub kind: VariedKind,
    /// Unit.
    pub unit: &'static str,
    /// Value as designed or assumed.
    pub nominal: f64,
    /// Least.
    pub low: f64,
    /// Most.
    pub high: f64,
}

/// How much an input matters.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ExcursionInfluence {
    /// The input.
    #[serde(flatten)]
    pub input: Varied,
    /// Rank correlation with the output.
    pub rank_correlation: f64,
    /// Part of the variance of the output's rank that this input explains by itself (ten classes, corrected for their
    /// number, so that it may stand a little below 0).
    pub variance_share: f64,
    /// Part of the samples that drip in the lowest third of the input.
    pub dripping_low_third: f64,
    /// In the highest third.
    pub dripping_high_third: f64,
    /// Mean water that forms in the lowest third, kg.
    pub condensate_low_third_kg: f64,
    /// In the highest third, kg.
    pub condensate_high_third_kg: f64,
}

/// A setting that the samples recommend, with the evidence.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct RecommendedSetting {
    /// Setting.
    pub name: String,
    /// Unit.
    pub unit: String,
    /// As designed.
    pub now: f64,
    /// Recommended.
    pub recommended: f64,
    /// Mean water that forms in the better third of the samples less that in the other, kg.
    pub condensate_difference_kg: f64,
    /// Standard error of that difference, kg.
    pub standard_error_kg: f64,
}

/// Samples run again with other settings, all else equal.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Trial {
    /// Samples.
    pub samples: usize,
    /// Part that drips with the settings as designed.
    pub dripping_now: f64,
    /// With those recommended.
    pub dripping_recommended: f64,
    /// Mean water that forms, kg, as designed.
    pub condensate_now_kg: f64,
    /// With those recommended.
    pub condensate_recommended_kg: f64,
    /// Mean cooling by all coils, J, as designed.
    pub cooling_now_j: f64,
    /// With those recommended.
    pub cooling_recommended_j: f64,
}

/// What the samples of a case show.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Robustness {
    /// Case.
    pub case: String,
    /// Samples.
    pub samples: usize,
    /// Seed.
    pub seed: u64,
    /// Part of the samples in which water drips.
    pub dripping: f64,
    /// Bounds of that probability, 95 % (Wilson).
    pub dripping_between: [f64; 2],
    /// Part of the samples in which water forms at all.
    pub wet: f64,
    /// Water that forms in half, 90 % and 99 % of the samples at most, kg.
    pub condensate_quantiles_kg: [f64; 3],
    /// Smallest dew-point margin in half, 10 % and 1 % of the samples, K.
    pub margin_quantiles_k: [f64; 3],
    /// Output by which inputs are judged: `condensate`, or `margin` where too few samples get wet.
    pub judged_by: &'static str,
    /// Inputs, the one that matters most first.
    pub influences: Vec<ExcursionInfluence>,
    /// Settings that the samples recommend; empty where none makes a difference of two standard errors.
    pub recommended: Vec<RecommendedSetting>,
    /// The recommended settings tried on the same draws; null without.
    pub trial: Option<Trial>,
}

/// What varies for a building, and between which values. Bounds are common practice, no source; 3 % of relative
/// humidity is about 0.9 K of dew point.
pub fn varied(b: &Building) -> Vec<Varied> {
    use VariedKind::{SensorError, Setting, Unknown};
    let p = b.setup.parameters();
    let ph = &b.physics;
    let si = |t: TemperatureDifference| t.to_kelvin();
    let shut = si(p.shut_margin);
    let water = p.water_design.to_celsius();
    // As far as the stages keep their order.
    let room = [
        water - p.room_limit.to_celsius() - si(p.more_air_rise) - shut,
        si(p.water_offset) - si(p.shut_hysteresis) - shut,
        water - si(p.shut_hysteresis) - p.drying_limit.to_celsius() - shut,
        0.5,
    ]
    .into_iter()
    .fold(f64::INFINITY, f64::min)
    .max(0.0);
    let v = |name, kind, unit, nominal, low, high| Varied { name, kind, unit, nominal, low, high };
    vec![
        v("error of all room dew-point sensors", SensorError, "K", 0.0, -0.9, 0.9),
        v("error of the primary dew-point sensors", SensorError, "K", 0.0, -0.6, 0.6),
        v("error of the water sensor", SensorError, "K", 0.0, -0.3, 0.3),
        v("lag of room dew-point sensors", SensorError, "s", ph.dew_point_lag_s, 15.0, 300.0),
        v("shut_margin", Setting, "K", shut, (shut - 0.5).max(-1.5), shut + room),
        v("shut_delay", Setting, "s", p.shut_delay.to_seconds(), 0.0, 120.0),
        v("more_air_delay", Setting, "s", p.more_air_delay.to_seconds(), 0.0, 600.0),
        v("guard_margin", Setting, "K", si(p.guard_margin), 0.3, 2.5),
        v("primary_wet_delay", Setting, "s", p.primary_wet_delay.to_seconds(), 10.0, 300.0),
        v("travel time of coil valves", Unknown, "s", ph.valve_travel_s, 20.0, 180.0),
        v("water that a coil holds", Unknown, "kg/m2", ph.hold_kg_per_m2, 0.02, 0.1),
        v("severity of the upset", Unknown, "1", 1.0, 0.7, 1.3),
    ]
}

/// Draws: `[sample][input]`.
fn draws(inputs: &[Varied], samples: usize, seed: u64) -> Vec<Vec<f64>> {
    let mut out = vec![vec![0.0; inputs.len()]; samples];
    for (j, input) in inputs.iter().enumerate() {
        let mut order: Vec<usize> = (0..samples).collect();
        let key = |i: usize| uniform(seed, 7_000 + j as u64, i as u64);
        order.sort_by(|a, b| key(*a).total_cmp(&key(*b)).then(a.cmp(b)));
        for (place, sample) in order.into_iter().enumerate() {
            let within = uniform(seed, 9_000 + j as u64, sample as u64);
            let share = (place as f64 + within) / samples as f64;
            out[sample][j] = input.low + share * (input.high - input.low);
        }
    }
    out
}

#[derive(Debug, Clone, Copy)]
struct Drawn {
    condensate_kg: f64,
    dripped_kg: f64,
    margin_k: f64,
    cooling_j: f64,
}

/// Samples end when everything has been at rest for this long after the cause, s.
const REST_S: f64 = 3600.0;

fn one(
    b: &Building,
    start: &Ready,
    case: &Case,
    values: &[f64],
    seed: u64,
    stop: Option<f64>,
) -> Result<Drawn, CaseRunError> {
    let [
        zone_k,
        primary_k,
        water_k,
        lag,
        shut,
        shut_delay,
        air_delay,
        guard,
        wet_delay,
        travel,
        hold,
        severity,
    ] = *values
    else {
        unreachable!("as many values as `varied` lists")
    };
    let k = TemperatureDifference::kelvin;
    let parameters = Parameters {
        shut_margin: k(shut),
        shut_delay: Time::seconds(shut_delay),
        more_air_delay: Time::seconds(air_delay),
        guard_margin: k(guard),
        primary_wet_delay: Time::seconds(wet_delay),
        ..b.setup.parameters().clone()
    };
    let setup = Setup::new(parameters, b.setup.zones().to_vec()).map_err(CaseRunError::Setup)?;
    let machine = Machine::new(&b.declaration, &setup).map_err(CaseRunError::Machine)?;
    let settings = Settings {
        physics: Physics {
            dew_point_lag_s: lag,
            valve_travel_s: travel,
            hold_kg_per_m2: hold,
            // The switch sits where it sits, whatever the surface holds.
            wet_switch_kg_per_m2: b.physics.wet_switch_kg_per_m2,
            ..b.physics
        },
        errors: SensorErrors { zone_k: 0.3, all_zones_k: zone_k, primary_k, water_k },
        severity,
        seed,
        stop_after_rest_s: stop,
        ..Settings::of(b, Controls::Sequence)
    };
    let run = run(b, start, case, &settings, Some(&machine)).map_err(CaseRunError::Run)?;
    let films = || run.zones.iter().flat_map(|z| &z.films);
    Ok(Drawn {
        condensate_kg: films().map(|f| f.formed_kg).sum(),
        dripped_kg: films().map(|f| f.dripped_kg).sum(),
        margin_k: run.zones.iter().filter_map(|z| z.smallest_margin_k).fold(f64::INFINITY, f64::min),
        cooling_j: run.zones.iter().map(|z| z.cooling_j).sum(),
    })
}

fn quantile(values: &[f64], share: f64) -> f64 {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    sorted[((sorted.len() - 1) as f64 * share).round() as usize]
}

/// Ranks from 1, equal values share theirs.
fn ranks(values: &[f64]) -> Vec<f64> {
    let mut order: Vec<usize> = (0..values.len()).collect();
    order.sort_by(|a, b| values[*a].total_cmp(&values[*b]).then(a.cmp(b)));
    let mut out = vec![0.0; values.len()];
    let mut i = 0;
    while i < order.len() {
        let mut j = i;
        while j + 1 < order.len() && values[order[j + 1]] == values[order[i]] {
            j += 1;
        }
        for place in &order[i..=j] {
            out[*place] = 0.5 * (i + j) as f64 + 1.0;
        }
        i = j + 1;
    }
    out
}

fn mean(values: impl Iterator<Item = f64>) -> f64 {
    let (sum, n) = values.fold((0.0, 0.0), |(s, n), v| (s + v, n + 1.0));
    if n > 0.0 { sum / n } else { 0.0 }
}

fn correlation(a: &[f64], b: &[f64]) -> f64 {
    let (ma, mb) = (mean(a.iter().copied()), mean(b.iter().copied()));
    let product: f64 = a.iter().zip(b).map(|(x, y)| (x - ma) * (y - mb)).sum();
    let size = |v: &[f64], m: f64| v.iter().map(|x| (x - m).powi(2)).sum::<f64>().sqrt();
    let both = size(a, ma) * size(b, mb);
    if both > 0.0 { product / both } else { 0.0 }
}

/// Part of the variance of `y` that classes of `x` explain, corrected for their number.
fn share(x: &[f64], y: &[f64]) -> f64 {
    const CLASSES: usize = 10;
    let n = x.len();
    let places = ranks(x);
    let m = mean(y.iter().copied());
    let all: f64 = y.iter().map(|v| (v - m).powi(2)).sum();
    if all == 0.0 || n <= CLASSES {
        return 0.0;
    }
    let mut between = 0.0;
    for class in 0..CLASSES {
        let inside: Vec<f64> = (0..n)
            .filter(|i| ((places[*i] - 1.0) / n as f64 * CLASSES as f64) as usize == class)
            .map(|i| y[i])
            .collect();
        between += inside.len() as f64 * (mean(inside.iter().copied()) - m).powi(2);
    }
    let within = (all - between) / (n - CLASSES) as f64;
    (between - (CLASSES - 1) as f64 * within) / all
}

/// Bounds of a probability, 95 % (Wilson's score interval).
fn wilson(hits: f64, n: f64) -> [f64; 2] {
    let z = 1.959_964;
    let p = hits / n;
    let middle = p + z * z / (2.0 * n);
    let half = z * (p * (1.0 - p) / n + z * z / (4.0 * n * n)).sqrt();
    let by = 1.0 + z * z / n;
    [((middle - half) / by).max(0.0), ((middle + half) / by).min(1.0)]
}

/// Draws `samples` (30 to 100 000) of a case and runs them on the threads of the pool.
///
/// # Errors
/// [`CaseRunError`].
pub fn robustness(
    b: &Building,
    case: &Case,
    samples: usize,
    seed: u64,
    pool: &rayon::ThreadPool,
) -> Result<Robustness, CaseRunError> {
    if !(30..=100_000).contains(&samples) {
        return Err(CaseRunError::Samples(samples));
    }
    let start = ready(b, case).map_err(CaseRunError::Run)?;
    let inputs = varied(b);
    let drawn = draws(&inputs, samples, seed);
    let all = |drawn: &[Vec<f64>], stop: Option<f64>| -> Result<Vec<Drawn>, CaseRunError> {
        pool.install(|| {
            drawn
                .par_iter()
                .enumerate()
                .map(|(i, values)| one(b, &start, case, values, seed.wrapping_add(i as u64), stop))
                .collect::<Vec<_>>()
        })
        .into_iter()
        .collect()
    };
    let found = all(&drawn, Some(REST_S))?;
    let n = samples as f64;
    let part = |list: &[Drawn], f: &dyn Fn(&Drawn) -> bool| {
        list.iter().filter(|d| f(d)).count() as f64 / list.len() as f64
    };
    let drips = |d: &Drawn| d.dripped_kg > 0.0;
    let wet = part(&found, &|d| d.condensate_kg > 1e-6);
    let condensate: Vec<f64> = found.iter().map(|d| d.condensate_kg).collect();
    let margins: Vec<f64> = found.iter().map(|d| d.margin_k).collect();
    let (judged_by, output) = if wet >= 0.1 {
        ("condensate", condensate.clone())
    } else {
        ("margin", margins.iter().map(|m| -m).collect())
    };
    let y = ranks(&output);
    let mut influences = Vec::new();
    let mut recommended = Vec::new();
    for (j, input) in inputs.iter().enumerate() {
        let x: Vec<f64> = drawn.iter().map(|v| v[j]).collect();
        let third = (input.high - input.low) / 3.0;
        let low: Vec<Drawn> = (0..samples).filter(|i| x[*i] < input.low + third).map(|i| found[i]).collect();
        let high: Vec<Drawn> =
            (0..samples).filter(|i| x[*i] >= input.high - third).map(|i| found[i]).collect();
        let water = |list: &[Drawn]| mean(list.iter().map(|d| d.condensate_kg));
        let error = |list: &[Drawn]| {
            let m = water(list);
            let n = list.len() as f64;
            list.iter().map(|d| (d.condensate_kg - m).powi(2)).sum::<f64>() / (n * (n - 1.0)).max(1.0)
        };
        if low.is_empty() || high.is_empty() || third == 0.0 {
            continue;
        }
        let difference = water(&high) - water(&low);
        let standard = (error(&low) + error(&high)).sqrt();
        if input.kind == VariedKind::Setting && difference.abs() > 2.0 * standard {
            let better = if difference < 0.0 { input.high - 0.5 * third } else { input.low + 0.5 * third };
            // A setting that already lies on the better side stays.
            let gains = if difference < 0.0 { better > input.nominal } else { better < input.nominal };
            if gains {
                recommended.push(RecommendedSetting {
                    name: input.name.to_owned(),
                    unit: input.unit.to_owned(),
                    now: input.nominal,
                    recommended: better,
                    condensate_difference_kg: -difference.abs(),
                    standard_error_kg: standard,
                });
            }
        }
        influences.push(ExcursionInfluence {
            input: *input,
            rank_correlation: correlation(&ranks(&x), &y),
            variance_share: share(&x, &y),
            dripping_low_third: part(&low, &drips),
            dripping_high_third: part(&high, &drips),
            condensate_low_third_kg: water(&low),
            condensate_high_third_kg: water(&high),
        });
    }
    influences.sort_by(|a, b| b.variance_share.total_cmp(&a.variance_share));
    let trial = if recommended.is_empty() {
        None
    } else {
        let count = (samples / 4).max(30).min(samples);
        let with = |value: &dyn Fn(usize, f64) -> f64| -> Vec<Vec<f64>> {
            drawn[..count].iter().map(|v| v.iter().enumerate().map(|(j, x)| value(j, *x)).collect()).collect()
        };
        let designed =
            with(&|j, x| if inputs[j].kind == VariedKind::Setting { inputs[j].nominal } else { x });
        let better = with(&|j, x| {
            let input = &inputs[j];
            match recommended.iter().find(|r| r.name == input.name) {
                Some(r) => r.recommended,
                None if input.kind == VariedKind::Setting => input.nominal,
                None => x,
            }
        });
        // Cooling is compared over the whole case.
        let (now, then) = (all(&designed, None)?, all(&better, None)?);
        Some(Trial {
            samples: count,
            dripping_now: part(&now, &drips),
            dripping_recommended: part(&then, &drips),
            condensate_now_kg: mean(now.iter().map(|d| d.condensate_kg)),
            condensate_recommended_kg: mean(then.iter().map(|d| d.condensate_kg)),
            cooling_now_j: mean(now.iter().map(|d| d.cooling_j)),
            cooling_recommended_j: mean(then.iter().map(|d| d.cooling_j)),
        })
    };
    let hits = found.iter().filter(|d| drips(d)).count() as f64;
    Ok(Robustness {
        case: case.name.clone(),
        samples,
        seed,
        dripping: hits / n,
        dripping_between: wilson(hits, n),
        wet,
        condensate_quantiles_kg: [0.5, 0.9, 0.99].map(|q| quantile(&condensate, q)),
        margin_quantiles_k: [0.5, 0.1, 0.01].map(|q| quantile(&margins, q)),
        judged_by,
        influences,
        recommended,
        trial,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn phys_draws_fill_every_class_once() {
        let input =
            Varied { name: "x", kind: VariedKind::Unknown, unit: "1", nominal: 0.5, low: 0.0, high: 1.0 };
        let drawn = draws(&[input, input], 200, 5);
        for j in 0..2 {
            let mut seen = [0; 200];
            for v in &drawn {
                seen[(v[j] * 200.0) as usize] += 1;
            }
            assert!(seen.iter().all(|c| *c == 1));
        }
        // Two inputs are drawn apart.
        let column = |j: usize| drawn.iter().map(|v| v[j]).collect::<Vec<_>>();
        assert!(correlation(&column(0), &column(1)).abs() < 0.2);
    }

    /// 5 of 100: 2.2 % to 11.2 % (Wilson's interval, from memory; three digits).
    #[test]
    fn val_wilson_interval() {
        let [low, high] = wilson(5.0, 100.0);
        assert!((low - 0.0215).abs() < 2e-4 && (high - 0.1118).abs() < 2e-4, "{low} {high}");
        assert_eq!(wilson(0.0, 100.0)[0], 0.0);
    }

    /// An output that is one input alone has all its variance in it (ten classes leave 1 %), another none of it.
    #[test]
    fn phys_variance_goes_to_the_input_that_makes_it() {
        let x: Vec<f64> = (0..1000).map(|i| uniform(1, 1, i)).collect();
        let z: Vec<f64> = (0..1000).map(|i| uniform(1, 2, i)).collect();
        let y = ranks(&x.iter().map(|x| (x - 0.5).powi(2)).collect::<Vec<_>>());
        assert!(share(&x, &y) > 0.9, "{}", share(&x, &y));
        assert!(share(&z, &y).abs() < 0.03);
        assert_eq!(ranks(&[3.0, 1.0, 3.0]), [2.5, 1.0, 2.5]);
    }
}
