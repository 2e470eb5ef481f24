//! Evidence of meeting, cell by cell: what all corridors that pass a cell say together.

use super::corridors::{Corridor, between};
use crate::continuation::plane::Vector;
use rayon::prelude::*;
use std::f64::consts::TAU;

/// No raster has more cells than about this many.
const MOST_CELLS: f64 = 2e6;

/// Each corridor's evidence on one grid, so that a shift by whole cells needs no reckoning anew.
///
/// # Formula
/// A corridor that passes at a distance d and has the standard deviation σ there gives a cell
/// ln(N(d; 0, σ² + c²) · W) where that is above zero; c is the cell's side and W the width of ground over which the corridor
/// could lie by chance. Their sum is ln of how much more probable it is that all of them lead to the cell than that each
/// lies anywhere.
#[derive(Debug, Clone)]
pub(super) struct Raster {
    pub cell_m: f64,
    origin: Vector,
    stamps: Vec<Stamp>,
}

/// One corridor's cells, row by row.
#[derive(Debug, Clone)]
struct Stamp {
    rows: Vec<Row>,
    values: Vec<f32>,
    /// First and last column and row.
    bounds: [[i32; 2]; 2],
}

#[derive(Debug, Clone, Copy)]
struct Row {
    column: i32,
    row: i32,
    from: u32,
    count: u32,
}

/// A raster laid out once; kept from one to the next so that its memory is.
#[derive(Debug, Default)]
pub(super) struct Sheet {
    sums: Vec<f32>,
    counts: Vec<u16>,
    low: [i32; 2],
    size: [usize; 2],
}

/// A quarter of the width that corridors have half way, but no more cells than can be looked at.
pub(super) fn cell_m(corridors: &[Corridor]) -> f64 {
    let mut widths: Vec<f64> = (corridors.iter())
        .map(|corridor| corridor.places[corridor.places.len() / 2].sd_across_m)
        .collect();
    widths.sort_unstable_by(f64::total_cmp);
    let middle = widths.get(widths.len() / 2).copied().unwrap_or(1.0);
    let side = |axis: usize| {
        let all = || corridors.iter().flat_map(|corridor| &corridor.places);
        let edge = |sign: f64| {
            let parts = all().map(|at| sign * at.place_m[axis]);
            parts.fold(f64::NEG_INFINITY, f64::max)
        };
        (edge(1.0) + edge(-1.0)).max(1.0)
    };
    let least = (side(0) * side(1) / MOST_CELLS).sqrt();
    (middle / 4.0).clamp(0.05, 5.0).max(least)
}

impl Raster {
    /// `chance_m` is the width of ground over which a corridor could lie.
    pub fn of(corridors: &[Corridor], cell_m: f64, chance_m: f64) -> Self {
        let origin = corridors
            .first()
            .map_or([0.0; 2], |corridor| corridor.places[0].place_m);
        let stamps = (corridors.par_iter())
            .map(|corridor| Stamp::of(corridor, origin, cell_m, chance_m))
            .collect();
        Self {
            cell_m,
            origin,
            stamps,
        }
    }

    /// A shift in whole cells.
    pub fn cells(&self, shift: Vector) -> [i32; 2] {
        shift.map(|part| (part / self.cell_m).round() as i32)
    }

    /// Lays all corridors down, each shifted by whole cells.
    pub fn lay(&self, shifts: &[[i32; 2]], sheet: &mut Sheet) {
        let (mut low, mut high) = ([i32::MAX; 2], [i32::MIN; 2]);
        for (stamp, shift) in self.stamps.iter().zip(shifts) {
            if stamp.rows.is_empty() {
                continue;
            }
            for axis in 0..2 {
                low[axis] = low[axis].min(stamp.bounds[0][axis] + shift[axis]);
                high[axis] = high[axis].max(stamp.bounds[1][axis] + shift[axis]);
            }
        }
        sheet.clear(low, high);
        for (stamp, shift) in self.stamps.iter().zip(shifts) {
            for row in &stamp.rows {
                sheet.add(
                    row,
                    *shift,
                    &stamp.values[row.from as usize..(row.from + row.count) as usize],
                );
            }
        }
    }

    /// Where evidence is greater than in the eight cells around, at least two corridors meeting.
    pub fn peaks(&self, sheet: &Sheet, mut found: impl FnMut(f32, [i32; 2])) {
        let [width, height] = sheet.size;
        if width < 3 || height < 3 {
            return;
        }
        for row in 1..height - 1 {
            let counts = &sheet.counts[row * width..(row + 1) * width];
            for (column, count) in counts.iter().enumerate().take(width - 1).skip(1) {
                if *count >= 2 && sheet.is_peak(row * width + column) {
                    let cell = [sheet.low[0] + column as i32, sheet.low[1] + row as i32];
                    found(sheet.sums[row * width + column], cell);
                }
            }
        }
    }

    /// The middle of a cell.
    pub fn middle_m(&self, cell: [i32; 2]) -> Vector {
        [0, 1].map(|axis| self.origin[axis] + (f64::from(cell[axis]) + 0.5) * self.cell_m)
    }
}

