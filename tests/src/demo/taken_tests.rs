//! The program takes the files, and has afterwards what the parties wrote down.

use super::place::Place;
use super::places;
use api::intake::{IntakeError, SheetFormat, SheetOptions, take_sheet};
use api::store::{Change, RecordStore, SqliteStore, Store, Taken};
use spatial::model::{Print, Site, SurfaceId};
use std::path::Path;

fn take(store: &dyn Store, site: &Site, name: &str, text: &str) -> Taken {
    let change = Change {
        author: "test".to_owned(),
        at: jiff::Timestamp::UNIX_EPOCH,
        deed: format!("import {name}"),
    };
    let format = SheetFormat::of_file(Path::new(name)).unwrap();
    match take_sheet(
        store,
        site,
        format,
        text.as_bytes(),
        &SheetOptions::default(),
        &change,
    ) {
        Ok(report) => report.taken,
        Err(IntakeError::Faults(faults)) => panic!("{name}: {faults:#?}"),
        Err(other) => panic!("{name}: {other:?}"),
    }
}

fn filled(store: &SqliteStore, place: &Place) {
    let change = Change {
        author: "test".to_owned(),
        at: jiff::Timestamp::UNIX_EPOCH,
        deed: "site add".to_owned(),
    };
    store.add_site(&place.site, &change).unwrap();
    for (name, text) in place.files() {
        take(store, &place.site, &name, &text);
    }
}

#[test]
fn every_file_is_taken_and_a_second_time_changes_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let store = SqliteStore::open(&folder.path().join("demo.db")).unwrap();
    for place in places() {
        filled(&store, &place);
        for (name, text) in place.files() {
            let again = take(&store, &place.site, &name, &text);
            for tally in [again.prints, again.extents, again.trackways] {
                assert_eq!((tally.added, tally.changed), (0, 0), "{name}");
            }
        }
    }
}

#[test]
fn the_store_has_the_prints_extents_and_trackways_of_every_surface() {
    let folder = tempfile::tempdir().unwrap();
    let store = SqliteStore::open(&folder.path().join("demo.db")).unwrap();
    for place in places() {
        filled(&store, &place);
        for scene in place.scenes() {
            let id = SurfaceId {
                site: place.site.slug.clone(),
                label: scene.surface.label.clone(),
            };
            let (contents, _) = store.contents(&id).unwrap().unwrap();
            let findings = scene.findings();
            assert_eq!(contents.extents.len(), findings.parts.iter().count(), "{id}");
            assert_eq!(contents.prints.len(), findings.prints.len(), "{id}");
            for (stored, written) in contents.prints.iter().zip(&findings.prints) {
                assert_same_but_for_rounding(stored, written);
            }
            let seen = findings
                .prints
                .iter()
                .filter(|print| print.field_trackway.is_some())
                .count();
            assert_eq!(
                contents.trackways.iter().map(|t| t.prints.len()).sum::<usize>(),
                seen,
                "{id}"
            );
        }
    }
}

fn assert_same_but_for_rounding(stored: &Print, written: &Print) {
    let places = |print: &Print| [print.easting_m, print.northing_m, print.length_m];
    for (a, b) in places(stored).iter().zip(places(written)) {
        assert!((a - b).abs() < 0.000_501, "{stored:?}");
    }
    assert_eq!(stored.label, written.label);
    assert_eq!(
        (stored.side, stored.limb, stored.digits),
        (written.side, written.limb, written.digits)
    );
    assert_eq!(stored.azimuth_deg.is_some(), written.azimuth_deg.is_some());
    assert_eq!(stored.field_trackway, written.field_trackway);
    let remarks = |print: &Print| print.remarks.as_deref().cloned().unwrap_or_default();
    let (stored, written) = (remarks(stored), remarks(written));
    assert_eq!(
        (&stored.overlies, &stored.note),
        (&written.overlies, &written.note)
    );
    assert_eq!(stored.depth_samples.len(), written.depth_samples.len());
    assert_eq!(stored.further, written.further);
}
