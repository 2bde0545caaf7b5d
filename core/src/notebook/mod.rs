//! The facade a shell talks to: one notebook is one device's own record of its jobs.
//!
//! Whatever a call confirms is on the disk when it returns. The notebook has no clock, no
//! randomness and no network of its own: an [`Env`] is handed in, and bytes are carried by the
//! shell.

mod error;
mod export;
mod identity;
mod photos;
mod replica;
mod status;
#[cfg(test)]
mod tests;
mod uploads;

use std::collections::{BTreeMap, BTreeSet};
use std::fs::{File, OpenOptions, TryLockError};
use std::path::{Path, PathBuf};
use std::sync::Arc;

pub use error::NotebookError;
pub use export::PacketParts;
pub use identity::{Enrolment, Identity, NewIdentity, OfficeTrust};
pub use photos::{AddedPhoto, PhotoNote};
pub use status::{JobStatus, PeerStatus, PhotoCounts};

use crate::document::{Action, Author, ChangeRow, Deed, Document, may_write};
use crate::env::{Env, EnvIds};
use crate::job::{AnyFields, CrewMember, Job, JobId, PhotoHash, Property, RecordRef, Scalar};
use crate::journal::{Journal, Trouble};
use crate::limits;
use crate::photo::PhotoStore;
use crate::sync::SessionConfig;

/// One device's own record of its jobs.
pub struct Notebook {
    dir: PathBuf,
    journal: Journal,
    photos: Arc<PhotoStore>,
    env: Box<dyn Env>,
    identity: Identity,
    office: Option<OfficeTrust>,
    open: BTreeMap<JobId, OpenJob>,
    troubles: Vec<Trouble>,
    /// Held while the notebook is open, so that no second one writes beside it.
    lock: File,
}

struct OpenJob {
    document: Document,
    /// Fresh for each opening: a restored copy must never go on with an old number.
    author: Author,
    since_snapshot: u64,
    dirty: bool,
    /// Photo files that the job names, as of a count of changes.
    files: Option<(u64, Vec<(PhotoHash, u64)>)>,
}

/// What one recorded action left behind.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Receipt {
    /// The record it touched.
    pub record: RecordRef,
    /// The hash of the change; `None` where the action changed nothing.
    pub change: Option<[u8; 32]>,
}

impl std::fmt::Debug for Notebook {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Notebook")
            .field("device", &self.identity.device)
            .finish_non_exhaustive()
    }
}

impl Notebook {
    /// Makes a notebook in a folder that has none.
    pub fn create(
        dir: &Path,
        who: NewIdentity,
        mut env: Box<dyn Env>,
    ) -> Result<Self, NotebookError> {
        std::fs::create_dir_all(dir).map_err(|error| NotebookError::folder(dir, &error))?;
        let lock = lock(dir)?;
        let journal = Journal::open(&dir.join("notebook.db"))?;
        if Identity::read(&journal)?.is_some() {
            return Err(NotebookError::Exists(dir.to_owned()));
        }
        let identity = Identity::fresh(who, env.as_mut());
        identity.write(&journal)?;
        Self::around(dir, journal, identity, env, lock)
    }

    /// Opens the notebook in a folder.
    pub fn open(dir: &Path, env: Box<dyn Env>) -> Result<Self, NotebookError> {
        if !dir.join("notebook.db").is_file() {
            return Err(NotebookError::Missing(dir.to_owned()));
        }
        let lock = lock(dir)?;
        let journal = Journal::open(&dir.join("notebook.db"))?;
        let identity =
            Identity::read(&journal)?.ok_or_else(|| NotebookError::Missing(dir.to_owned()))?;
        Self::around(dir, journal, identity, env, lock)
    }

    fn around(
        dir: &Path,
        journal: Journal,
        identity: Identity,
        env: Box<dyn Env>,
        lock: File,
    ) -> Result<Self, NotebookError> {
        let office = OfficeTrust::read(&journal)?;
        Ok(Self {
            dir: dir.to_owned(),
            photos: Arc::new(PhotoStore::open(dir.join("photos"))?),
            journal,
            env,
            identity,
            office,
            open: BTreeMap::new(),
            troubles: Vec::new(),
            lock,
        })
    }

    /// The folder.
    pub fn dir(&self) -> &Path {
        &self.dir
    }

    /// The device and its person.
    pub fn identity(&self) -> &Identity {
        &self.identity
    }

    /// The office that vouches for this device; `None` before enrolment.
    pub fn office(&self) -> Option<&OfficeTrust> {
        self.office.as_ref()
    }

    /// Damage that was found and worked around since the notebook was opened.
    pub fn troubles(&self) -> &[Trouble] {
        &self.troubles
    }

    /// The photo files.
    pub fn photo_store(&self) -> &PhotoStore {
        &self.photos
    }

