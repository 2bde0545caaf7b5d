//! The notebook: one device's own record of its jobs.

use std::collections::BTreeSet;
use std::path::Path;
use std::sync::Arc;

use chalkwalk_core::document::Action;
use chalkwalk_core::env::EnvIds;
use chalkwalk_core::job::{
    Audience, BlobKind, Job, JobId, Kind, PhotoHash, Property, RecordId, RecordRef, Role,
    SignedCapture, hex,
};
use chalkwalk_core::notebook::{NewIdentity, Notebook as Core, PhotoNote as CoreNote};
use chalkwalk_core::sync::bundle::Report;
use chalkwalk_link::env::SystemEnv;
use chalkwalk_link::pin_of;

use crate::inner::{Clock, Inner, ListenerFailure};
use crate::views::count;
use crate::{
    AddedPhoto, Answer, ChalkwalkError, Conflict, CrewMember, Deed, Fields, Identity, JobCard,
    JobStatus, Office, PhotoFile, PhotoNote, Receipt, RecordView, of_kind, one,
};

/// One device's own record of its jobs. Whatever a call confirms is on the disk when it returns.
/// Calls block, for milliseconds unless they say more, and may come from any thread.
#[derive(uniffi::Object)]
pub struct Notebook {
    pub(crate) inner: Arc<Inner>,
}

/// Told how far a long call is. It may call the notebook.
#[uniffi::export(with_foreign)]
pub trait ProgressListener: Send + Sync {
    /// So many are done, of how many.
    fn on_progress(&self, done: u32, of: u32) -> Result<(), ListenerFailure>;
}

/// A photo to be added.
#[derive(Clone, Debug, uniffi::Record)]
pub struct NewPhoto {
    /// Path of the file. It stays where it is.
    pub path: String,
    /// What the crew says of it.
    #[uniffi(default)]
    pub note: PhotoNote,
}

/// What became of one photo of several.
#[derive(Clone, Debug, uniffi::Record)]
pub struct PhotoOutcome {
    /// Path of the file.
    pub path: String,
    /// Set where it was added.
    pub added: Option<AddedPhoto>,
    /// Why it was not, for a person.
    pub refused: Option<String>,
}

/// What was written into a bundle or taken out of it.
#[derive(Clone, Debug, uniffi::Record)]
pub struct Bundle {
    /// Who made it, where it was read.
    pub maker: Option<String>,
    /// Changes in it.
    pub changes: u64,
    /// Of those, how many were new here.
    pub new_changes: u64,
    /// Whole files in it.
    pub files: u64,
    /// Files that were lacking, or not wanted.
    pub files_left_out: u64,
    /// Bytes.
    pub bytes: u64,
    /// What was not taken, and why.
    pub refused: Vec<String>,
}

#[uniffi::export]
impl Notebook {
    /// Makes a notebook in a folder that has none. The folder belongs in the app's own storage
    /// that is not backed up to other devices: it holds the device's key.
    #[uniffi::constructor(default(clock = None))]
    pub fn create(
        folder: String,
        person: String,
        device_name: String,
        role: Role,
        clock: Option<Arc<dyn Clock>>,
    ) -> Answer<Arc<Self>> {
        let folder = Path::new(&folder);
        let who = NewIdentity {
            person,
            device_name,
            role,
        };
        let inner = Inner::new(folder, clock, |env| Ok(Core::create(folder, who, env)?))?;
        Ok(Arc::new(Self { inner }))
    }

    /// Opens the notebook in a folder. One at a time has it open.
    #[uniffi::constructor(default(clock = None))]
    pub fn open(folder: String, clock: Option<Arc<dyn Clock>>) -> Answer<Arc<Self>> {
        let folder = Path::new(&folder);
        let inner = Inner::new(folder, clock, |env| Ok(Core::open(folder, env)?))?;
        Ok(Arc::new(Self { inner }))
    }

    /// Stops exchanges and closes the notebook, so that the next opening is quick. Later calls
    /// fail. Nothing is lost where it is not called.
    pub fn shut(&self) -> Answer<()> {
        self.inner.shut()
    }

    /// The device and its person.
    pub fn identity(&self) -> Answer<Identity> {
        self.inner.with(|core| {
            let identity = core.identity();
            Ok(Identity {
                device: identity.device,
                person: identity.person.clone(),
                device_name: identity.device_name.clone(),
                role: identity.role,
            })
        })
    }

    /// The office that vouches for this device; nothing before enrolment.
    pub fn office(&self) -> Answer<Option<Office>> {
        self.inner.with(|core| {
            Ok(core.office().map(|office| Office {
                company: office.company,
                company_name: office.company_name.clone(),
                address: office.address.clone(),
                pin: pin_of(&office.key),
            }))
        })
    }

