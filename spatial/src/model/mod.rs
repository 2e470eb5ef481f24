//! The record: what a field party writes down, and what is concluded from it.

mod extent;
mod id;
mod local_grid;
mod print;
mod site;
mod surface;
mod trackway;

pub use extent::{Extent, ExtentKind};
pub use id::{ExtentId, IdFault, Label, PrintId, Slug, SurfaceId, TrackwayId};
pub use local_grid::{ControlPoint, LocalGrid, Residual, Similarity};
pub use print::{DepthSample, Limb, Print, Record, Remarks, Side};
pub use site::{PlacePolicy, Site};
pub use surface::Surface;
pub use trackway::{Basis, Status, Trackway};

/// A name of one value of an enumeration was not one of those it can have.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{given:?} is not one of {expected}")]
pub struct UnknownName {
    /// What was given.
    pub given: String,
    /// The names that there are, separated by commas.
    pub expected: &'static str,
}

/// Gives an enumeration its one spelling at every interface: `name`, `Display`, `FromStr` and serde.
macro_rules! named {
    ($(#[$doc:meta])* $kind:ident { $($(#[$vdoc:meta])* $variant:ident = $name:literal),+ $(,)? }) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, serde::Serialize, serde::Deserialize)]
        pub enum $kind { $($(#[$vdoc])* #[serde(rename = $name)] $variant),+ }

        impl $kind {
            /// Every value, in order.
            pub const ALL: &'static [Self] = &[$(Self::$variant),+];

            /// The name at every interface.
            #[must_use]
            pub const fn name(self) -> &'static str {
                match self { $(Self::$variant => $name),+ }
            }
        }

        impl std::fmt::Display for $kind {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                f.pad(self.name())
            }
        }

        impl std::str::FromStr for $kind {
            type Err = $crate::model::UnknownName;

            fn from_str(given: &str) -> Result<Self, Self::Err> {
                match given {
                    $($name => Ok(Self::$variant),)+
                    _ => Err($crate::model::UnknownName {
                        given: given.to_owned(),
                        expected: $crate::model::listed!($($name),+),
                    }),
                }
            }
        }
    };
}
macro_rules! listed {
    ($first:literal $(, $more:literal)*) => { concat!($first $(, ", ", $more)*) };
}
pub(crate) use listed;
pub(crate) use named;
