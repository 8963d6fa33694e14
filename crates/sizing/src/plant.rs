//! Sizing of the water plant: all three arrangements, chillers, tower, pumps, pipes, heating.

use crate::design::{
    ArrangementDesign, CycleSteps, DewPointDecision, Loads, MachineDesign, PipeDesign, PlantDesign,
    PrimaryUnitDesign, PumpDesign, RoomNeeds, Service, TerminalDesign,
};
use crate::machines::{WATER_CP, WATER_RHO, chiller};
use crate::size::SizingError;
use crate::told::told;
use crate::tower::Tower;
use drycoil_findings::{Finding, Place, registry};
use drycoil_plant::PlantError;
use drycoil_plant::chiller::Condenser;
use drycoil_plant::loops::{self, LoopDemand};
use drycoil_project::{Arrangement, HeatingKind, HeatingSource, Project};
use drycoil_units::{
    MassFlow, Power, PressureDifference, Quantity, SpecificHeat, Temperature, TemperatureDifference,
    Velocity, WaterFlow,
};
use drycoil_water::WaterError;
use drycoil_water::liquid::WaterProperties;
use drycoil_water::pipe::{
    FlowControl, MaximumFlowRule, OperatingHours, PipeLimit, PipeLimits, PipeMaterial, size_pipe,
};

/// Entering water from which a coil is exempt, 50 degF, and the rise that others must have, 15 degF (WAC 51-11C-40338,
/// which mirrors ANSI/ASHRAE/IES 90.1 6.5.4.7).
const EXEMPT_WATER_C: f64 = 10.0;
const COIL_RISE_K: f64 = 15.0 / 1.8;
/// Velocity limit of mains, m/s. Common practice, no source.
const MAIN_VELOCITY: f64 = 3.0;

fn refuse(e: impl std::fmt::Display) -> SizingError {
    SizingError::one(registry::plant::MACHINE, e.to_string())
}

/// Sizes the plant.
#[allow(clippy::too_many_arguments)]
pub(crate) fn size(
    project: &Project,
    tower: &Tower,
    loads: &Loads,
    needs: &[RoomNeeds],
    decision: &DewPointDecision,
    terminals: &[TerminalDesign],
    unit: &PrimaryUnitDesign,
    findings: &mut Vec<Finding>,
) -> Result<PlantDesign, SizingError> {
    let each =
        |f: fn(&TerminalDesign) -> f64| terminals.iter().map(|t| f(t) * f64::from(t.units)).sum::<f64>();
    let sum_of_peaks = each(|t| t.coil_duty_w);
    let sum_of_flows = each(|t| t.water_m3_per_s);
    // Coincident over sum of peaks, from the design days, unless entered.
    let computed = if loads.building.cooling_sum_of_peaks_w > 0.0 {
        (loads.building.cooling.load_w / loads.building.cooling_sum_of_peaks_w).min(1.0)
    } else {
        1.0
    };
    let diversity = project.water.diversity.as_ref().map_or(computed, |d| d.value.to_ratio());
    // Rooms with dry units of their own run round the clock, so they count in full.
    let own_units: f64 = needs
        .iter()
        .zip(&loads.rooms)
        .filter(|(n, _)| n.service == Service::SensibleUnits)
        .map(|(_, l)| l.cooling.load_w)
        .sum();
    let rise = project.terminals.water_rise.value.to_kelvin();
    let sensible_load = sum_of_peaks * diversity + own_units;
    let sensible_flow = sum_of_flows * diversity + own_units / (WATER_CP * WATER_RHO * rise);
    let drying_load = unit.coil_load_w;
    let drying_flow =
        drying_load / (WATER_CP * WATER_RHO * (unit.drying_water_leaving_c - unit.drying_water_c));

    coil_rule(project, decision.sensible_water_c, findings);
    let mut arrangements = Vec::new();
    for arrangement in Arrangement::ALL {
        arrangements.push(arrange(
            project,
            tower,
            arrangement,
            decision.sensible_water_c,
            (sensible_load, sensible_flow),
            (drying_load, drying_flow, unit.drying_water_c),
            findings,
        )?);
    }
    let chosen = arrangements.iter().find(|a| a.chosen).expect("one of the three is the project's");
    let compressors: f64 = chosen.chillers.iter().map(|c| c.input_w).sum();
    let rejected = sensible_load + drying_load + compressors;
    let t = tower.at_design(rejected).map_err(refuse)?;

    let terminals_heat = if project.terminals.heating.value == HeatingKind::HotWater {
        each(|t| t.heating_load_w)
    } else if project.terminals.heating.value == HeatingKind::Perimeter {
        loads.building.heating.load_w
    } else {
        0.0
    };
    let primary_heat = unit.heating_load_w;
    let heat = (terminals_heat + primary_heat) * (1.0 + project.plant.spare.value.to_ratio());
    let hot = project.terminals.heating_water.value.to_celsius();
    let drop = project.terminals.heating_water_drop.value.to_kelvin();
    let hot_flow = (terminals_heat + primary_heat) / (WATER_CP * WATER_RHO * drop);
    let efficiency = match project.plant.heating.value {
        HeatingSource::ElectricBoiler => 1.0,
        HeatingSource::Boiler | HeatingSource::HeatRecoveryChiller => {
            project.plant.boiler_efficiency.value.to_ratio()
        }
    };
    let count = 2;
    Ok(PlantDesign {
        sensible_load_w: sensible_load,
        drying_load_w: drying_load,
        diversity,
        tower_heat_w: rejected,
        tower_flow_m3_per_s: t.flow_m3_per_s,
        tower_leaving_c: t.leaving_c,
        tower_entering_c: t.entering_c,
        tower_wet_bulb_c: t.wet_bulb_c,
        tower_characteristic: t.characteristic,
        tower_fan_w: rejected * project.plant.tower_fan.value,
        evaporation_kg_per_s: t.evaporation_kg_per_s,
        makeup_kg_per_s: t.makeup_kg_per_s,
        heating: MachineDesign {
            service: match project.plant.heating.value {
                HeatingSource::Boiler => "boilers",
                HeatingSource::ElectricBoiler => "electric boilers",
                HeatingSource::HeatRecoveryChiller => "boilers beside the heat-recovery chiller",
            }
            .to_owned(),
            count,
            capacity_w: heat / f64::from(count),
            leaving_c: hot,
            entering_c: hot - drop,
            performance: efficiency,
            input_w: (terminals_heat + primary_heat) / efficiency,
            cycle: None,
        },
        heating_terminals_w: terminals_heat,
        heating_primary_w: primary_heat,
        heating_pump: pump(
            project,
            "hot water",
            hot_flow,
            friction(project) + terminal(project) + machine(project),
        ),
        heating_pipe: pipe(project, "hot water", hot_flow, hot, Rule::Exempt, findings)?,
        arrangements,
    })
}

