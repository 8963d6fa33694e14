//! Counts and means of a weather year: dew-point bands, months, joint bins.

use crate::error::ClimateError;
use crate::year::WeatherYear;
use drycoil_units::{Temperature, TemperatureDifference};

/// Bands of equal width, one of which starts at the origin. The low edge belongs to the band.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bands {
    origin_c: f64,
    width_k: f64,
}

impl Bands {
    /// Bands of a width of 0.1 to 50 K.
    ///
    /// # Errors
    /// [`ClimateError::Setting`] for other widths or an origin that is not finite.
    ///
    /// ```
    /// use drycoil_climate::Bands;
    /// use drycoil_units::{Temperature, TemperatureDifference};
    /// let five_degrees = Bands::new(Temperature::fahrenheit(55.0), TemperatureDifference::fahrenheit(5.0)).unwrap();
    /// let (low, high) = five_degrees.edges(1);
    /// assert!((low.to_fahrenheit() - 60.0).abs() < 1e-9 && (high.to_fahrenheit() - 65.0).abs() < 1e-9);
    /// ```
    pub fn new(origin: Temperature, width: TemperatureDifference) -> Result<Self, ClimateError> {
        let (origin_c, width_k) = (origin.to_celsius(), width.to_kelvin());
        if !(0.1..=50.0).contains(&width_k) {
            return Err(ClimateError::Setting { name: "band width", value: width_k, allowed: "0.1 to 50 K" });
        }
        if !(-100.0..=200.0).contains(&origin_c) {
            return Err(ClimateError::Setting {
                name: "band origin",
                value: origin_c,
                allowed: "-100 to 200 degC",
            });
        }
        Ok(Self { origin_c, width_k })
    }

    /// Number of the band that holds a value; the band that starts at the origin is 0.
    fn index(self, value_c: f64) -> i32 {
        // A millionth of a band keeps decimal edges of the other unit system in their own band.
        ((value_c - self.origin_c) / self.width_k + 1e-6).floor() as i32
    }

    /// Low and high edge of a band.
    pub fn edges(self, index: i32) -> (Temperature, Temperature) {
        let low = self.origin_c + f64::from(index) * self.width_k;
        (Temperature::celsius(low), Temperature::celsius(low + self.width_k))
    }
}

/// Hours with a dew point in one band.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DewPointBand {
    /// Low edge, belongs to the band.
    pub low: Temperature,
    /// High edge, belongs to the next band.
    pub high: Temperature,
    /// Hours.
    pub hours: usize,
}

/// Hours by dew-point band, from the lowest band with an hour to the highest; the hours add to those of the year.
pub fn dew_point_bands(year: &WeatherYear, bands: Bands) -> Vec<DewPointBand> {
    let indices: Vec<i32> = year.dew_point_c().iter().map(|&t| bands.index(t)).collect();
    let (Some(&low), Some(&high)) = (indices.iter().min(), indices.iter().max()) else {
        return Vec::new();
    };
    (low..=high)
        .map(|index| {
            let (low, high) = bands.edges(index);
            DewPointBand { low, high, hours: indices.iter().filter(|&&i| i == index).count() }
        })
        .collect()
}

/// Hours whose dew point is above a limit.
pub fn hours_above_dew_point(year: &WeatherYear, limit: Temperature) -> usize {
    year.dew_point_c().iter().filter(|&&t| t > limit.to_celsius()).count()
}

/// Base temperatures of degree-days.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DegreeDayBases {
    /// Days colder than this count for heating.
    pub heating: Temperature,
    /// Days warmer than this count for cooling.
    pub cooling: Temperature,
}

impl Default for DegreeDayBases {
    /// 65 degF for heating, 50 degF for cooling.
    fn default() -> Self {
        Self { heating: Temperature::fahrenheit(65.0), cooling: Temperature::fahrenheit(50.0) }
    }
}

/// Mean, highest and lowest of a month's hours.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Span {
    /// Mean.
    pub mean: Temperature,
    /// Highest.
    pub high: Temperature,
    /// Lowest.
    pub low: Temperature,
}

/// One month of a weather year.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MonthRow {
    /// 1 to 12.
    pub month: u8,
    /// Hours.
    pub hours: usize,
    /// Dry bulb.
    pub dry_bulb: Span,
    /// Dew point.
    pub dew_point: Span,
    /// Heating degree-days from daily means, K d.
    pub heating_degree_days_k: f64,
    /// Cooling degree-days from daily means, K d.
    pub cooling_degree_days_k: f64,
    /// Global irradiation on the horizontal, kWh/m2.
    pub global_horizontal_kwh_per_m2: f64,
    /// Direct normal irradiation, kWh/m2.
    pub direct_normal_kwh_per_m2: f64,
}

fn span(values: &[f64]) -> Span {
    Span {
        mean: Temperature::celsius(values.iter().sum::<f64>() / values.len() as f64),
        high: Temperature::celsius(values.iter().copied().fold(f64::NEG_INFINITY, f64::max)),
        low: Temperature::celsius(values.iter().copied().fold(f64::INFINITY, f64::min)),
    }
}

