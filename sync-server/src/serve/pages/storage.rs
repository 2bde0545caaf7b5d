//! `GET /storage`: what the office holds, what is still on phones, and the rules in force.

use std::fs;
use std::path::Path;

use axum::Extension;
use axum::extract::State;
use axum::response::{IntoResponse, Response};
use chalkwalk_core::document::Refusal;
use chalkwalk_core::job::JobId;
use maud::{Markup, html};

use super::super::Shared;
use super::super::guard::SignedIn;
use super::custody::size;
use super::estimate::aside;
use super::jobs::missing::Missing;
use super::layout::sheet;
use super::{counted, frame, moment, unwell};
use crate::folder;
use crate::store::JobStatus;

struct Held {
    jobs: Vec<(JobStatus, u64, Missing)>,
    bytes: u64,
    /// Papers of the office and their bytes.
    papers: (u64, u64),
}

/// What lies in the data folder beside the photos.
struct Folder {
    /// Partial uploads and their bytes.
    partial: (u64, u64),
    /// The database's files, where it is one of this folder.
    records: Option<u64>,
    people: Option<u64>,
}

/// `GET /storage`.
pub(in crate::serve) async fn page(
    State(shared): State<Shared>,
    Extension(who): Extension<SignedIn>,
) -> Response {
    let held = match read(&shared).await {
        Ok(held) => held,
        Err(refusal) => return unwell(&shared, &refusal),
    };
    let at = shared.folder.clone();
    let folder = match aside(&shared, move || look(&at)).await {
        Ok(folder) => folder,
        Err(response) => return response,
    };
    let body = html! {
        header { h1 { "Storage" } p.under { "What the office holds of this company, at this server." } }
        (figures(&held, &folder))
        h2 { "Rules in force" }
        (rules(&shared, &held))
        h2 { "Job by job" }
        (jobs(&shared.base, &held.jobs))
    };
    frame(&shared, Some(&who.person), "Storage", &body).into_response()
}

async fn read(shared: &Shared) -> Result<Held, Refusal> {
    let records = shared.hub.records();
    let mut jobs = Vec::new();
    for status in records.jobs().await? {
        let files = records.blobs(status.job).await?;
        let bytes = files.iter().map(|file| file.size).sum();
        let missing = Missing::of(&shared.hub, &status).await?;
        jobs.push((status, bytes, missing));
    }
    jobs.sort_by(|a, b| (b.1, a.0.job).cmp(&(a.1, b.0.job)));
    Ok(Held {
        jobs,
        bytes: records.bytes_held().await?,
        papers: shared.accounts().papers_held().await?,
    })
}

fn look(data: &Path) -> Folder {
    Folder {
        partial: below(&folder::staging(data), ".part"),
        records: database(&data.join("records.sqlite")),
        people: database(&data.join("accounts.sqlite")),
    }
}

/// Files of a folder whose name ends so, and their bytes.
fn below(folder: &Path, end: &str) -> (u64, u64) {
    let mut found = (0, 0);
    for entry in fs::read_dir(folder).into_iter().flatten().flatten() {
        let named = entry.file_name().to_string_lossy().ends_with(end);
        if let Some(meta) = entry.metadata().ok().filter(|meta| named && meta.is_file()) {
            found = (found.0 + 1, found.1 + meta.len());
        }
    }
    found
}

/// Bytes of an SQLite database with its log; `None` where it is not here.
fn database(file: &Path) -> Option<u64> {
    let whole = fs::metadata(file).ok()?.len();
    let mut log = file.as_os_str().to_owned();
    log.push("-wal");
    Some(whole + fs::metadata(Path::new(&log)).map_or(0, |meta| meta.len()))
}

