//! Turns against published declinations and convergences computed elsewhere.

use super::*;
use jiff::civil::date;

/// The declinations are test values of the World Magnetic Model 2025 as NOAA/NCEI prints them, two decimals, at sea level
/// (`fixtures/reference/measures`); the convergences are those of pyproj 3.7.2 (PROJ 9.5.1). Longitude 0,
/// latitude 80; 120, 0; −120, −80.
const PUBLISHED: [(u32, [f64; 2], f64, f64); 3] = [
    (32631, [441_867.785, 8_883_084.956], -2.954_504_68, 1.28),
    (32651, [166_021.443, 0.0], 0.0, -0.16),
    (32711, [441_867.785, 1_116_915.044], 2.954_504_68, 68.78),
];
const FIRST_DAY: Date = date(2025, 1, 1);

fn on(position: [f64; 2], day: Option<Date>) -> Sighting {
    Sighting {
        position,
        height_m: 0.0,
        day,
    }
}

fn turn(north: North, code: u32, sighting: Sighting) -> Result<Turn, NoTurn> {
    let crs = Crs::for_site(code).unwrap();
    north.turns(&crs, None, &[sighting]).unwrap().remove(0)
}

#[test]
fn true_north_turns_by_the_convergence() {
    for (code, position, convergence_deg, _) in PUBLISHED {
        let found = turn(North::True, code, on(position, None)).unwrap();
        assert!((found.turn_deg + convergence_deg).abs() < 1e-7, "{found:?}");
        assert_eq!(found.declination, None);
    }
}

#[test]
fn magnetic_north_turns_by_the_declination_less_the_convergence() {
    for (code, position, convergence_deg, declination_deg) in PUBLISHED {
        let north = North::Magnetic {
            surveyed_on: Some(FIRST_DAY),
        };
        let found = turn(north, code, on(position, None)).unwrap();
        let expected = declination_deg - convergence_deg;
        // As printed, to the second decimal.
        assert!((found.turn_deg - expected).abs() <= 0.005_5, "{found:?}");
    }
}

#[test]
fn its_own_day_counts_before_that_of_the_survey() {
    let (code, position, ..) = PUBLISHED[0];
    let survey = |surveyed_on| North::Magnetic { surveyed_on };
    let own = turn(
        survey(Some(FIRST_DAY)),
        code,
        on(position, Some(date(2027, 7, 2))),
    )
    .unwrap();
    // 2027.5: 2.59 (NOAA/NCEI test values).
    assert!(
        (own.declination.unwrap().declination_deg - 2.59).abs() <= 0.005_5,
        "{own:?}"
    );
    assert_eq!(
        turn(survey(None), code, on(position, Some(date(2027, 7, 2)))),
        Ok(own)
    );
    assert_eq!(turn(survey(None), code, on(position, None)), Err(NoTurn::NoDay));
    let old = turn(
        survey(Some(FIRST_DAY)),
        code,
        on(position, Some(date(1987, 6, 1))),
    );
    assert_eq!(old, Err(NoTurn::Unknown(MagneticFault::Date(date(1987, 6, 1)))));
}

#[test]
fn where_the_needle_points_nowhere_there_is_no_turn() {
    let north = North::Magnetic {
        surveyed_on: Some(FIRST_DAY),
    };
    // Longitude 139, latitude 85.8: near the north magnetic pole of 2025.
    let pole = on([2_306_051.864, 2_352_072.395], None);
    assert_eq!(turn(north, 5041, pole), Err(NoTurn::Useless));
    let turned = turn(North::True, 5041, pole).unwrap();
    assert!((turned.turn_deg + 139.0).abs() < 1e-6, "{turned:?}");
    // Longitude −100, latitude 76.
    let weak = turn(north, 5041, on([461_926.560, 2_271_203.846], None)).unwrap();
    assert_eq!(weak.declination.unwrap().compass, Compass::Weak);
    assert!(weak.turn_deg > -180.0 && weak.turn_deg <= 180.0, "{weak:?}");
}

