//! Why each print is in its trackway: the score's parts, link by link.

use super::Explained;
use super::evidence::Member;
use super::scoring::{Model, Row};
use super::sets::Joined;
use super::terms::Terms;

/// The links of the midline as listed, then one link for each manus print.
pub(super) fn explain(model: &Model, joined: &Joined) -> Vec<Explained> {
    let mut explained = of_row(model, &joined.midline);
    explained.extend(of_set(model, joined));
    explained
}

/// What each print after the first adds, in the order in which the row is scored.
fn of_row(model: &Model, row: &Row) -> Vec<Explained> {
    let no = |member: Member| model.evidence.foot(member).no;
    let mut walk = model.start(row.prints[0]);
    let links = row.prints.windows(2).map(|pair| {
        let mut terms = Terms::default();
        model.take_into(&mut walk, pair[1], &mut terms);
        Explained {
            from: no(pair[0]),
            to: no(pair[1]),
            score: terms.sum(),
            terms: terms.named(),
        }
    });
    links.collect()
}

/// What speaks for the manus prints, all of them together: they belong to the midline or they do not.
fn of_set(model: &Model, joined: &Joined) -> Vec<Explained> {
    let no = |member: Member| model.evidence.foot(member).no;
    let mut steps = vec![0];
    for missing in &joined.midline.missing {
        steps.push(steps[steps.len() - 1] + 1 + i32::from(*missing));
    }
    let nearest = |step: i32| {
        let places = steps.iter().zip(&joined.midline.prints);
        places
            .min_by_key(|(other, _)| (**other - step).abs())
            .map_or(joined.midline.prints[0], |(_, member)| *member)
    };
    let links = joined.fore.iter().map(|(step, member)| Explained {
        from: no(nearest(*step)),
        to: no(*member),
        score: joined.odds,
        terms: joined.terms.clone(),
    });
    links.collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::grouping::evidence::Evidence;
    use crate::grouping::terms::{Tally, Term};
    use crate::grouping::{GroupingOptions, solving};
    use crate::simulate::Scenario;

    #[test]
    fn the_parts_of_all_links_are_the_row() {
        for scenario in [Scenario::medium(400), Scenario::hard(400)] {
            let index = crate::grouping::tests::index(scenario.simulate(3).contents);
            let evidence = Evidence::of(&index, &GroupingOptions::default()).unwrap();
            let (model, rows) = solving::solve(&evidence, 2);
            assert!(rows.len() > 5);
            for row in &rows {
                let links = of_row(&model, row);
                for link in &links {
                    let sum: f64 = link.terms.iter().map(|(_, value)| value).sum();
                    assert!((sum - link.score).abs() < 1e-9);
                }
                let sum: f64 = links.iter().map(|link| link.score).sum();
                let score = model.gait.ends + sum;
                assert!((score - row.score).abs() < 1e-6, "{score} for {}", row.score);
            }
        }
    }

    #[test]
    fn a_part_is_told_once() {
        let mut terms = Terms::default();
        terms.add(Term::Size, 1.0);
        terms.add(Term::Size, 0.5);
        terms.add(Term::Side, 0.0);
        assert_eq!(terms.named(), [("size", 1.5), ("sides alternate", 0.0)]);
    }
}
