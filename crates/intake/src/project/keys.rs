//! Every key of `project.toml` and `catalogue.toml`, declared once.

use super::spec::{COMMON, KeySpec, Limits, Need, Shape, TableSpec, ValueKind, between};
use drycoil_project::ClimateZone;
use drycoil_units::QuantityKind as Q;

const fn key(name: &'static str, kind: ValueKind, need: Need, doc: &'static str) -> KeySpec {
    KeySpec { name, kind, need, doc }
}

const fn q(kind: Q, low: &'static str, high: &'static str) -> ValueKind {
    ValueKind::Quantity(kind, between(low, high))
}

const fn default(text: &'static str, rule: &'static str) -> Need {
    Need::Default { text, rule, source: COMMON }
}

const fn sourced(text: &'static str, rule: &'static str, source: &'static str) -> Need {
    Need::Default { text, rule, source }
}

const REQUIRED: Need = Need::Required;
const FLOW: Limits = between("0 m3/s", "500 m3/s");
const PER_PERSON: Limits = between("0 L/s", "200 L/s");
pub(crate) const TEMPERATURE: ValueKind = q(Q::Temperature, "-60 degC", "90 degC");
pub(crate) const ROOM_TEMPERATURE: ValueKind = q(Q::Temperature, "5 degC", "40 degC");
const WATER_TEMPERATURE: ValueKind = q(Q::Temperature, "1 degC", "30 degC");
const HOT_WATER: ValueKind = q(Q::Temperature, "25 degC", "95 degC");
const DIFFERENCE: ValueKind = q(Q::TemperatureDifference, "0 K", "10 K");
const SHARE: ValueKind = q(Q::Fraction, "0 %", "100 %");
const SPARE: ValueKind = q(Q::Fraction, "0 %", "100 %");
const EFFICIENCY: ValueKind = q(Q::Fraction, "5 %", "100 %");
const PRESSURE_DROP: ValueKind = q(Q::PressureDifference, "0 Pa", "500 kPa");
const FAN_PRESSURE: ValueKind = q(Q::PressureDifference, "0 Pa", "5 kPa");
pub(crate) const HUMAN_HEAT: ValueKind = q(Q::Power, "0 W", "1000 W");
pub(crate) const FLUX: ValueKind = q(Q::HeatFlux, "0 W/m2", "20000 W/m2");
const AREA_FLOW: ValueKind = q(Q::StandardAirFlowPerArea, "0 m3/s m2", "0.1 m3/s m2");
const CHANGES: ValueKind = q(Q::AirChangesPerHour, "0 1/h", "100 1/h");

pub(crate) const PROJECT: TableSpec = TableSpec {
    path: "project",
    shape: Shape::Single,
    doc: "The job.",
    keys: &[
        key(
            "format",
            ValueKind::Count(0, 1_000_000),
            REQUIRED,
            "Number of the project format; this version reads and writes 1.",
        ),
        key("name", ValueKind::Name, REQUIRED, "Name of the job, printed on every document."),
        key("revision", ValueKind::Text, default("0", "first revision"), "Revision of the design."),
        key(
            "units",
            ValueKind::Word(&["si", "ip"]),
            default("si", "results are shown in SI units"),
            "Unit system in which results are shown. Input may use either, value by value.",
        ),
    ],
};

pub(crate) const SITE: TableSpec = TableSpec {
    path: "site",
    shape: Shape::Single,
    doc: "Where the building stands, and its weather.",
    keys: &[
        key(
            "place",
            ValueKind::Name,
            Need::Optional("the name of the weather station"),
            "Name of the place.",
        ),
        key(
            "weather",
            ValueKind::Name,
            REQUIRED,
            "Weather file, relative to the project folder, with `/` between folders; `..` may lead out of the folder.",
        ),
        key(
            "latitude",
            q(Q::Angle, "-90 deg", "90 deg"),
            Need::Optional("the weather station's"),
            "Latitude, north positive.",
        ),
        key(
            "longitude",
            q(Q::Angle, "-180 deg", "180 deg"),
            Need::Optional("the weather station's"),
            "Longitude, east positive.",
        ),
        key(
            "elevation",
            q(Q::Length, "-450 m", "4200 m"),
            Need::Optional("the weather station's"),
            "Height above sea level.",
        ),
        key(
            "pressure",
            q(Q::Pressure, "60 kPa", "108 kPa"),
            Need::Optional("the standard atmosphere at the elevation"),
            "Design air pressure.",
        ),
        key(
            "utc_offset",
            q(Q::Time, "-12 h", "14 h"),
            Need::Optional("the weather file's"),
            "Standard time minus UTC, negative west of Greenwich.",
        ),
        key(
            "first_weekday",
            ValueKind::Word(&["monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday"]),
            default("monday", "1 January is a Monday"),
            "Weekday of 1 January of the design year.",
        ),
        key(
            "holidays",
            ValueKind::Days,
            default("", "no holidays"),
            "Days that follow the holiday column of the profiles.",
        ),
        key(
            "fill_gaps_up_to",
            q(Q::Time, "0 h", "24 h"),
            default("0 h", "no gap of the weather file is filled"),
            "Longest gap of the weather file that is filled by straight lines; every filled hour is listed.",
        ),
        key(
            "ground_reflectance",
            SHARE,
            sourced(
                "20 %",
                "bare or grassy ground",
                "ASHRAE Handbook Fundamentals 2017 ch. 14 (from memory)",
            ),
            "Reflectance of the ground for solar radiation.",
        ),
        key(
            "ground_temperature",
            q(Q::Temperature, "-20 degC", "40 degC"),
            Need::Optional("the mean of the weather year"),
            "Temperature of the ground under ground floors.",
        ),
    ],
};

pub(crate) const CONDITIONS: TableSpec = TableSpec {
    path: "site.conditions",
    shape: Shape::Single,
    doc: "Design conditions of the station. Each value written replaces the one derived from the weather year.",
    keys: &[
        key("cooling_dry_bulb", TEMPERATURE, FROM_YEAR, "Cooling dry bulb, annual 0.4 %."),
        key("cooling_wet_bulb", TEMPERATURE, FROM_YEAR, "Mean coincident wet bulb of the cooling dry bulb."),
        key(
            "dehumidification_dew_point",
            TEMPERATURE,
            FROM_YEAR,
            "Dehumidification dew point, annual 0.4 %.",
        ),
        key(
            "dehumidification_dry_bulb",
            TEMPERATURE,
            FROM_YEAR,
            "Mean coincident dry bulb of the dew point.",
        ),
        key("tower_wet_bulb", TEMPERATURE, FROM_YEAR, "Evaporation wet bulb, annual 0.4 %."),
        key("heating_dry_bulb", TEMPERATURE, FROM_YEAR, "Heating dry bulb, annual 99.6 %."),
        key(
            "heating_humidity_ratio",
            q(Q::HumidityRatio, "0 g/kg", "20 g/kg"),
            FROM_YEAR,
            "Humidity ratio at the heating condition.",
        ),
        key(
            "daily_range",
            q(Q::TemperatureDifference, "0 K", "35 K"),
            FROM_YEAR,
            "Mean daily range of dry bulb in the hottest month.",
        ),
        key(
            "tau_beam",
            ValueKind::Monthly(0.05, 3.0),
            FROM_YEAR,
            "Clear-sky optical depth of beam radiation, by month.",
        ),
        key(
            "tau_diffuse",
            ValueKind::Monthly(0.5, 5.0),
            FROM_YEAR,
            "Clear-sky optical depth of diffuse radiation, by month.",
        ),
    ],
};
const FROM_YEAR: Need = Need::Optional("derived from the weather year");

pub(crate) const CRITERIA: TableSpec = TableSpec {
    path: "criteria",
    shape: Shape::Single,
    doc: "What the design must achieve, and defaults of rooms that do not say.",
    keys: &[
        key(
            "cooling_set_point",
            ROOM_TEMPERATURE,
            default("75 degF", "summer set point of offices"),
            "Cooling set point of rooms that do not say.",
        ),
        key(
            "heating_set_point",
            ROOM_TEMPERATURE,
            default("70 degF", "winter set point of offices"),
            "Heating set point of rooms that do not say.",
        ),
        key(
            "ceiling_height",
            q(Q::Length, "1.8 m", "60 m"),
            default("9 ft", "ceiling height of offices"),
            "Floor to ceiling of rooms that do not say.",
        ),
        key(
            "design_margin",
            DIFFERENCE,
            default("0 degF", "true margin at the design point"),
            "Least distance of the sensible water above the room dew-point limit at the design point.",
        ),
        key(
            "sensor_error",
            DIFFERENCE,
            default("1.0 degF", "error of a dew-point measurement"),
            "Error of the dew-point measurement; part of the required margin.",
        ),
        key(
            "water_control_band",
            DIFFERENCE,
            default("2 degF", "band of the water temperature control"),
            "Band within which the sensible-water temperature is controlled; part of the required margin.",
        ),
        key(
            "humidity_low",
            SHARE,
            default("20 %", "lower end of the comfort band"),
            "Lowest relative humidity of comfort.",
        ),
        key(
            "humidity_high",
            SHARE,
            default("60 %", "upper end of the comfort band"),
            "Highest relative humidity of comfort.",
        ),
        key(
            "code_dew_point",
            ROOM_DEW_POINT,
            sourced(
                "60 degF",
                "ceiling of the indoor dew point",
                "ANSI/ASHRAE 62.1-2019, humidity control (from memory)",
            ),
            "Ceiling of the indoor dew point by code.",
        ),
        key(
            "infiltration",
            AREA_FLOW,
            sourced(
                "0.045 cfm/ft2",
                "0.112 x 0.40 cfm/ft2 at 75 Pa, facade area alone",
                "ANSI/ASHRAE/IES 90.1-2019 Appendix G (form as quoted; 0.40 from memory)",
            ),
            "Air leakage per facade area before pressurization.",
        ),
        key(
            "pressurized_infiltration",
            SHARE,
            default("25 %", "infiltration left while the building is pressurized"),
            "Share of the infiltration that remains while the building is pressurized.",
        ),
        key(
            "pressurization",
            AREA_FLOW,
            default("0.05 cfm/ft2", "excess of primary air over exhaust"),
            "Excess of primary over exhaust air per facade area.",
        ),
        key(
            "night_cooling",
            ROOM_TEMPERATURE,
            default("85 degF", "night set-back in cooling"),
            "Upper limit of room temperature in unoccupied hours.",
        ),
        key(
            "night_heating",
            ROOM_TEMPERATURE,
            default("60 degF", "night set-back in heating"),
            "Lower limit of room temperature in unoccupied hours.",
        ),
        key(
            "start_up",
            q(Q::Time, "0 h", "12 h"),
            default("2 h", "start-up before occupancy"),
            "Hours before occupancy in which set points already apply.",
        ),
        key(
            "moisture_capacity",
            ValueKind::Number(1.0, 50.0),
            default("1", "room air alone, no buffering"),
            "Multiplier on the moisture capacity of room air.",
        ),
    ],
};
pub(crate) const ROOM_DEW_POINT: ValueKind = q(Q::Temperature, "0 degC", "25 degC");

