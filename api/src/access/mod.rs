//! Who may see what.

mod jobs;

pub use jobs::NoAudience;

use spatial::model::{PlacePolicy, Site};

/// For whom a catalogue is made.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Audience {
    /// The people of this machine: the command line, and a service that only this machine can reach.
    Local,
    /// Strangers: a service that other machines can reach.
    Public,
}

impl Audience {
    /// Whether a site exists for this audience. Strangers see open sites only: a generalised site is
    /// held back whole, because less than its agreed generalisation would give away more than agreed.
    #[must_use]
    pub fn sees(self, site: &Site) -> bool {
        self == Self::Local || site.policy == PlacePolicy::Open
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn strangers_see_open_sites_only() {
        let mut site = Site::new("cove".parse().unwrap(), 25830);
        for (policy, seen) in [
            (PlacePolicy::Open, true),
            (PlacePolicy::Generalised, false),
            (PlacePolicy::Closed, false),
        ] {
            site.policy = policy;
            assert_eq!(Audience::Public.sees(&site), seen, "{policy}");
            assert!(Audience::Local.sees(&site));
        }
    }
}
