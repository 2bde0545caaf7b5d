//! Changes are only ever added, whole batches at a time, and come back in order.

use std::sync::Arc;

use chalkwalk_core::document::{Author, ChangeRow, Held, Table};
use chalkwalk_core::job::DeviceId;
use chalkwalk_core::limits;
use chalkwalk_sync_server::store::{PeerHolds, Snapshot, StoreError};

use crate::RecordsPlace;
use crate::sample::{author, job, row, table};

const ALL: usize = usize::MAX;

pub(crate) async fn nothing_is_held_at_first(place: &RecordsPlace) {
    let store = place.open();
    store.ping().await.unwrap();
    assert!(store.table(job(1)).await.unwrap().is_empty());
    assert!(
        store
            .lacking(job(1), &Table::new(), ALL)
            .await
            .unwrap()
            .is_empty()
    );
    assert!(store.jobs().await.unwrap().is_empty());
    assert_eq!(store.job(job(1)).await.unwrap(), None);
    assert_eq!(store.snapshot(job(1)).await.unwrap(), None);
}

pub(crate) async fn what_is_appended_is_held_after_opening_again(place: &RecordsPlace) {
    let rows = [
        row(author(1), 1, false),
        row(author(1), 2, true),
        row(author(2), 1, true),
    ];
    let added = place.open().append(job(1), &rows, &[], 70).await.unwrap();
    assert_eq!(added.new_changes, 3);
    let store = place.open();
    assert_eq!(store.table(job(1)).await.unwrap(), table(&rows));
    assert_eq!(
        store.lacking(job(1), &Table::new(), ALL).await.unwrap(),
        rows
    );
    let status = store.job(job(1)).await.unwrap().unwrap();
    assert_eq!(
        (status.changes, status.first_news, status.last_news),
        (3, 70, 70)
    );
    assert_eq!(store.jobs().await.unwrap(), [status]);
}

pub(crate) async fn appending_twice_is_harmless(place: &RecordsPlace) {
    let store = place.open();
    let rows = [row(author(1), 1, false), row(author(1), 2, true)];
    store.append(job(1), &rows, &[], 70).await.unwrap();
    let again = store.append(job(1), &rows, &[], 90).await.unwrap();
    assert_eq!(again.new_changes, 0);
    let both = [rows[1].clone(), row(author(1), 3, true)];
    let more = store.append(job(1), &both, &[], 95).await.unwrap();
    assert_eq!(more.new_changes, 1);
    let status = store.job(job(1)).await.unwrap().unwrap();
    assert_eq!(
        (status.changes, status.first_news, status.last_news),
        (3, 70, 95)
    );
}

pub(crate) async fn a_signature_that_was_lacking_is_added(place: &RecordsPlace) {
    let store = place.open();
    let rows = [row(author(1), 1, false), row(author(1), 2, true)];
    store.append(job(1), &rows, &[], 70).await.unwrap();
    store
        .append(job(1), &[row(author(1), 1, true)], &[], 70)
        .await
        .unwrap();
    store
        .append(job(1), &[row(author(1), 2, false)], &[], 70)
        .await
        .unwrap();
    let held = place
        .open()
        .lacking(job(1), &Table::new(), ALL)
        .await
        .unwrap();
    assert!(held.iter().all(|row| row.signature == Some([1; 64])));
}

pub(crate) async fn another_hash_at_the_same_number_is_a_fork(place: &RecordsPlace) {
    let store = place.open();
    store
        .append(job(1), &[row(author(1), 1, true)], &[], 70)
        .await
        .unwrap();
    let mut other = row(author(1), 1, true);
    other.hash = [9; 32];
    let batch = [row(author(2), 1, true), other];
    let error = store.append(job(1), &batch, &[], 80).await.unwrap_err();
    assert!(matches!(
        error,
        StoreError::Forked { device, number: 1 } if device == author(1).device
    ));
    assert_eq!(
        store.table(job(1)).await.unwrap(),
        table(&[row(author(1), 1, true)])
    );
}

pub(crate) async fn a_gap_is_refused_whole(place: &RecordsPlace) {
    let store = place.open();
    let batch = [row(author(1), 1, true), row(author(2), 2, true)];
    let error = store.append(job(1), &batch, &[], 70).await.unwrap_err();
    assert!(matches!(error, StoreError::Gap));
    assert!(store.table(job(1)).await.unwrap().is_empty());
    assert!(store.jobs().await.unwrap().is_empty());
}

