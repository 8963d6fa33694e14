//! Prints the program text of the sequence for a few setups, for a parser that is not ours.

#![allow(clippy::print_stdout)]

use drycoil_sequence::{
    Parameters, Setup, WaterOrder, ZoneSensor, ZoneSettings, dew_point_sequence, structured_text,
};
use drycoil_units::{Temperature, UnitSystem};

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let f = Temperature::fahrenheit;
    for (order, zones, system) in [
        (WaterOrder::AfterValves, 4, UnitSystem::Si),
        (WaterOrder::BeforeValves, 4, UnitSystem::Ip),
        (WaterOrder::AfterValves, 1, UnitSystem::Ip),
        (WaterOrder::AfterValves, 300, UnitSystem::Si),
    ] {
        let list = (0..zones)
            .map(|k: usize| ZoneSettings {
                id: format!("zone (* {k} *)"),
                room_limit: (k == 2).then(|| f(54.0)),
                sensor: if k == 3 { ZoneSensor::Neighbours } else { ZoneSensor::Own },
                votes: u32::from(k != 3),
                neighbours: [k.wrapping_sub(1), k + 1].into_iter().filter(|n| *n < zones).collect(),
            })
            .collect();
        let setup = Setup::new(Parameters::for_design(f(55.0), f(57.0), f(48.0)), list)?;
        println!("{}", structured_text(&dew_point_sequence(order), &setup, system)?);
        println!("(* end of file *)");
    }
    Ok(())
}
