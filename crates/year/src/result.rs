//! What a simulated year gives: per scheme its energy by use and month, its peaks, its rooms, its closure.
//!
//! All values are SI and every field carries its unit. Hours are hours of the year in which something holds, in parts
//! of an hour when the step is shorter; a step counts whole. Everything is a sum, an extreme or a count over the
//! simulated steps; nothing here is estimated. Months are `[f64; 12]`, January first.

use crate::signals::{EndUse, PlantLimit};
use drycoil_climate::Calendar;
use serde::Serialize;

/// 1 degF as a difference, K.
pub const ONE_DEGF_K: f64 = 5.0 / 9.0;

/// The scheme of a result.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Scheme {
    /// Primary air dries, dry terminals cool.
    Decoupled,
    /// Variable air volume with reheat from one air handler.
    AllAir,
}

impl Scheme {
    /// All, in the order of results.
    pub const ALL: [Self; 2] = [Self::Decoupled, Self::AllAir];

    /// The word that is written and printed.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Decoupled => "decoupled",
            Self::AllAir => "all-air",
        }
    }
}

/// A step of the year with its date.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Moment {
    /// Index of the step from the start of the year.
    pub step: usize,
    /// Month, 1 to 12.
    pub month: u8,
    /// Day of the month.
    pub day: u8,
    /// Start of the step, hours after midnight in standard time.
    pub hour_of_day_h: f64,
}

impl Moment {
    /// The moment of a step; steps past the end of the year belong to its last hour.
    ///
    /// ```
    /// use drycoil_year::result::Moment;
    /// let at = Moment::new(drycoil_climate::Calendar::Common, 4 * 24 * 31 + 6, 4);
    /// assert_eq!((at.month, at.day, at.hour_of_day_h), (2, 1, 1.5));
    /// ```
    pub fn new(calendar: Calendar, step: usize, steps_per_hour: usize) -> Self {
        let hour = (step / steps_per_hour).min(calendar.hours() - 1);
        let part = (step % steps_per_hour) as f64 / steps_per_hour as f64;
        let (month, day, of_day) = calendar.stamp(hour).map_or((12, 31, 23), |s| (s.month, s.day, s.hour));
        Self { step, month, day, hour_of_day_h: f64::from(of_day) + part }
    }
}

/// The simulated year.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Year {
    /// Length of a step, s.
    pub step_s: f64,
    /// Steps simulated after the warm-up.
    pub steps: usize,
    /// Hours of the weather year, 8760 or 8784.
    pub hours: usize,
    /// Days simulated before the year until the states came back to themselves.
    pub warm_up_days: usize,
    /// Largest change of a room's air temperature from one repetition of the warm-up to the next at its end, K.
    pub warm_up_residual_k: f64,
    /// Rooms with their own reduced model.
    pub distinct_models: usize,
    /// Largest bound on the error of the peak air temperature among the reduced rooms, K.
    pub reduction_bound_k: f64,
    /// The schemes that were simulated, in the order of [`Scheme::ALL`].
    pub schemes: Vec<SchemeYear>,
}

impl Year {
    /// The result of a scheme; none when it was not simulated.
    pub fn scheme(&self, scheme: Scheme) -> Option<&SchemeYear> {
        self.schemes.iter().find(|s| s.scheme == scheme)
    }
}

/// One scheme.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SchemeYear {
    /// Which.
    pub scheme: Scheme,
    /// Energy bought, one entry for each of [`EndUse::ALL`] in its order.
    pub end_uses: Vec<EndUseYear>,
    /// Water from the main: tower make-up and humidifiers, kg by month.
    pub water_kg: [f64; 12],
    /// Condensate of the central coil, kg by month.
    pub condensate_kg: [f64; 12],
    /// Heat that machines moved.
    pub heat: HeatYear,
    /// Largest values.
    pub peaks: Peaks,
    /// Hours of free cooling.
    pub free_cooling: FreeCooling,
    /// Hourly means of the building.
    pub hourly: HourlyYear,
    /// Electricity of the scheme in every step, W: bills average demand over less than an hour.
    #[serde(skip)]
    pub electricity_by_step_w: Vec<f64>,
    /// Limits that were reached, one entry for each of [`PlantLimit::ALL`] in its order.
    pub limits: Vec<LimitHours>,
    /// How often each feature was at work; proves that a run exercised it.
    pub features: Vec<FeatureHours>,
    /// What is left over in every balance.
    pub closure: Vec<Closure>,
    /// Rooms in the order of the room list.
    pub rooms: Vec<RoomYear>,
}

