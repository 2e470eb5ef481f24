use super::*;
use crate::access::Audience;
use crate::catalogue::Catalogue;
use crate::feature::OutputCrs;
use crate::store::SqliteStore;
use crate::store::contract::world::{World, id, print};
use std::sync::Arc;
use tempfile::TempDir;

/// Three surfaces with forty prints each, which stand in memory.
fn catalogue() -> (TempDir, Catalogue) {
    let folder = tempfile::tempdir().unwrap();
    let store = Arc::new(SqliteStore::open(&folder.path().join("ledge.db")).unwrap());
    let world = World::new(&*store);
    let prints: Vec<_> = (1..=40).map(|no| print(&format!("P{no:02}"))).collect();
    world.take(0, &["S1", "S2", "S3"].map(|surface| (surface, prints.clone())));
    let catalogue = Catalogue::new(store, Audience::Local, 1 << 20);
    for surface in ["S1", "S2", "S3"] {
        catalogue.index(&id(surface)).unwrap();
    }
    (folder, catalogue.at_hand().unwrap())
}

fn told(page: Page) -> (Vec<String>, bool, Option<u64>) {
    let ids = page.members.iter().map(|member| member.id());
    (ids.collect(), page.more, page.matched)
}

#[test]
fn a_page_found_at_once_is_the_page() {
    let (_folder, catalogue) = catalogue();
    let boxes = [
        ("EPSG:25830", "600000,4800000,600100,4800100"),
        ("EPSG:25830", "600004,4800007.5,600020,4800033"),
        ("EPSG:25830", "599000,4799000,599001,4799001"),
        ("EPSG:25830", "600007,4800014,600007,4800014"),
        ("EPSG:32630", "600010,4800000,600100,4800060"),
        ("CRS84", "-1.7672,43.3471,-1.767,43.348"),
        ("CRS84", "170,0,-1,80"),
    ];
    let cursors = [
        None,
        Some("gull-ledge:S1:P05"),
        Some("gull-ledge:S1:P40"),
        Some("gull-ledge:S2:P0"),
        Some("gull-ledge:S2:P171"),
        Some("gull-ledge:S3:Z"),
        Some("dune:S1:P01"),
        Some("quarry:S1:P01"),
    ];
    let mut taken = 0;
    for (crs, corners) in boxes {
        let bbox = Bbox::parse(corners, OutputCrs::parse(crs).unwrap()).unwrap();
        let on = |surface: Option<&str>| Selection {
            surface: surface.map(id),
            bbox: Some(bbox.clone()),
            ..Selection::all(Collection::Prints)
        };
        for selection in [on(None), on(Some("S2"))] {
            for after in cursors {
                for limit in [1, 7, 40, 41, 80, 10_000] {
                    let at_once = selection.page_at_once(&catalogue, after, limit).unwrap().unwrap();
                    let page = selection.page(&catalogue, after, limit).unwrap();
                    taken += page.members.len();
                    assert_eq!(told(at_once), told(page), "{corners} of {crs} after {after:?}");
                }
            }
        }
    }
    assert!(taken > 1_000, "{taken} prints lay in all boxes");
}

#[test]
fn what_would_take_its_time_is_not_found_at_once() {
    let (_folder, catalogue) = catalogue();
    let bbox = Bbox::parse(
        "600000,4800000,600100,4800100",
        OutputCrs::parse("EPSG:25830").unwrap(),
    )
    .ok();
    let quick = Selection {
        bbox,
        ..Selection::all(Collection::Prints)
    };
    let others = [
        Selection {
            bbox: None,
            ..quick.clone()
        },
        Selection {
            values: vec![(2, "P01".to_owned())],
            ..quick.clone()
        },
        Selection {
            interval: Interval::parse("2026-05-01").ok(),
            ..quick.clone()
        },
        Selection {
            collection: Collection::Trackways,
            ..quick.clone()
        },
    ];
    for selection in others {
        let page = selection.page_at_once(&catalogue, None, 10).unwrap();
        assert!(page.is_none(), "{selection:?}");
    }
}

#[test]
fn pieces_of_members_are_all_of_them_in_their_order() {
    let (_folder, catalogue) = catalogue();
    for (collection, count) in [(Collection::Prints, 120), (Collection::Surfaces, 3)] {
        let all = || Selection::all(collection).page(&catalogue, None, 1_000).unwrap();
        let ids = told(all()).0;
        assert_eq!(ids.len(), count);
        for most in [1, 7, 40, 1_000] {
            let pieces = all().members.parted(most);
            assert!(pieces.iter().all(|run| (1..=most).contains(&run.len())));
            let members = pieces.iter().flat_map(Run::iter);
            assert_eq!(members.map(|member| member.id()).collect::<Vec<_>>(), ids);
        }
        for most in [0, 1, 40, 41, count, count + 1] {
            let mut members = all().members;
            assert_eq!(members.truncate(most), most < count);
            assert_eq!(
                members.iter().map(|member| member.id()).collect::<Vec<_>>(),
                ids[..most.min(count)]
            );
            assert_eq!(
                members.last().map(|member| member.id()).as_ref(),
                ids[..most.min(count)].last()
            );
        }
    }
}
