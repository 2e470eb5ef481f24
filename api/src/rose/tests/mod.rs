//! Whole figures: well formed, repeatable, true in their areas, and whatever the groups hold.

mod reading;

use super::*;
use proptest::prelude::*;
use proptest::test_runner::RngSeed;
use reading::{SVG, azimuth_deg, interval, petals, texts, texts_lie_on_the_page};
use roxmltree::Document;

/// The same cases at each run, and no file beside the sources after a failure.
pub(super) fn config(cases: u32) -> ProptestConfig {
    ProptestConfig {
        cases,
        rng_seed: RngSeed::Fixed(4),
        failure_persistence: None,
        ..ProptestConfig::default()
    }
}

fn group(name: &str, azimuths_deg: &[f64]) -> Group {
    Group {
        name: name.to_owned(),
        azimuths_deg: azimuths_deg.to_vec(),
        mean_deg: None,
        mean_ci_deg: None,
        shape: "undecided".to_owned(),
        told: vec![format!("n = {}", azimuths_deg.len()), "R̄ = 0.50".to_owned()],
    }
}

fn rose(groups: Vec<Group>) -> Rose {
    Rose {
        title: "Headings of gannet-ledge:S2".to_owned(),
        below_title: "so many trackways, true north".to_owned(),
        north: "true north",
        axial: false,
        counted: "trackways",
        named_deg: None,
        bin_deg: 30.0,
        groups,
        caution: "Invented data, \"for tests\" & nothing else".to_owned(),
    }
}

/// Draws, and checks what holds for every figure.
fn drawn(rose: &Rose) -> String {
    let svg = rose.draw();
    let document = Document::parse(&svg).expect("the figure is well-formed XML");
    assert_eq!(svg, rose.draw(), "the same input gives the same bytes");
    for wild in ["NaN", "inf"] {
        assert!(!svg.contains(wild), "{wild} in the figure");
    }
    assert_eq!(document.root_element().attribute("role"), Some("img"));
    let ids: Vec<&str> = document
        .descendants()
        .filter_map(|node| node.attribute("id"))
        .collect();
    let named = document.root_element().attribute("aria-labelledby").unwrap();
    assert!(named.split(' ').all(|id| ids.contains(&id)), "{named} in {ids:?}");
    texts_lie_on_the_page(&document);
    svg
}

proptest! {
    #![proptest_config(config(60))]

    #[test]
    fn the_area_of_a_sector_is_as_its_share(
        samples in proptest::collection::vec(proptest::collection::vec(-720.0..720.0, 1..80), 1..9),
        width_deg in proptest::sample::select(vec![10.0, 20.0, 30.0, 60.0]),
        axial: bool,
    ) {
        let groups = samples.iter().enumerate().map(|(i, sample)| group(&format!("g{i}"), sample));
        let mut rose = rose(groups.collect());
        (rose.axial, rose.bin_deg) = (axial, width_deg);
        let svg = drawn(&rose);
        let petals = petals(&svg, false);
        let (mut area_of_one, mut next) = (None, petals.iter());
        for sample in &samples {
            let mut counted = 0;
            while counted < sample.len() {
                let petal = next.next().expect("each direction lies in a sector");
                counted += petal.count;
                let area = petal.radius.powi(2) * sample.len() as f64 / petal.count as f64;
                let first: f64 = *area_of_one.get_or_insert(area);
                // Radii are written to a hundredth of a px.
                let slack = 0.02 / petal.radius + 1e-3;
                prop_assert!((area / first - 1.0).abs() < 2.0 * slack, "{area} {first} {petal:?}");
                for corner in petal.corners {
                    prop_assert!((corner[0].hypot(corner[1]) - petal.radius).abs() < 0.03);
                }
                let turned = azimuth_deg(petal.corners[1]) - azimuth_deg(petal.corners[0]);
                prop_assert!((turned.rem_euclid(360.0) - width_deg).abs() < 0.03 / petal.radius * 180.0, "{turned}");
            }
            prop_assert_eq!(counted, sample.len());
        }
        prop_assert!(next.next().is_none());
    }
}

