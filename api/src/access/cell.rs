//! The place that strangers are shown of a generalised site.

/// The side of a cell, metres.
pub const CELL_M: f64 = 10_000.0;

/// The centre of the cell that a place lies in, metres in the site's CRS.
///
/// Cells are the 10 km squares of the CRS's own grid, counted from its origin: they lie where they lie whatever is recorded,
/// so that all places of a cell give the same centre.
#[must_use]
pub fn cell_centre([easting_m, northing_m]: [f64; 2]) -> [f64; 2] {
    [easting_m, northing_m].map(|metres| (metres / CELL_M).floor() * CELL_M + CELL_M / 2.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn all_places_of_a_cell_give_its_centre() {
        for place in [
            [480_000.0, 4_790_000.0],
            [489_999.999, 4_799_999.999],
            [485_000.0, 4_795_000.0],
        ] {
            assert_eq!(cell_centre(place), [485_000.0, 4_795_000.0], "{place:?}");
        }
        assert_eq!(cell_centre([-0.001, -10_000.0]), [-5_000.0, -5_000.0]);
    }
}
