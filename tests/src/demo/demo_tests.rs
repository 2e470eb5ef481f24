use super::place::{INVENTED, Place};
use super::scene::Scene;
use super::*;
use api::crs::Crs;
use geo::{BoundingRect, Distance, Euclidean, MapCoords, Point, Polygon};
use geojson::FeatureCollection;
use spatial::model::{ExtentKind, Label, Limb, Print, Side, Site, Surface};
use std::collections::{BTreeMap, BTreeSet};

fn scenes() -> Vec<Scene> {
    places().iter().flat_map(Place::scenes).cloned().collect()
}

fn findings(surface: &str) -> (Scene, scene::Findings) {
    let scene = scenes()
        .into_iter()
        .find(|scene| scene.surface.label.as_str() == surface)
        .unwrap();
    let findings = scene.findings();
    (scene, findings)
}

/// The rows of every sheet, each by the names of its columns.
fn rows(place: &Place) -> Vec<BTreeMap<String, String>> {
    let sheets = place
        .files()
        .into_iter()
        .filter(|(name, _)| name.ends_with(".csv"));
    let read = |(_, text): (String, String)| {
        let mut sheet = csv::Reader::from_reader(text.as_bytes());
        sheet.deserialize().collect::<Result<Vec<_>, _>>().unwrap()
    };
    sheets.flat_map(read).collect()
}

#[test]
fn the_files_on_disk_are_those_that_are_drawn() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../fixtures/demo");
    assert_eq!(
        differing(&folder).unwrap(),
        Vec::<String>::new(),
        "run make-demo and look at what changed"
    );
}

#[test]
fn a_changed_and_a_missing_file_are_named() {
    let folder = tempfile::tempdir().unwrap();
    write(folder.path()).unwrap();
    assert!(differing(folder.path()).unwrap().is_empty());
    std::fs::write(folder.path().join("sites.json"), "[]").unwrap();
    std::fs::remove_file(folder.path().join("gannet-ledge.csv")).unwrap();
    assert_eq!(
        differing(folder.path()).unwrap(),
        ["sites.json", "gannet-ledge.csv"]
    );
}

#[test]
fn three_sites_in_three_projections_say_that_they_are_invented() {
    let (_, text) = files()
        .into_iter()
        .find(|(name, _)| name == "sites.json")
        .unwrap();
    let sites: Vec<Site> = serde_json::from_str(&text).unwrap();
    let codes: BTreeSet<u32> = sites.iter().map(|site| site.crs).collect();
    assert_eq!(codes, BTreeSet::from([2193, 25830, 32736]));
    assert!(
        sites
            .iter()
            .all(|site| site.citation.as_deref().unwrap().starts_with(INVENTED))
    );
    let records: Vec<Value> = serde_json::from_str(&text).unwrap();
    let surfaces = records
        .iter()
        .flat_map(|site| site["surfaces"].as_array().unwrap());
    let surfaces: Vec<Surface> = surfaces
        .map(|record| serde_json::from_value(record.clone()).unwrap())
        .collect();
    assert_eq!(surfaces.len(), 6);
}

#[test]
fn every_file_that_a_site_names_is_there() {
    let names: BTreeSet<String> = files().into_iter().map(|(name, _)| name).collect();
    for place in places() {
        let record = place.record();
        let named = ["sheets", "extents"]
            .iter()
            .flat_map(|key| record[*key].as_array().unwrap());
        assert!(
            named.clone().all(|name| names.contains(name.as_str().unwrap())),
            "{record}"
        );
    }
}

#[test]
fn positions_lie_in_their_projections_area_of_use() {
    for place in places() {
        let [[west, south], [east, north]] = Crs::find(place.site.crs).unwrap().area;
        for row in rows(&place) {
            let number = |column: &str| row[column].parse::<f64>().unwrap();
            assert!(
                (west..east).contains(&number("easting_m")) && (south..north).contains(&number("northing_m"))
            );
        }
    }
}

#[test]
fn there_are_prints_enough_and_trackways_are_long_enough() {
    let mut prints = 0;
    for scene in scenes() {
        let findings = scene.findings();
        prints += findings.prints.len();
        for animal in 0..scene.animals.len() {
            let found = findings
                .truth
                .iter()
                .filter(|origin| **origin == Some(animal))
                .count();
            assert!(
                found >= 8,
                "{}: animal {animal} left {found}",
                scene.surface.label
            );
        }
    }
    assert!((700..=900).contains(&prints), "{prints}");
}

