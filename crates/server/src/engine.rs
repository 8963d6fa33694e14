//! Computing in the background: one worker reads, sizes and simulates whatever the files hold now. A newer state of the
//! files stops what is computed for an older one; results of an older one stay, marked as such.

use crate::excursions::Known;
use crate::folder::{Folder, Reading};
use drycoil_findings::Finding;
use drycoil_intake::job::{self, Job, WeatherShelf};
use drycoil_sizing::Design;
use drycoil_year::prepare::ReductionCache;
use drycoil_year::result::Year;
use drycoil_year::simulate::{self, Observer, Options, Stopped};
use drycoil_year::told::{self, Told};
use std::sync::{Arc, Condvar, Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

/// A project that was sized.
#[derive(Debug)]
pub struct Designed {
    /// State of the files, counted from 1.
    pub generation: u64,
    /// The project with its weather.
    pub job: Arc<Job>,
    /// The design.
    pub design: Design,
    /// How much of it is told.
    pub extent: Extent,
    /// Time that its machines took.
    pub took: Duration,
}

/// How much of a design is told.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Extent {
    /// Every machine; not yet the curve of the supply dew point, other room limits, and prices of pins.
    Machines,
    /// Everything, as `drycoil size` tells it.
    Whole,
}

/// A design that was simulated.
#[derive(Debug, Clone)]
pub struct Simulated {
    /// The design.
    pub designed: Arc<Designed>,
    /// The year.
    pub year: Arc<Year>,
    /// What it means.
    pub told: Arc<Told>,
    /// Time that it took.
    pub took: Duration,
}

/// What the worker does.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Busy {
    /// Nothing: everything is as new as the files.
    Idle,
    /// Nothing, because the user stopped it.
    Cancelled,
    /// Reads.
    Reading,
    /// Sizes.
    Sizing,
    /// Simulates: so many days of so many.
    Simulating(usize, usize),
    /// Tells what stands beside the choice of the supply dew point.
    Telling,
}

/// Everything that is known at one moment.
#[derive(Debug, Clone)]
pub struct Snapshot {
    /// Counts publications.
    pub serial: u64,
    /// State of the files, counted from 1; 0 before the first reading.
    pub generation: u64,
    /// The project as it was read last; none while it cannot be used.
    pub job: Option<Arc<Job>>,
    /// What is wrong with the files, or worth knowing.
    pub input: Arc<Vec<Finding>>,
    /// The last design.
    pub designed: Option<Arc<Designed>>,
    /// Why the newest project has no design; empty when it has one.
    pub no_design: Arc<Vec<Finding>>,
    /// The last year.
    pub simulated: Option<Arc<Simulated>>,
    /// Why the newest design has no year.
    pub no_year: Option<String>,
    /// Excursions.
    pub excursions: Arc<Known>,
    /// What the worker does.
    pub busy: Busy,
    /// State of the files that is wanted: ahead of `generation` until it was read.
    pub wanted: u64,
}

impl Snapshot {
    /// Whether the design is of an older state of the files.
    pub fn design_is_stale(&self) -> bool {
        self.designed.as_ref().is_some_and(|d| d.generation != self.generation)
    }

    /// Whether the year is of an older state of the files.
    pub fn year_is_stale(&self) -> bool {
        self.simulated.as_ref().is_some_and(|s| s.designed.generation != self.generation)
    }

    /// Findings of files, design and year.
    pub fn findings(&self) -> Vec<&Finding> {
        let mut all: Vec<&Finding> = self.input.iter().chain(self.no_design.iter()).collect();
        if let Some(d) = &self.designed
            && !self.design_is_stale()
        {
            all.extend(&d.design.findings);
        }
        if let Some(s) = &self.simulated
            && !self.year_is_stale()
        {
            all.extend(&s.told.findings);
        }
        all
    }
}

struct State {
    wanted: u64,
    closing: bool,
    cancelled: bool,
    /// Files that were read last, with what changes when they do.
    stamps: Vec<(String, u64)>,
    now: Arc<Snapshot>,
}

struct Shared {
    state: Mutex<State>,
    /// Something was asked of the worker.
    asked: Condvar,
    /// Something was published.
    told: Condvar,
}

