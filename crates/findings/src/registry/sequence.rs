//! `SQ`: the dew-point sequence.

kinds! {
    UNKNOWN_ZONE = "SQ-001" Error Input "the sequence names a zone that does not exist":
        "Settings for a zone that does not exist would have no effect, and the zone that was meant would run with others."
        => "Use the name of a zone of the room list; a room that stands alone is a zone with the id of the room.";
    ZONE_TWICE = "SQ-002" Error Input "a zone is listed twice in the sequence":
        "Two rows for one zone leave open which of them holds."
        => "Delete one of the rows, or correct its zone.";
    NEIGHBOUR = "SQ-003" Error Input "a neighbour that cannot be one":
        "A zone cannot judge its own sensor, and a neighbour named twice would count twice."
        => "Name other zones, each once, separated by commas.";
    ONE_ZONE_RULES = "SQ-004" Error Input "one zone could warm the water of the whole building":
        "A zone with more votes than are ignored would take cooling from all rooms by itself: one propped door, one wrong sensor."
        => "Lower the votes of the zone, or raise `sequence.ignored_votes`.";
    STAGES_CROSSED = "SQ-005" Error Input "settings of the sequence contradict each other":
        "Stages must come in their order: notice, alarm with more primary air, coil valve shut; releases lie below triggers. With these numbers and this design they would not."
        => "Change one of the two values shown. A value that is left out follows from the design.";
    NO_DEW_POINT = "SQ-006" Error Input "a zone has no dew point to go by":
        "The zone has no dew-point sensor of its own and no neighbour that has one, so its coil could never open."
        => "Give the zone a sensor, or name a neighbour with a sensor in `sequence.zones`.";
    WATER_CANNOT_FOLLOW = "SQ-007" Warning Result "the water never follows the dew point":
        "All zones together have no more votes than are ignored. The water of the building then stays at its design temperature, start-up drying of the building does not wait for its zones, and coil valves alone keep coils dry."
        => "Accept this for a building of one zone; else lower `sequence.ignored_votes` or raise votes.";
    SETTINGS_WITHOUT_TERMINAL = "SQ-008" Warning Result "settings for a zone without a terminal":
        "The zone is listed in the sequence, but the design gives it no terminal with a cooling coil, so nothing of it is controlled."
        => "Delete the row, or look why the zone has no terminal: `drycoil size` shows screens and transfer air.";
    OWN_LIMIT = "SQ-009" Warning Result "a room's own dew-point limit is not in the sequence":
        "A zone is noticed at the lowest limit of its rooms where that is below the limit of the building, and at the limit of the building where it is above: water and primary air are those of the building. This room may be more humid, and is in alarm without need."
        => "Leave the limit out, or serve the room separately.";
    OFFSET_EATEN = "SQ-010" Note Result "sensor error and water control use up the offset of the water":
        "The water follows the measured dew point at an offset. Error of the sensor and band of the water control together are larger, so water may be colder than the true dew point while the sequence believes itself safe. Wet switches then are what keeps water off the floor."
        => "Better sensors, a tighter water control, or a larger `sequence.water_offset`.";
    NO_MORE_AIR = "SQ-011" Note Result "a zone cannot get more primary air":
        "The terminals of the zone take no more primary air than at design, so the stage of more primary air brings an alarm and nothing else."
        => "Choose a terminal with a larger primary inlet, or accept that this zone relies on its coil valve.";
    NO_ZONES = "SQ-012" Error Result "there is nothing to control":
        "The design has no terminal with a cooling coil, so there is no coil to keep dry and no sequence to write."
        => "See with `drycoil size` why no zone has a terminal.";
}
