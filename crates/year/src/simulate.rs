//! The loop of the year: drive, both schemes' rooms, both plants, sums.
//!
//! The year is cut into tiles of hours. While one thread steps the rooms and the plant of one scheme through a tile, the
//! other does so for the other scheme and then answers weather and gains for the next tile. Steps of a scheme follow one
//! another and sums over rooms run in the order of the room list, so that any number of threads gives the same bits.

use crate::all_air_rooms::AllAirRooms;
use crate::decoupled_rooms::{DecoupledRooms, FeatureSteps, RoomStep};
use crate::drive::{DrivePass, Tile, held, sun_of};
use crate::plant::SetUpError;
use crate::plant::all_air_design::AllAirDesign;
use crate::plant::all_air_plant::AllAirPlant;
use crate::plant::decoupled_plant::{DecoupledControl, DecoupledPlant};
use crate::prepare::{LANES, Lanes, PrepareError, Prepared, ReductionCache};
use crate::result::{
    Closure, EndUseYear, Feature, FeatureHours, FreeCooling, HeatYear, HourlyYear, HumidityYear, LimitHours,
    MarginHours, MarginYear, Moment, ONE_DEGF_K, Peak, Peaks, PlantHour, RoomHour, RoomYear, Scheme,
    SchemeYear, UnmetYear, Year,
};
use crate::signals::{
    AllAirDemand, AllAirSupply, BuildingMode, DecoupledDemand, DecoupledSupply, EndUse, Outdoor,
    PlantFeature, PlantLimit, PlantStep, StepTime,
};
use crate::tally::{BlockTally, Record, StepLimits};
use crate::weather::WARM_UP_DAYS;
use drycoil_air::raw;
use drycoil_climate::WeatherYear;
use drycoil_project::Project;
use drycoil_rooms::RoomError;
use drycoil_sizing::Design;
use std::fmt;
use std::ops::Range;

/// What to simulate.
#[derive(Debug, Clone, PartialEq)]
pub struct Options {
    /// Step, s: 30 s to 1 h, divides an hour.
    pub step_s: f64,
    /// Whether the decoupled and the all-air scheme are simulated.
    pub schemes: Vec<Scheme>,
    /// Most days of warm-up, in weeks.
    pub most_warm_up_days: usize,
    /// Change of any room's air temperature from one warm-up week to the next below which the warm-up ends, K.
    pub warm_up_k: f64,
    /// Rooms, by position in the room list, whose hours are handed to the observer.
    pub watched: Vec<usize>,
    /// Whether the hours of the plants are handed to the observer.
    pub watch_plant: bool,
    /// How rooms and plant are joined within a step.
    pub coupling: Coupling,
    /// Error of all dew-point sensors that the control of the decoupled scheme reads, K: rooms are by so much more humid
    /// than it believes.
    pub sensor_error_k: f64,
}

/// How rooms and plant are joined within a step.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Coupling {
    /// The plant answers what the rooms took in the step before.
    Lagged,
    /// Every step is repeated this many times with the plant's own answer before it counts: the check on the lag, at a
    /// multiple of the time.
    Iterated(u32),
}

impl Default for Options {
    /// Both schemes in steps of a quarter of an hour, nothing watched.
    fn default() -> Self {
        Self {
            step_s: 900.0,
            schemes: Scheme::ALL.to_vec(),
            most_warm_up_days: 35,
            warm_up_k: 0.02,
            watched: Vec::new(),
            watch_plant: false,
            coupling: Coupling::Lagged,
            sensor_error_k: 0.0,
        }
    }
}

/// Whether to go on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Progress {
    /// Go on.
    Continue,
    /// Stop.
    Stop,
}

/// Who watches a simulation. All methods have an empty form.
pub trait Observer {
    /// Days of the year (warm-up not counted) that are finished, of how many.
    fn day_finished(&mut self, _finished: usize, _days: usize) -> Progress {
        Progress::Continue
    }
    /// An hour of a watched room.
    fn room_hour(&mut self, _scheme: Scheme, _hour: usize, _room: &RoomHour) {}
    /// An hour of the plant.
    fn plant_hour(&mut self, _scheme: Scheme, _hour: usize, _plant: &PlantHour) {}
}

/// Watches nothing.
#[derive(Debug, Clone, Copy, Default)]
pub struct Unobserved;

impl Observer for Unobserved {}

/// Why there is no year.
#[derive(Debug, Clone, PartialEq)]
pub enum Stopped {
    /// The observer stopped it after this many days.
    ByObserver {
        /// Days.
        days: usize,
    },
    /// Rooms cannot be prepared.
    Rooms(PrepareError),
    /// The plant of a scheme cannot be built.
    Plant {
        /// Scheme.
        scheme: Scheme,
        /// Why.
        error: SetUpError,
    },
    /// A state that is not finite.
    State {
        /// What is wrong with it.
        error: RoomError,
        /// Hour of the year.
        hour: usize,
    },
}

impl fmt::Display for Stopped {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::ByObserver { days } => write!(f, "stopped after {days} days"),
            Self::Rooms(e) => write!(f, "{e}"),
            Self::Plant { scheme, error } => write!(f, "{} plant: {error}", scheme.word()),
            Self::State { error, hour } => write!(f, "hour {hour}: {error}"),
        }
    }
}

impl std::error::Error for Stopped {}

impl From<PrepareError> for Stopped {
    fn from(e: PrepareError) -> Self {
        Self::Rooms(e)
    }
}

/// A plant as the loop sees it.
pub trait Plant<Supply, Demand>: Send + Clone {
    /// Supply to start with.
    fn first_supply(&self, mode: BuildingMode) -> Supply;
    /// A supply made in one mode, in the next.
    fn supply_in_mode(&self, supply: Supply, mode: BuildingMode) -> Supply;
    /// One step: what happened, and the supply of the next step.
    fn step(
        &mut self,
        time: &StepTime,
        mode: BuildingMode,
        outdoor: &Outdoor,
        demand: &Demand,
        used: &Supply,
    ) -> (PlantStep, Supply);
}

