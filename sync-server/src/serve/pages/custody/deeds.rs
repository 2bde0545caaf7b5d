//! The list of what was done, the newest first, by person and kind of record.

use std::collections::BTreeSet;

use chalkwalk_core::document::Deed;
use chalkwalk_core::job::Kind;
use maud::{Markup, html};

use super::super::at_job::AtJob;
use super::super::fields::Fields;
use super::super::words::called;
use crate::hub::{InCustody, Vouched};
use crate::limits;
use crate::serve::icons::icon;

/// Values shown at once; the rest open.
const VALUES: usize = 4;
/// Letters of a value.
const LETTERS: usize = 160;

pub(super) fn list(at: &AtJob, held: &InCustody, asked: &Fields) -> Markup {
    let before = asked.get("before").parse::<usize>().unwrap_or(usize::MAX);
    let (device, kind) = (asked.get("device"), asked.get("kind"));
    let fits = |deed: &Deed| {
        let by = device.is_empty() || deed.by.device.to_string() == device;
        let of = deed.at.as_ref().map_or("", |at| at.kind.label());
        by && (kind.is_empty() || of == kind)
    };
    let entries = held.custody.entries.iter().zip(&held.vouched).enumerate();
    let found: Vec<_> = entries
        .rev()
        .filter(|(index, (entry, _))| *index < before && fits(&entry.deed))
        .take(limits::CUSTODY_PAGE)
        .collect();
    let last = found.last().map(|(index, _)| *index);
    let path = format!("{}/custody", at.path());
    html! {
        h3 id="deeds" { "What was recorded, the newest first" }
        (filter(at, held, &path, asked))
        @if found.is_empty() { p.soft { "Nothing fits." } } @else {
            div.sheet { table.stack {
                thead { tr {
                    th scope="col" { "When" } th scope="col" { "Who" } th scope="col" { "What" }
                    th scope="col" { "Values" } th scope="col" { "Held by" }
                } }
                tbody { @for (_, (entry, vouched)) in &found { tr {
                    td data-label="When" { (at.when(entry.deed.by.at)) }
                    td data-label="Who" { (at.job.who(entry.deed.by.device)) }
                    th scope="row" { (entry.deed.what)
                        @if let Some(record) = &entry.deed.at { div.soft { (called(at, record)) } } }
                    td data-label="Values" { (values(&entry.deed)) }
                    td data-label="Held by" { (word(**vouched)) }
                } } }
            } }
            @if found.len() == limits::CUSTODY_PAGE && last.is_some_and(|last| last > 0) {
                @let next = asked.clone().with("before", &last.unwrap_or(0).to_string());
                p { a.button href={ (path) (next.as_query()) "#deeds" } { "Earlier" } }
            }
        }
    }
}

fn filter(at: &AtJob, held: &InCustody, path: &str, asked: &Fields) -> Markup {
    let kinds = at
        .worked()
        .once::<BTreeSet<&'static str>>("kinds of custody", |_| {
            let records = held
                .custody
                .entries
                .iter()
                .filter_map(|entry| entry.deed.at.as_ref());
            records.map(|at| Kind::label(at.kind)).collect()
        });
    html! {
        form.row.no-print method="get" action={ (path) "#deeds" } {
            div.field { label for="device" { "Who" } select id="device" name="device" {
                option value="" { "everybody" }
                @for device in held.devices.keys() {
                    @let id = device.to_string();
                    option value=(id) selected[asked.get("device") == id] { (at.job.who(*device)) }
                }
            } }
            div.field { label for="kind" { "Kind of record" } select id="kind" name="kind" {
                option value="" { "all" }
                @for kind in kinds.iter() { option value=(kind) selected[asked.get("kind") == *kind] { (kind) } }
            } }
            button { (icon("filter")) "Show" }
        }
    }
}

fn values(deed: &Deed) -> Markup {
    let short = |text: &str| -> String { text.chars().take(LETTERS).collect() };
    let one = |(field, value): &(String, String)| html! { li { span.soft { (field.replace('_', " ")) ": " } (short(value)) } };
    html! {
        ul.quiet.small { @for wrote in deed.wrote.iter().take(VALUES) { (one(wrote)) } }
        @if deed.wrote.len() > VALUES {
            details.small {
                summary { (deed.wrote.len() - VALUES) " more" }
                ul.quiet { @for wrote in deed.wrote.iter().skip(VALUES) { (one(wrote)) } }
            }
        }
    }
}

fn word(vouched: Vouched) -> Markup {
    html! {
        @match vouched {
            Vouched::Signed => span.state.cleared { (icon("shield-check")) "its signature" },
            Vouched::ByLater => span.state.cleared { (icon("check")) "a later one" },
            Vouched::Nobody => span.state.unsure { (icon("circle-question-mark")) "nobody" },
            Vouched::Wrong => span.state.damaged { (icon("x")) "wrong signature" },
        }
    }
}