#[test]
fn axes_are_drawn_on_both_sides_and_the_copy_is_hatched() {
    let mut rose = rose(vec![group("", &[10.0, 190.0, 195.0, 80.0, 359.0, 180.0, 0.0])]);
    rose.axial = true;
    let svg = drawn(&rose);
    let (sides, copies) = (petals(&svg, false), petals(&svg, true));
    assert_eq!(
        sides.iter().map(|petal| petal.count).collect::<Vec<_>>(),
        [5, 1, 1]
    );
    for (side, copy) in sides.iter().zip(&copies) {
        assert_eq!((side.radius, side.count), (copy.radius, copy.count));
        for (a, b) in side.corners.iter().zip(&copy.corners) {
            assert!(
                (a[0] + b[0]).abs() < 0.021 && (a[1] + b[1]).abs() < 0.021,
                "{a:?} {b:?}"
            );
        }
    }
    assert_eq!(sides.len(), copies.len());
    assert!(
        texts(&svg)
            .iter()
            .any(|text| text.contains("drawn again on their other side"))
    );
    rose.axial = false;
    assert!(!drawn(&rose).contains("pattern"));
}

#[test]
fn an_interval_may_pass_north() {
    let mut one = group("", &[340.0, 10.0, 20.0]);
    (one.mean_deg, one.mean_ci_deg) = (Some(5.0), Some([350.0, 20.0]));
    assert_eq!(one.interval_deg(360.0), Some([350.0, 30.0]));
    let [from, to] = interval(&drawn(&rose(vec![one.clone()]))).unwrap();
    assert!(
        (from - 350.0).abs() < 0.1 && (to - 20.0).abs() < 0.1,
        "{from} {to}"
    );
    one.mean_ci_deg = Some([170.0, 10.0]);
    assert_eq!(one.interval_deg(180.0), Some([170.0, 20.0]), "of axes");
    one.mean_ci_deg = Some([30.0, 390.0]);
    assert_eq!(one.interval_deg(360.0), Some([30.0, 360.0]), "the whole circle");
    one.mean_ci_deg = Some([120.0, 120.0]);
    assert_eq!(one.interval_deg(360.0), Some([120.0, 0.0]));
    drawn(&rose(vec![one]));
}

#[test]
fn without_a_mean_there_is_neither_line_nor_interval() {
    let mut one = group("", &[10.0, 190.0]);
    one.mean_ci_deg = Some([0.0, 20.0]);
    let svg = drawn(&rose(vec![one.clone()]));
    assert!(interval(&svg).is_none() && !svg.contains("mean direction"));
    one.mean_deg = Some(f64::NAN);
    assert_eq!(drawn(&rose(vec![one.clone()])), svg);
    (one.mean_deg, one.mean_ci_deg) = (Some(10.0), Some([f64::NAN, 20.0]));
    let svg = drawn(&rose(vec![one]));
    assert!(texts(&svg).contains(&"mean direction".to_owned()) && interval(&svg).is_none());
}

#[test]
fn no_groups_and_empty_groups_say_so() {
    let empty = [group("A", &[]), group("B", &[f64::NAN, f64::INFINITY])];
    for groups in [vec![], empty[..1].to_vec(), empty.to_vec()] {
        let number = groups.len().max(1);
        let mut rose = rose(groups);
        (rose.named_deg, rose.axial) = (Some(85.0), true);
        let svg = drawn(&rose);
        let said = texts(&svg).iter().filter(|text| *text == "no directions").count();
        assert_eq!(said, number);
        assert!(petals(&svg, false).is_empty() && !svg.contains("rings"));
    }
    let half = vec![group("A", &[]), group("B", &[10.0])];
    let svg = drawn(&rose(half));
    assert_eq!(petals(&svg, false).len(), 1);
    assert_eq!(svg.matches(">no directions<").count(), 1);
}

