//! The folder of photo files, each under its hash: `originals/ab/abcdef…`, `thumbnails/ab/…`.
//!
//! A file appears under its name only when it is whole and durable. What is still being received
//! lies beside it with the ending `.part`; what was being copied when the device died has the
//! ending `.tmp` and is removed when the store is opened. One process at a time uses a store.

use std::fs::{self, File};
use std::io::{self, Read, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU64, Ordering};

use super::PhotoError;
use super::copy::{Copied, copy_hashed};
use crate::job::{BlobKind, PhotoHash};
use crate::limits;

/// A folder of photo files.
#[derive(Debug)]
pub struct PhotoStore {
    folder: PathBuf,
    copies: AtomicU64,
}

/// What became of an original that should be here.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum OriginalState {
    /// The file is here and matches its hash.
    Whole,
    /// There is no file.
    Missing,
    /// There is a file with other bytes.
    Damaged,
}

/// An original that was copied into the store.
pub(super) struct Stored {
    pub(super) copied: Copied,
    /// False where the store held it already.
    pub(super) new: bool,
}

impl PhotoStore {
    /// Opens a store, making its folders where they are missing. Leftovers of a copy that was
    /// cut off are removed; files that are being received stay.
    ///
    /// # Errors
    /// [`PhotoError::Storage`] or [`PhotoError::Full`] where the folders cannot be made or read.
    pub fn open(folder: impl Into<PathBuf>) -> Result<Self, PhotoError> {
        let store = Self {
            folder: folder.into(),
            copies: AtomicU64::new(0),
        };
        for kind in [BlobKind::Original, BlobKind::Thumbnail] {
            let folder = store.kind_folder(kind);
            fs::create_dir_all(&folder).map_err(|error| PhotoError::storing(&error))?;
            remove_leftovers(&folder).map_err(|error| PhotoError::storing(&error))?;
            sync_folder(&folder)?;
        }
        sync_folder(&store.folder)?;
        Ok(store)
    }

    /// Where the whole file lies, or would lie.
    pub fn path(&self, kind: BlobKind, hash: PhotoHash) -> PathBuf {
        let name = hash.to_string();
        self.kind_folder(kind).join(&name[..2]).join(name)
    }

    /// The size of a whole file; `None` where it is not here.
    ///
    /// # Errors
    /// [`PhotoError::Storage`] where the folder cannot be read.
    pub fn have(&self, kind: BlobKind, hash: PhotoHash) -> Result<Option<u64>, PhotoError> {
        file_size(&self.path(kind, hash))
    }

    /// At most `max` bytes of a whole file from an offset; fewer at its end.
    ///
    /// # Errors
    /// [`PhotoError::NotHere`] where the file is not whole here.
    pub fn read(
        &self,
        kind: BlobKind,
        hash: PhotoHash,
        offset: u64,
        max: usize,
    ) -> Result<Vec<u8>, PhotoError> {
        let mut file = self.open_file(kind, hash)?;
        let mut bytes = Vec::new();
        file.seek(SeekFrom::Start(offset))
            .and_then(|_| file.take(max as u64).read_to_end(&mut bytes))
            .map_err(|error| PhotoError::storing(&error))?;
        Ok(bytes)
    }

    /// Reads an original again and compares it with its hash.
    ///
    /// # Errors
    /// [`PhotoError::Storage`] where the file is there and cannot be read.
    pub fn check(&self, hash: PhotoHash) -> Result<OriginalState, PhotoError> {
        let mut file = match self.open_file(BlobKind::Original, hash) {
            Err(PhotoError::NotHere) => return Ok(OriginalState::Missing),
            other => other?,
        };
        let found = hash_file(&mut file)?;
        Ok(if found == hash {
            OriginalState::Whole
        } else {
            OriginalState::Damaged
        })
    }

    /// Keeps the thumbnail of a photo. One that is here already stays.
    ///
    /// # Errors
    /// [`PhotoError::Full`] or [`PhotoError::Storage`]; nothing is kept then.
    pub fn put_thumbnail(&self, hash: PhotoHash, bytes: &[u8]) -> Result<(), PhotoError> {
        if self.have(BlobKind::Thumbnail, hash)?.is_some() {
            return Ok(());
        }
        let mut fresh = self.fresh_file(BlobKind::Thumbnail)?;
        fresh
            .file
            .write_all(bytes)
            .map_err(|error| PhotoError::storing(&error))?;
        fresh.keep_as(&self.path(BlobKind::Thumbnail, hash))
    }

