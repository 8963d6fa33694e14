//! What sizing returns. Fields carry their SI unit in their name; every struct keeps the intermediates from which
//! calculation lines are made.

use drycoil_findings::Finding;
use serde::Serialize;

/// Facts of the site that every stage uses.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SiteFacts {
    /// Name of the place.
    pub place: String,
    /// Latitude, north positive.
    pub latitude_deg: f64,
    /// Longitude, east positive.
    pub longitude_deg: f64,
    /// Elevation.
    pub elevation_m: f64,
    /// Design pressure.
    pub pressure_pa: f64,
    /// Actual volume of one standard volume: standard pressure over site pressure, at equal temperature.
    pub actual_per_standard: f64,
}

/// One design condition with the way it was found.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Condition {
    /// Main value of the condition.
    pub value_c: f64,
    /// Dry bulb of the state.
    pub dry_bulb_c: f64,
    /// Humidity ratio of the state.
    pub humidity_ratio_kg_per_kg: f64,
    /// `entered`, or how it was derived.
    pub method: String,
}

/// The design conditions used.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Conditions {
    /// Annual 0.4 % dry bulb with mean coincident wet bulb.
    pub cooling: Condition,
    /// Annual 0.4 % dew point with mean coincident dry bulb.
    pub dehumidification: Condition,
    /// Annual 0.4 % wet bulb with mean coincident dry bulb.
    pub tower: Condition,
    /// Annual 99.6 % dry bulb.
    pub heating: Condition,
}

/// Sources of the sensible load of a room.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize)]
pub struct LoadParts {
    /// People, sensible.
    pub people_w: f64,
    /// Lighting.
    pub lighting_w: f64,
    /// Plug loads.
    pub plugs_w: f64,
    /// Processes, sensible.
    pub process_w: f64,
    /// Sun through glass.
    pub solar_w: f64,
    /// Conduction through glass.
    pub glass_w: f64,
    /// Walls.
    pub walls_w: f64,
    /// Roof.
    pub roof_w: f64,
    /// Floors and partitions.
    pub floors_w: f64,
    /// Infiltration, sensible.
    pub infiltration_w: f64,
    /// Heat stored before and released now, by set-back and start-up.
    pub storage_w: f64,
}

impl LoadParts {
    /// Sum of the parts.
    pub fn total_w(&self) -> f64 {
        self.people_w
            + self.lighting_w
            + self.plugs_w
            + self.process_w
            + self.solar_w
            + self.glass_w
            + self.walls_w
            + self.roof_w
            + self.floors_w
            + self.infiltration_w
            + self.storage_w
    }

    /// Part by part sum.
    #[must_use]
    pub fn plus(&self, o: &Self) -> Self {
        Self {
            people_w: self.people_w + o.people_w,
            lighting_w: self.lighting_w + o.lighting_w,
            plugs_w: self.plugs_w + o.plugs_w,
            process_w: self.process_w + o.process_w,
            solar_w: self.solar_w + o.solar_w,
            glass_w: self.glass_w + o.glass_w,
            walls_w: self.walls_w + o.walls_w,
            roof_w: self.roof_w + o.roof_w,
            floors_w: self.floors_w + o.floors_w,
            infiltration_w: self.infiltration_w + o.infiltration_w,
            storage_w: self.storage_w + o.storage_w,
        }
    }
}

/// Peak of a load with its time and sources.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LoadPeak {
    /// Load; cooling and heating both positive.
    pub load_w: f64,
    /// Design day, in words.
    pub day: String,
    /// Index into [`Loads::days`].
    pub day_index: usize,
    /// Hour of the design day, 0 for the hour that begins at midnight.
    pub hour: usize,
    /// Sources; they add to the load (negated for heating).
    pub parts: LoadParts,
}

/// Loads of one room.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct RoomLoads {
    /// Room id.
    pub room: String,
    /// Peak sensible cooling load of room and plenum at the room set point.
    pub cooling: LoadPeak,
    /// Peak heating load.
    pub heating: LoadPeak,
    /// Latent gain of people and processes at full use.
    pub latent_w: f64,
    /// Infiltration at design, standard flow, after pressurization.
    pub infiltration_m3_per_s: f64,
    /// Sensible cooling load by design day and hour; `[day][hour]`, heating negative.
    #[serde(skip)]
    pub sensible_w: Vec<[f64; 24]>,
    /// Latent gain by hour of a weekday.
    #[serde(skip)]
    pub latent_by_hour_w: [f64; 24],
    /// Heat of lighting and roof that goes to the plenum instead of the room, at the cooling peak.
    pub plenum_w: f64,
    /// Room air temperature in occupied hours.
    pub set_point_c: f64,
    /// Heating set point.
    pub heating_set_point_c: f64,
    /// Steady heat loss coefficient of the envelope.
    pub envelope_w_per_k: f64,
    /// Sun admitted per irradiance on a horizontal surface, by facing (N, E, S, W, horizontal): effective m2.
    pub solar_aperture_m2: [f64; 5],
}