#[test]
fn one_direction_equal_ones_and_what_is_no_number() {
    let svg = drawn(&rose(vec![group("", &[33.0])]));
    assert!(svg.contains("30° to 60°: 1") && svg.contains("ring: 1."));
    let svg = drawn(&rose(vec![group("", &[120.0; 15])]));
    assert!(svg.contains("120° to 150°: 15") && svg.contains("rings: 5, 10, 15."));
    let svg = drawn(&rose(vec![group("", &[f64::NAN, 33.0, f64::NEG_INFINITY])]));
    assert_eq!(petals(&svg, false).len(), 1);
    let svg = drawn(&rose(vec![group("", &[10.0, 190.0])]));
    assert_eq!(petals(&svg, false).len(), 2);
}

#[test]
fn several_roses_show_shares_on_one_scale() {
    let svg = drawn(&rose(vec![
        group("A", &[10.0, 10.0, 100.0]),
        group("B", &[10.0; 4]),
    ]));
    assert!(
        svg.contains(
            "its share of the trackways of a group; rings, the same in all roses: 50, 100\u{202f}%."
        )
    );
    let petals = petals(&svg, false);
    let area = |i: usize| petals[i].radius.powi(2);
    assert!((area(0) / area(1) - 2.0).abs() < 2e-3 && (area(0) + area(1) - area(2)).abs() / area(2) < 2e-3);
}

#[test]
fn of_many_groups_the_largest_are_drawn_in_their_order() {
    let sized = |i: usize| group(&format!("group {i}"), &vec![10.0; 1 + i * 7 % 17]);
    let rose = rose((0..17).map(sized).collect());
    let svg = drawn(&rose);
    let texts = texts(&svg);
    let names: Vec<&String> = texts.iter().filter(|text| text.starts_with("group ")).collect();
    let mut sizes: Vec<(usize, usize)> = (0..17).map(|i| (1 + i * 7 % 17, i)).collect();
    sizes.sort_unstable_by(|a, b| b.cmp(a));
    let mut expected: Vec<usize> = sizes[..MOST_GROUPS].iter().map(|size| size.1).collect();
    expected.sort_unstable();
    let expected: Vec<String> = expected.iter().map(|i| format!("group {i}")).collect();
    assert_eq!(names, expected.iter().collect::<Vec<_>>());
    assert!(
        texts
            .iter()
            .any(|text| text.contains("12 largest groups") && text.contains("holds 5 more"))
    );
}

#[test]
fn texts_are_escaped_and_long_ones_shortened() {
    let wild = "<script> & \"'\u{0}\u{b}]]>";
    let long = format!("gannet-ledge:{wild}{}:T001", "upper-floor".repeat(9));
    let groups = (0..8).map(|_| group(&long, &[1.0])).collect();
    let mut rose = rose(groups);
    rose.title = format!("Headings of {wild} {}", "of a long name ".repeat(40));
    rose.below_title = format!("{wild} {}", "and of no short words ".repeat(40));
    rose.caution = format!("{wild} {}", "Take care of that. ".repeat(80));
    rose.groups[0].told = vec![
        wild.to_owned(),
        "words without an end ".repeat(30),
        "w".repeat(500),
    ];
    rose.groups[0].shape = wild.to_owned();
    let svg = drawn(&rose);
    assert!(!svg.contains("<script"));
    let document = Document::parse(&svg).unwrap();
    let titles: Vec<&str> = document
        .descendants()
        .filter(|node| node.has_tag_name((SVG, "title")))
        .filter_map(|node| node.text())
        .collect();
    let full = long.replace(['\u{0}', '\u{b}'], "\u{fffd}");
    assert_eq!(
        titles.iter().filter(|title| **title == full).count(),
        8,
        "{titles:?}"
    );
    let texts = texts(&svg);
    assert!(texts.iter().any(|text| text == "gannet-ledge:"));
    assert!(
        texts
            .iter()
            .any(|text| text.contains('…') && text.ends_with(":T001")),
        "{texts:?}"
    );
}

