//! A folder for a packet while it is packed; it is gone with its last holder.

use std::fs;
use std::path::{Path, PathBuf};

const PREFIX: &str = "packing-";

/// The folder.
#[derive(Debug)]
pub(super) struct Scratch(PathBuf);

impl Scratch {
    /// A fresh folder in `staging`. Those that a crash left there are removed: whoever calls holds
    /// the one turn to pack.
    pub(super) fn fresh(staging: &Path, name: &str) -> std::io::Result<Self> {
        for entry in fs::read_dir(staging)? {
            let entry = entry?;
            if entry.file_name().to_string_lossy().starts_with(PREFIX) {
                fs::remove_dir_all(entry.path())?;
            }
        }
        let folder = staging.join(format!("{PREFIX}{name}"));
        fs::create_dir(&folder)?;
        Ok(Self(folder))
    }

    pub(super) fn folder(&self) -> &Path {
        &self.0
    }
}

impl Drop for Scratch {
    fn drop(&mut self) {
        if let Err(error) = fs::remove_dir_all(&self.0) {
            tracing::warn!(%error, "a packet's folder stays until the next one is packed");
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_a_crash_left_goes_with_the_next_packet_and_nothing_else_does() {
        let staging = tempfile::tempdir().unwrap();
        fs::create_dir(staging.path().join("packing-old")).unwrap();
        fs::write(staging.path().join("original-1.part"), b"1").unwrap();
        let scratch = Scratch::fresh(staging.path(), "new").unwrap();
        assert!(scratch.folder().is_dir() && !staging.path().join("packing-old").exists());
        drop(scratch);
        let left: Vec<_> = fs::read_dir(staging.path()).unwrap().collect();
        assert_eq!(left.len(), 1);
    }
}