impl Sheet {
    /// Makes room for these cells and one more on each side.
    fn clear(&mut self, low: [i32; 2], high: [i32; 2]) {
        self.low = low.map(|edge| edge.saturating_sub(1));
        self.size = [0, 1].map(|axis| {
            let span = i64::from(high[axis]) - i64::from(low[axis]) + 3;
            usize::try_from(span).unwrap_or(0)
        });
        let cells = self.size[0] * self.size[1];
        self.sums.clear();
        self.sums.resize(cells, 0.0);
        self.counts.clear();
        self.counts.resize(cells, 0);
    }

    fn add(&mut self, row: &Row, shift: [i32; 2], values: &[f32]) {
        let column = (row.column + shift[0] - self.low[0]) as usize;
        let line = (row.row + shift[1] - self.low[1]) as usize;
        let from = line * self.size[0] + column;
        let sums = &mut self.sums[from..from + values.len()];
        for (sum, value) in sums.iter_mut().zip(values) {
            *sum += value;
        }
        let counts = &mut self.counts[from..from + values.len()];
        for (count, value) in counts.iter_mut().zip(values) {
            *count = count.saturating_add(u16::from(*value > 0.0));
        }
    }

    /// Of equals the first is taken, so that a plateau counts once.
    fn is_peak(&self, at: usize) -> bool {
        let (own, width) = (self.sums[at], self.size[0]);
        let before = [at - width - 1, at - width, at - width + 1, at - 1];
        let after = [at + 1, at + width - 1, at + width, at + width + 1];
        before.iter().all(|cell| self.sums[*cell] < own) && after.iter().all(|cell| self.sums[*cell] <= own)
    }
}

impl Stamp {
    fn of(corridor: &Corridor, origin: Vector, cell_m: f64, chance_m: f64) -> Self {
        let wide = |sd_m: f64| {
            let sd_m = sd_m.hypot(cell_m);
            let most = (chance_m / (sd_m * TAU.sqrt())).ln();
            (sd_m, most, sd_m * (2.0 * most.max(0.0)).sqrt())
        };
        let cell = |at: f64, axis: usize| ((at - origin[axis]) / cell_m - 0.5).clamp(-1e9, 1e9);
        // The cells that a leg may reach.
        let reached = |leg: &[crate::continuation::Foreseen]| -> [[i32; 2]; 2] {
            let reach = wide(leg[0].sd_across_m).2.max(wide(leg[1].sd_across_m).2);
            let ends = [leg[0].place_m, leg[1].place_m];
            let low = [0, 1].map(|axis| cell(ends[0][axis].min(ends[1][axis]) - reach, axis).ceil() as i32);
            let high = [0, 1].map(|axis| cell(ends[0][axis].max(ends[1][axis]) + reach, axis).floor() as i32);
            [low, high]
        };
        let boxes: Vec<[[i32; 2]; 2]> = corridor.places.windows(2).map(reached).collect();
        let edge = |pick: fn(i32, i32) -> i32, side: usize, axis: usize| {
            boxes
                .iter()
                .map(|of_leg| of_leg[side][axis])
                .reduce(pick)
                .unwrap_or(0)
        };
        let low = [0, 1].map(|axis| edge(i32::min, 0, axis));
        let high = [0, 1].map(|axis| edge(i32::max, 1, axis));
        let width = (high[0] - low[0] + 1).max(0) as usize;
        let height = (high[1] - low[1] + 1).max(0) as usize;
        // For each cell the squared distance of the nearest leg, and the evidence there.
        let mut nearest = vec![(f64::INFINITY, 0.0f32); width * height];
        for (leg, of_leg) in corridor.places.windows(2).zip(&boxes) {
            for row in of_leg[0][1]..=of_leg[1][1] {
                for column in of_leg[0][0]..=of_leg[1][0] {
                    let at = [column, row];
                    let middle = [0, 1].map(|axis| origin[axis] + (f64::from(at[axis]) + 0.5) * cell_m);
                    let (far_2, beside) = between(&leg[0], &leg[1], middle);
                    let known = &mut nearest[(row - low[1]) as usize * width + (column - low[0]) as usize];
                    if far_2 < known.0 {
                        let (sd_m, most, _) = wide(beside.sd_across_m);
                        *known = (far_2, (most - far_2 / (2.0 * sd_m * sd_m)).max(0.0) as f32);
                    }
                }
            }
        }
        Self::packed(&nearest, low, width)
    }

    /// Each row from its first cell of evidence to its last.
    fn packed(nearest: &[(f64, f32)], low: [i32; 2], width: usize) -> Self {
        let (mut rows, mut values) = (Vec::new(), Vec::new());
        let mut bounds = [[i32::MAX; 2], [i32::MIN; 2]];
        for (number, cells) in nearest.chunks(width.max(1)).enumerate() {
            let says = |(_, evidence): &(f64, f32)| *evidence > 0.0;
            let Some((first, last)) = cells.iter().position(says).zip(cells.iter().rposition(says)) else {
                continue;
            };
            let row = Row {
                column: low[0] + first as i32,
                row: low[1] + number as i32,
                from: values.len() as u32,
                count: (last - first + 1) as u32,
            };
            values.extend(cells[first..=last].iter().map(|(_, evidence)| *evidence));
            for (axis, ends) in [[row.column, low[0] + last as i32], [row.row; 2]]
                .into_iter()
                .enumerate()
            {
                bounds[0][axis] = bounds[0][axis].min(ends[0]);
                bounds[1][axis] = bounds[1][axis].max(ends[1]);
            }
            rows.push(row);
        }
        Self { rows, values, bounds }
    }
}