    /// Damage that was found and worked around since the notebook was opened, in words.
    pub fn troubles(&self) -> Answer<Vec<String>> {
        self.inner
            .with(|core| Ok(core.troubles().iter().map(ToString::to_string).collect()))
    }

    /// The jobs here, oldest first, each in a few words. Quick: from what was kept for it.
    pub fn jobs(&self) -> Answer<Vec<JobCard>> {
        self.inner.with(|core| {
            let mut cards = Vec::new();
            for id in core.jobs()? {
                cards.push(JobCard::of(id, &core.first_screen(id)?));
            }
            Ok(cards)
        })
    }

    /// One job in a few words.
    pub fn job(&self, job: JobId) -> Answer<JobCard> {
        self.inner
            .with(|core| Ok(JobCard::of(job, &core.first_screen(job)?)))
    }

    /// Begins a job with a fresh id, or with the id that the other phone shows.
    #[uniffi::method(default(job = None))]
    pub fn begin(&self, property: Property, job: Option<JobId>) -> Answer<JobId> {
        let begun = self.inner.with(|core| Ok(core.begin(job, property)?))?;
        self.inner.record(begun, |_| Ok(()))?;
        Ok(begun)
    }

    /// Adds a record with a fresh id, or with an id of the app's. `hits` are those that this
    /// person counted. Of what every job has from its start (property, interview, recap, the four
    /// sides) the record that is there takes the fields that are set.
    #[uniffi::method(default(hits = None, id = None))]
    pub fn add(
        &self,
        job: JobId,
        fields: Fields,
        hits: Option<u32>,
        id: Option<RecordId>,
    ) -> Answer<Receipt> {
        let record = fields.into();
        if let Some(fixed) = Job::fixed_id(&record) {
            if id.is_some_and(|id| id != fixed) || hits.is_some() {
                let words = "every job has this record from its start: leave id and hits out";
                return Err(ChalkwalkError::input(words));
            }
            let (set, clear) = (record, Vec::new());
            let id = fixed;
            return self.act(job, &Action::Amend { id, set, clear });
        }
        let action = Action::Add {
            id: id.unwrap_or_else(|| SystemEnv.record_id()),
            record,
            hits,
            shows: Vec::new(),
        };
        self.act(job, &action)
    }

    /// Changes the fields that are set in `set`, and empties those named in `clear`, written as in
    /// lists of conflicts: `cause_reason`.
    #[uniffi::method(default(clear = []))]
    pub fn amend(
        &self,
        job: JobId,
        id: RecordId,
        set: Fields,
        clear: Vec<String>,
    ) -> Answer<Receipt> {
        let set = set.into();
        self.act(job, &Action::Amend { id, set, clear })
    }

    /// Withdraws a record. It stays in the job with the reason.
    pub fn strike(&self, job: JobId, at: RecordRef, reason: String) -> Answer<Receipt> {
        self.act(job, &Action::Strike { at, reason })
    }

    /// Lets a struck record stand again.
    pub fn reinstate(&self, job: JobId, at: RecordRef) -> Answer<Receipt> {
        self.act(job, &Action::Reinstate { at })
    }

    /// States the hits that this person counted; it replaces the same person's earlier count.
    pub fn count_hits(&self, job: JobId, at: RecordRef, hits: u32) -> Answer<Receipt> {
        self.act(job, &Action::Count { at, hits })
    }

    /// Says that a photo shows a record.
    pub fn attach(&self, job: JobId, photo: RecordId, to: RecordRef) -> Answer<Receipt> {
        self.act(job, &Action::Attach { photo, to })
    }

    /// Says that a photo does not show a record after all.
    pub fn detach(&self, job: JobId, photo: RecordId, from_record: RecordRef) -> Answer<Receipt> {
        let from = from_record;
        self.act(job, &Action::Detach { photo, from })
    }

    /// Fields with more than one statement.
    pub fn conflicts(&self, job: JobId) -> Answer<Vec<Conflict>> {
        self.inner.with(|core| {
            let job = core.job(job)?;
            let found = job.conflicts();
            Ok(found
                .iter()
                .map(|(at, c)| Conflict::of(job, at, c))
                .collect())
        })
    }

    /// Settles a conflict by choosing one of its statements, counted from 0. The value chosen.
    pub fn settle(
        &self,
        job: JobId,
        at: RecordRef,
        field: String,
        statement: u32,
    ) -> Answer<Option<String>> {
        let number = usize::try_from(statement).unwrap_or(usize::MAX);
        self.inner.record(job, |core| {
            let value = core.settle(job, &at, &field, number)?;
            Ok(value.and_then(|value| at.kind.value_in_words(&field, value.as_ref())))
        })
    }

