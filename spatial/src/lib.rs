//! The science of fossil trackways, as plain functions and types.
//!
//! This crate knows prints, surfaces and trackways, and how to reason about them. It opens no file,
//! no socket and no database, reads no clock, and draws random numbers only from a seed that its
//! caller gives. Whatever needs the world outside (the CRS library, the store, HTTP) stands in `api`,
//! which depends on this crate and never the other way.
//!
//! Modules depend on each other in one direction, from bottom to top:
//!
//! | module | what it holds |
//! | --- | --- |
//! | [`angle`] | directions in degrees and radians, and their differences |
//! | [`model`] | the record: sites and their local grids, surfaces, extents, prints, trackways and their ids |
//! | [`frame`] | places and frames: longitude and latitude, convergence and scale, magnetic north, tilted beds, local grids |
//! | [`index`] | [`index::SurfaceIndex`]: one surface, immutable, behind an R-tree |
//! | [`gait`] | measures of one trackway: paces, strides, angles, speed and its changes |
//! | [`circular`] | statistics of directions: means, spreads, tests, and whether a mean makes sense |
//! | [`grouping`] | prints into probable trackways |
//! | [`individuals`] | the least number of animals of a set of trackways |
//! | [`radar`] | ground radar: velocity, depth, and what a pulse can tell apart |
//! | [`continuation`] | where trackways go on, and which of them are one across a gap |
//! | [`encounter`] | where paths meet, who walked together, who followed, and in which order |
//! | `simulate` | surfaces with known truth (feature `simulate`) |
//!
//! Lengths are metres, times seconds. Angles are degrees in the record and at every interface, and
//! radians inside the modules; a field's name says which by its ending.
#![forbid(unsafe_code)]

pub mod angle;
pub mod circular;
pub mod continuation;
pub mod encounter;
pub mod frame;
pub mod gait;
pub mod grouping;
pub mod index;
pub mod individuals;
pub mod model;
#[cfg(test)]
mod properties;
pub mod radar;
mod sample;
#[cfg(feature = "simulate")]
pub mod simulate;
