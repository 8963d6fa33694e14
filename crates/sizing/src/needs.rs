//! Primary-air needs of rooms and zones, as functions of the supply dew point.
//!
//! Water balance of a room whose primary air is constant over the day, steady in each hour:
//! `m_p (W - W_s) = q_latent / h_g + m_inf (W_out - W) + m_tr (W_src - W)`.
//! The hour that matters is the one with the largest `q_latent / h_g + m_inf W_out`, over every occupied hour of every
//! design day, not one design hour.

use crate::balance::RoomAir;
use crate::carry::{Carried, State};
use crate::design::{Loads, MoistureHour, Need, RoomNeeds, ScreenResult, Service, SiteFacts};
use crate::service;
use drycoil_air::raw;
use drycoil_project::{DayType, PressureRelation, Project, Room, SurfaceKind, UseShare};
use drycoil_units::{AirChangesPerHour, STANDARD_AIR_DENSITY_KG_PER_M3 as RHO};
use rayon::prelude::*;

/// Excess of supply over exhaust, or of exhaust over supply, that holds a pressure relation, standard m3/s: 75 cfm
/// through the cracks of one door. Common practice, no source.
pub(crate) const PRESSURE_OFFSET_M3_PER_S: f64 = 0.0354;

/// Supply-to-room difference from which ceiling supply of warm air mixes badly: 15 degF (ANSI/ASHRAE 62.1-2019 Table
/// 6-4, from memory).
const WARM_SUPPLY_K: f64 = 15.0 / 1.8;

/// Zones that one thread asks for their terminals in a row.
const ZONES_AT_ONCE: usize = 128;

/// Outdoor humidity of a design day by hour.
#[derive(Debug, Clone)]
pub(crate) struct DayMoisture {
    /// Name of the day.
    pub name: String,
    /// Humidity ratio by hour.
    pub humidity_ratio: [f64; 24],
}

/// What the water balance of one room needs, prepared once.
#[derive(Debug, Clone)]
pub(crate) struct RoomState {
    /// Index in the project.
    pub index: usize,
    pub service: Service,
    pub screens: Vec<ScreenResult>,
    /// Needs that do not depend on the supply dew point, standard m3/s.
    pub breathing_zone: f64,
    pub effectiveness: [f64; 2],
    pub ventilation: f64,
    pub per_person: f64,
    pub exhaust: f64,
    pub pressurization: f64,
    pub air_changes: f64,
    pub total_air_changes: f64,
    pub fixed: f64,
    pub fixed_need: Need,
    /// Moisture of people and processes at full use, kg/s.
    pub latent_kg_per_s: f64,
    /// Infiltration, kg/s dry air.
    pub infiltration_kg_per_s: f64,
    /// Largest `q/h_g + m_inf W_out`, and its outdoor humidity.
    pub source_kg_per_s: f64,
    pub source_humidity_ratio: f64,
    /// Day and hour of it, and people and processes then.
    pub source_when: (usize, usize),
    pub source_gain_kg_per_s: f64,
    /// Transfer air in, kg/s dry air, and the index of its room.
    pub transfer_kg_per_s: f64,
    pub transfer_from: Option<usize>,
    /// Humidity of the transfer air while the room that it comes from stands at its limit.
    pub transfer_w: TransferMoisture,
    /// Own dew-point limit, when the room has one.
    pub own_limit_w: Option<f64>,
    /// Share of the zone's discharge.
    pub share: f64,
    /// Index of the zone.
    pub zone: usize,
    /// Room temperature.
    pub set_point_c: f64,
    /// Vapour enthalpy used, J/kg.
    pub vapour_enthalpy: f64,
}

/// Humidity ratio of transfer air: `added + passed * min(limit, root_limit)`, where the root is the first room with primary
/// air up the chain, which stands at its limit, and rooms without primary air on the way add their moisture.
#[derive(Debug, Clone, Copy)]
pub(crate) struct TransferMoisture {
    added: f64,
    passed: f64,
    root_limit_w: f64,
}

