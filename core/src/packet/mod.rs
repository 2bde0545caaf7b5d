//! What leaves the house: two folders, each a BagIt bag (RFC 8493) that anybody can check.
//!
//! *shared* goes to the owner and to whoever works for the insurer: a page, a list, the shown
//! originals with their signed captures. *archive* stays at the office and holds everything, the
//! document included. What is shared is decided in one place, [`Selection`].

mod bag;
mod captures;
mod csv_list;
mod custody;
mod input;
mod names;
mod online;
mod overlay;
mod page;
mod photos;
mod records;
mod selection;
mod texts;
mod verify;
mod when;
mod write;

#[cfg(test)]
mod tests;

pub use bag::BAG_FILES;
pub use custody::{Custody, CustodyEntry};
pub use input::{MemoryPhotos, PacketError, PacketInput, PacketKind, PhotoSource, Progress};
pub use online::{OnlinePage, findings_table, online_page};
pub use overlay::overlay;
pub use selection::Selection;
pub use verify::{Failure, Report, verify};
pub use write::{Written, write};
