//! The interpreter.

use crate::declare::{
    Declaration, DeclarationError, Direction, Expr, Gathered, Initial, Item, Kind, NeighbourFigure, Region,
    Scope,
};
use crate::program::{CYCLE, Compiler, Names, Place, Program};
use crate::setup::Setup;
use drycoil_units::Time;
use std::fmt;
use std::sync::Arc;

macro_rules! plain {
    ($(#[$outer:meta])* $struct:ident { $($(#[$doc:meta])* $name:ident: $type:ty),* $(,)? }) => {
        $(#[$outer])*
        #[derive(Debug, Clone, Copy, PartialEq)]
        pub struct $struct { $($(#[$doc])* pub $name: $type,)* }
        impl $struct {
            /// Names of the fields.
            pub const NAMES: &'static [&'static str] = &[$(stringify!($name)),*];
        }
    };
}

plain! {
    /// What the building tells in one step. A reading that is not a number counts as failed.
    BuildingInputs {
        /// Operation is asked for.
        run_request: bool,
        /// Life safety has priority.
        life_safety: bool,
        /// Smoke control has priority.
        smoke_control: bool,
        /// Dew point of the primary air, degC.
        primary_dew_point_c: f64,
        /// Its quality.
        primary_dew_point_good: bool,
        /// Air temperature leaving the drying coil, degC.
        drying_coil_temperature_c: f64,
        /// Its quality.
        drying_coil_temperature_good: bool,
        /// Temperature of the sensible water, degC.
        water_temperature_c: f64,
        /// Its quality.
        water_temperature_good: bool,
    }
}

plain! {
    /// What a zone tells in one step. A reading that is not a number counts as failed.
    ZoneInputs {
        /// Dew point of the room, degC.
        dew_point_c: f64,
        /// Its quality.
        dew_point_good: bool,
        /// Temperature of the room, degC.
        room_temperature_c: f64,
        /// Its quality.
        room_temperature_good: bool,
        /// Occupied.
        occupied: bool,
        /// Primary damper wanted by ventilation, 0 minimum to 1 full.
        ventilation_demand: f64,
        /// Water at the coil.
        wet_switch: bool,
        /// Room pressure control has priority over the primary damper.
        pressure_priority: bool,
    }
}

fn bit(value: bool) -> f64 {
    f64::from(u8::from(value))
}

impl BuildingInputs {
    /// SI value of the input signal of this name; yes is 1.
    pub fn value(&self, name: &str) -> Option<f64> {
        Some(match name {
            "run_request" => bit(self.run_request),
            "life_safety" => bit(self.life_safety),
            "smoke_control" => bit(self.smoke_control),
            "primary_dew_point" => self.primary_dew_point_c,
            "primary_dew_point_good" => bit(self.primary_dew_point_good),
            "drying_coil_temperature" => self.drying_coil_temperature_c,
            "drying_coil_temperature_good" => bit(self.drying_coil_temperature_good),
            "water_temperature" => self.water_temperature_c,
            "water_temperature_good" => bit(self.water_temperature_good),
            _ => return None,
        })
    }

    fn values(&self) -> [(&'static str, f64); 9] {
        [
            ("run_request", bit(self.run_request)),
            ("life_safety", bit(self.life_safety)),
            ("smoke_control", bit(self.smoke_control)),
            ("primary_dew_point", self.primary_dew_point_c),
            ("primary_dew_point_good", bit(self.primary_dew_point_good)),
            ("drying_coil_temperature", self.drying_coil_temperature_c),
            ("drying_coil_temperature_good", bit(self.drying_coil_temperature_good)),
            ("water_temperature", self.water_temperature_c),
            ("water_temperature_good", bit(self.water_temperature_good)),
        ]
    }
}

impl ZoneInputs {
    /// SI value of the input signal of this name; yes is 1.
    pub fn value(&self, name: &str) -> Option<f64> {
        self.values().iter().find(|(n, _)| *n == name).map(|(_, v)| *v)
    }

    fn values(&self) -> [(&'static str, f64); 8] {
        [
            ("dew_point", self.dew_point_c),
            ("dew_point_good", bit(self.dew_point_good)),
            ("room_temperature", self.room_temperature_c),
            ("room_temperature_good", bit(self.room_temperature_good)),
            ("occupied", bit(self.occupied)),
            ("ventilation_demand", self.ventilation_demand),
            ("wet_switch", bit(self.wet_switch)),
            ("pressure_priority", bit(self.pressure_priority)),
        ]
    }
}

/// A change of stage.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Change {
    /// Zone, or none for the building.
    pub zone: Option<usize>,
    /// Region, counted in the order of [`Declaration::regions`].
    pub region: usize,
    /// Stage that was left.
    pub from: usize,
    /// Stage that is taken.
    pub to: usize,
    /// Transition of the region that was taken.
    pub transition: usize,
}

/// What went wrong in setting up.
#[derive(Debug, Clone, PartialEq)]
pub enum MachineError {
    /// The declaration is refused.
    Declaration(DeclarationError),
    /// A parameter or input of the declaration has no value here.
    NoValue(&'static str),
}

impl fmt::Display for MachineError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Declaration(error) => write!(f, "{error}"),
            Self::NoValue(name) => write!(f, "`{name}` of the declaration has no value"),
        }
    }
}

impl std::error::Error for MachineError {}

/// Why a step is refused.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum StepError {
    /// The step is not longer than zero, or longer than an hour; s.
    Duration(f64),
    /// Not one input for each zone.
    Zones {
        /// Inputs given.
        given: usize,
        /// Zones.
        zones: usize,
    },
    /// Ventilation demand outside 0 to 1.
    Demand {
        /// Zone.
        zone: usize,
        /// Value.
        value: f64,
    },
}

impl fmt::Display for StepError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Duration(s) => write!(f, "a step of {s} s is outside 0 to 3600 s"),
            Self::Zones { given, zones } => write!(f, "inputs for {given} zones, the sequence has {zones}"),
            Self::Demand { zone, value } => {
                write!(f, "ventilation demand {value} of zone {zone} is outside 0 to 1")
            }
        }
    }
}

