//! The jobs that are open in this page, and what is known of others' copies.

use std::collections::{BTreeMap, BTreeSet};

use chalkwalk_core::document::{Author, ChangeRow, Document, Held, Table, short_hash};
use chalkwalk_core::env::Env;
use chalkwalk_core::job::{
    BlobKind, CrewMember, DeviceId, JobId, Millis, PhotoHash, SignedCertificate,
};

use crate::arriving::Arriving;
use crate::env::BrowserEnv;
use crate::held;
use crate::identity::{Enrolment, Identity, Office};
use crate::staged::Staged;

/// One job that is open.
pub(crate) struct OpenJob {
    pub(crate) document: Document,
    /// Fresh for each opening, so that a second tab or a restored copy never goes on with a number
    /// of this one.
    pub(crate) author: Author,
    /// Every change in the order in which it was kept; `None` until a meeting asks for them.
    pub(crate) rows: Option<Vec<ChangeRow>>,
}

/// Memory that a large job takes while it opens, bytes.
const ROOM: usize = 24 << 20;

/// Has the browser's memory grow once, where opening a large job would have it grow fifty times.
/// What is not used yet costs the phone nothing.
fn make_room() {
    drop(std::hint::black_box(Vec::<u8>::with_capacity(ROOM)));
}

/// The jobs that are open, the device, and what is to be written.
pub struct Book {
    pub(crate) identity: Identity,
    pub(crate) office: Option<Office>,
    pub(crate) jobs: BTreeMap<JobId, OpenJob>,
    pub(crate) certificates: BTreeMap<DeviceId, SignedCertificate>,
    pub(crate) thumbnails: BTreeMap<PhotoHash, Vec<u8>>,
    /// Small pictures that the page holds, in the engine's memory or not.
    pub(crate) thumbnails_here: BTreeSet<PhotoHash>,
    /// Originals that the page holds, with their sizes in bytes.
    pub(crate) originals_here: BTreeMap<PhotoHash, u64>,
    /// Originals that are coming from another phone.
    pub(crate) arriving: BTreeMap<PhotoHash, Arriving>,
    /// Reads a piece of an original that the page holds: `(hash, offset, most) -> bytes`.
    pub(crate) reader: Option<js_sys::Function>,
    /// Files that other devices said they hold.
    pub(crate) files_at: BTreeSet<(DeviceId, BlobKind, PhotoHash)>,
    /// Changes that other devices said they hold.
    pub(crate) changes_at: BTreeMap<(DeviceId, JobId), Table>,
    /// Devices that were met: name, and whether it is the office.
    pub(crate) peers: BTreeMap<DeviceId, (String, bool)>,
    pub(crate) staged: Vec<Staged>,
    pub(crate) env: BrowserEnv,
}

impl std::fmt::Debug for Book {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Book")
            .field("device", &self.identity.device)
            .finish_non_exhaustive()
    }
}

impl Book {
    /// A book of this device, without jobs.
    ///
    /// # Errors
    /// The office's answer is not about this device.
    pub fn new(identity: Identity, enrolment: Option<&Enrolment>) -> Result<Self, String> {
        let office = match enrolment {
            Some(answer) => Some(Office::check(answer, &identity, None)?),
            None => None,
        };
        let mut certificates = BTreeMap::new();
        if let Some(office) = &office {
            certificates.insert(identity.device, office.certificate.clone());
        }
        make_room();
        Ok(Self {
            identity,
            office,
            jobs: BTreeMap::new(),
            certificates,
            thumbnails: BTreeMap::new(),
            thumbnails_here: BTreeSet::new(),
            originals_here: BTreeMap::new(),
            arriving: BTreeMap::new(),
            reader: None,
            files_at: BTreeSet::new(),
            changes_at: BTreeMap::new(),
            peers: BTreeMap::new(),
            staged: Vec::new(),
            env: BrowserEnv,
        })
    }

    /// Now, by the browser's clock.
    pub(crate) fn now(&mut self) -> Millis {
        self.env.now()
    }

