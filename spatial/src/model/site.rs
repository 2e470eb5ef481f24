//! Sites.

use super::{LocalGrid, Slug, named};
use serde::{Deserialize, Serialize};

named!(
    /// What a stranger may learn of a site's place.
    PlacePolicy {
        /// Everything is public.
        Open = "open",
        /// The public sees the cell of a fixed grid and counts.
        Generalised = "generalised",
        /// The site does not exist for the public.
        Closed = "closed",
    }
);

/// A locality under one steward, with one projected CRS.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Site {
    /// The readable id.
    pub slug: Slug,
    /// The name in words.
    pub name: String,
    /// The EPSG code of a projected CRS with metre axes.
    pub crs: u32,
    /// The country, as its steward writes it.
    pub country: Option<String>,
    /// Who answers for the site.
    pub steward: Option<String>,
    /// The licence of its data.
    pub licence: Option<String>,
    /// How to cite it.
    pub citation: Option<String>,
    /// What strangers may learn of its place.
    pub policy: PlacePolicy,
    /// The geological formation.
    pub formation: Option<String>,
    /// The geological age.
    pub age: Option<String>,
    /// The field party's own grid on the rock, where there is one and it is tied to the CRS.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub local_grid: Option<LocalGrid>,
    /// The revision of this record, counted from 1; 0 while it is not stored.
    #[serde(default)]
    pub revision: u32,
}

impl Site {
    /// A site of which only the slug and the CRS are known; the name is the slug, the policy open.
    #[must_use]
    pub fn new(slug: Slug, crs: u32) -> Self {
        Self {
            name: slug.to_string(),
            slug,
            crs,
            country: None,
            steward: None,
            licence: None,
            citation: None,
            policy: PlacePolicy::Open,
            formation: None,
            age: None,
            local_grid: None,
            revision: 0,
        }
    }
}
