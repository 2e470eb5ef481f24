use super::*;

fn summary(mean: f64, sd: f64, n: usize) -> Summary {
    Summary {
        mean: Some(mean),
        sd: (n > 1).then_some(sd),
        n,
    }
}

/// A trackway along a straight line of 20 m.
fn path(id: &str, kind: &str, length_m: f64, from: [f64; 2], heading_deg: f64) -> PathSummary {
    let (sine, cosine) = heading_deg.to_radians().sin_cos();
    PathSummary {
        id: id.parse().unwrap(),
        morphotype: Some(kind.into()),
        foot_length_m: summary(length_m, 0.02 * length_m, 12),
        stride_m: summary(4.0 * length_m, 0.1 * length_m, 10),
        heading_deg: Some(heading_deg),
        path_m: (0..=10)
            .map(|no| 2.0 * f64::from(no))
            .map(|m| [from[0] + m * sine, from[1] + m * cosine])
            .collect(),
        overlies: Vec::new(),
    }
}

fn counted(paths: &[PathSummary]) -> Individuals {
    count(paths, &Limits::default())
}

fn names(labels: &[Label]) -> Vec<&str> {
    labels.iter().map(Label::as_str).collect()
}

#[test]
fn kinds_and_sizes_are_counted_and_likes_are_not() {
    let found = counted(&[
        path("T1", "tridactyl", 0.30, [0.0, 0.0], 0.0),
        path("T2", "tridactyl", 0.31, [100.0, 0.0], 10.0),
        path("T3", "tridactyl", 0.55, [200.0, 0.0], 0.0),
        path("T4", "oval", 0.55, [300.0, 0.0], 0.0),
    ]);
    assert_eq!((found.surely.least, found.surely.suffice, found.most), (3, 3, 4));
    assert_eq!(found.surely.search, SearchEnd::Exact);
    let classes: Vec<_> = (found.classes.iter())
        .map(|class| {
            (
                class.morphotype.as_deref().unwrap(),
                class.size_class.unwrap(),
                names(&class.trackways),
                class.least,
            )
        })
        .collect();
    assert_eq!(
        classes,
        [
            ("oval", 1, vec!["T4"], 1),
            ("tridactyl", 1, vec!["T1", "T2"], 1),
            ("tridactyl", 2, vec!["T3"], 1)
        ]
    );
    // Three trackways that are all apart, and a reason for each two.
    assert_eq!(found.surely.pairs.len(), 3);
    assert!(found.surely.pairs.iter().all(|pair| !pair.reasons.is_empty()));
}

#[test]
fn a_crossing_in_another_direction_counts_only_if_none_came_back() {
    let paths = [
        path("T1", "tridactyl", 0.30, [0.0, 0.0], 0.0),
        path("T2", "tridactyl", 0.30, [-10.0, 10.0], 90.0),
        path("T3", "tridactyl", 0.30, [500.0, 10.0], 90.0),
    ];
    let found = counted(&paths);
    assert_eq!((found.surely.least, found.if_none_came_back.least), (1, 2));
    assert_eq!(names(&found.if_none_came_back.trackways), ["T1", "T2"]);
    assert_eq!(
        found.if_none_came_back.pairs[0].reasons,
        [Reason::DirectionInPlace { turn_deg: 90.0 }]
    );
    assert_eq!(
        (found.classes[0].least, found.classes[0].least_if_none_came_back),
        (1, 2)
    );
}

#[test]
fn strides_apart_in_one_place() {
    let slow = path("T1", "tridactyl", 0.30, [0.0, 0.0], 0.0);
    let mut fast = path("T2", "tridactyl", 0.30, [0.5, 0.0], 5.0);
    fast.stride_m = summary(3.0, 0.1, 8);
    let found = counted(&[slow.clone(), fast.clone()]);
    assert!(matches!(
        found.if_none_came_back.pairs[0].reasons[..],
        [Reason::GaitInPlace { .. }]
    ));
    fast.path_m.iter_mut().for_each(|at| at[0] += 50.0);
    assert_eq!(
        counted(&[slow, fast]).if_none_came_back.least,
        1,
        "elsewhere it may be the same animal"
    );
}

#[test]
fn each_on_the_other_were_there_together() {
    let mut first = path("T1", "tridactyl", 0.30, [0.0, 0.0], 0.0);
    let mut second = path("T2", "tridactyl", 0.30, [0.4, 0.0], 0.0);
    first.overlies = vec![second.id.clone()];
    assert_eq!(
        counted(&[first.clone(), second.clone()]).surely.least,
        1,
        "one after the other may be one animal"
    );
    second.overlies = vec![first.id.clone()];
    let found = counted(&[first, second]);
    assert_eq!(found.surely.least, 2);
    assert_eq!(found.surely.pairs[0].reasons, [Reason::Together]);
}

#[test]
fn single_prints_need_a_larger_difference() {
    let lone = |id, length_m| {
        let mut path = path(id, "tridactyl", length_m, [0.0, 0.0], 0.0);
        path.foot_length_m = summary(length_m, 0.0, 1);
        path.path_m.truncate(1);
        path
    };
    // 0.30 and 0.42 m: ln 1.4 = 0.336; lone prints √(2 · 0.01 + 2 · 0.0025) = 0.158 gives 2.1, rows of 12 give
    // 4.6.
    assert_eq!(counted(&[lone("T1", 0.30), lone("T2", 0.42)]).surely.least, 1);
    let rows = [
        path("T1", "tridactyl", 0.30, [0.0; 2], 0.0),
        path("T2", "tridactyl", 0.42, [0.0; 2], 0.0),
    ];
    assert_eq!(counted(&rows).surely.least, 2);
}

#[test]
fn unknown_things_make_no_animal() {
    let unknown = |id: &str| PathSummary {
        id: id.parse().unwrap(),
        morphotype: None,
        foot_length_m: Summary::default(),
        stride_m: Summary::default(),
        heading_deg: None,
        path_m: Vec::new(),
        overlies: Vec::new(),
    };
    assert_eq!(counted(&[]).surely.least, 0);
    let mut broken = unknown("T3");
    broken.foot_length_m = summary(f64::NAN, f64::NAN, 2);
    broken.heading_deg = Some(f64::NAN);
    broken.path_m = vec![[f64::NAN, 0.0]];
    let known = path("T4", "tridactyl", 0.3, [0.0, 0.0], 0.0);
    let found = counted(&[unknown("T1"), unknown("T2"), broken, known]);
    assert_eq!(
        (found.surely.least, found.if_none_came_back.least, found.most),
        (1, 1, 4)
    );
    assert_eq!(found.without_length, 3);
    let json = serde_json::to_string(&found).unwrap();
    assert!(!json.contains("NaN"), "{json}");
}
