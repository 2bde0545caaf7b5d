//! Signing in and out.

use axum::extract::{ConnectInfo, Form, RawQuery, State};
use axum::http::{HeaderMap, HeaderValue, StatusCode, header};
use axum::response::{IntoResponse, Redirect, Response};
use axum::{Extension, http};
use maud::{Markup, html};
use serde::Deserialize;

use super::super::Shared;
use super::super::front::Peer;
use super::super::guard::{SignedIn, wait_a_minute};
use super::super::tries::{Guess, network};
use super::form::{Field, Tone, notice};
use super::{frame, plain, store_unwell};
use crate::env::SystemEnv;
use crate::limits;
use crate::people::{PasswordError, Secret};
use crate::store::{Actor, DeedKind, Person, PersonId, SignIn, StoreError};

const WRONG: &str = "The name and the password do not go together. Check both; an admin can make \
                     you a link to set a new password.";
const TOO_MANY: &str = "There were too many wrong passwords. Wait a quarter of an hour, or ask an \
                        admin for a link to set a new password.";
const TOO_MANY_HERE: &str = "There were too many wrong passwords from your network. Wait a minute.";

#[derive(Deserialize)]
pub(in crate::serve) struct Asked {
    #[serde(default)]
    login: String,
    #[serde(default)]
    password: String,
    #[serde(default)]
    to: String,
}

/// `GET /sign-in`.
pub(in crate::serve) async fn page(
    State(shared): State<Shared>,
    RawQuery(query): RawQuery,
) -> Response {
    let query = query.unwrap_or_default();
    let to = query
        .split('&')
        .find_map(|pair| pair.strip_prefix("to="))
        .map(unescaped)
        .unwrap_or_default();
    frame(&shared, None, "Sign in", &form(&shared, "", &to, None)).into_response()
}

fn form(shared: &Shared, login: &str, to: &str, trouble: Option<&str>) -> Markup {
    html! {
        div.entry {
            header { h1 { "Sign in" } p.under { (shared.hub.office().company().name) } }
            @if let Some(words) = trouble { (notice(Tone::Bad, &html! { p { (words) } })) }
            form.card method="post" action={ (shared.base) "/sign-in" } {
                (Field {
                    name: "login", label: "Name or mail address", value: login, required: true,
                    autocomplete: Some("username"), ..Field::default()
                }.line("text"))
                (password("password", "Password", "", "current-password"))
                input type="hidden" name="to" value=(to);
                button.main { "Sign in" }
            }
            p.soft { "No account yet? An admin of your company sends you a link to join." }
        }
    }
}

/// A field for a password; what was typed is never shown again.
pub(in crate::serve) fn password(
    name: &str,
    label: &str,
    hint: &str,
    autocomplete: &str,
) -> Markup {
    Field {
        name,
        label,
        hint,
        required: true,
        autocomplete: Some(autocomplete),
        most: Some(limits::PASSWORD_BYTES),
        ..Field::default()
    }
    .line("password")
}

/// `POST /sign-in`.
pub(in crate::serve) async fn sign_in(
    State(shared): State<Shared>,
    ConnectInfo(peer): ConnectInfo<Peer>,
    headers: HeaderMap,
    Form(asked): Form<Asked>,
) -> Response {
    match enter(&shared, &headers, peer, &asked.login, &asked.password).await {
        Ok(cookie) => {
            let to = local(&shared, &asked.to);
            with_cookie(Redirect::to(&to).into_response(), cookie)
        }
        Err(NoEntry::Refused(code, words)) => {
            let body = form(&shared, &asked.login, &asked.to, Some(&words));
            let page = frame(&shared, None, "Sign in", &body);
            let mut response = (code, page).into_response();
            if code == StatusCode::TOO_MANY_REQUESTS {
                wait_a_minute(&mut response);
            }
            response
        }
        Err(NoEntry::Unwell(response)) => response,
    }
}

/// Why somebody was not signed in.
pub(in crate::serve) enum NoEntry {
    /// The page to sign in says so in these words.
    Refused(StatusCode, String),
    /// The whole answer: storage failed.
    Unwell(Response),
}