/// The energy standard's rule for chilled-water coils, where the terminals are exempt and the drying coil falls short.
fn coil_rule(project: &Project, sensible_water_c: f64, findings: &mut Vec<Finding>) {
    let rise = project.primary_air.drying_water_rise.value;
    if sensible_water_c >= EXEMPT_WATER_C && rise.to_kelvin() < COIL_RISE_K - 1e-9 {
        findings.push(
            Finding::new(
                registry::plant::COIL_EXEMPT,
                format!(
                    "the water of the drying coil rises by {}, less than the energy standard asks of chilled-water coils",
                    rise.show(project.told_units())
                ),
            )
            .at(Place::part("plant"))
            .value(rise.show(project.told_units()))
            .allowed(format!(
                "at least {}",
                TemperatureDifference::kelvin(COIL_RISE_K).show(project.told_units())
            ))
            .hint(format!(
                "raise `primary_air.drying_water_rise`, or show an exemption under the adopted edition; the terminal coils are \
                 exempt, as their water enters at {} or more",
                Temperature::celsius(EXEMPT_WATER_C).show(project.told_units())
            )),
        );
    }
}

fn friction(project: &Project) -> f64 {
    let w = &project.water;
    w.pipe_friction_pa_per_m.value * w.circuit_length.value.to_metres() * (1.0 + w.fittings.value.to_ratio())
}

fn terminal(project: &Project) -> f64 {
    project.water.terminal_drop.value.to_pascals()
}

fn machine(project: &Project) -> f64 {
    project.water.machine_drop.value.to_pascals()
}

fn pump(project: &Project, service: &str, flow: f64, head_pa: f64) -> PumpDesign {
    PumpDesign {
        service: service.to_owned(),
        flow_m3_per_s: flow,
        head_pa,
        power_w: flow * head_pa / project.water.pump_efficiency.value.to_ratio(),
    }
}

#[derive(Clone, Copy, PartialEq)]
enum Rule {
    Standard,
    Exempt,
}

