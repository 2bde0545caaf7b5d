//! Files that are wanted here: ask for them page by page, keep what comes.

use std::collections::btree_map::Entry;
use std::collections::{BTreeMap, BTreeSet, VecDeque};

use crate::document::Refusal;
use crate::job::{BlobKind, JobId, PhotoHash};
use crate::limits;
use crate::sync::Replica;
use crate::sync::event::{Ending, Reason};
use crate::sync::message::{Files, Kept, KeptPiece, Lacks, Piece, Want};
use crate::sync::piece::{check_piece, check_pieces};

/// The kinds in the order in which they are fetched.
pub(super) const KINDS: [BlobKind; 2] = [BlobKind::Thumbnail, BlobKind::Original];

/// What is asked of the peer.
pub(super) struct Pull {
    kinds: Vec<Lane>,
    asked: BTreeMap<(BlobKind, PhotoHash), Asked>,
    due: usize,
}

struct Lane {
    kind: BlobKind,
    /// Jobs whose wanted files are to be looked up again.
    refresh: BTreeSet<JobId>,
    queue: VecDeque<(JobId, PhotoHash, u64)>,
    due: u64,
}

impl Lane {
    /// Takes files of a job from the head of the queue that were not asked for before.
    fn next_page(
        &mut self,
        job: JobId,
        asked: &mut BTreeMap<(BlobKind, PhotoHash), Asked>,
    ) -> Vec<(PhotoHash, u64)> {
        let mut files = Vec::new();
        while let Some((of, hash, held)) = self.queue.front().copied()
            && of == job
            && files.len() < limits::WANT_PAGE
        {
            self.queue.pop_front();
            if asked.len() >= limits::SESSION_FILES {
                continue;
            }
            if let Entry::Vacant(entry) = asked.entry((self.kind, hash)) {
                entry.insert(Asked::Due(job));
                self.due += 1;
                files.push((hash, held));
            }
        }
        files
    }
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum Asked {
    Due(JobId),
    /// The peer lacks it. It sends it when it gets it.
    Lacked(JobId),
    /// Whole, or refused: what is still on its way is passed over.
    Whole(u64),
    Refused,
}

/// A file that came to its end.
pub(super) struct Taken {
    pub(super) kind: BlobKind,
    pub(super) hash: PhotoHash,
    pub(super) whole: bool,
}

impl Pull {
    pub(super) fn new(thumbnails: bool, originals: bool) -> Self {
        let wanted = |kind: &BlobKind| match kind {
            BlobKind::Thumbnail => thumbnails,
            BlobKind::Original => originals,
        };
        let lane = |kind| Lane {
            kind,
            refresh: BTreeSet::new(),
            queue: VecDeque::new(),
            due: 0,
        };
        let kinds = KINDS.into_iter().filter(wanted).map(lane).collect();
        Self {
            kinds,
            asked: BTreeMap::new(),
            due: 0,
        }
    }

    /// Looks up again what is wanted of a job.
    pub(super) fn refresh(&mut self, job: JobId) {
        for lane in &mut self.kinds {
            lane.refresh.insert(job);
        }
    }

    /// The next page to ask for.
    pub(super) fn next_want(
        &mut self,
        replica: &mut dyn Replica,
        is_open: impl Fn(JobId) -> bool,
    ) -> Result<Option<Want>, Refusal> {
        if self.due >= limits::WANT_PAGE / 2 {
            return Ok(None);
        }
        for lane in &mut self.kinds {
            loop {
                while lane.queue.is_empty()
                    && let Some(job) = lane.refresh.pop_first()
                {
                    if is_open(job) {
                        let wanted = replica.wanted(job, lane.kind)?.into_iter();
                        lane.queue
                            .extend(wanted.map(|(hash, held)| (job, hash, held)));
                    }
                }
                let Some((job, _, _)) = lane.queue.front().copied() else {
                    break;
                };
                let files = lane.next_page(job, &mut self.asked);
                if !files.is_empty() {
                    self.due += files.len();
                    let kind = lane.kind;
                    return Ok(Some(Want { job, kind, files }));
                }
            }
        }
        Ok(None)
    }

