//! Rooms of the all-air scheme, one step at a time: boxes with variable flow and reheat.
//!
//! A box in cooling takes the flow that holds its set point, between its least and its largest. In heating the air is
//! warmed at the least flow, up to the warmest discharge; where the practice has a second maximum the flow then rises to it.
//! Rooms that follow the thermostat of another room of their zone get their part of its flow at its discharge of the step
//! before.

use crate::decoupled_rooms::{FeatureSteps, RoomStep};
use crate::drive::{BlockHour, Tile};
use crate::plant::all_air_design::AllAirDesign;
use crate::prepare::{LANES, Lanes, Prepared, SENSIBLE_UNIT_FAN_SHARE, ZERO};
use crate::signals::{AllAirDemand, AllAirSupply, BuildingMode, Outdoor};
use crate::tally::{BlockTally, StepLanes, StepLimits, add, raise, times};
use crate::wide::{self, Loop};
use drycoil_air::raw::{self, CP_DRY_AIR_J_PER_KG_K as CP_AIR, CP_VAPOUR_J_PER_KG_K as CP_VAPOUR};
use drycoil_project::{BoxKind, MinimumFlow, Project};
use drycoil_rooms::block::{Ideal, Response, control, moisture};

const CONDENSATION_J_PER_KG: f64 = 2.5e6;
const OWN_COIL_DEW_POINT_C: f64 = 10.0;

#[derive(Debug, Clone)]
struct Facts {
    largest: Lanes,
    /// Share-of-maximum minimum.
    floor: Lanes,
    /// Minimum at design, outdoor air included.
    least: Lanes,
    heating: Lanes,
    warmest_c: Lanes,
    reheat_w: Lanes,
    people: Lanes,
    area: Lanes,
    fixed: Lanes,
    effectiveness: Lanes,
    demand_control: Lanes,
    /// Own coils: off the system, server rooms.
    own_w_per_k: Lanes,
    own_c: Lanes,
    own_heating_w: Lanes,
    has_own: bool,
    /// Place of the room whose thermostat rules, and the part of its flow.
    leader: [u32; LANES],
    part: Lanes,
}

#[derive(Debug, Clone)]
struct Block {
    response: Response<LANES>,
    hour: BlockHour,
    least: Lanes,
    outdoor: Lanes,
    plenum_w: Lanes,
    flow: Lanes,
    discharge_c: Lanes,
    reheat: Lanes,
    own: Lanes,
    heat: Lanes,
    tally: BlockTally,
}

/// State of the rooms.
#[derive(Debug, Clone)]
pub struct AllAirRooms<'a> {
    p: &'a Prepared,
    facts: Vec<Facts>,
    blocks: Vec<Block>,
    air_c: [Vec<Lanes>; 2],
    w: [Vec<Lanes>; 2],
    /// Flow and discharge of the step before.
    before: Vec<(Lanes, Lanes)>,
    now: usize,
    own_w: f64,
    least_over_outdoor: f64,
    electric: bool,
    outdoor_asked: f64,
    pub(crate) features: FeatureSteps,
    hour_features: FeatureSteps,
    pub(crate) wettest_occupied: f64,
}