pub(crate) const DEW_POINT: TableSpec = TableSpec {
    path: "dew_point",
    shape: Shape::Single,
    doc: "Pins of the three choices that keep coils dry. What is not written is solved.",
    keys: &[
        key(
            "supply",
            q(Q::Temperature, "-20 degC", "20 degC"),
            SOLVED,
            "Dew point of the delivered primary air.",
        ),
        key("room_limit", ROOM_DEW_POINT, SOLVED, "Highest dew point allowed in a room."),
        key(
            "water",
            q(Q::Temperature, "4 degC", "25 degC"),
            SOLVED,
            "Sensible water entering the terminal coils.",
        ),
    ],
};
const SOLVED: Need = Need::Optional("solved for the least yearly cost");

pub(crate) const PRIMARY_AIR: TableSpec = TableSpec {
    path: "primary_air",
    shape: Shape::Single,
    doc: "The primary-air unit.",
    keys: &[
        key(
            "outdoor_air_per_person",
            ValueKind::AirFlow(PER_PERSON),
            default("20 cfm", "flat rate that also carries the moisture of people"),
            "Primary air per person of rooms that do not say.",
        ),
        key(
            "flow_basis",
            ValueKind::Word(&["standard", "actual"]),
            default("standard", "air flows without a basis are standard flows"),
            "Basis of air flows written in cfm, L/s or m3/h. `scfm` and `acfm` always say their own.",
        ),
        key(
            "recovery",
            ValueKind::Word(&["none", "enthalpy-wheel", "sensible-plate"]),
            default("enthalpy-wheel", "heat and moisture recovered"),
            "Energy recovery from exhaust air.",
        ),
        key(
            "recovery_sensible",
            SHARE,
            default("75 %", "rotary wheel"),
            "Sensible effectiveness at balanced flow.",
        ),
        key(
            "recovery_latent",
            SHARE,
            default("70 %", "rotary wheel"),
            "Latent effectiveness at balanced flow.",
        ),
        key(
            "exhaust_transfer",
            q(Q::Fraction, "0 %", "20 %"),
            default("3 %", "wheel with purge"),
            "Share of exhaust air carried over into the supply.",
        ),
        key(
            "drying_water",
            q(Q::Temperature, "-10 degC", "15 degC"),
            default("42 degF", "chilled water of a drying coil"),
            "Water entering the drying coil.",
        ),
        key(
            "drying_water_rise",
            q(Q::TemperatureDifference, "1 K", "20 K"),
            default("12 degF", "rise in the drying coil"),
            "Rise of the water in the drying coil.",
        ),
        key(
            "coil_approach",
            q(Q::TemperatureDifference, "0.5 K", "10 K"),
            default("3 degF", "eight-row coil"),
            "Closest approach of the leaving dew point to the entering drying water.",
        ),
        key(
            "face_velocity",
            q(Q::Velocity, "0.5 m/s", "4 m/s"),
            default("450 fpm", "no carry-over of droplets"),
            "Highest face velocity of the drying coil.",
        ),
        key(
            "supply_fan_pressure",
            FAN_PRESSURE,
            default("5 in wg", "filters, wheel, coil and duct main"),
            "Total pressure of the supply fan: unit plus duct main.",
        ),
        key(
            "exhaust_fan_pressure",
            FAN_PRESSURE,
            default("2.5 in wg", "wheel and duct main"),
            "Total pressure of the exhaust fan.",
        ),
        key(
            "fan_efficiency",
            EFFICIENCY,
            default("62 %", "fan, drive and motor"),
            "Efficiency of fan, drive and motor together.",
        ),
        key(
            "duct_gain",
            DIFFERENCE,
            default("2 degF", "insulated duct main"),
            "Temperature gain of the air in the duct.",
        ),
        key(
            "duct_leakage",
            q(Q::Fraction, "0 %", "30 %"),
            default("3 %", "sealed and tested duct"),
            "Share of supply air lost before it reaches the rooms.",
        ),
        key(
            "reheat",
            ValueKind::Word(&["none", "coil", "wrap-around", "heat-recovery"]),
            default("none", "delivered cold"),
            "Reheat after drying.",
        ),
        key(
            "reheat_temperature",
            q(Q::Temperature, "5 degC", "30 degC"),
            sourced(
                "60 degF",
                "limit of reheating ventilation air",
                "ANSI/ASHRAE/IES 90.1-2016 6.5.2.6 (from memory)",
            ),
            "Temperature after reheat.",
        ),
        key(
            "winter_temperature",
            q(Q::Temperature, "5 degC", "35 degC"),
            default("60 degF", "no draught in winter"),
            "Lowest delivered temperature in winter.",
        ),
        key(
            "largest_unit",
            ValueKind::AirFlow(between("0.05 m3/s", "100 m3/s")),
            default("30000 cfm", "largest unit that ships in sections"),
            "Largest flow of one unit; more flow means more units.",
        ),
        key(
            "spare",
            SPARE,
            default("10 %", "spare fan and coil capacity"),
            "Spare capacity above the sum of needs.",
        ),
    ],
};

pub(crate) const TERMINALS: TableSpec = TableSpec {
    path: "terminals",
    shape: Shape::Single,
    doc: "Terminal units.",
    keys: &[
        key(
            "coil_air",
            ValueKind::Word(&["room", "plenum"]),
            default("room", "ducted or open return from the room"),
            "Air that meets the sensible coil.",
        ),
        key(
            "plenum_share",
            SHARE,
            default("0 %", "all heat stays in the room"),
            "Share of lighting and roof heat that goes to the ceiling plenum.",
        ),
        key("spare", SPARE, default("10 %", "spare coil capacity"), "Spare capacity of the sensible coil."),
        key(
            "external_pressure",
            q(Q::PressureDifference, "0 Pa", "300 Pa"),
            default("0.25 in wg", "discharge duct and diffusers"),
            "Pressure outside the unit that its fan must overcome.",
        ),
        key(
            "lowest_discharge",
            q(Q::Temperature, "8 degC", "25 degC"),
            default("55 degF", "no draught from the diffuser"),
            "Lowest discharge temperature in cooling.",
        ),
        key(
            "highest_discharge",
            q(Q::Temperature, "20 degC", "60 degC"),
            default("85 degF", "warm air still mixes into the room"),
            "Highest discharge temperature in heating.",
        ),
        key(
            "sound_limit",
            ValueKind::Number(15.0, 65.0),
            default("35", "offices"),
            "Highest room criterion, NC.",
        ),
        key(
            "water_rise",
            q(Q::TemperatureDifference, "1 K", "15 K"),
            default("6 degF", "medium-temperature water"),
            "Rise of the sensible water in dry units of server rooms, and in terminals until they are chosen; from then on their ratings decide.",
        ),
        key(
            "heating",
            ValueKind::Word(&["hot-water", "electric", "perimeter"]),
            default("hot-water", "coil in the terminal"),
            "How rooms are heated.",
        ),
        key(
            "heating_water",
            HOT_WATER,
            default("120 degF", "low-temperature hot water"),
            "Hot water entering.",
        ),
        key(
            "heating_water_drop",
            q(Q::TemperatureDifference, "1 K", "40 K"),
            default("20 degF", "low-temperature hot water"),
            "Drop of the hot water.",
        ),
        key(
            "most_per_room",
            ValueKind::Count(1, 20),
            default("2", "more terminals point to another system"),
            "Rooms that need more terminals are screened.",
        ),
    ],
};

pub(crate) const WATER: TableSpec = TableSpec {
    path: "water",
    shape: Shape::Single,
    doc: "Water distribution.",
    keys: &[
        key(
            "arrangement",
            ValueKind::Word(&["single-cold", "separate", "return-reuse"]),
            default("return-reuse", "return water of the drying coil feeds the terminals"),
            "How cold and sensible water are made; all three are sized and compared.",
        ),
        key(
            "pipe_friction",
            q(Q::PressureGradient, "10 Pa/m", "2000 Pa/m"),
            default("4 ft wg/100 ft", "pipe sizing limit"),
            "Highest pipe friction.",
        ),
        key(
            "circuit_length",
            q(Q::Length, "5 m", "5000 m"),
            default("600 ft", "farthest circuit, out and back"),
            "Length of the farthest circuit, out and back.",
        ),
        key(
            "fittings",
            q(Q::Fraction, "0 %", "300 %"),
            default("50 %", "fittings as straight length"),
            "Allowance for fittings as a share of the straight length.",
        ),
        key(
            "terminal_drop",
            PRESSURE_DROP,
            default("12 ft wg", "coil and control valve"),
            "Pressure drop of terminal coil and control valve.",
        ),
        key(
            "machine_drop",
            PRESSURE_DROP,
            default("15 ft wg", "evaporator or boiler"),
            "Pressure drop of a chiller or boiler.",
        ),
        key(
            "pump_efficiency",
            EFFICIENCY,
            default("60 %", "pump, drive and motor"),
            "Efficiency of pump, drive and motor together.",
        ),
        key(
            "diversity",
            q(Q::Fraction, "20 %", "100 %"),
            Need::Optional("computed from the design days"),
            "Coincident load of the sensible loop over the sum of the peaks.",
        ),
        key(
            "hours",
            q(Q::Time, "100 h", "8784 h"),
            default("3500 h", "pumps of an office building in one year"),
            "Operating hours in a year, for the limits of pipe flow.",
        ),
    ],
};