impl Shared {
    fn state(&self) -> MutexGuard<'_, State> {
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn publish(&self, change: impl FnOnce(&mut Snapshot)) {
        let mut state = self.state();
        let mut next = (*state.now).clone();
        change(&mut next);
        next.serial += 1;
        state.now = Arc::new(next);
        drop(state);
        self.told.notify_all();
    }

    /// Whether what is computed for this state of the files is still wanted.
    fn is_wanted(&self, generation: u64) -> bool {
        let state = self.state();
        state.wanted == generation && !state.closing && !state.cancelled
    }
}

/// The engine: a handle to the worker. Dropped, it lets the worker end.
pub struct Engine {
    shared: Arc<Shared>,
    folder: Arc<dyn Folder>,
    worker: Option<std::thread::JoinHandle<()>>,
}

impl Engine {
    /// Starts the worker, which begins to read at once.
    ///
    /// # Errors
    /// The system gives no thread.
    pub fn start(folder: Arc<dyn Folder>, pool: Arc<rayon::ThreadPool>) -> std::io::Result<Self> {
        let now = Arc::new(Snapshot {
            serial: 0,
            generation: 0,
            job: None,
            input: Arc::default(),
            designed: None,
            no_design: Arc::default(),
            simulated: None,
            no_year: None,
            excursions: Arc::default(),
            busy: Busy::Reading,
            wanted: 1,
        });
        let shared = Arc::new(Shared {
            state: Mutex::new(State { wanted: 1, closing: false, cancelled: false, stamps: Vec::new(), now }),
            asked: Condvar::new(),
            told: Condvar::new(),
        });
        let (for_worker, its_folder) = (Arc::clone(&shared), Arc::clone(&folder));
        let worker = std::thread::Builder::new()
            .name("engine".into())
            .spawn(move || work(&for_worker, &*its_folder, &pool))?;
        Ok(Self { shared, folder, worker: Some(worker) })
    }

    /// What excursions call when something newer is known of them.
    pub fn excursions_teller(&self) -> impl Fn(Arc<Known>) + Send + Sync + use<> {
        let shared = Arc::clone(&self.shared);
        move |known| shared.publish(|s| s.excursions = known)
    }

    /// The files may have changed.
    pub fn want(&self) {
        let wanted = {
            let mut state = self.shared.state();
            state.wanted += 1;
            state.cancelled = false;
            state.wanted
        };
        self.shared.asked.notify_all();
        self.shared.publish(|s| s.wanted = s.wanted.max(wanted));
    }

    /// Stops what is computed; the next change begins anew.
    pub fn cancel(&self) {
        let mut state = self.shared.state();
        let idle = matches!(state.now.busy, Busy::Idle | Busy::Cancelled);
        state.cancelled = !idle;
        drop(state);
        self.shared.asked.notify_all();
    }

    /// Asks anew when a file that was read is no longer as it was, and says whether it did.
    pub fn look(&self) -> bool {
        let stamps = self.shared.state().stamps.clone();
        let changed = stamps.iter().any(|(name, stamp)| self.folder.stamp(name) != *stamp);
        if changed {
            self.written();
        }
        changed
    }

    /// A file was written: asks anew, whether its stamp tells or not.
    pub fn written(&self) {
        let names: Vec<String> = self.shared.state().stamps.iter().map(|(name, _)| name.clone()).collect();
        // Until the next reading these are the ones that were seen.
        let with_stamp = |name: String| {
            let stamp = self.folder.stamp(&name);
            (name, stamp)
        };
        let new = names.into_iter().map(with_stamp).collect();
        self.shared.state().stamps = new;
        self.want();
    }

    /// What is known now.
    pub fn now(&self) -> Arc<Snapshot> {
        Arc::clone(&self.shared.state().now)
    }

    /// Waits until something newer than this is known, at most this long.
    pub fn newer(&self, serial: u64, patience: Duration) -> Arc<Snapshot> {
        let state = self.shared.state();
        let (state, _) = self
            .shared
            .told
            .wait_timeout_while(state, patience, |s| s.now.serial <= serial && !s.closing)
            .unwrap_or_else(PoisonError::into_inner);
        Arc::clone(&state.now)
    }