#[test]
fn one_without_a_place_does_not_keep_the_others_from_theirs() {
    let crs = Crs::for_site(25830).unwrap();
    let sound = on([451_493.355, 4_816_516.213], None);
    let lost = on([1e9, 1e9], None);
    let found = North::True.turns(&crs, None, &[sound, lost, sound]).unwrap();
    assert!(
        (found[0].clone().unwrap().turn_deg - 0.413_020_774).abs() < 1e-8,
        "{found:?}"
    );
    assert_eq!(
        (&found[1], &found[2]),
        (&Err(NoTurn::NoPlace("EPSG:25830".to_owned())), &found[0])
    );
    assert_eq!(North::True.turns(&crs, None, &[]), Ok(Vec::new()));
}

#[test]
fn grid_north_needs_no_turn_wherever_it_is() {
    let found = turn(North::Grid, 25830, on([f64::NAN, 0.0], None)).unwrap();
    assert_eq!((found.turn_deg, found.declination), (0.0, None));
}

#[test]
fn a_local_grid_turns_by_its_own_rotation_everywhere() {
    let grid = |rotation_deg| LocalGrid {
        similarity: spatial::model::Similarity {
            east_shift_m: 0.0,
            north_shift_m: 0.0,
            scale: 1.0,
            rotation_deg,
        },
        rms_m: 0.0,
        tolerance_m: 0.05,
        control: Vec::new(),
    };
    let crs = Crs::for_site(25830).unwrap();
    for (rotation_deg, turn_deg) in [(30.0, 30.0), (350.0, -10.0)] {
        let found = North::Local
            .turns(&crs, Some(&grid(rotation_deg)), &[on([0.0, 0.0], None)])
            .unwrap();
        assert!((found[0].clone().unwrap().turn_deg - turn_deg).abs() < 1e-12);
    }
    assert_eq!(
        turn(North::Local, 25830, on([0.0, 0.0], None)),
        Err(NoTurn::NoGrid)
    );
}

#[test]
fn norths_are_named_with_their_options() {
    let named = North::named;
    assert_eq!(named(None, None), Ok(North::Grid));
    let day = Some(date(2026, 5, 1));
    for (name, surveyed_on, north) in [
        ("grid", None, North::Grid),
        ("true", None, North::True),
        ("local", None, North::Local),
        ("magnetic", None, North::Magnetic { surveyed_on: None }),
        (
            "magnetic",
            Some("2026-05-01"),
            North::Magnetic { surveyed_on: day },
        ),
    ] {
        assert_eq!(named(Some(name), surveyed_on), Ok(north));
        assert_eq!(north.name(), name);
        let options = north.options();
        let of = |name: &str| {
            options
                .iter()
                .find(|(known, _)| *known == name)
                .map(|(_, value)| &**value)
        };
        // Grid north is what counts where nothing is said.
        assert_eq!(of("north"), Some(name).filter(|name| *name != "grid"));
        assert_eq!(of("surveyed_on"), surveyed_on);
    }
    for name in ["", "Local", "True", "mag"] {
        assert_eq!(named(Some(name), None), Err(NorthFault::Name(name.to_owned())));
    }
    for name in [None, Some("grid"), Some("true")] {
        assert_eq!(named(name, Some("2026-05-01")), Err(NorthFault::NotMagnetic));
    }
    for day in ["", "1.5.2026", "2026-02-30", "2026-05"] {
        let refused = named(Some("magnetic"), Some(day));
        assert!(
            matches!(&refused, Err(NorthFault::Day(given, _)) if given == day),
            "{refused:?}"
        );
    }
}

#[test]
fn turns_are_folded_once() {
    for (turn_deg, folded) in [
        (190.0, -170.0),
        (-190.0, 170.0),
        (-180.0, 180.0),
        (540.0, 180.0),
        (-1e-17, -1e-17),
    ] {
        assert_eq!(fold_turn_deg(turn_deg), folded);
    }
}