#[test]
fn labels_are_unique_and_prints_that_others_overlie_exist() {
    let mut overlies = 0;
    for scene in scenes() {
        let prints = scene.findings().prints;
        let labels: BTreeSet<&Label> = prints.iter().map(|print| &print.label).collect();
        assert_eq!(labels.len(), prints.len());
        for below in prints
            .iter()
            .filter_map(|print| print.remarks.as_ref())
            .flat_map(|r| &r.overlies)
        {
            assert!(labels.contains(below));
            overlies += 1;
        }
    }
    assert!(overlies >= 5, "{overlies}");
}

#[test]
fn prints_lie_in_exposed_rock() {
    for place in places() {
        let extents = extents(&place);
        for row in rows(&place) {
            let at = Point::new(
                row["easting_m"].parse().unwrap(),
                row["northing_m"].parse().unwrap(),
            );
            let here = extents
                .iter()
                .filter(|(surface, kind, _)| *surface == row["surface"] && kind == "exposed");
            // The position as measured may lie a little outside, where the print itself stands at the rim.
            let nearest_m = here
                .map(|(_, _, part)| Euclidean.distance(&at, part))
                .fold(f64::MAX, f64::min);
            assert!(
                nearest_m < 0.06,
                "{} {} is {nearest_m} m off",
                row["surface"],
                row["print"]
            );
        }
    }
}

#[test]
fn every_kind_of_extent_is_there_and_outer_rings_go_against_the_clock() {
    let all: Vec<_> = places().iter().flat_map(extents).collect();
    for kind in ExtentKind::ALL {
        assert!(all.iter().any(|(_, name, _)| name == kind.name()), "{kind}");
    }
    for (surface, _, polygon) in &all {
        let corner = polygon.bounding_rect().unwrap().min();
        // Near zero, where the sign of the area does not drown in the size of the coordinates.
        let near = polygon.map_coords(|at| at - corner);
        let rim: Vec<_> = near.exterior().coords().copied().collect();
        let area_m2: f64 = rim
            .windows(2)
            .map(|w| w[0].x * w[1].y - w[1].x * w[0].y)
            .sum::<f64>()
            / 2.0;
        assert!(area_m2 > 1.0, "{surface}: {area_m2}");
    }
}

/// Surface, kind and polygon of each extent in the site's file.
fn extents(place: &Place) -> Vec<(String, String, Polygon<f64>)> {
    let (_, text) = place
        .files()
        .into_iter()
        .find(|(name, _)| *name == place.extents_file())
        .unwrap();
    let collection: FeatureCollection = text.parse().unwrap();
    let urn = format!("urn:ogc:def:crs:EPSG::{}", place.site.crs);
    assert_eq!(
        collection.foreign_members.as_ref().unwrap()["crs"]["properties"]["name"],
        urn
    );
    let word = |feature: &geojson::Feature, key| feature.property(key).unwrap().as_str().unwrap().to_owned();
    let read = |feature: &geojson::Feature| {
        let polygon = feature.geometry.clone().unwrap().value.try_into().unwrap();
        (word(feature, "surface"), word(feature, "kind"), polygon)
    };
    collection.features.iter().map(read).collect()
}

#[test]
fn one_surface_has_no_azimuths_and_one_has_nothing_but_places_and_lengths() {
    let (_, lower_bank) = findings("B1");
    assert!(lower_bank.prints.iter().all(|print| print.azimuth_deg.is_none()));
    let quarry = files()
        .into_iter()
        .find(|(name, _)| name == "tussock-quarry-from-above.csv")
        .unwrap();
    assert!(
        quarry
            .1
            .starts_with("surface,print,easting_m,northing_m,length_m\nQ2,P001,")
    );
}

#[test]
fn labels_follow_from_places_alone() {
    for scene in scenes() {
        let places: Vec<_> = scene.findings().prints.iter().map(strip_and_northing).collect();
        assert!(places.is_sorted(), "{}", scene.surface.label);
    }
}

