//! The dew-point sequence.

use crate::declare::write::{
    above, all, any, at_least, at_most, choose, count, larger, minus, not, parameter, plus, ratio, share,
    signal, smaller, stage_among, stage_is, times,
};
use crate::declare::{
    Declaration, Direction, Expr, Gather, Gathered, Initial, Item, Kind, NeighbourFigure, NeighbourRule,
    ParameterRow, Region, Rule, Scope, SignalRow, Stage, Transition, Truth,
};

/// What comes first when coils are at risk: the valves of the zones concerned, or warmer water for all.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum WaterOrder {
    /// Zones shut their own coil valves; the water of the building follows when more than the ignored votes have
    /// done so.
    AfterValves,
    /// The water of the building follows as soon as more than the ignored votes are in alarm; valves are the last
    /// resort.
    BeforeValves,
}

/// Region of zones: what is believed of the sensor.
pub const SENSOR: &str = "sensor";
/// Region of zones: whether more primary air may be given.
pub const AIR_GUARD: &str = "air_guard";
/// Region of zones: the stage.
pub const ZONE_STAGE: &str = "zone_stage";
/// Region of the building: the stage.
pub const BUILDING_STAGE: &str = "building_stage";

const B: Scope = Scope::Building;
const Z: Scope = Scope::Zone;

fn rule(signal: &'static str, value: Expr) -> Item {
    Item::Rule(Rule { signal, value })
}

