//! What trackways of one surface have to do with each other.

pub(super) mod companions;
pub(super) mod convergence;
pub(super) mod crossings;
pub(super) mod followers;
pub(super) mod timeline;
pub(super) mod walked;
