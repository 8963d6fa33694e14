//! The schedules: which numbers of a design are issued, in which order, under which title.
//!
//! One list serves the spreadsheet, the calculation sheets and their tests: every number in a schedule has a sheet that
//! shows how it was computed ([`crate::sheet`]), named by the place of its row and the quantity of its cell.

use crate::design::{Design, DewPointDecision, PinPrice, Service, TerminalPartLoad};
use drycoil_project::Project;
use drycoil_units::{QuantityKind as K, UnitSystem};

/// What a column holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ColumnKind {
    /// Words.
    Text,
    /// A plain number shown with so many decimals.
    Number(usize),
    /// A quantity with a unit.
    Quantity(K),
}

/// A column of a schedule.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Column {
    /// Name of the quantity, as `drycoil working` takes it behind the prefix of the row.
    pub key: &'static str,
    /// Title in words, without unit.
    pub title: &'static str,
    /// What it holds.
    pub kind: ColumnKind,
}

/// A cell.
#[derive(Debug, Clone, PartialEq)]
pub enum Cell {
    /// Nothing applies.
    Empty,
    /// Words.
    Text(String),
    /// SI value.
    Number(f64),
}

/// A row.
#[derive(Debug, Clone, PartialEq)]
pub struct Row {
    /// Place, as `drycoil working` takes it.
    pub place: String,
    /// What stands before the key of the column in the name of the quantity; empty where the place says enough.
    pub prefix: String,
    /// Cells in the order of the columns.
    pub cells: Vec<Cell>,
}

impl Row {
    /// Name of the quantity in a column.
    pub fn quantity(&self, column: &Column) -> String {
        format!("{}{}", self.prefix, column.key)
    }
}

/// A schedule.
#[derive(Debug, Clone, PartialEq)]
pub struct Schedule {
    /// Short name, as a spreadsheet tab takes it.
    pub name: &'static str,
    /// Title in words.
    pub title: &'static str,
    /// Whether the one row is better read downwards.
    pub upright: bool,
    /// Columns.
    pub columns: Vec<Column>,
    /// Rows.
    pub rows: Vec<Row>,
}

const TEXT: ColumnKind = ColumnKind::Text;

const WATER_VELOCITY: &str = "Water velocity";
const WATER_FRICTION: &str = "Water friction";

const fn q(kind: K) -> ColumnKind {
    ColumnKind::Quantity(kind)
}

const fn n(decimals: usize) -> ColumnKind {
    ColumnKind::Number(decimals)
}

fn columns(list: &[(&'static str, &'static str, ColumnKind)]) -> Vec<Column> {
    list.iter().map(|(key, title, kind)| Column { key, title, kind: *kind }).collect()
}

fn num(v: f64) -> Cell {
    if v.is_finite() { Cell::Number(v) } else { Cell::Empty }
}

fn opt(v: Option<f64>) -> Cell {
    v.map_or(Cell::Empty, num)
}

fn text(t: impl Into<String>) -> Cell {
    Cell::Text(t.into())
}

fn row(place: impl Into<String>, prefix: impl Into<String>, cells: Vec<Cell>) -> Row {
    Row { place: place.into(), prefix: prefix.into(), cells }
}

/// A name as part of a quantity: lower case, words joined by `_`.
pub(crate) fn slug(name: &str) -> String {
    let mut out = String::with_capacity(name.len());
    for c in name.chars() {
        if c.is_alphanumeric() {
            out.extend(c.to_lowercase());
        } else if !out.ends_with('_') && !out.is_empty() {
            out.push('_');
        }
    }
    out.trim_end_matches('_').to_owned()
}

/// The place of a floor. Its name alone could also be that of a room.
pub(crate) fn floor_place(group: &str) -> String {
    if group == "building" { group.to_owned() } else { format!("floor {group}") }
}

/// How a room is served, in words.
pub fn service_word(service: Service) -> &'static str {
    match service {
        Service::Terminal => "terminal",
        Service::Transfer => "transfer air",
        Service::PrimaryOnly => "primary air only",
        Service::OffSystem => "off the system",
        Service::SensibleUnits => "own dry units",
    }
}

/// Word of a share of the load.
pub(crate) fn load_word(p: &TerminalPartLoad) -> &'static str {
    match (p.load_share * 4.0).round() as i64 {
        1 => "quarter_load_",
        2 => "half_load_",
        3 => "three_quarter_load_",
        _ => "full_load_",
    }
}

/// All schedules of a design.
pub fn schedules(project: &Project, design: &Design) -> Vec<Schedule> {
    vec![
        terminals(design),
        coils(design),
        part_load(design),
        rooms(project, design),
        needs(design),
        comfort(design),
        dew_point(design),
        unit(design),
        unit_cases(design),
        unit_states(design),
        plant(design),
        loops(design),
        chillers(design),
        pumps(design),
        pipes(design),
        ducts(design),
        ducts_total(design),
        groups(design),
        balance(design),
    ]
}

