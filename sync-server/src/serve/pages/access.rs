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
use super::super::icons::icon;
use super::at_job::AtJob;
use super::form::{Field, Tone, notice};
use super::layout::{Part, sheet};
use super::{button, did, frame, handed_over, moment, nothing_here, refused, store_unwell, to};
use crate::env::SystemEnv;
use crate::limits;
use crate::people::Secret;
use crate::store::{Access, DeedKind, Device, Share, ShareId, StoreError};

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
    access: Access,
    devices: Vec<Device>,
    shares: Vec<Share>,
}

async fn read(shared: &Shared, id: &str) -> Result<View, Response> {
    let Ok(job) = id.parse::<JobId>() else {
        return Err(nothing_here(shared));
    };
    let read = async {
        if shared.hub.records().job(job).await?.is_none() {
            return Ok(None);
        }
        Ok::<_, StoreError>(Some(View {
            job,
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
    shown(&shared, &who, &id, None).await
}

/// What was typed for a link, and why it was not made.
type NoLink<'a> = (&'a NewShare, &'a str, String);

async fn shown(shared: &Shared, who: &SignedIn, id: &str, no: Option<NoLink<'_>>) -> Response {
    let read = async {
        let at = AtJob::open(shared, who, id).await?;
        let view = read(shared, id).await?;
        Ok::<_, Response>((at, view))
    };
    match read.await {
        Ok((at, view)) => {
            let mut response = at.page(Part::Access, &[], &body(&at, &view, no.as_ref()));
            if no.is_some() {
                *response.status_mut() = StatusCode::UNPROCESSABLE_ENTITY;
            }
            response
        }
        Err(response) => response,
    }
}

fn body(at: &AtJob, view: &View, no: Option<&NoLink<'_>>) -> Markup {
    let (base, access) = (&at.shared.base, &view.access);
    let path = |what: &str| format!("/jobs/{}/{what}", view.job);
    html! {
        h2 { "Who sees it" }
        p { (rule(access)) }
        @if access.closed_at.is_some() {
            (button(base, &path("open"), "Open the job again"))
        } @else {
            (button(base, &path("close"), "Close the job"))
        }
        h3 { "Devices of crews" }
        (assigned(at, view))
        h3 { "Shared links" }
        p { "A link shows what the shared packet shows, nothing office-only, read-only." }
        (shares(at, view))
        (link_form(at, no))
    }
}

fn link_form(at: &AtJob, no: Option<&NoLink<'_>>) -> Markup {
    let wrong = |name: &str| no.filter(|no| no.1 == name).map(|no| no.2.as_str());
    html! {
        form.card.narrow method="post" action={ (at.path()) "/shares" } {
            h4 { "Make a link" }
            @if no.is_some() { (notice(Tone::Bad, &html! { p { "The link was not made." } })) }
            (Field {
                name: "note", label: "For whom", hint: "Such as the adjuster's name.", required: true,
                value: no.map_or("", |no| &no.0.note), wrong: wrong("note"),
                most: Some(limits::SHARE_NOTE_BYTES), ..Field::default()
            }.line("text"))
            (Field {
                name: "days", label: "Days until it ends", required: true,
                value: no.map_or("30", |no| &no.0.days), wrong: wrong("days"), ..Field::default()
            }.line("number"))
            button.main { (icon("link")) "Make a link" }
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

fn assigned(at: &AtJob, view: &View) -> Markup {
    let name = |device: &Device| {
        let known = at.shared.hub.office().verify(&device.certificate).ok();
        known.map_or_else(
            || device.id.to_string(),
            |known| format!("{}, {}", known.person, known.device_name),
        )
    };
    let form = |what: &str, device: &Device, words: &str| {
        html! {
            form method="post" action={ (at.path()) "/" (what) } {
                input type="hidden" name="device" value=(device.id);
                button.small { (words) span.out-of-sight { ": " (name(device)) } }
            }
        }
    };
    html! {
        @if view.devices.is_empty() {
            p.soft { "No device has joined yet. Make a code for one on the page "
                a href={ (at.shared.base) "/devices" } { "Devices" } "." }
        } @else {
            (sheet("Devices", &html! { table.stack {
                thead { tr { th scope="col" { "Device" } th scope="col" { "Assigned" } th scope="col" { "What to do" } } }
                tbody { @for device in &view.devices {
                    @let is = view.access.devices.contains(&device.id);
                    tr {
                        th scope="row" { (name(device)) }
                        td data-label="Assigned" {
                            @if is { span.state.cleared { (icon("check")) "yes" } } @else { span.soft { "no" } }
                        }
                        td { @if is { (form("unassign", device, "Take off")) } @else { (form("assign", device, "Assign")) } }
                    }
                } }
            } }))
        }
    }
}

fn shares(at: &AtJob, view: &View) -> Markup {
    let now = at.shared.hub.now();
    html! {
        @if view.shares.is_empty() { p.soft { "No link was made yet." } } @else {
            (sheet("Shared links", &html! { table.stack {
                thead { tr {
                    th scope="col" { "For" } th scope="col" { "Made" } th scope="col" { "Ends" }
                    th scope="col" { "State" }
                } }
                tbody { @for share in &view.shares { tr {
                    th scope="row" { (share.note) }
                    td data-label="Made" { (at.when(share.made_at)) }
                    td data-label="Ends" { (at.when(share.expires_at)) }
                    td data-label="State" { (state(at, view, share, now)) }
                } } }
            } }))
        }
    }
}

fn state(at: &AtJob, view: &View, share: &Share, now: Millis) -> Markup {
    html! {
        @if let Some(when) = share.withdrawn_at {
            span.state.missing { (icon("circle-slash")) "withdrawn" } " " span.soft { (at.when(when)) }
        } @else if !share.counts(now) {
            span.state.prior { (icon("clock")) "its time is over" }
        } @else {
            div.rowlike {
                span.state.cleared { (icon("circle-check")) "counts" }
                (button(&at.shared.base, &format!("/jobs/{}/shares/{}/withdraw", view.job, share.id), "Withdraw"))
            }
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
        did(shared, who, what, Some(job), "").await
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
        shared.hub.assign(view.job, device, assigned).await?;
        did(shared, who, what, Some(view.job), &device.to_string()).await
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
    if note.is_empty() || note.len() > most || note.contains(char::is_control) {
        let words = format!("Say for whom the link is, in at most {most} bytes.");
        return shown(&shared, &who, &id, Some((&new, "note", words))).await;
    }
    let days = new.days.trim().parse::<u32>().ok();
    let Some(days) = days.filter(|days| (1..=limits::SHARE_DAYS).contains(days)) else {
        let words = format!(
            "Write after how many days it ends: 1 to {}.",
            limits::SHARE_DAYS
        );
        return shown(&shared, &who, &id, Some((&new, "days", words))).await;
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
        did(
            &shared,
            &who,
            DeedKind::ShareMade,
            Some(view.job),
            &share.id.to_string(),
        )
        .await
    };
    match done.await {
        Ok(()) => {}
        Err(StoreError::Limit(_)) => {
            let words = "This job has as many shared links as one may have.".to_owned();
            return shown(&shared, &who, &id, Some((&new, "note", words))).await;
        }
        Err(error) => return store_unwell(&shared, &error),
    }
    let origin = shared.house.front.origin(&headers, &uri);
    let address = format!("{origin}{}/shared/{}/", shared.base, secret.reveal());
    let about = html! { p { "For " strong { (share.note) } ". Whoever has it sees the job's shared page until "
    (moment(share.expires_at)) "." } };
    let back =
        html! { a href={ (shared.base) "/jobs/" (view.job) "/access" } { "Who sees the job" } };
    let body = handed_over("A shared link", &about, &address, &back);
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
        did(
            &shared,
            &who,
            DeedKind::ShareWithdrawn,
            Some(job),
            &share.to_string(),
        )
        .await?;
        Ok::<_, StoreError>(true)
    };
    match done.await {
        Ok(true) => back(&shared, job, Ok(())),
        Ok(false) => nothing_here(&shared),
        Err(error) => store_unwell(&shared, &error),
    }
}
