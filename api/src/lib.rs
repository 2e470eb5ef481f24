//! The program `stridebed`: field sheets in, a store, an index in memory, and answers over HTTP and
//! on the command line.
//!
//! Data goes one way: `intake` -> `store` -> index (`spatial`) -> query -> answer.
#![deny(unsafe_code)]

pub mod crs;
pub mod export;
pub mod intake;
pub mod store;
