//! One statement of a scene: what it says, how sure it is, and what it rests on.

use crate::feature::Feature;
use geo::Geometry;
use serde_json::{Value, json};

/// How well a statement stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Strength {
    /// It follows from what was recorded, or chance hardly gives it.
    Strong,
    /// Chance gives it seldom.
    Moderate,
    /// It is as it would be by chance, or nearly so.
    Weak,
}

impl Strength {
    /// By the p that is corrected for all that was tried. Common practice: 1 and 5 in 100.
    pub fn of_p(p_corrected: f64) -> Self {
        if p_corrected <= 0.01 {
            Self::Strong
        } else if p_corrected <= 0.05 {
            Self::Moderate
        } else {
            Self::Weak
        }
    }

    fn name(self) -> &'static str {
        match self {
            Self::Strong => "strong",
            Self::Moderate => "moderate",
            Self::Weak => "weak",
        }
    }
}

/// What is said of a surface.
#[derive(Debug, Clone)]
pub(super) struct Statement {
    /// What it is about, one word.
    pub about: &'static str,
    /// The sentence. One that is weak says so itself.
    pub says: String,
    pub strength: Strength,
    /// How probable it is, where that was found.
    pub probability: Option<f64>,
    /// How often chance gives as much, and the same corrected for what was tried.
    pub p: Option<f64>,
    pub p_corrected: Option<f64>,
    /// The ids of the trackways that it is about.
    pub trackways: Vec<String>,
    /// The queries and records that it rests on.
    pub evidence: Vec<Value>,
    /// Which assumption it needs.
    pub caution: &'static str,
    pub geometry: Option<Geometry<f64>>,
}

impl Statement {
    /// A statement without odds or place.
    pub fn new(about: &'static str, strength: Strength, says: String, caution: &'static str) -> Self {
        Self {
            about,
            says,
            strength,
            probability: None,
            p: None,
            p_corrected: None,
            trackways: Vec::new(),
            evidence: Vec::new(),
            caution,
            geometry: None,
        }
    }

    /// The same, as sure as odds against chance are; a weak one says so.
    pub fn against_chance(
        about: &'static str,
        (p, p_corrected): (f64, f64),
        says: &str,
        caution: &'static str,
    ) -> Self {
        let strength = Strength::of_p(p_corrected);
        let says = if strength == Strength::Weak {
            format!("Weak, not more than chance gives among all that was tried: {says}")
        } else {
            says.to_owned()
        };
        Self {
            p: Some(p),
            p_corrected: Some(p_corrected),
            ..Self::new(about, strength, says, caution)
        }
    }

    pub fn at(mut self, geometry: Option<Geometry<f64>>) -> Self {
        self.geometry = geometry;
        self
    }

    pub fn of(mut self, trackways: Vec<String>) -> Self {
        self.trackways = trackways;
        self
    }

    /// What a query answers, by its id and inputs.
    pub fn by_query(mut self, query: &str, inputs: &[(&str, String)]) -> Self {
        let asked: Vec<String> = inputs
            .iter()
            .map(|(name, value)| format!("{name}={value}"))
            .collect();
        self.evidence.push(json!({
            "query": query,
            "href": format!("/queries/{query}?{}", asked.join("&")),
            "title": format!("{query} {}", asked.join(" ")),
        }));
        self
    }

    /// Records by their ids.
    pub fn by_records(mut self, collection: &str, ids: impl IntoIterator<Item = String>) -> Self {
        self.evidence.extend(ids.into_iter().map(|id| {
            json!({
                "record": id,
                "href": format!("/collections/{collection}/items/{id}"),
                "title": id,
            })
        }));
        self
    }

    pub fn feature(self, rank: usize) -> Feature {
        Feature::part("statement", self.geometry)
            .with("rank", rank)
            .with("about", self.about)
            .with("says", self.says)
            .with("strength", self.strength.name())
            .with("probability", self.probability)
            .with("p", self.p)
            .with("p_corrected", self.p_corrected)
            .with("trackways", self.trackways)
            .with("evidence", self.evidence)
            .with("caution", self.caution)
    }
}

/// A p as it is said: no more digits than it deserves.
pub(super) fn p_told(p: f64) -> String {
    if p < 0.001 {
        "p < 0.001".to_owned()
    } else {
        format!("p = {p:.3}")
    }
}

/// A count with its noun.
pub(super) fn counted(count: usize, one: &str, many: &str) -> String {
    if count == 1 {
        format!("1 {one}")
    } else {
        format!("{count} {many}")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn weak_evidence_is_shown_as_weak() {
        let of = |p| Statement::against_chance("companions", (p, p), "T1 and T2 run side by side.", "");
        assert!(of(0.2).says.starts_with("Weak"));
        assert_eq!(of(0.2).strength, Strength::Weak);
        assert_eq!(of(0.03).strength, Strength::Moderate);
        assert_eq!(of(0.002).says, "T1 and T2 run side by side.");
    }
}
