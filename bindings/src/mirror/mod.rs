//! The core's plain types as other languages see them.

mod fields;
mod layers;
mod records;
mod values;
mod words;

pub use fields::Fields;
pub(crate) use fields::of_kind;
pub use layers::*;
pub use values::Bytes;
