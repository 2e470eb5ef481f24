//! What the end-to-end tests and the evaluation share.

pub mod eval;
