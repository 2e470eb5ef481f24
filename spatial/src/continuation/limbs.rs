//! Which prints of a trackway are pes and which manus, where nobody said.

use super::track::length_m;
use crate::index::{PrintNo, SurfaceIndex};
use crate::model::Limb;

/// Two sizes of one trackway are two limbs where the smaller is less than this part of the larger. Common practice: a manus has half to
/// three quarters of its pes' length.
const TELLS_APART: f64 = 0.8;
/// The largest scatter of ln length about either size.
const SCATTER: f64 = 0.16;

/// The limb of each print: as recorded, else by its length, else pes, since bipeds are mostly recorded without.
pub(super) fn limbs(index: &SurfaceIndex, prints: &[PrintNo]) -> Vec<Limb> {
    let sizes: Vec<f64> = prints.iter().map(|no| length_m(index.print(*no)).ln()).collect();
    let recorded = |no: &PrintNo| index.print(*no).limb;
    let mean_of = |limb: Limb| {
        let of_limb = prints
            .iter()
            .zip(&sizes)
            .filter(|(no, _)| recorded(no) == Some(limb));
        mean(of_limb.map(|(_, size)| *size))
    };
    let (pes, manus) = (mean_of(Limb::Pes), mean_of(Limb::Manus));
    let middles = match (pes, manus) {
        (Some(pes), Some(manus)) => Some((pes, manus)),
        _ if prints.len() >= 4 => two_sizes(&sizes),
        _ => None,
    };
    // Where all recorded prints are manus prints, what nobody named is of the same limb unless it is larger.
    let alone = if manus.is_some() && pes.is_none() {
        Limb::Manus
    } else {
        Limb::Pes
    };
    let by_size = |size: f64| match middles {
        Some((pes, manus)) if pes - manus > -TELLS_APART.ln() => {
            if size < (pes + manus) / 2.0 {
                Limb::Manus
            } else {
                Limb::Pes
            }
        }
        _ => alone,
    };
    (prints.iter().zip(&sizes))
        .map(|(no, size)| recorded(no).unwrap_or_else(|| by_size(*size)))
        .collect()
}

fn mean(values: impl Iterator<Item = f64>) -> Option<f64> {
    let (count, sum) = values.fold((0.0, 0.0), |(count, sum), value| (count + 1.0, sum + value));
    (count > 0.0).then(|| sum / count)
}

/// The larger and the smaller of two sizes, where there are clearly two: the cut with the least scatter within.
fn two_sizes(sizes: &[f64]) -> Option<(f64, f64)> {
    let mut sorted = sizes.to_vec();
    sorted.sort_unstable_by(f64::total_cmp);
    let scatter = |part: &[f64]| {
        let middle = part.iter().sum::<f64>() / part.len() as f64;
        part.iter().map(|size| (size - middle).powi(2)).sum::<f64>()
    };
    let within = |cut: usize| scatter(&sorted[..cut]) + scatter(&sorted[cut..]);
    let cut = (2..sorted.len().saturating_sub(1)).min_by(|a, b| within(*a).total_cmp(&within(*b)))?;
    let (small, large) = (
        mean(sorted[..cut].iter().copied())?,
        mean(sorted[cut..].iter().copied())?,
    );
    let sd = (within(cut) / (sorted.len() - 2) as f64).sqrt();
    (sd < SCATTER && large - small > 2.2 * sd).then_some((large, small))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn two_sizes_are_seen_only_where_there_are_two() {
        let ln = |lengths: &[f64]| lengths.iter().map(|length| length.ln()).collect::<Vec<f64>>();
        let (large, small) = two_sizes(&ln(&[0.5, 0.27, 0.52, 0.25, 0.49, 0.26])).unwrap();
        assert!(large.exp() > 0.48 && small.exp() < 0.28);
        let one = two_sizes(&ln(&[0.5, 0.48, 0.52, 0.47, 0.53, 0.5]));
        assert!(one.is_none_or(|(large, small)| large - small < -TELLS_APART.ln()));
    }
}
