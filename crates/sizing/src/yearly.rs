//! Yearly use of a candidate from the weather bins, with part-load models of every machine that the three choices
//! steer.
//!
//! Method, stated with the result: rooms are quasi-steady (gains, sun and conduction of the hour, no storage); a room
//! gets primary air between its first and last hour of use, constant or by its people as the project asks; outside the
//! hours of the building only the cooling of server rooms runs. A terminal's fan follows its load along the power curve of its motor; chillers follow load and lift; the tower's water follows the
//! wet bulb; a waterside economizer takes what the tower's water can carry before the chiller.

// What runs under the wider registers must be part of the loop that was compiled for them.
#![allow(clippy::inline_always)]

use crate::bins::{Bin, ClosedBin, bins, closed, day_types, occupied};
use crate::conditions::Climate;
use crate::design::{Loads, Service, TradeOffPoint, YearlyUse};
use crate::machines::{DesignPoint, Machines, OWN_UNIT_FAN_SHARE, PlantBin};
use crate::needs::{Flows, Prepared};
use crate::size::SizingError;
use drycoil_air::raw;
use drycoil_climate::WeatherYear;
use drycoil_project::{DayType, PrimaryAirControl, Project, UseShare};
use drycoil_units::{Quantity, STANDARD_AIR_DENSITY_KG_PER_M3 as RHO};
use pulp::{Arch, NullaryFnOnce};
use rayon::prelude::*;
use std::cell::RefCell;
use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::ops::Range;

/// Exponent of fan power over fan flow of an electronically commutated terminal fan: pressure follows the flow, and
/// losses flatten the cube. Common practice, no source; the year simulation uses the fitted curve of each unit.
#[inline(always)]
fn fan_share(x: f64) -> f64 {
    x * x * x.sqrt()
}

/// Share of the primary fan's pressure that a controller holds in the duct. Common practice, no source.
pub const HELD_DUCT_SHARE: f64 = 0.3;
/// Rooms summed together by one thread.
const BLOCK: usize = 64;
/// Bins summed at once.
const LANES: usize = 4;

/// Sums over rooms by bin.
struct Sums {
    cool: Vec<f64>,
    heat: Vec<f64>,
    fan: Vec<f64>,
    /// Primary air by run of bins, standard m3/s.
    air: Vec<f64>,
}

/// Bins that are summed at once: all of one run, four or what is left of it.
#[derive(Debug, Clone)]
struct Chunk {
    run: usize,
    bins: Range<usize>,
}

/// One value for each bin of a chunk; those beyond its end do not count.
type Lanes = [f64; LANES];

/// A room with a terminal at one candidate.
struct RoomAt<'a> {
    flow: f64,
    /// Least share of the flow while the room is served.
    floor: f64,
    people: &'a [f64],
    cooling_c: f64,
    heating_c: f64,
    /// Heat that the room loses less at its heating set point than at its cooling set point, W.
    shift: f64,
    /// Most fan air, m3/s.
    fan: f64,
    /// Share of it that carries one watt.
    share: f64,
}

/// Some rooms over all bins at one candidate: cooling by the coils, heat that cold primary air makes the rooms lack, fan air
/// weighted with the share of its power.
///
/// The innermost loop is free of branches and compiled for the wider vector instructions of the processor, where it has
/// them. The order of operations is that of the plain code and products are not fused with sums, so that every processor
/// gives the same bits.
struct Rooms<'a> {
    rooms: &'a [BinRoom],
    /// Sensible loads of these rooms, `[chunk * rooms + room]`.
    loads: &'a [Lanes],
    /// Design sensible loads of these rooms, W.
    design: &'a [f64],
    /// By room of the project, standard m3/s.
    flows: &'a [f64],
    /// By profile and run.
    people: &'a [Vec<f64>],
    runs: usize,
    chunks: &'a [Chunk],
    /// By bin.
    delivered: &'a [f64],
    delivered_design_c: f64,
    water_c: f64,
    coil_effectiveness: f64,
    fan_low: f64,
}