fn rooms(project: &Project, d: &Design) -> Schedule {
    Schedule {
        name: "Rooms",
        title: "Rooms and their loads",
        upright: false,
        columns: columns(&[
            ("room", "Room", TEXT),
            ("name", "Name", TEXT),
            ("floor", "Floor", TEXT),
            ("zone", "Zone", TEXT),
            ("kind", "Kind", TEXT),
            ("served_by", "Served by", TEXT),
            ("floor_area", "Floor area", q(K::Area)),
            ("height", "Height", q(K::Length)),
            ("people", "People", n(0)),
            ("cooling_set_point", "Cooling set point", q(K::Temperature)),
            ("heating_set_point", "Heating set point", q(K::Temperature)),
            ("sensible_load", "Sensible cooling load", q(K::Power)),
            ("sensible_load_at", "Sensible load at", TEXT),
            ("latent_load", "Latent gain", q(K::Power)),
            ("heating_load", "Heating load", q(K::Power)),
            ("infiltration_flow", "Infiltration", q(K::StandardAirFlow)),
        ]),
        rows: project
            .rooms
            .iter()
            .zip(&d.loads.rooms)
            .zip(&d.needs)
            .map(|((r, l), needs)| {
                row(
                    &r.id,
                    "",
                    vec![
                        text(&r.id),
                        text(&r.name),
                        text(&r.floor),
                        text(&r.zone.value),
                        text(&project.kind_of(r).name),
                        text(service_word(needs.service)),
                        num(r.floor_area.value.to_square_metres()),
                        num(r.height.value.to_metres()),
                        num(r.people.value),
                        num(l.set_point_c),
                        num(l.heating_set_point_c),
                        num(l.cooling.load_w),
                        text(format!("{}, {:02}:00", l.cooling.day, l.cooling.hour)),
                        num(l.latent_w),
                        num(l.heating.load_w),
                        num(l.infiltration_m3_per_s),
                    ],
                )
            })
            .collect(),
    }
}

fn needs(d: &Design) -> Schedule {
    let f = q(K::StandardAirFlow);
    Schedule {
        name: "Primary air",
        title: "Primary-air needs of the rooms",
        upright: false,
        columns: columns(&[
            ("room", "Room", TEXT),
            ("governing_need", "Governing need", TEXT),
            ("primary_air_flow", "Primary air", f),
            ("room_dew_point", "Room dew point at design", q(K::Temperature)),
            ("highest_dew_point", "Highest dew point, occupied", q(K::Temperature)),
            ("highest_dew_point_at", "Highest dew point at", TEXT),
            ("dew_point_limit", "Dew-point limit", q(K::Temperature)),
            ("required_supply_dew_point", "Supply dew point needed at fixed flow", q(K::Temperature)),
            ("breathing_zone_flow", "Breathing-zone outdoor air", f),
            ("effectiveness_cooling", "Air-distribution effectiveness, cooling", n(2)),
            ("effectiveness_heating", "Air-distribution effectiveness, heating", n(2)),
            ("ventilation_flow", "Ventilation", f),
            ("per_person_flow", "Flow per person", f),
            ("air_changes_flow", "Outdoor air changes", f),
            ("exhaust_flow", "Exhaust make-up", f),
            ("pressurization_flow", "Pressurization", f),
            ("fixed_flow", "Largest need without moisture", f),
            ("latent_moisture", "Moisture of people and processes", q(K::MassFlow)),
            ("latent_flow", "Latent need", f),
            ("transfer_flow", "Transfer air in", f),
            ("transfer_from", "Transfer air from", TEXT),
            ("room_humidity_ratio", "Room humidity ratio at design", q(K::HumidityRatio)),
        ]),
        rows: d
            .needs
            .iter()
            .map(|r| {
                row(
                    &r.room,
                    "",
                    vec![
                        text(&r.room),
                        text(r.governing.word()),
                        num(r.primary_m3_per_s),
                        num(r.dew_point_c),
                        num(r.worst_dew_point_c),
                        text(&r.worst_when),
                        num(r.dew_point_limit_c),
                        opt(r.required_dew_point_c),
                        num(r.breathing_zone_m3_per_s),
                        num(r.effectiveness[0]),
                        num(r.effectiveness[1]),
                        num(r.ventilation_m3_per_s),
                        num(r.per_person_m3_per_s),
                        num(r.air_changes_m3_per_s),
                        num(r.exhaust_m3_per_s),
                        num(r.pressurization_m3_per_s),
                        num(r.fixed_m3_per_s),
                        num(r.latent_kg_per_s),
                        num(r.latent_need_m3_per_s),
                        num(r.transfer_in_m3_per_s),
                        text(r.transfer_from.clone().unwrap_or_default()),
                        num(r.humidity_ratio_kg_per_kg),
                    ],
                )
            })
            .collect(),
    }
}

