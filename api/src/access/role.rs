//! What somebody may do.

use std::fmt;
use std::str::FromStr;

/// What somebody may do, each role with all that those before it may.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Role {
    /// Reads sites whatever their place policy is.
    Reader,
    /// Brings in sheets, and changes surfaces and what is on them.
    Contributor,
    /// Answers for a site: changes its own record, its place policy with it.
    Steward,
    /// Makes and removes sites; may do everything everywhere.
    Admin,
}

impl Role {
    /// All of them, the least first.
    pub const ALL: [Self; 4] = [Self::Reader, Self::Contributor, Self::Steward, Self::Admin];

    /// Its name.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Reader => "reader",
            Self::Contributor => "contributor",
            Self::Steward => "steward",
            Self::Admin => "admin",
        }
    }
}

impl fmt::Display for Role {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.name())
    }
}

/// A word that is no role.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("a role is reader, contributor, steward or admin")]
pub struct NoRole;

impl FromStr for Role {
    type Err = NoRole;

    fn from_str(text: &str) -> Result<Self, NoRole> {
        let found = Self::ALL.into_iter().find(|role| role.name() == text);
        found.ok_or(NoRole)
    }
}
