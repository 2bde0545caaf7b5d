//! Batches that were refused, kept aside so that somebody can look at them: a bounded folder, the
//! oldest leave first. Nothing reads them back.

use std::fs;
use std::io::{self, Write};
use std::path::{Path, PathBuf};
use std::sync::{Mutex, PoisonError};

use chalkwalk_core::document::{ChangeRow, Refusal};
use chalkwalk_core::job::{DeviceId, JobId, Millis};
use serde::Serialize;
use serde_bytes::Bytes;

use crate::limits;

/// The folder. Each batch is two files of one name: `.batch` with the bytes (MessagePack: a list
/// of change chunk and signature) and `.json` with the reason.
#[derive(Debug)]
pub struct Quarantine {
    folder: PathBuf,
    turn: Mutex<()>,
}

/// Why a batch lies here.
#[derive(Debug, Serialize)]
struct Reason<'a> {
    at: Millis,
    device: DeviceId,
    job: JobId,
    reason: &'a str,
    changes: usize,
    bytes: u64,
}

impl Quarantine {
    /// Refused batches in a folder, made with the first of them.
    pub fn at(folder: PathBuf) -> Self {
        Self {
            folder,
            turn: Mutex::default(),
        }
    }

    /// Keeps a batch with its reason, and lets old ones go where there are too many.
    ///
    /// # Errors
    /// What the system says. The folder is within its bounds all the same.
    pub fn keep(
        &self,
        at: Millis,
        device: DeviceId,
        job: JobId,
        reason: &str,
        batch: &[ChangeRow],
    ) -> io::Result<()> {
        let _turn = self.turn.lock().unwrap_or_else(PoisonError::into_inner);
        private_folder(&self.folder)?;
        let rows: Vec<(&Bytes, Option<&Bytes>)> = batch
            .iter()
            .map(|row| {
                let signature = row.signature.as_ref().map(|bytes| Bytes::new(bytes));
                (Bytes::new(&row.bytes), signature)
            })
            .collect();
        let bytes = rmp_serde::to_vec(&rows).map_err(io::Error::other)?;
        let reason = Reason {
            at,
            device,
            job,
            reason,
            changes: batch.len(),
            bytes: bytes.len() as u64,
        };
        let reason = serde_json::to_vec_pretty(&reason).map_err(io::Error::other)?;
        self.make_room(1, (bytes.len() + reason.len()) as u64)?;
        let name = (0u32..)
            .map(|n| format!("{at:015}-{n:03}"))
            .find(|name| !self.folder.join(format!("{name}.batch")).exists())
            .unwrap_or_default();
        write(&self.folder.join(format!("{name}.batch")), &bytes)?;
        write(&self.folder.join(format!("{name}.json")), &reason)
    }

    /// Removes the oldest until so many more batches and bytes fit.
    fn make_room(&self, batches: usize, bytes: u64) -> io::Result<()> {
        let mut kept: std::collections::BTreeMap<String, u64> = std::collections::BTreeMap::new();
        for entry in fs::read_dir(&self.folder)? {
            let entry = entry?;
            let path = entry.path();
            let ours = path
                .extension()
                .is_some_and(|e| e == "batch" || e == "json");
            if let Some(name) = path.file_stem().and_then(|name| name.to_str())
                && ours
            {
                *kept.entry(name.to_owned()).or_default() += entry.metadata()?.len();
            }
        }
        let mut held: u64 = kept.values().sum();
        let mut left = kept.len();
        for (name, size) in kept {
            let fits = left + batches <= limits::QUARANTINED
                && held.saturating_add(bytes) <= limits::QUARANTINE_BYTES;
            if fits {
                return Ok(());
            }
            for end in ["batch", "json"] {
                match fs::remove_file(self.folder.join(format!("{name}.{end}"))) {
                    Err(error) if error.kind() != io::ErrorKind::NotFound => return Err(error),
                    _ => {}
                }
            }
            left -= 1;
            held -= size;
        }
        Ok(())
    }
}

/// Whether a refused batch is worth a look: one that only came out of turn is not, nor is one that
/// could not be stored.
pub(super) fn worth_a_look(refusal: &Refusal) -> bool {
    !matches!(refusal, Refusal::Gap | Refusal::Storage(_))
}