    /// The records of one kind, by id; struck ones too.
    pub fn records(&self, job: JobId, kind: Kind) -> Answer<Vec<RecordView>> {
        self.inner
            .with(|core| Ok(of_kind(&core.job(job)?.records, kind)))
    }

    /// One record; nothing where there is none.
    pub fn record(&self, job: JobId, at: RecordRef) -> Answer<Option<RecordView>> {
        self.inner
            .with(|core| Ok(one(&core.job(job)?.records, &at)))
    }

    /// The people who recorded.
    pub fn crew(&self, job: JobId) -> Answer<Vec<CrewMember>> {
        self.inner.with(|core| {
            let crew = core.job(job)?.crew.iter();
            Ok(crew
                .map(|(device, member)| CrewMember {
                    device: *device,
                    person: member.person.clone(),
                    role: member.role,
                    device_name: member.device_name.clone(),
                })
                .collect())
        })
    }

    /// Who did what when, in an order that is the same on every device.
    pub fn history(&self, job: JobId) -> Answer<Vec<Deed>> {
        self.inner.with(|core| {
            let deeds = core.history(job)?;
            let job = core.job(job)?;
            Ok(deeds.into_iter().map(|deed| Deed::of(job, deed)).collect())
        })
    }

    /// A name of a place that people understand.
    pub fn place_name(&self, job: JobId, place: RecordRef) -> Answer<String> {
        self.inner
            .with(|core| Ok(core.job(job)?.place_name(&place)))
    }

    /// Takes in a photo: copies and hashes the file, signs what is known of it, makes its small
    /// picture and adds its record. File and record are on the disk when this returns; the bytes
    /// never cross into the app.
    #[uniffi::method(default(note))]
    pub fn add_photo(&self, job: JobId, path: String, note: PhotoNote) -> Answer<AddedPhoto> {
        self.inner.record(job, |core| {
            let added = core.add_photo(job, Path::new(&path), note_of(note))?;
            Ok(AddedPhoto {
                record: added.record,
                hash: added.capture.hash,
                size: added.capture.size,
                warnings: added.warnings.iter().map(ToString::to_string).collect(),
                known: added.known,
            })
        })
    }

    /// Takes in several photos and tells of each. One that cannot be taken stops no other. Where
    /// the listener fails, those done so far are given. The crew can record meanwhile.
    #[uniffi::method(default(listener = None))]
    pub fn add_photos(
        &self,
        job: JobId,
        photos: Vec<NewPhoto>,
        listener: Option<Arc<dyn ProgressListener>>,
    ) -> Answer<Vec<PhotoOutcome>> {
        let of = count(photos.len());
        let mut outcomes = Vec::new();
        for (done, photo) in (1..).zip(photos) {
            let result = self.add_photo(job, photo.path.clone(), photo.note);
            if let Err(error @ (ChalkwalkError::DiskFull { .. } | ChalkwalkError::NotOpen { .. })) =
                result
            {
                return Err(error);
            }
            outcomes.push(PhotoOutcome {
                path: photo.path,
                refused: result.as_ref().err().map(ToString::to_string),
                added: result.ok(),
            });
            let told = listener.as_ref().map(|told| told.on_progress(done, of));
            if told.is_some_and(|told| told.is_err()) {
                break;
            }
        }
        Ok(outcomes)
    }

    /// The photos of a job in the order in which one walks past what they show, struck ones last.
    pub fn photos(&self, job: JobId) -> Answer<Vec<PhotoFile>> {
        self.inner.with(|core| {
            let hydrated = core.job(job)?.clone();
            let mut ids = chalkwalk_core::photo::walk_order(&hydrated);
            let others: Vec<RecordId> = hydrated
                .records
                .photos
                .keys()
                .filter(|id| !ids.contains(id))
                .cloned()
                .collect();
            ids.extend(others);
            let mut files = Vec::new();
            for id in ids {
                let photo = hydrated.records.photos.get(&id);
                let signed = photo.and_then(|photo| photo.capture.as_ref());
                let capture = signed
                    .and_then(|bytes| SignedCapture::from_bytes(bytes).ok())
                    .and_then(|signed| signed.capture().ok());
                let Some(capture) = capture else { continue };
                let path = core.photo_store().path(BlobKind::Original, capture.hash);
                files.push(PhotoFile {
                    record: RecordRef::new(Kind::Photo, id),
                    hash: capture.hash,
                    size: capture.size,
                    width: capture.width,
                    height: capture.height,
                    taken_at: capture.taken_at(),
                    latitude: capture.place.map(|place| place.latitude),
                    longitude: capture.place.map(|place| place.longitude),
                    device: capture.device,
                    original: path.is_file().then(|| path.to_string_lossy().into_owned()),
                    safe_at_office: core.original_safe_at_office(capture.hash)?,
                    file_name: capture.file_name,
                });
            }
            Ok(files)
        })
    }