fn figures(held: &Held, folder: &Folder) -> Markup {
    let sum = |of: fn(&Missing) -> u64| {
        held.jobs
            .iter()
            .map(|(_, _, missing)| of(missing))
            .sum::<u64>()
    };
    let (changes, originals) = (sum(|m| m.changes), sum(|m| m.originals));
    html! {
        ul.tally {
            li { b { (held.jobs.len()) } span { "jobs" } }
            li { b { (size(held.bytes)) } span { "of photos, each file once" } }
            @match folder.records {
                Some(bytes) => li { b { (size(bytes)) } span { "database of records" } },
                None => li { b { "elsewhere" } span { "the records: in a database of their own" } },
            }
            @if let Some(bytes) = folder.people { li { b { (size(bytes)) } span { "database of people" } } }
            li { b { (folder.partial.0) } span { "partial uploads, " (size(folder.partial.1)) } }
            li { b { (held.papers.0) } span { "papers of the office, " (size(held.papers.1)) } }
        }
        p {
            @if changes + originals == 0 {
                span.well { "Nothing is known to be still on phones." }
            } @else {
                span.missing { "Still on phones, as far as they said: "
                    (counted(changes, "change", "changes")) " and "
                    (counted(originals, "original", "originals")) "." }
            }
        }
    }
}

fn rules(shared: &Shared, held: &Held) -> Markup {
    let keeping = &shared.keeping;
    let jobs = held.jobs.len() as u64;
    html! {
        dl.card.rules {
            dt { "Most jobs" }
            dd { @match keeping.jobs {
                Some(most) => { (jobs) " of " (most) (meter(jobs, most)) }
                None => "no limit",
            } }
            dt { "Most bytes of photos" }
            dd { @match keeping.bytes {
                Some(most) => { (size(held.bytes)) " of " (size(most)) (meter(held.bytes, most)) }
                None => "no limit but the disk",
            } }
            dt { "Partial uploads" }
            dd { @match keeping.partial_uploads_days {
                Some(days) => { "removed after " (counted(u64::from(days), "day", "days")) " without news" }
                None => "kept until their file is whole",
            } }
            dt { "Sign-ins and links whose time is over" }
            dd { @if keeping.ended_sign_ins { "removed" } @else { "kept" } }
            dt { "Records and photos" }
            dd { "never removed: a record is struck, and stays with its reason" }
        }
        p.hint { "They are set where the server is started: see " code { "chalkwalk serve --help" } "." }
    }
}

/// How full something is, as a bar.
fn meter(held: u64, most: u64) -> Markup {
    let percent = held
        .saturating_mul(100)
        .checked_div(most)
        .unwrap_or(100)
        .min(100);
    html! {
        div.meter {
            svg viewBox="0 0 100 6" preserveAspectRatio="none" role="img" aria-label={ (percent) " percent" } {
                rect width=(percent) height="6" fill="currentColor" {}
            }
        }
    }
}

fn jobs(base: &str, jobs: &[(JobStatus, u64, Missing)]) -> Markup {
    let link = |job: JobId| format!("{base}/jobs/{job}");
    html! {
        @if jobs.is_empty() { p.soft { "No job has come in yet." } } @else {
            (sheet("Job by job", &html! { table.stack {
                thead { tr {
                    th scope="col" { "House" } th.count scope="col" { "Photo files" } th.count scope="col" { "Photos" }
                    th.count scope="col" { "Originals here" } th.count scope="col" { "Changes" }
                    th scope="col" { "Still on phones" } th scope="col" { "Last news" }
                } }
                tbody { @for (status, bytes, missing) in jobs { tr {
                    th scope="row" { a href=(link(status.job)) {
                        (status.summary.as_ref().map_or("a house", |summary| summary.title.as_str())) } }
                    td.count data-label="Photo files" { (size(*bytes)) }
                    td.count data-label="Photos" { (status.photos) }
                    td.count data-label="Originals here" { (status.originals) " of " (status.photos) }
                    td.count data-label="Changes" { (status.changes) }
                    td data-label="Still on phones" { (missing.shown()) }
                    td data-label="Last news" { (moment(status.last_news)) }
                } } }
            } }))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn files_are_counted_by_their_ending() {
        let folder = tempfile::tempdir().unwrap();
        fs::write(folder.path().join("a.part"), [0; 5]).unwrap();
        fs::write(folder.path().join("b.new"), [0; 7]).unwrap();
        fs::create_dir(folder.path().join("packing-1.part")).unwrap();
        assert_eq!(below(folder.path(), ".part"), (1, 5));
        assert_eq!(below(folder.path(), ""), (2, 12));
        assert_eq!(below(&folder.path().join("none"), ""), (0, 0));
        assert_eq!(database(&folder.path().join("none")), None);
    }
}