impl<'a> AllAirRooms<'a> {
    /// Rooms at rest, at the humidity of the design supply.
    pub fn new(p: &'a Prepared, project: &Project, design: &AllAirDesign) -> Self {
        let a = &project.all_air;
        let fraction = match a.minimum_flow.value {
            MinimumFlow::SingleMaximum => a.single_minimum.value.to_ratio(),
            MinimumFlow::DualMaximum => a.dual_minimum.value.to_ratio(),
        };
        let mut facts = Vec::with_capacity(p.blocks.len());
        for (b, f) in p.blocks.iter().enumerate() {
            let mut x = Facts {
                largest: ZERO,
                floor: ZERO,
                least: ZERO,
                heating: ZERO,
                warmest_c: [40.0; LANES],
                reheat_w: ZERO,
                people: ZERO,
                area: ZERO,
                fixed: ZERO,
                effectiveness: [1.0; LANES],
                demand_control: ZERO,
                own_w_per_k: ZERO,
                own_c: ZERO,
                own_heating_w: ZERO,
                has_own: false,
                leader: std::array::from_fn(|l| (b * LANES + l.min(f.rooms - 1)) as u32),
                part: [1.0; LANES],
            };
            for l in 0..f.rooms {
                let i = b * LANES + l;
                let (own, room) = (&design.boxes[i], &project.rooms[i]);
                x.largest[l] = own.largest_kg_per_s;
                x.least[l] = own.minimum_kg_per_s;
                x.floor[l] = (fraction * own.largest_kg_per_s).min(own.minimum_kg_per_s);
                x.heating[l] = own.heating_kg_per_s;
                x.warmest_c[l] = own.warmest_c;
                x.reheat_w[l] = own.reheat_w;
                x.people[l] = own.outdoor_people_kg_per_s;
                x.area[l] = own.outdoor_area_kg_per_s;
                x.fixed[l] = own.outdoor_fixed_kg_per_s;
                let worst = own.effectiveness[0].min(own.effectiveness[1]);
                x.effectiveness[l] = if worst > 0.0 { worst } else { 1.0 };
                let controlled = a.follows_people(room.floor_area.value, room.people.value);
                x.demand_control[l] = f64::from(u8::from(controlled && own.largest_kg_per_s > 0.0));
                let server = f.server[l];
                let alone = f.off_system[l] + server;
                x.own_w_per_k[l] = f.coil_w_per_k[l] * alone;
                x.own_c[l] = f.own_coil_c[l] + server * p.settings.water_c;
                x.own_heating_w[l] = f.heating_w[l] * alone;
                x.has_own |= alone > 0.0;
                let leader = p.rooms[i].leader as usize;
                if leader != i && own.largest_kg_per_s > 0.0 {
                    x.leader[l] = leader as u32;
                    let lead = design.boxes[leader].largest_kg_per_s;
                    x.part[l] = if lead > 0.0 { own.largest_kg_per_s / lead } else { 0.0 };
                }
            }
            facts.push(x);
        }
        let blocks = p
            .models
            .iter()
            .zip(&p.blocks)
            .map(|(m, f)| Block {
                response: Response::steady(m, &f.start_w),
                hour: BlockHour::new(p, f, 0, BuildingMode::Night),
                least: ZERO,
                outdoor: ZERO,
                plenum_w: ZERO,
                flow: ZERO,
                discharge_c: [20.0; LANES],
                reheat: ZERO,
                own: ZERO,
                heat: ZERO,
                tally: BlockTally::new(),
            })
            .collect();
        let air: Vec<Lanes> = p
            .blocks
            .iter()
            .map(|f| std::array::from_fn(|l| if l < f.rooms { f.heating_c[l] } else { 20.0 }))
            .collect();
        let w = vec![[p.settings.supply_w; LANES]; p.blocks.len()];
        Self {
            p,
            facts,
            blocks,
            before: vec![(ZERO, [20.0; LANES]); p.blocks.len()],
            air_c: [air.clone(), air],
            w: [w.clone(), w],
            now: 0,
            own_w: raw::humidity_ratio_at_dew_point(OWN_COIL_DEW_POINT_C, p.settings.p_pa),
            least_over_outdoor: a.minimum_over_outdoor.value,
            electric: a.boxes.value == BoxKind::ElectricReheat,
            outdoor_asked: 0.0,
            features: FeatureSteps::default(),
            hour_features: FeatureSteps::default(),
            wettest_occupied: 0.0,
        }
    }

    /// Forgets all sums, keeps the state.
    pub fn restart_sums(&mut self) {
        for b in &mut self.blocks {
            b.tally = BlockTally::new();
        }
        self.features = FeatureSteps::default();
    }

    /// Air temperatures after the last step.
    pub fn air_c(&self) -> &[Lanes] {
        &self.air_c[self.now]
    }

    pub(crate) fn tally(&self, block: usize) -> &BlockTally {
        &self.blocks[block].tally
    }

    pub(crate) fn state(&self, room: usize) -> (Vec<f64>, f64) {
        let b = &self.blocks[room / LANES];
        (b.response.lags(room % LANES), b.heat[room % LANES])
    }

