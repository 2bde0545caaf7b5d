//! Who saw and did what, for admins: what people did, and what the office noted of devices.

use std::cmp::Reverse;
use std::collections::BTreeMap;

use axum::Extension;
use axum::extract::State;
use axum::response::{IntoResponse, Response};
use chalkwalk_core::job::{DeviceId, JobId};
use maud::{Markup, html};

use super::super::Shared;
use super::super::guard::SignedIn;
use super::super::icons::icon;
use super::fields::{Asked, Fields};
use super::layout::sheet;
use super::{did, frame, moment, store_unwell};
use crate::limits;
use crate::store::{
    Actor, AuditEntry, Deed, DeedKind, DeedsOf, Device, Person, PersonId, StoreError,
};

/// What the list is narrowed to.
struct Narrowed<'a> {
    of: DeedsOf,
    before: Option<u64>,
    asked: &'a Fields,
}

impl<'a> Narrowed<'a> {
    fn of(asked: &'a Fields) -> Self {
        Self {
            of: DeedsOf {
                who: asked.get("who").parse().ok(),
                what: DeedKind::from_code(asked.get("what")),
                job: asked.get("job").parse().ok(),
            },
            before: asked.get("before").parse().ok(),
            asked,
        }
    }

    fn is_all(&self) -> bool {
        self.of == DeedsOf::ALL
    }
}

/// One page of deeds.
struct Found {
    deeds: Vec<Deed>,
    /// The number to go on from; `None` where there is no more.
    next: Option<u64>,
}

/// The deeds of a page, the newest first; storage narrows them, however many there are.
async fn find(shared: &Shared, narrowed: &Narrowed<'_>) -> Result<Found, StoreError> {
    // One more than is shown tells whether there are more.
    let most = limits::AUDIT_PAGE + 1;
    let accounts = shared.accounts();
    let mut read = accounts.deeds(narrowed.of, narrowed.before, most).await?;
    let more = read.len() == most;
    read.truncate(limits::AUDIT_PAGE);
    Ok(Found {
        next: read.last().map(|(number, _)| *number).filter(|_| more),
        deeds: read.into_iter().map(|(_, deed)| deed).collect(),
    })
}

/// `GET /audit`.
pub(in crate::serve) async fn page(
    State(shared): State<Shared>,
    Extension(who): Extension<SignedIn>,
    Asked(asked): Asked,
) -> Response {
    let narrowed = Narrowed::of(&asked);
    let read = async {
        let found = find(&shared, &narrowed).await?;
        let people = shared.accounts().people().await?;
        let noted = match narrowed.before {
            None if narrowed.is_all() => shared.hub.records().audit(limits::AUDIT_PAGE).await?,
            _ => Vec::new(),
        };
        let titles = titles(&shared).await?;
        let devices = shared.hub.records().devices().await?;
        did(&shared, &who, DeedKind::SawAudit, None, "").await?;
        let names = Names::of(&shared, people, &devices);
        Ok::<_, StoreError>((found, names, noted, titles))
    };
    let (found, names, noted, titles) = match read.await {
        Ok(read) => read,
        Err(error) => return store_unwell(&shared, &error),
    };
    let base = &shared.base;
    let body = html! {
        header { h1 { "Audit" } p.under { "Who saw and did what. Nothing here is ever altered or removed." } }
        (filter(base, &narrowed, &names, &titles))
        @if found.deeds.is_empty() { p.soft { "Nothing fits." } } @else {
            (sheet("Who saw and did what", &html! { table.stack {
                thead { tr {
                    th scope="col" { "When" } th scope="col" { "Who" } th scope="col" { "What" }
                    th scope="col" { "Job" } th scope="col" { "About" }
                } }
                tbody { @for deed in &found.deeds { (row(base, &names, &titles, deed)) } }
            } }))
        }
        @if let Some(next) = found.next {
            @let earlier = asked.clone().with("before", &next.to_string());
            p { a.button href={ (base) "/audit" (earlier.as_query()) } { "Earlier" } }
        }
        @if !noted.is_empty() { (office(base, &names, &titles, &noted)) }
    };
    frame(&shared, Some(&who.person), "Audit", &body).into_response()
}

/// What people and devices are called.
struct Names {
    people: BTreeMap<PersonId, String>,
    devices: BTreeMap<DeviceId, String>,
}

impl Names {
    fn of(shared: &Shared, people: Vec<Person>, devices: &[Device]) -> Self {
        let called = |device: &Device| {
            let known = shared.hub.office().verify(&device.certificate).ok()?;
            Some((
                device.id,
                format!("{}, {}", known.person, known.device_name),
            ))
        };
        Self {
            people: people
                .into_iter()
                .map(|person| (person.id, person.name))
                .collect(),
            devices: devices.iter().filter_map(called).collect(),
        }
    }

    fn device(&self, base: &str, id: DeviceId) -> Markup {
        let name = self.devices.get(&id).cloned();
        html! { a href={ (base) "/devices/" (id) } { (name.unwrap_or_else(|| id.to_string())) } }
    }

