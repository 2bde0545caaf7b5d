//! Where the office keeps what it was given, behind two traits: [`Records`] for changes and all
//! that is written about them, [`Blobs`] for whole photo files.
//!
//! [`Accounts`] keeps people and what they may see.
//!
//! All are asynchronous and name no database, so that several nodes may share one of each. Every
//! implementation passes the same conformance suite. What a call confirms is durable.

mod accounts;
mod blobs;
mod bucket;
mod encoding;
mod error;
mod feed;
pub(crate) mod here;
pub mod limits;
mod memory;
mod memory_blobs;
mod object_blobs;
mod postgres;
mod records;
mod shelf;
mod sqlite;
mod staging;
pub(crate) mod tables;
mod types;

pub use accounts::*;
pub(crate) use accounts::{AccountsFile, AccountsHeld};
pub use blobs::{BlobKey, Blobs};
pub use bucket::BucketPlace;
pub(crate) use encoding::kind_of;
pub use error::StoreError;
pub use feed::{Feed, Heard};
pub use memory::MemoryRecords;
pub use memory_blobs::MemoryBlobs;
pub use object_blobs::ObjectBlobs;
pub(crate) use postgres::{Entry, Still};
pub use postgres::{PlaceError, PostgresAccounts, PostgresPlace, PostgresRecords};
pub use records::Records;
pub use sqlite::SqliteRecords;
pub(crate) use sqlite::WholeFile;
pub use staging::{Staged, Staging, Turn};
pub use types::*;