pub(crate) const PLANT: TableSpec = TableSpec {
    path: "plant",
    shape: Shape::Single,
    doc: "Chillers, tower, boiler.",
    keys: &[
        key(
            "chillers",
            ValueKind::Count(1, 20),
            default("2", "one can be out of service"),
            "Number of chillers on each loop.",
        ),
        key(
            "chiller_cop",
            ValueKind::Number(1.5, 12.0),
            default("5.5", "water-cooled chiller at its rating point"),
            "Coefficient of performance at the rating point.",
        ),
        key(
            "rating_chilled",
            WATER_TEMPERATURE,
            sourced("44 degF", "rating point", "AHRI 550/590 (from memory)"),
            "Chilled water leaving at the rating point.",
        ),
        key(
            "rating_condenser",
            q(Q::Temperature, "5 degC", "50 degC"),
            sourced("85 degF", "rating point", "AHRI 550/590 (from memory)"),
            "Condenser water entering at the rating point.",
        ),
        key(
            "chiller_iplv",
            ValueKind::Number(1.5, 20.0),
            Need::Optional("part load from the second-law model alone"),
            "Integrated part-load value as a coefficient of performance.",
        ),
        key("spare", SPARE, default("10 %", "spare capacity"), "Spare capacity of the plant."),
        key(
            "tower_approach",
            q(Q::TemperatureDifference, "1 K", "15 K"),
            default("7 degF", "tower approach"),
            "Approach of the tower at design.",
        ),
        key(
            "tower_range",
            q(Q::TemperatureDifference, "2 K", "20 K"),
            default("10 degF", "tower range"),
            "Range of the tower at design.",
        ),
        key(
            "tower_fan",
            q(Q::Fraction, "0.1 %", "10 %"),
            sourced(
                "1.3 %",
                "40.2 gpm/hp at 10 degF range",
                "ANSI/ASHRAE/IES 90.1 propeller or axial fan towers (from memory)",
            ),
            "Fan power of the tower as a share of the heat rejected.",
        ),
        key(
            "cycles",
            ValueKind::Number(1.5, 20.0),
            default("4", "cycles of concentration"),
            "Cycles of concentration of the tower water.",
        ),
        key(
            "economizer",
            ValueKind::Flag,
            default("true", "the warm return can be cooled by the tower"),
            "Whether a waterside economizer exists.",
        ),
        key(
            "economizer_approach",
            DIFFERENCE,
            default("3 degF", "plate exchanger"),
            "Approach of the economizer's exchanger.",
        ),
        key(
            "heating",
            ValueKind::Word(&["boiler", "electric-boiler", "heat-recovery-chiller"]),
            default("boiler", "condensing fuel boiler"),
            "Source of heat.",
        ),
        key(
            "boiler_efficiency",
            q(Q::Fraction, "30 %", "110 %"),
            default("90 %", "condensing boiler on 120 degF water"),
            "Efficiency of the boiler on the lower heating value basis of the price.",
        ),
        key(
            "largest_chiller",
            q(Q::Power, "10 kW", "20 MW"),
            default("500 ton", "packaged water-cooled chiller"),
            "Largest capacity of one chiller.",
        ),
    ],
};

pub(crate) const DUCTS: TableSpec = TableSpec {
    path: "ducts",
    shape: Shape::Single,
    doc: "Air ducts of both schemes.",
    keys: &[
        key(
            "friction",
            q(Q::PressureGradient, "0.1 Pa/m", "20 Pa/m"),
            default("0.08 in wg/100 ft", "equal friction"),
            "Friction of the duct main.",
        ),
        key(
            "velocity",
            q(Q::Velocity, "1 m/s", "25 m/s"),
            default("1800 fpm", "sound in an office ceiling"),
            "Highest velocity in the main.",
        ),
        key(
            "height",
            q(Q::Length, "100 mm", "3 m"),
            default("14 in", "clear height above the ceiling"),
            "Largest duct height in the ceiling.",
        ),
        key(
            "main_length",
            q(Q::Length, "1 m", "2000 m"),
            default("200 ft", "main of a mid-size building"),
            "Length of the main.",
        ),
        key(
            "all_air_supply",
            q(Q::Temperature, "5 degC", "20 degC"),
            default("55 degF", "supply air of an all-air system"),
            "Supply temperature of the all-air alternative.",
        ),
    ],
};

pub(crate) const YEAR: TableSpec = TableSpec {
    path: "year",
    shape: Shape::Single,
    doc: "How the year is simulated and how the systems are run in it. A weather file of 8784 hours is a leap year with its 29 February; one of 8760 hours is a common year.",
    keys: &[
        key(
            "step",
            q(Q::Time, "30 s", "1 h"),
            default("15 min", "interval of meters and of room control"),
            "Time step; must divide an hour.",
        ),
        key(
            "schemes",
            ValueKind::Word(&["both", "decoupled", "all-air"]),
            default("both", "the schemes are compared"),
            "Schemes to simulate.",
        ),
        key(
            "night_dew_point_limit",
            ROOM_DEW_POINT,
            Need::Optional("no limit at night"),
            "Dew point of the wettest room above which the primary-air unit runs in unoccupied hours.",
        ),
        key(
            "night_air",
            ValueKind::Word(&["recirculated", "outdoor"]),
            default("recirculated", "return air through a recirculation damper"),
            "Air that the primary-air unit takes when it runs at night.",
        ),
        key(
            "coil_release",
            ValueKind::Word(&["when-dry", "at-once"]),
            default("when-dry", "the coil valve stays shut until the room is dry"),
            "When coil valves may be open, at start-up and in use.",
        ),
        key(
            "supply_dew_point_reset",
            ValueKind::Word(&["constant", "when-dry"]),
            default("constant", "the supply dew point is held"),
            "Reset of the supply dew point: `when-dry` raises it while every room is drier than its limit.",
        ),
        key(
            "supply_dew_point_rise",
            DIFFERENCE,
            default("5 degF", "range of the reset"),
            "Most that the supply dew point is raised above its design value.",
        ),
        key(
            "supply_dew_point_margin",
            DIFFERENCE,
            default("2 degF", "sensor error and a little"),
            "Distance of the wettest room below its dew-point limit at which the raising ends.",
        ),
        key(
            "water_reset",
            ValueKind::Word(&["constant", "follow-wettest-room"]),
            default("constant", "the sensible water is held"),
            "Reset of the sensible water: `follow-wettest-room` holds it above the highest room dew point.",
        ),
        key(
            "water_reset_offset",
            DIFFERENCE,
            default("2 degF", "distance above the highest room dew point"),
            "Distance of the sensible water above the highest room dew point.",
        ),
        key(
            "water_reset_rise",
            DIFFERENCE,
            default("4 degF", "ceiling of the reset, so that rooms are still cooled"),
            "Most that the sensible water is raised above its design value.",
        ),
        key(
            "primary_air_control",
            PRIMARY_CONTROL,
            default("constant", "design flow in every occupied hour"),
            "Primary air of rooms that do not say: `constant`, by the `profile` of people as a time schedule, or by `occupancy` as a sensor in the room; never less than the moisture need.",
        ),
        key(
            "standby",
            ValueKind::Word(&["where-allowed", "never"]),
            sourced(
                "where-allowed",
                "no outdoor air in an empty room of a kind that allows it, where occupancy is sensed",
                "ANSI/ASHRAE 62.1-2019, occupied-standby mode (from memory)",
            ),
            "Standby of empty rooms in occupied hours, in both schemes.",
        ),
        key(
            "standby_relaxation",
            DIFFERENCE,
            sourced(
                "1 degF",
                "both set points are relaxed in standby",
                "ANSI/ASHRAE/IES 90.1-2019 6.5.3.8 (from memory)",
            ),
            "Relaxation of both set points of a room in standby.",
        ),
    ],
};
pub(crate) const PRIMARY_CONTROL: ValueKind = ValueKind::Word(&["constant", "profile", "occupancy"]);

const HYSTERESIS: ValueKind = q(Q::TemperatureDifference, "0.05 K", "10 K");
const DELAY: ValueKind = q(Q::Time, "0 s", "2 h");

