//! Recording at the pages: what a person at the office does is signed and kept like a phone's.
//!
//! Every person has a pen: a device of the server's own whose key follows from the office's key,
//! so that every node has the same one and nothing secret is stored for it. A person who is given
//! another part gets another pen, because a device's part never changes.

use std::collections::BTreeMap;
use std::sync::PoisonError;

use chalkwalk_core::document::{Action, ActionError, Author, ChangeRow, Document, Refusal};
use chalkwalk_core::env::{Env, EnvIds};
use chalkwalk_core::job::{CrewMember, DeviceId, Job, JobId, Millis, Property, RecordId};

use super::{ELSEWHERE, Hub, News, shut_out};
use crate::office::Pen;
use crate::store::here::wait_for;
use crate::store::{Device, Person, PersonId};

/// Why nothing of what a person did at the pages was recorded.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum PenError {
    /// The office holds no such job.
    #[error("the office holds no such job")]
    NoSuchJob,
    /// The record does not take an action.
    #[error(transparent)]
    Action(#[from] ActionError),
    /// It is not the person's to write, or storage failed.
    #[error(transparent)]
    Refused(#[from] Refusal),
}

/// Nonces of the authors under which this process writes: one for each job and person.
#[derive(Default)]
pub(super) struct Pens(std::sync::Mutex<BTreeMap<(JobId, PersonId), [u8; 8]>>);

impl Hub {
    /// Begins a job on behalf of a person, with what is known of the house.
    pub async fn begin_job(&self, by: &Person, property: Property) -> Result<JobId, PenError> {
        self.begin_job_with(by, property, Vec::new(), &[]).await
    }

    /// Begins a job for these devices, or for all where none is named, and does more to it: all of
    /// it or nothing. The devices are assigned before there is a job: there is no moment at which
    /// others see it.
    ///
    /// # Errors
    /// [`PenError`]; then there is no such job.
    pub async fn begin_job_with(
        &self,
        by: &Person,
        property: Property,
        more: Vec<Action>,
        devices: &[DeviceId],
    ) -> Result<JobId, PenError> {
        let job = self.with_env(|env| env.job_id());
        self.room_for_job(job).await?;
        let mut actions = vec![Action::Begin { job, property }];
        actions.extend(more);
        // They stay assigned where it fails: whether a job was kept may not be known then, and to
        // be assigned to none means nothing.
        for device in devices {
            let assigned = self.accounts().assign(job, *device, true).await;
            assigned.map_err(|error| PenError::Refused(error.into()))?;
        }
        self.write(by, job, move |_| Ok::<_, PenError>(actions))
            .await?;
        Ok(job)
    }

    /// Does what `plan` says from the job as it stands, all of it or nothing, each action as one
    /// change that the person's pen signs. Returns how many changes were made once they are
    /// durable. Nobody else writes to the job on this node between `plan` and its actions.
    ///
    /// # Errors
    /// Whatever `plan` refuses, and [`PenError`]; then nothing was recorded.
    pub async fn record<E>(
        &self,
        by: &Person,
        job: JobId,
        plan: impl FnOnce(&Job) -> Result<Vec<Action>, E> + Send + 'static,
    ) -> Result<usize, E>
    where
        E: From<PenError> + Send + 'static,
    {
        let known = self.records().job(job).await;
        match known.map_err(|error| PenError::Refused(error.into()))? {
            Some(_) => self.write(by, job, plan).await,
            None => Err(PenError::NoSuchJob.into()),
        }
    }

    /// A fresh id for a record.
    pub fn fresh_record_id(&self) -> RecordId {
        self.with_env(|env| env.record_id())
    }

    async fn write<E>(
        &self,
        by: &Person,
        job: JobId,
        plan: impl FnOnce(&Job) -> Result<Vec<Action>, E> + Send + 'static,
    ) -> Result<usize, E>
    where
        E: From<PenError> + Send + 'static,
    {
        let (hub, by) = (self.clone(), by.clone());
        let runtime = tokio::runtime::Handle::current();
        let work = move || {
            let desk = hub.0.desks.of(job);
            let mut desk = desk.lock().unwrap_or_else(PoisonError::into_inner);
            wait_for(&runtime, hub.write_at(&mut desk, &by, job, plan))
        };
        let done = tokio::task::spawn_blocking(work).await;
        done.map_err(|error| PenError::Refused(Refusal::Storage(error.to_string())))?
    }

    async fn write_at<E: From<PenError>>(
        &self,
        desk: &mut Option<Document>,
        by: &Person,
        job: JobId,
        plan: impl FnOnce(&Job) -> Result<Vec<Action>, E>,
    ) -> Result<usize, E> {
        let refused = |refusal| PenError::Refused(refusal);
        let pen = self
            .office()
            .pen(by)
            .map_err(|error| refused(Refusal::Unsigned(error.to_string())))?;
        let new = self.pen_device(&pen).await.map_err(refused)?;
        let document = self.take_document(desk, job).await.map_err(refused)?;
        let actions = match plan(document.job()) {
            Ok(actions) if !actions.is_empty() => actions,
            other => {
                *desk = Some(document);
                return other.map(|_| 0);
            }
        };
        // What is written before a failure is in this document alone: it does not go back to the
        // desk, and the next one is loaded anew.
        let mut document = document;
        let nonce = self.nonce(job, by.id);
        let rows =
            sign_all(&mut document, &pen, nonce, &actions, self.now()).map_err(PenError::Action)?;
        let roles = BTreeMap::from([(pen.certificate.device, by.role)]);
        document.check_writers(&rows, &roles).map_err(refused)?;
        let devices: Vec<Device> = new.into_iter().collect();
        let appended = self
            .records()
            .append(job, &rows, &devices, self.now())
            .await;
        let appended = appended.map_err(|error| {
            // Whether it was kept is not known: what follows has another author.
            self.new_nonce(job, by.id);
            refused(error.into())
        })?;
        self.after_append(job, &document, appended.new_changes)
            .await;
        *desk = Some(document);
        self.tell(News::Job {
            job,
            session: ELSEWHERE,
            files: true,
        });
        Ok(appended.new_changes)
    }

    /// The pen as a device, where it is not known yet.
    async fn pen_device(&self, pen: &Pen) -> Result<Option<Device>, Refusal> {
        let id: DeviceId = pen.certificate.device;
        match self.records().device(id).await? {
            Some(known) if known.revoked_at.is_some() => Err(shut_out(id)),
            Some(_) => Ok(None),
            None => Ok(Some(Device {
                id,
                key: pen.key.verifying_key().to_bytes(),
                certificate: pen.signed.clone(),
                known_since: self.now(),
                revoked_at: None,
            })),
        }
    }

    fn nonce(&self, job: JobId, person: PersonId) -> [u8; 8] {
        let mut pens = self.0.pens.0.lock().unwrap_or_else(PoisonError::into_inner);
        *pens
            .entry((job, person))
            .or_insert_with(|| self.with_env(|env| fresh_nonce(env)))
    }

    fn new_nonce(&self, job: JobId, person: PersonId) {
        let mut pens = self.0.pens.0.lock().unwrap_or_else(PoisonError::into_inner);
        pens.remove(&(job, person));
    }

    fn with_env<T>(&self, make: impl FnOnce(&mut dyn Env) -> T) -> T {
        let mut env = self.0.env.lock().unwrap_or_else(PoisonError::into_inner);
        make(&mut **env)
    }
}

fn fresh_nonce(env: &mut dyn Env) -> [u8; 8] {
    let mut nonce = [0; 8];
    env.random(&mut nonce);
    nonce
}

/// Joins where the person's pen is new to the job, then does one action after another.
fn sign_all(
    document: &mut Document,
    pen: &Pen,
    nonce: [u8; 8],
    actions: &[Action],
    now: Millis,
) -> Result<Vec<ChangeRow>, ActionError> {
    let certificate = &pen.certificate;
    let device = certificate.device;
    let author = Author { device, nonce };
    let mut rows = Vec::with_capacity(actions.len() + 1);
    if !document.has_member(device) {
        let member = CrewMember {
            person: certificate.person.clone(),
            role: certificate.role,
            device_name: certificate.device_name.clone(),
            key: certificate.key.clone(),
        };
        rows.push(document.join(author, &pen.key, &member, now)?.row);
    }
    for action in actions {
        let applied = document.apply(author, &pen.key, action, now)?;
        rows.extend(applied.map(|applied| applied.row));
    }
    Ok(rows)
}