impl NullaryFnOnce for Rooms<'_> {
    type Output = Sums;

    #[inline(always)]
    fn call(self) -> Sums {
        let n = self.delivered.len();
        let mut sums =
            Sums { cool: vec![0.0; n], heat: vec![0.0; n], fan: vec![0.0; n], air: vec![0.0; self.runs] };
        let cp = raw::humid_specific_heat_j_per_kg_k(0.009);
        let mut rooms = Vec::with_capacity(self.rooms.len());
        for (room, design) in self.rooms.iter().zip(self.design) {
            let flow = self.flows[room.index];
            let per_watt = 1.0 / (RHO * cp * self.coil_effectiveness * (room.set_point_c - self.water_c));
            let primary_design = flow * RHO * cp * (room.set_point_c - self.delivered_design_c);
            let fan = ((design - primary_design).max(0.0) * per_watt).max(flow * 0.5);
            rooms.push(RoomAt {
                flow,
                floor: if flow > 0.0 { (room.fixed / flow).min(1.0) } else { 1.0 },
                people: &self.people[room.profile],
                cooling_c: room.set_point_c,
                heating_c: room.heating_c,
                shift: room.envelope * (room.set_point_c - room.heating_c),
                fan,
                share: if fan > 0.0 { per_watt / fan } else { 0.0 },
            });
        }
        let mut m_cp = vec![0.0; rooms.len()];
        let mut run = usize::MAX;
        for (chunk, loads) in self.chunks.iter().zip(self.loads.chunks_exact(rooms.len())) {
            if chunk.run != run {
                run = chunk.run;
                for (slot, room) in m_cp.iter_mut().zip(&rooms) {
                    // Below zero where the room is not served.
                    let people = room.people[run];
                    let part = if people < 0.0 { 0.0 } else { people.max(room.floor) };
                    sums.air[run] += room.flow * part;
                    *slot = room.flow * part * (RHO * cp);
                }
            }
            let many = chunk.bins.len();
            let mut delivered = [0.0; LANES];
            delivered[..many].copy_from_slice(&self.delivered[chunk.bins.clone()]);
            let (cool, heat, fan) = add_rooms(&rooms, &m_cp, loads, &delivered, self.fan_low);
            sums.cool[chunk.bins.clone()].copy_from_slice(&cool[..many]);
            sums.heat[chunk.bins.clone()].copy_from_slice(&heat[..many]);
            sums.fan[chunk.bins.clone()].copy_from_slice(&fan[..many]);
        }
        sums
    }
}

/// Sums of rooms over the bins of one chunk.
#[inline(always)]
fn add_rooms(
    rooms: &[RoomAt<'_>],
    m_cp: &[f64],
    loads: &[Lanes],
    delivered: &Lanes,
    low: f64,
) -> (Lanes, Lanes, Lanes) {
    let (mut cool, mut heat, mut fan) = ([0.0; LANES], [0.0; LANES], [0.0; LANES]);
    for ((room, m_cp), loads) in rooms.iter().zip(m_cp).zip(loads) {
        for i in 0..LANES {
            let (load, delivered) = (loads[i], delivered[i]);
            let needs_cooling = load - m_cp * (room.cooling_c - delivered);
            let needs_cooling = if needs_cooling > 0.0 { needs_cooling } else { 0.0 };
            let lacks_heat = m_cp * (room.heating_c - delivered) - room.shift - load;
            let lacks_heat = if lacks_heat > 0.0 { lacks_heat } else { 0.0 };
            cool[i] += needs_cooling;
            heat[i] += lacks_heat;
            // At most one of the two is above zero.
            let x = (needs_cooling + lacks_heat) * room.share;
            let x = if x > low { x } else { low };
            let x = if x < 1.0 { x } else { 1.0 };
            fan[i] += room.fan * fan_share(x);
        }
    }
    (cool, heat, fan)
}

/// What the primary-air unit does in one bin for one standard m3/s delivered.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct UnitBin {
    /// Heat at the drying coil, W per m3/s.
    pub coil: f64,
    /// Heating: preheat, heating coil and reheat, W per m3/s.
    pub heat: f64,
    /// Fan power, W per m3/s.
    pub fan: f64,
    /// Delivered dry bulb.
    pub delivered_c: f64,
}

/// A room with a terminal, as the bins see it.
#[derive(Debug, Clone)]
struct BinRoom {
    index: usize,
    set_point_c: f64,
    heating_c: f64,
    envelope: f64,
    /// Row of the shares of people of its profile.
    profile: usize,
    /// Primary air that does not follow people, standard m3/s; infinite where none does.
    fixed: f64,
}

