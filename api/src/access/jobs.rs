//! For whom a job is computed: what it keeps of its asker, and what that asker may see of jobs.

use super::Audience;
use std::fmt;
use std::str::FromStr;

impl Audience {
    /// All of them.
    pub const ALL: [Self; 2] = [Self::Local, Self::Public];

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

    /// How many jobs that have ended are kept for askers of this kind, where there is a limit: strangers must not be able to
    /// fill the disk.
    #[must_use]
    pub fn most_kept(self) -> Option<u64> {
        match self {
            Self::Local => None,
            Self::Public => Some(1_000),
        }
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
        let found = Self::ALL.into_iter().find(|audience| audience.as_str() == text);
        found.ok_or(NoAudience)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_job_keeps_its_asker() {
        for audience in Audience::ALL {
            assert_eq!(audience.to_string().parse(), Ok(audience));
        }
        assert_eq!("everybody".parse::<Audience>(), Err(NoAudience));
    }

    #[test]
    fn strangers_read_no_jobs_of_this_machine() {
        assert!(Audience::Local.reads_jobs_of(Audience::Public));
        assert!(!Audience::Public.reads_jobs_of(Audience::Local));
    }
}
