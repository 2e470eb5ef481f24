//! What comes by itself, sooner or later.

use std::thread::sleep;
use std::time::{Duration, Instant};

/// Far beyond what anything takes; only what never comes gets there.
const PATIENCE: Duration = Duration::from_secs(60);

/// Looks again and again until there is something.
///
/// # Panics
/// When it never comes; `what` is told then.
pub fn until<T>(what: &str, mut look: impl FnMut() -> Option<T>) -> T {
    let started = Instant::now();
    loop {
        if let Some(found) = look() {
            return found;
        }
        assert!(started.elapsed() < PATIENCE, "never: {what}");
        sleep(Duration::from_millis(10));
    }
}
