//! The record of a storm inspection.
