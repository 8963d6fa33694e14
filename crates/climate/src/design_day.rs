//! Design days of 24 hours.

use crate::conditions::{
    AnnualPercentile, DesignConditions, HeatingPercentile, MonthlyPercentile, OpticalDepths, Origin,
};
use crate::error::ClimateError;
use crate::year::WeatherYear;
use drycoil_air::raw as air;
use drycoil_sun::{ClearSkyCoefficients, SunPosition, extraterrestrial_normal};
use drycoil_units::{HeatFlux, HumidityRatio, Pressure, Quantity, Temperature, TemperatureDifference};

/// Share of the daily range below the day's highest dry bulb, at clock hours 1 to 24 of local standard time.
///
/// ASHRAE Fundamentals (2009 and later) ch. 14, table of fractions of the daily temperature range (from memory).
pub const DAILY_RANGE_FRACTIONS: [f64; 24] = [
    0.88, 0.92, 0.95, 0.98, 1.00, 0.98, 0.91, 0.74, 0.55, 0.38, 0.23, 0.13, 0.05, 0.00, 0.00, 0.06, 0.14,
    0.24, 0.39, 0.50, 0.59, 0.68, 0.75, 0.82,
];

/// Day of the month for which the sun is taken.
pub const DESIGN_DAY_OF_MONTH: u8 = 21;

/// Number of days that make up a month's clearest sky.
const CLEAREST_DAYS: usize = 3;

/// Which day is wanted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum DesignDayKind {
    /// Hot and sunny: a month's design dry bulb and coincident wet bulb.
    Cooling {
        /// 1 to 12.
        month: u8,
    },
    /// Humid: the yearly design dew point, in the month with the most moisture.
    Dehumidification,
    /// Cold, without sun: the yearly heating dry bulb, in the coldest month.
    Heating,
}

/// How extreme the days are, and which printing of the clear sky belongs to the entered optical depths.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DesignDayOptions {
    /// For the cooling days.
    pub cooling: MonthlyPercentile,
    /// For the dehumidification day.
    pub dehumidification: AnnualPercentile,
    /// For the heating day.
    pub heating: HeatingPercentile,
    /// Edition of the tau clear sky; used in months whose optical depths are entered.
    pub clear_sky: ClearSkyCoefficients,
}

impl Default for DesignDayOptions {
    /// 0.4 % cooling, 0.4 % dehumidification, 99.6 % heating, exponents of 2013 and later.
    fn default() -> Self {
        Self {
            cooling: MonthlyPercentile::P0_4,
            dehumidification: AnnualPercentile::P0_4,
            heating: HeatingPercentile::P99_6,
            clear_sky: ClearSkyCoefficients::Ashrae2013,
        }
    }
}

/// Where the sun of a design day comes from.
#[derive(Debug, Clone, PartialEq)]
pub enum SkySource {
    /// The tau clear sky with entered optical depths.
    TauClearSky {
        /// Edition of the exponents.
        coefficients: ClearSkyCoefficients,
        /// The month's optical depths.
        depths: OpticalDepths,
    },
    /// Hour by hour the mean of the month's clearest days: those with the highest daily sum of direct normal irradiance.
    ClearestDays {
        /// Days of the month, in order of the sum.
        days_of_month: Vec<u8>,
    },
    /// No sun at all.
    NoSun,
}

/// One hour of a design day: the interval from `hour` to `hour + 1`, local standard time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DesignHour {
    /// Start of the interval, 0 to 23.
    pub hour: u8,
    /// Dry bulb.
    pub dry_bulb: Temperature,
    /// Humidity ratio.
    pub humidity_ratio: HumidityRatio,
    /// Dew point.
    pub dew_point: Temperature,
    /// Wet bulb.
    pub wet_bulb: Temperature,
    /// Whether the day's moisture fits into air of this dry bulb.
    pub moisture: HourMoisture,
    /// Sun in the middle of the interval.
    pub sun: SunPosition,
    /// Beam on a plane that faces the sun.
    pub direct_normal: HeatFlux,
    /// Diffuse on the horizontal.
    pub diffuse_horizontal: HeatFlux,
    /// Beam and diffuse on the horizontal.
    pub global_horizontal: HeatFlux,
    /// Above the atmosphere, on a plane that faces the sun.
    pub extraterrestrial_normal: HeatFlux,
}

/// Whether an hour holds the day's moisture.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum HourMoisture {
    /// The humidity ratio of the day.
    AsDay,
    /// The hour is too cold for it: the air is saturated and holds less.
    Saturated,
}

