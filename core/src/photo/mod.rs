//! Photos: the folder that keeps them, what their files say of themselves, and the order in
//! which they walk a stranger round the house.
//!
//! A photo is known by the BLAKE3 of its file. Nothing here writes to the record; the rooms
//! above sign the capture and add it. Comparing and ordering need no picture file and are always
//! built; reading files is the cargo feature `photo`.

mod bare;
mod compare;
mod walk;

#[cfg(feature = "photo")]
mod bits;
#[cfg(feature = "photo")]
mod clocks;
#[cfg(feature = "photo")]
mod copy;
#[cfg(feature = "photo")]
mod decode;
#[cfg(feature = "photo")]
mod eighth;
#[cfg(feature = "photo")]
mod error;
#[cfg(feature = "photo")]
mod exif;
#[cfg(feature = "photo")]
mod header;
#[cfg(feature = "photo")]
mod intake;
#[cfg(feature = "photo")]
mod likeness;
#[cfg(feature = "photo")]
mod partial;
#[cfg(feature = "photo")]
mod print;
#[cfg(feature = "photo")]
mod roll;
#[cfg(feature = "photo")]
mod split;
#[cfg(feature = "photo")]
mod store;
#[cfg(feature = "photo")]
mod thumbnail;
#[cfg(feature = "photo")]
mod usability;

#[cfg(all(test, feature = "photo"))]
mod samples;

pub use bare::bare;
pub use compare::*;
pub use walk::{photo_place, walk_order, walk_order_of};

#[cfg(feature = "photo")]
pub use clocks::ClockDoubt;
#[cfg(feature = "photo")]
pub use error::{PhotoError, PhotoWarning};
#[cfg(feature = "photo")]
pub use intake::{Taken, Told, look, look_from};
#[cfg(feature = "photo")]
pub use print::{PrintCopy, print_copy};
#[cfg(feature = "photo")]
pub use roll::{Dropped, PlacedBy, Refused, Roll, RollOptions, RollPhoto, RollVisit, read_roll};
#[cfg(feature = "photo")]
pub use split::distance_m;
#[cfg(feature = "photo")]
pub use store::{OriginalState, PhotoStore};
#[cfg(feature = "photo")]
pub use thumbnail::is_thumbnail;
#[cfg(feature = "photo")]
pub use usability::laplacian_variance;
