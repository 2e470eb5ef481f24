//! Work that an asker does not wait for: from the queue of the store to a worker, and back as a result.
//!
//! `task` does what a job asks for, `worker` takes jobs and holds them while they are done, `bell` wakes workers of the
//! same process, `schedule` puts reviews of surfaces that have moved into the queue.
//! A job is done at least once and ends exactly once: its worker may die at any moment, and who takes it over does the same again.

mod bell;
mod schedule;
mod task;
mod worker;
#[cfg(test)]
mod worker_tests;

pub use bell::Bell;
pub use schedule::{Scheduled, schedule};
pub use worker::{Workers, work_until_idle};

/// How often a job is begun before it is set aside.
pub const ATTEMPTS: u32 = 3;

/// What the workers of this process call themselves.
#[must_use]
pub fn worker_name() -> String {
    let host = std::fs::read_to_string("/proc/sys/kernel/hostname").unwrap_or_default();
    let host = match host.trim() {
        "" => "localhost",
        name => name,
    };
    format!("{host}:{}", std::process::id())
}
