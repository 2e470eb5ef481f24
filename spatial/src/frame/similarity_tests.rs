use super::*;
use proptest::prelude::*;

fn pegs(places: &[[f64; 4]]) -> Vec<ControlPoint> {
    (places.iter().enumerate())
        .map(
            |(number, &[local_x_m, local_y_m, easting_m, northing_m])| ControlPoint {
                name: format!("peg {}", number + 1),
                local_x_m,
                local_y_m,
                easting_m,
                northing_m,
            },
        )
        .collect()
}

#[test]
fn a_grid_turned_by_a_quarter() {
    // The local y axis points east: rotation 90 degrees.
    let tie = Tie::fit(
        &pegs(&[[0.0, 0.0, 500.0, 900.0], [0.0, 10.0, 510.0, 900.0]]),
        0.05,
    )
    .unwrap();
    assert!((tie.similarity.rotation_deg - 90.0).abs() < 1e-9);
    assert!((tie.similarity.scale - 1.0).abs() < 1e-12);
    assert_eq!((tie.redundancy, tie.over_tolerance.len()), (0, 0));
    let [east, north] = tie.similarity.forward([3.0, 0.0]);
    assert!(
        (east - 500.0).abs() < 1e-9 && (north - 897.0).abs() < 1e-9,
        "{east} {north}"
    );
    assert!((tie.similarity.grid_azimuth_deg(300.0) - 30.0).abs() < 1e-9);
}

#[test]
fn a_peg_that_was_misread_is_named() {
    let tie = Tie::fit(
        &pegs(&[
            [0.0, 0.0, 1000.0, 2000.0],
            [20.0, 0.0, 1020.0, 2000.0],
            [20.0, 20.0, 1020.0, 2020.0],
            [0.0, 20.0, 1000.0, 2020.5],
        ]),
        0.2,
    )
    .unwrap();
    assert_eq!(tie.over_tolerance, ["peg 4"]);
    assert!(tie.rms_m > 0.1 && tie.redundancy == 4);
}

#[test]
fn a_blunder_is_found_among_neighbours_that_it_has_pulled_along() {
    let mut points = pegs(&[
        [0.0, 0.0, 1000.0, 2000.0],
        [20.0, 0.0, 1020.0, 2000.01],
        [20.0, 20.0, 1020.0, 2020.0],
        [0.0, 20.0, 1000.0, 2020.5],
    ]);
    let tie = Tie::fit(&points, 0.05).unwrap();
    assert!(tie.over_tolerance.len() > 1, "{:?}", tie.over_tolerance);
    assert_eq!(suspect(&points, 0.05), Some("peg 4"));
    // Of three points each pair fits: none is more suspect than the others.
    assert_eq!(suspect(&points[..3], 0.001), None);
    assert_eq!(suspect(&[], 0.05), None);
    points[3].northing_m = 2020.0;
    // All fit, so none is suspect; nor is one where two were misread.
    assert_eq!(suspect(&points, 0.05), None);
    points[3].northing_m = 2020.5;
    points[1].easting_m = 1021.5;
    assert_eq!(suspect(&points, 0.05), None);
}

#[test]
fn what_is_kept_of_a_tie_has_the_same_residuals() {
    let points = pegs(&[
        [0.0, 0.0, 1000.0, 2000.0],
        [20.0, 0.0, 1020.0, 2000.02],
        [20.0, 20.0, 1020.0, 2020.0],
    ]);
    let tie = Tie::fit(&points, 0.05).unwrap();
    let grid = tie.local_grid(points.clone());
    assert!(grid.residuals().eq(tie.residuals.iter().cloned()));
    assert_eq!((grid.rms_m, grid.tolerance_m), (tie.rms_m, 0.05));
    let json = serde_json::to_string(&grid).unwrap();
    assert_eq!(serde_json::from_str::<LocalGrid>(&json).unwrap(), grid);
}

#[test]
fn what_cannot_be_tied_is_refused() {
    let one = pegs(&[[0.0, 0.0, 1.0, 1.0]]);
    assert_eq!(Tie::fit(&one, 0.1), Err(TieFault::TooFew(1)));
    assert_eq!(Tie::fit(&[], 0.1), Err(TieFault::TooFew(0)));
    let same_local = pegs(&[[0.0, 0.0, 1.0, 1.0], [0.0, 0.0, 9.0, 1.0], [5.0, 0.0, 6.0, 1.0]]);
    let fault = Tie::fit(&same_local, 0.1).unwrap_err();
    assert!(
        matches!(fault, TieFault::Coincident { place: "local", .. }),
        "{fault}"
    );
    let same_grid = pegs(&[[0.0, 0.0, 1.0, 1.0], [5.0, 0.0, 1.0, 1.0]]);
    let fault = Tie::fit(&same_grid, 0.1).unwrap_err();
    assert!(
        matches!(fault, TieFault::Coincident { place: "grid", .. }),
        "{fault}"
    );
    let unknown = pegs(&[[0.0, f64::NAN, 1.0, 1.0], [5.0, 0.0, 6.0, 1.0]]);
    assert_eq!(Tie::fit(&unknown, 0.1), Err(TieFault::NotFinite("peg 1".into())));
    let two = pegs(&[[0.0, 0.0, 1.0, 1.0], [5.0, 0.0, 6.0, 1.0]]);
    for tolerance in [0.0, -1.0, f64::NAN] {
        assert!(matches!(Tie::fit(&two, tolerance), Err(TieFault::Tolerance(_))));
    }
}