impl SchemeYear {
    /// Electricity of the year, J.
    pub fn electricity_j(&self) -> f64 {
        self.end_uses.iter().map(|e| e.electricity_j.iter().sum::<f64>()).sum()
    }

    /// Fuel of the year, J.
    pub fn fuel_j(&self) -> f64 {
        self.end_uses.iter().map(|e| e.fuel_j.iter().sum::<f64>()).sum()
    }

    /// Electricity and fuel of the year at the site, J.
    pub fn site_energy_j(&self) -> f64 {
        self.electricity_j() + self.fuel_j()
    }

    /// Water of the year, kg.
    pub fn water_kg(&self) -> f64 {
        self.water_kg.iter().sum()
    }

    /// Rooms with a dew-point margin, the smallest first; equal margins in the order of the room list.
    pub fn rooms_by_margin(&self) -> Vec<&RoomYear> {
        let mut rooms: Vec<&RoomYear> = self.rooms.iter().filter(|r| r.margin.is_some()).collect();
        let of = |r: &RoomYear| r.margin.as_ref().map_or(f64::INFINITY, |m| m.smallest_k);
        rooms.sort_by(|a, b| of(a).total_cmp(&of(b)));
        rooms
    }
}

/// Energy bought for one end use.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct EndUseYear {
    /// Which.
    pub end_use: EndUse,
    /// Electricity by month, J.
    pub electricity_j: [f64; 12],
    /// Fuel by month, J.
    pub fuel_j: [f64; 12],
}

/// Heat moved by the machines, J by month.
#[derive(Debug, Clone, PartialEq, Serialize, Default)]
pub struct HeatYear {
    /// Drying coil or air handler's coil, total.
    pub central_coil_j: [f64; 12],
    /// Its latent part.
    pub central_latent_j: [f64; 12],
    /// Terminals and sensible units.
    pub sensible_j: [f64; 12],
    /// Carried by the waterside economizer, of the two above.
    pub waterside_free_j: [f64; 12],
    /// Cooling given by outdoor air beyond the ventilation minimum.
    pub airside_free_j: [f64; 12],
    /// Heat delivered by the heating plant.
    pub heating_j: [f64; 12],
    /// Of it, from condensers.
    pub recovered_heat_j: [f64; 12],
    /// Enthalpy that the recovery took from incoming outdoor air, positive values only.
    pub air_recovery_cooling_j: [f64; 12],
    /// Enthalpy that the recovery gave to incoming outdoor air, as a positive number.
    pub air_recovery_heating_j: [f64; 12],
    /// Outdoor air, kg of dry air.
    pub outdoor_air_kg: [f64; 12],
}

/// The largest mean over a step, and when it came first.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Peak {
    /// Value, W.
    pub value_w: f64,
    /// When.
    pub at: Moment,
}

/// Largest values of the year and of its months.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Peaks {
    /// Electricity of the scheme.
    pub electricity: Peak,
    /// Fuel.
    pub fuel: Peak,
    /// Heat at the central coil, terminals and sensible units together.
    pub cooling: Peak,
    /// Heat delivered by the heating plant.
    pub heating: Peak,
    /// Electricity, by month.
    pub electricity_by_month_w: [f64; 12],
    /// Cooling, by month.
    pub cooling_by_month_w: [f64; 12],
    /// Heating, by month.
    pub heating_by_month_w: [f64; 12],
    /// Outdoor air of the central unit, kg/s of dry air.
    pub outdoor_air_kg_per_s: f64,
}

