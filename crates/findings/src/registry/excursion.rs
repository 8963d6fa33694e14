//! `EX`: excursions, minutes to hours in which something goes wrong.

kinds! {
    DRIPS = "EX-001" Error Result "water drips from a coil in an excursion":
        "In this case more water forms on a coil than its surface holds. It falls on ceilings, people and equipment, and a dry coil has no drain."
        => "See the stages of the zone; shut the valve earlier, raise the water, give the zone a sensor of its own, or dry the air more.";
    CRITERION_MISSED = "EX-002" Warning Result "an excursion misses a criterion":
        "Nothing drips, but the film, the time of recovery or the cooling lost is beyond what the criteria allow."
        => "See `drycoil excursion PROJECT --case NAME`; change the settings of `[sequence]`, or accept the case with its reason.";
    UNBALANCED = "EX-003" Error Result "a balance of an excursion does not close":
        "What enters, leaves and is held in a room or on a coil does not add up, so results that rest on it are not to be trusted."
        => "Report this with the project and the case; a shorter `--step` may show where it comes from.";
}
