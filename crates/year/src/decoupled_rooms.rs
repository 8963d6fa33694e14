//! Rooms of the decoupled scheme, one step at a time: primary air, dry coils, terminals.
//!
//! Within a step the room with the thermostat of each zone is controlled ideally within the capacity of its coil, which
//! follows the room's temperature. Fan heat, the discharge to the other rooms of a zone and transfer air are those of the
//! step before. What the coil takes from each room is summed over the zone, so that heat is neither lost nor made.

use crate::drive::{BlockHour, Tile};
use crate::plant::decoupled_plant::NIGHT_BAND_W;
use crate::prepare::{BlockFacts, LANES, Lanes, Prepared, ZERO};
use crate::signals::{BuildingMode, DecoupledDemand, DecoupledSupply, Outdoor};
use crate::tally::{BlockTally, StepLanes, StepLimits, add, any, raise, times};
use crate::terminal_table::{self, Row};
use crate::wide::{self, Loop};
use drycoil_air::raw::{self, CP_DRY_AIR_J_PER_KG_K as CP_AIR, CP_VAPOUR_J_PER_KG_K as CP_VAPOUR};
use drycoil_rooms::block::{Ideal, Response, control, moisture};

/// Heat of condensation at the coil, J/kg.
const CONDENSATION_J_PER_KG: f64 = 2.5e6;
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

#[derive(Debug, Clone)]
struct Block {
    response: Response<LANES>,
    hour: BlockHour,
    asked: Lanes,
    plenum_k: Lanes,
    /// Held shut while wet, 1 or 0.
    shut: Lanes,
    /// Water of the room's own unit raised above the room's dew point, 1 or 0.
    raised: Lanes,
    fan: Lanes,
    /// Air from the terminal of the zone to rooms that follow: conductance, temperature; flow and humidity for all.
    round_g: Lanes,
    round_c: Lanes,
    round_kg: Lanes,
    round_w: Lanes,
    /// Results of the step.
    coil: Lanes,
    heating: Lanes,
    heat: Lanes,
    primary: Lanes,
    /// Condensed on coils on the system's water, kg/s.
    condensate: Lanes,
    tally: BlockTally,
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
    /// What is left over between rooms of a zone, by their mixing with air of the step before: heat in W, water in kg/s.
    pub(crate) zone_residual: [f64; 2],
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
            .map(|(m, f)| Block {
                response: Response::steady(m, &f.start_w),
                hour: BlockHour::new(p, f, 0, BuildingMode::Night),
                asked: ZERO,
                plenum_k: ZERO,
                shut: ZERO,
                raised: ZERO,
                fan: ZERO,
                round_g: ZERO,
                round_c: [20.0; LANES],
                round_kg: ZERO,
                round_w: ZERO,
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
            zone_residual: [0.0; 2],
        }
    }

