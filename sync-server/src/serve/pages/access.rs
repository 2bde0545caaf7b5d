//! Who sees one job: devices assigned to it, whether it is open, shared links.

use axum::Extension;
use axum::extract::{Form, Path, State};
use axum::http::{HeaderMap, StatusCode, Uri};
use axum::response::{IntoResponse, Response};
use chalkwalk_core::env::Env;
use chalkwalk_core::job::{DeviceId, JobId, Millis};
use maud::{Markup, html};
use serde::Deserialize;

use super::super::Shared;
use super::super::guard::SignedIn;
use super::{button, frame, moment, nothing_here, refused, store_unwell, to};
use crate::env::SystemEnv;
use crate::limits;
use crate::people::Secret;
use crate::store::{Access, Actor, DeedKind, Device, Share, ShareId, StoreError};

const DAY: Millis = 24 * 3_600_000;

#[derive(Deserialize)]
pub(in crate::serve) struct Named {
    #[serde(default)]
    device: String,
}

#[derive(Deserialize)]
pub(in crate::serve) struct NewShare {
    #[serde(default)]
    note: String,
    #[serde(default)]
    days: String,
}

struct View {
    job: JobId,
    title: String,
    access: Access,
    devices: Vec<Device>,
    shares: Vec<Share>,
}

async fn read(shared: &Shared, id: &str) -> Result<View, Response> {
    let Ok(job) = id.parse::<JobId>() else {
        return Err(nothing_here(shared));
    };
    let read = async {
        let Some(status) = shared.hub.records().job(job).await? else {
            return Ok(None);
        };
        Ok::<_, StoreError>(Some(View {
            job,
            title: status.summary.unwrap_or_default().title,
            access: shared.accounts().access(job).await?,
            devices: shared.hub.records().devices().await?,
            shares: shared.accounts().shares(job).await?,
        }))
    };
    match read.await {
        Ok(Some(view)) => Ok(view),
        Ok(None) => Err(nothing_here(shared)),
        Err(error) => Err(store_unwell(shared, &error)),
    }
}

/// `GET /jobs/{job}/access`.
pub(in crate::serve) async fn page(
    State(shared): State<Shared>,
    Extension(who): Extension<SignedIn>,
    Path(id): Path<String>,
) -> Response {
    match read(&shared, &id).await {
        Ok(view) => {
            let title = format!("Who sees {}", view.title);
            frame(&shared, Some(&who.person), &title, &body(&shared, &view)).into_response()
        }
        Err(response) => response,
    }
}

fn body(shared: &Shared, view: &View) -> Markup {
    let (base, access) = (&shared.base, &view.access);
    let path = |what: &str| format!("/jobs/{}/{what}", view.job);
    html! {
        header {
            p { a href={ (base) "/jobs/" (view.job) } { "The job" } }
            h1 { "Who sees " (view.title) }
        }
        div {
            h2 { "Crews" }
            p { (rule(access)) }
            @if access.closed_at.is_some() {
                (button(base, &path("open"), "Open the job again"))
            } @else {
                (button(base, &path("close"), "Close the job"))
            }
            h2 { "Devices assigned" }
            (assigned(shared, view))
            h2 { "Shared links" }
            p { "A link shows what the shared packet shows, nothing office-only, read-only." }
            (shares(shared, view))
            form method="post" action={ (base) (path("shares")) } {
                p {
                    label for="note" { "For whom" } br;
                    input id="note" name="note" type="text" required
                        maxlength=(limits::SHARE_NOTE_BYTES);
                }
                p {
                    label for="days" { "Days until it ends" } br;
                    input id="days" name="days" type="number" value="30" min="1"
                        max=(limits::SHARE_DAYS);
                }
                p { button { "Make a link" } }
            }
        }
    }
}

fn rule(access: &Access) -> &'static str {
    match (access.devices.is_empty(), access.closed_at) {
        (false, _) => {
            "Of the crews' devices, those assigned below see it, and those that wrote to it."
        }
        (true, None) => "Nobody is assigned and the job is open: every device sees it.",
        (true, Some(_)) => {
            "The job is closed: of the crews' devices, those that wrote to it see it."
        }
    }
}

