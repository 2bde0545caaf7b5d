//! What nodes hear of each other, without resting on a hint.

use std::collections::BTreeSet;
use std::time::{Duration, Instant};

use chalkwalk_core::job::{BlobKind, JobId, PhotoHash};
use chalkwalk_sync_server::store::{
    BlobEntry, Feed, Heard, PhotoEntry, PostgresRecords, Records, Summary,
};

use crate::postgres::Database;
use crate::sample::{author, code, device, job, row};

const SOON: Duration = Duration::from_millis(50);

impl Database {
    fn deaf(&self) -> PostgresRecords {
        PostgresRecords::new(self.place("").with_hints(false)).unwrap()
    }
}

async fn feed(node: &PostgresRecords) -> Box<dyn Feed> {
    node.feed().await.unwrap().unwrap()
}

async fn heard(feed: &mut Box<dyn Feed>) -> Heard {
    feed.next(SOON).await.unwrap()
}

fn jobs(numbers: &[u8]) -> BTreeSet<JobId> {
    numbers.iter().map(|n| job(*n)).collect()
}

#[tokio::test]
async fn a_node_hears_what_others_wrote_and_not_itself() {
    let Some(database) = Database::new() else {
        return;
    };
    let (one, two) = (database.deaf(), database.deaf());
    one.append(job(9), &[row(author(1), 1, true)], &[], 70)
        .await
        .unwrap();
    let (mut at_one, mut at_two) = (feed(&one).await, feed(&two).await);
    assert_eq!(heard(&mut at_two).await, Heard::default());
    one.append(job(1), &[row(author(1), 1, true)], &[], 70)
        .await
        .unwrap();
    one.append(job(2), &[row(author(1), 1, true)], &[], 70)
        .await
        .unwrap();
    // A batch that is there already is no news.
    one.append(job(9), &[row(author(1), 1, true)], &[], 70)
        .await
        .unwrap();
    assert_eq!(heard(&mut at_two).await.jobs, jobs(&[1, 2]));
    assert_eq!(heard(&mut at_two).await, Heard::default());
    assert_eq!(heard(&mut at_one).await, Heard::default());

    let photo = PhotoEntry {
        hash: PhotoHash::of(b"ridge"),
        size: 5,
        role: None,
    };
    for n in [1, 2] {
        one.describe(job(n), &Summary::default(), std::slice::from_ref(&photo))
            .await
            .unwrap();
    }
    let file = BlobEntry {
        kind: BlobKind::Original,
        hash: photo.hash,
        size: 5,
    };
    one.complete(&file, 80).await.unwrap();
    one.complete(&file, 81).await.unwrap();
    assert_eq!(heard(&mut at_two).await.jobs, jobs(&[1, 2]));
    two.put_code(&code(1, 100)).await.unwrap();
    two.enrol([1; 32], &device(1), 50).await.unwrap();
    two.set_revoked(device(1).id, Some(60)).await.unwrap();
    assert_eq!(
        heard(&mut at_one).await.shut_out,
        BTreeSet::from([device(1).id])
    );
    two.set_revoked(device(1).id, None).await.unwrap();
    assert_eq!(heard(&mut at_one).await, Heard::default());
}

/// A transaction that took its number first and commits last, past others that were heard.
#[tokio::test]
async fn news_that_are_committed_out_of_order_are_all_heard_once() {
    let Some(database) = Database::new() else {
        return;
    };
    let (one, two) = (database.deaf(), database.deaf());
    let mut at_two = feed(&two).await;
    let schema = database.schema();
    let mut slow = Vec::new();
    for n in [11_u8, 12] {
        let client = database.client().await;
        client.batch_execute("BEGIN").await.unwrap();
        let id = vec![n; 16];
        client
            .execute(
                &format!("INSERT INTO {schema}.news (job) VALUES ($1)"),
                &[&id],
            )
            .await
            .unwrap();
        slow.push(client);
    }
    for n in 1..=5 {
        one.append(job(n), &[row(author(1), 1, true)], &[], 70)
            .await
            .unwrap();
        // Heard at once, though a lower number is not committed yet; and only once.
        assert_eq!(heard(&mut at_two).await.jobs, jobs(&[n]));
    }
    slow[1].batch_execute("COMMIT").await.unwrap();
    assert_eq!(heard(&mut at_two).await.jobs, jobs(&[12]));
    slow[0].batch_execute("COMMIT").await.unwrap();
    one.append(job(6), &[row(author(1), 1, true)], &[], 70)
        .await
        .unwrap();
    assert_eq!(heard(&mut at_two).await.jobs, jobs(&[6, 11]));
    assert_eq!(heard(&mut at_two).await, Heard::default());
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn under_load_from_two_nodes_a_third_hears_every_job() {
    let Some(database) = Database::new() else {
        return;
    };
    let watcher = database.deaf();
    let mut at = feed(&watcher).await;
    let writers = [0_u8, 1].map(|turn| {
        let node = database.deaf();
        tokio::spawn(async move {
            for n in 0..60_u8 {
                let job = job(2 * n + turn);
                node.append(job, &[row(author(1), 1, true)], &[], 70)
                    .await
                    .unwrap();
            }
        })
    });
    let mut all = BTreeSet::new();
    let mut count = 0;
    let mut done = false;
    while !done {
        done = writers.iter().all(tokio::task::JoinHandle::is_finished);
        let heard = at.next(Duration::from_millis(2)).await.unwrap();
        assert!(!heard.everything);
        count += heard.jobs.len();
        all.extend(heard.jobs);
    }
    assert_eq!(all.len(), 120);
    assert_eq!(count, 120, "some were heard twice");
}

#[tokio::test]
async fn a_hint_shortens_the_wait() {
    let Some(database) = Database::new() else {
        return;
    };
    let (one, two) = (database.node(), database.node());
    let (mut at_one, mut at_two) = (feed(&one).await, feed(&two).await);
    let telling = tokio::spawn(async move { at_one.next(Duration::from_secs(20)).await.map(drop) });
    let began = Instant::now();
    let writing = one.clone();
    tokio::spawn(async move {
        tokio::time::sleep(Duration::from_millis(200)).await;
        writing
            .append(job(1), &[row(author(1), 1, true)], &[], 70)
            .await
            .unwrap();
    });
    let heard = at_two.next(Duration::from_secs(20)).await.unwrap();
    assert_eq!(heard.jobs, jobs(&[1]));
    assert!(
        began.elapsed() < Duration::from_secs(10),
        "{:?}",
        began.elapsed()
    );
    telling.abort();
}

#[tokio::test]
async fn a_feed_goes_on_after_its_connections_were_cut() {
    let Some(database) = Database::new() else {
        return;
    };
    let (one, place) = (database.node(), database.place("application_name=watcher"));
    let two = PostgresRecords::new(place).unwrap();
    let mut at_two = feed(&two).await;
    for n in 1..=4 {
        let cutter = database.client().await;
        cutter
            .query(
                "SELECT pg_terminate_backend(pid) FROM pg_stat_activity
                 WHERE application_name = 'watcher'",
                &[],
            )
            .await
            .unwrap();
        one.append(job(n), &[row(author(1), 1, true)], &[], 70)
            .await
            .unwrap();
        let mut all = BTreeSet::new();
        for _ in 0..20 {
            match at_two.next(SOON).await {
                Ok(heard) => all.extend(heard.jobs),
                Err(error) => assert!(error.chain().contains("again"), "{}", error.chain()),
            }
            if all.contains(&job(n)) {
                break;
            }
        }
        assert_eq!(all, jobs(&[n]));
    }
}
