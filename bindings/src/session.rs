//! The session without a link, for a shell that carries frames its own way, and what sessions
//! tell.

use std::sync::{Arc, Mutex};

use chalkwalk_core::job::{BlobKind, DeviceId, JobId, PhotoHash, Role};
use chalkwalk_core::sync::{Ending, Event, Progress, Reason, Session as Core};

use crate::inner::{guarded, lock};
use crate::shared::Shared;
use crate::{Answer, ChalkwalkError, Notebook, SyncOptions};

/// Figures of an exchange so far.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, uniffi::Record)]
pub struct SyncProgress {
    /// Changes sent.
    pub changes_sent: u64,
    /// Of those, how many the other side holds durably.
    pub changes_kept_by_peer: u64,
    /// Changes received and durable.
    pub changes_taken: u64,
    /// Thumbnails that the other side received whole.
    pub thumbnails_sent: u64,
    /// Thumbnails received whole.
    pub thumbnails_taken: u64,
    /// Thumbnails asked for and still to come.
    pub thumbnails_due: u64,
    /// Originals that the other side received whole.
    pub originals_sent: u64,
    /// Originals received whole.
    pub originals_taken: u64,
    /// Originals asked for and still to come.
    pub originals_due: u64,
    /// Bytes sent.
    pub bytes_sent: u64,
    /// Bytes received.
    pub bytes_received: u64,
}

impl From<Progress> for SyncProgress {
    fn from(progress: Progress) -> Self {
        let Progress {
            changes_sent,
            changes_kept_by_peer,
            changes_taken,
            thumbnails_sent,
            thumbnails_taken,
            thumbnails_due,
            originals_sent,
            originals_taken,
            originals_due,
            bytes_sent,
            bytes_received,
        } = progress;
        Self {
            changes_sent,
            changes_kept_by_peer,
            changes_taken,
            thumbnails_sent,
            thumbnails_taken,
            thumbnails_due,
            originals_sent,
            originals_taken,
            originals_due,
            bytes_sent,
            bytes_received,
        }
    }
}

/// Something that an app may want to show or act on.
#[derive(Clone, Debug, PartialEq, Eq, uniffi::Enum)]
pub enum SyncEvent {
    /// The other side has proved who it is.
    Connected {
        /// The device.
        device: DeviceId,
        /// Its person.
        person: String,
        /// Its name.
        device_name: String,
        /// What its person does; the office's server has a role of its own.
        role: Role,
    },
    /// Changes are durable here: show the job again.
    Took {
        /// The job.
        job: JobId,
        /// How many were new.
        new_changes: u32,
    },
    /// The other side holds changes durably that this side has sent.
    PeerKept {
        /// The job.
        job: JobId,
        /// How many.
        changes: u32,
    },
    /// A photo's file is whole, checked and durable here.
    TookFile {
        /// The job.
        job: JobId,
        /// The photo.
        hash: PhotoHash,
        /// It is the small picture.
        thumbnail: bool,
    },
    /// The other side holds a photo's file whole and durably.
    PeerKeptFile {
        /// The photo.
        hash: PhotoHash,
        /// It is the small picture.
        thumbnail: bool,
    },
    /// A file was not taken, here or there, or could not be read here.
    FileFailed {
        /// The photo.
        hash: PhotoHash,
        /// It is the small picture.
        thumbnail: bool,
    },
    /// A job is left out: one side may not exchange it with the other.
    Declined {
        /// The job.
        job: JobId,
        /// The other side said so.
        by_peer: bool,
    },
    /// Figures have moved.
    Moved {
        /// The figures.
        progress: SyncProgress,
    },
    /// All is exchanged.
    Settled,
    /// The exchange is over.
    Ended {
        /// All that was wanted is exchanged, or the app ended it.
        well: bool,
        /// For a person; empty where it ended well.
        words: String,
    },
}

impl SyncEvent {
    /// As apps see it; nothing where a newer kind of event has no form here yet.
    pub(crate) fn of(event: &Event) -> Option<Self> {
        let small = |kind: BlobKind| kind == BlobKind::Thumbnail;
        Some(match event.clone() {
            Event::Connected { peer } => Self::Connected {
                device: peer.device,
                person: peer.person,
                device_name: peer.device_name,
                role: peer.role,
            },
            Event::Took {
                job, new_changes, ..
            } => Self::Took {
                job,
                new_changes: crate::views::count(new_changes),
            },
            Event::PeerKept { job, changes } => Self::PeerKept {
                job,
                changes: crate::views::count(changes),
            },
            Event::TookFile { job, kind, hash } => Self::TookFile {
                job,
                hash,
                thumbnail: small(kind),
            },
            Event::PeerKeptFile { kind, hash } => Self::PeerKeptFile {
                hash,
                thumbnail: small(kind),
            },
            Event::FileRefused { kind, hash, .. } | Event::FileUnreadable { kind, hash } => {
                Self::FileFailed {
                    hash,
                    thumbnail: small(kind),
                }
            }
            Event::Declined { job, by_peer } => Self::Declined { job, by_peer },
            Event::Progress(progress) => Self::Moved {
                progress: progress.into(),
            },
            Event::Settled => Self::Settled,
            Event::Ended(ending) => Self::Ended {
                well: ending.reason == Reason::Finished,
                words: ending.words,
            },
            _ => return None,
        })
    }
}

