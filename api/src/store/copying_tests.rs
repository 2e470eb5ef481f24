//! Copies between files and databases, both ways.

use super::contract::Trial;
use super::contract::prints::full;
use super::contract::world::{
    World, change, gull_ledge, id, label, labels, local_grid, member, print, square,
};
use super::{
    Deed, Edit, Edited, Entry, Expected, RecordId, Revision, Store, StoreError, SurfaceSummary, Verdict,
    check, copy,
};
use super::{postgres, sqlite};
use spatial::index::SurfaceContents;
use spatial::model::{Basis, Print, Site, Status, Surface, Trackway, TrackwayId};

fn file() -> Box<dyn Trial> {
    Box::new(sqlite::tests::Fresh::new())
}

fn database() -> Box<dyn Trial> {
    Box::new(postgres::tests::Fresh::new())
}

/// A store in which everything has happened that can happen to a record.
fn fill(store: &dyn Store) {
    let world = World::new(store);
    let other = Site::new("another-ledge".parse().unwrap(), 32_633);
    store.add_site(&other, &change(1)).unwrap();
    let tied = Site {
        local_grid: Some(local_grid()),
        age: Some("Aptian \"?\"".to_owned()),
        revision: 1,
        ..Site::new(gull_ledge(), 25_830)
    };
    store.change_site(&tied, &change(2)).unwrap();
    for (day, dip_deg) in [(3, 4.0), (4, 0.1 + 0.2)] {
        let mut sheet = store.begin_sheet(&gull_ledge(), &change(day)).unwrap();
        let surface = Surface {
            dip_deg: Some(dip_deg),
            order: Some(-2),
            ..Surface::new(label("S1"))
        };
        sheet.put_surface(&surface).unwrap();
        sheet.finish().unwrap();
    }
    world.take_extents(5, &[square("E1", 0.0, 0.0), square("E2", 5e5, 4.8e6)]);
    world.take_extents(6, &[square("E1", 0.1, 0.0)]);
    let prints = vec![
        member("P2", "T1", Some(1)),
        member("P3", "T1", Some(2)),
        print("P4"),
        print("P5"),
    ];
    world.take(7, &[("S1", prints), ("S2", vec![full("P1")])]);
    let moved = |print: Print, east_m: f64| Print {
        easting_m: print.easting_m + east_m,
        ..print
    };
    // P3 moves and leaves its trackway; P1 changes twice.
    world.take(
        8,
        &[
            ("S1", vec![moved(print("P3"), 1e-9)]),
            ("S2", vec![moved(full("P1"), 0.3)]),
        ],
    );
    world.take(9, &[("S2", vec![moved(full("P1"), 0.7)])]);
    let proposal = |prints: &[&str]| Trackway {
        label: label("whatever"),
        prints: labels(prints),
        basis: Basis::Grouping,
        status: Status::Proposed,
        probability: Some(0.1 + 0.2),
        morphotype: Some("broad-toed".to_owned()),
        note: Some("Ö".to_owned()),
        judged_by: None,
        revision: 0,
    };
    let proposals = [proposal(&["P4", "P5"]), proposal(&["P5"])];
    store.propose(&id("S1"), &proposals, &change(10)).unwrap();
    let judged = TrackwayId {
        surface: id("S1"),
        label: label("G1"),
    };
    store
        .judge(&judged, Verdict::Accept, Some(1), &change(11))
        .unwrap();
    store.propose(&id("S1"), &[], &change(12)).unwrap();
    // P8 and the first extent are removed, and P8 is made again; P9 is gone.
    for text in ["P8", "P9"] {
        assert_eq!(put(store, text), Edited::Done(1));
        assert_eq!(edit(store, print_id(text), Deed::Remove), Edited::Done(2));
    }
    assert_eq!(put(store, "P8"), Edited::Done(3));
    let extent = RecordId::Extent(id("S1"), label("E1"));
    assert_eq!(edit(store, extent, Deed::Remove), Edited::Done(3));
}

fn edit(store: &dyn Store, id: RecordId, deed: Deed) -> Edited {
    let edit = Edit {
        expected: match deed {
            Deed::Remove => Expected::Any,
            _ => Expected::Absent,
        },
        id,
        deed,
        once: None,
    };
    store.edit(&edit, &change(13)).unwrap()
}

fn put(store: &dyn Store, text: &str) -> Edited {
    edit(store, print_id(text), Deed::PutPrint(Box::new(print(text))))
}

fn print_id(text: &str) -> RecordId {
    RecordId::Print(id("S1"), label(text))
}

/// All that a store answers.
type Account = (
    Vec<Site>,
    Vec<SurfaceSummary>,
    Vec<(SurfaceContents, u64)>,
    Vec<(RecordId, Vec<Revision>)>,
);

