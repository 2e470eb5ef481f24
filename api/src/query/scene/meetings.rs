//! Who went side by side, who along whose line, where paths meet, and what came first.

use super::statement::{Statement, Strength, counted, p_told};
use super::{Input, Walked};
use crate::query::encounters::walked::line;
use spatial::encounter::{
    Bearing, COMPANIONS_CAUTION, CONVERGENCE_CAUTION, CROSSINGS_CAUTION, Companion, CompanionOptions,
    Contact, ConvergenceOptions, Evidence, FOLLOWERS_CAUTION, First, Focus, FollowOrder, Follower,
    FollowerOptions, ORDER_CAUTION, Order, PairTrials, Relation, companions, convergence, crossings,
    followers,
};
use spatial::model::{ExtentKind, Label};

/// No more statements than so many of one kind: the query behind them gives all.
const MOST: usize = 25;

/// Companions and followers, from one set of trials.
pub(super) fn side_by_side(walked: &Walked, input: &Input) -> Vec<Statement> {
    if walked.paths.len() < 2 {
        return Vec::new();
    }
    let tried = PairTrials::run(&walked.paths, walked.exposed.as_ref(), input.trials());
    let beside = companions(
        &walked.paths,
        &tried,
        &walked.overprints.overlying(),
        &CompanionOptions::default(),
    );
    let options = FollowerOptions {
        trials: input.trials(),
        ..FollowerOptions::default()
    };
    let behind = followers(&walked.paths, &tried, &walked.overprints.overlying(), &options);
    let mut statements: Vec<Statement> = Vec::new();
    if beside.pairs.is_empty() {
        statements.extend(
            beside
                .surface
                .as_ref()
                .map(|surface| nothing("companions", "run side by side", surface.p, input)),
        );
    }
    statements.extend(
        beside
            .groups
            .iter()
            .filter(|group| group.trackways.len() > 2)
            .map(|group| {
                let p = group.p_corrected_largest;
                let says = format!("{} go side by side.", listed(&group.trackways));
                Statement::against_chance("companions", (p, p), &says, COMPANIONS_CAUTION)
                    .of(walked.ids(&group.trackways))
                    .by_query("companions", &input.drawn())
            }),
    );
    statements.extend(
        beside
            .pairs
            .iter()
            .take(MOST)
            .map(|pair| companion(walked, pair, input)),
    );
    if behind.pairs.is_empty() {
        statements.extend(
            behind
                .surface
                .as_ref()
                .map(|surface| nothing("followers", "go along another's line", surface.p, input)),
        );
    }
    statements.extend(
        behind
            .pairs
            .iter()
            .take(MOST)
            .map(|pair| follower(walked, pair, input)),
    );
    statements
}

/// Nothing was found, and how the surface as a whole stands.
fn nothing(about: &'static str, what: &str, p: f64, input: &Input) -> Statement {
    let says = format!(
        "No trackways {what} more than chance gives (surface as a whole: {}).",
        p_told(p)
    );
    let mut statement = Statement::new(
        about,
        Strength::Weak,
        says,
        "What is not found may have been lost with the rock.",
    );
    statement.p = Some(p);
    statement.by_query(about, &input.drawn())
}

fn companion(walked: &Walked, pair: &Companion, input: &Input) -> Statement {
    let [one, other] = &pair.trackways;
    let (p, p_corrected) = pair
        .chance
        .as_ref()
        .map_or((1.0, 1.0), |chance| (chance.chance.p, chance.chance.p_corrected));
    let mut says = format!(
        "{one} and {other} run side by side for {:.1} m, {:.1} m apart ({}, corrected {p_corrected:.3}).",
        walked.ground_m(pair.length_m),
        walked.ground_m(pair.spacing_mean_m),
        p_told(p)
    );
    says += &at_one_time(&pair.evidence);
    if let Some(ratio) = pair
        .foot_ratio
        .map(|ratio| ratio.max(1.0 / ratio))
        .filter(|ratio| *ratio >= GROWN)
    {
        says += &format!(" The feet of one are {ratio:.1} times as long as the other's.");
    }
    Statement::against_chance("companions", (p, p_corrected), &says, COMPANIONS_CAUTION)
        .at(line(&pair.line_m))
        .of(walked.ids(&pair.trackways))
        .by_query("companions", &input.drawn())
        .by_records("trackways", walked.ids(&pair.trackways))
}

