//! The registry of queries, and the doors' one way to ask.
//!
//! Each query is one file: an id, a title, a typed input whose JSON Schema comes from its type, and a
//! function from that input to features. [`ALL`] lists them; nothing else knows a query by name.

mod answer;
mod continuation;
mod detectability;
mod encounters;
mod gait;
mod grouping;
mod headings;
mod hip;
mod individuals;
mod inputs;
mod laid;
mod linking;
mod nearest;
mod scene;
mod speed;
mod targets;
mod wishes;
mod world;

pub use answer::{Answer, Method, Picture};
pub use grouping::{Proposals, proposals};
pub use inputs::{InputFault, Inputs};
pub use world::{North, World};

use crate::catalogue::{Catalogue, ReadFault};
use crate::crs::CrsFault;
use crate::feature::OutputCrs;
use inputs::Schema;
use schemars::JsonSchema;
use serde::Serialize;
use serde::de::DeserializeOwned;
use spatial::model::SurfaceId;
use std::marker::PhantomData;

/// Every query that there is, in the order in which they are listed.
pub static ALL: &[&dyn Registered] = &[
    &Entry::<nearest::Nearest>::NEW,
    &Entry::<grouping::Grouping>::NEW,
    &Entry::<continuation::Continuation>::NEW,
    &Entry::<linking::Linking>::NEW,
    &Entry::<encounters::convergence::Convergence>::NEW,
    &Entry::<encounters::companions::Companions>::NEW,
    &Entry::<encounters::followers::Followers>::NEW,
    &Entry::<encounters::crossings::Crossings>::NEW,
    &Entry::<scene::Scene>::NEW,
    &Entry::<encounters::timeline::Timeline>::NEW,
    &Entry::<gait::Gait>::NEW,
    &Entry::<headings::Headings>::NEW,
    &Entry::<individuals::Individuals>::NEW,
    &Entry::<speed::Speed>::NEW,
    &Entry::<detectability::Detectability>::NEW,
];

/// The query with this id.
#[must_use]
pub fn find(id: &str) -> Option<&'static dyn Registered> {
    ALL.iter().copied().find(|query| query.id() == id)
}

/// The seed of random draws where the asker names none.
const fn first_seed() -> u64 {
    1
}