/// Signs a person in, within the limits of wrong tries: the cookie for the browser.
pub(in crate::serve) async fn enter(
    shared: &Shared,
    headers: &HeaderMap,
    peer: Peer,
    login: &str,
    password: &str,
) -> Result<HeaderValue, NoEntry> {
    let refused = |code, words: &str| NoEntry::Refused(code, words.to_owned());
    let unwell = |error: &StoreError| NoEntry::Unwell(store_unwell(shared, error));
    let now = shared.hub.now();
    let from = network(shared.house.front.client(headers, peer));
    let account = account_key(shared, login);
    let guesses = [
        (Guess::Password(from), TOO_MANY_HERE),
        (Guess::Account(account), TOO_MANY),
    ];
    for (guess, words) in guesses {
        if !shared
            .may_try(guess, now)
            .await
            .map_err(|error| unwell(&error))?
        {
            return Err(refused(StatusCode::TOO_MANY_REQUESTS, words));
        }
    }
    // Counted before it is checked, so that many at once count too.
    for (guess, words) in guesses {
        if !shared
            .count_try(guess, now)
            .await
            .map_err(|error| unwell(&error))?
        {
            return Err(refused(StatusCode::TOO_MANY_REQUESTS, words));
        }
    }
    let person = match right_person(shared, login, password).await {
        Ok(Ok(person)) => person,
        Ok(Err(known)) => {
            shared.house.metrics.sign_in_refused();
            let about = known.map(|id| id.to_string()).unwrap_or_default();
            let noted = shared.note(Actor::Nobody, DeedKind::SignInFailed, None, &about);
            noted.await.map_err(|error| unwell(&error))?;
            return Err(refused(StatusCode::FORBIDDEN, WRONG));
        }
        Err(Trouble::Password(error)) => {
            return Err(refused(StatusCode::SERVICE_UNAVAILABLE, &sentence(&error)));
        }
        Err(Trouble::Store(error)) => return Err(unwell(&error)),
    };
    for (guess, _) in guesses {
        let back = shared.take_back_try(guess, now).await;
        back.map_err(|error| unwell(&error))?;
    }
    let secure = shared.house.front.secure(headers);
    let begun = begin(shared, person.id, secure).await;
    begun.map_err(|error| unwell(&error))
}

/// An account as it is counted: by company and by the name as it is compared, known or not.
pub(super) fn account_key(shared: &Shared, login: &str) -> [u8; 32] {
    let mut key = shared.hub.office().company().id.as_bytes().to_vec();
    key.extend_from_slice(Person::folded(login).as_bytes());
    *blake3::hash(&key).as_bytes()
}

pub(super) enum Trouble {
    Password(PasswordError),
    Store(StoreError),
}

/// The person, where the password is right; else the person that was named, where there is one.
async fn right_person(
    shared: &Shared,
    login: &str,
    password: &str,
) -> Result<Result<Person, Option<PersonId>>, Trouble> {
    let found = shared.accounts().person_called(login).await;
    let person = found.map_err(Trouble::Store)?;
    let may = person
        .as_ref()
        .filter(|person| person.shut_out_at.is_none());
    let hash = may.and_then(|person| person.password.as_deref());
    let passwords = &shared.house.passwords;
    let right = passwords.check(password, hash).await;
    let right = right.map_err(Trouble::Password)?;
    Ok(match person {
        Some(person) if right => Ok(person),
        other => Err(other.map(|person| person.id)),
    })
}

/// Begins a sign-in: the cookie for the browser.
pub(super) async fn begin(
    shared: &Shared,
    person: PersonId,
    secure: bool,
) -> Result<HeaderValue, StoreError> {
    let secret = Secret::fresh(&mut SystemEnv);
    let now = shared.hub.now();
    let sign_in = SignIn {
        hash: secret.hash(),
        person,
        made_at: now,
        seen_at: now,
    };
    shared
        .accounts()
        .put_sign_in(&sign_in, limits::SIGN_INS)
        .await?;
    shared
        .note(Actor::Person(person), DeedKind::SignedIn, None, "")
        .await?;
    let seconds = limits::SIGN_IN_LIFE_MS / 1_000;
    Ok(cookie(shared, &secret.reveal(), seconds, secure))
}

