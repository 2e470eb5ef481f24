//! Against published worked examples and values.

use super::*;

fn dms(degrees: f64, minutes: f64, seconds: f64) -> f64 {
    degrees + minutes / 60.0 + seconds / 3600.0
}

/// IOGP Guidance Note 373-7-2, Transverse Mercator (method 9807), the worked example for EPSG:27700:
/// latitude 50°30' N, longitude 0°30' E of OSGB36 give E 577274.99 m, N 69740.50 m. The note computes
/// with k0 = 0.9996013 and 1/f = 299.32496 as printed; the full parameters move the result by 8 mm.
#[test]
fn guidance_note_7_2_transverse_mercator() {
    let moved = transform::transform("EPSG:4277", "EPSG:27700", &[[0.5, 50.5]]).unwrap();
    assert!((moved[0][0] - 577_274.99).abs() < 0.01, "{moved:?}");
    assert!((moved[0][1] - 69_740.50).abs() < 0.01, "{moved:?}");
    let printed = "+proj=tmerc +lat_0=49 +lon_0=-2 +k_0=0.9996013 +x_0=400000 +y_0=-100000 +a=6377563.396 +rf=299.32496 +units=m +type=crs";
    let base = "+proj=longlat +a=6377563.396 +rf=299.32496 +type=crs";
    let moved = transform::transform(base, printed, &[[0.5, 50.5]]).unwrap();
    assert_eq!(
        format!("{:.2} {:.2}", moved[0][0], moved[0][1]),
        "577274.99 69740.50"
    );
}

/// Ordnance Survey, A guide to coordinate systems in Great Britain, the worked example of annexe C.1.
#[test]
fn ordnance_survey_guide_point() {
    let (lat, lon) = (dms(52.0, 39.0, 27.2531), dms(1.0, 43.0, 4.5177));
    let moved = transform::transform("EPSG:4277", "EPSG:27700", &[[lon, lat]]).unwrap();
    assert_eq!(
        format!("{:.3} {:.3}", moved[0][0], moved[0][1]),
        "651409.903 313177.270"
    );
    let back = transform::transform("EPSG:27700", "EPSG:4277", &moved).unwrap();
    assert!((back[0][0] - lon).abs() < 1e-10 && (back[0][1] - lat).abs() < 1e-10);
}

/// Geocentric Datum of Australia Technical Manual, the Buninyong worked example, MGA94 zone 55:
/// E 228854.052, N 5828259.038, k 1.00050567, grid convergence −1°52'43.22" in the manual's sign
/// (grid bearing minus true azimuth); ours is the other way round: true = grid + convergence.
#[test]
fn gda_manual_buninyong() {
    let place = LonLat {
        lon_deg: dms(143.0, 55.0, 35.3839),
        lat_deg: -dms(37.0, 39.0, 10.1561),
    };
    let moved = transform::transform("EPSG:4283", "EPSG:28355", &[[place.lon_deg, place.lat_deg]]).unwrap();
    assert!((moved[0][0] - 228_854.052).abs() < 0.001, "{moved:?}");
    assert!((moved[0][1] - 5_828_259.038).abs() < 0.001, "{moved:?}");
    let factors = Crs::find(28355).unwrap().factors(place).unwrap();
    assert!(
        (factors.convergence_deg - dms(1.0, 52.0, 43.22)).abs() < 0.005 / 3600.0,
        "{factors:?}"
    );
    assert!((factors.scale - 1.000_505_67).abs() < 5e-9, "{factors:?}");
    // The manual's azimuth 127°10'25.07" and grid bearing 125°17'41.86" differ by that angle.
    let difference = dms(127.0, 10.0, 25.07) - dms(125.0, 17.0, 41.86);
    assert!((difference - factors.convergence_deg).abs() < 0.02 / 3600.0);
}

#[test]
fn what_fits_a_site_and_what_does_not() {
    assert!(Crs::for_site(25830).unwrap().name.contains("UTM zone 30N"));
    assert!(matches!(
        Crs::for_site(4326),
        Err(CrsFault::Geographic { code: 4326, .. })
    ));
    assert!(matches!(
        Crs::for_site(4979),
        Err(CrsFault::Geographic { .. } | CrsFault::NotMetres { .. })
    ));
    assert!(matches!(Crs::for_site(999_999), Err(CrsFault::Unknown(999_999))));
    // US survey feet.
    assert!(matches!(Crs::for_site(2263), Err(CrsFault::NotMetres { .. })));
    // Heights only.
    assert!(Crs::for_site(5703).is_err());
    // An ellipsoid has a code too.
    assert!(Crs::for_site(7030).is_err());
}

