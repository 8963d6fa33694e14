//! A project together with its weather.

use crate::files::FileSet;
use crate::project::{Loaded, StationFacts, WeatherRequest, read_project_with};
use crate::weather::{FillGaps, ReadOptions, Reading, StationOverride, read_weather_with};
use drycoil_findings::{Finding, Place, registry::project as pf};
use std::collections::BTreeMap;
use std::sync::{Mutex, PoisonError};

/// A project and the weather year that it names.
#[derive(Debug, Clone)]
pub struct Job {
    /// The project.
    pub loaded: Loaded,
    /// The weather.
    pub weather: Reading,
}

impl Job {
    /// Notes and warnings of both.
    pub fn notes(&self) -> Vec<Finding> {
        self.loaded.notes.iter().chain(&self.weather.findings).cloned().collect()
    }
}

/// Reads a project and its weather file, which is looked up in the same set of files.
///
/// The weather is read first because flows written as actual volume need the elevation of the station. Whatever goes
/// wrong with one does not keep the other from being read, so that all problems come in one pass.
///
/// # Errors
/// Everything that is wrong with either.
///
/// ```
/// use drycoil_intake::{MemoryFiles, job};
/// let files = MemoryFiles::new()
///     .with("project.toml", "[project]\nformat = 1\nname = \"A\"\n[site]\nweather = \"year.csv\"\n")
///     .with("rooms.csv", "id,floor,kind,floor_area [ft2]\n101,1,meeting,400\n");
/// let findings = job::read(&files).unwrap_err();
/// assert!(findings.iter().any(|f| f.message.contains("year.csv")));
/// ```
pub fn read(files: &dyn FileSet) -> Result<Job, Vec<Finding>> {
    read_by(files, read_weather_of)
}

/// Weather years that were read once for many variants of a project.
#[derive(Debug, Default)]
pub struct WeatherShelf(Mutex<BTreeMap<String, Result<Reading, Vec<Finding>>>>);

/// As [`read`]; a weather file that the shelf holds is not read again. The files of a shelf must not change.
///
/// # Errors
/// As [`read`].
pub fn read_with_shelf(files: &dyn FileSet, shelf: &WeatherShelf) -> Result<Job, Vec<Finding>> {
    read_by(files, |files, request| {
        // The place is where the name is written, which is no part of the weather.
        let key = format!("{:?}", WeatherRequest { place: Place::default(), ..request.clone() });
        let kept = shelf.0.lock().unwrap_or_else(PoisonError::into_inner).get(&key).cloned();
        kept.unwrap_or_else(|| {
            let reading = read_weather_of(files, request);
            shelf.0.lock().unwrap_or_else(PoisonError::into_inner).insert(key, reading.clone());
            reading
        })
    })
}

fn read_by(
    files: &dyn FileSet,
    read_weather: impl Fn(&dyn FileSet, &WeatherRequest) -> Result<Reading, Vec<Finding>>,
) -> Result<Job, Vec<Finding>> {
    let mut weather = Err(Vec::new());
    let project = read_project_with(files, |request| {
        // Without a request the project reader says why, and more.
        weather = request.map_or_else(|| Err(Vec::new()), |request| read_weather(files, &request));
        let station = weather.as_ref().ok()?.year.station();
        Some(StationFacts { name: station.name.clone(), elevation: station.elevation })
    });
    match (project, weather) {
        (Ok(loaded), Ok(weather)) => Ok(Job { loaded, weather }),
        (Err(mut findings), Ok(weather)) => {
            findings.extend(weather.findings);
            Err(findings)
        }
        (project, Err(weather_findings)) => {
            let mut findings = match project {
                Ok(loaded) => loaded.notes,
                Err(findings) => findings,
            };
            // The elevation is missing only because the weather could not be read, which is said already.
            findings.retain(|f| f.kind.id != pf::NO_ELEVATION.id);
            findings.extend(weather_findings);
            Err(findings)
        }
    }
}

fn read_weather_of(files: &dyn FileSet, request: &WeatherRequest) -> Result<Reading, Vec<Finding>> {
    let missing = |message: String| {
        let finding = Finding::new(pf::MISSING_FILE, message)
            .at(request.place.clone())
            .value(request.file.clone())
            .hint("the name is relative to the project folder, with `/` between folders");
        Err(vec![finding])
    };
    let bytes = match files.bytes(&request.file) {
        Ok(Some(bytes)) => bytes,
        Ok(None) => return missing(format!("there is no weather file `{}`", request.file)),
        Err(error) => return missing(format!("the weather file `{}` cannot be read: {error}", request.file)),
    };
    let hours = request.fill_gaps_up_to.to_hours();
    let options = ReadOptions {
        station: StationOverride {
            name: None,
            latitude: request.latitude,
            longitude: request.longitude,
            elevation: request.elevation,
            utc_offset: request.utc_offset,
        },
        fill_gaps: if hours < 1.0 {
            FillGaps::Refuse
        } else {
            // A gap lasts whole hours, so a limit between two of them means the lower one.
            FillGaps::Interpolate { max_hours: hours.floor() as u32 }
        },
    };
    read_weather_with(&request.file, &bytes, &options)
}
