//! Sorting azimuths around the circle.

/// Below this the standard sort is as fast.
const CELLS_FROM: usize = 4096;

/// Directions a cell holds on average.
const PER_CELL: usize = 8;

/// Sorts azimuths, which must lie from 0 to 360 degrees.
///
/// Many azimuths are first dealt into even cells, for most samples fill the circle; each cell is then sorted
/// on its own. If all fall into a few cells, it is the standard sort again.
pub(super) fn sort_around(azimuths_deg: Vec<f64>) -> Vec<f64> {
    let mut azimuths_deg = azimuths_deg;
    if azimuths_deg.len() < CELLS_FROM {
        azimuths_deg.sort_unstable_by(f64::total_cmp);
        return azimuths_deg;
    }
    let cells = azimuths_deg.len() / PER_CELL;
    let scale = cells as f64 / 360.0;
    let cell_of = |azimuth_deg: f64| ((azimuth_deg * scale) as usize).min(cells - 1);
    let mut ends = vec![0; cells + 1];
    for azimuth_deg in &azimuths_deg {
        ends[cell_of(*azimuth_deg) + 1] += 1;
    }
    for cell in 0..cells {
        ends[cell + 1] += ends[cell];
    }
    // The start of each cell moves on as it fills, and so becomes its end.
    let mut sorted_deg = vec![0.0; azimuths_deg.len()];
    for azimuth_deg in azimuths_deg {
        let place = &mut ends[cell_of(azimuth_deg)];
        sorted_deg[*place] = azimuth_deg;
        *place += 1;
    }
    let mut start = 0;
    for end in &ends[..cells] {
        sorted_deg[start..*end].sort_unstable_by(f64::total_cmp);
        start = *end;
    }
    sorted_deg
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cells_give_the_standard_order() {
        let scattered: Vec<f64> = (0..20_000)
            .map(|k| (f64::from(k) * 137.507_764).rem_euclid(360.0))
            .collect();
        let narrow: Vec<f64> = scattered.iter().map(|azimuth| 359.0 + azimuth / 361.0).collect();
        let whole: Vec<f64> = scattered.iter().map(|azimuth| azimuth.floor()).collect();
        for azimuths in [
            scattered,
            narrow,
            whole,
            vec![0.0; 5000],
            vec![359.999_999_999_999_9; 5000],
        ] {
            let mut expected = azimuths.clone();
            expected.sort_unstable_by(f64::total_cmp);
            assert_eq!(sort_around(azimuths), expected);
        }
    }
}
