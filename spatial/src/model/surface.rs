//! Surfaces.

use super::Label;
use serde::{Deserialize, Serialize};

/// One bedding plane of a site; prints on different surfaces are never of one trackway.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Surface {
    /// The label on the site.
    pub label: Label,
    /// The name in words.
    pub name: Option<String>,
    /// The place in the section, counted from the bottom.
    pub order: Option<i32>,
    /// The strike, degrees clockwise from grid north, the dip to its right.
    pub strike_deg: Option<f64>,
    /// The dip, degrees below the horizontal.
    pub dip_deg: Option<f64>,
    /// The rock.
    pub lithology: Option<String>,
    /// Anything else.
    pub note: Option<String>,
    /// The revision of this record, counted from 1; 0 while it is not stored.
    #[serde(default)]
    pub revision: u32,
}

impl Surface {
    /// A surface of which only the label is known.
    #[must_use]
    pub fn new(label: Label) -> Self {
        Self {
            label,
            name: None,
            order: None,
            strike_deg: None,
            dip_deg: None,
            lithology: None,
            note: None,
            revision: 0,
        }
    }
}