/// Whether the drying coil works in a bin at the driest supply of the search.
#[derive(Clone, Copy)]
enum Idle {
    /// It works, so the unit depends on the supply dew point.
    Drying,
    /// It is idle at every supply of the search; the unit as it runs then, if it can.
    AtAny(Option<UnitBin>),
}

/// Evaluates candidates. Everything that does not depend on the candidate is computed once.
pub(crate) struct Evaluator<'a> {
    project: &'a Project,
    /// Bins of one day type and hour stand in one run.
    bins: Vec<Bin>,
    runs: Vec<Range<usize>>,
    chunks: Vec<Chunk>,
    rooms: Vec<BinRoom>,
    /// Sensible loads of the rooms at their cooling set points, W: block after block of rooms, in each chunk after chunk.
    loads: Vec<Lanes>,
    /// By profile and run: share of people in hours in which the room is served, -1 in others.
    people: Vec<Vec<f64>>,
    /// Hours a year and water of the tower while nobody is in the building, with its wet bulb.
    closed: Vec<(f64, f64, f64)>,
    /// Heat of rooms while nobody is in the building, J a year: the same for every candidate.
    closed_heat_j: f64,
    /// Heat of rooms with cooling units of their own, unit fans included, and of those fans, W.
    own_w: [f64; 2],
    /// Design sensible load of the rooms, W.
    design: Vec<f64>,
    machines: Machines,
    /// Water leaving the tower at design range, by bin.
    tower_c: Vec<f64>,
    coil_effectiveness: f64,
    fan_w_per_m3_per_s: f64,
    fan_low: f64,
    /// What the unit does in the bins in which no supply dew point matters, where this is such a bin.
    idle: Vec<Idle>,
    supplies: RefCell<BTreeMap<u64, Option<Supply>>>,
    delivered: RefCell<BTreeMap<u64, Option<f64>>>,
    /// Rooms with cooling units of their own on the sensible loop.
    own_units: usize,
    pool: &'a rayon::ThreadPool,
}

/// What depends on the supply dew point alone.
struct Supply {
    bins: Vec<UnitBin>,
    design: DesignPoint,
}

impl<'a> Evaluator<'a> {
    pub(crate) fn new(
        project: &'a Project,
        weather: &WeatherYear,
        climate: &Climate,
        loads: &Loads,
        prepared: &Prepared,
        exhaust_ratio: f64,
        pool: &'a rayon::ThreadPool,
    ) -> Result<Self, SizingError> {
        let mut bins = bins(project, weather, prepared);
        bins.sort_by_key(|b| (b.day as usize, b.hour));
        let runs = runs(&bins);
        let mut profiles: BTreeMap<&str, usize> = BTreeMap::new();
        let mut people: Vec<Vec<f64>> = Vec::new();
        let rooms: Vec<BinRoom> = prepared
            .rooms
            .iter()
            .filter(|r| r.service == Service::Terminal)
            .map(|r| {
                let room = &project.rooms[r.index];
                let name = room.profile.value.as_str();
                let profile = *profiles.entry(name).or_insert_with(|| {
                    let first = runs.iter().map(|run| &bins[run.start]);
                    people.push(shares_of_people(project, room, first));
                    people.len() - 1
                });
                BinRoom {
                    index: r.index,
                    profile,
                    fixed: match room.primary_air_control.value {
                        PrimaryAirControl::Constant => f64::INFINITY,
                        _ => r.without_people(project),
                    },
                    set_point_c: r.set_point_c,
                    heating_c: project.rooms[r.index].heating_set_point.value.to_celsius(),
                    envelope: loads.rooms[r.index].envelope_w_per_k,
                }
            })
            .collect();
        let n = bins.len();
        let chunks = chunks(&runs);
        let mut matrix = vec![[0.0; LANES]; rooms.len() * chunks.len()];
        pool.install(|| {
            let blocks = matrix.par_chunks_mut((BLOCK * chunks.len()).max(1)).zip(rooms.par_chunks(BLOCK));
            blocks.for_each(|(block, rooms)| {
                let mut row = vec![0.0; n];
                for (k, room) in rooms.iter().enumerate() {
                    room_loads(project, loads, room, &bins, &runs, &mut row);
                    for (chunk, lanes) in chunks.iter().zip(block.chunks_exact_mut(rooms.len())) {
                        lanes[k][..chunk.bins.len()].copy_from_slice(&row[chunk.bins.clone()]);
                    }
                }
            });
        });
        let design = rooms.iter().map(|r| loads.rooms[r.index].cooling.load_w.max(0.0)).collect();
        let room_gain_w = room_gain(prepared);
        let machines = Machines::new(project, climate, exhaust_ratio, room_gain_w)?;
        let tower_c = pool.install(|| {
            bins.par_iter().map(|b| machines.tower_leaving_c(b.wet_bulb_c)).collect::<Result<Vec<_>, _>>()
        })?;
        let shut = closed(project, weather, prepared);
        let closed_heat_j = closed_heat(project, loads, weather, prepared, &rooms, &shut);
        let closed = shut
            .into_iter()
            // Below freezing the control makes no colder water than at 0 degC.
            .map(|b| {
                let wet_bulb_c = b.wet_bulb_c.max(0.0);
                Ok((b.hours, wet_bulb_c, machines.tower_leaving_c(wet_bulb_c)?))
            })
            .collect::<Result<Vec<_>, SizingError>>()?;
        let own: f64 = prepared
            .rooms
            .iter()
            .filter(|r| r.service == Service::SensibleUnits)
            .map(|r| {
                let l = &loads.rooms[r.index];
                // Its own day: the heat is much the same at all hours.
                let day = &l.sensible_w[l.cooling.day_index];
                day.iter().sum::<f64>().max(0.0) / 24.0
            })
            .sum();
        let own_w = [own * (1.0 + OWN_UNIT_FAN_SHARE), own * OWN_UNIT_FAN_SHARE];
        let (coil_effectiveness, fan_w_per_m3_per_s, fan_low) = catalogue_means(project);
        let idle = idle(&machines, &bins);
        Ok(Self {
            project,
            bins,
            runs,
            chunks,
            rooms,
            loads: matrix,
            people,
            closed,
            closed_heat_j,
            own_w,
            design,
            machines,
            tower_c,
            coil_effectiveness,
            fan_w_per_m3_per_s,
            fan_low,
            idle,
            supplies: RefCell::new(BTreeMap::new()),
            delivered: RefCell::new(BTreeMap::new()),
            own_units: prepared.rooms.iter().filter(|r| r.service == Service::SensibleUnits).count(),
            pool,
        })
    }