fn terminals(d: &Design) -> Schedule {
    let f = q(K::StandardAirFlow);
    Schedule {
        name: "Terminals",
        title: "Terminal units, smallest dew-point margin first; air, loads and power are of one unit",
        upright: false,
        columns: columns(&[
            ("zone", "Zone", TEXT),
            ("rooms", "Rooms", TEXT),
            ("model", "Model", TEXT),
            ("units", "Units", n(0)),
            ("dew_point_margin", "Dew-point margin", q(K::TemperatureDifference)),
            ("required_margin", "Required margin", q(K::TemperatureDifference)),
            ("unit_primary_air", "Primary air", f),
            ("unit_primary_minimum", "Least primary air", f),
            ("supplementary_flow", "Supplementary primary air", f),
            ("inlet_pressure", "Primary inlet pressure", q(K::PressureDifference)),
            ("fan_flow", "Fan air, cooling", f),
            ("fan_flow_heating", "Fan air, heating", f),
            ("fan_power", "Fan power", q(K::Power)),
            ("fan_power_half", "Fan power at half air", q(K::Power)),
            ("constant_speed_power", "Fan power at constant speed", q(K::Power)),
            ("sound", "Sound, NC", n(0)),
            ("unit_sensible_load", "Sensible load", q(K::Power)),
            ("primary_cooling", "Cooling by primary air", q(K::Power)),
            ("fan_heat", "Fan heat", q(K::Power)),
            ("plenum_heat", "Plenum heat at the coil", q(K::Power)),
            ("discharge_temperature", "Discharge, cooling", q(K::Temperature)),
            ("unit_heating_load", "Heating coil load", q(K::Power)),
            ("heating_capacity", "Heating coil capacity", q(K::Power)),
            ("heating_water_flow", "Hot water", q(K::WaterFlow)),
            ("heating_discharge_temperature", "Discharge, heating", q(K::Temperature)),
            ("coil_air_dew_point", "Dew point of the coil air", q(K::Temperature)),
            ("coil_air_from", "Coil air from", TEXT),
            ("surface_margin", "Margin of the fin surface", q(K::TemperatureDifference)),
        ]),
        rows: d
            .terminals
            .iter()
            .map(|t| {
                row(
                    &t.zone,
                    "",
                    vec![
                        text(&t.zone),
                        text(t.rooms.join(", ")),
                        text(&t.model),
                        num(f64::from(t.units)),
                        num(t.water_margin_k),
                        num(t.required_margin_k),
                        num(t.primary_m3_per_s),
                        num(t.primary_min_m3_per_s),
                        num(t.supplementary_m3_per_s),
                        num(t.inlet_pressure_pa),
                        num(t.fan_m3_per_s),
                        num(t.fan_heating_m3_per_s),
                        num(t.fan_power_w),
                        num(t.fan_power_half_w),
                        num(t.constant_speed_power_w),
                        opt(t.sound_nc),
                        num(t.sensible_load_w),
                        num(t.primary_cooling_w),
                        num(t.fan_heat_w),
                        num(t.plenum_w),
                        num(t.discharge_c),
                        num(t.heating_load_w),
                        num(t.heating_capacity_w),
                        num(t.heating_water_m3_per_s),
                        num(t.discharge_heating_c),
                        num(t.coil_air_dew_point_c),
                        text(&t.coil_air_from),
                        num(t.surface_margin_k),
                    ],
                )
            })
            .collect(),
    }
}

fn coils(d: &Design) -> Schedule {
    Schedule {
        name: "Coils",
        title: "Sensible coils of the terminals, one unit",
        upright: false,
        columns: columns(&[
            ("zone", "Zone", TEXT),
            ("coil_air_flow", "Air through the coil", q(K::StandardAirFlow)),
            ("face_velocity", "Face velocity", q(K::Velocity)),
            ("coil_air_entering", "Air entering", q(K::Temperature)),
            ("coil_air_leaving", "Air leaving", q(K::Temperature)),
            ("coil_duty", "Coil duty", q(K::Power)),
            ("coil_capacity", "Coil capacity, valve open, design fan air", q(K::Power)),
            ("coil_capacity_full_fan", "Coil capacity, valve and fan open", q(K::Power)),
            ("water_entering", "Water entering", q(K::Temperature)),
            ("water_leaving", "Water leaving", q(K::Temperature)),
            ("water_flow", "Water flow", q(K::WaterFlow)),
            ("water_drop", "Water pressure drop", q(K::PressureDifference)),
            ("water_velocity", WATER_VELOCITY, q(K::Velocity)),
            ("laminar", "Laminar at half load", TEXT),
            ("valve_kv", "Valve Kv, m3/h at 1 bar", n(2)),
            ("valve_authority", "Valve authority", n(2)),
            ("runout", "Runout", TEXT),
            ("coil_fit_residual", "Largest residual of the rating points", q(K::Fraction)),
        ]),
        rows: d
            .terminals
            .iter()
            .map(|t| {
                row(
                    &t.zone,
                    "",
                    vec![
                        text(&t.zone),
                        num(t.coil_air_m3_per_s),
                        num(t.face_velocity_m_per_s),
                        num(t.coil_air_entering_c),
                        num(t.coil_air_leaving_c),
                        num(t.coil_duty_w),
                        num(t.coil_capacity_w),
                        num(t.coil_capacity_full_fan_w),
                        num(t.water_entering_c),
                        num(t.water_leaving_c),
                        num(t.water_m3_per_s),
                        num(t.water_drop_pa),
                        num(t.water_velocity_m_per_s),
                        text(if t.laminar_at_half_load { "yes" } else { "no" }),
                        num(t.valve_kv_m3_per_h),
                        num(t.valve_authority),
                        text(&t.runout),
                        num(t.coil_fit_residual),
                    ],
                )
            })
            .collect(),
    }
}

