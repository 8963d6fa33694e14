//! Rooms of the all-air scheme, one step at a time: boxes with variable flow and reheat.
//!
//! A box in cooling takes the flow that holds its set point, between its least and its largest. In heating the air is
//! warmed at the least flow, up to the warmest discharge; where the practice has a second maximum the flow then rises to it.
//! Rooms that follow the thermostat of another room of their zone get their part of its flow at its discharge of the step
//! before.

use crate::decoupled_rooms::{FeatureSteps, HourCount, RoomStep};
use crate::drive::{BlockHour, Tile};
use crate::plant::all_air_design::AllAirDesign;
use crate::prepare::{LANES, Lanes, Prepared, SENSIBLE_UNIT_FAN_SHARE, ZERO};
use crate::signals::{AllAirDemand, AllAirSupply, BuildingMode, Outdoor};
use crate::tally::{BlockTally, Done, StepLimits, add, raise};
use crate::wide::{self, Loop};
use drycoil_air::raw::{self, CP_DRY_AIR_J_PER_KG_K as CP_AIR, CP_VAPOUR_J_PER_KG_K as CP_VAPOUR};
use drycoil_project::{BoxKind, MinimumFlow, Project};
use drycoil_rooms::block::{KeptMeans, Number, Response, Ruling, control_by};

const CONDENSATION_J_PER_KG: f64 = 2.5e6;
const OWN_COIL_DEW_POINT_C: f64 = 10.0;

#[allow(clippy::struct_excessive_bools)] // Each says whether a part of the step has anything to do.
#[repr(align(32))]
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
    /// As in the block's facts, here beside the others.
    unit: Lanes,
    per_unit: Lanes,
    step_per_kg: Lanes,
    server: Lanes,
    returns: Lanes,
    on_system: Lanes,
    off_system: Lanes,
    transfer_from: [u32; LANES],
    has_transfer: bool,
    has_followers: bool,
    has_off_system: bool,
    /// Place of the room whose thermostat rules, and the part of its flow.
    leader: [u32; LANES],
    part: Lanes,
}

