//! `VN`: ventilation and the air balance.

kinds! {
    FLOOR_NEGATIVE = "VN-001" Warning Result "a floor exhausts more than it gets":
        "Exhaust from the rooms of this floor is larger than the primary and transfer air that reach it, so outdoor air is drawn in through the facade and brings its moisture with it."
        => "Add primary air on this floor, bring transfer air from another floor, or check the exhaust flows.";
    BUILDING_NEGATIVE = "VN-002" Error Result "the building exhausts more than it gets":
        "The building as a whole would stand below outdoor pressure: humid air leaks in everywhere and the dew-point design does not hold."
        => "Raise the primary air above the exhaust by the pressurization flow, or give large exhausts their own make-up air.";
    PRESSURIZATION_SHORT = "VN-003" Warning Result "too little surplus to pressurize":
        "Primary air exceeds exhaust, but by less than the pressurization flow that the criteria ask for, so the reduced infiltration that the loads assume may not be reached."
        => "Raise the primary air, reduce exhaust, or enter the infiltration without pressurization.";
    STARVED_IN_ZONE = "VN-004" Warning Result "a room forces the primary air of its whole zone":
        "Primary air splits among the rooms of a zone by their share of the discharge. This room needs more than its share, so all rooms of the zone get more than they need."
        => "Give the room a terminal of its own, or a supplementary primary-air box.";
    PRESSURE_RELATION = "VN-005" Warning Result "pressure relation of a health-care room is not met by the entered flows":
        "The room must stand above or below its neighbours. With the entered exhaust and the primary air found here the difference of flows is too small or has the wrong sign."
        => "Enter the exhaust that holds the relation; health-care rooms need a qualified design of their own and commissioning of pressures.";
    NO_VENTILATION_RULE = "VN-006" Note Result "room on transfer air has no outdoor-air rate":
        "The room gets no primary air; its air comes from the room named as transfer source."
        => "Check with the adopted ventilation standard that the room may be ventilated by transfer air.";
    GIVES_MORE_THAN_IT_GETS = "VN-007" Warning Result "more transfer air is drawn from a room than reaches it":
        "What other rooms draw from this room as transfer air, with its own exhaust, is more than its primary and transfer air. The rest comes in from wherever doors leak, with moisture that nobody counted."
        => "Draw from a room with more primary air, spread the draw over several rooms, or give the drawing room primary air.";
}
