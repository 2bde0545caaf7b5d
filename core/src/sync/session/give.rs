//! Files that the peer wants: send them in pieces, a few ahead of their acknowledgement.

use std::collections::{BTreeMap, BTreeSet, VecDeque};

use serde_bytes::ByteBuf;

use super::out_of_place;
use super::pull::KINDS;
use crate::document::Refusal;
use crate::job::{BlobKind, JobId, PhotoHash};
use crate::limits;
use crate::sync::Replica;
use crate::sync::event::Ending;
use crate::sync::message::{Files, Kept, KeptPiece, Lacks, Piece, Want};
use crate::sync::piece::largest;

type Key = (BlobKind, PhotoHash);

/// What the peer has asked for.
#[derive(Default)]
pub(super) struct Give {
    queue: BTreeMap<BlobKind, VecDeque<Item>>,
    /// Everything asked for that the peer has not yet whole.
    standing: BTreeMap<Key, Standing>,
    in_flight: VecDeque<Vec<Key>>,
    woken: BTreeSet<JobId>,
}

#[derive(Clone, Copy)]
struct Item {
    job: JobId,
    hash: PhotoHash,
    size: u64,
    offset: u64,
}

#[derive(Clone, Copy)]
enum Standing {
    Queued,
    Lacking { job: JobId, held: u64 },
}

/// Files that came to their end at the peer, or could not be read here.
#[derive(Default)]
pub(super) struct Given {
    pub(super) whole: Vec<Key>,
    pub(super) refused: Vec<Key>,
}

impl Give {
    /// Takes a page of wishes; what is lacking here is said at once.
    pub(super) fn on_want(
        &mut self,
        replica: &mut dyn Replica,
        want: &Want,
        open: bool,
    ) -> Result<Option<Lacks>, Ending> {
        if want.files.len() > limits::WANT_PAGE
            || self.standing.len() + want.files.len() > limits::SESSION_FILES
        {
            return Err(Refusal::Limit("too many files are asked for".into()).into());
        }
        let mut lacks = Vec::new();
        for (hash, held) in &want.files {
            let key = (want.kind, *hash);
            if self.standing.contains_key(&key) {
                continue;
            }
            if !open || !self.queue_if_here(replica, want.job, key, *held)? {
                lacks.push(*hash);
                if open {
                    self.standing.insert(
                        key,
                        Standing::Lacking {
                            job: want.job,
                            held: *held,
                        },
                    );
                }
            }
        }
        Ok((!lacks.is_empty()).then_some(Lacks {
            kind: want.kind,
            files: lacks,
        }))
    }

    fn queue_if_here(
        &mut self,
        replica: &mut dyn Replica,
        job: JobId,
        key: Key,
        held: u64,
    ) -> Result<bool, Refusal> {
        let (kind, hash) = key;
        let Some(size) = replica
            .blob_size(kind, hash)?
            .filter(|size| *size <= largest(kind))
        else {
            return Ok(false);
        };
        let offset = if held > size { 0 } else { held };
        self.standing.insert(key, Standing::Queued);
        self.queue.entry(kind).or_default().push_back(Item {
            job,
            hash,
            size,
            offset,
        });
        Ok(true)
    }

    /// A job has news: files that were lacking may be here now.
    pub(super) fn wake(&mut self, job: JobId) {
        self.woken.insert(job);
    }

    fn look_again(&mut self, replica: &mut dyn Replica) -> Result<(), Refusal> {
        if self.woken.is_empty() {
            return Ok(());
        }
        let woken = std::mem::take(&mut self.woken);
        let lacking: Vec<(Key, JobId, u64)> = self
            .standing
            .iter()
            .filter_map(|(key, standing)| match standing {
                Standing::Lacking { job, held } if woken.contains(job) => Some((*key, *job, *held)),
                _ => None,
            })
            .collect();
        for (key, job, held) in lacking {
            self.queue_if_here(replica, job, key, held)?;
        }
        Ok(())
    }

    /// The next frame of pieces: of one large file, or of several small ones of a job. The second
    /// part names files that turned out to be unreadable.
    pub(super) fn next_files(
        &mut self,
        replica: &mut dyn Replica,
    ) -> Result<(Option<Files>, Vec<Key>), Refusal> {
        self.look_again(replica)?;
        let mut unreadable = Vec::new();
        if self.in_flight.len() >= limits::PHOTO_WINDOW {
            return Ok((None, unreadable));
        }
        let mut files: Option<Files> = None;
        let mut room = limits::PHOTO_CHUNK;
        for kind in KINDS {
            let queue = self.queue.entry(kind).or_default();
            while let Some(item) = queue.front_mut() {
                let full = room == 0 && item.offset < item.size;
                if full
                    || files
                        .as_ref()
                        .is_some_and(|f| f.job != item.job || f.pieces.len() >= limits::WANT_PAGE)
                {
                    break;
                }
                let Item {
                    job,
                    hash,
                    size,
                    offset,
                } = *item;
                let most = usize::try_from(size - offset)
                    .unwrap_or(usize::MAX)
                    .min(room);
                let bytes = replica
                    .read_blob(kind, hash, offset, most)
                    .unwrap_or_default();
                if bytes.len() > most || (bytes.is_empty() && most > 0) {
                    queue.pop_front();
                    unreadable.push((kind, hash));
                    self.standing
                        .insert((kind, hash), Standing::Lacking { job, held: offset });
                    continue;
                }
                room -= bytes.len();
                item.offset += bytes.len() as u64;
                let done = item.offset == size;
                let files = files.get_or_insert_with(|| Files {
                    job,
                    pieces: Vec::new(),
                });
                files.pieces.push(Piece {
                    kind,
                    hash,
                    size,
                    offset,
                    bytes: ByteBuf::from(bytes),
                });
                if !done {
                    break;
                }
                queue.pop_front();
            }
            if files.is_some() {
                break;
            }
        }
        if let Some(files) = &files {
            self.in_flight
                .push_back(files.pieces.iter().map(|p| (p.kind, p.hash)).collect());
        }
        Ok((files, unreadable))
    }

    /// What the peer has kept of the oldest frame of pieces.
    pub(super) fn on_kept(&mut self, kept: &Kept) -> Result<Given, Ending> {
        let sent = self.in_flight.pop_front().ok_or_else(out_of_place)?;
        if !sent.iter().eq(kept
            .pieces
            .iter()
            .map(|p| (p.kind, p.hash))
            .collect::<Vec<_>>()
            .iter())
        {
            return Err(out_of_place());
        }
        let mut given = Given::default();
        for KeptPiece {
            kind, hash, state, ..
        } in &kept.pieces
        {
            let key = (*kind, *hash);
            match *state {
                KeptPiece::PARTLY => continue,
                KeptPiece::WHOLE if self.standing.remove(&key).is_some() => given.whole.push(key),
                KeptPiece::REFUSED if self.standing.remove(&key).is_some() => {
                    given.refused.push(key)
                }
                KeptPiece::WHOLE | KeptPiece::REFUSED => continue,
                _ => return Err(out_of_place()),
            }
            if let Some(queue) = self.queue.get_mut(kind) {
                queue.retain(|item| item.hash != *hash);
            }
        }
        Ok(given)
    }

    /// Whether nothing is queued or on its way.
    pub(super) fn is_idle(&self) -> bool {
        self.woken.is_empty()
            && self.in_flight.is_empty()
            && self.queue.values().all(VecDeque::is_empty)
    }
}
