//! Site facts, design conditions and design days of a project.

use crate::design::{Condition, Conditions, SiteFacts};
use crate::needs::DayMoisture;
use crate::size::SizingError;
use drycoil_air::raw;
use drycoil_climate::{
    DesignConditions, DesignDay, DesignDayKind, DesignDayOptions, EnteredConditions, EnteredPair,
    OpticalDepths, WeatherYear, design_days, month_name,
};
use drycoil_findings::registry;
use drycoil_project::{Project, Sourced};
use drycoil_units::{Pressure, Quantity, STANDARD_PRESSURE_PA, Temperature};

/// What later stages need to know of the climate.
#[derive(Debug, Clone)]
pub(crate) struct Climate {
    pub site: SiteFacts,
    pub conditions: Conditions,
    /// Cooling by month, dehumidification, heating.
    pub days: Vec<DesignDay>,
    pub day_names: Vec<String>,
    /// Humidity of the days that matter for moisture: cooling months and the dehumidification day.
    pub moisture: Vec<DayMoisture>,
    /// Mean dry bulb of the year, for the ground.
    pub mean_dry_bulb_c: f64,
}

impl Climate {
    /// Index of the heating day.
    pub(crate) fn heating_day(&self) -> usize {
        self.days.iter().position(|d| d.kind == DesignDayKind::Heating).expect("design_days returns one")
    }
}

/// Finds conditions and days.
pub(crate) fn conditions(project: &Project, weather: &WeatherYear) -> Result<Climate, SizingError> {
    let fail =
        |e: drycoil_climate::ClimateError| SizingError::one(registry::loads::NO_CONDITIONS, e.to_string());
    let site = site(project, weather);
    let mut entered = entered(project);
    entered.pressure = Some(Pressure::pascals(site.pressure_pa));
    let first = DesignConditions::from_year(weather, &entered).map_err(fail)?;
    // An entered annual dry bulb and daily range shape the cooling days of the hottest month too.
    let hottest = &mut entered.months[usize::from(first.hottest_month) - 1];
    hottest.dry_bulb[0] = entered.cooling[0];
    if let Some(range) = &project.site.conditions.daily_range {
        hottest.mean_daily_range = Some(range.value);
    }
    let found = DesignConditions::from_year(weather, &entered).map_err(fail)?;
    let days = design_days(&found, weather, &DesignDayOptions::default()).map_err(fail)?;
    let day_names: Vec<String> = days
        .iter()
        .map(|d| match d.kind {
            DesignDayKind::Cooling { month } => {
                format!("cooling day of {}", month_name(month).unwrap_or("?"))
            }
            DesignDayKind::Dehumidification => "dehumidification day".to_owned(),
            DesignDayKind::Heating => "heating day".to_owned(),
        })
        .collect();
    let moisture = days
        .iter()
        .zip(&day_names)
        .filter(|(d, _)| d.kind != DesignDayKind::Heating)
        .map(|(d, name)| DayMoisture {
            name: name.clone(),
            humidity_ratio: std::array::from_fn(|h| d.hours[h].humidity_ratio.si()),
        })
        .collect();
    let c = &found.cooling[0];
    let d = &found.dehumidification[0];
    let e = &found.evaporation[0];
    let h = &found.heating[0];
    let p = site.pressure_pa;
    let heating_w = project
        .site
        .conditions
        .heating_humidity_ratio
        .as_ref()
        .map_or_else(|| h.humidity_ratio.value.si(), |w| w.value.si());
    let conditions = Conditions {
        cooling: Condition {
            value_c: c.dry_bulb.value.to_celsius(),
            dry_bulb_c: c.dry_bulb.value.to_celsius(),
            humidity_ratio_kg_per_kg: c.humidity_ratio.si(),
            method: c.dry_bulb.origin.to_string(),
        },
        dehumidification: Condition {
            value_c: d.dew_point.value.to_celsius(),
            dry_bulb_c: d.dry_bulb.value.to_celsius(),
            humidity_ratio_kg_per_kg: d.humidity_ratio.si(),
            method: d.dew_point.origin.to_string(),
        },
        tower: Condition {
            value_c: e.wet_bulb.value.to_celsius(),
            dry_bulb_c: e.dry_bulb.value.to_celsius(),
            humidity_ratio_kg_per_kg: raw::humidity_ratio_at_wet_bulb(
                e.dry_bulb.value.to_celsius(),
                e.wet_bulb.value.to_celsius(),
                p,
            ),
            method: e.wet_bulb.origin.to_string(),
        },
        heating: Condition {
            value_c: h.dry_bulb.value.to_celsius(),
            dry_bulb_c: h.dry_bulb.value.to_celsius(),
            humidity_ratio_kg_per_kg: heating_w,
            method: h.dry_bulb.origin.to_string(),
        },
    };
    let t = weather.dry_bulb_c();
    let mean_dry_bulb_c = t.iter().sum::<f64>() / t.len() as f64;
    Ok(Climate { site, conditions, days, day_names, moisture, mean_dry_bulb_c })
}

fn site(project: &Project, weather: &WeatherYear) -> SiteFacts {
    let station = weather.station();
    let s = &project.site;
    let elevation_m = s.elevation.as_ref().map_or(station.elevation.to_metres(), |e| e.value.to_metres());
    let pressure_pa =
        s.pressure.as_ref().map_or_else(|| raw::standard_pressure_pa(elevation_m), |p| p.value.to_pascals());
    SiteFacts {
        place: s.place.value.clone(),
        latitude_deg: s.latitude.as_ref().map_or(station.latitude.to_degrees(), |v| v.value.to_degrees()),
        longitude_deg: s.longitude.as_ref().map_or(station.longitude.to_degrees(), |v| v.value.to_degrees()),
        elevation_m,
        pressure_pa,
        actual_per_standard: STANDARD_PRESSURE_PA / pressure_pa,
    }
}

fn entered(project: &Project) -> EnteredConditions {
    let c = &project.site.conditions;
    let t = |v: &Option<Sourced<Temperature>>| v.as_ref().map(|v| v.value);
    let mut e = EnteredConditions::default();
    e.cooling[0] = EnteredPair { design: t(&c.cooling_dry_bulb), coincident: t(&c.cooling_wet_bulb) };
    e.dehumidification[0] =
        EnteredPair { design: t(&c.dehumidification_dew_point), coincident: t(&c.dehumidification_dry_bulb) };
    e.evaporation[0] = EnteredPair { design: t(&c.tower_wet_bulb), coincident: None };
    e.heating[0] = t(&c.heating_dry_bulb);
    if let (Some(beam), Some(diffuse)) = (&c.tau_beam, &c.tau_diffuse) {
        for (m, month) in e.months.iter_mut().enumerate() {
            month.optical_depths = Some(OpticalDepths { beam: beam.value[m], diffuse: diffuse.value[m] });
        }
    }
    e
}