#[repr(align(32))]
#[derive(Debug, Clone)]
struct Block {
    response: Response<LANES>,
    means: KeptMeans<LANES>,
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
    /// Flow and discharge of the step before, of the blocks that others follow.
    before: Vec<(Lanes, Lanes)>,
    /// Those blocks.
    leading: Vec<u32>,
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
        let mut leading = std::collections::BTreeSet::new();
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
                unit: *p.models[b].unit().0,
                per_unit: *p.models[b].unit().1,
                step_per_kg: f.step_per_kg,
                server: f.server,
                returns: f.returns,
                on_system: f.on_system,
                off_system: f.off_system,
                transfer_from: f.transfer_from,
                has_transfer: f.has_transfer,
                has_followers: f.has_followers,
                has_off_system: f.has_off_system,
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
                    leading.insert((leader / LANES) as u32);
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
            .enumerate()
            .map(|(b, (m, f))| Block {
                response: Response::steady(m, &f.start_w),
                means: KeptMeans::default(),
                hour: BlockHour::new(0.0, p, b, 0, BuildingMode::Night),
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
            leading: leading.into_iter().collect(),
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
    fn hour<N: Number>(&mut self, kind: N, hour: usize, mode: BuildingMode) {
        let p = self.p;
        let steps = p.weather.steps_per_hour as f64;
        let (zero, one, design_share) = (kind.all(0.0), kind.all(1.0), kind.all(1.0 - 1e-9));
        let mut count = HourCount::default();
        let mut asked = ZERO;
        for (b, ((k, f), x)) in self.blocks.iter_mut().zip(&p.blocks).zip(&self.facts).enumerate() {
            k.hour = BlockHour::new(kind, p, b, hour, mode);
            let h = &k.hour;
            for at in 0..LANES / N::WIDTH {
                let of = |x: &Lanes| kind.of(x, at);
                let served = of(&h.served) * (one - of(&h.standby));
                let (most, area, fixed) = (of(&x.people), of(&x.area), of(&x.fixed));
                let people = most * of(&h.people);
                let controlled = of(&x.demand_control);
                // The air handler counts the people who are there; a box without demand control keeps its design least.
                let zone = (most + controlled * (people - most) + area).larger(fixed) / of(&x.effectiveness);
                let (design, follows) = (of(&x.least), controlled.above(zero));
                let reduced = (kind.all(self.least_over_outdoor) * zone).larger(of(&x.floor)).smaller(design);
                // Before use boxes move what heats or cools, no ventilation.
                let least = N::choose(follows, reduced, design) * served;
                least.put(&mut k.least, at);
                (zone * served).put(&mut k.outdoor, at);
                (of(&f.plenum_w) * of(&h.lights)).put(&mut k.plenum_w, at);
                let uncorrected = (N::choose(follows, people, most) + area).larger(fixed);
                add(&mut asked, at, uncorrected * served * of(&f.there));
                count.of_both(kind, at, h, f);
                let less = (design * design_share).above(least) & served.above(zero);
                add(&mut count.demand_control, at, N::choose(less, one, zero));
            }
            k.tally.hour(&k.hour, steps);
        }
        self.outdoor_asked = asked.iter().sum();
        self.hour_features = count.steps();
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
    fn advance<N: Number>(
        &mut self,
        kind: N,
        tile: &Tile,
        step_of_tile: usize,
        supply: &AllAirSupply,
        outdoor: &Outdoor,
        limits: &StepLimits,
    ) -> AllAirDemand {
        let after = 1 - self.now;
        let [one_c, two_c] = &mut self.air_c;
        let [one_w, two_w] = &mut self.w;
        let (air_before, air_after, w_before, w_after) =
            if self.now == 0 { (one_c, two_c, one_w, two_w) } else { (two_c, one_c, two_w, one_w) };
        let cp = |w: f64| CP_AIR + CP_VAPOUR * w;
        let all = |x: f64| kind.all(x);
        let (zero, one, half) = (all(0.0), all(1.0), all(0.5));
        let (cp_s, cp_o) = (all(cp(supply.supply_w)), all(cp(outdoor.w)));
        let (supply_c, supply_w) = (all(supply.supply_c), all(supply.supply_w));
        let (outdoor_c, outdoor_w) = (all(outdoor.t_c), all(outdoor.w));
        let (none, little) = (all(1e30), all(1e-9));
        let mut s = Sums::default();
        for (b, (k, x)) in self.blocks.iter_mut().zip(&self.facts).enumerate() {
            // What lies elsewhere is gathered first.
            let (mut from_c, mut from_w) = (ZERO, ZERO);
            if x.has_transfer {
                for l in 0..LANES {
                    let from = x.transfer_from[l] as usize;
                    from_c[l] = air_before[from / LANES][from % LANES];
                    from_w[l] = w_before[from / LANES][from % LANES];
                }
            }
            let (mut followed, mut enters, mut follows) = (ZERO, [supply.supply_c; LANES], ZERO);
            if x.has_followers {
                for l in 0..LANES {
                    let lead = x.leader[l] as usize;
                    if lead != b * LANES + l {
                        let (flows, discharge) = &self.before[lead / LANES];
                        let m = flows[lead % LANES] * x.part[l];
                        followed[l] = m;
                        enters[l] = if m > 0.0 { discharge[lead % LANES] } else { supply.supply_c };
                        follows[l] = 1.0;
                    }
                }
            }
            let free_c = tile.free(b, step_of_tile);
            for at in 0..LANES / N::WIDTH {
                let of = |x: &Lanes| kind.of(x, at);
                let h = &k.hour;
                let (unit, per_unit) = (of(&x.unit), of(&x.per_unit));
                let w = of(&w_before[b]);
                let free = k.response.free_by(of(free_c), at);
                let m_i = of(&h.leak);
                let fan = all(SENSIBLE_UNIT_FAN_SHARE) * of(&k.own) * of(&x.server);
                // Lights that heat the plenum leave with the return air.
                let off = of(&k.plenum_w) * of(&h.served) * N::choose(of(&k.flow).above(zero), one, zero);
                let mut g = m_i * cp_o;
                let mut gt = m_i * cp_o * outdoor_c + fan - off;
                let mut flow = m_i;
                let mut water = m_i * outdoor_w + of(&h.vapour);
                let transfer = of(&h.transfer);
                if x.has_transfer {
                    let w_s = of(&from_w);
                    let c = transfer * (all(CP_AIR) + all(CP_VAPOUR) * w_s);
                    g = g + c;
                    gt = gt + c * of(&from_c);
                    flow = flow + transfer;
                    water = water + transfer * w_s;
                }
                let (mut least, mut most, mut most_heating) = (of(&k.least), of(&x.largest), of(&x.heating));
                let (largest, mut reheat_w, mut enters_c) = (most, of(&x.reheat_w), supply_c);
                if x.has_followers {
                    let follow = of(&follows).above(zero);
                    let m = of(&followed);
                    least = N::choose(follow, m, least);
                    most = N::choose(follow, m, most);
                    most_heating = N::choose(follow, m, most_heating);
                    reheat_w = N::choose(follow, zero, reheat_w);
                    enters_c = of(&enters);
                }
                let (heating_c, cooling_c, warmest_c) =
                    (of(&h.heating_c), of(&h.cooling_c), of(&x.warmest_c));
                let damped = one + unit * g;
                let start = free + unit * gt;
                let spread = (cooling_c - enters_c).larger(half);
                let cooling = (start - damped * cooling_c) * per_unit / (cp_s * spread);
                let rise = (warmest_c - heating_c).larger(half);
                let heating = (damped * heating_c - start) * per_unit / (cp_s * rise);
                let asked = cooling.smaller(most).larger(heating.smaller(most_heating)).larger(least);
                let m_s = asked * all(supply.flow_share);
                let warm = ((warmest_c - enters_c) * m_s * cp_s).larger(zero);
                let discharge_cap = warm.smaller(reheat_w);
                raise(&mut s.box_share, at, asked / N::choose(largest.above(zero), largest, none));
                raise(&mut s.critical, at, of(&k.outdoor) / N::choose(m_s.above(little), m_s, none));
                let by_supply = m_s * cp_s;
                g = g + by_supply;
                gt = gt + by_supply * enters_c;
                flow = flow + m_s;
                water = water + m_s * supply_w;
                let own_c = of(&x.own_c);
                let c = control_by(
                    unit,
                    per_unit,
                    free,
                    g,
                    gt,
                    &Ruling {
                        heating_set_c: heating_c,
                        cooling_set_c: cooling_c,
                        heating_capacity_w: discharge_cap + of(&x.own_heating_w),
                        heating_share: all(supply.heating_share),
                        coil_w_per_k: of(&x.own_w_per_k),
                        coil_c: own_c,
                        cooling_share: one,
                    },
                );
                let heat = c.air_flow_w + (c.heating_w - c.cooling_w);
                k.response.take_by(heat, at);
                heat.put(&mut k.heat, at);
                let (mut wet_kg, mut wet_w) = (zero, zero);
                let off_system = of(&x.off_system);
                if x.has_off_system {
                    wet_w = off_system * all(self.own_w);
                    let through = off_system * c.cooling_w / (c.air_c - own_c).larger(half) / all(CP_AIR);
                    wet_kg = N::choose(w.above(wet_w) & water.above(flow * wet_w), through, zero);
                    flow = flow + wet_kg;
                    water = water + wet_kg * wet_w;
                }
                let (end_w, mean_w) = k.means.moisture_by(at, w, flow, water, of(&x.step_per_kg));
                let h = &k.hour;
                k.tally.step(
                    at,
                    &Done {
                        air_c: c.air_c,
                        w: end_w,
                        mean_w,
                        coil: c.cooling_w,
                        heating: c.heating_w,
                        supply: by_supply * (enters_c - c.air_c),
                        fan,
                        flows: c.air_flow_w,
                        ventilation: m_s * all(supply.outdoor_share),
                        flow,
                        water,
                    },
                    h,
                    limits,
                );
                m_s.put(&mut k.flow, at);
                c.heating_w.put(&mut k.reheat, at);
                c.cooling_w.put(&mut k.own, at);
                let carried = N::choose(by_supply.above(little), by_supply, none);
                (enters_c + c.heating_w / carried).put(&mut k.discharge_c, at);
                let returns = of(&x.returns);
                let back = (m_s + transfer - of(&h.drawn)).larger(zero) * returns;
                add(&mut s.supply, at, m_s);
                add(&mut s.back, at, back);
                add(&mut s.back_c, at, back * c.air_c);
                add(&mut s.back_w, at, back * mean_w);
                add(&mut s.plenum, at, off);
                // What a follower's air was warmed by is reheat as well.
                add(&mut s.heating, at, c.heating_w * returns + by_supply * (enters_c - supply_c));
                if x.has_own {
                    add(&mut s.fans, at, fan);
                    add(&mut s.servers, at, c.cooling_w * of(&x.server));
                    add(&mut s.own_cooling, at, c.cooling_w * off_system);
                    add(&mut s.own_cooling, at, wet_kg * (mean_w - wet_w) * all(CONDENSATION_J_PER_KG));
                    add(&mut s.own_heating, at, c.heating_w * off_system);
                }
                raise(&mut s.wettest, at, end_w * of(&x.on_system));
                if h.any_occupied {
                    raise(&mut s.occupied, at, end_w * of(&h.occupied));
                }
                k.tally.limited(at, c.air_c, h, m_s + c.cooling_w, c.heating_w);
                let reheats = (c.heating_w * m_s).above(zero) & c.air_c.above(supply_c);
                add(&mut s.reheats, at, N::choose(reheats, one, zero));
                c.air_c.put(&mut air_after[b], at);
                end_w.put(&mut w_after[b], at);
            }
        }
        for b in &self.leading {
            let k = &self.blocks[*b as usize];
            self.before[*b as usize] = (k.flow, k.discharge_c);
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
    fn run<N: Number>(self, kind: N) {
        self.rooms.hour(kind, self.hour, self.mode);
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
    fn run<N: Number>(self, kind: N) -> AllAirDemand {
        self.rooms.advance(kind, self.tile, self.step_of_tile, self.supply, self.outdoor, self.limits)
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
