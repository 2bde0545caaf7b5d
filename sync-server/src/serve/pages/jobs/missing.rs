//! What devices have and the office has not.

use chalkwalk_core::document::{Refusal, Table};
use maud::{Markup, html};

use super::super::counted;
use crate::hub::Hub;
use crate::store::{JobStatus, PeerHolds};

/// What is still on a phone, as far as is known.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(in crate::serve) struct Missing {
    /// Changes that a device said it holds.
    pub(in crate::serve) changes: u64,
    /// Small pictures.
    pub(in crate::serve) thumbnails: u64,
    /// Whole photos.
    pub(in crate::serve) originals: u64,
}

impl Missing {
    /// All of it.
    pub(in crate::serve) async fn of(hub: &Hub, status: &JobStatus) -> Result<Self, Refusal> {
        let table = hub.records().table(status.job).await?;
        let peers = hub.records().peers(status.job).await?;
        Ok(Self {
            changes: changes_missing(&table, &peers),
            ..Self::files(status)
        })
    }

    /// The files alone, which the line of a job tells.
    pub(in crate::serve) fn files(status: &JobStatus) -> Self {
        Self {
            changes: 0,
            thumbnails: status.photos.saturating_sub(status.thumbnails),
            originals: status.photos.saturating_sub(status.originals),
        }
    }

    pub(in crate::serve) fn nothing(self) -> bool {
        self == Self::default()
    }

    /// What is missing, or that nothing is.
    pub(in crate::serve) fn shown(self) -> Markup {
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
