//! `TU`: terminals and the catalogue.

kinds! {
    UNKNOWN_MODEL = "TU-001" Error Input "a terminal model that is not in the catalogue":
        "The room asks for this model, and neither the built-in catalogue nor catalogue.toml has it."
        => "Correct the model name, add the unit to catalogue.toml, or write `auto`.";
    MIN_ABOVE_MAX = "TU-002" Error Input "a least flow of a unit is above its most flow":
        "The unit could work at no flow at all."
        => "Exchange or correct the two values.";
    IMPOSSIBLE_RATING = "TU-003" Error Input "a coil rating point beyond what physics allows":
        "No exchanger moves more heat than the smaller of the two flows can carry between the entering temperatures. A rating above this limit has a slip in flow, temperature, duty or unit."
        => "Check the rating point against the data sheet.";
    TOO_FEW_RATINGS = "TU-004" Error Input "too few coil rating points":
        "The resistances of air and water side are fitted from points with different air and water flows; three points are the least."
        => "Add rating points with other air and other water flows.";
    RATING_OUTSIDE_FAN = "TU-005" Warning Input "a coil rating point outside the fan's range":
        "The unit can never work at this point, so the fit is steered by data that do not matter."
        => "Check the air flow of the rating point and the range of the fan.";
    TWO_HEATERS = "TU-006" Error Input "a unit with two heaters":
        "A unit has hot-water rating points or an electric heater, not both."
        => "Delete one of the two.";
    NOT_FITTED = "TU-020" Warning Result "a unit of the catalogue cannot be modelled":
        "The coil or fan parameters cannot be fitted to the unit's rating points, or no fan rating reaches the external pressure, so selection passes it over."
        => "Check the rating points of the unit named, or lower the external pressure asked of it.";
    NO_UNIT = "TU-021" Error Result "no terminal serves a zone":
        "Neither one unit, nor a unit with a supplementary box, nor the allowed number of units carries the zone's primary air, cools it with spare and heats it within the discharge and sound limits."
        => "Allow more units per room, warm the limits, enter a larger unit in the catalogue, or split the zone.";
    SEVERAL_UNITS = "TU-022" Note Result "a zone needs several units":
        "One unit's damper or coil is too small; the zone gets several of the same model."
        => "Coordinate the ceiling space, and give the units one thermostat.";
    SUPPLEMENTARY_BOX = "TU-023" Note Result "a supplementary primary-air box":
        "The zone needs more primary air than the damper of its terminal passes, while the coil is large enough: the rest comes through a box of its own."
        => "Control the box by the room's dew point and occupancy, after the terminal's damper is open.";
    LAMINAR = "TU-024" Note Result "laminar water at half load":
        "Below a Reynolds number of 2300 the water film insulates, so the coil's capacity falls faster than its flow; the model counts it, but control is touchy there."
        => "Nothing to do where margins are fine; otherwise a unit with fewer circuits.";
    REHEATS_AT_PEAK = "TU-025" Warning Result "a unit reheats at its cooling peak":
        "The primary air that the zone needs for people and moisture cools it further than its load at the design hour, so the unit heats while the plant cools. The year counts both."
        => "Deliver primary air less cold (a higher delivered dry bulb), let its flow follow the occupants, or have fewer people need less air.";
}