fn part_load(d: &Design) -> Schedule {
    Schedule {
        name: "Part load",
        title: "Terminals at part load, one unit",
        upright: false,
        columns: columns(&[
            ("zone", "Zone", TEXT),
            ("share", "Share of the design load", q(K::Fraction)),
            ("dew_point_margin", "Dew-point margin", q(K::TemperatureDifference)),
            ("surface_margin", "Margin of the fin surface", q(K::TemperatureDifference)),
            ("fan_flow", "Fan air", q(K::StandardAirFlow)),
            ("water_flow", "Water flow", q(K::WaterFlow)),
            ("fan_power", "Fan power", q(K::Power)),
            ("discharge_temperature", "Discharge", q(K::Temperature)),
        ]),
        rows: d
            .terminals
            .iter()
            .flat_map(|t| {
                t.part_load.iter().map(|p| {
                    row(
                        &t.zone,
                        load_word(p),
                        vec![
                            text(&t.zone),
                            num(p.load_share),
                            num(p.water_margin_k),
                            num(p.surface_margin_k),
                            num(p.fan_m3_per_s),
                            num(p.water_m3_per_s),
                            num(p.fan_power_w),
                            num(p.discharge_c),
                        ],
                    )
                })
            })
            .collect(),
    }
}

fn comfort(d: &Design) -> Schedule {
    Schedule {
        name: "Comfort",
        title: "Comfort and code screens",
        upright: false,
        columns: columns(&[
            ("room", "Room", TEXT),
            ("relative_humidity", "Relative humidity at the set point", q(K::Fraction)),
            ("discharge", "Discharge, cooling", q(K::Temperature)),
            ("heating_difference", "Supply above room, heating", q(K::TemperatureDifference)),
            ("total_air_changes", "Total air changes", q(K::AirChangesPerHour)),
            ("outdoor_air_changes", "Outdoor air changes", q(K::AirChangesPerHour)),
            ("overcooling", "Heat against overcooling", q(K::Power)),
            ("neutral_supply", "Supply temperature without overcooling", q(K::Temperature)),
            ("problems", "Problems", TEXT),
        ]),
        rows: d
            .comfort
            .iter()
            .map(|c| {
                row(
                    &c.room,
                    "",
                    vec![
                        text(&c.room),
                        num(c.relative_humidity),
                        opt(c.discharge_c),
                        opt(c.heating_difference_k),
                        num(c.total_air_changes_per_h),
                        num(c.outdoor_air_changes_per_h),
                        num(c.overcooling_w),
                        num(c.neutral_supply_c),
                        text(c.problems.join("; ")),
                    ],
                )
            })
            .collect(),
    }
}

fn dew_point(d: &Design) -> Schedule {
    let p = &d.dew_point;
    let y = &p.chosen.year;
    let priced = p.objective_unit != "kWh";
    let kind = if priced { n(0) } else { q(K::Energy) };
    let pins: Vec<_> =
        p.pins.iter().filter_map(|x| pin_column(&x.what).map(|(k, t)| (k, t, x.price))).collect();
    let mut list = columns(&[
        ("supply_dew_point", "Supply dew point", q(K::Temperature)),
        ("supply_humidity_ratio", "Supply humidity ratio", q(K::HumidityRatio)),
        ("room_limit", "Room dew-point limit", q(K::Temperature)),
        ("sensible_water", "Sensible water", q(K::Temperature)),
        ("total_primary_air", "Total primary air", q(K::StandardAirFlow)),
        ("objective", "Objective, a year", kind),
        ("drying_electricity", "Electricity for drying", q(K::Energy)),
        ("sensible_electricity", "Electricity for sensible water", q(K::Energy)),
        ("primary_fan_energy", "Primary-air fans", q(K::Energy)),
        ("terminal_fan_energy", "Terminal fans", q(K::Energy)),
        ("pump_energy", "Pumps", q(K::Energy)),
        ("tower_energy", "Tower fans", q(K::Energy)),
        ("heat_energy", "Heat", q(K::Energy)),
        ("economizer_share", "Sensible cooling by the economizer", q(K::Fraction)),
    ]);
    list.extend(columns(&pins.iter().map(|(k, t, _)| (*k, *t, kind)).collect::<Vec<_>>()));
    let mut cells = vec![
        num(p.supply_dew_point_c),
        num(p.supply_humidity_ratio_kg_per_kg),
        num(p.room_limit_c),
        num(p.sensible_water_c),
        num(p.chosen.primary_m3_per_s),
        num(p.chosen.objective),
        num(y.drying_j),
        num(y.sensible_j),
        num(y.primary_fan_j),
        num(y.terminal_fan_j),
        num(y.pump_j),
        num(y.tower_j),
        num(y.heat_j),
        num(y.economizer_share),
    ];
    cells.extend(pins.iter().map(|(_, _, price)| num(*price)));
    Schedule {
        name: "Dew point",
        title: "Supply dew point, room limit and sensible water, with the yearly estimate behind the choice",
        upright: true,
        columns: list,
        rows: vec![row("dew point", "", cells)],
    }
}

/// Key and title of the price of a pin.
fn pin_column(what: &str) -> Option<(&'static str, &'static str)> {
    match what {
        "supply dew point" => {
            Some(("supply_dew_point_pin_price", "Price of the pinned supply dew point, a year"))
        }
        "room dew-point limit" => Some(("room_limit_pin_price", "Price of the pinned room limit, a year")),
        "sensible water" => Some(("sensible_water_pin_price", "Price of the pinned sensible water, a year")),
        _ => None,
    }
}

