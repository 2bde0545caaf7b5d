//! Packets made on the server: one at a time in the whole house, with progress, to be stopped, and
//! handed out as one file. They are kept until the server stops or newer ones take their place:
//! the record is what lasts.

mod make;

use std::collections::BTreeMap;
use std::path::PathBuf;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::sync::{Arc, Mutex, PoisonError};

use chalkwalk_core::job::{JobId, Millis};
use chalkwalk_core::packet::{PacketKind, PaperSize};

use super::Shared;
use crate::{folder, limits};

/// How far a packet is.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(in crate::serve) enum Stage {
    /// Others come first.
    Waiting,
    /// Being made.
    Working,
    /// To be fetched, with its size in bytes.
    Ready(u64),
    /// Stopped by somebody.
    Stopped,
    /// It could not be made.
    Failed(String),
}

/// One packet, asked for and perhaps made.
#[derive(Debug)]
pub(in crate::serve) struct Making {
    pub(in crate::serve) id: u64,
    pub(in crate::serve) job: JobId,
    pub(in crate::serve) kind: PacketKind,
    pub(in crate::serve) without_places: bool,
    pub(in crate::serve) paper: PaperSize,
    pub(in crate::serve) by: String,
    pub(in crate::serve) asked_at: Millis,
    stage: Mutex<Stage>,
    done: AtomicUsize,
    all: AtomicUsize,
    stop: AtomicBool,
}

impl Making {
    pub(in crate::serve) fn stage(&self) -> Stage {
        let stage = self.stage.lock().unwrap_or_else(PoisonError::into_inner);
        stage.clone()
    }

    /// Photos done, of how many.
    pub(in crate::serve) fn progress(&self) -> (usize, usize) {
        (
            self.done.load(Ordering::Relaxed),
            self.all.load(Ordering::Relaxed),
        )
    }

    fn set(&self, stage: Stage) {
        *self.stage.lock().unwrap_or_else(PoisonError::into_inner) = stage;
    }

    fn finished(&self) -> bool {
        !matches!(self.stage(), Stage::Waiting | Stage::Working)
    }

    /// Notes how far it is; the answer says whether to go on.
    fn went(&self, done: usize, all: usize) -> bool {
        self.done.store(done, Ordering::Relaxed);
        self.all.store(all, Ordering::Relaxed);
        !self.stop.load(Ordering::Relaxed)
    }
}

/// The packets of one company.
#[derive(Debug, Default)]
pub(crate) struct Packets(Mutex<Shelf>);

#[derive(Debug, Default)]
struct Shelf {
    makings: BTreeMap<u64, Arc<Making>>,
    last: u64,
    /// The folder was emptied of what an earlier run left.
    cleared: bool,
}

impl Shelf {
    /// One more may wait.
    fn has_room(&self) -> bool {
        let open = self.makings.values().filter(|making| !making.finished());
        open.count() < limits::PACKETS_WAITING
    }

    /// Finished ones that make way for newer ones, the oldest first.
    fn to_go(&self) -> Vec<u64> {
        let finished = self.makings.values().filter(|making| making.finished());
        let finished: Vec<u64> = finished.map(|making| making.id).collect();
        let over = finished.len().saturating_sub(limits::PACKETS_KEPT);
        finished.into_iter().take(over).collect()
    }
}

impl Packets {
    /// Those of a job, the newest first.
    pub(in crate::serve) fn of(&self, job: JobId) -> Vec<Arc<Making>> {
        let shelf = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        let of_job = shelf
            .makings
            .values()
            .rev()
            .filter(|making| making.job == job);
        of_job.cloned().collect()
    }

    /// One of a job.
    pub(in crate::serve) fn one(&self, job: JobId, id: u64) -> Option<Arc<Making>> {
        let shelf = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        let making = shelf.makings.get(&id).filter(|making| making.job == job);
        making.cloned()
    }

    /// The newest packet of a job that is for anybody and can be fetched.
    pub(in crate::serve) fn shared(&self, job: JobId) -> Option<Arc<Making>> {
        let of_job = self.of(job).into_iter();
        of_job
            .filter(|making| making.kind == PacketKind::Shared)
            .find(|making| matches!(making.stage(), Stage::Ready(_)))
    }

