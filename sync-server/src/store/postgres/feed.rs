//! What other nodes wrote, and telling them.
//!
//! Nothing rests on a notification: it only shortens the wait. News are rows, written in the
//! transaction of what they tell of, and read from a mark on: the oldest transaction that still
//! ran when they were last read. All rows below it were there then, in whatever order they were
//! committed; those above it are read again, and passed over where they were told.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::{Duration, Instant};

use async_trait::async_trait;
use chalkwalk_core::job::{DeviceId, JobId};
use tokio::sync::Notify;
use tokio_postgres::types::Type;

use super::PostgresRecords;
use super::listener::Listener;
use super::pool::Lease;
use super::row::{bytes_or_none, number, number_or_none};
use crate::store::{Feed, Heard, StoreError, limits};

/// What this node told itself, so that it does not hear it again.
#[derive(Default)]
pub(super) struct Own {
    followed: AtomicBool,
    told: Mutex<BTreeSet<i64>>,
    pub(super) written: Notify,
}

impl Own {
    pub(super) fn add(&self, news: impl IntoIterator<Item = i64>) {
        // Where nobody follows, as in a command, nothing is to be remembered.
        if self.followed.load(Ordering::Relaxed) {
            let mut told = self.told.lock().unwrap_or_else(PoisonError::into_inner);
            let before = told.len();
            told.extend(news);
            if told.len() > before {
                self.written.notify_one();
            }
        }
    }

    fn take(&self, news: i64) -> bool {
        let mut told = self.told.lock().unwrap_or_else(PoisonError::into_inner);
        told.remove(&news)
    }
}

pub(super) struct PostgresFeed {
    records: PostgresRecords,
    own: Arc<Own>,
    listener: Option<Listener>,
    hints: bool,
    mark: i64,
    /// News at or above the mark that were told, with their transactions.
    told: BTreeMap<i64, i64>,
    heard_at: Instant,
    pruned_at: Instant,
}

impl PostgresFeed {
    /// Follows from this moment on.
    pub(super) async fn begin(records: PostgresRecords, hints: bool) -> Result<Self, StoreError> {
        let own = Arc::clone(records.own());
        own.followed.store(true, Ordering::Relaxed);
        let mut feed = Self {
            records,
            own,
            listener: None,
            hints,
            mark: 0,
            told: BTreeMap::new(),
            heard_at: Instant::now(),
            pruned_at: Instant::now(),
        };
        let lease = feed.records.lease().await?;
        let row = lease.one(MARK, &[]).await?;
        feed.mark = number(&row, 0)?;
        lease.settle(Ok(Ok(()))).await?;
        // What is there already is no news, though a transaction may still run below it.
        feed.look().await?;
        feed.listen().await;
        Ok(feed)
    }

    /// Listens for hints, where they are wanted. Where that fails, news come a little later.
    async fn listen(&mut self) {
        if !self.hints || self.listener.as_ref().is_some_and(Listener::is_open) {
            return;
        }
        self.listener = match Listener::open(&self.records).await {
            Ok(listener) => Some(listener),
            Err(error) => {
                tracing::warn!(error = error.chain(), "no hints from other nodes for now");
                None
            }
        };
    }

    async fn wait(&mut self, longest: Duration) {
        let until = tokio::time::Instant::now() + longest;
        loop {
            let Some(listener) = &mut self.listener else {
                tokio::time::sleep_until(until).await;
                return;
            };
            tokio::select! {
                () = listener.hint() => return,
                () = self.own.written.notified() => {
                    tokio::time::sleep(limits::HINT_EVERY).await;
                    listener.tell().await;
                }
                () = tokio::time::sleep_until(until) => return,
            }
        }
    }

    async fn look(&mut self) -> Result<Heard, StoreError> {
        let lease = self.records.lease().await?;
        let done = tokio::time::timeout(limits::CALL, self.read(&lease)).await;
        let read = lease.settle(done).await?;
        let heard = self.digest(read);
        self.heard_at = Instant::now();
        Ok(heard)
    }

    async fn read(&self, db: &Lease) -> Result<Read, StoreError> {
        let most = i64::try_from(limits::NEWS_AT_ONCE + 1).unwrap_or(i64::MAX);
        let rows = db
            .all(NEWS, &[(&self.mark, Type::INT8), (&most, Type::INT8)])
            .await?;
        let mut read = Read {
            mark: self.mark,
            news: Vec::new(),
        };
        for row in &rows {
            read.mark = number(row, 0)?;
            if let Some(seq) = number_or_none(row, 1)? {
                read.news.push(News {
                    seq,
                    tx: number(row, 2)?,
                    job: bytes_or_none(row, 3)?.map(JobId::from_bytes),
                    device: bytes_or_none(row, 4)?.map(DeviceId::from_bytes),
                });
            }
        }
        Ok(read)
    }

    fn digest(&mut self, read: Read) -> Heard {
        let mut heard = Heard {
            // Transactions that go back are those of another database, as after a restored copy.
            everything: read.mark < self.mark
                || read.news.len() > limits::NEWS_AT_ONCE
                || self.heard_at.elapsed() > limits::NEWS_KEPT / 2,
            ..Heard::default()
        };
        let mut told = BTreeMap::new();
        for news in read.news {
            let own = self.own.take(news.seq);
            if !own && !self.told.contains_key(&news.seq) {
                heard.jobs.extend(news.job);
                heard.shut_out.extend(news.device);
            }
            if news.tx >= read.mark {
                told.insert(news.seq, news.tx);
            }
        }
        self.told = told;
        self.mark = read.mark;
        heard
    }

    /// Forgets old news, now and then.
    async fn prune(&mut self) -> Result<(), StoreError> {
        if self.pruned_at.elapsed() < limits::NEWS_KEPT / 8 {
            return Ok(());
        }
        self.pruned_at = Instant::now();
        let seconds = i64::try_from(limits::NEWS_KEPT.as_secs()).unwrap_or(i64::MAX);
        let lease = self.records.lease().await?;
        let with = [(&seconds as _, Type::INT8)];
        let pruning = lease.change(
            "DELETE FROM @news WHERE at < clock_timestamp() - $1 * interval '1 second'",
            &with,
        );
        let done = tokio::time::timeout(limits::CALL, pruning).await;
        lease.settle(done).await.map(drop)
    }
}

const MARK: &str = "SELECT pg_snapshot_xmin(pg_current_snapshot())::text::int8";

/// The mark and the news of one moment: one row without news where there are none.
const NEWS: &str = "
SELECT pg_snapshot_xmin(pg_current_snapshot())::text::int8, n.seq, n.tx, n.job, n.device
FROM (SELECT 1) AS one LEFT JOIN @news n ON n.tx >= $1
ORDER BY n.tx, n.seq LIMIT $2";

struct Read {
    mark: i64,
    news: Vec<News>,
}

struct News {
    seq: i64,
    tx: i64,
    job: Option<JobId>,
    device: Option<DeviceId>,
}

#[async_trait]
impl Feed for PostgresFeed {
    async fn next(&mut self, longest: Duration) -> Result<Heard, StoreError> {
        self.listen().await;
        self.wait(longest).await;
        let heard = self.look().await?;
        if let Err(error) = self.prune().await {
            tracing::warn!(error = error.chain(), "old news could not be forgotten");
        }
        Ok(heard)
    }
}
