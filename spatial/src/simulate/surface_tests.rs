//! What every simulated surface must hold to be a fair judge.

use super::*;
use crate::index::SurfaceIndex;
use std::collections::BTreeMap;

#[test]
fn the_same_seed_gives_the_same_surface() {
    let scenario = Scenario::medium(300);
    assert_eq!(scenario.simulate(7), scenario.simulate(7));
    assert_ne!(scenario.simulate(7), scenario.simulate(8));
}

#[test]
fn truth_is_in_the_order_of_labels_and_of_the_number_wanted() {
    for scenario in [
        Scenario::easy(400),
        Scenario::medium(400),
        Scenario::hard(400),
        Scenario::blind(400),
        Scenario::crowded(400),
    ] {
        let simulated = scenario.simulate(3);
        let prints = &simulated.contents.prints;
        assert!(prints.is_sorted_by(|a, b| a.label < b.label));
        assert_eq!(prints.len(), simulated.truth.len());
        assert!((280..650).contains(&prints.len()), "{}", prints.len());
    }
}

#[test]
fn labels_say_nothing_of_trackways() {
    // If labels were in walking order, neighbours by label would be of one trackway; by chance few are.
    let truth = Scenario::medium(1000).simulate(5).truth;
    let same = truth
        .windows(2)
        .filter(|w| w[0].is_some() && w[0].map(|o| o.trackway) == w[1].map(|o| o.trackway));
    assert!(same.count() < 50);
}

#[test]
fn a_blind_surface_shows_positions_and_sizes_only() {
    let simulated = Scenario::blind(300).simulate(2);
    for print in &simulated.contents.prints {
        assert!(print.azimuth_deg.is_none() && print.side.is_none());
        assert!(print.limb.is_none() && print.morphotype.is_none());
    }
    assert!(
        simulated
            .contents
            .prints
            .iter()
            .any(|print| print.width_m.is_some())
    );
}

#[test]
fn no_print_lies_in_a_hidden_extent() {
    let mut scenario = Scenario::hard(500);
    scenario.position_sd_m = 1e-9..=1e-9;
    let contents = scenario.simulate(4).contents;
    assert!(!contents.extents.is_empty());
    let extents = contents.extents.clone();
    let index = SurfaceIndex::build(contents, |all| {
        let nowhere = crate::frame::LonLat {
            lon_deg: 0.0,
            lat_deg: 0.0,
        };
        Ok::<_, std::convert::Infallible>(vec![nowhere; all.len()])
    });
    let index = index.unwrap();
    for extent in &extents {
        assert!(index.in_polygon(&extent.polygon).is_empty());
    }
}

#[test]
fn most_trackways_are_long_enough_to_be_found() {
    let mut lengths: BTreeMap<u32, usize> = BTreeMap::new();
    for origin in Scenario::hard(1000).simulate(6).truth.into_iter().flatten() {
        *lengths.entry(origin.trackway).or_default() += 1;
    }
    let long = lengths.values().filter(|count| **count >= 4).count();
    assert!(long * 10 > lengths.len() * 7, "{long} of {}", lengths.len());
}

#[test]
fn so_many_trackways_are_there_as_the_ground_has() {
    for (scenario, wanted) in [(Scenario::hard_ground(), 30), (Scenario::crowded_ground(), 100)] {
        let truth = scenario.simulate(2).truth;
        let found: std::collections::BTreeSet<u32> =
            truth.iter().flatten().map(|origin| origin.trackway).collect();
        // Of a few, nothing is left.
        assert!(
            found.len() > wanted * 9 / 10 && found.len() <= wanted,
            "{} of {wanted}",
            found.len()
        );
    }
}

#[test]
fn slips_and_losses_are_as_often_as_said() {
    let simulated = Scenario::hard(6000).simulate(1);
    let prints = &simulated.contents.prints;
    let all = prints.len() as f64;
    let strays = simulated.truth.iter().filter(|origin| origin.is_none()).count() as f64;
    assert!((strays / all - 0.2).abs() < 0.03, "{strays} of {all}");
    let azimuths = prints.iter().filter(|print| print.azimuth_deg.is_some()).count() as f64;
    assert!((azimuths / all - 0.6).abs() < 0.03, "{azimuths} of {all}");
    let sides = prints.iter().filter(|print| print.side.is_some()).count() as f64;
    assert!((sides / all - 0.2).abs() < 0.03, "{sides} of {all}");
}