    /// Opens a job from what the page holds: a snapshot with the key of its last chunk, and the
    /// chunks behind it. Gives how many chunks were damaged or build on one that is not here: the
    /// rest of the job stands.
    ///
    /// # Errors
    /// The snapshot is damaged, or ends at another chunk: open the job without it, from all chunks.
    pub fn open(
        &mut self,
        job: JobId,
        snapshot: Option<(&[u8], u64)>,
        chunks: &[Vec<u8>],
    ) -> Result<usize, String> {
        let mut document = match snapshot {
            Some((snapshot, upto)) => {
                let body = held::unsealed_snapshot(job, snapshot, upto);
                let body = body.ok_or("the snapshot is damaged")?;
                Document::load(body).map_err(|error| error.to_string())?
            }
            None => Document::new().map_err(|error| error.to_string())?,
        };
        let rows: Vec<ChangeRow> = chunks.iter().filter_map(|c| held::decode(job, c)).collect();
        let damaged = chunks.len() - rows.len();
        let all = snapshot.is_none();
        let (fit, waiting) = document.split_by_fit(rows);
        document.replay(&fit).map_err(|error| error.to_string())?;
        let mut nonce = [0; 8];
        self.env.random(&mut nonce);
        let open = OpenJob {
            document,
            author: Author {
                device: self.identity.device,
                nonce,
            },
            rows: all.then_some(fit),
        };
        self.jobs.insert(job, open);
        Ok(damaged + waiting)
    }

    /// Hands in every chunk of a job, for a meeting.
    pub fn hand_in_rows(&mut self, job: JobId, chunks: &[Vec<u8>]) {
        if let Some(open) = self.jobs.get_mut(&job) {
            let rows = chunks.iter().filter_map(|c| held::decode(job, c));
            open.rows = Some(rows.collect());
        }
    }

    /// A snapshot of a job that holds every chunk up to this key, for a quick opening next time.
    pub fn snapshot(&self, job: JobId, upto: u64) -> Option<Vec<u8>> {
        let document = &self.jobs.get(&job)?.document;
        // Compressed, as its checksum is then of far fewer bytes: without the processor's help that
        // is what reading it would spend most on.
        Some(held::sealed_snapshot(job, &document.export(), upto))
    }

    pub(crate) fn job_mut(&mut self, job: JobId) -> Result<&mut OpenJob, String> {
        let no = "this job is not open here: open it from the list first";
        self.jobs.get_mut(&job).ok_or_else(|| no.to_owned())
    }

    pub(crate) fn job(&self, job: JobId) -> Result<&OpenJob, String> {
        let no = "this job is not open here: open it from the list first";
        self.jobs.get(&job).ok_or_else(|| no.to_owned())
    }

    /// This person, as the document names the people who record.
    pub(crate) fn member(&self) -> Result<CrewMember, String> {
        Ok(CrewMember {
            person: self.identity.person.clone(),
            role: self.identity.role,
            device_name: self.identity.device_name.clone(),
            key: self
                .identity
                .signing_key()?
                .verifying_key()
                .to_bytes()
                .to_vec(),
        })
    }

    /// Keeps a change in memory and stages it.
    pub(crate) fn keep(&mut self, job: JobId, row: ChangeRow) {
        if let Some(rows) = self.jobs.get_mut(&job).and_then(|open| open.rows.as_mut()) {
            rows.push(row.clone());
        }
        self.staged.push(Staged::Row(job, row));
    }

    /// Notes what another device holds; the greater number counts.
    pub(crate) fn note_changes(&mut self, peer: DeviceId, job: JobId, held: &Table) {
        let known = self.changes_at.entry((peer, job)).or_default();
        for (author, at) in held {
            let before = known.get(author).map_or(0, |held: &Held| held.number);
            if at.number > before {
                known.insert(*author, *at);
            }
        }
    }

    /// The hash of one change.
    pub(crate) fn hash_of(&self, job: JobId, author: Author, number: u64) -> Option<[u8; 8]> {
        let rows = self.jobs.get(&job)?.rows.as_ref()?;
        rows.iter()
            .find(|row| row.author == author && row.number == number)
            .map(|row| short_hash(&row.hash))
    }
}