fn go(
    from: &[&'static str],
    to: &'static str,
    when: Expr,
    delay: Option<&'static str>,
    reason: &'static str,
) -> Transition {
    Transition { from: from.to_vec(), to, when, delay, reason }
}

fn stage(name: &'static str, words: &'static str) -> Stage {
    Stage { name, words }
}

fn row(
    name: &'static str,
    kind: Kind,
    scope: Scope,
    direction: Direction,
    range: Option<(f64, f64)>,
    words: &'static str,
) -> SignalRow {
    SignalRow {
        name,
        kind,
        scope,
        direction,
        words,
        initial: Initial::Zero,
        range,
        alarm: None,
        brick: None,
        haystack: None,
    }
}

impl SignalRow {
    fn tagged(self, brick: &'static str, haystack: &'static str) -> Self {
        Self { brick: (!brick.is_empty()).then_some(brick), haystack: Some(haystack), ..self }
    }

    fn alarm(self, text: &'static str) -> Self {
        Self { alarm: Some(text), ..self }
    }
}

fn parameters() -> Vec<ParameterRow> {
    let p = |name, kind, scope, words| ParameterRow { name, kind, scope, words };
    vec![
        p("notice_hysteresis", Kind::Difference, B, "fall below the limit that ends a notice"),
        p("notice_delay", Kind::Time, B, "delay of a notice"),
        p(
            "more_air_rise",
            Kind::Difference,
            B,
            "rise above the limit that brings alarm and more primary air",
        ),
        p("more_air_delay", Kind::Time, B, "delay of alarm and more primary air"),
        p("release_delay", Kind::Time, B, "delay of the release of notice and alarm"),
        p(
            "guard_margin",
            Kind::Difference,
            B,
            "primary air must be drier than the room by this dew-point margin",
        ),
        p("guard_hysteresis", Kind::Difference, B, "further margin before more primary air is allowed again"),
        p("guard_delay", Kind::Time, B, "delay before more primary air is allowed again"),
        p("shut_margin", Kind::Difference, B, "water less room dew point at which a coil valve shuts"),
        p("shut_hysteresis", Kind::Difference, B, "further distance before a coil valve opens again"),
        p("shut_delay", Kind::Time, B, "delay before a coil valve shuts"),
        p("shut_release_delay", Kind::Time, B, "delay before a coil valve opens again"),
        p("water_design", Kind::Temperature, B, "sensible water temperature at design"),
        p("water_ceiling", Kind::Temperature, B, "highest set point of the sensible water"),
        p("water_lowest", Kind::Temperature, B, "coldest water that is assumed when its sensor fails"),
        p("water_offset", Kind::Difference, B, "distance of the water above the dew point that it follows"),
        p("water_fall_rate", Kind::Rate, B, "fastest fall of the water set point"),
        p("water_follow_delay", Kind::Time, B, "delay before the water follows the dew point"),
        p(
            "water_release_hysteresis",
            Kind::Difference,
            B,
            "distance below the design water that ends following",
        ),
        p("water_release_delay", Kind::Time, B, "delay before following ends"),
        p(
            "ignored_votes",
            Kind::Count,
            B,
            "votes that are ignored before the water of the building is warmed",
        ),
        p("primary_wet_limit", Kind::Temperature, B, "dew point above which primary air counts as wet"),
        p("primary_wet_hysteresis", Kind::Difference, B, "fall below it that ends wet primary air"),
        p("primary_wet_delay", Kind::Time, B, "delay of wet primary air"),
        p("primary_wet_release_delay", Kind::Time, B, "delay of the release of wet primary air"),
        p("primary_start_delay", Kind::Time, B, "time that primary air may take to become dry after a start"),
        p("drying_delay", Kind::Time, B, "delay of the end of start-up drying"),
        p("drying_time_limit", Kind::Time, B, "longest start-up drying"),
        p("start_delay", Kind::Time, B, "delay of start, stop and return after priority"),
        p(
            "suspect_difference",
            Kind::Difference,
            B,
            "distance to every neighbour that makes a sensor suspect",
        ),
        p(
            "suspect_hysteresis",
            Kind::Difference,
            B,
            "nearness to a neighbour, below it, that ends suspicion",
        ),
        p("suspect_delay", Kind::Time, B, "delay of suspicion and of its end"),
        p("sensor_return_delay", Kind::Time, B, "delay before a failed sensor is believed again"),
        p(
            "proxy_margin",
            Kind::Difference,
            B,
            "margin on the dew point of neighbours that stands for an own one",
        ),
        p("sensor_low", Kind::Temperature, B, "lowest plausible reading of air dew point and temperature"),
        p("sensor_high", Kind::Temperature, B, "highest plausible reading of air dew point and temperature"),
        p("water_sensor_low", Kind::Temperature, B, "lowest plausible reading of water temperature"),
        p("water_sensor_high", Kind::Temperature, B, "highest plausible reading of water temperature"),
        p("room_limit", Kind::Temperature, Z, "room dew point above which a room is noticed"),
        p("drying_limit", Kind::Temperature, Z, "room dew point at or below which start-up drying ends"),
        p("has_sensor", Kind::Boolean, Z, "the zone has a dew-point sensor of its own"),
        p("votes", Kind::Count, Z, "votes of the zone for warmer water"),
    ]
}

fn inputs() -> Vec<SignalRow> {
    const I: Direction = Direction::Input;
    const AIR: Option<(f64, f64)> = Some((-40.0, 60.0));
    const WATER: Option<(f64, f64)> = Some((0.0, 60.0));
    vec![
        row("run_request", Kind::Boolean, B, I, None, "time program or optimum start asks for operation")
            .tagged("brick:Run_Request_Status", "run sp point"),
        row(
            "life_safety",
            Kind::Boolean,
            B,
            I,
            None,
            "fire alarm or another life-safety function has priority",
        )
        .tagged("brick:Emergency_Alarm", "alarm sensor point"),
        row("smoke_control", Kind::Boolean, B, I, None, "smoke control has priority")
            .tagged("brick:Smoke_Alarm", "alarm sensor point"),
        row("primary_dew_point", Kind::Temperature, B, I, AIR, "dew point of the primary air supplied")
            .tagged("brick:Discharge_Air_Dewpoint_Sensor", "discharge air dewPoint sensor point"),
        row("primary_dew_point_good", Kind::Boolean, B, I, None, "quality of the primary dew-point reading")
            .tagged("brick:Status", "curStatus"),
        row(
            "drying_coil_temperature",
            Kind::Temperature,
            B,
            I,
            AIR,
            "air temperature leaving the drying coil",
        )
        .tagged("brick:Discharge_Air_Temperature_Sensor", "discharge air temp sensor point"),
        row(
            "drying_coil_temperature_good",
            Kind::Boolean,
            B,
            I,
            None,
            "quality of the drying-coil temperature reading",
        )
        .tagged("brick:Status", "curStatus"),
        row(
            "water_temperature",
            Kind::Temperature,
            B,
            I,
            WATER,
            "temperature of the sensible water supplied",
        )
        .tagged("brick:Leaving_Chilled_Water_Temperature_Sensor", "leaving chilled water temp sensor point"),
        row("water_temperature_good", Kind::Boolean, B, I, None, "quality of the water temperature reading")
            .tagged("brick:Status", "curStatus"),
        row("dew_point", Kind::Temperature, Z, I, AIR, "dew point of the room air")
            .tagged("brick:Zone_Air_Dewpoint_Sensor", "zone air dewPoint sensor point"),
        row("dew_point_good", Kind::Boolean, Z, I, None, "quality of the room dew-point reading")
            .tagged("brick:Status", "curStatus"),
        row("room_temperature", Kind::Temperature, Z, I, AIR, "temperature of the room air")
            .tagged("brick:Zone_Air_Temperature_Sensor", "zone air temp sensor point"),
        row("room_temperature_good", Kind::Boolean, Z, I, None, "quality of the room temperature reading")
            .tagged("brick:Status", "curStatus"),
        row("occupied", Kind::Boolean, Z, I, None, "the zone is occupied")
            .tagged("brick:Occupancy_Status", "zone occupied sensor point"),
        row(
            "ventilation_demand",
            Kind::Fraction,
            Z,
            I,
            Some((0.0, 1.0)),
            "primary damper wanted by ventilation, minimum 0 to full 1",
        )
        .tagged("brick:Damper_Position_Setpoint", "zone air demand sp point"),
        row("wet_switch", Kind::Boolean, Z, I, None, "wet switch at the coil")
            .alarm("water at the coil")
            .tagged("brick:Condensate_Leak_Alarm", "water alarm sensor point"),
        row(
            "pressure_priority",
            Kind::Boolean,
            Z,
            I,
            None,
            "health-care room pressure control has priority over the primary damper",
        )
        .tagged("brick:Overridden_Status", "zone air pressure enable sensor point"),
    ]
}

fn inner() -> Vec<SignalRow> {
    const I: Direction = Direction::Inner;
    let r = |name, kind, scope, words| row(name, kind, scope, I, None, words);
    vec![
        r("reading_sound", Kind::Boolean, Z, "own dew-point reading can be used"),
        r("reading_high", Kind::Boolean, Z, "own dew-point reading is too high to be true"),
        r("neighbour_count", Kind::Count, Z, "neighbours whose readings can be used"),
        r("neighbour_distance", Kind::Difference, Z, "distance to the nearest reading of a neighbour"),
        r("neighbour_highest", Kind::Temperature, Z, "highest reading of the neighbours"),
        r("neighbour_lowest", Kind::Temperature, Z, "lowest reading of the neighbours"),
        r("dew_point_known", Kind::Boolean, Z, "a dew point for the zone is known"),
        r("believed_dew_point", Kind::Temperature, Z, "dew point against which the coil is protected"),
        r("guarded_dew_point", Kind::Temperature, Z, "dew point that primary air must undercut"),
        r("counted", Kind::Boolean, Z, "the zone counts in the water reset"),
        r("votes_at_risk", Kind::Count, B, "votes for warmer water"),
        r("votes_drying", Kind::Count, B, "votes of zones that still dry"),
        r("reset_dew_point", Kind::Temperature, B, "highest counted room dew point beyond the ignored votes"),
        r("priority", Kind::Boolean, B, "life safety or smoke control has priority"),
        r("water_known", Kind::Boolean, B, "water temperature can be used"),
        r("coil_water", Kind::Temperature, B, "water temperature against which coils are protected"),
        r("primary_known", Kind::Boolean, B, "primary dew point can be used"),
        r("drying_coil_known", Kind::Boolean, B, "temperature behind the drying coil can be used"),
        r(
            "primary_wet",
            Kind::Boolean,
            B,
            "primary air is wet on the evidence of both sensors that can be used",
        ),
        r("primary_dry", Kind::Boolean, B, "primary air is dry again"),
        r("water_target", Kind::Temperature, B, "water temperature towards which the set point moves"),
        r("at_risk", Kind::Boolean, Z, "the coil may become wet"),
        r("clear", Kind::Boolean, Z, "the coil stays dry with room to spare"),
        r("air_helps", Kind::Boolean, Z, "primary air is drier than the room by the margin"),
        r("air_helps_again", Kind::Boolean, Z, "primary air is drier than the room by margin and hysteresis"),
        r("air_asked", Kind::Fraction, Z, "primary damper wanted by the dew point"),
        r("extra_air", Kind::Fraction, Z, "primary damper that the sequence gives"),
        r("ventilation_air", Kind::Fraction, Z, "primary damper that ventilation is given"),
    ]
}

fn outputs() -> Vec<SignalRow> {
    const O: Direction = Direction::Output;
    const SHARE: Option<(f64, f64)> = Some((0.0, 1.0));
    let r = |name, kind, scope, words| row(name, kind, scope, O, None, words);
    vec![
        SignalRow {
            initial: Initial::Parameter("water_ceiling"),
            ..row(
                "water_set_point",
                Kind::Temperature,
                B,
                O,
                Some((0.0, 60.0)),
                "set point of the sensible water",
            )
        }
        .tagged("brick:Leaving_Chilled_Water_Temperature_Setpoint", "leaving chilled water temp sp point"),
        r("drying_command", Kind::Boolean, B, "the primary-air unit dries before the coils open")
            .tagged("brick:Dehumidify_Command", "air humidity enable cmd point"),
        r(
            "building_released",
            Kind::Boolean,
            B,
            "the sequence gives up its commands to life safety or smoke control",
        )
        .tagged("brick:Overridden_Status", "sensor point"),
        r("alarm_primary_wet", Kind::Boolean, B, "primary air is wet")
            .alarm("primary air is wet: dampers at minimum where it would not dry the room, water follows the dew point")
            .tagged("brick:High_Humidity_Alarm", "discharge air dewPoint alarm sensor point"),
        r("alarm_water_follows", Kind::Boolean, B, "the water follows the dew point")
            .alarm("sensible water is warmed and follows the room dew point; cooling is reduced")
            .tagged("brick:Water_Temperature_Alarm", "chilled water temp alarm sensor point"),
        r("alarm_plant_sensor", Kind::Boolean, B, "a sensor of primary air or water cannot be used")
            .alarm("sensor of primary air or sensible water failed")
            .tagged("brick:Sensor_Failure_Alarm", "alarm sensor point"),
        row(
            "primary_damper",
            Kind::Fraction,
            Z,
            O,
            SHARE,
            "position of the primary damper, minimum 0 to full 1",
        )
        .tagged("brick:Damper_Position_Command", "zone air damper cmd point"),
        r("primary_damper_released", Kind::Boolean, Z, "the sequence does not command the primary damper")
            .tagged("brick:Overridden_Status", "zone sensor point"),
        r("coil_valve_enable", Kind::Boolean, Z, "the coil valve may open")
            .tagged("brick:Cooling_Enable_Command", "zone chilled water valve enable cmd point"),
        r("notice", Kind::Boolean, Z, "the room stands above its dew-point limit")
            .tagged("brick:Status", "zone sensor point"),
        r("alarm_humid", Kind::Boolean, Z, "the room is too humid")
            .alarm("room dew point high; more primary air is given while it helps")
            .tagged("brick:High_Humidity_Alarm", "zone air dewPoint alarm sensor point"),
        r("alarm_coil_shut", Kind::Boolean, Z, "the coil valve is held shut")
            .alarm("coil valve held shut: condensation risk or no dew point known")
            .tagged("brick:Alarm", "zone chilled water valve alarm sensor point"),
        r("alarm_sensor", Kind::Boolean, Z, "the dew-point sensor is suspect or failed")
            .alarm("room dew-point sensor suspect or failed; its neighbours stand in")
            .tagged("brick:Sensor_Failure_Alarm", "zone alarm sensor point"),
    ]
}

fn within(value: &'static str, low: &'static str, high: &'static str) -> Expr {
    all([at_least(signal(value), parameter(low)), at_most(signal(value), parameter(high))])
}

fn sensing() -> Vec<Item> {
    // No dew point lies above the temperature of its air by more than sensors err; in saturated air it stands at it.
    let saturated = || plus(signal("room_temperature"), parameter("suspect_difference"));
    let own = || [parameter("has_sensor"), signal("dew_point_good")];
    let [has, good] = own();
    let [has_one, reads_well] = own();
    vec![
        rule(
            "reading_sound",
            all([
                has,
                good,
                within("dew_point", "sensor_low", "sensor_high"),
                any([not(signal("room_temperature_good")), at_most(signal("dew_point"), saturated())]),
            ]),
        ),
        rule(
            "reading_high",
            all([
                has_one,
                reads_well,
                any([
                    above(signal("dew_point"), parameter("sensor_high")),
                    all([signal("room_temperature_good"), above(signal("dew_point"), saturated())]),
                ]),
            ]),
        ),
    ]
}

fn neighbours() -> Vec<NeighbourRule> {
    let n = |signal, figure, otherwise| NeighbourRule {
        signal,
        figure,
        value: "dew_point",
        counts: "reading_sound",
        otherwise,
    };
    vec![
        n("neighbour_count", NeighbourFigure::Count, None),
        n("neighbour_distance", NeighbourFigure::NearestDistance, None),
        n("neighbour_highest", NeighbourFigure::Highest, Some("sensor_high")),
        n("neighbour_lowest", NeighbourFigure::Lowest, Some("sensor_low")),
    ]
}

fn judging() -> Vec<Item> {
    let judged = || at_least(signal("neighbour_count"), count(2));
    let sound = || stage_is(SENSOR, "sound");
    let suspect = || stage_is(SENSOR, "suspect");
    let sensor = Region {
        name: SENSOR,
        stages: vec![
            stage("sound", "The own reading is believed."),
            stage(
                "suspect",
                "The reading stands alone among its neighbours. It has no vote in the water reset; the coil is protected against the higher of own and neighbours' dew points; more primary air must undercut the own reading by the margin and must not be wetter than the driest neighbour.",
            ),
            stage(
                "failed",
                "No reading can be used. The neighbours' dew points with a margin stand in; without any, the coil valve is shut. A reading too high to be true counts as saturated air: the coil valve is shut.",
            ),
        ],
        transitions: vec![
            go(
                &["sound", "suspect"],
                "failed",
                not(signal("reading_sound")),
                None,
                "the reading is missing, of bad quality or not plausible",
            ),
            go(
                &["sound"],
                "suspect",
                all([judged(), above(signal("neighbour_distance"), parameter("suspect_difference"))]),
                Some("suspect_delay"),
                "the reading differs from every neighbour",
            ),
            go(
                &["suspect"],
                "sound",
                any([
                    not(judged()),
                    at_most(
                        signal("neighbour_distance"),
                        minus(parameter("suspect_difference"), parameter("suspect_hysteresis")),
                    ),
                ]),
                Some("suspect_delay"),
                "the reading agrees with a neighbour, or too few are left to judge",
            ),
            go(
                &["failed"],
                "sound",
                signal("reading_sound"),
                Some("sensor_return_delay"),
                "the reading is back",
            ),
        ],
    };
    let has_neighbour = || at_least(signal("neighbour_count"), count(1));
    let proxy = || plus(signal("neighbour_highest"), parameter("proxy_margin"));
    vec![
        Item::Region(sensor),
        rule("dew_point_known", any([sound(), suspect(), signal("reading_high"), has_neighbour()])),
        rule(
            "believed_dew_point",
            choose(
                sound(),
                signal("dew_point"),
                choose(
                    suspect(),
                    choose(
                        has_neighbour(),
                        larger(signal("dew_point"), signal("neighbour_highest")),
                        signal("dew_point"),
                    ),
                    // Until it is believed again, a reading may make the zone wetter, not drier.
                    choose(
                        signal("reading_high"),
                        choose(
                            signal("room_temperature_good"),
                            signal("room_temperature"),
                            parameter("sensor_high"),
                        ),
                        choose(signal("reading_sound"), larger(signal("dew_point"), proxy()), proxy()),
                    ),
                ),
            ),
        ),
        rule(
            "guarded_dew_point",
            choose(
                sound(),
                signal("dew_point"),
                choose(
                    suspect(),
                    choose(
                        has_neighbour(),
                        // The margin is already in what the driest neighbour shows: air no wetter than that dries both.
                        smaller(
                            signal("dew_point"),
                            plus(signal("neighbour_lowest"), parameter("guard_margin")),
                        ),
                        signal("dew_point"),
                    ),
                    minus(signal("neighbour_lowest"), parameter("proxy_margin")),
                ),
            ),
        ),
        rule("counted", all([sound(), at_least(parameter("votes"), count(1))])),
    ]
}

fn gathering(order: WaterOrder) -> Vec<Gather> {
    let asks: &[&'static str] = match order {
        WaterOrder::AfterValves => &["coil_shut"],
        WaterOrder::BeforeValves => &["more_air", "coil_shut"],
    };
    vec![
        Gather {
            signal: "votes_at_risk",
            figure: Gathered::Votes {
                when: all([signal("counted"), stage_among(ZONE_STAGE, asks)]),
                votes: "votes",
            },
        },
        Gather {
            signal: "votes_drying",
            figure: Gathered::Votes { when: stage_is(ZONE_STAGE, "drying"), votes: "votes" },
        },
        Gather {
            signal: "reset_dew_point",
            figure: Gathered::HighestBeyondIgnored {
                when: signal("counted"),
                value: "believed_dew_point",
                votes: "votes",
                ignored: "ignored_votes",
                otherwise: "sensor_low",
            },
        },
    ]
}

fn building() -> Vec<Item> {
    let wet_by_dew = || above(signal("primary_dew_point"), parameter("primary_wet_limit"));
    let wet_by_coil = || above(signal("drying_coil_temperature"), parameter("primary_wet_limit"));
    let dry_at = |name| {
        at_most(signal(name), minus(parameter("primary_wet_limit"), parameter("primary_wet_hysteresis")))
    };
    let warm_enough = || plus(signal("reset_dew_point"), parameter("water_offset"));
    let is = |name| stage_is(BUILDING_STAGE, name);
    let region = Region {
        name: BUILDING_STAGE,
        stages: vec![
            stage(
                "off",
                "The system rests: coil valves shut, primary dampers at minimum, water set point at its ceiling.",
            ),
            stage(
                "drying",
                "Start-up drying: the primary-air unit dries, coil valves stay shut zone by zone until the zone is dry, water set point at its ceiling.",
            ),
            stage("normal", "The sensible water is supplied at its design temperature."),
            stage(
                "water_follows",
                "The sensible water follows the highest counted room dew point beyond the ignored votes plus the offset, never below design, never above the ceiling.",
            ),
            stage(
                "primary_wet",
                "The primary air is wet. Primary dampers stand at minimum in every zone that it would not dry by the margin; the sensible water follows the dew point as in \"water follows\", without waiting for votes; coil valves shut zone by zone where the water is too cold.",
            ),
            stage(
                "yield",
                "Life safety or smoke control has priority: the sequence gives up the dampers, shuts the coil valves and sets the water to its ceiling.",
            ),
        ],
        transitions: vec![
            go(
                &["off", "drying", "normal", "water_follows", "primary_wet"],
                "yield",
                signal("priority"),
                None,
                "life safety or smoke control took priority",
            ),
            go(&["yield"], "off", not(signal("priority")), Some("start_delay"), "priority has ended"),
            go(
                &["drying", "normal", "water_follows", "primary_wet"],
                "off",
                not(signal("run_request")),
                Some("start_delay"),
                "operation is no longer asked for",
            ),
            go(
                &["off"],
                "drying",
                signal("run_request"),
                Some("start_delay"),
                "operation is asked for; rooms are dried first",
            ),
            go(
                &["normal", "water_follows"],
                "primary_wet",
                signal("primary_wet"),
                Some("primary_wet_delay"),
                "the primary air is wet",
            ),
            go(
                &["drying"],
                "primary_wet",
                signal("primary_wet"),
                Some("primary_start_delay"),
                "the primary air has not become dry after the start",
            ),
            go(
                &["primary_wet"],
                "water_follows",
                signal("primary_dry"),
                Some("primary_wet_release_delay"),
                "the primary air is dry again; the water follows while rooms dry",
            ),
            go(
                &["drying"],
                "normal",
                all([
                    at_most(signal("votes_drying"), parameter("ignored_votes")),
                    not(signal("primary_wet")),
                ]),
                Some("drying_delay"),
                "the rooms are dry but for the ignored votes",
            ),
            go(
                &["drying"],
                "normal",
                Expr::Always(Truth::Yes),
                Some("drying_time_limit"),
                "drying took its longest time; rooms still humid keep their coil valves shut",
            ),
            go(
                &["normal"],
                "water_follows",
                all([
                    above(signal("votes_at_risk"), parameter("ignored_votes")),
                    above(warm_enough(), parameter("water_design")),
                ]),
                Some("water_follow_delay"),
                "more than the ignored votes are at risk, and the design water is too cold for them",
            ),
            go(
                &["water_follows"],
                "normal",
                at_most(
                    plus(warm_enough(), parameter("water_release_hysteresis")),
                    parameter("water_design"),
                ),
                Some("water_release_delay"),
                "the design water is warm enough again",
            ),
        ],
    };
    vec![
        rule("priority", any([signal("life_safety"), signal("smoke_control")])),
        rule(
            "water_known",
            all([
                signal("water_temperature_good"),
                within("water_temperature", "water_sensor_low", "water_sensor_high"),
            ]),
        ),
        rule(
            "coil_water",
            choose(signal("water_known"), signal("water_temperature"), parameter("water_lowest")),
        ),
        rule(
            "primary_known",
            all([signal("primary_dew_point_good"), within("primary_dew_point", "sensor_low", "sensor_high")]),
        ),
        rule(
            "drying_coil_known",
            all([
                signal("drying_coil_temperature_good"),
                within("drying_coil_temperature", "sensor_low", "sensor_high"),
            ]),
        ),
        rule(
            "primary_wet",
            any([
                all([
                    signal("primary_known"),
                    wet_by_dew(),
                    any([not(signal("drying_coil_known")), wet_by_coil()]),
                ]),
                all([not(signal("primary_known")), signal("drying_coil_known"), wet_by_coil()]),
            ]),
        ),
        rule(
            "primary_dry",
            any([
                all([signal("primary_known"), dry_at("primary_dew_point")]),
                all([signal("drying_coil_known"), dry_at("drying_coil_temperature")]),
            ]),
        ),
        Item::Region(region),
        rule(
            "water_target",
            choose(
                is("normal"),
                parameter("water_design"),
                choose(
                    stage_among(BUILDING_STAGE, &["water_follows", "primary_wet"]),
                    larger(parameter("water_design"), smaller(parameter("water_ceiling"), warm_enough())),
                    parameter("water_ceiling"),
                ),
            ),
        ),
        // Up at once, because that keeps coils dry; down no faster than the rate.
        rule(
            "water_set_point",
            larger(
                signal("water_target"),
                minus(Expr::Previous("water_set_point"), times(parameter("water_fall_rate"), Expr::Cycle)),
            ),
        ),
        rule("drying_command", is("drying")),
        rule("building_released", is("yield")),
        rule("alarm_primary_wet", is("primary_wet")),
        rule("alarm_water_follows", is("water_follows")),
        rule("alarm_plant_sensor", any([not(signal("primary_known")), not(signal("water_known"))])),
    ]
}

fn zone() -> Vec<Item> {
    let building_is = |name| stage_is(BUILDING_STAGE, name);
    let is = |names: &[&'static str]| stage_among(ZONE_STAGE, names);
    let dew = || signal("believed_dew_point");
    let alarm_level = || plus(parameter("room_limit"), parameter("more_air_rise"));
    let guard = Region {
        name: AIR_GUARD,
        stages: vec![
            stage("barred", "More primary air would not dry the room; it is not given."),
            stage("allowed", "Primary air is drier than the room by the margin."),
        ],
        transitions: vec![
            go(
                &["allowed"],
                "barred",
                not(signal("air_helps")),
                None,
                "primary air is not drier than the room by the margin, or not known to be",
            ),
            go(
                &["barred"],
                "allowed",
                signal("air_helps_again"),
                Some("guard_delay"),
                "primary air is drier than the room by margin and hysteresis",
            ),
        ],
    };
    let working = &["drying", "normal", "notice", "more_air", "coil_shut"];
    let open = &["normal", "notice", "more_air"];
    let stages = Region {
        name: ZONE_STAGE,
        stages: vec![
            stage("off", "The building rests: coil valve shut, primary damper at minimum."),
            stage("drying", "Start-up drying: coil valve shut, more primary air while it helps."),
            stage("normal", "Ventilation and cooling as the room controls ask."),
            stage(
                "notice",
                "A quiet symbol tells that the dew point is above its limit; nothing else changes.",
            ),
            stage(
                "more_air",
                "Alarm; the primary damper opens with the dew point, from the limit to fully at the alarm level, while primary air is drier than the room by the margin.",
            ),
            stage(
                "coil_shut",
                "Alarm; the coil valve of this terminal is shut, more primary air while it helps.",
            ),
            stage(
                "blind",
                "Alarm; no dew point is known for the zone: coil valve shut, no more primary air.",
            ),
            stage(
                "yield",
                "Life safety or smoke control has priority: the damper is given up, the coil valve shut.",
            ),
        ],
        transitions: vec![
            go(
                &["off", "drying", "normal", "notice", "more_air", "coil_shut", "blind"],
                "yield",
                building_is("yield"),
                None,
                "life safety or smoke control took priority",
            ),
            go(&["yield"], "off", not(building_is("yield")), None, "priority has ended"),
            go(
                &["drying", "normal", "notice", "more_air", "coil_shut", "blind"],
                "off",
                building_is("off"),
                None,
                "the building rests",
            ),
            go(&["off"], "drying", not(building_is("off")), None, "the building starts"),
            go(working, "blind", not(signal("dew_point_known")), None, "no dew point is known"),
            go(
                &["blind"],
                "drying",
                signal("dew_point_known"),
                Some("sensor_return_delay"),
                "a dew point is known again",
            ),
            go(open, "coil_shut", signal("wet_switch"), None, "the wet switch tripped"),
            go(
                open,
                "coil_shut",
                signal("at_risk"),
                Some("shut_delay"),
                "the water is too cold for the room dew point",
            ),
            go(
                &["drying"],
                "normal",
                all([at_most(dew(), parameter("drying_limit")), signal("clear"), not(signal("wet_switch"))]),
                Some("drying_delay"),
                "the room is dry",
            ),
            go(
                &["drying"],
                "coil_shut",
                Expr::Always(Truth::Yes),
                Some("drying_time_limit"),
                "drying took its longest time",
            ),
            go(
                &["normal"],
                "notice",
                above(dew(), parameter("room_limit")),
                Some("notice_delay"),
                "the dew point is above its limit",
            ),
            go(
                &["notice"],
                "more_air",
                above(dew(), alarm_level()),
                Some("more_air_delay"),
                "the dew point rises on",
            ),
            go(
                &["notice"],
                "normal",
                at_most(dew(), minus(parameter("room_limit"), parameter("notice_hysteresis"))),
                Some("release_delay"),
                "the dew point is below its limit again",
            ),
            go(
                &["more_air"],
                "notice",
                // Only once ventilation keeps the damper where it is: else the release would bring the alarm back.
                // A quarter is what the noise of a sensor makes of a room that stands at its limit.
                at_most(
                    signal("air_asked"),
                    larger(share(0.25), smaller(share(0.5), signal("ventilation_air"))),
                ),
                Some("release_delay"),
                "the dew point is at its limit without more air",
            ),
            go(
                &["coil_shut"],
                "more_air",
                all([signal("clear"), not(signal("wet_switch"))]),
                Some("shut_release_delay"),
                "the coil stays dry again",
            ),
        ],
    };
    let helps = |margin| {
        all([
            signal("primary_known"),
            signal("dew_point_known"),
            at_most(signal("primary_dew_point"), minus(signal("guarded_dew_point"), margin)),
        ])
    };
    vec![
        rule(
            "at_risk",
            any([
                not(signal("dew_point_known")),
                above(dew(), minus(signal("coil_water"), parameter("shut_margin"))),
            ]),
        ),
        rule(
            "clear",
            all([
                signal("dew_point_known"),
                at_most(
                    dew(),
                    minus(
                        minus(signal("coil_water"), parameter("shut_margin")),
                        parameter("shut_hysteresis"),
                    ),
                ),
            ]),
        ),
        rule("air_helps", helps(parameter("guard_margin"))),
        rule("air_helps_again", helps(plus(parameter("guard_margin"), parameter("guard_hysteresis")))),
        Item::Region(guard),
        // Wet primary air ventilates with the least flow, unless it dries the room all the same.
        rule(
            "ventilation_air",
            choose(
                all([
                    signal("occupied"),
                    any([not(building_is("primary_wet")), stage_is(AIR_GUARD, "allowed")]),
                ]),
                signal("ventilation_demand"),
                share(0.0),
            ),
        ),
        // In proportion, so that a lasting load finds its balance instead of calling and releasing more air in turn.
        rule(
            "air_asked",
            larger(
                share(0.0),
                smaller(share(1.0), ratio(minus(dew(), parameter("room_limit")), parameter("more_air_rise"))),
            ),
        ),
        Item::Region(stages),
        rule("primary_damper_released", any([is(&["yield"]), signal("pressure_priority")])),
        rule(
            "extra_air",
            choose(
                all([is(&["drying", "coil_shut"]), stage_is(AIR_GUARD, "allowed")]),
                share(1.0),
                choose(
                    all([is(&["more_air"]), stage_is(AIR_GUARD, "allowed")]),
                    signal("air_asked"),
                    share(0.0),
                ),
            ),
        ),
        rule(
            "primary_damper",
            choose(
                any([signal("primary_damper_released"), is(&["off"])]),
                share(0.0),
                larger(signal("extra_air"), signal("ventilation_air")),
            ),
        ),
        rule("coil_valve_enable", all([is(open), not(signal("wet_switch"))])),
        rule("notice", is(&["notice"])),
        rule("alarm_humid", is(&["more_air", "coil_shut"])),
        rule("alarm_coil_shut", is(&["coil_shut", "blind"])),
        rule("alarm_sensor", all([parameter("has_sensor"), not(stage_is(SENSOR, "sound"))])),
    ]
}

/// The dew-point sequence, as data.
///
/// ```
/// use drycoil_sequence::{dew_point_sequence, WaterOrder};
/// let declaration = dew_point_sequence(WaterOrder::AfterValves);
/// declaration.check()?;
/// let (_, stages) = declaration.region("zone_stage").unwrap();
/// assert!(stages.stages.iter().any(|stage| stage.name == "coil_shut"));
/// # Ok::<(), drycoil_sequence::DeclarationError>(())
/// ```
pub fn dew_point_sequence(order: WaterOrder) -> Declaration {
    let mut signals = inputs();
    signals.extend(inner());
    signals.extend(outputs());
    Declaration {
        parameters: parameters(),
        signals,
        sensing: sensing(),
        neighbours: neighbours(),
        judging: judging(),
        gathering: gathering(order),
        building: building(),
        zone: zone(),
    }
}