impl Plant<DecoupledSupply, DecoupledDemand> for DecoupledPlant {
    fn first_supply(&self, mode: BuildingMode) -> DecoupledSupply {
        Self::first_supply(self, mode)
    }
    fn supply_in_mode(&self, supply: DecoupledSupply, mode: BuildingMode) -> DecoupledSupply {
        Self::supply_in_mode(self, supply, mode)
    }
    fn step(
        &mut self,
        time: &StepTime,
        mode: BuildingMode,
        outdoor: &Outdoor,
        demand: &DecoupledDemand,
        used: &DecoupledSupply,
    ) -> (PlantStep, DecoupledSupply) {
        Self::step(self, time, mode, outdoor, demand, used)
    }
}

impl Plant<AllAirSupply, AllAirDemand> for AllAirPlant {
    fn first_supply(&self, mode: BuildingMode) -> AllAirSupply {
        Self::first_supply(self, mode)
    }
    fn supply_in_mode(&self, supply: AllAirSupply, _mode: BuildingMode) -> AllAirSupply {
        supply
    }
    fn step(
        &mut self,
        time: &StepTime,
        mode: BuildingMode,
        outdoor: &Outdoor,
        demand: &AllAirDemand,
        used: &AllAirSupply,
    ) -> (PlantStep, AllAirSupply) {
        Self::step(self, time, mode, outdoor, demand, used)
    }
}

/// Rooms of a scheme as the loop sees them.
trait Rooms: Send + Clone {
    type Supply: Copy + Send;
    type Demand: Send;
    const SCHEME: Scheme;
    fn set_hour(&mut self, hour: usize, mode: BuildingMode, supply: &Self::Supply, outdoor: &Outdoor);
    fn step(
        &mut self,
        tile: &Tile,
        at: usize,
        supply: &Self::Supply,
        outdoor: &Outdoor,
        limits: &StepLimits,
    ) -> Self::Demand;
    fn watch(&self, room: usize) -> RoomStep;
    fn restart_sums(&mut self);
    fn wettest(&self) -> (f64, f64);
    fn features(&self) -> FeatureSteps;
    fn tally(&self, block: usize) -> &BlockTally;
    fn state(&self, room: usize) -> (Vec<f64>, f64);
    fn humidity_ratio(&self) -> &[Lanes];
    /// Water between rooms of a zone: left over and carried, kg/s times steps.
    fn zone_water(&self) -> [f64; 2];
    /// Water to coils in rooms.
    fn water_c(supply: &Self::Supply) -> Option<f64>;
    /// Temperature, humidity ratio and flow of the supply.
    fn shown(supply: &Self::Supply, demand: &Self::Demand) -> (f64, f64, f64);
}

impl Rooms for DecoupledRooms<'_> {
    type Supply = DecoupledSupply;
    type Demand = DecoupledDemand;
    const SCHEME: Scheme = Scheme::Decoupled;
    fn set_hour(&mut self, hour: usize, mode: BuildingMode, supply: &DecoupledSupply, outdoor: &Outdoor) {
        Self::set_hour(self, hour, mode, supply, outdoor);
    }
    fn step(
        &mut self,
        tile: &Tile,
        at: usize,
        supply: &DecoupledSupply,
        outdoor: &Outdoor,
        limits: &StepLimits,
    ) -> DecoupledDemand {
        Self::step(self, tile, at, supply, outdoor, limits)
    }
    fn watch(&self, room: usize) -> RoomStep {
        Self::watch(self, room)
    }
    fn restart_sums(&mut self) {
        Self::restart_sums(self);
    }
    fn wettest(&self) -> (f64, f64) {
        (self.wettest_counted, self.wettest_occupied)
    }
    fn features(&self) -> FeatureSteps {
        self.features
    }
    fn tally(&self, block: usize) -> &BlockTally {
        Self::tally(self, block)
    }
    fn state(&self, room: usize) -> (Vec<f64>, f64) {
        Self::state(self, room)
    }
    fn humidity_ratio(&self) -> &[Lanes] {
        Self::humidity_ratio(self)
    }
    fn zone_water(&self) -> [f64; 2] {
        self.zone_water
    }
    fn water_c(supply: &DecoupledSupply) -> Option<f64> {
        Some(supply.water_c)
    }
    fn shown(supply: &DecoupledSupply, demand: &DecoupledDemand) -> (f64, f64, f64) {
        (supply.primary_c, supply.primary_w, demand.primary_kg_per_s)
    }
}

impl Rooms for AllAirRooms<'_> {
    type Supply = AllAirSupply;
    type Demand = AllAirDemand;
    const SCHEME: Scheme = Scheme::AllAir;
    fn set_hour(&mut self, hour: usize, mode: BuildingMode, supply: &AllAirSupply, _outdoor: &Outdoor) {
        Self::set_hour(self, hour, mode, supply);
    }
    fn step(
        &mut self,
        tile: &Tile,
        at: usize,
        supply: &AllAirSupply,
        outdoor: &Outdoor,
        limits: &StepLimits,
    ) -> AllAirDemand {
        Self::step(self, tile, at, supply, outdoor, limits)
    }
    fn watch(&self, room: usize) -> RoomStep {
        Self::watch(self, room)
    }
    fn restart_sums(&mut self) {
        Self::restart_sums(self);
    }
    fn wettest(&self) -> (f64, f64) {
        (0.0, self.wettest_occupied)
    }
    fn features(&self) -> FeatureSteps {
        self.features
    }
    fn tally(&self, block: usize) -> &BlockTally {
        Self::tally(self, block)
    }
    fn state(&self, room: usize) -> (Vec<f64>, f64) {
        Self::state(self, room)
    }
    fn humidity_ratio(&self) -> &[Lanes] {
        Self::humidity_ratio(self)
    }
    fn zone_water(&self) -> [f64; 2] {
        [0.0; 2]
    }
    fn water_c(_supply: &AllAirSupply) -> Option<f64> {
        None
    }
    fn shown(supply: &AllAirSupply, demand: &AllAirDemand) -> (f64, f64, f64) {
        (supply.supply_c, supply.supply_w, demand.supply_kg_per_s)
    }
}

/// Sums of a scheme's plant over the year.
struct PlantSums {
    /// `[end use][month]`, W times steps.
    electricity: Vec<[f64; 12]>,
    fuel: Vec<[f64; 12]>,
    water: [f64; 12],
    condensate: [f64; 12],
    heat: HeatYear,
    peaks: [(f64, usize); 4],
    by_month: [[f64; 12]; 3],
    outdoor_peak: f64,
    free: [f64; 4],
    hourly: HourlyYear,
    by_step: Vec<f64>,
    limits: Vec<(f64, Option<usize>)>,
    residual_w: f64,
    worst_residual: f64,
    turnover_w: f64,
    water_residual: f64,
    water_turnover: f64,
    worst_water: f64,
    features: [f64; 4],
}

