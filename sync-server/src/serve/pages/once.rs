//! One-time links: to join, to sign in, to set a new password.

use axum::Extension;
use axum::extract::{Form, State};
use axum::http::{HeaderMap, StatusCode};
use axum::response::{IntoResponse, Redirect, Response};
use chalkwalk_core::env::Env;
use chalkwalk_core::job::Role;
use maud::{Markup, html};
use serde::Deserialize;

use super::super::Shared;
use super::super::guard::ByLink;
use super::form::{Field, Tone, notice};
use super::sign_in::{Trouble, begin, password as password_field, trouble, with_cookie};
use super::{frame, refused, store_unwell};
use crate::env::SystemEnv;
use crate::limits;
use crate::people::weakness;
use crate::store::{Actor, DeedKind, Joined, Once, Person, PersonId, Purpose, StoreError};

#[derive(Default, Deserialize)]
pub(in crate::serve) struct Filled {
    #[serde(default)]
    name: String,
    #[serde(default)]
    mail: String,
    #[serde(default)]
    password: String,
    #[serde(default)]
    again: String,
}

/// `GET /once/{token}`. Looking does not use the link up: programs that preview links look too.
pub(in crate::serve) async fn page(
    State(shared): State<Shared>,
    Extension(link): Extension<ByLink>,
) -> Response {
    shown(&shared, &link.once, &Filled::default(), None).await
}

async fn shown(
    shared: &Shared,
    once: &Once,
    filled: &Filled,
    trouble: Option<(StatusCode, &str)>,
) -> Response {
    let person = match person_of(shared, once.purpose).await {
        Ok(person) => person,
        Err(error) => return store_unwell(shared, &error),
    };
    let (title, fields) = match once.purpose {
        Purpose::Join(_) | Purpose::FirstAdmin => ("Join", joining(filled)),
        Purpose::Enter(_) => ("Sign in", html! {}),
        Purpose::Password(_) => ("Set a new password", new_password()),
    };
    let body = html! { div.entry {
        header { h1 { (title) } p.under { (shared.hub.office().company().name) } }
        @if let Some((_, words)) = trouble { (notice(Tone::Bad, &html! { p { (words) } })) }
        @if let Some(person) = &person { p { "You are " strong { (person.name) } "." } }
        form.card method="post" {
            (fields)
            button.main { (title) }
        }
        p.soft { "This link counts once." }
    } };
    let code = trouble.map_or(StatusCode::OK, |(code, _)| code);
    (code, frame(shared, None, title, &body)).into_response()
}

fn joining(filled: &Filled) -> Markup {
    html! {
        (Field {
            name: "name", label: "Your name, as the record shows it", value: &filled.name,
            required: true, autocomplete: Some("name"), most: Some(limits::NAME_BYTES), ..Field::default()
        }.line("text"))
        (Field {
            name: "mail", label: "Mail address", hint: "If you would rather sign in by it.", value: &filled.mail,
            autocomplete: Some("email"), most: Some(limits::NAME_BYTES), ..Field::default()
        }.line("email"))
        (new_password())
    }
}

/// A new password, twice.
pub(super) fn new_password() -> Markup {
    let hint = format!(
        "At least {} characters, such as four words.",
        limits::PASSWORD_CHARS
    );
    html! {
        (password_field("password", "New password", &hint, "new-password"))
        (password_field("again", "The same again", "", "new-password"))
    }
}

async fn person_of(shared: &Shared, purpose: Purpose) -> Result<Option<Person>, StoreError> {
    match purpose {
        Purpose::Enter(id) | Purpose::Password(id) => shared.accounts().person(id).await,
        Purpose::Join(_) | Purpose::FirstAdmin => Ok(None),
    }
}

/// `POST /once/{token}`.
pub(in crate::serve) async fn accept(
    State(shared): State<Shared>,
    Extension(link): Extension<ByLink>,
    headers: HeaderMap,
    Form(filled): Form<Filled>,
) -> Response {
    let secure = shared.house.front.secure(&headers);
    let once = link.once;
    match once.purpose {
        Purpose::Join(role) => join(&shared, &once, &filled, role, secure).await,
        Purpose::FirstAdmin => join(&shared, &once, &filled, Role::Admin, secure).await,
        Purpose::Enter(id) => used(&shared, &once, id, None, secure).await,
        Purpose::Password(id) => password(&shared, &once, &filled, id, secure).await,
    }
}