/// Table of the twelve months.
pub fn monthly_table(year: &WeatherYear, bases: DegreeDayBases) -> [MonthRow; 12] {
    std::array::from_fn(|i| {
        let month = i as u8 + 1;
        let range = year.calendar().month_hours(month);
        let dry_bulb = &year.dry_bulb_c()[range.clone()];
        let (heating, cooling) = (bases.heating.to_celsius(), bases.cooling.to_celsius());
        let (mut heating_sum, mut cooling_sum) = (0.0, 0.0);
        for day in dry_bulb.chunks_exact(24) {
            let mean = day.iter().sum::<f64>() / 24.0;
            heating_sum += (heating - mean).max(0.0);
            cooling_sum += (mean - cooling).max(0.0);
        }
        let kwh = |values: &[f64]| values.iter().sum::<f64>() / 1000.0;
        MonthRow {
            month,
            hours: range.len(),
            dry_bulb: span(dry_bulb),
            dew_point: span(&year.dew_point_c()[range.clone()]),
            heating_degree_days_k: heating_sum,
            cooling_degree_days_k: cooling_sum,
            global_horizontal_kwh_per_m2: kwh(&year.global_horizontal_w_per_m2()[range.clone()]),
            direct_normal_kwh_per_m2: kwh(&year.direct_normal_w_per_m2()[range]),
        }
    })
}

/// Hours with dry bulb and dew point in one pair of bands, and the means of those hours.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct JointBin {
    /// Low edge of the dry-bulb band.
    pub dry_bulb_low: Temperature,
    /// Low edge of the dew-point band.
    pub dew_point_low: Temperature,
    /// Hours.
    pub hours: usize,
    /// Mean dry bulb, degC.
    pub mean_dry_bulb_c: f64,
    /// Mean humidity ratio, kg/kg dry air.
    pub mean_humidity_ratio: f64,
    /// Mean pressure, Pa.
    pub mean_pressure_pa: f64,
    /// Mean global horizontal irradiance, W/m2.
    pub mean_global_horizontal_w_per_m2: f64,
}

/// Joint bins of dry bulb and dew point over chosen hours (indices below [`WeatherYear::hours`]), for energy methods
/// that work by bins. Only bins with hours are returned, by rising dry bulb and then rising dew point. The mean over all
/// bins, weighted by hours, is the mean of the chosen hours.
///
/// # Errors
/// [`ClimateError::Setting`] for an index past the end of the year.
pub fn joint_bins(
    year: &WeatherYear,
    dry_bulb: Bands,
    dew_point: Bands,
    hours: impl IntoIterator<Item = usize>,
) -> Result<Vec<JointBin>, ClimateError> {
    let mut sums: std::collections::BTreeMap<(i32, i32), (usize, [f64; 4])> =
        std::collections::BTreeMap::new();
    for hour in hours {
        if hour >= year.hours() {
            let allowed = "the hours of the year";
            return Err(ClimateError::Setting { name: "hour", value: hour as f64, allowed });
        }
        let (t, dp) = (year.dry_bulb_c()[hour], year.dew_point_c()[hour]);
        let bin = sums.entry((dry_bulb.index(t), dew_point.index(dp))).or_insert((0, [0.0; 4]));
        bin.0 += 1;
        let values = [
            t,
            year.humidity_ratio()[hour],
            year.pressure_pa()[hour],
            year.global_horizontal_w_per_m2()[hour],
        ];
        for (sum, value) in bin.1.iter_mut().zip(values) {
            *sum += value;
        }
    }
    Ok(sums
        .into_iter()
        .map(|((t, dp), (hours, sum))| {
            let count = hours as f64;
            JointBin {
                dry_bulb_low: dry_bulb.edges(t).0,
                dew_point_low: dew_point.edges(dp).0,
                hours,
                mean_dry_bulb_c: sum[0] / count,
                mean_humidity_ratio: sum[1] / count,
                mean_pressure_pa: sum[2] / count,
                mean_global_horizontal_w_per_m2: sum[3] / count,
            }
        })
        .collect())
}

/// How well global irradiance agrees with direct and diffuse under the sun of the middle of each hour: a check of the
/// time stamps, for a file shifted by half an hour or more does not agree.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SolarClosure {
    /// Hours with global irradiance above 50 W/m2 and the sun more than 10 deg up.
    pub hours: usize,
    /// Mean of `direct cos(zenith) + diffuse - global` over them, W/m2; zero when there are none.
    pub mean_w_per_m2: f64,
    /// Root of the mean square of the same, W/m2.
    pub root_mean_square_w_per_m2: f64,
    /// Hours with global irradiance above 50 W/m2 although the sun stays below the horizon by more than 8 deg.
    pub night_hours_with_sun: usize,
}

/// Compares global irradiance with direct and diffuse.
///
/// # Errors
/// [`ClimateError::Sun`] when the station's coordinates are out of range.
pub fn solar_closure(year: &WeatherYear) -> Result<SolarClosure, ClimateError> {
    let (mut hours, mut sum, mut squares, mut night) = (0usize, 0.0, 0.0, 0usize);
    for (hour, sun) in year.sun_positions()?.iter().enumerate() {
        let global = year.global_horizontal_w_per_m2()[hour];
        let altitude = sun.altitude();
        if global <= 50.0 {
            continue;
        }
        if altitude.to_degrees() > 10.0 {
            let beam = year.direct_normal_w_per_m2()[hour] * altitude.to_radians().sin();
            let difference = beam + year.diffuse_horizontal_w_per_m2()[hour] - global;
            hours += 1;
            sum += difference;
            squares += difference * difference;
        } else if altitude.to_degrees() < -8.0 {
            night += 1;
        }
    }
    let count = hours.max(1) as f64;
    Ok(SolarClosure {
        hours,
        mean_w_per_m2: sum / count,
        root_mean_square_w_per_m2: (squares / count).sqrt(),
        night_hours_with_sun: night,
    })
}
