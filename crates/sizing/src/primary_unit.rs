//! Sizing of the primary-air unit.

use crate::conditions::Climate;
use crate::design::{AirPoint, DewPointDecision, PrimaryUnitCase, PrimaryUnitDesign, RoomNeeds};
use crate::machines::{BYPASS, Machines, WATER_CP, WATER_RHO};
use crate::size::SizingError;
use drycoil_air::raw;
use drycoil_findings::{Finding, Place, registry};
use drycoil_plant::limits::Limit;
use drycoil_plant::primary_air::PrimaryAirState;
use drycoil_project::{Project, RecoveryKind};
use drycoil_units::{
    Quantity, STANDARD_AIR_DENSITY_KG_PER_M3 as RHO, StandardAirFlow, Temperature, TemperatureDifference,
};

/// Transfer units of one row of a drying coil at 2.5 m/s face velocity. Common practice, no source.
const TRANSFER_UNITS_PER_ROW: f64 = 0.45;

/// Sizes the unit at the chosen supply dew point.
pub(crate) fn size(
    project: &Project,
    climate: &Climate,
    machines: &Machines,
    needs: &[RoomNeeds],
    decision: &DewPointDecision,
    findings: &mut Vec<Finding>,
) -> Result<PrimaryUnitDesign, SizingError> {
    let a = &project.primary_air;
    let delivered: f64 = needs.iter().map(|n| n.primary_m3_per_s).sum();
    let leak = a.duct_leakage.value.to_ratio();
    let unit_flow = delivered * (1.0 + a.spare.value.to_ratio()) / (1.0 - leak);
    let exhaust = crate::balance::returned(project, |i| (&needs[i]).into());
    let ratio = if delivered > 0.0 { exhaust / delivered } else { 0.0 };
    let p = climate.site.pressure_pa;
    let mut cases = Vec::new();
    let mut coil_load: f64 = 0.0;
    let mut heating_load: f64 = 0.0;
    let mut design: Option<PrimaryAirState> = None;
    let mut worst_shortfall: f64 = 0.0;
    for (name, outdoor, season) in machines.cases() {
        let s = machines.run(decision.supply_dew_point_c, outdoor, ratio, season).map_err(|e| {
            SizingError::one(registry::primary_unit::MACHINE, format!("primary-air unit, {name}: {e}"))
        })?;
        let case = case(name, &s, delivered, exhaust, p, a.drying_water_rise.value.to_kelvin());
        coil_load = coil_load.max(case.coil_total_w);
        heating_load = heating_load.max(case.reheat_w + case.preheat_w);
        worst_shortfall = worst_shortfall.max(case.dew_point_shortfall_k);
        if s.limits.has(Limit::FreezeProtection) {
            findings.push(
                Finding::new(
                    registry::primary_unit::FREEZE,
                    format!(
                        "in the {name} condition air of {} meets a water coil",
                        Temperature::celsius(
                            s.coil.entering.dry_bulb.si().min(s.after_recovery.dry_bulb.si())
                        )
                        .show(project.told_units())
                    ),
                )
                .at(Place::part("primary air")),
            );
        }
        if name == "dehumidification" {
            design = Some(s);
        }
        cases.push(case);
    }
    let design = design.expect("the dehumidification case is in the list");
    if worst_shortfall > 1e-6 {
        findings.push(
            Finding::new(
                registry::primary_unit::NOT_DRY_ENOUGH,
                format!(
                    "the drying coil misses the supply dew point by {}",
                    TemperatureDifference::kelvin(worst_shortfall).show(project.told_units())
                ),
            )
            .at(Place::part("primary air"))
            .allowed("0"),
        );
    }
    if a.recovery.value != RecoveryKind::None && ratio < 0.5 {
        findings.push(
            Finding::new(
                registry::primary_unit::LITTLE_EXHAUST,
                format!("only {:.0} % of the delivered air returns to the recovery", ratio * 100.0),
            )
            .at(Place::part("primary air"))
            .value(StandardAirFlow::m3_per_s(exhaust).show(project.told_units())),
        );
    }
    let leaving = design.coil.leaving;
    let entering = design.coil.entering;
    let coil_dp = if leaving.humidity_ratio.si() > 0.0 {
        raw::dew_point_c(leaving.humidity_ratio.si(), p)
    } else {
        f64::NAN
    };
    let water_in = a.drying_water.value.to_celsius();
    let rise = a.drying_water_rise.value.to_kelvin();
    let units = (unit_flow / a.largest_unit.value.to_m3_per_s()).ceil().max(1.0);
    let actual =
        unit_flow * RHO * raw::volume_m3_per_kg(entering.dry_bulb.si(), entering.humidity_ratio.si(), p);
    let face = actual / a.face_velocity.value.to_metres_per_second();
    // Enthalpy effectiveness against air saturated at the entering water, counterflow; the water's capacity is that of
    // the saturation line over its rise.
    let h = |t: f64| raw::saturation_enthalpy_j_per_kg(t, p);
    let effect =
        (entering.enthalpy().si() - leaving.enthalpy().si()) / (entering.enthalpy().si() - h(water_in));
    let chord = (h(water_in + rise) - h(water_in)) / rise;
    let m_air = unit_flow * RHO;
    let m_water = cases.iter().map(|c| c.coil_total_w).fold(0.0, f64::max) / (WATER_CP * rise);
    let cr = m_air * chord / (m_water * WATER_CP);
    let ntu = counterflow_ntu(effect, cr);
    if ntu.is_none() {
        findings.push(
            Finding::new(
                registry::primary_unit::COIL_TOO_CLOSE,
                "no counterflow coil of any size reaches the leaving state with this water and rise",
            )
            .at(Place::part("primary air"))
            .hint("lower the drying water, its rise, or raise the supply dew point"),
        );
    }
    let transfer_units = ntu.unwrap_or(f64::INFINITY);
    Ok(PrimaryUnitDesign {
        units: units as u32,
        delivered_m3_per_s: delivered,
        unit_m3_per_s: unit_flow,
        exhaust_m3_per_s: exhaust,
        coil_leaving_dew_point_c: coil_dp,
        face_area_m2: face,
        rows: if transfer_units.is_finite() {
            (transfer_units / TRANSFER_UNITS_PER_ROW).ceil() as u32
        } else {
            0
        },
        transfer_units,
        apparatus_dew_point_c: design.coil.apparatus_dew_point.to_celsius(),
        bypass_factor: BYPASS,
        fan_rise_k: design.discharge.dry_bulb.si() - design.entering_fan.dry_bulb.si(),
        delivered_dry_bulb_c: design.delivered.dry_bulb.to_celsius(),
        cases,
        coil_load_w: coil_load,
        drying_water_c: water_in,
        drying_water_leaving_c: water_in + rise,
        heating_load_w: heating_load,
    })
}

