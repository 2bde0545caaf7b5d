//! The insurer's scope beside ours: handed in, its columns named, held row by row, and the list of
//! differences.

mod disputes;
mod entry;
mod hand_in;
mod join;
mod keep;
mod list;
mod look;
mod opened;
mod preview;
mod say;

pub(in crate::serve) use disputes::{csv as disputes_csv, page as disputes_page};
pub(in crate::serve) use hand_in::post as hand_in;
pub(in crate::serve) use join::page as join_page;
pub(in crate::serve) use keep::{keep, strike};
pub(in crate::serve) use list::page;
pub(in crate::serve) use preview::page as read_page;
pub(in crate::serve) use say::post as say;