fn cookie(shared: &Shared, value: &str, seconds: i64, secure: bool) -> HeaderValue {
    let path = if shared.base.is_empty() {
        "/"
    } else {
        &*shared.base
    };
    let name = shared.cookie();
    let secure = if secure { "; Secure" } else { "" };
    let text =
        format!("{name}={value}; Path={path}; Max-Age={seconds}; HttpOnly; SameSite=Lax{secure}");
    // The text is of letters, digits and these marks alone.
    HeaderValue::from_str(&text).unwrap_or(HeaderValue::from_static(""))
}

pub(super) fn with_cookie(mut response: Response, cookie: HeaderValue) -> Response {
    response.headers_mut().append(header::SET_COOKIE, cookie);
    response
}

/// `POST /sign-out`.
pub(in crate::serve) async fn sign_out(
    State(shared): State<Shared>,
    Extension(who): Extension<SignedIn>,
    headers: HeaderMap,
) -> Response {
    let ended = shared.accounts().end_sign_in(who.hash).await;
    left(&shared, &who, ended, DeedKind::SignedOut, &headers).await
}

/// `POST /sign-out/everywhere`.
pub(in crate::serve) async fn sign_out_everywhere(
    State(shared): State<Shared>,
    Extension(who): Extension<SignedIn>,
    headers: HeaderMap,
) -> Response {
    let ended = shared.accounts().end_sign_ins(who.person.id, None).await;
    left(
        &shared,
        &who,
        ended,
        DeedKind::SignedOutEverywhere,
        &headers,
    )
    .await
}

async fn left(
    shared: &Shared,
    who: &SignedIn,
    ended: Result<(), StoreError>,
    what: DeedKind,
    headers: &HeaderMap,
) -> Response {
    let noted = match ended {
        Ok(()) => {
            shared
                .note(Actor::Person(who.person.id), what, None, "")
                .await
        }
        Err(error) => Err(error),
    };
    if let Err(error) = noted {
        return store_unwell(shared, &error);
    }
    let secure = shared.house.front.secure(headers);
    let at = format!("{}/sign-in", shared.base);
    with_cookie(
        Redirect::to(&at).into_response(),
        cookie(shared, "", 0, secure),
    )
}

/// Where to go after signing in: a page of this company and nothing else.
fn local(shared: &Shared, to: &str) -> String {
    let home = format!("{}/", shared.base);
    let good = to.starts_with(&home)
        && !to.starts_with("//")
        && !to.contains(['\\', '\r', '\n', '\t'])
        && to.is_ascii()
        && to.parse::<http::Uri>().is_ok();
    if good { to.to_owned() } else { home }
}

/// Text that was a value in an address.
fn unescaped(text: &str) -> String {
    let mut bytes = text.bytes();
    let mut out = Vec::with_capacity(text.len());
    while let Some(byte) = bytes.next() {
        if byte != b'%' {
            out.push(byte);
            continue;
        }
        let digit = |byte: Option<u8>| char::from(byte?).to_digit(16);
        let (Some(high), Some(low)) = (digit(bytes.next()), digit(bytes.next())) else {
            return String::new();
        };
        out.push(u8::try_from(high * 16 + low).unwrap_or(b'?'));
    }
    String::from_utf8(out).unwrap_or_default()
}

/// An error's words as a sentence of a page.
pub(super) fn sentence(error: &PasswordError) -> String {
    let words = error.to_string();
    let mut letters = words.chars();
    let first = letters.next().map(|first| first.to_uppercase().to_string());
    let end = if words.ends_with('.') { "" } else { "." };
    format!("{}{}{end}", first.unwrap_or_default(), letters.as_str())
}

/// The page says that a form's password could not be worked on.
pub(super) fn trouble(shared: &Shared, trouble: Trouble) -> Response {
    match trouble {
        Trouble::Password(error) => {
            let code = StatusCode::SERVICE_UNAVAILABLE;
            plain(shared, code, "Not now", &sentence(&error))
        }
        Trouble::Store(error) => store_unwell(shared, &error),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn escaped_text_reads_back() {
        for text in ["/jobs/1?a=b&c=d", "/at/x/", "ü %", ""] {
            assert_eq!(unescaped(&super::super::escaped(text)), text);
        }
        for text in ["%", "%2", "%zz", "%ff"] {
            assert_eq!(unescaped(text), "");
        }
    }
}
