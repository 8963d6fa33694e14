//! Design conditions: entered station values, or derived from one typical year and labelled so.

use crate::calendar::Calendar;
use crate::error::ClimateError;
use crate::percentile::Exceedance;
use crate::year::{Station, WeatherYear};
use drycoil_air::raw as air;
use drycoil_units::{HumidityRatio, Pressure, Quantity, Temperature, TemperatureDifference, UnitSystem};
use std::fmt;

/// Half width of the band whose hours give a mean coincident value, K.
pub const COINCIDENT_HALF_WIDTH_K: f64 = 0.5;

/// Where a design value comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Origin {
    /// Entered: a station's published value.
    Entered,
    /// Derived from one typical year, from this many hours. A typical year holds average months, so its extremes are
    /// milder than those of the station's long record.
    OneYear {
        /// Hours that were averaged, or that were ranked.
        hours: usize,
    },
}

impl fmt::Display for Origin {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Entered => f.write_str("entered"),
            Self::OneYear { hours } => write!(f, "derived from one typical year ({hours} h)"),
        }
    }
}

/// A design value and where it comes from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Valued<T> {
    /// The value.
    pub value: T,
    /// Where it comes from.
    pub origin: Origin,
}

/// A yearly warm-side percentile: the value is exceeded in this share of the hours.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum AnnualPercentile {
    /// 0.4 %: 35 h a year.
    P0_4,
    /// 1 %: 88 h.
    P1,
    /// 2 %: 175 h.
    P2,
}

/// A yearly cold-side percentile of dry bulb.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum HeatingPercentile {
    /// Exceeded in 99.6 % of the hours.
    P99_6,
    /// Exceeded in 99 %.
    P99,
}

/// A percentile within one month.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum MonthlyPercentile {
    /// 0.4 % of the month: 3 h.
    P0_4,
    /// 2 %: 15 h.
    P2,
    /// 5 %: 37 h.
    P5,
}

impl AnnualPercentile {
    /// All, most extreme first.
    pub const ALL: [Self; 3] = [Self::P0_4, Self::P1, Self::P2];
    /// Share of the hours in which the value is exceeded, percent.
    pub const fn percent(self) -> f64 {
        match self {
            Self::P0_4 => 0.4,
            Self::P1 => 1.0,
            Self::P2 => 2.0,
        }
    }
}

impl HeatingPercentile {
    /// All, most extreme first.
    pub const ALL: [Self; 2] = [Self::P99_6, Self::P99];
    /// Share of the hours in which the value is exceeded, percent.
    pub const fn percent(self) -> f64 {
        match self {
            Self::P99_6 => 99.6,
            Self::P99 => 99.0,
        }
    }
}

impl MonthlyPercentile {
    /// All, most extreme first.
    pub const ALL: [Self; 3] = [Self::P0_4, Self::P2, Self::P5];
    /// Share of the month's hours in which the value is exceeded, percent.
    pub const fn percent(self) -> f64 {
        match self {
            Self::P0_4 => 0.4,
            Self::P2 => 2.0,
            Self::P5 => 5.0,
        }
    }
}

/// A design value and its mean coincident partner, as entered; what is `None` is derived.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct EnteredPair {
    /// The design value.
    pub design: Option<Temperature>,
    /// The mean coincident value.
    pub coincident: Option<Temperature>,
}

/// Pseudo optical depths of the tau clear sky.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OpticalDepths {
    /// Of the beam, 0.1 to 1.5.
    pub beam: f64,
    /// Of the diffuse part, 0.8 to 4.
    pub diffuse: f64,
}

/// Entered values of one month.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct EnteredMonth {
    /// Dry bulb with coincident wet bulb at 0.4, 2 and 5 %.
    pub dry_bulb: [EnteredPair; 3],
    /// Mean of the daily range of dry bulb.
    pub mean_daily_range: Option<TemperatureDifference>,
    /// Clear-sky optical depths.
    pub optical_depths: Option<OpticalDepths>,
}

/// Entered station values; every one is optional.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct EnteredConditions {
    /// Dry bulb with coincident wet bulb at 0.4, 1 and 2 %.
    pub cooling: [EnteredPair; 3],
    /// Dew point with coincident dry bulb at 0.4, 1 and 2 %.
    pub dehumidification: [EnteredPair; 3],
    /// Wet bulb with coincident dry bulb at 0.4, 1 and 2 %.
    pub evaporation: [EnteredPair; 3],
    /// Heating dry bulb at 99.6 and 99 %.
    pub heating: [Option<Temperature>; 2],
    /// Station pressure.
    pub pressure: Option<Pressure>,
    /// January to December.
    pub months: [EnteredMonth; 12],
}

