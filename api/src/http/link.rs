//! Links from one resource to another.

use serde::Serialize;
use std::borrow::Cow;

/// A link of the service (RFC 8288), as the members of OGC API name its parts.
#[derive(Debug, Clone, Serialize)]
pub(super) struct Link {
    href: String,
    pub(super) rel: &'static str,
    #[serde(rename = "type")]
    media: &'static str,
    title: Cow<'static, str>,
}

/// A link to a path of the service, which starts at `base`.
pub(super) fn link(
    base: &str,
    path: &str,
    rel: &'static str,
    media: &'static str,
    title: impl Into<Cow<'static, str>>,
) -> Link {
    Link {
        href: format!("{base}{path}"),
        rel,
        media,
        title: title.into(),
    }
}