fn pipe(
    project: &Project,
    service: &str,
    flow: f64,
    t_c: f64,
    rule: Rule,
    findings: &mut Vec<Finding>,
) -> Result<PipeDesign, SizingError> {
    let none = |limit: &str| PipeDesign {
        service: service.to_owned(),
        flow_m3_per_s: flow,
        size: "none".to_owned(),
        inner_diameter_m: 0.0,
        velocity_m_per_s: 0.0,
        friction_pa_per_m: 0.0,
        limit: limit.to_owned(),
    };
    if flow <= 0.0 {
        return Ok(none("no flow"));
    }
    let water = WaterProperties::at(Temperature::celsius(t_c)).map_err(refuse)?;
    let maximum_flow = match rule {
        Rule::Standard => MaximumFlowRule::Applies(
            OperatingHours::of(project.water.hours.value.to_hours()).map_err(refuse)?,
            FlowControl::VariableFlowVariableSpeed,
        ),
        Rule::Exempt => MaximumFlowRule::Exempt,
    };
    let limits = PipeLimits {
        friction_per_metre: PressureDifference::pascals(project.water.pipe_friction_pa_per_m.value),
        velocity: Velocity::metres_per_second(MAIN_VELOCITY),
        maximum_flow,
    };
    match size_pipe(&water, PipeMaterial::SteelSchedule40, WaterFlow::m3_per_s(flow), &limits) {
        Ok(s) => {
            let limit = s.smaller.last().map_or("smallest size of the table", |t| match t.exceeded.first() {
                Some(PipeLimit::Friction) => "friction of the next smaller size",
                Some(PipeLimit::Velocity) => "velocity in the next smaller size",
                Some(PipeLimit::MaximumFlow) => "maximum flow of the standard for the next smaller size",
                None => "next smaller size",
            });
            Ok(PipeDesign {
                service: service.to_owned(),
                flow_m3_per_s: flow,
                size: format!("{} in steel schedule 40", s.chosen.size.nominal),
                inner_diameter_m: s.chosen.size.inner_diameter_m(),
                velocity_m_per_s: s.chosen.drop.velocity_m_per_s,
                friction_pa_per_m: s.chosen.drop.friction_pa_per_m,
                limit: limit.to_owned(),
            })
        }
        Err(e) => {
            findings.push(
                Finding::new(
                    registry::plant::PIPE_LIMIT,
                    match &e {
                        WaterError::NoSizeLargeEnough { largest, .. } => format!(
                            "{service}: {} exceeds the limits of the largest pipe of the table, {largest}",
                            WaterFlow::m3_per_s(flow).show(project.told_units())
                        ),
                        _ => told(&format!("{service}: {e}"), project.told_units()),
                    },
                )
                .at(Place::part("plant"))
                .value(WaterFlow::m3_per_s(flow).show(project.told_units())),
            );
            Ok(none("no size of the table carries the flow"))
        }
    }
}

