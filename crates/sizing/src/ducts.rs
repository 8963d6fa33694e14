//! Duct mains of both schemes by equal friction.

use crate::conditions::Climate;
use crate::design::{DuctDesign, DuctMain, Loads, RoomNeeds, Service};
use crate::told::told;
use drycoil_air::raw;
use drycoil_findings::{Finding, Place, registry};
use drycoil_project::Project;
use drycoil_units::{
    ActualAirFlow, Length, PressureDifference, Quantity, STANDARD_AIR_DENSITY_KG_PER_M3 as RHO,
};
use drycoil_water::WaterError;
use drycoil_water::duct::{DuctLimits, DuctSeries, size_rectangular, size_round};
use drycoil_water::friction::Fluid;

/// Widest ratio of a rectangular main. Common practice, no source.
const ASPECT: f64 = 4.0;
/// Name of the run that joins the floors.
const RISER: &str = "riser";
/// Viscosity of air in ducts, Pa s: standard air.
const VISCOSITY: f64 = 1.82e-5;

/// Sizes the mains of every floor and the riser, for the primary air and for the all-air alternative.
pub(crate) fn size(
    project: &Project,
    climate: &Climate,
    loads: &Loads,
    needs: &[RoomNeeds],
    findings: &mut Vec<Finding>,
) -> DuctDesign {
    let p = climate.site.pressure_pa;
    let supply_c = project.ducts.all_air_supply.value.to_celsius();
    let mut mains = Vec::new();
    let (mut total_primary, mut total_air) = (0.0, 0.0);
    for floor in &loads.floors {
        let mut primary = 0.0;
        let mut air = 0.0;
        for (i, room) in project.rooms.iter().enumerate() {
            if room.floor != floor.group {
                continue;
            }
            primary += needs[i].primary_m3_per_s;
            if matches!(needs[i].service, Service::Terminal | Service::PrimaryOnly) {
                // Room peak sensible load over the supply difference, not below the room's ventilation.
                let l = &loads.rooms[i];
                let cp = raw::humid_specific_heat_j_per_kg_k(0.008);
                let difference = l.set_point_c - supply_c;
                if difference > 0.0 {
                    air += (l.cooling.load_w / (RHO * cp * difference)).max(needs[i].ventilation_m3_per_s);
                }
            }
        }
        total_primary += primary;
        total_air += air;
        for (scheme, flow) in [("decoupled", primary), ("all-air", air)] {
            if let Some(m) = main(project, p, scheme, &floor.group, flow, findings) {
                mains.push(m);
            }
        }
    }
    for (scheme, flow) in [("decoupled", total_primary), ("all-air", total_air)] {
        if let Some(m) = main(project, p, scheme, RISER, flow, findings) {
            mains.push(m);
        }
    }
    let area = |scheme: &str| mains.iter().filter(|m| m.scheme == scheme).map(|m| m.area_m2).sum::<f64>();
    let (ours, theirs) = (area("decoupled"), area("all-air"));
    DuctDesign {
        area_ratio: if theirs > 0.0 { ours / theirs } else { f64::NAN },
        method: "all-air flow: sum of room peak sensible loads over the supply difference, not below ventilation; equal \
                 friction for both schemes; return air of the all-air scheme is not counted"
            .to_owned(),
        mains,
    }
}

fn main(
    project: &Project,
    pressure_pa: f64,
    scheme: &str,
    run: &str,
    flow: f64,
    findings: &mut Vec<Finding>,
) -> Option<DuctMain> {
    if flow <= 1e-6 {
        return None;
    }
    let d = &project.ducts;
    // Supply air near its delivered state; density by the site's pressure.
    let volume = raw::volume_m3_per_kg(13.0, 0.008, pressure_pa);
    let actual = flow * RHO * volume;
    let fluid = Fluid::new(1.008 / volume, VISCOSITY).ok()?;
    let limits = DuctLimits {
        friction_per_metre: PressureDifference::pascals(d.friction_pa_per_m.value),
        velocity: d.velocity.value,
        series: match project.units() {
            drycoil_units::UnitSystem::Ip => DuctSeries::InchPound,
            drycoil_units::UnitSystem::Si => DuctSeries::Metric,
        },
    };
    let v = ActualAirFlow::m3_per_s(actual);
    let units = project.told_units();
    let round = size_round(fluid, v, &limits).ok();
    // The ceiling bounds the mains of the floors; the riser stands in a shaft and may be as deep as a round one.
    let height = match (run, &round) {
        (RISER, Some(r)) => r.diameter,
        _ => d.height.value,
    };
    let rectangular = size_rectangular(fluid, v, &limits, height, ASPECT);
    let (width, height, velocity, friction, area) = match &rectangular {
        Ok(r) => (
            r.width.to_metres(),
            r.height.to_metres(),
            r.velocity.to_metres_per_second(),
            r.friction_per_metre.to_pascals(),
            r.width.to_metres() * r.height.to_metres(),
        ),
        Err(e) => {
            findings.push(
                Finding::new(registry::primary_unit::DUCT_TOO_HIGH, match e {
                    WaterError::NoSizeLargeEnough { .. } => format!(
                        "{scheme} main of {run}: {} asks for more than a duct {} high and {ASPECT} times as wide",
                        v.show(units),
                        height.show(units)
                    ),
                    _ => told(&format!("{scheme} main of {run}: {e}"), units),
                })
                    .at(Place::part(run.to_owned()))
                    .value(v.show(project.told_units()))
                    .allowed(format!("height up to {}", Length::show(height, project.told_units()))),
            );
            let r = round.as_ref()?;
            let dia = r.diameter.to_metres();
            let area = std::f64::consts::PI / 4.0 * dia * dia;
            (f64::NAN, f64::NAN, actual / area, r.drop.friction_pa_per_m, area)
        }
    };
    Some(DuctMain {
        scheme: scheme.to_owned(),
        run: run.to_owned(),
        standard_m3_per_s: flow,
        actual_m3_per_s: actual,
        diameter_m: round.as_ref().map_or(f64::NAN, |r| r.diameter.to_metres()),
        width_m: width,
        height_m: height,
        velocity_m_per_s: velocity,
        friction_pa_per_m: friction,
        area_m2: area,
    })
}
