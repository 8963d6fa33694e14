//! Rooms of the decoupled scheme, one step at a time: primary air, dry coils, terminals.
//!
//! Within a step the room with the thermostat of each zone is controlled ideally within the capacity of its coil, which
//! follows the room's temperature. Fan heat, the discharge to the other rooms of a zone and transfer air are those of the
//! step before. What the coil takes from each room is summed over the zone, so that heat is neither lost nor made.

use crate::drive::{BlockHour, Tile};
use crate::plant::decoupled_plant::NIGHT_BAND_W;
use crate::prepare::{BlockFacts, LANES, Lanes, Prepared, ZERO};
use crate::signals::{BuildingMode, DecoupledDemand, DecoupledSupply, Outdoor};
use crate::tally::{BlockTally, Done, StepLimits, add, raise};
use crate::terminal_table::{self, Row, Spacing};
use crate::wide::{self, Loop};
use drycoil_air::raw::{self, CP_DRY_AIR_J_PER_KG_K as CP_AIR, CP_VAPOUR_J_PER_KG_K as CP_VAPOUR};
use drycoil_rooms::block::{BlockModel, KeptMeans, Number, Response, Ruling, control_by};

/// Heat of condensation at the coil, J/kg.
const CONDENSATION_J_PER_KG: f64 = 2.5e6;
/// Most of the water in the air of a zone that is taken back in a step for what its mixing made.
const MOST_TAKEN_BACK: f64 = 0.1;
/// Dew point of the coil of a room's own unit, degC. Common practice, no source.
const OWN_COIL_DEW_POINT_C: f64 = 10.0;

/// Counts of features in room-steps.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct FeatureSteps {
    pub set_back: f64,
    pub start_up: f64,
    pub held_shut: f64,
    pub demand_control: f64,
    pub standby: f64,
    pub transfer: f64,
    pub follower: f64,
    pub reheat: f64,
}

/// Counts of an hour by lane, in rooms.
#[derive(Default)]
pub(crate) struct HourCount {
    set_back: Lanes,
    start_up: Lanes,
    standby: Lanes,
    transfer: Lanes,
    follower: Lanes,
    pub demand_control: Lanes,
}

impl HourCount {
    /// What both schemes count alike.
    #[inline(always)]
    pub fn of_both<N: Number>(&mut self, kind: N, at: usize, h: &BlockHour, f: &BlockFacts) {
        let of = |x: &Lanes| kind.of(x, at);
        let (zero, one) = (kind.all(0.0), kind.all(1.0));
        let (there, start) = (of(&f.there), of(&h.start));
        add(&mut self.set_back, at, there * (one - of(&h.served) - start));
        add(&mut self.start_up, at, there * start);
        add(&mut self.standby, at, there * of(&h.standby));
        add(&mut self.transfer, at, N::choose(of(&h.transfer).above(zero), one, zero));
        add(&mut self.follower, at, of(&f.follower) * there);
    }

    /// All lanes together.
    pub fn steps(&self) -> FeatureSteps {
        let total = |x: &Lanes| x.iter().sum::<f64>();
        FeatureSteps {
            set_back: total(&self.set_back),
            start_up: total(&self.start_up),
            standby: total(&self.standby),
            transfer: total(&self.transfer),
            follower: total(&self.follower),
            demand_control: total(&self.demand_control),
            ..FeatureSteps::default()
        }
    }
}

/// What is read of a block in every step, all in one place.
#[allow(clippy::struct_excessive_bools)] // Each says whether a part of the step has anything to do.
#[repr(align(32))]
#[derive(Debug, Clone)]
struct Facts {
    unit: Lanes,
    per_unit: Lanes,
    plenum_leak: Lanes,
    terminal: Lanes,
    coil_w_per_k: Lanes,
    on_water: Lanes,
    own_coil_c: Lanes,
    heating_w: Lanes,
    step_per_kg: Lanes,
    there: Lanes,
    returns: Lanes,
    on_system: Lanes,
    off_system: Lanes,
    unit_heating_w: Lanes,
    alone: Lanes,
    spacing: Spacing<Lanes>,
    table_at: [u32; LANES],
    transfer_from: [u32; LANES],
    has_transfer: bool,
    has_followers: bool,
    has_own_units: bool,
    has_off_system: bool,
}

