//! `PA`: the primary-air unit and ducts.

kinds! {
    MACHINE = "PA-001" Error Result "the primary-air unit cannot be computed":
        "An input of the unit lies outside the range in which its model holds."
        => "Correct the value named in the message in `[primary_air]`.";
    NOT_DRY_ENOUGH = "PA-002" Error Result "the drying coil misses the supply dew point":
        "At a design condition the air leaves the coil more humid than the rooms need, so every room stands above its design dew point at that time."
        => "Use colder drying water, a deeper coil, or a higher supply dew point.";
    FREEZE = "PA-003" Note Result "cold air meets a water coil":
        "In the heating condition air near freezing reaches a water coil; a stopped pump or a stuck valve would burst it."
        => "Provide preheat, glycol or freeze protection, and test it in the functional tests.";
    LITTLE_EXHAUST = "PA-004" Note Result "little air returns to the energy recovery":
        "Recovery works on the smaller of its two air flows; what leaves through hoods, pressurization and contaminated exhausts is lost to it."
        => "Bring clean exhaust back to the unit, or count on less recovery.";
    COIL_TOO_CLOSE = "PA-005" Error Result "no drying coil of any size reaches the leaving state":
        "The entering water, its rise and the leaving dew point leave no temperature difference at one end of the coil."
        => "Lower the drying water or its rise, or raise the supply dew point.";
    DUCT_TOO_HIGH = "PA-006" Warning Result "a duct main does not fit the height":
        "At the allowed height and velocity the main would be more than four times as wide as it is high."
        => "Split the main, raise the allowed height, or run a second riser.";
}