impl TransferMoisture {
    /// No transfer air, or air of a room at the limit of the building.
    const AT_LIMIT: Self = Self { added: 0.0, passed: 1.0, root_limit_w: f64::INFINITY };

    #[inline]
    fn at(self, w_limit: f64) -> f64 {
        self.added + self.passed * w_limit.min(self.root_limit_w)
    }
}

/// A zone: rooms that share a terminal.
#[derive(Debug, Clone)]
pub(crate) struct ZoneState {
    /// Indices into the room states; the room with the thermostat (largest cooling peak) first.
    pub rooms: Vec<usize>,
}

/// All rooms and zones, prepared.
#[derive(Debug, Clone)]
pub(crate) struct Prepared {
    pub rooms: Vec<RoomState>,
    pub zones: Vec<ZoneState>,
    pub days: Vec<DayMoisture>,
    pub pressure_pa: f64,
    /// What flows depend on, zone after zone, for the many evaluations of the search.
    lean: Vec<LeanRoom>,
    /// Where the rooms of each zone begin in `lean`, and their end.
    starts: Vec<usize>,
}

/// A room of a zone as the flow of the zone sees it.
#[derive(Debug, Clone, Copy)]
struct LeanRoom {
    index: usize,
    /// Own limit of the humidity ratio; infinite without one.
    own_limit_w: f64,
    source_kg_per_s: f64,
    infiltration_kg_per_s: f64,
    transfer_kg_per_s: f64,
    transfer_w: TransferMoisture,
    fixed: f64,
    share: f64,
}

impl LeanRoom {
    #[inline]
    fn latent_flow(&self, w_limit: f64, w_supply: f64) -> f64 {
        let own = self.own_limit_w.min(w_limit);
        let brought = if self.transfer_kg_per_s > 0.0 {
            self.transfer_kg_per_s * (self.transfer_w.at(w_limit) - own)
        } else {
            0.0
        };
        latent_flow(self.source_kg_per_s + brought, self.infiltration_kg_per_s, own, w_supply)
    }
}

impl RoomState {
    /// Humidity ratio of its transfer air while the source stands at its limit.
    pub(crate) fn transfer_humidity(&self, w_limit: f64) -> f64 {
        self.transfer_w.at(w_limit)
    }

    /// Moisture that transfer air brings above the limit of this room.
    #[inline]
    fn brought(&self, w_limit: f64, own_limit_w: f64) -> f64 {
        if self.transfer_kg_per_s > 0.0 {
            self.transfer_kg_per_s * (self.transfer_w.at(w_limit) - own_limit_w)
        } else {
            0.0
        }
    }

    /// Latent flow at this limit and supply, standard m3/s; infinite when the supply is not drier than the room.
    #[inline]
    pub(crate) fn latent_flow(&self, w_limit: f64, w_supply: f64) -> f64 {
        let own = self.own_limit_w.map_or(w_limit, |own| own.min(w_limit));
        let source = self.source_kg_per_s + self.brought(w_limit, own);
        latent_flow(source, self.infiltration_kg_per_s, own, w_supply)
    }

    /// Supply humidity ratio needed at the fixed flow; `None` when the room needs none or no air is dry enough.
    pub(crate) fn required_supply(&self, w_limit: f64) -> Option<f64> {
        let own = self.own_limit_w.map_or(w_limit, |own| own.min(w_limit));
        let carry = self.source_kg_per_s + self.brought(w_limit, own) - self.infiltration_kg_per_s * own;
        if carry <= 0.0 || self.fixed <= 0.0 {
            return None;
        }
        let w = own - carry / (self.fixed * RHO);
        (w > 0.0).then_some(w)
    }

    /// Room humidity ratio for a source term, primary mass flow, supply, and transfer air at `w_transfer`.
    pub(crate) fn humidity_ratio(
        &self,
        source: f64,
        primary_kg_per_s: f64,
        w_supply: f64,
        w_transfer: f64,
    ) -> f64 {
        let tr = self.transfer_kg_per_s;
        let den = primary_kg_per_s + self.infiltration_kg_per_s + tr;
        (source + primary_kg_per_s * w_supply + tr * w_transfer) / den
    }