/// Coincident loads of a group of rooms.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct GroupLoads {
    /// Floor name, or `building`.
    pub group: String,
    /// Coincident cooling peak.
    pub cooling: LoadPeak,
    /// Sum of the room peaks.
    pub cooling_sum_of_peaks_w: f64,
    /// Coincident heating peak.
    pub heating: LoadPeak,
    /// Latent gain at the hour of the highest total latent gain, with diversity.
    pub latent_w: f64,
}

/// All loads.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Loads {
    /// Names of the design days, in order.
    pub days: Vec<String>,
    /// Rooms in project order.
    pub rooms: Vec<RoomLoads>,
    /// Floors in order of first appearance.
    pub floors: Vec<GroupLoads>,
    /// Whole building.
    pub building: GroupLoads,
}

/// How a room is served.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Service {
    /// Terminal with dry coil and primary air.
    Terminal,
    /// Transfer air only.
    Transfer,
    /// Primary air only, no recirculation in the room.
    PrimaryOnly,
    /// Conventional cooling with a wet coil or its own unit, off the system.
    OffSystem,
    /// Own cooling units on the sensible loop (dense server rooms).
    SensibleUnits,
}

/// A screen that applied to a room.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct ScreenResult {
    /// Reason.
    pub reason: String,
    /// What to do instead.
    pub instead: String,
    /// Reason why the project overrules it.
    pub overruled: Option<String>,
}

/// What decides the primary air of a room.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Need {
    /// Ventilation rate procedure.
    Ventilation,
    /// Flow per person chosen for the system.
    PerPerson,
    /// Latent gain of people, processes and infiltration.
    Latent,
    /// Exhaust of the room that must be made up.
    Exhaust,
    /// Share of the pressurization flow.
    Pressurization,
    /// Outdoor air changes by code.
    AirChanges,
    /// Share of a zone whose other rooms need more.
    ZoneShare,
    /// Least controllable flow of the terminal.
    TerminalMinimum,
    /// Nothing: the room gets transfer air or is off the system.
    None,
}

impl Need {
    /// The word that is printed.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Ventilation => "ventilation",
            Self::PerPerson => "flow per person",
            Self::Latent => "latent gain",
            Self::Exhaust => "exhaust",
            Self::Pressurization => "pressurization",
            Self::AirChanges => "air changes",
            Self::ZoneShare => "zone share",
            Self::TerminalMinimum => "terminal minimum",
            Self::None => "-",
        }
    }
}

/// Primary-air needs of one room, standard flow.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct RoomNeeds {
    /// Room id.
    pub room: String,
    /// How it is served.
    pub service: Service,
    /// Screens that applied.
    pub screens: Vec<ScreenResult>,
    /// Breathing-zone outdoor air, before air-distribution effectiveness.
    pub breathing_zone_m3_per_s: f64,
    /// Air-distribution effectiveness in cooling and in heating.
    pub effectiveness: [f64; 2],
    /// Ventilation rate procedure: the larger of cooling and heating.
    pub ventilation_m3_per_s: f64,
    /// Flow per person times people.
    pub per_person_m3_per_s: f64,
    /// Exhaust and its make-up, after transfer air.
    pub exhaust_m3_per_s: f64,
    /// Share of the pressurization flow.
    pub pressurization_m3_per_s: f64,
    /// Outdoor air changes.
    pub air_changes_m3_per_s: f64,
    /// Largest of the needs that do not depend on the supply dew point.
    pub fixed_m3_per_s: f64,
    /// The need that sets `fixed_m3_per_s`.
    pub fixed_need: Need,
    /// Moisture that primary air must carry away at full use: people and processes, kg/s.
    pub latent_kg_per_s: f64,
    /// Infiltration as dry-air mass flow.
    pub infiltration_kg_per_s: f64,
    /// Humidity ratio of the infiltrating air at the hour that governs.
    pub infiltration_humidity_ratio: f64,
    /// Total air changes required of the terminal's discharge; 0 without.
    pub total_air_changes_m3_per_s: f64,
    /// Supply dew point that the room would need at its fixed flow, `None` when no supply can do it (or none is needed).
    pub required_dew_point_c: Option<f64>,
    /// Latent need at the supply dew point chosen.
    pub latent_need_m3_per_s: f64,
    /// Primary air at the supply dew point chosen.
    pub primary_m3_per_s: f64,
    /// What decides it.
    pub governing: Need,
    /// Humidity ratio of the room at design with this primary air.
    pub humidity_ratio_kg_per_kg: f64,
    /// Dew point of the room at design.
    pub dew_point_c: f64,
    /// Limit of the dew point of this room.
    pub dew_point_limit_c: f64,
    /// Highest dew point over every occupied design hour (all design days, with the primary air constant).
    pub worst_dew_point_c: f64,
    /// Design day and hour of the highest dew point.
    pub worst_when: String,
    /// Transfer air in, and from where.
    pub transfer_in_m3_per_s: f64,
    /// Room that the transfer air comes from.
    pub transfer_from: Option<String>,
    /// Humidity ratio of the transfer air while the room that it comes from stands at its limit; 0 without transfer air.
    pub transfer_limit_humidity_ratio_kg_per_kg: f64,
    /// How the hour of the design humidity ratio was found: moisture of people and processes, outdoor air.
    pub design_hour: MoistureHour,
    /// The hour of the highest dew point; `None` in a room that is never occupied or gets no air.
    pub worst_hour: Option<MoistureHour>,
    /// Share of the zone's discharge that the room gets.
    pub zone_share: f64,
    /// Primary air to which the least that the zone's terminal controls raises the zone; 0 where it raises nothing.
    pub zone_minimum_m3_per_s: f64,
}

