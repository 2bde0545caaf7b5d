//! The office's plain pages. They work without scripts and load nothing from elsewhere.

pub(super) mod access;
pub(super) mod account;
pub(in crate::serve) mod at_job;
pub(super) mod audit;
pub(super) mod beside;
pub(super) mod custody;
pub(in crate::serve) mod deeds;
pub(super) mod devices;
pub(in crate::serve) mod edit;
pub(super) mod estimate;
pub(in crate::serve) mod fields;
pub(super) mod findings;
pub(in crate::serve) mod form;
pub(super) mod house;
pub(super) mod jobs;
pub(in crate::serve) mod layout;
pub(super) mod marks;
pub(in crate::serve) mod memo;
pub(super) mod once;
pub(super) mod open;
pub(super) mod packets;
pub(super) mod people;
pub(super) mod prepare;
pub(super) mod sheets;
pub(in crate::serve) mod shots;
pub(super) mod sides;
pub(super) mod sign_in;
pub(super) mod storage;
pub(super) mod walk;
pub(in crate::serve) mod words;

use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use chalkwalk_core::document::Refusal;
use chalkwalk_core::job::{JobId, Millis, Role};
use chrono::DateTime;
use maud::{Markup, html};

use super::Shared;
use super::guard::{SignedIn, rank};
use crate::store::{Actor, DeedKind, Person, StoreError};
use form::{Tone, notice};

/// Nothing stands at this address.
pub(super) fn nothing_here(shared: &Shared) -> Response {
    let body = html! { div.entry {
        header { h1 { "Nothing is here" } }
        div { p { "No page stands at this address. " a href={ (shared.base) "/" } { "All jobs" } } }
    } };
    let page = frame(shared, None, "Nothing is here", &body);
    (StatusCode::NOT_FOUND, page).into_response()
}

/// Nothing stands at an address of no company.
pub(super) async fn not_found() -> Response {
    let words = "Nothing stands at this address.\n";
    (StatusCode::NOT_FOUND, words).into_response()
}

/// A refusal in words, with the way to sign in.
pub(super) fn refused(shared: &Shared, code: StatusCode, title: &str, words: &str) -> Response {
    let body = html! { div.entry {
        header { h1 { (title) } }
        div {
            (notice(Tone::Bad, &html! { p { (words) } }))
            p { a href={ (shared.base) "/" } { "All jobs" } " · "
                a href={ (shared.base) "/sign-in" } { "Sign in" } }
        }
    } };
    (code, frame(shared, None, title, &body)).into_response()
}

/// Words for somebody outside: no way further in.
pub(super) fn plain(shared: &Shared, code: StatusCode, title: &str, words: &str) -> Response {
    let body = html! { div.entry {
        header { h1 { (title) } }
        (notice(Tone::Plain, &html! { p { (words) } }))
    } };
    (code, frame(shared, None, title, &body)).into_response()
}

pub(super) fn unwell(shared: &Shared, refusal: &Refusal) -> Response {
    tracing::error!(%refusal, "a page could not be read");
    let title = "The record cannot be read now";
    let words = "Nothing that was kept is lost by this. Try again in a moment; the server's log \
                 says why.";
    plain(shared, StatusCode::SERVICE_UNAVAILABLE, title, words)
}

pub(super) fn store_unwell(shared: &Shared, error: &StoreError) -> Response {
    tracing::error!(error = error.chain(), "a page could not be read");
    let title = "The record cannot be read now";
    let words = "Nothing that was kept is lost by this. Try again in a moment; the server's log \
                 says why.";
    plain(shared, StatusCode::SERVICE_UNAVAILABLE, title, words)
}

/// To another page after a form.
pub(super) fn to(shared: &Shared, path: &str) -> Response {
    Redirect::to(&format!("{}{path}", shared.base)).into_response()
}

/// A page apart from any job.
pub(super) fn frame(shared: &Shared, who: Option<&Person>, title: &str, body: &Markup) -> Markup {
    let body = html! { main.apart id="main" tabindex="-1" { (body) } };
    layout::page(shared, who, title, &[], &body)
}

/// A button that is a form of its own.
pub(super) fn button(base: &str, path: &str, words: &str) -> Markup {
    html! { form method="post" action={ (base) (path) } { button.small { (words) } } }
}

/// A secret that is shown once: what it is, how long it counts, and the way back.
pub(super) fn handed_over(title: &str, about: &Markup, secret: &str, back: &Markup) -> Markup {
    html! {
        div.entry {
            header { h1 { (title) } }
            div.card {
                (about)
                code.once { (secret) }
                p.hint { "It is shown here alone, and only now." }
            }
            p { (back) }
        }
    }
}

/// Writes down what a person did.
pub(super) async fn did(
    shared: &Shared,
    who: &SignedIn,
    what: DeedKind,
    job: Option<JobId>,
    about: &str,
) -> Result<(), StoreError> {
    shared
        .note(Actor::Person(who.person.id), what, job, about)
        .await
}

/// A moment as people read it, in UTC.
pub(super) fn moment(at: Millis) -> String {
    DateTime::from_timestamp_millis(at).map_or_else(
        || "at an unknown time".to_owned(),
        |at| at.format("%Y-%m-%d %H:%M UTC").to_string(),
    )
}

/// `1 photo`, `2 photos`.
pub(super) fn counted(count: u64, one: &str, many: &str) -> String {
    match count {
        1 => format!("1 {one}"),
        _ => format!("{count} {many}"),
    }
}

/// Text as a value in an address.
pub(super) fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for byte in text.bytes() {
        if byte.is_ascii_alphanumeric() || b"-._~/".contains(&byte) {
            out.push(char::from(byte));
        } else {
            out.push_str(&format!("%{byte:02X}"));
        }
    }
    out
}

/// A form that names a person's part.
#[derive(serde::Deserialize)]
pub(super) struct InPart {
    #[serde(default)]
    role: String,
}

impl InPart {
    /// The role that the form names.
    #[expect(clippy::result_large_err, reason = "a refusal is a whole answer")]
    fn role(&self, shared: &Shared) -> Result<Role, Response> {
        let known = Role::from_code(&self.role).filter(|role| *role != Role::Office);
        known.ok_or_else(|| {
            let words = "Choose crew, estimator or admin.";
            let code = StatusCode::UNPROCESSABLE_ENTITY;
            refused(shared, code, "There is no such part", words)
        })
    }
}

/// What a path names, as storage knows it.
#[expect(clippy::result_large_err, reason = "a refusal is a whole answer")]
fn there<T>(shared: &Shared, read: Result<Option<T>, StoreError>) -> Result<T, Response> {
    let known = read.map_err(|error| store_unwell(shared, &error))?;
    known.ok_or_else(|| nothing_here(shared))
}

/// A choice of roles; the label names it by `id`.
pub(super) fn role_choice(id: &str, chosen: Role, most: Role) -> Markup {
    html! {
        select id=(id) name="role" {
            @for role in [Role::Crew, Role::Estimator, Role::Admin] {
                @if rank(role) <= rank(most) {
                    option value=(role.code()) selected[role == chosen] { (role.code()) }
                }
            }
        }
    }
}
