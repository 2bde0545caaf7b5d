//! Papers of the office that are no part of a job's record: its own price list, what an estimator
//! sets for a scope, files of others as they came.
//!
//! They lie in a folder of this node, and each is replaced whole: a torn one cannot come about.

use std::fmt;
use std::fs::{self, File};
use std::io::{ErrorKind, Write};
use std::path::{Path, PathBuf};
use std::sync::{Mutex, PoisonError};

use chalkwalk_core::job::{JobId, hex};

use crate::limits;
use crate::store::StoreError;

/// One paper.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Paper {
    /// The company's price list.
    Prices,
    /// What an estimator sets for the scope of a job.
    Inputs(JobId),
    /// A file of somebody else's, by its BLAKE3.
    Theirs([u8; 32]),
}

impl fmt::Display for Paper {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Paper::Prices => f.write_str("prices"),
            Paper::Inputs(job) => write!(f, "inputs-{job}"),
            Paper::Theirs(hash) => write!(f, "theirs-{}", hex(hash)),
        }
    }
}

/// The papers of one company.
#[derive(Debug)]
pub(crate) struct Papers {
    folder: PathBuf,
    turn: Mutex<()>,
}

impl Papers {
    /// Papers in a folder, which is made with the first of them.
    pub(crate) fn at(folder: PathBuf) -> Self {
        Self {
            folder,
            turn: Mutex::default(),
        }
    }

    /// A paper; `None` where there is none.
    pub(crate) fn read(&self, paper: Paper) -> Result<Option<Vec<u8>>, StoreError> {
        match fs::read(self.path(paper)) {
            Ok(bytes) => Ok(Some(bytes)),
            Err(error) if error.kind() == ErrorKind::NotFound => Ok(None),
            Err(error) => Err(error.into()),
        }
    }

    /// Puts a paper in place of the one before, durably, if that one is still the one with the
    /// mark `was` (see [`mark`]). False where another is there: nothing was changed.
    pub(crate) fn replace(
        &self,
        paper: Paper,
        was: &str,
        bytes: &[u8],
    ) -> Result<bool, StoreError> {
        let _turn = self.turn.lock().unwrap_or_else(PoisonError::into_inner);
        let before = self.read(paper)?;
        if mark(before.as_deref()) != was {
            return Ok(false);
        }
        fs::create_dir_all(&self.folder)?;
        if before.is_none() && fs::read_dir(&self.folder)?.count() >= limits::PAPERS {
            return Err(StoreError::Limit("papers of the office"));
        }
        self.write(paper, bytes)?;
        Ok(true)
    }

    /// Keeps a file of somebody else's under its hash; the value is the hash.
    pub(crate) fn keep_theirs(&self, bytes: &[u8]) -> Result<[u8; 32], StoreError> {
        let hash = *blake3::hash(bytes).as_bytes();
        self.replace(Paper::Theirs(hash), "", bytes)?;
        Ok(hash)
    }

    fn write(&self, paper: Paper, bytes: &[u8]) -> Result<(), StoreError> {
        let new = self.folder.join(format!("{paper}.new"));
        let mut file = File::create(&new)?;
        file.write_all(bytes)?;
        file.sync_all()?;
        fs::rename(&new, self.path(paper))?;
        sync_folder(&self.folder)
    }

    fn path(&self, paper: Paper) -> PathBuf {
        self.folder.join(paper.to_string())
    }
}

fn sync_folder(folder: &Path) -> Result<(), StoreError> {
    Ok(File::open(folder)?.sync_all()?)
}

/// What tells one version of a paper from another; empty where there is none.
pub(crate) fn mark(bytes: Option<&[u8]>) -> String {
    bytes.map_or_else(String::new, |bytes| {
        blake3::hash(bytes).to_hex()[..16].to_owned()
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_paper_is_replaced_only_by_whoever_saw_the_one_before() {
        let folder = tempfile::tempdir().unwrap();
        let papers = Papers::at(folder.path().join("papers"));
        assert_eq!(papers.read(Paper::Prices).unwrap(), None);
        assert!(papers.replace(Paper::Prices, "", b"one").unwrap());
        assert!(!papers.replace(Paper::Prices, "", b"two").unwrap());
        let seen = mark(Some(b"one"));
        assert!(papers.replace(Paper::Prices, &seen, b"two").unwrap());
        assert!(!papers.replace(Paper::Prices, &seen, b"three").unwrap());
        assert_eq!(papers.read(Paper::Prices).unwrap().unwrap(), b"two");
        let names = fs::read_dir(folder.path().join("papers")).unwrap();
        assert_eq!(names.count(), 1, "nothing is left beside it");
    }

    #[test]
    fn a_file_of_others_is_kept_once_under_its_hash() {
        let folder = tempfile::tempdir().unwrap();
        let papers = Papers::at(folder.path().to_owned());
        let hash = papers.keep_theirs(b"Item,Qty\n").unwrap();
        assert_eq!(papers.keep_theirs(b"Item,Qty\n").unwrap(), hash);
        assert_eq!(hash, *blake3::hash(b"Item,Qty\n").as_bytes());
        let read = papers.read(Paper::Theirs(hash)).unwrap().unwrap();
        assert_eq!(read, b"Item,Qty\n");
    }

    #[test]
    fn one_paper_too_many_is_refused_and_those_held_can_still_be_replaced() {
        let folder = tempfile::tempdir().unwrap();
        let papers = Papers::at(folder.path().to_owned());
        assert!(papers.replace(Paper::Prices, "", b"one").unwrap());
        for n in 1..limits::PAPERS {
            File::create(folder.path().join(format!("theirs-{n}"))).unwrap();
        }
        let refused = papers.keep_theirs(b"one too many").unwrap_err();
        assert!(matches!(refused, StoreError::Limit(_)), "{refused}");
        let seen = mark(Some(b"one"));
        assert!(papers.replace(Paper::Prices, &seen, b"two").unwrap());
    }
}