/// The moisture that enters a room in one hour.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct MoistureHour {
    /// Design day and hour, in words.
    pub when: String,
    /// Hour of the day, 0 for the hour that begins at midnight.
    pub hour: usize,
    /// Moisture of people and processes.
    pub gain_kg_per_s: f64,
    /// Humidity ratio outdoors.
    pub outdoor_humidity_ratio_kg_per_kg: f64,
    /// Humidity ratio of the transfer air; 0 without.
    pub transfer_humidity_ratio_kg_per_kg: f64,
    /// Humidity ratio of the room.
    pub humidity_ratio_kg_per_kg: f64,
}

/// Yearly use of one candidate, from the weather year by bins.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize)]
pub struct YearlyUse {
    /// Electricity for drying: chiller share of the drying coil.
    pub drying_j: f64,
    /// Electricity for sensible cooling water.
    pub sensible_j: f64,
    /// Primary-air fans.
    pub primary_fan_j: f64,
    /// Terminal fans.
    pub terminal_fan_j: f64,
    /// Pumps.
    pub pump_j: f64,
    /// Tower fans.
    pub tower_j: f64,
    /// Heat: reheat against overcooling, winter heating of primary air.
    pub heat_j: f64,
    /// Cooling at the drying coil, thermal.
    pub drying_thermal_j: f64,
    /// Cooling by the terminals, thermal.
    pub sensible_thermal_j: f64,
    /// Reheat that cold primary air forces on lightly loaded rooms, thermal.
    pub overcooling_j: f64,
    /// Peak of the drying coil.
    pub drying_peak_w: f64,
    /// Peak of the sensible loop.
    pub sensible_peak_w: f64,
    /// Share of sensible thermal energy met by the waterside economizer.
    pub economizer_share: f64,
}

impl YearlyUse {
    /// Electricity, J.
    pub fn electricity_j(&self) -> f64 {
        self.drying_j
            + self.sensible_j
            + self.primary_fan_j
            + self.terminal_fan_j
            + self.pump_j
            + self.tower_j
    }

    /// Site energy, J: electricity plus heat at the boiler's efficiency.
    pub fn site_energy_j(&self, boiler_efficiency: f64) -> f64 {
        self.electricity_j() + self.heat_j / boiler_efficiency
    }
}

/// One point of the trade-off.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct TradeOffPoint {
    /// Delivered dew point of the primary air.
    pub supply_dew_point_c: f64,
    /// Room dew-point limit.
    pub room_limit_c: f64,
    /// Sensible water temperature.
    pub sensible_water_c: f64,
    /// Total primary air, standard flow.
    pub primary_m3_per_s: f64,
    /// Drying load at the dehumidification design hour.
    pub drying_load_w: f64,
    /// Fan power of the primary-air unit.
    pub fan_power_w: f64,
    /// Terminal units, as selection would choose them.
    pub terminal_units: u32,
    /// Supplementary primary-air boxes, as selection would choose them.
    pub supplementary_boxes: u32,
    /// Zones that no terminal of the catalogue serves with this water.
    pub unserved_zones: usize,
    /// Yearly use.
    pub year: YearlyUse,
    /// Objective: yearly cost in the currency, or site energy in J where nothing is priced.
    pub objective: f64,
}

/// A room in the order in which rooms force the supply dew point.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct GoverningRoom {
    /// Room id.
    pub room: String,
    /// Supply dew point that it needs at its fixed flow.
    pub required_dew_point_c: Option<f64>,
    /// Its latent flow at the chosen supply dew point, over its fixed flow.
    pub extra_flow_m3_per_s: f64,
    /// Objective saved a year when this room (and those before it in the list) is served separately.
    pub saving_if_separate: f64,
    /// Optimal supply dew point when it is served separately.
    pub supply_dew_point_if_separate_c: f64,
    /// Ways of serving it separately.
    pub ways: Vec<String>,
}

