//! Shared links: one job's shared packet as a page, read-only, for whoever holds the link.

use std::collections::BTreeMap;
use std::sync::{Arc, Mutex, PoisonError};

use axum::Extension;
use axum::extract::{Path, State};
use axum::http::{HeaderMap, HeaderName, HeaderValue, StatusCode, header};
use axum::response::{IntoResponse, Redirect, Response};
use chalkwalk_core::document::Refusal;
use chalkwalk_core::job::{BlobKind, JobId, PhotoHash};
use chalkwalk_core::packet::{Choices, OnlinePage, online_page};
use chalkwalk_core::photo::walk_order;

use super::guard::ByShare;
use super::pages::estimate::inputs_of;
use super::{Shared, pages, photos};
use crate::store::{Actor, BlobKey, DeedKind, Share, StoreError};

/// The page has its own style within it and no script.
const POLICY: &str = "default-src 'none'; img-src 'self'; style-src 'unsafe-inline'; base-uri \
                      'none'; form-action 'none'; frame-ancestors 'none'";
/// Pages kept, so that a page's pictures need not read the job each time.
const KEPT: usize = 16;
/// The shared packet as one file, below the link's own folder.
const PACKET: &str = "shared.zip";
/// How the page offers it.
const PACKET_LINK: &str = "<a href=\"shared.zip\">everything with the original photos, to be \
                           checked</a>, ";
/// How the page offers its report on paper.
const PDF_LINK: &str = "<a href=\"report.pdf\">the report on paper (PDF)</a>, ";
const DOWNLOADS: &[(&str, &str)] = &[
    (PACKET, "everything with the original photos, to be checked"),
    (pages::packets::PDF, "the report on paper (PDF)"),
    ("report.xlsx", "tables as a spreadsheet"),
];
const HOW: &str = "This page is shown by the office's own server. A folder that can be checked \
                   without it, with every hash and signature, is to be had from the office.\n";

/// Changes, thumbnails and originals that a page was made from, and the mark of the scope's inputs.
type MadeFrom = (u64, u64, u64, String);

/// Pages that were made lately, by job.
#[derive(Debug, Default)]
pub(crate) struct Kept(Mutex<BTreeMap<JobId, (MadeFrom, Arc<OnlinePage>)>>);

/// `GET /shared/{token}`: the page's own links need the slash.
pub(super) async fn to_folder(State(shared): State<Shared>, Path(token): Path<String>) -> Response {
    let at = format!("{}/shared/{token}/", shared.base);
    private(Redirect::permanent(&at).into_response())
}

/// `GET /shared/{token}/`.
pub(super) async fn page(
    State(shared): State<Shared>,
    Extension(ByShare(share)): Extension<ByShare>,
) -> Response {
    let noted = shared.note(
        Actor::Share(share.id),
        DeedKind::ShareOpened,
        Some(share.job),
        "",
    );
    if let Err(error) = noted.await {
        return unwell(&shared, &error.into());
    }
    match made(&shared, &share).await {
        Ok(Some(page)) => {
            let kind = [(header::CONTENT_TYPE, "text/html; charset=utf-8")];
            let html = match shared.packets.shared(share.job) {
                Some(_) => page.html.clone(),
                // Nothing is offered that is not there.
                None => {
                    let without = page.html.replacen(PACKET_LINK, "", 1);
                    without.replacen(PDF_LINK, "", 1)
                }
            };
            private((kind, html).into_response())
        }
        Ok(None) => gone(&shared),
        Err(refusal) => unwell(&shared, &refusal),
    }
}

/// `GET /shared/{token}/{file}`.
pub(super) async fn file(
    State(shared): State<Shared>,
    Extension(ByShare(share)): Extension<ByShare>,
    Path((_, file)): Path<(String, String)>,
    headers: HeaderMap,
) -> Response {
    let page = match made(&shared, &share).await {
        Ok(Some(page)) => page,
        Ok(None) => return gone(&shared),
        Err(refusal) => return unwell(&shared, &refusal),
    };
    if file == "HOW-TO-CHECK.txt" {
        return private(HOW.into_response());
    }
    match download(&shared, &share, &page, &file).await {
        Ok(Some(response)) => return private(response),
        Ok(None) => {}
        Err(error) => return unwell(&shared, &error.into()),
    }
    let Some((kind, hash)) = page.files.get(&file).copied() else {
        return gone(&shared);
    };
    match picture(&shared, &share, kind, hash, &headers).await {
        Ok(Some(response)) => private(response),
        Ok(None) => gone(&shared),
        Err(error) => unwell(&shared, &error.into()),
    }
}

