//! `LD`: loads.

kinds! {
    NO_CONDITIONS = "LD-001" Error Result "design conditions cannot be derived":
        "The weather year does not hold what a design condition or a design day needs, for instance sun in some month."
        => "Enter the design conditions of the station in `[site.conditions]`, or use a complete weather year.";
    CONSTRUCTION = "LD-002" Error Result "a construction cannot be modelled":
        "A layer is outside the range in which the thermal network holds, such as a film thinner than any building layer."
        => "Correct the layer, or write it as a resistance without mass.";
    ROOM = "LD-003" Error Result "the loads of a room cannot be solved":
        "The thermal network of the room has no repeated-day solution with the inputs given."
        => "Check the room's surfaces, set points and gains for values that no room has.";
}
