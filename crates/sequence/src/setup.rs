//! The numbers of one project and its zones.

use crate::declare::Kind;
use drycoil_units::{Quantity, QuantityKind, Temperature, TemperatureDifference, Time};
use std::fmt;

macro_rules! parameters {
    ($($(#[$doc:meta])* $name:ident: $type:ident),* $(,)?) => {
        /// The numbers of the sequence. Fields carry the names that the declaration uses.
        #[derive(Debug, Clone, PartialEq)]
        pub struct Parameters {
            $($(#[$doc])* pub $name: $type,)*
            /// Fastest fall of the water set point within a minute.
            pub water_fall_per_minute: TemperatureDifference,
            /// Votes that are ignored before the water of the building is warmed. Zero for a building of one zone, or
            /// its water never follows ([`Setup::water_can_follow`]).
            pub ignored_votes: u32,
        }

        impl Parameters {
            /// SI value of the building parameter of this name.
            pub fn value(&self, name: &str) -> Option<f64> {
                match name {
                    $(stringify!($name) => Some(self.$name.si()),)*
                    "water_fall_rate" => Some(self.water_fall_per_minute.si() / 60.0),
                    "ignored_votes" => Some(f64::from(self.ignored_votes)),
                    _ => None,
                }
            }

            fn all(&self) -> Vec<(&'static str, QuantityKind, f64)> {
                vec![
                    $((stringify!($name), $type::KIND, self.$name.si()),)*
                    ("water_fall_per_minute", TemperatureDifference::KIND, self.water_fall_per_minute.si()),
                ]
            }
        }
    };
}

parameters! {
    /// Room dew point above which a room is noticed; a zone may have a lower one of its own.
    room_limit: Temperature,
    /// Fall below the limit that ends a notice.
    notice_hysteresis: TemperatureDifference,
    /// Delay of a notice.
    notice_delay: Time,
    /// Rise above the limit that brings alarm and more primary air.
    more_air_rise: TemperatureDifference,
    /// Delay of alarm and more primary air.
    more_air_delay: Time,
    /// Delay of the release of notice and alarm.
    release_delay: Time,
    /// Primary air must be drier than the room by this.
    guard_margin: TemperatureDifference,
    /// Further margin before more primary air is allowed again.
    guard_hysteresis: TemperatureDifference,
    /// Delay before more primary air is allowed again.
    guard_delay: Time,
    /// Water less room dew point at which a coil valve shuts; from -1.5 K, as the surface of a working coil is warmer
    /// than its water.
    shut_margin: TemperatureDifference,
    /// Further distance before a coil valve opens again.
    shut_hysteresis: TemperatureDifference,
    /// Delay before a coil valve shuts.
    shut_delay: Time,
    /// Delay before a coil valve opens again.
    shut_release_delay: Time,
    /// Sensible water temperature at design.
    water_design: Temperature,
    /// Highest set point of the sensible water.
    water_ceiling: Temperature,
    /// Coldest water that is assumed when its sensor fails.
    water_lowest: Temperature,
    /// Distance of the water above the dew point that it follows.
    water_offset: TemperatureDifference,
    /// Delay before the water follows the dew point.
    water_follow_delay: Time,
    /// Distance below the design water that ends following.
    water_release_hysteresis: TemperatureDifference,
    /// Delay before following ends.
    water_release_delay: Time,
    /// Dew point above which primary air counts as wet.
    primary_wet_limit: Temperature,
    /// Fall below it that ends wet primary air.
    primary_wet_hysteresis: TemperatureDifference,
    /// Delay of wet primary air.
    primary_wet_delay: Time,
    /// Delay of its release.
    primary_wet_release_delay: Time,
    /// Time that primary air may take to become dry after a start.
    primary_start_delay: Time,
    /// Room dew point at or below which start-up drying ends; at most the limit of a zone.
    drying_limit: Temperature,
    /// Delay of the end of start-up drying.
    drying_delay: Time,
    /// Longest start-up drying.
    drying_time_limit: Time,
    /// Delay of start, stop and return after priority.
    start_delay: Time,
    /// Distance to every neighbour that makes a sensor suspect.
    suspect_difference: TemperatureDifference,
    /// Nearness to a neighbour, below that, that ends suspicion.
    suspect_hysteresis: TemperatureDifference,
    /// Delay of suspicion and of its end.
    suspect_delay: Time,
    /// Delay before a failed sensor is believed again.
    sensor_return_delay: Time,
    /// Margin on dew points of neighbours that stand for an own one.
    proxy_margin: TemperatureDifference,
    /// Lowest plausible air reading.
    sensor_low: Temperature,
    /// Highest plausible air reading.
    sensor_high: Temperature,
    /// Lowest plausible water reading.
    water_sensor_low: Temperature,
    /// Highest plausible water reading.
    water_sensor_high: Temperature,
}

impl Parameters {
    /// Shut margin that suits a design: 0.5 degF, or what the rise to the alarm leaves below the water.
    pub fn usual_shut_margin(
        room_limit: Temperature,
        more_air_rise: TemperatureDifference,
        water_design: Temperature,
    ) -> TemperatureDifference {
        let room = (water_design - room_limit) - more_air_rise;
        let half = TemperatureDifference::fahrenheit(0.5);
        if room < half { room } else { half }
    }

    /// Dew point at which primary air of a design counts as wet: 3 degF above design, at most 1 degF below the room
    /// limit, where it would no longer dry a room.
    pub fn usual_primary_wet_limit(room_limit: Temperature, primary_dew_point: Temperature) -> Temperature {
        let by_room = room_limit - TemperatureDifference::fahrenheit(1.0);
        let by_design = primary_dew_point + TemperatureDifference::fahrenheit(3.0);
        if by_room < by_design { by_room } else { by_design }
    }

    /// Dew point that ends start-up drying: the room limit, or the dew point at which a coil valve opens.
    pub fn usual_drying_limit(
        room_limit: Temperature,
        water_design: Temperature,
        shut_margin: TemperatureDifference,
        shut_hysteresis: TemperatureDifference,
    ) -> Temperature {
        let opens = water_design - shut_margin - shut_hysteresis;
        if room_limit < opens { room_limit } else { opens }
    }

    /// Settings that suit a design: its room dew-point limit, its sensible water and its primary-air dew point.
    ///
    /// Delays and hystereses are common practice, no source. Two margins follow from the design: a valve shuts when
    /// the water is 0.28 K (0.5 degF) above the dew point, or nearer where limit and water leave less room; primary
    /// air is wet when it would no longer undercut a room at its limit by 1 degF, or stands 3 degF above design.
    ///
    /// ```
    /// use drycoil_sequence::Parameters;
    /// use drycoil_units::Temperature;
    /// let f = Temperature::fahrenheit;
    /// let p = Parameters::for_design(f(55.0), f(57.0), f(48.0));
    /// assert!((p.primary_wet_limit.to_fahrenheit() - 51.0).abs() < 1e-9);
    /// assert_eq!(p.ignored_votes, 1);
    /// ```
    pub fn for_design(
        room_limit: Temperature,
        water_design: Temperature,
        primary_dew_point: Temperature,
    ) -> Self {
        let df = TemperatureDifference::fahrenheit;
        let min = |minutes: f64| Time::seconds(60.0 * minutes);
        let rise = df(0.5);
        let shut_hysteresis = df(1.0);
        let shut_margin = Self::usual_shut_margin(room_limit, rise, water_design);
        Self {
            room_limit,
            notice_hysteresis: df(0.5),
            notice_delay: min(1.0),
            more_air_rise: rise,
            more_air_delay: min(2.0),
            release_delay: min(5.0),
            guard_margin: df(2.0),
            guard_hysteresis: df(1.0),
            guard_delay: min(2.0),
            shut_margin,
            shut_hysteresis,
            shut_delay: Time::seconds(10.0),
            shut_release_delay: min(5.0),
            water_design,
            water_ceiling: water_design + df(8.0),
            water_lowest: Temperature::fahrenheit(42.0),
            water_offset: df(2.0),
            water_follow_delay: min(2.0),
            water_release_hysteresis: df(0.5),
            water_release_delay: min(10.0),
            primary_wet_limit: Self::usual_primary_wet_limit(room_limit, primary_dew_point),
            primary_wet_hysteresis: df(1.0),
            primary_wet_delay: min(1.0),
            primary_wet_release_delay: min(5.0),
            primary_start_delay: min(15.0),
            drying_limit: Self::usual_drying_limit(room_limit, water_design, shut_margin, shut_hysteresis),
            drying_delay: min(2.0),
            drying_time_limit: min(90.0),
            start_delay: min(1.0),
            suspect_difference: df(4.0),
            suspect_hysteresis: df(1.0),
            suspect_delay: min(15.0),
            sensor_return_delay: min(5.0),
            proxy_margin: df(1.0),
            sensor_low: Temperature::celsius(-30.0),
            sensor_high: Temperature::celsius(45.0),
            water_sensor_low: Temperature::celsius(1.0),
            water_sensor_high: Temperature::celsius(50.0),
            water_fall_per_minute: df(0.5),
            ignored_votes: 1,
        }
    }
}

/// Where a zone has its dew point from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ZoneSensor {
    /// A sensor of its own.
    Own,
    /// Its neighbours.
    Neighbours,
}

/// One zone.
#[derive(Debug, Clone, PartialEq)]
pub struct ZoneSettings {
    /// Name in the project.
    pub id: String,
    /// Where it has its dew point from.
    pub sensor: ZoneSensor,
    /// Votes for warmer water; zero for a zone that must never warm the building.
    pub votes: u32,
    /// Zones, by index, whose readings should be much like its own.
    pub neighbours: Vec<usize>,
    /// Dew-point limit of its own, below that of the building; none where that of the building holds.
    pub room_limit: Option<Temperature>,
}

/// Parameters and zones that go together.
#[derive(Debug, Clone, PartialEq)]
pub struct Setup {
    parameters: Parameters,
    zones: Vec<ZoneSettings>,
}

/// Why a setup is refused.
#[derive(Debug, Clone, PartialEq)]
pub enum SetupError {
    /// A number outside its range, SI.
    Range {
        /// Parameter.
        name: &'static str,
        /// Its value.
        value: f64,
        /// Least value.
        low: f64,
        /// Largest value.
        high: f64,
        /// Unit.
        unit: &'static str,
    },
    /// Two numbers of which the first must not be larger than the second, SI.
    Order {
        /// Temperatures or differences.
        kind: QuantityKind,
        /// First.
        lesser: &'static str,
        /// Its value, degC or K.
        lesser_value: f64,
        /// Second.
        greater: &'static str,
        /// Its value, degC or K.
        greater_value: f64,
    },
    /// There is no zone.
    NoZone,
    /// A zone name given twice or empty.
    ZoneId(String),
    /// A neighbour that does not exist, is the zone itself, or is named twice.
    Neighbour {
        /// Zone.
        zone: String,
        /// Index of the neighbour.
        neighbour: usize,
    },
    /// A zone without sensor and without a neighbour that has one.
    NoDewPoint(String),
    /// A limit of a zone that is not a number, above that of the building, or no higher than the dew point at which
    /// primary air counts as wet; degC.
    ZoneLimit {
        /// Zone.
        zone: String,
        /// Its limit.
        limit_c: f64,
        /// Least, exclusive.
        low_c: f64,
        /// Most.
        high_c: f64,
    },
    /// One zone could warm the water of the building alone.
    OneZoneRules {
        /// Zone.
        zone: String,
        /// Its votes.
        votes: u32,
        /// Votes ignored.
        ignored: u32,
    },
}

impl fmt::Display for SetupError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Range { name, value, low, high, unit } => {
                write!(f, "{name} is {value} {unit}, allowed {low} to {high} {unit}")
            }
            Self::Order { lesser, lesser_value, greater, greater_value, .. } => {
                write!(
                    f,
                    "{lesser} is {lesser_value:.3} and must not be above {greater}, {greater_value:.3} (degC or K)"
                )
            }
            Self::NoZone => write!(f, "the sequence needs at least one zone"),
            Self::ZoneId(id) => write!(f, "zone name `{id}` is empty or given twice"),
            Self::Neighbour { zone, neighbour } => {
                write!(f, "neighbour {neighbour} of zone `{zone}` is no other zone, or named twice")
            }
            Self::NoDewPoint(zone) => {
                write!(f, "zone `{zone}` has no dew-point sensor and no neighbour that has one")
            }
            Self::ZoneLimit { zone, limit_c, low_c, high_c } => write!(
                f,
                "limit of zone `{zone}` is {limit_c:.3} degC, allowed above {low_c:.3} degC and at most {high_c:.3} degC"
            ),
            Self::OneZoneRules { zone, votes, ignored } => write!(
                f,
                "zone `{zone}` has {votes} votes where {ignored} are ignored: it could warm the water of the whole building alone"
            ),
        }
    }
}

