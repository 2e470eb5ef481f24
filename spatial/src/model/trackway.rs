//! Trackways.

use super::{Label, named};
use serde::{Deserialize, Serialize};

named!(
    /// Where a trackway comes from.
    Basis {
        /// The field party saw it.
        Field = "field",
        /// The grouping of prints proposed it.
        Grouping = "grouping",
        /// It joins trackways across an interruption.
        Continuation = "continuation",
        /// Somebody drew it by hand.
        Editor = "editor",
    }
);
named!(
    /// What its steward holds of a trackway.
    Status {
        /// Nobody has judged it yet.
        Proposed = "proposed",
        /// It stands.
        Accepted = "accepted",
        /// It was judged wrong, or was replaced by a later proposal.
        Rejected = "rejected",
    }
);

/// The prints of one animal in walking order.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Trackway {
    /// The label on the surface.
    pub label: Label,
    /// The labels of its prints in walking order, manus prints included.
    pub prints: Vec<Label>,
    /// Where it comes from.
    pub basis: Basis,
    /// What its steward holds of it.
    pub status: Status,
    /// The probability that these prints are one animal's, 0 to 1.
    pub probability: Option<f64>,
    /// The kind of its prints.
    pub morphotype: Option<String>,
    /// Anything else.
    pub note: Option<String>,
    /// Who accepted or rejected it; `None` where nobody has judged it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub judged_by: Option<String>,
    /// The revision of this record, counted from 1; 0 while it is not stored.
    #[serde(default)]
    pub revision: u32,
}
