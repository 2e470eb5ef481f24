//! An invented ledge, and short ways to write on it.

use crate::store::{Change, Outcome, RowConflict, SheetExtent, SheetPrint, Store, Taken};
use spatial::index::SurfaceContents;
use spatial::model::{
    ControlPoint, Extent, ExtentKind, Label, LocalGrid, Print, Remarks, Similarity, Site, Slug, SurfaceId,
};

/// A store with one invented site, `gull-ledge`.
pub(crate) struct World<'s> {
    pub(crate) store: &'s dyn Store,
}

/// Where the prints of a sheet go.
pub(crate) type Place<'a> = (&'a str, Vec<Print>);

impl<'s> World<'s> {
    pub(crate) fn new(store: &'s dyn Store) -> Self {
        let mut site = Site::new(gull_ledge(), 25830);
        site.name = "Gull Ledge (invented)".to_owned();
        store.add_site(&site, &change(0)).unwrap();
        Self { store }
    }

    /// Takes the prints in one sheet, one row after the other from row 2. Conflicts are all told in the outcome, whenever
    /// the store found them.
    pub(crate) fn finish(&self, day: i64, prints: &[Place<'_>]) -> Outcome {
        let mut sheet = self.store.begin_sheet(&gull_ledge(), &change(day)).unwrap();
        let mut conflicts = Vec::new();
        for batch in rows(prints).chunks(2) {
            conflicts.extend(sheet.put_prints(batch).unwrap());
        }
        whole(conflicts, sheet.finish().unwrap())
    }

    /// As `finish`, and expects that it is taken.
    pub(crate) fn take(&self, day: i64, prints: &[Place<'_>]) -> Taken {
        match self.finish(day, prints) {
            Outcome::Taken(taken) => taken,
            Outcome::Refused(conflicts) => panic!("refused: {conflicts:?}"),
        }
    }

    /// Takes extents in one sheet, counted from row 1.
    pub(crate) fn take_extents(&self, day: i64, extents: &[Extent]) -> Outcome {
        let mut sheet = self.store.begin_sheet(&gull_ledge(), &change(day)).unwrap();
        let rows: Vec<SheetExtent> = (1..)
            .zip(extents)
            .map(|(row, extent)| SheetExtent {
                row,
                surface: label("S1"),
                extent: extent.clone(),
            })
            .collect();
        let conflicts = sheet.put_extents(&rows).unwrap();
        whole(conflicts, sheet.finish().unwrap())
    }

    /// What stands of a surface, and its contents revision.
    pub(crate) fn contents(&self, surface: &str) -> (SurfaceContents, u64) {
        self.store.contents(&id(surface)).unwrap().unwrap()
    }
}

/// What became of a sheet, with all its conflicts in the order of rows.
fn whole(mut told: Vec<RowConflict>, outcome: Outcome) -> Outcome {
    match outcome {
        Outcome::Refused(more) => {
            told.extend(more);
            told.sort_by_key(|conflict| conflict.row);
            Outcome::Refused(told)
        }
        taken => {
            assert_eq!(told, [], "taken in spite of conflicts");
            taken
        }
    }
}

/// The prints as rows of a sheet, counted from 2: row 1 is the header.
pub(crate) fn rows(prints: &[Place<'_>]) -> Vec<SheetPrint> {
    let all = prints
        .iter()
        .flat_map(|(surface, prints)| prints.iter().map(move |print| (surface, print)));
    (2..)
        .zip(all)
        .map(|(row, (surface, print))| SheetPrint {
            row,
            surface: label(surface),
            print: print.clone(),
        })
        .collect()
}

pub(crate) fn gull_ledge() -> Slug {
    "gull-ledge".parse().unwrap()
}

pub(crate) fn label(text: &str) -> Label {
    text.parse().unwrap()
}

pub(crate) fn labels(texts: &[&str]) -> Vec<Label> {
    texts.iter().map(|text| label(text)).collect()
}

pub(crate) fn id(surface: &str) -> SurfaceId {
    format!("gull-ledge:{surface}").parse().unwrap()
}

/// The change of a day.
pub(crate) fn change(day: i64) -> Change {
    Change {
        author: format!("worker {day}"),
        at: jiff::Timestamp::from_second(1_750_000_000 + day * 86_400).unwrap(),
        deed: format!("import day-{day}.csv"),
    }
}

/// A print with its label's number as its place.
pub(crate) fn print(text: &str) -> Print {
    let no: f64 = text
        .trim_start_matches(|c: char| !c.is_ascii_digit())
        .parse()
        .unwrap();
    Print::new(label(text), 600_000.0 + no, 4_800_000.0 + 2.0 * no, 0.31)
}

/// A print of a field trackway.
pub(crate) fn member(text: &str, trackway: &str, order: Option<u32>) -> Print {
    Print {
        field_trackway: Some(label(trackway)),
        field_order: order,
        ..print(text)
    }
}

/// A print that overlies others.
pub(crate) fn above(text: &str, below: &[&str]) -> Print {
    let remarks = Remarks {
        overlies: labels(below),
        ..Remarks::default()
    };
    Print {
        remarks: Some(Box::new(remarks)),
        ..print(text)
    }
}

/// An invented local grid with awkward numbers.
pub(crate) fn local_grid() -> LocalGrid {
    let similarity = Similarity {
        east_shift_m: 600_000.1 + 0.2,
        north_shift_m: 4_800_000.0,
        scale: 0.999_6,
        rotation_deg: 1.0 / 3.0,
    };
    let peg = |name: &str, local_x_m, local_y_m| {
        let [easting_m, northing_m] = similarity.forward([local_x_m, local_y_m]);
        ControlPoint {
            name: name.to_owned(),
            local_x_m,
            local_y_m,
            easting_m,
            northing_m,
        }
    };
    LocalGrid {
        similarity,
        rms_m: 1e-9,
        tolerance_m: 0.05,
        control: vec![peg("peg \"1\"", 0.0, 0.0), peg("l'angle", 0.1 + 0.2, 20.0)],
    }
}

/// A square extent, 10 m wide.
pub(crate) fn square(text: &str, west: f64, south: f64) -> Extent {
    Extent {
        label: label(text),
        kind: ExtentKind::Exposed,
        polygon: geo::Rect::new([west, south], [west + 10.0, south + 10.0]).to_polygon(),
        surveyed_on: None,
        revision: 0,
    }
}
