//! The rose of the directions.

use super::sampled::Sample;
use super::summed::Summed;
use super::{Input, Unit};
use crate::rose::{Group, Rose, default_bin_deg};
use serde_json::json;

/// The rose of the whole, or of each group beside the others.
pub(super) fn rose(input: &Input, sample: &Sample, summed: &[Summed], caution: &str) -> Rose {
    let (whole, groups) = summed
        .split_first()
        .map_or((None, summed), |(whole, groups)| (Some(whole), groups));
    let drawn: Vec<&Summed> = if groups.is_empty() {
        whole.into_iter().collect()
    } else {
        groups.iter().collect()
    };
    let largest = drawn
        .iter()
        .map(|group| group.azimuths_deg.len())
        .max()
        .unwrap_or(0);
    let n = whole.map_or(0, |whole| whole.azimuths_deg.len());
    let is_list = !input.azimuths_deg.is_empty();
    let counted = match input.by {
        _ if is_list => "azimuths",
        Unit::Trackway => "trackways",
        Unit::Print => "prints",
    };
    let north = if is_list { "" } else { input.north.told() };
    let restored = if sample.restored {
        ", beds turned back to the horizontal"
    } else {
        ""
    };
    Rose {
        title: format!("Headings of {}", sample.of),
        below_title: match (n, north) {
            (1, "") => "1 azimuth".to_owned(),
            (n, "") => format!("{n} {counted}"),
            (1, north) => format!("1 {}, {north}{restored}", counted.trim_end_matches('s')),
            (n, north) => format!("{n} {counted}, {north}{restored}"),
        },
        north,
        axial: input.axial,
        counted,
        named_deg: input.named_azimuth_deg,
        bin_deg: input
            .sector_deg
            .unwrap_or_else(|| default_bin_deg(largest, input.axial)),
        groups: drawn.into_iter().map(group).collect(),
        caution: caution.to_owned(),
    }
}

fn group(summed: &Summed) -> Group {
    let (mean_deg, mean_ci_deg) = summed.mean_deg();
    let shape = json!(summed.judgement.shape)
        .as_str()
        .unwrap_or_default()
        .to_owned();
    let mut told = vec![format!("n = {}", summed.azimuths_deg.len())];
    if let Some(r_bar) = summed.report.summary.r_bar {
        told.push(match mean_deg {
            Some(mean_deg) => format!("mean {mean_deg:.0}°, R̄ = {r_bar:.2}"),
            None => format!("R̄ = {r_bar:.2}"),
        });
    }
    if let Some(p) = summed.report.rayleigh.p() {
        told.push(if p < 0.001 {
            "Rayleigh p < 0.001".to_owned()
        } else {
            format!("Rayleigh p = {p:.3}")
        });
    }
    if summed.mean_is_withheld() {
        told.push(format!("no single mean: {shape}"));
    } else if !summed.judgement.mean_makes_sense {
        told.push("too little to tell its shape".to_owned());
    }
    Group {
        name: summed.name.unwrap_or_default().to_owned(),
        azimuths_deg: summed.azimuths_deg.clone(),
        mean_deg,
        mean_ci_deg,
        shape,
        told,
    }
}
