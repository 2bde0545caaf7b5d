//! The front page of a job: the house in a drawing, what was found and where, who recorded it,
//! what is still on its way, and what comes next.

mod found;
mod next;
mod people;
mod plan;

use std::collections::BTreeMap;
use std::sync::Arc;

use axum::Extension;
use axum::extract::{Path, State};
use axum::response::Response;
use chalkwalk_core::job::Role;
use chalkwalk_core::review::State as Amount;
use maud::{Markup, PreEscaped, html};

use super::super::Shared;
use super::super::guard::SignedIn;
use super::super::icons::icon;
use super::at_job::AtJob;
use super::jobs::{Missing, Stage, mark_code};
use super::layout::Part;
use super::memo::Worked;
use super::shots::Shots;
use super::{counted, open, store_unwell, unwell};
use crate::hub::{crew, open_questions};
use crate::store::{Access, Crew, Mark};
use found::Found;

/// `GET /jobs/{job}`.
pub(in crate::serve) async fn page(
    State(shared): State<Shared>,
    Extension(who): Extension<SignedIn>,
    Path(id): Path<String>,
) -> Response {
    let at = match AtJob::open(&shared, &who, &id).await {
        Ok(at) => at,
        Err(response) => return response,
    };
    let missing = match Missing::of(&shared.hub, &at.status).await {
        Ok(missing) => missing,
        Err(refusal) => return unwell(&shared, &refusal),
    };
    let access = match shared.accounts().access(at.id).await {
        Ok(access) => access,
        Err(error) => return store_unwell(&shared, &error),
    };
    let by = match access.marked {
        Some(marked) => match shared.accounts().person(marked.by).await {
            Ok(person) => person.map(|person| person.name),
            Err(error) => return store_unwell(&shared, &error),
        },
        None => None,
    };
    let shots = match Shots::of(&at).await {
        Ok(shots) => shots,
        Err(response) => return response,
    };
    let house = House {
        open: open::points(&at, &shots).len(),
        stage: Stage::of(&at.status, &access, missing),
        found: Found::of(&at.job),
        at: &at,
        missing,
        access,
        marked_by: by,
    };
    at.page(Part::House, &["live.js"], &house.main())
}

/// The house as SVG, with what was found.
pub(in crate::serve) struct Drawn(String);

/// The drawing of a reading of a job.
pub(in crate::serve) fn drawn(worked: &Worked) -> Arc<Drawn> {
    worked.once("house", |job| Drawn(plan::drawn(job, &Found::of(job))))
}

/// What the crew's devices recorded of a reading of a job.
pub(in crate::serve) use people::recorded;

/// What the page is made from.
struct House<'a> {
    at: &'a AtJob,
    stage: Stage,
    missing: Missing,
    access: Access,
    marked_by: Option<String>,
    found: Found<'a>,
    /// Points that the check before leaving finds open.
    open: usize,
}

