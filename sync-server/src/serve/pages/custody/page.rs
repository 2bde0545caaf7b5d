//! `GET /jobs/{job}/custody`: who recorded what, when, on which device, and whether it can be
//! checked.

use std::sync::Arc;

use axum::Extension;
use axum::extract::{Path, State};
use axum::response::Response;
use chalkwalk_core::document::Refusal;
use chalkwalk_core::job::{JobId, Kind, hex};
use maud::{Markup, html};

use super::super::at_job::AtJob;
use super::super::fields::Asked;
use super::super::form::{Tone, notice};
use super::super::layout::Part;
use super::super::memo::Worked;
use super::super::shots::Shots;
use super::super::{counted, nothing_here, unwell};
use super::deeds;
use crate::hub::{Hub, InCustody, Vouched};
use crate::serve::Shared;
use crate::serve::guard::SignedIn;
use crate::serve::icons::icon;

/// `GET /jobs/{job}/custody`.
pub(in crate::serve) async fn page(
    State(shared): State<Shared>,
    Extension(who): Extension<SignedIn>,
    Path(id): Path<String>,
    Asked(asked): Asked,
) -> Response {
    let at = match AtJob::open(&shared, &who, &id).await {
        Ok(at) => at,
        Err(response) => return response,
    };
    let held = match checked(&shared.hub, &at.worked(), at.id).await {
        Ok(Some(held)) => held,
        Ok(None) => return nothing_here(&shared),
        Err(refusal) => return unwell(&shared, &refusal),
    };
    let bytes = match Shots::of(&at).await {
        Ok(shots) => shots.files.originals,
        Err(response) => return response,
    };
    let main = html! {
        h2 { "Custody" }
        (verdict(&held))
        (sealed(&at, &held))
        (copies(&at, bytes))
        (devices(&at, &held))
        (deeds::list(&at, &held, &asked))
    };
    at.page(Part::Custody, &[], &main)
}

/// A job with its history, every signature checked, once for a reading of it.
pub(in crate::serve) async fn checked(
    hub: &Hub,
    worked: &Worked,
    job: JobId,
) -> Result<Option<Arc<InCustody>>, Refusal> {
    if let Some(held) = worked.found("checked") {
        return Ok(Some(held));
    }
    let held = hub.in_custody(job).await?;
    Ok(held.map(|held| worked.keep("checked", held)))
}

fn count(held: &InCustody, which: Vouched) -> usize {
    held.vouched
        .iter()
        .filter(|vouched| **vouched == which)
        .count()
}

fn verdict(held: &InCustody) -> Markup {
    let all = held.vouched.len();
    let (nobody, wrong) = (count(held, Vouched::Nobody), count(held, Vouched::Wrong));
    let signed = count(held, Vouched::Signed);
    html! {
        ul.tally {
            li { b { (all) } span { "things recorded" } }
            li { b { (signed) } span { "signatures checked" } }
            li { b { (held.devices.len()) } span { "devices" } }
        }
        @if wrong > 0 {
            (notice(Tone::Bad, &html! { p { strong { (counted(wrong as u64, "entry has", "entries have")) " a signature that does not match its device." }
                " Do not rely on it, and keep a copy of the archive as it is." } }))
        }
        @if nobody > 0 {
            (notice(Tone::Warn, &html! { p { (counted(nobody as u64, "entry is", "entries are"))
                " held by no signature of a device that this office certified." } }))
        }
        @if wrong + nobody == 0 {
            (notice(Tone::Good, &html! { p { strong { "Every entry is held by a signature of a device that this office certified." }
                " Checked just now against the office's key. Where an entry has no signature of its own, a later \
                 one of the same author holds it: a change's hash covers those before it." } }))
        }
    }
}

fn sealed(at: &AtJob, held: &InCustody) -> Markup {
    let entries = &held.custody.entries;
    let departure = entries.iter().rposition(|entry| {
        let at = entry.deed.at.as_ref();
        at.is_some_and(|at| at.kind == Kind::Departure) && entry.deed.what.starts_with("add")
    });
    html! {
        @match departure.and_then(|index| Some((index, entries.get(index)?))) {
            Some((index, entry)) => p {
                (icon("lock")) " The visit was sealed when " strong { (at.job.who(entry.deed.by.device)) }
                " left the site, " (at.when(entry.deed.by.at)) ". "
                (counted((entries.len() - index - 1) as u64, "entry follows", "entries follow")) " it in the list."
            },
            None => p.soft { "No visit was sealed yet: the crew seals it when it leaves the site." },
        }
    }
}

fn copies(at: &AtJob, originals: u64) -> Markup {
    let path = at.path();
    let link = |to: &str, words: &str| html! { a.button href={ (path) (to) } download { (icon("download")) (words) } };
    html! {
        h3 { "Copies to take" }
        p { "A copy that anybody can check is a packet: "
            a href={ (path) "/packets" } { (icon("package")) "have one made" } "." }
        div.row {
            (link("/custody/findings.csv", "Findings, CSV"))
            (link("/scope.csv", "Scope, CSV"))
        }
        p.hint { "The originals here are " (size(originals)) ". The office's public key: "
            code { (hex(at.shared.hub.office().public_key().as_bytes())) } }
    }
}

/// Bytes as people read them.
pub(in crate::serve) fn size(bytes: u64) -> String {
    const STEPS: [(u64, &str); 3] = [(1 << 30, "GB"), (1 << 20, "MB"), (1 << 10, "kB")];
    for (step, unit) in STEPS {
        if bytes >= step {
            let tenths = bytes.saturating_mul(10) / step;
            return format!("{}.{} {unit}", tenths / 10, tenths % 10);
        }
    }
    format!("{bytes} bytes")
}

fn devices(at: &AtJob, held: &InCustody) -> Markup {
    html! {
        h3 { "Devices" }
        div.sheet { table.stack {
            thead { tr {
                th scope="col" { "Person" } th scope="col" { "Device" } th.count scope="col" { "Entries" }
                th scope="col" { "First" } th scope="col" { "Last" } th scope="col" { "Certified by the office" }
            } }
            tbody { @for (device, certificate) in &held.devices {
                @let mine = || held.custody.entries.iter().filter(|entry| entry.deed.by.device == *device).map(|entry| entry.deed.by.at);
                tr {
                    th scope="row" { (at.job.who(*device)) }
                    td data-label="Device" { @match certificate {
                        Some(known) => (known.device_name), None => span.mono { (device) } } }
                    td.count data-label="Entries" { (mine().count()) }
                    td data-label="First" { @if let Some(first) = mine().min() { (at.when(first)) } }
                    td data-label="Last" { @if let Some(last) = mine().max() { (at.when(last)) } }
                    td data-label="Certified" { @match certificate {
                        Some(_) => span.state.cleared { (icon("shield-check")) "yes, checked" },
                        None => span.state.unsure { (icon("circle-question-mark")) "no certificate is here" },
                    } }
                }
            } }
        } }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sizes_read_as_people_say_them() {
        for (bytes, words) in [
            (0, "0 bytes"),
            (1_023, "1023 bytes"),
            (1_536, "1.5 kB"),
            (25_480_397, "24.3 MB"),
            (5 << 30, "5.0 GB"),
        ] {
            assert_eq!(size(bytes), words);
        }
    }
}
