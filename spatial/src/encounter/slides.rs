//! Whether two paths keep their spacing better as they lie than where one is slid along the other.

use super::stretch::Stretch;

/// A stretch of fewer places shows nothing.
const FEWEST_PLACES: usize = 24;
/// A stretch of more is thinned out.
const MOST_PLACES: usize = 120;

/// The part of alignments, the true one counted in, in which the spacing varies no more than in the true one; `None` for
/// a stretch that is too short, or whose paths do not bend at all.
///
/// # Formula
/// Both paths' distances from the straight line between the ends of the stretch's middle line; windows of half the
/// stretch; for each slide δ the mean, over all windows i of the one that have a window i + δ of the other, of the
/// variance of the distances' difference about its own straight line; p = (1 + #{δ ≠ 0: v(δ) ≤ v(0)}) / (1 + #{δ ≠ 0}).
///
/// # References
/// This project's own; sliding one series along another is a common test of two series that depend each on their own
/// past (common practice).
pub(super) fn spacing_p(stretch: &Stretch) -> Option<f64> {
    let every = stretch.places.len().div_ceil(MOST_PLACES).max(1);
    let places: Vec<_> = stretch.places.iter().step_by(every).collect();
    let count = places.len();
    if count < FEWEST_PLACES {
        return None;
    }
    let line_m: Vec<[f64; 2]> = stretch.line_m().into_iter().step_by(every).collect();
    let (from, to) = (line_m[0], line_m[count - 1]);
    let (east, north) = (to[0] - from[0], to[1] - from[1]);
    let length_m = east.hypot(north);
    if length_m <= 0.0 {
        return None;
    }
    let off_m = |at: [f64; 2]| ((at[0] - from[0]) * north - (at[1] - from[1]) * east) / length_m;
    let one: Vec<f64> = places.iter().map(|place| off_m(place.at)).collect();
    let other: Vec<f64> = places.iter().map(|place| off_m(place.beside)).collect();
    let window = count / 2;
    let starts = count - window;
    let varies = |slide: isize| {
        let (mut sum, mut windows) = (0.0, 0.0f64);
        for start in 0..=starts {
            let Some(slid) = start.checked_add_signed(slide).filter(|slid| *slid <= starts) else {
                continue;
            };
            sum += about_line(&one[start..start + window], &other[slid..slid + window]);
            windows += 1.0;
        }
        sum / windows
    };
    let seen = varies(0);
    if !(about_line(&one, &vec![0.0; count]) > 1e-12 && seen.is_finite()) {
        return None;
    }
    let most = (starts / 2) as isize;
    let slides = (-most..=most).filter(|slide| *slide != 0);
    let (mut as_even, mut all) = (1.0, 1.0);
    for slide in slides {
        all += 1.0;
        as_even += f64::from(u8::from(varies(slide) <= seen));
    }
    Some(as_even / all)
}

/// The variance of the difference of two series about its own straight line.
fn about_line(one: &[f64], other: &[f64]) -> f64 {
    let count = one.len() as f64;
    let middle = (count - 1.0) / 2.0;
    let (mut sum, mut squares, mut slope) = (0.0, 0.0, 0.0);
    for (at, (a, b)) in one.iter().zip(other).enumerate() {
        let apart = a - b;
        sum += apart;
        squares += apart * apart;
        slope += apart * (at as f64 - middle);
    }
    let places = count * (count * count - 1.0) / 12.0;
    ((squares - sum * sum / count - slope * slope / places) / count).max(0.0)
}
