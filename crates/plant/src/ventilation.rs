//! Outdoor air of zones and of systems that recirculate: the ventilation rate procedure of ANSI/ASHRAE 62.1, section 6.
//!
//! Zone: `Vbz = Rp Pz + Ra Az`, `Voz = Vbz / Ez`. A system of outdoor air only needs the sum of `Voz`. A system that
//! recirculates needs more, because the zone with the largest share of outdoor air in its supply (`Zpz = Voz / Vpz`)
//! governs all: `Vou = D sum(Rp Pz) + sum(Ra Az)`, `Xs = Vou / Vps`, `Evz = 1 + Xs - Zpz`, `Ev = min Evz`,
//! `Vot = Vou / Ev`. The form of `Vbz` and `Vot` was read in texts that quote the standard; `Evz`, the simplified `Ev` and
//! the table of `Ez` are from memory.
//!
//! The population is that of the moment: `D = Ps / sum Pz`, at most 1. Rates belong to an edition of the standard; they
//! come in as numbers.

use crate::error::{PlantError, within};
use drycoil_units::{Area, Quantity, StandardAirFlow, StandardAirFlowPerArea};

/// How supply air reaches the people of a zone.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum AirDistribution {
    /// Cool air from the ceiling.
    CeilingCool,
    /// Warm air from the ceiling, return at the floor.
    CeilingWarmFloorReturn,
    /// Air at least 15 degF (8 K) warmer than the room from the ceiling, return at the ceiling.
    CeilingVeryWarmCeilingReturn,
    /// Air less than 15 degF (8 K) warmer than the room from the ceiling, return at the ceiling, with a jet of at least
    /// 150 fpm (0.8 m/s) that reaches 4.5 ft (1.4 m) above the floor.
    CeilingWarmWithJet,
    /// The same without such a jet.
    CeilingWarmWithoutJet,
    /// Warm air from the floor, return at the floor.
    FloorWarmFloorReturn,
    /// Warm air from the floor, return at the ceiling.
    FloorWarmCeilingReturn,
    /// Make-up air on the far side of the room from the exhaust or return.
    MakeUpFarSide,
    /// Make-up air near the exhaust or return.
    MakeUpNearSide,
}

impl AirDistribution {
    /// Zone air distribution effectiveness `Ez` (ANSI/ASHRAE 62.1-2019 Table 6-4, from memory).
    pub const fn effectiveness(self) -> f64 {
        match self {
            Self::CeilingCool
            | Self::CeilingWarmFloorReturn
            | Self::CeilingWarmWithJet
            | Self::FloorWarmFloorReturn => 1.0,
            Self::CeilingVeryWarmCeilingReturn | Self::CeilingWarmWithoutJet | Self::MakeUpFarSide => 0.8,
            Self::FloorWarmCeilingReturn => 0.7,
            Self::MakeUpNearSide => 0.5,
        }
    }

    /// Every way.
    pub const ALL: &'static [Self] = &[
        Self::CeilingCool,
        Self::CeilingWarmFloorReturn,
        Self::CeilingVeryWarmCeilingReturn,
        Self::CeilingWarmWithJet,
        Self::CeilingWarmWithoutJet,
        Self::FloorWarmFloorReturn,
        Self::FloorWarmCeilingReturn,
        Self::MakeUpFarSide,
        Self::MakeUpNearSide,
    ];
}

/// People, floor and rates of a zone.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ZoneRates {
    /// People, 0 to 1e5.
    pub people: f64,
    /// Floor area.
    pub area: Area,
    /// Rate per person, `Rp`.
    pub per_person: StandardAirFlow,
    /// Rate per area, `Ra`.
    pub per_area: StandardAirFlowPerArea,
}

/// Outdoor air that people breathe in a zone.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BreathingZone {
    /// `Rp Pz`.
    pub for_people: StandardAirFlow,
    /// `Ra Az`.
    pub for_area: StandardAirFlow,
    /// `Vbz`.
    pub flow: StandardAirFlow,
}

/// `Vbz = Rp Pz + Ra Az`.
///
/// # Errors
/// A negative or unreasonable number (people above 1e5, area above 1e6 m2, rates above 1 m3/s).
///
/// ```
/// use drycoil_plant::ventilation::{ZoneRates, breathing_zone};
/// use drycoil_units::{Area, StandardAirFlow, StandardAirFlowPerArea};
/// let meeting = ZoneRates {
///     people: 25.0,
///     area: Area::square_feet(500.0),
///     per_person: StandardAirFlow::cfm(5.0),
///     per_area: StandardAirFlowPerArea::cfm_per_ft2(0.06),
/// };
/// assert!((breathing_zone(&meeting)?.flow.to_cfm() - 155.0).abs() < 1e-9);
/// # Ok::<(), drycoil_plant::PlantError>(())
/// ```
pub fn breathing_zone(zone: &ZoneRates) -> Result<BreathingZone, PlantError> {
    let people = within("people in a zone", zone.people, 0.0, 1e5)?;
    let area = within("floor area of a zone, m2", zone.area.si(), 0.0, 1e6)?;
    let per_person = within("outdoor air per person, m3/s", zone.per_person.si(), 0.0, 1.0)?;
    let per_area = within("outdoor air per area, m3/s m2", zone.per_area.si(), 0.0, 1.0)?;
    let for_people = StandardAirFlow::from_si(people * per_person);
    let for_area = StandardAirFlow::from_si(area * per_area);
    Ok(BreathingZone { for_people, for_area, flow: for_people + for_area })
}

