//! Which way the animals went, how fast, and where one changed its gait.

use super::statement::{Statement, Strength, counted, p_told};
use super::{Input, Walked};
use crate::query::Refusal;
use serde_json::json;
use spatial::circular::{Chance, Directions, Report, judge};
use spatial::gait::{CHANGES_CAUTION, Change, Gait, SPEED_CAUTION};
use spatial::model::Label;
use std::collections::BTreeMap;

/// Said with headings.
const HEADINGS_CAUTION: &str = "Each trackway counts once, whoever made it: animals that walked together are one decision, not \
    many, and a shore or a slope turns all alike.";

/// Draws of the one-sample tests: enough for a sentence; `headings` draws more.
const DRAWS: u32 = 9_999;

/// Whether the trackways prefer a heading.
///
/// # Errors
/// When a heading is no number.
pub(super) fn headings(walked: &Walked, input: &Input) -> Result<Option<Statement>, Refusal> {
    let azimuths: Vec<f64> = walked
        .paths
        .iter()
        .map(|path| walked.azimuth_deg(path.heading_rad()))
        .collect();
    if azimuths.len() < 3 {
        return Ok(None);
    }
    let directions =
        Directions::from_degrees(&azimuths).map_err(|fault| Refusal::Unfit(format!("{fault}.")))?;
    let chance = Chance {
        seed: input.seed,
        draws: DRAWS,
        ..Chance::default()
    };
    let (report, judgement) = (
        Report::new(&directions, None, &chance),
        judge(&directions, &chance),
    );
    let p = report.rayleigh.p();
    let shape = json!(judgement.shape);
    let (north, count) = (input.north.told(), azimuths.len());
    let says = match (judgement.mean_makes_sense, report.summary.mean_deg) {
        (true, Some(mean_deg)) => {
            let within = report.summary.mean_ci_deg.map_or(String::new(), |[low, high]| {
                format!(" (95 % interval {low:.0}° to {high:.0}°)")
            });
            format!("The {count} trackways prefer one heading: {mean_deg:.0}° from {north}{within}.")
        }
        _ => format!(
            "The headings of the {count} trackways are {}: one mean direction makes no sense of them.",
            shape.as_str().unwrap_or("undecided")
        ),
    };
    let strength = match (judgement.mean_makes_sense, p) {
        (true, Some(p)) => Strength::of_p(p),
        _ => Strength::Weak,
    };
    let mut statement = Statement::new("headings", strength, says, HEADINGS_CAUTION);
    statement.p = p;
    Ok(Some(statement.by_query("headings", &input.asked())))
}

/// How fast the animals went, and each change of gait.
pub(super) fn gaits(walked: &Walked, gaits: &[(Label, Gait)], input: &Input) -> Vec<Statement> {
    let mut classes: BTreeMap<&str, Vec<&Label>> = BTreeMap::new();
    let mut fastest: Option<(f64, [f64; 2], &Label)> = None;
    for (label, gait) in gaits {
        if let (Some(class), Some(speed), Some(interval)) =
            (gait.gait, gait.speed_m_s, gait.speed_interval_m_s)
        {
            classes.entry(class.name()).or_default().push(label);
            if fastest.is_none_or(|(most, ..)| speed > most) {
                fastest = Some((speed, interval, label));
            }
        }
    }
    let mut statements = Vec::new();
    if let Some((speed, [low, high], label)) = fastest {
        let measured: usize = classes.values().map(Vec::len).sum();
        let each: Vec<String> = classes
            .iter()
            .map(|(class, labels)| format!("{} at a {class}", labels.len()))
            .collect();
        let says = format!(
            "Of {} with a speed, {}; the fastest is {label} with {speed:.1} m/s (95 % interval {low:.1} to {high:.1}).",
            counted(measured, "trackway", "trackways"),
            each.join(", ")
        );
        let statement = Statement::new("gait", Strength::Moderate, says, SPEED_CAUTION);
        statements.push(
            statement
                .of(vec![walked.id(label)])
                .by_query("gait", &input.asked()),
        );
    }
    for (label, gait) in gaits {
        statements.extend(gait.changes.iter().map(|change| changed(walked, label, change)));
    }
    statements
}

fn changed(walked: &Walked, label: &Label, change: &Change) -> Statement {
    let speeds = match (change.speed_before_m_s, change.speed_after_m_s) {
        (Some(before), Some(after)) => format!(", {before:.1} to {after:.1} m/s"),
        _ => String::new(),
    };
    let turn = if change.stride_after_m > change.stride_before_m {
        "faster"
    } else {
        "slower"
    };
    let says = format!(
        "{label} goes {turn} after print {}: its stride changes from {:.2} to {:.2} m{speeds} ({}).",
        change.at_print,
        change.stride_before_m,
        change.stride_after_m,
        p_told(change.p)
    );
    let place = walked.index.find(&change.at_print).map(|no| {
        let print = walked.index.print(no);
        geo::Point::new(print.easting_m, print.northing_m).into()
    });
    let trackway = walked.id(label);
    let mut statement = Statement::new("gait change", Strength::of_p(change.p), says, CHANGES_CAUTION);
    statement.p = Some(change.p);
    statement
        .at(place)
        .of(vec![trackway.clone()])
        .by_query("gait", &[("trackway", trackway)])
        .by_records("prints", [walked.id(&change.at_print)])
}
