//! Pages of nothing, of one, of very many and of what cannot be: still whole, and small.

use super::super::super::{ground::Ground, prints::Detail, window::Window};
use super::*;

#[test]
fn a_page_without_steps_squares_or_corridors_says_what_there_is() {
    let svg = drawn(&surface(), &nothing());
    assert_shows(&svg, &["No square to look in is given."]);
    assert!(svg.contains("P0029:") && !svg.contains("P0010:"));
    assert!(!svg.contains("predicted print:") && !svg.contains("corridor of"));
    let silent = Onward {
        caution: "",
        heading: String::new(),
        trackways: vec![label("T9")],
        ..nothing()
    };
    // An unknown trackway and nothing to look for: the whole surface.
    assert_shows(&drawn(&surface(), &silent), &["60 of the surface's 60 prints"]);
    drawn(&index(vec![], vec![], vec![]), &silent);
    drawn(&index(vec![], vec![], vec![]), &ahead());
}

#[test]
fn one_print_and_a_corridor_beyond_all_prints_are_drawn() {
    let (prints, trackway) = walk("T1", 0, 1, [500_000.0, 4_800_000.0]);
    let one = index(prints, vec![], vec![trackway]);
    drawn(&one, &nothing());
    let beyond = drawn(&one, &ahead());
    assert!(beyond.contains("P0000:") && beyond.contains("corridor of"));
    assert_shows(&beyond, &["1 of the surface's 1 prints"]);
}

#[test]
fn squares_upon_each_other_have_numbers_apart() {
    let squares: Vec<Square> = (0..20)
        .map(|i| square([500_031.0 + 0.02 * f64::from(i), 4_800_000.0], 0.5, 0.3))
        .collect();
    let onward = Onward { squares, ..ahead() };
    drawn(&surface(), &onward);
    let index = surface();
    let bounds = scene::bounds(&index, &onward).unwrap();
    let window = Window::fit(bounds, 100.0, 100.0, 800.0, 500.0);
    let (marks, left_out) = squares::marks(&onward.squares, &window);
    assert_eq!((marks.len(), left_out), (20, 0));
    let scene = scene::Scene::of(&index, &onward, &window);
    let detail = Detail::of(&scene.prints, &window);
    let mut ground = Ground::of(&scene.prints, detail, scene.midlines(), &window);
    let (numbers, without) = numbers::ranks(&marks, &mut ground);
    assert!(
        numbers.len() >= table::MOST && numbers.len() + without == 20,
        "{}",
        numbers.len()
    );
    for (i, one) in numbers.iter().enumerate() {
        for other in &numbers[i + 1..] {
            let apart = (0..2).any(|k| {
                one.area.upper()[k] < other.area.lower()[k] || other.area.upper()[k] < one.area.lower()[k]
            });
            assert!(apart, "{one:?} upon {other:?}");
        }
    }
}

#[test]
fn many_squares_are_cut_in_the_table_and_on_the_map_and_it_says_so() {
    let squares = (0..5_000).map(|i| {
        let at = [
            500_030.0 + 0.2 * f64::from(i % 100),
            4_800_000.0 + 0.2 * f64::from(i / 100),
        ];
        square(at, 0.1, 0.2 / f64::from(i + 1))
    });
    let onward = Onward {
        squares: squares.collect(),
        ..ahead()
    };
    let svg = drawn(&surface(), &onward);
    assert_shows(
        &svg,
        &[
            "4\u{202f}985 more in the answer's list",
            "Less probable squares not drawn: 4\u{202f}600",
            "15",
        ],
    );
    assert!(svg.len() < 300_000, "{} bytes", svg.len());
}

#[test]
fn steps_that_crowd_are_thinned_for_each_way_alone() {
    let mut onward = ahead();
    onward.squares.clear();
    onward.steps = (1..=60).map(|i| step(i, 500_029.0 + 0.2 * i as f64)).collect();
    onward
        .steps
        .extend((1..=2).map(|i| step(i, 500_000.0 - 9.0 * i as f64)));
    let svg = drawn(&surface(), &onward);
    assert_shows(&svg, &["+20", "+50"]);
    let threes = texts(&svg).iter().filter(|text| *text == "+3").count();
    assert_eq!(threes, 1, "in the key alone");
    assert!(svg.contains("54 predicted prints are not drawn"));
}

#[test]
fn a_large_surface_stays_small() {
    let (mut prints, trackway) = walk("T1", 0, 9, [500_000.0, 4_800_000.0]);
    prints.extend((0..200_000).map(|i| {
        let place = [
            499_000.0 + 2.0 * f64::from(i % 1000),
            4_799_800.0 + 2.0 * f64::from(i / 1000),
        ];
        Print::new(label(&format!("Q{i}")), place[0], place[1], 0.3)
    }));
    let index = index(prints, vec![], vec![trackway]);
    let onward = Onward {
        steps: (1..=5).map(|i| step(i, 500_008.0 + i as f64)).collect(),
        ..nothing()
    };
    let svg = drawn(&index, &onward);
    assert!(svg.len() < 100_000, "{} bytes", svg.len());
    assert!(svg.contains("of the surface&#39;s 200\u{202f}009 prints"));
    assert!(svg.contains("P0008:") && !svg.contains("Q0:"));
}

fn wild_step(value: f64) -> Step {
    let ring = polygon![(x: value, y: 1.), (x: 2., y: value), (x: value, y: value)];
    Step {
        number: 9,
        at: [value, value],
        region_50: ring.clone(),
        region_95: ring,
    }
}

#[test]
fn what_is_no_number_neither_breaks_the_page_nor_its_scale() {
    let index = surface();
    let mut onward = ahead();
    for value in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY] {
        onward.steps.push(wild_step(value));
        onward.candidates.push([value, 4_800_000.0]);
        let mut lost = square([500_031.0, 4_800_000.0], 0.5, value);
        lost.in_extent = "<&>".to_owned();
        onward.squares.push(lost);
    }
    onward.corridors.push(Polygon::empty());
    onward.squares.push(Square {
        outline: Polygon::empty(),
        probability: 2.0,
        in_extent: String::new(),
    });
    assert_shows(&drawn(&index, &onward), &["<&>", "–"]);
    assert_eq!(scene::bounds(&index, &onward), scene::bounds(&index, &ahead()));
}

#[test]
fn places_beyond_the_earth_do_not_break_the_page() {
    for value in [1e300, -1e300, f64::MAX] {
        let mut onward = ahead();
        onward.steps.push(wild_step(value));
        onward.candidates.push([value, -value]);
        onward.squares.push(square([value, value], 0.5, 0.1));
        drawn(&surface(), &onward);
    }
}
