//! What the record means: what is missing before the crew leaves, what was found where, and what
//! tear-off has to confirm.
//!
//! Pure functions on plain structs. Nothing here reads a file, a clock or the document: what the
//! job itself does not say is handed in as [`Facts`].

pub mod account;
mod audience;
mod cautions;
mod cells;
pub mod compare;
mod evidence;
mod facts;
pub mod findings_list;
pub mod hits;
pub mod leave_site;
pub mod measurement;
mod order;
mod point;
pub mod production;
pub mod quantities;
pub mod questions;
pub mod requirements;
mod rules;
pub mod scope;
mod state;
mod storms;
mod tear_off;
mod view;

#[cfg(test)]
pub(crate) mod demo_job;
#[cfg(test)]
pub(crate) mod house;
#[cfg(test)]
pub(crate) mod random_jobs;

pub use crate::trade::Source;
pub use crate::trade::safety::{Caution, DEFERENCE};
pub use audience::{Reader, office_only_finding, office_only_note, office_only_photo};
pub use cautions::CAUTIONS;
pub(crate) use cells::harmless;
pub use facts::{Facts, PhotoFacts, Weakness};
pub use findings_list::{Counts, FindingRow, FindingsList, PartRow, PlaceGroup};
pub use hits::{Hits, HitsInput};
pub use order::{places_in_walk_order, side_of};
pub use point::{OpenPoint, Urgency};
pub use rules::{RULES, Rule};
pub use state::State;
pub use storms::{StormsError, kept_storms};
pub use tear_off::{TearOffLine, tear_off};