impl std::error::Error for StepError {}

#[derive(Debug, Clone)]
struct Way {
    transition: usize,
    to: usize,
    when: Program,
    delay: Program,
}

#[derive(Debug, Clone)]
struct RegionPlan {
    index: usize,
    slot: usize,
    /// First of its waiting times among those of its scope.
    waits: usize,
    /// How many of them.
    most: usize,
    /// For each stage the ways out of it.
    ways: Vec<Vec<Way>>,
}

#[derive(Debug, Clone)]
enum Work {
    Rule(usize, Program),
    Region(RegionPlan),
}

#[derive(Debug, Clone)]
struct NeighbourPlan {
    slot: usize,
    figure: NeighbourFigure,
    value: usize,
    counts: usize,
    otherwise: Program,
}

#[derive(Debug, Clone)]
enum GatherPlan {
    Votes { slot: usize, when: Program, votes: usize },
    Highest { slot: usize, when: Program, value: usize, votes: usize, ignored: usize, otherwise: usize },
}

#[derive(Debug, Clone)]
struct Plan {
    sensing: Vec<Work>,
    neighbours: Vec<NeighbourPlan>,
    judging: Vec<Work>,
    gathering: Vec<GatherPlan>,
    building: Vec<Work>,
    zone: Vec<Work>,
    neighbour_lists: Vec<Vec<usize>>,
    building_inputs: Vec<(usize, usize)>,
    zone_inputs: Vec<(usize, usize)>,
    kept: Vec<Place>,
    cycle: usize,
    zone_width: usize,
    zone_waits: usize,
}

/// Where a signal, or the stage of a region, of the zones is found.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ZoneSlot(usize);

/// Where a signal, or the stage of a region, of the building is found.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct BuildingSlot(usize);

/// What one machine remembers between steps: stages, waiting times, and values that are read again.
///
/// Two machines of one declaration and setup with equal memory behave alike for ever.
#[derive(Debug, Clone, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Memory(Vec<u64>);

