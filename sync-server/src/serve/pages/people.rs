//! Everybody who may sign in, for admins.

use axum::Extension;
use axum::extract::{Form, Path, State};
use axum::http::{HeaderMap, StatusCode, Uri};
use axum::response::{IntoResponse, Response};
use chalkwalk_core::job::Role;
use maud::{Markup, html};

use super::super::Shared;
use super::super::guard::SignedIn;
use super::super::icons::icon;
use super::layout::sheet;
use super::{
    InPart, button, counted, did, frame, handed_over, moment, nothing_here, refused, role_choice,
    store_unwell, there, to,
};
use crate::env::SystemEnv;
use crate::people::{OneTime, make_once};
use crate::store::{Actor, DeedKind, Person, PersonId, Purpose, StoreError};

/// `GET /people`.
pub(in crate::serve) async fn page(
    State(shared): State<Shared>,
    Extension(who): Extension<SignedIn>,
) -> Response {
    let people = match shared.accounts().people().await {
        Ok(people) => people,
        Err(error) => return store_unwell(&shared, &error),
    };
    let base = &shared.base;
    let body = html! {
        header { h1 { "People" } p.under {
            (counted(people.len() as u64, "person", "people")) ". Crew looks and answers; estimators \
             edit; admins also see to people and storage."
        } }
        form.card.row method="post" action={ (base) "/people/invite" } {
            div.field { label for="invite" { "Invite somebody as" }
                (role_choice("invite", Role::Crew, Role::Admin)) }
            button.main { (icon("link")) "Make a link" }
        }
        h2 { "Who may sign in" }
        (sheet("Who may sign in", &html! { table.stack {
            thead { tr {
                th scope="col" { "Name" } th scope="col" { "Part" } th scope="col" { "Since" }
                th scope="col" { "What to do" }
            } }
            tbody { @for person in &people { (row(base, &who, person)) } }
        } }))
    };
    frame(&shared, Some(&who.person), "People", &body).into_response()
}

fn row(base: &str, who: &SignedIn, person: &Person) -> Markup {
    let path = |what: &str| format!("/people/{}/{what}", person.id);
    let id = format!("part-{}", person.id);
    html! {
        tr {
            th scope="row" {
                (person.name)
                @if person.id == who.person.id { span.soft { " (you)" } }
                @if let Some(mail) = &person.mail { div.soft { (mail) } }
                @if let Some(at) = person.shut_out_at {
                    div { span.state.missing { (icon("circle-slash")) "shut out " (moment(at)) } }
                }
            }
            td data-label="Part" {
                form.rowlike method="post" action={ (base) (path("role")) } {
                    label.out-of-sight for=(id) { "Part of " (person.name) }
                    (role_choice(&id, person.role, Role::Admin)) button.small { "Change" }
                }
            }
            td data-label="Since" { (moment(person.made_at)) }
            td { div.rowlike {
                (button(base, &path("link"), "Link for a new password"))
                @if person.shut_out_at.is_some() {
                    (button(base, &path("let-in"), "Let in again"))
                } @else if person.id != who.person.id {
                    (button(base, &path("shut-out"), "Shut out"))
                }
            } }
        }
    }
}

/// `POST /people/invite`.
pub(in crate::serve) async fn invite(
    State(shared): State<Shared>,
    Extension(who): Extension<SignedIn>,
    headers: HeaderMap,
    uri: Uri,
    Form(part): Form<InPart>,
) -> Result<Response, Response> {
    let purpose = Purpose::Join(part.role(&shared)?);
    one_time(
        &shared,
        &who,
        purpose,
        &shared.house.front.origin(&headers, &uri),
    )
    .await
}

async fn one_time(
    shared: &Shared,
    who: &SignedIn,
    purpose: Purpose,
    origin: &str,
) -> Result<Response, Response> {
    let by = Actor::Person(who.person.id);
    let made = make_once(shared.accounts(), purpose, by, &mut SystemEnv).await;
    let link = made.map_err(|error| store_unwell(shared, &error))?;
    Ok(handed_out(shared, who, &link, origin))
}

