//! The demonstration data: three invented sites with seven hundred prints or more, drawn anew alike each time.
//!
//! A [`place::Place`] is a site; its [`scene::Scene`]s are surfaces, each with its ground, its animals and
//! the party that recorded it. What comes out are the files that a real site would hand in: field sheets,
//! extents and the sites' own records. Which print is whose is known here, but stands in no file.
//!
//! Nothing in it is real: no such site, formation, party or find exists.

mod animal;
mod gannet_ledge;
mod ground;
mod heron_bend;
mod party;
pub mod place;
pub mod scene;
mod sheet;
mod tussock_quarry;

use place::Place;
use serde_json::Value;
use std::path::Path;

/// The sites of the demonstration data.
#[must_use]
pub fn places() -> Vec<Place> {
    vec![
        gannet_ledge::place(),
        heron_bend::place(),
        tussock_quarry::place(),
    ]
}

/// Every file of the demonstration data: its name and its text.
#[must_use]
pub fn files() -> Vec<(String, String)> {
    let places = places();
    let sites: Value = places.iter().map(Place::record).collect();
    let sites = serde_json::to_string_pretty(&sites).expect("a record has only named fields");
    let mut files = vec![("sites.json".to_owned(), sites + "\n")];
    files.extend(places.iter().flat_map(Place::files));
    files
}

/// The names of those files in a folder that are missing or differ from what is drawn.
///
/// # Errors
/// A file that is there and cannot be read.
pub fn differing(folder: &Path) -> std::io::Result<Vec<String>> {
    let mut differing = Vec::new();
    for (name, text) in files() {
        match std::fs::read_to_string(folder.join(&name)) {
            Ok(found) if found == text => {}
            Err(fault) if fault.kind() != std::io::ErrorKind::NotFound => return Err(fault),
            _ => differing.push(name),
        }
    }
    Ok(differing)
}

/// Writes every file into a folder, which is made where it is missing.
///
/// # Errors
/// A folder or a file that cannot be written.
pub fn write(folder: &Path) -> std::io::Result<()> {
    std::fs::create_dir_all(folder)?;
    files()
        .iter()
        .try_for_each(|(name, text)| std::fs::write(folder.join(name), text))
}

#[cfg(test)]
mod taken_tests;
#[cfg(test)]
#[path = "demo_tests.rs"]
mod tests;