/// A day of 24 hours for sizing.
#[derive(Debug, Clone, PartialEq)]
pub struct DesignDay {
    /// Which day it is.
    pub kind: DesignDayKind,
    /// Month, 1 to 12.
    pub month: u8,
    /// Day of the year of the sun, from 1.
    pub day_of_year: u16,
    /// Share of the hours in which the design quantity is exceeded, percent.
    pub exceeded_percent: f64,
    /// Whether the design quantity was entered or derived.
    pub origin: Origin,
    /// Highest dry bulb.
    pub highest_dry_bulb: Temperature,
    /// Highest minus lowest dry bulb of the profile at clock hours.
    pub daily_range: TemperatureDifference,
    /// Mean daily range of the month; the profile's range is less on the dehumidification day where the dew point
    /// leaves less room, and zero on the heating day.
    pub month_daily_range: TemperatureDifference,
    /// Moisture of the day.
    pub humidity_ratio: HumidityRatio,
    /// Station pressure.
    pub pressure: Pressure,
    /// Where the sun comes from.
    pub sky: SkySource,
    /// The hours.
    pub hours: [DesignHour; 24],
}

impl DesignDay {
    /// Hours in which the air is too cold for the day's moisture and holds less.
    pub fn saturated_hours(&self) -> usize {
        self.hours.iter().filter(|h| h.moisture == HourMoisture::Saturated).count()
    }
}

/// Mean share of the daily range over the interval from `hour` to `hour + 1`: the mean of its two clock hours.
fn interval_fraction(hour: usize) -> f64 {
    let start = DAILY_RANGE_FRACTIONS[(hour + 23) % 24];
    0.5 * (start + DAILY_RANGE_FRACTIONS[hour])
}

/// What an hour gets from the sky: beam normal, diffuse horizontal.
type Sun24 = [(f64, f64); 24];

fn clearest_days(
    year: &WeatherYear,
    month: u8,
    positions: &[SunPosition; 24],
) -> Result<(SkySource, Sun24), ClimateError> {
    let hours = year.calendar().month_hours(month);
    let beam = &year.direct_normal_w_per_m2()[hours.clone()];
    let diffuse = &year.diffuse_horizontal_w_per_m2()[hours];
    let mut sums: Vec<(usize, f64)> =
        beam.chunks_exact(24).map(|day| day.iter().sum::<f64>()).enumerate().collect();
    sums.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
    let high_sun = positions.iter().any(|p| p.altitude().to_degrees() > 5.0);
    if high_sun && sums[0].1 <= 0.0 {
        return Err(ClimateError::NoSuchDay { what: "day with direct sun", month });
    }
    sums.truncate(CLEAREST_DAYS);
    let mean = |series: &[f64], hour: usize| {
        sums.iter().map(|(day, _)| series[day * 24 + hour]).sum::<f64>() / sums.len() as f64
    };
    let sun = std::array::from_fn(|hour| (mean(beam, hour), mean(diffuse, hour)));
    let days_of_month = sums.iter().map(|(day, _)| *day as u8 + 1).collect();
    Ok((SkySource::ClearestDays { days_of_month }, sun))
}

fn tau_sky(
    coefficients: ClearSkyCoefficients,
    depths: OpticalDepths,
    day_of_year: u16,
    positions: &[SunPosition; 24],
) -> Result<(SkySource, Sun24), ClimateError> {
    let mut sun = [(0.0, 0.0); 24];
    for (hour, position) in positions.iter().enumerate() {
        let sky = coefficients
            .irradiance(
                depths.beam,
                depths.diffuse,
                position.altitude(),
                extraterrestrial_normal(day_of_year),
            )
            .map_err(|e| ClimateError::Sun { reason: e.to_string() })?;
        sun[hour] = (sky.beam_normal.si(), sky.diffuse_horizontal.si());
    }
    Ok((SkySource::TauClearSky { coefficients, depths }, sun))
}

