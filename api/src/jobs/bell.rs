//! Wakes the workers of a process when a job has come, and tells them when to stop.

use std::sync::{Condvar, Mutex, MutexGuard, PoisonError};
use std::time::Duration;

/// A bell that all workers of a process hear.
#[derive(Default)]
pub struct Bell {
    told: Mutex<Told>,
    news: Condvar,
}

#[derive(Default)]
struct Told {
    rung: u64,
    stopped: bool,
}

impl Bell {
    fn told(&self) -> MutexGuard<'_, Told> {
        // What it guards is changed in one step, so that no panic leaves it half changed.
        self.told.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// A job has come.
    pub fn ring(&self) {
        self.told().rung += 1;
        self.news.notify_all();
    }

    /// Everybody shall stop.
    pub fn stop(&self) {
        self.told().stopped = true;
        self.news.notify_all();
    }

    /// Whether everybody shall stop.
    #[must_use]
    pub fn stopped(&self) -> bool {
        self.told().stopped
    }

    /// How often it has rung.
    #[must_use]
    pub fn rung(&self) -> u64 {
        self.told().rung
    }

    /// Waits until it has rung more often than `heard`, everybody shall stop, or the time is over.
    pub fn wait(&self, heard: u64, longest: Duration) {
        let quiet = |told: &mut Told| told.rung == heard && !told.stopped;
        drop(self.news.wait_timeout_while(self.told(), longest, quiet));
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::thread;

    const ENDLESS: Duration = Duration::from_secs(600);

    #[test]
    fn a_ring_before_the_wait_is_not_missed() {
        let bell = Bell::default();
        let heard = bell.rung();
        bell.ring();
        bell.wait(heard, ENDLESS);
        assert!(!bell.stopped());
    }

    #[test]
    fn who_waits_hears_the_stop() {
        let bell = Bell::default();
        thread::scope(|scope| {
            let waiting = scope.spawn(|| bell.wait(bell.rung(), ENDLESS));
            bell.stop();
            waiting.join().unwrap();
        });
        assert!(bell.stopped());
        bell.wait(bell.rung(), ENDLESS);
    }
}