/// What is in a refused batch may be a house's record: only who runs the server reads it.
fn private_folder(folder: &Path) -> io::Result<()> {
    #[cfg(unix)]
    {
        use std::os::unix::fs::DirBuilderExt;
        fs::DirBuilder::new()
            .recursive(true)
            .mode(0o700)
            .create(folder)
    }
    #[cfg(not(unix))]
    fs::create_dir_all(folder)
}

fn write(path: &Path, bytes: &[u8]) -> io::Result<()> {
    let written = fs::File::create_new(path).and_then(|mut file| file.write_all(bytes));
    if written.is_err() {
        // Half of it is of no use to anybody.
        let _ = fs::remove_file(path);
    }
    written
}

#[cfg(test)]
mod tests {
    use chalkwalk_core::document::Author;

    use super::*;

    fn batch(bytes: usize) -> Vec<ChangeRow> {
        vec![ChangeRow {
            author: Author::GENESIS,
            number: 1,
            hash: [0; 32],
            bytes: vec![7; bytes],
            signature: Some([9; 64]),
        }]
    }

    fn names(folder: &Path) -> Vec<String> {
        let mut names: Vec<String> = fs::read_dir(folder)
            .unwrap()
            .map(|entry| entry.unwrap().file_name().into_string().unwrap())
            .collect();
        names.sort();
        names
    }

    fn keep(quarantine: &Quarantine, at: Millis, bytes: usize) {
        let (device, job) = (DeviceId::from_bytes([1; 16]), JobId::from_bytes([2; 16]));
        quarantine
            .keep(at, device, job, "not acceptable: a test", &batch(bytes))
            .unwrap();
    }

    #[test]
    fn a_batch_is_kept_with_its_reason_for_the_owner_alone() {
        let folder = tempfile::tempdir().unwrap();
        let quarantine = Quarantine::at(folder.path().join("quarantine"));
        keep(&quarantine, 5, 100);
        keep(&quarantine, 5, 100);
        let at = folder.path().join("quarantine");
        assert_eq!(names(&at).len(), 4);
        let name = "000000000000005-001";
        let reason: serde_json::Value =
            serde_json::from_slice(&fs::read(at.join(format!("{name}.json"))).unwrap()).unwrap();
        assert_eq!(reason["reason"], "not acceptable: a test");
        assert_eq!((&reason["changes"], &reason["at"]), (&1.into(), &5.into()));
        let bytes = fs::read(at.join(format!("{name}.batch"))).unwrap();
        let rows: Vec<(serde_bytes::ByteBuf, Option<serde_bytes::ByteBuf>)> =
            rmp_serde::from_slice(&bytes).unwrap();
        assert_eq!(rows[0].0, vec![7; 100]);
        assert_eq!(rows[0].1.as_ref().unwrap().len(), 64);
        #[cfg(unix)]
        {
            use std::os::unix::fs::PermissionsExt;
            assert_eq!(
                fs::metadata(&at).unwrap().permissions().mode() & 0o777,
                0o700
            );
        }
    }

    #[test]
    fn one_past_the_count_lets_the_oldest_go() {
        let folder = tempfile::tempdir().unwrap();
        let quarantine = Quarantine::at(folder.path().to_owned());
        fs::write(folder.path().join("notes.txt"), "mine").unwrap();
        for at in 0..=limits::QUARANTINED {
            keep(&quarantine, at as Millis, 10);
        }
        let names = names(folder.path());
        assert_eq!(names.len(), 2 * limits::QUARANTINED + 1);
        assert_eq!(names[0], "000000000000001-000.batch");
        assert!(folder.path().join("notes.txt").is_file());
    }

    #[test]
    fn one_past_the_bytes_lets_the_oldest_go() {
        let folder = tempfile::tempdir().unwrap();
        let quarantine = Quarantine::at(folder.path().to_owned());
        let each = chalkwalk_core::limits::BATCH_BYTES;
        let fit = limits::QUARANTINE_BYTES as usize / (each + 1000);
        for at in 0..fit {
            keep(&quarantine, at as Millis, each);
        }
        assert_eq!(names(folder.path()).len(), 2 * fit);
        keep(&quarantine, 100, each);
        assert_eq!(names(folder.path()).len(), 2 * fit);
        assert_eq!(names(folder.path())[0], "000000000000001-000.batch");
    }
}
