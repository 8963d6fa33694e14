//! Writes every picture, in both unit systems, light and dark: `cargo run -p drycoil-pictures --example gallery -- DIR`.

mod samples;

use drycoil_pictures::{Appearance, Options};
use drycoil_units::UnitSystem;
use std::path::Path;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let folder = std::env::args().nth(1).ok_or("the folder to write to is missing")?;
    std::fs::create_dir_all(&folder)?;
    for (system, unit) in [(UnitSystem::Si, "si"), (UnitSystem::Ip, "ip")] {
        for (appearance, paper) in [(Appearance::Light, "light"), (Appearance::Dark, "dark")] {
            for (name, draw) in samples::all() {
                let options = Options::new(system, &name).appearance(appearance);
                let picture = draw(&options)?;
                std::fs::write(Path::new(&folder).join(format!("{name}-{unit}-{paper}.svg")), picture.svg())?;
            }
        }
    }
    Ok(())
}