/// `Voz = Vbz / Ez`.
///
/// # Errors
/// An effectiveness outside 0.1 to 2.
pub fn zone_outdoor_air(
    breathing_zone: StandardAirFlow,
    effectiveness: f64,
) -> Result<StandardAirFlow, PlantError> {
    Ok(breathing_zone / within("zone air distribution effectiveness", effectiveness, 0.1, 2.0)?)
}

/// A zone of a system that recirculates.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SystemZone {
    /// People, floor and rates.
    pub rates: ZoneRates,
    /// `Ez`.
    pub effectiveness: f64,
    /// Supply air of the zone in the condition that is judged, `Vpz`.
    pub supply: StandardAirFlow,
}

/// How the efficiency of the system is found.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum EfficiencyMethod {
    /// From the share of outdoor air in every zone's supply (62.1, normative appendix; single supply).
    ZoneByZone,
    /// `Ev = 0.88 D + 0.22` below `D = 0.6`, else 0.75 (62.1-2019 and later, from memory).
    Simplified,
}

/// What a zone contributes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ZoneVentilation {
    /// Outdoor air that people breathe.
    pub breathing_zone: BreathingZone,
    /// `Voz`.
    pub outdoor_air: StandardAirFlow,
    /// Share of outdoor air that its supply needs, `Zpz`.
    pub share: f64,
    /// `Evz`.
    pub efficiency: f64,
}

/// Outdoor air of a system.
#[derive(Debug, Clone, PartialEq)]
pub struct SystemVentilation {
    /// Each zone, in the order given.
    pub zones: Vec<ZoneVentilation>,
    /// Occupant diversity `D`.
    pub diversity: f64,
    /// Uncorrected outdoor air `Vou`.
    pub uncorrected: StandardAirFlow,
    /// Supply of the system `Vps`: the sum of the zones' supplies.
    pub supply: StandardAirFlow,
    /// `Xs`.
    pub average_share: f64,
    /// `Ev`.
    pub efficiency: f64,
    /// Index of the zone with the smallest `Evz`.
    pub governing: usize,
    /// Outdoor air intake `Vot`.
    pub intake: StandardAirFlow,
    /// What a system of outdoor air only needs: the sum of `Voz`.
    pub outdoor_air_only: StandardAirFlow,
}

/// Outdoor air intake of a system that recirculates, for `population` people at the same time in all its zones.
///
/// # Errors
/// No zone; a population below zero or above the sum of the zones' people; people nowhere but a population; a supply
/// that is not above zero; an efficiency that is not above zero (a zone needs more outdoor air than its supply can
/// carry); an intake above the supply.
pub fn system(
    zones: &[SystemZone],
    population: f64,
    method: EfficiencyMethod,
) -> Result<SystemVentilation, PlantError> {
    if zones.is_empty() {
        return Err(PlantError::TooFewPoints { what: "zones of a system", given: 0, needed: 1 });
    }
    let people: f64 = zones.iter().map(|z| z.rates.people).sum();
    let population = within("people in the system", population, 0.0, people)?;
    let diversity = if people > 0.0 { population / people } else { 1.0 };
    let mut found = Vec::with_capacity(zones.len());
    let (mut for_people, mut for_area, mut supply, mut outdoor) = (0.0, 0.0, 0.0, 0.0);
    for zone in zones {
        let breathing = breathing_zone(&zone.rates)?;
        let outdoor_air = zone_outdoor_air(breathing.flow, zone.effectiveness)?;
        let zone_supply = within("supply air of a zone, m3/s", zone.supply.si(), 1e-9, 1e5)?;
        for_people += breathing.for_people.si();
        for_area += breathing.for_area.si();
        supply += zone_supply;
        outdoor += outdoor_air.si();
        found.push(ZoneVentilation {
            breathing_zone: breathing,
            outdoor_air,
            share: outdoor_air.si() / zone_supply,
            efficiency: 0.0,
        });
    }
    let uncorrected = diversity * for_people + for_area;
    let average_share = uncorrected / supply;
    for zone in &mut found {
        zone.efficiency = 1.0 + average_share - zone.share;
    }
    let mut governing = 0;
    for index in 1..found.len() {
        if found[index].efficiency < found[governing].efficiency {
            governing = index;
        }
    }
    let efficiency = match method {
        EfficiencyMethod::ZoneByZone => found[governing].efficiency,
        EfficiencyMethod::Simplified => simplified_efficiency(diversity)?,
    };
    if efficiency <= 0.0 {
        return Err(PlantError::Contradiction {
            what: "system ventilation efficiency against zero: a zone needs more outdoor air than its supply can carry",
            value: efficiency,
            limit: 0.0,
        });
    }
    let intake = uncorrected / efficiency;
    if intake > supply {
        return Err(PlantError::Contradiction {
            what: "outdoor air intake against the supply of the system, m3/s",
            value: intake,
            limit: supply,
        });
    }
    Ok(SystemVentilation {
        zones: found,
        diversity,
        uncorrected: StandardAirFlow::from_si(uncorrected),
        supply: StandardAirFlow::from_si(supply),
        average_share,
        efficiency,
        governing,
        intake: StandardAirFlow::from_si(intake),
        outdoor_air_only: StandardAirFlow::from_si(outdoor),
    })
}

