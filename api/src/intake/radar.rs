//! The depth of a subsurface anomaly, from the time of its radar pulse.
//!
//! The columns stay with the record as they came: who doubts the velocity can put in another.

use super::cell::Measure;
use spatial::model::Record;
use spatial::radar::{depth_m, velocity_m_ns};
use std::sync::Arc;

/// The time of a pulse to the anomaly and back.
const TIME: &str = "two_way_time_ns";
/// Its velocity in the ground.
const VELOCITY: &str = "velocity_m_ns";
/// The relative permittivity of the ground, in place of a velocity.
const PERMITTIVITY: &str = "relative_permittivity";

const TIME_NS: Measure = Measure::new(0.0, false, 1e5, "nanoseconds, more than 0 and at most 100,000");
const VELOCITY_M_NS: Measure = Measure::new(
    0.0,
    false,
    0.3,
    "metres in a nanosecond, more than 0 and at most 0.3",
);
const RELATIVE: Measure = Measure::new(1.0, true, 100.0, "a relative permittivity from 1 to 100");

/// A column, its value, and what was expected.
pub(super) type Wrong = (&'static str, String, String);

/// The depth that a row's radar columns give; `None` where it has none of them, or a depth already.
///
/// # Formula
/// d = v t / 2, v = c / √ε.
///
/// # Errors
/// A time without a velocity, two velocities, a value that is none, or radar columns of what is no anomaly.
pub(super) fn depth(
    record: Option<Record>,
    given_m: Option<f64>,
    further: &[(Arc<str>, String)],
) -> Result<Option<f64>, Wrong> {
    let text = |name: &str| {
        let found = further.iter().find(|(column, _)| **column == *name);
        found.map(|(_, text)| text.trim()).filter(|text| !text.is_empty())
    };
    let Some(time) = text(TIME) else { return Ok(None) };
    if record != Some(Record::Anomaly) {
        let expected =
            "no radar time, or `anomaly` as the record: a pulse comes back from what lies below the ground";
        return Err((TIME, time.to_owned(), expected.to_owned()));
    }
    let read = |column: &'static str, measure: Measure, text: &str| {
        measure
            .read(text)
            .map_err(|expected| (column, text.to_owned(), expected))
    };
    let time_ns = read(TIME, TIME_NS, time)?;
    let velocity = match (text(VELOCITY), text(PERMITTIVITY)) {
        (Some(velocity), None) => read(VELOCITY, VELOCITY_M_NS, velocity)?,
        (None, Some(permittivity)) => velocity_m_ns(read(PERMITTIVITY, RELATIVE, permittivity)?),
        (Some(_), Some(permittivity)) => {
            let expected = "nothing where there is a velocity: each tells how fast the pulse ran";
            return Err((PERMITTIVITY, permittivity.to_owned(), expected.to_owned()));
        }
        (None, None) if given_m.is_some() => return Ok(None),
        (None, None) => {
            let expected =
                "a velocity, or a relative_permittivity, to turn the time into a depth (or depth_m itself)";
            return Err((VELOCITY, String::new(), expected.to_owned()));
        }
    };
    Ok(given_m.is_none().then(|| depth_m(velocity, time_ns)))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of(
        record: Option<Record>,
        given_m: Option<f64>,
        columns: &[(&str, &str)],
    ) -> Result<Option<f64>, Wrong> {
        let further: Vec<(Arc<str>, String)> = columns
            .iter()
            .map(|(name, text)| (Arc::from(*name), (*text).to_owned()))
            .collect();
        depth(record, given_m, &further)
    }

    #[test]
    fn time_and_velocity_give_a_depth() {
        let anomaly = Some(Record::Anomaly);
        // By hand: 0.1 m/ns for 20 ns there and back is a metre.
        let found = of(anomaly, None, &[(TIME, "20"), (VELOCITY, "0.1")])
            .unwrap()
            .unwrap();
        assert!((found - 1.0).abs() < 1e-12);
        // Permittivity 9: c / 3.
        let found = of(anomaly, None, &[(TIME, "20"), (PERMITTIVITY, "9")])
            .unwrap()
            .unwrap();
        assert!((found - 0.999_308).abs() < 1e-6, "{found}");
        assert_eq!(
            of(anomaly, Some(0.7), &[(TIME, "20"), (VELOCITY, "0.1")]),
            Ok(None)
        );
        assert_eq!(of(anomaly, Some(0.7), &[(TIME, "20")]), Ok(None));
        assert_eq!(of(anomaly, None, &[("weather", "fair")]), Ok(None));
    }

    #[test]
    fn what_does_not_fit_is_named() {
        let anomaly = Some(Record::Anomaly);
        for (record, columns, column) in [
            (anomaly, &[(TIME, "20")][..], VELOCITY),
            (
                anomaly,
                &[(TIME, "20"), (VELOCITY, "0.1"), (PERMITTIVITY, "9")],
                PERMITTIVITY,
            ),
            (anomaly, &[(TIME, "-1"), (VELOCITY, "0.1")], TIME),
            (anomaly, &[(TIME, "20"), (VELOCITY, "3")], VELOCITY),
            (anomaly, &[(TIME, "20"), (PERMITTIVITY, "0.5")], PERMITTIVITY),
            (anomaly, &[(TIME, "NaN"), (PERMITTIVITY, "9")], TIME),
            (Some(Record::Print), &[(TIME, "20"), (VELOCITY, "0.1")], TIME),
            (None, &[(TIME, "20"), (VELOCITY, "0.1")], TIME),
        ] {
            assert_eq!(of(record, None, columns).unwrap_err().0, column, "{columns:?}");
        }
    }
}