    /// Humidity ratios after the last step.
    pub fn humidity_ratio(&self) -> &[Lanes] {
        &self.w[self.now]
    }

    pub(crate) fn watch(&self, room: usize) -> RoomStep {
        let (b, l) = (room / LANES, room % LANES);
        let k = &self.blocks[b];
        RoomStep {
            occupied: k.hour.occupied[l],
            air_c: self.air_c[self.now][b][l],
            w: self.w[self.now][b][l],
            counts: false,
            supply_kg_per_s: k.flow[l],
            coil_w: k.own[l],
            heating_w: k.reheat[l],
            condensate_kg_per_s: 0.0,
            heat_w: k.heat[l],
        }
    }

    /// Settings of an hour, with the supply at its start.
    pub fn set_hour(&mut self, hour: usize, mode: BuildingMode, _supply: &AllAirSupply) {
        wide::run(self.p.arch, HourWork { rooms: self, hour, mode });
    }

    #[inline(always)]
    fn hour(&mut self, hour: usize, mode: BuildingMode) {
        let p = self.p;
        let steps = p.weather.steps_per_hour as f64;
        let mut count = FeatureSteps::default();
        let mut asked = 0.0;
        for ((k, f), x) in self.blocks.iter_mut().zip(&p.blocks).zip(&self.facts) {
            let h = BlockHour::new(p, f, hour, mode);
            let there = &f.there;
            for l in 0..LANES {
                let served = h.served[l] * (1.0 - h.standby[l]);
                let people = x.people[l] * h.people[l];
                // The air handler counts the people who are there; a box without demand control keeps its design least.
                let zone = (x.people[l] + x.demand_control[l] * (people - x.people[l]) + x.area[l])
                    .max(x.fixed[l])
                    / x.effectiveness[l];
                let least = if x.demand_control[l] > 0.0 {
                    (self.least_over_outdoor * zone).max(x.floor[l]).min(x.least[l])
                } else {
                    x.least[l]
                };
                // Before use boxes move what heats or cools, no ventilation.
                k.least[l] = least * served;
                k.outdoor[l] = zone * served;
                k.plenum_w[l] = f.plenum_w[l] * h.lights[l];
            }
            for l in 0..LANES {
                let served = h.served[l] * (1.0 - h.standby[l]);
                let people = x.people[l] * h.people[l];
                let uncorrected = if x.demand_control[l] > 0.0 { people } else { x.people[l] };
                asked += (uncorrected + x.area[l]).max(x.fixed[l]) * served * there[l];
                count.set_back += there[l] * (1.0 - h.served[l] - h.start[l]);
                count.start_up += there[l] * h.start[l];
                count.standby += there[l] * h.standby[l];
                count.demand_control +=
                    f64::from(u8::from(served > 0.0 && k.least[l] < x.least[l] * (1.0 - 1e-9)));
                count.transfer += f64::from(u8::from(h.transfer[l] > 0.0));
                count.follower += f.follower[l] * there[l];
            }
            k.tally.hour(&h, steps);
            k.hour = h;
        }
        self.outdoor_asked = asked;
        self.hour_features = count;
    }

    /// One step.
    pub(crate) fn step(
        &mut self,
        tile: &Tile,
        step_of_tile: usize,
        supply: &AllAirSupply,
        outdoor: &Outdoor,
        limits: &StepLimits,
    ) -> AllAirDemand {
        wide::run(self.p.arch, StepWork { rooms: self, tile, step_of_tile, supply, outdoor, limits })
    }

