//! `DP`: primary air and the supply dew point.

kinds! {
    NO_SOLUTION = "DP-001" Error Result "no supply dew point keeps the rooms dry":
        "No supply dew point between the lowest that the drying water reaches and the room limit gives every room a finite primary flow within its dew-point limit."
        => "Unpin the supply or the limit, lower the drying water, give infiltrating air less way in, or take the wettest rooms off the system.";
    TRUE_MARGIN_NEGATIVE = "DP-002" Error Result "coil would be wet":
        "In an occupied design hour the dew point of the air that meets the coil is above the water entering it: water forms on headers, bends and fins, and the unit has no drain made for it."
        => "Raise the sensible water, dry the primary air more, or give the room more primary air.";
    BELOW_REQUIRED_MARGIN = "DP-003" Warning Result "true margin smaller than the margin that control needs":
        "The coil is dry at design, but the margin is less than sensor error plus the band of the water-temperature control, so it rests on perfect control."
        => "Put a dew-point sensor and a wet switch in this room, raise its primary air, or raise the water temperature by the difference.";
    SCREENED_OFF = "DP-004" Note Result "room proposed for conventional cooling":
        "Rooms of this kind are too humid, too open to outdoors, or too dense for a coil that must stay dry, so they are left off the system."
        => "Give the room its own cooling with a drained coil, or overrule the screen in the room list with `system = on` and a reason.";
    SCREEN_OVERRULED = "DP-005" Warning Result "screen overruled":
        "A room that the screens propose for conventional cooling is on the system because the room list says so."
        => "Watch this room's margin first; its reason is printed in the papers.";
    ABOVE_LIMIT = "DP-006" Warning Result "room above its dew-point limit":
        "The room's dew point passes its limit in an occupied design hour other than the one that sized its primary air."
        => "Look at the hour shown; raise the room's primary air or its limit.";
    PIN_COSTS = "DP-007" Note Result "a pinned value has a price":
        "The pinned supply dew point, room limit or water temperature makes the yearly objective larger than the value that would be chosen freely."
        => "Keep the pin if there is a reason for it; otherwise delete it and size again.";
    AT_LOWEST_SUPPLY = "DP-008" Warning Result "supply dew point at the lowest that the drying water reaches":
        "The optimum lies at the edge of what the drying coil can do, so a colder supply might be cheaper, and a coil a little worse than planned misses the dew point."
        => "Use colder drying water, a closer coil, or another way of drying; or serve the governing rooms separately.";
    SEPARATE_SERVICE_PAYS = "DP-009" Note Result "serving a governing room separately lowers the yearly objective":
        "Most of the building could live with a more humid supply; this room forces the choice for all."
        => "Compare the saving with the first cost of a supplementary primary-air box, a second terminal or local drying.";
    NOTHING_ON_SYSTEM = "DP-010" Error Result "no room is on the system":
        "Every room is screened off or set off the system, so there is nothing to design."
        => "Overrule screens where the rooms really suit dry coils, or choose another system for this building.";
    LOW_SUPPLY = "DP-011" Note Result "supply dew point below 45 degF":
        "Below about 45 degF a chilled-water coil nears its freezing guard; other drying is usual there (common practice, no source)."
        => "Consider glycol, a desiccant, or a wrap-around coil for the primary-air unit.";
}
