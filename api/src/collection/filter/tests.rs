//! The predicates of the standard's own test suite, and what else a filter may say or get wrong.

use super::build::{DEEPEST, Vocabulary};
use super::condition::Condition;
use super::evaluate::Record;
use super::{Filter, LONGEST, Language, json, text};
use crate::collection::{Collection, Column};
use crate::feature::{Cell, Kind, OutputCrs};
use geo::{BoundingRect, Geometry, LineString, Point};
use proptest::prelude::*;

/// A record of the standard's test data.
struct Row {
    cells: Vec<Cell<'static>>,
    place: Option<Geometry<f64>>,
}

impl Record for Row {
    fn cell(&self, column: usize) -> Cell<'_> {
        self.cells[column].clone()
    }

    fn place(&self) -> Option<&Geometry<f64>> {
        self.place.as_ref()
    }
}

const COLUMNS: [(&str, Kind); 6] = [
    ("name", Kind::Text),
    ("nameascii", Kind::Text),
    ("pop_other", Kind::Whole),
    ("pop_min", Kind::Whole),
    ("pop_max", Kind::Whole),
    ("date", Kind::Day),
];

fn words() -> Vocabulary {
    let columns = COLUMNS.map(|(name, kind)| Column {
        name,
        kind,
        about: "",
    });
    Vocabulary::of(columns.to_vec(), OutputCrs::Crs84)
}

/// The rows of a file in `fixtures/standards/cql2-1.0/`.
fn rows(file: &str) -> Vec<csv::StringRecord> {
    let path = format!(
        "{}/../fixtures/standards/cql2-1.0/{file}",
        env!("CARGO_MANIFEST_DIR")
    );
    let mut reader = csv::Reader::from_path(path).unwrap();
    reader.records().map(Result::unwrap).collect()
}

fn cell(kind: Kind, text: &str) -> Cell<'static> {
    match kind {
        _ if text.is_empty() => Cell::Unknown,
        Kind::Whole => Cell::Whole(text.parse().unwrap()),
        Kind::Day => Cell::Day(text.parse().unwrap()),
        _ => Cell::Text(text.to_owned().into()),
    }
}

fn places() -> Vec<Row> {
    let place = |row: &csv::StringRecord| Point::new(row[6].parse().unwrap(), row[7].parse().unwrap());
    rows("places.csv")
        .iter()
        .map(|row| Row {
            cells: (COLUMNS.iter().zip(row))
                .map(|((_, kind), text)| cell(*kind, text))
                .collect(),
            place: Some(place(row).into()),
        })
        .collect()
}

fn rivers() -> Vec<Row> {
    rows("rivers.csv")
        .iter()
        .map(|row| {
            let numbers: Vec<f64> = row[1].split(' ').map(|number| number.parse().unwrap()).collect();
            let line: LineString<f64> = numbers.chunks(2).map(|at| (at[0], at[1])).collect();
            let mut cells = vec![Cell::Unknown; COLUMNS.len()];
            cells[0] = cell(Kind::Text, &row[0]);
            Row {
                cells,
                place: Some(line.into()),
            }
        })
        .collect()
}

fn read(filter: &str) -> Condition {
    text::read(filter, &words()).unwrap_or_else(|fault| panic!("{filter}: {fault}"))
}

/// OGC 21-065r2, Annex A: each predicate and how many records of the test data it takes. The data's geometry is called
/// `geom` there and `geometry` here.
#[test]
fn the_standards_predicates_take_as_many_as_it_says() {
    let (places, rivers) = (places(), rivers());
    let cases = rows("cases.csv");
    assert!(cases.len() > 100);
    for case in &cases {
        let [class, data, filter, expected] = [0, 1, 2, 3].map(|column| &case[column]);
        let condition = read(&filter.replace("geom", "geometry"));
        let records = if data == "places" { &places } else { &rivers };
        let taken = records.iter().filter(|row| condition.holds(*row) == Some(true));
        assert_eq!(taken.count().to_string(), expected, "{class}: {filter}");
    }
}

