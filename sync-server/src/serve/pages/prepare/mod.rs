//! Preparing a job at the office: the house, its owner, who is coming, and the files that were
//! bought or fetched for it. All of it becomes the record, or nothing does.

mod fields;
mod files;
mod form;
mod page;

use axum::Extension;
use axum::extract::multipart::MultipartRejection;
use axum::extract::{Multipart, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use chalkwalk_core::document::{Action, Refusal};
use chalkwalk_core::job::{DeviceId, JobId};

use super::super::Shared;
use super::super::guard::SignedIn;
use super::{store_unwell, to};
use crate::hub::PenError;
use crate::store::{Actor, DeedKind, Device, StoreError};
use form::{Sent, Wrong};

/// `GET /jobs/new`.
pub(in crate::serve) async fn page(
    State(shared): State<Shared>,
    Extension(who): Extension<SignedIn>,
) -> Response {
    shown(&shared, &who, &Sent::default(), &Wrong::default()).await
}

/// `POST /jobs/new`.
pub(in crate::serve) async fn begin(
    State(shared): State<Shared>,
    Extension(who): Extension<SignedIn>,
    form: Result<Multipart, MultipartRejection>,
) -> Response {
    let form = match form {
        Ok(form) => form,
        Err(refused) => return refused.into_response(),
    };
    let (sent, mut wrong) = match Sent::read(form).await {
        Ok(read) => read,
        Err(response) => return *response,
    };
    let property = fields::property(&sent, &mut wrong);
    let records = files::records(&shared, &sent, &property, &mut wrong).await;
    let devices = match assigned(&shared, &sent, &mut wrong).await {
        Ok(devices) => devices,
        Err(error) => return store_unwell(&shared, &error),
    };
    if !wrong.is_empty() {
        return shown(&shared, &who, &sent, &wrong).await;
    }
    let add = |record| Action::Add {
        id: shared.hub.fresh_record_id(),
        record,
        hits: None,
        shows: Vec::new(),
    };
    let more = records.into_iter().map(add).collect();
    let begun = shared
        .hub
        .begin_job_with(&who.person, property, more, &devices);
    match begun.await {
        Ok(job) => match note_assigned(&shared, &who, job, &devices).await {
            Ok(()) => to(&shared, &format!("/jobs/{job}")),
            Err(error) => store_unwell(&shared, &error),
        },
        Err(error) => {
            wrong.whole(match &error {
                PenError::Refused(Refusal::Storage(_)) => {
                    tracing::error!(%error, "a job could not be begun");
                    "The job could not be kept just now. Send the form again.".to_owned()
                }
                error => format!("The job was not begun: {error}."),
            });
            shown(&shared, &who, &sent, &wrong).await
        }
    }
}

async fn shown(shared: &Shared, who: &SignedIn, sent: &Sent, wrong: &Wrong) -> Response {
    let devices = match shared.hub.records().devices().await {
        Ok(devices) => devices,
        Err(error) => return store_unwell(shared, &error),
    };
    let code = match wrong.is_empty() {
        true => StatusCode::OK,
        false => StatusCode::UNPROCESSABLE_ENTITY,
    };
    (
        code,
        page::page(shared, who, &coming(shared, &devices), sent, wrong),
    )
        .into_response()
}

/// A device that may be sent to a house: its id, who has it, its name.
struct Coming {
    id: DeviceId,
    words: String,
}

/// The crews' devices that may connect.
fn coming(shared: &Shared, devices: &[Device]) -> Vec<Coming> {
    let known = |device: &Device| {
        let certificate = shared.hub.office().verify(&device.certificate).ok()?;
        (certificate.role == chalkwalk_core::job::Role::Crew).then(|| Coming {
            id: device.id,
            words: format!("{}, {}", certificate.person, certificate.device_name),
        })
    };
    devices
        .iter()
        .filter(|device| device.revoked_at.is_none())
        .filter_map(known)
        .collect()
}

async fn assigned(
    shared: &Shared,
    sent: &Sent,
    wrong: &mut Wrong,
) -> Result<Vec<DeviceId>, StoreError> {
    let known = coming(shared, &shared.hub.records().devices().await?);
    let mut devices = Vec::new();
    for word in &sent.devices {
        match known.iter().find(|device| device.id.to_string() == *word) {
            Some(device) => devices.push(device.id),
            None => wrong
                .whole("A device that you chose can no longer be sent: choose again.".to_owned()),
        }
    }
    Ok(devices)
}

async fn note_assigned(
    shared: &Shared,
    who: &SignedIn,
    job: JobId,
    devices: &[DeviceId],
) -> Result<(), StoreError> {
    for device in devices {
        let actor = Actor::Person(who.person.id);
        let about = device.to_string();
        shared
            .note(actor, DeedKind::Assigned, Some(job), &about)
            .await?;
    }
    Ok(())
}