fn strip_and_northing(print: &Print) -> (f64, f64) {
    ((print.easting_m / 2.0).floor(), print.northing_m)
}

#[test]
fn trackways_that_the_party_saw_are_true_and_in_order() {
    let mut seen = 0;
    for scene in scenes() {
        let findings = scene.findings();
        let mut trackways: BTreeMap<&Label, Vec<(u32, Option<usize>)>> = BTreeMap::new();
        for (print, origin) in findings.prints.iter().zip(&findings.truth) {
            assert_eq!(print.field_trackway.is_some(), print.field_order.is_some());
            if let (Some(trackway), Some(order)) = (&print.field_trackway, print.field_order) {
                trackways.entry(trackway).or_default().push((order, *origin));
            }
        }
        for mut prints in trackways.into_values() {
            prints.sort_unstable();
            assert!(prints.iter().map(|(order, _)| *order).eq(1..=prints.len() as u32));
            assert!(
                prints
                    .iter()
                    .all(|(_, origin)| *origin == prints[0].1 && origin.is_some())
            );
            seen += 1;
        }
    }
    assert!(seen >= 10, "{seen}");
    assert!(
        ["S1", "Q2", "B1"]
            .iter()
            .all(|surface| findings(surface).1.prints.iter().all(unseen))
    );
}

fn unseen(print: &Print) -> bool {
    print.field_trackway.is_none()
}

#[test]
fn a_biped_on_the_quarry_face_doubles_its_pace() {
    let (scene, findings) = findings("Q1");
    let runner = (0..scene.animals.len())
        .find(|no| scene.animals[*no].kind == animal::BROAD)
        .unwrap();
    let theirs = findings
        .prints
        .iter()
        .zip(&findings.truth)
        .filter(|(_, origin)| **origin == Some(runner));
    let mut eastings: Vec<f64> = theirs.map(|(print, _)| print.easting_m).collect();
    eastings.sort_by(f64::total_cmp);
    let paces: Vec<f64> = eastings.windows(2).map(|w| w[1] - w[0]).collect();
    let (first, last) = (
        paces[..4].iter().sum::<f64>(),
        paces[paces.len() - 4..].iter().sum::<f64>(),
    );
    assert!(last > 1.6 * first, "{last} after {first}");
}

#[test]
fn a_tilted_bed_is_foreshortened_down_its_dip_only() {
    let (scene, _) = findings("Q1");
    let ground = &scene.ground;
    let [at, along, down] = [[0.0, 0.0], unit(205.0), unit(295.0)].map(|place| ground.on_map(place));
    let map_m = |to: [f64; 3]| (to[0] - at[0]).hypot(to[1] - at[1]);
    assert!((map_m(along) - 1.0).abs() < 1e-9 && (along[2] - at[2]).abs() < 1e-9);
    assert!((map_m(down) - 14f64.to_radians().cos()).abs() < 1e-9);
    assert!(
        (at[2] - down[2] - 14f64.to_radians().sin()).abs() < 1e-9,
        "the dip is to the right of the strike"
    );
    assert!((ground.azimuth_on_map_deg(205.0) - 205.0).abs() < 1e-9);
    assert!((ground.azimuth_on_map_deg(295.0) - 295.0).abs() < 1e-9);
}

fn unit(azimuth_deg: f64) -> [f64; 2] {
    let (sine, cosine) = azimuth_deg.to_radians().sin_cos();
    [sine, cosine]
}

#[test]
fn all_that_a_sheet_can_hold_is_in_the_sheets() {
    let rows: Vec<_> = places().iter().flat_map(rows).collect();
    let filled = |column: &str| {
        rows.iter()
            .filter(|row| row.get(column).is_some_and(|cell| !cell.is_empty()))
            .count()
    };
    let some = [
        "elevation_m",
        "azimuth_deg",
        "overlies",
        "depth_samples",
        "note",
        "photo",
        "order",
        "digits",
    ];
    for column in some {
        assert!(filled(column) > 2, "{column}");
    }
    let says = |column: &str, word: &str| {
        rows.iter()
            .any(|row| row.get(column).is_some_and(|cell| cell == word))
    };
    assert!(says("limb", Limb::Manus.name()) && says("side", Side::Left.name()) && says("record", "cast"));
}