pub(crate) const SEQUENCE: TableSpec = TableSpec {
    path: "sequence",
    shape: Shape::Single,
    doc: "Settings of the dew-point sequence: what happens, stage by stage, when the dew point of a room rises. The room limit, the design water and the design dew point of the primary air are those of the design.",
    keys: &[
        key(
            "order",
            ValueKind::Word(&["valves-first", "water-first"]),
            default("valves-first", "one wet zone does not take cooling from the building"),
            "What comes first when coils are at risk: the zones shut their own coil valves, or the water of the building follows the dew point.",
        ),
        key(
            "notice_hysteresis",
            HYSTERESIS,
            default("0.5 degF", "above the noise of a sensor"),
            "Fall of a room dew point below the limit that ends a notice.",
        ),
        key(
            "notice_delay",
            DELAY,
            default("1 min", "one passing reading is no notice"),
            "Delay of a notice.",
        ),
        key(
            "more_air_rise",
            DIFFERENCE,
            default("0.5 degF", "a continued rise"),
            "Rise of a room dew point above the limit that brings alarm and more primary air.",
        ),
        key(
            "more_air_delay",
            DELAY,
            default("2 min", "the rise lasts"),
            "Delay of alarm and more primary air.",
        ),
        key(
            "more_air_flow",
            q(Q::Fraction, "100 %", "300 %"),
            default("150 %", "half as much again, where the inlet of the terminal takes it"),
            "Primary air of a zone with its damper fully open, over its design flow; never more than its terminals take.",
        ),
        key(
            "release_delay",
            DELAY,
            default("5 min", "a release must last"),
            "Delay of the release of notice and alarm.",
        ),
        key(
            "guard_margin",
            DIFFERENCE,
            default("2 degF", "more than the error of two sensors"),
            "Primary air must be drier than the room by this dew-point margin before more of it is given.",
        ),
        key(
            "guard_hysteresis",
            HYSTERESIS,
            default("1 degF", "above the noise of a sensor"),
            "Further margin before more primary air is allowed again.",
        ),
        key(
            "guard_delay",
            DELAY,
            default("2 min", "dry primary air must last"),
            "Delay before more primary air is allowed again.",
        ),
        key(
            "shut_margin",
            q(Q::TemperatureDifference, "-1.5 K", "10 K"),
            Need::Optional("0.5 degF, or less where limit and design water leave less room above the alarm"),
            "Water less room dew point at which a coil valve shuts.",
        ),
        key(
            "shut_hysteresis",
            HYSTERESIS,
            default("1 degF", "above the noise of two sensors"),
            "Further distance before a coil valve opens again.",
        ),
        key(
            "shut_delay",
            DELAY,
            default("10 s", "a wet coil is not waited for"),
            "Delay before a coil valve shuts.",
        ),
        key(
            "shut_release_delay",
            DELAY,
            default("5 min", "a release must last"),
            "Delay before a coil valve opens again.",
        ),
        key(
            "water_offset",
            DIFFERENCE,
            default("2 degF", "sensor error and a little"),
            "Distance of the sensible water above the room dew point that it follows.",
        ),
        key(
            "water_rise",
            DIFFERENCE,
            default("8 degF", "ceiling of the reset, so that rooms are still cooled"),
            "Most that the sequence raises the sensible water above its design temperature.",
        ),
        key(
            "water_lowest",
            WATER_TEMPERATURE,
            Need::Optional("the drying water, the coldest that can reach a coil"),
            "Coldest water that is assumed when its sensor fails.",
        ),
        key(
            "water_fall_per_minute",
            q(Q::TemperatureDifference, "0.01 K", "10 K"),
            default("0.5 degF", "rooms dry before the water is cold again"),
            "Fastest fall of the water set point within a minute; it rises at once.",
        ),
        key(
            "water_follow_delay",
            DELAY,
            default("2 min", "valves and primary air act first"),
            "Delay before the water follows the dew point.",
        ),
        key(
            "water_release_hysteresis",
            HYSTERESIS,
            default("0.5 degF", "above the noise of a sensor"),
            "Distance below the design water that ends following.",
        ),
        key(
            "water_release_delay",
            DELAY,
            default("10 min", "a release must last"),
            "Delay before following ends.",
        ),
        key(
            "ignored_votes",
            ValueKind::Count(0, 1000),
            default("1", "one zone never warms the water of the building"),
            "Votes that are ignored before the water of the building is warmed; no zone may have more votes than this.",
        ),
        key(
            "primary_wet_limit",
            ROOM_DEW_POINT,
            Need::Optional("3 degF above the design supply dew point, at most 1 degF below the room limit"),
            "Dew point above which the primary air counts as wet.",
        ),
        key(
            "primary_wet_hysteresis",
            HYSTERESIS,
            default("1 degF", "above the noise of a sensor"),
            "Fall below `primary_wet_limit` that ends wet primary air.",
        ),
        key(
            "primary_wet_delay",
            DELAY,
            default("1 min", "one passing reading is no alarm"),
            "Delay of wet primary air.",
        ),
        key(
            "primary_wet_release_delay",
            DELAY,
            default("5 min", "a release must last"),
            "Delay of the release of wet primary air.",
        ),
        key(
            "primary_start_delay",
            DELAY,
            default("15 min", "run-up of fans and drying coil"),
            "Time that primary air may take to become dry after a start.",
        ),
        key(
            "drying_limit",
            ROOM_DEW_POINT,
            Need::Optional(
                "the room limit, or the dew point at which a coil valve opens where that is lower",
            ),
            "Room dew point at or below which start-up drying ends.",
        ),
        key(
            "drying_delay",
            DELAY,
            default("2 min", "a dry room stays dry"),
            "Delay of the end of start-up drying.",
        ),
        key(
            "drying_time_limit",
            q(Q::Time, "1 min", "24 h"),
            default("90 min", "a room that stays humid needs help"),
            "Longest start-up drying; rooms that are still humid then keep their coil valves shut.",
        ),
        key(
            "start_delay",
            DELAY,
            default("1 min", "a start must last"),
            "Delay of start, stop, and return after life safety or smoke control had priority.",
        ),
        key(
            "suspect_difference",
            DIFFERENCE,
            default("4 degF", "more than rooms of one floor differ"),
            "Distance of a room dew point to those of all its neighbours that makes its sensor suspect.",
        ),
        key(
            "suspect_hysteresis",
            HYSTERESIS,
            default("1 degF", "above the noise of a sensor"),
            "Nearness to a neighbour, below `suspect_difference`, that ends suspicion.",
        ),
        key(
            "suspect_delay",
            DELAY,
            default("15 min", "rooms may differ for a while"),
            "Delay of suspicion and of its end.",
        ),
        key(
            "sensor_return_delay",
            DELAY,
            default("5 min", "a loose wire comes and goes"),
            "Delay before a failed sensor is believed again.",
        ),
        key(
            "proxy_margin",
            DIFFERENCE,
            default("1 degF", "rooms of one floor differ"),
            "Margin on the dew points of neighbours that stand for an own one.",
        ),
        key(
            "sensor_low",
            TEMPERATURE,
            default("-30 degC", "no room is drier"),
            "Lowest plausible air reading.",
        ),
        key(
            "sensor_high",
            TEMPERATURE,
            default("45 degC", "no room is warmer"),
            "Highest plausible air reading.",
        ),
        key(
            "water_sensor_low",
            q(Q::Temperature, "-10 degC", "90 degC"),
            default("1 degC", "water that still flows"),
            "Lowest plausible water reading.",
        ),
        key(
            "water_sensor_high",
            q(Q::Temperature, "-10 degC", "90 degC"),
            default("50 degC", "no chilled loop is warmer"),
            "Highest plausible water reading.",
        ),
        key(
            "sensors",
            ValueKind::Word(&["every-zone", "listed"]),
            default("every-zone", "each coil is protected by a reading of its own air"),
            "Zones that carry a dew-point sensor: every one, or those listed in `zones` with `sensor = \"own\"`.",
        ),
        key(
            "neighbours",
            ValueKind::Count(0, 10),
            default("2", "rooms beside each other stand beside each other in the list"),
            "Zones on the same floor, this many before and after a zone in the room list, with which its reading is compared.",
        ),
        key(
            "zones",
            ValueKind::Rows(SEQUENCE_ZONE),
            Need::Optional("nothing special is said of any zone"),
            "Zones of which more is said.",
        ),
    ],
};

/// Keys of `sequence.zones`.
pub(crate) const SEQUENCE_ZONE: &[KeySpec] = &[
    key("zone", ValueKind::Name, REQUIRED, "Zone; the id of the room for a room that is a zone of its own."),
    key(
        "sensor",
        ValueKind::Word(&["own", "neighbours"]),
        Need::Optional("as `sensors` says"),
        "Where the zone has its dew point from: a sensor of its own, or those of its neighbours.",
    ),
    key(
        "votes",
        ValueKind::Count(0, 1000),
        default("1", "zones count alike"),
        "Votes of the zone for warmer water; 0 for a zone that must never warm the building.",
    ),
    key(
        "neighbours",
        ValueKind::Text,
        Need::Optional("by the room list"),
        "Neighbours of the zone, separated by commas; an empty text for none.",
    ),
];