    /// Copies an original into the store in one pass. A damaged copy under the same hash is
    /// replaced by the good one.
    pub(super) fn put_original(
        &self,
        source: &mut dyn Read,
        expected: u64,
    ) -> Result<Stored, PhotoError> {
        let mut fresh = self.fresh_file(BlobKind::Original)?;
        let copied = copy_hashed(source, &mut fresh.file, expected, limits::ORIGINAL_BYTES)?;
        let held = self.have(BlobKind::Original, copied.hash)?;
        let whole = held == Some(copied.bytes.len() as u64)
            && self.check(copied.hash)? == OriginalState::Whole;
        if !whole {
            fresh.keep_as(&self.path(BlobKind::Original, copied.hash))?;
            // A half that was being received is of no more use.
            discard(&self.partial_path(BlobKind::Original, copied.hash));
        }
        Ok(Stored {
            copied,
            new: !whole,
        })
    }

    /// Where a file lies while it is received.
    pub(super) fn partial_path(&self, kind: BlobKind, hash: PhotoHash) -> PathBuf {
        self.path(kind, hash).with_extension("part")
    }

    fn kind_folder(&self, kind: BlobKind) -> PathBuf {
        self.folder.join(match kind {
            BlobKind::Original => "originals",
            BlobKind::Thumbnail => "thumbnails",
        })
    }

    fn open_file(&self, kind: BlobKind, hash: PhotoHash) -> Result<File, PhotoError> {
        File::open(self.path(kind, hash)).map_err(|error| match error.kind() {
            io::ErrorKind::NotFound => PhotoError::NotHere,
            _ => PhotoError::storing(&error),
        })
    }

    fn fresh_file(&self, kind: BlobKind) -> Result<Fresh, PhotoError> {
        let number = self.copies.fetch_add(1, Ordering::Relaxed);
        let name = format!("{}-{number}.tmp", std::process::id());
        let path = self.kind_folder(kind).join(name);
        let file = File::create_new(&path).map_err(|error| PhotoError::storing(&error))?;
        Ok(Fresh {
            file,
            path,
            kept: false,
        })
    }
}

/// A file that is removed again unless it is kept.
struct Fresh {
    file: File,
    path: PathBuf,
    kept: bool,
}

impl Fresh {
    fn keep_as(mut self, target: &Path) -> Result<(), PhotoError> {
        self.file
            .sync_all()
            .map_err(|error| PhotoError::storing(&error))?;
        rename_durably(&self.path, target)?;
        self.kept = true;
        Ok(())
    }
}

impl Drop for Fresh {
    fn drop(&mut self) {
        if !self.kept {
            discard(&self.path);
        }
    }
}

/// Renames a synced file and makes the new name durable, the folder's own name included.
pub(super) fn rename_durably(from: &Path, to: &Path) -> Result<(), PhotoError> {
    make_folder_of(to)?;
    fs::rename(from, to).map_err(|error| PhotoError::storing(&error))?;
    match to.parent() {
        Some(folder) => sync_folder(folder),
        None => Ok(()),
    }
}

/// Makes the folder that a file is to lie in, durably.
pub(super) fn make_folder_of(file: &Path) -> Result<(), PhotoError> {
    let Some(folder) = file.parent() else {
        return Ok(());
    };
    if folder.is_dir() {
        return Ok(());
    }
    fs::create_dir_all(folder).map_err(|error| PhotoError::storing(&error))?;
    match folder.parent() {
        Some(above) => sync_folder(above),
        None => Ok(()),
    }
}

/// Makes the names in a folder durable.
pub(super) fn sync_folder(folder: &Path) -> Result<(), PhotoError> {
    // Only Unix lets a folder be opened for this; elsewhere the rename itself is journalled.
    if cfg!(unix) {
        File::open(folder)
            .and_then(|folder| folder.sync_all())
            .map_err(|error| PhotoError::storing(&error))?;
    }
    Ok(())
}

/// The size of a file; `None` where there is none.
pub(super) fn file_size(path: &Path) -> Result<Option<u64>, PhotoError> {
    match fs::metadata(path) {
        Ok(facts) if facts.is_file() => Ok(Some(facts.len())),
        Ok(_) => Ok(None),
        Err(error) if error.kind() == io::ErrorKind::NotFound => Ok(None),
        Err(error) => Err(PhotoError::storing(&error)),
    }
}

/// The BLAKE3 of an open file, from where it stands.
pub(super) fn hash_file(file: &mut File) -> Result<PhotoHash, PhotoError> {
    let mut hasher = blake3::Hasher::new();
    hasher
        .update_reader(file)
        .map_err(|error| PhotoError::storing(&error))?;
    Ok(PhotoHash::from_bytes(*hasher.finalize().as_bytes()))
}

/// Removes a file of no further use; one that stays is removed or overwritten later.
pub(super) fn discard(path: &Path) {
    let _ = fs::remove_file(path);
}

