//! `WP`: the water plant.

kinds! {
    MACHINE = "WP-001" Error Result "a machine of the plant cannot be computed":
        "An input of a chiller, tower, pump or boiler lies outside the range in which its model holds, or a rating contradicts physics."
        => "Correct the value named in the message in `[plant]` or `[water]`.";
    TOWER = "WP-002" Error Result "the tower cannot do its duty":
        "With the design wet bulb, range and approach the operating line crosses saturation, so no tower of any size makes this water."
        => "Enter a larger approach or a smaller range.";
    BLEND_SHORT = "WP-003" Note Result "return water needs cold make-up":
        "The primary-air unit's return is too little or too warm to supply the terminals at design, so cold water is blended in. At part load this is the normal case."
        => "Nothing to do; size the make-up valve for the flow shown.";
    PIPE_LIMIT = "WP-004" Warning Result "no pipe of the table carries the flow":
        "The flow is larger than the largest pipe of the table allows by friction or by the standard's flow limit."
        => "Split the circuit, or accept a higher friction.";
    COIL_EXEMPT = "WP-005" Note Result "terminal coils and the standard's coil rule":
        "The energy standard asks chilled-water coils for a rise of 15 degF and 57 degF leaving water, but exempts coils whose water enters at 50 degF or more and fan units up to 5000 cfm; the terminals are exempt, the drying coil is not."
        => "Check the drying coil's rise against the adopted edition.";
}