    /// Primary air that the room needs whoever is there, standard m3/s: by floor area, air changes, exhaust,
    /// pressurization.
    pub(crate) fn without_people(&self, project: &Project) -> f64 {
        let room = &project.rooms[self.index];
        let people = project
            .kind_of(room)
            .ventilation
            .as_ref()
            .map_or(0.0, |v| v.per_person.to_m3_per_s() * room.people.value);
        let worst = self.effectiveness[0].min(self.effectiveness[1]);
        ((self.breathing_zone - people).max(0.0) / worst)
            .max(self.air_changes)
            .max(self.exhaust)
            .max(self.pressurization)
    }

    fn is_on_primary_air(&self) -> bool {
        matches!(self.service, Service::Terminal | Service::PrimaryOnly)
    }
}

#[inline]
fn latent_flow(source_kg_per_s: f64, infiltration_kg_per_s: f64, w_limit: f64, w_supply: f64) -> f64 {
    let carry = source_kg_per_s - infiltration_kg_per_s * w_limit;
    if carry <= 0.0 {
        0.0
    } else if w_supply >= w_limit {
        f64::INFINITY
    } else {
        carry / (w_limit - w_supply) / RHO
    }
}

/// Prepares every room.
pub(crate) fn prepare(project: &Project, site: &SiteFacts, loads: &Loads, days: &[DayMoisture]) -> Prepared {
    let mut rooms: Vec<RoomState> =
        project.rooms.iter().enumerate().map(|(i, r)| state(project, i, r, site, loads, days)).collect();
    let index_of: std::collections::BTreeMap<&str, usize> =
        project.rooms.iter().enumerate().map(|(i, r)| (r.id.as_str(), i)).collect();
    for (state, room) in rooms.iter_mut().zip(&project.rooms) {
        state.transfer_from =
            room.transfer_from.as_ref().and_then(|f| index_of.get(f.value.as_str())).copied();
    }
    transfer(project, &mut rooms);
    transfer_moisture(&mut rooms);
    let zones = zones(project, loads, &mut rooms);
    let mut starts = vec![0];
    starts.extend(zones.iter().scan(0, |end, z| {
        *end += z.rooms.len();
        Some(*end)
    }));
    let lean = zones
        .iter()
        .flat_map(|z| &z.rooms)
        .map(|i| {
            let r = &rooms[*i];
            LeanRoom {
                index: *i,
                own_limit_w: r.own_limit_w.unwrap_or(f64::INFINITY),
                source_kg_per_s: r.source_kg_per_s,
                infiltration_kg_per_s: r.infiltration_kg_per_s,
                transfer_kg_per_s: r.transfer_kg_per_s,
                transfer_w: r.transfer_w,
                fixed: r.fixed,
                share: r.share,
            }
        })
        .collect();
    Prepared { rooms, zones, days: days.to_vec(), pressure_pa: site.pressure_pa, lean, starts }
}

/// Transfer air of every room that names a source. A room with primary air draws what its exhaust needs beyond that
/// air; a room without draws its ventilation, or its exhaust together with what other rooms draw through it.
fn transfer(project: &Project, rooms: &mut [RoomState]) {
    let mut drawn = vec![0.0; rooms.len()];
    for i in order(rooms).into_iter().rev() {
        let Some(from) = rooms[i].transfer_from else { continue };
        let exhaust = project.rooms[i].exhaust.value.to_m3_per_s();
        let r = &mut rooms[i];
        let flow = match r.service {
            Service::Transfer => r.ventilation.max(exhaust + drawn[i]),
            Service::Terminal | Service::PrimaryOnly if exhaust > 0.0 => {
                let leaving = exhaust.max(r.pressurization);
                r.exhaust = 0.0;
                r.pressurization = (r.pressurization - exhaust).max(0.0);
                r.refresh_fixed();
                (leaving - r.fixed).max(0.0)
            }
            // Its own unit brings its ventilation; transfer air makes up the rest of its exhaust.
            Service::OffSystem => (exhaust - r.ventilation).max(0.0),
            Service::SensibleUnits | Service::Terminal | Service::PrimaryOnly => 0.0,
        };
        r.transfer_kg_per_s = flow * RHO;
        if r.service == Service::Transfer {
            r.exhaust = 0.0;
        }
        drawn[from] += flow;
    }
}

