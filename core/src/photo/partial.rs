//! Receiving a file piece by piece, so that a cut connection goes on where it stopped.

use std::fs::{File, OpenOptions};
use std::io::{Seek, SeekFrom, Write};
use std::path::Path;

use super::store::{discard, file_size, hash_file, make_folder_of, rename_durably, sync_folder};
use super::thumbnail::is_thumbnail;
use super::{PhotoError, PhotoStore};
use crate::job::{BlobKind, BlobProgress, PhotoHash};
use crate::limits;

impl PhotoStore {
    /// Bytes from the start of a file that are durable here, whole or not.
    ///
    /// # Errors
    /// [`PhotoError::Storage`] where the folder cannot be read.
    pub fn held(&self, kind: BlobKind, hash: PhotoHash) -> Result<u64, PhotoError> {
        if let Some(size) = self.have(kind, hash)? {
            return Ok(size);
        }
        Ok(file_size(&self.partial_path(kind, hash))?.unwrap_or(0))
    }

    /// Adds received bytes of a file of `size` bytes, durably. Bytes that are held already are
    /// skipped. With the last byte the file is checked, an original against its hash and a
    /// thumbnail for being one, and gets its name.
    ///
    /// # Errors
    /// [`PhotoError::Gap`] where the bytes do not follow those held; [`PhotoError::WrongSize`]
    /// and [`PhotoError::WrongHash`] where they cannot be the file: what was received is then
    /// discarded; [`PhotoError::TooLarge`], [`PhotoError::Empty`]; [`PhotoError::Full`] and
    /// [`PhotoError::Storage`], after which the bytes held before are still held.
    pub fn write_at(
        &self,
        kind: BlobKind,
        hash: PhotoHash,
        size: u64,
        offset: u64,
        bytes: &[u8],
    ) -> Result<BlobProgress, PhotoError> {
        let limit = match kind {
            BlobKind::Original => limits::ORIGINAL_BYTES,
            BlobKind::Thumbnail => limits::THUMBNAIL_BYTES,
        };
        if size > limit {
            return Err(PhotoError::TooLarge { limit });
        }
        if size == 0 {
            return Err(PhotoError::Empty);
        }
        if let Some(held) = self.have(kind, hash)? {
            return Ok(BlobProgress {
                held,
                complete: true,
            });
        }
        let part = self.partial_path(kind, hash);
        let held = file_size(&part)?.unwrap_or(0);
        let end = offset.saturating_add(bytes.len() as u64);
        if held > size {
            discard(&part);
            return Err(PhotoError::WrongSize { size });
        }
        if end > size {
            return Err(PhotoError::WrongSize { size });
        }
        if offset > held {
            return Err(PhotoError::Gap { held, offset });
        }
        if end > held {
            let skip = usize::try_from(held - offset).unwrap_or(usize::MAX);
            append(&part, held, bytes.get(skip..).unwrap_or_default())?;
        }
        let held = held.max(end);
        if held < size {
            return Ok(BlobProgress {
                held,
                complete: false,
            });
        }
        self.finish(kind, hash, &part)?;
        Ok(BlobProgress {
            held,
            complete: true,
        })
    }

    fn finish(&self, kind: BlobKind, hash: PhotoHash, part: &Path) -> Result<(), PhotoError> {
        let good = match kind {
            BlobKind::Original => {
                let mut file = File::open(part).map_err(|error| PhotoError::storing(&error))?;
                hash_file(&mut file)? == hash
            }
            BlobKind::Thumbnail => {
                let bytes = std::fs::read(part).map_err(|error| PhotoError::storing(&error))?;
                is_thumbnail(&bytes)
            }
        };
        if good {
            rename_durably(part, &self.path(kind, hash))
        } else {
            discard(part);
            Err(PhotoError::WrongHash)
        }
    }
}

