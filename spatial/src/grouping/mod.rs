//! Prints into probable trackways.