/// Free cooling as it happened in the simulation.
#[derive(Debug, Clone, PartialEq, Serialize, Default)]
pub struct FreeCooling {
    /// Hours in which the waterside economizer carried something.
    pub waterside_h: f64,
    /// Of them, hours in which it carried all cold-water heat.
    pub waterside_alone_h: f64,
    /// Hours in which outdoor air beyond the ventilation minimum cooled.
    pub airside_h: f64,
    /// Hours with a load on any cold water.
    pub cooling_h: f64,
}

/// Means over each hour of the weather year, in order. Every array has [`Year::hours`] values.
#[derive(Debug, Clone, PartialEq, Serialize, Default)]
pub struct HourlyYear {
    /// Electricity of the scheme, W.
    pub electricity_w: Vec<f64>,
    /// Fuel, W.
    pub fuel_w: Vec<f64>,
    /// Water from the main, kg/s.
    pub water_kg_per_s: Vec<f64>,
    /// Heat at the central coil, terminals and sensible units together, W.
    pub cooling_w: Vec<f64>,
    /// Heat delivered by the heating plant, W.
    pub heating_w: Vec<f64>,
    /// Smallest dew-point margin among the rooms in any step of the hour, K; null while no coil holds or may take cold
    /// water, and in a scheme without coils in rooms.
    pub smallest_margin_k: Vec<Option<f64>>,
    /// Highest humidity ratio among occupied rooms in any step of the hour, kg/kg; null while no room is occupied.
    pub wettest_room_kg_per_kg: Vec<Option<f64>>,
}

/// Hours at a limit of the plant.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LimitHours {
    /// Which limit.
    pub limit: PlantLimit,
    /// Hours at it.
    pub hours_h: f64,
    /// First time; null when it was never reached.
    pub first: Option<Moment>,
}

/// A feature whose use is counted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Feature {
    /// Rooms on night set-back (room-hours).
    SetBack,
    /// Rooms brought to their occupied state before use (room-hours).
    StartUp,
    /// Coils held shut at start-up until the room is dry (room-hours).
    CoilHeldShut,
    /// Rooms with their air flow reduced by demand control (room-hours).
    DemandControl,
    /// Occupied rooms without people on standby (room-hours).
    Standby,
    /// Rooms that take transfer air (room-hours).
    TransferAir,
    /// Rooms that follow the thermostat of another room of their zone (room-hours).
    Follower,
    /// Rooms whose cooling was at its capacity (room-hours).
    CoolingAtCapacity,
    /// Rooms whose heating was at its capacity (room-hours).
    HeatingAtCapacity,
    /// Primary air recirculated at night to hold the night dew-point limit (hours).
    NightDrying,
    /// Supply state away from its design value by a reset (hours).
    SupplyReset,
    /// Return water reused (hours).
    ReturnReuse,
    /// Heat recovered from condensers (hours).
    HeatRecovery,
    /// Reheat of cold supply air in rooms (room-hours).
    Reheat,
}

impl Feature {
    /// All, in the order of results.
    pub const ALL: [Self; 14] = [
        Self::SetBack,
        Self::StartUp,
        Self::CoilHeldShut,
        Self::DemandControl,
        Self::Standby,
        Self::TransferAir,
        Self::Follower,
        Self::CoolingAtCapacity,
        Self::HeatingAtCapacity,
        Self::NightDrying,
        Self::SupplyReset,
        Self::ReturnReuse,
        Self::HeatRecovery,
        Self::Reheat,
    ];
}

/// How long a feature was at work.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct FeatureHours {
    /// Which.
    pub feature: Feature,
    /// Hours, or room-hours as the feature says.
    pub hours_h: f64,
}

