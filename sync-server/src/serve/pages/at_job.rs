//! What every page of one job does first: who asks, whether they see it, and the record itself.

use std::collections::BTreeSet;
use std::sync::Arc;

use axum::response::{IntoResponse, Response};
use chalkwalk_core::job::{Conflict, Job, JobId, Millis, Place, RecordRef, Role};
use chalkwalk_core::review::places_in_walk_order;
use chalkwalk_core::trade::zone::offset_minutes;
use chrono::{DateTime, FixedOffset};
use maud::Markup;

use super::super::Shared;
use super::super::guard::{SignedIn, rank};
use super::layout::{JobHead, Part, job_page};
use super::memo::Worked;
use super::{nothing_here, store_unwell, unwell};
use crate::store::{Actor, DeedKind, JobStatus, Person, StoreError};

/// A job that the person sees, as it stands now.
pub(in crate::serve) struct AtJob {
    /// The company.
    pub(in crate::serve) shared: Shared,
    /// Who looks.
    pub(in crate::serve) person: Person,
    /// The job.
    pub(in crate::serve) id: JobId,
    /// The record.
    pub(in crate::serve) job: Arc<Job>,
    /// What storage says of it.
    pub(in crate::serve) status: JobStatus,
}

impl AtJob {
    /// Opens the job named in the path. The look is written down.
    ///
    /// # Errors
    /// The whole answer where there is nothing to show.
    pub(in crate::serve) async fn open(
        shared: &Shared,
        who: &SignedIn,
        id: &str,
    ) -> Result<Self, Response> {
        let Ok(id) = id.parse::<JobId>() else {
            return Err(nothing_here(shared));
        };
        let unwell_store = |error: StoreError| store_unwell(shared, &error);
        let known = shared.hub.records().job(id).await.map_err(unwell_store)?;
        let seen = shared.hub.person_sees(who.person.role, id).await;
        let seen = seen.map_err(unwell_store)?;
        let Some(mut status) = known.filter(|_| seen) else {
            return Err(nothing_here(shared));
        };
        let read = shared.hub.read(id).await;
        let Some(job) = read.map_err(|refusal| unwell(shared, &refusal))? else {
            return Err(nothing_here(shared));
        };
        if !status.is_described() {
            let fresh = shared.hub.freshen(id).await;
            fresh.map_err(|refusal| unwell(shared, &refusal))?;
            let now = shared.hub.records().job(id).await;
            status = now.map_err(unwell_store)?.unwrap_or(status);
        }
        let now = shared.hub.now();
        if shared.memo.is_new_look(who.person.id, id, now) {
            let actor = Actor::Person(who.person.id);
            let noted = shared.note(actor, DeedKind::SawJob, Some(id), "").await;
            noted.map_err(|error| store_unwell(shared, &error))?;
            shared.memo.looked(who.person.id, id, now);
        }
        Ok(Self {
            shared: shared.clone(),
            person: who.person.clone(),
            id,
            job,
            status,
        })
    }

    /// What was worked out of this reading of the job, for this and the next page.
    pub(in crate::serve) fn worked(&self) -> Arc<Worked> {
        self.shared.memo.of(self.id, &self.job)
    }

    /// Every field that two people stated differently, with its record.
    pub(in crate::serve) fn disputed(&self) -> Vec<(RecordRef, &Conflict)> {
        let records = disputed(&self.worked());
        let of = |at: &RecordRef| {
            let conflicts = self.job.records.header(at).map(|header| header.conflicts);
            let at = at.clone();
            conflicts
                .into_iter()
                .flatten()
                .map(move |one| (at.clone(), one))
        };
        records.iter().flat_map(of).collect()
    }

    /// The places of the house on the way round it.
    pub(in crate::serve) fn places(&self) -> Arc<Vec<Place>> {
        places(&self.worked())
    }

    /// Whether the person's part goes at least so far.
    pub(in crate::serve) fn may(&self, least: Role) -> bool {
        rank(self.person.role) >= rank(least)
    }

    /// The path of the job's pages, with the company's.
    pub(in crate::serve) fn path(&self) -> String {
        format!("{}/jobs/{}", self.shared.base, self.id)
    }

    /// A moment on the clocks of the house; in UTC, and saying so, where the record names no
    /// time zone.
    pub(in crate::serve) fn when(&self, at: Millis) -> String {
        house_time(&self.job, at)
    }

    /// A page of this job.
    pub(in crate::serve) fn page(&self, part: Part, scripts: &[&str], main: &Markup) -> Response {
        let head = JobHead::of(self.id, &self.job);
        job_page(&self.shared, &self.person, &head, part, scripts, main).into_response()
    }
}

/// The records of a reading in which two people stated something differently.
pub(in crate::serve) fn disputed(worked: &Worked) -> Arc<BTreeSet<RecordRef>> {
    worked.once("disputed", |job| {
        let records = job.conflicts().into_iter().map(|(at, _)| at);
        records.collect::<BTreeSet<RecordRef>>()
    })
}

/// The places of a reading on the way round the house.
pub(in crate::serve) fn places(worked: &Worked) -> Arc<Vec<Place>> {
    worked.once("places", places_in_walk_order)
}

/// A moment on the clocks of a job's house; in UTC, and saying so, where none is named.
pub(in crate::serve) fn house_time(job: &Job, at: Millis) -> String {
    let Some(moment) = DateTime::from_timestamp_millis(at) else {
        return "at an unknown time".to_owned();
    };
    let zone = job
        .property()
        .and_then(|property| property.time_zone.as_deref());
    let offset = zone.and_then(|zone| offset_minutes(zone, at));
    match offset.and_then(|minutes| FixedOffset::east_opt(minutes * 60)) {
        Some(offset) => {
            let local = moment.with_timezone(&offset);
            local.format("%-d %b %Y, %H:%M").to_string()
        }
        None => moment.format("%-d %b %Y, %H:%M UTC").to_string(),
    }
}
