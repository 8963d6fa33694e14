//! What the weather allows a waterside economizer at different loop temperatures.
//!
//! The simulation says what the project's own economizer did. This says, from wet bulbs alone, how many hours of the
//! year the tower could carry a loop without a chiller, and how much of the scheme's cooling, if all of it were made
//! at that water temperature. The tower runs at full fan and at its design water flow; its range is that of the hour's
//! cooling (of the design without a simulated decoupled scheme), and its approach grows as the wet bulb falls (Merkel's
//! law, calibrated at design). The loop comes back as warm as at design.

use drycoil_climate::WeatherYear;
use drycoil_exchange::tower::Tower;
use drycoil_project::Project;
use drycoil_sizing::Design;
use drycoil_units::{Pressure, Temperature, TemperatureDifference};
use serde::Serialize;

/// Ratio of water to dry air of the tower by mass, as in sizing. Common practice, no source.
const WATER_TO_AIR: f64 = 1.2;
/// Exponent of the tower law, as in sizing. Common practice, no source.
const EXPONENT: f64 = 0.6;
/// Coldest tower water, degC: the fans hold it against freezing in the basin.
const COLDEST_C: f64 = 5.0;
/// Distance of the points of the tower's curve, K.
const GRID_K: f64 = 0.5;

/// One loop temperature.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FreeWater {
    /// Which loop.
    pub loop_name: String,
    /// Water supplied to the loop, degC.
    pub supply_c: f64,
    /// Water returning at design, degC.
    pub return_c: f64,
    /// Hours with cooling in which tower water alone makes the supply; all hours when no scheme was simulated.
    pub alone_h: f64,
    /// Hours in which tower water cools the return, but not all the way.
    pub partly_h: f64,
    /// Cooling that it would carry, were all cooling of the decoupled scheme made at this temperature, J; null unless
    /// that scheme was simulated.
    pub carried_j: Option<f64>,
    /// The same as a share of that cooling; null likewise, and when there is no cooling.
    pub carried_share: Option<f64>,
}

/// Ranges of the table over the design range.
const RANGES: [f64; 6] = [0.05, 0.15, 0.3, 0.5, 0.75, 1.0];

/// Tower water at each range and wet bulb, degC, on a grid.
struct Curve {
    first_c: f64,
    water_c: Vec<Vec<f64>>,
}

impl Curve {
    fn new(project: &Project, design: &Design, low_c: f64, high_c: f64) -> Option<Self> {
        let wet = design.conditions.tower.value_c;
        let range_k = project.plant.tower_range.value.to_kelvin();
        let cold = wet + project.plant.tower_approach.value.to_kelvin();
        let p = Pressure::pascals(design.site.pressure_pa);
        let c = Temperature::celsius;
        let tower = Tower::calibrated(c(cold + range_k), c(cold), c(wet), WATER_TO_AIR, p, EXPONENT).ok()?;
        // Below this the tower's law leaves its range of water temperatures, and the fans hold the floor anyway.
        let first_c = low_c.max(-20.0);
        let count = ((high_c - first_c).max(0.0) / GRID_K).ceil() as usize + 1;
        let at = |share: f64, wet_bulb: f64| {
            let range = TemperatureDifference::kelvin(range_k * share);
            match tower.cold_water_for_range(range, c(wet_bulb), WATER_TO_AIR, p) {
                Ok((t, _, _)) => Some(t.to_celsius().max(COLDEST_C)),
                Err(_) if wet_bulb < 0.0 => Some(COLDEST_C),
                Err(_) => None,
            }
        };
        let water_c = RANGES
            .iter()
            .map(|share| (0..=count).map(|i| at(*share, first_c + i as f64 * GRID_K)).collect())
            .collect::<Option<Vec<Vec<f64>>>>()?;
        Some(Self { first_c, water_c })
    }

    fn row(&self, row: usize, wet_bulb_c: f64) -> f64 {
        let water = &self.water_c[row];
        let x = ((wet_bulb_c - self.first_c) / GRID_K).max(0.0);
        let i = (x as usize).min(water.len() - 2);
        let f = (x - i as f64).min(1.0);
        water[i] + f * (water[i + 1] - water[i])
    }

    /// At a range of so much of the design range; outside the table its end holds.
    fn at(&self, wet_bulb_c: f64, share: f64) -> f64 {
        let share = share.clamp(RANGES[0], RANGES[RANGES.len() - 1]);
        let upper = RANGES.iter().position(|r| *r >= share).unwrap_or(RANGES.len() - 1).max(1);
        let f = (share - RANGES[upper - 1]) / (RANGES[upper] - RANGES[upper - 1]);
        let (a, b) = (self.row(upper - 1, wet_bulb_c), self.row(upper, wet_bulb_c));
        a + f * (b - a)
    }
}

/// Free cooling by tower water at the sensible and at the drying water of the design. `cooling_w` is the hourly cooling
/// of the decoupled scheme. Empty when the tower's law cannot be evaluated over the wet bulbs of the year.
pub fn free_water(
    project: &Project,
    design: &Design,
    weather: &WeatherYear,
    cooling_w: Option<&[f64]>,
) -> Vec<FreeWater> {
    let Ok(wet_bulb) = weather.wet_bulb_c() else { return Vec::new() };
    let low = wet_bulb.iter().copied().fold(f64::INFINITY, f64::min);
    let high = wet_bulb.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let Some(curve) = Curve::new(project, design, low, high) else { return Vec::new() };
    let approach = project.plant.economizer_approach.value.to_kelvin();
    let cooling_w = cooling_w.filter(|c| c.len() == wet_bulb.len());
    let reach: Vec<f64> = (0..wet_bulb.len())
        .map(|h| {
            let share = cooling_w.map_or(1.0, |c| c[h] / design.plant.tower_heat_w);
            curve.at(wet_bulb[h], share) + approach
        })
        .collect();
    let cools = |h: usize| cooling_w.is_none_or(|c| c[h] > 0.0);
    let chosen = design.plant.arrangements.iter().find(|a| a.chosen);
    let sensible = design.dew_point.sensible_water_c;
    let sensible_return =
        chosen.map_or(sensible + project.terminals.water_rise.value.to_kelvin(), |a| a.sensible_return_c);
    let unit = &design.primary_unit;
    [
        ("sensible water", sensible, sensible_return),
        ("drying water", unit.drying_water_c, unit.drying_water_leaving_c),
    ]
    .into_iter()
    .map(|(name, supply_c, return_c)| {
        let hours =
            |f: &dyn Fn(f64) -> bool| (0..reach.len()).filter(|h| cools(*h) && f(reach[*h])).count() as f64;
        let share = |t: f64| ((return_c - t) / (return_c - supply_c)).clamp(0.0, 1.0);
        let carried =
            cooling_w.map(|c| c.iter().zip(&reach).fold(0.0, |sum, (w, t)| sum + w * share(*t) * 3600.0));
        let all = cooling_w.map_or(0.0, |c| c.iter().fold(0.0, |sum, w| sum + w * 3600.0));
        FreeWater {
            loop_name: name.to_owned(),
            supply_c,
            return_c,
            alone_h: hours(&|t| t <= supply_c),
            partly_h: hours(&|t| t > supply_c && t < return_c),
            carried_j: carried,
            carried_share: carried.filter(|_| all > 0.0).map(|j| j / all),
        }
    })
    .collect()
}
