//! The views for mapping programs.

use super::*;
use crate::store::SheetStore;
use crate::store::contract::world::{World, change, gull_ledge, label, member, print, square};
use geo::{LineString, Polygon};
use spatial::model::{Extent, Print, Site};

fn opened(database: &Database) -> PostgresStore {
    PostgresStore::open(&address(database)).unwrap()
}

fn has_views(database: &Database) -> bool {
    let ask = "SELECT to_regclass('stridebed_gis.prints') IS NOT NULL";
    database.connect().query_one(ask, &[]).unwrap().get(0)
}

#[test]
fn without_postgis_there_are_no_views_and_with_it_there_are() {
    let fresh = Fresh::new();
    assert!(!has_views(&fresh.database));
    let world = World::new(&fresh.store);
    world.take(1, &[("S1", vec![print("P1")])]);
    fresh
        .database
        .connect()
        .batch_execute("CREATE EXTENSION postgis")
        .unwrap();
    std::thread::scope(|scope| {
        for _ in 0..3 {
            scope.spawn(|| opened(&fresh.database));
        }
    });
    assert!(has_views(&fresh.database));
    let mut conn = fresh.database.connect();
    let count: i64 = conn
        .query_one("SELECT count(*) FROM stridebed_gis.prints", &[])
        .unwrap()
        .get(0);
    assert_eq!(count, 1);
    // They are to look at.
    for change in [
        "INSERT INTO stridebed_gis.prints (label) VALUES ('P2')",
        "DELETE FROM stridebed_gis.extents",
        "UPDATE stridebed_gis.trackways SET note = 'x'",
        "UPDATE stridebed_gis.surfaces SET note = 'x'",
    ] {
        assert!(conn.batch_execute(change).is_err(), "{change}");
    }
}

#[test]
fn each_geometry_is_in_its_sites_crs() {
    let fresh = Fresh::new();
    let mut conn = fresh.database.connect();
    // Wherever PostGIS is.
    conn.batch_execute("CREATE SCHEMA \"Maps\"; CREATE EXTENSION postgis SCHEMA \"Maps\"")
        .unwrap();
    let store = opened(&fresh.database);
    let world = World::new(&store);
    let precise = Print {
        easting_m: 600_000.1 + 0.2,
        ..member("P2", "T1", Some(1))
    };
    let prints = vec![
        precise.clone(),
        member("P1", "T1", Some(2)),
        member("P3", "T2", None),
    ];
    world.take(1, &[("S1", prints)]);
    let nothing = Extent {
        polygon: Polygon::new(LineString::new(vec![]), vec![]),
        ..square("E2", 0.0, 0.0)
    };
    let hole = LineString::from(vec![(1.0, 1.0), (2.0, 1.0), (2.0, 2.0)]);
    let square = square("E1", 0.0, 0.0);
    let holed = Extent {
        polygon: Polygon::new(square.polygon.exterior().clone(), vec![hole]),
        ..square
    };
    world.take_extents(2, &[holed, nothing]);
    let other = Site::new("south-ledge".parse().unwrap(), 32_736);
    store.add_site(&other, &change(3)).unwrap();
    let mut sheet = store.begin_sheet(&other.slug, &change(3)).unwrap();
    let row = crate::store::SheetPrint {
        row: 2,
        surface: label("S1"),
        print: print("P9"),
    };
    sheet.put_prints(&[row]).unwrap();
    sheet.finish().unwrap();

    conn.batch_execute("SET search_path = \"Maps\"").unwrap();
    let mut ask = |query: &str| -> Vec<(String, i32, Option<String>)> {
        let rows = conn.query(query, &[]).unwrap();
        rows.iter()
            .map(|row| (row.get(0), row.get(1), row.get(2)))
            .collect()
    };
    let site = gull_ledge();
    let prints = ask("SELECT id, ST_SRID(geom), ST_AsText(geom, 17) FROM stridebed_gis.prints ORDER BY id");
    assert_eq!(prints.len(), 4);
    let point = |print: &Print| Some(format!("POINT({} {})", print.easting_m, print.northing_m));
    assert_eq!(prints[1], (format!("{site}:S1:P2"), 25_830, point(&precise)));
    assert_eq!(
        prints[3],
        ("south-ledge:S1:P9".to_owned(), 32_736, point(&print("P9")))
    );
    let tracks = ask(
        "SELECT id, coalesce(ST_SRID(geom), 0), ST_AsText(geom, 17) FROM stridebed_gis.trackways ORDER BY id",
    );
    let line = format!("LINESTRING({} 4800004,600001 4800002)", precise.easting_m);
    assert_eq!(tracks[0], (format!("{site}:S1:T1"), 25_830, Some(line)));
    assert_eq!(tracks[1], (format!("{site}:S1:T2"), 0, None));
    let extents = ask(
        "SELECT id, ST_NumInteriorRings(geom), ST_AsText(geom) FROM stridebed_gis.extents \
                       WHERE NOT ST_IsEmpty(geom) ORDER BY id",
    );
    assert_eq!((extents.len(), extents[0].1), (1, 1));
    let surfaces =
        ask("SELECT id, coalesce(ST_SRID(geom), 0), ST_AsText(geom) FROM stridebed_gis.surfaces ORDER BY id");
    assert_eq!((surfaces[0].1, surfaces[1].1), (25_830, 0));
    let extents = ask("SELECT id, ST_SRID(geom), kind FROM stridebed_gis.extents ORDER BY id");
    assert_eq!(extents.len(), 2);
    assert_eq!(extents[1].1, 25_830);
}