/// The pin whose price has this key.
pub(crate) fn pin_of<'a>(d: &'a DewPointDecision, key: &str) -> Option<&'a PinPrice> {
    d.pins.iter().find(|p| pin_column(&p.what).is_some_and(|(k, _)| k == key))
}

fn unit(d: &Design) -> Schedule {
    let u = &d.primary_unit;
    Schedule {
        name: "Primary-air unit",
        title: "Primary-air unit, all units together",
        upright: true,
        columns: columns(&[
            ("units", "Units", n(0)),
            ("delivered_flow", "Delivered air", q(K::StandardAirFlow)),
            ("unit_flow", "Unit air, with spare and leakage", q(K::StandardAirFlow)),
            ("exhaust_flow", "Exhaust through recovery", q(K::StandardAirFlow)),
            ("coil_leaving_dew_point", "Dew point leaving the drying coil", q(K::Temperature)),
            ("apparatus_dew_point", "Apparatus dew point", q(K::Temperature)),
            ("bypass_factor", "Bypass factor", q(K::Fraction)),
            ("coil_load", "Drying coil load", q(K::Power)),
            ("transfer_units", "Transfer units of the drying coil", n(2)),
            ("rows", "Rows of the drying coil", n(0)),
            ("face_area", "Face area", q(K::Area)),
            ("drying_water_entering", "Drying water entering", q(K::Temperature)),
            ("drying_water_leaving", "Drying water leaving", q(K::Temperature)),
            ("fan_rise", "Temperature rise of the fan", q(K::TemperatureDifference)),
            ("delivered_dry_bulb", "Delivered dry bulb", q(K::Temperature)),
            ("heating_load", "Heating load", q(K::Power)),
        ]),
        rows: vec![row(
            "primary air",
            "",
            vec![
                num(f64::from(u.units)),
                num(u.delivered_m3_per_s),
                num(u.unit_m3_per_s),
                num(u.exhaust_m3_per_s),
                num(u.coil_leaving_dew_point_c),
                num(u.apparatus_dew_point_c),
                num(u.bypass_factor),
                num(u.coil_load_w),
                num(u.transfer_units),
                num(f64::from(u.rows)),
                num(u.face_area_m2),
                num(u.drying_water_c),
                num(u.drying_water_leaving_c),
                num(u.fan_rise_k),
                num(u.delivered_dry_bulb_c),
                num(u.heating_load_w),
            ],
        )],
    }
}

fn unit_cases(d: &Design) -> Schedule {
    Schedule {
        name: "Unit conditions",
        title: "Primary-air unit under each design condition",
        upright: false,
        columns: columns(&[
            ("condition", "Condition", TEXT),
            ("recovered_heat", "Recovered", q(K::Power)),
            ("coil_total", "Drying coil, total", q(K::Power)),
            ("coil_sensible", "Drying coil, sensible", q(K::Power)),
            ("condensate", "Condensate", q(K::MassFlow)),
            ("condensate_heat", "Heat of the condensate", q(K::Power)),
            ("preheat", "Preheat", q(K::Power)),
            ("heating", "Heating and reheat", q(K::Power)),
            ("supply_fan_power", "Supply fan power", q(K::Power)),
            ("exhaust_fan_power", "Exhaust fan power", q(K::Power)),
            ("drying_water_flow", "Drying water", q(K::WaterFlow)),
            ("dew_point_shortfall", "Dew point missed", q(K::TemperatureDifference)),
        ]),
        rows: d
            .primary_unit
            .cases
            .iter()
            .map(|c| {
                row(
                    "primary air",
                    format!("{}_", slug(&c.case)),
                    vec![
                        text(&c.case),
                        num(c.recovered_w),
                        num(c.coil_total_w),
                        num(c.coil_sensible_w),
                        num(c.condensate_kg_per_s),
                        num(c.condensate_w),
                        num(c.preheat_w),
                        num(c.reheat_w),
                        num(c.supply_fan_w),
                        num(c.exhaust_fan_w),
                        num(c.water_m3_per_s),
                        num(c.dew_point_shortfall_k),
                    ],
                )
            })
            .collect(),
    }
}

fn unit_states(d: &Design) -> Schedule {
    Schedule {
        name: "Unit air states",
        title: "Air states along the primary-air unit",
        upright: false,
        columns: columns(&[
            ("condition", "Condition", TEXT),
            ("point", "Point", TEXT),
            ("dry_bulb", "Dry bulb", q(K::Temperature)),
            ("wet_bulb", "Wet bulb", q(K::Temperature)),
            ("dew_point", "Dew point", q(K::Temperature)),
            ("humidity_ratio", "Humidity ratio", q(K::HumidityRatio)),
            ("enthalpy", "Enthalpy, zero at 0 degC (32 degF)", q(K::SpecificEnthalpy)),
            ("standard_flow", "Standard flow", q(K::StandardAirFlow)),
            ("actual_flow", "Actual flow", q(K::ActualAirFlow)),
        ]),
        rows: d
            .primary_unit
            .cases
            .iter()
            .flat_map(|c| {
                c.points.iter().map(|p| {
                    row(
                        "primary air",
                        format!("{}_{}_", slug(&c.case), slug(&p.point)),
                        vec![
                            text(&c.case),
                            text(&p.point),
                            num(p.dry_bulb_c),
                            num(p.wet_bulb_c),
                            num(p.dew_point_c),
                            num(p.humidity_ratio_kg_per_kg),
                            num(p.enthalpy_j_per_kg),
                            num(p.standard_m3_per_s),
                            num(p.actual_m3_per_s),
                        ],
                    )
                })
            })
            .collect(),
    }
}