    /// Stops one that is not finished. False where there is none.
    pub(in crate::serve) fn stop(&self, job: JobId, id: u64) -> bool {
        let Some(making) = self.one(job, id) else {
            return false;
        };
        making.stop.store(true, Ordering::Relaxed);
        if making.stage() == Stage::Waiting {
            making.set(Stage::Stopped);
        }
        true
    }

    /// Takes a wish for a packet; `None` where too many wait already. Where the same is being made
    /// now, that one is the answer, and nothing is begun.
    pub(in crate::serve) fn ask(&self, shared: &Shared, wish: Wish) -> Option<Arc<Making>> {
        let mut shelf = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        if !shelf.cleared {
            // What an earlier run left; nothing there is not to be had again.
            let _ = std::fs::remove_dir_all(folder::packets(&shared.folder));
            shelf.cleared = true;
        }
        let open = || shelf.makings.values().filter(|making| !making.finished());
        let same = |making: &&Arc<Making>| {
            (making.job, making.kind, making.without_places, making.paper)
                == (wish.job, wish.kind, wish.without_places, wish.paper)
        };
        if let Some(same) = open().find(same) {
            return Some(Arc::clone(same));
        }
        if !shelf.has_room() {
            return None;
        }
        shelf.last += 1;
        let making = Arc::new(Making {
            id: shelf.last,
            job: wish.job,
            kind: wish.kind,
            without_places: wish.without_places,
            paper: wish.paper,
            by: wish.by,
            asked_at: shared.hub.now(),
            stage: Mutex::new(Stage::Waiting),
            done: AtomicUsize::new(0),
            all: AtomicUsize::new(0),
            stop: AtomicBool::new(false),
        });
        shelf.makings.insert(making.id, Arc::clone(&making));
        for id in shelf.to_go() {
            shelf.makings.remove(&id);
            // A file that stays for now goes with the next start.
            let _ = std::fs::remove_dir_all(within(shared, id));
        }
        drop(shelf);
        tokio::spawn(make::make(shared.clone(), Arc::clone(&making)));
        Some(making)
    }
}

/// What somebody wishes for.
pub(in crate::serve) struct Wish {
    pub(in crate::serve) job: JobId,
    pub(in crate::serve) kind: PacketKind,
    pub(in crate::serve) without_places: bool,
    pub(in crate::serve) paper: PaperSize,
    pub(in crate::serve) by: String,
}

fn within(shared: &Shared, id: u64) -> PathBuf {
    folder::packets(&shared.folder).join(id.to_string())
}

/// The file of a packet that is ready.
pub(in crate::serve) fn file(shared: &Shared, making: &Making) -> PathBuf {
    within(shared, making.id).join(format!("{}.zip", making.kind.folder()))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn shelf(stages: impl Iterator<Item = Stage>) -> Shelf {
        let making = |(id, stage)| Making {
            id,
            job: JobId::from_bytes([1; 16]),
            kind: PacketKind::Shared,
            without_places: false,
            paper: PaperSize::Letter,
            by: "Ada".to_owned(),
            asked_at: 0,
            stage: Mutex::new(stage),
            done: AtomicUsize::new(0),
            all: AtomicUsize::new(0),
            stop: AtomicBool::new(false),
        };
        let makings = (1u64..).zip(stages).map(making);
        Shelf {
            makings: makings.map(|one| (one.id, Arc::new(one))).collect(),
            ..Shelf::default()
        }
    }

    #[test]
    fn one_wish_too_many_waits_for_another_to_be_finished() {
        let waiting = |count| shelf(std::iter::repeat_n(Stage::Waiting, count));
        assert!(waiting(limits::PACKETS_WAITING - 1).has_room());
        assert!(!waiting(limits::PACKETS_WAITING).has_room());
        let done = std::iter::repeat_n(Stage::Ready(1), limits::PACKETS_WAITING);
        assert!(shelf(done).has_room());
    }

    #[test]
    fn the_oldest_finished_packet_makes_way() {
        let done = |count| shelf(std::iter::repeat_n(Stage::Stopped, count));
        assert!(done(limits::PACKETS_KEPT).to_go().is_empty());
        assert_eq!(done(limits::PACKETS_KEPT + 2).to_go(), [1, 2]);
    }
}
