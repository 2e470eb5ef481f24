//! What the user tells of links holds, whatever the evidence says.

use super::tests::{each_print_once, index};
use super::*;
use crate::properties::every;
use crate::simulate::Scenario;
use proptest::prelude::*;

fn told(fixed: &[[PrintNo; 2]], forbidden: &[[PrintNo; 2]]) -> GroupingOptions {
    GroupingOptions {
        fixed: fixed.to_vec(),
        forbidden: forbidden.to_vec(),
        samples: 20,
        ..GroupingOptions::default()
    }
}

/// Whether one print comes straight after another in one row of a trackway, in this direction.
fn follows(grouping: &Grouping, [one, other]: [PrintNo; 2]) -> bool {
    grouping.trackways.iter().any(|trackway| {
        let fore: Vec<PrintNo> = (trackway.prints.iter().copied())
            .filter(|no| !trackway.midline.contains(no))
            .collect();
        [&trackway.midline, &fore]
            .into_iter()
            .any(|row| row.windows(2).any(|pair| pair == [one, other]))
    })
}

fn are_apart(grouping: &Grouping, pair: [PrintNo; 2]) -> bool {
    let successive = |prints: &[PrintNo]| {
        prints
            .windows(2)
            .any(|two| two == pair || two == [pair[1], pair[0]])
    };
    grouping
        .trackways
        .iter()
        .all(|trackway| !successive(&trackway.prints) && !successive(&trackway.midline))
}

#[test]
fn contradictions_are_told_in_words() {
    let index = index(Scenario::medium(60).simulate(1).contents);
    let refused = |fixed: &[[PrintNo; 2]], forbidden: &[[PrintNo; 2]]| {
        group(&index, &told(fixed, forbidden)).unwrap_err()
    };
    assert_eq!(refused(&[[3, 9999]], &[]), Contradiction::Unknown(9999));
    assert_eq!(refused(&[], &[[9999, 3]]), Contradiction::Unknown(9999));
    assert_eq!(refused(&[[3, 3]], &[]), Contradiction::Itself(3));
    assert_eq!(
        refused(&[[3, 4]], &[[4, 3]]),
        Contradiction::FixedAndForbidden(3, 4)
    );
    assert_eq!(refused(&[[3, 4], [3, 5]], &[]), Contradiction::TwoAfter(3));
    assert_eq!(refused(&[[3, 5], [4, 5]], &[]), Contradiction::TwoBefore(5));
    assert_eq!(refused(&[[3, 4], [4, 3]], &[]), Contradiction::Circle(3));
    assert_eq!(
        refused(&[[1, 2], [3, 4], [4, 5], [5, 3]], &[]),
        Contradiction::Circle(3)
    );
    let words = refused(&[[3, 4]], &[[3, 4]]).to_string();
    assert!(words.contains("both fixed and forbidden"), "{words}");
    // The same link told twice is no contradiction.
    assert!(group(&index, &told(&[[3, 4], [3, 4]], &[])).is_ok());
}

#[test]
fn a_fixed_link_turns_its_trackway() {
    let index = index(Scenario::easy(120).simulate(4).contents);
    let before = group(&index, &GroupingOptions::default()).unwrap();
    let trackway = &before.trackways[0];
    let link = [trackway.midline[3], trackway.midline[2]];
    let after = group(&index, &told(&[link], &[])).unwrap();
    each_print_once(&index, &after);
    let turned = after
        .trackways
        .iter()
        .find(|trackway| trackway.midline.contains(&link[0]))
        .unwrap();
    let mut midline = trackway.midline.clone();
    midline.reverse();
    assert_eq!(turned.midline, midline, "the same prints, the other way");
    assert_eq!(turned.direction_probability, 1.0);
}

#[test]
fn a_forbidden_link_parts_what_would_be_one() {
    let index = index(Scenario::easy(120).simulate(4).contents);
    let before = group(&index, &GroupingOptions::default()).unwrap();
    let trackway = &before.trackways[0];
    let forbidden: Vec<[PrintNo; 2]> = trackway
        .midline
        .windows(2)
        .map(|pair| [pair[0], pair[1]])
        .collect();
    let after = group(&index, &told(&[], &forbidden)).unwrap();
    each_print_once(&index, &after);
    assert!(forbidden.iter().all(|pair| are_apart(&after, *pair)));
    assert_ne!(before.trackways[0].midline, after.trackways[0].midline);
}