    /// Waits until everything is as new as the files, at most this long; none when it is not by then.
    pub fn settled(&self, patience: Duration) -> Option<Arc<Snapshot>> {
        let state = self.shared.state();
        let (state, timeout) = self
            .shared
            .told
            .wait_timeout_while(state, patience, |s| {
                !(s.now.generation == s.wanted && matches!(s.now.busy, Busy::Idle | Busy::Cancelled))
            })
            .unwrap_or_else(PoisonError::into_inner);
        (!timeout.timed_out()).then(|| Arc::clone(&state.now))
    }
}

impl Drop for Engine {
    fn drop(&mut self) {
        self.shared.state().closing = true;
        self.shared.asked.notify_all();
        self.shared.told.notify_all();
        if let Some(worker) = self.worker.take() {
            // A worker that panicked has said so already.
            let _ = worker.join();
        }
    }
}

/// What is kept from one run to the next.
#[derive(Default)]
struct Kept {
    shelf: WeatherShelf,
    weather: u64,
    models: ReductionCache,
}

fn work(shared: &Shared, folder: &dyn Folder, pool: &rayon::ThreadPool) {
    let mut done = 0;
    let mut kept = Kept::default();
    loop {
        let generation = {
            let mut state = shared.state();
            while !state.closing && (state.wanted == done || state.cancelled) {
                if state.cancelled && state.now.busy != Busy::Cancelled {
                    drop(state);
                    shared.publish(|s| s.busy = Busy::Cancelled);
                    state = shared.state();
                    continue;
                }
                state = shared.asked.wait(state).unwrap_or_else(PoisonError::into_inner);
            }
            if state.closing {
                return;
            }
            state.wanted
        };
        if run(shared, folder, pool, generation, &mut kept).is_some() {
            done = generation;
        }
    }
}

/// One state of the files, from reading to the year; none when a newer one is wanted.
fn run(
    shared: &Shared,
    folder: &dyn Folder,
    pool: &rayon::ThreadPool,
    generation: u64,
    kept: &mut Kept,
) -> Option<()> {
    let idle = |change: &mut dyn FnMut(&mut Snapshot)| {
        shared.publish(|s| {
            change(s);
            s.busy = Busy::Idle;
        });
    };
    shared.publish(|s| s.busy = Busy::Reading);
    let job = match read(shared, folder, kept) {
        Ok(job) => Arc::new(job),
        Err(findings) => {
            let findings = Arc::new(findings);
            idle(&mut |s| {
                s.generation = generation;
                s.job = None;
                s.input = Arc::clone(&findings);
                s.no_design = Arc::default();
                s.no_year = None;
            });
            return Some(());
        }
    };
    shared.publish(|s| {
        s.generation = generation;
        s.input = Arc::new(job.notes());
        s.job = Some(Arc::clone(&job));
        s.no_design = Arc::default();
        s.no_year = None;
        s.busy = Busy::Sizing;
    });
    if !shared.is_wanted(generation) {
        return None;
    }
    let begun = Instant::now();
    let for_sizing = Arc::clone(&job);
    let first = match drycoil_sizing::begin(&for_sizing.loaded.project, &for_sizing.weather.year, pool) {
        Ok(first) => first,
        Err(error) => {
            let findings = Arc::new(error.findings);
            idle(&mut |s| s.no_design = Arc::clone(&findings));
            return Some(());
        }
    };
    let took = begun.elapsed();
    let design = first.design().clone();
    let designed =
        Arc::new(Designed { generation, job: Arc::clone(&job), design, extent: Extent::Machines, took });
    shared.publish(|s| {
        s.designed = Some(Arc::clone(&designed));
        s.busy = Busy::Simulating(0, 365);
    });
    if !shared.is_wanted(generation) {
        return None;
    }
    // The year waits for nobody; what is told beside the choice moves no machine and comes after it.
    let simulated = match simulated(shared, pool, &designed, kept) {
        Ok(Some(simulated)) => {
            let simulated = Arc::new(simulated);
            shared.publish(|s| {
                s.simulated = Some(Arc::clone(&simulated));
                s.busy = Busy::Telling;
            });
            Some(simulated)
        }
        Ok(None) => return None,
        Err(why) => {
            shared.publish(|s| {
                s.no_year = Some(why);
                s.busy = Busy::Telling;
            });
            None
        }
    };
    if !shared.is_wanted(generation) {
        return None;
    }
    let whole = Arc::new(Designed { generation, job, design: first.complete(), extent: Extent::Whole, took });
    idle(&mut |s| {
        s.designed = Some(Arc::clone(&whole));
        if let Some(simulated) = &simulated {
            s.simulated = Some(Arc::new(Simulated { designed: Arc::clone(&whole), ..(**simulated).clone() }));
        }
    });
    Some(())
}