pub(crate) const ALL_AIR: TableSpec = TableSpec {
    path: "all_air",
    shape: Shape::Single,
    doc: "What is assumed of the all-air alternative, a single-duct variable-air-volume system with reheat. Machine models, spare capacity of the plant, set points and hours are those of the decoupled scheme.",
    keys: &[
        key(
            "climate_zone",
            ValueKind::Word(&ClimateZone::WORDS),
            Need::Optional("the humid climates, which ask for recovery soonest but for the coldest ones"),
            "Climate zone of ANSI/ASHRAE Standard 169, by which the energy standard asks for recovery.",
        ),
        key(
            "supply",
            q(Q::Temperature, "5 degC", "20 degC"),
            Need::Optional("`ducts.all_air_supply`"),
            "Supply air at design.",
        ),
        key(
            "minimum_flow",
            ValueKind::Word(&["single-maximum", "dual-maximum"]),
            sourced(
                "dual-maximum",
                "low minimum, flow rises in heating",
                "ANSI/ASHRAE/IES 90.1-2019 6.5.2.1 (from memory)",
            ),
            "Practice of minimum flow of the boxes.",
        ),
        key(
            "single_minimum",
            q(Q::Fraction, "0 %", "100 %"),
            sourced(
                "30 %",
                "usual minimum at which reheat works",
                "ANSI/ASHRAE/IES 90.1-2019 6.5.2.1 (from memory)",
            ),
            "Minimum flow with `single-maximum`, as a share of the cooling maximum; outdoor air counts where it is more.",
        ),
        key(
            "dual_minimum",
            q(Q::Fraction, "0 %", "100 %"),
            sourced("20 %", "minimum with two maxima", "ANSI/ASHRAE/IES 90.1-2019 6.5.2.1 (from memory)"),
            "Minimum flow with `dual-maximum`, as a share of the cooling maximum; outdoor air counts where it is more.",
        ),
        key(
            "minimum_over_outdoor",
            ValueKind::Number(1.0, 3.0),
            sourced(
                "1.5",
                "minimum primary air",
                "ANSI/ASHRAE 62.1-2019, simplified procedure (from memory)",
            ),
            "Least flow of a box over the outdoor air of its zone.",
        ),
        key(
            "heating_maximum",
            q(Q::Fraction, "5 %", "100 %"),
            sourced("50 %", "most air in heating", "ANSI/ASHRAE/IES 90.1-2019 6.5.2.1 (from memory)"),
            "Most flow in heating with `dual-maximum`, as a share of the cooling maximum.",
        ),
        key(
            "heating_rise",
            q(Q::TemperatureDifference, "3 K", "30 K"),
            sourced(
                "20 degF",
                "overhead warm air still mixes",
                "ANSI/ASHRAE/IES 90.1-2019 6.5.2.1.1 (from memory)",
            ),
            "Discharge in heating above the heating set point, at most.",
        ),
        key(
            "boxes",
            ValueKind::Word(&["hot-water-reheat", "electric-reheat"]),
            default("hot-water-reheat", "single-duct boxes with hot-water coils"),
            "Heater of the boxes.",
        ),
        key(
            "heating_water",
            HOT_WATER,
            Need::Optional("`terminals.heating_water`"),
            "Hot water to the boxes.",
        ),
        key(
            "economizer",
            ValueKind::Word(&[
                "none",
                "fixed-dry-bulb",
                "differential-dry-bulb",
                "fixed-enthalpy",
                "differential-enthalpy",
            ]),
            sourced(
                "fixed-enthalpy",
                "fixed enthalpy with fixed dry bulb, allowed in every climate",
                "ANSI/ASHRAE/IES 90.1-2019 Table 6.5.1.1.3 (from memory)",
            ),
            "Airside economizer. The two of enthalpy are also off above `economizer_dry_bulb`.",
        ),
        key(
            "economizer_dry_bulb",
            q(Q::Temperature, "0 degC", "35 degC"),
            sourced("75 degF", "high limit", "ANSI/ASHRAE/IES 90.1-2019 Table 6.5.1.1.3 (from memory)"),
            "Outdoor dry bulb above which the economizer is off.",
        ),
        key(
            "economizer_enthalpy",
            q(Q::SpecificEnthalpy, "15 kJ/kg", "60 kJ/kg"),
            sourced("47 kJ/kg", "high limit", "ANSI/ASHRAE/IES 90.1-2019 Table 6.5.1.1.3 (from memory)"),
            "Outdoor enthalpy above which it is off, counted from dry air at 0 degC and liquid water at 0 degC (28 Btu/lb counted from 0 degF is 47 kJ/kg).",
        ),
        key(
            "supply_reset",
            ValueKind::Word(&["none", "outdoor-air", "warmest-zone"]),
            sourced(
                "warmest-zone",
                "reset of multiple-zone systems",
                "ANSI/ASHRAE/IES 90.1-2019 6.5.3.5 (from memory)",
            ),
            "Reset of the supply-air temperature.",
        ),
        key(
            "supply_reset_rise",
            DIFFERENCE,
            sourced(
                "5 degF",
                "a quarter of the difference between supply and room",
                "ANSI/ASHRAE/IES 90.1-2019 6.5.3.5 (from memory)",
            ),
            "Most that the supply air is raised above its design value.",
        ),
        key(
            "supply_reset_target",
            q(Q::Fraction, "30 %", "100 %"),
            default("85 %", "the most open box is nearly open"),
            "Flow of the most open box, as a share of its largest, at which the reset by the warmest zone holds.",
        ),
        key(
            "supply_reset_warm",
            TEMPERATURE,
            default("70 degF", "outdoor-air reset ends"),
            "Outdoor temperature at and above which the supply air is at design, with `outdoor-air`.",
        ),
        key(
            "supply_reset_cold",
            TEMPERATURE,
            default("50 degF", "outdoor-air reset is full"),
            "Outdoor temperature at and below which the supply air is raised fully, with `outdoor-air`.",
        ),
        key(
            "supply_reset_dew_point",
            q(Q::Temperature, "-20 degC", "30 degC"),
            default("55 degF", "no reset while outdoor air is humid"),
            "Outdoor dew point above which the supply air is not raised, so that rooms stay dry.",
        ),
        key(
            "supply_fan_pressure",
            FAN_PRESSURE,
            default("5.5 in wg", "filters, coils, duct main and boxes"),
            "Total pressure of the supply fan at design.",
        ),
        key(
            "return_fan_pressure",
            FAN_PRESSURE,
            default("1 in wg", "return path and relief"),
            "Total pressure of the return or relief fan at design.",
        ),
        key(
            "duct_pressure",
            FAN_PRESSURE,
            sourced(
                "1.2 in wg",
                "set point at the duct sensor",
                "ANSI/ASHRAE/IES 90.1-2019 6.5.3.2.2 (from memory)",
            ),
            "Pressure at the duct sensor at design, a part of that of the supply fan.",
        ),
        key(
            "pressure_reset",
            ValueKind::Word(&["none", "most-open-box"]),
            sourced(
                "most-open-box",
                "boxes on the network",
                "ANSI/ASHRAE/IES 90.1-2019 6.5.3.2.3 (from memory)",
            ),
            "Reset of the duct pressure.",
        ),
        key(
            "duct_pressure_least",
            FAN_PRESSURE,
            default("0.3 in wg", "lowest set point of the reset"),
            "Lowest pressure at the duct sensor with reset.",
        ),
        key(
            "fan_efficiency",
            EFFICIENCY,
            default("62 %", "fan, drive and motor, as in the decoupled scheme"),
            "Efficiency of fan, drive and motor together.",
        ),
        key(
            "duct_gain",
            DIFFERENCE,
            default("2 degF", "insulated duct main, as in the decoupled scheme"),
            "Temperature gain of the air in the duct.",
        ),
        key(
            "duct_leakage",
            q(Q::Fraction, "0 %", "30 %"),
            default("3 %", "sealed and tested duct, as in the decoupled scheme"),
            "Share of supply air lost before it reaches the rooms.",
        ),
        key(
            "largest_unit",
            ValueKind::AirFlow(between("0.05 m3/s", "200 m3/s")),
            default("60000 cfm", "largest packaged air handler"),
            "Largest flow of one air handler; more flow means more of them.",
        ),
        key(
            "spare",
            SPARE,
            default("10 %", "spare flow, as in the decoupled scheme"),
            "Spare flow of boxes and air handlers.",
        ),
        key(
            "recovery",
            ValueKind::Word(&["required", "none", "always"]),
            sourced(
                "required",
                "by supply flow and outdoor-air share",
                "ANSI/ASHRAE/IES 90.1-2019 Table 6.5.6.1.2-1, humid climates (from memory)",
            ),
            "Energy recovery of the air handler.",
        ),
        key(
            "recovery_sensible",
            SHARE,
            sourced(
                "60 %",
                "wheel that meets the required enthalpy recovery of 50 %",
                "ANSI/ASHRAE/IES 90.1-2019 6.5.6.1 (from memory)",
            ),
            "Sensible effectiveness at balanced flow.",
        ),
        key(
            "recovery_latent",
            SHARE,
            sourced(
                "50 %",
                "wheel that meets the required enthalpy recovery of 50 %",
                "ANSI/ASHRAE/IES 90.1-2019 6.5.6.1 (from memory)",
            ),
            "Latent effectiveness at balanced flow.",
        ),
        key(
            "recovery_pressure",
            FAN_PRESSURE,
            default("0.8 in wg", "wheel, each side"),
            "Pressure that the recovery adds to each fan.",
        ),
        key(
            "cold_water",
            q(Q::Temperature, "1 degC", "15 degC"),
            sourced(
                "44 degF",
                "chilled water of an all-air system",
                "ANSI/ASHRAE/IES 90.1-2019 Appendix G (from memory)",
            ),
            "Cold water entering the coil.",
        ),
        key(
            "cold_water_rise",
            q(Q::TemperatureDifference, "1 K", "20 K"),
            sourced("15 degF", "rise in the coil", "ANSI/ASHRAE/IES 90.1-2019 6.5.4.7 (from memory)"),
            "Rise of the cold water in the coil.",
        ),
        key(
            "multiple_zone",
            ValueKind::Word(&["simplified-2019", "critical-zone"]),
            sourced("simplified-2019", "simplified procedure", "ANSI/ASHRAE 62.1-2019 6.2.4 (from memory)"),
            "How outdoor air of the rooms becomes outdoor air of the air handler: efficiency from diversity, or that of the critical zone.",
        ),
        key(
            "outdoor_air_reset",
            ValueKind::Word(&["design", "dynamic"]),
            sourced(
                "dynamic",
                "ventilation optimization of multiple-zone systems",
                "ANSI/ASHRAE/IES 90.1-2019 6.5.3.3 (from memory)",
            ),
            "Whether outdoor air of the air handler follows the zones hour by hour.",
        ),
        key(
            "demand_control",
            ValueKind::Word(&["required", "none", "every-room"]),
            sourced("required", "dense and large rooms", "ANSI/ASHRAE/IES 90.1-2019 6.4.3.8 (from memory)"),
            "Demand-controlled ventilation of the all-air scheme.",
        ),
        key(
            "demand_control_density",
            q(Q::PeopleDensity, "0 person/m2", "5 person/m2"),
            sourced("25 person/1000 ft2", "dense rooms", "ANSI/ASHRAE/IES 90.1-2019 6.4.3.8 (from memory)"),
            "Density from which demand control is required.",
        ),
        key(
            "demand_control_area",
            q(Q::Area, "0 m2", "100000 m2"),
            sourced("500 ft2", "large rooms", "ANSI/ASHRAE/IES 90.1-2019 6.4.3.8 (from memory)"),
            "Floor area above which demand control is required.",
        ),
    ],
};

const UNPRICED: Need = Need::Optional("not priced, and said to be so");

