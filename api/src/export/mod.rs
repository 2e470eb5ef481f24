//! The record out.
