//! Hints between nodes: a connection of its own that listens and tells. Only ever a hint.

use std::future::poll_fn;
use std::sync::Arc;
use std::sync::atomic::{AtomicI32, Ordering};

use tokio::sync::mpsc;
use tokio::task::JoinHandle;
use tokio_postgres::{AsyncMessage, Client};

use super::PostgresRecords;
use super::error;
use crate::store::StoreError;

pub(super) struct Listener {
    client: Client,
    channel: String,
    hints: mpsc::Receiver<()>,
    task: JoinHandle<()>,
}

impl Drop for Listener {
    fn drop(&mut self) {
        self.task.abort();
    }
}

impl Listener {
    pub(super) async fn open(records: &PostgresRecords) -> Result<Self, StoreError> {
        let place = records.place();
        let (client, mut connection) = place
            .config
            .connect(records.tls())
            .await
            .map_err(|cause| error::unreachable(&place.to_string(), &cause))?;
        // One is as good as many.
        let (hint, hints) = mpsc::channel(1);
        let own = Arc::new(AtomicI32::new(0));
        let ours = Arc::clone(&own);
        let task = tokio::spawn(async move {
            while let Some(Ok(message)) = poll_fn(|cx| connection.poll_message(cx)).await {
                let AsyncMessage::Notification(told) = message else {
                    continue;
                };
                if told.process_id() != ours.load(Ordering::Relaxed) {
                    let _ = hint.try_send(());
                }
            }
        });
        let channel = format!("chalkwalk_{}", place.schema());
        let listener = Self {
            client,
            channel,
            hints,
            task,
        };
        listener
            .client
            .batch_execute(&format!("LISTEN {}", listener.channel))
            .await?;
        let row = listener
            .client
            .query_typed_one("SELECT pg_backend_pid()", &[])
            .await?;
        own.store(row.try_get(0).map_err(error::read)?, Ordering::Relaxed);
        Ok(listener)
    }

    pub(super) fn is_open(&self) -> bool {
        !self.client.is_closed()
    }

    /// Done when another node told something, or when the connection is gone.
    pub(super) async fn hint(&mut self) {
        // `None` where the connection is gone: looking is right then, too.
        let _ = self.hints.recv().await;
    }

    /// Tells the other nodes that there is something to look for.
    pub(super) async fn tell(&self) {
        if let Err(cause) = self
            .client
            .batch_execute(&format!("NOTIFY {}", self.channel))
            .await
        {
            tracing::debug!(%cause, "a hint could not be sent");
        }
    }
}