/// A pinned value and what it costs.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PinPrice {
    /// Which value is pinned.
    pub what: String,
    /// The pinned value.
    pub pinned_c: f64,
    /// The value that would be chosen without this pin.
    pub free_c: f64,
    /// Objective of the best design without this pin, the other pins kept.
    pub free_objective: f64,
    /// Objective with the pin minus objective without it; never negative beyond the solver's tolerance.
    pub price: f64,
}

/// The heart of sizing: supply dew point, room limit, water temperature.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct DewPointDecision {
    /// Delivered dew point of the primary air.
    pub supply_dew_point_c: f64,
    /// Humidity ratio of the delivered primary air.
    pub supply_humidity_ratio_kg_per_kg: f64,
    /// Room dew-point limit.
    pub room_limit_c: f64,
    /// Sensible water temperature.
    pub sensible_water_c: f64,
    /// `yearly cost` or `site energy`.
    pub objective_name: String,
    /// Unit of the objective.
    pub objective_unit: String,
    /// Chosen point.
    pub chosen: TradeOffPoint,
    /// Trade-off over the supply dew point, at the chosen limit and water.
    pub curve: Vec<TradeOffPoint>,
    /// Best point for each room limit tried.
    pub by_room_limit: Vec<TradeOffPoint>,
    /// Rooms in the order in which they force the choice.
    pub governing: Vec<GoverningRoom>,
    /// Prices of the pins.
    pub pins: Vec<PinPrice>,
    /// Candidates evaluated.
    pub evaluations: usize,
    /// Constraints that bind at the chosen point, in words.
    pub binding: Vec<String>,
    /// The method, in words: bins, part-load models, what is left out.
    pub method: String,
}

/// Why a smaller unit was not taken.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Rejection {
    /// Model.
    pub model: String,
    /// Reason, with numbers.
    pub reason: String,
}

/// A terminal unit of a zone, at design.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct TerminalDesign {
    /// Zone.
    pub zone: String,
    /// Rooms of the zone, the one with the thermostat first.
    pub rooms: Vec<String>,
    /// Model.
    pub model: String,
    /// How many units of this model serve the zone.
    pub units: u32,
    /// Supplementary primary-air box beside the terminal, standard flow; 0 without.
    pub supplementary_m3_per_s: f64,
    /// Why each smaller unit failed.
    pub rejected: Vec<Rejection>,
    /// Primary air of one unit.
    pub primary_m3_per_s: f64,
    /// Least primary air of one unit.
    pub primary_min_m3_per_s: f64,
    /// Pressure needed at the primary inlet.
    pub inlet_pressure_pa: f64,
    /// Fan air of one unit at the cooling design.
    pub fan_m3_per_s: f64,
    /// Fan air of one unit at the heating design.
    pub fan_heating_m3_per_s: f64,
    /// Air through the coil.
    pub coil_air_m3_per_s: f64,
    /// Fan power of one unit at the cooling design.
    pub fan_power_w: f64,
    /// Fan power of one unit at half the fan air, by the same curve.
    pub fan_power_half_w: f64,
    /// Zone sensible load at the room set point for one unit.
    pub sensible_load_w: f64,
    /// Cooling that the primary air of one unit brings.
    pub primary_cooling_w: f64,
    /// Heat of the fan.
    pub fan_heat_w: f64,
    /// Plenum heat that the coil takes.
    pub plenum_w: f64,
    /// Coil duty at design.
    pub coil_duty_w: f64,
    /// Coil duty with its valve open at the fan air of the design point, not at the most fan air.
    pub coil_capacity_w: f64,
    /// Coil duty with valve and fan open: the most that the coil can do with this water.
    pub coil_capacity_full_fan_w: f64,
    /// Air entering the coil.
    pub coil_air_entering_c: f64,
    /// Air leaving the coil.
    pub coil_air_leaving_c: f64,
    /// Water entering.
    pub water_entering_c: f64,
    /// Water leaving.
    pub water_leaving_c: f64,
    /// Water flow of one unit.
    pub water_m3_per_s: f64,
    /// Water velocity in the tubes.
    pub water_velocity_m_per_s: f64,
    /// Whether the water is laminar in the tubes at half load.
    pub laminar_at_half_load: bool,
    /// Face velocity.
    pub face_velocity_m_per_s: f64,
    /// Water pressure drop of the coil.
    pub water_drop_pa: f64,
    /// Valve coefficient, m3/h at 1 bar.
    pub valve_kv_m3_per_h: f64,
    /// Valve authority.
    pub valve_authority: f64,
    /// Discharge temperature in cooling.
    pub discharge_c: f64,
    /// Discharge temperature in heating.
    pub discharge_heating_c: f64,
    /// Heating load of the zone for one unit, primary air included.
    pub heating_load_w: f64,
    /// Heating coil duty available.
    pub heating_capacity_w: f64,
    /// Hot-water flow of one unit; 0 for electric.
    pub heating_water_m3_per_s: f64,
    /// Sound at design fan air, NC; `None` without data.
    pub sound_nc: Option<f64>,
    /// Dew point of the air that meets the coil, worst occupied design hour.
    pub coil_air_dew_point_c: f64,
    /// Where the coil air comes from: room id or plenum.
    pub coil_air_from: String,
    /// Entering water minus dew point of the coil air: the true margin, which governs.
    pub water_margin_k: f64,
    /// Coldest fin surface minus dew point of the coil air, at design.
    pub surface_margin_k: f64,
    /// Margin that should be kept.
    pub required_margin_k: f64,
    /// Margins at part load: quarter, half, three quarters, full.
    pub part_load: Vec<TerminalPartLoad>,
    /// Pipe size of the runout, in words.
    pub runout: String,
    /// Largest residual of the fitted coil against its rating points, share of duty.
    pub coil_fit_residual: f64,
    /// Constant-speed fan power for comparison.
    pub constant_speed_power_w: f64,
    /// What the numbers above were made of.
    pub steps: TerminalSteps,
}

