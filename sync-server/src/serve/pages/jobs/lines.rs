//! The lines of the list, from what storage keeps of each job.

use std::cmp::Reverse;
use std::collections::BTreeMap;

use chalkwalk_core::document::Refusal;
use chalkwalk_core::job::{JobId, Role};

use super::missing::Missing;
use super::search::Search;
use super::stage::Stage;
use crate::hub::{Hub, office_role, open_to_all};
use crate::limits;
use crate::store::{Access, JobStatus};

/// One job's line.
pub(super) struct Line {
    pub(super) status: JobStatus,
    pub(super) stage: Stage,
    pub(super) missing: Missing,
    /// Something came after the office's word on it.
    pub(super) news_since: bool,
}

/// One page of lines.
pub(super) struct Lines {
    /// Jobs that the person sees.
    pub(super) all: usize,
    /// Jobs that the search finds, in whatever stage.
    pub(super) found: usize,
    /// How many of them are in each stage.
    pub(super) stages: Vec<(Stage, usize)>,
    pub(super) shown: Vec<Line>,
    /// From 0.
    pub(super) page: usize,
    pub(super) pages: usize,
}

/// The jobs that a person in this part sees and the search finds, the newest news first.
pub(super) async fn read(hub: &Hub, role: Role, search: &Search) -> Result<Lines, Refusal> {
    let access = hub.accounts().all_access().await?;
    let of = |job: &JobId| access.get(job).cloned().unwrap_or_default();
    let mut statuses = fresh(hub).await?;
    statuses.retain(|status| office_role(role) || open_to_all(&of(&status.job)));
    let all = statuses.len();
    statuses.retain(|status| search.finds(&status.summary.clone().unwrap_or_default()));
    let found = statuses.len();
    let mut lines = Vec::with_capacity(found);
    for status in statuses {
        lines.push(line(hub, status, &of).await?);
    }
    let mut stages: BTreeMap<Stage, usize> = BTreeMap::new();
    for line in &lines {
        *stages.entry(line.stage).or_default() += 1;
    }
    lines.retain(|line| search.stage.is_none_or(|stage| line.stage == stage));
    lines.sort_by_key(|line| (Reverse(line.status.last_news), line.status.job));
    let pages = lines.len().div_ceil(limits::JOBS_PAGE).max(1);
    let page = search.page.min(pages - 1);
    let here = lines.into_iter().skip(page * limits::JOBS_PAGE);
    let mut shown: Vec<Line> = here.take(limits::JOBS_PAGE).collect();
    for line in &mut shown {
        if line.stage == Stage::HandedOn {
            line.missing = Missing::of(hub, &line.status).await?;
        }
    }
    Ok(Lines {
        all,
        found,
        stages: Stage::all()
            .map(|stage| (stage, stages.get(&stage).copied().unwrap_or(0)))
            .collect(),
        shown,
        page,
        pages,
    })
}

/// What changes are missing is asked only of jobs that the office still has to do with: those
/// handed on grow to thousands.
async fn line(
    hub: &Hub,
    status: JobStatus,
    access: &impl Fn(&JobId) -> Access,
) -> Result<Line, Refusal> {
    let access = access(&status.job);
    let files = Missing::files(&status);
    let missing = match Stage::of(&status, &access, files) {
        Stage::HandedOn => files,
        _ => Missing::of(hub, &status).await?,
    };
    Ok(Line {
        stage: Stage::of(&status, &access, missing),
        news_since: access
            .marked
            .is_some_and(|marked| marked.at < status.last_news),
        missing,
        status,
    })
}

/// Every job's status. A line that is behind its job, as after a crash, is made anew first.
async fn fresh(hub: &Hub) -> Result<Vec<JobStatus>, Refusal> {
    let mut statuses = hub.records().jobs().await?;
    for status in statuses.iter_mut().filter(|status| !status.is_described()) {
        if let Err(refusal) = hub.freshen(status.job).await {
            tracing::error!(job = %status.job, %refusal, "a job's line is of an earlier day");
        }
        if let Some(now) = hub.records().job(status.job).await? {
            *status = now;
        }
    }
    Ok(statuses)
}
