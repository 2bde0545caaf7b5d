//! Copies of a job: the shared packet and the archive as a ZIP, and the findings as CSV.

use axum::Extension;
use axum::body::Body;
use axum::extract::{Path, State};
use axum::http::{StatusCode, header};
use axum::response::{IntoResponse, Response};
use chalkwalk_core::document::Refusal;
use chalkwalk_core::env::Env;
use chalkwalk_core::job::hex;
use chalkwalk_core::packet::{self, PacketInput, PacketKind};
use chalkwalk_core::photo::walk_order;
use futures_util::stream;
use tokio::runtime::Handle;
use tokio::sync::{OwnedSemaphorePermit, mpsc};

use super::super::at_job::AtJob;
use super::super::estimate::{aside, given};
use super::super::{nothing_here, plain, store_unwell, unwell};
use super::photos::OfficePhotos;
use super::scratch::Scratch;
use super::zip::{ToBody, write};
use crate::env::SystemEnv;
use crate::folder;
use crate::serve::Shared;
use crate::serve::guard::SignedIn;
use crate::store::{Actor, DeedKind};

/// Pieces of a packet that wait for its reader.
const PIECES: usize = 4;

/// `GET /jobs/{job}/custody/shared.zip`.
pub(in crate::serve) async fn shared(
    State(shared): State<Shared>,
    Extension(who): Extension<SignedIn>,
    Path(id): Path<String>,
) -> Response {
    answered(packed(&shared, &who, &id, PacketKind::Shared).await)
}

/// `GET /jobs/{job}/custody/archive.zip`.
pub(in crate::serve) async fn archive(
    State(shared): State<Shared>,
    Extension(who): Extension<SignedIn>,
    Path(id): Path<String>,
) -> Response {
    answered(packed(&shared, &who, &id, PacketKind::Archive).await)
}

/// `GET /jobs/{job}/custody/findings.csv`.
pub(in crate::serve) async fn findings(
    State(shared): State<Shared>,
    Extension(who): Extension<SignedIn>,
    Path(id): Path<String>,
) -> Response {
    let made = async {
        let at = AtJob::open(&shared, &who, &id).await?;
        let job = at.job.clone();
        let work = move || packet::findings_table(&job, &walk_order(&job), PacketKind::Archive);
        let table = aside(&shared, work).await?;
        let table = table.map_err(|error| unwell(&shared, &Refusal::Storage(error.to_string())))?;
        Ok(given(&at, "findings.csv", "text/csv; charset=utf-8", table).await)
    };
    answered(made.await)
}

fn answered(made: Result<Response, Response>) -> Response {
    made.unwrap_or_else(|response| response)
}

async fn packed(
    shared: &Shared,
    who: &SignedIn,
    id: &str,
    kind: PacketKind,
) -> Result<Response, Response> {
    let at = AtJob::open(shared, who, id).await?;
    let turn = shared.house.packets.clone().try_acquire_owned();
    let turn = turn.map_err(|_| {
        let words = "Another packet is being packed or taken just now, and they go one at a time. \
                     Try again in a moment.";
        plain(shared, StatusCode::SERVICE_UNAVAILABLE, "Not now", words)
    })?;
    let (scratch, turn) = pack(&at, kind, turn).await?;
    let actor = Actor::Person(at.person.id);
    let noted = shared.note(actor, DeedKind::TookCopy, Some(at.id), kind.folder());
    noted.await.map_err(|error| store_unwell(shared, &error))?;
    let (to, from) = mpsc::channel(PIECES);
    let runtime = Handle::current();
    tokio::task::spawn_blocking(move || {
        let out = ToBody::new(to.clone(), runtime.clone());
        if let Err(error) = write(&scratch.folder().join(kind.folder()), out) {
            tracing::warn!(%error, "a packet was not taken whole");
            // The reader hears of it where it still listens; a ZIP cut short opens nowhere.
            runtime.block_on(async { to.send(Err(error)).await.ok() });
        }
        drop((scratch, turn));
    });
    let pieces = stream::unfold(
        from,
        |mut from| async move { Some((from.recv().await?, from)) },
    );
    let name = format!("attachment; filename=\"{}-{}.zip\"", kind.folder(), at.id);
    let headers = [
        (header::CONTENT_TYPE, "application/zip".to_owned()),
        (header::CONTENT_DISPOSITION, name),
    ];
    Ok((headers, Body::from_stream(pieces)).into_response())
}

/// Writes the packet's folder.
async fn pack(
    at: &AtJob,
    kind: PacketKind,
    turn: OwnedSemaphorePermit,
) -> Result<(Scratch, OwnedSemaphorePermit), Response> {
    let shared = &at.shared;
    let held = shared.hub.in_custody(at.id).await;
    let held = held.map_err(|refusal| unwell(shared, &refusal))?;
    let held = held.ok_or_else(|| nothing_here(shared))?;
    let files = shared.hub.records().blobs(at.id).await;
    let files = files.map_err(|error| store_unwell(shared, &error))?;
    let photos = OfficePhotos::new(shared.hub.clone(), Handle::current(), &files);
    let (hub, staging) = (shared.hub.clone(), folder::staging(&shared.folder));
    let mut name = [0; 8];
    SystemEnv.random(&mut name);
    let work = move || {
        let scratch = Scratch::fresh(&staging, &hex(&name)).map_err(|error| error.to_string())?;
        let order = walk_order(&held.job);
        let input = PacketInput {
            job: &held.job,
            document: &held.document,
            custody: &held.custody,
            photos: &photos,
            order: &order,
            company: &hub.office().company().name,
            office_key: Some(hub.office().public_key()),
            created_at: hub.now(),
        };
        let written = packet::write(kind, &input, scratch.folder(), &mut |_, _| {});
        written.map_err(|error| error.to_string())?;
        Ok::<_, String>((scratch, turn))
    };
    let done = aside(shared, work).await?;
    done.map_err(|words| unwell(shared, &Refusal::Storage(words)))
}
