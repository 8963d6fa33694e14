//! Excursions in the background: the cases of the library, one after the other, on the newest design.
//!
//! They run beside the worker of the engine, only when somebody asks for them; a newer question stops an older one between
//! two cases.

use crate::engine::Designed;
use drycoil_control::excursion::building::Building;
use drycoil_control::excursion::case::Case;
use drycoil_control::excursion::library::library;
use drycoil_control::excursion::result::{Criteria, Excursion, excursions};
use drycoil_control::settings::sequence_settings;
use drycoil_year::prepare::ReductionCache;
use std::collections::BTreeMap;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

/// Step, s: that of `drycoil excursion`.
const STEP_S: f64 = 5.0;
/// Interval of what is remembered of a run, s.
pub const HISTORY_S: f64 = 60.0;

/// What is being done.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Doing {
    /// Name of the case; empty while the building is prepared.
    pub case: String,
    /// Cases that are finished.
    pub done: usize,
    /// Cases that were asked for.
    pub of: usize,
}

/// What is known of excursions at one moment.
#[derive(Debug, Clone, Default)]
pub struct Known {
    /// State of the files of the design that they belong to.
    pub generation: u64,
    /// The building; none until it was asked for.
    pub building: Option<Arc<Building>>,
    /// All cases of the library.
    pub cases: Arc<Vec<Case>>,
    /// Cases that were run, by name.
    pub results: BTreeMap<String, Arc<Excursion>>,
    /// What must not be exceeded.
    pub criteria: Criteria,
    /// What is being done.
    pub doing: Option<Doing>,
    /// Why there is nothing, in words.
    pub trouble: Option<String>,
}

#[derive(Default)]
struct State {
    /// Counts questions; a run of an older one stops.
    asked: u64,
    known: Arc<Known>,
}

/// Excursions of a project.
pub struct Excursions {
    state: Arc<Mutex<State>>,
    tell: Arc<dyn Fn(Arc<Known>) + Send + Sync>,
}

fn locked(state: &Mutex<State>) -> MutexGuard<'_, State> {
    state.lock().unwrap_or_else(PoisonError::into_inner)
}

/// One question at work.
struct Work {
    state: Arc<Mutex<State>>,
    tell: Arc<dyn Fn(Arc<Known>) + Send + Sync>,
    ticket: u64,
}

impl Work {
    /// Publishes, unless a newer question was asked; whether it was published.
    fn publish(&self, change: impl FnOnce(&mut Known)) -> bool {
        // Told under the lock, so that nothing older is told after it.
        let mut state = locked(&self.state);
        if state.asked != self.ticket {
            return false;
        }
        let mut next = (*state.known).clone();
        change(&mut next);
        state.known = Arc::new(next);
        (self.tell)(Arc::clone(&state.known));
        true
    }

    fn is_wanted(&self) -> bool {
        locked(&self.state).asked == self.ticket
    }

    fn stop(&self, why: String) {
        self.publish(|k| {
            k.doing = None;
            k.trouble = Some(why);
        });
    }
}

impl Excursions {
    /// Nothing yet; `tell` is called whenever something newer is known.
    pub fn new(tell: impl Fn(Arc<Known>) + Send + Sync + 'static) -> Self {
        Self { state: Arc::default(), tell: Arc::new(tell) }
    }

    /// Runs cases by name on a design, in the order of the library: all of them when `names` is none, none of them when it is
    /// empty, which prepares the building and lists the cases. What was known of an older design goes.
    ///
    /// # Errors
    /// The system gives no thread.
    pub fn ask(
        &self,
        designed: &Arc<Designed>,
        names: Option<Vec<String>>,
        pool: &Arc<rayon::ThreadPool>,
    ) -> std::io::Result<()> {
        let ticket = {
            let mut state = locked(&self.state);
            state.asked += 1;
            let mut known = if state.known.generation == designed.generation {
                (*state.known).clone()
            } else {
                Known { generation: designed.generation, ..Known::default() }
            };
            known.trouble = None;
            known.doing =
                Some(Doing { case: String::new(), done: 0, of: names.as_ref().map_or(0, Vec::len) });
            state.known = Arc::new(known);
            (self.tell)(Arc::clone(&state.known));
            state.asked
        };
        let work = Work { state: Arc::clone(&self.state), tell: Arc::clone(&self.tell), ticket };
        let (designed, pool) = (Arc::clone(designed), Arc::clone(pool));
        std::thread::Builder::new()
            .name("excursions".into())
            .spawn(move || work_on(&work, &designed, names.as_deref(), &pool))?;
        Ok(())
    }

    /// Stops what is being done; results that are there stay.
    pub fn cancel(&self) {
        let mut state = locked(&self.state);
        state.asked += 1;
        let mut known = (*state.known).clone();
        known.doing = None;
        state.known = Arc::new(known);
        (self.tell)(Arc::clone(&state.known));
    }
}

fn prepared(designed: &Designed, pool: &rayon::ThreadPool) -> Result<Building, String> {
    let project = &designed.job.loaded.project;
    let words = |list: Vec<drycoil_findings::Finding>| {
        list.iter().map(|f| f.message.as_str()).collect::<Vec<_>>().join("; ")
    };
    let sequence = sequence_settings(project, &designed.design).map_err(words)?;
    let weather = &designed.job.weather.year;
    let cache = &mut ReductionCache::default();
    Building::new(project, &designed.design, &sequence, weather, STEP_S, cache, pool)
        .map_err(|e| e.to_string())
}

fn work_on(work: &Work, designed: &Designed, names: Option<&[String]>, pool: &rayon::ThreadPool) {
    let (building, cases) = {
        let known = Arc::clone(&locked(&work.state).known);
        match &known.building {
            Some(building) => (Arc::clone(building), Arc::clone(&known.cases)),
            None => match prepared(designed, pool) {
                Ok(building) => {
                    let cases = Arc::new(library(&building));
                    (Arc::new(building), cases)
                }
                Err(why) => return work.stop(why),
            },
        }
    };
    let chosen: Vec<&Case> = cases.iter().filter(|c| names.is_none_or(|n| n.contains(&c.name))).collect();
    let of = chosen.len();
    let doing = |done: usize| chosen.get(done).map(|c| Doing { case: c.name.clone(), done, of });
    let criteria = Criteria::default();
    if !work.publish(|k| {
        k.building = Some(Arc::clone(&building));
        k.cases = Arc::clone(&cases);
        k.criteria = criteria;
        k.doing = doing(0);
    }) {
        return;
    }
    // One after the other, so that each is shown when it is finished and the next is not begun when nobody wants it.
    for (done, case) in chosen.iter().enumerate() {
        if !work.is_wanted() {
            return;
        }
        let one = std::slice::from_ref(*case);
        let excursion = match excursions(&building, one, &criteria, Some(HISTORY_S), pool) {
            Ok(list) => list.into_iter().next(),
            Err(e) => return work.stop(e.to_string()),
        };
        let Some(excursion) = excursion.map(Arc::new) else { return };
        if !work.publish(|k| {
            k.results.insert(case.name.clone(), excursion);
            k.doing = doing(done + 1);
        }) {
            return;
        }
    }
    work.publish(|k| k.doing = None);
}
