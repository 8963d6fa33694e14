//! The design: loads, primary air, supply dew point, terminals, primary-air unit, plant.