pub(crate) async fn one_change_under_two_numbers_is_refused(place: &RecordsPlace) {
    let store = place.open();
    let first = row(author(1), 1, true);
    let mut second = row(author(1), 2, true);
    second.hash = first.hash;
    let error = store
        .append(job(1), &[first, second], &[], 70)
        .await
        .unwrap_err();
    assert!(matches!(error, StoreError::Contradiction(_)));
    assert!(store.table(job(1)).await.unwrap().is_empty());
}

pub(crate) async fn jobs_do_not_mix(place: &RecordsPlace) {
    let store = place.open();
    let shared = row(author(1), 1, true);
    store
        .append(job(1), std::slice::from_ref(&shared), &[], 70)
        .await
        .unwrap();
    store
        .append(job(2), &[shared.clone(), row(author(1), 2, true)], &[], 71)
        .await
        .unwrap();
    assert_eq!(
        store.lacking(job(1), &Table::new(), ALL).await.unwrap(),
        [shared]
    );
    assert_eq!(store.table(job(2)).await.unwrap()[&author(1)].number, 2);
    let jobs: Vec<_> = store
        .jobs()
        .await
        .unwrap()
        .iter()
        .map(|status| status.job)
        .collect();
    assert_eq!(jobs, [job(1), job(2)]);
}

pub(crate) async fn lacking_gives_causal_order(place: &RecordsPlace) {
    let store = place.open();
    let rows = interleaved();
    for batch in rows.chunks(2) {
        store.append(job(1), batch, &[], 70).await.unwrap();
    }
    assert_eq!(
        store.lacking(job(1), &Table::new(), ALL).await.unwrap(),
        rows
    );
    let peer = table(&[row(author(1), 2, true), row(author(2), 1, true)]);
    let lacking = store.lacking(job(1), &peer, ALL).await.unwrap();
    assert_eq!(lacking, [row(author(2), 2, true), row(author(1), 3, true)]);
    assert!(
        store
            .lacking(job(1), &table(&rows), ALL)
            .await
            .unwrap()
            .is_empty()
    );
    let ahead = table(&[
        row(author(1), 9, true),
        row(author(2), 2, true),
        row(author(7), 4, true),
    ]);
    assert!(store.lacking(job(1), &ahead, ALL).await.unwrap().is_empty());
}

pub(crate) async fn lacking_ends_where_every_author_is_signed(place: &RecordsPlace) {
    let store = place.open();
    let rows = [
        row(author(1), 1, true),
        row(author(2), 1, false),
        row(author(1), 2, true),
        row(author(2), 2, true),
    ];
    store.append(job(1), &rows, &[], 70).await.unwrap();
    // Three rows fit, but there the second author's last change would not be signed.
    let lacking = store.lacking(job(1), &Table::new(), 300).await.unwrap();
    assert_eq!(lacking, rows[..1]);
}

pub(crate) async fn lacking_keeps_to_the_bytes(place: &RecordsPlace) {
    let store = place.open();
    let rows: Vec<_> = (1..=10).map(|n| row(author(1), n, true)).collect();
    store.append(job(1), &rows, &[], 70).await.unwrap();
    assert_eq!(
        store.lacking(job(1), &Table::new(), 300).await.unwrap(),
        rows[..3]
    );
    assert_eq!(
        store.lacking(job(1), &Table::new(), 399).await.unwrap(),
        rows[..3]
    );
}

pub(crate) async fn lacking_gives_one_signed_run_past_the_bytes(place: &RecordsPlace) {
    let store = place.open();
    let mut rows: Vec<_> = (1..=10).map(|n| row(author(1), n, n == 5)).collect();
    rows[9].signature = Some([1; 64]);
    store.append(job(1), &rows, &[], 70).await.unwrap();
    assert_eq!(
        store.lacking(job(1), &Table::new(), 1).await.unwrap(),
        rows[..5]
    );
}

