//! The company's devices: codes, shutting out, and what to do when one is lost.

use axum::Extension;
use axum::extract::{Form, Path, State};
use axum::http::{HeaderMap, StatusCode, Uri};
use axum::response::{IntoResponse, Response};
use chalkwalk_core::document::Refusal;
use chalkwalk_core::job::{Certificate, DeviceId, Role};
use maud::{Markup, PreEscaped, html};

use super::super::Shared;
use super::super::guard::{SignedIn, rank};
use super::super::icons::icon;
use super::layout::sheet;
use super::{
    InPart, button, counted, did, frame, moment, nothing_here, refused, role_choice, store_unwell,
    there, to, unwell,
};
use crate::enrol::{CODE_LASTS, Invitation, Ticket, make_code, picture};
use crate::env::SystemEnv;
use crate::hub::Lost;
use crate::store::{DeedKind, Device, StoreError};

/// `GET /devices`.
pub(in crate::serve) async fn page(
    State(shared): State<Shared>,
    Extension(who): Extension<SignedIn>,
) -> Response {
    let devices = match shared.hub.records().devices().await {
        Ok(devices) => devices,
        Err(error) => return store_unwell(&shared, &error),
    };
    let base = &shared.base;
    let body = html! {
        header { h1 { "Devices" } p.under {
            (counted(devices.len() as u64, "device", "devices"))
            ". People at the office who record at these pages have one of the server's own."
        } }
        form.card.row method="post" action={ (base) "/devices/invite" } {
            div.field { label for="invite" { "Add a device for" }
                (role_choice("invite", Role::Crew, who.person.role)) }
            button.main { (icon("qr-code")) "Make a code" }
        }
        h2 { "Devices of this company" }
        @if devices.is_empty() {
            p.soft { "No device has joined yet. Make a code, and read it in on the device." }
        } @else {
            (sheet("Devices of this company", &html! { table.stack {
                thead { tr {
                    th scope="col" { "Person" } th scope="col" { "Device" }
                    th scope="col" { "Part" } th scope="col" { "Since" }
                    th scope="col" { "State" }
                } }
                tbody { @for device in &devices { (row(&shared, device)) } }
            } }))
        }
    };
    frame(&shared, Some(&who.person), "Devices", &body).into_response()
}

fn certificate(shared: &Shared, device: &Device) -> Option<Certificate> {
    shared.hub.office().verify(&device.certificate).ok()
}

fn row(shared: &Shared, device: &Device) -> Markup {
    let known = certificate(shared, device);
    let word = |of: fn(&Certificate) -> &str| known.as_ref().map_or("", of).to_owned();
    html! {
        tr {
            th scope="row" {
                a href={ (shared.base) "/devices/" (device.id) } {
                    (word(|c| &c.person)) @if known.is_none() { (device.id) }
                }
            }
            td data-label="Device" { (word(|c| &c.device_name)) }
            td data-label="Part" { (word(|c| c.role.code())) }
            td data-label="Since" { (moment(device.known_since)) }
            td data-label="State" { (state(device)) }
        }
    }
}

fn state(device: &Device) -> Markup {
    html! {
        @match device.revoked_at {
            Some(at) => span.state.missing { (icon("circle-slash")) "shut out " (moment(at)) },
            None => span.state.cleared { (icon("circle-check")) "may connect" },
        }
    }
}

/// `POST /devices/invite`.
pub(in crate::serve) async fn invite(
    State(shared): State<Shared>,
    Extension(who): Extension<SignedIn>,
    headers: HeaderMap,
    uri: Uri,
    Form(part): Form<InPart>,
) -> Result<Response, Response> {
    let role = part.role(&shared)?;
    if rank(role) > rank(who.person.role) {
        let words = "A device can do no more than whoever makes its code.";
        return Err(refused(
            &shared,
            StatusCode::FORBIDDEN,
            "Ask an admin",
            words,
        ));
    }
    let made = code(&shared, &who, role).await;
    let invitation = made.map_err(|error| store_unwell(&shared, &error))?;
    let body = html! {
        header { h1 { "A code for one device" } }
        (ticket(&shared, &invitation, &headers, &uri))
    };
    Ok(frame(&shared, Some(&who.person), "A code for one device", &body).into_response())
}

