//! `stridebed site tie`.

use super::import::opened;
use super::table::table;
use super::{Desk, Done, for_machines, say};
use crate::intake::{control_points, parse_control_point};
use crate::problem::Problem;
use crate::store::Store;
use clap::Args;
use serde::Serialize;
use serde_json::{Value, json};
use spatial::frame::similarity::{self, ControlPoint, Residual, Similarity, TieFault};
use spatial::model::{LocalGrid, Site, Slug};
use std::path::PathBuf;

#[derive(Args)]
pub(super) struct Tie {
    /// The site
    slug: Slug,
    /// Control points as CSV: name, local_x_m, local_y_m, easting_m, northing_m; - reads the standard input
    #[arg(required_unless_present = "points")]
    file: Option<PathBuf>,
    /// A further control point; may be given several times
    #[arg(long = "point", value_name = "NAME,X,Y,E,N", value_parser = parse_control_point)]
    points: Vec<ControlPoint>,
    /// A control point whose residual is longer than this is refused, metres
    #[arg(long, value_name = "M", default_value_t = 0.05, allow_negative_numbers = true)]
    tolerance_m: f64,
    /// Only tell how well the grid fits; store nothing
    #[arg(long)]
    check: bool,
    /// Store the grid although control points are over the tolerance
    #[arg(long)]
    accept: bool,
    /// Write JSON for machines
    #[arg(long)]
    json: bool,
}

/// What became of a grid that fits.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
enum Outcome {
    Tied,
    Unchanged,
    Checked,
}

impl Outcome {
    fn told(self, Site { slug, revision, .. }: &Site) -> String {
        match self {
            Self::Tied => format!("Tied the local grid of {slug} (revision {revision})."),
            Self::Unchanged => {
                format!("Nothing changed: {slug} has this local grid already (revision {revision}).")
            }
            Self::Checked => "Nothing was stored: this was only a check.".to_owned(),
        }
    }
}

/// A scale farther from 1 is no projection's and no stretched tape's (common practice).
const STRANGE_SCALE: f64 = 0.005;

impl Tie {
    pub(super) fn run(self, desk: &Desk) -> Done {
        for_machines(self.json, self.tie(desk))
    }

    fn tie(&self, desk: &Desk) -> Result<(), Problem> {
        let catalogue = desk.catalogue()?;
        let listing = catalogue.listing()?;
        let site = listing
            .site(&self.slug)
            .ok_or_else(|| Problem::not_found(format!("There is no site {}.", self.slug)))?;
        let sheet = self.file.as_deref().map(opened).transpose()?;
        let control = control_points(site, sheet.map(|(sheet, _)| sheet), &self.points)?;
        let tie = similarity::Tie::fit(&control, self.tolerance_m)
            .map_err(|fault| unfit(&fault, &control, self.tolerance_m))?;
        if !self.json {
            show(&tie);
        }
        if !self.accept && !tie.over_tolerance.is_empty() {
            return Err(over_tolerance(&tie, &control));
        }
        let mut cautions = cautions(&tie);
        let (outcome, stands) = if self.check {
            (Outcome::Checked, Site::clone(site))
        } else {
            self.keep(desk, catalogue.store(), site, tie.local_grid(control))?
        };
        if outcome == Outcome::Tied && site.local_grid.is_some() {
            cautions.push("Prints that came in the former local grid stay where they are: import their sheets again to move them.".to_owned());
        }
        if self.json {
            say(&told_to_machines(&tie, outcome, &stands, &cautions).to_string());
        } else {
            cautions.iter().for_each(|caution| say(caution));
            say(&outcome.told(&stands));
        }
        Ok(())
    }

    /// Stores the grid, unless it stands already; gives the site as it stands then.
    fn keep(
        &self,
        desk: &Desk,
        store: &dyn Store,
        site: &Site,
        grid: LocalGrid,
    ) -> Result<(Outcome, Site), Problem> {
        let tied = Site {
            local_grid: Some(grid),
            ..site.clone()
        };
        let stands = store.change_site(&tied, &desk.change(self.deed()))?;
        let changed = stands.revision != site.revision;
        let outcome = if changed {
            Outcome::Tied
        } else {
            Outcome::Unchanged
        };
        Ok((outcome, stands))
    }

    /// What the history tells of the change.
    fn deed(&self) -> String {
        let mut deed = format!("site tie {}", self.slug);
        if let Some(file) = &self.file {
            deed.push_str(&format!(" {}", file.display()));
        }
        if self.accept {
            deed.push_str(" --accept");
        }
        deed
    }
}