/// Why a query has no answer.
#[derive(Debug, thiserror::Error)]
pub enum Refusal {
    /// Inputs are missing, unknown or wrong.
    #[error("the inputs do not fit")]
    Inputs(Vec<InputFault>),
    /// What is asked about cannot be read.
    #[error(transparent)]
    Read(#[from] ReadFault),
    /// Coordinates cannot be transformed.
    #[error(transparent)]
    Crs(#[from] CrsFault),
    /// What is asked for cannot be computed from what is recorded; why, and what to do.
    #[error("{0}")]
    Unfit(String),
    /// The answer cannot be written.
    #[error("the answer cannot be written: {0}")]
    Written(#[from] serde_json::Error),
}

impl Refusal {
    /// The refusal of one input.
    pub(crate) fn input(name: &str, value: impl ToString, expected: impl Into<String>) -> Self {
        Self::Inputs(vec![InputFault::new(name, Some(value.to_string()), expected)])
    }
}

/// A query: what its author writes.
pub trait Query: 'static {
    /// The id at every door.
    const ID: &'static str;
    /// What it answers, in a few words.
    const TITLE: &'static str;
    /// What it answers, and how, in sentences.
    const ABOUT: &'static str;
    /// Whether its answers have a picture.
    const HAS_PICTURE: bool = false;
    /// The typed input. Its doc comments are the descriptions at every door.
    type Input: DeserializeOwned + Serialize + JsonSchema + 'static;

    /// Whether an answer takes so little time from an index in memory that nobody need wait for another thread to find it.
    fn is_quick(_inputs: &Inputs) -> bool {
        false
    }

    /// Fills in defaults that depend on other inputs, so that the answer can tell how it understood them.
    fn settle(_input: &mut Self::Input) {}

    /// The CRS in which the asker gives and wants coordinates, where the input names one.
    fn crs(_input: &Self::Input) -> Option<&str> {
        None
    }

    /// The answer.
    ///
    /// # Errors
    /// When inputs do not fit together or what is asked about cannot be read.
    fn answer(input: &Self::Input, world: &World<'_>) -> Result<Answer, Refusal>;
}

/// A query as its doors see it.
pub trait Registered: Sync {
    /// The id.
    fn id(&self) -> &'static str;
    /// What it answers, in a few words.
    fn title(&self) -> &'static str;
    /// What it answers, in sentences.
    fn about(&self) -> &'static str;
    /// Whether its answers have a picture.
    fn has_picture(&self) -> bool;
    /// The JSON Schema of its inputs.
    fn schema(&self) -> serde_json::Value;
    /// Looks whether inputs fit, without asking.
    ///
    /// # Errors
    /// When they do not.
    fn check(&self, inputs: Inputs) -> Result<(), Refusal>;
    /// Whether the answer comes at once from what is in memory.
    fn is_quick(&self, inputs: &Inputs, at_hand: &Catalogue) -> bool;
    /// Asks it: the bytes of the GeoJSON answer, the same at every door.
    ///
    /// # Errors
    /// When the inputs do not fit, or what is asked about cannot be read.
    fn ask(&self, inputs: Inputs, catalogue: &Catalogue) -> Result<Reply, Refusal>;
}

/// The bytes of an answer, the CRS that its coordinates are in, and its picture.
pub struct Reply {
    /// A GeoJSON FeatureCollection.
    pub body: Vec<u8>,
    /// The CRS of its coordinates.
    pub crs: OutputCrs,
    /// Draws its picture, if it has one.
    pub picture: Option<Picture>,
}

struct Entry<Q>(PhantomData<fn() -> Q>);

impl<Q: Query> Entry<Q> {
    const NEW: Self = Self(PhantomData);

    /// The inputs as understood, and the CRS that is asked for.
    fn read(inputs: Inputs) -> Result<(Q::Input, OutputCrs), Refusal> {
        let mut input: Q::Input = Schema::of::<Q::Input>().read(inputs).map_err(Refusal::Inputs)?;
        Q::settle(&mut input);
        let crs = match Q::crs(&input) {
            Some(named) => {
                OutputCrs::parse(named).map_err(|fault| Refusal::input("crs", named, fault.to_string()))?
            }
            None => OutputCrs::Crs84,
        };
        Ok((input, crs))
    }
}

impl<Q: Query> Registered for Entry<Q> {
    fn id(&self) -> &'static str {
        Q::ID
    }

    fn title(&self) -> &'static str {
        Q::TITLE
    }

    fn about(&self) -> &'static str {
        Q::ABOUT
    }

    fn has_picture(&self) -> bool {
        Q::HAS_PICTURE
    }

    fn schema(&self) -> serde_json::Value {
        Schema::of::<Q::Input>().to_value()
    }

    fn check(&self, inputs: Inputs) -> Result<(), Refusal> {
        Self::read(inputs).map(|_| ())
    }

    fn is_quick(&self, inputs: &Inputs, at_hand: &Catalogue) -> bool {
        let surface = inputs.iter().find(|(name, _)| name == "surface");
        let id: Option<SurfaceId> = surface.and_then(|(_, id)| id.as_str()?.parse().ok());
        let listing = at_hand.listing().ok();
        let entry = listing
            .as_ref()
            .zip(id.as_ref())
            .and_then(|(listing, id)| listing.surface(id));
        Q::is_quick(inputs) && entry.is_some_and(|entry| at_hand.index_at_hand(entry).is_some())
    }

    fn ask(&self, inputs: Inputs, catalogue: &Catalogue) -> Result<Reply, Refusal> {
        let (input, crs) = Self::read(inputs)?;
        let world = World::new(catalogue, crs.clone());
        let answer = Q::answer(&input, &world)?;
        let body = answer.write(Q::ID, &serde_json::to_value(&input)?, &crs, catalogue.moment())?;
        Ok(Reply {
            body,
            crs,
            picture: answer.picture,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_query_has_an_id_of_its_own_and_describes_its_inputs() {
        let mut ids: Vec<_> = ALL.iter().map(|query| query.id()).collect();
        ids.sort_unstable();
        ids.dedup();
        assert_eq!(ids.len(), ALL.len());
        for query in ALL {
            let schema = query.schema();
            for (name, input) in schema["properties"].as_object().unwrap() {
                assert!(
                    input["description"].is_string(),
                    "{}: {name} has no description",
                    query.id()
                );
            }
        }
    }
}