/// Humidity of the transfer air of every room, up its chain.
fn transfer_moisture(rooms: &mut [RoomState]) {
    for i in order(rooms) {
        let Some(from) = rooms[i].transfer_from else { continue };
        let source = &rooms[from];
        rooms[i].transfer_w = if source.is_on_primary_air() {
            TransferMoisture {
                root_limit_w: source.own_limit_w.unwrap_or(f64::INFINITY),
                ..TransferMoisture::AT_LIMIT
            }
        } else {
            let up = source.transfer_w;
            let air = source.transfer_kg_per_s + source.infiltration_kg_per_s;
            if air > 0.0 {
                let share = source.transfer_kg_per_s / air;
                TransferMoisture {
                    added: source.source_kg_per_s / air + share * up.added,
                    passed: share * up.passed,
                    root_limit_w: up.root_limit_w,
                }
            } else {
                up
            }
        };
    }
}

/// Room indices such that a room stands after the one from which it draws transfer air.
fn order(rooms: &[RoomState]) -> Vec<usize> {
    let depth = |mut i: usize| {
        // Transfer chains are free of loops (checked with the project); the bound only guards this walk.
        let mut n = 0;
        while let Some(from) = rooms[i].transfer_from {
            i = from;
            n += 1;
            if n > rooms.len() {
                break;
            }
        }
        n
    };
    let mut order: Vec<(usize, usize)> = (0..rooms.len()).map(|i| (depth(i), i)).collect();
    order.sort_unstable();
    order.into_iter().map(|(_, i)| i).collect()
}

impl RoomState {
    fn refresh_fixed(&mut self) {
        if !self.is_on_primary_air() {
            self.fixed = 0.0;
            self.fixed_need = Need::None;
            return;
        }
        let candidates = [
            (Need::Ventilation, self.ventilation),
            (Need::PerPerson, self.per_person),
            (Need::AirChanges, self.air_changes),
            (Need::Exhaust, self.exhaust),
            (Need::Pressurization, self.pressurization),
        ];
        self.fixed = 0.0;
        self.fixed_need = Need::None;
        for (need, flow) in candidates {
            // A need must be larger by more than rounding to take over from one named earlier.
            if flow > self.fixed * (1.0 + 1e-12) {
                self.fixed = flow;
                self.fixed_need = need;
            }
        }
        if self.service == Service::PrimaryOnly && self.total_air_changes > self.fixed {
            self.fixed = self.total_air_changes;
            self.fixed_need = Need::AirChanges;
        }
    }
}

