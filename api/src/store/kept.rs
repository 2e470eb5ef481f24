//! Records as the history keeps them, the same in every store.

use jiff::civil::Date;
use serde::{Deserialize, Serialize};
use serde_json::json;
use spatial::model::{Extent, ExtentKind, Label, Print, Site, Surface, Trackway};

/// The kinds of record, named as their tables are.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Kind {
    Site,
    Surface,
    Extent,
    Print,
    Trackway,
}

impl Kind {
    /// Every kind.
    pub(super) const ALL: [Self; 5] = [
        Self::Site,
        Self::Surface,
        Self::Extent,
        Self::Print,
        Self::Trackway,
    ];

    /// The name of its table.
    pub(super) const fn name(self) -> &'static str {
        match self {
            Self::Site => "site",
            Self::Surface => "surface",
            Self::Extent => "extent",
            Self::Print => "print",
            Self::Trackway => "trackway",
        }
    }

    /// The kind with this name.
    pub(super) fn named(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|kind| kind.name() == name)
    }
}

/// A record with revisions.
pub(super) trait Record: Clone + PartialEq {
    /// Its kind.
    const KIND: Kind;
    /// Its label on its surface; of a site the slug.
    fn label(&self) -> &str;
    /// Its revision.
    fn revision(&self) -> u32;
    /// Itself as another revision.
    fn at_revision(self, revision: u32) -> Self;
    /// Itself as the history keeps it.
    fn to_json(&self) -> serde_json::Result<String>;
    /// One that the history has kept.
    fn from_json(json: &str) -> serde_json::Result<Self>;

    /// Whether a record that is given says what this one, stored, says already.
    fn says(&self, given: &Self) -> bool {
        *self == given.clone().at_revision(self.revision())
    }
}

macro_rules! record {
    ($record:ty, $kind:ident, $label:ident, $json:expr, $read:expr) => {
        impl Record for $record {
            const KIND: Kind = Kind::$kind;

            fn label(&self) -> &str {
                self.$label.as_str()
            }

            fn revision(&self) -> u32 {
                self.revision
            }

            fn at_revision(self, revision: u32) -> Self {
                Self { revision, ..self }
            }

            fn to_json(&self) -> serde_json::Result<String> {
                $json(self)
            }

            fn from_json(json: &str) -> serde_json::Result<Self> {
                $read(json)
            }
        }
    };
}
record!(Site, Site, slug, as_json, serde_json::from_str);
record!(Surface, Surface, label, as_json, serde_json::from_str);
record!(Print, Print, label, as_json, serde_json::from_str);
record!(Trackway, Trackway, label, as_json, serde_json::from_str);
record!(
    Extent,
    Extent,
    label,
    |extent: &Extent| as_json(&json!({
        "label": extent.label,
        "kind": extent.kind,
        "polygon": geojson::Geometry::from(&extent.polygon),
        "surveyed_on": extent.surveyed_on,
        "revision": extent.revision,
    })),
    |json: &str| {
        let read: KeptExtent = serde_json::from_str(json)?;
        let polygon = geo::Polygon::try_from(read.polygon);
        Ok(Extent {
            label: read.label,
            kind: read.kind,
            polygon: polygon.map_err(serde::de::Error::custom)?,
            surveyed_on: read.surveyed_on,
            revision: read.revision,
        })
    }
);

/// An extent as the history keeps it.
#[derive(Deserialize)]
struct KeptExtent {
    label: Label,
    kind: ExtentKind,
    polygon: geojson::Geometry,
    surveyed_on: Option<Date>,
    revision: u32,
}

fn as_json(record: &impl Serialize) -> serde_json::Result<String> {
    serde_json::to_string(record)
}
