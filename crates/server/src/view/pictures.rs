//! The pictures of the stages, with what their places stand for.

use crate::engine::{Extent, Snapshot};
use drycoil_papers::pictures as drawn;
use drycoil_pictures::{Appearance, Options, Picture};
use drycoil_units::UnitSystem;
use serde_json::{Value, json};

/// Fields with axes: edges in units of the view box, values in SI.
pub(super) fn plots(picture: &Picture) -> Vec<Value> {
    let plot =
        |p: &drycoil_pictures::Plot| json!({ "box": [p.left, p.top, p.right, p.bottom], "x": p.x, "y": p.y });
    picture.plots().iter().map(plot).collect()
}

/// The picture of this name with its places; an error in words when it cannot be drawn yet.
///
/// # Errors
/// There is no such picture, or its numbers are not there yet.
pub fn picture(
    s: &Snapshot,
    name: &str,
    system: UnitSystem,
    appearance: Appearance,
) -> Result<Value, String> {
    let options = Options::new(system, name).appearance(appearance);
    let designed = s.designed.as_ref().ok_or("there is no design yet")?;
    let (project, design) = (&designed.job.loaded.project, &designed.design);
    let year = || s.simulated.as_ref().ok_or_else(|| "there is no year yet".to_owned());
    let both = "only one scheme was simulated";
    let picture = match name {
        "margins" => drawn::margins(project, design, &options),
        // Soon it is there: no error.
        "trade-off" if designed.extent == Extent::Machines => {
            return Ok(json!({ "waiting": "other supply dew points are being priced" }));
        }
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
    let picture = picture.map_err(|e| e.to_string())?;
    // The name of a spot begins with the zone, whose first room lends it its name.
    let spots: Vec<Value> = picture
        .spots()
        .iter()
        .map(|spot| {
            let names = |zone: &str| {
                spot.name.strip_prefix(zone).is_some_and(|rest| rest.is_empty() || rest.starts_with(' '))
            };
            let terminal = design.terminals.iter().filter(|t| names(&t.zone)).max_by_key(|t| t.zone.len());
            json!({
                "box": [spot.left, spot.top, spot.right, spot.bottom],
                "name": spot.name,
                "room": terminal.and_then(|t| t.rooms.first()),
                "zone": terminal.map(|t| &t.zone),
            })
        })
        .collect();
    Ok(json!({
        "svg": picture.svg(),
        "width": picture.width(),
        "height": picture.height(),
        "plots": plots(&picture),
        "spots": spots,
        "supply": if matches!(name, "chart" | "trade-off") { super::hours::supply(s) } else { None },
    }))
}