impl PlantSums {
    fn new(hours: usize, steps: usize) -> Self {
        Self {
            electricity: vec![[0.0; 12]; EndUse::ALL.len()],
            fuel: vec![[0.0; 12]; EndUse::ALL.len()],
            water: [0.0; 12],
            condensate: [0.0; 12],
            heat: HeatYear::default(),
            peaks: [(f64::NEG_INFINITY, 0); 4],
            by_month: [[0.0; 12]; 3],
            outdoor_peak: 0.0,
            free: [0.0; 4],
            hourly: HourlyYear {
                electricity_w: Vec::with_capacity(hours),
                fuel_w: Vec::with_capacity(hours),
                water_kg_per_s: Vec::with_capacity(hours),
                cooling_w: Vec::with_capacity(hours),
                heating_w: Vec::with_capacity(hours),
                smallest_margin_k: Vec::with_capacity(hours),
                wettest_room_kg_per_kg: Vec::with_capacity(hours),
            },
            by_step: Vec::with_capacity(steps),
            limits: vec![(0.0, None); PlantLimit::ALL.len()],
            residual_w: 0.0,
            worst_residual: 0.0,
            turnover_w: 0.0,
            water_residual: 0.0,
            water_turnover: 0.0,
            worst_water: 0.0,
            features: [0.0; 4],
        }
    }

    fn add(&mut self, s: &PlantStep, step: usize, month: usize) -> (f64, f64, f64, f64) {
        let (mut electricity, mut fuel) = (0.0, 0.0);
        for i in 0..EndUse::ALL.len() {
            self.electricity[i][month] += s.electricity_w[i];
            self.fuel[i][month] += s.fuel_w[i];
            electricity += s.electricity_w[i];
            fuel += s.fuel_w[i];
        }
        let cooling = s.central_coil_w + s.sensible_w;
        self.water[month] += s.water_kg_per_s;
        self.condensate[month] += s.condensate_kg_per_s;
        let h = &mut self.heat;
        h.central_coil_j[month] += s.central_coil_w;
        h.central_latent_j[month] += s.central_latent_w;
        h.sensible_j[month] += s.sensible_w;
        h.waterside_free_j[month] += s.waterside_free_w;
        h.airside_free_j[month] += s.airside_free_w;
        h.heating_j[month] += s.heating_w;
        h.recovered_heat_j[month] += s.recovered_heat_w;
        if s.air_recovery_w > 0.0 {
            h.air_recovery_heating_j[month] += s.air_recovery_w;
        } else {
            h.air_recovery_cooling_j[month] -= s.air_recovery_w;
        }
        h.outdoor_air_kg[month] += s.outdoor_kg_per_s;
        for (peak, value) in self.peaks.iter_mut().zip([electricity, fuel, cooling, s.heating_w]) {
            if value > peak.0 {
                *peak = (value, step);
            }
        }
        for (peak, value) in self.by_month.iter_mut().zip([electricity, cooling, s.heating_w]) {
            peak[month] = peak[month].max(value);
        }
        self.outdoor_peak = self.outdoor_peak.max(s.outdoor_kg_per_s);
        if s.waterside_free_w > 0.0 {
            self.free[0] += 1.0;
            if s.waterside_free_w >= cooling * (1.0 - 1e-6) {
                self.free[1] += 1.0;
            }
        }
        self.free[2] += f64::from(u8::from(s.airside_free_w > 0.0));
        self.free[3] += f64::from(u8::from(cooling > 0.0));
        self.by_step.push(electricity);
        if s.features != 0 {
            for (place, feature) in self.features.iter_mut().zip(PlantFeature::ALL) {
                *place += f64::from(u8::from(s.features & feature.bit() != 0));
            }
        }
        if s.limits != 0 {
            for (place, limit) in self.limits.iter_mut().zip(PlantLimit::ALL) {
                if s.limits & limit.bit() != 0 {
                    place.0 += 1.0;
                    place.1.get_or_insert(step);
                }
            }
        }
        let turnover = electricity + fuel + cooling.abs() + s.heating_w.abs();
        self.residual_w += s.residual_w;
        self.turnover_w += turnover;
        self.worst_residual = self.worst_residual.max(s.residual_w.abs() / turnover.max(1e3));
        let passed = s.outdoor_kg_per_s * 0.01 + s.condensate_kg_per_s;
        self.water_residual += s.water_residual_kg_per_s;
        self.water_turnover += passed;
        self.worst_water = self.worst_water.max(s.water_residual_kg_per_s.abs() / passed.max(1e-4));
        (electricity, fuel, cooling, s.heating_w)
    }
}

/// An hour of rows for the observer.
struct HourRows {
    hour: usize,
    rooms: Vec<RoomHour>,
    plant: Option<PlantHour>,
}

/// One scheme on its way through the year.
struct Run<'a, R: Rooms, P> {
    p: &'a Prepared,
    rooms: R,
    plant: P,
    supply: R::Supply,
    sums: PlantSums,
    rows: Vec<HourRows>,
    options: &'a Options,
    water: Saturations,
}

/// Saturation at the water of a step, kept while the water stays.
#[derive(Clone, Copy)]
struct Saturations {
    water_c: f64,
    w: [f64; 5],
}

impl Saturations {
    fn at(&mut self, water_c: f64, required_k: f64, error_k: f64, p_pa: f64) -> [f64; 5] {
        if self.water_c != water_c {
            self.water_c = water_c;
            self.w = [0.0, ONE_DEGF_K, 2.0 * ONE_DEGF_K, -error_k, required_k - error_k]
                .map(|k| raw::saturation_humidity_ratio(water_c - k, p_pa));
        }
        self.w
    }
}

/// Smallest margin of an hour. The dew point rises with the humidity ratio, so it is asked for only once for water that
/// stays.
#[derive(Clone, Copy, Default)]
struct HourMargin {
    least_k: Option<f64>,
    /// Water, and the highest humidity ratio since it is so.
    now: Option<(f64, f64)>,
}

impl HourMargin {
    fn add(&mut self, water_c: f64, w: f64, p_pa: f64) {
        match &mut self.now {
            Some((c, highest)) if *c == water_c => *highest = highest.max(w),
            _ => {
                self.least_k = self.least_k(p_pa);
                self.now = Some((water_c, w));
            }
        }
    }

