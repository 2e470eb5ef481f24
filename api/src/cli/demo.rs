//! `stridebed demo`.

use super::group::keep;
use super::serve::Serve;
use super::table::table;
use super::{Desk, Done, say};
use crate::access::Audience;
use crate::catalogue::{Catalogue, INDEX_MEMORY};
use crate::crs::Crs;
use crate::problem::Problem;
use crate::query::Proposals;
use clap::Args;
use spatial::angle::{azimuth_rad, fold_deg, mean_direction_rad};
use spatial::index::SurfaceIndex;
use spatial::model::{SurfaceId, Trackway};
use std::path::PathBuf;

/// A mean direction of trackways that scatter more than this says little; common practice is to give
/// it with its R̄, and here the summary says so in words.
const ONE_HEADING: f64 = 0.5;

#[derive(Args)]
pub(super) struct Demo {
    /// Stop after the summary
    #[arg(long)]
    no_serve: bool,
    #[command(flatten)]
    serve: Serve,
}

impl Demo {
    pub(super) fn run(self, desk: &Desk) -> Done {
        let path = PathBuf::from(desk.store.as_deref().unwrap_or("./demo.db"));
        let store = desk.store_or_new(&path)?;
        eprintln!("Loading invented sites into {} …", path.display());
        crate::demo::load(&*store, &desk.change("demo"))?;
        let catalogue = Catalogue::new(store.clone(), Audience::Local, INDEX_MEMORY);
        let surfaces: Vec<SurfaceId> = catalogue
            .listing()?
            .surfaces()
            .map(|entry| entry.summary.id.clone())
            .collect();
        let mut found = Vec::new();
        for surface in &surfaces {
            eprintln!("Grouping the prints of {surface} …");
            found.push(keep(&catalogue, surface, 1, &desk.change("demo: group"))?.0);
        }
        summary(&catalogue, &surfaces, &found)?;
        if self.no_serve {
            return Ok(());
        }
        self.serve.serve(store, std::env::temp_dir(), |address| {
            let base = format!("http://{address}");
            say("\nOpen in a browser:");
            say(&format!("  {base}/                          what there is"));
            surfaces
                .iter()
                .for_each(|surface| say(&format!("  {base}/collections/surfaces/items/{surface}?f=html")));
            if let Some(surface) = surfaces.first() {
                say("Ask:");
                say(&format!("  {base}/queries/grouping?surface={surface}"));
            }
            say("Add to a mapping program as OGC API Features:");
            say(&format!("  {base}/"));
            say("All of it is invented demonstration data. Stop with Ctrl-C.");
        })
    }
}

/// What the grouping found on each surface.
fn summary(catalogue: &Catalogue, surfaces: &[SurfaceId], found: &[Proposals]) -> Result<(), Problem> {
    let mut rows = table([
        "surface",
        "prints",
        "trackways",
        "ungrouped",
        "main heading (true north)",
    ]);
    for (id, found) in surfaces.iter().zip(found) {
        let index = catalogue.index(id)?;
        rows.add_row([
            id.to_string(),
            index.prints().len().to_string(),
            found.all.len().to_string(),
            found.ungrouped.to_string(),
            main_heading(&index, &found.all)?,
        ]);
    }
    say(&rows.to_string());
    Ok(())
}

/// The mean direction of the trackways, each counted once, from its first print to its last.
fn main_heading(index: &SurfaceIndex, trackways: &[Trackway]) -> Result<String, Problem> {
    let ends = |trackway: &Trackway| {
        let place = |label| index.find(label).map(|no| index.print(no));
        let (first, last) = (place(trackway.prints.first()?)?, place(trackway.prints.last()?)?);
        Some(azimuth_rad(
            last.easting_m - first.easting_m,
            last.northing_m - first.northing_m,
        ))
    };
    let Some((mean, r_bar)) = mean_direction_rad(trackways.iter().filter_map(ends)) else {
        return Ok("–".to_owned());
    };
    if r_bar < ONE_HEADING {
        return Ok(format!("no one heading (R̄ {r_bar:.2})"));
    }
    let convergence_deg = match index.bounds() {
        Some([lower, _]) => {
            let crs = Crs::for_site(index.crs())?;
            crs.factors(crs.to_lonlat(&[lower])?[0])
                .map_or(0.0, |factors| factors.convergence_deg)
        }
        None => 0.0,
    };
    Ok(format!(
        "{:.0}° (R̄ {r_bar:.2})",
        fold_deg(mean.to_degrees() + convergence_deg)
    ))
}
