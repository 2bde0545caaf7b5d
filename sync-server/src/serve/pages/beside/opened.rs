//! Their scope as it is kept in the job, held beside ours.

use std::collections::BTreeMap;

use axum::response::Response;
use chalkwalk_core::job::{Kind, OtherScope, Record, RecordId, RecordRef};
use chalkwalk_core::review::Reader;
use chalkwalk_core::review::compare::columns::Columns;
use chalkwalk_core::review::compare::{self, Comparison, TheirScope};

use super::super::at_job::AtJob;
use super::super::estimate::{Reckoned, aside};
use crate::serve::Shared;
use crate::serve::guard::SignedIn;

/// One scope of another, held beside ours.
pub(super) struct Held {
    /// Its record.
    pub(super) id: RecordId,
    /// As it is kept.
    pub(super) record: Record<OtherScope>,
    /// Its columns and rows, or why they cannot be read.
    pub(super) read: Result<(Columns, TheirScope), String>,
    /// The comparison, where they can.
    pub(super) comparison: Option<Comparison>,
}

/// The chapter as it is opened.
pub(super) struct Beside {
    pub(super) at: AtJob,
    pub(super) reckoned: Reckoned,
    /// The scopes of others that stand, the latest first.
    pub(super) all: Vec<(RecordId, Record<OtherScope>)>,
    /// The one that is looked at.
    pub(super) held: Option<Held>,
}

impl Beside {
    /// Opens the scope named `of`, or the latest.
    ///
    /// # Errors
    /// The whole answer where the job is not to be seen or read.
    pub(super) async fn open(
        shared: &Shared,
        who: &SignedIn,
        id: &str,
        of: &str,
        reader: Reader,
    ) -> Result<Self, Response> {
        let at = AtJob::open(shared, who, id).await?;
        let reckoned = Reckoned::of(&at).await?;
        let others = at.job.records.other_scopes.iter();
        let mut all: Vec<(RecordId, Record<OtherScope>)> = others
            .filter(|(_, other)| other.stands())
            .map(|(id, other)| (id.clone(), other.clone()))
            .collect();
        all.sort_by(|a, b| (b.1.made.at, &b.0).cmp(&(a.1.made.at, &a.0)));
        let named = all.iter().find(|(id, _)| id.as_str() == of);
        let held = match named.or(all.first()).cloned() {
            Some((id, record)) => Some(hold(&at, &reckoned, id, record, reader).await?),
            None => None,
        };
        Ok(Self {
            at,
            reckoned,
            all,
            held,
        })
    }
}

async fn hold(
    at: &AtJob,
    reckoned: &Reckoned,
    id: RecordId,
    record: Record<OtherScope>,
    reader: Reader,
) -> Result<Held, Response> {
    let (job, scope) = (at.job.clone(), reckoned.scope.clone());
    let prices: Option<BTreeMap<_, _>> = reckoned.priced.as_ref().map(|priced| {
        let lines = priced.lines.iter();
        lines
            .map(|line| (line.key.clone(), line.unit_price))
            .collect()
    });
    let work = move || {
        let read = compare::kept(&record).map_err(|error| error.to_string());
        let comparison = read.as_ref().ok().map(|(_, their)| {
            let options = compare::Options {
                reader,
                prices: prices.as_ref(),
                ..compare::Options::default()
            };
            let other = RecordRef::new(Kind::OtherScope, id.clone());
            compare::compare(&job, &scope, their, Some(&other), &options)
        });
        Held {
            id,
            record,
            read,
            comparison,
        }
    };
    aside(&at.shared, work).await
}

impl Held {
    /// Whose it is.
    pub(super) fn name(&self) -> &str {
        name(&self.record)
    }
}

/// Whose a scope is, in words.
pub(super) fn name(record: &OtherScope) -> &str {
    record.name.as_deref().unwrap_or("somebody else")
}
