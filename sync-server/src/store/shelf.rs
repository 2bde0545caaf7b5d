//! Moving a finished file to its place in a folder, without writing it again.

use std::collections::BTreeSet;
use std::fs::{self, File};
use std::io::{Error, ErrorKind};
use std::path::{Path, PathBuf};
use std::sync::{Mutex, PoisonError};

use chalkwalk_core::job::BlobKind;

use super::blobs::OTHER_SIZE;
use super::{BlobKey, StoreError};

/// A folder of files, laid out as the object store lays it out.
#[derive(Debug)]
pub(super) struct Shelf {
    root: PathBuf,
    /// Kinds whose folders are there and on the disk.
    made: Mutex<BTreeSet<BlobKind>>,
}

impl Shelf {
    pub(super) fn new(root: &Path) -> Self {
        Self {
            root: root.to_owned(),
            made: Mutex::default(),
        }
    }

    /// Gives a file its place durably: its bytes, then its name. Never in place of another: a
    /// second name is made, which fails where there is one, and the first is removed. `None`
    /// where the disk cannot do that, such as from one disk to another: nothing was changed.
    pub(super) fn take(&self, key: BlobKey, from: &Path) -> Result<Option<u64>, StoreError> {
        let file = File::open(from)?;
        let size = file.metadata()?.len();
        // The data and its length; times need not be.
        file.sync_data()?;
        let name = key.hash.to_string();
        let folder = self.root.join(BlobKey::folder(key.kind)).join(&name[..2]);
        self.make(key.kind, &folder)?;
        let place = folder.join(&name);
        let stands = match fs::hard_link(from, &place) {
            Ok(()) => size,
            Err(error) if error.kind() == ErrorKind::AlreadyExists => place.metadata()?.len(),
            Err(error) if cannot(&error) => return Ok(None),
            Err(error) => return Err(error.into()),
        };
        // Also where it was there: whoever made it may not have come so far.
        sync(&folder)?;
        if stands != size && key.kind == BlobKind::Original {
            return Err(StoreError::Corrupt(OTHER_SIZE));
        }
        // Only the name that nobody needs any more; it may come back with the power.
        fs::remove_file(from)?;
        Ok(Some(stands))
    }

    /// Makes every folder of a kind, once, and sees that their names are on the disk: no upload
    /// waits for that later.
    fn make(&self, kind: BlobKind, folder: &Path) -> Result<(), StoreError> {
        let mut made = self.made.lock().unwrap_or_else(PoisonError::into_inner);
        // A folder may have been removed by hand.
        if made.contains(&kind) && folder.is_dir() {
            return Ok(());
        }
        let of_kind = self.root.join(BlobKey::folder(kind));
        for first in 0..=u8::MAX {
            fs::create_dir_all(of_kind.join(format!("{first:02x}")))?;
        }
        sync(&of_kind)?;
        sync(&self.root)?;
        made.insert(kind);
        Ok(())
    }
}

/// Whether a second name cannot be made here at all.
fn cannot(error: &Error) -> bool {
    matches!(
        error.kind(),
        ErrorKind::CrossesDevices
            | ErrorKind::Unsupported
            | ErrorKind::PermissionDenied
            | ErrorKind::TooManyLinks
    )
}

fn sync(folder: &Path) -> Result<(), StoreError> {
    Ok(File::open(folder)?.sync_all()?)
}

#[cfg(test)]
mod tests {
    use chalkwalk_core::job::PhotoHash;

    use super::*;

    fn key(bytes: &[u8], kind: BlobKind) -> BlobKey {
        let hash = PhotoHash::of(bytes);
        BlobKey { kind, hash }
    }

    #[test]
    fn a_file_is_moved_and_not_written_again() {
        let folder = tempfile::tempdir().unwrap();
        let shelf = Shelf::new(&folder.path().join("photos"));
        let from = folder.path().join("in.part");
        fs::write(&from, b"a picture").unwrap();
        #[cfg(unix)]
        let node = std::os::unix::fs::MetadataExt::ino(&from.metadata().unwrap());
        let key = key(b"a picture", BlobKind::Original);
        assert_eq!(shelf.take(key, &from).unwrap(), Some(9));
        assert!(!from.exists());
        let name = key.hash.to_string();
        let place = folder
            .path()
            .join("photos/original")
            .join(&name[..2])
            .join(&name);
        assert_eq!(fs::read(&place).unwrap(), b"a picture");
        #[cfg(unix)]
        assert_eq!(
            std::os::unix::fs::MetadataExt::ino(&place.metadata().unwrap()),
            node
        );
    }

    #[test]
    fn what_stands_is_never_replaced() {
        let folder = tempfile::tempdir().unwrap();
        let shelf = Shelf::new(&folder.path().join("photos"));
        let from = folder.path().join("in.part");
        let small = key(b"original", BlobKind::Thumbnail);
        fs::write(&from, b"first").unwrap();
        assert_eq!(shelf.take(small, &from).unwrap(), Some(5));
        fs::write(&from, b"the second").unwrap();
        assert_eq!(shelf.take(small, &from).unwrap(), Some(5));
        assert!(!from.exists());
        let large = key(b"original", BlobKind::Original);
        fs::write(&from, b"original").unwrap();
        shelf.take(large, &from).unwrap();
        fs::write(&from, b"something else").unwrap();
        assert!(matches!(
            shelf.take(large, &from),
            Err(StoreError::Corrupt(_))
        ));
        assert!(from.exists());
    }
}