/// A sequence at work.
///
/// ```
/// use drycoil_sequence::*;
/// use drycoil_units::{Temperature, Time};
/// let f = Temperature::fahrenheit;
/// let parameters = Parameters::for_design(f(55.0), f(57.0), f(48.0));
/// let zone = |id: &str| ZoneSettings { id: id.into(), sensor: ZoneSensor::Own, votes: 1, neighbours: vec![], room_limit: None };
/// let setup = Setup::new(parameters, vec![zone("office"), zone("conference")])?;
/// let declaration = dew_point_sequence(WaterOrder::AfterValves);
/// let mut machine = Machine::new(&declaration, &setup)?;
///
/// let building = BuildingInputs {
///     run_request: true, life_safety: false, smoke_control: false,
///     primary_dew_point_c: f(48.0).to_celsius(), primary_dew_point_good: true,
///     drying_coil_temperature_c: f(48.5).to_celsius(), drying_coil_temperature_good: true,
///     water_temperature_c: f(57.0).to_celsius(), water_temperature_good: true,
/// };
/// let room = |dew_point: f64| ZoneInputs {
///     dew_point_c: f(dew_point).to_celsius(), dew_point_good: true,
///     room_temperature_c: 24.0, room_temperature_good: true, occupied: true,
///     ventilation_demand: 0.2, wet_switch: false, pressure_priority: false,
/// };
/// for _ in 0..120 {
///     machine.step(Time::seconds(10.0), &building, &[room(52.0), room(52.0)])?;
/// }
/// assert_eq!(machine.stage_name("zone_stage", Some(1)), Some("normal"));
/// for _ in 0..60 {
///     machine.step(Time::seconds(10.0), &building, &[room(52.0), room(58.5)])?;
///     for change in machine.changes() {
///         // Every change says why.
///         assert!(!machine.reason(change).is_empty());
///     }
/// }
/// // The conference room shuts its own coil; neither its neighbour nor the water of the building is touched.
/// assert_eq!(machine.stage_name("zone_stage", Some(1)), Some("coil_shut"));
/// assert_eq!(machine.stage_name("zone_stage", Some(0)), Some("normal"));
/// let water = machine.building_slot("water_set_point").unwrap();
/// assert!((machine.building_value(water) - f(57.0).to_celsius()).abs() < 1e-9);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone)]
pub struct Machine {
    declaration: Arc<Declaration>,
    plan: Arc<Plan>,
    zones: usize,
    zone_values: Vec<f64>,
    building_values: Vec<f64>,
    zone_waits: Vec<f64>,
    building_waits: Vec<f64>,
    names: Arc<Names>,
    changes: Vec<Change>,
}

struct Builder<'a> {
    compiler: Compiler<'a>,
    waits: [usize; 2],
}

impl Builder<'_> {
    fn slot(&self, name: &str, scope: Scope) -> Result<usize, DeclarationError> {
        match (self.compiler.names.place(name, scope)?, scope) {
            (Place::Zone(k), Scope::Zone) | (Place::Building(k), Scope::Building) => Ok(k),
            _ => Err(DeclarationError::Unknown { name: name.to_owned(), at: "plan".to_owned() }),
        }
    }

    fn region(&mut self, region: &Region, scope: Scope) -> Result<RegionPlan, DeclarationError> {
        let mut ways = Vec::new();
        for stage in &region.stages {
            let mut out = Vec::new();
            for (transition, t) in region.transitions.iter().enumerate() {
                if t.from.contains(&stage.name) && t.to != stage.name {
                    out.push(Way {
                        transition,
                        to: self.compiler.stage(region.name, t.to),
                        when: self.compiler.condition(&t.when, scope)?,
                        delay: self
                            .compiler
                            .value(&t.delay.map_or(Expr::Number(Kind::Count, 0.0), Expr::Parameter), scope)?,
                    });
                }
            }
            ways.push(out);
        }
        let counter = &mut self.waits[usize::from(scope == Scope::Building)];
        let waits = *counter;
        *counter += ways.iter().map(Vec::len).max().unwrap_or(0);
        let slot = self.slot(region.name, scope)?;
        let index = self.compiler.declaration.regions().position(|(_, r)| r.name == region.name).unwrap_or(0);
        self.compiler.keep(match scope {
            Scope::Zone => Place::Zone(slot),
            Scope::Building => Place::Building(slot),
        });
        let most = ways.iter().map(Vec::len).max().unwrap_or(0);
        Ok(RegionPlan { index, slot, waits, most, ways })
    }

    fn work(&mut self, items: &[Item], scope: Scope) -> Result<Vec<Work>, DeclarationError> {
        items
            .iter()
            .map(|item| match item {
                Item::Rule(rule) => {
                    Ok(Work::Rule(self.slot(rule.signal, scope)?, self.compiler.value(&rule.value, scope)?))
                }
                Item::Region(region) => Ok(Work::Region(self.region(region, scope)?)),
            })
            .collect()
    }
}

