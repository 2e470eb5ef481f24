//! Which record something is about.

use super::kept::Kind;
use spatial::model::{Label, Slug, SurfaceId};
use std::fmt;

/// Which record something is about: a history, a change.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum RecordId {
    /// A site.
    Site(Slug),
    /// A surface.
    Surface(SurfaceId),
    /// An extent.
    Extent(SurfaceId, Label),
    /// A print.
    Print(SurfaceId, Label),
    /// A trackway.
    Trackway(SurfaceId, Label),
}

impl RecordId {
    /// The site that it is of.
    #[must_use]
    pub fn site(&self) -> &Slug {
        match self {
            Self::Site(slug) => slug,
            Self::Surface(surface)
            | Self::Extent(surface, _)
            | Self::Print(surface, _)
            | Self::Trackway(surface, _) => &surface.site,
        }
    }

    /// Its kind and label, where it stands on a surface.
    pub(crate) fn member(&self) -> Option<(Kind, &Label)> {
        match self {
            Self::Site(_) | Self::Surface(_) => None,
            Self::Extent(_, label) => Some((Kind::Extent, label)),
            Self::Print(_, label) => Some((Kind::Print, label)),
            Self::Trackway(_, label) => Some((Kind::Trackway, label)),
        }
    }

    /// The id alone, as in `gannet-ledge:S2:P014`.
    #[must_use]
    pub fn plain(&self) -> String {
        match (self.surface(), self.member()) {
            (Some(surface), Some((_, label))) => format!("{surface}:{label}"),
            (Some(surface), None) => surface.to_string(),
            (None, _) => self.site().to_string(),
        }
    }

    /// The surface that it is or is on.
    #[must_use]
    pub fn surface(&self) -> Option<&SurfaceId> {
        match self {
            Self::Site(_) => None,
            Self::Surface(surface)
            | Self::Extent(surface, _)
            | Self::Print(surface, _)
            | Self::Trackway(surface, _) => Some(surface),
        }
    }
}

impl fmt::Display for RecordId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Site(slug) => write!(f, "site {slug}"),
            Self::Surface(id) => write!(f, "surface {id}"),
            Self::Extent(id, label) => write!(f, "extent {id}:{label}"),
            Self::Print(id, label) => write!(f, "print {id}:{label}"),
            Self::Trackway(id, label) => write!(f, "trackway {id}:{label}"),
        }
    }
}
