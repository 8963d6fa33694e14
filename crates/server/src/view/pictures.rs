//! The pictures of the stages.

use crate::engine::Snapshot;
use drycoil_papers::pictures as drawn;
use drycoil_pictures::{Appearance, Options};
use drycoil_units::UnitSystem;

/// The picture of this name; an error in words when it cannot be drawn yet.
///
/// # Errors
/// There is no such picture, or its numbers are not there yet.
pub fn picture(
    s: &Snapshot,
    name: &str,
    system: UnitSystem,
    appearance: Appearance,
) -> Result<String, String> {
    let options = Options::new(system, name).appearance(appearance);
    let designed = s.designed.as_ref().ok_or("there is no design yet")?;
    let (project, design) = (&designed.job.loaded.project, &designed.design);
    let year = || s.simulated.as_ref().ok_or_else(|| "there is no year yet".to_owned());
    let both = "only one scheme was simulated";
    let picture = match name {
        "margins" => drawn::margins(project, design, &options),
        "trade-off" => drawn::trade_off(design, &options),
        "chart" => drawn::chart(project, design, &options),
        "water-loop" => drawn::water(project, design, &options).ok_or("no arrangement is chosen")?,
        "carpet" => {
            let y = year()?;
            drawn::carpet(&y.designed.job.loaded.project, &y.year, &options)
                .ok_or("the decoupled scheme was not simulated")?
        }
        "months" => drawn::months(&year()?.year, &options).ok_or(both)?,
        "duration" => drawn::duration(&year()?.year, &options).ok_or(both)?,
        _ => return Err(format!("there is no picture `{name}`")),
    };
    picture.map(|p| p.svg().to_owned()).map_err(|e| e.to_string())
}