impl Facts {
    fn new(f: &BlockFacts, model: &BlockModel<LANES>) -> Self {
        let (unit, per_unit) = model.unit();
        Self {
            unit: *unit,
            per_unit: *per_unit,
            plenum_leak: f.plenum_leak,
            terminal: f.terminal,
            coil_w_per_k: f.coil_w_per_k,
            on_water: f.on_water,
            own_coil_c: f.own_coil_c,
            heating_w: f.heating_w,
            step_per_kg: f.step_per_kg,
            there: f.there,
            returns: f.returns,
            on_system: f.on_system,
            off_system: f.off_system,
            unit_heating_w: f.unit_heating_w,
            alone: f.alone,
            spacing: f.spacing,
            table_at: f.table_at,
            transfer_from: f.transfer_from,
            has_transfer: f.has_transfer,
            has_followers: f.has_followers,
            has_own_units: f.has_own_units,
            has_off_system: f.has_off_system,
        }
    }
}

#[repr(align(32))]
#[derive(Debug, Clone)]
struct Block {
    facts: Facts,
    response: Response<LANES>,
    means: KeptMeans<LANES>,
    hour: BlockHour,
    asked: Lanes,
    plenum_k: Lanes,
    /// Held shut while wet, 1 or 0.
    shut: Lanes,
    /// Water of the room's own unit raised above the room's dew point, 1 or 0.
    raised: Lanes,
    fan: Lanes,
    /// Results of the step.
    coil: Lanes,
    heating: Lanes,
    heat: Lanes,
    primary: Lanes,
    tally: BlockTally,
    /// Condensed on coils on the system's water, kg/s.
    condensate: Lanes,
    /// Air from the terminal of the zone to rooms that follow: conductance, temperature; flow and humidity for all.
    round_g: Lanes,
    round_c: Lanes,
    round_kg: Lanes,
    round_w: Lanes,
    /// Mean humidity ratio of the last step, and water that a zone's mixing has made and not taken back, kg/s times steps.
    mean_w: Lanes,
    round_left: Lanes,
}

/// State of the rooms.
#[derive(Debug, Clone)]
pub struct DecoupledRooms<'a> {
    p: &'a Prepared,
    blocks: Vec<Block>,
    air_c: [Vec<Lanes>; 2],
    w: [Vec<Lanes>; 2],
    now: usize,
    own_w: f64,
    pub(crate) features: FeatureSteps,
    hour_features: FeatureSteps,
    /// Highest humidity ratio where a margin counts, in this step; 0 when none does.
    pub(crate) wettest_counted: f64,
    /// Highest humidity ratio of an occupied room in this step.
    pub(crate) wettest_occupied: f64,
    /// Water that rooms of a zone give each other by its unit: what is left over, by mixing with air of the step before, and
    /// what is carried, kg/s times steps.
    pub(crate) zone_water: [f64; 2],
}

/// One watched room in a step.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct RoomStep {
    pub occupied: f64,
    pub air_c: f64,
    pub w: f64,
    pub counts: bool,
    pub supply_kg_per_s: f64,
    pub coil_w: f64,
    pub heating_w: f64,
    pub condensate_kg_per_s: f64,
    pub heat_w: f64,
}

#[inline(always)]
fn lane(places: &[Lanes], i: u32) -> f64 {
    places[i as usize / LANES][i as usize % LANES]
}

