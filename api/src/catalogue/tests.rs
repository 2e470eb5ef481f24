use super::*;
use crate::store::SqliteStore;
use crate::store::contract::world::{World, id, print};

#[test]
fn what_is_at_hand_is_what_was_read_and_has_not_changed_since() {
    let folder = tempfile::tempdir().unwrap();
    let store = Arc::new(SqliteStore::open(&folder.path().join("ledge.db")).unwrap());
    let world = World::new(&*store);
    world.take(0, &[("S1", vec![print("P1"), print("P2")])]);
    let catalogue = Catalogue::new(store.clone(), Audience::Local, 1 << 20);
    let stranger = catalogue.seen_by(Audience::Public);
    assert!(catalogue.at_hand().is_none(), "nothing was read yet");

    let held = |catalogue: &Catalogue| {
        let listing = catalogue.at_hand()?.listing().unwrap();
        catalogue.index_at_hand(listing.surface(&id("S1"))?)
    };
    catalogue.listing().unwrap();
    assert!(catalogue.at_hand().is_some() && stranger.at_hand().is_none());
    assert!(held(&catalogue).is_none(), "no index was asked for");
    catalogue.index(&id("S1")).unwrap();
    assert_eq!(held(&catalogue).unwrap().prints().len(), 2);
    let then = catalogue.clone().as_of(Some(jiff::Timestamp::now()));
    assert!(then.at_hand().is_none(), "the past is not kept at hand");

    world.take(1, &[("S1", vec![print("P3")])]);
    assert!(catalogue.at_hand().is_none(), "the store has moved");
    catalogue.listing().unwrap();
    assert!(held(&catalogue).is_none(), "the index is of before");
    catalogue.index(&id("S1")).unwrap();
    assert_eq!(held(&catalogue).unwrap().prints().len(), 3);

    stranger.listing().unwrap();
    let listing = stranger.at_hand().unwrap().listing().unwrap();
    assert_eq!(
        listing.surfaces().count(),
        1,
        "the site is open: a stranger's part of the listing is at hand, too"
    );
}