/// Intermediates of a terminal at design, one unit.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct TerminalSteps {
    /// Sensible load of the zone, all units.
    pub zone_sensible_w: f64,
    /// Plenum heat of the zone, all units.
    pub zone_plenum_w: f64,
    /// Heating load of the zone, all units.
    pub zone_heating_w: f64,
    /// Primary air of the zone, all units.
    pub zone_primary_m3_per_s: f64,
    /// Humidity ratio of the room air.
    pub room_humidity_ratio_kg_per_kg: f64,
    /// Humidity ratio of the air that meets the coil at design.
    pub coil_air_humidity_ratio_kg_per_kg: f64,
    /// Volume of that air.
    pub coil_air_volume_m3_per_kg: f64,
    /// Humidity ratio of the discharge.
    pub discharge_humidity_ratio_kg_per_kg: f64,
    /// Dry air discharged.
    pub discharge_kg_per_s: f64,
    /// Cooling given to the room.
    pub room_cooling_w: f64,
    /// Heat of the heating coil while cooling.
    pub reheat_w: f64,
    /// Power of the fan at its most air.
    pub fan_full_power_w: f64,
    /// Most air of the fan, actual.
    pub fan_full_m3_per_s: f64,
    /// Exponent of power in the air flow.
    pub fan_exponent: f64,
    /// Infiltration that enters the plenum, for one unit; 0 where room air meets the coil.
    pub plenum_leak_kg_per_s: f64,
    /// Coil at design; `None` with its valve shut.
    pub coil: Option<CoilSteps>,
    /// Coil with its valve open.
    pub coil_open: Option<CoilSteps>,
    /// Coil with valve and fan open.
    pub coil_full: Option<CoilSteps>,
    /// Fan power in heating.
    pub heating_fan_power_w: f64,
    /// Heat given to the room in heating.
    pub heating_given_w: f64,
    /// Dry air discharged in heating.
    pub heating_discharge_kg_per_s: f64,
    /// Primary air in heating, dry bulb.
    pub heating_primary_c: f64,
    /// Primary air in heating, humidity ratio, and that of the room.
    pub heating_humidity_ratio_kg_per_kg: f64,
    /// Hot-water coil at the heating design.
    pub heating_coil: Option<CoilSteps>,
    /// Hot-water coil with its valve open.
    pub heating_coil_open: Option<CoilSteps>,
}

/// Intermediates of a coil.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct CoilSteps {
    /// Air entering.
    pub air_entering_c: f64,
    /// Water entering.
    pub water_entering_c: f64,
    /// Water flow.
    pub water_m3_per_s: f64,
    /// Capacity rate of the air.
    pub air_w_per_k: f64,
    /// Capacity rate of the water.
    pub water_w_per_k: f64,
    /// Resistance of the air side.
    pub air_k_per_w: f64,
    /// Resistance of the metal.
    pub metal_k_per_w: f64,
    /// Resistance of the water side.
    pub water_k_per_w: f64,
    /// Effectiveness.
    pub effectiveness: f64,
    /// Heat from air to water; negative where the water heats.
    pub duty_w: f64,
    /// Water velocity in the tubes.
    pub velocity_m_per_s: f64,
    /// Dry air through the coil.
    #[serde(skip)]
    pub dry_air_kg_per_s: f64,
    /// Its humidity ratio.
    #[serde(skip)]
    pub humidity_ratio_kg_per_kg: f64,
    /// Mean of entering and leaving water, at which its properties are taken.
    #[serde(skip)]
    pub water_mean_c: f64,
    /// The fitted machine.
    #[serde(skip)]
    pub fit: CoilFit,
}

/// Constants of a coil, fitted to its rating points.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct CoilFit {
    /// Air-side conductance at 1 kg/s of dry air.
    pub air_w_per_k: f64,
    /// Exponent of the air-side conductance in the dry-air flow.
    pub air_exponent: f64,
    /// Inner surface for which the film coefficient of the water counts.
    pub water_area_m2: f64,
    /// Inner diameter of the tubes.
    pub diameter_m: f64,
    /// Flow area of all circuits.
    pub flow_area_m2: f64,
}