impl<'a> DecoupledRooms<'a> {
    /// Rooms at rest, at the humidity of the design supply.
    pub fn new(p: &'a Prepared) -> Self {
        let blocks = p
            .models
            .iter()
            .zip(&p.blocks)
            .enumerate()
            .map(|(b, (m, f))| Block {
                facts: Facts::new(f, m),
                response: Response::steady(m, &f.start_w),
                means: KeptMeans::default(),
                hour: BlockHour::new(0.0, p, b, 0, BuildingMode::Night),
                asked: ZERO,
                plenum_k: ZERO,
                shut: ZERO,
                raised: ZERO,
                fan: ZERO,
                round_g: ZERO,
                round_c: [20.0; LANES],
                round_kg: ZERO,
                round_w: ZERO,
                mean_w: ZERO,
                round_left: ZERO,
                coil: ZERO,
                heating: ZERO,
                heat: ZERO,
                primary: ZERO,
                condensate: ZERO,
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
            blocks,
            air_c: [air.clone(), air],
            w: [w.clone(), w],
            now: 0,
            own_w: raw::humidity_ratio_at_dew_point(OWN_COIL_DEW_POINT_C, p.settings.p_pa),
            features: FeatureSteps::default(),
            hour_features: FeatureSteps::default(),
            wettest_counted: 0.0,
            wettest_occupied: 0.0,
            zone_water: [0.0; 2],
        }
    }

    /// Forgets all sums, keeps the state.
    pub fn restart_sums(&mut self) {
        for b in &mut self.blocks {
            b.tally = BlockTally::new();
        }
        self.features = FeatureSteps::default();
        self.zone_water = [0.0; 2];
    }

    /// Air temperatures after the last step.
    pub fn air_c(&self) -> &[Lanes] {
        &self.air_c[self.now]
    }

    /// Humidity ratios after the last step.
    pub fn humidity_ratio(&self) -> &[Lanes] {
        &self.w[self.now]
    }

    pub(crate) fn tally(&self, block: usize) -> &BlockTally {
        &self.blocks[block].tally
    }

    /// Lags of a room's answer to heat, and the heat of the last step, W.
    pub(crate) fn state(&self, room: usize) -> (Vec<f64>, f64) {
        let b = &self.blocks[room / LANES];
        (b.response.lags(room % LANES), b.heat[room % LANES])
    }

    pub(crate) fn watch(&self, room: usize) -> RoomStep {
        let (b, l) = (room / LANES, room % LANES);
        let k = &self.blocks[b];
        RoomStep {
            occupied: k.hour.occupied[l],
            air_c: self.air_c[self.now][b][l],
            w: self.w[self.now][b][l],
            counts: counts(0.0, l, k) > 0.0,
            supply_kg_per_s: k.primary[l],
            coil_w: k.coil[l],
            heating_w: k.heating[l],
            condensate_kg_per_s: k.condensate[l],
            heat_w: k.heat[l],
        }
    }

    /// Settings of an hour, with the supply at its start.
    pub fn set_hour(&mut self, hour: usize, mode: BuildingMode, supply: &DecoupledSupply, outdoor: &Outdoor) {
        wide::run(self.p.arch, HourWork { rooms: self, hour, mode, supply, outdoor });
    }

    #[inline(always)]
    fn hour<N: Number>(
        &mut self,
        kind: N,
        hour: usize,
        mode: BuildingMode,
        supply: &DecoupledSupply,
        outdoor: &Outdoor,
    ) {
        let p = self.p;
        let steps = p.weather.steps_per_hour as f64;
        let all = |x: f64| kind.all(x);
        let (zero, one) = (all(0.0), all(1.0));
        let mut count = HourCount::default();
        let w = &self.w[self.now];
        for (b, ((f, k), w)) in p.blocks.iter().zip(&mut self.blocks).zip(w).enumerate() {
            k.hour = BlockHour::new(kind, p, b, hour, mode);
            let h = &k.hour;
            for at in 0..LANES / N::WIDTH {
                let of = |x: &Lanes| kind.of(x, at);
                let (there, served, start, standby) =
                    (of(&f.there), of(&h.served), of(&h.start), of(&h.standby));
                // Needs of the moment: fixed, by floor and people, by moisture.
                let (people, limit_w) = (of(&h.people), of(&f.limit_w));
                let vent = of(&f.need_fixed)
                    .larger(of(&f.need_area) + of(&f.need_people) * people)
                    .larger(of(&f.need_per_person) * people);
                let source = (of(&h.vapour) + of(&h.leak) * (all(outdoor.w) - limit_w)).larger(zero);
                let moist = source / (limit_w - all(supply.primary_w)).larger(all(1e-6));
                let design = of(&f.primary_kg_per_s);
                let needed = vent.larger(moist).smaller(design);
                let follows = of(&f.follows);
                let running = (design + follows * (needed - design)) * (one - standby);
                // Outside their hours rooms get air while it has something to dry: before use down to what is required below
                // their limit, at other times down to the limit of the night.
                let starts = start.above(zero);
                let wet = N::choose(starts, of(&f.ready_w), all(p.settings.night_w - NIGHT_BAND_W));
                let outside = N::choose(of(w).above(wet), design, zero);
                let asked = served * running + (one - served) * outside;
                asked.put(&mut k.asked, at);
                (of(&f.plenum_k) * of(&h.lights)).put(&mut k.plenum_k, at);
                count.of_both(kind, at, h, f);
                let less = (design * all(1.0 - 1e-9)).above(asked);
                let reduced = served * N::choose(less, one, zero);
                let system = of(&f.on_system) * there;
                add(&mut count.demand_control, at, system * follows * reduced * (one - standby));
            }
            k.tally.hour(&k.hour, steps);
        }
        let count = count.steps();
        // Rooms of a zone share one damper: the room that needs most decides.
        for t in p.gathered().filter(|t| t.rooms.len() > 1) {
            let at = |i: u32| (i as usize / LANES, i as usize % LANES);
            let most = t
                .rooms
                .iter()
                .map(|(i, _)| {
                    let (b, l) = at(*i);
                    let design = p.blocks[b].primary_kg_per_s[l];
                    if design > 0.0 { self.blocks[b].asked[l] / design } else { 0.0 }
                })
                .fold(0.0, f64::max);
            for (i, _) in &t.rooms {
                let (b, l) = at(*i);
                self.blocks[b].asked[l] = most * p.blocks[b].primary_kg_per_s[l];
            }
        }
        self.hour_features = count;
    }

    /// One step.
    pub(crate) fn step(
        &mut self,
        tile: &Tile,
        step_of_tile: usize,
        supply: &DecoupledSupply,
        outdoor: &Outdoor,
        limits: &StepLimits,
    ) -> DecoupledDemand {
        wide::run(self.p.arch, StepWork { rooms: self, tile, step_of_tile, supply, outdoor, limits })
    }

    #[inline(always)]
    #[allow(clippy::too_many_lines)]
    fn advance<N: Number>(
        &mut self,
        kind: N,
        tile: &Tile,
        step_of_tile: usize,
        supply: &DecoupledSupply,
        outdoor: &Outdoor,
        limits: &StepLimits,
    ) -> DecoupledDemand {
        let p = self.p;
        let after = 1 - self.now;
        let [one_c, two_c] = &mut self.air_c;
        let [one_w, two_w] = &mut self.w;
        let (air_before, air_after, w_before, w_after) =
            if self.now == 0 { (one_c, two_c, one_w, two_w) } else { (two_c, one_c, two_w, one_w) };
        let cp = |w: f64| CP_AIR + CP_VAPOUR * w;
        let waits = BlockHour::waits(p.settings.release);
        let water_w = limits.margin_w[0];
        let all = |x: f64| kind.all(x);
        let (zero, one, waiting) = (all(0.0), all(1.0), all(waits));
        let (cp_p, cp_o) = (all(cp(supply.primary_w)), all(cp(outdoor.w)));
        let (primary_c, primary_w) = (all(supply.primary_c), all(supply.primary_w));
        let (outdoor_c, outdoor_w) = (all(outdoor.t_c), all(outdoor.w));
        let (wet_above, shut_above) = (all(water_w), all(limits.shut_w));
        let condensation = all(CONDENSATION_J_PER_KG);
        let mut sums = Sums::default();
        for (b, k) in self.blocks.iter_mut().enumerate() {
            let f = &k.facts;
            // What lies elsewhere is gathered first.
            let (mut from_c, mut from_w) = (ZERO, ZERO);
            if f.has_transfer {
                for l in 0..LANES {
                    from_c[l] = lane(air_before, f.transfer_from[l]);
                    from_w[l] = lane(w_before, f.transfer_from[l]);
                }
            }
            // Units of server rooms blend their own water, never colder than the dew point of the room and what is required
            // above it, since they cannot be shut.
            let mut guarded_c = [f64::NEG_INFINITY; LANES];
            if f.has_own_units && waits > 0.0 {
                k.raised = ZERO;
                for l in 0..LANES {
                    let w = w_before[b][l];
                    if f.on_water[l] * (1.0 - f.terminal[l]) > 0.0 && w > limits.guard_w {
                        let s = &p.settings;
                        guarded_c[l] =
                            raw::dew_point_c(w, limits.p_pa) - s.sensor_error_k + s.required_margin_k;
                        k.raised[l] = 1.0;
                    }
                }
            }
            let free_c = tile.free(b, step_of_tile);
            for at in 0..LANES / N::WIDTH {
                let of = |x: &Lanes| kind.of(x, at);
                let f = &k.facts;
                let h = &k.hour;
                let w = of(&w_before[b]);
                let free = k.response.free_by(of(free_c), at);
                let asked = of(&k.asked);
                let m_p = asked * all(supply.primary_share);
                let m_i = of(&h.leak);
                let own_fan = of(&k.fan);
                let by_primary = m_p * cp_p;
                let mut g = by_primary + m_i * cp_o;
                let mut gt = by_primary * primary_c + m_i * cp_o * outdoor_c + own_fan;
                let mut flow = m_p + m_i;
                let mut water = m_p * primary_w + m_i * outdoor_w + of(&h.vapour);
                let transfer = of(&h.transfer);
                if f.has_transfer {
                    let w_s = of(&from_w);
                    let c = transfer * (all(CP_AIR) + all(CP_VAPOUR) * w_s);
                    g = g + c;
                    gt = gt + c * of(&from_c);
                    flow = flow + transfer;
                    water = water + transfer * w_s;
                }
                if f.has_followers {
                    let (round_g, round_kg) = (of(&k.round_g), of(&k.round_kg));
                    g = g + round_g;
                    gt = gt + round_g * of(&k.round_c);
                    flow = flow + round_kg;
                    water = water + round_kg * of(&k.round_w);
                }
                // A plenum is more humid by what leaks into it.
                let more = of(&f.plenum_leak) * (outdoor_w - w);
                let coil_air_w = w + more.larger(zero);
                let terminal = of(&f.terminal);
                let shut = waiting * N::choose(coil_air_w.above(shut_above), terminal, zero);
                shut.put(&mut k.shut, at);
                let (on_water, plenum_k, coil_most) = (of(&f.on_water), of(&k.plenum_k), of(&f.coil_w_per_k));
                let mut coil_c = on_water * (all(supply.water_c) - plenum_k) + of(&f.own_coil_c);
                let mut raised = zero;
                if f.has_own_units && waits > 0.0 {
                    raised = of(&k.raised);
                    coil_c = of(&guarded_c).larger(coil_c);
                }
                let (heating_c, cooling_c) = (of(&h.heating_c), of(&h.cooling_c));
                let c = control_by(
                    of(&f.unit),
                    of(&f.per_unit),
                    free,
                    g,
                    gt,
                    &Ruling {
                        heating_set_c: heating_c,
                        cooling_set_c: cooling_c,
                        heating_capacity_w: of(&f.heating_w),
                        heating_share: all(supply.heating_share),
                        coil_w_per_k: coil_most * (one - shut),
                        coil_c,
                        cooling_share: all(supply.cooling_share),
                    },
                );
                let heat = c.air_flow_w + (c.heating_w - c.cooling_w);
                k.response.take_by(heat, at);
                heat.put(&mut k.heat, at);

                // Coils that dry: wet ones on the system's water, and those of own units.
                let open = c.cooling_w.above(zero);
                let off_system = of(&f.off_system);
                let wet = (c.cooling_w * on_water * (one - raised)).above(zero) & coil_air_w.above(wet_above);
                let dries = f.has_off_system || N::any(wet);
                let (mut wet_kg, mut wet_w) = (zero, zero);
                if dries {
                    wet_w = on_water * wet_above + off_system * all(self.own_w);
                    let through = c.cooling_w / (c.air_c - coil_c).larger(all(0.5)) / all(CP_AIR);
                    // Both before and in the long run above saturation: water only leaves the air.
                    let stays = w.above(wet_w) & water.above(flow * wet_w) & one.above(raised + shut);
                    wet_kg = N::choose(stays, through, zero);
                    flow = flow + wet_kg;
                    water = water + wet_kg * wet_w;
                }
                let step_per_kg = of(&k.facts.step_per_kg);
                let (end_w, mean_w) = k.means.moisture_by(at, w, flow, water, step_per_kg);
                if f.has_followers {
                    mean_w.put(&mut k.mean_w, at);
                }
                let h = &k.hour;
                k.tally.step(
                    at,
                    &Done {
                        air_c: c.air_c,
                        w: end_w,
                        mean_w,
                        coil: c.cooling_w,
                        heating: c.heating_w,
                        supply: by_primary * (primary_c - c.air_c),
                        fan: own_fan,
                        flows: c.air_flow_w,
                        ventilation: m_p,
                        flow,
                        water,
                    },
                    h,
                    limits,
                );
                m_p.put(&mut k.primary, at);
                c.cooling_w.put(&mut k.coil, at);
                c.heating_w.put(&mut k.heating, at);
                let counts = counts(kind, at, k);
                k.tally.margins(at, coil_air_w, counts, &k.hour, limits);
                if dries {
                    let gone = wet_kg * (mean_w - wet_w);
                    let on_water = on_water * gone;
                    on_water.put(&mut k.condensate, at);
                    add(&mut k.tally.condensate, at, on_water);
                    add(&mut k.tally.condensing, at, N::choose(on_water.above(zero), one, zero));
                    add(&mut sums.condensate, at, on_water);
                    add(&mut sums.own_cooling, at, (gone - on_water) * condensation);
                } else {
                    zero.put(&mut k.condensate, at);
                }
                let f = &k.facts;
                let h = &k.hour;
                let guarded = shut + raised;
                if N::any(guarded.above(zero)) {
                    add(&mut k.tally.held_shut, at, guarded);
                    add(&mut sums.shut, at, guarded * of(&f.there));
                    add(&mut k.tally.held_shut_occupied, at, guarded * of(&h.occupied));
                }
                let returns = of(&f.returns);
                let back = (m_p + transfer - of(&h.drawn)).larger(zero) * returns;
                add(&mut sums.primary, at, m_p);
                add(&mut sums.asked, at, asked);
                add(&mut sums.back, at, back);
                add(&mut sums.back_c, at, back * c.air_c);
                add(&mut sums.back_w, at, back * mean_w);
                add(&mut sums.coil, at, c.cooling_w * of(&f.on_system));
                add(&mut sums.heating, at, c.heating_w * returns);
                if f.has_off_system {
                    add(&mut sums.own_cooling, at, c.cooling_w * off_system);
                    add(&mut sums.own_heating, at, c.heating_w * off_system);
                }
                let served_w = end_w * terminal;
                raise(&mut sums.wettest_open, at, N::choose(open, served_w, zero));
                raise(&mut sums.wettest_any, at, served_w);
                raise(&mut sums.wettest_counted, at, coil_air_w * counts);
                if h.any_occupied {
                    raise(&mut sums.wettest_occupied, at, end_w * of(&h.occupied));
                }
                k.tally.limited(at, c.air_c, h, c.cooling_w, c.heating_w);
                c.air_c.put(&mut air_after[b], at);
                end_w.put(&mut w_after[b], at);

                // Operating points of units that serve one room each. Their fans warm the rooms in the next step.
                let alone = of(&f.alone);
                // Heat at the perimeter is not the unit's.
                let unit_heating = of(&f.unit_heating_w);
                let by_unit = unit_heating.above(zero);
                let q = c.cooling_w - N::choose(by_unit, c.heating_w, zero);
                let above = c.air_c + plenum_k - all(supply.water_c);
                let able = (above * coil_most).larger(all(1e-9));
                let cooling = N::choose(above.above(all(0.01)), q / able, zero);
                let heats = N::choose(by_unit, unit_heating, all(1e30));
                let cools = q.above(zero);
                let share = N::choose(cools, cooling, q / heats);
                let cools = N::choose(cools, alone, zero);
                let on = of(&h.served) + m_p + q.larger(-q);
                let runs = N::choose(on.above(zero), alone, zero);
                let mut fan = zero;
                if N::any(runs.above(zero)) {
                    let (power, flow) = operate(kind, at, share, &f.spacing, &f.table_at, &p.operating);
                    fan = runs * power;
                    add(&mut sums.coil_water, at, cools * flow);
                }
                raise(&mut sums.zone_share, at, share.smaller(one) * cools);
                add(&mut sums.fans, at, alone * own_fan);
                (fan + (one - alone) * own_fan).put(&mut k.fan, at);
            }
        }
        self.now = after;
        let steps = &self.hour_features;
        self.features.set_back += steps.set_back;
        self.features.start_up += steps.start_up;
        self.features.standby += steps.standby;
        self.features.demand_control += steps.demand_control;
        self.features.transfer += steps.transfer;
        self.features.follower += steps.follower;
        self.features.held_shut += sums.shut.iter().sum::<f64>();
        let highest = |x: &Lanes| x.iter().fold(0.0_f64, |a, b| a.max(*b));
        self.wettest_counted = highest(&sums.wettest_counted);
        self.wettest_occupied = highest(&sums.wettest_occupied);
        let total = |x: &Lanes| x.iter().sum::<f64>();
        let back = total(&sums.back);
        let mut d = DecoupledDemand {
            primary_kg_per_s: total(&sums.primary),
            primary_asked_kg_per_s: total(&sums.asked),
            return_kg_per_s: back,
            return_c: if back > 0.0 { total(&sums.back_c) / back } else { 0.0 },
            return_w: if back > 0.0 { total(&sums.back_w) / back } else { 0.0 },
            coil_w: total(&sums.coil) + total(&sums.condensate) * CONDENSATION_J_PER_KG,
            wettest_w: highest(&sums.wettest_open),
            wettest_any_w: highest(&sums.wettest_any),
            off_system_cooling_w: total(&sums.own_cooling),
            off_system_heating_w: total(&sums.own_heating),
            terminal_fans_w: total(&sums.fans),
            coil_water_kg_per_s: total(&sums.coil_water),
            greatest_zone_share: highest(&sums.zone_share),
            ..DecoupledDemand::default()
        };
        let heating = total(&sums.heating);
        let followed = self.terminals(supply, &mut d);
        let by_terminals = heating + followed;
        if p.settings.electric {
            d.electric_heating_w = by_terminals;
        } else {
            d.hot_water_w = by_terminals;
        }
        d
    }

    /// Operating points of the units that serve several rooms, and those of server rooms, for what their rooms took; gives
    /// the heating of rooms that follow.
    #[inline(always)]
    fn terminals(&mut self, supply: &DecoupledSupply, d: &mut DecoupledDemand) -> f64 {
        let p = self.p;
        let mut followed = 0.0;
        for t in p.gathered() {
            let (lead, lead_share) = t.rooms[0];
            let (b, l) = (lead as usize / LANES, lead as usize % LANES);
            let q = self.blocks[b].coil[l];
            let Some(table) = &t.table else {
                d.sensible_units_w += q;
                let fan = crate::prepare::SENSIBLE_UNIT_FAN_SHARE * q;
                d.terminal_fans_w += self.blocks[b].fan[l];
                self.blocks[b].fan[l] = fan;
                continue;
            };
            // Heat at the perimeter is not the unit's.
            let heat = if table.heating_w > 0.0 { self.blocks[b].heating[l] } else { 0.0 };
            let lead_c = self.air_c[self.now][b][l];
            let lead_w = self.w[self.now][b][l];
            let above = lead_c + self.blocks[b].plenum_k[l] - supply.water_c;
            let (mut zone_q, mut air_c, mut air_w) = (q - heat, lead_c, lead_w);
            if t.rooms.len() > 1 {
                (air_c, air_w) = (lead_share * lead_c, lead_share * lead_w);
                for (i, share) in &t.rooms[1..] {
                    let (b, l) = (*i as usize / LANES, *i as usize % LANES);
                    let k = &self.blocks[b];
                    let (c, w) = (self.air_c[self.now][b][l], self.w[self.now][b][l]);
                    zone_q += k.round_g[l] * (c - k.round_c[l]);
                    air_c += share * c;
                    air_w += share * w;
                }
                // Air of a zone comes back as its rooms were a step before: what water that makes is taken back with the
                // next air.
                let mut made = 0.0;
                for (i, _) in &t.rooms {
                    let (b, l) = (*i as usize / LANES, *i as usize % LANES);
                    let k = &self.blocks[b];
                    made += k.round_kg[l] * (k.round_w[l] - k.mean_w[l]);
                    self.zone_water[1] += k.round_kg[l] * k.round_w[l];
                }
                self.zone_water[0] += made;
                self.blocks[b].round_left[l] += made;
                let net_q = zone_q;
                // What the rooms that follow took beyond the leader's part is cooling or heating of the same unit.
                let extra = net_q - (q - heat);
                if net_q >= 0.0 {
                    d.coil_w += extra - heat;
                    followed -= heat;
                } else {
                    followed += -net_q - heat;
                    d.coil_w -= q;
                }
            }
            let share = if zone_q > 0.0 {
                if above > 0.01 { zone_q / (above * table.conductance_w_per_k).max(1e-9) } else { 0.0 }
            } else if table.heating_w > 0.0 {
                (zone_q / table.heating_w).max(-1.0)
            } else {
                0.0
            };
            let running =
                self.blocks[b].hour.served[l] > 0.0 || self.blocks[b].primary[l] > 0.0 || zone_q != 0.0;
            let at = table.at(share);
            // The fan of this step is the one that warms the rooms now: that of the step before.
            let mut heard = 0.0;
            let (fan, air) = if running { (at.fan_w, at.secondary_kg_per_s) } else { (0.0, 0.0) };
            let mut sent_w = air_w;
            if t.rooms.len() > 1 && air > 0.0 {
                // Once taken back it is made the less by it.
                let most = MOST_TAKEN_BACK * air_w;
                sent_w -= (self.blocks[b].round_left[l] / air).clamp(-most, most);
            }
            if zone_q > 0.0 {
                d.coil_water_kg_per_s += at.water_kg_per_s;
                d.greatest_zone_share = d.greatest_zone_share.max(share.min(1.0));
            }
            for (i, part) in &t.rooms {
                let (b, l) = (*i as usize / LANES, *i as usize % LANES);
                let k = &mut self.blocks[b];
                heard += k.fan[l];
                k.fan[l] = fan * part;
                if t.rooms.len() > 1 {
                    let c = air * part;
                    let c_p = CP_AIR + CP_VAPOUR * air_w;
                    k.round_kg[l] = c;
                    k.round_w[l] = sent_w;
                    if *i == lead {
                        k.round_g[l] = 0.0;
                    } else {
                        k.round_g[l] = c * c_p;
                        k.round_c[l] = air_c - if air > 0.0 { zone_q / (air * c_p) } else { 0.0 };
                    }
                }
            }
            d.terminal_fans_w += heard;
        }
        followed
    }
}

struct HourWork<'r, 'p, 's> {
    rooms: &'r mut DecoupledRooms<'p>,
    hour: usize,
    mode: BuildingMode,
    supply: &'s DecoupledSupply,
    outdoor: &'s Outdoor,
}