    #[inline(always)]
    #[allow(clippy::too_many_lines)]
    fn advance(
        &mut self,
        tile: &Tile,
        step_of_tile: usize,
        supply: &AllAirSupply,
        outdoor: &Outdoor,
        limits: &StepLimits,
    ) -> AllAirDemand {
        let p = self.p;
        let (before, after) = (self.now, 1 - self.now);
        let cp = |w: f64| CP_AIR + CP_VAPOUR * w;
        let (cp_s, cp_o) = (cp(supply.supply_w), cp(outdoor.w));
        let mut s = Sums::default();
        for (b, ((k, f), x)) in self.blocks.iter_mut().zip(&p.blocks).zip(&self.facts).enumerate() {
            let model = &p.models[b];
            let (unit, per_unit) = model.unit();
            let w = self.w[before][b];
            let free = k.response.free_c(tile.free(b, step_of_tile));
            let h = &k.hour;
            let (mut g, mut gt, mut flow, mut water) = (ZERO, ZERO, ZERO, ZERO);
            let (mut off, mut fan) = (ZERO, ZERO);
            for l in 0..LANES {
                let m_i = h.leak[l];
                fan[l] = SENSIBLE_UNIT_FAN_SHARE * k.own[l] * f.server[l];
                // Lights that heat the plenum leave with the return air.
                off[l] = k.plenum_w[l] * h.served[l] * (if k.flow[l] > 0.0 { 1.0 } else { 0.0 });
                g[l] = m_i * cp_o;
                gt[l] = m_i * cp_o * outdoor.t_c + fan[l] - off[l];
                flow[l] = m_i;
                water[l] = m_i * outdoor.w + h.vapour[l];
            }
            if f.has_transfer {
                for l in 0..LANES {
                    let from = f.transfer_from[l] as usize;
                    let (t_s, w_s) = (
                        self.air_c[before][from / LANES][from % LANES],
                        self.w[before][from / LANES][from % LANES],
                    );
                    let m = h.transfer[l];
                    let c = m * cp(w_s);
                    g[l] += c;
                    gt[l] += c * t_s;
                    flow[l] += m;
                    water[l] += m * w_s;
                }
            }
            let (mut least, mut most, mut most_heating, mut enters) =
                (k.least, x.largest, x.heating, [supply.supply_c; LANES]);
            let mut reheat_w = x.reheat_w;
            if f.has_followers {
                for l in 0..LANES {
                    let lead = x.leader[l] as usize;
                    if lead != b * LANES + l {
                        let (flows, discharge) = &self.before[lead / LANES];
                        let m = flows[lead % LANES] * x.part[l];
                        (least[l], most[l], most_heating[l]) = (m, m, m);
                        enters[l] = if m > 0.0 { discharge[lead % LANES] } else { supply.supply_c };
                        reheat_w[l] = 0.0;
                    }
                }
            }
            let (mut m_s, mut discharge_cap) = (ZERO, ZERO);
            for l in 0..LANES {
                let damped = 1.0 + unit[l] * g[l];
                let start = free[l] + unit[l] * gt[l];
                let spread = h.cooling_c[l] - enters[l];
                let spread = if spread > 0.5 { spread } else { 0.5 };
                let cooling = (start - damped * h.cooling_c[l]) * per_unit[l] / (cp_s * spread);
                let rise = x.warmest_c[l] - h.heating_c[l];
                let rise = if rise > 0.5 { rise } else { 0.5 };
                let heating = (damped * h.heating_c[l] - start) * per_unit[l] / (cp_s * rise);
                let by_heating = if heating < most_heating[l] { heating } else { most_heating[l] };
                let by_cooling = if cooling < most[l] { cooling } else { most[l] };
                let by_load = if by_cooling > by_heating { by_cooling } else { by_heating };
                let asked = if by_load > least[l] { by_load } else { least[l] };
                m_s[l] = asked * supply.flow_share;
                let warm = (x.warmest_c[l] - enters[l]) * m_s[l] * cp_s;
                let warm = if warm > 0.0 { warm } else { 0.0 };
                discharge_cap[l] = if warm < reheat_w[l] { warm } else { reheat_w[l] };
                let share = asked / (if x.largest[l] > 0.0 { x.largest[l] } else { 1e30 });
                s.box_share[l] = if share > s.box_share[l] { share } else { s.box_share[l] };
                let critical = k.outdoor[l] / (if m_s[l] > 1e-9 { m_s[l] } else { 1e30 });
                s.critical[l] = if critical > s.critical[l] { critical } else { s.critical[l] };
            }
            let mut by_supply = ZERO;
            let mut ideal = Ideal {
                heating_set_c: h.heating_c,
                cooling_set_c: h.cooling_c,
                heating_capacity_w: ZERO,
                heating_share: supply.heating_share,
                coil_w_per_k: x.own_w_per_k,
                coil_c: x.own_c,
                cooling_share: 1.0,
            };
            for l in 0..LANES {
                by_supply[l] = m_s[l] * cp_s;
                g[l] += by_supply[l];
                gt[l] += by_supply[l] * enters[l];
                flow[l] += m_s[l];
                water[l] += m_s[l] * supply.supply_w;
                ideal.heating_capacity_w[l] = discharge_cap[l] + x.own_heating_w[l];
            }
            let c = control(unit, per_unit, &free, &g, &gt, &ideal);
            let mut heat = ZERO;
            for l in 0..LANES {
                heat[l] = c.air_flow_w[l] + (c.heating_w[l] - c.cooling_w[l]);
            }
            k.response.take(model, &heat);
            let (mut wet_kg, mut wet_w) = (ZERO, ZERO);
            if f.has_off_system {
                for l in 0..LANES {
                    let at = f.off_system[l] * self.own_w;
                    let through =
                        f.off_system[l] * c.cooling_w[l] / (c.air_c[l] - ideal.coil_c[l]).max(0.5) / CP_AIR;
                    let stays = w[l] > at && water[l] > flow[l] * at;
                    wet_kg[l] = if stays { through } else { 0.0 };
                    wet_w[l] = at;
                    flow[l] += wet_kg[l];
                    water[l] += wet_kg[l] * at;
                }
            }
            let humid = moisture(&w, &flow, &water, &f.step_per_kg);
            let (mut supply_heat, mut ventilation) = (ZERO, ZERO);
            for l in 0..LANES {
                supply_heat[l] = by_supply[l] * (enters[l] - c.air_c[l]);
                ventilation[l] = m_s[l] * supply.outdoor_share;
            }
            k.tally.step(
                &StepLanes {
                    air_c: &c.air_c,
                    w: &humid.end,
                    mean_w: &humid.mean,
                    coil: &c.cooling_w,
                    heating: &c.heating_w,
                    supply: &supply_heat,
                    fan: &fan,
                    flows: &c.air_flow_w,
                    ventilation: &ventilation,
                    flow: &flow,
                    water: &water,
                },
                h,
                limits,
            );
            k.flow = m_s;
            k.reheat = c.heating_w;
            k.own = c.cooling_w;
            k.heat = heat;
            let (mut back, mut warmed) = (ZERO, ZERO);
            for l in 0..LANES {
                let carried = if by_supply[l] > 1e-9 { by_supply[l] } else { 1e30 };
                k.discharge_c[l] = enters[l] + c.heating_w[l] / carried;
                let m = m_s[l] + h.transfer[l] - h.drawn[l];
                back[l] = if m > 0.0 { m * f.returns[l] } else { 0.0 };
                // What a follower's air was warmed by is reheat as well.
                warmed[l] = c.heating_w[l] * f.returns[l] + by_supply[l] * (enters[l] - supply.supply_c);
            }
            add(&mut s.supply, &m_s);
            add(&mut s.back, &back);
            add(&mut s.back_c, &times(&back, &c.air_c));
            add(&mut s.back_w, &times(&back, &humid.mean));
            add(&mut s.plenum, &off);
            add(&mut s.heating, &warmed);
            if x.has_own {
                add(&mut s.fans, &fan);
                add(&mut s.servers, &times(&c.cooling_w, &f.server));
                let mut latent = ZERO;
                for l in 0..LANES {
                    latent[l] = wet_kg[l] * (humid.mean[l] - wet_w[l]) * CONDENSATION_J_PER_KG;
                }
                add(&mut s.own_cooling, &times(&c.cooling_w, &f.off_system));
                add(&mut s.own_cooling, &latent);
                add(&mut s.own_heating, &times(&c.heating_w, &f.off_system));
            }
            raise(&mut s.wettest, &times(&humid.end, &f.on_system));
            if h.any_occupied {
                raise(&mut s.occupied, &times(&humid.end, &h.occupied));
            }
            let (mut working, mut giving, mut reheats) = (ZERO, ZERO, ZERO);
            for l in 0..LANES {
                let t = c.air_c[l];
                let warm = if t > h.cooling_c[l] + 1e-6 { 1.0 } else { 0.0 };
                working[l] = if m_s[l] + c.cooling_w[l] > 0.0 { warm } else { 0.0 };
                let cold = if t < h.heating_c[l] - 1e-6 { 1.0 } else { 0.0 };
                giving[l] = if c.heating_w[l] > 0.0 { cold } else { 0.0 };
                let heats = if c.heating_w[l] * m_s[l] > 0.0 { 1.0 } else { 0.0 };
                reheats[l] = if supply.supply_c < t { heats } else { 0.0 };
            }
            k.tally.limited(&working, &giving);
            add(&mut s.reheats, &reheats);
            self.air_c[after][b] = c.air_c;
            self.w[after][b] = humid.end;
        }
        for (place, k) in self.before.iter_mut().zip(&self.blocks) {
            *place = (k.flow, k.discharge_c);
        }
        self.now = after;
        let steps = &self.hour_features;
        self.features.set_back += steps.set_back;
        self.features.start_up += steps.start_up;
        self.features.standby += steps.standby;
        self.features.demand_control += steps.demand_control;
        self.features.transfer += steps.transfer;
        self.features.follower += steps.follower;
        let total = |x: &Lanes| x.iter().sum::<f64>();
        let highest = |x: &Lanes| x.iter().fold(0.0_f64, |a, b| a.max(*b));
        self.features.reheat += total(&s.reheats);
        self.wettest_occupied = highest(&s.occupied);
        let back = total(&s.back);
        let back_w = if back > 0.0 { total(&s.back_w) / back } else { 0.0 };
        let plenum = if back > 0.0 { total(&s.plenum) / (back * cp(back_w)) } else { 0.0 };
        AllAirDemand {
            supply_kg_per_s: total(&s.supply),
            return_kg_per_s: back,
            return_c: if back > 0.0 { total(&s.back_c) / back + plenum } else { 0.0 },
            return_w: back_w,
            hot_water_w: if self.electric { 0.0 } else { total(&s.heating) },
            electric_heating_w: if self.electric { total(&s.heating) } else { 0.0 },
            outdoor_asked_kg_per_s: self.outdoor_asked,
            critical_share: highest(&s.critical),
            greatest_box_share: highest(&s.box_share),
            wettest_w: highest(&s.wettest),
            sensible_units_w: total(&s.servers),
            terminal_fans_w: total(&s.fans),
            off_system_cooling_w: total(&s.own_cooling),
            off_system_heating_w: total(&s.own_heating),
        }
    }
}