impl std::error::Error for SetupError {}

impl Setup {
    /// Parameters and zones.
    ///
    /// # Errors
    /// [`SetupError`]: a number out of range, stages that could not come in their order, zones that do not fit.
    pub fn new(parameters: Parameters, zones: Vec<ZoneSettings>) -> Result<Self, SetupError> {
        let p = &parameters;
        for (name, kind, value) in p.all() {
            let (low, high, unit) = match (kind, name) {
                (QuantityKind::Temperature, _) => (-60.0, 80.0, "degC"),
                (QuantityKind::Time, _) => (0.0, 86_400.0, "s"),
                (_, "shut_margin") => (-1.5, 10.0, "K"),
                (_, "water_fall_per_minute") => (1e-3, 100.0, "K"),
                // Without hysteresis a stage would come and go with the noise of a sensor.
                (_, name) if name.ends_with("hysteresis") => (0.05, 10.0, "K"),
                _ => (0.0, 20.0, "K"),
            };
            if !(low..=high).contains(&value) {
                return Err(SetupError::Range { name, value, low, high, unit });
            }
        }
        let shut_at = p.water_design - p.shut_margin;
        let order = [
            (
                "limit and rise to more air",
                p.room_limit + p.more_air_rise,
                "design water less shut margin",
                shut_at,
            ),
            ("drying_limit", p.drying_limit, "room_limit", p.room_limit),
            ("drying_limit", p.drying_limit, "dew point at which a valve opens", shut_at - p.shut_hysteresis),
            ("water_design", p.water_design, "water_ceiling", p.water_ceiling),
            ("water_lowest", p.water_lowest, "water_design", p.water_design),
            ("primary_wet_limit", p.primary_wet_limit, "room_limit", p.room_limit),
            ("sensor_low", p.sensor_low, "room_limit", p.room_limit),
            ("water_ceiling", p.water_ceiling, "sensor_high", p.sensor_high),
            ("water_sensor_low", p.water_sensor_low, "water_lowest", p.water_lowest),
            ("water_ceiling", p.water_ceiling, "water_sensor_high", p.water_sensor_high),
        ];
        for (lesser, a, greater, b) in order {
            // Sums of Fahrenheit differences carry rounding.
            if a.to_celsius() > b.to_celsius() + 1e-9 {
                return Err(SetupError::Order {
                    kind: QuantityKind::Temperature,
                    lesser,
                    lesser_value: a.to_celsius(),
                    greater,
                    greater_value: b.to_celsius(),
                });
            }
        }
        let pairs = [
            ("shut margin and hysteresis", p.shut_margin + p.shut_hysteresis, "water_offset", p.water_offset),
            ("suspect_hysteresis", p.suspect_hysteresis, "suspect_difference", p.suspect_difference),
        ];
        for (lesser, a, greater, b) in pairs {
            if a.to_kelvin() > b.to_kelvin() + 1e-9 {
                return Err(SetupError::Order {
                    kind: QuantityKind::TemperatureDifference,
                    lesser,
                    lesser_value: a.to_kelvin(),
                    greater,
                    greater_value: b.to_kelvin(),
                });
            }
        }
        if zones.is_empty() {
            return Err(SetupError::NoZone);
        }
        let mut ids: Vec<&str> = zones.iter().map(|zone| zone.id.as_str()).collect();
        ids.sort_unstable();
        if let Some(pair) = ids.windows(2).find(|pair| pair[0] == pair[1]) {
            return Err(SetupError::ZoneId(pair[0].to_owned()));
        }
        if ids[0].is_empty() {
            return Err(SetupError::ZoneId(String::new()));
        }
        for (index, zone) in zones.iter().enumerate() {
            for (k, &neighbour) in zone.neighbours.iter().enumerate() {
                if neighbour >= zones.len() || neighbour == index || zone.neighbours[..k].contains(&neighbour)
                {
                    return Err(SetupError::Neighbour { zone: zone.id.clone(), neighbour });
                }
            }
            if let Some(limit) = zone.room_limit {
                let (limit_c, low_c, high_c) =
                    (limit.to_celsius(), p.primary_wet_limit.to_celsius(), p.room_limit.to_celsius());
                if !(limit_c > low_c && limit_c <= high_c + 1e-9) {
                    return Err(SetupError::ZoneLimit { zone: zone.id.clone(), limit_c, low_c, high_c });
                }
            }
            let has_proxy = zone.neighbours.iter().any(|&n| zones[n].sensor == ZoneSensor::Own);
            if zone.sensor == ZoneSensor::Neighbours && !has_proxy {
                return Err(SetupError::NoDewPoint(zone.id.clone()));
            }
            if zones.len() > 1 && zone.votes > p.ignored_votes {
                return Err(SetupError::OneZoneRules {
                    zone: zone.id.clone(),
                    votes: zone.votes,
                    ignored: p.ignored_votes,
                });
            }
        }
        Ok(Self { parameters, zones })
    }

