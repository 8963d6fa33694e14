//! A progress bar on standard error.

use crate::Settings;
use std::io::{self, Write};
use std::sync::Mutex;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::{Duration, Instant};

/// A bar that any thread may move on. Off a terminal, or with `--quiet`, it draws nothing.
#[derive(Debug)]
pub struct Progress {
    what: String,
    total: u64,
    done: AtomicU64,
    drawn: Option<Mutex<Option<Instant>>>,
}

const INTERVAL: Duration = Duration::from_millis(100);
const CELLS: u64 = 30;

impl Progress {
    /// A bar for `total` steps (or bytes) of `what`.
    pub fn new(settings: &Settings, what: impl Into<String>, total: u64) -> Self {
        Self {
            what: what.into(),
            total,
            done: AtomicU64::new(0),
            drawn: settings.progress.then(|| Mutex::new(None)),
        }
    }

    /// So many more steps are done.
    pub fn advance(&self, steps: u64) {
        let done = self.done.fetch_add(steps, Ordering::Relaxed) + steps;
        let Some(drawn) = &self.drawn else { return };
        // When another thread is drawing, this step is shown with the next one.
        let Ok(mut last) = drawn.try_lock() else { return };
        if last.is_none_or(|at| at.elapsed() >= INTERVAL) {
            *last = Some(Instant::now());
            let _ = write!(io::stderr(), "\r{}", bar(&self.what, done, self.total));
        }
    }

    /// Steps done so far.
    pub fn done(&self) -> u64 {
        self.done.load(Ordering::Relaxed)
    }
}

impl Drop for Progress {
    fn drop(&mut self) {
        if let Some(drawn) = &self.drawn
            && drawn.lock().is_ok_and(|last| last.is_some())
        {
            let _ = write!(
                io::stderr(),
                "\r{}\r",
                " ".repeat(bar(&self.what, self.total, self.total).chars().count())
            );
        }
    }
}

fn bar(what: &str, done: u64, total: u64) -> String {
    let share = |whole: u64| {
        if total == 0 {
            whole
        } else {
            (u128::from(done.min(total)) * u128::from(whole) / u128::from(total)) as u64
        }
    };
    let full = share(CELLS) as usize;
    format!("{what} [{}{}] {:3} %", "=".repeat(full), " ".repeat(CELLS as usize - full), share(100))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_bar_fills_evenly_and_keeps_its_length() {
        assert!(bar("rows", 0, 10).ends_with("]   0 %"));
        assert!(bar("rows", 10, 10).ends_with("=] 100 %"));
        assert_eq!(bar("rows", 5, 10).len(), bar("rows", 10, 10).len());
        // A file that grows while it is read does not overflow the bar.
        assert_eq!(bar("rows", u64::MAX, 10), bar("rows", 10, 10));
        assert_eq!(bar("rows", 0, 0), bar("rows", 1, 1));
    }

    #[test]
    fn counts_without_a_terminal() {
        let progress = Progress::new(&Settings::plain(), "rows", 10);
        progress.advance(3);
        progress.advance(4);
        assert_eq!(progress.done(), 7);
    }
}
