//! Several nodes that write to one database at once.

use chalkwalk_core::document::{ChangeRow, Table};
use chalkwalk_sync_server::store::{PostgresRecords, Records, StoreError};

use crate::postgres::Database;
use crate::sample::{author, job, row};

async fn held(node: &PostgresRecords) -> Vec<ChangeRow> {
    node.lacking(job(1), &Table::new(), usize::MAX)
        .await
        .unwrap()
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn nodes_that_write_one_job_at_once_lose_and_double_nothing() {
    let Some(database) = Database::new() else {
        return;
    };
    let nodes: Vec<_> = (0..3).map(|_| database.node()).collect();
    let mut tasks = Vec::new();
    for n in 1..=6_u8 {
        for (turn, node) in nodes.iter().enumerate() {
            let node = node.clone();
            tasks.push(tokio::spawn(async move {
                // The same author through every node: each change is added once, by whoever is
                // first, and the others see that it is there or that they are ahead of it.
                let mut added = 0;
                for number in 1..=12 {
                    let batch = [row(author(n), number, turn != 0)];
                    loop {
                        match node.append(job(1), &batch, &[], 70).await {
                            Ok(done) => {
                                added += done.new_changes;
                                break;
                            }
                            Err(StoreError::Gap) => tokio::task::yield_now().await,
                            Err(other) => panic!("{}", other.chain()),
                        }
                    }
                }
                added
            }));
        }
    }
    let mut added = 0;
    for task in tasks {
        added += task.await.unwrap();
    }
    assert_eq!(added, 6 * 12);
    let rows = held(&nodes[0]).await;
    assert_eq!(rows.len(), 6 * 12);
    for node in &nodes {
        assert_eq!(held(node).await, rows);
        assert_eq!(node.job(job(1)).await.unwrap().unwrap().changes, 72);
    }
    let client = database.client().await;
    let schema = database.schema();
    let places = client
        .query_one(
            &format!("SELECT count(DISTINCT place), min(place), max(place) FROM {schema}.change"),
            &[],
        )
        .await
        .unwrap();
    let places: (i64, i64, i64) = (places.get(0), places.get(1), places.get(2));
    assert_eq!(places, (72, 0, 71));
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn of_two_copies_that_write_at_once_one_is_refused() {
    let Some(database) = Database::new() else {
        return;
    };
    let (one, two) = (database.node(), database.node());
    for number in 1..=15 {
        let mine = [row(author(1), number, true)];
        let mut theirs = mine.clone();
        theirs[0].hash = [number as u8; 32];
        let (mine, theirs) = tokio::join!(
            one.append(job(1), &mine, &[], 70),
            two.append(job(1), &theirs, &[], 70)
        );
        let refused = match (mine, theirs) {
            (Ok(_), Err(refused)) | (Err(refused), Ok(_)) => refused,
            other => panic!("{other:?}"),
        };
        assert!(
            matches!(refused, StoreError::Forked { number: at, .. } if at == number),
            "{refused:?}"
        );
    }
    assert_eq!(held(&one).await.len(), 15);
}

#[tokio::test]
async fn new_devices_of_two_jobs_at_once_do_not_block_each_other() {
    let Some(database) = Database::new() else {
        return;
    };
    let (one, two) = (database.node(), database.node());
    let devices: Vec<_> = (1..=20).map(crate::sample::device).collect();
    let turned: Vec<_> = devices.iter().rev().cloned().collect();
    let rows = [row(author(1), 1, true)];
    let (first, second) = tokio::join!(
        one.append(job(1), &rows, &devices, 70),
        two.append(job(2), &rows, &turned, 70)
    );
    first.unwrap();
    second.unwrap();
    assert_eq!(one.devices().await.unwrap(), devices);
}