#[test]
fn explanations_are_given_when_asked_for() {
    let index = index(Scenario::medium(300).simulate(2).contents);
    let asked = GroupingOptions {
        explain: true,
        ..GroupingOptions::default()
    };
    let (plain, explained) = (
        group(&index, &GroupingOptions::default()).unwrap(),
        group(&index, &asked).unwrap(),
    );
    assert!(
        plain
            .trackways
            .iter()
            .all(|trackway| trackway.explained.is_empty())
    );
    for (plain, mut trackway) in plain.trackways.into_iter().zip(explained.trackways) {
        assert_eq!(
            trackway.explained.len() + 1,
            trackway.prints.len(),
            "one for each print after the first"
        );
        for (pair, link) in trackway.midline.windows(2).zip(&trackway.explained) {
            assert_eq!([link.from, link.to], [pair[0], pair[1]]);
        }
        for link in &trackway.explained {
            let sum: f64 = link.terms.iter().map(|(_, value)| value).sum();
            assert!((sum - link.score).abs() < 1e-9, "{link:?}");
            assert!(link.score.is_finite());
        }
        trackway.explained.clear();
        assert_eq!(plain, trackway, "to ask why changes nothing");
    }
}

/// What a user tells of the links of one simulated surface.
#[derive(Debug, Clone)]
struct Told {
    seed: u64,
    is_hard: bool,
    fixed: Vec<(PrintNo, PrintNo)>,
    forbidden: Vec<(PrintNo, PrintNo)>,
    /// Links of the program's own answer that are forbidden, by their place in it.
    cut: Vec<usize>,
}

impl Told {
    /// Every print is in one place, what is fixed is linked and what is forbidden is not.
    fn holds(self) -> Result<(), TestCaseError> {
        let scenario = if self.is_hard {
            Scenario::hard(120)
        } else {
            Scenario::medium(120)
        };
        let index = index(scenario.simulate(self.seed).contents);
        let options = self.options(&index);
        let grouping = group(&index, &options).unwrap();
        let mut prints: Vec<PrintNo> = grouping.ungrouped.clone();
        prints.extend(grouping.trackways.iter().flat_map(|trackway| &trackway.prints));
        prints.sort_unstable();
        prop_assert_eq!(prints, (0..index.prints().len() as PrintNo).collect::<Vec<_>>());
        for link in &options.fixed {
            prop_assert!(follows(&grouping, *link), "{:?} is fixed: {:?}", link, grouping);
        }
        for pair in &options.forbidden {
            prop_assert!(
                are_apart(&grouping, *pair),
                "{:?} is forbidden: {:?}",
                pair,
                grouping
            );
        }
        Ok(())
    }

    /// Links of the program's own answer are forbidden, and any others fixed, as long as nothing contradicts itself.
    fn options(&self, index: &SurfaceIndex) -> GroupingOptions {
        let all = index.prints().len() as PrintNo;
        let mut options = told(&[], &[]);
        let before = group(index, &options).unwrap();
        let links: Vec<[PrintNo; 2]> = (before.trackways.iter())
            .flat_map(|trackway| trackway.prints.windows(2).map(|pair| [pair[0], pair[1]]))
            .collect();
        let own = self.cut.iter().filter_map(|at| links.get(*at).copied());
        let others = self.forbidden.iter().map(|(a, b)| [a % all, b % all]);
        options.forbidden = own.chain(others.filter(|[a, b]| a != b)).collect();
        for (a, b) in &self.fixed {
            let mut with = options.clone();
            with.fixed.push([a % all, b % all]);
            if evidence::Evidence::of(index, &with).is_ok() {
                options = with;
            }
        }
        options
    }
}

/// In this case two rows were lengthened by one print in the same sweep.
#[test]
fn no_two_rows_take_the_same_free_print() {
    let told = Told {
        seed: 115,
        is_hard: false,
        fixed: vec![(59, 27), (12, 0), (14, 15), (8, 30), (41, 53)],
        forbidden: Vec::new(),
        cut: vec![41],
    };
    told.holds().unwrap();
}

proptest! {
    #![proptest_config(every(10))]

    #[test]
    fn what_is_told_holds(
        seed in 0u64..1000,
        is_hard: bool,
        fixed in prop::collection::vec((0u32..80, 0u32..80), 0..8),
        forbidden in prop::collection::vec((0u32..80, 0u32..80), 0..12),
        cut in prop::collection::vec(0usize..200, 0..6),
    ) {
        Told { seed, is_hard, fixed, forbidden, cut }.holds()?;
    }
}
