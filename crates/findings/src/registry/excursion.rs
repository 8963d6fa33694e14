//! `EX`: excursions, minutes to hours in which something goes wrong.

kinds! {
    DRIPS = "EX-001" Error Result "water drips from a coil in an excursion":
        "In this case more water forms on a coil than its surface holds. It falls on ceilings, people and equipment, and a dry coil has no drain."
        => "See the stages of the zone; shut the valve earlier, raise the water, give the zone a sensor of its own, or dry the air more.";
    CRITERION_MISSED = "EX-002" Warning Result "an excursion misses a criterion":
        "Nothing drips, but the film, the time of recovery or the cooling lost by the sequence is beyond what the criteria allow."
        => "See `drycoil excursion PROJECT --case NAME`; change the settings of `[sequence]`, or accept the case with its reason.";
    LOST_TO_UPSET = "EX-004" Note Result "an excursion takes cooling that no control could keep":
        "With every dew point known at once and without error, water of its own for each zone and dampers that open where primary air dries, this much cooling could still not be had from dry coils: the upset leaves air too humid, or a plant without water. It counts against the upset, not against the sequence."
        => "Where this matters, make the upset less likely: a second drying stage, a stand-by pump, doors that close.";
    UNBALANCED = "EX-003" Error Result "a balance of an excursion does not close":
        "What enters, leaves and is held in a room or on a coil does not add up, so results that rest on it are not to be trusted."
        => "Report this with the project and the case; a shorter `--step` may show where it comes from.";
}