/// Adds bytes behind those held and syncs; on failure the file is as before.
fn append(part: &Path, held: u64, bytes: &[u8]) -> Result<(), PhotoError> {
    make_folder_of(part)?;
    let mut file = OpenOptions::new()
        .write(true)
        .create(true)
        .truncate(false)
        .open(part)
        .map_err(|error| PhotoError::storing(&error))?;
    let written = file
        .seek(SeekFrom::Start(held))
        .and_then(|_| file.write_all(bytes))
        .and_then(|()| file.sync_data());
    if let Err(error) = written {
        let _ = file.set_len(held);
        return Err(PhotoError::storing(&error));
    }
    match part.parent() {
        Some(folder) if held == 0 => sync_folder(folder),
        _ => Ok(()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::photo::samples;
    use proptest::prelude::*;

    const KIND: BlobKind = BlobKind::Original;

    fn store() -> (tempfile::TempDir, PhotoStore) {
        let folder = tempfile::tempdir().unwrap();
        let store = PhotoStore::open(folder.path()).unwrap();
        (folder, store)
    }

    #[test]
    fn a_file_arrives_in_pieces_over_two_openings() {
        let (folder, store) = store();
        let data: Vec<u8> = (0..1000u32).map(|i| (i % 251) as u8).collect();
        let hash = PhotoHash::of(&data);
        let first = store.write_at(KIND, hash, 1000, 0, &data[..400]).unwrap();
        assert_eq!((first.held, first.complete), (400, false));
        drop(store);
        let store = PhotoStore::open(folder.path()).unwrap();
        assert_eq!(store.held(KIND, hash), Ok(400));
        assert_eq!(store.have(KIND, hash), Ok(None));
        let gap = store.write_at(KIND, hash, 1000, 401, &data[401..]);
        let expected = PhotoError::Gap {
            held: 400,
            offset: 401,
        };
        assert_eq!(gap, Err(expected));
        let again = store.write_at(KIND, hash, 1000, 100, &data[100..300]);
        assert_eq!(again.unwrap().held, 400);
        let last = store.write_at(KIND, hash, 1000, 300, &data[300..]).unwrap();
        assert_eq!((last.held, last.complete), (1000, true));
        assert_eq!(store.read(KIND, hash, 0, 2000).unwrap(), data);
        assert!(!store.partial_path(KIND, hash).exists());
        let more = store.write_at(KIND, hash, 1000, 0, &data[..10]).unwrap();
        assert!(more.complete);
    }

    #[test]
    fn wrong_bytes_are_discarded() {
        let (_folder, store) = store();
        let hash = PhotoHash::of(b"right");
        let wrong = store.write_at(KIND, hash, 5, 0, b"wrong");
        assert_eq!(wrong, Err(PhotoError::WrongHash));
        assert_eq!(store.held(KIND, hash), Ok(0));
        assert!(store.write_at(KIND, hash, 5, 0, b"right").unwrap().complete);
    }

    #[test]
    fn sizes_past_a_limit_or_the_announcement_are_refused() {
        let (_folder, store) = store();
        let hash = PhotoHash::of(b"right");
        let beyond = store.write_at(KIND, hash, 4, 0, b"right");
        assert_eq!(beyond, Err(PhotoError::WrongSize { size: 4 }));
        for (kind, limit) in [
            (BlobKind::Original, limits::ORIGINAL_BYTES),
            (BlobKind::Thumbnail, limits::THUMBNAIL_BYTES),
        ] {
            let most = store.write_at(kind, hash, limit, 0, b"r").unwrap();
            assert_eq!(most.held, 1);
            let past = store.write_at(kind, hash, limit + 1, 0, b"r");
            assert_eq!(past, Err(PhotoError::TooLarge { limit }));
        }
        assert_eq!(
            store.write_at(KIND, hash, 0, 0, b""),
            Err(PhotoError::Empty)
        );
        let far = store.write_at(KIND, hash, 5, u64::MAX, b"r");
        assert_eq!(far, Err(PhotoError::WrongSize { size: 5 }));
    }

    #[test]
    fn a_size_that_shrinks_discards_what_came() {
        let (_folder, store) = store();
        let hash = PhotoHash::of(b"right");
        store.write_at(KIND, hash, 100, 0, &[1; 50]).unwrap();
        let shrunk = store.write_at(KIND, hash, 5, 0, b"right");
        assert_eq!(shrunk, Err(PhotoError::WrongSize { size: 5 }));
        assert!(store.write_at(KIND, hash, 5, 0, b"right").unwrap().complete);
    }

    #[test]
    fn only_a_thumbnail_passes_for_one() {
        let (_folder, store) = store();
        let hash = PhotoHash::of(b"the original");
        let small = samples::jpeg(&samples::scene(320, 240, 1), 70);
        let words = b"not a picture at all";
        let wrong = store.write_at(BlobKind::Thumbnail, hash, words.len() as u64, 0, words);
        assert_eq!(wrong, Err(PhotoError::WrongHash));
        let size = small.len() as u64;
        let good = store.write_at(BlobKind::Thumbnail, hash, size, 0, &small);
        assert!(good.unwrap().complete);
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(64))]
        /// Whatever pieces come in whatever order, the file is whole once all bytes were offered
        /// in an order without gaps, and held never goes back.
        #[test]
        fn any_pieces_lead_to_the_file(
            cuts in proptest::collection::vec((0usize..300, 1usize..120), 1..40)
        ) {
            let (_folder, store) = store();
            let data: Vec<u8> = (0..300u32).map(|i| (i * 7 % 256) as u8).collect();
            let hash = PhotoHash::of(&data);
            let mut held = 0;
            for (from, len) in cuts {
                let to = (from + len).min(300);
                match store.write_at(KIND, hash, 300, from as u64, &data[from..to]) {
                    Ok(progress) => {
                        prop_assert!(progress.held >= held.max(to as u64));
                        prop_assert_eq!(progress.complete, progress.held == 300);
                        held = progress.held;
                    }
                    Err(error) => {
                        let offset = from as u64;
                        prop_assert_eq!(error, PhotoError::Gap { held, offset });
                        prop_assert!(offset > held);
                    }
                }
                prop_assert_eq!(store.held(KIND, hash), Ok(held));
            }
            let rest = store.write_at(KIND, hash, 300, held, &data[held as usize..]).unwrap();
            prop_assert!(rest.complete);
            prop_assert_eq!(store.read(KIND, hash, 0, 300).unwrap(), data);
        }
    }
}