    /// Ids among words are shown as names.
    fn among(&self, text: &str) -> String {
        let name = |word: &str| {
            let person = word.parse().ok().and_then(|id| self.people.get(&id));
            let device = || word.parse().ok().and_then(|id| self.devices.get(&id));
            person.or_else(device).cloned()
        };
        let words: Vec<String> = text
            .split(' ')
            .map(|word| name(word).unwrap_or_else(|| word.to_owned()))
            .collect();
        words.join(" ")
    }
}

/// What jobs are called, and which of them can be chosen.
struct Titles {
    all: BTreeMap<JobId, String>,
    /// Those with the newest news.
    newest: Vec<JobId>,
}

async fn titles(shared: &Shared) -> Result<Titles, StoreError> {
    let mut jobs = shared.hub.records().jobs().await?;
    jobs.sort_by_key(|status| (Reverse(status.last_news), status.job));
    Ok(Titles {
        newest: jobs
            .iter()
            .take(limits::AUDIT_JOBS)
            .map(|status| status.job)
            .collect(),
        all: jobs
            .into_iter()
            .map(|status| {
                let title = status.summary.map(|summary| summary.title);
                (status.job, title.unwrap_or_else(|| status.job.to_string()))
            })
            .collect(),
    })
}

impl Titles {
    /// The jobs to choose from, the one that is chosen among them.
    fn options(&self, chosen: Option<JobId>) -> Vec<(String, String)> {
        let beside = chosen.filter(|job| !self.newest.contains(job));
        let ids = self.newest.iter().chain(&beside);
        ids.map(|job| (job.to_string(), self.of(*job))).collect()
    }

    fn of(&self, job: JobId) -> String {
        self.all
            .get(&job)
            .cloned()
            .unwrap_or_else(|| job.to_string())
    }
}

fn filter(base: &str, narrowed: &Narrowed<'_>, names: &Names, titles: &Titles) -> Markup {
    let choice = |name: &str, label: &str, all: &str, options: Vec<(String, String)>| {
        html! {
            div.field {
                label for=(name) { (label) }
                select id=(name) name=(name) {
                    option value="" { (all) }
                    @for (value, words) in &options {
                        option value=(value) selected[narrowed.asked.get(name) == value] { (words) }
                    }
                }
            }
        }
    };
    let people = names
        .people
        .iter()
        .map(|(id, name)| (id.to_string(), name.clone()));
    let deeds = DeedKind::ALL
        .iter()
        .map(|kind| (kind.code().to_owned(), kind.words().to_owned()));
    html! {
        form.row method="get" action={ (base) "/audit" } {
            (choice("who", "Who", "anybody", people.collect()))
            (choice("what", "What", "anything", deeds.collect()))
            (choice("job", "Job", "any", titles.options(narrowed.of.job)))
            button { (icon("filter")) "Show" }
            @if !narrowed.is_all() || narrowed.before.is_some() { a href={ (base) "/audit" } { "Show all" } }
        }
    }
}

fn job_link(base: &str, titles: &Titles, job: Option<JobId>) -> Markup {
    html! {
        @if let Some(job) = job {
            a href={ (base) "/jobs/" (job) } { (titles.of(job)) }
        }
    }
}

fn row(base: &str, names: &Names, titles: &Titles, deed: &Deed) -> Markup {
    html! {
        tr {
            td.nowrap data-label="When" { (moment(deed.at)) }
            td data-label="Who" {
                @match deed.who {
                    Actor::Office => "the server",
                    Actor::Nobody => "somebody not signed in",
                    Actor::Person(id) => (names.people.get(&id).cloned().unwrap_or(id.to_string())),
                    Actor::Device(id) => { "device " (names.device(base, id)) },
                    Actor::Share(id) => { "shared link " (id) },
                }
            }
            td data-label="What" { (deed.what.words()) }
            td data-label="Job" { (job_link(base, titles, deed.job)) }
            td data-label="About" { (names.among(&deed.about)) }
        }
    }
}

fn office(base: &str, names: &Names, titles: &Titles, noted: &[AuditEntry]) -> Markup {
    html! {
        h2 { "Devices and refusals" }
        (sheet("Devices and refusals", &html! { table.stack {
            thead { tr {
                th scope="col" { "When" } th scope="col" { "What" } th scope="col" { "Device" }
                th scope="col" { "Job" } th scope="col" { "Detail" }
            } }
            tbody { @for entry in noted { tr {
                td.nowrap data-label="When" { (moment(entry.at)) }
                td data-label="What" { (entry.what.code().replace('_', " ")) }
                td data-label="Device" { @if let Some(device) = entry.device { (names.device(base, device)) } }
                td data-label="Job" { (job_link(base, titles, entry.job)) }
                td data-label="Detail" { (entry.detail) }
            } } }
        } }))
    }
}
