//! What a shell shows when something cannot be done.

use std::path::{Path, PathBuf};

use crate::document::ActionError;
use crate::job::{JobId, Kind, RecordRef};
use crate::journal::JournalError;
use crate::packet::PacketError;
use crate::photo::PhotoError;
use crate::sync::bundle::BundleError;

/// Why a notebook cannot do what was asked. Nothing recorded before is lost by it.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum NotebookError {
    /// The folder holds a notebook already.
    #[error("there is a notebook in {0} already: open it, or choose another folder")]
    Exists(PathBuf),
    /// The folder holds none.
    #[error("there is no notebook in {0}: make one first, or name another folder")]
    Missing(PathBuf),
    /// Another program has it open.
    #[error("the notebook in {0} is open elsewhere: close it there first")]
    InUse(PathBuf),
    /// The folder cannot be used.
    #[error("the folder {0} cannot be used: {1}")]
    Folder(PathBuf, String),
    /// No such job.
    #[error("there is no job {0} in this notebook: begin it, or sync it from the office first")]
    NoSuchJob(JobId),
    /// No such statement in a conflict.
    #[error("{0} has no such statement for \"{1}\": look at the conflicts again")]
    NoSuchStatement(RecordRef, String),
    /// The record is the office's to write.
    #[error("{} is the office's to write: ask your estimator", .0.one())]
    OfficeOnly(Kind),
    /// The office's answer at enrolment does not hold.
    #[error("the office's answer cannot be trusted: {0}")]
    Enrolment(String),
    /// The device must be enrolled first.
    #[error("this notebook is not enrolled with an office yet: enrol it with a code first")]
    NotEnrolled,
    /// The action was not taken.
    #[error(transparent)]
    Action(#[from] ActionError),
    /// The database.
    #[error(transparent)]
    Journal(#[from] JournalError),
    /// A photo.
    #[error(transparent)]
    Photo(#[from] PhotoError),
    /// A bundle.
    #[error(transparent)]
    Bundle(#[from] BundleError),
    /// A packet.
    #[error(transparent)]
    Packet(#[from] PacketError),
}

impl NotebookError {
    pub(super) fn folder(path: &Path, error: &std::io::Error) -> Self {
        NotebookError::Folder(path.to_owned(), error.to_string())
    }
}
