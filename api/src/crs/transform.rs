//! Coordinates from one CRS to another, by PROJ.

use super::{CrsFault, database};
use proj::{Proj, ProjBuilder};
use rayon::prelude::*;
use std::cell::{Cell, RefCell};
use std::collections::HashMap;
use std::sync::{LazyLock, Mutex, PoisonError};

/// Below this many points a second thread costs more than it brings.
const WORTH_A_THREAD: usize = 20_000;

/// PROJ's objects stay on the thread that made them, and each costs tens of milliseconds to make;
/// a pool of its own keeps their number at that of the cores, however many threads ask.
static POOL: LazyLock<rayon::ThreadPool> = LazyLock::new(|| {
    rayon::ThreadPoolBuilder::new()
        .thread_name(|no| format!("crs-{no}"))
        .build()
        .expect("the system can start a thread for each core")
});

thread_local! {
    static MADE: RefCell<HashMap<(String, String), Proj>> = RefCell::default();
    static STAYS: Cell<bool> = const { Cell::new(false) };
}

/// Tells that this thread lasts as long as the process and has little to transform at a time: then objects of its own
/// cost less than to wait for the pool each time.
pub fn stay() {
    STAYS.set(true);
}

/// Does something on a thread that keeps PROJ's objects.
pub(super) fn where_kept<T: Send>(work: impl FnOnce() -> T + Send) -> T {
    if STAYS.get() { work() } else { POOL.install(work) }
}

/// Transforms points in the order x, y (easting, northing; longitude, latitude), whatever the order
/// of the CRSs' own axes.
///
/// # Errors
/// When PROJ cannot transform between the two, or a point lies where the projection is not defined.
pub(super) fn transform(from: &str, to: &str, points: &[[f64; 2]]) -> Result<Vec<[f64; 2]>, CrsFault> {
    if from == to {
        return Ok(points.to_vec());
    }
    if points.len() < WORTH_A_THREAD {
        return where_kept(|| transform_here(from, to, points));
    }
    POOL.install(|| {
        let parts: Result<Vec<Vec<[f64; 2]>>, CrsFault> = points
            .par_chunks(WORTH_A_THREAD)
            .map(|part| transform_here(from, to, part))
            .collect();
        Ok(parts?.concat())
    })
}

/// The box in `to` that holds a box of `from`, its edges' bulges included; `[[west, south], [east, north]]`.
///
/// # Errors
/// As [`transform`].
pub(super) fn bounds(from: &str, to: &str, bounds: [[f64; 2]; 2]) -> Result<[[f64; 2]; 2], CrsFault> {
    const POINTS_AN_EDGE: i32 = 21;
    if from == to {
        return Ok(bounds);
    }
    let [[west, south], [east, north]] = bounds;
    where_kept(|| {
        with(from, to, |proj| {
            let found = proj.transform_bounds(west, south, east, north, POINTS_AN_EDGE);
            let [west, south, east, north] = found.map_err(|e| CrsFault::NotTransformed(e.to_string()))?;
            if [west, south, east, north].iter().all(|edge| edge.is_finite()) {
                Ok([[west, south], [east, north]])
            } else {
                Err(CrsFault::NotTransformed(
                    "the box lies where the projection is not defined".to_owned(),
                ))
            }
        })
    })
}

fn transform_here(from: &str, to: &str, points: &[[f64; 2]]) -> Result<Vec<[f64; 2]>, CrsFault> {
    with(from, to, |proj| {
        let mut moved: Vec<(f64, f64)> = points.iter().map(|[x, y]| (*x, *y)).collect();
        proj.convert_array(&mut moved)
            .map_err(|error| CrsFault::NotTransformed(error.to_string()))?;
        Ok(moved.into_iter().map(|(x, y)| [x, y]).collect())
    })
}

fn with<T>(from: &str, to: &str, use_it: impl FnOnce(&Proj) -> Result<T, CrsFault>) -> Result<T, CrsFault> {
    MADE.with_borrow_mut(|made| {
        let key = (from.to_owned(), to.to_owned());
        if !made.contains_key(&key) {
            let proj = builder()?.proj_known_crs(from, to, None);
            made.insert(
                key.clone(),
                proj.map_err(|error| CrsFault::NotTransformed(error.to_string()))?,
            );
        }
        use_it(&made[&key])
    })
}

/// A maker of PROJ's objects that knows where the CRS database lies.
///
/// # Errors
/// When the database cannot be unpacked.
pub(super) fn builder() -> Result<ProjBuilder, CrsFault> {
    // To set its paths a builder first reads PROJ's own, which are one text for all threads, freed and made anew at each look.
    static LOOKING: Mutex<()> = Mutex::new(());
    let mut builder = ProjBuilder::new();
    let folder = database::folder().map_err(CrsFault::NoDatabase)?;
    let _alone = LOOKING.lock().unwrap_or_else(PoisonError::into_inner);
    builder
        .set_search_paths(folder)
        .map_err(|error| CrsFault::NoDatabase(error.to_string()))?;
    Ok(builder)
}
