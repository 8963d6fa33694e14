//! The rooms' answer to weather and gains, the same in both schemes: computed once, a tile of hours at a time.

use crate::prepare::{LANES, Lanes, Prepared, ZERO};
use crate::signals::BuildingMode;
use crate::wide::{self, Loop};
use drycoil_project::CoilRelease;
use drycoil_rooms::RoomError;
use drycoil_rooms::block::{Aligned, Drive, Number};
use rayon::prelude::*;
use std::ops::Range;

/// Use and set points of a block in an hour, the same in both schemes.
#[repr(align(32))]
#[derive(Debug, Clone)]
pub(crate) struct BlockHour {
    pub occupied: Lanes,
    pub any_occupied: bool,
    /// Served by the system: within the hours of use of the day.
    pub served: Lanes,
    /// Being brought to its occupied state.
    pub start: Lanes,
    /// Empty within its hours of use, and on standby.
    pub standby: Lanes,
    /// Share of people.
    pub people: Lanes,
    /// Share of lights.
    pub lights: Lanes,
    pub heating_c: Lanes,
    pub cooling_c: Lanes,
    pub vapour: Lanes,
    pub leak: Lanes,
    pub transfer: Lanes,
    pub drawn: Lanes,
}

impl BlockHour {
    /// Use of a block in an hour.
    #[inline(always)]
    pub fn new<N: Number>(kind: N, p: &Prepared, block: usize, hour: usize, mode: BuildingMode) -> Self {
        let f = &p.blocks[block];
        let now = p.in_use(block, hour);
        // Outdoor air holds the building above the pressure outside, and exhaust fans run, in the hours of use alone.
        let running = kind.all(f64::from(u8::from(mode == BuildingMode::Occupied)));
        let (zero, one) = (kind.all(0.0), kind.all(1.0));
        let mut o = Self {
            occupied: now.occupied,
            any_occupied: false,
            served: now.served,
            start: ZERO,
            standby: ZERO,
            people: now.shares[0],
            lights: now.shares[1],
            heating_c: ZERO,
            cooling_c: ZERO,
            vapour: ZERO,
            leak: ZERO,
            transfer: ZERO,
            drawn: ZERO,
        };
        for at in 0..LANES / N::WIDTH {
            let of = |x: &Lanes| kind.of(x, at);
            let (served, occupied) = (of(&now.served), of(&now.occupied));
            let mut soon = zero;
            for ahead in 1..=p.settings.start_up_h {
                soon = of(&p.in_use(block, hour + ahead).served).larger(soon);
            }
            let start = (one - served) * soon;
            let standby = served * (one - occupied) * of(&f.standby);
            let on = served + start;
            let relaxed = standby * of(&f.relaxation_k);
            let night = of(&f.night_heating_c);
            (night + on * (of(&f.heating_c) - night) - relaxed).put(&mut o.heating_c, at);
            let night = of(&f.night_cooling_c);
            (night + on * (of(&f.cooling_c) - night) + relaxed).put(&mut o.cooling_c, at);
            let people = of(&f.people_kg_per_s) * of(&now.shares[0]);
            (people + of(&f.process_kg_per_s) * of(&now.shares[3])).put(&mut o.vapour, at);
            let open = of(&f.open_leak_kg_per_s);
            let leak = open + running * (of(&f.held_leak_kg_per_s) - open);
            (leak + served * of(&f.own_outdoor_kg_per_s)).put(&mut o.leak, at);
            (running * of(&f.transfer_kg_per_s)).put(&mut o.transfer, at);
            (running * of(&f.drawn_kg_per_s)).put(&mut o.drawn, at);
            start.put(&mut o.start, at);
            standby.put(&mut o.standby, at);
            o.any_occupied |= N::any(occupied.above(zero));
        }
        o
    }

    /// Whether coils wait for dry air in these rooms: outside their hours of use, and as long as they have not been
    /// released since.
    pub fn waits(release: CoilRelease) -> f64 {
        f64::from(u8::from(release == CoilRelease::WhenDry))
    }
}

/// Blocks whose temperatures of a step lie side by side, so that a step reads them in one sweep, and the least that a
/// thread drives at once.
const GROUP: usize = 16;

/// Free-floating temperatures of a tile, `[group of blocks][step][block]`.
#[derive(Debug, Clone, Default)]
pub(crate) struct Tile {
    /// Hours that the tile covers.
    pub hours: Range<usize>,
    /// Steps in it.
    pub steps: usize,
    blocks: usize,
    free: Vec<Aligned<Lanes>>,
    sun: Vec<f64>,
}

impl Tile {
    #[inline(always)]
    pub fn free(&self, block: usize, step: usize) -> &Lanes {
        let first = block - block % GROUP;
        let width = (self.blocks - first).min(GROUP);
        &self.free[first * self.steps + step * width + block % GROUP].0
    }
}

