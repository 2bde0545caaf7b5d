//! Where the office keeps what it was given, behind two traits: [`Records`] for changes and all
//! that is written about them, [`Blobs`] for whole photo files.
//!
//! [`Accounts`] keeps people and what they may see.
//!
//! All are asynchronous and name no database, so that several nodes may share one of each. Every
//! implementation passes the same conformance suite. What a call confirms is durable.

mod accounts;
mod blobs;
mod error;
mod memory;
mod memory_blobs;
mod object_blobs;
mod records;
mod sqlite;
mod staging;
mod types;

pub use accounts::*;
pub use blobs::{BlobKey, Blobs};
pub use error::StoreError;
pub use memory::MemoryRecords;
pub use memory_blobs::MemoryBlobs;
pub use object_blobs::ObjectBlobs;
pub use records::Records;
pub use sqlite::SqliteRecords;
pub use staging::{Staged, Staging, Turn};
pub use types::*;