impl Machine {
    /// A sequence before its first step: every region in its first stage.
    ///
    /// # Errors
    /// A declaration that does not check, or one that wants a parameter or input that is not given here.
    pub fn new(declaration: &Declaration, setup: &Setup) -> Result<Self, MachineError> {
        declaration.check().map_err(MachineError::Declaration)?;
        let names = |scope: Scope| {
            declaration
                .parameters
                .iter()
                .filter(move |p| p.scope == scope)
                .map(|p| p.name)
                .chain(declaration.signals.iter().filter(move |s| s.scope == scope).map(|s| s.name))
                .chain(declaration.regions().filter(move |(s, _)| *s == scope).map(|(_, r)| r.name))
                .collect::<Vec<_>>()
        };
        let mut building_names = names(Scope::Building);
        building_names.push(CYCLE);
        let names = Names { zone: names(Scope::Zone), building: building_names };
        let compiler = Compiler { declaration, setup, names, kept: Vec::new(), scratch: [0; 2] };
        let mut b = Builder { compiler, waits: [0; 2] };
        let plan = Self::plan(declaration, setup, &mut b)?;
        let zones = setup.zones().len();
        let mut building_values = vec![0.0; b.compiler.names.building.len() + b.compiler.scratch[1]];
        let mut zone_row = vec![0.0; plan.zone_width];
        for p in declaration.parameters.iter().filter(|p| p.scope == Scope::Building) {
            let slot = b.slot(p.name, p.scope).map_err(MachineError::Declaration)?;
            building_values[slot] = setup.parameters().value(p.name).ok_or(MachineError::NoValue(p.name))?;
        }
        for s in &declaration.signals {
            if let Initial::Parameter(name) = s.initial {
                let value = setup.parameters().value(name).ok_or(MachineError::NoValue(name))?;
                let slot = b.slot(s.name, s.scope).map_err(MachineError::Declaration)?;
                match s.scope {
                    Scope::Building => building_values[slot] = value,
                    Scope::Zone => zone_row[slot] = value,
                }
            }
        }
        let mut zone_values = Vec::with_capacity(zones * zone_row.len());
        for zone in 0..zones {
            for p in declaration.parameters.iter().filter(|p| p.scope == Scope::Zone) {
                let slot = b.slot(p.name, p.scope).map_err(MachineError::Declaration)?;
                zone_row[slot] = setup.zone_value(zone, p.name).ok_or(MachineError::NoValue(p.name))?;
            }
            zone_values.extend_from_slice(&zone_row);
        }
        let regions = declaration.regions().count();
        Ok(Self {
            declaration: Arc::new(declaration.clone()),
            zones,
            zone_waits: vec![0.0; zones * plan.zone_waits],
            building_waits: vec![0.0; b.waits[1]],
            zone_values,
            building_values,
            names: Arc::new(b.compiler.names),
            changes: Vec::with_capacity((zones + 1) * regions),
            plan: Arc::new(plan),
        })
    }