/// Why an exchange ended before all was exchanged.
pub(crate) fn ended_early(ending: &Ending) -> ChalkwalkError {
    let words = format!(
        "the exchange ended early: {}; what was acknowledged is safe",
        ending.words
    );
    match ending.reason {
        Reason::Damaged | Reason::Idle => ChalkwalkError::Network { words },
        Reason::Storage if !ending.by_peer => ChalkwalkError::of_storage(words),
        Reason::Storage => ChalkwalkError::Network { words },
        _ => ChalkwalkError::Refused { words },
    }
}

/// A session without a link: frames in, frames out, over any link that keeps whole frames in
/// order, such as Bluetooth or a test in memory.
///
/// After each frame that was received, each `wake` and `tick`, and once at the start, take frames until
/// there is none and send them in that order; then take events until there is none. Call `tick` when it
/// is due. A link that breaks needs no word: drop the session, and a new one goes on.
#[derive(uniffi::Object)]
pub struct Session {
    /// Empty once something panicked in it.
    core: Mutex<Option<Box<Core>>>,
    notebook: Arc<Notebook>,
}

#[uniffi::export]
impl Session {
    /// A session at its start. Exactly one of the two sides is the initiator.
    #[uniffi::constructor]
    pub fn begin(
        notebook: Arc<Notebook>,
        initiator: bool,
        options: SyncOptions,
    ) -> Answer<Arc<Self>> {
        let mut config = notebook.session_config(initiator, &options)?;
        config.live = options.live;
        let core = Core::new(config, notebook.inner.now())?;
        Ok(Arc::new(Self {
            core: Mutex::new(Some(Box::new(core))),
            notebook,
        }))
    }

    /// Takes one whole frame from the other side.
    pub fn receive(&self, frame: Vec<u8>) -> Answer<()> {
        let now = self.notebook.inner.now();
        let mut replica = Shared(Arc::clone(&self.notebook.inner));
        self.with(|core| core.receive(&mut replica, &frame, now))
    }

    /// The next frame to send; nothing when there is nothing to say for now.
    pub fn next_frame(&self) -> Answer<Option<Vec<u8>>> {
        let mut replica = Shared(Arc::clone(&self.notebook.inner));
        self.with(|core| core.poll_outgoing(&mut replica))
    }

    /// The next event; nothing when there is none.
    pub fn next_event(&self) -> Option<SyncEvent> {
        let next = self.with(|core| {
            while let Some(event) = core.poll_event() {
                if let Some(event) = SyncEvent::of(&event) {
                    return Some(event);
                }
            }
            None
        });
        next.ok().flatten()
    }

    /// When `tick` wants to be called, milliseconds since 1970; nothing once it is over.
    pub fn due_at(&self) -> Option<i64> {
        lock(&self.core).as_ref()?.poll_timeout()
    }

    /// Tells the session that time has passed. Early does no harm.
    pub fn tick(&self) {
        let now = self.notebook.inner.now();
        // One that failed is over.
        let _ = self.with(|core| core.handle_timeout(now));
    }

    /// Something new was recorded in a job.
    pub fn wake(&self, job: JobId) {
        let _ = self.with(|core| core.wake(job));
    }

    /// Ends the session from this side, with a word to the other.
    pub fn leave(&self) {
        let _ = self.with(Core::leave);
    }

    /// Figures so far.
    pub fn progress(&self) -> SyncProgress {
        let progress = lock(&self.core).as_ref().map(|core| core.progress());
        progress.unwrap_or_default().into()
    }

    /// Whether it is over, but for frames that are still to be sent.
    pub fn has_ended(&self) -> bool {
        lock(&self.core)
            .as_ref()
            .is_none_or(|core| core.has_ended())
    }
}

#[cfg(feature = "testing")]
#[uniffi::export]
impl Session {
    /// Only for tests of this library: fails inside, as a mistake of it would.
    #[allow(clippy::panic)]
    pub fn fail_inside(&self) -> Answer<()> {
        self.with(|_| panic!("made for a test"))
    }
}

impl Session {
    /// Works on the session. One in which something panicked is over; the notebook is not harmed.
    fn with<T: Send>(&self, work: impl FnOnce(&mut Core) -> T + Send) -> Answer<T> {
        let mut held = lock(&self.core);
        let Some(core) = held.as_deref_mut() else {
            let words = "this exchange is over: begin a new one".to_owned();
            return Err(ChalkwalkError::NotOpen { words });
        };
        let answer = guarded(|| Ok(work(core)));
        if answer.is_err() {
            // Half changed: neither used again nor dropped.
            std::mem::forget(held.take());
        }
        answer
    }
}