    /// The same year with another share of exhaust returned to the recovery.
    pub(crate) fn set_exhaust_ratio(&mut self, exhaust_ratio: f64) {
        self.machines.set_exhaust_ratio(exhaust_ratio);
        self.idle = idle(&self.machines, &self.bins);
        self.supplies.borrow_mut().clear();
        self.delivered.borrow_mut().clear();
    }

    /// Driest supply that the drying water reaches, delivered.
    pub(crate) fn lowest_supply_dew_point_c(&self) -> f64 {
        self.machines.lowest_supply_dew_point_c()
    }

    /// Dry bulb of the delivered air at the dehumidification condition; `None` when the unit cannot deliver this supply.
    pub(crate) fn delivered_c(&self, supply_c: f64) -> Option<f64> {
        if let Some(known) = self.supplies.borrow().get(&supply_c.to_bits()) {
            return known.as_ref().map(|s| s.design.delivered_c);
        }
        *self
            .delivered
            .borrow_mut()
            .entry(supply_c.to_bits())
            .or_insert_with(|| self.machines.design_point(supply_c).map(|d| d.delivered_c))
    }

    pub(crate) fn is_priced(&self) -> bool {
        self.project.economics.electricity.is_some()
    }

    /// Whether the first cost of terminals counts in the objective.
    pub(crate) fn weighs_terminals(&self) -> bool {
        let e = &self.project.economics;
        self.is_priced() && e.terminal_each.is_some() && e.discount_rate.is_some() && e.life.is_some()
    }

