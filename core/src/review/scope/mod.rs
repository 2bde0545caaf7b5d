//! The scope: the lines of work that the record supports, each with its evidence.
//!
//! A line says what the record shows and what a code asks for. It never says what an insurer
//! covers or owes, and no figure here decides whether a slope is replaced: the crew's finding
//! does, and the estimator.

mod item;
mod line;
mod quantity;

pub use item::Item;
pub use line::{Basis, Earlier, LineChange, LineKey, Orphan, Scope, ScopeLine, Total, Withheld};
pub use quantity::Quantity;