pub(crate) const ECONOMICS: TableSpec = TableSpec {
    path: "economics",
    shape: Shape::Single,
    doc: "Prices. Nothing is priced by default.",
    keys: &[
        key("currency", ValueKind::Text, default("currency", "no currency stated"), "Word for the currency."),
        key("electricity", q(Q::EnergyPrice, "0 per kWh", "1000 per kWh"), UNPRICED, "Price of electricity."),
        key("fuel", q(Q::EnergyPrice, "0 per kWh", "1000 per kWh"), UNPRICED, "Price of heating fuel."),
        key(
            "electricity_periods",
            ValueKind::Rows(PRICE_PERIOD),
            Need::Optional("the flat price holds always"),
            "Windows with an energy price of their own; outside them `electricity` holds.",
        ),
        key(
            "electricity_demand",
            ValueKind::Rows(DEMAND_CHARGE),
            Need::Optional("no charge on demand"),
            "Charges on the highest mean power of a month.",
        ),
        key(
            "electricity_monthly",
            ValueKind::Number(0.0, 1e9),
            Need::Optional("no fixed charge"),
            "Fixed charge of electricity each month.",
        ),
        key(
            "fuel_periods",
            ValueKind::Rows(PRICE_PERIOD),
            Need::Optional("the flat price holds always"),
            "Windows with a fuel price of their own; outside them `fuel` holds.",
        ),
        key(
            "fuel_monthly",
            ValueKind::Number(0.0, 1e9),
            Need::Optional("no fixed charge"),
            "Fixed charge of fuel each month.",
        ),
        key(
            "water",
            q(Q::VolumePrice, "0 per m3", "1000 per m3"),
            UNPRICED,
            "Price of water with waste water.",
        ),
        key(
            "electricity_escalation",
            ESCALATION,
            default("0 %", "prices rise with all others"),
            "Rise of the price of electricity per year, on the basis of `rates`.",
        ),
        key(
            "fuel_escalation",
            ESCALATION,
            default("0 %", "prices rise with all others"),
            "Rise of the price of fuel per year.",
        ),
        key(
            "water_escalation",
            ESCALATION,
            default("0 %", "prices rise with all others"),
            "Rise of the price of water per year.",
        ),
        key(
            "maintenance_escalation",
            ESCALATION,
            default("0 %", "prices rise with all others"),
            "Rise of the price of maintenance and replacements per year.",
        ),
        key(
            "discount_rate",
            q(Q::Fraction, "-5 %", "50 %"),
            Need::Optional("no present value"),
            "Discount rate, on the basis of `rates`.",
        ),
        key(
            "rates",
            ValueKind::Word(&["real", "nominal"]),
            sourced("real", "rates above general inflation", "NIST Handbook 135 (from memory)"),
            "Basis of discount rate and escalations.",
        ),
        key(
            "inflation",
            q(Q::Fraction, "-5 %", "50 %"),
            Need::Optional("needed with nominal rates alone"),
            "General inflation per year.",
        ),
        key("life", q(Q::Time, "1 year", "100 year"), Need::Optional("no present value"), "Study period."),
        key(
            "primary_air",
            q(Q::AirFlowPrice, "0 per m3/s", "10000 per L/s"),
            UNPRICED,
            "First cost of primary-air capacity.",
        ),
        key(
            "cooling_plant",
            q(Q::CapacityPrice, "0 per kW", "100000 per kW"),
            UNPRICED,
            "First cost of chiller and tower capacity.",
        ),
        key(
            "terminal_each",
            ValueKind::Number(0.0, 1e9),
            UNPRICED,
            "First cost of one terminal with its controls; one price for every size of the catalogue.",
        ),
        key(
            "separate_service_each",
            ValueKind::Number(0.0, 1e9),
            UNPRICED,
            "Extra first cost of a second terminal or supplementary primary-air box.",
        ),
        key(
            "air_handler",
            q(Q::AirFlowPrice, "0 per m3/s", "10000 per L/s"),
            UNPRICED,
            "First cost of air-handler capacity of the all-air scheme.",
        ),
        key(
            "box_each",
            ValueKind::Number(0.0, 1e9),
            UNPRICED,
            "First cost of one box of the all-air scheme with its heater.",
        ),
        key(
            "controls_each",
            ValueKind::Number(0.0, 1e9),
            Need::Optional("the price of terminal or box holds its controls"),
            "First cost of the controls of one zone, in both schemes.",
        ),
        key(
            "tower",
            q(Q::CapacityPrice, "0 per kW", "100000 per kW"),
            Need::Optional("`cooling_plant` holds it"),
            "First cost of towers per heat rejected.",
        ),
        key(
            "heating_plant",
            q(Q::CapacityPrice, "0 per kW", "100000 per kW"),
            UNPRICED,
            "First cost of heating capacity.",
        ),
        key(
            "pump_each",
            ValueKind::Number(0.0, 1e9),
            Need::Optional("the prices of the plant hold pumps"),
            "First cost of one pump with its drive.",
        ),
        key(
            "ducts",
            q(Q::AreaPrice, "0 per m2", "10000 per m2"),
            UNPRICED,
            "First cost of ducts per area of sheet.",
        ),
        key(
            "pipes",
            q(Q::AreaPrice, "0 per m2", "10000 per m2"),
            UNPRICED,
            "First cost of pipes with insulation per floor area that they serve.",
        ),
        key("terminal_life", LIFE, AS_LONG, "Years that terminals, boxes and their controls last."),
        key("air_unit_life", LIFE, AS_LONG, "Years that primary-air units and air handlers last."),
        key("plant_life", LIFE, AS_LONG, "Years that chillers, towers, boilers and pumps last."),
        key("distribution_life", LIFE, AS_LONG, "Years that ducts and pipes last."),
        key(
            "decoupled_maintenance",
            ValueKind::Number(0.0, 1e9),
            UNPRICED,
            "Maintenance of the decoupled scheme per year.",
        ),
        key(
            "all_air_maintenance",
            ValueKind::Number(0.0, 1e9),
            UNPRICED,
            "Maintenance of the all-air scheme per year.",
        ),
        key(
            "electricity_emissions",
            EMISSIONS,
            NO_FACTOR,
            "Emissions of electricity, the same at all times.",
        ),
        key(
            "electricity_emissions_by_hour",
            ValueKind::Rows(EMISSION_MONTH),
            Need::Optional("the factor is the same at all times"),
            "Emissions of electricity by month and hour of the day; twelve tables, one for each month.",
        ),
        key("fuel_emissions", EMISSIONS, NO_FACTOR, "Emissions of fuel with its combustion."),
        key(
            "emission_source",
            ValueKind::Text,
            Need::Optional("needed with an emission factor"),
            "Where the emission factors come from.",
        ),
    ],
};

const ESCALATION: ValueKind = q(Q::Fraction, "-20 %", "50 %");
const LIFE: ValueKind = q(Q::Time, "1 year", "100 year");
const AS_LONG: Need = Need::Optional("as long as the study");
const EMISSIONS: ValueKind = q(Q::EmissionFactor, "0 kg/kWh", "10 kg/kWh");
const NO_FACTOR: Need = Need::Optional("no factor: listed, never counted as zero");
const MONTH: ValueKind = ValueKind::Count(1, 12);

/// A window of a tariff.
const WINDOW: [KeySpec; 5] = [
    key("first_month", MONTH, default("1", "all year"), "First month of the season."),
    key(
        "last_month",
        MONTH,
        default("12", "all year"),
        "Last month of the season; before the first one, the season runs over the new year.",
    ),
    key(
        "days",
        ValueKind::Word(&["all", "workdays", "free-days"]),
        default("all", "every day"),
        "Kinds of day: `workdays` are Monday to Friday without holidays, `free-days` the others.",
    ),
    key("from_hour", ValueKind::Count(0, 23), default("0", "all day"), "Full hour at which it begins."),
    key(
        "to_hour",
        ValueKind::Count(1, 24),
        default("24", "all day"),
        "Full hour at which it ends; before the beginning, it runs over midnight.",
    ),
];

/// A period of an energy price.
pub(crate) const PRICE_PERIOD: &[KeySpec] = &[
    key("name", ValueKind::Name, REQUIRED, "Name of the period, as on the bill."),
    key("price", q(Q::EnergyPrice, "-1000 per kWh", "1000 per kWh"), REQUIRED, "Price of energy in it."),
    WINDOW[0],
    WINDOW[1],
    WINDOW[2],
    WINDOW[3],
    WINDOW[4],
];

/// A charge on demand.
pub(crate) const DEMAND_CHARGE: &[KeySpec] = &[
    key("name", ValueKind::Name, REQUIRED, "Name of the charge, as on the bill."),
    key(
        "price",
        q(Q::CapacityPrice, "0 per kW", "100000 per kW"),
        REQUIRED,
        "Price of the highest mean power of each month.",
    ),
    key(
        "average_over",
        q(Q::Time, "1 min", "1 h"),
        default("15 min", "demand meter"),
        "Time over which power is averaged; must divide an hour and be no shorter than the step of the year.",
    ),
    key("minimum", q(Q::Power, "0 W", "1000 MW"), Need::Optional("none"), "Demand billed at least."),
    key(
        "ratchet",
        SHARE,
        Need::Optional("none"),
        "Share of the highest peak of earlier months billed at least.",
    ),
    key(
        "ratchet_months",
        ValueKind::Count(1, 11),
        default("11", "the eleven months before"),
        "Months that the ratchet looks back.",
    ),
    WINDOW[0],
    WINDOW[1],
    WINDOW[2],
    WINDOW[3],
    WINDOW[4],
];

/// Emission factors of a month.
pub(crate) const EMISSION_MONTH: &[KeySpec] = &[
    key("month", MONTH, REQUIRED, "Month, 1 for January."),
    key(
        "kg_per_kwh",
        ValueKind::Hourly(0.0, 10.0),
        REQUIRED,
        "Factors of the hours of the day in kg/kWh, from midnight.",
    ),
];

pub(crate) const LAYER: &[KeySpec] = &[
    key("name", ValueKind::Name, REQUIRED, "Name of the layer in words."),
    key("thickness", q(Q::Length, "0.1 mm", "3 m"), MATERIAL, "Thickness."),
    key("conductivity", q(Q::Conductivity, "0.005 W/mK", "500 W/mK"), MATERIAL, "Thermal conductivity."),
    key("density", q(Q::Density, "1 kg/m3", "12000 kg/m3"), MATERIAL, "Density."),
    key("specific_heat", q(Q::SpecificHeat, "100 J/kgK", "5000 J/kgK"), MATERIAL, "Specific heat."),
    key(
        "resistance",
        q(Q::ThermalResistance, "0.001 m2K/W", "20 m2K/W"),
        Need::Optional("a layer with mass"),
        "Resistance of an air space or membrane without mass.",
    ),
];
const MATERIAL: Need = Need::Optional("a layer without mass, which gives `resistance` alone");

pub(crate) const CONSTRUCTION: TableSpec = TableSpec {
    path: "constructions.NAME",
    shape: Shape::Named,
    doc: "An opaque construction, named by the surfaces.",
    keys: &[
        key("layers", ValueKind::Rows(LAYER), REQUIRED, "Layers from outside to inside."),
        key(
            "solar_absorptance",
            SHARE,
            default("70 %", "medium colour"),
            "Solar absorptance of the outer face.",
        ),
    ],
};

