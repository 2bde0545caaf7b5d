//! What can go wrong with a picture file, in clear words.

use std::io;

use serde::{Deserialize, Serialize};

/// Why a file was not taken in or could not be kept. No text names a path or a person.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum PhotoError {
    /// The file has zero bytes.
    #[error("the file is empty: copy it again from the phone")]
    Empty,
    /// A folder or a device stands where a file should.
    #[error("this is not a file: name a picture, or import the folder as a camera roll")]
    NotAFile,
    /// The bytes are no picture of a kind that is kept.
    #[error("the file is not a picture of a known kind: give a JPEG, PNG or HEIC")]
    NotAPicture,
    /// The file has more bytes than are kept.
    #[error("the file has more than {limit} bytes, the most that is kept")]
    TooLarge {
        /// The limit in bytes.
        limit: u64,
    },
    /// The folder holds more files than are read at once.
    #[error("the folder has more than {limit} files: import it in parts")]
    TooMany {
        /// The limit.
        limit: usize,
    },
    /// The source could not be read.
    #[error("the file cannot be read ({0}): check that it is there and may be opened")]
    Unreadable(io::ErrorKind),
    /// The storage has no room.
    #[error("the storage is full: free some space and try again, nothing was lost")]
    Full,
    /// The storage failed in another way.
    #[error("the photo could not be stored ({0}): nothing was lost, try again")]
    Storage(io::ErrorKind),
    /// The store does not hold this file whole.
    #[error("the photo file is not here")]
    NotHere,
    /// Received bytes start after the last byte that is held.
    #[error("bytes from {offset} do not follow the {held} bytes held: send from {held}")]
    Gap {
        /// Bytes held.
        held: u64,
        /// Where the received bytes start.
        offset: u64,
    },
    /// Received bytes go past the size that was announced, or the size changed on the way.
    #[error("the bytes do not fit the announced size of {size}: send the file from its start")]
    WrongSize {
        /// The announced size in bytes.
        size: u64,
    },
    /// All bytes came, and they are not the file they should be. They were discarded.
    #[error("the received file does not match its hash: send it again from its start")]
    WrongHash,
}

impl PhotoError {
    /// A failed write, sync or rename.
    pub(super) fn storing(error: &io::Error) -> Self {
        match error.kind() {
            io::ErrorKind::StorageFull | io::ErrorKind::QuotaExceeded => PhotoError::Full,
            kind => PhotoError::Storage(kind),
        }
    }

    /// A failed read of a source.
    pub(super) fn reading(error: &io::Error) -> Self {
        match error.kind() {
            io::ErrorKind::IsADirectory => PhotoError::NotAFile,
            kind => PhotoError::Unreadable(kind),
        }
    }
}

/// What is remarkable about a photo that was taken in all the same.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum PhotoWarning {
    /// The same file was taken in before; there is no second copy.
    AlreadyHere,
    /// The file carries no EXIF.
    NoExif,
    /// Part of the EXIF cannot be read; what can be read was taken.
    BrokenExif,
    /// There is no time of taking.
    NoTime,
    /// There is no place.
    NoPlace,
    /// The picture breaks off: the file was cut short.
    Truncated,
    /// The picture cannot be decoded.
    Undecodable,
    /// HEIC is kept as it is and not decoded.
    NotDecoded,
    /// The picture is too large to decode within the memory set aside for it.
    TooManyPixels,
}

impl std::fmt::Display for PhotoWarning {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(match self {
            PhotoWarning::AlreadyHere => "taken in before, no second copy is kept",
            PhotoWarning::NoExif => "no EXIF: time and place are not known",
            PhotoWarning::BrokenExif => "part of the EXIF cannot be read",
            PhotoWarning::NoTime => "the camera wrote no time",
            PhotoWarning::NoPlace => "the camera wrote no place",
            PhotoWarning::Truncated => "the picture breaks off, copy it again if you can",
            PhotoWarning::Undecodable => "the picture cannot be decoded, look at it on the phone",
            PhotoWarning::NotDecoded => "HEIC: kept as it is, no small picture is made of it",
            PhotoWarning::TooManyPixels => "too many pixels to decode, kept as it is",
        })
    }
}