/// Both languages make one tree.
#[test]
fn json_says_the_same_as_text() {
    for (said, as_json) in [
        (
            "name = 'Bern'",
            r#"{"op":"=","args":[{"property":"name"},"Bern"]}"#,
        ),
        (
            "pop_other BETWEEN 10 AND 20 OR NOT name LIKE 'B%'",
            r#"{"op":"or","args":[{"op":"between","args":[{"property":"pop_other"},10,20]},
                {"op":"not","args":[{"op":"like","args":[{"property":"name"},"B%"]}]}]}"#,
        ),
        (
            "CASEI(name) IN (CASEI('BERN'), 'oslo') AND \"date\" < DATE('2022-04-16')",
            r#"{"op":"and","args":[{"op":"in","args":[{"op":"casei","args":[{"property":"name"}]},
                [{"op":"casei","args":["BERN"]},"oslo"]]},
                {"op":"<","args":[{"property":"date"},{"date":"2022-04-16"}]}]}"#,
        ),
        ("name IS NULL", r#"{"op":"isNull","args":[{"property":"name"}]}"#),
        (
            "S_INTERSECTS(geometry, BBOX(0, 40, 10, 50))",
            r#"{"op":"s_intersects","args":[{"property":"geometry"},{"bbox":[0,40,10,50]}]}"#,
        ),
        (
            "S_WITHIN(geometry, POLYGON((0 40, 10 40, 10 50, 0 40)))",
            r#"{"op":"s_within","args":[{"property":"geometry"},
                {"type":"Polygon","coordinates":[[[0,40],[10,40],[10,50],[0,40]]]}]}"#,
        ),
    ] {
        let of_json = json::read(as_json, &words()).unwrap_or_else(|fault| panic!("{as_json}: {fault}"));
        assert_eq!(of_json, read(said), "{said}");
    }
}

/// What is not known is neither taken nor left out by its contrary (SQL's logic, as the standard asks).
#[test]
fn what_is_not_known_stays_so() {
    let row = Row {
        cells: vec![Cell::Unknown; COLUMNS.len()],
        place: None,
    };
    for (filter, expected) in [
        ("name = 'x'", None),
        ("NOT name = 'x'", None),
        ("name <> 'x'", None),
        ("name IS NULL", Some(true)),
        ("name IS NOT NULL", Some(false)),
        ("name = 'x' OR TRUE", Some(true)),
        ("name = 'x' OR FALSE", None),
        ("name = 'x' AND FALSE", Some(false)),
        ("name = 'x' AND TRUE", None),
        ("name IN ('x', 'y')", None),
        ("name LIKE '%'", None),
        ("pop_other BETWEEN 1 AND 2", None),
        ("S_INTERSECTS(geometry, POINT(0 0))", None),
        ("NOT S_INTERSECTS(geometry, POINT(0 0))", None),
        ("geometry IS NULL", Some(true)),
    ] {
        assert_eq!(read(filter).holds(&row), expected, "{filter}");
    }
}

/// The fault names the place and what was expected.
#[test]
fn faults_tell_where_and_what() {
    let deep = |depth: usize| format!("{}name = 'x'{}", "(".repeat(depth), ")".repeat(depth));
    assert!(text::read(&deep(DEEPEST), &words()).is_ok());
    for (filter, place, expected) in [
        ("", "character 1 (the end)", "a property or a value"),
        ("nmae = 'x'", "character 1", "name"),
        ("name = ", "character 8 (the end)", "a property or a value"),
        ("name = 5", "character 8", "a text"),
        ("pop_other > 'many'", "character 13", "a number"),
        ("name = 'x", "character 8", "a closing '"),
        ("name = 'x' garbage", "character 12", "AND, OR or the end"),
        ("pop_other = 1e999", "character 13", "a double can hold"),
        ("pop_other BETWEEN 1", "character 20 (the end)", "AND"),
        (
            "\"date\" = DATE('2022-02-30')",
            "character",
            "a day such as '2026-03-21'",
        ),
        ("name IN ()", "character 10", "a property or a value"),
        ("S_INTERSECTS(geometry)", "character 13", "two geometries"),
        (
            "S_INTERSECTS(geometry, POLYGON((0 0, 1 1)))",
            "character 24",
            "rings of four",
        ),
        (
            "S_NEAR(geometry, POINT(0 0))",
            "character 1",
            "there is no S_NEAR",
        ),
        (&deep(DEEPEST + 1), "character 66", "at most 64 levels"),
    ] {
        let fault = text::read(filter, &words()).expect_err(filter).to_string();
        assert!(
            fault.contains(place) && fault.contains(expected),
            "{filter}: {fault}"
        );
    }
    for filter in [
        "",
        "{",
        "[]",
        r#"{"op":"=","args":[]}"#,
        r#"{"op":"near","args":[1,2]}"#,
        r#"{"op":"=","args":[{"property":"nmae"},1]}"#,
    ] {
        assert!(json::read(filter, &words()).is_err(), "{filter}");
    }
    let long = format!("name = '{}'", "x".repeat(LONGEST));
    let fault = Filter::parse(&long, Language::Text, Collection::Sites, OutputCrs::Crs84).unwrap_err();
    assert!(fault.to_string().contains("at most"), "{fault}");
}