#[test]
fn the_words_on_the_figure_are_its_description() {
    let mut one = group("", &[10.0, 20.0, 30.0]);
    (one.mean_deg, one.mean_ci_deg) = (Some(20.0), Some([5.0, 35.0]));
    one.shape = "unimodal".to_owned();
    let mut rose = rose(vec![one]);
    rose.named_deg = Some(-5.0);
    let svg = drawn(&rose);
    let document = Document::parse(&svg).unwrap();
    let described = document
        .descendants()
        .find(|node| node.has_tag_name((SVG, "desc")));
    let described = described.and_then(|node| node.text()).unwrap();
    let told = [
        "Headings of gannet-ledge:S2. so many trackways, true north. unimodal; n = 3; R̄ = 0.50.",
        "The area of a sector shows its number of trackways; rings: 1, 2. Sectors of 30°, clockwise from true north.",
        "mean direction, with the arc of its 95\u{202f}% interval.",
        "named azimuth, 355°. each dot is one of the trackways.",
        "Invented data, \"for tests\" & nothing else",
    ];
    for words in told {
        assert!(described.contains(words), "{words} in {described}");
    }
}

#[test]
fn the_named_azimuth_keeps_clear_of_letters_and_a_plain_list_has_none() {
    for named_deg in [0.0, 1.0, 30.0, 88.0, 90.0, 92.5, 180.0, 269.0, 359.97, -90.0] {
        let mut rose = rose(vec![group("", &[10.0])]);
        rose.named_deg = Some(named_deg);
        let svg = drawn(&rose);
        let label = compass::told(named_deg);
        assert_eq!(
            texts(&svg).iter().filter(|text| **text == label).count(),
            1,
            "{label}"
        );
        assert!(texts(&svg).contains(&"E".to_owned()));
        rose.named_deg = Some(f64::NAN);
        assert!(!drawn(&rose).contains("named azimuth"));
        (rose.north, rose.named_deg) = ("", None);
        let svg = drawn(&rose);
        assert!(!texts(&svg).contains(&"N".to_owned()) && texts(&svg).contains(&"270°".to_owned()));
        assert!(svg.contains("clockwise from 0°."));
    }
}

#[test]
fn a_million_azimuths_make_a_small_file() {
    let many: Vec<f64> = (0..1_000_000).map(|i| f64::from(i) * 0.000_377).collect();
    let mut rose = rose(vec![group("", &many)]);
    rose.bin_deg = default_bin_deg(many.len(), false);
    let svg = drawn(&rose);
    assert!(svg.len() < 20_000, "{} bytes", svg.len());
    assert!(!svg.contains("each dot"), "single directions are left out");
    rose.groups = many
        .chunks(50_000)
        .map(|part| group("some of them", part))
        .collect();
    for (axial, bin_deg) in [(false, 5.0), (false, 0.1), (true, 0.1), (true, 2.5)] {
        (rose.axial, rose.bin_deg) = (axial, bin_deg);
        let spread: Vec<f64> = (0..50_000).map(f64::from).collect();
        rose.groups
            .iter_mut()
            .for_each(|group| group.azimuths_deg.clone_from(&spread));
        let svg = drawn(&rose);
        assert!(svg.len() < 200_000, "{} bytes for {axial} {bin_deg}", svg.len());
    }
}

#[test]
fn the_default_width_divides_the_turn_and_follows_the_number() {
    let widths = |axial| [0, 1, 17, 18, 23, 24, 35, 36, 1_000_000].map(|n| default_bin_deg(n, axial));
    assert_eq!(
        widths(false),
        [30.0, 30.0, 30.0, 20.0, 20.0, 15.0, 15.0, 10.0, 10.0]
    );
    assert_eq!(
        widths(true),
        [30.0, 30.0, 15.0, 10.0, 10.0, 10.0, 10.0, 10.0, 10.0]
    );
}