fn plant(d: &Design) -> Schedule {
    let p = &d.plant;
    Schedule {
        name: "Plant",
        title: "Water plant: block loads, tower, heating",
        upright: true,
        columns: columns(&[
            ("sensible_load", "Sensible loop load", q(K::Power)),
            ("drying_load", "Drying load", q(K::Power)),
            ("diversity", "Diversity of the sensible loop", q(K::Fraction)),
            ("tower_heat", "Tower heat", q(K::Power)),
            ("tower_flow", "Tower water", q(K::WaterFlow)),
            ("tower_leaving", "Tower water leaving", q(K::Temperature)),
            ("tower_entering", "Tower water entering", q(K::Temperature)),
            ("tower_wet_bulb", "Tower design wet bulb", q(K::Temperature)),
            ("tower_characteristic", "Tower characteristic KaV/L", n(3)),
            ("tower_fan_power", "Tower fan power", q(K::Power)),
            ("evaporation", "Evaporation", q(K::MassFlow)),
            ("makeup", "Make-up", q(K::MassFlow)),
            ("heating_terminals", "Heating, terminals", q(K::Power)),
            ("heating_primary_air", "Heating, primary air", q(K::Power)),
            ("heating_count", "Heating machines", n(0)),
            ("heating_capacity", "Capacity of each", q(K::Power)),
            ("heating_leaving", "Hot water leaving", q(K::Temperature)),
            ("heating_entering", "Hot water returning", q(K::Temperature)),
            ("heating_efficiency", "Efficiency", q(K::Fraction)),
            ("heating_input", "Heating input", q(K::Power)),
        ]),
        rows: vec![row(
            "plant",
            "",
            vec![
                num(p.sensible_load_w),
                num(p.drying_load_w),
                num(p.diversity),
                num(p.tower_heat_w),
                num(p.tower_flow_m3_per_s),
                num(p.tower_leaving_c),
                num(p.tower_entering_c),
                num(p.tower_wet_bulb_c),
                num(p.tower_characteristic),
                num(p.tower_fan_w),
                num(p.evaporation_kg_per_s),
                num(p.makeup_kg_per_s),
                num(p.heating_terminals_w),
                num(p.heating_primary_w),
                num(f64::from(p.heating.count)),
                num(p.heating.capacity_w),
                num(p.heating.leaving_c),
                num(p.heating.entering_c),
                num(p.heating.performance),
                num(p.heating.input_w),
            ],
        )],
    }
}

fn loops(d: &Design) -> Schedule {
    let w = q(K::WaterFlow);
    Schedule {
        name: "Water loops",
        title: "The three arrangements of the water",
        upright: false,
        columns: columns(&[
            ("arrangement", "Arrangement", TEXT),
            ("chosen", "Chosen", TEXT),
            ("sensible_flow", "Sensible loop", w),
            ("sensible_return", "Sensible return", q(K::Temperature)),
            ("drying_flow", "Drying loop", w),
            ("drying_return", "Drying return", q(K::Temperature)),
            ("reused_flow", "Reused drying return", w),
            ("makeup_flow", "Cold make-up", w),
            ("plant_flow", "Plant flow", w),
            ("input_power", "Input at design", q(K::Power)),
        ]),
        rows: d
            .plant
            .arrangements
            .iter()
            .map(|a| {
                row(
                    "plant",
                    format!("{}_", slug(&a.arrangement)),
                    vec![
                        text(&a.arrangement),
                        text(if a.chosen { "yes" } else { "no" }),
                        num(a.sensible_flow_m3_per_s),
                        num(a.sensible_return_c),
                        num(a.drying_flow_m3_per_s),
                        num(a.drying_return_c),
                        num(a.reused_m3_per_s),
                        num(a.makeup_m3_per_s),
                        num(a.plant_flow_m3_per_s),
                        num(a.input_w),
                    ],
                )
            })
            .collect(),
    }
}

fn chillers(d: &Design) -> Schedule {
    Schedule {
        name: "Chillers",
        title: "Chillers of each arrangement",
        upright: false,
        columns: columns(&[
            ("arrangement", "Arrangement", TEXT),
            ("chosen", "Chosen", TEXT),
            ("service", "Service", TEXT),
            ("count", "Number", n(0)),
            ("capacity", "Capacity of each", q(K::Power)),
            ("leaving", "Water leaving", q(K::Temperature)),
            ("entering", "Water entering", q(K::Temperature)),
            ("performance", "Coefficient of performance at design", n(2)),
            ("input", "Input at design, all", q(K::Power)),
        ]),
        rows: d
            .plant
            .arrangements
            .iter()
            .flat_map(|a| {
                a.chillers.iter().map(|m| {
                    row(
                        "plant",
                        format!("{}_{}_chillers_", slug(&a.arrangement), slug(&m.service)),
                        vec![
                            text(&a.arrangement),
                            text(if a.chosen { "yes" } else { "no" }),
                            text(&m.service),
                            num(f64::from(m.count)),
                            num(m.capacity_w),
                            num(m.leaving_c),
                            num(m.entering_c),
                            num(m.performance),
                            num(m.input_w),
                        ],
                    )
                })
            })
            .collect(),
    }
}

