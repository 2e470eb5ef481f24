//! Sites.

use super::Trial;
use super::world::{World, change, gull_ledge, local_grid, print};
use crate::store::{RecordId, StoreError};
use spatial::model::{PlacePolicy, Site};
use std::thread;

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
        local_grid: Some(local_grid()),
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

/// The only site of a world.
fn stored(world: &World<'_>) -> Site {
    let mut sites = world.store.sites().unwrap();
    assert_eq!(sites.len(), 1);
    sites.remove(0)
}

/// The same site with a local grid.
fn tied(site: &Site) -> Site {
    Site {
        local_grid: Some(local_grid()),
        ..site.clone()
    }
}

pub(crate) fn a_changed_site_is_a_new_revision(trial: &dyn Trial) {
    let world = World::new(trial.store());
    let mark = world.store.mark().unwrap();
    let with_grid = tied(&stored(&world));
    let second = world.store.change_site(&with_grid, &change(1)).unwrap();
    assert_eq!(
        second,
        Site {
            revision: 2,
            ..with_grid
        }
    );
    assert_eq!(stored(&world), second);
    assert_eq!(trial.again().sites().unwrap()[0], second);
    assert_ne!(world.store.mark().unwrap(), mark);
    let renamed = Site {
        name: "Gull Ledge, north end (invented)".to_owned(),
        country: Some("Nowhere".to_owned()),
        policy: PlacePolicy::Closed,
        local_grid: None,
        ..second
    };
    let third = world.store.change_site(&renamed, &change(2)).unwrap();
    assert_eq!(
        third,
        Site {
            revision: 3,
            ..renamed
        }
    );
    assert_eq!(stored(&world), third);
    let history = world.store.history(&RecordId::Site(gull_ledge())).unwrap();
    let told: Vec<_> = history
        .iter()
        .map(|past| (past.revision, past.author.as_str(), past.at))
        .collect();
    let at = |day| change(day).at;
    assert_eq!(
        told,
        [
            (1, "worker 0", at(0)),
            (2, "worker 1", at(1)),
            (3, "worker 2", at(2))
        ]
    );
    let again: Site = serde_json::from_value(history[1].record.clone()).unwrap();
    assert_eq!((again.local_grid, again.revision), (Some(local_grid()), 2));
    assert!(history[0].record.get("local_grid").is_none());
}

pub(crate) fn a_site_that_does_not_differ_is_left_alone(trial: &dyn Trial) {
    let world = World::new(trial.store());
    let second = world
        .store
        .change_site(&tied(&stored(&world)), &change(1))
        .unwrap();
    let mark = world.store.mark().unwrap();
    assert_eq!(world.store.change_site(&second, &change(2)).unwrap(), second);
    assert_eq!(world.store.mark().unwrap(), mark);
    assert_eq!(
        world.store.history(&RecordId::Site(gull_ledge())).unwrap().len(),
        2
    );
}

pub(crate) fn a_site_changed_meanwhile_is_not_overwritten(trial: &dyn Trial) {
    let world = World::new(trial.store());
    let seen = stored(&world);
    let second = trial.again().change_site(&tied(&seen), &change(1)).unwrap();
    for revision in [0, seen.revision, second.revision + 1] {
        let mine = Site {
            age: Some("Aptian".to_owned()),
            revision,
            ..seen.clone()
        };
        let refused = world.store.change_site(&mine, &change(2));
        assert!(matches!(refused, Err(StoreError::Moved(_))), "{refused:?}");
    }
    assert_eq!(stored(&world), second);
}

pub(crate) fn of_two_who_change_a_site_at_once_one_is_told(trial: &dyn Trial) {
    let world = World::new(trial.store());
    let other_program = trial.again();
    for round in 1..6 {
        let seen = stored(&world);
        assert_eq!(seen.revision, round);
        let named = |who: &str| Site {
            name: format!("named by {who} in round {round}"),
            ..seen.clone()
        };
        let (one, other) = (named("one"), named("the other"));
        let both = thread::scope(|scope| {
            let one = scope.spawn(|| world.store.change_site(&one, &change(1)));
            let other = scope.spawn(|| other_program.change_site(&other, &change(2)));
            [one.join().unwrap(), other.join().unwrap()]
        });
        let (stood, told): (Vec<_>, Vec<_>) = both.into_iter().partition(Result::is_ok);
        assert!(matches!(told[..], [Err(StoreError::Moved(_))]), "{told:?}");
        assert_eq!(stored(&world), *stood[0].as_ref().unwrap());
    }
}

pub(crate) fn an_unknown_site_is_not_changed(trial: &dyn Trial) {
    let world = World::new(trial.store());
    let mut unknown = Site::new("elsewhere".parse().unwrap(), 25830);
    for revision in [0, 1] {
        unknown.revision = revision;
        let refused = world.store.change_site(&unknown, &change(1));
        assert!(matches!(refused, Err(StoreError::Missing(_))), "{refused:?}");
    }
    stored(&world);
}

pub(crate) fn the_crs_of_a_site_stays(trial: &dyn Trial) {
    let world = World::new(trial.store());
    let before = stored(&world);
    let moved = Site {
        crs: 25829,
        ..tied(&before)
    };
    let refused = world.store.change_site(&moved, &change(1));
    assert!(matches!(refused, Err(StoreError::FixedCrs(_))), "{refused:?}");
    assert_eq!(stored(&world), before);
}

pub(crate) fn no_site_has_a_number_that_is_not_finite(trial: &dyn Trial) {
    let world = World::new(trial.store());
    let before = stored(&world);
    let spoilt = |spoil: &dyn Fn(&mut spatial::model::LocalGrid)| {
        let mut grid = local_grid();
        spoil(&mut grid);
        Site {
            local_grid: Some(grid),
            ..before.clone()
        }
    };
    for site in [
        spoilt(&|grid| grid.similarity.scale = f64::NAN),
        spoilt(&|grid| grid.similarity.rotation_deg = f64::INFINITY),
        spoilt(&|grid| grid.rms_m = f64::NAN),
        spoilt(&|grid| grid.control[1].local_y_m = f64::NEG_INFINITY),
    ] {
        let refused = world.store.change_site(&site, &change(1));
        assert!(matches!(refused, Err(StoreError::NotFinite(_))), "{refused:?}");
        let elsewhere = Site {
            slug: "elsewhere".parse().unwrap(),
            ..site
        };
        let refused = world.store.add_site(&elsewhere, &change(1));
        assert!(matches!(refused, Err(StoreError::NotFinite(_))), "{refused:?}");
    }
    assert_eq!(stored(&world), before);
}

pub(crate) fn a_change_of_a_site_leaves_its_surfaces_alone(trial: &dyn Trial) {
    let world = World::new(trial.store());
    world.take(1, &[("S1", vec![print("P1"), print("P2")])]);
    let before = (world.contents("S1"), world.store.surfaces().unwrap());
    world
        .store
        .change_site(&tied(&stored(&world)), &change(2))
        .unwrap();
    assert_eq!((world.contents("S1"), world.store.surfaces().unwrap()), before);
}
