//! Moving a finished file to its place in a folder, without writing it again.

use std::collections::BTreeSet;
use std::fs::{self, File};
use std::io::{Error, ErrorKind};
use std::path::{Path, PathBuf};
use std::sync::{Mutex, PoisonError};

use chalkwalk_core::job::BlobKind;

use super::{BlobKey, StoreError};

/// A folder of files, laid out as the object store lays it out.
#[derive(Debug)]
pub(super) struct Shelf {
    root: PathBuf,
    /// Kinds whose folders are there and on the disk.
    made: Mutex<BTreeSet<BlobKind>>,
}

impl Shelf {
    /// Makes every folder, so that no upload waits for that. Where it cannot now, the upload that
    /// needs one says why.
    pub(super) fn new(root: &Path) -> Self {
        let shelf = Self {
            root: root.to_owned(),
            made: Mutex::default(),
        };
        for kind in [BlobKind::Original, BlobKind::Thumbnail] {
            let folder = root.join(BlobKey::folder(kind));
            if let Err(error) = shelf.make(kind, &folder) {
                tracing::warn!(%error, "folders for photos could not be made");
            }
        }
        shelf
    }

    /// Gives a file its place durably. A second name is made, which fails where there is one, and the
    /// first is removed: what stands is replaced by nothing but an original that its own name, its
    /// hash, bears out. `None` where the disk cannot do that, such as
    /// from one disk to another: nothing was changed.
    ///
    /// An original is named before its bytes are on the disk, so that both are waited for at once: what
    /// a loss of power leaves under its name is judged by that name. A small picture cannot
    /// be, and is on the disk before it has its name.
    pub(super) fn take(&self, key: BlobKey, from: &Path) -> Result<Option<u64>, StoreError> {
        let file = File::open(from)?;
        let size = file.metadata()?.len();
        let original = key.kind == BlobKind::Original;
        if !original {
            // The data and its length; times need not be.
            file.sync_data()?;
        }
        let (folder, place) = self.place(key);
        self.make(key.kind, &folder)?;
        let stands = match fs::hard_link(from, &place) {
            Ok(()) if original => {
                if let Err(error) = file.sync_data() {
                    // Nobody must take it for whole; it may not go either, and is replaced then.
                    let _ = fs::remove_file(&place);
                    return Err(error.into());
                }
                size
            }
            Ok(()) => size,
            Err(error) if error.kind() == ErrorKind::AlreadyExists && original => {
                return replace(key, &file, from, &place, &folder).map(|()| Some(size));
            }
            Err(error) if error.kind() == ErrorKind::AlreadyExists => place.metadata()?.len(),
            Err(error) if cannot(&error) => return Ok(None),
            Err(error) => return Err(error.into()),
        };
        // Also where it was there: whoever made it may not have come so far.
        sync(&folder)?;
        // Only the name that nobody needs any more; it may come back with the power.
        fs::remove_file(from)?;
        Ok(Some(stands))
    }

    /// The folder of a file, and the file's path in it.
    fn place(&self, key: BlobKey) -> (PathBuf, PathBuf) {
        let name = key.hash.to_string();
        let folder = self.root.join(BlobKey::folder(key.kind)).join(&name[..2]);
        let place = folder.join(name);
        (folder, place)
    }

    /// Makes every folder of a kind, once, and sees that their names are on the disk.
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

/// An original that has its name already, and of which nobody wrote down that it is whole: what is
/// left of one that did not come so far, or one that somebody hands in at the same moment. Its name
/// says which bytes are its own; those that bear it out take the place, on the disk before they do.
fn replace(
    key: BlobKey,
    mut file: &File,
    from: &Path,
    place: &Path,
    folder: &Path,
) -> Result<(), StoreError> {
    let mut hasher = blake3::Hasher::new();
    std::io::copy(&mut file, &mut hasher)?;
    if hasher.finalize().as_bytes() != key.hash.as_bytes() {
        return Err(StoreError::Corrupt("a file under another's hash"));
    }
    file.sync_data()?;
    fs::rename(from, place)?;
    sync(folder)
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
        let (_, place) = shelf.place(key);
        assert!(place.starts_with(folder.path().join("photos/original")));
        assert_eq!(fs::read(&place).unwrap(), b"a picture");
        #[cfg(unix)]
        assert_eq!(
            std::os::unix::fs::MetadataExt::ino(&place.metadata().unwrap()),
            node
        );
    }

    #[test]
    fn what_stands_is_replaced_by_the_bytes_of_its_name_alone() {
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
        // One that did not come whole before the power went is replaced by the whole one.
        let (_, place) = shelf.place(large);
        for torn in [&b"orig"[..], b"orig\0\0\0\0", b"", b"original"] {
            fs::write(&place, torn).unwrap();
            fs::write(&from, b"original").unwrap();
            assert_eq!(shelf.take(large, &from).unwrap(), Some(8));
            assert_eq!(fs::read(&place).unwrap(), b"original");
            assert!(!from.exists());
        }
        fs::write(&from, b"something else").unwrap();
        assert!(matches!(
            shelf.take(large, &from),
            Err(StoreError::Corrupt(_))
        ));
        assert!(from.exists());
    }
}
