//! What a replica holds of a job, as it crosses the wire.

use std::collections::BTreeMap;

use serde_bytes::ByteArray;

use super::message::WireHeld;
use crate::document::{Author, ChangeRow, Held, Refusal, Table};
use crate::job::DeviceId;
use crate::limits;

/// Sixteen bytes that stand for a table: equal ones mean equal tables.
pub fn table_digest(table: &Table) -> [u8; 16] {
    let mut hasher = blake3::Hasher::new();
    for (author, held) in table {
        hasher.update(&author.to_bytes());
        hasher.update(&held.number.to_be_bytes());
        hasher.update(&held.short_hash);
    }
    let mut digest = [0; 16];
    hasher.finalize_xof().fill(&mut digest);
    digest
}

pub(crate) fn to_wire(table: &Table) -> Vec<WireHeld> {
    table
        .iter()
        .map(|(author, held)| {
            (
                ByteArray::new(author.to_bytes()),
                held.number,
                ByteArray::new(held.short_hash),
            )
        })
        .collect()
}

/// Reads a table strictly: authors in order and once each, numbers that a job can have.
pub(crate) fn from_wire(held: &[WireHeld]) -> Result<Table, Refusal> {
    if held.len() > limits::JOB_AUTHORS {
        return Err(Refusal::Limit("a job has too many authors".into()));
    }
    let mut table = BTreeMap::new();
    let mut sum = 0u64;
    for (author, number, short_hash) in held {
        let author = Author::from_bytes(author.as_slice())
            .filter(|author| author.device != DeviceId::GENESIS)
            .ok_or_else(|| Refusal::Malformed("a table names nobody".into()))?;
        sum = sum.saturating_add(*number);
        if sum > limits::JOB_CHANGES {
            return Err(Refusal::Limit("a job has too many changes".into()));
        }
        if *number == 0
            || table
                .last_key_value()
                .is_some_and(|(last, _)| *last >= author)
        {
            return Err(Refusal::Malformed("a table is out of order".into()));
        }
        table.insert(
            author,
            Held {
                number: *number,
                short_hash: **short_hash,
            },
        );
    }
    Ok(table)
}

/// Raises a table to at least another. Two hashes for one number are a copied device.
pub(crate) fn raise(table: &mut Table, other: &Table) -> Result<(), Refusal> {
    for (author, held) in other {
        match table.get_mut(author) {
            Some(ours) if ours.number == held.number && ours.short_hash != held.short_hash => {
                return Err(Refusal::Forked {
                    device: author.device,
                    number: held.number,
                });
            }
            Some(ours) if ours.number >= held.number => {}
            Some(ours) => *ours = *held,
            None => {
                table.insert(*author, *held);
            }
        }
    }
    Ok(())
}

/// The table of the last change of each author in a run of changes.
pub(crate) fn table_of(rows: &[ChangeRow]) -> Table {
    let mut table = Table::new();
    for row in rows {
        table.insert(row.author, held_of(row));
    }
    table
}

/// A change as a table names it.
pub(crate) fn held_of(row: &ChangeRow) -> Held {
    let [a, b, c, d, e, f, g, h, ..] = row.hash;
    Held {
        number: row.number,
        short_hash: [a, b, c, d, e, f, g, h],
    }
}

/// Moves a view on by changes that follow it without a gap: so nothing is sent twice.
pub(crate) fn advance(view: &mut Table, rows: &[ChangeRow]) -> Result<(), Refusal> {
    for row in rows {
        let before = view.get(&row.author).map_or(0, |held| held.number);
        if row.number != before + 1 {
            return Err(Refusal::Gap);
        }
        view.insert(row.author, held_of(row));
    }
    Ok(())
}
