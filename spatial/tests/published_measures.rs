//! Frames and gait against published values and a second implementation; sources stand in
//! `fixtures/reference/measures/README.md`.
#![allow(missing_docs, clippy::unwrap_used)] // A test may panic: that is how it fails.

use jiff::civil::date;
use serde::Deserialize;
use serde::de::DeserializeOwned;
use spatial::frame::LonLat;
use spatial::frame::magnetic::Declination;
use spatial::frame::similarity::{ControlPoint, Similarity, Tie};
use spatial::gait::hip::HipRule;
use spatial::gait::speed::{GaitClass, Motion, SpeedFormula, alexander_m_s};
use spatial::gait::{Options, Placed, measure, pace_angulation_deg, pattern_width_m};
use spatial::model::{Print, Side};

fn rows<T: DeserializeOwned>(file: &str) -> Vec<T> {
    let path = format!(
        "{}/../fixtures/reference/measures/{file}",
        env!("CARGO_MANIFEST_DIR")
    );
    let mut reader = csv::Reader::from_path(&path).unwrap();
    let rows: Vec<T> = reader.deserialize().collect::<Result<_, _>>().unwrap();
    assert!(!rows.is_empty(), "{file}");
    rows
}

#[derive(Deserialize)]
struct Kinematics {
    source: String,
    case: String,
    h_m: Option<f64>,
    stride_m: f64,
    method: String,
    published_mps: String,
}

impl Kinematics {
    /// The number before any words.
    fn published(&self) -> f64 {
        self.published_mps.split(' ').next().unwrap().parse().unwrap()
    }
}

#[test]
fn speeds_as_published() {
    let mut checked = 0;
    for row in rows::<Kinematics>("kinematics.csv") {
        let Some(hip) = row.h_m else { continue };
        let motion = Motion::of(row.stride_m, hip).unwrap();
        let tolerance = if row.source.starts_with("Masao") {
            // Printed with two decimals; their stature stands in for h.
            assert!(
                (alexander_m_s(row.stride_m, hip) - row.published()).abs() < 0.006,
                "{}",
                row.case
            );
            0.006
        } else if row.source.starts_with("Day") {
            // 6.8 and 29.2 km/h, from memory; the walk comes to 6.86, so a tenth of a km/h is allowed.
            0.1 / 3.6
        } else if row.source.starts_with("Farlow") {
            // The table's row holds Alexander's formula, which is ours only below λ/h = 2.9.
            assert!((alexander_m_s(row.stride_m, hip) - row.published()).abs() < 0.05);
            assert_eq!(motion.speed_formula, SpeedFormula::Running);
            checked += 1;
            continue;
        } else {
            // Measured walks of adults: Alexander's formula comes within a tenth.
            assert!(row.method.starts_with("MEASURED"));
            0.1 * row.published()
        };
        assert!(
            (motion.speed_m_s - row.published()).abs() < tolerance,
            "{}: {}",
            row.case,
            motion.speed_m_s
        );
        checked += 1;
    }
    assert_eq!(checked, 9);
}

#[test]
fn a_walk_and_a_run_of_one_trackway() {
    // Day et al. 2002, Nature 415, 494 (published numbers from memory): h = 1.93 m, strides 2.7 m and 5.65 m.
    let walk = Motion::of(2.7, 1.93).unwrap();
    let run = Motion::of(5.65, 1.93).unwrap();
    assert_eq!((walk.gait, run.gait), (GaitClass::Walk, GaitClass::Run));
    assert_eq!(run.speed_formula, SpeedFormula::Running);
    assert!(
        (run.speed_m_s * 3.6 - 29.2).abs() < 0.05,
        "{}",
        run.speed_m_s * 3.6
    );
    assert!(
        (walk.speed_m_s * 3.6 - 6.8).abs() < 0.07,
        "{}",
        walk.speed_m_s * 3.6
    );
}

#[derive(Deserialize)]
struct Footfall {
    trial: String,
    seq: usize,
    side: String,
    heel_x_m: f64,
    heel_y_m: f64,
    mt2_x_m: f64,
    mt2_y_m: f64,
}

fn walked(trial: &str) -> Vec<Print> {
    (rows::<Footfall>("footfalls.csv").into_iter())
        .filter(|row| row.trial == trial)
        .map(|row| {
            let mut print = Print::new(
                format!("F{}", row.seq).parse().unwrap(),
                row.heel_x_m,
                row.heel_y_m,
                0.26,
            );
            print.side = Some(if row.side == "L" { Side::Left } else { Side::Right });
            let (east, north) = (row.mt2_x_m - row.heel_x_m, row.mt2_y_m - row.heel_y_m);
            print.azimuth_deg = Some(spatial::angle::azimuth_rad(east, north).to_degrees());
            print
        })
        .collect()
}

