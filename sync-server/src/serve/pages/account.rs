//! A person's own account.

use axum::Extension;
use axum::extract::{Form, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use maud::html;
use serde::Deserialize;

use super::super::Shared;
use super::super::guard::{SignedIn, wait_a_minute};
use super::super::tries::Guess;
use super::form::{Tone, notice};
use super::once::{new_password, unfit_password};
use super::sign_in::{Trouble, account_key, password, trouble};
use super::{button, frame, store_unwell};
use crate::store::{Actor, DeedKind, StoreError};

#[derive(Deserialize)]
pub(in crate::serve) struct Change {
    #[serde(default)]
    current: String,
    #[serde(default)]
    password: String,
    #[serde(default)]
    again: String,
}

/// `GET /account`.
pub(in crate::serve) async fn page(
    State(shared): State<Shared>,
    Extension(who): Extension<SignedIn>,
) -> Response {
    shown(&shared, &who, StatusCode::OK, None)
}

fn shown(shared: &Shared, who: &SignedIn, code: StatusCode, words: Option<&str>) -> Response {
    let person = &who.person;
    let tone = if code == StatusCode::OK {
        Tone::Good
    } else {
        Tone::Bad
    };
    let body = html! {
        header {
            h1 { (person.name) }
            p.under {
                (person.role.code())
                @if let Some(mail) = &person.mail { " · " (mail) }
            }
        }
        @if let Some(words) = words { (notice(tone, &html! { p { (words) } })) }
        div.split {
            form.card method="post" action={ (shared.base) "/account/password" } {
                h2 { "Change the password" }
                @if person.password.is_some() {
                    (password("current", "Present password", "", "current-password"))
                }
                (new_password())
                button.main { "Change the password" }
            }
            div.card {
                h2 { "Sign out" }
                p { "After a machine was lost or used by others, end every sign-in of yours." }
                (button(&shared.base, "/sign-out/everywhere", "Sign out everywhere"))
            }
        }
    };
    (code, frame(shared, Some(person), &person.name, &body)).into_response()
}

/// `POST /account/password`.
pub(in crate::serve) async fn change_password(
    State(shared): State<Shared>,
    Extension(who): Extension<SignedIn>,
    Form(change): Form<Change>,
) -> Response {
    let person = &who.person;
    let now = shared.hub.now();
    let account = Guess::Account(account_key(&shared, &person.name));
    let too_many = || {
        let code = StatusCode::TOO_MANY_REQUESTS;
        let words = "There were too many wrong passwords. Wait a quarter of an hour.";
        let mut response = shown(&shared, &who, code, Some(words));
        wait_a_minute(&mut response);
        response
    };
    match shared.may_try(account, now).await {
        Ok(true) => {}
        Ok(false) => return too_many(),
        Err(error) => return store_unwell(&shared, &error),
    }
    let passwords = &shared.house.passwords;
    if let Some(hash) = person.password.as_deref() {
        match shared.count_try(account, now).await {
            Ok(true) => {}
            Ok(false) => return too_many(),
            Err(error) => return store_unwell(&shared, &error),
        }
        match passwords.check(&change.current, Some(hash)).await {
            Ok(true) => {
                if let Err(error) = shared.take_back_try(account, now).await {
                    return store_unwell(&shared, &error);
                }
            }
            Ok(false) => {
                let words = "The present password is not right.";
                return shown(&shared, &who, StatusCode::FORBIDDEN, Some(words));
            }
            Err(error) => return trouble(&shared, Trouble::Password(error)),
        }
    }
    let names = [person.name.as_str(), person.mail.as_deref().unwrap_or("")];
    if let Some(words) = unfit_password(&change.password, &change.again, &names) {
        return shown(
            &shared,
            &who,
            StatusCode::UNPROCESSABLE_ENTITY,
            Some(&words),
        );
    }
    let hash = match passwords.hash(&change.password).await {
        Ok(hash) => hash,
        Err(error) => return trouble(&shared, Trouble::Password(error)),
    };
    let done = async {
        shared.accounts().set_password(person.id, &hash).await?;
        shared
            .accounts()
            .end_sign_ins(person.id, Some(who.hash))
            .await?;
        let actor = Actor::Person(person.id);
        shared
            .note(actor, DeedKind::PasswordChanged, None, "")
            .await?;
        Ok::<_, StoreError>(())
    };
    match done.await {
        Ok(()) => {
            let words = "The password is changed, and every other sign-in of yours is ended.";
            shown(&shared, &who, StatusCode::OK, Some(words))
        }
        Err(error) => store_unwell(&shared, &error),
    }
}
