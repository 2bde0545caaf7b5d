//! The core's plain types as other languages see them.

mod fields;
mod layers;
mod marks;
mod records;
mod said;
mod values;
mod words;

pub use fields::Fields;
pub(crate) use fields::{of_kind, one};
pub use layers::*;
pub use marks::*;
pub use said::*;
pub use values::Bytes;