async fn join(shared: &Shared, once: &Once, filled: &Filled, role: Role, secure: bool) -> Response {
    let (name, mail) = (filled.name.trim(), filled.mail.trim());
    let company = shared.hub.office().company().name.clone();
    let names = [name, mail, company.as_str()];
    if let Some(words) = odd(name, mail).or_else(|| unfit(filled, &names)) {
        let code = StatusCode::UNPROCESSABLE_ENTITY;
        return shown(shared, once, filled, Some((code, &words))).await;
    }
    let hash = match shared.house.passwords.hash(&filled.password).await {
        Ok(hash) => hash,
        Err(error) => return trouble(shared, Trouble::Password(error)),
    };
    let mut id = [0; 16];
    SystemEnv.random(&mut id);
    let now = shared.hub.now();
    let person = Person {
        id: PersonId(id),
        name: name.to_owned(),
        mail: (!mail.is_empty()).then(|| mail.to_owned()),
        role,
        password: Some(hash),
        made_at: now,
        shut_out_at: None,
    };
    match shared.accounts().join(once.hash, &person, now).await {
        Ok(Joined::Done) => {
            let actor = Actor::Person(person.id);
            let noted = shared.note(actor, DeedKind::Joined, None, role.code());
            match noted.await {
                Ok(()) => inside(shared, person.id, secure).await,
                Err(error) => store_unwell(shared, &error),
            }
        }
        Ok(Joined::Taken) => {
            let words = "Somebody here has this name or mail address already: add your family \
                         name, or sign in if it is you.";
            shown(shared, once, filled, Some((StatusCode::CONFLICT, words))).await
        }
        Ok(Joined::NoLink) => gone(shared),
        Err(error) => store_unwell(shared, &error),
    }
}

/// What is odd about a name or mail address.
fn odd(name: &str, mail: &str) -> Option<String> {
    let most = limits::NAME_BYTES;
    if name.is_empty() || name.len() > most || name.contains(char::is_control) {
        return Some(format!("Write your name, in at most {most} bytes."));
    }
    if name.contains('@') {
        return Some("A name has no @: write the mail address in its own field.".to_owned());
    }
    let good = mail.is_empty()
        || (mail.len() <= most
            && !mail.contains(char::is_whitespace)
            && !mail.contains(char::is_control)
            && mail.split_once('@').is_some_and(|(user, host)| {
                !user.is_empty() && !host.is_empty() && !host.contains('@')
            }));
    (!good).then(|| "The mail address is not one: check it, or leave it empty.".to_owned())
}

/// Why a new password is not taken.
pub(super) fn unfit_password(password: &str, again: &str, names: &[&str]) -> Option<String> {
    if password != again {
        return Some("The two passwords differ: write the same twice.".to_owned());
    }
    weakness(password, names)
}

fn unfit(filled: &Filled, names: &[&str]) -> Option<String> {
    unfit_password(&filled.password, &filled.again, names)
}

async fn password(
    shared: &Shared,
    once: &Once,
    filled: &Filled,
    id: PersonId,
    secure: bool,
) -> Response {
    let person = match shared.accounts().person(id).await {
        Ok(Some(person)) => person,
        Ok(None) => return gone(shared),
        Err(error) => return store_unwell(shared, &error),
    };
    let names = [person.name.as_str(), person.mail.as_deref().unwrap_or("")];
    if let Some(words) = unfit(filled, &names) {
        let code = StatusCode::UNPROCESSABLE_ENTITY;
        return shown(shared, once, filled, Some((code, &words))).await;
    }
    match shared.house.passwords.hash(&filled.password).await {
        Ok(hash) => used(shared, once, id, Some(hash), secure).await,
        Err(error) => trouble(shared, Trouble::Password(error)),
    }
}

/// Uses the link up, and then sets the password or signs in.
async fn used(
    shared: &Shared,
    once: &Once,
    id: PersonId,
    hash: Option<String>,
    secure: bool,
) -> Response {
    let done = async {
        let now = shared.hub.now();
        let accounts = shared.accounts();
        if accounts.use_once(once.hash, now).await?.is_none() {
            return Ok(false);
        }
        let may = accounts.person(id).await?;
        if may.is_none_or(|person| person.shut_out_at.is_some()) {
            return Ok(false);
        }
        if let Some(hash) = &hash {
            accounts.set_password(id, hash).await?;
            accounts.end_sign_ins(id, None).await?;
            shared
                .note(
                    Actor::Person(id),
                    DeedKind::PasswordChanged,
                    None,
                    "by link",
                )
                .await?;
        }
        Ok::<_, StoreError>(true)
    };
    match done.await {
        Ok(true) => inside(shared, id, secure).await,
        Ok(false) => gone(shared),
        Err(error) => store_unwell(shared, &error),
    }
}

async fn inside(shared: &Shared, id: PersonId, secure: bool) -> Response {
    match begin(shared, id, secure).await {
        Ok(cookie) => {
            let home = format!("{}/", shared.base);
            with_cookie(Redirect::to(&home).into_response(), cookie)
        }
        Err(error) => store_unwell(shared, &error),
    }
}

fn gone(shared: &Shared) -> Response {
    let words = "This link was used already, or its person may no longer sign in. Ask an admin \
                 for a new one.";
    refused(
        shared,
        StatusCode::GONE,
        "This link no longer counts",
        words,
    )
}
