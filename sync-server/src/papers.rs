//! Papers of the office that are no part of a job's record: its own price list, what an estimator
//! sets for a scope, files of others as they came. They lie beside the accounts.

use std::fmt;
use std::fs;
use std::io::ErrorKind;
use std::path::Path;
use std::sync::Arc;

use chalkwalk_core::job::{JobId, hex};

pub(crate) use crate::store::paper_mark as mark;
use crate::store::{Accounts, StoreError};

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
#[derive(Clone)]
pub(crate) struct Papers(Arc<dyn Accounts>);

impl Papers {
    /// The papers that lie beside these accounts.
    pub(crate) fn beside(accounts: Arc<dyn Accounts>) -> Self {
        Self(accounts)
    }

    /// A paper; `None` where there is none.
    pub(crate) async fn read(&self, paper: Paper) -> Result<Option<Vec<u8>>, StoreError> {
        self.0.paper(&paper.to_string()).await
    }

    /// Puts a paper in place of the one before, durably, if that one is still the one with the
    /// mark `was` (see [`mark`]). False where another is there: nothing was changed.
    pub(crate) async fn replace(
        &self,
        paper: Paper,
        was: &str,
        bytes: &[u8],
    ) -> Result<bool, StoreError> {
        self.0.replace_paper(&paper.to_string(), was, bytes).await
    }

    /// Keeps a file of somebody else's under its hash; the value is the hash.
    pub(crate) async fn keep_theirs(&self, bytes: &[u8]) -> Result<[u8; 32], StoreError> {
        let hash = *blake3::hash(bytes).as_bytes();
        self.replace(Paper::Theirs(hash), "", bytes).await?;
        Ok(hash)
    }

    /// Takes in papers that an earlier version kept as files of a folder. A file leaves the folder
    /// once it is here; one in whose place another paper stands is left where it is.
    pub(crate) async fn take_in(&self, folder: &Path) -> Result<(), StoreError> {
        let entries = match fs::read_dir(folder) {
            Ok(entries) => entries,
            Err(error) if error.kind() == ErrorKind::NotFound => return Ok(()),
            Err(error) => return Err(error.into()),
        };
        for entry in entries {
            let path = entry?.path();
            let name = path.file_name().unwrap_or_default().to_string_lossy();
            if name.ends_with(".new") {
                continue;
            }
            let bytes = fs::read(&path)?;
            let came = self.0.replace_paper(&name, "", &bytes).await?;
            if came || self.0.paper(&name).await?.as_deref() == Some(&bytes) {
                fs::remove_file(&path)?;
            } else {
                tracing::warn!(
                    "another paper stands in the place of one in the folder of papers: it was left there"
                );
            }
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::store::MemoryAccounts;

    fn papers() -> Papers {
        Papers::beside(Arc::new(MemoryAccounts::default()))
    }

    #[tokio::test]
    async fn a_file_of_others_is_kept_once_under_its_hash() {
        let papers = papers();
        let hash = papers.keep_theirs(b"Item,Qty\n").await.unwrap();
        assert_eq!(papers.keep_theirs(b"Item,Qty\n").await.unwrap(), hash);
        assert_eq!(hash, *blake3::hash(b"Item,Qty\n").as_bytes());
        let read = papers.read(Paper::Theirs(hash)).await.unwrap().unwrap();
        assert_eq!(read, b"Item,Qty\n");
    }

    #[tokio::test]
    async fn papers_of_an_earlier_version_are_taken_in_and_none_is_overwritten() {
        let (folder, papers) = (tempfile::tempdir().unwrap(), papers());
        let at = folder.path().join("papers");
        papers.take_in(&at).await.unwrap();
        fs::create_dir(&at).unwrap();
        for (name, bytes) in [("prices", "old"), ("inputs-1", "set"), ("torn.new", "t")] {
            fs::write(at.join(name), bytes).unwrap();
        }
        assert!(papers.replace(Paper::Prices, "", b"newer").await.unwrap());
        papers.take_in(&at).await.unwrap();
        papers.take_in(&at).await.unwrap();
        let left = || fs::read_dir(&at).unwrap().count();
        assert_eq!(papers.read(Paper::Prices).await.unwrap().unwrap(), b"newer");
        assert_eq!(papers.0.paper("inputs-1").await.unwrap().unwrap(), b"set");
        assert_eq!(
            left(),
            2,
            "the price list that was not taken, and what was torn"
        );
    }
}