/// A terminal at part load.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct TerminalPartLoad {
    /// Share of the design sensible load.
    pub load_share: f64,
    /// Fan air.
    pub fan_m3_per_s: f64,
    /// Water flow.
    pub water_m3_per_s: f64,
    /// Fan power.
    pub fan_power_w: f64,
    /// Discharge temperature.
    pub discharge_c: f64,
    /// Entering water minus dew point of the coil air.
    pub water_margin_k: f64,
    /// Coldest surface minus dew point.
    pub surface_margin_k: f64,
    /// Dry air discharged.
    pub discharge_kg_per_s: f64,
    /// Humidity ratio of the discharge.
    pub discharge_humidity_ratio_kg_per_kg: f64,
    /// Volume of the air that the fan moves.
    pub fan_air_volume_m3_per_kg: f64,
    /// Cooling given to the room.
    pub room_cooling_w: f64,
    /// Coldest surface of the coil, or the coil air where its valve is shut.
    pub surface_c: f64,
    /// Heat from air to water.
    pub coil_duty_w: f64,
    /// The coil; `None` with its valve shut.
    pub coil: Option<CoilSteps>,
    /// Air through the coil.
    #[serde(skip)]
    pub coil_air_m3_per_s: f64,
    /// Temperature of the air that meets the coil.
    #[serde(skip)]
    pub coil_air_entering_c: f64,
    /// Its humidity ratio.
    #[serde(skip)]
    pub coil_air_humidity_ratio_kg_per_kg: f64,
    /// Heat of the heating coil against overcooling.
    #[serde(skip)]
    pub reheat_w: f64,
}

/// A state of air along the primary-air unit.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct AirPoint {
    /// Where.
    pub point: String,
    /// Dry bulb.
    pub dry_bulb_c: f64,
    /// Humidity ratio.
    pub humidity_ratio_kg_per_kg: f64,
    /// Dew point.
    pub dew_point_c: f64,
    /// Wet bulb.
    pub wet_bulb_c: f64,
    /// Enthalpy.
    pub enthalpy_j_per_kg: f64,
    /// Standard flow.
    pub standard_m3_per_s: f64,
    /// Actual flow at this state.
    pub actual_m3_per_s: f64,
}

/// The primary-air unit under one design condition.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PrimaryUnitCase {
    /// Name of the condition.
    pub case: String,
    /// States from outdoor air to delivery, then exhaust.
    pub points: Vec<AirPoint>,
    /// Heat recovered (positive: outdoor air cooled or heated towards the exhaust state).
    pub recovered_w: f64,
    /// Drying coil, total.
    pub coil_total_w: f64,
    /// Drying coil, sensible.
    pub coil_sensible_w: f64,
    /// Condensate.
    pub condensate_kg_per_s: f64,
    /// Heat carried away by the condensate.
    pub condensate_w: f64,
    /// Preheat for frost control.
    pub preheat_w: f64,
    /// Heating coil or reheat.
    pub reheat_w: f64,
    /// Supply fan power.
    pub supply_fan_w: f64,
    /// Exhaust fan power.
    pub exhaust_fan_w: f64,
    /// Drying water flow.
    pub water_m3_per_s: f64,
    /// Dew point achieved leaving the coil minus dew point wanted; above 0 means not dry enough.
    pub dew_point_shortfall_k: f64,
    /// Apparatus dew point of the drying coil; the entering dry bulb when it is idle.
    pub apparatus_dew_point_c: f64,
    /// Air entering the drying coil, dry bulb: behind the heating coil and the first coil of a wrap-around.
    pub coil_entering_c: f64,
    /// Exhaust entering the recovery, dry bulb.
    pub exhaust_dry_bulb_c: f64,
    /// Exhaust entering the recovery, humidity ratio.
    pub exhaust_humidity_ratio_kg_per_kg: f64,
    /// Outdoor air taken in as dry air: the unit's flow less carry-over.
    pub outdoor_kg_per_s: f64,
    /// Exhaust leaving as dry air, carry-over and purge included.
    pub exhaust_leaving_kg_per_s: f64,
    /// Share of full recovery in use.
    pub recovery_share: f64,
    /// Supply air behind the exchanger before carry-over joins, dry bulb.
    pub after_exchanger_c: f64,
    /// Supply air behind the exchanger before carry-over joins, humidity ratio.
    pub after_exchanger_humidity_ratio_kg_per_kg: f64,
    /// Heating coil ahead of the drying coil.
    pub heating_w: f64,
    /// Heat carried around the drying coil.
    pub wrap_around_w: f64,
    /// Pressure of the exhaust fan.
    pub exhaust_fan_pa: f64,
}

