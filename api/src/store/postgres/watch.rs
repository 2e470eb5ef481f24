//! What a node knows of its database without asking it for each request: the mark, and whether it can be reached.
//!
//! One thread listens to the primary's notices (channel `stridebed`) and looks at its mark after each, and every now and then besides,
//! so that a notice that got lost is only felt a little later. Where reads go to a streaming replica, another thread looks at the
//! replica's mark: there it counts what the replica has replayed.

use super::connections::Pool;
use super::failure::chain;
use super::{MARK, PostgresAddress};
use crate::store::StoreError;
use postgres::Client;
use postgres::fallible_iterator::FallibleIterator;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Mutex, PoisonError, Weak};
use std::thread;
use std::time::{Duration, Instant};

/// The mark is looked at at least so often,
const LOOK: Duration = Duration::from_millis(250);
/// and that of a replica, which sends no notices, so often.
const LOOK_AT_REPLICA: Duration = Duration::from_millis(50);
/// A server that has not answered for so long counts as lost.
const SILENCE: Duration = Duration::from_secs(5);
/// After so long a lost server is tried again.
const AGAIN: Duration = Duration::from_millis(200);

/// What is known of one server.
enum Sight {
    /// It has this mark, or had when it was last looked at.
    Seen(u64, Instant),
    /// It cannot be reached; why.
    Lost(String),
}

/// One server, and what is known of it.
struct Server {
    sight: Mutex<Sight>,
}

/// Where reads go, and the mark that they show.
pub(super) enum View {
    /// The primary, where it has at least this mark.
    Primary(u64),
    /// The replica.
    Replica(u64),
}

/// What a node knows of its database.
pub(super) struct Watch {
    primary: Server,
    replica: Option<(Server, Pool)>,
    /// How many transactions this node has committed, and at how many of them it has looked at the mark since.
    committed: AtomicU64,
    looked: AtomicU64,
    /// The highest mark that this node has written or shown: what is older is no longer shown.
    shown: AtomicU64,
}

impl Watch {
    /// Begins to watch a database and, where one is given, its replica.
    ///
    /// # Errors
    /// When one of them cannot be reached.
    pub(super) fn begin(
        primary: &PostgresAddress,
        replica: Option<&PostgresAddress>,
        patience: Duration,
        readers: u32,
    ) -> Result<Arc<Self>, StoreError> {
        let (seen, conn) = Server::find(primary, patience)?;
        let replica = match replica {
            None => None,
            Some(address) => {
                let (seen, conn) = Server::find(address, patience)?;
                Some((
                    seen,
                    Pool::new(address, readers, patience)?,
                    conn,
                    address.clone(),
                ))
            }
        };
        let (replica, looking) = match replica {
            None => (None, None),
            Some((seen, pool, conn, address)) => (Some((seen, pool)), Some((conn, address))),
        };
        let watch = Arc::new(Self {
            primary: seen,
            replica,
            committed: AtomicU64::new(0),
            looked: AtomicU64::new(0),
            shown: AtomicU64::new(0),
        });
        let (own, address) = (Arc::downgrade(&watch), primary.clone());
        start("watch", move || {
            follow(&own, &address, conn, |watch| Some(&watch.primary), listen)
        })?;
        if let Some((conn, address)) = looking {
            let own = Arc::downgrade(&watch);
            start("watch-replica", move || {
                follow(
                    &own,
                    &address,
                    conn,
                    |watch| watch.replica.as_ref().map(|(server, _)| server),
                    look,
                );
            })?;
        }
        Ok(watch)
    }

    /// A transaction of this node has been committed.
    pub(super) fn committed(&self) {
        self.committed.fetch_add(1, Ordering::SeqCst);
    }

    /// The mark that is shown now; `ask` asks the primary, where this node has written since it was last asked.
    pub(super) fn mark(&self, ask: impl FnOnce() -> Result<u64, StoreError>) -> Result<u64, StoreError> {
        let committed = self.committed.load(Ordering::SeqCst);
        if self.looked.load(Ordering::SeqCst) < committed {
            // Whoever writes reads what he wrote.
            self.check()?;
            self.shown.fetch_max(ask()?, Ordering::SeqCst);
            self.looked.fetch_max(committed, Ordering::SeqCst);
        }
        self.seen()
    }

    /// The mark that is shown now, where nobody need be asked for it.
    pub(super) fn mark_at_once(&self) -> Option<u64> {
        let committed = self.committed.load(Ordering::SeqCst);
        let looked = self.looked.load(Ordering::SeqCst) >= committed;
        looked.then(|| self.seen().ok()).flatten()
    }

    fn seen(&self) -> Result<u64, StoreError> {
        let mark = match self.view()? {
            View::Primary(mark) | View::Replica(mark) => mark,
        };
        self.shown.fetch_max(mark, Ordering::SeqCst);
        Ok(mark)
    }

