//! Torn tails, damage and newer files.

use ed25519_dalek::SigningKey;
use tempfile::TempDir;

use super::*;
use crate::document::{Action, Author, ChangeRow, Document, Table};
use crate::job::{Component, DeviceId, Finding, RecordRef, Side};

const JOB: JobId = JobId::from_bytes([5; 16]);

/// A document with some findings, and its rows as a device makes them.
fn recorded(count: usize) -> (Document, Vec<ChangeRow>) {
    let key = SigningKey::from_bytes(&[1; 32]);
    let author = Author {
        device: DeviceId::from_bytes([1; 16]),
        nonce: [1; 8],
    };
    let mut document = Document::new().unwrap();
    let rows = (0..count).map(|i| {
        let finding = Finding {
            place: Some(RecordRef::side(Side::Front)),
            component: Some(Component::Gutter),
            ..Finding::default()
        };
        let id = format!("f{i}").parse().unwrap();
        let action = Action::Add {
            id,
            record: finding.into(),
            hits: None,
            shows: vec![],
        };
        document
            .apply(author, &key, &action, i as i64)
            .unwrap()
            .unwrap()
            .row
    });
    let rows = rows.collect();
    (document, rows)
}

fn open(dir: &TempDir) -> Journal {
    Journal::open(&dir.path().join("notebook.db")).unwrap()
}

#[test]
fn rows_read_back_with_and_without_a_snapshot() {
    let dir = TempDir::new().unwrap();
    let (document, rows) = recorded(9);
    let mut journal = open(&dir);
    journal.append(JOB, &rows[..6]).unwrap();
    let (earlier, _) = recorded(6);
    journal.save_snapshot(JOB, &earlier).unwrap();
    assert_eq!(
        journal.cached_model(JOB).unwrap().as_ref(),
        Some(earlier.job())
    );
    journal.append(JOB, &rows).unwrap();
    assert_eq!(
        journal.cached_model(JOB).unwrap(),
        None,
        "an older model passes for current"
    );
    drop(journal);
    let journal = open(&dir);
    let opened = journal.open_document(JOB).unwrap();
    assert!(opened.troubles.is_empty());
    assert_eq!(
        (opened.tail, opened.document.heads()),
        (3, document.heads())
    );
    assert_eq!(opened.document.job(), document.job());
    assert_eq!(journal.table(JOB).unwrap(), document.table());
    assert_eq!(journal.jobs().unwrap(), [JOB]);
}

#[test]
fn a_torn_tail_loses_nothing_acknowledged() {
    let dir = TempDir::new().unwrap();
    let (document, rows) = recorded(5);
    let wal = dir.path().join("notebook.db-wal");
    let mut journal = open(&dir);
    journal.append(JOB, &rows).unwrap();
    // The device dies while a further commit is half in the log: the log as it was, then noise.
    let mut torn = std::fs::read(&wal).unwrap();
    let copy = TempDir::new().unwrap();
    std::fs::copy(
        dir.path().join("notebook.db"),
        copy.path().join("notebook.db"),
    )
    .unwrap();
    torn.extend((0..3000u32).map(|i| (i.wrapping_mul(2_654_435_761) >> 13) as u8));
    std::fs::write(copy.path().join("notebook.db-wal"), torn).unwrap();
    let opened = open(&copy).open_document(JOB).unwrap();
    assert_eq!(opened.document.heads(), document.heads());
    assert!(opened.troubles.is_empty());
}

#[test]
fn damage_is_named_and_the_rest_is_read() {
    let dir = TempDir::new().unwrap();
    let (_, rows) = recorded(6);
    let mut journal = open(&dir);
    journal.append(JOB, &rows).unwrap();
    journal
        .db
        .execute(
            "UPDATE changes SET bytes = zeroblob(40) WHERE number = 5",
            [],
        )
        .unwrap();
    let opened = journal.open_document(JOB).unwrap();
    assert_eq!(opened.document.job().records.findings.len(), 4);
    assert_eq!(
        opened.troubles,
        [
            Trouble::DamagedChange { job: JOB, row: 5 },
            Trouble::Waiting {
                job: JOB,
                changes: 1
            },
        ]
    );
    // A peer is sent what stands before the damage.
    assert_eq!(
        journal.lacking(JOB, &Table::new(), 1 << 20).unwrap().len(),
        4
    );
}

#[test]
fn a_damaged_snapshot_is_rebuilt_from_the_changes() {
    let dir = TempDir::new().unwrap();
    let (document, rows) = recorded(6);
    let mut journal = open(&dir);
    journal.append(JOB, &rows).unwrap();
    journal.save_snapshot(JOB, &document).unwrap();
    journal
        .db
        .execute("UPDATE snapshots SET data = zeroblob(100)", [])
        .unwrap();
    journal
        .db
        .execute("UPDATE models SET data = zeroblob(100)", [])
        .unwrap();
    assert_eq!(journal.cached_model(JOB).unwrap(), None);
    let opened = journal.open_document(JOB).unwrap();
    assert_eq!(opened.document.heads(), document.heads());
    assert_eq!(opened.troubles, [Trouble::SnapshotRebuilt { job: JOB }]);
}

#[test]
fn newer_and_foreign_files_are_refused_and_left_as_they_are() {
    let dir = TempDir::new().unwrap();
    let path = dir.path().join("notebook.db");
    let journal = open(&dir);
    journal.db.pragma_update(None, "user_version", 99).unwrap();
    drop(journal);
    let before = std::fs::read(&path).unwrap();
    let refusal = Journal::open(&path).unwrap_err().to_string();
    assert_eq!(
        refusal,
        "this notebook was written by a newer version (layout 99, known 1): update first"
    );
    assert_eq!(std::fs::read(&path).unwrap(), before);
    let other = dir.path().join("other.db");
    rusqlite::Connection::open(&other)
        .unwrap()
        .execute_batch("CREATE TABLE a (b)")
        .unwrap();
    assert!(matches!(
        Journal::open(&other),
        Err(JournalError::NotAJournal)
    ));
    let text = dir.path().join("text.db");
    std::fs::write(
        &text,
        "a shopping list, long enough to be taken for a page ".repeat(40),
    )
    .unwrap();
    assert!(matches!(
        Journal::open(&text),
        Err(JournalError::NotAJournal)
    ));
}

#[test]
fn batches_are_cut_where_the_receiver_can_check_them() {
    let (_, mut rows) = recorded(6);
    for i in [0, 1, 3, 5] {
        rows[i].signature = None;
    }
    let collect = |max: usize| {
        let mut prefix = SignedPrefix::new(max);
        for row in rows.clone() {
            if prefix.push(row) {
                break;
            }
        }
        prefix.finish().len()
    };
    assert_eq!(collect(1 << 20), 5, "the sixth bears no signature");
    assert_eq!(collect(rows[0].bytes.len() * 4), 3);
    assert_eq!(collect(1), 3, "a cut that is too early for the receiver");
}

#[test]
fn what_peers_hold_is_remembered() {
    let dir = TempDir::new().unwrap();
    let (document, _) = recorded(3);
    let mut journal = open(&dir);
    let peer = DeviceId::from_bytes([7; 16]);
    journal
        .note_peer_changes(peer, JOB, &document.table())
        .unwrap();
    journal
        .note_peer_changes(peer, JOB, &recorded(2).0.table())
        .unwrap();
    let holds = journal.peer_changes(peer, JOB).unwrap();
    assert_eq!(holds.changes, [(DeviceId::from_bytes([1; 16]), [1; 8], 3)]);
    assert_eq!(journal.peers().unwrap(), [peer]);
}
