//! One-shot bundles: the frames of an exchange written to a file, for a crew with no radio link.
//!
//! A bundle begins with its maker's certificate. Everything behind it counts only once a seal of
//! the maker over all bytes so far has followed, so a reader knows who vouches for what it takes,
//! and a bundle that was cut short gives what stands before the cut.

mod read;
mod write;

use std::collections::BTreeMap;

use crate::document::{Refusal, Table};
use crate::job::{BlobKind, Certificate, JobId, Millis, PhotoHash};
use crate::sync::frame::FrameError;

pub use read::read;
pub use write::write;

const CONTEXT: &[u8] = b"chalkwalk bundle v1\0";

/// What goes into a bundle.
#[derive(Clone, Debug, Default)]
pub struct Contents {
    /// Now, milliseconds since 1970 UTC.
    pub made_at: Millis,
    /// The jobs, and what its reader is taken to hold of each; an empty table for nothing.
    pub jobs: BTreeMap<JobId, Table>,
    /// The files, in this order. One that is not complete here is left out.
    pub files: Vec<(JobId, BlobKind, PhotoHash)>,
}

/// What was written into a bundle or taken out of it.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Report {
    /// Who made it.
    pub maker: Option<Certificate>,
    /// When, by the maker's clock.
    pub made_at: Millis,
    /// Changes in it.
    pub changes: u64,
    /// Of those, how many were new to the reader.
    pub new_changes: u64,
    /// Whole files in it that were written or taken.
    pub files: u64,
    /// Files that were lacking when it was written, or not wanted when it was read.
    pub files_left_out: u64,
    /// Bytes.
    pub bytes: u64,
    /// Jobs of which something was not taken, and why.
    pub refused: BTreeMap<JobId, Refusal>,
}

/// Why a bundle was not written or not read to its end.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum BundleError {
    /// The file could not be read or written.
    #[error("the bundle file could not be read or written: {0}")]
    Io(#[from] std::io::Error),
    /// The replica refused.
    #[error("the bundle could not be written: {0}")]
    Replica(#[from] Refusal),
    /// The file is no bundle.
    #[error("this file is not a bundle of this version: {0}")]
    NotABundle(FrameError),
    /// The maker is not known to this office.
    #[error("the bundle was not made by a device of this office")]
    Stranger,
    /// The bundle ends before its end. What stands before the cut was taken.
    #[error(
        "the bundle was cut short: {} changes and {} files before the cut were taken; copy it again \
         to get the rest",
        .0.changes, .0.files
    )]
    Cut(Box<Report>),
    /// The bundle was altered or damaged. What stands before that place was taken.
    #[error(
        "the bundle is damaged: {} changes and {} files before the damage were taken; copy it again \
         to get the rest",
        .0.changes, .0.files
    )]
    Damaged(Box<Report>),
    /// The replica could not store. What was stored before counts.
    #[error("the bundle was not read to its end: {refusal}")]
    Stopped {
        /// What was taken.
        took: Box<Report>,
        /// Why it stopped.
        refusal: Refusal,
    },
}