struct HourWork<'r, 'p> {
    rooms: &'r mut AllAirRooms<'p>,
    hour: usize,
    mode: BuildingMode,
}

impl Loop for HourWork<'_, '_> {
    type Output = ();
    #[inline(always)]
    fn run(self) {
        self.rooms.hour(self.hour, self.mode);
    }
}

struct StepWork<'r, 'p, 's> {
    rooms: &'r mut AllAirRooms<'p>,
    tile: &'s Tile,
    step_of_tile: usize,
    supply: &'s AllAirSupply,
    outdoor: &'s Outdoor,
    limits: &'s StepLimits,
}

impl Loop for StepWork<'_, '_, '_> {
    type Output = AllAirDemand;
    #[inline(always)]
    fn run(self) -> AllAirDemand {
        self.rooms.advance(self.tile, self.step_of_tile, self.supply, self.outdoor, self.limits)
    }
}

#[derive(Default)]
struct Sums {
    supply: Lanes,
    back: Lanes,
    back_c: Lanes,
    back_w: Lanes,
    plenum: Lanes,
    servers: Lanes,
    fans: Lanes,
    own_cooling: Lanes,
    own_heating: Lanes,
    heating: Lanes,
    wettest: Lanes,
    occupied: Lanes,
    box_share: Lanes,
    critical: Lanes,
    reheats: Lanes,
}