/// A spatial filter lets the index look at what can meet it only, and never at less.
#[test]
fn its_reach_holds_whatever_it_takes() {
    let reach = |filter: &str| super::reach::reach(&read(filter), &OutputCrs::Crs84);
    assert!(reach("name = 'x'").is_none());
    assert!(reach("NOT S_INTERSECTS(geometry, BBOX(0, 40, 10, 50))").is_none());
    assert!(reach("S_DISJOINT(geometry, BBOX(0, 40, 10, 50))").is_none());
    assert!(reach("name = 'x' OR S_INTERSECTS(geometry, BBOX(0, 40, 10, 50))").is_none());
    let all = places();
    for filter in [
        "S_INTERSECTS(geometry, BBOX(0, 40, 10, 50))",
        "S_WITHIN(geometry, POLYGON((0 40, 10 40, 10 50, 0 40))) AND pop_other > 0",
        "S_INTERSECTS(geometry, BBOX(170, -50, -170, 50)) OR S_EQUALS(geometry, POINT(6.1300028 49.6116604))",
    ] {
        let bbox = reach(filter).unwrap_or_else(|| panic!("{filter} reaches everywhere"));
        let condition = read(filter);
        let mut beyond = 0;
        for row in &all {
            let around = row.place.as_ref().unwrap().bounding_rect().unwrap();
            let touches = bbox.may_touch([around.min().into(), around.max().into()]);
            assert!(touches || condition.holds(row) != Some(true), "{filter}");
            beyond += usize::from(!touches);
        }
        assert!(
            beyond > all.len() / 2,
            "{filter} looks at {} too many",
            all.len() - beyond
        );
    }
}

/// Conditions as people may write them.
fn written() -> impl Strategy<Value = String> {
    let name = prop::sample::select(vec!["name", "nameascii", "\"name\"", "CASEI(name)"]);
    let number = prop::sample::select(vec!["pop_other", "pop_min", "7", "-1.5e3"]);
    let sign = prop::sample::select(vec!["=", "<>", "<", ">", "<=", ">="]);
    let quoted =
        "[a-zA-Zø%_' \\\\]{0,6}".prop_map(|text| format!("'{}'", text.replace('\'', "''").replace('\\', "")));
    let leaf = prop_oneof![
        (name.clone(), sign.clone(), quoted.clone()).prop_map(|(a, b, c)| format!("{a} {b} {c}")),
        (number.clone(), sign, number).prop_map(|(a, b, c)| format!("{a}{b}{c}")),
        (name.clone(), quoted.clone()).prop_map(|(a, b)| format!("{a} NOT LIKE {b}")),
        (name.clone(), quoted).prop_map(|(a, b)| format!("{a} in ({b}, 'x')")),
        name.prop_map(|a| format!("{a} is not null")),
        (-180i32..180, -90i32..90).prop_map(|(x, y)| format!("S_INTERSECTS(geometry, POINT({x} {y}))")),
    ];
    leaf.prop_recursive(4, 24, 3, |inner| {
        prop_oneof![
            (inner.clone(), inner.clone()).prop_map(|(a, b)| format!("({a}) AND ({b})")),
            (inner.clone(), inner.clone()).prop_map(|(a, b)| format!("({a} or {b})")),
            inner.prop_map(|a| format!("NOT ({a})")),
        ]
    })
}

proptest! {
    /// NOT turns what is known round and leaves alone what is not; De Morgan's law holds for all three values.
    #[test]
    fn logic_has_three_values(one in written(), other in written(), no in 0usize..243) {
        let row = &places()[no];
        let holds = |filter: String| read(&filter).holds(row);
        prop_assert_eq!(holds(format!("NOT ({one})")), holds(one.clone()).map(|holds| !holds));
        prop_assert_eq!(
            holds(format!("NOT (({one}) AND ({other}))")),
            holds(format!("NOT ({one}) OR NOT ({other})"))
        );
    }

    /// Whatever comes in, an answer comes out: a filter or a fault.
    #[test]
    fn nothing_makes_it_panic(
        noise in "\\PC{0,60}",
        parts in prop::collection::vec(
            prop::sample::select(vec![
                "name", "'", "\"", "(", ")", ",", "=", "<", "NOT", " AND ", "LIKE", "IN", "BETWEEN", "S_INTERSECTS", "POINT",
                "POLYGON", "GEOMETRYCOLLECTION", "BBOX", "1e9", "-", ".", "DATE", "CASEI", "geometry", "ø", "\\", "{", "}",
                "\"op\":", "\"args\":[", "]", "null", "Z", "\u{0}",
            ]),
            0..40,
        ),
    ) {
        for filter in [noise, parts.concat(), parts.join(" ")] {
            for language in Language::ALL {
                let _ = Filter::parse(&filter, language, Collection::Prints, OutputCrs::Crs84);
            }
        }
    }
}