/// From here on a ratio of foot lengths is worth telling. Common practice: a third more is another age or sex.
const GROWN: f64 = 1.33;

/// What bears on one time, in one sentence.
fn at_one_time(evidence: &[Evidence]) -> String {
    let of = |bearing: Bearing| evidence.iter().filter(|one| one.bearing == bearing).count();
    let (supporting, weakly, against) = (of(Bearing::For), of(Bearing::WeaklyFor), of(Bearing::Against));
    match (supporting, weakly, against) {
        (0, 0, 0) => " Nothing bears on whether they went at one time.".to_owned(),
        _ => format!(
            " For one time speak {}, weakly {}, against it {}.",
            counted(supporting, "finding", "findings"),
            counted(weakly, "finding", "findings"),
            counted(against, "finding", "findings")
        ),
    }
}

fn follower(walked: &Walked, pair: &Follower, input: &Input) -> Statement {
    let chance = &pair.chance.chance;
    let order = match pair.order {
        FollowOrder::Later => "its prints lie over the other's, so it came later",
        FollowOrder::AboutOneTime => {
            "each treads on the other, so they came at about one time or an overprint was misread"
        }
        FollowOrder::Unknown => "which came first is not known",
    };
    let says = format!(
        "{} goes along the line of {} for {:.1} m, {:.2} m off it; {order} ({}, corrected {:.3}).",
        pair.follower,
        pair.leader,
        walked.ground_m(pair.on_follower_m[1] - pair.on_follower_m[0]),
        walked.ground_m(pair.offset_mean_m.abs()),
        p_told(chance.p),
        chance.p_corrected
    );
    let both = [&pair.follower, &pair.leader];
    Statement::against_chance(
        "followers",
        (chance.p, chance.p_corrected),
        &says,
        FOLLOWERS_CAUTION,
    )
    .at(line(&pair.line_m))
    .of(walked.ids(both))
    .by_query("followers", &input.drawn())
    .by_records("trackways", walked.ids(both))
}

/// Where paths meet beyond their ends, and where they came from.
pub(super) fn foci(walked: &Walked, input: &Input) -> Vec<Statement> {
    let mut statements = Vec::new();
    for backward in [false, true] {
        let options = ConvergenceOptions {
            backward,
            trials: input.trials(),
            ..ConvergenceOptions::default()
        };
        let found = convergence(
            &walked.index,
            walked.index.surroundings(),
            &walked.paths,
            &options,
        );
        let seldom: Vec<&Focus> = found
            .foci
            .iter()
            .filter(|focus| focus.chance.p <= SELDOM)
            .take(MOST)
            .collect();
        if seldom.is_empty() {
            let what = if backward {
                "come from one place"
            } else {
                "lead to one place"
            };
            let said = found
                .strongest
                .as_ref()
                .map(|strongest| nothing("convergence", what, strongest.p, input));
            statements.extend(said);
        }
        statements.extend(
            seldom
                .into_iter()
                .map(|focus| of_focus(walked, focus, backward, input)),
        );
    }
    statements
}

/// Places that chance gives more often are not told in a scene.
const SELDOM: f64 = 0.05;