pub(crate) const GLAZING: TableSpec = TableSpec {
    path: "glazings.NAME",
    shape: Shape::Named,
    doc: "A window product, named by the window surfaces.",
    keys: &[
        key(
            "u_value",
            q(Q::ThermalTransmittance, "0.2 W/m2K", "8 W/m2K"),
            REQUIRED,
            "U-value of the whole window with its frame.",
        ),
        key(
            "solar_heat_gain",
            q(Q::Fraction, "1 %", "95 %"),
            REQUIRED,
            "Solar heat gain coefficient at normal incidence, whole window.",
        ),
        key(
            "interior_shading",
            q(Q::Fraction, "0 %", "90 %"),
            default("0 %", "no blinds"),
            "Share of the solar gain that interior shading keeps out.",
        ),
    ],
};

const FROM_BASE: Need = Need::Optional("that of `based_on`, else none");
const FROM_BASE_NO: Need = Need::Optional("that of `based_on`, else no");
const BASE_OR_MISSING: Need = Need::Optional("that of `based_on`; needed without it");

pub(crate) const ROOM_KIND: TableSpec = TableSpec {
    path: "room_kinds.NAME",
    shape: Shape::Named,
    doc: "A room kind of this project. One with the id of a built-in kind replaces it.",
    keys: &[
        key(
            "based_on",
            ValueKind::Name,
            Need::Optional("the kind stands alone"),
            "Built-in kind whose values apply where nothing is written.",
        ),
        key("name", ValueKind::Name, BASE_OR_MISSING, "Name in words."),
        key(
            "category",
            ValueKind::Text,
            FROM_BASE,
            "Occupancy category as the ventilation standard words it.",
        ),
        key("edition", ValueKind::Text, FROM_BASE, "Ventilation standard and edition of the two rates."),
        key(
            "outdoor_air_per_person",
            ValueKind::AirFlow(PER_PERSON),
            FROM_BASE,
            "Outdoor air per person; standard flow.",
        ),
        key("outdoor_air_per_area", AREA_FLOW, FROM_BASE, "Outdoor air per floor area; standard flow."),
        key(
            "health_care_edition",
            ValueKind::Text,
            FROM_BASE,
            "Health-care standard and edition of air changes and pressure.",
        ),
        key("outdoor_air_changes", CHANGES, FROM_BASE, "Least outdoor air changes."),
        key("total_air_changes", CHANGES, FROM_BASE, "Least total air changes."),
        key(
            "pressure",
            ValueKind::Word(&["neutral", "positive", "negative"]),
            FROM_BASE,
            "Pressure against neighbours.",
        ),
        key("all_exhausted", ValueKind::Flag, FROM_BASE, "Whether all room air must be exhausted."),
        key(
            "recirculation_allowed",
            ValueKind::Flag,
            FROM_BASE,
            "Whether a unit in the room may recirculate.",
        ),
        key(
            "people_density",
            q(Q::PeopleDensity, "0 person/m2", "5 person/m2"),
            BASE_OR_MISSING,
            "People per floor area when the room list does not count them.",
        ),
        key("people_source", ValueKind::Text, FROM_BASE, "Where the people density comes from."),
        key("activity", ValueKind::Name, BASE_OR_MISSING, "Activity of the people, as its table words it."),
        key("sensible_per_person", HUMAN_HEAT, BASE_OR_MISSING, "Sensible heat of one person."),
        key("latent_per_person", HUMAN_HEAT, BASE_OR_MISSING, "Latent heat of one person."),
        key("activity_source", ValueKind::Text, FROM_BASE, "Table, edition and column of the two heats."),
        key("lighting", FLUX, BASE_OR_MISSING, "Lighting per floor area."),
        key("lighting_source", ValueKind::Text, FROM_BASE, "Where the lighting comes from."),
        key("plugs", FLUX, BASE_OR_MISSING, "Plug loads per floor area."),
        key("plugs_source", ValueKind::Text, FROM_BASE, "Where the plug loads come from."),
        key("exhaust_per_area", AREA_FLOW, FROM_BASE, "Exhaust per floor area."),
        key("exhaust_source", ValueKind::Text, FROM_BASE, "Where the exhaust comes from."),
        key("profile", ValueKind::Name, BASE_OR_MISSING, "Use profile."),
        key(
            "transfer_only",
            ValueKind::Flag,
            FROM_BASE,
            "Whether rooms of this kind have no terminal and live on transfer air.",
        ),
        key(
            "standby_allowed",
            ValueKind::Flag,
            FROM_BASE_NO,
            "Whether the ventilation standard lets outdoor air go to zero while the room is empty (occupied standby).",
        ),
        key(
            "screen_reason",
            ValueKind::Text,
            FROM_BASE,
            "Why rooms of this kind are proposed for conventional cooling.",
        ),
        key("screen_instead", ValueKind::Text, FROM_BASE, "What to do instead."),
        key(
            "diversity",
            q(Q::Fraction, "1 %", "100 %"),
            FROM_BASE,
            "Share of the design population present at one time, for building totals.",
        ),
    ],
};

pub(crate) const WAIVE: TableSpec = TableSpec {
    path: "waive",
    shape: Shape::List,
    doc: "A finding about the result that is accepted; printed in the papers.",
    keys: &[
        key("id", ValueKind::Name, REQUIRED, "Id of the finding."),
        key("part", ValueKind::Name, Need::Optional("every part"), "Room or zone that it concerns."),
        key("reason", ValueKind::Name, REQUIRED, "Why it is accepted."),
        key("role", ValueKind::Name, REQUIRED, "Role of the person who accepts it."),
        key("date", ValueKind::Date, REQUIRED, "Date of the decision."),
    ],
};

const UNIT_FLOW: ValueKind = ValueKind::AirFlow(between("0 m3/s", "10 m3/s"));

pub(crate) const COIL_POINT: &[KeySpec] = &[
    key("air", ValueKind::AirFlow(between("1 L/s", "10 m3/s")), REQUIRED, "Air through the coil."),
    key("water", q(Q::WaterFlow, "0.001 L/s", "10 L/s"), REQUIRED, "Water through the coil."),
    key("air_entering", TEMPERATURE, REQUIRED, "Air entering, dry bulb."),
    key("water_entering", q(Q::Temperature, "0 degC", "95 degC"), REQUIRED, "Water entering."),
    key("duty", q(Q::Power, "1 W", "200 kW"), REQUIRED, "Sensible heat moved, positive."),
];
pub(crate) const FAN_POINT: &[KeySpec] = &[
    key("air", UNIT_FLOW, REQUIRED, "Air carried by the fan."),
    key(
        "external_pressure",
        q(Q::PressureDifference, "0 Pa", "500 Pa"),
        REQUIRED,
        "Pressure outside the unit.",
    ),
    key("power", q(Q::Power, "0 W", "10 kW"), REQUIRED, "Electric power."),
];
pub(crate) const SOUND_POINT: &[KeySpec] = &[
    key("air", UNIT_FLOW, REQUIRED, "Air discharged."),
    key("nc", ValueKind::Number(5.0, 90.0), REQUIRED, "Room criterion, NC."),
];
pub(crate) const INLET_POINT: &[KeySpec] = &[
    key("primary", UNIT_FLOW, REQUIRED, "Primary air."),
    key(
        "inlet_pressure",
        q(Q::PressureDifference, "0 Pa", "1500 Pa"),
        REQUIRED,
        "Pressure needed at the inlet.",
    ),
];

pub(crate) const MODEL: TableSpec = TableSpec {
    path: "models.NAME",
    shape: Shape::Named,
    doc: "A terminal unit by its rating points (`catalogue.toml`). Units are tried in the order of the file, before the built-in ones; one with the name of a built-in unit replaces it.",
    keys: &[
        key(
            "arrangement",
            ValueKind::Word(&["series", "parallel"]),
            REQUIRED,
            "Whether the fan carries primary and secondary air or secondary air only.",
        ),
        key("primary_min", UNIT_FLOW, REQUIRED, "Least controllable primary air."),
        key("primary_max", UNIT_FLOW, REQUIRED, "Most primary air."),
        key("fan_min", UNIT_FLOW, REQUIRED, "Least fan air."),
        key("fan_max", UNIT_FLOW, REQUIRED, "Most fan air at the rated external pressure."),
        key(
            "external_pressure",
            q(Q::PressureDifference, "0 Pa", "500 Pa"),
            REQUIRED,
            "Highest external pressure at which `fan_max` is reached.",
        ),
        key("fan", ValueKind::Rows(FAN_POINT), REQUIRED, "Rating points of the fan."),
        key("rows", ValueKind::Count(1, 12), REQUIRED, "Tube rows of the sensible coil."),
        key("circuits", ValueKind::Count(1, 40), REQUIRED, "Parallel water circuits."),
        key("tube_diameter", q(Q::Length, "3 mm", "30 mm"), REQUIRED, "Inner diameter of the tubes."),
        key("face_area", q(Q::Area, "0.01 m2", "5 m2"), REQUIRED, "Face area of the coil."),
        key("water_max", q(Q::WaterFlow, "0.001 L/s", "10 L/s"), REQUIRED, "Most water through the coil."),
        key(
            "water_velocity_max",
            q(Q::Velocity, "0.2 m/s", "4 m/s"),
            default("5 ft/s", "erosion of copper tube"),
            "Highest water velocity in the tubes.",
        ),
        key("water_drop", PRESSURE_DROP, REQUIRED, "Water pressure drop of the coil at `water_max`."),
        key(
            "coil",
            ValueKind::Rows(COIL_POINT),
            REQUIRED,
            "Rating points of the sensible coil, at least three.",
        ),
        key(
            "heating_coil",
            ValueKind::Rows(COIL_POINT),
            Need::Optional("no hot-water coil"),
            "Rating points of the hot-water coil.",
        ),
        key(
            "electric_heater",
            q(Q::Power, "10 W", "50 kW"),
            Need::Optional("no electric heater"),
            "Power of the electric heater.",
        ),
        key(
            "sound",
            ValueKind::Rows(SOUND_POINT),
            Need::Optional("sound is not checked"),
            "Rating points of sound in the room.",
        ),
        key(
            "inlet",
            ValueKind::Rows(INLET_POINT),
            Need::Optional("inlet pressure is not scheduled"),
            "Pressure at the primary inlet.",
        ),
        key("throw", q(Q::Length, "0.1 m", "30 m"), REQUIRED, "Throw of the discharge at `fan_max`."),
    ],
};