/// On them, an azimuth and a distance on the grid are not those of the ground turned and scaled.
#[test]
fn a_site_s_projection_keeps_angles() {
    // Azimuthal, cylindrical and conic equal-area, transverse equidistant, and the sphere laid over an ellipsoid.
    for code in [3035, 6933, 3577, 3068, 3857] {
        let refused = Crs::for_site(code).unwrap_err();
        assert!(matches!(refused, CrsFault::NotConformal { .. }), "{refused:?}");
        assert!(refused.to_string().contains("not conformal"), "{refused}");
    }
    // Conformal ones of each kind, and the grids of a town and of an island, which are as good as conformal.
    for code in [
        25830, 2154, 3031, 28992, 5514, 2056, 3375, 3395, 27200, 29701, 32761, 6247, 3993,
    ] {
        assert!(
            Crs::for_site(code).is_ok(),
            "EPSG:{code}: {:?}",
            Crs::for_site(code)
        );
    }
}

/// Their azimuths would be counted from the south or the west.
#[test]
fn a_site_s_axes_count_eastings_and_northings() {
    for code in [2052, 5513] {
        assert!(
            matches!(Crs::for_site(code), Err(CrsFault::OtherWay { .. })),
            "EPSG:{code}"
        );
    }
    // Both axes of a polar projection point north, or both south.
    for code in [3031, 3413, 5041, 32661] {
        assert!(Crs::for_site(code).is_ok(), "EPSG:{code}");
    }
}

#[test]
fn prime_meridians_are_read_in_degrees_and_in_grads() {
    // 2.5969213 grad; 17°40' west.
    for (code, expected) in [(27572, 2.337_229_17), (5221, -(17.0 + 40.0 / 60.0)), (25830, 0.0)] {
        let found = Crs::find(code).unwrap().prime_meridian_deg;
        assert!((found - expected).abs() < 1e-9, "EPSG:{code}: {found}");
    }
}

#[test]
fn axes_follow_the_authority() {
    for (code, northing_first) in [
        (25830, false),
        (32736, false),
        (3857, false),
        (2193, true),
        (3035, true),
        (4326, true),
        (3044, true),
    ] {
        assert_eq!(
            Crs::find(code).unwrap().northing_first,
            northing_first,
            "EPSG:{code}"
        );
    }
}

#[test]
fn inside_x_is_the_easting_whatever_the_authority_says() {
    let crs = Crs::for_site(2193).unwrap();
    let place = crs.to_lonlat(&[[1_570_000.0, 5_180_000.0]]).unwrap()[0];
    assert!(
        (172.0..173.0).contains(&place.lon_deg) && (-44.0..-43.0).contains(&place.lat_deg),
        "{place:?}"
    );
    let back = crs.from_lonlat(&[place]).unwrap()[0];
    assert!((back[0] - 1_570_000.0).abs() < 1e-4 && (back[1] - 5_180_000.0).abs() < 1e-4);
}

#[test]
fn many_points_go_through_in_their_order() {
    let crs = Crs::for_site(25830).unwrap();
    let points: Vec<[f64; 2]> = (0..50_001)
        .map(|i| [400_000.0 + f64::from(i), 4_600_000.0])
        .collect();
    let places = crs.to_lonlat(&points).unwrap();
    assert_eq!(places.len(), points.len());
    assert!(places.windows(2).all(|pair| pair[0].lon_deg < pair[1].lon_deg));
}

#[test]
fn codes_are_read_in_the_forms_that_clients_send() {
    for text in [
        "EPSG:25830",
        "25830",
        "http://www.opengis.net/def/crs/EPSG/0/25830",
        "urn:ogc:def:crs:EPSG::25830",
    ] {
        assert_eq!(parse_code(text).unwrap(), 25830, "{text}");
    }
    for text in ["", "EPSG:", "EPSG:25830x", "OGC:CRS84", "EPSG:99999999999", "-1"] {
        assert!(parse_code(text).is_err(), "{text}");
    }
}

/// PROJ's own search paths are one text for all threads, and whoever makes an object reads it.
#[test]
fn many_threads_make_objects_at_one_time() {
    let make = || (0..500).all(|_| transform::builder().is_ok());
    let all = std::thread::scope(|scope| {
        let threads: Vec<_> = (0..8).map(|_| scope.spawn(make)).collect();
        threads.into_iter().all(|thread| thread.join().unwrap())
    });
    assert!(all);
}
