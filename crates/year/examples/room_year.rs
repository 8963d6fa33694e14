//! Prints one room of the demo over its whole year as text, for a second opinion by a general-purpose integrator: the
//! matrices of its full network, the inputs of every hour with the heating and cooling that its reduced model took under
//! ideal control, and the air temperature of the reduced model.
//!
//! `C dx/dt = -K x + B u`, massless nodes have zero rows in C. The first inputs are temperatures and run straight from the
//! hour before; the others are constant over the hour. One JSON object on standard output.

use drycoil_intake::{FileSet, MemoryFiles, job};
use drycoil_rooms::exact::{AirFlow, Control};
use drycoil_sizing::network::{self, ConstructionModels, Neighbours, Planes};
use drycoil_year::prepare::{LANES, Prepared, ReductionCache, full_network};
use std::fmt::Write as _;
use std::io::Write as _;
use std::path::Path;

/// An office with two outer walls.
const ROOM: &str = "210";

/// The demo, with its weather.
fn files() -> Result<MemoryFiles, Box<dyn std::error::Error>> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../examples/public-services-building");
    let mut files = MemoryFiles::new();
    for entry in std::fs::read_dir(&root)? {
        let path = entry?.path();
        if path.is_file() {
            let name = path.file_name().unwrap_or_default().to_string_lossy().into_owned();
            files = files.with(&name, std::fs::read(&path)?);
        }
    }
    let project = files.bytes("project.toml")?.ok_or("the demo has no project.toml")?;
    let text = String::from_utf8(project.to_vec())?;
    let weather = text
        .lines()
        .find_map(|l| l.strip_prefix("weather = "))
        .ok_or("the demo names no weather")?
        .trim_matches('"')
        .to_owned();
    let year = std::fs::read(root.join(&weather))?;
    Ok(files.with(&weather, year))
}

fn rows(out: &mut String, name: &str, rows: impl Iterator<Item = Vec<f64>>) {
    let text: Vec<String> = rows
        .map(|r| format!("[{}]", r.iter().map(|x| format!("{x:e}")).collect::<Vec<_>>().join(",")))
        .collect();
    let _ = writeln!(out, "\"{name}\": [{}],", text.join(",\n"));
}

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let job = job::read(&files()?).map_err(|f| format!("{f:?}"))?;
    let (project, weather) = (&job.loaded.project, &job.weather.year);
    let pool = rayon::ThreadPoolBuilder::new().num_threads(1).build()?;
    let design = drycoil_sizing::size(project, weather, &pool)?;
    let p = Prepared::new(project, &design, weather, 3600.0, &mut ReductionCache::default(), &pool)?;
    let i = project.room_index(ROOM).ok_or("the demo has another list of rooms")?;
    let full = full_network(project, &design, &p.weather, 3600.0, i, &pool)?;
    let models = ConstructionModels::new(project, &pool).map_err(|(name, e)| format!("{name}: {e}"))?;
    let spec =
        network::of_room(project, &models, &project.rooms[i], Neighbours::Alike, &mut Planes::default())?;
    let plain = spec.room.plain_network()?;

    let reduced = &p.rooms[i].model.reduced;
    let loads = &design.loads.rooms[i];
    let leak = p.blocks[i / LANES].open_leak_kg_per_s[i % LANES] * 1010.0;
    let first = p.channels(i, 0);
    let mut lags = reduced.steady_state(&first)?;
    let mut inputs = vec![full.channels.spread(&first)];
    let mut air = Vec::with_capacity(p.hours());
    for hour in 0..p.hours() {
        let mut u = p.channels(i, hour);
        let served = p.blocks[i / LANES].hours[p.day_type(hour) as usize * 24 + hour % 24].served[i % LANES];
        let control = if served > 0.0 {
            Control {
                cooling_capacity_w: 1.2 * loads.cooling.load_w,
                heating_capacity_w: 1.2 * loads.heating.load_w,
                ..Control::between(loads.heating_set_point_c, loads.set_point_c)
            }
        } else {
            Control { cooling_capacity_w: 0.0, ..Control::between(15.0, 60.0) }
        };
        let flow = AirFlow { conductance_w_per_k: leak, supply_c: p.weather.mean[hour].t_c };
        air.push(reduced.step(&mut lags, &mut u, flow, control)?.air_c);
        inputs.push(full.channels.spread(&u));
    }
    let mut out = String::from("{\n");
    let list = |m: &nalgebra::DMatrix<f64>| {
        (0..m.nrows()).map(|r| (0..m.ncols()).map(|c| m[(r, c)]).collect()).collect::<Vec<Vec<f64>>>()
    };
    rows(&mut out, "capacity_j_per_k", list(&plain.capacity).into_iter());
    rows(&mut out, "conductance_w_per_k", list(&plain.conductance).into_iter());
    rows(&mut out, "input", list(&plain.input).into_iter());
    rows(&mut out, "inputs", inputs.into_iter());
    rows(&mut out, "air_c", std::iter::once(air));
    let _ = writeln!(
        out,
        "\"temperature_inputs\": {}, \"air_node\": 0, \"bound_k\": {:e}, \"step_s\": 3600.0\n}}",
        full.modal.inputs.temperatures(),
        reduced.bound_k
    );
    std::io::stdout().write_all(out.as_bytes())?;
    Ok(())
}