    /// Whether nothing more is to be asked or to come.
    pub(super) fn is_idle(&self) -> bool {
        self.due == 0
            && self
                .kinds
                .iter()
                .all(|lane| lane.queue.is_empty() && lane.refresh.is_empty())
    }

    /// Files of a kind that are asked for and still to come.
    pub(super) fn due(&self, kind: BlobKind) -> u64 {
        self.kinds
            .iter()
            .filter(|lane| lane.kind == kind)
            .map(|lane| lane.due + lane.queue.len() as u64)
            .sum()
    }

    pub(super) fn on_lacks(&mut self, lacks: &Lacks) -> Result<(), Ending> {
        if lacks.files.len() > limits::WANT_PAGE {
            return Err(Refusal::Limit("too many files are named".into()).into());
        }
        for hash in &lacks.files {
            if let Some(Asked::Due(job)) = self.asked.get(&(lacks.kind, *hash)).copied() {
                self.set((lacks.kind, *hash), Asked::Lacked(job));
            }
        }
        Ok(())
    }

    /// Keeps pieces of files, and says what is kept.
    pub(super) fn on_files(
        &mut self,
        replica: &mut dyn Replica,
        files: &Files,
    ) -> Result<(Kept, Vec<Taken>), Ending> {
        check_pieces(&files.pieces)?;
        let mut kept = Vec::new();
        let mut taken = Vec::new();
        for piece in &files.pieces {
            let (held, state) = self.keep(replica, files.job, piece, &mut taken)?;
            kept.push(KeptPiece {
                kind: piece.kind,
                hash: piece.hash,
                held,
                state,
            });
        }
        Ok((Kept { pieces: kept }, taken))
    }

    fn keep(
        &mut self,
        replica: &mut dyn Replica,
        job: JobId,
        piece: &Piece,
        taken: &mut Vec<Taken>,
    ) -> Result<(u64, u8), Ending> {
        let Piece {
            kind,
            hash,
            size,
            offset,
            ref bytes,
        } = *piece;
        match self.asked.get(&(kind, hash)).copied() {
            Some(Asked::Due(of) | Asked::Lacked(of)) if of == job => {}
            Some(Asked::Whole(held)) => return Ok((held, KeptPiece::WHOLE)),
            Some(Asked::Refused) => return Ok((0, KeptPiece::REFUSED)),
            _ => {
                return Err(Ending::new(
                    Reason::Protocol,
                    "a file came that was not asked for",
                ));
            }
        }
        check_piece(piece)?;
        self.set((kind, hash), Asked::Due(job));
        match replica.write_blob(job, kind, hash, size, offset, bytes) {
            Ok(progress) if progress.complete => {
                self.set((kind, hash), Asked::Whole(progress.held));
                taken.push(Taken {
                    kind,
                    hash,
                    whole: true,
                });
                Ok((progress.held, KeptPiece::WHOLE))
            }
            Ok(progress) => Ok((progress.held, KeptPiece::PARTLY)),
            Err(Refusal::Malformed(_)) => {
                self.set((kind, hash), Asked::Refused);
                taken.push(Taken {
                    kind,
                    hash,
                    whole: false,
                });
                Ok((0, KeptPiece::REFUSED))
            }
            Err(refusal) => Err(refusal.into()),
        }
    }

    fn set(&mut self, key: (BlobKind, PhotoHash), asked: Asked) {
        let is_due = |asked: Option<Asked>| matches!(asked, Some(Asked::Due(_)));
        let before = is_due(self.asked.insert(key, asked));
        let after = is_due(Some(asked));
        let Some(lane) = self.kinds.iter_mut().find(|lane| lane.kind == key.0) else {
            return;
        };
        match (before, after) {
            (true, false) => {
                self.due -= 1;
                lane.due -= 1;
            }
            (false, true) => {
                self.due += 1;
                lane.due += 1;
            }
            _ => {}
        }
    }
}
