//! The transaction of a sheet, and prints that go into the table while the next ones are being read.

use super::connections::Writing;
use super::failure::Given;
use super::print_row;
use super::rows::Rows;
use std::panic::resume_unwind;
use std::thread::{self, JoinHandle};

/// A transaction that is at hand, or away with prints on a thread of its own.
pub(super) struct Sending {
    at_hand: Option<Writing>,
    away: Option<JoinHandle<Sent>>,
}

/// What comes back.
struct Sent {
    conn: Writing,
    /// The prints, where they did not go in.
    rows: Rows,
    /// Whether they went in; not so where a label came twice.
    went_in: Given<bool>,
}

impl Sending {
    pub(super) fn new(conn: Writing) -> Self {
        Self {
            at_hand: Some(conn),
            away: None,
        }
    }

    /// Sends prints of surfaces that had none straight into the table, and does not wait.
    ///
    /// # Panics
    /// When the transaction is away.
    pub(super) fn send(&mut self, mut rows: Rows) {
        let mut conn = self.at_hand.take().expect(AT_HAND);
        self.away = Some(thread::spawn(move || {
            let went_in = send(&mut conn, &mut rows);
            Sent { conn, rows, went_in }
        }));
    }

    /// Waits until the transaction is at hand. Gives the prints back that were sent with it where a label came twice
    /// among them and those in the table.
    pub(super) fn bring_back(&mut self) -> Given<Option<Rows>> {
        let Some(away) = self.away.take() else {
            return Ok(None);
        };
        let sent = away.join().unwrap_or_else(|panic| resume_unwind(panic));
        self.at_hand = Some(sent.conn);
        Ok((!sent.went_in?).then_some(sent.rows))
    }

    /// The transaction.
    ///
    /// # Panics
    /// When it is away.
    pub(super) fn conn(&mut self) -> &mut Writing {
        self.at_hand.as_mut().expect(AT_HAND)
    }

    /// Commits.
    ///
    /// # Panics
    /// When the transaction is away.
    pub(super) fn commit(mut self) -> Given<()> {
        self.at_hand.take().expect(AT_HAND).commit()
    }
}

const AT_HAND: &str = "the transaction was brought back before";

impl Drop for Sending {
    /// A sheet that is given up is rolled back before the next writer is let in.
    fn drop(&mut self) {
        if let Some(away) = self.away.take() {
            drop(away.join());
        }
    }
}

fn send(conn: &mut Writing, rows: &mut Rows) -> Given<bool> {
    conn.batch_execute("SAVEPOINT fresh")?;
    let went_in = match rows.send(conn, "print", print_row::COLUMNS) {
        Err(fault) if fault.is_duplicate() => {
            conn.batch_execute("ROLLBACK TO SAVEPOINT fresh")?;
            false
        }
        sent => sent.map(|()| true)?,
    };
    conn.batch_execute("RELEASE SAVEPOINT fresh")?;
    Ok(went_in)
}