    /// The small upright picture of a photo, a JPEG; nothing where it is not here yet.
    pub fn thumbnail(&self, hash: PhotoHash) -> Answer<Option<Vec<u8>>> {
        // Only the path needs the notebook: pictures are read beside other calls.
        let path = self
            .inner
            .with(|core| Ok(core.photo_store().path(BlobKind::Thumbnail, hash)))?;
        match std::fs::read(&path) {
            Ok(bytes) => Ok(Some(bytes)),
            Err(error) if error.kind() == std::io::ErrorKind::NotFound => Ok(None),
            Err(error) => Err(ChalkwalkError::file("the small picture", &error)),
        }
    }

    /// Where the parts of a job are safe.
    pub fn status(&self, job: JobId) -> Answer<JobStatus> {
        self.inner.with(|core| Ok(core.status(job)?.into()))
    }

    /// Writes a bundle for a crew with no radio link into a new file: all changes of the jobs
    /// (none named: of all), their thumbnails, and originals where they are wanted.
    #[uniffi::method(default(originals = false, jobs))]
    pub fn write_bundle(&self, path: String, jobs: Vec<JobId>, originals: bool) -> Answer<Bundle> {
        let failed = |error: &std::io::Error| ChalkwalkError::file(&path, error);
        let file = std::fs::File::create_new(&path).map_err(|error| failed(&error))?;
        let mut out = std::io::BufWriter::new(file);
        let jobs = some_jobs(jobs);
        let report = self
            .inner
            .with(|core| Ok(core.write_bundle(jobs, originals, &mut out)?))?;
        out.into_inner()
            .map_err(|error| error.into_error())
            .and_then(|file| file.sync_all())
            .map_err(|error| failed(&error))?;
        Ok(bundle_of(report))
    }

    /// Takes what is in a bundle.
    pub fn read_bundle(&self, path: String) -> Answer<Bundle> {
        let file =
            std::fs::File::open(&path).map_err(|error| ChalkwalkError::file(&path, &error))?;
        let mut input = std::io::BufReader::new(file);
        let report = self.inner.with(|core| Ok(core.read_bundle(&mut input)?))?;
        Ok(bundle_of(report))
    }
}

impl Notebook {
    fn act(&self, job: JobId, action: &Action) -> Answer<Receipt> {
        self.inner.record(job, |core| {
            let receipt = core.act(job, action)?;
            Ok(Receipt {
                record: receipt.record,
                change: receipt.change.map(|hash| hex(&hash)),
            })
        })
    }
}

#[cfg(feature = "testing")]
#[uniffi::export]
impl Notebook {
    /// Only for tests of this library: lets the database grow no further, as on a full disk, or as
    /// it likes again.
    pub fn fill_disk(&self, full: bool) -> Answer<()> {
        self.inner.with(|core| Ok(core.fill_disk(full)?))
    }

    /// Only for tests of this library: fails inside, as a mistake of it would.
    #[allow(clippy::panic)]
    pub fn fail_inside(&self) -> Answer<()> {
        self.inner.with(|_| panic!("made for a test"))
    }

    /// Only for tests of this library: fails inside while the database is being written.
    pub fn fail_in_the_middle(&self) -> Answer<()> {
        self.inner.with(|core| Ok(core.fail_in_the_middle()?))
    }
}

/// The jobs named; none for all.
pub(crate) fn some_jobs(jobs: Vec<JobId>) -> Option<BTreeSet<JobId>> {
    (!jobs.is_empty()).then(|| jobs.into_iter().collect())
}

fn note_of(note: PhotoNote) -> CoreNote {
    CoreNote {
        role: note.role,
        place: note.place,
        caption: note.caption,
        audience: note.office_only.then_some(Audience::OfficeOnly),
        from_left: note.from_left,
        shows: note.shows,
    }
}

fn bundle_of(report: Report) -> Bundle {
    let refused = report.refused.iter();
    Bundle {
        maker: report
            .maker
            .map(|maker| format!("{}, {}", maker.person, maker.device_name)),
        changes: report.changes,
        new_changes: report.new_changes,
        files: report.files,
        files_left_out: report.files_left_out,
        bytes: report.bytes,
        refused: refused.map(|(job, why)| format!("{job}: {why}")).collect(),
    }
}