fn state(
    project: &Project,
    index: usize,
    room: &Room,
    site: &SiteFacts,
    loads: &Loads,
    days: &[DayMoisture],
) -> RoomState {
    let (service, screens) = service::decide(project, room);
    let kind = project.kind_of(room);
    let load = &loads.rooms[index];
    let people = room.people.value;
    let area = room.floor_area.value;
    let breathing_zone = kind
        .ventilation
        .as_ref()
        .map_or(0.0, |v| v.per_person.to_m3_per_s() * people + (v.per_area * area).to_m3_per_s());
    let t = &project.terminals;
    let warm = t.highest_discharge.value.to_celsius() - room.heating_set_point.value.to_celsius();
    let heated = load.heating.load_w > 0.0;
    let effectiveness = [1.0, if heated && warm >= WARM_SUPPLY_K - 1e-9 { 0.8 } else { 1.0 }];
    let ventilation = (breathing_zone / effectiveness[0]).max(breathing_zone / effectiveness[1]);
    let per_person = room.outdoor_air_per_person.value.to_m3_per_s() * people;
    let volume = room.volume().to_cubic_metres();
    let per_hour = |ach: AirChangesPerHour| ach.to_per_hour() * volume / 3600.0;
    let health = kind.health_care.as_ref();
    let air_changes = health
        .and_then(|h| h.outdoor)
        .map_or(0.0, per_hour)
        .max(room.outdoor_air_changes.as_ref().map_or(0.0, |a| per_hour(a.value)));
    let total_air_changes = health.and_then(|h| h.total).map_or(0.0, per_hour);
    let room_exhaust = room.exhaust.value.to_m3_per_s();
    let pressure = health.map_or(PressureRelation::Neutral, |h| h.pressure);
    // Of the exhaust of a room below its neighbours only what does not come in through the cracks is made up.
    let exhaust = match pressure {
        PressureRelation::Negative => (room_exhaust - PRESSURE_OFFSET_M3_PER_S).max(0.0),
        PressureRelation::Neutral | PressureRelation::Positive => room_exhaust,
    };
    let facade: f64 = project
        .surfaces_of(room)
        .filter(|s| matches!(s.kind, SurfaceKind::Wall | SurfaceKind::Window | SurfaceKind::Roof))
        .map(|s| s.area.value.to_square_metres())
        .sum();
    let leak = project.criteria.pressurization.value.to_m_per_s() * facade;
    let outward = match pressure {
        // A surplus would turn the relation round.
        PressureRelation::Negative => 0.0,
        PressureRelation::Neutral => leak,
        PressureRelation::Positive => leak + PRESSURE_OFFSET_M3_PER_S,
    };
    let pressurization = if outward > 0.0 { room_exhaust + outward } else { 0.0 };

    let set_point_c = room.cooling_set_point.value.to_celsius();
    let vapour_enthalpy = raw::vapour_enthalpy_j_per_kg(set_point_c);
    let people_w = room.latent_per_person.value.to_watts() * people;
    let process_w = room.process_latent.value.to_watts();
    let infiltration_kg_per_s = load.infiltration_m3_per_s * RHO;
    let profile = project.profile_of(room);
    let mut best = (f64::NEG_INFINITY, 0.0, (0, 0), 0.0);
    for (d, day) in days.iter().enumerate() {
        for h in 0..24 {
            if !profile.is_occupied(DayType::Weekday, h) {
                continue;
            }
            let q = people_w * profile.share(UseShare::People, DayType::Weekday, h)
                + process_w * profile.share(UseShare::Process, DayType::Weekday, h);
            let source = q / vapour_enthalpy + infiltration_kg_per_s * day.humidity_ratio[h];
            if source > best.0 {
                best = (source, day.humidity_ratio[h], (d, h), q / vapour_enthalpy);
            }
        }
    }
    if !best.0.is_finite() {
        best = (0.0, 0.0, (0, 0), 0.0);
    }
    let own_limit_w = room
        .dew_point_limit
        .as_ref()
        .map(|l| raw::humidity_ratio_at_dew_point(l.value.to_celsius(), site.pressure_pa));
    let mut s = RoomState {
        index,
        service,
        screens,
        breathing_zone,
        effectiveness,
        ventilation,
        per_person,
        exhaust,
        pressurization,
        air_changes,
        total_air_changes,
        fixed: 0.0,
        fixed_need: Need::None,
        latent_kg_per_s: (people_w + process_w) / vapour_enthalpy,
        infiltration_kg_per_s,
        source_kg_per_s: best.0,
        source_humidity_ratio: best.1,
        source_when: best.2,
        source_gain_kg_per_s: best.3,
        transfer_kg_per_s: 0.0,
        transfer_from: None,
        transfer_w: TransferMoisture::AT_LIMIT,
        own_limit_w,
        share: 1.0,
        zone: usize::MAX,
        set_point_c,
        vapour_enthalpy,
    };
    s.refresh_fixed();
    s
}