/// Transfer units of a counterflow exchanger; `None` when no size reaches the effectiveness.
fn counterflow_ntu(effect: f64, cr: f64) -> Option<f64> {
    // The capacity ratio may stand above one here, since the air side is the reference: e = (1 - x)/(1 - cr x),
    // x = exp(-ntu (1 - cr)).
    if effect <= 0.0 {
        return Some(0.0);
    }
    if (cr - 1.0).abs() < 1e-9 {
        return (effect < 1.0).then(|| effect / (1.0 - effect));
    }
    let x = (1.0 - effect) / (1.0 - cr * effect);
    (x > 0.0 && x.is_finite()).then(|| -x.ln() / (1.0 - cr)).filter(|n| n.is_finite() && *n >= 0.0)
}

fn case(
    name: &str,
    s: &PrimaryAirState,
    delivered: f64,
    exhaust: f64,
    p: f64,
    rise_k: f64,
) -> PrimaryUnitCase {
    // The model ran on one standard m3/s delivered.
    let scale = delivered;
    let through = s.unit_flow.si() / RHO * scale;
    let point = |name: &str, a: drycoil_plant::air_point::AirPoint, flow: f64| {
        let (t, w) = (a.dry_bulb.si(), a.humidity_ratio.si());
        AirPoint {
            point: name.to_owned(),
            dry_bulb_c: t,
            humidity_ratio_kg_per_kg: w,
            dew_point_c: raw::dew_point_c(w, p),
            wet_bulb_c: raw::wet_bulb_c(t, w, p),
            enthalpy_j_per_kg: raw::enthalpy_j_per_kg(t, w),
            standard_m3_per_s: flow,
            actual_m3_per_s: flow * RHO * raw::volume_m3_per_kg(t, w, p),
        }
    };
    let exhaust_air = s.recovery.as_ref().map_or(s.exhaust_leaving, |r| r.entering.exhaust);
    let after = s.recovery.as_ref().map_or(s.after_recovery, |r| r.after_exchanger);
    let coil = s.coil.total.si() * scale;
    let condensate = s.coil.condensate.si() * scale;
    PrimaryUnitCase {
        case: name.to_owned(),
        points: vec![
            point("outdoor air", s.outdoor, through),
            point("after recovery", s.after_recovery, through),
            point("after heating coil", s.after_heating, through),
            point("after drying coil", s.coil.leaving, through),
            point("after reheat", s.after_reheat, through),
            point("after fan", s.discharge, through),
            point("delivered", s.delivered, delivered),
            point("exhaust after recovery", s.exhaust_leaving, exhaust),
        ],
        recovered_w: s.recovery_total.si().abs() * scale,
        coil_total_w: coil,
        coil_sensible_w: s.coil.sensible.si() * scale,
        condensate_kg_per_s: condensate,
        condensate_w: condensate * 4186.0 * s.coil.leaving.dry_bulb.si(),
        preheat_w: s.preheat.si() * scale,
        reheat_w: (s.heating.si() + s.reheat.si()) * scale,
        supply_fan_w: s.supply_fan.electric_power.si() * scale,
        exhaust_fan_w: s.exhaust_fan.map_or(0.0, |f| f.electric_power.si()) * scale,
        water_m3_per_s: coil / (WATER_CP * WATER_RHO * rise_k),
        dew_point_shortfall_k: s.dew_point_missed.to_kelvin(),
        apparatus_dew_point_c: s.coil.apparatus_dew_point.to_celsius(),
        coil_entering_c: s.coil.entering.dry_bulb.si(),
        exhaust_dry_bulb_c: exhaust_air.dry_bulb.si(),
        exhaust_humidity_ratio_kg_per_kg: exhaust_air.humidity_ratio.si(),
        outdoor_kg_per_s: s.outdoor_flow.si() * scale,
        exhaust_leaving_kg_per_s: s
            .recovery
            .as_ref()
            .map_or(exhaust * RHO, |r| r.exhaust_leaving_dry_air.si() * scale),
        recovery_share: s.recovery_share,
        after_exchanger_c: after.dry_bulb.si(),
        after_exchanger_humidity_ratio_kg_per_kg: after.humidity_ratio.si(),
        heating_w: s.heating.si() * scale,
        wrap_around_w: s.wrap_around.si() * scale,
        exhaust_fan_pa: s.exhaust_fan.map_or(0.0, |f| {
            let leaving =
                s.recovery.as_ref().map_or(exhaust / delivered * RHO, |r| r.exhaust_leaving_dry_air.si());
            let x = s.exhaust_leaving;
            f.air_power.si() / (leaving * raw::volume_m3_per_kg(x.dry_bulb.si(), x.humidity_ratio.si(), p))
        }),
    }
}