/// Dry bulb with mean coincident wet bulb.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DryBulbCondition {
    /// Share of the hours in which the dry bulb is exceeded, percent.
    pub exceeded_percent: f64,
    /// Dry bulb.
    pub dry_bulb: Valued<Temperature>,
    /// Mean coincident wet bulb.
    pub wet_bulb: Valued<Temperature>,
    /// Humidity ratio at both, at the station pressure.
    pub humidity_ratio: HumidityRatio,
}

/// Dew point with mean coincident dry bulb.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DewPointCondition {
    /// Share of the hours in which the dew point is exceeded, percent.
    pub exceeded_percent: f64,
    /// Dew point.
    pub dew_point: Valued<Temperature>,
    /// Mean coincident dry bulb.
    pub dry_bulb: Valued<Temperature>,
    /// Humidity ratio at the dew point, at the station pressure.
    pub humidity_ratio: HumidityRatio,
}

/// Wet bulb with mean coincident dry bulb.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WetBulbCondition {
    /// Share of the hours in which the wet bulb is exceeded, percent.
    pub exceeded_percent: f64,
    /// Wet bulb.
    pub wet_bulb: Valued<Temperature>,
    /// Mean coincident dry bulb.
    pub dry_bulb: Valued<Temperature>,
}

/// Heating dry bulb.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HeatingCondition {
    /// Share of the hours in which the dry bulb is exceeded, percent.
    pub exceeded_percent: f64,
    /// Dry bulb.
    pub dry_bulb: Valued<Temperature>,
    /// Mean coincident humidity ratio of the year, not above saturation at the dry bulb.
    pub humidity_ratio: Valued<HumidityRatio>,
}

/// Design conditions of one month.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MonthConditions {
    /// 1 to 12.
    pub month: u8,
    /// At 0.4, 2 and 5 % of the month.
    pub dry_bulb: [DryBulbCondition; 3],
    /// Mean of the daily range of dry bulb.
    pub mean_daily_range: Valued<TemperatureDifference>,
    /// Clear-sky optical depths, when entered.
    pub optical_depths: Option<OpticalDepths>,
}

/// Design conditions of a place. Each value says whether it was entered or derived.
#[derive(Debug, Clone, PartialEq)]
pub struct DesignConditions {
    /// The place.
    pub station: Station,
    /// Calendar of the year.
    pub calendar: Calendar,
    /// Station pressure: entered, or the mean of the year.
    pub pressure: Valued<Pressure>,
    /// Cooling, at 0.4, 1 and 2 %.
    pub cooling: [DryBulbCondition; 3],
    /// Dehumidification, at 0.4, 1 and 2 %.
    pub dehumidification: [DewPointCondition; 3],
    /// Cooling towers and other evaporation, at 0.4, 1 and 2 %.
    pub evaporation: [WetBulbCondition; 3],
    /// Heating, at 99.6 and 99 %.
    pub heating: [HeatingCondition; 2],
    /// January to December.
    pub months: [MonthConditions; 12],
    /// Month with the highest mean dry bulb in the year, 1 to 12; the first of equals.
    pub hottest_month: u8,
    /// Month with the lowest mean dry bulb in the year; the first of equals.
    pub coldest_month: u8,
    /// Month with the highest mean humidity ratio in the year; the first of equals.
    pub most_humid_month: u8,
}

/// Mean of `partner` over the hours in which `series` is within the half width of `value`, and their count; when there
/// are none, over the hours at the smallest distance.
fn coincident(series: &[f64], partner: &[f64], value: f64) -> (f64, usize) {
    let nearest = series.iter().map(|s| (s - value).abs()).fold(f64::INFINITY, f64::min);
    let reach = nearest.max(COINCIDENT_HALF_WIDTH_K) + 1e-9;
    let (mut sum, mut count) = (0.0, 0usize);
    for (s, p) in series.iter().zip(partner) {
        if (s - value).abs() <= reach {
            sum += p;
            count += 1;
        }
    }
    (sum / count as f64, count)
}

/// One ranked series with the series that is averaged beside it.
struct Ranked<'a> {
    series: &'a [f64],
    partner: &'a [f64],
    ranking: Exceedance,
}

impl<'a> Ranked<'a> {
    fn new(series: &'a [f64], partner: &'a [f64]) -> Self {
        Self { series, partner, ranking: Exceedance::new(series) }
    }

