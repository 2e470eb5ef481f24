//! Prints where they are measured: on the ground, from the north that is asked for, and turned back to the
//! horizontal where that is asked for.

use super::world::factors_at;
use super::{North, Refusal};
use crate::crs::Crs;
use serde::Serialize;
use spatial::frame::tilt::Tilt;
use spatial::frame::{Factors, LonLat};
use spatial::gait::Placed;
use spatial::index::{PrintNo, SurfaceIndex};

/// How prints of one surface are laid out.
pub(super) struct Laying<'a> {
    index: &'a SurfaceIndex,
    north: North,
    tilt: Option<Tilt>,
}

/// Prints laid out together. Positions are ground metres from the first of them.
pub(super) struct Laid<'a> {
    /// The prints in the frame of measuring.
    pub placed: Vec<Placed<'a>>,
    /// How the bed was turned back, where it was.
    pub restored: Option<Restored>,
}

/// What turning a bed back to the horizontal rested on.
#[derive(Debug, Serialize)]
pub(super) struct Restored {
    strike_deg: Option<f64>,
    dip_deg: Option<f64>,
    /// How many prints had no elevation and were taken to lie in the plane.
    without_elevation: usize,
    /// How far the elevations lie off the plane, root mean square.
    off_plane_rms_m: Option<f64>,
}

/// Said wherever a bed was turned back.
pub(super) const RESTORED_CAUTION: &str = "The bed was turned back about one strike and dip: a fold, a fault or a plunge between its \
    prints is not undone, and a slope that the animals already walked on is taken for tilt.";

impl<'a> Laying<'a> {
    /// The laying out of a surface's prints.
    ///
    /// # Errors
    /// When it is to be restored and its strike and dip are unknown or make no sense.
    pub fn of(index: &'a SurfaceIndex, north: North, restore: bool) -> Result<Self, Refusal> {
        let tilt = restore.then(|| tilt(index)).transpose()?;
        Ok(Self { index, north, tilt })
    }

    /// Lays out rows of prints, each row in a frame of its own.
    ///
    /// Convergence and scale are those of each print's own place; over a row their mean turns and scales the
    /// positions, since a frame has one north.
    ///
    /// # Errors
    /// When PROJ knows no scale there.
    pub fn rows(&self, rows: &[Vec<PrintNo>]) -> Result<Vec<Laid<'a>>, Refusal> {
        let places: Vec<LonLat> = rows.iter().flatten().map(|no| self.index.place(*no)).collect();
        let factors = factors_at(&*Crs::for_site(self.index.crs())?, &places)?;
        let mut factors = &factors[..];
        let laid = rows.iter().map(|row| {
            let (own, rest) = factors.split_at(row.len());
            factors = rest;
            self.row(row, own)
        });
        Ok(laid.collect())
    }

    /// The azimuths of all prints that have one, from the north that is asked for.
    ///
    /// # Units
    /// Degrees.
    ///
    /// # Errors
    /// When PROJ knows no convergence there.
    pub fn azimuths(&self, prints: &[PrintNo]) -> Result<Vec<(PrintNo, f64)>, Refusal> {
        let known = |no: &PrintNo| Some((*no, self.index.print(*no).azimuth_deg?));
        let known: Vec<(PrintNo, f64)> = prints.iter().filter_map(known).collect();
        let places: Vec<LonLat> = known.iter().map(|(no, _)| self.index.place(*no)).collect();
        let factors = factors_at(&*Crs::for_site(self.index.crs())?, &places)?;
        let turned = known.into_iter().zip(factors);
        Ok(turned
            .map(|((no, azimuth_deg), factors)| (no, self.turned(azimuth_deg, factors)))
            .collect())
    }

    fn row(&self, prints: &[PrintNo], factors: &[Factors]) -> Laid<'a> {
        let frame = mean(factors);
        let prints: Vec<_> = prints.iter().map(|no| self.index.print(*no)).collect();
        let origin = prints
            .first()
            .map_or([0.0; 2], |first| [first.easting_m, first.northing_m]);
        let on_ground: Vec<_> = (prints.iter())
            .map(|print| {
                let [east, north] = [print.easting_m - origin[0], print.northing_m - origin[1]];
                ([frame.ground_m(east), frame.ground_m(north)], print.elevation_m)
            })
            .collect();
        let (flat, restored) = self.flattened(&on_ground);
        let (sine, cosine) = self.north.to_grid_deg(frame).to_radians().sin_cos();
        let placed = prints.into_iter().zip(flat).zip(factors);
        Laid {
            placed: placed
                .map(|((print, [east, north]), own)| Placed {
                    print,
                    position_m: [east * cosine + north * sine, north * cosine - east * sine],
                    azimuth_deg: print
                        .azimuth_deg
                        .map(|azimuth_deg| self.turned(azimuth_deg, *own)),
                    missing_before: None,
                })
                .collect(),
            restored,
        }
    }

    fn flattened(&self, on_ground: &[([f64; 2], Option<f64>)]) -> (Vec<[f64; 2]>, Option<Restored>) {
        let Some(tilt) = &self.tilt else {
            return (on_ground.iter().map(|(at, _)| *at).collect(), None);
        };
        let flat = tilt.restore(on_ground);
        let surface = self.index.surface();
        let told = Restored {
            strike_deg: surface.strike_deg,
            dip_deg: surface.dip_deg,
            without_elevation: flat.without_elevation,
            off_plane_rms_m: flat.off_plane_rms_m,
        };
        (flat.positions_m, Some(told))
    }

    fn turned(&self, grid_deg: f64, factors: Factors) -> f64 {
        let flat_deg = self
            .tilt
            .as_ref()
            .map_or(grid_deg, |tilt| tilt.restore_azimuth_deg(grid_deg));
        self.north.from_grid(flat_deg, factors)
    }
}

fn tilt(index: &SurfaceIndex) -> Result<Tilt, Refusal> {
    let (surface, id) = (index.surface(), index.id());
    let (Some(strike_deg), Some(dip_deg)) = (surface.strike_deg, surface.dip_deg) else {
        return Err(Refusal::Unfit(format!(
            "Surface {id} cannot be restored, because its strike and dip are not recorded. Give them with \
             `stridebed surface set {id} --strike-deg … --dip-deg …`, or ask without restore."
        )));
    };
    Tilt::new(strike_deg, dip_deg).map_err(|fault| Refusal::Unfit(format!("Surface {id}: {fault}.")))
}

/// The mean of what a projection does at several places; nothing where there are none.
fn mean(factors: &[Factors]) -> Factors {
    let over = |part: fn(&Factors) -> f64| factors.iter().map(part).sum::<f64>() / factors.len() as f64;
    if factors.is_empty() {
        return Factors {
            convergence_deg: 0.0,
            scale: 1.0,
        };
    }
    Factors {
        convergence_deg: over(|one| one.convergence_deg),
        scale: over(|one| one.scale),
    }
}