async fn code(shared: &Shared, who: &SignedIn, role: Role) -> Result<Invitation, StoreError> {
    let hub = &shared.hub;
    let mut env = SystemEnv;
    let made = make_code(hub.records(), hub.office(), role, "", CODE_LASTS, &mut env);
    let invitation = made.await?;
    did(shared, who, DeedKind::CodeMade, None, role.code()).await?;
    Ok(invitation)
}

fn ticket(shared: &Shared, invitation: &Invitation, headers: &HeaderMap, uri: &Uri) -> Markup {
    let ticket = Ticket {
        address: shared.devices_at(&shared.house.front.origin(headers, uri)),
        pin: invitation.pin.clone(),
        code: invitation.code.clone(),
    };
    html! {
        div.card.narrow {
            p { "Read the picture with the device, or type the code. It counts once, until "
                (moment(invitation.expires_at)) ", and is shown only now." }
            @match picture(&ticket) {
                Some(svg) => div.qr { (PreEscaped(svg)) },
                None => p.soft { "The address is too long for a picture: type the code." },
            }
            dl.facts {
                div { dt { "Office" } dd { code { (ticket.address) } } }
                div { dt { "Code" } dd { code { (ticket.code) } } }
                div { dt { "Pin" } dd { code { (ticket.pin) } } }
            }
            p.hint { "On a laptop: " code { "chalkwalk enrol --qr '" (ticket.text()) "'" } }
        }
        p { "A phone with nothing installed opens " code { (ticket.address) "/field/" } " and is given the code there." }
        p { a href={ (shared.base) "/devices" } { "Devices" } }
    }
}

async fn device_of(shared: &Shared, id: &str) -> Result<Device, Response> {
    let id = id.parse::<DeviceId>().map_err(|_| nothing_here(shared))?;
    there(shared, shared.hub.records().device(id).await)
}

/// `GET /devices/{device}`.
pub(in crate::serve) async fn one(
    State(shared): State<Shared>,
    Extension(who): Extension<SignedIn>,
    Path(id): Path<String>,
) -> Result<Response, Response> {
    let device = device_of(&shared, &id).await?;
    let lost = shared.hub.lost(device.id).await;
    let lost = lost.map_err(|refusal| unwell(&shared, &refusal))?;
    let name = certificate(&shared, &device).map_or_else(
        || device.id.to_string(),
        |known| format!("{}, {}", known.person, known.device_name),
    );
    let path = |what: &str| format!("/devices/{}/{what}", device.id);
    let base = &shared.base;
    let body = html! {
        p.up { a href={ (base) "/devices" } { "Devices" } }
        header { h1 { (name) } p.under { (state(&device)) } }
        (what_it_had(base, &lost))
        h2 { "What to do" }
        @if device.revoked_at.is_some() {
            p { "Its sessions are ended, and nothing it signed later is taken." }
            (button(base, &path("reinstate"), "Let in again"))
        } @else {
            div.cards {
                div.card {
                    h3 { "The phone is gone" }
                    p { "Shut it out, see what it had, and get a code for the next one." }
                    form method="post" action={ (base) (path("lost")) } { button.risky { "It is lost" } }
                }
                div.card {
                    h3 { "It is at rest, or its person has left" }
                    p { "It connects no more until you let it in again." }
                    (button(base, &path("revoke"), "Shut out"))
                }
            }
        }
    };
    Ok(frame(&shared, Some(&who.person), &name, &body).into_response())
}