fn assigned(shared: &Shared, view: &View) -> Markup {
    let base = &shared.base;
    let name = |device: &Device| {
        let known = shared.hub.office().verify(&device.certificate).ok();
        known.map_or_else(
            || device.id.to_string(),
            |known| format!("{}, {}", known.person, known.device_name),
        )
    };
    let form = |what: &str, device: &Device, words: &str| {
        html! {
            form method="post" action={ (base) "/jobs/" (view.job) "/" (what) } {
                input type="hidden" name="device" value=(device.id);
                button { (words) }
            }
        }
    };
    html! {
        div.sheet { table {
            thead { tr { th scope="col" { "Device" } th scope="col" { "Assigned" } } }
            tbody { @for device in &view.devices {
                tr {
                    th scope="row" { (name(device)) }
                    td {
                        @if view.access.devices.contains(&device.id) {
                            "yes " (form("unassign", device, "Take off"))
                        } @else {
                            "no " (form("assign", device, "Assign"))
                        }
                    }
                }
            } }
        } }
    }
}

fn shares(shared: &Shared, view: &View) -> Markup {
    let now = shared.hub.now();
    html! {
        @if view.shares.is_empty() { p.soft { "No link was made yet." } } @else {
            div.sheet { table {
                thead { tr {
                    th scope="col" { "For" } th scope="col" { "Made" } th scope="col" { "Ends" }
                    th scope="col" { "State" }
                } }
                tbody { @for share in &view.shares { tr {
                    th scope="row" { (share.note) }
                    td { (moment(share.made_at)) }
                    td { (moment(share.expires_at)) }
                    td {
                        @if let Some(at) = share.withdrawn_at { "withdrawn " (moment(at)) }
                        @else if !share.counts(now) { "its time is over" }
                        @else {
                            (button(&shared.base,
                                &format!("/jobs/{}/shares/{}/withdraw", view.job, share.id),
                                "Withdraw"))
                        }
                    }
                } } }
            } }
        }
    }
}

/// `POST /jobs/{job}/close`.
pub(in crate::serve) async fn close(
    State(shared): State<Shared>,
    Extension(who): Extension<SignedIn>,
    Path(id): Path<String>,
) -> Response {
    set_closed(&shared, &who, &id, true).await
}

/// `POST /jobs/{job}/open`.
pub(in crate::serve) async fn open(
    State(shared): State<Shared>,
    Extension(who): Extension<SignedIn>,
    Path(id): Path<String>,
) -> Response {
    set_closed(&shared, &who, &id, false).await
}

async fn set_closed(shared: &Shared, who: &SignedIn, id: &str, closed: bool) -> Response {
    let job = match read(shared, id).await {
        Ok(view) => view.job,
        Err(response) => return response,
    };
    let (at, what) = if closed {
        (Some(shared.hub.now()), DeedKind::JobClosed)
    } else {
        (None, DeedKind::JobOpened)
    };
    let done = async {
        shared.accounts().set_closed(job, at).await?;
        let actor = Actor::Person(who.person.id);
        shared.note(actor, what, Some(job), "").await
    };
    back(shared, job, done.await)
}

fn back(shared: &Shared, job: JobId, done: Result<(), StoreError>) -> Response {
    match done {
        Ok(()) => to(shared, &format!("/jobs/{job}/access")),
        Err(error) => store_unwell(shared, &error),
    }
}

/// `POST /jobs/{job}/assign`.
pub(in crate::serve) async fn assign(
    State(shared): State<Shared>,
    Extension(who): Extension<SignedIn>,
    Path(id): Path<String>,
    Form(named): Form<Named>,
) -> Response {
    set_assigned(&shared, &who, &id, &named, true).await
}

/// `POST /jobs/{job}/unassign`.
pub(in crate::serve) async fn unassign(
    State(shared): State<Shared>,
    Extension(who): Extension<SignedIn>,
    Path(id): Path<String>,
    Form(named): Form<Named>,
) -> Response {
    set_assigned(&shared, &who, &id, &named, false).await
}

