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

/// Whether an office was begun in a folder: it has records or, where those are in a database,
/// the office's key.
pub(crate) fn holds_office(data: &Path) -> bool {
    data.join("records.sqlite").is_file() || keys(data).join("office.key").is_file()
}

/// Whole files of photos.
pub(crate) fn blobs(data: &Path) -> PathBuf {
    data.join("photos")
}

/// Files on their way in.
pub(crate) fn staging(data: &Path) -> PathBuf {
    data.join("staging")
}

/// Packets that were made; they can be made again.
pub(crate) fn packets(data: &Path) -> PathBuf {
    data.join("packets")
}

/// Refused batches, to be looked at.
pub(crate) fn quarantine(data: &Path) -> PathBuf {
    data.join("quarantine")
}

/// Papers of the office as an earlier version kept them.
pub(crate) fn papers(data: &Path) -> PathBuf {
    data.join("papers")
}

/// The office's private keys.
pub(crate) fn keys(data: &Path) -> PathBuf {
    data.join("keys")
}

/// What stands in the folder once its office was moved to another storage.
pub(crate) fn moved(data: &Path) -> PathBuf {
    data.join("moved.json")
}

/// Sees that the office was not moved elsewhere.
pub(crate) fn still_here(data: &Path) -> Result<(), ServerError> {
    let moved = moved(data);
    if moved.exists() {
        return Err(ServerError::Moved(moved));
    }
    Ok(())
}

/// Sees that no office is left in the folder that was not moved to the storage elsewhere.
pub(crate) fn moved_away(data: &Path) -> Result<(), ServerError> {
    if data.join("records.sqlite").exists() && !moved(data).exists() {
        return Err(ServerError::NotMoved(data.to_owned()));
    }
    Ok(())
}

/// What stands in the folder once its people were moved to a database.
pub(crate) fn people_moved(data: &Path) -> PathBuf {
    data.join("people-moved.json")
}

/// Sees that no people are left in the folder that were not moved to the database.
pub(crate) fn people_moved_away(data: &Path) -> Result<(), ServerError> {
    let file = data.join("accounts.sqlite");
    if file.exists() && !people_moved(data).exists() {
        return Err(ServerError::PeopleNotMoved(file));
    }
    Ok(())
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