/// Makes a design day.
///
/// - Cooling: highest dry bulb, coincident wet bulb and mean daily range of the month.
/// - Dehumidification: moisture of the design dew point all day; highest dry bulb the mean coincident one. The night
///   cannot cool below that dew point without losing moisture, so the daily range is the month's mean, or the distance
///   from dry bulb to dew point where that is less.
/// - Heating: constant dry bulb, no sun (common practice, no source).
///
/// The interval from `h` to `h + 1` takes the mean of [`DAILY_RANGE_FRACTIONS`] at its two clock hours, so the
/// highest dry bulb stands from 14:00 to 15:00. Moisture is constant; an hour too cold to hold
/// it is saturated and holds less, which is counted ([`DesignDay::saturated_hours`]). The sky is clear by the tau model
/// when the month's optical depths are entered, else by the year's own clearest days of the month. The sun stands as on
/// the 21st, in the middle of each interval; an interval whose middle lies in the night gets no beam on the horizontal.
///
/// # Errors
/// [`ClimateError::Setting`] for a month outside 1 to 12, [`ClimateError::NoSuchDay`] when the year holds no direct sun
/// in the month, [`ClimateError::Sun`] and [`ClimateError::MoistAir`] for impossible input.
pub fn design_day(
    kind: DesignDayKind,
    conditions: &DesignConditions,
    year: &WeatherYear,
    options: &DesignDayOptions,
) -> Result<DesignDay, ClimateError> {
    let month = match kind {
        DesignDayKind::Cooling { month } => month,
        DesignDayKind::Dehumidification => conditions.most_humid_month,
        DesignDayKind::Heating => conditions.coldest_month,
    };
    let of_month = conditions.month(month).ok_or(ClimateError::Setting {
        name: "month",
        value: f64::from(month),
        allowed: "1 to 12",
    })?;
    let pressure_pa = conditions.pressure.value.to_pascals();
    let month_range_k = of_month.mean_daily_range.value.to_kelvin();
    let (highest_c, range_k, w_day, exceeded_percent, origin) = match kind {
        DesignDayKind::Cooling { .. } => {
            let c = of_month.dry_bulb[options.cooling as usize];
            let highest = c.dry_bulb.value.to_celsius();
            (highest, month_range_k, c.humidity_ratio.si(), c.exceeded_percent, c.dry_bulb.origin)
        }
        DesignDayKind::Dehumidification => {
            let c = conditions.dehumidification[options.dehumidification as usize];
            let highest = c.dry_bulb.value.to_celsius();
            let room_k = highest - c.dew_point.value.to_celsius();
            (
                highest,
                month_range_k.min(room_k),
                c.humidity_ratio.si(),
                c.exceeded_percent,
                c.dew_point.origin,
            )
        }
        DesignDayKind::Heating => {
            let c = conditions.heating[options.heating as usize];
            let w = c.humidity_ratio.value.si();
            (c.dry_bulb.value.to_celsius(), 0.0, w, c.exceeded_percent, c.dry_bulb.origin)
        }
    };
    let calendar = conditions.calendar;
    let day_of_year = calendar.day_of_year(month, DESIGN_DAY_OF_MONTH).ok_or(ClimateError::Setting {
        name: "month",
        value: f64::from(month),
        allowed: "1 to 12",
    })? as u16;
    let positions: Vec<SunPosition> = (0..24)
        .map(|hour| conditions.station.sun(calendar, month, DESIGN_DAY_OF_MONTH, f64::from(hour) + 0.5))
        .collect::<Result<_, _>>()?;
    let positions: [SunPosition; 24] =
        positions.try_into().map_err(|_| ClimateError::Sun { reason: "a day has 24 hours".into() })?;
    let (sky, sun) = match (kind, of_month.optical_depths) {
        (DesignDayKind::Heating, _) => (SkySource::NoSun, [(0.0, 0.0); 24]),
        (_, Some(depths)) => tau_sky(options.clear_sky, depths, day_of_year, &positions)?,
        (_, None) => clearest_days(year, month, &positions)?,
    };
    let hours = std::array::from_fn(|hour| {
        let t = highest_c - range_k * interval_fraction(hour);
        let most = air::saturation_humidity_ratio(t, pressure_pa);
        let (w, moisture) =
            if w_day > most { (most, HourMoisture::Saturated) } else { (w_day, HourMoisture::AsDay) };
        let (beam, diffuse) = sun[hour];
        let position = positions[hour];
        DesignHour {
            hour: hour as u8,
            dry_bulb: Temperature::celsius(t),
            humidity_ratio: HumidityRatio::kg_per_kg(w),
            dew_point: Temperature::celsius(air::dew_point_c(w, pressure_pa)),
            wet_bulb: Temperature::celsius(air::wet_bulb_c(t, w, pressure_pa)),
            moisture,
            sun: position,
            direct_normal: HeatFlux::w_per_m2(beam),
            diffuse_horizontal: HeatFlux::w_per_m2(diffuse),
            global_horizontal: HeatFlux::w_per_m2(
                diffuse + beam * position.altitude().to_radians().sin().max(0.0),
            ),
            extraterrestrial_normal: extraterrestrial_normal(day_of_year),
        }
    });
    let day = DesignDay {
        kind,
        month,
        day_of_year,
        exceeded_percent,
        origin,
        highest_dry_bulb: Temperature::celsius(highest_c),
        daily_range: TemperatureDifference::kelvin(range_k),
        month_daily_range: of_month.mean_daily_range.value,
        humidity_ratio: HumidityRatio::kg_per_kg(w_day),
        pressure: conditions.pressure.value,
        sky,
        hours,
    };
    match day.hours.iter().find(|h| !(h.dew_point.si().is_finite() && h.wet_bulb.si().is_finite())) {
        None => Ok(day),
        Some(hour) => Err(ClimateError::MoistAir {
            what: "design day",
            reason: format!(
                "air of {} degC with {} kg/kg has no dew point or wet bulb",
                hour.dry_bulb.si(),
                hour.humidity_ratio.si()
            ),
        }),
    }
}

/// The days that sizing needs: cooling in every month, dehumidification, heating.
///
/// # Errors
/// As [`design_day`].
pub fn design_days(
    conditions: &DesignConditions,
    year: &WeatherYear,
    options: &DesignDayOptions,
) -> Result<Vec<DesignDay>, ClimateError> {
    (1..=12)
        .map(|month| DesignDayKind::Cooling { month })
        .chain([DesignDayKind::Dehumidification, DesignDayKind::Heating])
        .map(|kind| design_day(kind, conditions, year, options))
        .collect()
}