fn pumps(d: &Design) -> Schedule {
    let one = |arrangement: &str, chosen: &str, prefix: String, p: &crate::design::PumpDesign| {
        row(
            "plant",
            prefix,
            vec![
                text(arrangement),
                text(chosen),
                text(&p.service),
                num(p.flow_m3_per_s),
                num(p.head_pa),
                num(p.power_w),
            ],
        )
    };
    let mut rows: Vec<Row> = d
        .plant
        .arrangements
        .iter()
        .flat_map(|a| {
            a.pumps.iter().map(|p| {
                let prefix = format!("{}_{}_pump_", slug(&a.arrangement), slug(&p.service));
                one(&a.arrangement, if a.chosen { "yes" } else { "no" }, prefix, p)
            })
        })
        .collect();
    rows.push(one("heating", "yes", "heating_pump_".into(), &d.plant.heating_pump));
    Schedule {
        name: "Pumps",
        title: "Pumps of each arrangement",
        upright: false,
        columns: columns(&[
            ("arrangement", "Arrangement", TEXT),
            ("chosen", "Chosen", TEXT),
            ("service", "Service", TEXT),
            ("flow", "Flow", q(K::WaterFlow)),
            ("head", "Head", q(K::PressureDifference)),
            ("power", "Power", q(K::Power)),
        ]),
        rows,
    }
}

fn pipes(d: &Design) -> Schedule {
    let one = |arrangement: &str, chosen: &str, prefix: String, p: &crate::design::PipeDesign| {
        row(
            "plant",
            prefix,
            vec![
                text(arrangement),
                text(chosen),
                text(&p.service),
                text(&p.size),
                num(p.flow_m3_per_s),
                num(p.inner_diameter_m),
                num(p.velocity_m_per_s),
                num(p.friction_pa_per_m),
                text(&p.limit),
            ],
        )
    };
    let mut rows: Vec<Row> = d
        .plant
        .arrangements
        .iter()
        .flat_map(|a| {
            a.pipes.iter().map(|p| {
                let prefix = format!("{}_{}_pipe_", slug(&a.arrangement), slug(&p.service));
                one(&a.arrangement, if a.chosen { "yes" } else { "no" }, prefix, p)
            })
        })
        .collect();
    rows.push(one("heating", "yes", "heating_pipe_".into(), &d.plant.heating_pipe));
    Schedule {
        name: "Pipes",
        title: "Pipe mains of each arrangement",
        upright: false,
        columns: columns(&[
            ("arrangement", "Arrangement", TEXT),
            ("chosen", "Chosen", TEXT),
            ("service", "Service", TEXT),
            ("size", "Size", TEXT),
            ("flow", "Flow", q(K::WaterFlow)),
            ("inner_diameter", "Inner diameter", q(K::Length)),
            ("velocity", WATER_VELOCITY, q(K::Velocity)),
            ("friction", WATER_FRICTION, q(K::PressureGradient)),
            ("limit", "Limited by", TEXT),
        ]),
        rows,
    }
}

fn ducts(d: &Design) -> Schedule {
    Schedule {
        name: "Ducts",
        title: "Duct mains of the decoupled scheme and of an all-air scheme",
        upright: false,
        columns: columns(&[
            ("scheme", "Scheme", TEXT),
            ("run", "Run", TEXT),
            ("standard_flow", "Standard flow", q(K::StandardAirFlow)),
            ("actual_flow", "Actual flow", q(K::ActualAirFlow)),
            ("round_diameter", "Round diameter", q(K::Length)),
            ("width", "Width", q(K::Length)),
            ("height", "Duct height", q(K::Length)),
            ("velocity", "Velocity", q(K::Velocity)),
            ("friction", "Friction", q(K::PressureGradient)),
            ("area", "Cross-section", q(K::Area)),
        ]),
        rows: d
            .ducts
            .mains
            .iter()
            .map(|m| {
                row(
                    "ducts",
                    format!("{}_{}_", slug(&m.scheme), slug(&m.run)),
                    vec![
                        text(&m.scheme),
                        text(&m.run),
                        num(m.standard_m3_per_s),
                        num(m.actual_m3_per_s),
                        num(m.diameter_m),
                        num(m.width_m),
                        num(m.height_m),
                        num(m.velocity_m_per_s),
                        num(m.friction_pa_per_m),
                        num(m.area_m2),
                    ],
                )
            })
            .collect(),
    }
}

fn ducts_total(d: &Design) -> Schedule {
    Schedule {
        name: "Duct space",
        title: "Space of the duct mains",
        upright: true,
        columns: columns(&[("area_ratio", "Cross-section, decoupled over all-air", q(K::Fraction))]),
        rows: vec![row("ducts", "", vec![num(d.ducts.area_ratio)])],
    }
}

