//! Who saw and did what, for admins: what people did, and what the office noted of devices.

use std::collections::BTreeMap;

use axum::Extension;
use axum::extract::{RawQuery, State};
use axum::response::{IntoResponse, Response};
use maud::{Markup, html};

use super::super::Shared;
use super::super::guard::SignedIn;
use super::{frame, moment, store_unwell};
use crate::limits;
use crate::store::{Actor, AuditEntry, Deed, DeedKind, PersonId, StoreError};

/// `GET /audit`.
pub(in crate::serve) async fn page(
    State(shared): State<Shared>,
    Extension(who): Extension<SignedIn>,
    RawQuery(query): RawQuery,
) -> Response {
    let query = query.unwrap_or_default();
    let before = query
        .split('&')
        .find_map(|pair| pair.strip_prefix("before="))
        .and_then(|before| before.parse::<u64>().ok());
    let read = async {
        let deeds = shared.accounts().deeds(before, limits::AUDIT_PAGE).await?;
        let people = shared.accounts().people().await?;
        let noted = match before {
            None => shared.hub.records().audit(limits::AUDIT_PAGE).await?,
            Some(_) => Vec::new(),
        };
        let actor = Actor::Person(who.person.id);
        shared.note(actor, DeedKind::SawAudit, None, "").await?;
        Ok::<_, StoreError>((deeds, people, noted))
    };
    let (deeds, people, noted) = match read.await {
        Ok(read) => read,
        Err(error) => return store_unwell(&shared, &error),
    };
    let names: BTreeMap<PersonId, String> = people
        .into_iter()
        .map(|person| (person.id, person.name))
        .collect();
    let last = deeds.last().map(|(number, _)| *number);
    let body = html! {
        header { h1 { "Audit" } p.under { "Nothing here is ever altered or removed." } }
        div {
            h2 { "Who saw and did what" }
            div.sheet { table {
                thead { tr {
                    th scope="col" { "When" } th scope="col" { "Who" } th scope="col" { "What" }
                    th scope="col" { "Job" } th scope="col" { "About" }
                } }
                tbody { @for (_, deed) in &deeds { (row(&shared.base, &names, deed)) } }
            } }
            @if deeds.len() == limits::AUDIT_PAGE {
                @if let Some(last) = last {
                    p { a href={ (shared.base) "/audit?before=" (last) } { "Earlier" } }
                }
            }
            @if !noted.is_empty() { (office(&shared.base, &noted)) }
        }
    };
    frame(&shared, Some(&who.person), "Audit", &body).into_response()
}

fn row(base: &str, names: &BTreeMap<PersonId, String>, deed: &Deed) -> Markup {
    html! {
        tr {
            td { (moment(deed.at)) }
            td {
                @match deed.who {
                    Actor::Office => "the server",
                    Actor::Nobody => "somebody not signed in",
                    Actor::Person(id) => (names.get(&id).cloned().unwrap_or(id.to_string())),
                    Actor::Device(id) => { "device " (id) },
                    Actor::Share(id) => { "shared link " (id) },
                }
            }
            td { (deed.what.words()) }
            td { @if let Some(job) = deed.job { a href={ (base) "/jobs/" (job) } { (job) } } }
            td { (about(names, &deed.about)) }
        }
    }
}

/// A person's id is shown as the name.
fn about(names: &BTreeMap<PersonId, String>, text: &str) -> String {
    let name = |word: &str| names.get(&word.parse::<PersonId>().ok()?).cloned();
    let words: Vec<String> = text
        .split(' ')
        .map(|word| name(word).unwrap_or_else(|| word.to_owned()))
        .collect();
    words.join(" ")
}

fn office(base: &str, noted: &[AuditEntry]) -> Markup {
    html! {
        h2 { "Devices and refusals" }
        div.sheet { table {
            thead { tr {
                th scope="col" { "When" } th scope="col" { "What" } th scope="col" { "Device" }
                th scope="col" { "Job" } th scope="col" { "Detail" }
            } }
            tbody { @for entry in noted { tr {
                td { (moment(entry.at)) }
                td { (entry.what.code().replace('_', " ")) }
                td { @if let Some(device) = entry.device { (device) } }
                td { @if let Some(job) = entry.job { a href={ (base) "/jobs/" (job) } { (job) } } }
                td { (entry.detail) }
            } } }
        } }
    }
}