/// Groups the rooms with a terminal by zone; discharge is shared in proportion to the peak cooling load.
fn zones(project: &Project, loads: &Loads, rooms: &mut [RoomState]) -> Vec<ZoneState> {
    let mut zones: Vec<ZoneState> = Vec::new();
    let mut by_name: std::collections::BTreeMap<String, usize> = std::collections::BTreeMap::new();
    for (i, room) in rooms.iter_mut().enumerate() {
        if !room.is_on_primary_air() {
            continue;
        }
        let name = project.rooms[i].zone.value.clone();
        let z = *by_name.entry(name).or_insert_with(|| {
            zones.push(ZoneState { rooms: Vec::new() });
            zones.len() - 1
        });
        zones[z].rooms.push(i);
        room.zone = z;
    }
    for zone in &mut zones {
        zone.rooms.sort_by(|a, b| {
            loads.rooms[*b].cooling.load_w.total_cmp(&loads.rooms[*a].cooling.load_w).then(a.cmp(b))
        });
        let total: f64 = zone.rooms.iter().map(|i| loads.rooms[*i].cooling.load_w.max(0.0)).sum();
        let n = zone.rooms.len() as f64;
        for i in &zone.rooms {
            rooms[*i].share =
                if total > 0.0 { loads.rooms[*i].cooling.load_w.max(0.0) / total } else { 1.0 / n };
        }
    }
    zones
}

/// Primary air of every room at one supply state, and the total.
#[derive(Debug, Clone)]
pub(crate) struct Flows {
    /// By room, standard m3/s.
    pub room: Vec<f64>,
    /// Sum, standard m3/s.
    pub total: f64,
    /// By zone: flow to which the least primary air of its terminal raises it, 0 where it does not.
    pub minimum: Vec<f64>,
    /// Terminal units in all.
    pub units: u32,
    /// Supplementary primary-air boxes in all.
    pub boxes: u32,
    /// Zones that no terminal serves.
    pub unserved: usize,
}

impl Prepared {
    /// Air that returns to the recovery over air delivered, for the primary air of every room.
    pub(crate) fn exhaust_ratio(&self, project: &Project, primary: impl Fn(usize) -> f64) -> f64 {
        let total: f64 = (0..self.rooms.len()).map(&primary).sum();
        if total <= 0.0 {
            return 0.0;
        }
        let returned = crate::balance::returned(project, |i| {
            let r = &self.rooms[i];
            RoomAir {
                service: r.service,
                primary: primary(i),
                ventilation: r.ventilation,
                transfer: r.transfer_kg_per_s / RHO,
            }
        });
        returned / total
    }

    fn lean_of(&self, zone: usize) -> &[LeanRoom] {
        &self.lean[self.starts[zone]..self.starts[zone + 1]]
    }

    /// Flows at a room limit and supply humidity ratio. `separate` lists rooms whose moisture is handled separately;
    /// `terminals` serves the zones at this state.
    pub(crate) fn flows(
        &self,
        w_limit: f64,
        w_supply: f64,
        separate: &[usize],
        terminals: &State<'_, '_>,
    ) -> Flows {
        let mut out = Flows {
            room: vec![0.0; self.rooms.len()],
            total: 0.0,
            minimum: vec![0.0; self.zones.len()],
            units: 0,
            boxes: 0,
            unserved: 0,
        };
        // Zone by zone, then summed in their order.
        let served: Vec<(f64, Option<Carried>)> = (0..self.zones.len())
            .into_par_iter()
            .with_min_len(ZONES_AT_ONCE)
            .map(|z| {
                let mut flow: f64 = 0.0;
                for r in self.lean_of(z) {
                    let latent = if !separate.is_empty() && separate.contains(&r.index) {
                        0.0
                    } else {
                        r.latent_flow(w_limit, w_supply)
                    };
                    let need = r.fixed.max(latent);
                    if need > 0.0 {
                        flow = flow.max(need / r.share);
                    }
                }
                (flow, if flow.is_finite() { terminals.serve(z, flow) } else { None })
            })
            .collect();
        for (z, (mut flow, carried)) in served.into_iter().enumerate() {
            if let Some(carried) = carried {
                out.minimum[z] = carried.minimum;
                flow = flow.max(carried.minimum);
                out.units += carried.units;
                out.boxes += carried.boxes;
                out.unserved += usize::from(carried.units == 0);
            }
            out.total += flow;
            for r in self.lean_of(z) {
                out.room[r.index] = flow * r.share;
            }
        }
        out
    }

