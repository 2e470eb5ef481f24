//! Workers: each takes a job, holds it while it is done, and ends it.

use super::bell::Bell;
use super::task::{Setback, broken, perform};
use crate::access::Audience;
use crate::catalogue::Catalogue;
use crate::store::StoreError;
use crate::store::jobs::{Ended, GivenBack, Held, JobStore, Terms};
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::Arc;
use std::sync::atomic::{AtomicU8, Ordering};
use std::sync::mpsc::{Receiver, RecvTimeoutError, sync_channel};
use std::thread::{self, JoinHandle};
use std::time::{Duration, Instant};

/// How long an idle worker waits before it looks again; a job of this process wakes it at once.
const IDLE: Duration = Duration::from_secs(1);
/// How soon a worker hears that it shall stop.
const TICK: Duration = Duration::from_millis(50);
/// How long to wait before the store is asked again after it has failed.
const PAUSE: Duration = Duration::from_secs(1);
/// How long a job rests after its first attempt broke; twice as long after the second.
const REST: Duration = Duration::from_secs(5);
/// How often old jobs are removed.
const TIDY: Duration = Duration::from_secs(60);

/// Workers of this process, until they are told to stop.
pub struct Workers {
    bell: Arc<Bell>,
    threads: Vec<JoinHandle<()>>,
}

impl Workers {
    /// Starts so many workers.
    ///
    /// # Panics
    /// When the system has no thread to give.
    #[must_use]
    pub fn start(catalogue: &Catalogue, terms: &Terms, count: usize, bell: &Arc<Bell>) -> Self {
        let threads = (0..count).map(|_| {
            let worker = Worker {
                catalogue: catalogue.clone(),
                terms: terms.clone(),
                bell: bell.clone(),
            };
            thread::spawn(move || worker.run(false))
        });
        Self {
            bell: bell.clone(),
            threads: threads.collect(),
        }
    }

    /// Tells them to stop; they give back what they hold. What is being computed ends with the process.
    pub fn stop(self) {
        self.bell.stop();
        for thread in self.threads {
            let _ = thread.join();
        }
    }
}

/// Does what is waiting, so many jobs at a time, and comes back when nothing can be taken.
pub fn work_until_idle(catalogue: &Catalogue, terms: &Terms, count: usize, bell: &Arc<Bell>) {
    thread::scope(|scope| {
        for _ in 0..count {
            let worker = Worker {
                catalogue: catalogue.clone(),
                terms: terms.clone(),
                bell: bell.clone(),
            };
            scope.spawn(move || worker.run(true));
        }
    });
}

struct Worker {
    catalogue: Catalogue,
    terms: Terms,
    bell: Arc<Bell>,
}

impl Worker {
    fn queue(&self) -> &dyn JobStore {
        self.catalogue.store().queue()
    }

    fn run(&self, once: bool) {
        let mut tidied: Option<Instant> = None;
        while !self.bell.stopped() {
            let heard = self.bell.rung();
            if tidied.is_none_or(|tidied| tidied.elapsed() > TIDY) {
                tidied = Some(Instant::now());
                self.tidy();
            }
            match self.queue().claim(&self.terms) {
                Ok(Some(held)) => self.hold(&held),
                Ok(None) if once => return,
                Ok(None) => self.bell.wait(heard, IDLE),
                Err(error) => {
                    tracing::warn!(%error, "no job can be taken");
                    self.bell.wait(self.bell.rung(), PAUSE);
                }
            }
        }
    }

    /// Removes what need not be kept any longer.
    fn tidy(&self) {
        let trimmed = self
            .queue()
            .trim(&Audience::Public, Audience::MOST_KEPT_FOR_STRANGERS);
        if let Err(error) = trimmed.and_then(|_| self.queue().expire()) {
            tracing::warn!(%error, "old jobs stay");
        }
    }

    /// Has a job done on a thread of its own, and gives signs of life meanwhile.
    fn hold(&self, held: &Held) {
        let (id, process) = (&held.job.id, &held.job.order.process);
        tracing::info!(%id, process, attempt = held.job.attempts, "begun");
        let progress = Arc::new(AtomicU8::new(0));
        let result = self.perform(held, &progress);
        let mut sign = Instant::now() + self.terms.lease / 4;
        let mut told = 0;
        loop {
            let percent = progress.load(Ordering::Relaxed);
            match result.recv_timeout(TICK) {
                Ok(done) => return self.conclude(held, done),
                Err(RecvTimeoutError::Timeout) if self.bell.stopped() => {
                    let back = GivenBack {
                        message: None,
                        rest: Duration::ZERO,
                        counts: false,
                    };
                    let given = self.queue().give_back(held, &back);
                    return tracing::info!(%id, ?given, "given back");
                }
                Err(RecvTimeoutError::Timeout) if Instant::now() >= sign || percent > told => {
                    told = percent;
                    let next = match self.queue().extend(held, self.terms.lease, percent) {
                        Ok(true) => self.terms.lease / 4,
                        Ok(false) => {
                            tracing::info!(%id, "is no longer this worker's");
                            // It cannot be broken off; nobody waits for it any more.
                            return self.sit_out(&result);
                        }
                        Err(error) => {
                            tracing::warn!(%id, %error, "no sign of life can be given");
                            PAUSE
                        }
                    };
                    sign = Instant::now() + next;
                }
                Err(RecvTimeoutError::Timeout) => {}
                Err(RecvTimeoutError::Disconnected) => {
                    let lost = "the thread that did it ended without a word".to_owned();
                    return self.conclude(held, Err(broken(lost, &held.job.order.asker)));
                }
            }
        }
    }

