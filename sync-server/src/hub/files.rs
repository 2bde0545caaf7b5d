//! Photo files: which are wanted, and taking them in.

use chalkwalk_core::document::Refusal;
use chalkwalk_core::job::{BlobKind, BlobProgress, JobId, PhotoHash};
use chalkwalk_core::limits;

use super::Hub;
use crate::store::here::wait_for;
use crate::store::{BlobEntry, BlobKey, PhotoEntry, Staged, StoreError};

/// A piece of a file that a peer sent.
pub(super) struct Piece<'a> {
    pub(super) job: JobId,
    pub(super) key: BlobKey,
    pub(super) size: u64,
    pub(super) offset: u64,
    pub(super) bytes: &'a [u8],
}

impl Hub {
    pub(super) async fn wanted(
        &self,
        job: JobId,
        kind: BlobKind,
    ) -> Result<Vec<(PhotoHash, u64)>, Refusal> {
        self.freshen(job).await?;
        let whole: std::collections::BTreeSet<PhotoHash> = self
            .records()
            .blobs(job)
            .await?
            .iter()
            .filter(|file| file.kind == kind)
            .map(|file| file.hash)
            .collect();
        let mut wanted = Vec::new();
        for photo in self.records().photos(job).await? {
            if whole.contains(&photo.hash) || !fits(kind, &photo) {
                continue;
            }
            let hash = photo.hash;
            wanted.push((hash, self.0.staging.held(BlobKey { kind, hash })?));
        }
        Ok(wanted)
    }

    pub(super) async fn take_piece(&self, piece: &Piece<'_>) -> Result<BlobProgress, Refusal> {
        let key = piece.key;
        if let Some(whole) = self.records().blob(key).await? {
            return Ok(complete(whole.size));
        }
        self.check_size(piece).await?;
        Ok(BlobProgress {
            held: self.0.staging.held(key)?,
            complete: false,
        })
    }

    async fn check_size(&self, piece: &Piece<'_>) -> Result<(), Refusal> {
        let hash = piece.key.hash;
        let mut photo = self.records().photo(piece.job, hash).await?;
        if photo.is_none() {
            // Two nodes that took changes at once each described their own.
            self.freshen(piece.job).await?;
            photo = self.records().photo(piece.job, hash).await?;
        }
        let Some(photo) = photo else {
            return Err(Refusal::Malformed(
                "a file that no photo of this job names".to_owned(),
            ));
        };
        let right = match piece.key.kind {
            BlobKind::Original => piece.size == photo.size && fits(BlobKind::Original, &photo),
            BlobKind::Thumbnail => (1..=limits::THUMBNAIL_BYTES).contains(&piece.size),
        };
        if right {
            Ok(())
        } else {
            Err(Refusal::Malformed(
                "a file of another size than its photo names".to_owned(),
            ))
        }
    }

    /// Forgets what is held of files that are whole: a server that stopped between the two left
    /// it. The value is how many.
    pub(crate) async fn drop_what_is_whole(&self) -> Result<u64, StoreError> {
        let mut dropped = 0;
        for key in self.0.staging.keys()? {
            if self.records().blob(key).await?.is_some() {
                let hub = self.clone();
                let drop_file = move || {
                    let turn = hub.0.staging.turn(key);
                    hub.0.staging.drop_file(&turn, key)
                };
                tokio::task::spawn_blocking(drop_file)
                    .await
                    .map_err(StoreError::unavailable)??;
                dropped += 1;
            }
        }
        Ok(dropped)
    }

    /// Adds a piece to what is held. Blocks on the disk; once the file is whole and checked it is
    /// put and written down before this returns.
    pub(super) fn keep_piece(
        &self,
        runtime: &tokio::runtime::Handle,
        piece: &Piece<'_>,
    ) -> Result<BlobProgress, Refusal> {
        let key = piece.key;
        let turn = self.0.staging.turn(key);
        let state = wait_for(runtime, self.take_piece(piece))?;
        if state.complete {
            return Ok(state);
        }
        // Once for a file, not for each piece of it: what is held already was asked for.
        if state.held == 0 {
            wait_for(runtime, self.room_for_file(key, piece.size))?;
        }
        let staged = self
            .0
            .staging
            .add(&turn, key, piece.size, piece.offset, piece.bytes)?;
        match staged {
            Staged::Partial(held) => Ok(BlobProgress {
                held,
                complete: false,
            }),
            Staged::Gap(_) => Err(Refusal::Gap),
            Staged::Wrong => Err(Refusal::Malformed(
                "the file is not the photo of that name".to_owned(),
            )),
            Staged::Whole(path) => {
                wait_for(runtime, async {
                    let entry = BlobEntry {
                        kind: key.kind,
                        hash: key.hash,
                        size: self.blobs().take(key, &path).await?,
                    };
                    self.records().complete(&entry, self.now()).await
                })?;
                self.0.staging.drop_file(&turn, key)?;
                Ok(complete(piece.size))
            }
        }
    }
}

/// Whether an original is of a size that is taken at all.
pub(super) fn fits(kind: BlobKind, photo: &PhotoEntry) -> bool {
    kind == BlobKind::Thumbnail || (1..=limits::ORIGINAL_BYTES).contains(&photo.size)
}

fn complete(held: u64) -> BlobProgress {
    BlobProgress {
        held,
        complete: true,
    }
}