fn remove_leftovers(folder: &Path) -> io::Result<()> {
    for entry in fs::read_dir(folder)? {
        let path = entry?.path();
        if path.extension().is_some_and(|ending| ending == "tmp") {
            fs::remove_file(&path)?;
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn store() -> (tempfile::TempDir, PhotoStore) {
        let folder = tempfile::tempdir().unwrap();
        let store = PhotoStore::open(folder.path()).unwrap();
        (folder, store)
    }

    fn files(folder: &Path) -> Vec<PathBuf> {
        let mut found = Vec::new();
        let mut open = vec![folder.to_owned()];
        while let Some(folder) = open.pop() {
            for entry in fs::read_dir(folder).unwrap() {
                let path = entry.unwrap().path();
                if path.is_dir() {
                    open.push(path);
                } else {
                    found.push(path);
                }
            }
        }
        found
    }

    #[test]
    fn an_original_lies_under_its_hash_once() {
        let (folder, store) = store();
        let data = vec![7u8; 700_001];
        let first = store.put_original(&mut &data[..], 0).unwrap();
        let second = store.put_original(&mut &data[..], 0).unwrap();
        assert!(first.new && !second.new);
        let hash = PhotoHash::of(&data);
        let name = hash.to_string();
        let path = folder.path().join("originals").join(&name[..2]).join(&name);
        assert_eq!(files(folder.path()), std::slice::from_ref(&path));
        assert_eq!(fs::read(path).unwrap(), data);
        assert_eq!(store.have(BlobKind::Original, hash), Ok(Some(700_001)));
        let tail = store.read(BlobKind::Original, hash, 700_000, 50).unwrap();
        assert_eq!(tail, [7]);
        let past = store.read(BlobKind::Original, hash, 900_000, 50).unwrap();
        assert!(past.is_empty());
    }

    #[test]
    fn missing_and_damaged_originals_are_told_and_healed() {
        let (_folder, store) = store();
        let data = b"front gutter, second storey".to_vec();
        let hash = PhotoHash::of(&data);
        assert_eq!(store.check(hash), Ok(OriginalState::Missing));
        assert_eq!(
            store.read(BlobKind::Original, hash, 0, 9),
            Err(PhotoError::NotHere)
        );
        store.put_original(&mut &data[..], 0).unwrap();
        assert_eq!(store.check(hash), Ok(OriginalState::Whole));
        let mut bad = data.clone();
        bad[3] ^= 1;
        fs::write(store.path(BlobKind::Original, hash), bad).unwrap();
        assert_eq!(store.check(hash), Ok(OriginalState::Damaged));
        assert!(store.put_original(&mut &data[..], 0).unwrap().new);
        assert_eq!(store.check(hash), Ok(OriginalState::Whole));
    }

    #[test]
    fn a_copy_that_fails_leaves_nothing() {
        struct Breaks(u32);
        impl Read for Breaks {
            fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
                self.0 += 1;
                if self.0 > 3 {
                    return Err(io::ErrorKind::ConnectionReset.into());
                }
                buffer.fill(1);
                Ok(buffer.len())
            }
        }
        let (folder, store) = store();
        let error = store.put_original(&mut Breaks(0), 0).err();
        assert_eq!(
            error,
            Some(PhotoError::Unreadable(io::ErrorKind::ConnectionReset))
        );
        assert_eq!(files(folder.path()), Vec::<PathBuf>::new());
    }

    #[test]
    fn opening_removes_leftovers_and_nothing_else() {
        let (folder, store) = store();
        let data = b"rear downspout";
        store.put_original(&mut &data[..], 0).unwrap();
        let leftover = folder.path().join("originals/99-0.tmp");
        fs::write(&leftover, b"half").unwrap();
        let part = store.partial_path(BlobKind::Original, PhotoHash::of(b"other"));
        fs::create_dir_all(part.parent().unwrap()).unwrap();
        fs::write(&part, b"half").unwrap();
        let again = PhotoStore::open(folder.path()).unwrap();
        assert!(!leftover.exists() && part.exists());
        assert_eq!(again.check(PhotoHash::of(data)), Ok(OriginalState::Whole));
    }

    #[test]
    fn one_byte_past_the_limit_is_not_kept() {
        let (folder, store) = store();
        let mut long = io::repeat(1).take(limits::ORIGINAL_BYTES + 1);
        let error = store.put_original(&mut long, 0).err();
        let limit = limits::ORIGINAL_BYTES;
        assert_eq!(error, Some(PhotoError::TooLarge { limit }));
        assert_eq!(files(folder.path()), Vec::<PathBuf>::new());
    }
}
