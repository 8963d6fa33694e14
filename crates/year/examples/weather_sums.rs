//! Prints, hour by hour of the demo's weather, what the plants make of outdoor air alone: condensate of ventilation air
//! dried to 48 degF, whether the airside economizer is open, water of the tower at full fan and design heat. A second
//! opinion reads the same weather file by itself.

use drycoil_air::raw;
use drycoil_intake::{FileSet, MemoryFiles, job};
use drycoil_plant::tower_plant::{TowerDesign, TowerPlant};
use drycoil_units::{Power, Pressure, Temperature};
use drycoil_year::plant::air::{Air, Saturation};
use drycoil_year::plant::all_air_plant::AllAirPlant;
use drycoil_year::plant::machines::coil::CoilForm;
use drycoil_year::plant::machines::tower::{TowerAir, TowerForm};
use drycoil_year::signals::Outdoor;
use std::io::Write as _;
use std::path::Path;

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

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let job = job::read(&files()?).map_err(|f| format!("{f:?}"))?;
    let (project, year) = (&job.loaded.project, &job.weather.year);
    let pool = rayon::ThreadPoolBuilder::new().num_threads(1).build()?;
    let design = drycoil_sizing::size(project, year, &pool)?;
    let p_pa = design.site.pressure_pa;
    let s = Saturation::new(p_pa);
    let plant = AllAirPlant::new(project, &design, 3600.0)?;
    let coil = CoilForm::new(0.0, 1.0, &s)?;
    let target_w = raw::humidity_ratio_at_dew_point(Temperature::fahrenheit(48.0).to_celsius(), p_pa);
    let tower = TowerForm::new(&TowerPlant::size(TowerDesign::usual(
        Power::watts(1e6),
        Temperature::fahrenheit(78.0),
        Pressure::pascals(p_pa),
    ))?)?;
    let back = Air { t: 24.0, w: 0.009 };
    let mut out = std::io::stdout().lock();
    writeln!(out, "p_pa,t_c,w,condensate_kg_per_kg,economizer_open,tower_c")?;
    for hour in 0..year.dry_bulb_c().len() {
        let t_c = year.dry_bulb_c()[hour];
        let w = year.humidity_ratio()[hour].min(raw::saturation_humidity_ratio(t_c, p_pa));
        let outdoor = Outdoor { t_c, w, wet_bulb_c: raw::wet_bulb_c(t_c, w, p_pa), p_pa };
        let air = Air { t: t_c, w };
        let dried = coil.run(&s, air, Some(target_w), None);
        let open = u8::from(plant.economizer_open(air, back));
        let (cold, settled) = tower.cold(&s, &TowerAir::new(&s, &outdoor), 1e6, 1.0, 1.0);
        if !settled {
            return Err(format!("the tower did not settle in hour {hour}").into());
        }
        writeln!(out, "{p_pa},{t_c},{w},{},{open},{cold}", dried.condensate)?;
    }
    Ok(())
}
