//! Ground radar against a handbook's table and worked cases; see `fixtures/reference/radar/README.md`.
#![allow(missing_docs, clippy::unwrap_used)] // A test may panic: that is how it fails.

use serde::Deserialize;
use serde::de::DeserializeOwned;
use spatial::radar::{MATERIALS, Resolution, depth_m, velocity_m_ns};

fn reference<T: DeserializeOwned>(file: &str) -> Vec<T> {
    let path = format!(
        "{}/../fixtures/reference/radar/{file}",
        env!("CARGO_MANIFEST_DIR")
    );
    csv::Reader::from_path(path)
        .unwrap()
        .deserialize()
        .map(Result::unwrap)
        .collect()
}

#[derive(Deserialize)]
struct Worked {
    frequency_mhz: f64,
    permittivity: f64,
    velocity_m_ns: f64,
    wavelength_m: f64,
    quarter_m: f64,
    depth_m: f64,
    two_way_time_ns: f64,
    fresnel_m: f64,
}

#[test]
fn worked_cases_come_to_the_printed_digits() {
    let cases = reference::<Worked>("worked.csv");
    assert!(cases.len() >= 50);
    for case in cases {
        let velocity = velocity_m_ns(case.permittivity);
        let pulse = Resolution::of(velocity, case.frequency_mhz, case.depth_m).unwrap();
        for (found, printed) in [
            (velocity, case.velocity_m_ns),
            (pulse.wavelength_m, case.wavelength_m),
            (pulse.vertical_resolution_m, case.quarter_m),
            (pulse.two_way_time_ns, case.two_way_time_ns),
            (pulse.fresnel_radius_m, case.fresnel_m),
            (depth_m(velocity, case.two_way_time_ns), case.depth_m),
        ] {
            assert!(
                (found - printed).abs() < 6e-4 * printed.max(1.0),
                "{found} is not {printed}"
            );
        }
    }
}

#[derive(Deserialize)]
struct Listed {
    material: String,
    permittivity_min: f64,
    permittivity_max: f64,
    velocity_m_ns: f64,
}

#[test]
fn the_table_of_ground_is_the_handbooks() {
    let listed = reference::<Listed>("materials.csv");
    for material in MATERIALS {
        let row = listed.iter().find(|row| row.material == material.name).unwrap();
        assert_eq!(
            material.permittivity,
            [row.permittivity_min, row.permittivity_max]
        );
        // The table rounds velocities to two digits.
        let [fast, slow] = material.permittivity.map(velocity_m_ns);
        assert!(
            (slow - 0.006..=fast + 0.006).contains(&row.velocity_m_ns),
            "{}",
            material.name
        );
    }
}
