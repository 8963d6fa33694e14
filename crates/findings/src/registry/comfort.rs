//! `CM`: comfort and code screens.

kinds! {
    CODE_DEW_POINT = "CM-001" Warning Result "room above the code ceiling of the indoor dew point":
        "The ventilation standard limits the indoor dew point (60 degF in ANSI/ASHRAE 62.1, 2019 and later, from memory) of mechanically cooled buildings whenever it is more humid outdoors. This room passes the ceiling in an occupied design hour."
        => "Give the room more primary air or a drier supply, or take it off the system; check the adopted edition of the standard.";
    HUMIDITY_BAND = "CM-002" Warning Result "relative humidity outside the comfort band":
        "The relative humidity that goes with the room's design dew point and set point lies outside the band entered in the criteria.  A dew point of 55 degF is 50 % at 75 degF but 55 % at 72 degF."
        => "Lower the room dew-point limit, raise the set point, or widen the band if the client accepts it.";
    OVERCOOLED = "CM-003" Note Result "cold primary air overcools the room at minimum load":
        "With few people and no sun the primary air that the room must have brings more cooling than the room's gains, so its temperature falls below the heating set point unless heat is added."
        => "Use the terminal's heater, deliver the primary air at the temperature shown, or control the flow by occupancy where moisture allows.";
    TOTAL_AIR_CHANGES = "CM-004" Warning Result "total air changes below the health-care requirement":
        "Primary air and recirculated air of the terminal together change the room's air less often than the health-care ventilation standard asks."
        => "Raise the terminal's least fan air, or serve the room from an all-outdoor-air system designed for health care.";
    WARM_DISCHARGE = "CM-005" Note Result "warm discharge mixes badly":
        "In heating the discharge is more than 15 degF above the room, so warm air stays under the ceiling. The ventilation was sized for an air-distribution effectiveness of 0.8, which counts from 15 degF on; a discharge of exactly 15 degF above the room is not reported."
        => "Lower the highest discharge temperature, return the air near the floor, or keep the larger ventilation.";
    COLD_DISCHARGE = "CM-006" Warning Result "discharge colder than the lowest allowed":
        "The mixture of primary and coil air leaves the terminal below the lowest discharge temperature of the criteria; people feel draughts and grilles may sweat."
        => "Raise the fan air, the water temperature, or the delivered temperature of the primary air.";
    WARM_WITHOUT_TERMINAL = "CM-007" Note Result "room without a terminal gets warmer than its set point":
        "The room has no coil: only the primary or transfer air that reaches it takes heat away, and at its peak load that is less than the room gains. Corridors and stores may float; a room for people should not."
        => "Accept the drift for rooms in which nobody stays, give the room a terminal, or bring it more air.";
}
