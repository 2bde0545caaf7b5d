//! What a person does: one action, one signed change, staged for the page to write.

use chalkwalk_core::document::{Action, may_write};
use chalkwalk_core::env::EnvIds;
use chalkwalk_core::job::{
    AnyFields, Audience, Capture, FieldRead, Job, JobId, Kind, Photo, PhotoRole, Place, RecordRef,
    Scalar, SignedCapture,
};
use serde::{Deserialize, Serialize};
use serde_bytes::ByteBuf;

use crate::book::Book;

/// What one action left behind.
#[derive(Clone, Debug, Serialize)]
pub(crate) struct Receipt {
    /// The record it touched.
    pub(crate) record: RecordRef,
    /// Whether it changed anything.
    pub(crate) changed: bool,
    /// The action that takes it back, where there is one.
    pub(crate) undo: Option<Action>,
}

/// What the crew says of a photo.
#[derive(Clone, Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(crate) struct PhotoNote {
    role: Option<PhotoRole>,
    place: Option<Place>,
    caption: Option<String>,
    audience: Option<Audience>,
    from_left: Option<u32>,
    shows: Vec<RecordRef>,
}

impl Book {
    /// Does one action; where the device is new to the job, it says who it is first.
    pub(crate) fn act(&mut self, job: JobId, action: &Action) -> Result<Receipt, String> {
        let kind = action.target().kind;
        if !may_write(self.identity.role, kind) {
            let label = kind.label();
            return Err(format!(
                "a {label} is the office's to write: ask your estimator"
            ));
        }
        if matches!(action, Action::Begin { .. }) && !self.jobs.contains_key(&job) {
            self.open(job, None, &[])?;
        }
        let key = self.identity.signing_key()?;
        let (member, device) = (self.member()?, self.identity.device);
        let now = self.now();
        let open = self.job_mut(job)?;
        let undo = undo_of(open.document.job(), device, action);
        let mut kept = Vec::new();
        if !open.document.has_member(device) {
            let joined = open.document.join(open.author, &key, &member, now);
            kept.push(joined.map_err(|error| error.to_string())?.row);
        }
        let applied = open.document.apply(open.author, &key, action, now);
        let changed = match applied {
            Ok(applied) => {
                let changed = applied.is_some();
                kept.extend(applied.map(|applied| applied.row));
                Ok(changed)
            }
            Err(error) => Err(error.to_string()),
        };
        // Having joined is kept even where the action was refused.
        for row in kept {
            self.keep(job, row);
        }
        changed.map(|changed| Receipt {
            record: action.target(),
            changed,
            undo: undo.filter(|_| changed),
        })
    }

    /// Begins a job with a fresh id.
    pub(crate) fn begin(
        &mut self,
        property: chalkwalk_core::job::Property,
    ) -> Result<JobId, String> {
        let job = self.env.job_id();
        self.act(job, &Action::Begin { job, property })?;
        Ok(job)
    }

    /// Adds a record with a fresh id.
    pub(crate) fn add(
        &mut self,
        job: JobId,
        record: AnyFields,
        hits: Option<u32>,
    ) -> Result<Receipt, String> {
        let id = self.env.record_id();
        let shows = Vec::new();
        self.act(
            job,
            &Action::Add {
                id,
                record,
                hits,
                shows,
            },
        )
    }

    /// Signs what was read of a picture file: what the photo's record holds.
    pub(crate) fn sign_capture(&self, read: &[u8]) -> Result<Vec<u8>, String> {
        let capture: Capture = rmp_serde::from_slice(read).map_err(|error| error.to_string())?;
        if capture.device != self.identity.device {
            return Err("another device took this photo in".to_owned());
        }
        SignedCapture::sign(&capture, &self.identity.signing_key()?)
            .and_then(|signed| signed.to_bytes())
            .map_err(|error| error.to_string())
    }

    /// Adds the record of a photo whose file the page holds durably.
    pub(crate) fn add_photo(
        &mut self,
        job: JobId,
        capture: Vec<u8>,
        note: PhotoNote,
    ) -> Result<Receipt, String> {
        let said = SignedCapture::from_bytes(&capture)
            .and_then(|signed| signed.capture())
            .map_err(|error| error.to_string())?;
        let known = self.job(job)?.document.job().records.photos.iter();
        let mut same = known.filter(|(_, photo)| {
            photo.capture.as_ref().is_some_and(|bytes| {
                SignedCapture::from_bytes(bytes)
                    .and_then(|signed| signed.capture())
                    .is_ok_and(|capture| capture.hash == said.hash)
            })
        });
        if let Some((id, _)) = same.next() {
            let record = RecordRef::new(Kind::Photo, id.clone());
            return Ok(Receipt {
                record,
                changed: false,
                undo: None,
            });
        }
        let photo = Photo {
            capture: Some(ByteBuf::from(capture)),
            role: note.role,
            place: note.place,
            caption: note.caption,
            audience: note.audience,
            from_left: note.from_left,
            marks: None,
        };
        let id = self.env.record_id();
        let (record, shows) = (photo.into(), note.shows);
        self.act(
            job,
            &Action::Add {
                id,
                record,
                hits: None,
                shows,
            },
        )
    }
}

/// What takes an action back, as the job stands before it.
fn undo_of(job: &Job, device: chalkwalk_core::job::DeviceId, action: &Action) -> Option<Action> {
    let at = action.target();
    match action {
        Action::Add { .. } => {
            let reason = "taken back at once".to_owned();
            Some(Action::Strike { at, reason })
        }
        Action::Amend { id, set, clear } => {
            let before = job.records.fields(&at)?;
            let mut stood: Vec<(&'static str, Scalar)> = Vec::new();
            before.each(&mut |key, value| stood.push((key, value)));
            let mut named: Vec<String> = clear.clone();
            set.each(&mut |key, _| named.push(key.to_owned()));
            let mut back = AnyFields::empty(at.kind);
            named.retain(|key| match stood.iter().find(|(known, _)| known == key) {
                Some((key, value)) => back.read(key, value.as_ref()) != FieldRead::Taken,
                None => true,
            });
            // What was never stated and only was to be emptied is as it was.
            named.retain(|key| !clear.contains(key));
            let (id, set, clear) = (id.clone(), back, named);
            Some(Action::Amend { id, set, clear })
        }
        Action::Strike { .. } => Some(Action::Reinstate { at }),
        Action::Count { .. } => {
            let tally = match at.kind {
                Kind::Finding => &job.records.findings.get(&at.id)?.tally,
                _ => &job.records.test_squares.get(&at.id)?.tally,
            };
            let hits = tally.get(&device).copied().unwrap_or(0);
            Some(Action::Count { at, hits })
        }
        Action::Attach { photo, to } => {
            let (photo, from) = (photo.clone(), to.clone());
            Some(Action::Detach { photo, from })
        }
        Action::Detach { photo, from } => {
            let (photo, to) = (photo.clone(), from.clone());
            Some(Action::Attach { photo, to })
        }
        Action::Begin { .. } | Action::Reinstate { .. } | Action::Settle { .. } => None,
    }
}