impl House<'_> {
    fn main(&self) -> Markup {
        let base = &self.at.shared.base;
        html! {
            div data-live="house" data-news={ (base) "/live?job=" (self.at.id) } {
                (self.status())
                div.split {
                    div {
                        (self.drawing())
                        (self.places())
                    }
                    div {
                        (self.totals())
                        (self.next_steps())
                        (self.on_its_way())
                    }
                }
                (self.lists())
                (people::who_recorded(self.at))
                (people::owner(self.at))
                @if crew(&self.at.job) != Crew::Left { (people::cautions()) }
            }
            footer { p { "Observed, measured and counted by the crew." } }
        }
    }

    fn status(&self) -> Markup {
        let at = self.at;
        let marked = self.access.marked;
        html! {
            div.status-line {
                (self.stage.shown())
                @if let Some(marked) = marked {
                    span.soft {
                        @if marked.mark == Mark::Ready { "ready" } @else { "handed on" }
                        " since " (at.when(marked.at))
                        @if let Some(by) = &self.marked_by { ", said by " (by) }
                    }
                    @if marked.at < at.status.last_news {
                        span.missing { "news since then" }
                    }
                }
                span.soft { "last news " (at.when(at.status.last_news)) }
                @if at.may(Role::Estimator) { (self.marking()) }
            }
        }
    }

    fn marking(&self) -> Markup {
        let marked = self.access.marked.map(|marked| marked.mark);
        let was = mark_code(self.access.marked);
        let button = |mark: &str, words: &str, class: &str| {
            html! {
                form method="post" action={ (self.at.path()) "/mark" } {
                    input type="hidden" name="was" value=(was);
                    button.small class=(class) name="mark" value=(mark) { (words) }
                }
            }
        };
        html! {
            @match marked {
                None => { (button("ready", "It is ready", "")) (button("handed_on", "Hand it on", "")) }
                Some(Mark::Ready) => {
                    (button("handed_on", "Hand it on", "main")) (button("none", "Not ready yet", ""))
                }
                Some(Mark::HandedOn) => {
                    (button("ready", "Take it back to ready", "")) (button("none", "Take the word back", ""))
                }
            }
        }
    }

    fn drawing(&self) -> Markup {
        let drawn = drawn(&self.at.worked());
        html! { div.drawing { (PreEscaped(&drawn.0)) } }
    }

    /// Every place with what was found there, and the way to it in photos.
    fn places(&self) -> Markup {
        let worked = self.at.worked();
        let walk = worked.walk();
        let stations: BTreeMap<&str, usize> = walk
            .stations
            .iter()
            .map(|station| (station.name.as_str(), station.first))
            .collect();
        let first = |name: &str| walk.steps.get(*stations.get(name)?).map(|step| &step.id);
        html! {
            div.sheet.where { table {
                caption { "Place by place" }
                thead { tr { th scope="col" { "Place" } th scope="col" { "Found" } th scope="col" { "Photos" } } }
                tbody { @for place in &self.found.places { tr {
                    th scope="row" { (super::words::capital(&place.name)) }
                    td { (found::tells(&place.amounts)) }
                    td {
                        @match first(&place.name) {
                            Some(photo) => a href={ (self.at.path()) "/walk/" (photo) } { "look" },
                            None => span.soft { "none" },
                        }
                    }
                } } }
            } }
        }
    }

    fn totals(&self) -> Markup {
        let path = self.at.path();
        let of = |amount: Amount| self.found.total(amount);
        html! {
            ul.tally {
                @for amount in [Amount::Damaged, Amount::Prior, Amount::Unsure, Amount::Open] {
                    @if of(amount) > 0 || amount != Amount::Open {
                        li { b { (of(amount)) } (super::words::state(amount)) }
                    }
                }
            }
            p { a href={ (path) "/findings" } { (counted(self.found.all as u64, "finding", "findings")) }
                " and "
                a href={ (path) "/walk" } { (counted(self.at.worked().walk().steps.len() as u64, "photo", "photos")) } }
        }
    }

    fn next_steps(&self) -> Markup {
        let steps = next::steps(self.at, &self.found, self.missing, self.stage, self.open);
        html! {
            section.card {
                h2 { "Next" }
                @if steps.is_empty() { p.soft { "Nothing waits for the office." } } @else {
                    ul.next-steps { @for step in steps {
                        li { (icon(step.icon)) span { a href={ (self.at.path()) (step.path) } { (step.words) } } }
                    } }
                }
            }
        }
    }

    fn on_its_way(&self) -> Markup {
        html! {
            section.card {
                h2 { "Still on a phone" }
                p { (self.missing.shown()) }
                @if self.missing.nothing() {
                    p.small.soft { "As far as any phone has said. "
                        (counted(self.at.status.changes, "change is", "changes are")) " here." }
                } @else {
                    p.small.soft { "It comes by itself once the phone has a link; the small pictures come before the originals." }
                }
                p.small.soft { span.heard { "What comes in is shown at once." }
                    span.unheard { a href=(self.at.path()) { "Load again" } } }
            }
        }
    }

    fn lists(&self) -> Markup {
        let questions: Vec<_> = open_questions(&self.at.job).collect();
        let path = self.at.path();
        html! {
            div.cards {
                @for amount in [Amount::Damaged, Amount::Prior, Amount::Unsure] {
                    (self.found.brief(self.at, amount))
                }
                @if !questions.is_empty() {
                    section.card {
                        h2 { "Waiting for an answer" }
                        ul.brief { @for (id, question) in questions.iter().take(found::BRIEF) {
                            li { a href={ (path) "/open#question-" (id) } {
                                (question.text.as_deref().unwrap_or("a question without words")) }
                                div.small.soft { "asked by " (self.at.job.who(question.made.device)) ", "
                                    (self.at.when(question.made.at)) }
                            }
                        } }
                    }
                }
            }
        }
    }
}