/// State of all blocks.
#[derive(Debug, Clone)]
pub(crate) struct DrivePass {
    drives: Vec<Drive<LANES>>,
}

/// Values of the held channels of a block in an hour: radiant gains, sun, convective gains.
#[inline(always)]
pub(crate) fn held<N: Number>(
    kind: N,
    p: &Prepared,
    block: usize,
    hour: usize,
    sun: &[f64],
    out: &mut Vec<Lanes>,
) {
    let f = &p.blocks[block];
    let now = p.in_use(block, hour);
    out.clear();
    out.push(in_sum(kind, &f.radiant_w, &now.shares));
    for place in &f.sun {
        out.push(place.map(|i| sun[i as usize]));
    }
    out.push(in_sum(kind, &f.convective_w, &now.shares));
}

/// Gains of all kinds in an hour.
#[inline(always)]
fn in_sum<N: Number>(kind: N, full: &[Lanes; 4], shares: &[Lanes; 4]) -> Lanes {
    let mut total = ZERO;
    for at in 0..LANES / N::WIDTH {
        let mut sum = kind.all(0.0);
        for (full, share) in full.iter().zip(shares) {
            sum = sum + kind.of(full, at) * kind.of(share, at);
        }
        sum.put(&mut total, at);
    }
    total
}

/// Sun on all orientations in an hour, opaque and glass by turns, then a zero.
pub(crate) fn sun_of(p: &Prepared, hour: usize, out: &mut [f64]) {
    for (place, f) in out.chunks_exact_mut(2).zip(&p.facings) {
        let s = p.skies.on(f, hour);
        place[0] = s.opaque;
        place[1] = s.glass;
    }
}

impl DrivePass {
    /// Rooms after the mean weather of the first days for ever, without gains.
    pub fn new(p: &Prepared) -> Result<Self, RoomError> {
        let mean = p.weather.warm_up_c;
        let drives = p
            .models
            .iter()
            .map(|m| Drive::steady(m, mean, &vec![ZERO; m.held()]))
            .collect::<Result<Vec<_>, _>>()?;
        Ok(Self { drives })
    }

    /// Runs a tile of hours; `hours` may lie anywhere in the year.
    pub fn run(&mut self, p: &Prepared, hours: Range<usize>, tile: &mut Tile) -> Result<(), RoomError> {
        let per_hour = p.weather.steps_per_hour;
        let steps = hours.len() * per_hour;
        let width = 2 * p.facings.len() + 1;
        tile.steps = steps;
        tile.blocks = p.models.len();
        tile.free.resize(p.models.len() * steps, Aligned(ZERO));
        tile.sun.resize(hours.len() * width, 0.0);
        tile.sun.par_chunks_mut(width).zip(hours.clone().into_par_iter()).for_each(|(out, hour)| {
            sun_of(p, hour, out);
        });
        let sun = &tile.sun;
        let start = hours.start;
        tile.hours = hours;
        self.drives
            .par_chunks_mut(GROUP)
            .zip(tile.free.par_chunks_mut(GROUP * steps))
            .enumerate()
            .map(|(g, (drives, out))| {
                wide::run(p.arch, GroupWork { p, first: g * GROUP, drives, out, start, sun, width })
            })
            .collect()
    }

    /// Lags of a room.
    pub fn lags(&self, room: usize) -> Vec<f64> {
        self.drives[room / LANES].lags(room % LANES)
    }
}

/// A group of blocks through a tile.
struct GroupWork<'a> {
    p: &'a Prepared,
    first: usize,
    drives: &'a mut [Drive<LANES>],
    out: &'a mut [Aligned<Lanes>],
    start: usize,
    sun: &'a [f64],
    width: usize,
}

impl Loop for GroupWork<'_> {
    type Output = Result<(), RoomError>;
    #[inline(always)]
    fn run<N: Number>(self, kind: N) -> Self::Output {
        let Self { p, first, drives, out, start, sun, width } = self;
        let per_hour = p.weather.steps_per_hour;
        let blocks = drives.len();
        let mut values = Vec::new();
        for (b, drive) in drives.iter_mut().enumerate() {
            let model = &p.models[first + b];
            for (h, out) in out.chunks_exact_mut(per_hour * blocks).enumerate() {
                held(kind, p, first + b, start + h, &sun[h * width..(h + 1) * width], &mut values);
                drive.hold_by(kind, model, &values)?;
                let outdoor = &p.weather.end_c[(start + h) * per_hour..];
                for (Aligned(free), t) in out.iter_mut().skip(b).step_by(blocks).zip(outdoor) {
                    drive.step_by(kind, model, *t, free);
                }
            }
        }
        Ok(())
    }
}
