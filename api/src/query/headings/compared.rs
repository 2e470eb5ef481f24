//! Tests between groups.

use super::summed::Summed;
use crate::feature::Feature;
use serde_json::{Value, json};
use spatial::circular::{
    Chance, Directions, Outcome, mardia_watson_wheeler, pairs, watson_two_sample, watson_williams,
};

/// A group needs so many directions to be compared with others.
const LEAST: usize = 2;
/// With more groups than this, pairs are not tried one by one: after correction hardly any could differ.
const MOST_IN_PAIRS: usize = 20;
/// With more groups than this there is no comparison.
const MOST: usize = 1_000;

/// Between the groups: one mean, one distribution, and each two of them. `None` where there are fewer than two groups.
pub(super) fn compare(summed: &[Summed], chance: &Chance) -> Option<Feature> {
    let groups: Vec<&Summed> = summed.iter().filter(|group| group.name.is_some()).collect();
    let (compared, left_out): (Vec<&Summed>, Vec<&Summed>) =
        groups.iter().partition(|group| group.directions.n() >= LEAST);
    let names = |groups: &[&Summed]| json!(groups.iter().map(|group| group.name).collect::<Vec<_>>());
    let feature = Feature::part("summary", None)
        .with("between", names(&compared))
        .with("left_out", names(&left_out));
    match compared.len() {
        _ if groups.len() < 2 => None,
        0 | 1 => Some(feature.with(
            "not_enough_data",
            "fewer than two groups have two directions or more",
        )),
        count if count > MOST => Some(feature.with(
            "not_enough_data",
            format!("more than {MOST} groups are not compared"),
        )),
        _ => Some(tested(feature, &compared, chance)),
    }
}

fn tested(feature: Feature, groups: &[&Summed], chance: &Chance) -> Feature {
    let directions: Vec<&Directions> = groups.iter().map(|group| &group.directions).collect();
    let n: usize = directions.iter().map(|group| group.n()).sum();
    let chance = Chance {
        permutations: permutations(n, chance.permutations),
        ..*chance
    };
    let scores: Outcome = mardia_watson_wheeler(&directions, &chance).into();
    let feature = feature
        .with("n", n)
        .with("watson_williams", watson_williams_told(&directions, &chance))
        .with("mardia_watson_wheeler", json!(scores));
    match directions[..] {
        [one, other] => {
            let two: Outcome = watson_two_sample(one, other, &chance).into();
            feature.with("watson_two_sample", json!(two))
        }
        _ if directions.len() <= MOST_IN_PAIRS => {
            feature.with("pairs", pairs_told(groups, &directions, &chance))
        }
        _ => feature,
    }
}

/// Permutations cost time for each direction: of many directions fewer are drawn, and `p_method` tells how many.
fn permutations(n: usize, most: u32) -> u32 {
    const WORK: usize = 200_000_000;
    const FEWEST: u32 = 999;
    u32::try_from(WORK / n.max(1))
        .unwrap_or(u32::MAX)
        .clamp(FEWEST.min(most), most)
}

fn watson_williams_told(directions: &[&Directions], chance: &Chance) -> Value {
    match watson_williams(directions, chance) {
        Ok(found) => {
            let mut told = json!(Outcome::Made(found.test));
            told["within_r_bar"] = json!(found.within_r_bar);
            told["equal_concentration"] = json!(found.equal_concentration);
            told["cautions"] = json!(found.cautions);
            told
        }
        Err(why) => json!(Outcome::NotMade(why)),
    }
}

fn pairs_told(groups: &[&Summed], directions: &[&Directions], chance: &Chance) -> Value {
    let told = pairs(directions, chance).into_iter().map(|pair| {
        json!({
            "first": groups[pair.first].name,
            "second": groups[pair.second].name,
            "watson_two_sample": pair.watson_two_sample,
            "p_corrected": pair.p_corrected,
        })
    });
    told.collect()
}
