//! `YR`: the simulated year.

kinds! {
    WET_WHILE_OCCUPIED = "YR-001" Error Result "coil wet in occupied hours of the year":
        "In occupied hours of the simulated year the dew point of the air at the coil is above the water that is in the coil or free to enter it."
        => "Look at the hours shown with `--hours`; dry the primary air more, raise the sensible water, or give the room more primary air.";
    WET_WHILE_EMPTY = "YR-002" Warning Result "coil wet outside occupied hours":
        "The dew point of the air at the coil is above the water in it or free to enter it, in hours in which the room is not in use, mostly at start-up after a humid night."
        => "Hold a night dew-point limit, start drying earlier, or keep the coil valve shut until the room is dry.";
    MARGIN_SMALL = "YR-003" Note Result "margin below 2 degF in occupied hours":
        "The coil stays dry, but with less than the usual margin of control for part of the occupied year (2 degF: common practice, no source)."
        => "Put a dew-point sensor and a wet switch in this room.";
    UNMET = "YR-004" Warning Result "room away from its set points":
        "The room is more than 1 degF outside its set points for more than 300 occupied hours (300 h: ANSI/ASHRAE/IES 90.1 appendix G, from memory)."
        => "Compare the room's peak loads with the capacity of its unit; look at start-up time and set-back.";
    TOO_HUMID = "YR-005" Warning Result "room above the code dew point in occupied hours":
        "The room's dew point passes the ceiling of the project's criteria while people are in it."
        => "Give the room more or drier primary air; see when it happens with `--hours`.";
    PLANT_LIMIT = "YR-006" Warning Result "the plant was at a limit":
        "A machine was at its limit and something asked of it was not delivered. The simulation went on with what the machine gives."
        => "See the months and the hour of the first time; raise the capacity, or accept the hours.";
    NOT_CLOSED = "YR-007" Error Result "a balance does not close":
        "What enters, leaves and is stored does not add up within the bound of the method, so results that rest on this balance are not to be trusted."
        => "Report this with the project; a shorter `--step` may show where it comes from.";
    DECOUPLED_LOSES = "YR-008" Note Result "the decoupled scheme does not win":
        "On the measure shown the all-air scheme is better for this building in this climate with these prices."
        => "Look at the end uses of both schemes; free cooling by outdoor air, fan power and outdoor air above the code are the usual reasons.";
    ESTIMATE_OFF = "YR-009" Note Result "sizing's yearly estimate is off":
        "The bin method with which sizing chose the dew point differs from the simulated year by more than a quarter in site energy, so the choice may lie elsewhere."
        => "Run `drycoil sweep` over the supply dew point to see whether the choice moves.";
    NOT_PRICED = "YR-010" Note Result "not priced":
        "The project gives no price for this, so it is in no sum; a sum that needs it is not shown."
        => "Add the price to `[economics]`.";
    WARM_UP_UNSETTLED = "YR-011" Warning Result "the warm-up did not settle":
        "The states of the rooms still changed when the allowed days of warm-up were over, so the first days of January carry the start with them."
        => "Heavy constructions need more days; compare January with December.";
    PLANT_EVENT = "YR-012" Note Result "the plant worked at the edge of a model":
        "A machine ran where its model is held at an edge, such as least lift or cycling at low load. The hours are counted."
        => "Compare the hours with the hours of operation; many of them point to a machine that is too large.";
    POINT_WITHOUT_RESULT = "YR-013" Warning Result "a point of the sweep could not be designed":
        "With the values of this point sizing or the year found no result, so the point is listed without numbers and takes no part in the Pareto set."
        => "See the reason beside the point; narrow the range of the input.";
    COMFORT_DIFFERS = "YR-014" Warning Result "the schemes do not hold their rooms alike":
        "One scheme leaves its rooms away from their set points for more than 1.5 % of the occupied room-hours and for more than twice as long as the other, so the energies compared are those of unequal service (1.5 %: common practice, no source)."
        => "See which rooms with the findings YR-004; give them larger units, colder air or heat in their hours with few people, then compare again.";
}
