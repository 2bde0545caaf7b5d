//! Checks a packet without the program that wrote it having to be trusted: structure, every hash,
//! and the signatures of captures and custody. Each failure names its file and its reason.

use crate::sorted::Sorted;

mod reports;
mod rework;
mod seal;
mod signatures;
mod structure;
#[cfg(feature = "xlsx")]
mod workbook;

use std::collections::BTreeMap;
use std::path::Path;

use ed25519_dalek::VerifyingKey;
use serde::Serialize;

use super::bag::Sums;

/// Something that is not as it should be.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
pub struct Failure {
    /// The file inside the bag.
    pub file: String,
    /// What is wrong with it.
    pub reason: String,
}

/// What a check found.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Report {
    /// Payload files whose hashes were compared.
    pub files: usize,
    /// Photos that a signed capture vouches for.
    pub photos: usize,
    /// Photos that are copies without what the camera wrote into the original.
    pub copies: usize,
    /// The bag as a whole carries a good seal of the office or of a device it vouches for.
    pub sealed: bool,
    /// Lines of custody whose signature was checked.
    pub signatures: usize,
    /// What is wrong; empty where all is well.
    pub failures: Vec<Failure>,
    /// What the reader should know although it is not wrong.
    pub notes: Vec<String>,
}

impl Report {
    /// True where nothing is wrong.
    pub fn good(&self) -> bool {
        self.failures.is_empty()
    }

    fn fail(&mut self, file: &str, reason: impl Into<String>) {
        self.failures.push(Failure {
            file: file.to_owned(),
            reason: reason.into(),
        });
    }
}

/// Checks the bag in a folder. With the office's public key, as the office itself gave it, devices
/// must be certified by that key; without it they are held against the key in the packet, and the
/// report says so.
pub fn verify(folder: &Path, office: Option<&VerifyingKey>) -> Report {
    let mut report = Report::default();
    let mut sums: BTreeMap<String, Sums> = BTreeMap::new();
    structure::check(folder, &mut report, &mut sums);
    signatures::check(folder, office, &mut report, &sums);
    reports::check(folder, &mut report, &sums);
    report.failures.order();
    report.failures.dedup();
    report
}
