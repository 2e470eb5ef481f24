//! How well trackways are continued, measured on simulated surfaces whose true trackways stand.

mod coverage;
mod cut;

pub use coverage::{Coverage, coverage};
