//! Being told to stop: Ctrl-C, or SIGTERM from whoever looks after the process.

use actix_web::rt::System;
use actix_web::rt::signal::unix::{SignalKind, signal};
use futures_util::future::{Either, select};
use std::pin::pin;
use std::thread;

/// Waits until the process is told to stop.
///
/// Where the system refuses to tell, the process is simply ended by the signal.
pub(super) fn wait_for_stop() {
    System::new().block_on(async {
        let [terminate, interrupt] = [SignalKind::terminate(), SignalKind::interrupt()].map(signal);
        if let (Ok(mut terminate), Ok(mut interrupt)) = (terminate, interrupt) {
            match select(pin!(terminate.recv()), pin!(interrupt.recv())).await {
                Either::Left(_) | Either::Right(_) => {}
            }
        } else {
            std::future::pending::<()>().await;
        }
    });
}

/// Calls back when the process is told to stop, and goes on meanwhile.
pub(super) fn on_stop(stop: impl FnOnce() + Send + 'static) {
    thread::spawn(move || {
        wait_for_stop();
        stop();
    });
}
