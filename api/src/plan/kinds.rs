//! Morphotypes told apart by ink: lightness and pattern first, hue second.

use super::legend::{Row, Section};
use super::outlines::print_shape;
use super::print_key::sample;
use super::prints::{RIM, outline_marks};
use crate::catalogue::Morphotypes;
use crate::ink::{Escaped, Px, fitted, grouped};
use spatial::model::{Print, Side};
use std::collections::{HashMap, HashSet};

/// How a class of prints is inked.
struct Ink {
    /// The fill of the inked part of an outline.
    fill: Fill,
    /// The colour of marks too small for a fill; dark enough to be seen as a thin line.
    line: &'static str,
}

enum Fill {
    Plain(&'static str),
    /// The name of a pattern, and what one tile of it, 4 by 4, is drawn with.
    Pattern(&'static str, &'static str),
}

/// The plain inks have the lightness (CIE L*) 18, 77 and 49, so that the most frequent kinds differ most in
/// greyscale; the further ones are patterns. Dark blue, ochre and teal stay apart for all common kinds of
/// colour-blindness.
const NAMED: [Ink; 4] = [
    Ink {
        fill: Fill::Plain("#2a2360"),
        line: "#2a2360",
    },
    Ink {
        fill: Fill::Plain("#ecb44d"),
        line: "#b3720f",
    },
    Ink {
        fill: Fill::Plain("#2c7f86"),
        line: "#2c7f86",
    },
    Ink {
        fill: Fill::Pattern(
            "bars",
            r##"<path d="M0 1.2h4" stroke="#7c1f52" stroke-width="2.2"/>"##,
        ),
        line: "#7c1f52",
    },
];
const OTHER: Ink = Ink {
    fill: Fill::Pattern(
        "net",
        r##"<path d="M0 0l4 4M4 0l-4 4" stroke="#4a4a4a" stroke-width=".8"/>"##,
    ),
    line: "#6a6a6a",
};
const UNNAMED: Ink = Ink {
    fill: Fill::Pattern(
        "rain",
        r##"<path d="M.7 0v4M2.7 0v4" stroke="#77726a" stroke-width=".6"/>"##,
    ),
    line: "#8f8b83",
};
/// Where no print has a morphotype there is nothing to tell apart, and light ink would only be hard to see.
const ONLY: Ink = Ink {
    fill: Fill::Plain("#3b4450"),
    line: "#3b4450",
};

/// A class of prints with one ink: a place in `0..CLASSES`.
pub(super) type Class = usize;
const CLASS_OTHER: Class = NAMED.len();
const CLASS_UNNAMED: Class = NAMED.len() + 1;
/// How many classes there are.
pub(super) const CLASSES: usize = NAMED.len() + 2;

/// The morphotypes of a surface, the most frequent first.
pub(super) struct Kinds<'a> {
    named: Vec<(&'a str, usize)>,
    others: (usize, usize),
    unnamed: usize,
    classes: HashMap<&'a str, Class>,
    prefix: &'a str,
}

impl<'a> Kinds<'a> {
    /// The inks of a surface's morphotypes; `prefix` starts the ids of the patterns.
    pub(super) fn of(morphotypes: &'a Morphotypes, prefix: &'a str) -> Self {
        let named = morphotypes.named.iter().map(|(name, count)| (&**name, *count));
        let mut named: Vec<(&str, usize)> = named.collect();
        let rest = named.split_off(named.len().min(NAMED.len()));
        let classes = named
            .iter()
            .enumerate()
            .map(|(class, (name, _))| (*name, class))
            .collect();
        let others = (rest.len(), rest.iter().map(|(_, count)| count).sum());
        Self {
            named,
            others,
            unnamed: morphotypes.unnamed,
            classes,
            prefix,
        }
    }

    /// The inks of a whole surface, with the counts of a part of it: a kind looks alike on both pictures.
    pub(super) fn of_part(all: &'a Morphotypes, part: &[Print], prefix: &'a str) -> Self {
        let mut kinds = Self::of(all, prefix);
        let mut counts = [0; CLASSES];
        let mut others: HashSet<&str> = HashSet::new();
        for print in part {
            let class = kinds.class(print);
            counts[class] += 1;
            if class == CLASS_OTHER {
                others.extend(print.morphotype.as_deref());
            }
        }
        for (class, (_, count)) in kinds.named.iter_mut().enumerate() {
            *count = counts[class];
        }
        kinds.others = (others.len(), counts[CLASS_OTHER]);
        kinds.unnamed = counts[CLASS_UNNAMED];
        kinds
    }

    /// The class of a print.
    pub(super) fn class(&self, print: &Print) -> Class {
        match print.morphotype.as_deref() {
            Some(name) => self.classes.get(name).copied().unwrap_or(CLASS_OTHER),
            None => CLASS_UNNAMED,
        }
    }

    fn ink(&self, class: Class) -> &'static Ink {
        match class {
            CLASS_OTHER => &OTHER,
            CLASS_UNNAMED if self.named.is_empty() => &ONLY,
            CLASS_UNNAMED => &UNNAMED,
            named => &NAMED[named],
        }
    }

