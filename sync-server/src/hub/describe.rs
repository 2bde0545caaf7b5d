//! What the office's list says of a job, and which files it wants: read from the document.

use std::collections::BTreeSet;
use std::sync::Arc;

use chalkwalk_core::document::{Document, Refusal};
use chalkwalk_core::job::{Capture, Job, JobId, Photo, Question, Record, RecordId, SignedCapture};
use chalkwalk_core::photo::walk_order;

use super::Hub;
use crate::store::here::wait_for;
use crate::store::{Crew, PhotoEntry, Summary};

/// The change that every document starts from, which is not stored.
const GENESIS: u64 = 1;

impl Hub {
    /// Writes down what a document says, where it differs from what was written before.
    pub(super) async fn describe(&self, job: JobId, document: &Document) -> Result<(), Refusal> {
        let changes = document.changes().saturating_sub(GENESIS);
        let summary = summary(document.job(), changes);
        self.records()
            .describe(job, &summary, &photos(document.job()))
            .await?;
        Ok(())
    }

    /// Sees that the description of a job is of all its changes: after a crash it may be behind.
    pub(crate) async fn freshen(&self, job: JobId) -> Result<(), Refusal> {
        let Some(status) = self.records().job(job).await? else {
            return Ok(());
        };
        if status.is_described() {
            return Ok(());
        }
        let desk = self.0.desks.of(job);
        let hub = self.clone();
        let runtime = tokio::runtime::Handle::current();
        let work = move || {
            let mut desk = desk
                .lock()
                .unwrap_or_else(std::sync::PoisonError::into_inner);
            wait_for(&runtime, async {
                let document = hub.take_document(&mut desk, job).await?;
                hub.describe(job, &document).await?;
                *desk = Some(document);
                Ok(())
            })
        };
        tokio::task::spawn_blocking(work)
            .await
            .map_err(|error| Refusal::Storage(error.to_string()))?
    }

    /// The job as plain structs; `None` where nothing is held of it. Read once for all who ask
    /// until something is added to it, by whichever node.
    ///
    /// # Errors
    /// Where storage or the document does not read.
    pub async fn read(&self, job: JobId) -> Result<Option<Arc<Job>>, Refusal> {
        let stored = self.records().table(job).await?;
        if stored.is_empty() && self.records().job(job).await?.is_none() {
            return Ok(None);
        }
        if let Some(read) = self.0.reads.of(job, &stored) {
            return Ok(Some(read));
        }
        let desk = self.0.desks.of(job);
        let hub = self.clone();
        let runtime = tokio::runtime::Handle::current();
        let work = move || {
            let mut desk = desk
                .lock()
                .unwrap_or_else(std::sync::PoisonError::into_inner);
            let document = wait_for(&runtime, hub.take_document(&mut desk, job))?;
            let read = Arc::new(document.job().clone());
            hub.0.reads.keep(job, document.table(), &read);
            *desk = Some(document);
            Ok(Some(read))
        };
        tokio::task::spawn_blocking(work)
            .await
            .map_err(|error| Refusal::Storage(error.to_string()))?
    }
}

fn summary(job: &Job, changes: u64) -> Summary {
    let count = |count: usize| u32::try_from(count).unwrap_or(u32::MAX);
    Summary {
        title: job_title(job),
        owner: job.property().and_then(|property| property.owner.clone()),
        date_of_loss: job.property().and_then(|property| property.date_of_loss),
        findings: count(job.standing_findings().count()),
        photos: count(
            job.records
                .photos
                .values()
                .filter(|photo| photo.stands())
                .count(),
        ),
        questions: count(open_questions(job).count()),
        crew: crew(job),
        changes,
    }
}

/// The office's questions that stand and that no standing answer names.
pub(crate) fn open_questions(job: &Job) -> impl Iterator<Item = (&RecordId, &Record<Question>)> {
    let answered: BTreeSet<&RecordId> = job
        .records
        .answers
        .values()
        .filter(|answer| answer.stands())
        .filter_map(|answer| answer.question.as_ref())
        .map(|question| &question.id)
        .collect();
    job.records
        .questions
        .iter()
        .filter(move |(id, question)| question.stands() && !answered.contains(id))
}

/// How far the crew has come: it has left once every visit is ended by a departure.
pub(crate) fn crew(job: &Job) -> Crew {
    let records = &job.records;
    let visits = records
        .visits
        .values()
        .filter(|visit| visit.stands())
        .count();
    let departures = records
        .departures
        .values()
        .filter(|left| left.stands())
        .count();
    let recorded = !records.findings.is_empty() || !records.photos.is_empty();
    match (visits, departures) {
        (visits, left) if left > 0 && left >= visits => Crew::Left,
        (0, 0) if !recorded => Crew::Expected,
        _ => Crew::AtHouse,
    }
}

/// The address of a job, or words that say that there is none.
pub fn job_title(job: &Job) -> String {
    let Some(property) = job.property() else {
        return "a house without an address".to_owned();
    };
    let parts = [&property.street, &property.town, &property.state];
    let parts: Vec<&str> = parts.into_iter().flatten().map(String::as_str).collect();
    if parts.is_empty() {
        "a house without an address".to_owned()
    } else {
        parts.join(", ")
    }
}

/// The photos of a job in the order their files are wanted. Struck ones come last: their files
/// belong to the record too.
fn photos(job: &Job) -> Vec<PhotoEntry> {
    let struck = job.records.photos.values().filter(|photo| !photo.stands());
    walk_order(job)
        .iter()
        .filter_map(|id| job.records.photos.get(id))
        .chain(struck)
        .filter_map(entry)
        .collect()
}

fn entry(photo: &Record<Photo>) -> Option<PhotoEntry> {
    let capture = capture(photo)?;
    Some(PhotoEntry {
        hash: capture.hash,
        size: capture.size,
        role: photo.role,
    })
}

fn capture(photo: &Photo) -> Option<Capture> {
    SignedCapture::from_bytes(photo.capture.as_ref()?)
        .ok()?
        .capture()
        .ok()
}