    fn plan(declaration: &Declaration, setup: &Setup, b: &mut Builder<'_>) -> Result<Plan, MachineError> {
        let wrap = MachineError::Declaration;
        let sensing = b.work(&declaration.sensing, Scope::Zone).map_err(wrap)?;
        let mut neighbours = Vec::new();
        for rule in &declaration.neighbours {
            neighbours.push(NeighbourPlan {
                slot: b.slot(rule.signal, Scope::Zone).map_err(wrap)?,
                figure: rule.figure,
                value: b.slot(rule.value, Scope::Zone).map_err(wrap)?,
                counts: b.slot(rule.counts, Scope::Zone).map_err(wrap)?,
                otherwise: b
                    .compiler
                    .value(
                        &rule.otherwise.map_or(Expr::Number(Kind::Count, 0.0), Expr::Parameter),
                        Scope::Zone,
                    )
                    .map_err(wrap)?,
            });
        }
        let judging = b.work(&declaration.judging, Scope::Zone).map_err(wrap)?;
        let mut gathering = Vec::new();
        for gather in &declaration.gathering {
            let slot = b.slot(gather.signal, Scope::Building).map_err(wrap)?;
            gathering.push(match &gather.figure {
                Gathered::Votes { when, votes } => GatherPlan::Votes {
                    slot,
                    when: b.compiler.condition(when, Scope::Zone).map_err(wrap)?,
                    votes: b.slot(votes, Scope::Zone).map_err(wrap)?,
                },
                Gathered::HighestBeyondIgnored { when, value, votes, ignored, otherwise } => {
                    GatherPlan::Highest {
                        slot,
                        when: b.compiler.condition(when, Scope::Zone).map_err(wrap)?,
                        value: b.slot(value, Scope::Zone).map_err(wrap)?,
                        votes: b.slot(votes, Scope::Zone).map_err(wrap)?,
                        ignored: b.slot(ignored, Scope::Building).map_err(wrap)?,
                        otherwise: b.slot(otherwise, Scope::Building).map_err(wrap)?,
                    }
                }
            });
        }
        let building = b.work(&declaration.building, Scope::Building).map_err(wrap)?;
        let zone = b.work(&declaration.zone, Scope::Zone).map_err(wrap)?;
        let mut inputs = [Vec::new(), Vec::new()];
        let building_order = blank_building().values();
        let zone_order = blank_zone().values();
        for s in declaration.signals.iter().filter(|s| s.direction == Direction::Input) {
            let found = match s.scope {
                Scope::Building => building_order.iter().position(|(name, _)| *name == s.name),
                Scope::Zone => zone_order.iter().position(|(name, _)| *name == s.name),
            };
            let source = found.ok_or(MachineError::NoValue(s.name))?;
            inputs[usize::from(s.scope == Scope::Building)]
                .push((b.slot(s.name, s.scope).map_err(wrap)?, source));
        }
        let [zone_inputs, building_inputs] = inputs;
        Ok(Plan {
            sensing,
            neighbours,
            judging,
            gathering,
            building,
            zone,
            neighbour_lists: setup.zones().iter().map(|zone| zone.neighbours.clone()).collect(),
            building_inputs,
            zone_inputs,
            kept: b.compiler.kept.clone(),
            cycle: b.slot(CYCLE, Scope::Building).map_err(wrap)?,
            zone_width: b.compiler.names.zone.len() + b.compiler.scratch[0],
            zone_waits: b.waits[0],
        })
    }

    /// One step: inputs of its end, waiting times grown by its length. Nothing is allocated.
    ///
    /// # Errors
    /// [`StepError`]; the machine is then as before.
    pub fn step(
        &mut self,
        duration: Time,
        building: &BuildingInputs,
        zones: &[ZoneInputs],
    ) -> Result<(), StepError> {
        let dt = duration.to_seconds();
        if !(dt > 0.0 && dt <= 3600.0) {
            return Err(StepError::Duration(dt));
        }
        if zones.len() != self.zones {
            return Err(StepError::Zones { given: zones.len(), zones: self.zones });
        }
        if let Some(zone) = zones.iter().position(|z| !(0.0..=1.0).contains(&z.ventilation_demand)) {
            return Err(StepError::Demand { zone, value: zones[zone].ventilation_demand });
        }
        let Self { plan, zone_values, building_values, zone_waits, building_waits, changes, .. } = self;
        let width = plan.zone_width;
        changes.clear();
        building_values[plan.cycle] = dt;
        let values = building.values();
        for &(slot, source) in &plan.building_inputs {
            building_values[slot] = values[source].1;
        }
        for (zone, input) in zones.iter().enumerate() {
            let values = input.values();
            let row = &mut zone_values[zone * width..][..width];
            for &(slot, source) in &plan.zone_inputs {
                row[slot] = values[source].1;
            }
            let waits = &mut zone_waits[zone * plan.zone_waits..][..plan.zone_waits];
            work_zone(&plan.sensing, zone, row, building_values, waits, changes, dt);
        }
        for zone in 0..zones.len() {
            for rule in &plan.neighbours {
                let value = neighbour_figure(
                    rule,
                    zone,
                    &plan.neighbour_lists[zone],
                    zone_values,
                    building_values,
                    width,
                );
                zone_values[zone * width + rule.slot] = value;
            }
            let waits = &mut zone_waits[zone * plan.zone_waits..][..plan.zone_waits];
            let row = &mut zone_values[zone * width..][..width];
            work_zone(&plan.judging, zone, row, building_values, waits, changes, dt);
        }
        for gather in &plan.gathering {
            let (slot, value) = gathered(gather, zone_values, building_values, width);
            building_values[slot] = value;
        }
        work_building(&plan.building, building_values, building_waits, changes, dt);
        for zone in 0..zones.len() {
            let waits = &mut zone_waits[zone * plan.zone_waits..][..plan.zone_waits];
            let row = &mut zone_values[zone * width..][..width];
            work_zone(&plan.zone, zone, row, building_values, waits, changes, dt);
        }
        Ok(())
    }

