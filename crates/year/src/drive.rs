//! The rooms' answer to weather and gains, the same in both schemes: computed once, a tile of hours at a time.

use crate::prepare::{BlockFacts, LANES, Lanes, Prepared, ZERO};
use crate::signals::BuildingMode;
use crate::wide::{self, Loop};
use drycoil_project::CoilRelease;
use drycoil_rooms::RoomError;
use drycoil_rooms::block::{Drive, Number};
use rayon::prelude::*;
use std::ops::Range;

/// Use and set points of a block in an hour, the same in both schemes.
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
    #[inline(always)]
    pub fn new(p: &Prepared, f: &BlockFacts, hour: usize, mode: BuildingMode) -> Self {
        let day = p.day_type(hour) as usize;
        let now = &f.hours[day * 24 + hour % 24];
        let mut soon = ZERO;
        for ahead in 1..=p.settings.start_up_h {
            let h = hour + ahead;
            let then = &f.hours[p.day_type(h) as usize * 24 + h % 24];
            for l in 0..LANES {
                soon[l] = if then.served[l] > soon[l] { then.served[l] } else { soon[l] };
            }
        }
        // Outdoor air holds the building above the pressure outside, and exhaust fans run, in the hours of use alone.
        let running = f64::from(u8::from(mode == BuildingMode::Occupied));
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
        let mut any = 0.0;
        for l in 0..LANES {
            o.start[l] = (1.0 - now.served[l]) * soon[l];
            o.standby[l] = now.served[l] * (1.0 - now.occupied[l]) * f.standby[l];
            let on = now.served[l] + o.start[l];
            let relaxed = o.standby[l] * f.relaxation_k[l];
            o.heating_c[l] = f.night_heating_c[l] + on * (f.heating_c[l] - f.night_heating_c[l]) - relaxed;
            o.cooling_c[l] = f.night_cooling_c[l] + on * (f.cooling_c[l] - f.night_cooling_c[l]) + relaxed;
            o.vapour[l] = f.people_kg_per_s[l] * now.shares[0][l] + f.process_kg_per_s[l] * now.shares[3][l];
            o.leak[l] = f.open_leak_kg_per_s[l]
                + running * (f.held_leak_kg_per_s[l] - f.open_leak_kg_per_s[l])
                + now.served[l] * f.own_outdoor_kg_per_s[l];
            o.transfer[l] = running * f.transfer_kg_per_s[l];
            o.drawn[l] = running * f.drawn_kg_per_s[l];
            any += now.occupied[l];
        }
        o.any_occupied = any > 0.0;
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
const GROUP: usize = 8;

/// Free-floating temperatures of a tile, `[group of blocks][step][block]`.
#[derive(Debug, Clone, Default)]
pub(crate) struct Tile {
    /// Hours that the tile covers.
    pub hours: Range<usize>,
    /// Steps in it.
    pub steps: usize,
    blocks: usize,
    free: Vec<Lanes>,
    sun: Vec<f64>,
}

impl Tile {
    #[inline(always)]
    pub fn free(&self, block: usize, step: usize) -> &Lanes {
        let first = block - block % GROUP;
        let width = (self.blocks - first).min(GROUP);
        &self.free[first * self.steps + step * width + block % GROUP]
    }
}

/// State of all blocks.
#[derive(Debug, Clone)]
pub(crate) struct DrivePass {
    drives: Vec<Drive<LANES>>,
}

/// Values of the held channels of a block in an hour: radiant gains, sun, convective gains.
#[inline(always)]
pub(crate) fn held(p: &Prepared, f: &BlockFacts, hour: usize, sun: &[f64], out: &mut Vec<Lanes>) {
    let now = &f.hours[p.day_type(hour) as usize * 24 + hour % 24];
    let sum = |full: &[Lanes; 4]| {
        let mut total = ZERO;
        for k in 0..4 {
            for l in 0..LANES {
                total[l] += full[k][l] * now.shares[k][l];
            }
        }
        total
    };
    out.clear();
    out.push(sum(&f.radiant_w));
    for place in &f.sun {
        out.push(place.map(|i| sun[i as usize]));
    }
    out.push(sum(&f.convective_w));
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
        tile.free.resize(p.models.len() * steps, ZERO);
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
    out: &'a mut [Lanes],
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
            let (model, facts) = (&p.models[first + b], &p.blocks[first + b]);
            for (h, out) in out.chunks_exact_mut(per_hour * blocks).enumerate() {
                held(p, facts, start + h, &sun[h * width..(h + 1) * width], &mut values);
                drive.hold_by(kind, model, &values)?;
                let outdoor = &p.weather.end_c[(start + h) * per_hour..];
                for (free, t) in out.iter_mut().skip(b).step_by(blocks).zip(outdoor) {
                    drive.step_by(kind, model, *t, free);
                }
            }
        }
        Ok(())
    }
}