/// `Ev = 0.88 D + 0.22` below `D = 0.6`, else 0.75 (62.1-2019 and later, from memory).
///
/// # Errors
/// A diversity outside 0 to 1.
pub fn simplified_efficiency(diversity: f64) -> Result<f64, PlantError> {
    let d = within("occupant diversity", diversity, 0.0, 1.0)?;
    Ok(if d < 0.6 { 0.88 * d + 0.22 } else { 0.75 })
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn zone(area: f64, people: f64, rp: f64, ra: f64, supply: f64) -> SystemZone {
        SystemZone {
            rates: ZoneRates {
                people,
                area: Area::square_feet(area),
                per_person: StandardAirFlow::cfm(rp),
                per_area: StandardAirFlowPerArea::cfm_per_ft2(ra),
            },
            effectiveness: 1.0,
            supply: StandardAirFlow::cfm(supply),
        }
    }

    fn five() -> Vec<SystemZone> {
        vec![
            zone(4000.0, 20.0, 5.0, 0.06, 3200.0),
            zone(500.0, 25.0, 5.0, 0.06, 600.0),
            zone(400.0, 12.0, 5.0, 0.06, 350.0),
            zone(800.0, 0.0, 0.0, 0.06, 300.0),
            zone(900.0, 32.0, 10.0, 0.12, 900.0),
        ]
    }

    #[test]
    fn val_constructed_system() {
        // Constructed, from the equations of the standard only; recomputed. Printed digits.
        let s = system(&five(), 75.0, EfficiencyMethod::ZoneByZone).unwrap();
        assert!((s.diversity - 0.842697).abs() < 1e-6);
        assert!((s.uncorrected.to_cfm() - 959.831).abs() < 1e-3);
        assert!((s.average_share - 0.179408).abs() < 1e-6);
        assert!((s.efficiency - 0.703852).abs() < 1e-6 && s.governing == 4);
        assert!((s.intake.to_cfm() - 1363.68).abs() < 0.005);
        assert!((s.outdoor_air_only.to_cfm() - 1055.0).abs() < 1e-6);
        let simple = system(&five(), 75.0, EfficiencyMethod::Simplified).unwrap();
        assert!((simple.intake.to_cfm() - 1279.78).abs() < 0.006);
    }

    #[test]
    fn val_simplified_efficiency() {
        // 62.1-2019, from memory.
        assert!((simplified_efficiency(0.5).unwrap() - 0.66).abs() < 1e-12);
        assert_eq!(simplified_efficiency(0.6).unwrap(), 0.75);
        assert!(simplified_efficiency(1.1).is_err());
    }

    #[test]
    fn impossible_systems_are_refused() {
        assert!(system(&[], 0.0, EfficiencyMethod::ZoneByZone).is_err());
        assert!(system(&five(), 90.0, EfficiencyMethod::ZoneByZone).is_err());
        // A zone that needs three times its supply beside a large one that needs little.
        let starved = [zone(100.0, 60.0, 5.0, 0.0, 100.0), zone(100.0, 0.0, 0.0, 0.06, 5000.0)];
        let error = system(&starved, 60.0, EfficiencyMethod::ZoneByZone).unwrap_err();
        assert!(error.to_string().contains("more outdoor air than its supply"), "{error}");
        let mut negative = five();
        negative[0].rates.people = -1.0;
        assert!(system(&negative, 10.0, EfficiencyMethod::ZoneByZone).is_err());
        assert!(zone_outdoor_air(StandardAirFlow::cfm(10.0), 0.0).is_err());
    }

    proptest! {
        #[test]
        fn phys_intake_is_never_below_the_uncorrected_and_one_zone_needs_its_own(
            area in 10.0..1e4f64, people in 1.0..200.0f64, share in 0.05..0.9f64,
        ) {
            let needed = 5.0 * people + 0.06 * area;
            let one = [zone(area, people, 5.0, 0.06, needed / share)];
            let s = system(&one, people, EfficiencyMethod::ZoneByZone).unwrap();
            prop_assert!((s.efficiency - 1.0).abs() < 1e-12);
            prop_assert!((s.intake.to_cfm() / needed - 1.0).abs() < 1e-12);
            // A second zone that needs no outdoor air: Evz = 1 - share (1 - dilution), so the intake grows.
            let two = [one[0], zone(1.0, 0.0, 0.0, 0.0, needed)];
            let s = system(&two, people, EfficiencyMethod::ZoneByZone).unwrap();
            prop_assert!(s.efficiency < 1.0 && s.intake >= s.uncorrected && s.governing == 0);
            prop_assert!(s.intake.si() <= s.supply.si());
        }
    }
}