    /// Changes of stage in the last step.
    pub fn changes(&self) -> &[Change] {
        &self.changes
    }

    /// Why a change came about.
    pub fn reason(&self, change: &Change) -> &'static str {
        self.declaration
            .regions()
            .nth(change.region)
            .and_then(|(_, region)| region.transitions.get(change.transition))
            .map_or("", |transition| transition.reason)
    }

    /// Number of zones.
    pub fn zones(&self) -> usize {
        self.zones
    }

    /// Where a zone signal or the stage of a zone region is found.
    pub fn zone_slot(&self, name: &str) -> Option<ZoneSlot> {
        self.names.zone.iter().position(|n| *n == name).map(ZoneSlot)
    }

    /// Where a building signal or the stage of the building is found.
    pub fn building_slot(&self, name: &str) -> Option<BuildingSlot> {
        self.names.building.iter().position(|n| *n == name).map(BuildingSlot)
    }

    /// SI value of a zone signal after the last step; yes is 1, a stage its index.
    pub fn zone_value(&self, zone: usize, slot: ZoneSlot) -> f64 {
        self.zone_values[zone * self.plan.zone_width + slot.0]
    }

    /// SI value of a building signal after the last step; yes is 1, a stage its index.
    pub fn building_value(&self, slot: BuildingSlot) -> f64 {
        self.building_values[slot.0]
    }

    /// Name of the stage in which a region stands, of a zone or of the building.
    pub fn stage_name(&self, region: &str, zone: Option<usize>) -> Option<&'static str> {
        let (scope, declared) = self.declaration.region(region)?;
        let stage = match (scope, zone) {
            (Scope::Zone, Some(zone)) if zone < self.zones => self.zone_value(zone, self.zone_slot(region)?),
            (Scope::Building, None) => self.building_value(self.building_slot(region)?),
            _ => return None,
        };
        declared.stages.get(stage as usize).map(|stage| stage.name)
    }

    /// What is remembered between steps.
    pub fn memory(&self) -> Memory {
        let mut out =
            Vec::with_capacity(self.zone_waits.len() + self.building_waits.len() + self.plan.kept.len());
        let mut put = |value: f64| out.push(value.to_bits());
        for place in &self.plan.kept {
            match place {
                Place::Building(k) => put(self.building_values[*k]),
                Place::Zone(k) => {
                    (0..self.zones).for_each(|zone| put(self.zone_values[zone * self.plan.zone_width + k]));
                }
            }
        }
        self.building_waits.iter().chain(&self.zone_waits).for_each(|wait| put(*wait));
        Memory(out)
    }

    /// Goes back to what was remembered.
    ///
    /// # Panics
    /// When the memory is that of a machine of another size.
    pub fn recall(&mut self, memory: &Memory) {
        let mut values = memory.0.iter().map(|bits| f64::from_bits(*bits));
        let mut take = || values.next().expect("memory of a machine of this size");
        for place in &self.plan.kept {
            match place {
                Place::Building(k) => self.building_values[*k] = take(),
                Place::Zone(k) => {
                    for zone in 0..self.zones {
                        self.zone_values[zone * self.plan.zone_width + k] = take();
                    }
                }
            }
        }
        self.building_waits.iter_mut().chain(&mut self.zone_waits).for_each(|wait| *wait = take());
    }

    /// The declaration it runs.
    pub fn declaration(&self) -> &Declaration {
        &self.declaration
    }
}

fn blank_building() -> BuildingInputs {
    BuildingInputs {
        run_request: false,
        life_safety: false,
        smoke_control: false,
        primary_dew_point_c: 0.0,
        primary_dew_point_good: false,
        drying_coil_temperature_c: 0.0,
        drying_coil_temperature_good: false,
        water_temperature_c: 0.0,
        water_temperature_good: false,
    }
}

fn blank_zone() -> ZoneInputs {
    ZoneInputs {
        dew_point_c: 0.0,
        dew_point_good: false,
        room_temperature_c: 0.0,
        room_temperature_good: false,
        occupied: false,
        ventilation_demand: 0.0,
        wet_switch: false,
        pressure_priority: false,
    }
}