/// A table, the spreadsheet, or the newest packet that the office made for anybody.
async fn download(
    shared: &Shared,
    share: &Share,
    page: &OnlinePage,
    file: &str,
) -> Result<Option<Response>, StoreError> {
    let given = match file {
        PACKET => match shared.packets.shared(share.job) {
            Some(making) => pages::packets::give_zip(shared, &making).await,
            None => None,
        },
        pages::packets::PDF => match shared.packets.shared(share.job) {
            Some(making) => pages::packets::give_pdf(shared, &making).await,
            None => None,
        },
        name => pages::packets::table_of(page, name),
    };
    if given.is_some() {
        let who = Actor::Share(share.id);
        shared
            .note(who, DeedKind::ShareFetched, Some(share.job), file)
            .await?;
    }
    Ok(given)
}

async fn picture(
    shared: &Shared,
    share: &Share,
    kind: BlobKind,
    hash: PhotoHash,
    headers: &HeaderMap,
) -> Result<Option<Response>, StoreError> {
    let Some(entry) = photos::find(&shared.hub, share.job, BlobKey { kind, hash }).await? else {
        return Ok(None);
    };
    if kind == BlobKind::Original {
        let (who, about) = (Actor::Share(share.id), hash.to_string());
        shared
            .note(who, DeedKind::ShareOriginal, Some(share.job), &about)
            .await?;
    }
    Ok(Some(photos::give(&shared.hub, entry, headers).await))
}

async fn made(shared: &Shared, share: &Share) -> Result<Option<Arc<OnlinePage>>, Refusal> {
    let hub = &shared.hub;
    let Some(status) = hub.records().job(share.job).await? else {
        return Ok(None);
    };
    let (inputs, mark) = inputs_of(&shared.papers, share.job).await?;
    let state = (status.changes, status.thumbnails, status.originals, mark);
    {
        let kept = shared.kept.0.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some((_, page)) = kept.get(&share.job).filter(|(of, _)| *of == state) {
            return Ok(Some(Arc::clone(page)));
        }
    }
    let Some(job) = hub.read(share.job).await? else {
        return Ok(None);
    };
    let whole: std::collections::BTreeSet<(BlobKind, PhotoHash)> = hub
        .records()
        .blobs(share.job)
        .await?
        .iter()
        .map(|file| (file.kind, file.hash))
        .collect();
    let (company, now) = (hub.office().company().name.clone(), hub.now());
    let page = tokio::task::spawn_blocking(move || {
        let order = walk_order(&job);
        let here = |kind, hash| whole.contains(&(kind, hash));
        let choices = Choices {
            scope: inputs,
            ..Choices::default()
        };
        online_page(&job, &order, &company, (&choices, now), &here, DOWNLOADS)
    })
    .await
    .map_err(|error| Refusal::Storage(error.to_string()))?
    .map_err(|error| Refusal::Storage(error.to_string()))?;
    let page = Arc::new(page);
    let mut kept = shared.kept.0.lock().unwrap_or_else(PoisonError::into_inner);
    if kept.len() >= KEPT {
        kept.clear();
    }
    kept.insert(share.job, (state, Arc::clone(&page)));
    Ok(Some(page))
}

/// What is behind a link is not for caches, search or the pages it leads to.
fn private(mut response: Response) -> Response {
    let headers = response.headers_mut();
    let mut set = |name: HeaderName, value: &'static str| {
        headers.insert(name, HeaderValue::from_static(value));
    };
    set(header::CONTENT_SECURITY_POLICY, POLICY);
    set(header::REFERRER_POLICY, "no-referrer");
    set(header::CACHE_CONTROL, "private, no-store");
    set(HeaderName::from_static("x-robots-tag"), "noindex");
    response
}

fn gone(shared: &Shared) -> Response {
    let words = "The shared page names no such file.";
    pages::plain(shared, StatusCode::NOT_FOUND, "Nothing is here", words)
}

fn unwell(shared: &Shared, refusal: &Refusal) -> Response {
    tracing::error!(%refusal, "a shared page could not be read");
    let words = "The record cannot be read now. Nothing is lost by this: try again in a moment.";
    pages::plain(shared, StatusCode::SERVICE_UNAVAILABLE, "Not now", words)
}