fn what_it_had(base: &str, lost: &Lost) -> Markup {
    html! {
        h2 { "What it had" }
        p {
            @match lost.last_heard {
                Some(at) => { "It last said what it holds " (moment(at)) ". What it recorded after \
                               that, nobody knows here." }
                None => "It never said what it holds.",
            }
        }
        @if lost.jobs.is_empty() {
            p.soft { "No job of the office was on it, as far as it said." }
        } @else {
            (sheet("What it had", &html! { table.stack {
                thead { tr {
                    th scope="col" { "House" } th.count scope="col" { "Changes on it" }
                    th.count scope="col" { "It wrote" }
                    th.count scope="col" { "Not handed in" }
                    th.count scope="col" { "Originals not handed in" }
                } }
                tbody { @for job in &lost.jobs {
                    tr {
                        th scope="row" { a href={ (base) "/jobs/" (job.job) } { (job.title) } }
                        td.count data-label="Changes on it" { (job.changes_there) }
                        td.count data-label="It wrote" { (job.written_here) }
                        td.count data-label="Not handed in" { (job.changes_not_here) }
                        td.count data-label="Originals not handed in" { (job.originals_not_here) }
                    }
                } }
            } }))
        }
    }
}

async fn shut_out(shared: &Shared, who: &SignedIn, device: DeviceId) -> Result<(), StoreError> {
    shared.hub.revoke(device).await?;
    let about = device.to_string();
    did(shared, who, DeedKind::DeviceRevoked, None, &about).await
}

#[expect(clippy::result_large_err, reason = "a refusal is a whole answer")]
fn at_device(
    shared: &Shared,
    device: DeviceId,
    done: Result<(), StoreError>,
) -> Result<Response, Response> {
    done.map_err(|error| store_unwell(shared, &error))?;
    Ok(to(shared, &format!("/devices/{device}")))
}

/// `POST /devices/{device}/revoke`.
pub(in crate::serve) async fn revoke(
    State(shared): State<Shared>,
    Extension(who): Extension<SignedIn>,
    Path(id): Path<String>,
) -> Result<Response, Response> {
    let device = device_of(&shared, &id).await?;
    let done = shut_out(&shared, &who, device.id).await;
    at_device(&shared, device.id, done)
}

/// `POST /devices/{device}/reinstate`.
pub(in crate::serve) async fn reinstate(
    State(shared): State<Shared>,
    Extension(who): Extension<SignedIn>,
    Path(id): Path<String>,
) -> Result<Response, Response> {
    let device = device_of(&shared, &id).await?;
    let done = async {
        shared.hub.reinstate(device.id).await?;
        let about = device.id.to_string();
        did(&shared, &who, DeedKind::DeviceReinstated, None, &about).await
    };
    let done = done.await;
    at_device(&shared, device.id, done)
}

/// `POST /devices/{device}/lost`.
pub(in crate::serve) async fn lost(
    State(shared): State<Shared>,
    Extension(who): Extension<SignedIn>,
    Path(id): Path<String>,
    headers: HeaderMap,
    uri: Uri,
) -> Result<Response, Response> {
    let device = device_of(&shared, &id).await?;
    let role = certificate(&shared, &device).map_or(Role::Crew, |known| known.role);
    // Nobody hands out more than their own part.
    let role = if rank(role) > rank(who.person.role) {
        who.person.role
    } else {
        role
    };
    let done = async {
        shut_out(&shared, &who, device.id).await?;
        let about = device.id.to_string();
        did(&shared, &who, DeedKind::DeviceLost, None, &about).await?;
        let lost = shared.hub.lost(device.id).await?;
        let invitation = code(&shared, &who, role).await?;
        Ok::<_, Refusal>((lost, invitation))
    };
    let done = done.await;
    let (lost, invitation) = done.map_err(|refusal| unwell(&shared, &refusal))?;
    let body = html! {
        header { h1 { "The device is shut out" } p.under { "Its sessions are ended." } }
        (what_it_had(&shared.base, &lost))
        h2 { "For the next device" }
        (ticket(&shared, &invitation, &headers, &uri))
    };
    Ok(frame(&shared, Some(&who.person), "The device is shut out", &body).into_response())
}
