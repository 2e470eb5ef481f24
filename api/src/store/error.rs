//! Why a store does not do what it is asked.

use spatial::model::Label;

/// Why the store did not do what was asked.
#[derive(Debug, thiserror::Error)]
pub enum StoreError {
    /// A record with this id is there already.
    #[error("{0} exists already")]
    Exists(String),
    /// There is no record with this id.
    #[error("there is no {0}")]
    Missing(String),
    /// Only an empty store can be filled with another one's record.
    #[error("the store to copy into is not empty; name one that does not exist yet, or an empty database")]
    NotEmpty,
    /// A record has been changed since it was read.
    #[error("{0} has been changed by somebody else meanwhile; look at it again, then repeat the change")]
    Moved(String),
    /// A record cannot be removed because others need it; which and why.
    #[error("{0}")]
    InUse(String),
    /// An Idempotency-Key was used before, for something else.
    #[error("the Idempotency-Key {0:?} was used for something else; draw a new one for each record")]
    KeyUsed(String),
    /// A site's CRS would change.
    #[error("the CRS of {0} stays as it is: its prints are recorded in it")]
    FixedCrs(String),
    /// A trackway cannot be accepted with a print that there is no more.
    #[error("trackway {trackway} has print {print}, which was removed; take it out of the trackway first")]
    Gone {
        /// The print.
        print: Label,
        /// The trackway.
        trackway: Label,
    },
    /// A print cannot be in two accepted trackways.
    #[error(
        "print {print} is in {trackway}, which is accepted: a print is of one trackway; reject that one first"
    )]
    Shared {
        /// The print.
        print: Label,
        /// The accepted trackway that has it.
        trackway: Label,
    },
    /// Another writer held the store for too long.
    #[error("another program is writing to the store; try again in a moment")]
    Busy,
    /// Nobody may have more jobs waiting; how many.
    #[error("{0} jobs are waiting already; try again when some of them are done")]
    QueueFull(u64),
    /// A record has a number that is not finite; which record.
    #[error("{0} has a number that is not finite")]
    NotFinite(String),
    /// A text has the character U+0000.
    #[error("a text has the character U+0000, which a PostgreSQL database cannot keep; take it out")]
    NulCharacter,
    /// The database cannot be reached at the moment; the reason.
    #[error("the database cannot be reached ({0}); see that its server runs, then try again")]
    Unreachable(String),
    /// The disk that the store is on takes nothing more, or fails; what the system says.
    #[error(
        "the disk that the store is on is full or fails ({0}); nothing of this was stored. Make room, then try again"
    )]
    NoRoom(String),
    /// The store cannot be written; what the system says.
    #[error(
        "the store cannot be written ({0}), which reading a file needs as well; see whose its file and its folder are, and that \
         the disk is not read-only"
    )]
    NotWritable(String),
    /// The store is of another program, or of a later version of this one.
    #[error("{0}")]
    Unfit(String),
    /// The database failed.
    #[error("the store failed while {doing}")]
    Failed {
        /// What was being done.
        doing: &'static str,
        /// What the database says.
        #[source]
        source: Box<dyn std::error::Error + Send + Sync>,
    },
}
