//! The all-air scheme sized from the same loads, with the same margins and efficiency class as the decoupled one.

use crate::plant::air::{Air, Saturation};
use crate::plant::machines::coil::{CoilForm, CoilStep};
use crate::plant::water_plant::{BankDesign, PumpPoint, WaterPlantDesign};
use crate::plant::{SetUpError, within};
use drycoil_air::raw;
use drycoil_plant::chiller::Condenser;
use drycoil_plant::loops::Arrangement;
use drycoil_project::{
    AllAirInput, BoxKind, DayType, MinimumFlow, MultipleZoneMethod, OutdoorAirReset, Project, UseShare,
};
use drycoil_sizing::machine_data::{BYPASS, WATER_CP, WATER_RHO, chiller};
use drycoil_sizing::{Design, Service};
use drycoil_units::{Fraction, Power, STANDARD_AIR_DENSITY_KG_PER_M3 as RHO, StandardAirFlow, Temperature};

/// The box of one room; all zero where the room is not on the air handler.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct AllAirBox {
    /// Largest supply flow in cooling, kg/s of dry air.
    pub largest_kg_per_s: f64,
    /// Least supply flow while the room is occupied, kg/s.
    pub minimum_kg_per_s: f64,
    /// Largest supply flow in heating, kg/s; the minimum itself where reheat works at the minimum.
    pub heating_kg_per_s: f64,
    /// Warmest discharge in heating, degC.
    pub warmest_c: f64,
    /// Heat of the reheat coil, W.
    pub reheat_w: f64,
    /// Outdoor air for people and floor in the breathing zone at full use, kg/s: `Rp Pz` and `Ra Az`.
    pub outdoor_people_kg_per_s: f64,
    /// For the floor area.
    pub outdoor_area_kg_per_s: f64,
    /// Air-distribution effectiveness in cooling and in heating.
    pub effectiveness: [f64; 2],
    /// Outdoor air by air changes that does not follow the people, kg/s.
    pub outdoor_fixed_kg_per_s: f64,
}

/// The all-air scheme.
#[derive(Debug, Clone, PartialEq)]
pub struct AllAirDesign {
    /// What is assumed.
    pub input: AllAirInput,
    /// Boxes in room order.
    pub boxes: Vec<AllAirBox>,
    /// Largest coincident supply, kg/s, without spare.
    pub supply_kg_per_s: f64,
    /// Largest flow of the air handler to the boxes, kg/s: with the spare of the primary-air unit.
    pub largest_kg_per_s: f64,
    /// Occupant diversity of the building.
    pub diversity: f64,
    /// Uncorrected outdoor air, kg/s.
    pub uncorrected_kg_per_s: f64,
    /// System ventilation efficiency at design.
    pub ventilation_efficiency: f64,
    /// Outdoor-air intake at design, kg/s: ventilation, or exhaust and pressurization where they need more.
    pub outdoor_kg_per_s: f64,
    /// Air for exhaust and pressurization, kg/s.
    pub make_up_kg_per_s: f64,
    /// Whether there is energy recovery.
    pub recovers: bool,
    /// Mean cooling and heating set points over the floor served, degC.
    pub set_points_c: [f64; 2],
    /// Coil at its worst design condition, per kg/s of air.
    pub coil: CoilStep,
    /// Air through the coil there, kg/s.
    pub coil_air_kg_per_s: f64,
    /// Heat of the coil there, W.
    pub coil_w: f64,
    /// Heat of rooms on their own sensible units, W.
    pub sensible_units_w: f64,
    /// Heat for rooms, W.
    pub room_heating_w: f64,
    /// Heat for outdoor air, W.
    pub central_heating_w: f64,
    /// Air handlers.
    pub air_handlers: f64,
    /// The water plant.
    pub water: WaterPlantDesign,
}

