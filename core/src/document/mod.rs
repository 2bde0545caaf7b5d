//! The CRDT: a person's actions in, plain structs out, conflicts shown.

mod rows;

pub use rows::*;
