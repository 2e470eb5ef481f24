//! Ids: readable, stable and checked once, where they are made.

use serde::{Deserialize, Serialize};
use std::fmt;
use std::str::FromStr;

/// Why a text is no id.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum IdFault {
    /// A site's slug has the wrong form.
    #[error("{0:?} is no site: expected 1 to 63 of a-z, 0-9 and hyphen, the first no hyphen")]
    Slug(String),
    /// A label has the wrong form.
    #[error(
        "{0:?} is no label: expected 1 to 63 letters (A-Z, a-z), digits, dots, underscores or hyphens, the first a letter or digit"
    )]
    Label(String),
    /// An id has too few or too many parts.
    #[error("{given:?} is no id of that kind: expected {expected}")]
    Parts {
        /// What was given.
        given: String,
        /// An example of the right form.
        expected: &'static str,
    },
}

const LONGEST: usize = 63;

macro_rules! text_id {
    ($(#[$doc:meta])* $kind:ident, $fault:ident, $first:expr, $rest:expr) => {
        $(#[$doc])*
        #[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
        #[serde(try_from = "String", into = "String")]
        pub struct $kind(Box<str>);

        impl $kind {
            /// The text itself.
            #[must_use]
            pub fn as_str(&self) -> &str {
                &self.0
            }
        }

        impl FromStr for $kind {
            type Err = IdFault;

            fn from_str(text: &str) -> Result<Self, IdFault> {
                let (first, rest): (fn(u8) -> bool, fn(u8) -> bool) = ($first, $rest);
                let fits = text.len() <= LONGEST
                    && text.bytes().next().is_some_and(first)
                    && text.bytes().all(rest);
                if fits { Ok(Self(text.into())) } else { Err(IdFault::$fault(shortened(text))) }
            }
        }

        impl TryFrom<String> for $kind {
            type Error = IdFault;
            fn try_from(text: String) -> Result<Self, IdFault> {
                text.parse()
            }
        }

        impl From<$kind> for String {
            fn from(id: $kind) -> String {
                id.0.into()
            }
        }

        impl fmt::Display for $kind {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.pad(&self.0)
            }
        }
    };
}

text_id!(
    /// A site's slug: `[a-z0-9][a-z0-9-]{0,62}`.
    Slug,
    Slug,
    |b| b.is_ascii_lowercase() || b.is_ascii_digit(),
    |b| b.is_ascii_lowercase() || b.is_ascii_digit() || b == b'-'
);
text_id!(
    /// The label of a surface, print, trackway or extent: `[A-Za-z0-9][A-Za-z0-9._-]{0,62}`.
    Label,
    Label,
    |b| b.is_ascii_alphanumeric(),
    |b| b.is_ascii_alphanumeric() || matches!(b, b'.' | b'_' | b'-')
);

impl Label {
    /// The first of all labels in their order.
    #[must_use]
    pub fn first() -> Self {
        Self("0".into())
    }
}

/// A fault's message must not repeat a whole novel that stood in a cell.
fn shortened(text: &str) -> String {
    let mut short: String = text.chars().take(80).collect();
    if short.len() < text.len() {
        short.push('…');
    }
    short
}

/// A surface's id: `gannet-ledge:S2`.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct SurfaceId {
    /// The site.
    pub site: Slug,
    /// The surface's label on its site.
    pub label: Label,
}

impl FromStr for SurfaceId {
    type Err = IdFault;

    fn from_str(text: &str) -> Result<Self, IdFault> {
        let (site, label) = text.split_once(':').ok_or_else(|| IdFault::Parts {
            given: shortened(text),
            expected: "site:surface, as in gannet-ledge:S2",
        })?;
        Ok(Self {
            site: site.parse()?,
            label: label.parse()?,
        })
    }
}

impl fmt::Display for SurfaceId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}:{}", self.site, self.label)
    }
}

macro_rules! member_id {
    ($(#[$doc:meta])* $kind:ident, $example:literal) => {
        $(#[$doc])*
        #[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
        #[serde(try_from = "String", into = "String")]
        pub struct $kind {
            /// The surface.
            pub surface: SurfaceId,
            /// The label on that surface.
            pub label: Label,
        }

        impl FromStr for $kind {
            type Err = IdFault;

            fn from_str(text: &str) -> Result<Self, IdFault> {
                match text.rsplit_once(':') {
                    Some((surface, label)) if surface.contains(':') => {
                        Ok(Self { surface: surface.parse()?, label: label.parse()? })
                    }
                    _ => Err(IdFault::Parts { given: shortened(text), expected: $example }),
                }
            }
        }

        impl fmt::Display for $kind {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                write!(f, "{}:{}", self.surface, self.label)
            }
        }

        as_text!($kind);
    };
}

macro_rules! as_text {
    ($kind:ident) => {
        impl TryFrom<String> for $kind {
            type Error = IdFault;
            fn try_from(text: String) -> Result<Self, IdFault> {
                text.parse()
            }
        }

        impl From<$kind> for String {
            fn from(id: $kind) -> String {
                id.to_string()
            }
        }
    };
}

as_text!(SurfaceId);
member_id!(
    /// A print's id: `gannet-ledge:S2:P014`.
    PrintId,
    "site:surface:print, as in gannet-ledge:S2:P014"
);
member_id!(
    /// A trackway's id: `gannet-ledge:S2:T4`.
    TrackwayId,
    "site:surface:trackway, as in gannet-ledge:S2:T4"
);
member_id!(
    /// An extent's id: `gannet-ledge:S2:E1`.
    ExtentId,
    "site:surface:extent, as in gannet-ledge:S2:E1"
);

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ids_read_back_as_written() {
        let id: PrintId = "gannet-ledge:S2:P014".parse().unwrap();
        assert_eq!(id.surface.site.as_str(), "gannet-ledge");
        assert_eq!(id.to_string(), "gannet-ledge:S2:P014");
    }

    #[test]
    fn slugs_and_labels_have_their_letters_and_lengths() {
        for good in ["a", "0", "gannet-ledge", &"a".repeat(63)] {
            assert!(good.parse::<Slug>().is_ok(), "{good}");
        }
        for bad in ["", "-a", "Gannet", "a_b", "é", &"a".repeat(64), "a:b"] {
            assert!(bad.parse::<Slug>().is_err(), "{bad}");
        }
        for good in ["P014", "1", "a.b_c-d", &"Z".repeat(63)] {
            assert!(good.parse::<Label>().is_ok(), "{good}");
        }
        for bad in ["", ".a", "_a", "a b", "a:b", "ä", &"Z".repeat(64)] {
            assert!(bad.parse::<Label>().is_err(), "{bad}");
        }
    }

    #[test]
    fn a_member_id_needs_three_parts() {
        assert!("gannet-ledge:S2".parse::<PrintId>().is_err());
        assert!("a:b:c:d".parse::<PrintId>().is_err());
        assert!("gannet-ledge".parse::<SurfaceId>().is_err());
    }
}