/// Largest sum over design days and hours of box flows, kg/s.
fn coincident(design: &Design, supply_c: f64, boxes: &[AllAirBox]) -> f64 {
    let days = design.loads.days.len();
    let mut most: f64 = 0.0;
    for day in 0..days {
        for hour in 0..24 {
            let sum: f64 = boxes
                .iter()
                .zip(&design.loads.rooms)
                .filter(|(b, _)| b.largest_kg_per_s > 0.0)
                .map(|(b, l)| {
                    let q = l.sensible_w.get(day).map_or(0.0, |d| d[hour]).max(0.0);
                    let cp = raw::humid_specific_heat_j_per_kg_k(0.008);
                    (q / (cp * (l.set_point_c - supply_c))).clamp(b.minimum_kg_per_s, b.largest_kg_per_s)
                })
                .sum();
            most = most.max(sum);
        }
    }
    most
}

/// Sizes the all-air scheme.
///
/// Served are the rooms that the decoupled scheme serves with terminals or primary air. A box carries the room's peak
/// sensible load with the spare of the terminals; the air handler carries the largest coincident flow with the spare of
/// the primary-air unit; chillers and boilers have the spare of the plant; fans, chillers, tower and pumps are of the
/// project's efficiency.
///
/// # Errors
/// Supply air that is not colder than a room; a coil that no water of the baseline can make; a machine that refuses its
/// data; no room on the system.
pub fn all_air_design(project: &Project, design: &Design) -> Result<AllAirDesign, SetUpError> {
    let a = &project.all_air;
    let p = design.site.pressure_pa;
    let cp = raw::humid_specific_heat_j_per_kg_k(0.008);
    let supply_c =
        within("supply air of the all-air scheme in degC", a.supply.value.to_celsius(), 5.0, 20.0)?;
    let spare = 1.0 + a.spare.value.to_ratio();
    let heating_rise = a.heating_rise.value.to_kelvin();
    let mut boxes = vec![AllAirBox::default(); project.rooms.len()];
    let (mut area, mut cooling_c, mut heating_c) = (0.0, 0.0, 0.0);
    for (i, room) in project.rooms.iter().enumerate() {
        let (n, l) = (&design.needs[i], &design.loads.rooms[i]);
        if !matches!(n.service, Service::Terminal | Service::PrimaryOnly) {
            continue;
        }
        let difference = within("room above the all-air supply in K", l.set_point_c - supply_c, 1.0, 40.0)?;
        let floor = room.floor_area.value.to_square_metres();
        area += floor;
        cooling_c += floor * l.set_point_c;
        heating_c += floor * l.heating_set_point_c;
        let rule = project.kind_of(room).ventilation.as_ref();
        let people = rule.map_or(0.0, |r| r.per_person.to_m3_per_s()) * room.people.value * RHO;
        let breathing = n.breathing_zone_m3_per_s * RHO;
        let by_area = (breathing - people).max(0.0);
        let fixed = n.air_changes_m3_per_s * RHO;
        let worst_effectiveness = n.effectiveness[0].min(n.effectiveness[1]).max(0.1);
        let outdoor = (breathing / worst_effectiveness).max(fixed);
        let total_changes = n.total_air_changes_m3_per_s * RHO;
        let warmest_c = l.heating_set_point_c + heating_rise;
        let heating = l.heating.load_w.max(0.0);
        let heating_flow = heating / (cp * heating_rise);
        let by_load = l.cooling.load_w.max(0.0) / (cp * difference) * spare;
        let least = (a.minimum_over_outdoor.value * outdoor).max(total_changes);
        let largest = by_load.max(least).max(n.exhaust_m3_per_s * RHO);
        let (minimum, heating_kg_per_s) = match a.minimum_flow.value {
            MinimumFlow::SingleMaximum => {
                // Reheat works at the minimum, so the minimum must carry the heating too.
                let m = (a.single_minimum.value.to_ratio() * largest).max(least).max(heating_flow * spare);
                (m, m)
            }
            MinimumFlow::DualMaximum => {
                let m = (a.dual_minimum.value.to_ratio() * largest).max(least);
                let most = a.heating_maximum.value.to_ratio() * largest;
                (m, most.max(heating_flow * spare).max(m))
            }
        };
        boxes[i] = AllAirBox {
            largest_kg_per_s: largest.max(minimum),
            minimum_kg_per_s: minimum,
            heating_kg_per_s,
            warmest_c,
            reheat_w: heating_kg_per_s * cp * (warmest_c - supply_c),
            outdoor_people_kg_per_s: people.min(breathing),
            outdoor_area_kg_per_s: by_area,
            effectiveness: n.effectiveness,
            outdoor_fixed_kg_per_s: fixed,
        };
    }
    if area <= 0.0 {
        return Err(SetUpError::Missing("room for the air handler"));
    }
    let set_points_c = [cooling_c / area, heating_c / area];
    let supply = coincident(design, supply_c, &boxes);

    // Multiple-zone outdoor air, zones at their least flow.
    let diversity = diversity(project, &boxes);
    let uncorrected: f64 = boxes
        .iter()
        .map(|b| {
            (diversity * b.outdoor_people_kg_per_s + b.outdoor_area_kg_per_s).max(b.outdoor_fixed_kg_per_s)
        })
        .sum();
    let critical = boxes
        .iter()
        .filter(|b| b.largest_kg_per_s > 0.0)
        .map(|b| {
            let zone = (b.outdoor_people_kg_per_s + b.outdoor_area_kg_per_s)
                / b.effectiveness[0].min(b.effectiveness[1]).max(0.1);
            zone.max(b.outdoor_fixed_kg_per_s) / b.minimum_kg_per_s.max(1e-9)
        })
        .fold(0.0, f64::max);
    let efficiency = within(
        "system ventilation efficiency",
        match a.multiple_zone.value {
            // ANSI/ASHRAE 62.1-2019 (from memory), as `drycoil_plant::ventilation`.
            MultipleZoneMethod::Simplified2019 if diversity < 0.6 => 0.88 * diversity + 0.22,
            MultipleZoneMethod::Simplified2019 => 0.75,
            MultipleZoneMethod::CriticalZone if uncorrected > 0.0 => 1.0 + uncorrected / supply - critical,
            MultipleZoneMethod::CriticalZone => 1.0,
        },
        0.05,
        2.0,
    )?;
    let building = design.balance.last().ok_or(SetUpError::Missing("air balance of the building"))?;
    let make_up = (building.exhaust_m3_per_s + building.pressurization_m3_per_s) * RHO;
    let outdoor = (uncorrected / efficiency).max(make_up).min(supply);
    let outdoor_share = outdoor / supply;
    // Energy recovery is required of each air handler by its own flow.
    let largest_m3_per_s = supply * spare / RHO;
    let air_handlers = (largest_m3_per_s / a.largest_unit.value.to_m3_per_s()).ceil().max(1.0);
    let recovers = a.recovery_required(
        StandardAirFlow::m3_per_s(supply / RHO / air_handlers),
        Fraction::ratio(outdoor_share),
    );

    // The coil at the cooling and at the dehumidification condition, with room air that its own supply keeps.
    let saturation = Saturation::new(p);
    let cold_water_c = a.cold_water.value.to_celsius();
    let coil_form = CoilForm::new(BYPASS, cold_water_c, &saturation)?;
    let through = supply / (1.0 - a.duct_leakage.value.to_ratio());
    let fan_pa = a.supply_fan_pressure.value.to_pascals();
    let fan_k = raw::volume_m3_per_kg(supply_c, 0.009, p) * fan_pa / (a.fan_efficiency.value.to_ratio() * cp);
    let coil_leaving_c = supply_c - a.duct_gain.value.to_kelvin() - fan_k;
    within("air behind the all-air coil in degC", coil_leaving_c, cold_water_c + 0.5, 20.0)?;
    let latent = design.loads.building.latent_w / raw::vapour_enthalpy_j_per_kg(24.0) / supply;
    let mut worst: Option<CoilStep> = None;
    for c in [&design.conditions.cooling, &design.conditions.dehumidification] {
        let outside = Air { t: c.dry_bulb_c, w: c.humidity_ratio_kg_per_kg };
        let mut w = 0.009;
        let mut step = CoilStep::idle(outside);
        for _ in 0..200 {
            let back = Air { t: set_points_c[0], w: w + latent };
            let x = outdoor / supply;
            let mixed_w = back.w + x * (outside.w - back.w);
            let mixed_h = back.h() + x * (outside.h() - back.h());
            let (mixed, _) = saturation.settle(mixed_h, mixed_w);
            step = coil_form.run(&saturation, mixed.air, None, Some(coil_leaving_c));
            let change = (step.leaving.w - w).abs();
            w = step.leaving.w;
            if change < 1e-9 {
                break;
            }
        }
        if worst.is_none_or(|b| step.total > b.total) {
            worst = Some(step);
        }
    }
    let coil = worst.ok_or(SetUpError::Missing("cooling condition"))?;
    let coil_w = through * coil.total;

    // Heating at its design condition: rooms, and outdoor air beyond what the supply may be.
    let room_heating_w: f64 = boxes
        .iter()
        .zip(&design.loads.rooms)
        .filter(|(b, _)| b.largest_kg_per_s > 0.0)
        .map(|(_, l)| l.heating.load_w.max(0.0))
        .sum();
    let least: f64 = boxes.iter().map(|b| b.minimum_kg_per_s.max(b.heating_kg_per_s)).sum();
    let outside_c = design.conditions.heating.dry_bulb_c;
    let air = least.min(supply);
    let mixed_c = set_points_c[1] + outdoor.min(air) / air.max(1e-9) * (outside_c - set_points_c[1]);
    let central_heating_w = air * cp * (coil_leaving_c - mixed_c).max(0.0);
    let reheat_w = air * cp * (set_points_c[1] - supply_c.max(mixed_c)).max(0.0);

    let sensible_units_w: f64 = design
        .needs
        .iter()
        .zip(&design.loads.rooms)
        .filter(|(n, _)| n.service == Service::SensibleUnits)
        .map(|(_, l)| l.cooling.load_w.max(0.0) * (1.0 + crate::prepare::SENSIBLE_UNIT_FAN_SHARE))
        .sum();
    let water = water_design(
        project,
        design,
        coil_w,
        sensible_units_w,
        central_heating_w
            + match a.boxes.value {
                BoxKind::HotWaterReheat => room_heating_w + reheat_w,
                BoxKind::ElectricReheat => 0.0,
            },
    )?;
    Ok(AllAirDesign {
        boxes,
        supply_kg_per_s: supply,
        largest_kg_per_s: supply * (1.0 + a.spare.value.to_ratio()),
        diversity,
        uncorrected_kg_per_s: uncorrected,
        ventilation_efficiency: efficiency,
        outdoor_kg_per_s: outdoor,
        make_up_kg_per_s: make_up,
        recovers,
        set_points_c,
        coil,
        coil_air_kg_per_s: through,
        coil_w,
        sensible_units_w,
        room_heating_w: room_heating_w + reheat_w,
        central_heating_w,
        air_handlers,
        water,
        input: a.clone(),
    })
}