    pub(crate) fn objective_name(&self) -> &'static str {
        if self.is_priced() { "yearly cost" } else { "site energy" }
    }

    pub(crate) fn objective_unit(&self) -> String {
        if self.is_priced() { self.project.economics.currency.value.clone() } else { "kWh".to_owned() }
    }

    pub(crate) fn method(&self) -> String {
        let e = &self.project.economics;
        let mut text = format!(
            "{} weather bins of the occupied hours (day type, month, hour, third of humidity); rooms quasi-steady without \
             storage; primary air in the hours of each room as its control asks, without start-up; part-load \
             models of terminal fans, chillers, pumps and tower; waterside economizer {}",
            self.bins.len(),
            if self.project.plant.economizer.value { "integrated" } else { "absent" }
        );
        if self.own_units > 0 {
            let _ = write!(
                text,
                "; {} room{} with dry units of their own at all hours",
                self.own_units,
                if self.own_units == 1 { "" } else { "s" }
            );
        }
        if self.is_priced() {
            let mut unpriced = Vec::new();
            for (what, there) in [
                ("heating fuel", e.fuel.is_some()),
                ("primary-air capacity", e.primary_air_per_m3_per_s.is_some()),
                ("cooling plant capacity", e.cooling_plant_per_watt.is_some()),
                ("terminals", e.terminal_each.is_some()),
                ("separate service", e.separate_service_each.is_some()),
            ] {
                if !there {
                    unpriced.push(what);
                }
            }
            if unpriced.is_empty() {
                text.push_str("; everything is priced");
            } else {
                text.push_str("; not priced: ");
                text.push_str(&unpriced.join(", "));
            }
            if e.discount_rate.is_none() || e.life.is_none() {
                text.push_str("; first costs are left out without a discount rate and a life");
            }
        } else {
            text.push_str("; nothing is priced, so the objective is site energy, then least flow");
        }
        if !self.weighs_terminals() {
            text.push_str(
                "; the first cost of terminals is not priced, so warm water looks free although it asks for larger coils and \
                 more units",
            );
        }
        text
    }

    /// One candidate; `None` when the primary-air unit cannot deliver it.
    pub(crate) fn point(
        &self,
        supply_c: f64,
        limit_c: f64,
        water_c: f64,
        flows: &Flows,
        separate: &[usize],
    ) -> Option<TradeOffPoint> {
        let mut cache = self.supplies.borrow_mut();
        let supply = cache.entry(supply_c.to_bits()).or_insert_with(|| self.supply(supply_c)).as_ref()?;
        let drying_load_w = supply.design.coil * flows.total;
        let fan_power_w = supply.design.fan * flows.total;
        let year = self.year(&supply.bins, water_c, supply.design.delivered_c, flows)?;
        let objective = self.objective(&year, flows, separate.len());
        Some(TradeOffPoint {
            supply_dew_point_c: supply_c,
            room_limit_c: limit_c,
            sensible_water_c: water_c,
            primary_m3_per_s: flows.total,
            drying_load_w: drying_load_w.max(year.drying_peak_w),
            fan_power_w,
            terminal_units: flows.units,
            supplementary_boxes: flows.boxes,
            unserved_zones: flows.unserved,
            year,
            objective,
        })
    }

    fn supply(&self, supply_c: f64) -> Option<Supply> {
        let machines = &self.machines;
        let design = machines.design_point(supply_c)?;
        // Drier than the driest supply of the search only by a pin.
        let known = supply_c >= machines.lowest_supply_dew_point_c();
        let (bins, idle) = (&self.bins, &self.idle);
        let bins = self.pool.install(|| {
            bins.par_iter()
                .zip(idle)
                .with_min_len(32)
                .map(|(b, idle)| match idle {
                    Idle::AtAny(bin) if known => *bin,
                    _ => machines.unit_bin(supply_c, b.dry_bulb_c, b.humidity_ratio),
                })
                .collect::<Option<Vec<_>>>()
        })?;
        Some(Supply { bins, design })
    }

    /// Sums over the bins.
    fn year(
        &self,
        unit: &[UnitBin],
        water_c: f64,
        delivered_design_c: f64,
        flows: &Flows,
    ) -> Option<YearlyUse> {
        let n = self.bins.len();
        if self.rooms.iter().any(|r| r.set_point_c <= water_c) {
            return None;
        }
        // Terminal loads by bin. Rooms are summed in blocks of a fixed size and the blocks in their order, so the sum does
        // not depend on the number of threads.
        let delivered: Vec<f64> = unit.iter().map(|u| u.delivered_c).collect();
        let (rooms, arch) = (&self.rooms, Arch::new());
        let (loads, design, people, chunks) = (&self.loads, &self.design, &self.people, &self.chunks);
        let runs = &self.runs;
        let (coil_effectiveness, fan_low) = (self.coil_effectiveness, self.fan_low);
        let blocks: Vec<Sums> = self.pool.install(|| {
            rooms
                .par_chunks(BLOCK)
                .zip(loads.par_chunks((BLOCK * chunks.len()).max(1)))
                .zip(design.par_chunks(BLOCK))
                .map(|((rooms, loads), design)| {
                    arch.dispatch(Rooms {
                        rooms,
                        loads,
                        design,
                        flows: &flows.room,
                        people,
                        runs: runs.len(),
                        chunks,
                        delivered: &delivered,
                        delivered_design_c,
                        water_c,
                        coil_effectiveness,
                        fan_low,
                    })
                })
                .collect()
        });
        let mut cool = vec![0.0; n];
        let mut heat = vec![0.0; n];
        let mut fan = vec![0.0; n];
        let others = flows.total - rooms.iter().map(|r| flows.room[r.index]).sum::<f64>();
        let mut of_run = vec![others; runs.len()];
        for part in blocks {
            let add = |sum: &mut [f64], part: &[f64]| sum.iter_mut().zip(part).for_each(|(s, p)| *s += p);
            add(&mut cool, &part.cool);
            add(&mut heat, &part.heat);
            add(&mut fan, &part.fan);
            add(&mut of_run, &part.air);
        }
        let mut air = vec![0.0; n];
        for (run, sum) in runs.iter().zip(of_run) {
            air[run.clone()].fill(sum);
        }
        for c in &mut cool {
            *c += self.own_w[0];
        }
        let mut use_ = YearlyUse::default();
        let machines = &self.machines;
        let peak_cool = cool.iter().copied().fold(0.0, f64::max);
        let peak_dry = unit.iter().zip(&air).map(|(u, a)| u.coil * a).fold(0.0, f64::max);
        let peaks = machines.peaks(water_c, peak_cool, peak_dry)?;
        let tower_c = &self.tower_c;
        let bins = &self.bins;
        let plants: Vec<Option<PlantBin>> = self.pool.install(|| {
            (0..n)
                .into_par_iter()
                .with_min_len(64)
                .map(|b| {
                    let tower = (bins[b].wet_bulb_c, tower_c[b]);
                    machines.plant(water_c, &peaks, cool[b], unit[b].coil * air[b], tower)
                })
                .collect()
        });
        let mut free = 0.0;
        for (b, plant) in plants.into_iter().enumerate() {
            let plant = plant?;
            let seconds = self.bins[b].hours * 3600.0;
            let u = &unit[b];
            let coil = u.coil * air[b];
            use_.drying_j += plant.drying_w * seconds;
            use_.sensible_j += plant.sensible_w * seconds;
            use_.tower_j += plant.tower_w * seconds;
            use_.pump_j += plant.pump_w * seconds;
            let x = if flows.total > 0.0 { air[b] / flows.total } else { 0.0 };
            let pressure = HELD_DUCT_SHARE + (1.0 - HELD_DUCT_SHARE) * x * x;
            use_.primary_fan_j += u.fan * air[b] * pressure * seconds;
            use_.terminal_fan_j += (fan[b] * self.fan_w_per_m3_per_s + self.own_w[1]) * seconds;
            use_.heat_j += (heat[b] + u.heat * air[b]) * seconds;
            use_.drying_thermal_j += coil * seconds;
            use_.sensible_thermal_j += cool[b] * seconds;
            free += plant.free_w * seconds;
            // Reheat while drying is what the cold supply forces; in winter it is heating.
            if u.coil > 0.0 {
                use_.overcooling_j += heat[b] * seconds;
            }
        }
        if self.own_w[0] > 0.0 {
            for (hours, wet_bulb_c, tower_c) in &self.closed {
                let plant = machines.plant(water_c, &peaks, self.own_w[0], 0.0, (*wet_bulb_c, *tower_c))?;
                let seconds = hours * 3600.0;
                use_.sensible_j += plant.sensible_w * seconds;
                use_.tower_j += plant.tower_w * seconds;
                use_.pump_j += plant.pump_w * seconds;
                use_.terminal_fan_j += self.own_w[1] * seconds;
                use_.sensible_thermal_j += self.own_w[0] * seconds;
                free += plant.free_w * seconds;
            }
        }
        use_.heat_j += self.closed_heat_j;
        use_.drying_peak_w = peak_dry;
        use_.sensible_peak_w = peak_cool;
        use_.economizer_share =
            if use_.sensible_thermal_j > 0.0 { free / use_.sensible_thermal_j } else { 0.0 };
        Some(use_)
    }

    /// Yearly cost where electricity is priced, else site energy in J.
    fn objective(&self, year: &YearlyUse, flows: &Flows, separate: usize) -> f64 {
        let e = &self.project.economics;
        let efficiency = self.project.plant.boiler_efficiency.value.to_ratio();
        let Some(electricity) = &e.electricity else { return year.site_energy_j(efficiency) };
        let mut cost = year.electricity_j() * electricity.value.to_per_joule();
        if let Some(fuel) = &e.fuel {
            cost += year.heat_j / efficiency * fuel.value.to_per_joule();
        }
        if let (Some(rate), Some(life)) = (&e.discount_rate, &e.life) {
            let (d, years) = (rate.value.to_ratio(), life.value.to_hours() / 8760.0);
            // Annual payment that repays one unit over the life (NIST Handbook 135, uniform capital recovery).
            let recovery = if d.abs() < 1e-12 { 1.0 / years } else { d / (1.0 - (1.0 + d).powf(-years)) };
            let mut first = 0.0;
            if let Some(p) = &e.primary_air_per_m3_per_s {
                first += p.value * flows.total;
            }
            if let Some(p) = &e.cooling_plant_per_watt {
                first += p.value * (year.drying_peak_w + year.sensible_peak_w);
            }
            if let Some(p) = &e.terminal_each {
                first += p.value * f64::from(flows.units);
            }
            if let Some(p) = &e.separate_service_each {
                // A supplementary box is one of the ways of serving a room separately, and costs as much.
                first += p.value * (separate as f64 + f64::from(flows.boxes));
            }
            cost += first * recovery;
        }
        cost
    }

    /// The machines, for the stages that follow.
    pub(crate) fn machines(&self) -> &Machines {
        &self.machines
    }
}

