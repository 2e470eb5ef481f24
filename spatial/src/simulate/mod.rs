//! Surfaces simulated with known truth.