/// A balance of the year and what is left over in it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Closure {
    /// What is balanced, such as `heat of the rooms` or `water of the central unit`.
    pub balance: String,
    /// Unit of the sums, `J` or `kg`.
    pub unit: String,
    /// Sum of everything that enters, each term with its own sign kept positive: the scale of the balance.
    pub turnover: f64,
    /// What is left over, over the year.
    pub residual: f64,
    /// Largest residual of a single room or step, as a share of its own turnover.
    pub worst_share: f64,
    /// Highest allowed share of the residual in the turnover.
    pub bound_share: f64,
}

impl Closure {
    /// Residual as a share of the turnover; 0 when nothing passed.
    pub fn share(&self) -> f64 {
        if self.turnover > 0.0 { (self.residual / self.turnover).abs() } else { self.residual.abs() }
    }

    /// Whether it closes within its bound.
    pub fn closes(&self) -> bool {
        self.share() <= self.bound_share
    }
}

/// One room in one scheme.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct RoomYear {
    /// Room.
    pub room: String,
    /// Zone; the room itself when it has none.
    pub zone: String,
    /// Sensible heat taken from the room by coils and cold air together, J.
    pub cooling_j: f64,
    /// Heat given to the room by heating or reheat, J.
    pub heating_j: f64,
    /// Outdoor air by ventilation, kg of dry air: primary air, or the room's share of outdoor air in its supply.
    pub ventilation_kg: f64,
    /// Hours in which the room is occupied.
    pub occupied_h: f64,
    /// Lowest air temperature while occupied, degC; null for a room that is never occupied.
    pub lowest_occupied_c: Option<f64>,
    /// Highest air temperature while occupied, degC; null for a room that is never occupied.
    pub highest_occupied_c: Option<f64>,
    /// Dew-point margin; null in a room without a coil.
    pub margin: Option<MarginYear>,
    /// Humidity.
    pub humidity: HumidityYear,
    /// Time away from the set points.
    pub unmet: UnmetYear,
}

/// Hours with a small margin.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Default)]
pub struct MarginHours {
    /// Hours in which the margin counts: water colder than the room is in, or free to enter, the coil.
    pub counted_h: f64,
    /// Of them, with a margin below 0 K: condensation is possible.
    pub below_zero_h: f64,
    /// Below 1 degF (0.556 K).
    pub below_one_degf_h: f64,
    /// Below 2 degF (1.111 K).
    pub below_two_degf_h: f64,
}

/// The dew-point margin of a room's coil: water that enters minus dew point of the air that meets the coil.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct MarginYear {
    /// Smallest of all counted hours, K.
    pub smallest_k: f64,
    /// When it came first.
    pub at: Moment,
    /// Smallest while the room is occupied, K; null when the margin never counts then.
    pub smallest_occupied_k: Option<f64>,
    /// When that came first.
    pub occupied_at: Option<Moment>,
    /// All counted hours.
    pub all: MarginHours,
    /// Those in which the room is occupied.
    pub occupied: MarginHours,
    /// Hours in which the coil was held shut because of humidity, or the water of the room's own unit raised.
    pub held_shut_h: f64,
    /// Those of them in which the room is occupied.
    pub held_shut_occupied_h: f64,
    /// Hours in which water condensed on an open coil.
    pub condensation_h: f64,
    /// Water condensed, kg.
    pub condensate_kg: f64,
}

/// Humidity of a room.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct HumidityYear {
    /// Lowest relative humidity while occupied, 0 to 1; null for a room that is never occupied.
    pub lowest_occupied_rh: Option<f64>,
    /// Highest relative humidity while occupied, 0 to 1; null for a room that is never occupied.
    pub highest_occupied_rh: Option<f64>,
    /// Mean relative humidity while occupied, 0 to 1; null for a room that is never occupied.
    pub mean_occupied_rh: Option<f64>,
    /// Highest dew point of all hours, degC.
    pub highest_dew_point_c: f64,
    /// When.
    pub highest_at: Moment,
    /// Hours above the dew point that the code allows, all hours.
    pub above_code_h: f64,
    /// The same while occupied.
    pub above_code_occupied_h: f64,
    /// Occupied hours above the highest relative humidity of comfort.
    pub above_comfort_h: f64,
    /// Occupied hours below the lowest relative humidity of comfort.
    pub below_comfort_h: f64,
}