    /// Milliseconds since 1970, by the shell's clock.
    pub fn now(&mut self) -> i64 {
        self.env.now()
    }

    /// Thirty-two random bytes, for a session.
    pub fn session_nonce(&mut self) -> [u8; 32] {
        let mut nonce = [0; 32];
        self.env.random(&mut nonce);
        nonce
    }

    /// What a session with another device or the office is begun with. Fails before enrolment.
    pub fn session(
        &mut self,
        initiator: bool,
        jobs: Option<BTreeSet<JobId>>,
        originals: bool,
    ) -> Result<SessionConfig, NotebookError> {
        let nonce = self.session_nonce();
        let office = self.office.as_ref().ok_or(NotebookError::NotEnrolled)?;
        Ok(SessionConfig {
            certificate: office.certificate.clone(),
            key: self.identity.key.clone(),
            office: office.key,
            nonce,
            initiator,
            jobs,
            thumbnails: true,
            originals,
            live: false,
        })
    }

    /// Keeps what the office answered at enrolment: from here on other devices know this one.
    pub fn enrol(&mut self, enrolment: Enrolment) -> Result<(), NotebookError> {
        let office = OfficeTrust::check(enrolment, &self.identity)?;
        office.write(&self.journal)?;
        self.journal
            .keep_certificate(self.identity.device, &office.certificate)?;
        self.office = Some(office);
        Ok(())
    }

    /// The jobs here, oldest first.
    pub fn jobs(&self) -> Result<Vec<JobId>, NotebookError> {
        Ok(self.journal.jobs()?)
    }

    /// Begins a job with a fresh id, or with the id that the other phone shows.
    pub fn begin(&mut self, id: Option<JobId>, property: Property) -> Result<JobId, NotebookError> {
        let job = id.unwrap_or_else(|| self.env.job_id());
        self.act(job, &Action::Begin { job, property })?;
        Ok(job)
    }

    /// Does one action. It is on the disk when this returns.
    pub fn act(&mut self, job: JobId, action: &Action) -> Result<Receipt, NotebookError> {
        let beginning = matches!(action, Action::Begin { .. });
        let kind = action.target().kind;
        if !may_write(self.identity.role, kind) {
            return Err(NotebookError::OfficeOnly(kind));
        }
        self.ensure_open(job, beginning)?;
        self.ensure_joined(job)?;
        let now = self.env.now();
        let key = self.identity.key.clone();
        let open = self
            .open
            .get_mut(&job)
            .ok_or(NotebookError::NoSuchJob(job))?;
        let applied = open.document.apply(open.author, &key, action, now)?;
        let record = action.target();
        let Some(applied) = applied else {
            return Ok(Receipt {
                record,
                change: None,
            });
        };
        let change = Some(applied.row.hash);
        self.keep(job, applied.row)?;
        Ok(Receipt { record, change })
    }

    /// Adds a record with a fresh id.
    pub fn add(
        &mut self,
        job: JobId,
        record: impl Into<AnyFields>,
    ) -> Result<RecordRef, NotebookError> {
        let id = self.env.record_id();
        let record = record.into();
        let action = Action::Add {
            id,
            record,
            hits: None,
            shows: Vec::new(),
        };
        Ok(self.act(job, &action)?.record)
    }

    /// Settles a conflict by choosing one of its statements, counted from 0.
    pub fn settle(
        &mut self,
        job: JobId,
        at: &RecordRef,
        field: &str,
        statement: usize,
    ) -> Result<Option<Scalar>, NotebookError> {
        let hydrated = self.job(job)?;
        let conflicts = hydrated.conflicts();
        let chosen = conflicts
            .iter()
            .find(|(where_, conflict)| where_ == at && conflict.field == field)
            .and_then(|(_, conflict)| conflict.statements.get(statement))
            .ok_or_else(|| NotebookError::NoSuchStatement(at.clone(), field.to_owned()))?;
        let value = chosen.value.clone();
        let (at, field) = (at.clone(), field.to_owned());
        self.act(
            job,
            &Action::Settle {
                at,
                field,
                value: value.clone(),
            },
        )?;
        Ok(value)
    }

    /// The job as plain structs.
    pub fn job(&mut self, job: JobId) -> Result<&Job, NotebookError> {
        Ok(self.document(job)?.job())
    }

    /// The job for a first screen: from the cached read model where it is current, without
    /// opening the document.
    pub fn first_screen(&mut self, job: JobId) -> Result<Job, NotebookError> {
        if !self.open.contains_key(&job)
            && let Some(model) = self.journal.cached_model(job)?
        {
            return Ok(model);
        }
        Ok(self.job(job)?.clone())
    }

    /// The job's document.
    pub fn document(&mut self, job: JobId) -> Result<&Document, NotebookError> {
        self.ensure_open(job, false)?;
        self.open
            .get(&job)
            .map(|open| &open.document)
            .ok_or(NotebookError::NoSuchJob(job))
    }

