//! How well trackways are continued and linked, measured on simulated surfaces.
//!
//! The true trackways of a surface stand as accepted ones; what is hidden of them is to be found again. Three questions are
//! asked: do the regions hold what they should ([`coverage`]), is the next print found and its absence said ([`next`]), and are
//! trackways found again behind a covered band ([`gaps`]).

mod coverage;
mod cut;
mod gaps;
mod next;
mod report;

pub use coverage::{Coverage, STEPS, coverage};
pub use gaps::{Gaps, gaps};
pub use next::{Next, next};
pub use report::{OnwardReport, evaluate_onward, print_onward};
