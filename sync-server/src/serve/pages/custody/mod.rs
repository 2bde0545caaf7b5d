//! Who recorded what, and copies of the job that can be checked without this server.

mod deeds;
mod packet;
mod page;
mod photos;
mod scratch;
mod zip;

pub(in crate::serve) use packet::{archive, findings, shared};
pub(in crate::serve) use page::{page, size};
