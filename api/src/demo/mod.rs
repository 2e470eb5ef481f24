//! The demonstration: invented sites that travel inside the program and come in as any sheet does.

use crate::crs::Crs;
use crate::intake::{SheetFormat, SheetOptions, take_sheet};
use crate::problem::Problem;
use crate::store::{Change, Store, StoreError};
use serde::Deserialize;
use spatial::model::{Site, Surface};
use std::path::Path;

macro_rules! files {
    ($($name:literal),+ $(,)?) => { &[$(($name, include_str!(concat!("../../../fixtures/demo/", $name)))),+] };
}

/// The demonstration's files. Their generator is `make-demo` of the crate `tests`.
static FILES: &[(&str, &str)] = files!(
    "sites.json",
    "gannet-ledge.csv",
    "gannet-ledge-extents.geojson",
    "heron-bend.csv",
    "heron-bend-extents.geojson",
    "tussock-quarry.csv",
    "tussock-quarry-from-above.csv",
    "tussock-quarry-extents.geojson",
);

/// One invented site with its surfaces and the names of its sheets.
#[derive(Deserialize)]
struct Described {
    #[serde(flatten)]
    site: Site,
    surfaces: Vec<Surface>,
    sheets: Vec<String>,
    extents: Vec<String>,
}

/// Takes the demonstration's sites and sheets into a store. Doing it again changes nothing.
///
/// # Errors
/// When the store fails.
pub fn load(store: &dyn Store, change: &Change) -> Result<Vec<Site>, Problem> {
    let sites: Vec<Described> = serde_json::from_str(file("sites.json")?).map_err(Problem::internal)?;
    for described in &sites {
        Crs::for_site(described.site.crs)?;
        match store.add_site(&described.site, change) {
            Ok(_) | Err(StoreError::Exists(_)) => {}
            Err(error) => return Err(error.into()),
        }
        let mut surfaces = store.begin_sheet(&described.site.slug, change)?;
        described
            .surfaces
            .iter()
            .try_for_each(|surface| surfaces.put_surface(surface))?;
        surfaces.finish()?;
        for name in described.sheets.iter().chain(&described.extents) {
            let format = SheetFormat::of_file(Path::new(name)).ok_or_else(|| Problem::internal(name))?;
            take_sheet(
                store,
                &described.site,
                format,
                file(name)?.as_bytes(),
                &SheetOptions::default(),
                change,
            )?;
        }
    }
    Ok(sites.into_iter().map(|described| described.site).collect())
}

fn file(name: &str) -> Result<&'static str, Problem> {
    let found = FILES.iter().find(|(known, _)| *known == name);
    found
        .map(|(_, text)| *text)
        .ok_or_else(|| Problem::internal(format!("{name} is not part of the demonstration")))
}