    /// Whether all zones together have more than the ignored votes; otherwise the water never follows the dew point,
    /// start-up drying of the building does not wait for its zones, and coil valves alone keep coils dry.
    pub fn water_can_follow(&self) -> bool {
        self.parameters.ignored_votes < self.zones.iter().map(|zone| zone.votes).sum()
    }

    /// The numbers.
    pub fn parameters(&self) -> &Parameters {
        &self.parameters
    }

    /// The zones.
    pub fn zones(&self) -> &[ZoneSettings] {
        &self.zones
    }

    fn room_limit(&self, zone: &ZoneSettings) -> Temperature {
        zone.room_limit.unwrap_or(self.parameters.room_limit)
    }

    /// SI value of a parameter that all zones have alike; none where one has its own.
    pub fn common_value(&self, name: &str) -> Option<f64> {
        let first = self.zone_value(0, name)?;
        (1..self.zones.len()).all(|zone| self.zone_value(zone, name) == Some(first)).then_some(first)
    }

    /// SI value of a zone parameter; yes is 1.
    pub fn zone_value(&self, zone: usize, name: &str) -> Option<f64> {
        let zone = self.zones.get(zone)?;
        match name {
            "has_sensor" => Some(f64::from(u8::from(zone.sensor == ZoneSensor::Own))),
            "votes" => Some(f64::from(zone.votes)),
            "room_limit" => Some(self.room_limit(zone).to_celsius()),
            "drying_limit" => {
                Some(self.parameters.drying_limit.to_celsius().min(self.room_limit(zone).to_celsius()))
            }
            _ => None,
        }
    }
}

/// Kind of quantity of `units` as which a kind is shown; none for yes or no, counts and rates.
pub(crate) fn shown_as(kind: Kind) -> Option<QuantityKind> {
    match kind {
        Kind::Temperature => Some(QuantityKind::Temperature),
        Kind::Difference => Some(QuantityKind::TemperatureDifference),
        Kind::Time => Some(QuantityKind::Time),
        Kind::Fraction => Some(QuantityKind::Fraction),
        Kind::Rate | Kind::Boolean | Kind::Count => None,
    }
}
