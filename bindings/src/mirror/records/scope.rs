//! What an estimator decides on the scope.

use chalkwalk_core::job::*;

use crate::mirror::values::Bytes;

/// An estimator's change to a line of the scope. The line worked out from the record stays
/// readable below it.
#[uniffi::remote(Record)]
pub struct ScopeChange {
    /// The key of the line; for an added line a key of its own.
    #[uniffi(default = None)]
    pub line: Option<String>,
    /// What is done to the line.
    #[uniffi(default = None)]
    pub kind: Option<ScopeChangeKind>,
    /// Where, for an added line.
    #[uniffi(default = None)]
    pub place: Option<RecordRef>,
    /// The item in trade words, for an added line.
    #[uniffi(default = None)]
    pub item: Option<String>,
    /// The work, where it changes.
    #[uniffi(default = None)]
    pub action: Option<WorkAction>,
    /// The quantity, where it changes.
    #[uniffi(default = None)]
    pub quantity: Option<f64>,
    /// Its unit.
    #[uniffi(default = None)]
    pub unit: Option<Unit>,
    /// Why.
    #[uniffi(default = None)]
    pub reason: Option<String>,
    /// Who may read it; empty counts as shared.
    #[uniffi(default = None)]
    pub audience: Option<Audience>,
}

/// A scope that somebody else wrote, such as the insurer's.
#[uniffi::remote(Record)]
pub struct OtherScope {
    /// Whose it is, in words.
    #[uniffi(default = None)]
    pub name: Option<String>,
    /// The file's name.
    #[uniffi(default = None)]
    pub file_name: Option<String>,
    /// BLAKE3 hash of the file, in hexadecimal.
    #[uniffi(default = None)]
    pub file_hash: Option<String>,
    /// Which column means what, as JSON.
    #[uniffi(default = None)]
    pub columns: Option<String>,
    /// What was read from the file; made and read by the library.
    #[uniffi(default = None)]
    pub rows: Option<Bytes>,
}

/// An estimator's word on which row of another scope stands for which line of ours.
#[uniffi::remote(Record)]
pub struct ScopeMatch {
    /// The other scope.
    #[uniffi(default = None)]
    pub other: Option<RecordRef>,
    /// The row in its file, 1 for the first below the head.
    #[uniffi(default = None)]
    pub row: Option<u32>,
    /// The key of our line; empty where ours has no such line.
    #[uniffi(default = None)]
    pub line: Option<String>,
    /// Why.
    #[uniffi(default = None)]
    pub reason: Option<String>,
}