    /// Who did what when.
    pub fn history(&mut self, job: JobId) -> Result<Vec<Deed>, NotebookError> {
        Ok(self.document(job)?.history())
    }

    /// Lets the database grow no further, as on a full disk, or as it likes again. For tests.
    #[cfg(feature = "testing")]
    pub fn fill_disk(&mut self, full: bool) -> Result<(), NotebookError> {
        Ok(self.journal.fill_disk(full)?)
    }

    /// Begins to store something, and fails in the middle as a mistake would. For tests.
    #[cfg(feature = "testing")]
    #[allow(clippy::panic)]
    pub fn fail_in_the_middle(&mut self) -> Result<(), NotebookError> {
        self.journal.half_a_setting("made for a test")?;
        panic!("made for a test")
    }

    /// Lets go of the folder, and of nothing else: for a notebook in which something panicked on a
    /// thread that was stopped there. Its memory may be half changed, so none of it is used again
    /// or freed; the notebook can be opened anew at once.
    pub fn abandon(self) {
        let me = std::mem::ManuallyDrop::new(self);
        me.journal.roll_back();
        // It stays locked until the process ends where that fails.
        let _ = me.lock.unlock();
    }

    /// Writes what makes the next opening quick, and goes.
    pub fn close(mut self) -> Result<(), NotebookError> {
        self.put_away()
    }

    /// Writes snapshots of what changed, so that the next opening is quick.
    pub fn put_away(&mut self) -> Result<(), NotebookError> {
        for (job, open) in &self.open {
            if open.dirty {
                self.journal.save_snapshot(*job, &open.document)?;
            }
        }
        // What is still wanted is read again.
        self.open.clear();
        Ok(self.journal.checkpoint()?)
    }

    fn ensure_open(&mut self, job: JobId, beginning: bool) -> Result<(), NotebookError> {
        if self.open.contains_key(&job) {
            return Ok(());
        }
        let opened = self.journal.open_document(job)?;
        let empty = opened.document.changes() <= 1;
        if empty && !beginning && !self.journal.jobs()?.contains(&job) {
            return Err(NotebookError::NoSuchJob(job));
        }
        self.troubles.extend(opened.troubles);
        let mut nonce = [0; 8];
        self.env.random(&mut nonce);
        let author = Author {
            device: self.identity.device,
            nonce,
        };
        let (document, since_snapshot) = (opened.document, opened.tail);
        let dirty = since_snapshot > 0;
        self.open.insert(
            job,
            OpenJob {
                document,
                author,
                since_snapshot,
                dirty,
                files: None,
            },
        );
        Ok(())
    }

    /// A device's first change in a job says who it is.
    fn ensure_joined(&mut self, job: JobId) -> Result<(), NotebookError> {
        let device = self.identity.device;
        let open = self
            .open
            .get_mut(&job)
            .ok_or(NotebookError::NoSuchJob(job))?;
        if open.document.has_member(device) {
            return Ok(());
        }
        let member = CrewMember {
            person: self.identity.person.clone(),
            role: self.identity.role,
            device_name: self.identity.device_name.clone(),
            key: self.identity.key.verifying_key().to_bytes().to_vec(),
        };
        let now = self.env.now();
        let applied = open
            .document
            .join(open.author, &self.identity.key, &member, now)?;
        self.keep(job, applied.row)
    }

    /// Makes one's own change durable. Where that fails the document is opened again from the
    /// disk, so that memory never shows what the disk does not hold.
    fn keep(&mut self, job: JobId, row: ChangeRow) -> Result<(), NotebookError> {
        if let Err(error) = self.journal.append(job, std::slice::from_ref(&row)) {
            self.open.remove(&job);
            return Err(error.into());
        }
        self.after_rows(job, 1)
    }

    /// Counts rows and writes a snapshot when it is time.
    fn after_rows(&mut self, job: JobId, rows: u64) -> Result<(), NotebookError> {
        let Some(open) = self.open.get_mut(&job) else {
            return Ok(());
        };
        open.since_snapshot += rows;
        open.dirty = true;
        if open.since_snapshot >= limits::SNAPSHOT_EVERY {
            self.journal.save_snapshot(job, &open.document)?;
            open.since_snapshot = 0;
            open.dirty = false;
        }
        Ok(())
    }
}

fn lock(dir: &Path) -> Result<File, NotebookError> {
    let path = dir.join("notebook.lock");
    let file = OpenOptions::new()
        .create(true)
        .truncate(false)
        .write(true)
        .open(&path)
        .map_err(|error| NotebookError::folder(dir, &error))?;
    match file.try_lock() {
        Ok(()) => Ok(file),
        Err(TryLockError::WouldBlock) => Err(NotebookError::InUse(dir.to_owned())),
        Err(TryLockError::Error(error)) => Err(NotebookError::folder(dir, &error)),
    }
}