fn work_zone(
    items: &[Work],
    zone: usize,
    row: &mut [f64],
    building: &mut [f64],
    waits: &mut [f64],
    changes: &mut Vec<Change>,
    dt: f64,
) {
    for item in items {
        match item {
            Work::Rule(slot, value) => row[*slot] = value.number(row, building),
            Work::Region(plan) => {
                if let Some(change) = advance(plan, row[plan.slot] as usize, row, building, waits, dt) {
                    row[plan.slot] = change.to as f64;
                    changes.push(Change { zone: Some(zone), ..change });
                }
            }
        }
    }
}

fn work_building(
    items: &[Work],
    building: &mut [f64],
    waits: &mut [f64],
    changes: &mut Vec<Change>,
    dt: f64,
) {
    for item in items {
        match item {
            Work::Rule(slot, value) => building[*slot] = value.number(&mut [], building),
            Work::Region(plan) => {
                let stage = building[plan.slot] as usize;
                if let Some(change) = advance(plan, stage, &mut [], building, waits, dt) {
                    building[plan.slot] = change.to as f64;
                    changes.push(change);
                }
            }
        }
    }
}

/// Lets the waiting times of a stage grow, and finds the first way whose time has come.
fn advance(
    plan: &RegionPlan,
    stage: usize,
    zone: &mut [f64],
    building: &mut [f64],
    waits: &mut [f64],
    dt: f64,
) -> Option<Change> {
    let ways = &plan.ways[stage];
    let waits = &mut waits[plan.waits..];
    let mut taken = None;
    for (way, wait) in ways.iter().zip(waits.iter_mut()) {
        if way.when.holds(zone, building) {
            *wait += dt;
            if taken.is_none() && *wait >= way.delay.number(zone, building) {
                taken = Some(way);
            }
        } else {
            *wait = 0.0;
        }
    }
    let way = taken?;
    waits[..plan.most].fill(0.0);
    Some(Change { zone: None, region: plan.index, from: stage, to: way.to, transition: way.transition })
}

fn neighbour_figure(
    rule: &NeighbourPlan,
    zone: usize,
    neighbours: &[usize],
    values: &mut [f64],
    building: &mut [f64],
    width: usize,
) -> f64 {
    let own = values[zone * width + rule.value];
    let mut found: Option<f64> = None;
    let mut count = 0.0;
    for &n in neighbours {
        if values[n * width + rule.counts] == 0.0 {
            continue;
        }
        let reading = values[n * width + rule.value];
        count += 1.0;
        found = Some(match (rule.figure, found) {
            (NeighbourFigure::NearestDistance, None) => (reading - own).abs(),
            (NeighbourFigure::NearestDistance, Some(old)) => old.min((reading - own).abs()),
            (_, None) => reading,
            (NeighbourFigure::Highest, Some(old)) => old.max(reading),
            (_, Some(old)) => old.min(reading),
        });
    }
    match rule.figure {
        NeighbourFigure::Count => count,
        _ => found.unwrap_or_else(|| rule.otherwise.number(&mut values[zone * width..][..width], building)),
    }
}

fn gathered(plan: &GatherPlan, values: &mut [f64], building: &mut [f64], width: usize) -> (usize, f64) {
    match plan {
        GatherPlan::Votes { slot, when, votes } => {
            let mut sum = 0.0;
            for row in values.chunks_exact_mut(width) {
                if when.holds(row, building) {
                    sum += row[*votes];
                }
            }
            (*slot, sum)
        }
        GatherPlan::Highest { slot, when, value, votes, ignored, otherwise } => {
            let ignored = building[*ignored];
            let mut sum = 0.0;
            let mut level = f64::INFINITY;
            // Each pass finds the next lower value and adds its votes; there are few, as few votes are ignored.
            loop {
                let mut next = f64::NEG_INFINITY;
                let mut next_votes = 0.0;
                for row in values.chunks_exact_mut(width) {
                    if row[*value] < level && row[*value] >= next && when.holds(row, building) {
                        if row[*value] > next {
                            next = row[*value];
                            next_votes = 0.0;
                        }
                        next_votes += row[*votes];
                    }
                }
                if next == f64::NEG_INFINITY {
                    return (*slot, building[*otherwise]);
                }
                sum += next_votes;
                level = next;
                if sum > ignored {
                    return (*slot, level);
                }
            }
        }
    }
}