    /// Needs of every room at the chosen point, with the resulting room states.
    pub(crate) fn resolve(
        &self,
        project: &Project,
        w_limit: f64,
        w_supply: f64,
        flows: &Flows,
    ) -> Vec<RoomNeeds> {
        let design_w = self.room_humidity(flows, w_supply, |r| r.source_kg_per_s);
        let worst = self.worst(project, flows, w_supply);
        let p = self.pressure_pa;
        self.rooms
            .iter()
            .map(|r| {
                let room = &project.rooms[r.index];
                let flow = flows.room[r.index];
                let latent = if r.is_on_primary_air() { r.latent_flow(w_limit, w_supply) } else { 0.0 };
                let own = r.fixed.max(latent);
                let governing = if !r.is_on_primary_air() {
                    Need::None
                } else if flow > own * (1.0 + 1e-9) {
                    let zone = &self.zones[r.zone];
                    if zone.rooms.len() > 1 && flow * (1.0 - 1e-9) > flows.minimum[r.zone] * r.share {
                        Need::ZoneShare
                    } else {
                        Need::TerminalMinimum
                    }
                } else if latent > r.fixed {
                    Need::Latent
                } else {
                    r.fixed_need
                };
                let limit_w = r.own_limit_w.map_or(w_limit, |own| own.min(w_limit));
                let cooled = !matches!(r.service, Service::OffSystem | Service::SensibleUnits);
                let dew = |w: f64| if w > 0.0 { raw::dew_point_c(w, p) } else { f64::NAN };
                let of_room = |w: f64| if cooled { w } else { f64::NAN };
                RoomNeeds {
                    room: room.id.clone(),
                    service: r.service,
                    screens: r.screens.clone(),
                    breathing_zone_m3_per_s: r.breathing_zone,
                    effectiveness: r.effectiveness,
                    ventilation_m3_per_s: r.ventilation,
                    per_person_m3_per_s: r.per_person,
                    exhaust_m3_per_s: r.exhaust,
                    pressurization_m3_per_s: r.pressurization,
                    air_changes_m3_per_s: r.air_changes,
                    fixed_m3_per_s: r.fixed,
                    fixed_need: r.fixed_need,
                    latent_kg_per_s: r.latent_kg_per_s,
                    infiltration_kg_per_s: r.infiltration_kg_per_s,
                    infiltration_humidity_ratio: r.source_humidity_ratio,
                    total_air_changes_m3_per_s: r.total_air_changes,
                    required_dew_point_c: r.required_supply(w_limit).map(dew),
                    latent_need_m3_per_s: latent,
                    primary_m3_per_s: flow,
                    governing,
                    humidity_ratio_kg_per_kg: of_room(design_w[r.index]),
                    dew_point_c: dew(of_room(design_w[r.index])),
                    dew_point_limit_c: raw::dew_point_c(limit_w, p),
                    worst_dew_point_c: dew(of_room(worst[r.index].0)),
                    worst_when: worst[r.index].1.clone(),
                    transfer_in_m3_per_s: r.transfer_kg_per_s / RHO,
                    transfer_from: r.transfer_from.map(|i| project.rooms[i].id.clone()),
                    transfer_limit_humidity_ratio_kg_per_kg: if r.transfer_kg_per_s > 0.0 {
                        r.transfer_humidity(w_limit)
                    } else {
                        0.0
                    },
                    design_hour: MoistureHour {
                        when: format!("{}, {:02}:00", self.days[r.source_when.0].name, r.source_when.1),
                        hour: r.source_when.1,
                        gain_kg_per_s: r.source_gain_kg_per_s,
                        outdoor_humidity_ratio_kg_per_kg: r.source_humidity_ratio,
                        transfer_humidity_ratio_kg_per_kg: r.transfer_from.map_or(0.0, |f| design_w[f]),
                        humidity_ratio_kg_per_kg: design_w[r.index],
                    },
                    worst_hour: worst[r.index].2.clone(),
                    zone_share: r.share,
                    zone_minimum_m3_per_s: if r.is_on_primary_air() { flows.minimum[r.zone] } else { 0.0 },
                }
            })
            .collect()
    }