fn show(tie: &similarity::Tie) {
    let mut points = table(["control point", "east (m)", "north (m)", "length (m)", "over"]);
    for residual in &tie.residuals {
        let over = tie.over_tolerance.contains(&residual.name);
        points.add_row([
            residual.name.clone(),
            signed_mm(residual.east_m),
            signed_mm(residual.north_m),
            format!("{:.3}", residual.length_m),
            if over { "over".to_owned() } else { String::new() },
        ]);
    }
    say(&points.to_string());
    described(&tie.similarity).iter().for_each(|line| say(line));
    say(&format!("RMS: {:.3} m", tie.rms_m));
    say(&format!("redundancy: {}", tie.redundancy));
    say(&format!("tolerance: {} m", tie.tolerance_m));
}

/// A length with its sign to the millimetre; what rounds to zero has none.
fn signed_mm(length_m: f64) -> String {
    let mm = (length_m * 1000.0).round();
    if mm == 0.0 {
        "0.000".to_owned()
    } else {
        format!("{:+.3}", mm / 1000.0)
    }
}

/// How a local grid lies, a line for each part.
fn described(similarity: &Similarity) -> [String; 3] {
    let Similarity {
        east_shift_m,
        north_shift_m,
        scale,
        rotation_deg,
    } = similarity;
    let ppm = (scale - 1.0) * 1e6;
    [
        format!("rotation: {rotation_deg:.5}°, the grid azimuth of the local y axis"),
        format!("scale: {scale:.6} ({ppm:+.0} ppm)"),
        format!("shift: {east_shift_m:.3} m east, {north_shift_m:.3} m north, where the local origin lies"),
    ]
}

/// A site's local grid as a person reads it.
pub(super) fn told(grid: &LocalGrid) -> Vec<String> {
    let mut lines = vec![format!(
        "local grid: {} control points, RMS {:.3} m, tolerance {} m",
        grid.control.len(),
        grid.rms_m,
        grid.tolerance_m
    )];
    lines.extend(described(&grid.similarity).map(|line| format!("  {line}")));
    let over: Vec<String> = grid
        .residuals()
        .filter(|residual| residual.length_m > grid.tolerance_m)
        .map(|residual| with_length(&residual))
        .collect();
    if !over.is_empty() {
        lines.push(format!("  accepted over the tolerance: {}", over.join(", ")));
    }
    lines
}

fn with_length(residual: &Residual) -> String {
    format!("{} ({:.3} m)", residual.name, residual.length_m)
}

/// What a grid that fits can hide all the same.
fn cautions(tie: &similarity::Tie) -> Vec<String> {
    let mut cautions = Vec::new();
    if tie.redundancy == 0 {
        cautions.push("Two control points always fit: nothing is checked, neither a blunder nor a mirrored grid. Measure a third.".to_owned());
    } else if tie.mirrored_rms_m <= tie.tolerance_m {
        cautions.push("The control points lie so nearly in one line that a mirrored grid would fit as well: that is not checked. Measure one beside the line.".to_owned());
    }
    let scale = tie.similarity.scale;
    if (scale - 1.0).abs() > STRANGE_SCALE {
        cautions.push(format!("A metre of the local grid becomes {scale:.4} m in the CRS: is one of them in another unit, or a control point misread?"));
    }
    cautions
}

fn told_to_machines(tie: &similarity::Tie, outcome: Outcome, stands: &Site, cautions: &[String]) -> Value {
    json!({
        "site": stands.slug,
        "revision": stands.revision,
        "outcome": outcome,
        "tie": tie,
        "cautions": cautions,
    })
}

/// Which one point to look at, where leaving it out makes the others fit.
fn hint(control: &[ControlPoint], tolerance_m: f64) -> String {
    match similarity::suspect(control, tolerance_m) {
        Some(name) => format!(" Without {name} the others fit: measure it again, or leave it out."),
        None => String::new(),
    }
}

fn unfit(fault: &TieFault, control: &[ControlPoint], tolerance_m: f64) -> Problem {
    let mut detail = fault.to_string();
    if !detail.ends_with('?') {
        detail.push('.');
    }
    Problem::bad_request(detail + &hint(control, tolerance_m))
}

fn over_tolerance(tie: &similarity::Tie, control: &[ControlPoint]) -> Problem {
    let over = || (tie.residuals.iter()).filter(|residual| tie.over_tolerance.contains(&residual.name));
    let names: Vec<String> = over().map(with_length).collect();
    let detail = format!(
        "Control points lie farther than {} m from where the grid puts them: {}. Nothing was stored.{} With --accept the grid is stored as it is.",
        tie.tolerance_m,
        names.join(", "),
        hint(control, tie.tolerance_m)
    );
    let faults = over().map(|residual| {
        json!({
            "point": residual.name,
            "east_m": residual.east_m,
            "north_m": residual.north_m,
            "value": format!("{:.3} m", residual.length_m),
            "expected": format!("at most {} m", tie.tolerance_m),
        })
    });
    Problem::bad_request(detail).with_faults("over-tolerance", faults.collect())
}
