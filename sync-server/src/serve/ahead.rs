//! What pages work out of a job is worked out again as news of it comes, before anybody asks: of jobs
//! at which somebody looked a moment ago, and what was worked out of the reading before.

use std::collections::BTreeSet;
use std::sync::Arc;
use std::time::Duration;

use chalkwalk_core::document::Refusal;
use chalkwalk_core::job::JobId;
use chalkwalk_core::review::account::OwnersAccount;
use chalkwalk_core::review::production::ProductionSheet;
use chalkwalk_core::review::scope::Scope;
use chalkwalk_core::review::{FindingsList, Hits, OpenPoint};
use tokio::sync::broadcast::error::RecvError;
use tokio::sync::watch;

use super::pages::deeds::{self, History};
use super::pages::memo::Memo;
use super::pages::shots::Files;
use super::pages::{at_job, custody, estimate, findings, house, open, sheets, sides};
use crate::hub::{Hub, InCustody, News};
use crate::limits;
use crate::papers::Papers;

/// Works ahead until the server stops.
pub(super) async fn run(
    hub: Hub,
    memo: Arc<Memo>,
    papers: Papers,
    mut stop: watch::Receiver<bool>,
) {
    let mut news = hub.news();
    loop {
        let heard = tokio::select! {
            heard = news.recv() => heard,
            _ = stop.wait_for(|stop| *stop) => return,
        };
        let mut jobs = BTreeSet::new();
        match heard {
            Ok(News::Job { job, .. }) => jobs.insert(job),
            Ok(_) | Err(RecvError::Lagged(_)) => continue,
            Err(RecvError::Closed) => return,
        };
        // News comes in runs: one piece of work follows them all.
        tokio::select! {
            () = tokio::time::sleep(Duration::from_millis(limits::AHEAD_PAUSE_MS)) => {}
            _ = stop.wait_for(|stop| *stop) => return,
        }
        while let Ok(more) = news.try_recv() {
            if let News::Job { job, .. } = more {
                jobs.insert(job);
            }
        }
        for job in jobs {
            if let Err(refusal) = work(&hub, &memo, &papers, job).await {
                tracing::warn!(%job, %refusal, "pages of a job could not be worked out ahead");
            }
        }
    }
}

/// What the pages of the reading before had, of the reading that is.
async fn work(hub: &Hub, memo: &Memo, papers: &Papers, job: JobId) -> Result<(), Refusal> {
    let now = hub.now();
    let Some(before) = memo.of_late(job, now) else {
        return Ok(());
    };
    let (read, status) = (hub.read(job).await?, hub.records().job(job).await?);
    let Some((read, status)) = read.zip(status) else {
        return Ok(());
    };
    let worked = memo.of(job, &read);
    if Arc::ptr_eq(&worked, &before) {
        return Ok(());
    }
    let files = Files::read(hub, &status, &worked).await?;
    let (inputs, mark) = estimate::inputs_of(papers, job).await?;
    let (of, like) = (Arc::clone(&worked), Arc::clone(&before));
    let pure = tokio::task::spawn_blocking(move || {
        of.walk();
        of.read_captures_of(&like);
        at_job::places(&of);
        at_job::disputed(&of);
        if like.has_any::<house::Drawn>() {
            house::drawn(&of);
            house::recorded(&of);
        }
        if like.has_any::<FindingsList>() {
            findings::listed(&of);
        }
        if like.has_any::<Hits>() {
            sides::counted(&of);
        }
        if like.has_any::<Vec<OpenPoint>>() {
            open::checked(&of, &status, &files, now);
        }
        if like.has_any::<OwnersAccount>() {
            sheets::told(&of);
        }
        if like.has_any::<Scope>() {
            estimate::scope_with(&of, &inputs, &mark);
        }
        if like.has_any::<ProductionSheet>() {
            sheets::sheet_with(&of, &inputs, &mark);
        }
    });
    pure.await
        .map_err(|error| Refusal::Storage(error.to_string()))?;
    if before.has_any::<History>() {
        deeds::read(hub, &worked, job).await?;
    }
    if before.has_any::<InCustody>() {
        custody::checked(hub, &worked, job).await?;
    }
    Ok(())
}