/// The bins in which no supply dew point of the search matters.
fn idle(machines: &Machines, bins: &[Bin]) -> Vec<Idle> {
    let driest = machines.lowest_supply_dew_point_c();
    bins.par_iter()
        .map(|b| {
            if machines.is_idle(driest, b.humidity_ratio) {
                Idle::AtAny(machines.unit_bin(driest, b.dry_bulb_c, b.humidity_ratio))
            } else {
                Idle::Drying
            }
        })
        .collect()
}

/// Humidity that rooms add between supply and exhaust, at the flows that they need whatever the supply dew point is.
fn room_gain(prepared: &Prepared) -> f64 {
    let fixed: f64 = prepared.rooms.iter().map(|r| r.fixed).sum();
    let latent: f64 = prepared.rooms.iter().filter(|r| r.zone != usize::MAX).map(|r| r.latent_kg_per_s).sum();
    // Half the latent gain of the peak is the mean over the occupied hours (common practice, no source).
    if fixed > 0.0 { 0.5 * latent / (fixed * RHO) } else { 0.0 }
}

/// Quasi-steady sensible load of one room in every bin, W.
fn room_loads(
    project: &Project,
    loads: &Loads,
    room: &BinRoom,
    bins: &[Bin],
    runs: &[Range<usize>],
    row: &mut [f64],
) {
    let r = &project.rooms[room.index];
    let l = &loads.rooms[room.index];
    let profile = project.profile_of(r);
    let area = r.floor_area.value.to_square_metres();
    let people = r.people.value * r.sensible_per_person.value.to_watts();
    let lighting = r.lighting.value.to_w_per_m2() * area;
    let plugs = r.plugs.value.to_w_per_m2() * area;
    let process = r.process_sensible.value.to_watts();
    let infiltration = l.infiltration_m3_per_s * RHO * raw::humid_specific_heat_j_per_kg_k(0.009);
    for run in runs {
        let share = |of| profile.share(of, bins[run.start].day, bins[run.start].hour);
        let gains = people * share(UseShare::People)
            + lighting * share(UseShare::Lighting)
            + plugs * share(UseShare::Plugs)
            + process * share(UseShare::Process);
        for (slot, b) in row[run.clone()].iter_mut().zip(&bins[run.clone()]) {
            let sun: f64 = l.solar_aperture_m2.iter().zip(&b.sun_w_per_m2).map(|(a, i)| a * i).sum();
            *slot = gains + sun + (l.envelope_w_per_k + infiltration) * (b.dry_bulb_c - room.set_point_c);
        }
    }
}

