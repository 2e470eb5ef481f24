//! How common foot lengths are on a surface.

const CELL: f64 = 0.05;
const LOWEST: f64 = -7.0;
const CELLS: usize = 200;

/// A smoothed histogram of ln lengths.
#[derive(Debug)]
pub(super) struct Density {
    cells: Vec<f64>,
}

impl Density {
    pub fn of(sample: impl Iterator<Item = f64>) -> Self {
        let mut cells = vec![0.0; CELLS];
        let mut all = 0.0;
        for value in sample {
            let cell = Self::cell(value);
            // A triangle three cells wide to each side: about the error of a length.
            for off in -2i32..=2 {
                let near = cell.saturating_add_signed(off as isize).min(CELLS - 1);
                cells[near] += f64::from(3 - off.abs()) / 9.0;
            }
            all += 1.0;
        }
        // A small even part, so that nothing is ever impossible.
        let even = 1.0;
        for cell in &mut cells {
            *cell = (*cell / CELL + even * 0.1) / (all + even);
        }
        Self { cells }
    }

    fn cell(value: f64) -> usize {
        (((value - LOWEST) / CELL).max(0.0) as usize).min(CELLS - 1)
    }

    pub fn ln_at(&self, value: f64) -> f64 {
        self.cells[Self::cell(value)].ln()
    }
}
