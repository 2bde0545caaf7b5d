//! What was done to one record: who, when, and what each change put in the place of what.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use axum::response::Response;
use chalkwalk_core::document::{Deed, Refusal};
use chalkwalk_core::job::{JobId, RecordRef, Stamp};
use maud::{Markup, html};

use super::at_job::AtJob;
use super::memo::Worked;
use super::unwell;
use super::words::capital;
use crate::hub::Hub;

/// The key under which a photo names what it shows.
const SHOWS: &str = "on:";
const TALLY: &str = "tally:";
const STRUCK: &str = "struck";
const EMPTIED: &str = "emptied";

/// Everything that was done to a job, and where in it each record was touched.
pub(in crate::serve) struct History {
    deeds: Vec<Deed>,
    of: BTreeMap<RecordRef, Vec<usize>>,
}

impl History {
    /// The deeds in their order.
    pub(in crate::serve) fn of(deeds: Vec<Deed>) -> Self {
        let mut of: BTreeMap<RecordRef, Vec<usize>> = BTreeMap::new();
        for (number, deed) in deeds.iter().enumerate() {
            let shown = deed
                .wrote
                .iter()
                .filter_map(|(key, _)| key.strip_prefix(SHOWS)?.parse().ok());
            let touched: BTreeSet<RecordRef> = shown.chain(deed.at.clone()).collect();
            for record in touched {
                of.entry(record).or_default().push(number);
            }
        }
        Self { deeds, of }
    }

    /// Those that touched a record, the oldest first.
    fn touching(&self, record: &RecordRef) -> impl DoubleEndedIterator<Item = &Deed> {
        let numbers = self.of.get(record).into_iter().flatten();
        numbers.filter_map(|number| self.deeds.get(*number))
    }
}

/// Everything that was done to the job.
pub(in crate::serve) async fn all(at: &AtJob) -> Result<Arc<History>, Response> {
    let history = read(&at.shared.hub, &at.worked(), at.id).await;
    history.map_err(|refusal| unwell(&at.shared, &refusal))
}

/// The same of a reading of a job.
pub(in crate::serve) async fn read(
    hub: &Hub,
    worked: &Worked,
    job: JobId,
) -> Result<Arc<History>, Refusal> {
    match worked.found("history") {
        Some(known) => Ok(known),
        None => Ok(worked.keep("history", History::of(hub.history(job).await?))),
    }
}

/// Who last wrote a field of a record, and when.
pub(in crate::serve) fn last_written(deeds: &History, of: &RecordRef, key: &str) -> Option<Stamp> {
    let wrote = |deed: &&Deed| {
        deed.at.as_ref() == Some(of) && deed.wrote.iter().any(|(field, _)| field == key)
    };
    deeds.touching(of).rev().find(wrote).map(|deed| deed.by)
}

/// The history of a record, the newest last; `label` gives a field its words.
pub(in crate::serve) fn history(
    at: &AtJob,
    deeds: &History,
    of: &RecordRef,
    label: &dyn Fn(&str) -> String,
) -> Markup {
    let shows = format!("{SHOWS}{of}");
    let mut stood: BTreeMap<&str, &str> = BTreeMap::new();
    let mut entries = Vec::new();
    for deed in deeds.touching(of) {
        let own = deed.at.as_ref() == Some(of);
        let lines: Vec<Markup> = deed
            .wrote
            .iter()
            .filter(|(key, _)| own || *key == shows)
            .map(|(key, value)| {
                let before = if own { stood.insert(key, value) } else { None };
                line(at, deed, key, before, value, label)
            })
            .collect();
        if own || !lines.is_empty() {
            entries.push((deed, lines));
        }
    }
    html! {
        ol.deeds { @for (deed, lines) in &entries {
            li {
                p.small.soft { (at.when(deed.by.at)) " · " (who(at, deed.by)) }
                p { b { (what(deed, of)) } }
                (listed(lines))
            }
        } }
    }
}

/// A change of many fields is folded up.
fn listed(lines: &[Markup]) -> Markup {
    const FEW: usize = 4;
    let all = html! { ul { @for line in lines { li { (line) } } } };
    match lines.len() {
        0 => html! {},
        count if count > FEW => html! { details { summary { (count) " fields" } (all) } },
        _ => all,
    }
}

/// A person with the device and the part in which it was done.
pub(in crate::serve) fn who(at: &AtJob, by: Stamp) -> Markup {
    let member = at.job.crew.get(&by.device);
    html! {
        (at.job.who(by.device))
        @if let Some(member) = member { " (" (member.role) ", " (member.device_name) ")" }
    }
}

fn what(deed: &Deed, of: &RecordRef) -> String {
    let verb = deed.what.split(' ').next().unwrap_or_default();
    if deed.at.as_ref() != Some(of) {
        return "A photo of it".to_owned();
    }
    match verb {
        "add" => "Recorded",
        "amend" => "Changed",
        "strike" => "Struck",
        "reinstate" => "Reinstated",
        "count" => "Counted",
        "settle" => "Settled",
        "attach" | "detach" => "Photo",
        _ => return capital(&deed.what),
    }
    .to_owned()
}

fn line(
    at: &AtJob,
    deed: &Deed,
    key: &str,
    before: Option<&str>,
    value: &str,
    label: &dyn Fn(&str) -> String,
) -> Markup {
    if let Some(shown) = key.strip_prefix(SHOWS) {
        let of = shown.parse::<RecordRef>().ok();
        let photo = deed
            .at
            .as_ref()
            .map(|photo| super::words::record_name(&at.job, photo));
        let does = if value == "no" {
            "does not show it after all"
        } else {
            "shows it"
        };
        return html! { (photo.or(of.map(|of| of.to_string())).unwrap_or_default()) " " (does) };
    }
    if key.starts_with(TALLY) {
        return html! { "hits counted: " (value) };
    }
    if key == STRUCK {
        return match value {
            EMPTIED => html! { "it stands again" },
            reason => html! { "reason: " (reason) },
        };
    }
    let value = readable(at, value);
    let before = before
        .map(|before| readable(at, before))
        .filter(|before| *before != value);
    html! {
        (label(key)) ": "
        @if let Some(before) = before { s { (before) } " → " }
        (value)
    }
}

/// Pointers to places are named, long values shortened.
fn readable(at: &AtJob, value: &str) -> String {
    const LONGEST: usize = 600;
    if let Ok(place) = value.parse::<RecordRef>() {
        return super::words::record_name(&at.job, &place);
    }
    if value.chars().count() > LONGEST {
        let begin: String = value.chars().take(LONGEST).collect();
        return format!("{begin}…");
    }
    value.to_owned()
}