/// The primary-air unit.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PrimaryUnitDesign {
    /// Number of units.
    pub units: u32,
    /// Delivered to the rooms, all units, standard flow.
    pub delivered_m3_per_s: f64,
    /// Through the unit, leakage and spare included.
    pub unit_m3_per_s: f64,
    /// Exhaust through recovery.
    pub exhaust_m3_per_s: f64,
    /// Leaving dew point of the coil at design.
    pub coil_leaving_dew_point_c: f64,
    /// Face area of the drying coil.
    pub face_area_m2: f64,
    /// Rows of the drying coil, from its required transfer units.
    pub rows: u32,
    /// Transfer units needed.
    pub transfer_units: f64,
    /// Apparatus dew point.
    pub apparatus_dew_point_c: f64,
    /// Bypass factor.
    pub bypass_factor: f64,
    /// Temperature rise over the fan.
    pub fan_rise_k: f64,
    /// Delivered dry bulb.
    pub delivered_dry_bulb_c: f64,
    /// Under each design condition: dehumidification, cooling, heating.
    pub cases: Vec<PrimaryUnitCase>,
    /// Cooling load of all units at the worse condition.
    pub coil_load_w: f64,
    /// Drying water entering.
    pub drying_water_c: f64,
    /// Drying water leaving.
    pub drying_water_leaving_c: f64,
    /// Heating load of all units.
    pub heating_load_w: f64,
}

/// A pump of the plant.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PumpDesign {
    /// Service.
    pub service: String,
    /// Flow.
    pub flow_m3_per_s: f64,
    /// Head as pressure.
    pub head_pa: f64,
    /// Shaft-to-wire power.
    pub power_w: f64,
}

/// A pipe of the plant.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PipeDesign {
    /// Service.
    pub service: String,
    /// Flow.
    pub flow_m3_per_s: f64,
    /// Nominal size, in words.
    pub size: String,
    /// Inner diameter.
    pub inner_diameter_m: f64,
    /// Velocity.
    pub velocity_m_per_s: f64,
    /// Friction.
    pub friction_pa_per_m: f64,
    /// What limits the size.
    pub limit: String,
}

/// A chiller or boiler of the plant.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct MachineDesign {
    /// Service.
    pub service: String,
    /// Number of machines.
    pub count: u32,
    /// Capacity of each.
    pub capacity_w: f64,
    /// Water leaving.
    pub leaving_c: f64,
    /// Water returning at design.
    pub entering_c: f64,
    /// Coefficient of performance at design (efficiency for a boiler).
    pub performance: f64,
    /// Input power at design, all machines.
    pub input_w: f64,
    /// Refrigerant cycle at design; `None` for a boiler or an idle chiller.
    pub cycle: Option<CycleSteps>,
}

/// Intermediates of a chiller at design.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct CycleSteps {
    /// Load.
    pub load_w: f64,
    /// Evaporating temperature.
    pub evaporating_c: f64,
    /// Lift that counts.
    pub lift_k: f64,
    /// Second-law efficiency.
    pub efficiency: f64,
    /// Cooling over electric power of the running machine over that of the cycling one; 1 without cycling.
    pub cycling: f64,
    /// Rated capacity of all machines together: the design capacity, more where the temperatures take from it.
    #[serde(skip)]
    pub rated_w: f64,
    /// Condenser water entering.
    #[serde(skip)]
    pub condenser_c: f64,
    /// Share of the power at rated load that does not fall with the load.
    #[serde(skip)]
    pub fixed_loss_share: f64,
}

/// One arrangement of the water.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ArrangementDesign {
    /// Word of the arrangement.
    pub arrangement: String,
    /// Whether it is the one of the project.
    pub chosen: bool,
    /// Chillers.
    pub chillers: Vec<MachineDesign>,
    /// Pumps.
    pub pumps: Vec<PumpDesign>,
    /// Pipes.
    pub pipes: Vec<PipeDesign>,
    /// Flow of the sensible loop.
    pub sensible_flow_m3_per_s: f64,
    /// Return of the sensible loop.
    pub sensible_return_c: f64,
    /// Flow of the drying loop.
    pub drying_flow_m3_per_s: f64,
    /// Return of the drying loop.
    pub drying_return_c: f64,
    /// Flow from the drying return into the sensible loop (return reuse).
    pub reused_m3_per_s: f64,
    /// Cold make-up into the sensible loop (return reuse, single cold loop).
    pub makeup_m3_per_s: f64,
    /// Plant flow.
    pub plant_flow_m3_per_s: f64,
    /// Input power at design: chillers, pumps, tower.
    pub input_w: f64,
    /// Residual of the loop balance, share of the load.
    pub balance_residual: f64,
}