/// Time in which a room is away from its set points by more than the tolerance, while occupied.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Default)]
pub struct UnmetYear {
    /// Hours above the cooling set point plus tolerance.
    pub warm_h: f64,
    /// Sum over those hours of the distance from the cooling set point, K h.
    pub warm_k_h: f64,
    /// Hours below the heating set point minus tolerance.
    pub cold_h: f64,
    /// Sum over those hours of the distance from the heating set point, K h.
    pub cold_k_h: f64,
}

/// Tolerance about a set point before an hour counts as unmet, K: 1 degF. Common practice, no source.
pub const UNMET_TOLERANCE_K: f64 = ONE_DEGF_K;

/// One hour of a watched room: means over the hour, except the margin, which is the smallest.
///
/// `simulate` hands these to its observer for the rooms that it asks for, scheme by scheme and hour by hour in order.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct RoomHour {
    /// Position in the room list.
    pub room: usize,
    /// Whether the room is occupied.
    pub occupied: f64,
    /// Air temperature, degC.
    pub air_c: f64,
    /// Humidity ratio, kg/kg.
    pub w_kg_per_kg: f64,
    /// Smallest dew-point margin of the hour, K; none while it does not count.
    pub margin_k: Option<f64>,
    /// Primary air (decoupled) or supply air (all-air), kg/s of dry air.
    pub supply_kg_per_s: f64,
    /// Its temperature as it enters the room's unit, degC.
    pub supply_c: f64,
    /// Heat taken from the room's unit by cold water, W; 0 without a coil.
    pub coil_w: f64,
    /// Heating or reheat in the room's unit, W.
    pub heating_w: f64,
    /// Gains of people, light, plugs and process, sensible, W.
    pub gains_w: f64,
    /// Moisture condensed on the coil, kg/s.
    pub condensate_kg_per_s: f64,
    /// Least and greatest heat to the room air by flows of air, heating and cooling in any step of the hour, W.
    pub heat_w: Option<[f64; 2]>,
}

/// One hour of the plant of a scheme: means.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct PlantHour {
    /// Outdoor dry bulb, degC.
    pub outdoor_c: f64,
    /// Outdoor humidity ratio, kg/kg.
    pub outdoor_w_kg_per_kg: f64,
    /// Primary or supply air, degC.
    pub supply_c: f64,
    /// Its humidity ratio, kg/kg.
    pub supply_w_kg_per_kg: f64,
    /// Its flow, kg/s of dry air.
    pub supply_kg_per_s: f64,
    /// Outdoor air, kg/s of dry air.
    pub outdoor_kg_per_s: f64,
    /// Cold water to the terminals, degC; none in the all-air scheme.
    pub water_c: Option<f64>,
    /// Central coil, total, W.
    pub central_coil_w: f64,
    /// Terminals and sensible units, W.
    pub sensible_w: f64,
    /// Carried by the waterside economizer, W.
    pub waterside_free_w: f64,
    /// Heating plant, W.
    pub heating_w: f64,
    /// Electricity, W.
    pub electricity_w: f64,
    /// Fuel, W.
    pub fuel_w: f64,
}

/// Empty end uses in the order of results.
pub fn no_energy() -> Vec<EndUseYear> {
    EndUse::ALL
        .iter()
        .map(|e| EndUseYear { end_use: *e, electricity_j: [0.0; 12], fuel_j: [0.0; 12] })
        .collect()
}

/// Limits never reached, in the order of results.
pub fn no_limits() -> Vec<LimitHours> {
    PlantLimit::ALL.iter().map(|l| LimitHours { limit: *l, hours_h: 0.0, first: None }).collect()
}