fn of_focus(walked: &Walked, focus: &Focus, backward: bool, input: &Input) -> Statement {
    let members: Vec<Label> = focus
        .members
        .iter()
        .map(|member| member.trackway.clone())
        .collect();
    let nearest = focus
        .members
        .iter()
        .map(|member| member.distance_m)
        .fold(f64::INFINITY, f64::min);
    let place = match focus.in_extent.kind {
        ExtentKind::Exposed => "on exposed rock, where something could be looked for",
        ExtentKind::Covered => "under cover: a target",
        ExtentKind::Eroded => "where the rock is gone",
        ExtentKind::Unmapped => "where nobody mapped",
    };
    let says = format!(
        "{} {} one place, {:.1} m from the nearest of them (known to {:.1} m), {place} ({}, corrected {:.3}).",
        listed(&members),
        if backward { "come from" } else { "lead to" },
        walked.ground_m(nearest),
        walked.ground_m(focus.radius_95 * focus.sd_major_m),
        p_told(focus.chance.p),
        focus.chance.p_corrected
    );
    let mut asked = input.drawn();
    asked.push(("backward", backward.to_string()));
    let odds = (focus.chance.p, focus.chance.p_corrected);
    Statement::against_chance(
        if backward { "origin" } else { "convergence" },
        odds,
        &says,
        CONVERGENCE_CAUTION,
    )
    .at(Some(geo::Point::from(focus.position_m).into()))
    .of(walked.ids(&members))
    .by_query("convergence", &asked)
}

/// What overprints tell of the order, and how many crossings there are.
pub(super) fn order(walked: &Walked, input: &Input) -> Vec<Statement> {
    let found = crossings(&walked.index, &walked.paths, &walked.overprints);
    let order = Order::of(&walked.overprints);
    let crossing = found.iter().filter(|one| one.contact == Contact::Crosses);
    let (all, known) = crossing.fold((0, 0), |(all, known), one| {
        (all + 1, known + usize::from(one.first != First::Unknown))
    });
    let mut statements = Vec::new();
    if all > 0 {
        let says = format!(
            "Trackways cross at {}; at {known} of them an overprint tells which came first.",
            counted(all, "place", "places")
        );
        let statement = Statement::new("crossings", Strength::Strong, says, CROSSINGS_CAUTION);
        statements.push(statement.by_query("crossings", &input.asked()));
    }
    for set in &order.contradictions {
        let says = format!(
            "The overprints of {} contradict each other: each would have come before itself. Look at them again, or the animals were \
             there at about one time.",
            listed(set)
        );
        let statement = Statement::new("order", Strength::Weak, says, ORDER_CAUTION);
        statements.push(
            statement
                .of(walked.ids(set))
                .by_query("crossings", &input.asked()),
        );
    }
    let sure = order.relations.iter().filter(|relation| !relation.contradicted);
    statements.extend(sure.take(MOST).map(|relation| later(walked, relation, input)));
    statements
}

fn later(walked: &Walked, relation: &Relation, input: &Input) -> Statement {
    let Relation { earlier, later, .. } = relation;
    let says = format!(
        "{later} came after {earlier}: {} into prints of {earlier}.",
        counted(relation.overprints, "of its prints cuts", "of its prints cut")
    );
    let prints = walked
        .overprints
        .by(later, earlier)
        .iter()
        .flatten()
        .map(|no| walked.print_id(*no));
    Statement::new("order", Strength::Strong, says, ORDER_CAUTION)
        .of(walked.ids([earlier, later]))
        .by_query("crossings", &input.asked())
        .by_records("prints", prints)
}

/// Labels as they stand in a sentence; no more than a reader takes in.
fn listed(labels: &[Label]) -> String {
    const MOST_NAMED: usize = 8;
    let names: Vec<&str> = labels.iter().map(Label::as_str).collect();
    match names.as_slice() {
        [] => "None".to_owned(),
        [one] => (*one).to_owned(),
        all if all.len() > MOST_NAMED => {
            format!(
                "{} and {} more",
                all[..MOST_NAMED].join(", "),
                all.len() - MOST_NAMED
            )
        }
        [first @ .., last] => format!("{} and {last}", first.join(", ")),
    }
}
