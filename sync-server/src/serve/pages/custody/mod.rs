//! Who recorded what, and copies of the job that can be checked without this server.

mod deeds;
mod findings;
mod page;

pub(in crate::serve) use findings::findings;
pub(in crate::serve) use page::{checked, page, size};