/// Runs of bins of one day type and hour.
fn runs(bins: &[Bin]) -> Vec<Range<usize>> {
    let mut end = 0;
    bins.chunk_by(|a, b| (a.day, a.hour) == (b.day, b.hour))
        .map(|run| {
            end += run.len();
            end - run.len()..end
        })
        .collect()
}

/// The chunks of every run.
fn chunks(runs: &[Range<usize>]) -> Vec<Chunk> {
    let of = |(run, bins): (usize, &Range<usize>)| {
        let end = bins.end;
        bins.clone().step_by(LANES).map(move |b| Chunk { run, bins: b..end.min(b + LANES) })
    };
    runs.iter().enumerate().flat_map(of).collect()
}

/// Share of people of a room in bins between its first and last hour of use, -1 in others.
fn shares_of_people<'b>(
    project: &Project,
    room: &drycoil_project::Room,
    bins: impl Iterator<Item = &'b Bin>,
) -> Vec<f64> {
    let profile = project.profile_of(room);
    bins.map(|b| {
        let used = profile.occupied_hours(b.day);
        let served = used[..=b.hour].contains(&true) && used[b.hour..].contains(&true);
        if served { profile.share(UseShare::People, b.day, b.hour) } else { -1.0 }
    })
    .collect()
}

/// Heat of the rooms with terminals while nobody is in the building: what the envelope and the leaks of the unpressurized
/// building lose beyond the gains that go on, a quarter of the way from the night limit to the set point: rooms cool down
/// through the first half of a night and stand at the limit through the rest and the weekend.
fn closed_heat(
    project: &Project,
    loads: &Loads,
    weather: &WeatherYear,
    prepared: &Prepared,
    rooms: &[BinRoom],
    bins: &[ClosedBin],
) -> f64 {
    let open = occupied(project, prepared);
    let mut days = [0.0; 4];
    for day in day_types(project, weather) {
        days[day as usize] += 1.0;
    }
    let cp = RHO * raw::humid_specific_heat_j_per_kg_k(0.006);
    let pressurized = project.criteria.pressurized_infiltration.value.to_ratio();
    let night = project.criteria.night_heating.value.to_celsius();
    rooms
        .iter()
        .map(|r| {
            let (room, l) = (&project.rooms[r.index], &loads.rooms[r.index]);
            let profile = project.profile_of(room);
            let area = room.floor_area.value.to_square_metres();
            let full = [
                (UseShare::Lighting, room.lighting.value.to_w_per_m2() * area),
                (UseShare::Plugs, room.plugs.value.to_w_per_m2() * area),
                (UseShare::Process, room.process_sensible.value.to_watts()),
            ];
            let (mut gains, mut hours) = (0.0, 0.0);
            for (day, count) in DayType::ALL.into_iter().zip(days) {
                for h in (0..24).filter(|h| !open[day as usize][*h]) {
                    gains += count * full.iter().map(|(of, w)| w * profile.share(*of, day, h)).sum::<f64>();
                    hours += count;
                }
            }
            let gains = if hours > 0.0 { gains / hours } else { 0.0 };
            let leak = if pressurized > 0.0 { l.infiltration_m3_per_s / pressurized } else { 0.0 };
            let loss = l.envelope_w_per_k + leak * cp;
            let low = night.min(r.heating_c);
            let kept = low + 0.25 * (r.heating_c - low);
            bins.iter()
                .map(|b| (loss * (kept - b.dry_bulb_c) - gains).max(0.0) * b.hours * 3600.0)
                .sum::<f64>()
        })
        .sum()
}

/// Mean coil effectiveness, fan power per flow at most air, and lowest share of fan air over the catalogue.
fn catalogue_means(project: &Project) -> (f64, f64, f64) {
    let (mut e, mut points) = (0.0, 0usize);
    let (mut power, mut fans) = (0.0, 0usize);
    let mut low: f64 = 0.0;
    for m in &project.catalogue.models {
        for p in &m.coil {
            let c = p.air.to_m3_per_s() * RHO * raw::humid_specific_heat_j_per_kg_k(0.009);
            e += p.duty.to_watts() / (c * (p.air_entering.to_celsius() - p.water_entering.to_celsius()));
            points += 1;
        }
        if let Some(top) = m.fan.iter().max_by(|a, b| a.air.si().total_cmp(&b.air.si())) {
            power += top.power.to_watts() / top.air.to_m3_per_s();
            fans += 1;
        }
        low = low.max(m.fan_min.to_m3_per_s() / m.fan_max.to_m3_per_s());
    }
    (e / points.max(1) as f64, power / fans.max(1) as f64, low)
}
