//! The program `stridebed`, as a library.

pub mod plan;