    /// Where reads go.
    ///
    /// # Errors
    /// [`StoreError::Unreachable`] when no server that is new enough can be reached.
    pub(super) fn view(&self) -> Result<View, StoreError> {
        let shown = self.shown.load(Ordering::SeqCst);
        let replica = self.replica.as_ref().map(|(server, _)| server.mark());
        match replica {
            Some(Ok(mark)) if mark >= shown => Ok(View::Replica(mark)),
            // Until the replica has come so far, others' changes wait for it: else reads would never go back to it.
            Some(Ok(_)) => self.primary.mark().map(|_| View::Primary(shown)),
            Some(Err(_)) | None => Ok(View::Primary(self.primary.mark()?.max(shown))),
        }
    }

    /// The connections that reads go to; `None` for those to the primary.
    pub(super) fn reading(&self) -> Option<&Pool> {
        let (_, pool) = self.replica.as_ref()?;
        matches!(self.view(), Ok(View::Replica(_))).then_some(pool)
    }

    /// Fails at once where the primary is lost, so that nobody waits for a connection that does not come.
    pub(super) fn check(&self) -> Result<(), StoreError> {
        self.primary.mark().map(drop)
    }
}

impl Server {
    /// Looks at a server for the first time.
    fn find(address: &PostgresAddress, patience: Duration) -> Result<(Self, Client), StoreError> {
        let mut conn = address.connect(patience)?;
        let mark = mark(&mut conn).map_err(|error| super::failure::no_connection(address, &error))?;
        let sight = Mutex::new(Sight::Seen(mark, Instant::now()));
        Ok((Self { sight }, conn))
    }

    fn mark(&self) -> Result<u64, StoreError> {
        match &*self.sight.lock().unwrap_or_else(PoisonError::into_inner) {
            Sight::Seen(mark, at) if at.elapsed() < SILENCE => Ok(*mark),
            Sight::Seen(..) => Err(StoreError::Unreachable("the server does not answer".to_owned())),
            Sight::Lost(why) => Err(StoreError::Unreachable(why.clone())),
        }
    }

    fn note(&self, sight: Sight) {
        let mut held = self.sight.lock().unwrap_or_else(PoisonError::into_inner);
        match (&*held, &sight) {
            (Sight::Seen(..), Sight::Lost(why)) => {
                tracing::warn!(why, "the database is lost; reads are of before")
            }
            (Sight::Lost(_), Sight::Seen(..)) => tracing::info!("the database is back"),
            _ => {}
        }
        *held = sight;
    }
}

fn start(name: &str, work: impl FnOnce() + Send + 'static) -> Result<(), StoreError> {
    let started = thread::Builder::new().name(name.to_owned()).spawn(work);
    started.map(drop).map_err(|error| StoreError::Failed {
        doing: "beginning to watch the database",
        source: Box::new(error),
    })
}

/// Follows a server for as long as its store is there: looks at its mark, waits as `wait` does, and connects anew where it is lost.
fn follow(
    own: &Weak<Watch>,
    address: &PostgresAddress,
    first: Client,
    server: impl Fn(&Watch) -> Option<&Server>,
    wait: impl Fn(&mut Client) -> Result<(), postgres::Error>,
) {
    let mut conn = Some(first);
    loop {
        let looked = match conn.as_mut() {
            Some(conn) => mark(conn).map_err(|error| chain(&error)),
            None => address
                .connect(SILENCE)
                .map_err(|error| error.to_string())
                .and_then(|mut fresh| {
                    let mark = mark(&mut fresh).map_err(|error| chain(&error));
                    conn = Some(fresh);
                    mark
                }),
        };
        let Some(watch) = own.upgrade() else { return };
        let Some(server) = server(&watch) else { return };
        match looked {
            Ok(mark) => server.note(Sight::Seen(mark, Instant::now())),
            Err(why) => {
                server.note(Sight::Lost(why));
                conn = None;
            }
        }
        drop(watch);
        match conn.as_mut() {
            // Where it fails, the next look will, too.
            Some(conn) => drop(wait(conn)),
            None => thread::sleep(AGAIN),
        }
    }
}

/// Waits for a notice, or a while. To listen twice is to listen.
fn listen(conn: &mut Client) -> Result<(), postgres::Error> {
    conn.batch_execute("LISTEN stridebed")?;
    let come = conn.notifications().timeout_iter(LOOK).next()?.is_some();
    // One change often sends many: they are looked at together.
    while come && conn.notifications().iter().next()?.is_some() {}
    Ok(())
}

fn look(_: &mut Client) -> Result<(), postgres::Error> {
    thread::sleep(LOOK_AT_REPLICA);
    Ok(())
}

fn mark(conn: &mut Client) -> Result<u64, postgres::Error> {
    let mark: i64 = conn.query_one(MARK, &[])?.try_get(0)?;
    Ok(mark.unsigned_abs())
}
