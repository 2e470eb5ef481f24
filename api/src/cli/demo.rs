//! `stridebed demo`.

use super::serve::Serve;
use super::table::{self, table};
use super::trackways::keep;
use super::{Desk, Done, located, say};
use crate::access::Audience;
use crate::catalogue::{Catalogue, INDEX_MEMORY};
use crate::problem::Problem;
use crate::query::{self, Proposals};
use clap::Args;
use serde_json::Value;
use spatial::model::SurfaceId;

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
        let location = located(desk.store.as_deref().unwrap_or("./demo.db"))?;
        let store = desk.store_or_new(&location)?;
        eprintln!("Loading invented sites into {location} …");
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
            say(&format!(
                "  {base}/map                       look at the surfaces, ask, accept and reject"
            ));
            say(&format!("  {base}/                          what there is"));
            surfaces
                .iter()
                .for_each(|surface| say(&format!("  {base}/collections/surfaces/items/{surface}?f=html")));
            if let Some(surface) = surfaces.first() {
                say("Ask:");
                say(&format!("  {base}/queries/grouping?surface={surface}"));
                say(&format!("  {base}/queries/gait?surface={surface}&f=html"));
                say(&format!("  {base}/queries/headings?surface={surface}&f=svg"));
                say(&format!("  {base}/queries/individuals?surface={surface}&f=html"));
            }
            say("Add to a mapping program as OGC API Features:");
            say(&format!("  {base}/"));
            say("All of it is invented demonstration data. Stop with Ctrl-C.");
        })
    }
}

/// What the grouping found on each surface, and what the queries say of it.
fn summary(catalogue: &Catalogue, surfaces: &[SurfaceId], found: &[Proposals]) -> Result<(), Problem> {
    let mut rows = table([
        "surface",
        "prints",
        "trackways found",
        "ungrouped",
        "heading (true north)",
        "animals at least",
        "speeds, m/s",
    ]);
    for (id, found) in surfaces.iter().zip(found) {
        rows.add_row([
            id.to_string(),
            catalogue.index(id)?.prints().len().to_string(),
            found.all.len().to_string(),
            found.ungrouped.to_string(),
            heading(&asked(catalogue, "headings", id)?),
            table::told(&asked(catalogue, "individuals", id)?[0]["least"]),
            speeds(&asked(catalogue, "gait", id)?),
        ]);
    }
    say(&rows.to_string());
    say(
        "n counts the trackways that stand: those of the field party, and those found that share no print with them.",
    );
    Ok(())
}

/// The properties of each feature that a query answers of a surface.
fn asked(catalogue: &Catalogue, id: &str, surface: &SurfaceId) -> Result<Vec<Value>, Problem> {
    let query = query::find(id).ok_or_else(|| Problem::internal(format!("there is no query {id}")))?;
    let reply = query.ask(
        vec![("surface".to_owned(), surface.to_string().into())],
        catalogue,
    )?;
    let mut answer: Value = serde_json::from_slice(&reply.body).map_err(Problem::internal)?;
    let features = answer["features"]
        .as_array_mut()
        .map(std::mem::take)
        .unwrap_or_default();
    Ok(features
        .into_iter()
        .map(|mut feature| feature["properties"].take())
        .collect())
}

fn heading(groups: &[Value]) -> String {
    let whole = &groups[0];
    let (n, r_bar) = (
        table::told(&whole["n"]),
        whole["r_bar"].as_f64().unwrap_or_default(),
    );
    let shape = table::told(&whole["shape"]);
    match whole["mean_deg"].as_f64() {
        Some(mean_deg) if shape == "unimodal" => format!("{mean_deg:.0}° (n {n}, R̄ {r_bar:.2})"),
        Some(mean_deg) => format!("{mean_deg:.0}°, {shape} (n {n}, R̄ {r_bar:.2})"),
        None => format!("no one heading: {shape} (n {n})"),
    }
}

/// From the slowest to the fastest trackway.
fn speeds(trackways: &[Value]) -> String {
    let speeds = trackways
        .iter()
        .filter_map(|trackway| trackway["speed_m_s"].as_f64());
    let (slowest, fastest) = speeds.fold((f64::INFINITY, 0.0f64), |(low, high), speed| {
        (low.min(speed), high.max(speed))
    });
    if slowest > fastest {
        "–".to_owned()
    } else {
        format!("{slowest:.1} to {fastest:.1}")
    }
}
