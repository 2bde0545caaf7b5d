//! What leaves the house: folders, each a sealed BagIt bag (RFC 8493) that anybody can check.
//!
//! *shared* goes to whoever works for the insurer, *owner* to the owner, *production* to the crew
//! that lays the new roof: a report for that reader as page, tables and JSON, the shown originals
//! with their signed captures. *archive* stays at the office and holds everything, the document
//! included. What is shared is decided in one place, [`Selection`]; what is said, in [`report`].

mod bag;
mod captures;
mod custody;
mod input;
mod names;
mod online;
mod overlay;
mod page;
mod photos;
mod records;
mod rendering;
pub mod report;
mod seal;
mod selection;
mod texts;
mod verify;
mod when;
mod without_place;
mod write;
mod zipped;

#[cfg(test)]
mod tests;

pub use bag::BAG_FILES;
pub use custody::{Custody, CustodyEntry};
pub use input::{
    Choices, MemoryPhotos, PacketError, PacketInput, PacketKind, PaperSize, PhotoSource, Progress,
};
pub use online::{OnlinePage, findings_table, online_page};
pub use overlay::{drawn, marks_of, overlay};
pub use rendering::{NoRenderer, Picture, Renderer, Rendering};
pub use seal::Sealer;
pub use selection::Selection;
pub use verify::{Failure, Report, verify};
pub use write::{Written, write};
pub use zipped::zip_bag;
