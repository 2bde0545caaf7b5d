//! Tests of the whole comparison.
