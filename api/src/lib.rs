//! The program `stridebed`: field sheets in, a store, an index in memory, and answers over HTTP and
//! on the command line.
//!
//! Data goes one way: `intake` -> `store` -> index (`spatial`) -> query -> answer.
#![deny(unsafe_code)]

pub mod access;
pub mod catalogue;
pub mod cli;
pub mod collection;
pub mod crs;
pub mod demo;
pub mod export;
pub mod feature;
pub mod http;
mod ink;
pub mod intake;
pub mod jobs;
pub mod plan;
pub mod problem;
pub mod query;
pub mod rose;
pub mod store;