    /// Forgets all sums, keeps the state.
    pub fn restart_sums(&mut self) {
        for b in &mut self.blocks {
            b.tally = BlockTally::new();
        }
        self.features = FeatureSteps::default();
        self.zone_residual = [0.0; 2];
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
            counts: counts(&self.p.blocks[b], k)[l] > 0.0,
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
    fn hour(&mut self, hour: usize, mode: BuildingMode, supply: &DecoupledSupply, outdoor: &Outdoor) {
        let p = self.p;
        let steps = p.weather.steps_per_hour as f64;
        let mut count = FeatureSteps::default();
        let w = &self.w[self.now];
        for ((f, k), w) in p.blocks.iter().zip(&mut self.blocks).zip(w) {
            let h = BlockHour::new(p, f, hour, mode);
            let there = &f.there;
            for l in 0..LANES {
                // Needs of the moment: fixed, by floor and people, by moisture.
                let leak = h.leak[l];
                let people = h.people[l];
                let vent = f.need_fixed[l]
                    .max(f.need_area[l] + f.need_people[l] * people)
                    .max(f.need_per_person[l] * people);
                let source = (h.vapour[l] + leak * (outdoor.w - f.limit_w[l])).max(0.0);
                let moist = source / (f.limit_w[l] - supply.primary_w).max(1e-6);
                let design = f.primary_kg_per_s[l];
                let needed = vent.max(moist).min(design);
                let served = design + f.follows[l] * (needed - design);
                let running = served * (1.0 - h.standby[l]);
                // Outside their hours rooms get air while it has something to dry: before use down to what is required below
                // their limit, at other times down to the limit of the night.
                let wet = if h.start[l] > 0.0 { f.ready_w[l] } else { p.settings.night_w - NIGHT_BAND_W };
                let outside = if w[l] > wet { design } else { 0.0 };
                k.asked[l] = h.served[l] * running + (1.0 - h.served[l]) * outside;
                k.plenum_k[l] = f.plenum_k[l] * h.lights[l];
            }
            for l in 0..LANES {
                let system = f.on_system[l] * there[l];
                count.set_back += there[l] * (1.0 - h.served[l] - h.start[l]);
                count.start_up += there[l] * h.start[l];
                count.standby += there[l] * h.standby[l];
                let design = f.primary_kg_per_s[l];
                let reduced = h.served[l] * f64::from(u8::from(k.asked[l] < design * (1.0 - 1e-9)));
                count.demand_control += system * f.follows[l] * reduced * (1.0 - h.standby[l]);
                count.transfer += f64::from(u8::from(h.transfer[l] > 0.0));
                count.follower += f.follower[l] * there[l];
            }
            k.tally.hour(&h, steps);
            k.hour = h;
        }
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
    fn advance(
        &mut self,
        tile: &Tile,
        step_of_tile: usize,
        supply: &DecoupledSupply,
        outdoor: &Outdoor,
        limits: &StepLimits,
    ) -> DecoupledDemand {
        let p = self.p;
        let (before, after) = (self.now, 1 - self.now);
        let cp = |w: f64| CP_AIR + CP_VAPOUR * w;
        let (cp_p, cp_o) = (cp(supply.primary_w), cp(outdoor.w));
        let waits = BlockHour::waits(p.settings.release);
        let water_w = limits.margin_w[0];
        let mut sums = Sums::default();
        for (b, (k, f)) in self.blocks.iter_mut().zip(&p.blocks).enumerate() {
            let model = &p.models[b];
            let (unit, per_unit) = model.unit();
            let w = self.w[before][b];
            let free = k.response.free_c(tile.free(b, step_of_tile));
            let h = &k.hour;
            let (mut g, mut gt, mut flow, mut water, mut by_primary) = (ZERO, ZERO, ZERO, ZERO, ZERO);
            for l in 0..LANES {
                let m_p = k.asked[l] * supply.primary_share;
                let m_i = h.leak[l];
                k.primary[l] = m_p;
                by_primary[l] = m_p * cp_p;
                g[l] = by_primary[l] + m_i * cp_o;
                gt[l] = by_primary[l] * supply.primary_c + m_i * cp_o * outdoor.t_c + k.fan[l];
                flow[l] = m_p + m_i;
                water[l] = m_p * supply.primary_w + m_i * outdoor.w + h.vapour[l];
            }
            if f.has_transfer {
                for l in 0..LANES {
                    let (t_s, w_s) = (
                        lane(&self.air_c[before], f.transfer_from[l]),
                        lane(&self.w[before], f.transfer_from[l]),
                    );
                    let m = h.transfer[l];
                    let c = m * cp(w_s);
                    g[l] += c;
                    gt[l] += c * t_s;
                    flow[l] += m;
                    water[l] += m * w_s;
                }
            }
            if f.has_followers {
                for l in 0..LANES {
                    g[l] += k.round_g[l];
                    gt[l] += k.round_g[l] * k.round_c[l];
                    flow[l] += k.round_kg[l];
                    water[l] += k.round_kg[l] * k.round_w[l];
                }
            }
            let mut ideal = Ideal {
                heating_set_c: h.heating_c,
                cooling_set_c: h.cooling_c,
                heating_capacity_w: f.heating_w,
                heating_share: supply.heating_share,
                coil_w_per_k: ZERO,
                coil_c: ZERO,
                cooling_share: supply.cooling_share,
            };
            let mut coil_air_w = ZERO;
            for l in 0..LANES {
                // A plenum is more humid by what leaks into it.
                let more = f.plenum_leak[l] * (outdoor.w - w[l]);
                coil_air_w[l] = w[l] + if more > 0.0 { more } else { 0.0 };
                let wet = if coil_air_w[l] > limits.shut_w { f.terminal[l] } else { 0.0 };
                k.shut[l] = waits * wet;
                ideal.coil_w_per_k[l] = f.coil_w_per_k[l] * (1.0 - k.shut[l]);
                ideal.coil_c[l] = f.on_water[l] * (supply.water_c - k.plenum_k[l]) + f.own_coil_c[l];
            }
            // Units of server rooms blend their own water, never colder than the dew point of the room and what is required
            // above it, since they cannot be shut.
            if f.has_own_units && waits > 0.0 {
                k.raised = ZERO;
                for l in 0..LANES {
                    let unit = f.on_water[l] * (1.0 - f.terminal[l]);
                    if unit > 0.0 && w[l] > limits.guard_w {
                        let s = &p.settings;
                        let guarded =
                            raw::dew_point_c(w[l], limits.p_pa) - s.sensor_error_k + s.required_margin_k;
                        ideal.coil_c[l] = guarded.max(ideal.coil_c[l]);
                        k.raised[l] = 1.0;
                    }
                }
            }
            let c = control(unit, per_unit, &free, &g, &gt, &ideal);
            let mut heat = ZERO;
            for l in 0..LANES {
                heat[l] = c.air_flow_w[l] + (c.heating_w[l] - c.cooling_w[l]);
            }
            k.response.take(model, &heat);

            // Coils that dry: wet ones on the system's water, and those of own units.
            let mut wet_kg = ZERO;
            let mut wet_w = ZERO;
            let mut any_wet = f.has_off_system;
            for l in 0..LANES {
                any_wet |=
                    (c.cooling_w[l] * f.on_water[l] * (1.0 - k.raised[l]) > 0.0) && (coil_air_w[l] > water_w);
            }
            if any_wet {
                for l in 0..LANES {
                    let at = f.on_water[l] * water_w + f.off_system[l] * self.own_w;
                    let through = c.cooling_w[l] / (c.air_c[l] - ideal.coil_c[l]).max(0.5) / CP_AIR;
                    // Both before and in the long run above saturation: water only leaves the air.
                    let stays = w[l] > at && water[l] > flow[l] * at && k.raised[l] + k.shut[l] == 0.0;
                    wet_kg[l] = if stays { through } else { 0.0 };
                    wet_w[l] = at;
                    flow[l] += wet_kg[l];
                    water[l] += wet_kg[l] * at;
                }
            }
            let humid = moisture(&w, &flow, &water, &f.step_per_kg);

            let mut supply_heat = ZERO;
            for l in 0..LANES {
                supply_heat[l] = by_primary[l] * (supply.primary_c - c.air_c[l]);
            }
            k.tally.step(
                &StepLanes {
                    air_c: &c.air_c,
                    w: &humid.end,
                    mean_w: &humid.mean,
                    coil: &c.cooling_w,
                    heating: &c.heating_w,
                    supply: &supply_heat,
                    fan: &k.fan,
                    flows: &c.air_flow_w,
                    ventilation: &k.primary,
                    flow: &flow,
                    water: &water,
                },
                h,
                limits,
            );
            k.coil = c.cooling_w;
            k.heating = c.heating_w;
            k.heat = heat;
            let counts = counts(f, k);
            k.tally.margins(&coil_air_w, &counts, &k.hour, limits);
            k.condensate = ZERO;
            if any_wet {
                for l in 0..LANES {
                    let gone = wet_kg[l] * (humid.mean[l] - wet_w[l]);
                    let on_water = f.on_water[l] * gone;
                    k.condensate[l] = on_water;
                    k.tally.condensate[l] += on_water;
                    k.tally.condensing[l] += if on_water > 0.0 { 1.0 } else { 0.0 };
                    sums.condensate += on_water;
                    sums.own_cooling[l] += (gone - on_water) * CONDENSATION_J_PER_KG;
                }
            }
            let h = &k.hour;
            let mut guarded = k.shut;
            add(&mut guarded, &k.raised);
            if any(&guarded) {
                add(&mut k.tally.held_shut, &guarded);
                add(&mut sums.shut, &times(&guarded, &f.there));
                add(&mut k.tally.held_shut_occupied, &times(&guarded, &h.occupied));
            }
            let mut back = ZERO;
            for l in 0..LANES {
                let m = k.primary[l] + h.transfer[l] - h.drawn[l];
                back[l] = if m > 0.0 { m * f.returns[l] } else { 0.0 };
            }
            add(&mut sums.primary, &k.primary);
            add(&mut sums.asked, &k.asked);
            add(&mut sums.back, &back);
            add(&mut sums.back_c, &times(&back, &c.air_c));
            add(&mut sums.back_w, &times(&back, &humid.mean));
            add(&mut sums.coil, &times(&c.cooling_w, &f.on_system));
            add(&mut sums.heating, &times(&c.heating_w, &f.returns));
            if f.has_off_system {
                add(&mut sums.own_cooling, &times(&c.cooling_w, &f.off_system));
                add(&mut sums.own_heating, &times(&c.heating_w, &f.off_system));
            }
            let served = times(&humid.end, &f.terminal);
            let mut open = ZERO;
            for l in 0..LANES {
                open[l] = if c.cooling_w[l] > 0.0 { served[l] } else { 0.0 };
            }
            raise(&mut sums.wettest_open, &open);
            raise(&mut sums.wettest_any, &served);
            raise(&mut sums.wettest_counted, &times(&coil_air_w, &counts));
            if h.any_occupied {
                raise(&mut sums.wettest_occupied, &times(&humid.end, &h.occupied));
            }
            let (mut working, mut giving) = (ZERO, ZERO);
            for l in 0..LANES {
                let warm = if c.air_c[l] > h.cooling_c[l] + 1e-6 { 1.0 } else { 0.0 };
                working[l] = if c.cooling_w[l] > 0.0 { warm } else { 0.0 };
                let cold = if c.air_c[l] < h.heating_c[l] - 1e-6 { 1.0 } else { 0.0 };
                giving[l] = if c.heating_w[l] > 0.0 { cold } else { 0.0 };
            }
            k.tally.limited(&working, &giving);
            operate(f, k, &c.air_c, supply.water_c, &p.operating, &mut sums);
            self.air_c[after][b] = c.air_c;
            self.w[after][b] = humid.end;
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
            coil_w: total(&sums.coil) + sums.condensate * CONDENSATION_J_PER_KG,
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
                    k.round_w[l] = air_w;
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
    fn run(self) {
        self.rooms.hour(self.hour, self.mode, self.supply, self.outdoor);
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
    fn run(self) -> DecoupledDemand {
        self.rooms.advance(self.tile, self.step_of_tile, self.supply, self.outdoor, self.limits)
    }
}

/// Operating points of units that serve one room each. Their fans warm the rooms in the next step.
#[inline(always)]
fn operate(f: &BlockFacts, k: &mut Block, air_c: &Lanes, water_c: f64, rows: &[Row], sums: &mut Sums) {
    let mut share = ZERO;
    let (mut fan, mut water) = (ZERO, ZERO);
    let (mut cools, mut runs) = (ZERO, ZERO);
    for l in 0..LANES {
        // Heat at the perimeter is not the unit's.
        let heat = if f.unit_heating_w[l] > 0.0 { k.heating[l] } else { 0.0 };
        let q = k.coil[l] - heat;
        let above = air_c[l] + k.plenum_k[l] - water_c;
        let able = above * f.coil_w_per_k[l];
        let able = if able > 1e-9 { able } else { 1e-9 };
        let cooling = if above > 0.01 { q / able } else { 0.0 };
        let heats = if f.unit_heating_w[l] > 0.0 { f.unit_heating_w[l] } else { 1e30 };
        share[l] = if q > 0.0 { cooling } else { q / heats };
        cools[l] = if q > 0.0 { f.alone[l] } else { 0.0 };
        let on = k.hour.served[l] + k.primary[l] + q.abs();
        runs[l] = if on > 0.0 { f.alone[l] } else { 0.0 };
    }
    for l in 0..LANES {
        let at = terminal_table::between(&rows[f.table_at[l] as usize..], share[l]);
        fan[l] = runs[l] * at.fan_w;
        water[l] = cools[l] * at.water_kg_per_s;
    }
    let mut heard = ZERO;
    for l in 0..LANES {
        let most = if share[l] < 1.0 { share[l] } else { 1.0 };
        share[l] = most * cools[l];
        heard[l] = f.alone[l] * k.fan[l];
        k.fan[l] = fan[l] + (1.0 - f.alone[l]) * k.fan[l];
    }
    add(&mut sums.coil_water, &water);
    add(&mut sums.fans, &heard);
    raise(&mut sums.zone_share, &share);
}

/// 1 where the margin of a coil counts: on the system's water, not held shut, and in its hours of use or start-up or open.
#[inline(always)]
fn counts(f: &BlockFacts, k: &Block) -> Lanes {
    let mut out = ZERO;
    for l in 0..LANES {
        let active = if k.hour.served[l] + k.hour.start[l] > 0.0 || k.coil[l] > 0.0 { 1.0 } else { 0.0 };
        out[l] = f.on_water[l] * (1.0 - k.shut[l]) * (1.0 - k.raised[l]) * active;
    }
    out
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
    condensate: f64,
    fans: Lanes,
    coil_water: Lanes,
    zone_share: Lanes,
}