    fn design(
        &self,
        percent: f64,
        entered: Option<Temperature>,
    ) -> Result<Valued<Temperature>, ClimateError> {
        if let Some(value) = entered {
            return Ok(Valued { value, origin: Origin::Entered });
        }
        let value = self.ranking.exceeded_in_percent(percent).ok_or(ClimateError::Setting {
            name: "percentile",
            value: percent,
            allowed: "the ranks of the hours",
        })?;
        Ok(Valued {
            value: Temperature::celsius(value),
            origin: Origin::OneYear { hours: self.series.len() },
        })
    }

    fn pair(
        &self,
        percent: f64,
        entered: EnteredPair,
    ) -> Result<(Valued<Temperature>, Valued<Temperature>), ClimateError> {
        let design = self.design(percent, entered.design)?;
        let partner = entered.coincident.map_or_else(
            || {
                let (mean, hours) = coincident(self.series, self.partner, design.value.to_celsius());
                Valued { value: Temperature::celsius(mean), origin: Origin::OneYear { hours } }
            },
            |value| Valued { value, origin: Origin::Entered },
        );
        Ok((design, partner))
    }
}

fn ordered(
    higher: (&str, Valued<Temperature>),
    lower: (&str, Valued<Temperature>),
) -> Result<(), ClimateError> {
    if lower.1.value <= higher.1.value {
        return Ok(());
    }
    let text = |(name, v): (&str, Valued<Temperature>)| {
        format!("{name} {} ({})", v.value.show(UnitSystem::Si), v.origin)
    };
    Err(ClimateError::Contradiction { higher: text(higher), lower: text(lower) })
}

fn dry_bulb_condition(
    ranked: &Ranked<'_>,
    percent: f64,
    entered: EnteredPair,
    pressure_pa: f64,
) -> Result<DryBulbCondition, ClimateError> {
    let (dry_bulb, wet_bulb) = ranked.pair(percent, entered)?;
    ordered(("dry bulb", dry_bulb), ("coincident wet bulb", wet_bulb))?;
    let (t, t_wb) = (dry_bulb.value.to_celsius(), wet_bulb.value.to_celsius());
    let w = air::humidity_ratio_at_wet_bulb(t, t_wb, pressure_pa);
    if !(w.is_finite() && w >= 0.0) {
        return Err(ClimateError::MoistAir {
            what: "humidity ratio of a design condition",
            reason: format!("there is no air of {t} degC with a wet bulb of {t_wb} degC at {pressure_pa} Pa"),
        });
    }
    Ok(DryBulbCondition {
        exceeded_percent: percent,
        dry_bulb,
        wet_bulb,
        humidity_ratio: HumidityRatio::kg_per_kg(w),
    })
}

fn extreme_month(year: &WeatherYear, series: &[f64], sign: f64) -> u8 {
    let mean = |month: u8| {
        let hours = year.calendar().month_hours(month);
        let count = hours.len() as f64;
        sign * series[hours].iter().sum::<f64>() / count
    };
    (1..=12u8).fold(1, |best, month| if mean(month) > mean(best) { month } else { best })
}

/// Tries to build an array item by item.
fn array<T, const N: usize>(
    make: impl FnMut(usize) -> Result<T, ClimateError>,
) -> Result<[T; N], ClimateError> {
    let items: Vec<T> = (0..N).map(make).collect::<Result<_, _>>()?;
    items.try_into().map_err(|_| ClimateError::HourCount { found: N })
}