    fn least_k(&self, p_pa: f64) -> Option<f64> {
        let now = self.now.map(|(water_c, w)| water_c - raw::dew_point_c(w, p_pa));
        match (self.least_k, now) {
            (Some(a), Some(b)) => Some(a.min(b)),
            (a, b) => a.or(b),
        }
    }
}

impl<'a, R: Rooms, P: Plant<R::Supply, R::Demand>> Run<'a, R, P> {
    fn new(p: &'a Prepared, rooms: R, plant: P, options: &'a Options) -> Self {
        let supply = plant.first_supply(p.mode(0));
        Self {
            p,
            rooms,
            plant,
            supply,
            sums: PlantSums::new(0, 0),
            rows: Vec::new(),
            options,
            water: Saturations { water_c: f64::NAN, w: [1.0; 5] },
        }
    }

    /// Runs a tile; `months` are those of its hours.
    fn tile(&mut self, tile: &Tile, months: &[u8]) {
        let p = self.p;
        let per_hour = p.weather.steps_per_hour;
        let watches = !self.options.watched.is_empty();
        for (h, hour) in tile.hours.clone().enumerate() {
            let mode = p.mode(hour);
            self.supply = self.plant.supply_in_mode(self.supply, mode);
            self.rooms.set_hour(hour, mode, &self.supply, &p.weather.mean[hour * per_hour]);
            let month = usize::from(months[hour]);
            let mut hourly = [0.0; 5];
            let (mut margin, mut wettest) = (HourMargin::default(), None::<f64>);
            let mut row = HourRows {
                hour,
                rooms: self
                    .options
                    .watched
                    .iter()
                    .map(|r| RoomHour { room: *r, ..RoomHour::default() })
                    .collect(),
                plant: self.options.watch_plant.then(PlantHour::default),
            };
            for k in 0..per_hour {
                let step = hour * per_hour + k;
                let outdoor = &p.weather.mean[step];
                let water_c = R::water_c(&self.supply).unwrap_or(p.settings.water_c);
                let s = &p.settings;
                let [m0, m1, m2, shut_w, guard_w] =
                    self.water.at(water_c, s.required_margin_k, s.sensor_error_k, s.p_pa);
                let limits = StepLimits {
                    step: step as f64,
                    water_c,
                    margin_w: [m0, m1, m2],
                    shut_w,
                    guard_w,
                    code_w: p.settings.code_w,
                    rh: p.settings.rh,
                    p_pa: p.settings.p_pa,
                };
                let time = StepTime { step, hour, hour_of_day: hour % 24, month, day_type: p.day_type(hour) };
                if let Coupling::Iterated(times) = self.options.coupling {
                    for _ in 0..times {
                        let (mut rooms, mut plant) = (self.rooms.clone(), self.plant.clone());
                        let demand = rooms.step(tile, h * per_hour + k, &self.supply, outdoor, &limits);
                        let (_, next) = plant.step(&time, mode, outdoor, &demand, &self.supply);
                        self.supply = next;
                    }
                }
                let demand = self.rooms.step(tile, h * per_hour + k, &self.supply, outdoor, &limits);
                let (done, next) = self.plant.step(&time, mode, outdoor, &demand, &self.supply);
                let (electricity, fuel, cooling, heating) = self.sums.add(&done, step, month);
                for (sum, v) in
                    hourly.iter_mut().zip([electricity, fuel, done.water_kg_per_s, cooling, heating])
                {
                    *sum += v;
                }
                let (counted, occupied) = self.rooms.wettest();
                if counted > 0.0 {
                    margin.add(water_c, counted, p.settings.p_pa);
                }
                if occupied > 0.0 {
                    wettest = Some(wettest.map_or(occupied, |w| w.max(occupied)));
                }
                if watches {
                    for place in &mut row.rooms {
                        add_room(p, place, &self.rooms.watch(place.room), hour, water_c, per_hour);
                        let (c, ..) = R::shown(&self.supply, &demand);
                        place.supply_c += c / per_hour as f64;
                    }
                }
                if let Some(place) = &mut row.plant {
                    let shown = R::shown(&self.supply, &demand);
                    add_plant(place, outdoor, shown, R::water_c(&self.supply), &done, per_hour);
                }
                self.supply = next;
            }
            let n = per_hour as f64;
            let out = &mut self.sums.hourly;
            out.electricity_w.push(hourly[0] / n);
            out.fuel_w.push(hourly[1] / n);
            out.water_kg_per_s.push(hourly[2] / n);
            out.cooling_w.push(hourly[3] / n);
            out.heating_w.push(hourly[4] / n);
            out.smallest_margin_k.push(margin.least_k(p.settings.p_pa));
            out.wettest_room_kg_per_kg.push(wettest);
            if watches || row.plant.is_some() {
                self.rows.push(row);
            }
        }
    }

    fn restart(&mut self) {
        let hours = self.p.hours();
        self.rooms.restart_sums();
        self.sums = PlantSums::new(hours, hours * self.p.weather.steps_per_hour);
        self.rows.clear();
    }
}

fn add_room(p: &Prepared, to: &mut RoomHour, s: &RoomStep, hour: usize, water_c: f64, per_hour: usize) {
    let n = per_hour as f64;
    to.occupied += s.occupied / n;
    to.air_c += s.air_c / n;
    to.w_kg_per_kg += s.w / n;
    to.supply_kg_per_s += s.supply_kg_per_s / n;
    to.coil_w += s.coil_w / n;
    to.heating_w += s.heating_w / n;
    to.condensate_kg_per_s += s.condensate_kg_per_s / n;
    let [least, greatest] = to.heat_w.unwrap_or([s.heat_w; 2]);
    to.heat_w = Some([least.min(s.heat_w), greatest.max(s.heat_w)]);
    let facts = &p.blocks[to.room / LANES];
    let l = to.room % LANES;
    let now = &facts.hours[p.day_type(hour) as usize * 24 + hour % 24];
    to.gains_w +=
        (0..4).map(|k| now.shares[k][l] * (facts.radiant_w[k][l] + facts.convective_w[k][l])).sum::<f64>()
            / n;
    if s.counts {
        let margin = water_c - raw::dew_point_c(s.w, p.settings.p_pa);
        to.margin_k = Some(to.margin_k.map_or(margin, |m| m.min(margin)));
    }
}

