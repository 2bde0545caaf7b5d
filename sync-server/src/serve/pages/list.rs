//! The list of jobs: which house, what was found, what is still on its way.

use std::cmp::Reverse;

use chalkwalk_core::document::{Refusal, Table};
use chalkwalk_core::job::Role;
use maud::{Markup, html};

use super::{counted, moment};
use crate::hub::Hub;
use crate::store::{JobStatus, PeerHolds};

/// One job's line.
pub(super) struct Line {
    status: JobStatus,
    missing: Missing,
}

/// What devices have and the office has not.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct Missing {
    /// Changes that a device said it holds.
    pub(super) changes: u64,
    /// Small pictures.
    pub(super) thumbnails: u64,
    /// Whole photos.
    pub(super) originals: u64,
}

impl Missing {
    pub(super) async fn of(hub: &Hub, status: &JobStatus) -> Result<Self, Refusal> {
        let table = hub.records().table(status.job).await?;
        let peers = hub.records().peers(status.job).await?;
        Ok(Self {
            changes: changes_missing(&table, &peers),
            thumbnails: status.photos.saturating_sub(status.thumbnails),
            originals: status.photos.saturating_sub(status.originals),
        })
    }

    /// What is missing, or that nothing is.
    pub(super) fn shown(self) -> Markup {
        let parts: Vec<String> = [
            (self.changes, "change", "changes"),
            (self.thumbnails, "thumbnail", "thumbnails"),
            (self.originals, "original", "originals"),
        ]
        .into_iter()
        .filter(|(count, ..)| *count > 0)
        .map(|(count, one, many)| counted(count, one, many))
        .collect();
        html! {
            @if parts.is_empty() {
                span.well { "nothing known to be missing" }
            } @else {
                span.missing { (parts.join(", ")) }
            }
        }
    }
}

fn changes_missing(here: &Table, peers: &[PeerHolds]) -> u64 {
    let mut farthest = Table::new();
    for (author, held) in peers.iter().flat_map(|peer| &peer.table) {
        let known = farthest.entry(*author).or_insert(*held);
        known.number = known.number.max(held.number);
    }
    farthest
        .iter()
        .map(|(author, held)| {
            held.number
                .saturating_sub(here.get(author).map_or(0, |here| here.number))
        })
        .sum()
}

/// All jobs that a person in this part sees, the newest news first.
pub(super) async fn lines(hub: &Hub, role: Role) -> Result<Vec<Line>, Refusal> {
    let mut lines = Vec::new();
    for id in hub.records().job_ids().await? {
        if !hub.person_sees(role, id).await? {
            continue;
        }
        if let Err(refusal) = hub.freshen(id).await {
            tracing::error!(job = %id, %refusal, "a job's line is of an earlier day");
        }
        if let Some(status) = hub.records().job(id).await? {
            let missing = Missing::of(hub, &status).await?;
            lines.push(Line { status, missing });
        }
    }
    lines.sort_by_key(|line| (Reverse(line.status.last_news), line.status.job));
    Ok(lines)
}

pub(super) fn body(base: &str, company: &str, lines: &[Line]) -> Markup {
    html! {
        header {
            h1 { (company) }
            p.under { (counted(lines.len() as u64, "job", "jobs")) " at the office" }
        }
        div {
            @if lines.is_empty() {
                (nothing_yet())
            } @else {
                div.sheet {
                    table {
                        thead {
                            tr {
                                th scope="col" { "House" }
                                th scope="col" { "Date of loss" }
                                th.count scope="col" { "Findings" }
                                th.count scope="col" { "Photos" }
                                th scope="col" { "Still missing" }
                                th scope="col" { "Last news" }
                            }
                        }
                        tbody { @for line in lines { (row(base, line)) } }
                    }
                }
            }
        }
        footer { p { "Shown as recorded by the crews. Times are in UTC." } }
    }
}

fn row(base: &str, line: &Line) -> Markup {
    let status = &line.status;
    let summary = status.summary.clone().unwrap_or_default();
    html! {
        tr {
            th scope="row" { a href={ (base) "/jobs/" (status.job) } { (summary.title) } }
            td {
                @match summary.date_of_loss {
                    Some(date) => (date),
                    None => span.soft { "not recorded" },
                }
            }
            td.count { (summary.findings) }
            td.count { (summary.photos) }
            td { (line.missing.shown()) }
            td { (moment(status.last_news)) }
        }
    }
}

fn nothing_yet() -> Markup {
    html! {
        div.sheet.empty {
            strong { "No job has come in yet." }
            ol {
                li { "On this machine, make a code for each device: " code { "chalkwalk invite" } "." }
                li { "On the device, enrol with this server's address and the code." }
                li { "Record a house, then sync: its line appears here." }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use chalkwalk_core::document::{Author, Held};
    use chalkwalk_core::job::DeviceId;

    #[test]
    fn changes_that_some_device_holds_are_missing_once() {
        let author = |n: u8| Author {
            device: DeviceId::from_bytes([n; 16]),
            nonce: [n; 8],
        };
        let table = |held: &[(u8, u64)]| -> Table {
            let held = held.iter().map(|(n, number)| {
                let short_hash = [*n; 8];
                let number = *number;
                (author(*n), Held { number, short_hash })
            });
            held.collect()
        };
        let peer = |n: u8, held: &[(u8, u64)]| PeerHolds {
            device: DeviceId::from_bytes([n; 16]),
            table: table(held),
            at: 0,
        };
        let here = table(&[(1, 5), (2, 5)]);
        let peers = [peer(1, &[(1, 9), (2, 3)]), peer(2, &[(1, 7), (3, 2)])];
        assert_eq!(changes_missing(&here, &peers), 6);
        assert_eq!(changes_missing(&here, &[]), 0);
    }
}