/// Tables of `project.toml`, in the order of the documentation.
pub(crate) const TABLES: &[TableSpec] = &[
    PROJECT,
    SITE,
    CONDITIONS,
    CRITERIA,
    DEW_POINT,
    PRIMARY_AIR,
    TERMINALS,
    WATER,
    PLANT,
    DUCTS,
    SEQUENCE,
    YEAR,
    ALL_AIR,
    ECONOMICS,
    CONSTRUCTION,
    GLAZING,
    ROOM_KIND,
    WAIVE,
];

/// Names of the tables at the top of `project.toml`.
pub(crate) const TOP: &[&str] = &[
    "project",
    "site",
    "criteria",
    "dew_point",
    "primary_air",
    "terminals",
    "water",
    "plant",
    "ducts",
    "sequence",
    "year",
    "all_air",
    "economics",
    "constructions",
    "glazings",
    "room_kinds",
    "waive",
];

/// The table to which a misplaced key belongs.
pub(crate) fn home_of(name: &str, path: &str) -> Option<&'static str> {
    TABLES
        .iter()
        .find(|t| t.shape == Shape::Single && t.path != path && t.keys.iter().any(|k| k.name == name))
        .map(|t| t.path)
}

// Columns of the tables.

const FROM_KIND: Need = Need::Optional("from the room kind");
const FROM_CRITERIA: Need = Need::Optional("from [criteria]");
const NONE: Need = Need::Optional("none");

/// Columns of the room list.
pub(crate) const ROOM_COLUMNS: &[KeySpec] = &[
    key("id", ValueKind::Name, REQUIRED, "Short unique id, as on the drawings."),
    key("name", ValueKind::Text, Need::Optional("the id"), "Name in words."),
    key("floor", ValueKind::Name, REQUIRED, "Name of the floor."),
    key(
        "zone",
        ValueKind::Name,
        Need::Optional("a zone of its own"),
        "Rooms with the same zone share one terminal.",
    ),
    key("kind", ValueKind::Name, REQUIRED, "Id of the room kind."),
    key("floor_area", q(Q::Area, "0.2 m2", "100000 m2"), REQUIRED, "Floor area."),
    key("height", q(Q::Length, "1.8 m", "60 m"), FROM_CRITERIA, "Floor to ceiling."),
    key(
        "people",
        ValueKind::Number(0.0, 10_000.0),
        Need::Optional("density of the kind times floor area"),
        "People at the peak.",
    ),
    key("sensible_per_person", HUMAN_HEAT, FROM_KIND, "Sensible heat of one person."),
    key("latent_per_person", HUMAN_HEAT, FROM_KIND, "Latent heat of one person."),
    key("lighting", FLUX, FROM_KIND, "Lighting per floor area."),
    key("plugs", FLUX, FROM_KIND, "Plug loads per floor area."),
    key("process_sensible", q(Q::Power, "0 W", "1 MW"), NONE, "Sensible heat of processes."),
    key("process_latent", q(Q::Power, "0 W", "1 MW"), NONE, "Latent heat of processes."),
    key("profile", ValueKind::Name, FROM_KIND, "Use profile."),
    key("cooling_set_point", ROOM_TEMPERATURE, FROM_CRITERIA, "Set point in cooling."),
    key("heating_set_point", ROOM_TEMPERATURE, FROM_CRITERIA, "Set point in heating."),
    key(
        "dew_point_limit",
        ROOM_DEW_POINT,
        Need::Optional("the building's"),
        "Room dew-point limit of this room alone.",
    ),
    key(
        "outdoor_air_per_person",
        ValueKind::AirFlow(PER_PERSON),
        Need::Optional("from [primary_air]"),
        "Primary air per person.",
    ),
    key(
        "exhaust",
        ValueKind::AirFlow(FLOW),
        Need::Optional("from the room kind, else none"),
        "Exhaust from this room.",
    ),
    key(
        "outdoor_air_changes",
        CHANGES,
        Need::Optional("from the room kind, else none"),
        "Least outdoor air changes.",
    ),
    key(
        "terminal",
        ValueKind::Name,
        Need::Optional("`auto`; `none` for kinds that live on transfer air"),
        "`auto`, `none`, or a model of the catalogue.",
    ),
    key("transfer_from", ValueKind::Name, NONE, "Room from which transfer air comes."),
    key(
        "system",
        ValueKind::Word(&["auto", "on", "off"]),
        Need::Optional("`auto`: the screens decide"),
        "Whether the room is on the decoupled system.",
    ),
    key(
        "primary_air_control",
        PRIMARY_CONTROL,
        Need::Optional("from [year]"),
        "How the primary air of the room is controlled in occupied hours.",
    ),
    key(
        "standby",
        ValueKind::Word(&["yes", "no"]),
        FROM_KIND,
        "Whether the room may go to standby while it is empty within occupied hours.",
    ),
    key(
        "moisture_capacity",
        ValueKind::Number(1.0, 50.0),
        FROM_CRITERIA,
        "Multiplier on the moisture capacity of the room's air.",
    ),
    key("overrule_reason", ValueKind::Text, NONE, "Why a screen is overruled."),
];

/// Columns of `surfaces.csv`.
pub(crate) const SURFACE_COLUMNS: &[KeySpec] = &[
    key("room", ValueKind::Name, REQUIRED, "Id of the room."),
    key(
        "kind",
        ValueKind::Word(&["wall", "roof", "window", "exposed-floor", "ground-floor", "partition"]),
        REQUIRED,
        "What the surface is.",
    ),
    key("construction", ValueKind::Name, REQUIRED, "Name of the construction; of the glazing for a window."),
    key("area", q(Q::Area, "0.01 m2", "100000 m2"), REQUIRED, "Net area; a wall without its windows."),
    key(
        "facing",
        ValueKind::Facing,
        Need::Optional("needed for walls, windows and tilted roofs"),
        "Compass word or azimuth clockwise from north.",
    ),
    key(
        "tilt",
        q(Q::Angle, "0 deg", "180 deg"),
        Need::Optional("90 deg for walls, windows and partitions, 0 deg for roofs, 180 deg for floors"),
        "Tilt from horizontal: 0 roof, 90 wall, 180 floor.",
    ),
    key(
        "overhang_ratio",
        q(Q::Fraction, "0 1", "10 1"),
        NONE,
        "Depth of an overhang over the window's height.",
    ),
    key(
        "neighbour",
        q(Q::Temperature, "-40 degC", "60 degC"),
        Need::Optional("needed for partitions"),
        "Temperature behind a partition.",
    ),
];

/// Columns of `profiles.csv` before the hours `h00` to `h23`.
pub(crate) const PROFILE_COLUMNS: &[KeySpec] = &[
    key("profile", ValueKind::Name, REQUIRED, "Name of the profile."),
    key(
        "use",
        ValueKind::Word(&["people", "lighting", "plugs", "process"]),
        REQUIRED,
        "What the row scales. A use without rows is zero all year.",
    ),
    key(
        "day",
        ValueKind::Word(&["weekday", "saturday", "sunday", "holiday", "weekend", "all"]),
        REQUIRED,
        "Type of day; `weekend` is Saturday, Sunday and holidays.",
    ),
    HOUR_COLUMNS[0],
    HOUR_COLUMNS[1],
    HOUR_COLUMNS[2],
    HOUR_COLUMNS[3],
    HOUR_COLUMNS[4],
    HOUR_COLUMNS[5],
    HOUR_COLUMNS[6],
    HOUR_COLUMNS[7],
    HOUR_COLUMNS[8],
    HOUR_COLUMNS[9],
    HOUR_COLUMNS[10],
    HOUR_COLUMNS[11],
    HOUR_COLUMNS[12],
    HOUR_COLUMNS[13],
    HOUR_COLUMNS[14],
    HOUR_COLUMNS[15],
    HOUR_COLUMNS[16],
    HOUR_COLUMNS[17],
    HOUR_COLUMNS[18],
    HOUR_COLUMNS[19],
    HOUR_COLUMNS[20],
    HOUR_COLUMNS[21],
    HOUR_COLUMNS[22],
    HOUR_COLUMNS[23],
];

const fn hour(name: &'static str) -> KeySpec {
    key(name, ValueKind::Number(0.0, 1.0), REQUIRED, "Share of the peak in this hour of the day, 0 to 1.")
}

const HOUR_COLUMNS: [KeySpec; 24] = [
    hour("h00"),
    hour("h01"),
    hour("h02"),
    hour("h03"),
    hour("h04"),
    hour("h05"),
    hour("h06"),
    hour("h07"),
    hour("h08"),
    hour("h09"),
    hour("h10"),
    hour("h11"),
    hour("h12"),
    hour("h13"),
    hour("h14"),
    hour("h15"),
    hour("h16"),
    hour("h17"),
    hour("h18"),
    hour("h19"),
    hour("h20"),
    hour("h21"),
    hour("h22"),
    hour("h23"),
];

#[cfg(test)]
mod tests {
    use super::*;
    use crate::project::spec::parse_text;

    #[test]
    fn every_default_is_readable_and_within_its_limits() {
        let rows = [
            LAYER,
            COIL_POINT,
            FAN_POINT,
            SOUND_POINT,
            INLET_POINT,
            PRICE_PERIOD,
            DEMAND_CHARGE,
            EMISSION_MONTH,
            ROOM_COLUMNS,
            SURFACE_COLUMNS,
            PROFILE_COLUMNS,
        ];
        let all = TABLES.iter().map(|t| t.keys).chain([MODEL.keys]).chain(rows).flatten();
        for key in all {
            assert!(key.doc.len() > 3 && key.doc.ends_with('.'), "{}", key.name);
            if let ValueKind::Quantity(kind, limits) = key.kind {
                let (low, high) = limits.si(kind);
                assert!(low < high, "{}", key.name);
            }
            if let Need::Default { text, rule, source } = key.need {
                assert!(parse_text(key.kind, text).is_ok(), "{}: {text}", key.name);
                assert!(!rule.is_empty() && !source.is_empty(), "{}", key.name);
            }
        }
    }

    #[test]
    fn keys_of_a_table_are_unique() {
        for table in TABLES.iter().chain([&MODEL]) {
            let mut names: Vec<_> = table.keys.iter().map(|k| k.name).collect();
            names.sort_unstable();
            let n = names.len();
            names.dedup();
            assert_eq!(n, names.len(), "{}", table.path);
        }
    }
}