/// The water plant.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PlantDesign {
    /// Block load of the sensible loop.
    pub sensible_load_w: f64,
    /// Load of the drying coils at the same condition.
    pub drying_load_w: f64,
    /// Diversity of the sensible loop: coincident over sum of peaks.
    pub diversity: f64,
    /// All three arrangements.
    pub arrangements: Vec<ArrangementDesign>,
    /// Tower: heat rejected.
    pub tower_heat_w: f64,
    /// Tower water flow.
    pub tower_flow_m3_per_s: f64,
    /// Tower water leaving at design.
    pub tower_leaving_c: f64,
    /// Tower water entering at design.
    pub tower_entering_c: f64,
    /// Design wet bulb.
    pub tower_wet_bulb_c: f64,
    /// Tower characteristic KaV/L at design.
    pub tower_characteristic: f64,
    /// Tower fan power.
    pub tower_fan_w: f64,
    /// Evaporation at design.
    pub evaporation_kg_per_s: f64,
    /// Make-up at design.
    pub makeup_kg_per_s: f64,
    /// Heating plant.
    pub heating: MachineDesign,
    /// Heating load: terminals.
    pub heating_terminals_w: f64,
    /// Heating load: primary air.
    pub heating_primary_w: f64,
    /// Hot-water pump.
    pub heating_pump: PumpDesign,
    /// Hot-water pipe.
    pub heating_pipe: PipeDesign,
}

/// A duct main.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct DuctMain {
    /// `decoupled` or `all-air`.
    pub scheme: String,
    /// Floor, or `riser`.
    pub run: String,
    /// Standard flow.
    pub standard_m3_per_s: f64,
    /// Actual flow.
    pub actual_m3_per_s: f64,
    /// Round diameter by friction and velocity.
    pub diameter_m: f64,
    /// Rectangular width at the allowed height.
    pub width_m: f64,
    /// Rectangular height.
    pub height_m: f64,
    /// Velocity in the rectangular duct.
    pub velocity_m_per_s: f64,
    /// Friction.
    pub friction_pa_per_m: f64,
    /// Cross-section.
    pub area_m2: f64,
}

/// Ducts of both schemes.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct DuctDesign {
    /// Mains.
    pub mains: Vec<DuctMain>,
    /// Cross-section of the mains, decoupled over all-air.
    pub area_ratio: f64,
    /// How the all-air flow was found.
    pub method: String,
}

/// Balance of outdoor air for a room group.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct AirBalance {
    /// Floor name or `building`.
    pub group: String,
    /// Primary air delivered.
    pub primary_m3_per_s: f64,
    /// Exhaust of the rooms on the system.
    pub exhaust_m3_per_s: f64,
    /// Outdoor air that rooms off the system get by their own units: their ventilation, or what makes up their exhaust and
    /// leakage beyond transfer air.
    pub own_units_outdoor_m3_per_s: f64,
    /// Exhaust of the rooms off the system by their own hoods and units.
    pub own_units_exhaust_m3_per_s: f64,
    /// Transfer air in from other groups minus out to them.
    pub transfer_m3_per_s: f64,
    /// Air for pressurization wanted.
    pub pressurization_m3_per_s: f64,
    /// Surplus: primary, outdoor air of own units and transfer, minus both exhausts; returned to the unit or leaving through
    /// the facade.
    pub surplus_m3_per_s: f64,
    /// Return to the primary-air unit for recovery.
    pub relief_m3_per_s: f64,
}

/// Comfort and code screens of a room.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ComfortCheck {
    /// Room id.
    pub room: String,
    /// Room temperature in cooling.
    pub temperature_c: f64,
    /// Relative humidity at design.
    pub relative_humidity: f64,
    /// Dew point at the worst occupied design hour.
    pub dew_point_c: f64,
    /// Discharge temperature in cooling.
    pub discharge_c: Option<f64>,
    /// Supply to room difference in heating.
    pub heating_difference_k: Option<f64>,
    /// Total air changes of the discharge.
    pub total_air_changes_per_h: f64,
    /// Outdoor air changes.
    pub outdoor_air_changes_per_h: f64,
    /// Overcooling at minimum load: heat needed to hold the set point with people at 10 % and no sun.
    pub overcooling_w: f64,
    /// Primary-air temperature that would avoid it.
    pub neutral_supply_c: f64,
    /// Problems in words; empty when all is well.
    pub problems: Vec<String>,
}

/// The complete design.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Design {
    /// Site.
    pub site: SiteFacts,
    /// Design conditions.
    pub conditions: Conditions,
    /// Loads.
    pub loads: Loads,
    /// Needs in project order.
    pub needs: Vec<RoomNeeds>,
    /// The dew-point decision.
    pub dew_point: DewPointDecision,
    /// Terminals, smallest margin first.
    pub terminals: Vec<TerminalDesign>,
    /// Primary-air unit.
    pub primary_unit: PrimaryUnitDesign,
    /// Water plant.
    pub plant: PlantDesign,
    /// Duct mains.
    pub ducts: DuctDesign,
    /// Air balance: floors, then building.
    pub balance: Vec<AirBalance>,
    /// Comfort and code screens, project order.
    pub comfort: Vec<ComfortCheck>,
    /// Findings, waived ones included.
    #[serde(skip)]
    pub findings: Vec<Finding>,
}
