//! Sites.

use super::Trial;
use super::world::{World, change, gull_ledge};
use crate::store::{RecordId, StoreError};
use spatial::model::{PlacePolicy, Site};

pub(crate) fn a_new_store_is_empty(trial: &dyn Trial) {
    assert_eq!(trial.store().sites().unwrap(), []);
    assert_eq!(trial.store().surfaces().unwrap(), []);
}

pub(crate) fn a_site_reads_back_as_written(trial: &dyn Trial) {
    let words = |text: &str| Some(text.to_owned());
    let given = Site {
        slug: "north-quay-2".parse().unwrap(),
        name: "North Quay \"2\" — l'invenção".to_owned(),
        crs: 2193,
        country: words("Nowhere"),
        steward: words("The Invented Survey"),
        licence: words("CC-BY-4.0"),
        citation: words("Nobody (2026). Nothing."),
        policy: PlacePolicy::Generalised,
        formation: words("Example Formation"),
        age: words("Aptian"),
        revision: 17,
    };
    let added = trial.store().add_site(&given, &change(1)).unwrap();
    assert_eq!(added, Site { revision: 1, ..given });
    assert_eq!(trial.store().sites().unwrap(), [added]);
}

pub(crate) fn a_slug_is_taken_once(trial: &dyn Trial) {
    let world = World::new(trial.store());
    let mark = world.store.mark().unwrap();
    let again = world.store.add_site(&Site::new(gull_ledge(), 2193), &change(1));
    assert!(matches!(again, Err(StoreError::Exists(_))), "{again:?}");
    assert_eq!(world.store.sites().unwrap()[0].crs, 25830);
    assert_eq!(world.store.mark().unwrap(), mark);
}

pub(crate) fn sites_come_in_order(trial: &dyn Trial) {
    for slug in ["b", "a-2", "a", "10", "a0"] {
        let site = Site::new(slug.parse().unwrap(), 25830);
        trial.store().add_site(&site, &change(1)).unwrap();
    }
    let slugs: Vec<String> = trial
        .store()
        .sites()
        .unwrap()
        .into_iter()
        .map(|site| site.slug.into())
        .collect();
    assert_eq!(slugs, ["10", "a", "a-2", "a0", "b"]);
}

pub(crate) fn a_site_has_a_history(trial: &dyn Trial) {
    let world = World::new(trial.store());
    let history = world.store.history(&RecordId::Site(gull_ledge())).unwrap();
    let [only] = &history[..] else {
        panic!("{history:?}")
    };
    assert_eq!(
        (only.revision, &*only.author, only.at),
        (1, "worker 0", change(0).at)
    );
    assert_eq!(only.record["slug"], "gull-ledge");
}
