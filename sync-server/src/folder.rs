//! The data folder: what lies where.

use std::fs::{self, File, TryLockError};
use std::path::{Path, PathBuf};

use crate::ServerError;

/// The database; the folder is made where it is not there.
pub(crate) fn records(data: &Path) -> Result<PathBuf, ServerError> {
    fs::create_dir_all(data).map_err(ServerError::Folder)?;
    Ok(data.join("records.sqlite"))
}

/// The database of people; the folder is made where it is not there.
pub(crate) fn accounts(data: &Path) -> Result<PathBuf, ServerError> {
    fs::create_dir_all(data).map_err(ServerError::Folder)?;
    Ok(data.join("accounts.sqlite"))
}

/// The data folder of a further company.
pub(crate) fn company(data: &Path, slug: &str) -> PathBuf {
    companies(data).join(slug)
}

/// Where the further companies are.
pub(crate) fn companies(data: &Path) -> PathBuf {
    data.join("companies")
}

/// Whole files of photos.
pub(crate) fn blobs(data: &Path) -> PathBuf {
    data.join("photos")
}

/// Files on their way in.
pub(crate) fn staging(data: &Path) -> PathBuf {
    data.join("staging")
}

/// Keeps a second server off the folder, until it is dropped or the process ends.
#[derive(Debug)]
pub(crate) struct Lock {
    _file: File,
}

impl Lock {
    pub(crate) fn take(data: &Path) -> Result<Self, ServerError> {
        let file = File::create(data.join("lock")).map_err(ServerError::Folder)?;
        match file.try_lock() {
            Ok(()) => Ok(Self { _file: file }),
            Err(TryLockError::WouldBlock) => Err(ServerError::InUse),
            Err(TryLockError::Error(error)) => Err(ServerError::Folder(error)),
        }
    }
}