impl Loop for HourWork<'_, '_, '_> {
    type Output = ();
    #[inline(always)]
    fn run<N: Number>(self, kind: N) {
        self.rooms.hour(kind, self.hour, self.mode, self.supply, self.outdoor);
    }
}

struct StepWork<'r, 'p, 's> {
    rooms: &'r mut DecoupledRooms<'p>,
    tile: &'s Tile,
    step_of_tile: usize,
    supply: &'s DecoupledSupply,
    outdoor: &'s Outdoor,
    limits: &'s StepLimits,
}

impl Loop for StepWork<'_, '_, '_> {
    type Output = DecoupledDemand;
    #[inline(always)]
    fn run<N: Number>(self, kind: N) -> DecoupledDemand {
        self.rooms.advance(kind, self.tile, self.step_of_tile, self.supply, self.outdoor, self.limits)
    }
}

/// Fan power and water of units at their shares, from the table of each.
#[inline(always)]
fn operate<N: Number>(
    kind: N,
    at: usize,
    share: N,
    spacing: &Spacing<Lanes>,
    table_at: &[u32; LANES],
    rows: &[Row],
) -> (N, N) {
    let s = Spacing {
        corner: kind.of(&spacing.corner, at),
        by_valve: kind.of(&spacing.by_valve, at),
        by_fan: kind.of(&spacing.by_fan, at),
    };
    let x = terminal_table::place(share, s);
    let mut places = ZERO;
    x.put(&mut places, at);
    let (mut part, mut fan, mut water) = (ZERO, [ZERO; 2], [ZERO; 2]);
    for l in at * N::WIDTH..(at + 1) * N::WIDTH {
        let i = places[l] as i32;
        part[l] = places[l] - f64::from(i);
        let first = table_at[l] as usize + i as usize;
        for (k, row) in rows[first..first + 2].iter().enumerate() {
            fan[k][l] = f64::from(row[0]);
            water[k][l] = f64::from(row[1]);
        }
    }
    let of = |x: &Lanes| kind.of(x, at);
    let part = of(&part);
    let between = |[a, b]: &[Lanes; 2]| of(a) + part * (of(b) - of(a));
    (between(&fan), between(&water))
}

/// 1 where the margin of a coil counts: on the system's water, not held shut, and in its hours of use or start-up or open.
#[inline(always)]
fn counts<N: Number>(kind: N, at: usize, k: &Block) -> N {
    let of = |x: &Lanes| kind.of(x, at);
    let (zero, one) = (kind.all(0.0), kind.all(1.0));
    let active = (of(&k.hour.served) + of(&k.hour.start)).above(zero) | of(&k.coil).above(zero);
    of(&k.facts.on_water) * (one - of(&k.shut)) * (one - of(&k.raised)) * N::choose(active, one, zero)
}

#[derive(Default)]
struct Sums {
    primary: Lanes,
    asked: Lanes,
    back: Lanes,
    back_c: Lanes,
    back_w: Lanes,
    coil: Lanes,
    heating: Lanes,
    own_cooling: Lanes,
    own_heating: Lanes,
    wettest_open: Lanes,
    wettest_any: Lanes,
    wettest_counted: Lanes,
    wettest_occupied: Lanes,
    shut: Lanes,
    condensate: Lanes,
    fans: Lanes,
    coil_water: Lanes,
    zone_share: Lanes,
}
