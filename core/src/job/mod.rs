//! Plain types of the record: ids, units, vocabulary, records and the hydrated job.
//!
//! Nothing here computes, stores or sends. Every other room speaks in these types.

mod blob;
mod capture;
mod certificate;
mod fields;
mod id;
mod kinds;
mod model;
mod place;
mod records;
mod scalar;
mod scalar_read;
mod units;
mod vocabulary;

pub use blob::*;
pub use capture::*;
pub(crate) use capture::{check_seal, seal};
pub use certificate::*;
pub use fields::{FieldList, FieldRead, Fields};
pub use id::*;
pub use kinds::*;
pub use model::*;
pub use place::*;
pub use records::*;
pub use scalar::*;
pub use units::*;
pub use vocabulary::*;