/// People of the building at the same time over the sum of the peaks of its rooms.
fn diversity(project: &Project, boxes: &[AllAirBox]) -> f64 {
    let sum: f64 = served_people(project, boxes, |_| 1.0);
    if sum <= 0.0 {
        return 1.0;
    }
    let mut most: f64 = 0.0;
    for day in DayType::ALL {
        for hour in 0..24 {
            most = most.max(served_people(project, boxes, |room| {
                project.profile_of(room).share(UseShare::People, day, hour)
            }));
        }
    }
    (most / sum).clamp(0.0, 1.0)
}

fn served_people(
    project: &Project,
    boxes: &[AllAirBox],
    share: impl Fn(&drycoil_project::Room) -> f64,
) -> f64 {
    project
        .rooms
        .iter()
        .zip(boxes)
        .filter(|(_, b)| b.largest_kg_per_s > 0.0)
        .map(|(r, _)| r.people.value * share(r))
        .sum()
}

fn water_design(
    project: &Project,
    design: &Design,
    coil_w: f64,
    sensible_units_w: f64,
    heat_w: f64,
) -> Result<WaterPlantDesign, SetUpError> {
    let p = &project.plant;
    let cold_water_c = project.all_air.cold_water.value.to_celsius();
    let w = &project.water;
    let spare = 1.0 + p.spare.value.to_ratio();
    // Server rooms stand beside the air handler: a machine of their own on the water of the decoupled scheme's sensible loop,
    // so that they are the same in both schemes and no large machine cycles at night for them.
    let load = coil_w;
    let sensible_c = design.dew_point.sensible_water_c.max(cold_water_c);
    let capacity = load * spare;
    let count = p.chillers.value.max((capacity / p.largest_chiller.value.to_watts()).ceil() as u32).max(1);
    let each = capacity / f64::from(count);
    let machine = chiller(project, each.max(1.0))?;
    let design_tower_c = design.plant.tower_wet_bulb_c + p.tower_approach.value.to_kelvin();
    let condenser = Condenser::Entering {
        temperature: Temperature::celsius(design_tower_c),
        capacity_rate: machine.rating.condenser_capacity_rate,
    };
    let at_design = machine.run(
        Power::watts((load / f64::from(count)).min(each)),
        Temperature::celsius(cold_water_c),
        condenser,
    )?;
    let rejected = (load + sensible_units_w) * (1.0 + 1.0 / at_design.cop.max(0.1));
    let friction = w.pipe_friction_pa_per_m.value
        * w.circuit_length.value.to_metres()
        * (1.0 + w.fittings.value.to_ratio());
    let terminal = w.terminal_drop.value.to_pascals();
    let drop = w.machine_drop.value.to_pascals();
    let flow = |heat: f64, rise: f64| heat / (WATER_CP * WATER_RHO * rise);
    let units_rise = project.terminals.water_rise.value.to_kelvin();
    let coil_flow = flow(coil_w, project.all_air.cold_water_rise.value.to_kelvin());
    let units_flow = flow(sensible_units_w, units_rise);
    Ok(WaterPlantDesign {
        arrangement: if sensible_units_w > 0.0 {
            Arrangement::SeparatePlants
        } else {
            Arrangement::SingleColdLoop
        },
        cold: BankDesign { count, capacity_w: each, leaving_c: cold_water_c },
        warm: (sensible_units_w > 0.0).then_some(BankDesign {
            count: 1,
            capacity_w: sensible_units_w * spare,
            leaving_c: sensible_c,
        }),
        tower_heat_w: rejected,
        tower_wet_bulb_c: design.plant.tower_wet_bulb_c,
        pressure_pa: design.site.pressure_pa,
        // Outdoor air is this scheme's free cooling.
        plate: None,
        coil_pump: PumpPoint { flow_m3_per_s: coil_flow, head_pa: friction + terminal },
        sensible_pump: PumpPoint { flow_m3_per_s: units_flow, head_pa: friction + terminal },
        cold_pump: PumpPoint { flow_m3_per_s: coil_flow, head_pa: drop },
        warm_pump: PumpPoint { flow_m3_per_s: units_flow, head_pa: drop },
        condenser_pump: PumpPoint {
            flow_m3_per_s: flow(rejected, p.tower_range.value.to_kelvin()),
            head_pa: friction * 0.5 + drop * 2.0,
        },
        hot_pump: PumpPoint {
            flow_m3_per_s: flow(heat_w, project.terminals.heating_water_drop.value.to_kelvin()),
            head_pa: friction + terminal + drop,
        },
        heating_w: heat_w * spare,
        hot_water_c: project.all_air.heating_water.value.to_celsius(),
    })
}

impl AllAirDesign {
    /// Outdoor-air intake, kg/s, at a moment: uncorrected outdoor air, supply and share of the critical zone.
    #[inline]
    pub fn intake(&self, uncorrected: f64, supply: f64, critical: f64) -> f64 {
        match self.input.outdoor_air_reset.value {
            OutdoorAirReset::Design => self.outdoor_kg_per_s,
            OutdoorAirReset::Dynamic => {
                if supply <= 0.0 || uncorrected <= 0.0 {
                    return self.make_up_kg_per_s.min(supply.max(0.0));
                }
                let efficiency = 1.0 + uncorrected / supply - critical.min(1.0);
                // A zone that needs all of its supply as outdoor air makes the whole supply outdoor air.
                let now = if efficiency * supply <= uncorrected { supply } else { uncorrected / efficiency };
                now.min(self.outdoor_kg_per_s)
            }
        }
    }
}