fn add_plant(
    to: &mut PlantHour,
    outdoor: &Outdoor,
    (supply_c, supply_w, supply_kg_per_s): (f64, f64, f64),
    water_c: Option<f64>,
    s: &PlantStep,
    per_hour: usize,
) {
    let n = per_hour as f64;
    to.outdoor_c += outdoor.t_c / n;
    to.outdoor_w_kg_per_kg += outdoor.w / n;
    to.supply_c += supply_c / n;
    to.supply_w_kg_per_kg += supply_w / n;
    to.supply_kg_per_s += supply_kg_per_s / n;
    to.outdoor_kg_per_s += s.outdoor_kg_per_s / n;
    to.water_c = water_c.map(|c| to.water_c.unwrap_or(0.0) + c / n);
    to.central_coil_w += s.central_coil_w / n;
    to.sensible_w += s.sensible_w / n;
    to.waterside_free_w += s.waterside_free_w / n;
    to.heating_w += s.heating_w / n;
    to.electricity_w += s.electricity_w.iter().sum::<f64>() / n;
    to.fuel_w += s.fuel_w.iter().sum::<f64>() / n;
}

/// Simulates the year of a designed project. Work runs in `pool`; the result does not depend on its size.
///
/// # Errors
/// [`Stopped`]: what cannot be prepared, a plant that cannot be built, a state that is not finite, the observer's wish.
pub fn simulate(
    project: &Project,
    design: &Design,
    weather: &WeatherYear,
    options: &Options,
    cache: &mut ReductionCache,
    pool: &rayon::ThreadPool,
    observer: &mut (impl Observer + Send),
) -> Result<Year, Stopped> {
    let mut p = Prepared::new(project, design, weather, options.step_s, cache, pool)?;
    p.settings.sensor_error_k = options.sensor_error_k;
    let wants = |s: Scheme| options.schemes.contains(&s);
    let decoupled = if wants(Scheme::Decoupled) {
        let control = DecoupledControl {
            sensor_error_k: options.sensor_error_k,
            ..DecoupledControl::of(project, design)
        };
        let plant = DecoupledPlant::with_control(project, design, options.step_s, control)
            .map_err(|error| Stopped::Plant { scheme: Scheme::Decoupled, error })?;
        Some((DecoupledRooms::new(&p), plant))
    } else {
        None
    };
    let all_air = if wants(Scheme::AllAir) {
        let plant = AllAirPlant::new(project, design, options.step_s)
            .map_err(|error| Stopped::Plant { scheme: Scheme::AllAir, error })?;
        Some((AllAirRooms::new(&p, project, plant.design()), plant))
    } else {
        None
    };
    simulate_with(&p, decoupled, all_air, options, pool, observer)
}

/// Rooms of the all-air scheme for a design of it.
pub fn all_air_rooms<'a>(p: &'a Prepared, project: &Project, design: &AllAirDesign) -> AllAirRooms<'a> {
    AllAirRooms::new(p, project, design)
}