impl DesignConditions {
    /// Takes the entered values and derives the rest from one year.
    ///
    /// Percentiles by the rule of [`Exceedance`]. Mean coincident values: the mean over the hours in which the design
    /// quantity lies within [`COINCIDENT_HALF_WIDTH_K`] of the design value (for an entered value far from any hour of
    /// the year, over the nearest hours); the count of hours is kept. Mean daily range: the mean over the days of
    /// highest minus lowest hourly dry bulb.
    ///
    /// # Errors
    /// [`ClimateError::Contradiction`] when a wet bulb or dew point is above its dry bulb,
    /// [`ClimateError::Setting`] for an entered daily range outside 0 to 40 K or a pressure outside 60 to 108 kPa,
    /// [`ClimateError::MoistAir`] when a state does not exist.
    pub fn from_year(year: &WeatherYear, entered: &EnteredConditions) -> Result<Self, ClimateError> {
        let (dry_bulb, dew_point) = (year.dry_bulb_c(), year.dew_point_c());
        let wet_bulb = year.wet_bulb_c()?;
        let hours = year.hours();
        let pressure = entered.pressure.map_or_else(
            || Valued {
                value: Pressure::pascals(year.pressure_pa().iter().sum::<f64>() / hours as f64),
                origin: Origin::OneYear { hours },
            },
            |value| Valued { value, origin: Origin::Entered },
        );
        let p = pressure.value.to_pascals();
        if !(60_000.0..=108_000.0).contains(&p) {
            return Err(ClimateError::Setting { name: "pressure", value: p, allowed: "60000 to 108000 Pa" });
        }
        let by_dry_bulb = Ranked::new(dry_bulb, &wet_bulb);
        let by_dew_point = Ranked::new(dew_point, dry_bulb);
        let by_wet_bulb = Ranked::new(&wet_bulb, dry_bulb);
        let cooling = array(|i| {
            dry_bulb_condition(&by_dry_bulb, AnnualPercentile::ALL[i].percent(), entered.cooling[i], p)
        })?;
        let dehumidification = array(|i| {
            let percent = AnnualPercentile::ALL[i].percent();
            let (dew_point, dry_bulb) = by_dew_point.pair(percent, entered.dehumidification[i])?;
            ordered(("coincident dry bulb", dry_bulb), ("dew point", dew_point))?;
            let w = air::humidity_ratio_at_dew_point(dew_point.value.to_celsius(), p);
            let humidity_ratio = HumidityRatio::kg_per_kg(w);
            Ok(DewPointCondition { exceeded_percent: percent, dew_point, dry_bulb, humidity_ratio })
        })?;
        let evaporation = array(|i| {
            let percent = AnnualPercentile::ALL[i].percent();
            let (wet_bulb, dry_bulb) = by_wet_bulb.pair(percent, entered.evaporation[i])?;
            ordered(("coincident dry bulb", dry_bulb), ("wet bulb", wet_bulb))?;
            Ok(WetBulbCondition { exceeded_percent: percent, wet_bulb, dry_bulb })
        })?;
        let heating = array(|i| {
            let percent = HeatingPercentile::ALL[i].percent();
            let design = by_dry_bulb.design(percent, entered.heating[i])?;
            let (mean, count) = coincident(dry_bulb, year.humidity_ratio(), design.value.to_celsius());
            let most = air::saturation_humidity_ratio(design.value.to_celsius(), p);
            let humidity_ratio = Valued {
                value: HumidityRatio::kg_per_kg(mean.min(most)),
                origin: Origin::OneYear { hours: count },
            };
            Ok(HeatingCondition { exceeded_percent: percent, dry_bulb: design, humidity_ratio })
        })?;
        let months = array(|i| {
            let month = i as u8 + 1;
            let given = &entered.months[i];
            let range = year.calendar().month_hours(month);
            let ranked = Ranked::new(&dry_bulb[range.clone()], &wet_bulb[range.clone()]);
            let conditions = array(|j| {
                dry_bulb_condition(&ranked, MonthlyPercentile::ALL[j].percent(), given.dry_bulb[j], p)
            })?;
            let mean_daily_range = if let Some(value) = given.mean_daily_range {
                if !(0.0..=40.0).contains(&value.to_kelvin()) {
                    let value = value.to_kelvin();
                    return Err(ClimateError::Setting {
                        name: "mean daily range",
                        value,
                        allowed: "0 to 40 K",
                    });
                }
                Valued { value, origin: Origin::Entered }
            } else {
                let days = range.len() as f64 / 24.0;
                let sum: f64 = dry_bulb[range.clone()].chunks_exact(24).map(daily_range).sum();
                let origin = Origin::OneYear { hours: range.len() };
                Valued { value: TemperatureDifference::kelvin(sum / days), origin }
            };
            Ok(MonthConditions {
                month,
                dry_bulb: conditions,
                mean_daily_range,
                optical_depths: given.optical_depths,
            })
        })?;
        Ok(Self {
            station: year.station().clone(),
            calendar: year.calendar(),
            pressure,
            cooling,
            dehumidification,
            evaporation,
            heating,
            months,
            hottest_month: extreme_month(year, dry_bulb, 1.0),
            coldest_month: extreme_month(year, dry_bulb, -1.0),
            most_humid_month: extreme_month(year, year.humidity_ratio(), 1.0),
        })
    }

    /// Conditions of a month, 1 to 12; `None` for any other number.
    pub fn month(&self, month: u8) -> Option<&MonthConditions> {
        self.months.get(usize::from(month).checked_sub(1)?)
    }

    /// Mean daily range of dry bulb in the hottest month.
    pub fn hottest_month_daily_range(&self) -> Valued<TemperatureDifference> {
        self.months[usize::from(self.hottest_month) - 1].mean_daily_range
    }
}

fn daily_range(day: &[f64]) -> f64 {
    let high = day.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let low = day.iter().copied().fold(f64::INFINITY, f64::min);
    high - low
}
