//! How well prints are grouped into trackways, measured on simulated surfaces with known truth.
//!
//! The same surfaces are given to the grouping and to two baselines that anybody could write in an
//! afternoon: chaining of nearest neighbours, and a linear assignment on the evidence of single pairs.

mod assignment;
mod calibration;
mod class;
mod nearest;
mod pairs;
mod report;
mod run;

pub use assignment::assignment_chains;
pub use calibration::{Calibration, links as link_cases};
pub use class::Class;
pub use nearest::nearest_chains;
pub use pairs::Agreement;
pub use report::{print_reliability, print_tables};
pub use run::{ClassReport, Mean, MethodReport, evaluate, index_of};
