//! How many cases the slower property tests try.

use proptest::prelude::ProptestConfig;

/// One case for each so many of proptest's own number, which `PROPTEST_CASES` sets.
pub fn every(usual: u32) -> ProptestConfig {
    let config = ProptestConfig::default();
    ProptestConfig {
        cases: (config.cases / usual).max(1),
        ..config
    }
}
