//! What the tests, the evaluation and the demonstration share.

pub mod demo;
pub mod encounters;
pub mod eval;
pub mod onward;
pub mod story;