fn handed_out(shared: &Shared, who: &SignedIn, link: &OneTime, origin: &str) -> Response {
    let address = format!("{origin}{}{}", shared.base, link.path());
    let about = html! { p { "Hand it to the person yourself. Whoever has it can use it, until "
    (moment(link.expires_at)) "." } };
    let back = html! { a href={ (shared.base) "/people" } { "People" } };
    let title = "A link that counts once";
    let body = handed_over(title, &about, &address, &back);
    frame(shared, Some(&who.person), title, &body).into_response()
}

async fn person_of(shared: &Shared, id: &str) -> Result<Person, Response> {
    let id = id.parse::<PersonId>().map_err(|_| nothing_here(shared))?;
    there(shared, shared.accounts().person(id).await)
}

/// `POST /people/{person}/link`.
pub(in crate::serve) async fn password_link(
    State(shared): State<Shared>,
    Extension(who): Extension<SignedIn>,
    Path(id): Path<String>,
    headers: HeaderMap,
    uri: Uri,
) -> Result<Response, Response> {
    let person = person_of(&shared, &id).await?;
    let purpose = Purpose::Password(person.id);
    one_time(
        &shared,
        &who,
        purpose,
        &shared.house.front.origin(&headers, &uri),
    )
    .await
}

/// Sees that somebody else is admin, so that nobody locks the company out.
async fn another_admin(shared: &Shared, person: &Person) -> Result<bool, StoreError> {
    let people = shared.accounts().people().await?;
    Ok(people.iter().any(|other| {
        other.id != person.id && other.role == Role::Admin && other.shut_out_at.is_none()
    }))
}

fn last_admin(shared: &Shared) -> Response {
    let words = "This is the only admin. Make another person admin first.";
    refused(shared, StatusCode::CONFLICT, "An admin must remain", words)
}

/// `POST /people/{person}/role`.
pub(in crate::serve) async fn set_role(
    State(shared): State<Shared>,
    Extension(who): Extension<SignedIn>,
    Path(id): Path<String>,
    Form(part): Form<InPart>,
) -> Result<Response, Response> {
    let person = person_of(&shared, &id).await?;
    let role = part.role(&shared)?;
    let done = async {
        if role != Role::Admin && !another_admin(&shared, &person).await? {
            return Ok(false);
        }
        shared.accounts().set_role(person.id, role).await?;
        let about = format!("{} to {}", person.id, role.code());
        did(&shared, &who, DeedKind::RoleChanged, None, &about).await?;
        Ok::<_, StoreError>(true)
    };
    Ok(finished(&shared, done.await))
}

fn finished(shared: &Shared, done: Result<bool, StoreError>) -> Response {
    match done {
        Ok(true) => to(shared, "/people"),
        Ok(false) => last_admin(shared),
        Err(error) => store_unwell(shared, &error),
    }
}

/// `POST /people/{person}/shut-out`.
pub(in crate::serve) async fn shut_out(
    State(shared): State<Shared>,
    Extension(who): Extension<SignedIn>,
    Path(id): Path<String>,
) -> Result<Response, Response> {
    let person = person_of(&shared, &id).await?;
    let done = async {
        if !another_admin(&shared, &person).await? {
            return Ok(false);
        }
        let now = shared.hub.now();
        shared.accounts().set_shut_out(person.id, Some(now)).await?;
        let about = person.id.to_string();
        did(&shared, &who, DeedKind::ShutOut, None, &about).await?;
        Ok::<_, StoreError>(true)
    };
    Ok(finished(&shared, done.await))
}

/// `POST /people/{person}/let-in`.
pub(in crate::serve) async fn let_in(
    State(shared): State<Shared>,
    Extension(who): Extension<SignedIn>,
    Path(id): Path<String>,
) -> Result<Response, Response> {
    let person = person_of(&shared, &id).await?;
    let done = async {
        shared.accounts().set_shut_out(person.id, None).await?;
        did(&shared, &who, DeedKind::LetIn, None, &person.id.to_string()).await?;
        Ok::<_, StoreError>(true)
    };
    Ok(finished(&shared, done.await))
}