async fn set_assigned(
    shared: &Shared,
    who: &SignedIn,
    id: &str,
    named: &Named,
    assigned: bool,
) -> Response {
    let view = match read(shared, id).await {
        Ok(view) => view,
        Err(response) => return response,
    };
    let device = named.device.parse::<DeviceId>().ok();
    let known = |device: &DeviceId| view.devices.iter().any(|known| known.id == *device);
    let Some(device) = device.filter(known) else {
        let code = StatusCode::UNPROCESSABLE_ENTITY;
        let words = "Choose one of the company's devices.";
        return refused(shared, code, "There is no such device", words);
    };
    let what = if assigned {
        DeedKind::Assigned
    } else {
        DeedKind::Unassigned
    };
    let done = async {
        shared.accounts().assign(view.job, device, assigned).await?;
        let actor = Actor::Person(who.person.id);
        let about = device.to_string();
        shared.note(actor, what, Some(view.job), &about).await
    };
    back(shared, view.job, done.await)
}

/// `POST /jobs/{job}/shares`.
pub(in crate::serve) async fn make_share(
    State(shared): State<Shared>,
    Extension(who): Extension<SignedIn>,
    Path(id): Path<String>,
    headers: HeaderMap,
    uri: Uri,
    Form(new): Form<NewShare>,
) -> Response {
    let view = match read(&shared, &id).await {
        Ok(view) => view,
        Err(response) => return response,
    };
    let (note, most) = (new.note.trim(), limits::SHARE_NOTE_BYTES);
    let days = new.days.trim().parse::<u32>().ok();
    let days = days.filter(|days| (1..=limits::SHARE_DAYS).contains(days));
    let good = !note.is_empty() && note.len() <= most && !note.contains(char::is_control);
    let Some(days) = days.filter(|_| good) else {
        let words = format!(
            "Say for whom the link is, in at most {most} bytes, and after how many days it ends: \
             1 to {}.",
            limits::SHARE_DAYS
        );
        let code = StatusCode::UNPROCESSABLE_ENTITY;
        return refused(&shared, code, "The link was not made", &words);
    };
    let secret = Secret::fresh(&mut SystemEnv);
    let mut share_id = [0; 16];
    SystemEnv.random(&mut share_id);
    let now = shared.hub.now();
    let share = Share {
        id: ShareId(share_id),
        hash: secret.hash(),
        job: view.job,
        note: note.to_owned(),
        made_by: who.person.id,
        made_at: now,
        expires_at: now.saturating_add(Millis::from(days) * DAY),
        withdrawn_at: None,
    };
    let done = async {
        shared.accounts().put_share(&share).await?;
        let (actor, about) = (Actor::Person(who.person.id), share.id.to_string());
        shared
            .note(actor, DeedKind::ShareMade, Some(view.job), &about)
            .await
    };
    match done.await {
        Ok(()) => {}
        Err(StoreError::Limit(_)) => {
            let words = "This job has as many shared links as one may have.";
            let code = StatusCode::UNPROCESSABLE_ENTITY;
            return refused(&shared, code, "The link was not made", words);
        }
        Err(error) => return store_unwell(&shared, &error),
    }
    let origin = shared.house.front.origin(&headers, &uri);
    let address = format!("{origin}{}/shared/{}/", shared.base, secret.reveal());
    let body = html! {
        header { h1 { "A shared link" } p.under { "For " (share.note) } }
        div {
            p { "Whoever has it sees the job's shared page until " (moment(share.expires_at))
                ". It is shown here alone, and only now." }
            p { code { (address) } }
            p { a href={ (shared.base) "/jobs/" (view.job) "/access" } { "Who sees the job" } }
        }
    };
    frame(&shared, Some(&who.person), "A shared link", &body).into_response()
}

/// `POST /jobs/{job}/shares/{share}/withdraw`.
pub(in crate::serve) async fn withdraw(
    State(shared): State<Shared>,
    Extension(who): Extension<SignedIn>,
    Path((job, share)): Path<(String, String)>,
) -> Response {
    let (Ok(job), Ok(share)) = (job.parse::<JobId>(), share.parse::<ShareId>()) else {
        return nothing_here(&shared);
    };
    let done = async {
        let now = shared.hub.now();
        if !shared.accounts().withdraw_share(job, share, now).await? {
            return Ok(false);
        }
        let (actor, about) = (Actor::Person(who.person.id), share.to_string());
        shared
            .note(actor, DeedKind::ShareWithdrawn, Some(job), &about)
            .await?;
        Ok::<_, StoreError>(true)
    };
    match done.await {
        Ok(true) => back(&shared, job, Ok(())),
        Ok(false) => nothing_here(&shared),
        Err(error) => store_unwell(&shared, &error),
    }
}
