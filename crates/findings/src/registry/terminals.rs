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
}