fn groups(d: &Design) -> Schedule {
    Schedule {
        name: "Floors",
        title: "Coincident loads of floors and building",
        upright: false,
        columns: columns(&[
            ("group", "Floor", TEXT),
            ("coincident_cooling", "Coincident sensible cooling", q(K::Power)),
            ("coincident_cooling_at", "At", TEXT),
            ("sum_of_peaks", "Sum of room peaks", q(K::Power)),
            ("coincident_heating", "Coincident heating", q(K::Power)),
            ("coincident_latent", "Coincident latent gain", q(K::Power)),
        ]),
        rows: d
            .loads
            .floors
            .iter()
            .chain([&d.loads.building])
            .map(|g| {
                row(
                    floor_place(&g.group),
                    "",
                    vec![
                        text(&g.group),
                        num(g.cooling.load_w),
                        text(format!("{}, {:02}:00", g.cooling.day, g.cooling.hour)),
                        num(g.cooling_sum_of_peaks_w),
                        num(g.heating.load_w),
                        num(g.latent_w),
                    ],
                )
            })
            .collect(),
    }
}

fn balance(d: &Design) -> Schedule {
    let f = q(K::StandardAirFlow);
    Schedule {
        name: "Air balance",
        title: "Outdoor, transfer and exhaust air of floors and building",
        upright: false,
        columns: columns(&[
            ("group", "Floor", TEXT),
            ("balance_primary", "Primary air", f),
            ("balance_transfer", "Transfer air in, net", f),
            ("balance_exhaust", "Exhaust", f),
            ("balance_own_outdoor", "Outdoor air of own units", f),
            ("balance_own_exhaust", "Exhaust of own units", f),
            ("balance_surplus", "Surplus", f),
            ("balance_pressurization", "Pressurization wanted", f),
            ("balance_relief", "Return to the unit", f),
        ]),
        rows: d
            .balance
            .iter()
            .map(|b| {
                row(
                    floor_place(&b.group),
                    "",
                    vec![
                        text(&b.group),
                        num(b.primary_m3_per_s),
                        num(b.transfer_m3_per_s),
                        num(b.exhaust_m3_per_s),
                        num(b.own_units_outdoor_m3_per_s),
                        num(b.own_units_exhaust_m3_per_s),
                        num(b.surplus_m3_per_s),
                        num(b.pressurization_m3_per_s),
                        num(b.relief_m3_per_s),
                    ],
                )
            })
            .collect(),
    }
}

impl Column {
    /// Symbol of the unit in which the trade reads this column; empty for words and plain numbers.
    pub fn unit(&self, system: UnitSystem) -> &'static str {
        let ColumnKind::Quantity(kind) = self.kind else { return "" };
        let ip = system == UnitSystem::Ip;
        let electric = ["power", "fan_power", "fan_power_half", "constant_speed_power"].contains(&self.key);
        let plant = [
            "capacity",
            "sensible_load",
            "drying_load",
            "tower_heat",
            "coil_load",
            "coil_total",
            "coil_sensible",
        ];
        match kind {
            K::Power if electric => "W",
            K::Power
                if self.key == "input" || self.key.ends_with("_fan_power") || self.key == "input_power" =>
            {
                "kW"
            }
            K::Length
                if ["round_diameter", "width", "height", "inner_diameter"].contains(&self.key)
                    && self.title != "Height" =>
            {
                if ip {
                    "in"
                } else {
                    "mm"
                }
            }
            K::PressureDifference if ["head", "water_drop"].contains(&self.key) => {
                if ip {
                    "ft wg"
                } else {
                    "kPa"
                }
            }
            K::Power if plant.contains(&self.key) && self.title != "Sensible cooling load" => {
                if ip {
                    "ton"
                } else {
                    "kW"
                }
            }
            // The trade speaks of feet a second and feet of water where it means water.
            K::Velocity if ip && self.title == WATER_VELOCITY => "ft/s",
            K::PressureGradient if ip && self.title == WATER_FRICTION => "ft wg/100 ft",
            _ => system.symbol(kind),
        }
    }

    /// Value of an SI number in that unit; a plain number stays.
    ///
    /// # Panics
    /// Never: the units are in the table of their kind, which a test reads.
    pub fn shown(&self, si: f64, system: UnitSystem) -> f64 {
        let ColumnKind::Quantity(kind) = self.kind else { return si };
        let unit = kind.unit(self.unit(system)).expect("unit of this kind");
        (si - unit.offset) / unit.factor
    }

    /// Decimals with which the column is shown.
    pub fn decimals(&self, system: UnitSystem) -> usize {
        match self.kind {
            ColumnKind::Text => 0,
            ColumnKind::Number(n) => n,
            ColumnKind::Quantity(kind) => match self.unit(system) {
                "kW" | "ton" | "kPa" | "ft wg" | "in" | "ft/s" => 1,
                "W" | "mm" => 0,
                _ if kind == K::StandardAirFlow && system == UnitSystem::Si => 1,
                _ if kind == K::PressureGradient => 2,
                _ if kind == K::HumidityRatio && system == UnitSystem::Si => 2,
                _ => system.decimals(kind),
            },
        }
    }
}