    fn perform(&self, held: &Held, progress: &Arc<AtomicU8>) -> Receiver<Result<Ended, Setback>> {
        let (told, result) = sync_channel(1);
        let (catalogue, job, progress) = (self.catalogue.clone(), held.job.clone(), progress.clone());
        let begun = thread::Builder::new().spawn(move || {
            let tell = |percent| progress.store(percent, Ordering::Relaxed);
            let done = catch_unwind(AssertUnwindSafe(|| perform(&job, &catalogue, &tell)));
            let done = done.unwrap_or_else(|panic| Err(broken(said(&*panic), &job.order.asker)));
            // Nobody listens where the worker was told to stop.
            let _ = told.send(done);
        });
        if let Err(error) = begun {
            tracing::error!(%error, "no thread for a job");
        }
        result
    }

    /// Waits until what cannot be broken off is over: a worker does one job at a time.
    fn sit_out(&self, result: &Receiver<Result<Ended, Setback>>) {
        while !self.bell.stopped() {
            if !matches!(result.recv_timeout(TICK), Err(RecvTimeoutError::Timeout)) {
                return;
            }
        }
    }

    fn conclude(&self, held: &Held, done: Result<Ended, Setback>) {
        let (id, attempt) = (&held.job.id, held.job.attempts);
        match done {
            Ok(ended) => self.end(held, &ended),
            Err(Setback::Refused(problem)) => self.end(held, &Ended::Failed(problem)),
            Err(Setback::Broken(reason, problem)) if attempt >= self.terms.attempts => {
                tracing::error!(%id, attempt, reason, "set aside");
                self.end(held, &Ended::Failed(problem));
            }
            Err(Setback::Broken(reason, _)) => {
                tracing::warn!(%id, attempt, reason, "broke; it will be tried again");
                let message = format!("Attempt {attempt} broke; it will be tried again.");
                let rest = REST * 2u32.saturating_pow(attempt.saturating_sub(1));
                self.give_back(
                    held,
                    &GivenBack {
                        message: Some(message),
                        rest,
                        counts: true,
                    },
                );
            }
            Err(Setback::Store(error)) => {
                tracing::warn!(%id, %error, "the store failed; the job will be tried again");
                self.give_back(
                    held,
                    &GivenBack {
                        message: None,
                        rest: PAUSE,
                        counts: false,
                    },
                );
            }
        }
    }

    fn give_back(&self, held: &Held, back: &GivenBack) {
        self.insist(held, || self.queue().give_back(held, back));
    }

    fn end(&self, held: &Held, ended: &Ended) {
        let mine = self.insist(held, || self.queue().finish(held, ended, self.terms.keep));
        let how = match ended {
            Ended::Failed(_) => "failed",
            _ => "done",
        };
        if mine == Some(true) {
            tracing::info!(id = %held.job.id, how, "ended");
        }
    }

    /// Asks until the store answers; `None` where the worker was told to stop before. What was said and not heard is said again.
    fn insist(&self, held: &Held, ask: impl Fn() -> Result<bool, StoreError>) -> Option<bool> {
        let id = &held.job.id;
        loop {
            match ask() {
                Ok(true) => return Some(true),
                Ok(false) => {
                    tracing::info!(%id, "is no longer this worker's");
                    return Some(false);
                }
                Err(error @ (StoreError::Busy | StoreError::Unreachable(_))) if !self.bell.stopped() => {
                    tracing::warn!(%id, %error, "the store does not answer");
                    self.bell.wait(self.bell.rung(), PAUSE);
                }
                Err(error) => {
                    // The lease ends, and the job is taken again, as often as the terms allow.
                    tracing::error!(%id, %error, "cannot be ended");
                    return None;
                }
            }
        }
    }
}

/// The words of a panic.
fn said(panic: &(dyn std::any::Any + Send)) -> String {
    let text = panic.downcast_ref::<String>().map(String::as_str);
    let text = text.or_else(|| panic.downcast_ref::<&str>().copied());
    format!(
        "the program broke over it: {}",
        text.unwrap_or("it did not say why")
    )
}
