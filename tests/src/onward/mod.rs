//! How well trackways are continued, measured on simulated surfaces whose true trackways stand.

mod coverage;
mod gaps;
pub(crate) mod next;
pub(crate) mod cut;

pub use coverage::{Coverage, coverage};
pub use gaps::{Gaps, gaps};
pub use next::{Next, next};