    /// The value of `fill` for a class.
    pub(super) fn fill(&self, class: Class) -> String {
        match self.ink(class).fill {
            Fill::Plain(colour) => colour.to_owned(),
            Fill::Pattern(name, _) => format!("url(#{}-{name})", Escaped(self.prefix)),
        }
    }

    /// The colour of thin marks of a class.
    pub(super) fn line(&self, class: Class) -> &'static str {
        self.ink(class).line
    }

    /// The patterns that fills refer to.
    pub(super) fn patterns(&self) -> String {
        let used = (0..CLASSES).filter(|class| self.count(*class) > 0);
        used.filter_map(|class| match self.ink(class).fill {
            Fill::Plain(_) => None,
            Fill::Pattern(name, tile) => Some(format!(
                "<pattern id=\"{}-{name}\" width=\"4\" height=\"4\" patternUnits=\"userSpaceOnUse\">\
                 <rect width=\"4\" height=\"4\" fill=\"#fffdf8\"/>{tile}</pattern>",
                Escaped(self.prefix)
            )),
        })
        .collect()
    }

    fn count(&self, class: Class) -> usize {
        match class {
            CLASS_OTHER => self.others.1,
            CLASS_UNNAMED => self.unnamed,
            named => self.named.get(named).map_or(0, |(_, count)| *count),
        }
    }

    /// The key to the inks; `None` where no print has a morphotype. `outlined` says whether prints are
    /// drawn with fills or as thin marks.
    pub(super) fn key(&self, outlined: bool) -> Option<Section> {
        let occurring: Vec<Class> = (0..CLASSES).filter(|class| self.count(*class) > 0).collect();
        if self.named.is_empty() || occurring.is_empty() {
            return None;
        }
        let rows = occurring.into_iter().map(|class| {
            let name = match class {
                CLASS_OTHER => format!("{} other kinds", self.others.0),
                CLASS_UNNAMED => "no morphotype recorded".to_owned(),
                named => fitted(self.named[named].0, Row::TEXT_SIZE, 190.0),
            };
            Row::of(
                self.swatch(class, outlined),
                &format!("{name} ({})", grouped(self.count(class) as i64)),
            )
        });
        Some(Section::new("Morphotypes", rows.collect()))
    }

    fn swatch(&self, class: Class, outlined: bool) -> String {
        if outlined {
            let (page, shape) = (Row::window(), print_shape(&sample(Some(0.0), Some(Side::Right))));
            format!(
                "<g {}>{}</g>",
                RIM,
                outline_marks(&page, &shape, &self.fill(class), true)
            )
        } else {
            let (size, at) = (Px(12.0), Px(12.0));
            format!(
                "<rect x=\"{at}\" y=\"{at}\" width=\"{size}\" height=\"{size}\" fill=\"{}\"/>",
                self.line(class)
            )
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn print(morphotype: Option<&str>) -> Print {
        let mut print = Print::new("P1".parse().unwrap(), 0.0, 0.0, 0.3);
        print.morphotype = morphotype.map(Into::into);
        print
    }

    #[test]
    fn the_most_frequent_kinds_get_their_own_ink_and_the_rest_share_one() {
        let names = ["b", "b", "a", "c", "d", "e", "f"];
        let mut prints: Vec<Print> = names.iter().map(|name| print(Some(name))).collect();
        prints.push(print(None));
        let morphotypes = Morphotypes::of(&prints);
        let kinds = Kinds::of(&morphotypes, "x");
        let classes: Vec<Class> = prints.iter().map(|print| kinds.class(print)).collect();
        assert_eq!(classes, [0, 0, 1, 2, 3, CLASS_OTHER, CLASS_OTHER, CLASS_UNNAMED]);
        assert_eq!(kinds.count(CLASS_OTHER), 2);
        assert!(kinds.patterns().contains("x-bars") && kinds.patterns().contains("x-net"));
    }

    #[test]
    fn a_part_has_the_inks_of_the_whole_and_its_own_counts() {
        let names = ["b", "b", "b", "a", "a", "c", "d", "e", "f"];
        let mut prints: Vec<Print> = names.iter().map(|name| print(Some(name))).collect();
        prints.push(print(None));
        let part: Vec<Print> = [3, 4, 7, 9].map(|i| prints[i].clone()).to_vec();
        let morphotypes = Morphotypes::of(&prints);
        let kinds = Kinds::of_part(&morphotypes, &part, "x");
        assert_eq!(
            kinds.class(&part[0]),
            1,
            "the second most frequent kind of the whole"
        );
        let counts: Vec<usize> = (0..CLASSES).map(|class| kinds.count(class)).collect();
        assert_eq!(counts, [0, 2, 0, 0, 1, 1]);
        assert_eq!(
            kinds.others.0, 1,
            "one other kind is here, two are on the surface"
        );
        assert!(!kinds.patterns().contains("x-bars"));
    }

    #[test]
    fn without_any_morphotype_there_is_no_key() {
        let prints = [print(None), print(None)];
        let morphotypes = Morphotypes::of(&prints);
        let kinds = Kinds::of(&morphotypes, "x");
        assert!(kinds.key(true).is_none());
        assert_eq!(kinds.fill(kinds.class(&prints[0])), "#3b4450");
    }
}