pub(crate) async fn lacking_walks_to_the_end_in_steps(place: &RecordsPlace) {
    let store = place.open();
    let rows: Vec<_> = (1..=300)
        .flat_map(|n| {
            [
                row(author(1), n, n % 7 == 0 || n == 300),
                row(author(2), n, true),
            ]
        })
        .collect();
    store.append(job(1), &rows, &[], 70).await.unwrap();
    let mut walked: Vec<ChangeRow> = Vec::new();
    let mut steps = 0;
    loop {
        let step = store.lacking(job(1), &table(&walked), 2_500).await.unwrap();
        if step.is_empty() {
            break;
        }
        walked.extend(step);
        steps += 1;
    }
    assert_eq!(walked, rows);
    assert!(steps > 20, "{steps} steps");
}

pub(crate) async fn lacking_reports_a_fork(place: &RecordsPlace) {
    let store = place.open();
    let rows = [row(author(1), 1, true), row(author(1), 2, true)];
    store.append(job(1), &rows, &[], 70).await.unwrap();
    let held = Held {
        number: 1,
        short_hash: [0; 8],
    };
    let error = store
        .lacking(job(1), &Table::from([(author(1), held)]), ALL)
        .await
        .unwrap_err();
    assert!(matches!(
        error,
        StoreError::Forked { device, number: 1 } if device == author(1).device
    ));
}

pub(crate) async fn batches_from_many_tasks_all_land(place: &RecordsPlace) {
    let store = place.open();
    let mut tasks = Vec::new();
    for n in 1..=8 {
        let store = Arc::clone(&store);
        tasks.push(tokio::spawn(async move {
            for number in 1..=10 {
                store
                    .append(job(1), &[row(author(n), number, true)], &[], 70)
                    .await
                    .unwrap();
            }
        }));
    }
    for task in tasks {
        task.await.unwrap();
    }
    let table = place.open().table(job(1)).await.unwrap();
    assert_eq!(table.len(), 8);
    assert!(table.values().all(|held| held.number == 10));
}

pub(crate) async fn one_author_too_many_is_refused(place: &RecordsPlace) {
    let store = place.open();
    let by = |n: usize| Author {
        device: DeviceId::from_bytes([1; 16]),
        nonce: (n as u64).to_be_bytes(),
    };
    let rows: Vec<_> = (0..limits::JOB_AUTHORS)
        .map(|n| row(by(n), 1, true))
        .collect();
    store.append(job(1), &rows, &[], 70).await.unwrap();
    let one_more = [row(by(limits::JOB_AUTHORS), 1, true)];
    let error = store.append(job(1), &one_more, &[], 70).await.unwrap_err();
    assert!(matches!(error, StoreError::Limit(_)));
    store
        .append(job(1), &[row(by(0), 2, true)], &[], 70)
        .await
        .unwrap();
}

pub(crate) async fn a_snapshot_replaces_the_one_before(place: &RecordsPlace) {
    let rows = interleaved();
    let snapshot = |heads: u8| Snapshot {
        table: table(&rows),
        heads: vec![[heads; 32], [7; 32]],
        bytes: vec![heads; 5_000],
        made_at: 3,
    };
    let store = place.open();
    store.append(job(1), &rows, &[], 70).await.unwrap();
    store.put_snapshot(job(1), &snapshot(1)).await.unwrap();
    store.put_snapshot(job(1), &snapshot(2)).await.unwrap();
    assert_eq!(
        place.open().snapshot(job(1)).await.unwrap(),
        Some(snapshot(2))
    );
}

pub(crate) async fn peers_are_kept_by_device(place: &RecordsPlace) {
    let holds = |n: u8, number: u64| PeerHolds {
        device: author(n).device,
        table: table(&[row(author(1), number, true)]),
        at: 5,
    };
    let store = place.open();
    store.append(job(1), &interleaved(), &[], 70).await.unwrap();
    let other = PeerHolds {
        device: author(2).device,
        table: table(&[row(author(2), 2, true)]),
        at: 4,
    };
    for holds in [holds(2, 1), holds(1, 1), holds(2, 3), other, holds(2, 2)] {
        store.note_peer(job(1), &holds).await.unwrap();
    }
    let mut both = holds(2, 3);
    both.table.extend(table(&[row(author(2), 2, true)]));
    assert_eq!(
        place.open().peers(job(1)).await.unwrap(),
        [holds(1, 1), both]
    );
}

fn interleaved() -> Vec<ChangeRow> {
    vec![
        row(author(2), 1, true),
        row(author(1), 1, true),
        row(author(1), 2, true),
        row(author(2), 2, true),
        row(author(1), 3, true),
    ]
}
