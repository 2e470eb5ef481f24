//! Who may see what.

use spatial::model::{PlacePolicy, Site};
use std::fmt;
use std::str::FromStr;

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

impl Audience {
    /// The name under which a job keeps for whom it is computed.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Local => "local",
            Self::Public => "public",
        }
    }

    /// Whether this asker may read a job that was computed for another one, once he knows its name.
    #[must_use]
    pub fn reads_jobs_of(self, owner: Self) -> bool {
        self == Self::Local || owner == Self::Public
    }

    /// Whether this asker may see which jobs there are. To strangers the names of other strangers' jobs would give away
    /// their results.
    #[must_use]
    pub fn lists_jobs(self) -> bool {
        self == Self::Local
    }

    /// How many jobs askers of this kind may have waiting.
    #[must_use]
    pub fn most_jobs(self) -> u64 {
        match self {
            Self::Local => 10_000,
            Self::Public => 100,
        }
    }
}

impl fmt::Display for Audience {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.as_str())
    }
}

/// A word that names no audience.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("an audience is local or public")]
pub struct NoAudience;

impl FromStr for Audience {
    type Err = NoAudience;

    fn from_str(text: &str) -> Result<Self, NoAudience> {
        let found = [Self::Local, Self::Public]
            .into_iter()
            .find(|audience| audience.as_str() == text);
        found.ok_or(NoAudience)
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
