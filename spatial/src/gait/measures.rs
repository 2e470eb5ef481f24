//! The measures of one row, summed up.

use super::row::Row;
use super::summary::Summary;
use crate::angle::{mean_direction_rad, turn_rad};
use crate::model::Limb;
use serde::ser::{Serialize, SerializeMap, Serializer};
use std::collections::BTreeMap;

/// The measures of the prints of one limb kind.
///
/// Each [`Summary`] is written as three properties: `pace_m`, `pace_m_sd` and `pace_m_n`, and so on. What could
/// not be measured is null, and `not_enough_data` says why.
#[derive(Debug, Clone, PartialEq)]
pub struct RowMeasures {
    /// Hind or fore; prints of unknown limb count as pes.
    pub limb: Limb,
    /// How many prints were measured.
    pub prints_n: usize,
    /// How many more were found missing between them.
    pub missing_n: usize,
    /// Foot length.
    pub foot_length_m: Summary,
    /// Foot width.
    pub foot_width_m: Summary,
    /// From one print to the next of the other side.
    pub pace_m: Summary,
    /// From one print to the next of the same side.
    pub stride_m: Summary,
    /// The angle at a print between its two paces, degrees.
    pub pace_angulation_deg: Summary,
    /// The width of the pace-angulation pattern: how far a print's centre lies off the line between its
    /// neighbours.
    pub gauge_m: Summary,
    /// The gauge less one foot width: between the inner margins; below zero where prints cross the midline. The
    /// foot's own rotation is not allowed for.
    pub gauge_inner_m: Summary,
    /// The gauge and one foot width: between the outer margins.
    pub gauge_outer_m: Summary,
    /// The foot's axis against the direction of travel, degrees, outward positive; mean and spread are
    /// circular.
    pub foot_rotation_deg: Summary,
    /// Measure by measure, why there is none.
    pub not_enough_data: BTreeMap<&'static str, String>,
}

impl RowMeasures {
    pub(super) fn of(row: &Row) -> Self {
        let each = || 0..row.len();
        let sound = |value: &f64| value.is_finite() && *value > 0.0;
        let gauge_m = Summary::of(each().filter_map(|no| row.gauge_m(no)));
        let foot_width_m = Summary::of(row.prints.iter().filter_map(|p| p.print.width_m).filter(sound));
        // With unknown widths the gauge has no margins.
        let margins = |part: f64| {
            foot_width_m
                .mean
                .map(|width| gauge_m.shifted(part * width))
                .unwrap_or_default()
        };
        let mut measures = Self {
            limb: row.limb,
            prints_n: row.len(),
            missing_n: row.gaps.iter().map(|gap| gap.missing as usize).sum(),
            foot_length_m: Summary::of(row.prints.iter().map(|p| p.print.length_m).filter(sound)),
            foot_width_m,
            pace_m: Summary::of(each().filter_map(|no| row.pace_m(no))),
            stride_m: Summary::of(each().filter_map(|no| row.stride_m(no))),
            pace_angulation_deg: Summary::of(
                each()
                    .filter_map(|no| row.pace_angulation_rad(no))
                    .map(f64::to_degrees),
            ),
            gauge_m,
            gauge_inner_m: margins(-1.0),
            gauge_outer_m: margins(1.0),
            foot_rotation_deg: rotation(row),
            not_enough_data: BTreeMap::new(),
        };
        measures.state_what_is_wanting(row);
        measures
    }

    fn state_what_is_wanting(&mut self, row: &Row) {
        let few = |least: usize, otherwise: &str| match row.len() {
            0 => "there is no print".to_owned(),
            1 if least > 1 => "there is only one print".to_owned(),
            n if n < least => format!("there are only {n} prints"),
            _ => otherwise.to_owned(),
        };
        let one_side =
            row.len() > 1 && row.side(0).is_some() && (1..row.len()).all(|no| row.side(no) == row.side(0));
        let no_pace = if one_side {
            "all prints are of one side"
        } else {
            "prints are missing between all prints"
        };
        let no_triangle = if one_side {
            no_pace
        } else {
            "no three prints follow on each other without a gap"
        };
        let wants = [
            (
                "foot_length_m",
                &self.foot_length_m,
                few(1, "no print has a length"),
            ),
            ("pace_m", &self.pace_m, few(2, no_pace)),
            (
                "stride_m",
                &self.stride_m,
                few(3, "no two prints of one foot follow on each other"),
            ),
            (
                "pace_angulation_deg",
                &self.pace_angulation_deg,
                few(3, no_triangle),
            ),
            ("gauge_m", &self.gauge_m, few(3, no_triangle)),
            (
                "foot_rotation_deg",
                &self.foot_rotation_deg,
                few(3, "no print has both an azimuth and a side"),
            ),
        ];
        self.not_enough_data = (wants.into_iter())
            .filter(|(_, summary, _)| summary.n == 0)
            .map(|(name, _, reason)| (name, reason))
            .collect();
    }

    fn summaries(&self) -> [(&'static str, &Summary); 9] {
        [
            ("foot_length_m", &self.foot_length_m),
            ("foot_width_m", &self.foot_width_m),
            ("pace_m", &self.pace_m),
            ("stride_m", &self.stride_m),
            ("pace_angulation_deg", &self.pace_angulation_deg),
            ("gauge_m", &self.gauge_m),
            ("gauge_inner_m", &self.gauge_inner_m),
            ("gauge_outer_m", &self.gauge_outer_m),
            ("foot_rotation_deg", &self.foot_rotation_deg),
        ]
    }
}

/// Feet that point backwards too must not average to a wrong side, so the mean is circular and the spread is
/// about it.
fn rotation(row: &Row) -> Summary {
    let turns: Vec<f64> = (0..row.len())
        .filter_map(|no| row.foot_rotation_rad(no))
        .collect();
    let Some((mean, _)) = mean_direction_rad(turns.iter().copied()) else {
        return Summary::default();
    };
    let about = Summary::of(turns.iter().map(|turn| turn_rad(mean, *turn).to_degrees()));
    Summary {
        mean: Some(turn_rad(0.0, mean).to_degrees()),
        ..about
    }
}

impl Serialize for RowMeasures {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut map = serializer.serialize_map(None)?;
        map.serialize_entry("limb", &self.limb)?;
        map.serialize_entry("prints_n", &self.prints_n)?;
        map.serialize_entry("missing_n", &self.missing_n)?;
        for (name, summary) in self.summaries() {
            map.serialize_entry(name, &summary.mean)?;
            map.serialize_entry(&format!("{name}_sd"), &summary.sd)?;
            map.serialize_entry(&format!("{name}_n"), &summary.n)?;
        }
        map.serialize_entry("not_enough_data", &self.not_enough_data)?;
        map.end()
    }
}
