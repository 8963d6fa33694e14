//! Limits that a machine reached, as data: applied, counted by the caller, never hidden.

use std::fmt;

/// A limit of a machine or a model that was reached at one condition.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Limit {
    /// The chiller runs at its smallest lift; colder condenser water brings nothing more.
    MinimumLift,
    /// The machine cannot make the load asked; the rest is reported as unmet.
    Capacity,
    /// The load is below the smallest stable load; the machine runs part of the time.
    Cycling,
    /// The condition lies outside the points the curve was made from; the edge value is used.
    OutsideRatedRange,
    /// The fan runs at its full flow.
    FanFull,
    /// The fan runs at its smallest flow, or is off.
    FanMinimum,
    /// The water valve is fully open.
    ValveFull,
    /// The water valve is shut.
    ValveShut,
    /// Air below the freeze protection threshold meets the water coil.
    FreezeProtection,
    /// Frost control of the energy recovery acts.
    FrostControl,
    /// The leaving dew point asked is not reached.
    DewPointMissed,
    /// The coil condenses water although it must be dry.
    CoilWet,
    /// A discharge temperature limit holds.
    DischargeTemperature,
    /// Cold make-up is added because the reused return is too little.
    ReturnTooLittle,
    /// Cold make-up is added because the reused return is too warm.
    ReturnTooWarm,
    /// Flow is held at the smallest flow of a pump.
    MinimumFlow,
    /// The drying coil takes no heat: the air is dry and cool enough.
    CoilIdle,
    /// Condensation in the recovery, or a state above saturation.
    Fog,
    /// Exhaust leaves the energy recovery saturated below 0 degC.
    Frosting,
}

impl Limit {
    /// Every limit, in the order of declaration.
    pub const ALL: &'static [Limit] = &[
        Limit::MinimumLift,
        Limit::Capacity,
        Limit::Cycling,
        Limit::OutsideRatedRange,
        Limit::FanFull,
        Limit::FanMinimum,
        Limit::ValveFull,
        Limit::ValveShut,
        Limit::FreezeProtection,
        Limit::FrostControl,
        Limit::DewPointMissed,
        Limit::CoilWet,
        Limit::DischargeTemperature,
        Limit::ReturnTooLittle,
        Limit::ReturnTooWarm,
        Limit::MinimumFlow,
        Limit::CoilIdle,
        Limit::Fog,
        Limit::Frosting,
    ];

    /// A few words for a message.
    pub const fn label(self) -> &'static str {
        match self {
            Self::MinimumLift => "minimum lift",
            Self::Capacity => "capacity",
            Self::Cycling => "cycling below the smallest load",
            Self::OutsideRatedRange => "outside the rated range",
            Self::FanFull => "fan at full flow",
            Self::FanMinimum => "fan at smallest flow",
            Self::ValveFull => "valve fully open",
            Self::ValveShut => "valve shut",
            Self::FreezeProtection => "freeze protection",
            Self::FrostControl => "frost control of the energy recovery",
            Self::DewPointMissed => "leaving dew point not reached",
            Self::CoilWet => "coil is wet",
            Self::DischargeTemperature => "discharge temperature limit",
            Self::ReturnTooLittle => "reused return too little",
            Self::ReturnTooWarm => "reused return too warm",
            Self::MinimumFlow => "smallest flow",
            Self::CoilIdle => "drying coil idle",
            Self::Fog => "condensation in the recovery or fog",
            Self::Frosting => "frost in the energy recovery",
        }
    }
}

/// The limits reached at one condition.
///
/// ```
/// use drycoil_plant::limits::{Limit, Limits};
/// let mut reached = Limits::NONE;
/// reached.add(Limit::MinimumLift);
/// assert!(reached.has(Limit::MinimumLift) && !reached.has(Limit::Capacity));
/// assert_eq!(reached.to_string(), "minimum lift");
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Hash)]
pub struct Limits(u32);

impl Limits {
    /// No limit reached.
    pub const NONE: Limits = Limits(0);

    /// Adds a limit.
    pub fn add(&mut self, limit: Limit) {
        self.0 |= 1 << limit as u32;
    }

    /// Whether a limit was reached.
    pub const fn has(self, limit: Limit) -> bool {
        self.0 & (1 << limit as u32) != 0
    }

    /// Whether no limit was reached.
    pub const fn is_empty(self) -> bool {
        self.0 == 0
    }

    /// Limits of both.
    #[must_use]
    pub const fn and(self, other: Limits) -> Limits {
        Limits(self.0 | other.0)
    }

    /// The limits reached, in the order of declaration.
    pub fn iter(self) -> impl Iterator<Item = Limit> {
        Limit::ALL.iter().copied().filter(move |l| self.has(*l))
    }
}

impl fmt::Display for Limits {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (i, limit) in self.iter().enumerate() {
            if i > 0 {
                f.write_str(", ")?;
            }
            f.write_str(limit.label())?;
        }
        Ok(())
    }
}
