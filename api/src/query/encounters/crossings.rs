//! `crossings`: where trackways cross, at what angle, and which came first where prints overlie.

use super::walked::{Walked, line};
use crate::crs::Crs;
use crate::feature::Feature;
use crate::query::{Answer, Method, North, Query, Refusal, World};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use serde_json::{Value, json};
use spatial::encounter::{
    CROSSINGS_CAUTION, Contact, Crossing, First, ORDER_CAUTION, Order, Path, crossings,
};

pub(in crate::query) struct Crossings;

#[derive(Debug, Serialize, Deserialize, JsonSchema)]
pub(in crate::query) struct Input {
    /// The surface, as in gannet-ledge:S2.
    surface: String,
    /// The north that azimuths are counted from.
    #[serde(default)]
    north: North,
    /// The CRS of the answer's coordinates, as in EPSG:25830; longitude and latitude where there is none.
    #[schemars(with = "String", default)]
    crs: Option<String>,
}

impl Query for Crossings {
    const ID: &'static str = "crossings";
    const TITLE: &'static str = "Where trackways cross, and which came first";
    const ABOUT: &'static str = "Every place that two standing trackways of a surface share: where, at what angle, between which \
        prints, and which came first where prints cut into others; and the order of all trackways that such overprints tell, with \
        the contradictions in it named.";
    type Input = Input;

    fn crs(input: &Input) -> Option<&str> {
        input.crs.as_deref()
    }

    fn answer(input: &Input, world: &World<'_>) -> Result<Answer, Refusal> {
        let walked = Walked::of(&input.surface, input.north, world)?;
        let found = crossings(&walked.index, &walked.paths, &walked.overprints);
        let order = Order::of(&walked.overprints);
        let mut features = vec![summary(&walked, &found, &order)];
        features.extend(found.iter().map(|crossing| focus(&walked, crossing)));
        features.extend(walked.paths.iter().map(|path| of_path(&walked, path, &order)));
        Ok(Answer {
            crs: Some(Crs::for_site(walked.index.crs())?),
            features,
            method: Method::new(
                "intersections of the trackways' midlines, and a partial order by overprints",
                "common practice for overprints; contradictions as strongly connected components (Tarjan 1972, SIAM Journal on \
                 Computing 1:146-160)",
            ),
            caution: format!("{CROSSINGS_CAUTION} {ORDER_CAUTION}"),
            picture: None,
        })
    }
}

fn summary(walked: &Walked, found: &[Crossing], order: &Order) -> Feature {
    let count = |contact: Contact| found.iter().filter(|one| one.contact == contact).count();
    let relations: Vec<Value> = (order.relations.iter())
        .map(|relation| {
            json!({
                "earlier": walked.id(&relation.earlier),
                "later": walked.id(&relation.later),
                "overprints": relation.overprints,
                "against": relation.against,
                "contradicted": relation.contradicted,
            })
        })
        .collect();
    let contradictions: Vec<Vec<String>> = order.contradictions.iter().map(|set| walked.ids(set)).collect();
    walked
        .summary()
        .with("crosses", count(Contact::Crosses))
        .with("touches", count(Contact::Touches))
        .with("shares", count(Contact::Shares))
        .with("order", relations)
        .with("contradictions", contradictions)
}

fn focus(walked: &Walked, crossing: &Crossing) -> Feature {
    let [one, other] = crossing.paths.map(|no| &walked.paths[no].trackway);
    let first = match crossing.first {
        First::One => Some(walked.id(one)),
        First::Other => Some(walked.id(other)),
        First::Both | First::Unknown => None,
    };
    let between: Vec<Vec<Option<String>>> = (crossing.between.iter())
        .map(|prints| prints.iter().map(|no| no.map(|no| walked.print_id(no))).collect())
        .collect();
    Feature::part("focus", Some(geo::Point::from(crossing.place_m).into()))
        .with("contact", contact(crossing.contact))
        .with("trackways", walked.ids([one, other]))
        .with("angle_deg", crossing.angle_rad.to_degrees())
        .with(
            "azimuths_deg",
            crossing.azimuths_rad.map(|rad| walked.azimuth_deg(rad)).to_vec(),
        )
        .with("along_m", walked.ground_both_m(crossing.along_m))
        .with("shared_m", walked.ground_m(crossing.shared_m))
        .with("between", json!(between))
        .with("first", first)
        .with("order", told(crossing.first))
        .with("overprints", walked.overprint_ids(&crossing.overprints))
}

fn contact(contact: Contact) -> &'static str {
    match contact {
        Contact::Crosses => "crosses",
        Contact::Touches => "touches",
        Contact::Shares => "shares",
    }
}

fn told(first: First) -> &'static str {
    match first {
        First::One | First::Other => "known",
        First::Both => "each treads on the other",
        First::Unknown => "unknown",
    }
}

fn of_path(walked: &Walked, path: &Path, order: &Order) -> Feature {
    let level = order.levels.iter().find(|(label, _)| *label == path.trackway);
    let relations = |of: fn(&spatial::encounter::Relation) -> [&spatial::model::Label; 2]| {
        let found = order
            .relations
            .iter()
            .map(of)
            .filter(|[own, _]| **own == path.trackway);
        walked.ids(found.map(|[_, other]| other))
    };
    Feature::part("path", line(&path.line_m))
        .with_id(walked.id(&path.trackway))
        .with("trackway", walked.id(&path.trackway))
        .with("made_after_at_least", level.map(|(_, level)| *level))
        .with(
            "after",
            relations(|relation| [&relation.later, &relation.earlier]),
        )
        .with(
            "before",
            relations(|relation| [&relation.earlier, &relation.later]),
        )
}