/// [`simulate`] with prepared rooms and plants of one's own.
///
/// # Errors
/// As [`simulate`].
pub fn simulate_with<D, A>(
    p: &Prepared,
    decoupled: Option<(DecoupledRooms<'_>, D)>,
    all_air: Option<(AllAirRooms<'_>, A)>,
    options: &Options,
    pool: &rayon::ThreadPool,
    observer: &mut (impl Observer + Send),
) -> Result<Year, Stopped>
where
    D: Plant<DecoupledSupply, DecoupledDemand>,
    A: Plant<AllAirSupply, AllAirDemand>,
{
    let mut decoupled = decoupled.map(|(rooms, plant)| Run::new(p, rooms, plant, options));
    let mut all_air = all_air.map(|(rooms, plant)| Run::new(p, rooms, plant, options));
    pool.install(|| go(p, &mut decoupled, &mut all_air, options, observer))
}

/// Hours of a tile: what two of them hold stays within a core's cache.
fn tile_hours(p: &Prepared) -> usize {
    let an_hour = p.models.len() * LANES * 8 * p.weather.steps_per_hour;
    [24, 12, 8, 6, 4, 3, 2, 1].into_iter().find(|h| h * an_hour <= 64 * 1024).unwrap_or(1)
}

fn go<D, A>(
    p: &Prepared,
    decoupled: &mut Option<Run<'_, DecoupledRooms<'_>, D>>,
    all_air: &mut Option<Run<'_, AllAirRooms<'_>, A>>,
    options: &Options,
    observer: &mut (impl Observer + Send),
) -> Result<Year, Stopped>
where
    D: Plant<DecoupledSupply, DecoupledDemand>,
    A: Plant<AllAirSupply, AllAirDemand>,
{
    let state = |hour: usize| move |error: RoomError| Stopped::State { error, hour };
    let hours = p.hours();
    let per_tile = tile_hours(p);
    let months: Vec<u8> =
        (0..12_u8).flat_map(|m| std::iter::repeat_n(m, p.calendar.days_in_month(m + 1) * 24)).collect();
    let mut drive = DrivePass::new(p).map_err(state(0))?;
    let (mut now, mut next) = (Tile::default(), Tile::default());
    let ranges = |day: usize| -> Vec<Range<usize>> {
        (0..24 / per_tile).map(|k| day * 24 + k * per_tile..day * 24 + (k + 1) * per_tile).collect()
    };
    // The first week over and over, until rooms come back to themselves.
    let mut warm_up_days = 0;
    let mut residual = f64::INFINITY;
    let mut last: Vec<f64> = Vec::new();
    while warm_up_days < options.most_warm_up_days && residual > options.warm_up_k {
        for range in (0..WARM_UP_DAYS).flat_map(ranges) {
            drive.run(p, range, &mut now).map_err(state(0))?;
            rayon::join(
                || decoupled.as_mut().map(|r| r.tile(&now, &months)),
                || all_air.as_mut().map(|r| r.tile(&now, &months)),
            );
        }
        warm_up_days += WARM_UP_DAYS;
        let air: Vec<f64> =
            [decoupled.as_ref().map(|r| r.rooms.air_c()), all_air.as_ref().map(|r| r.rooms.air_c())]
                .into_iter()
                .flatten()
                .flat_map(|air| air.iter().flatten().take(p.rooms.len()).copied())
                .collect();
        if last.len() == air.len() {
            residual = last.iter().zip(&air).map(|(a, b)| (a - b).abs()).fold(0.0, f64::max);
        }
        last = air;
    }
    let starts =
        [decoupled.as_ref().map(|r| start(p, &drive, r)), all_air.as_ref().map(|r| start(p, &drive, r))];
    if let Some(r) = decoupled.as_mut() {
        r.restart();
    }
    if let Some(r) = all_air.as_mut() {
        r.restart();
    }
    let days = hours / 24;
    let tiles: Vec<Range<usize>> = (0..days).flat_map(ranges).collect();
    drive.run(p, tiles[0].clone(), &mut now).map_err(state(0))?;
    for (k, range) in tiles.iter().enumerate() {
        let ahead = tiles.get(k + 1).cloned();
        let (_, (_, driven)) = rayon::join(
            || decoupled.as_mut().map(|r| r.tile(&now, &months)),
            || {
                rayon::join(
                    || all_air.as_mut().map(|r| r.tile(&now, &months)),
                    || ahead.map_or(Ok(()), |range| drive.run(p, range, &mut next)),
                )
            },
        );
        driven.map_err(state(range.start))?;
        std::mem::swap(&mut now, &mut next);
        if let Some(r) = decoupled.as_mut() {
            hand_over(r, observer);
        }
        if let Some(r) = all_air.as_mut() {
            hand_over(r, observer);
        }
        if range.end % 24 == 0 {
            for air in
                [decoupled.as_ref().map(|r| r.rooms.air_c()), all_air.as_ref().map(|r| r.rooms.air_c())]
                    .into_iter()
                    .flatten()
            {
                if let Some(value) = air.iter().flatten().find(|t| t.is_nan() || t.abs() >= 1e4) {
                    let error = RoomError::OutOfRange {
                        quantity: "air temperature of a room",
                        value: *value,
                        lowest: -1e4,
                        highest: 1e4,
                        unit: "degC",
                    };
                    return Err(Stopped::State { error, hour: range.end });
                }
            }
            if observer.day_finished(range.end / 24, days) == Progress::Stop {
                return Err(Stopped::ByObserver { days: range.end / 24 });
            }
        }
    }
    let channel_sums = ChannelSums::new(p);
    let [first, second] = starts;
    let mut schemes = Vec::new();
    if let (Some(r), Some(start)) = (decoupled.as_ref(), first) {
        schemes.push(finish(p, &drive, r, &start, &channel_sums));
    }
    if let (Some(r), Some(start)) = (all_air.as_ref(), second) {
        schemes.push(finish(p, &drive, r, &start, &channel_sums));
    }
    Ok(Year {
        step_s: p.step_s,
        steps: hours * p.weather.steps_per_hour,
        hours,
        warm_up_days,
        warm_up_residual_k: if residual.is_finite() { residual } else { 0.0 },
        distinct_models: p.distinct_models,
        reduction_bound_k: p.bound_k,
        schemes,
    })
}

fn hand_over<R: Rooms, P>(r: &mut Run<'_, R, P>, observer: &mut impl Observer) {
    for row in r.rows.drain(..) {
        for room in &row.rooms {
            observer.room_hour(R::SCHEME, row.hour, room);
        }
        if let Some(plant) = &row.plant {
            observer.plant_hour(R::SCHEME, row.hour, plant);
        }
    }
}

/// Lags and channels of every room at one moment.
struct Start {
    lags: Vec<Vec<f64>>,
    channels: Vec<Vec<f64>>,
    water_kg: Vec<f64>,
}

/// State of all rooms after the last hour of a day that ended: the first day before the year, the last day after it.
fn state_after<R: Rooms, P>(p: &Prepared, drive: &DrivePass, r: &Run<'_, R, P>, hour: usize) -> Start {
    let mut sun = vec![0.0; 2 * p.facings.len() + 1];
    sun_of(p, hour, &mut sun);
    let outdoor = p.weather.end_c[(hour + 1) * p.weather.steps_per_hour - 1];
    let mut values = Vec::new();
    let (mut lags, mut channels, mut water_kg) = (Vec::new(), Vec::new(), Vec::new());
    for (i, facts) in p.rooms.iter().enumerate() {
        let (b, l) = (i / LANES, i % LANES);
        held(0.0, p, b, hour, &sun, &mut values);
        let model = &facts.model.reduced;
        let (response, heat) = r.rooms.state(i);
        let constant = facts.model.constant;
        let mut all: Vec<f64> =
            drive.lags(i).iter().zip(&response).map(|(a, b)| a + b).take(model.order()).collect();
        // The constant part stands beside the lags; in them it is the steady state of its channel.
        if let Some(c) = constant {
            for (m, lag) in all.iter_mut().enumerate() {
                *lag += model.driven[(m, c)] / model.loss[m];
            }
        }
        let n = model.channels.len();
        let mut u = vec![0.0; n];
        u[0] = outdoor;
        u[1] = values[0][l];
        for (k, place) in facts.sun.iter().enumerate() {
            u[2 + k] = sun[*place as usize];
        }
        if let Some(c) = constant {
            u[c] = 1.0;
        }
        u[n - 1] = values[values.len() - 1][l] + heat;
        lags.push(all);
        channels.push(u);
        water_kg.push(p.blocks[b].effective_kg[l] * r.rooms.humidity_ratio()[b][l]);
    }
    Start { lags, channels, water_kg }
}

fn start<R: Rooms, P>(p: &Prepared, drive: &DrivePass, r: &Run<'_, R, P>) -> Start {
    state_after(p, drive, r, 24 * WARM_UP_DAYS - 1)
}

/// Sums of the channels that both schemes share, over the steps of the year.
struct ChannelSums {
    outdoor: f64,
    sun: Vec<f64>,
    /// By room: radiant, convective, W times steps.
    gains: Vec<[f64; 2]>,
}

impl ChannelSums {
    fn new(p: &Prepared) -> Self {
        let per_hour = p.weather.steps_per_hour as f64;
        let mut sun = vec![0.0; 2 * p.facings.len() + 1];
        let mut one = sun.clone();
        for hour in 0..p.hours() {
            sun_of(p, hour, &mut one);
            for (sum, v) in sun.iter_mut().zip(&one) {
                *sum += v * per_hour;
            }
        }
        let mut days = [0.0; 4];
        for d in &p.day_types {
            days[*d as usize] += 1.0;
        }
        let gains = p
            .rooms
            .iter()
            .enumerate()
            .map(|(i, r)| {
                let facts = &p.blocks[i / LANES];
                let mut sums = [0.0; 2];
                for (d, count) in days.iter().enumerate() {
                    for h in 0..24 {
                        for k in 0..4 {
                            let share = facts.hours[d * 24 + h].shares[k][i % LANES];
                            sums[0] += count * per_hour * share * r.radiant_w[k];
                            sums[1] += count * per_hour * share * r.convective_w[k];
                        }
                    }
                }
                sums
            })
            .collect();
        Self { outdoor: p.weather.end_c.iter().sum(), sun, gains }
    }
}

/// Water that may be left over between rooms of a zone, of what their unit carries: that of the last step.
const ZONE_WATER_SHARE: f64 = 1e-5;

/// Balance of one room over the year: what is left over and what passed.
struct Balance {
    residual: f64,
    turnover: f64,
}

fn heat_balance(
    p: &Prepared,
    i: usize,
    t: &BlockTally,
    sums: &ChannelSums,
    before: &Start,
    after: &Start,
) -> Balance {
    let l = i % LANES;
    let facts = &p.rooms[i];
    let model = &facts.model.reduced;
    let steps = p.hours() as f64 * p.weather.steps_per_hour as f64;
    let n = model.channels.len();
    let mut u = vec![0.0; n];
    u[0] = sums.outdoor;
    u[1] = sums.gains[i][0];
    for (k, place) in facts.sun.iter().enumerate() {
        u[2 + k] = sums.sun[*place as usize];
    }
    if let Some(c) = facts.model.constant {
        u[c] = steps;
    }
    // From the tallies, not from what the lags took.
    let other = t.flows[l] - t.supply[l] - t.fan[l];
    let terms = [-t.coil[l], t.heating[l], t.supply[l], t.fan[l], other];
    u[n - 1] = sums.gains[i][1] + terms.iter().sum::<f64>();
    let mut turnover = 0.0;
    let mut residual = 0.0;
    for b in &model.boundaries {
        let q = b.over_j(
            p.step_s,
            &u,
            (&before.lags[i], &before.channels[i]),
            (&after.lags[i], &after.channels[i]),
        );
        residual += q;
        turnover += q.abs();
    }
    for (gain, sum) in model.gain_w.iter().zip(&u) {
        residual += gain * sum * p.step_s;
    }
    for term in terms.iter().chain(&sums.gains[i]) {
        turnover += term.abs() * p.step_s;
    }
    let stored = model.storage.value_j(&after.lags[i], &after.channels[i])
        - model.storage.value_j(&before.lags[i], &before.channels[i]);
    Balance { residual: residual - stored, turnover: turnover + stored.abs() }
}

#[allow(clippy::too_many_lines)]
fn finish<R: Rooms, P>(
    p: &Prepared,
    drive: &DrivePass,
    r: &Run<'_, R, P>,
    before: &Start,
    sums: &ChannelSums,
) -> SchemeYear {
    let after = state_after(p, drive, r, p.hours() - 1);
    let per_hour = p.weather.steps_per_hour;
    let step_h = 1.0 / per_hour as f64;
    let step_s = p.step_s;
    let moment = |step: usize| Moment::new(p.calendar, step, per_hour);
    let s = &r.sums;
    let mut rooms = Vec::with_capacity(p.rooms.len());
    let mut heat = Balance { residual: 0.0, turnover: 0.0 };
    let mut water = Balance { residual: 0.0, turnover: 0.0 };
    let (mut worst_heat, mut worst_water) = (0.0_f64, 0.0_f64);
    let mut at_limit = [0.0; 2];
    for (i, facts) in p.rooms.iter().enumerate() {
        let (b, l) = (i / LANES, i % LANES);
        let t = r.rooms.tally(b);
        let h = heat_balance(p, i, t, sums, before, &after);
        worst_heat = worst_heat.max(h.residual.abs() / h.turnover.max(1e6));
        heat.residual += h.residual;
        heat.turnover += h.turnover;
        let passed = (t.water_in[l] + t.water_out[l]) * step_s;
        let left = (t.water_in[l] - t.water_out[l]) * step_s - (after.water_kg[i] - before.water_kg[i]);
        worst_water = worst_water.max(left.abs() / passed.max(1.0));
        water.residual += left;
        water.turnover += passed;
        at_limit[0] += t.at_cooling_limit[l];
        at_limit[1] += t.at_heating_limit[l];
        rooms.push(room_year(p, i, facts, t, &moment, step_h, step_s));
        let _ = b;
    }
    let f = r.rooms.features();
    let hours = |steps: f64| steps * step_h;
    let feature = |feature: Feature| {
        let hours_h = match feature {
            Feature::SetBack => hours(f.set_back),
            Feature::StartUp => hours(f.start_up),
            Feature::CoilHeldShut => hours(f.held_shut),
            Feature::DemandControl => hours(f.demand_control),
            Feature::Standby => hours(f.standby),
            Feature::TransferAir => hours(f.transfer),
            Feature::Follower => hours(f.follower),
            Feature::CoolingAtCapacity => hours(at_limit[0]),
            Feature::HeatingAtCapacity => hours(at_limit[1]),
            Feature::Reheat => hours(f.reheat),
            Feature::NightDrying => hours(s.features[PlantFeature::NightDrying as usize]),
            Feature::SupplyReset => hours(s.features[PlantFeature::SupplyReset as usize]),
            Feature::ReturnReuse => hours(s.features[PlantFeature::ReturnReuse as usize]),
            Feature::HeatRecovery => hours(s.features[PlantFeature::HeatRecovery as usize]),
        };
        FeatureHours { feature, hours_h }
    };
    let scaled = |x: &[f64; 12], by: f64| x.map(|v| v * by);
    let h = &s.heat;
    let peak = |k: usize| Peak { value_w: s.peaks[k].0, at: moment(s.peaks[k].1) };
    SchemeYear {
        scheme: R::SCHEME,
        end_uses: EndUse::ALL
            .iter()
            .enumerate()
            .map(|(k, e)| EndUseYear {
                end_use: *e,
                electricity_j: scaled(&s.electricity[k], step_s),
                fuel_j: scaled(&s.fuel[k], step_s),
            })
            .collect(),
        water_kg: scaled(&s.water, step_s),
        condensate_kg: scaled(&s.condensate, step_s),
        heat: HeatYear {
            central_coil_j: scaled(&h.central_coil_j, step_s),
            central_latent_j: scaled(&h.central_latent_j, step_s),
            sensible_j: scaled(&h.sensible_j, step_s),
            waterside_free_j: scaled(&h.waterside_free_j, step_s),
            airside_free_j: scaled(&h.airside_free_j, step_s),
            heating_j: scaled(&h.heating_j, step_s),
            recovered_heat_j: scaled(&h.recovered_heat_j, step_s),
            air_recovery_cooling_j: scaled(&h.air_recovery_cooling_j, step_s),
            air_recovery_heating_j: scaled(&h.air_recovery_heating_j, step_s),
            outdoor_air_kg: scaled(&h.outdoor_air_kg, step_s),
        },
        peaks: Peaks {
            electricity: peak(0),
            fuel: peak(1),
            cooling: peak(2),
            heating: peak(3),
            electricity_by_month_w: s.by_month[0],
            cooling_by_month_w: s.by_month[1],
            heating_by_month_w: s.by_month[2],
            outdoor_air_kg_per_s: s.outdoor_peak,
        },
        free_cooling: FreeCooling {
            waterside_h: hours(s.free[0]),
            waterside_alone_h: hours(s.free[1]),
            airside_h: hours(s.free[2]),
            cooling_h: hours(s.free[3]),
        },
        hourly: s.hourly.clone(),
        electricity_by_step_w: s.by_step.clone(),
        limits: PlantLimit::ALL
            .iter()
            .zip(&s.limits)
            .map(|(limit, (steps, first))| LimitHours {
                limit: *limit,
                hours_h: hours(*steps),
                first: first.map(moment),
            })
            .collect(),
        features: Feature::ALL.iter().map(|f| feature(*f)).collect(),
        closure: vec![
            Closure {
                balance: "heat of the rooms".to_owned(),
                unit: "J".to_owned(),
                turnover: heat.turnover,
                residual: heat.residual,
                worst_share: worst_heat,
                bound_share: 1e-9,
            },
            Closure {
                balance: "water of the rooms".to_owned(),
                unit: "kg".to_owned(),
                turnover: water.turnover,
                residual: water.residual,
                worst_share: worst_water,
                bound_share: 1e-9,
            },
            Closure {
                balance: "heat of the plant".to_owned(),
                unit: "J".to_owned(),
                turnover: s.turnover_w * step_s,
                residual: s.residual_w * step_s,
                worst_share: s.worst_residual,
                bound_share: 1e-9,
            },
            Closure {
                balance: "water of the central unit".to_owned(),
                unit: "kg".to_owned(),
                turnover: s.water_turnover * step_s,
                residual: s.water_residual * step_s,
                worst_share: s.worst_water,
                bound_share: 1e-9,
            },
            Closure {
                balance: "water between rooms of a zone".to_owned(),
                unit: "kg".to_owned(),
                turnover: r.rooms.zone_water()[1] * step_s,
                residual: r.rooms.zone_water()[0] * step_s,
                worst_share: 0.0,
                bound_share: ZONE_WATER_SHARE,
            },
        ],
        rooms,
    }
}

fn room_year(
    p: &Prepared,
    i: usize,
    facts: &crate::prepare::RoomFacts,
    t: &BlockTally,
    moment: &impl Fn(usize) -> Moment,
    step_h: f64,
    step_s: f64,
) -> RoomYear {
    let l = i % LANES;
    let f = &p.blocks[i / LANES];
    let pressure = p.settings.p_pa;
    let occupied = t.occupied[l] > 0.0;
    let some = |x: f64| occupied.then_some(x);
    let exact = |r: &Record| -> (f64, Moment) {
        (r.water_c[l] - raw::dew_point_c(r.w[l], pressure), moment(r.step[l] as usize))
    };
    let hours_of = |m: &crate::tally::MarginSteps| MarginHours {
        counted_h: m.counted[l] * step_h,
        below_zero_h: m.below[0][l] * step_h,
        below_one_degf_h: m.below[1][l] * step_h,
        below_two_degf_h: m.below[2][l] * step_h,
    };
    let margin = (f.on_water[l] > 0.0 && t.smallest.step[l] >= 0.0).then(|| {
        let (smallest_k, at) = exact(&t.smallest);
        let used = (t.smallest_occupied.step[l] >= 0.0).then(|| exact(&t.smallest_occupied));
        MarginYear {
            smallest_k,
            at,
            smallest_occupied_k: used.map(|u| u.0),
            occupied_at: used.map(|u| u.1),
            all: hours_of(&t.margin),
            occupied: hours_of(&t.margin_occupied),
            held_shut_h: t.held_shut[l] * step_h,
            held_shut_occupied_h: t.held_shut_occupied[l] * step_h,
            condensation_h: t.condensing[l] * step_h,
            condensate_kg: t.condensate[l] * step_s,
        }
    });
    RoomYear {
        room: facts.room.clone(),
        zone: facts.zone.clone(),
        cooling_j: (t.coil[l] + t.cold_air[l]) * step_s,
        heating_j: t.heating[l] * step_s,
        ventilation_kg: t.ventilation[l] * step_s,
        occupied_h: t.occupied[l] * step_h,
        lowest_occupied_c: some(t.lowest_c[l]),
        highest_occupied_c: some(t.highest_c[l]),
        margin,
        humidity: HumidityYear {
            lowest_occupied_rh: some(t.rh_low[l]),
            highest_occupied_rh: some(t.rh_high[l]),
            mean_occupied_rh: some(t.rh_sum[l] / t.occupied[l]),
            highest_dew_point_c: raw::dew_point_c(t.wettest.w[l], pressure),
            highest_at: moment(t.wettest.step[l].max(0.0) as usize),
            above_code_h: t.above_code[l] * step_h,
            above_code_occupied_h: t.above_code_occupied[l] * step_h,
            above_comfort_h: t.above_comfort[l] * step_h,
            below_comfort_h: t.below_comfort[l] * step_h,
        },
        unmet: UnmetYear {
            warm_h: t.warm[l] * step_h,
            warm_k_h: t.warm_k[l] * step_h,
            cold_h: t.cold[l] * step_h,
            cold_k_h: t.cold_k[l] * step_h,
        },
    }
}
