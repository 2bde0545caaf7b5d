//! What a server does beside answering: it hears of devices that another process has shut out,
//! and removes what it was told to remove, by name, and what is left of uploads that nobody can go
//! on with; nothing else.

use std::collections::BTreeSet;
use std::sync::Arc;
use std::time::{Duration, SystemTime};

use chalkwalk_core::job::DeviceId;
use tokio::sync::watch;
use tokio::task::JoinSet;

use super::pages::memo::Memo;
use super::{Keeping, Shared, ahead};
use crate::hub::Hub;
use crate::limits;
use crate::store::{Actor, Deed, DeedKind, StoreError};

const DAY: u64 = 24 * 3_600;

/// The tasks under way.
pub(super) struct Housekeeping(JoinSet<()>);

impl Housekeeping {
    /// Waits until they have ended.
    pub(super) async fn finish(mut self) {
        while self.0.join_next().await.is_some() {}
    }
}

/// Starts the tasks of every company. They hold no more of a company than they need, and keep no
/// session up.
pub(super) fn start(
    sites: &[Shared],
    stop: &watch::Receiver<bool>,
    keeping: Keeping,
    started: SystemTime,
) -> Housekeeping {
    let mut tasks = JoinSet::new();
    for site in sites {
        tasks.spawn(watch_devices(site.hub.clone(), stop.clone()));
        tasks.spawn(follow_up(site.hub.clone(), stop.clone()));
        let memo = Arc::clone(&site.memo);
        tasks.spawn(close_idle(site.hub.clone(), memo, stop.clone()));
        tasks.spawn(ahead::run(
            site.hub.clone(),
            Arc::clone(&site.memo),
            site.papers.clone(),
            stop.clone(),
        ));
        tasks.spawn(sweep_up(site.hub.clone(), stop.clone(), keeping, started));
    }
    Housekeeping(tasks)
}

/// True after the pause, false where the server stops.
pub(super) async fn paused(stop: &mut watch::Receiver<bool>, millis: u64) -> bool {
    tokio::select! {
        () = tokio::time::sleep(Duration::from_millis(millis)) => true,
        _ = stop.wait_for(|stop| *stop) => false,
    }
}

/// Follows up what came in, and at the end what is left.
async fn follow_up(hub: Hub, mut stop: watch::Receiver<bool>) {
    loop {
        let goes_on = tokio::select! {
            () = hub.something_to_follow() => true,
            _ = stop.wait_for(|stop| *stop) => false,
        };
        hub.follow_up().await;
        if !goes_on {
            return;
        }
    }
}

async fn watch_devices(hub: Hub, mut stop: watch::Receiver<bool>) {
    let mut known: Option<BTreeSet<DeviceId>> = None;
    loop {
        match hub.records().devices().await {
            Ok(devices) => {
                let revoked: BTreeSet<DeviceId> = devices
                    .iter()
                    .filter(|device| device.revoked_at.is_some())
                    .map(|device| device.id)
                    .collect();
                let before = known.get_or_insert_with(|| revoked.clone());
                for device in revoked.difference(before) {
                    hub.tell_revoked(*device);
                }
                *before = revoked;
            }
            Err(error) => tracing::warn!(error = error.chain(), "devices could not be read"),
        }
        if !paused(&mut stop, limits::WATCH_MS).await {
            return;
        }
    }
}

async fn close_idle(hub: Hub, memo: Arc<Memo>, mut stop: watch::Receiver<bool>) {
    let idle = Duration::from_millis(limits::DOCUMENT_IDLE_MS);
    while paused(&mut stop, limits::DOCUMENT_IDLE_MS / 4).await {
        hub.close_idle(idle);
        memo.close_idle(idle);
    }
}

async fn sweep_up(
    hub: Hub,
    mut stop: watch::Receiver<bool>,
    keeping: Keeping,
    started: SystemTime,
) {
    loop {
        if let Err(error) = sweep(&hub, keeping, started).await {
            tracing::warn!(error = error.chain(), "what is to be removed could not be");
        }
        if !paused(&mut stop, limits::SWEEP_MS).await {
            return;
        }
    }
}

/// Removes what is named once; the value says what was removed. What is left of uploads that
/// nobody can go on with is removed unasked.
async fn sweep(hub: &Hub, keeping: Keeping, started: SystemTime) -> Result<String, StoreError> {
    let mut removed = Vec::new();
    let mut say = |count: u64, what: &str| {
        if count > 0 {
            removed.push(format!("{count} {what}"));
        }
    };
    say(
        hub.staging().remove_left_over(started)? + hub.drop_what_is_whole().await?,
        "uploads left over",
    );
    if let Some(days) = keeping.partial_uploads_days {
        let age = Duration::from_secs(u64::from(days) * DAY);
        if let Some(before) = SystemTime::now().checked_sub(age) {
            say(hub.staging().remove_older(before)?, "partial uploads");
        }
    }
    if keeping.ended_sign_ins {
        let swept = hub.accounts().sweep(hub.now()).await?;
        say(swept.sign_ins, "ended sign-ins");
        say(swept.links, "links whose time was over");
    }
    let removed = removed.join(", ");
    if !removed.is_empty() {
        let deed = Deed {
            at: hub.now(),
            who: Actor::Office,
            what: DeedKind::Swept,
            job: None,
            about: removed.clone(),
        };
        hub.accounts().note(&deed).await?;
    }
    Ok(removed)
}