#[test]
fn exchanged_axes_are_a_mirror_image() {
    // x and y written into each other's column.
    let points = pegs(&[
        [0.0, 0.0, 1000.0, 2000.0],
        [20.0, 0.02, 1000.0, 2020.0],
        [19.99, 12.0, 1012.0, 2020.0],
    ]);
    let fault = Tie::fit(&points, 0.1).unwrap_err();
    assert!(
        matches!(fault, TieFault::Mirrored { mirrored_rms_m, .. } if mirrored_rms_m < 0.02),
        "{fault}"
    );
    assert!(fault.to_string().contains("exchanged"));
}

#[test]
fn a_mirrored_square_and_a_shuffled_one() {
    let square = [[0.0, 0.0], [10.0, 0.0], [10.0, 10.0], [0.0, 10.0]];
    let tied = |places: [[f64; 2]; 4]| {
        let points: Vec<_> = square
            .iter()
            .zip(places)
            .map(|(l, g)| [l[0], l[1], 500.0 + g[0], g[1]])
            .collect();
        Tie::fit(&pegs(&points), 0.05)
    };
    // The best fit of a square's mirror image without mirroring has no size at all.
    let fault = tied(square.map(|[x, y]| [-x, y])).unwrap_err();
    assert!(matches!(fault, TieFault::Mirrored { .. }), "{fault}");
    let fault = tied([square[0], square[2], square[1], square[3]]).unwrap_err();
    assert!(matches!(fault, TieFault::Shape { .. }), "{fault}");
}

#[test]
fn points_in_one_line_are_not_taken_for_mirrored() {
    let tie = Tie::fit(
        &pegs(&[
            [0.0, 0.0, 0.0, 0.0],
            [10.0, 0.0, 10.0, 0.0],
            [20.0, 0.0, 20.0, 0.4],
        ]),
        0.05,
    );
    // Nor could they be: the mirror image fits as well.
    let tie = tie.unwrap();
    assert!((tie.rms_m - tie.mirrored_rms_m).abs() < 0.01, "{tie:?}");
    let two = Tie::fit(&pegs(&[[0.0, 0.0, 5.0, 5.0], [3.0, 1.0, 8.0, 6.0]]), 0.05).unwrap();
    assert!(two.mirrored_rms_m < 1e-9, "{two:?}");
}

proptest! {
    #[test]
    fn there_and_back(
        x in -500.0..500.0f64, y in -500.0..500.0f64, rotation in 0.0..360.0f64, scale in 0.5..2.0f64,
        east in 1e5..9e5f64, north in 0.0..9e6f64,
    ) {
        let similarity = Similarity { east_shift_m: east, north_shift_m: north, scale, rotation_deg: rotation };
        let [back_x, back_y] = similarity.inverse(similarity.forward([x, y]));
        prop_assert!((back_x - x).abs() < 1e-7 && (back_y - y).abs() < 1e-7);
    }

    #[test]
    fn an_exact_grid_is_found_again(
        places in prop::collection::vec((-50.0..50.0f64, -50.0..50.0f64), 2..12),
        rotation in 0.0..360.0f64, scale in 0.9..1.1f64,
    ) {
        let truth = Similarity { east_shift_m: 4e5, north_shift_m: 4.8e6, scale, rotation_deg: rotation };
        let points = pegs(&places.iter().map(|&(x, y)| {
            let [e, n] = truth.forward([x, y]);
            [x, y, e, n]
        }).collect::<Vec<_>>());
        // Random places can be too near to each other; then the fit is refused.
        if let Ok(tie) = Tie::fit(&points, 0.01) {
            prop_assert!(tie.rms_m < 1e-6);
            for &(x, y) in &places {
                let [[e, n], [e2, n2]] = [truth.forward([x, y]), tie.similarity.forward([x, y])];
                prop_assert!((e - e2).hypot(n - n2) < 1e-6);
            }
        }
    }
}
