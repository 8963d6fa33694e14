//! Prints one room of the demo over its whole year as text, for a second opinion by a general-purpose integrator: resistances
//! and capacities of its network with every cell of its walls, what drives it in every step (weather, sun, gains,
//! infiltration, set points, capacities), and the air temperature and the heating (positive) and cooling (negative) that its
//! reduced model found.
//!
//! `C dx/dt = -K x + B u`, massless nodes have zero rows in `C`. The first inputs are temperatures and run straight from the
//! step before; the others are constant over the step. One JSON object on standard output.

use drycoil_intake::{FileSet, MemoryFiles, job};
use drycoil_rooms::WallDetail;
use drycoil_rooms::exact::{AirFlow, Control};
use drycoil_sizing::network::{self, ConstructionModels, Neighbours, Planes};
use drycoil_year::prepare::{LANES, Prepared, ReductionCache, full_network};
use std::fmt::Write as _;
use std::io::Write as _;
use std::path::Path;

/// An office with two outer walls.
const ROOM: &str = "210";

/// The step of the year, s.
const STEP_S: f64 = 900.0;

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

/// A matrix with every entry.
fn matrix(out: &mut String, name: &str, (n, m): (usize, usize), at: impl Fn(usize, usize) -> f64) {
    rows(out, name, (0..n).map(|r| (0..m).map(|c| at(r, c)).collect()));
}

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let job = job::read(&files()?).map_err(|f| format!("{f:?}"))?;
    let (project, weather) = (&job.loaded.project, &job.weather.year);
    let pool = rayon::ThreadPoolBuilder::new().num_threads(1).build()?;
    let design = drycoil_sizing::size(project, weather, &pool)?;
    let p = Prepared::new(project, &design, weather, STEP_S, &mut ReductionCache::default(), &pool)?;
    let i = project.room_index(ROOM).ok_or("the demo has another list of rooms")?;
    let full = full_network(project, &design, &p.weather, STEP_S, i, &pool)?;
    let models = ConstructionModels::resolved(project, WallDetail::REFERENCE, &pool)
        .map_err(|(name, e)| format!("{name}: {e}"))?;
    let spec =
        network::of_room(project, &models, &project.rooms[i], Neighbours::Alike, &mut Planes::default())?;
    let plain = spec.room.plain_network()?;

    let reduced = &p.rooms[i].model.reduced;
    let loads = &design.loads.rooms[i];
    let leak = p.blocks[i / LANES].open_leak_kg_per_s[i % LANES] * 1010.0;
    let first = p.channels(i, 0);
    let mut lags = reduced.steady_state(&first)?;
    // The first line is the state at rest from which both start.
    let mut inputs = vec![full.channels.spread(&first)];
    let (mut controls, mut found) = (Vec::new(), Vec::new());
    for step in 0..p.hours() * p.weather.steps_per_hour {
        let hour = step / p.weather.steps_per_hour;
        let mut u = p.channels(i, step);
        inputs.push(full.channels.spread(&u));
        let served = p.blocks[i / LANES].hours[p.day_type(hour) as usize * 24 + hour % 24].served[i % LANES];
        let control = if served > 0.0 {
            Control {
                cooling_capacity_w: 1.2 * loads.cooling.load_w,
                heating_capacity_w: 1.2 * loads.heating.load_w,
                ..Control::between(loads.heating_set_point_c, loads.set_point_c)
            }
        } else {
            Control {
                cooling_capacity_w: 0.0,
                heating_capacity_w: 1.2 * loads.heating.load_w,
                ..Control::between(15.0, 60.0)
            }
        };
        let flow = AirFlow { conductance_w_per_k: leak, supply_c: p.weather.mean[step].t_c };
        controls.push(vec![
            control.heating_set_c,
            control.cooling_set_c,
            control.heating_capacity_w,
            control.cooling_capacity_w,
            flow.conductance_w_per_k,
            flow.supply_c,
        ]);
        let step = reduced.step(&mut lags, &mut u, flow, control)?;
        found.push(vec![step.air_c, step.hvac_w]);
    }
    let mut out = String::from("{\n");
    matrix(&mut out, "capacity_j_per_k", plain.capacity.shape(), |r, c| plain.capacity[(r, c)]);
    matrix(&mut out, "conductance_w_per_k", plain.conductance.shape(), |r, c| plain.conductance[(r, c)]);
    matrix(&mut out, "input", plain.input.shape(), |r, c| plain.input[(r, c)]);
    rows(&mut out, "inputs", inputs.into_iter());
    rows(&mut out, "heating_set_cooling_set_heating_most_cooling_most_leak_outdoor", controls.into_iter());
    rows(&mut out, "air_c_and_hvac_w", found.into_iter());
    let _ = writeln!(
        out,
        "\"temperature_inputs\": {}, \"air_node\": 0, \"air_heat_input\": {}, \"bound_k\": {:e}, \"step_s\": {STEP_S:e}\n}}",
        full.modal.inputs.temperatures(),
        full.modal.inputs.air_heat(),
        reduced.bound_k
    );
    std::io::stdout().write_all(out.as_bytes())?;
    Ok(())
}