#[allow(clippy::too_many_arguments)]
fn arrange(
    project: &Project,
    tower: &Tower,
    arrangement: Arrangement,
    water_c: f64,
    (sensible_load, sensible_flow): (f64, f64),
    (drying_load, drying_flow, cold_c): (f64, f64, f64),
    findings: &mut Vec<Finding>,
) -> Result<ArrangementDesign, SizingError> {
    let chosen = project.water.arrangement.value == arrangement;
    let state = loops::solve(
        match arrangement {
            Arrangement::SingleCold => loops::Arrangement::SingleColdLoop,
            Arrangement::Separate => loops::Arrangement::SeparatePlants,
            Arrangement::ReturnReuse => loops::Arrangement::ReturnReuse,
        },
        &LoopDemand {
            drying_load: Power::watts(drying_load),
            drying_flow: MassFlow::kg_per_s(drying_flow * WATER_RHO),
            sensible_load: Power::watts(sensible_load),
            sensible_flow: MassFlow::kg_per_s(sensible_flow * WATER_RHO),
            cold_supply: Temperature::celsius(cold_c),
            sensible_supply: Temperature::celsius(water_c),
            cold_loop_gain: Power::watts(0.0),
            sensible_loop_gain: Power::watts(0.0),
            specific_heat: SpecificHeat::j_per_kg_k(WATER_CP),
        },
    )
    .map_err(refuse)?;
    if chosen && arrangement == Arrangement::ReturnReuse && state.make_up_flow.si() > 1e-9 {
        findings.push(
            Finding::new(
                registry::plant::BLEND_SHORT,
                "the drying return does not supply the terminals alone at design",
            )
            .at(Place::part("plant"))
            .value(WaterFlow::m3_per_s(state.make_up_flow.si() / WATER_RHO).show(project.told_units())),
        );
    }
    let mut ignored = Vec::new();
    let mut pipes = Vec::new();
    let out = if chosen { findings } else { &mut ignored };
    let mut add = |service: &str, flow: f64, t: f64| -> Result<(), SizingError> {
        pipes.push(pipe(project, service, flow, t, Rule::Standard, out)?);
        Ok(())
    };
    let cold_plant = state.cold_plant.flow.si() / WATER_RHO;
    let warm_plant = state.warm_plant.flow.si() / WATER_RHO;
    let mut chillers = Vec::new();
    let mut pumps = Vec::new();
    add("drying water", drying_flow, cold_c)?;
    add("sensible water", sensible_flow, water_c)?;
    let head = friction(project) + terminal(project);
    pumps.push(pump(project, "drying water", drying_flow, head));
    pumps.push(pump(project, "sensible water", sensible_flow, head));
    let mut input = 0.0;
    let mut machine_set =
        |service: &str, load: f64, leaving: f64, entering: f64| -> Result<(), SizingError> {
            let m = machines(project, tower, service, load, leaving, entering).map_err(refuse)?;
            input += m.input_w;
            chillers.push(m);
            Ok(())
        };
    if arrangement == Arrangement::Separate {
        machine_set(
            "drying water",
            state.cold_plant.load.to_watts(),
            cold_c,
            state.cold_plant.return_water.si(),
        )?;
        machine_set(
            "sensible water",
            state.warm_plant.load.to_watts(),
            water_c,
            state.warm_plant.return_water.si(),
        )?;
        pumps.push(pump(project, "drying chillers", cold_plant, machine(project)));
        pumps.push(pump(project, "sensible chillers", warm_plant, machine(project)));
    } else {
        machine_set(
            "cold water",
            state.cold_plant.load.to_watts(),
            cold_c,
            state.cold_plant.return_water.si(),
        )?;
        add("plant main", cold_plant, cold_c)?;
        pumps.push(pump(project, "chillers", cold_plant, machine(project)));
    }
    let heat = sensible_load + drying_load + input;
    let condenser_flow = heat / (WATER_CP * WATER_RHO * project.plant.tower_range.value.to_kelvin());
    add("condenser water", condenser_flow, project.plant.rating_condenser.value.to_celsius())?;
    pumps.push(pump(
        project,
        "condenser water",
        condenser_flow,
        friction(project) * 0.5 + machine(project) * 2.0,
    ));
    input += pumps.iter().map(|p| p.power_w).sum::<f64>() + heat * project.plant.tower_fan.value;
    Ok(ArrangementDesign {
        arrangement: arrangement.word().to_owned(),
        chosen,
        chillers,
        pumps,
        pipes,
        sensible_flow_m3_per_s: sensible_flow,
        sensible_return_c: state.sensible_return.si(),
        drying_flow_m3_per_s: drying_flow,
        drying_return_c: state.drying_return.si(),
        reused_m3_per_s: state.reused_flow.si() / WATER_RHO,
        makeup_m3_per_s: state.make_up_flow.si() / WATER_RHO,
        plant_flow_m3_per_s: cold_plant + warm_plant,
        input_w: input,
        balance_residual: state.residual.to_watts().abs() / (sensible_load + drying_load).max(1.0),
    })
}

/// Chillers for a load with spare, at the tower's design water.
fn machines(
    project: &Project,
    tower: &Tower,
    service: &str,
    load: f64,
    leaving: f64,
    entering: f64,
) -> Result<MachineDesign, PlantError> {
    let p = &project.plant;
    let capacity = load * (1.0 + p.spare.value.to_ratio());
    let most = p.largest_chiller.value.to_watts();
    let count = p.chillers.value.max((capacity / most).ceil() as u32).max(1);
    let (mut performance, mut input) = (0.0, 0.0);
    let mut cycle = None;
    if load > 0.0 {
        // A rated machine large enough that its capacity at these temperatures carries the load.
        let c = chiller(project, capacity)?;
        let condenser = Condenser::Entering {
            temperature: Temperature::celsius(tower.design_leaving_c()),
            capacity_rate: c.rating.condenser_capacity_rate,
        };
        let able = c.available_capacity(Temperature::celsius(leaving), condenser)?.to_watts();
        let c = chiller(project, capacity * (capacity / able).max(1.0))?;
        let s = c.run(Power::watts(load), Temperature::celsius(leaving), condenser)?;
        performance = s.cop;
        input = load / s.cop;
        cycle = Some(CycleSteps {
            load_w: load,
            evaporating_c: s.evaporating.to_celsius(),
            lift_k: s.lift.to_kelvin(),
            efficiency: s.efficiency,
            cycling: s.efficiency * s.ideal_cop / s.cop,
            rated_w: c.rating.capacity.to_watts(),
            condenser_c: tower.design_leaving_c(),
            fixed_loss_share: c.settings.fixed_loss_share,
        });
    }
    Ok(MachineDesign {
        service: service.to_owned(),
        count,
        capacity_w: capacity / f64::from(count),
        leaving_c: leaving,
        entering_c: entering,
        performance,
        input_w: input,
        cycle,
    })
}