fn read(shared: &Shared, folder: &dyn Folder, kept: &mut Kept) -> Result<Job, Vec<Finding>> {
    let unreadable = |why: String| {
        vec![
            Finding::new(
                drycoil_findings::registry::project::MISSING_FILE,
                format!("the project folder cannot be read: {why}"),
            )
            .at(drycoil_findings::Place::file("project.toml")),
        ]
    };
    // Stamps are taken before and after: what changes meanwhile is read again.
    let reading = Reading::new(folder).map_err(unreadable)?;
    let first = {
        let state = shared.state();
        let mut names: Vec<String> = state.stamps.iter().map(|(n, _)| n.clone()).collect();
        names.extend(drycoil_intake::project::FILES.map(str::to_owned));
        names.sort();
        names.dedup();
        names
            .into_iter()
            .map(|name| {
                let stamp = folder.stamp(&name);
                (name, stamp)
            })
            .collect::<Vec<_>>()
    };
    let weather_stamp = |stamps: &[(String, u64)]| {
        stamps
            .iter()
            .filter(|(n, _)| !drycoil_intake::project::FILES.contains(&n.as_str()))
            .fold(0u64, |sum, (_, s)| sum.rotate_left(7) ^ s)
    };
    if weather_stamp(&first) != kept.weather {
        kept.shelf = WeatherShelf::default();
    }
    let job = job::read_with_shelf(&reading, &kept.shelf);
    let mut stamps = first.clone();
    for (name, stamp) in reading.stamps() {
        if !stamps.iter().any(|(n, _)| *n == name) {
            stamps.push((name, stamp));
        }
    }
    kept.weather = weather_stamp(&stamps);
    shared.state().stamps = stamps;
    job
}

struct Watch<'a> {
    shared: &'a Shared,
    generation: u64,
    last: Instant,
}

/// How often progress is published.
const PROGRESS: Duration = Duration::from_millis(50);

impl Observer for Watch<'_> {
    fn day_finished(&mut self, finished: usize, days: usize) -> simulate::Progress {
        if !self.shared.is_wanted(self.generation) {
            return simulate::Progress::Stop;
        }
        if self.last.elapsed() >= PROGRESS {
            self.last = Instant::now();
            self.shared.publish(|s| s.busy = Busy::Simulating(finished, days));
        }
        simulate::Progress::Continue
    }
}

/// The year of a design; none when it is no longer wanted.
fn simulated(
    shared: &Shared,
    pool: &rayon::ThreadPool,
    designed: &Arc<Designed>,
    kept: &mut Kept,
) -> Result<Option<Simulated>, String> {
    let begun = Instant::now();
    let project = &designed.job.loaded.project;
    let weather = &designed.job.weather.year;
    let options = Options {
        step_s: drycoil_units::Quantity::si(project.year.step.value),
        schemes: told::schemes(project.year.schemes.value),
        ..Options::default()
    };
    let mut watch = Watch { shared, generation: designed.generation, last: begun };
    let year = match simulate::simulate(
        project,
        &designed.design,
        weather,
        &options,
        &mut kept.models,
        pool,
        &mut watch,
    ) {
        Ok(year) => year,
        Err(Stopped::ByObserver { .. }) => return Ok(None),
        Err(why) => return Err(why.to_string()),
    };
    let told = told::tell(project, &designed.design, weather, &year).map_err(|e| e.to_string())?;
    Ok(Some(Simulated {
        designed: Arc::clone(designed),
        year: Arc::new(year),
        told: Arc::new(told),
        took: begun.elapsed(),
    }))
}
