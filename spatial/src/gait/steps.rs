//! The step-by-step table.

use super::load::Load;
use super::missing::GapBasis;
use super::row::Row;
use super::speed::{GaitClass, Motion};
use crate::angle::fold_deg;
use crate::model::{Label, Limb, Side};
use serde::Serialize;

/// One print of the table, with the pace and stride that end at it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Step {
    /// The print.
    pub print: Label,
    /// Hind or fore; unknown counts as pes.
    pub limb: Limb,
    /// Left or right.
    pub side: Option<Side>,
    /// How many prints are missing between it and the print before of its row; `None` for the first.
    pub missing_before: Option<u32>,
    /// What tells that.
    pub missing_basis: Option<GapBasis>,
    /// The pace that ends at this print.
    pub pace_m: Option<f64>,
    /// The stride that ends at this print.
    pub stride_m: Option<f64>,
    /// The angle at this print between its two paces.
    pub pace_angulation_deg: Option<f64>,
    /// How far this print lies off the line between its neighbours.
    pub gauge_m: Option<f64>,
    /// The direction of travel here, degrees from the north of the positions' frame.
    pub travel_deg: Option<f64>,
    /// The foot's axis against it, outward positive.
    pub foot_rotation_deg: Option<f64>,
    /// Stride over hip height.
    pub relative_stride: Option<f64>,
    /// Walk, trot or run, by this stride.
    pub gait: Option<GaitClass>,
    /// Speed by this stride.
    pub speed_m_s: Option<f64>,
    /// Where the load lay, if depths were sampled.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub load: Option<Load>,
}

impl Step {
    pub(super) fn of(row: &Row, no: usize, hip_height_m: Option<f64>) -> Self {
        let placed = row.prints[no];
        let stride_m = row.stride_m(no);
        let motion = stride_m
            .zip(hip_height_m)
            .and_then(|(stride, hip)| Motion::of(stride, hip));
        let gap = no.checked_sub(1).map(|before| row.gaps[before]);
        let travel_deg = row.travel_rad(no).map(|travel| fold_deg(travel.to_degrees()));
        let remarks = placed.print.remarks.as_ref();
        Self {
            print: placed.print.label.clone(),
            limb: row.limb,
            side: row.side(no),
            missing_before: gap.map(|gap| gap.missing),
            missing_basis: gap.and_then(|gap| gap.basis),
            pace_m: row.pace_m(no),
            stride_m,
            pace_angulation_deg: row.pace_angulation_rad(no).map(f64::to_degrees),
            gauge_m: row.gauge_m(no),
            travel_deg,
            foot_rotation_deg: row.foot_rotation_rad(no).map(f64::to_degrees),
            relative_stride: motion.map(|motion| motion.relative_stride),
            gait: motion.map(|motion| motion.gait),
            speed_m_s: motion.map(|motion| motion.speed_m_s),
            load: remarks
                .and_then(|remarks| Load::of(&remarks.depth_samples, placed.azimuth_deg, travel_deg)),
        }
    }
}
