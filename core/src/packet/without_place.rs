//! A copy of a photo for sharing without what the camera wrote into it: place, time, names. The
//! picture itself is not touched; only which way is up is kept. The original stays as it is.

use serde::{Deserialize, Serialize};

use super::bag::Sums;
use crate::job::{Capture, hex};
use crate::photo::bare;

/// `derived.json` below `data/`.
pub(super) const FILE: &str = "derived.json";

/// What a copy was made from.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Derived {
    /// The copy below `data/`.
    pub(super) photo: String,
    /// What was done.
    pub(super) what: String,
    /// SHA-256 of the copy.
    pub(super) sha256: String,
    /// BLAKE3 of the copy.
    pub(super) blake3: String,
    /// SHA-256 of the original, which the office keeps.
    pub(super) original_sha256: String,
    /// BLAKE3 of the original.
    pub(super) original_blake3: String,
}

impl Derived {
    pub(super) fn new(photo: &str, copy: &[u8], original: &Capture) -> Self {
        let sums = Sums::of(copy);
        Self {
            photo: photo.to_owned(),
            what: "copied without what the camera wrote into the file".to_owned(),
            sha256: hex(&sums.sha256),
            blake3: hex(&sums.blake3),
            original_sha256: hex(&original.sha256),
            original_blake3: original.hash.to_string(),
        }
    }
}

/// The picture without its metadata; `None` where that cannot be done for this file.
pub(super) fn stripped(bytes: &[u8], capture: &Capture) -> Option<Vec<u8>> {
    bare(capture.format, bytes, capture.orientation)
}