fn account(store: &dyn Store) -> Account {
    let (sites, surfaces) = (store.sites().unwrap(), store.surfaces().unwrap());
    let contents: Vec<_> = surfaces
        .iter()
        .map(|summary| store.contents(&summary.id).unwrap().unwrap())
        .collect();
    let mut records: Vec<RecordId> = sites
        .iter()
        .map(|site| RecordId::Site(site.slug.clone()))
        .collect();
    for (surface, _) in &contents {
        let id = &surface.id;
        records.push(RecordId::Surface(id.clone()));
        records.extend(
            surface
                .prints
                .iter()
                .map(|one| RecordId::Print(id.clone(), one.label.clone())),
        );
        records.extend(
            surface
                .extents
                .iter()
                .map(|one| RecordId::Extent(id.clone(), one.label.clone())),
        );
        records.extend(
            surface
                .trackways
                .iter()
                .map(|one| RecordId::Trackway(id.clone(), one.label.clone())),
        );
    }
    // Of what is gone only the history is left.
    records.push(print_id("P9"));
    records.push(RecordId::Extent(id("S1"), label("E1")));
    let histories = records.into_iter().map(|id| {
        let history = store.history(&id).unwrap();
        (id, history)
    });
    (sites, surfaces, contents, histories.collect())
}

fn copied(from: &dyn Trial, to: &dyn Trial) {
    let expected = account(from.store());
    let revisions: usize = expected.3.iter().map(|(_, history)| history.len()).sum();
    let told = std::cell::Cell::new(0);
    let done = copy(from.store(), to.store(), &|so_far| told.set(so_far.total())).unwrap();
    assert_eq!((done.total(), told.get()), (revisions as u64, revisions as u64));
    assert_eq!(account(to.store()), expected);
    // Nor does another program see anything else.
    assert_eq!(account(&*to.again()), expected);
}

fn there_and_back(first: fn() -> Box<dyn Trial>, second: fn() -> Box<dyn Trial>) {
    let (from, to, back) = (first(), second(), first());
    fill(from.store());
    copied(&*from, &*to);
    copied(&*to, &*back);
    assert_eq!(check(back.store(), &|_| ()).unwrap(), []);
    // What is made again goes on counting in the copy, too.
    assert_eq!(put(back.store(), "P9"), Edited::Done(3));
    go_on(back.store());
    go_on(to.store());
}

/// A copy is a store like any other: what stands is known, and what changes gets its next revision.
fn go_on(store: &dyn Store) {
    let world = World { store };
    let (before, revision) = world.contents("S2");
    let mark = store.mark().unwrap();
    assert_eq!(
        world.take(20, &[("S2", before.prints.clone())]).prints.unchanged,
        1
    );
    assert_eq!(store.mark().unwrap(), mark);
    world.take(21, &[("S2", vec![print("P1"), print("P6")])]);
    assert_ne!(store.mark().unwrap(), mark);
    let (after, next) = world.contents("S2");
    assert_eq!((after.prints[0].revision, next), (4, revision + 1));
    let history = store.history(&RecordId::Print(id("S2"), label("P1"))).unwrap();
    assert_eq!((history.len(), history[3].author.as_str()), (4, "worker 21"));
}

#[test]
fn a_file_goes_into_a_database_and_back() {
    there_and_back(file, database);
}

#[test]
fn a_database_goes_into_a_file_and_back() {
    there_and_back(database, file);
}

#[test]
fn a_file_goes_into_a_file() {
    there_and_back(file, file);
}

#[test]
fn a_database_goes_into_a_database() {
    there_and_back(database, database);
}

#[test]
fn an_empty_store_is_copied_too() {
    for (from, to) in [(file(), database()), (database(), file())] {
        assert_eq!(copy(from.store(), to.store(), &|_| ()).unwrap().total(), 0);
        assert_eq!(to.store().sites().unwrap(), []);
    }
}

#[test]
fn a_store_that_is_not_empty_is_not_copied_into() {
    for to in [file(), database()] {
        let from = file();
        fill(from.store());
        World::new(to.store());
        let before = account(to.store());
        let refused = copy(from.store(), to.store(), &|_| ());
        assert!(matches!(refused, Err(StoreError::NotEmpty)), "{refused:?}");
        assert_eq!(account(to.store()), before);
    }
}

#[test]
fn a_copy_that_ends_early_leaves_an_empty_store() {
    for to in [file(), database()] {
        let from = file();
        fill(from.store());
        let mut filling = to.store().begin_filling().unwrap();
        let mut left = 12;
        let stopped = from.store().read_all(&mut |entry| {
            left -= 1;
            filling.put(entry)?;
            if left == 0 { Err(StoreError::Busy) } else { Ok(()) }
        });
        assert!(matches!(stopped, Err(StoreError::Busy)));
        drop(filling);
        assert_eq!(to.store().sites().unwrap(), []);
        copied(&*from, &*to);
    }
}

#[test]
fn a_record_of_an_unknown_change_is_not_copied() {
    for to in [file(), database()] {
        let mut filling = to.store().begin_filling().unwrap();
        filling.put(Entry::Of(gull_ledge())).unwrap();
        let site = Site::new(gull_ledge(), 25_830);
        let put = filling.put(Entry::Site { site, change: 7 });
        assert!(matches!(put, Err(StoreError::Unfit(_))), "{put:?}");
    }
}
