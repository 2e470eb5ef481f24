//! Single directions, as dots outside the rim: equal and near ones are stacked outwards.

use super::compass::{apart_deg, place};
use super::frame::Sizes;
use crate::ink::Path;

/// Dots of all roses of a figure, under one measure.
#[derive(Debug)]
pub(super) struct Dots {
    across: f64,
    /// From one dot of a stack to the next.
    pitch: f64,
    /// The height that the highest stack needs.
    pub(super) band: f64,
    roses: Vec<Vec<Dot>>,
}

/// An azimuth, and how many dots it stands above.
type Dot = (f64, usize);

impl Dots {
    /// Stacks the azimuths of each rose. A stack that would grow too high is pressed together until its
    /// dots merge. A rose of too many directions gets no dots, nor does any where roses are small.
    pub(super) fn of(roses: &[Vec<f64>], sizes: &Sizes) -> Option<Self> {
        let dots = sizes.dots.as_ref()?;
        // Dots stand farther out than this, so they never overlap sideways.
        let nearest = sizes.rim(dots.room) + sizes.mean_band;
        let apart = (dots.across / nearest).to_degrees();
        let stacked = |azimuths_deg: &Vec<f64>| match azimuths_deg.len() {
            n if n <= dots.most => stack(azimuths_deg, apart),
            _ => Vec::new(),
        };
        let roses: Vec<Vec<Dot>> = roses.iter().map(stacked).collect();
        let highest = roses.iter().flatten().map(|(_, below)| *below).max()?;
        let pitch = (1.1 * dots.across).min((dots.room - dots.across) / highest.max(1) as f64);
        Some(Self {
            across: dots.across,
            pitch,
            band: dots.across + pitch * highest as f64,
            roses,
        })
    }

    /// The dots of a rose, from a radius outwards.
    pub(super) fn draw(&self, rose: usize, from: f64) -> String {
        let mut path = Path::default();
        for (azimuth_deg, below) in &self.roses[rose] {
            let radius = from + 0.5 * self.across + self.pitch * *below as f64;
            dot(&mut path, place(*azimuth_deg, radius));
        }
        self.ink(&path)
    }

    /// Some dots about a middle, for the key.
    pub(super) fn sample(&self) -> String {
        let mut path = Path::default();
        for [x, y] in [[-1.0, 0.5], [0.2, 0.5], [0.2, -0.6], [1.4, 0.5]] {
            dot(&mut path, [x * 1.1 * self.across, y * 1.1 * self.across]);
        }
        self.ink(&path)
    }

    fn ink(&self, path: &Path) -> String {
        if path.is_empty() {
            return String::new();
        }
        format!(
            "<path d=\"{path}\" fill=\"none\" stroke=\"#23201c\" stroke-width=\"{}\" stroke-linecap=\"round\"/>",
            self.across
        )
    }
}

fn dot(path: &mut Path, at: [f64; 2]) {
    path.move_to(at);
    // Some programs draw no cap on a line of no length.
    path.line_to([at[0] + 0.01, at[1]]);
}

/// Puts each azimuth on the lowest place where it is far enough from its neighbours.
fn stack(azimuths_deg: &[f64], apart: f64) -> Vec<Dot> {
    let mut sorted = azimuths_deg.to_vec();
    sorted.sort_unstable_by(f64::total_cmp);
    // The first and the last dot of each storey; the first is the last one's neighbour across north.
    let mut storeys: Vec<[f64; 2]> = Vec::new();
    let mut dots = Vec::with_capacity(sorted.len());
    for azimuth_deg in sorted {
        let free = |ends: &[f64; 2]| ends.iter().all(|end| apart_deg(*end, azimuth_deg) >= apart);
        let below = storeys.iter().position(free).unwrap_or(storeys.len());
        match storeys.get_mut(below) {
            Some(ends) => ends[1] = azimuth_deg,
            None => storeys.push([azimuth_deg; 2]),
        }
        dots.push((azimuth_deg, below));
    }
    dots
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn near_directions_are_stacked_also_across_north() {
        let below = |azimuths: &[f64]| {
            stack(azimuths, 2.0)
                .into_iter()
                .map(|dot| dot.1)
                .collect::<Vec<_>>()
        };
        assert_eq!(below(&[10.0, 20.0, 30.0]), [0, 0, 0]);
        assert_eq!(below(&[10.0, 10.0, 10.0, 11.0, 12.5]), [0, 1, 2, 3, 0]);
        assert_eq!(below(&[359.5, 0.5]), [0, 1], "one degree apart across north");
        assert!(below(&[]).is_empty());
    }

    #[test]
    fn high_stacks_stay_within_their_room() {
        let sizes = Sizes::of(1);
        let room = sizes.dots.as_ref().unwrap().room;
        for n in [1, 2, 5, 15, 200] {
            let dots = Dots::of(&[vec![77.0; n]], sizes).unwrap();
            assert!(dots.band <= room + 1e-9, "{n}: {dots:?}");
            assert_eq!(dots.roses[0].len(), n);
        }
        assert!(Dots::of(&[vec![77.0; 201]], sizes).is_none());
        assert!(Dots::of(&[vec![]], sizes).is_none());
        assert!(Dots::of(&vec![vec![1.0]; 7], Sizes::of(7)).is_none());
    }
}