#[test]
fn footfalls_of_a_walking_adult() {
    let prints = walked("walk1");
    let placed: Vec<Placed> = prints.iter().map(Placed::from).collect();
    let options = Options {
        hip: HipRule::Height(0.946),
        ..Options::default()
    };
    let gait = measure(&placed, &options).unwrap();
    // Strides 1.232, 1.283, 1.328 m, heel to heel, and 1.187 m/s of the pelvis: kinematics.csv, measured.
    let strides: Vec<f64> = gait.steps.iter().filter_map(|step| step.stride_m).collect();
    assert_eq!(strides.len(), 3);
    for (stride, published) in strides.iter().zip([1.232, 1.283, 1.328]) {
        assert!((stride - published).abs() < 0.001, "{stride} {published}");
    }
    // From coordinates and from three taped sides alike.
    let (pace_1, pace_2) = (gait.steps[1].pace_m.unwrap(), gait.steps[2].pace_m.unwrap());
    let taped = pace_angulation_deg(pace_1, pace_2, strides[0]).unwrap();
    assert!((gait.steps[1].pace_angulation_deg.unwrap() - taped).abs() < 1e-6);
    let width = pattern_width_m(pace_1, pace_2, strides[0]).unwrap();
    assert!((gait.steps[1].gauge_m.unwrap() - width).abs() < 1e-9);
    // A person walks narrowly and nearly straight, and toes out a little.
    assert!(gait.row.pace_angulation_deg.mean.unwrap() > 155.0);
    assert!((0.02..0.2).contains(&gait.row.gauge_m.mean.unwrap()));
    assert!((-5.0..20.0).contains(&gait.row.foot_rotation_deg.mean.unwrap()));
    assert_eq!(
        (gait.gait, gait.row.missing_n, gait.doubts.len()),
        (Some(GaitClass::Walk), 0, 0)
    );
    let heading = gait.heading_deg.unwrap();
    assert!((heading - 90.0).abs() < 5.0, "along x: {heading}");
}

#[derive(Deserialize)]
struct Transformed {
    case: String,
    x_m: f64,
    y_m: f64,
    easting_m: f64,
    northing_m: f64,
}

#[test]
fn similarity_as_published() {
    let similarity = Similarity {
        east_shift_m: -129.549,
        north_shift_m: -208.185,
        scale: 1.000_001_550_4,
        rotation_deg: 1.565_04 / 3600.0,
    };
    for row in rows::<Transformed>("similarity_published.csv") {
        let [easting, northing] = similarity.forward([row.x_m, row.y_m]);
        let off = (easting - row.easting_m).hypot(northing - row.northing_m);
        assert!(off < 0.001, "{}: {off}", row.case);
        let [x, y] = similarity.inverse([easting, northing]);
        assert!((x - row.x_m).hypot(y - row.y_m) < 1e-6, "{}", row.case);
    }
}

#[derive(Deserialize)]
struct Peg {
    set: u32,
    name: String,
    local_x_m: f64,
    local_y_m: f64,
    easting_m: f64,
    northing_m: f64,
}

#[derive(Deserialize)]
struct Fit {
    set: u32,
    east_shift_m: f64,
    north_shift_m: f64,
    scale: f64,
    rotation_deg: f64,
    rms_m: f64,
}

#[test]
fn similarity_as_by_numpy() {
    let pegs = rows::<Peg>("similarity_points.csv");
    for fit in rows::<Fit>("similarity_numpy.csv") {
        let points: Vec<ControlPoint> = (pegs.iter())
            .filter(|peg| peg.set == fit.set)
            .map(|peg| ControlPoint {
                name: peg.name.clone(),
                local_x_m: peg.local_x_m,
                local_y_m: peg.local_y_m,
                easting_m: peg.easting_m,
                northing_m: peg.northing_m,
            })
            .collect();
        let tie = Tie::fit(&points, 1.0).unwrap();
        let found = tie.similarity;
        assert!((found.scale - fit.scale).abs() < 1e-10, "set {}", fit.set);
        assert!(
            (found.rotation_deg - fit.rotation_deg).abs() < 1e-8,
            "set {}",
            fit.set
        );
        assert!(
            (found.east_shift_m - fit.east_shift_m).abs() < 1e-7,
            "set {}",
            fit.set
        );
        assert!(
            (found.north_shift_m - fit.north_shift_m).abs() < 1e-7,
            "set {}",
            fit.set
        );
        assert!(
            (tie.rms_m - fit.rms_m).abs() < 1e-7,
            "set {}: {} {}",
            fit.set,
            tie.rms_m,
            fit.rms_m
        );
    }
}

#[derive(Deserialize)]
struct Field {
    year: f64,
    alt_km: f64,
    lat: f64,
    lon: f64,
    #[serde(rename = "D_published")]
    declination_deg: f64,
}

#[test]
fn declination_as_published() {
    for row in rows::<Field>("wmm2025.csv") {
        // The middle of 2027 is noon of its 183rd day; the model takes whole days.
        let day = if row.year == 2025.0 {
            date(2025, 1, 1)
        } else {
            date(2027, 7, 2)
        };
        let place = LonLat {
            lon_deg: row.lon,
            lat_deg: row.lat,
        };
        let found = Declination::at(place, row.alt_km * 1000.0, day)
            .unwrap()
            .declination_deg;
        // As printed, to the second decimal.
        assert!(
            (found - row.declination_deg).abs() <= 0.005_5,
            "{} {}: {found}",
            row.lat,
            row.year
        );
    }
}
