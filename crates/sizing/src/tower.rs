//! The cooling tower of the plant: sized at the design wet bulb, solved off design; its approach is never constant.

use crate::conditions::Climate;
use crate::size::SizingError;
use drycoil_exchange::ExchangeError;
use drycoil_exchange::bypass::AirPoint;
use drycoil_exchange::tower::{self, TowerDuty, merkel_integral, water_balance};
use drycoil_findings::{Finding, Place, registry};
use drycoil_project::Project;
use drycoil_units::{HumidityRatio, MassFlow, Power, Pressure, Quantity, Temperature, TemperatureDifference};

/// Ratio of water to dry air by mass at design. Common practice, no source.
pub const WATER_TO_AIR: f64 = 1.2;
/// Exponent of the tower law KaV/L = c (L/G)^-n. Common practice, no source.
pub const EXPONENT: f64 = 0.6;
/// Coldest water that the fan control lets the tower make, degC, against freezing in the basin.
pub const COLDEST_C: f64 = 5.0;
/// Drift as a share of the circulating water. Common practice, no source.
const DRIFT: f64 = 2e-5;

/// The tower.
pub(crate) struct Tower {
    law: tower::Tower,
    range_k: f64,
    design_wet_bulb_c: f64,
    design_leaving_c: f64,
    design_dry_bulb_c: f64,
    design_w: f64,
    pressure_pa: f64,
    characteristic: f64,
    cycles: f64,
}

/// The tower at design.
pub(crate) struct TowerDesign {
    pub flow_m3_per_s: f64,
    pub leaving_c: f64,
    pub entering_c: f64,
    pub wet_bulb_c: f64,
    pub characteristic: f64,
    pub evaporation_kg_per_s: f64,
    pub makeup_kg_per_s: f64,
}

impl Tower {
    /// Calibrated at the design wet bulb, approach and range.
    pub(crate) fn design(project: &Project, climate: &Climate) -> Result<Self, SizingError> {
        let c = &climate.conditions.tower;
        let wet = c.value_c;
        let range_k = project.plant.tower_range.value.to_kelvin();
        let cold = wet + project.plant.tower_approach.value.to_kelvin();
        let t = Temperature::celsius;
        let p = Pressure::pascals(climate.site.pressure_pa);
        let refuse = |e: ExchangeError| {
            SizingError {
            findings: vec![
                Finding::new(registry::plant::TOWER, match &e {
                    ExchangeError::OperatingLineCrossesSaturation { water_c, .. } => format!(
                        "no tower of any size makes this water: its operating line meets the saturation curve where the water is \
                         at {}",
                        t(*water_c).show(project.told_units())
                    ),
                    _ => e.to_string(),
                }).at(Place::part("tower")).value(format!(
                    "wet bulb {}, approach {}, range {}",
                    t(wet).show(project.told_units()),
                    project.plant.tower_approach.value.show(project.told_units()),
                    project.plant.tower_range.value.show(project.told_units())
                )),
            ],
        }
        };
        let m = merkel_integral(t(cold + range_k), t(cold), t(wet), WATER_TO_AIR, p).map_err(refuse)?;
        let law = tower::Tower::calibrated(t(cold + range_k), t(cold), t(wet), WATER_TO_AIR, p, EXPONENT)
            .map_err(refuse)?;
        Ok(Self {
            law,
            range_k,
            design_wet_bulb_c: wet,
            design_leaving_c: cold,
            design_dry_bulb_c: c.dry_bulb_c,
            design_w: c.humidity_ratio_kg_per_kg,
            pressure_pa: climate.site.pressure_pa,
            characteristic: m.exact,
            cycles: project.plant.cycles.value,
        })
    }

    pub(crate) fn design_leaving_c(&self) -> f64 {
        self.design_leaving_c
    }

    /// Water leaving at a wet bulb with the design range; held at [`COLDEST_C`] by the fans.
    pub(crate) fn leaving_c(&self, wet_bulb_c: f64) -> Result<f64, SizingError> {
        let found = self.law.cold_water_for_range(
            TemperatureDifference::kelvin(self.range_k),
            Temperature::celsius(wet_bulb_c.max(-25.0)),
            WATER_TO_AIR,
            Pressure::pascals(self.pressure_pa),
        );
        match found {
            Ok((t, _, _)) => Ok(t.to_celsius().max(COLDEST_C)),
            // Colder than the model's water range: the fans hold the floor.
            Err(_) if wet_bulb_c < 0.0 => Ok(COLDEST_C),
            Err(e) => Err(SizingError::one(registry::plant::TOWER, e.to_string())),
        }
    }

    /// Flows and water use at design for a heat.
    pub(crate) fn at_design(&self, heat_w: f64) -> Result<TowerDesign, ExchangeError> {
        let flow = heat_w / (tower::CP_WATER_J_PER_KG_K * self.range_k);
        let result = self.law.solve(&TowerDuty {
            air: AirPoint::new(
                Temperature::celsius(self.design_dry_bulb_c),
                HumidityRatio::kg_per_kg(self.design_w),
                Pressure::pascals(self.pressure_pa),
            )?,
            pressure: Pressure::pascals(self.pressure_pa),
            water: MassFlow::kg_per_s(flow),
            dry_air: MassFlow::kg_per_s(flow / WATER_TO_AIR),
            heat: Power::watts(heat_w),
        })?;
        let balance = water_balance(result.evaporation, MassFlow::kg_per_s(flow * DRIFT), self.cycles)?;
        let density = drycoil_water::liquid::raw::density_kg_per_m3(self.design_leaving_c);
        Ok(TowerDesign {
            flow_m3_per_s: flow / density,
            leaving_c: result.cold.to_celsius(),
            entering_c: result.hot.to_celsius(),
            wet_bulb_c: self.design_wet_bulb_c,
            characteristic: self.characteristic,
            evaporation_kg_per_s: balance.evaporation.si(),
            makeup_kg_per_s: balance.make_up.si(),
        })
    }
}
