//! Field sheets in: read in a stream, checked row by row, and taken whole or not at all.

mod fault;

pub use fault::{Fault, Faults};
