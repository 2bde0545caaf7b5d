//! The roof rules of the International Residential Code, as data keyed by edition, and what they
//! ask of a roof.
//!
//! Sections are told in this project's own words; `table` says of each whether it was read or
//! stands from memory. Towns and states amend the code, and the manufacturer's instructions are
//! part of it: every answer ends with [`CONFIRM`]. What is not known is answered as "not known",
//! never passed over.

mod answer;
mod edition;
mod ice_barrier;
mod inputs;
mod rules;
mod table;

#[cfg(test)]
mod tests;

pub use answer::{About, Answer, CONFIRM, Standing, Trigger};
pub use edition::{Edition, EditionRead};
pub use ice_barrier::{IceBarrier, IceRule, ice_barrier};
pub use inputs::{CodeInputs, Input, OpeningInputs, SidewallInputs, SlopeInputs, ValleyInputs};
pub use rules::answers;
pub use table::{CodeRule, Figure, FigureUnit, PROVISIONS, Provision, Status, provision};