    /// Humidity ratio of every room for a source term; NaN for a room without any air.
    fn room_humidity(&self, flows: &Flows, w_supply: f64, source: impl Fn(&RoomState) -> f64) -> Vec<f64> {
        let mut w = vec![f64::NAN; self.rooms.len()];
        self.fill_humidity(&order(&self.rooms), flows, w_supply, source, &mut w);
        w
    }

    fn fill_humidity(
        &self,
        order: &[usize],
        flows: &Flows,
        w_supply: f64,
        source: impl Fn(&RoomState) -> f64,
        w: &mut [f64],
    ) {
        for i in order {
            let r = &self.rooms[*i];
            let w_transfer = r.transfer_from.map_or(0.0, |f| w[f]);
            let m = flows.room[*i] * RHO;
            w[*i] = if m + r.infiltration_kg_per_s + r.transfer_kg_per_s > 0.0 {
                r.humidity_ratio(source(r), m, w_supply, w_transfer)
            } else {
                f64::NAN
            };
        }
    }

    /// Highest humidity ratio of every room over the occupied hours of every design day, and when.
    fn worst(
        &self,
        project: &Project,
        flows: &Flows,
        w_supply: f64,
    ) -> Vec<(f64, String, Option<MoistureHour>)> {
        let order = order(&self.rooms);
        let gains: Vec<[Option<f64>; 24]> = self
            .rooms
            .iter()
            .map(|r| {
                let room = &project.rooms[r.index];
                let profile = project.profile_of(room);
                let people_w = room.latent_per_person.value.to_watts() * room.people.value;
                let process_w = room.process_latent.value.to_watts();
                std::array::from_fn(|h| {
                    profile.is_occupied(DayType::Weekday, h).then(|| {
                        (people_w * profile.share(UseShare::People, DayType::Weekday, h)
                            + process_w * profile.share(UseShare::Process, DayType::Weekday, h))
                            / r.vapour_enthalpy
                    })
                })
            })
            .collect();
        let mut worst = vec![(f64::NAN, 0usize, 0usize, 0.0); self.rooms.len()];
        let mut w = vec![0.0; self.rooms.len()];
        for (d, day) in self.days.iter().enumerate() {
            for (h, outdoor) in day.humidity_ratio.iter().enumerate() {
                let source =
                    |r: &RoomState| gains[r.index][h].unwrap_or(0.0) + r.infiltration_kg_per_s * outdoor;
                self.fill_humidity(&order, flows, w_supply, source, &mut w);
                for r in &self.rooms {
                    let i = r.index;
                    let higher = worst[i].0.is_nan() || w[i] > worst[i].0;
                    if gains[i][h].is_some() && w[i].is_finite() && higher {
                        worst[i] = (w[i], d, h, r.transfer_from.map_or(0.0, |f| w[f]));
                    }
                }
            }
        }
        worst
            .into_iter()
            .enumerate()
            .map(|(i, (w, d, h, transfer))| {
                if w.is_nan() {
                    return (w, String::new(), None);
                }
                let when = format!("{}, {h:02}:00", self.days[d].name);
                let hour = MoistureHour {
                    when: when.clone(),
                    hour: h,
                    gain_kg_per_s: gains[i][h].unwrap_or(0.0),
                    outdoor_humidity_ratio_kg_per_kg: self.days[d].humidity_ratio[h],
                    transfer_humidity_ratio_kg_per_kg: transfer,
                    humidity_ratio_kg_per_kg: w,
                };
                (w, when, Some(hour))
            })
            .collect()
    }
}
