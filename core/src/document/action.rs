//! Everything a person can do to a job. One action is one change of the document.

use serde::{Deserialize, Serialize};

use crate::job::{AnyFields, JobId, Kind, Property, RecordId, RecordRef, Scalar};

/// What a person does.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case", deny_unknown_fields)]
pub enum Action {
    /// Begin a job, with what is known of the house.
    Begin {
        /// The job.
        job: JobId,
        /// The house and its owner.
        property: Property,
    },
    /// Add a record.
    Add {
        /// A fresh id.
        id: RecordId,
        /// Its fields.
        record: AnyFields,
        /// Hits that this person counted.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        hits: Option<u32>,
        /// For a photo: the records it shows.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        shows: Vec<RecordRef>,
    },
    /// Change or empty fields of a record.
    Amend {
        /// Which record of the kind of `set`.
        id: RecordId,
        /// The fields to set.
        set: AnyFields,
        /// The fields to empty.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        clear: Vec<String>,
    },
    /// Withdraw a record. It stays in the job with the reason.
    Strike {
        /// Which.
        at: RecordRef,
        /// Why.
        reason: String,
    },
    /// Let a struck record stand again.
    Reinstate {
        /// Which.
        at: RecordRef,
    },
    /// State the hits that this person counted; it replaces the same person's earlier count.
    Count {
        /// A finding or test square.
        at: RecordRef,
        /// How many.
        hits: u32,
    },
    /// Say that a photo shows a record.
    Attach {
        /// The photo.
        photo: RecordId,
        /// What it shows.
        to: RecordRef,
    },
    /// Say that a photo does not show a record after all.
    Detach {
        /// The photo.
        photo: RecordId,
        /// What it does not show.
        from: RecordRef,
    },
    /// Settle a conflict: choose the value of a field that two people stated differently.
    Settle {
        /// The record.
        at: RecordRef,
        /// The field.
        field: String,
        /// The value that holds; `None` empties the field.
        value: Option<Scalar>,
    },
}

impl Action {
    /// The record that the action touches.
    pub fn target(&self) -> RecordRef {
        match self {
            Action::Begin { .. } => RecordRef::new(Kind::Property, crate::job::Job::only()),
            Action::Add { id, record, .. } => RecordRef::new(record.kind(), id.clone()),
            Action::Amend { id, set, .. } => RecordRef::new(set.kind(), id.clone()),
            Action::Strike { at, .. }
            | Action::Reinstate { at }
            | Action::Count { at, .. }
            | Action::Settle { at, .. } => at.clone(),
            Action::Attach { photo, .. } | Action::Detach { photo, .. } => {
                RecordRef::new(Kind::Photo, photo.clone())
            }
        }
    }

    /// The short message of the change, in words of a small fixed set.
    pub(super) fn message(&self) -> String {
        let kind = self.target().kind.label();
        match self {
            Action::Begin { .. } => "begin job".to_owned(),
            Action::Add { .. } => format!("add {kind}"),
            Action::Amend { .. } => format!("amend {kind}"),
            Action::Strike { .. } => format!("strike {kind}"),
            Action::Reinstate { .. } => format!("reinstate {kind}"),
            Action::Count { .. } => format!("count hits, {kind}"),
            Action::Attach { .. } => "attach photo".to_owned(),
            Action::Detach { .. } => "detach photo".to_owned(),
            Action::Settle { .. } => format!("settle {kind}"),
        }
    }
}

/// Why an action was not taken. Nothing was changed.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum ActionError {
    /// The record named does not exist.
    #[error("there is no {0} in this job: check its id with the list of records")]
    NoSuchRecord(RecordRef),
    /// A record with this id exists.
    #[error("{0} exists already: amend it, or add another with a fresh id")]
    Exists(RecordRef),
    /// The record was struck.
    #[error("{0} was struck: reinstate it before changing it")]
    IsStruck(RecordRef),
    /// The kind has no such field.
    #[error("a {kind} has no field \"{field}\"", kind = .kind.label())]
    NoSuchField {
        /// The kind of record.
        kind: Kind,
        /// The field named.
        field: String,
    },
    /// The value does not fit the field.
    #[error("the value does not fit \"{field}\" of a {kind}", kind = .kind.label())]
    WrongValue {
        /// The kind of record.
        kind: Kind,
        /// The field named.
        field: String,
    },
    /// A text is too long.
    #[error("the text of \"{field}\" is longer than {limit} bytes: split it into notes")]
    TooLong {
        /// The field.
        field: String,
        /// The limit.
        limit: usize,
    },
    /// More damaged than there are.
    #[error("{units} of {total} cannot be damaged: check both numbers")]
    UnitsOverTotal {
        /// Damaged.
        units: u32,
        /// There are.
        total: u32,
    },
    /// A place must be an elevation, slope, room, structure or eave opening.
    #[error("{0} is not a place: name an elevation, slope, room, structure or eave opening")]
    NotAPlace(RecordRef),
    /// The record cannot have hits.
    #[error("hits are counted for a finding or a test square, not for {0}")]
    NotCounted(RecordRef),
    /// A strike needs a reason.
    #[error("say why the record is struck")]
    NoReason,
    /// A change to the scope needs a reason.
    #[error("say why the line is changed")]
    NoChangeReason,
    /// A change to the scope does not say enough.
    #[error("a change to the scope lacks something: state {0}")]
    ScopeChangeLacks(&'static str),
    /// There is nothing to settle.
    #[error("\"{0}\" has only one statement: there is nothing to settle")]
    NoConflict(String),
    /// Two people stated the field differently.
    #[error("\"{0}\" has two different statements: settle them before changing it")]
    Unsettled(String),
    /// The job has another id.
    #[error("this document belongs to another job")]
    OtherJob,
    /// The document refused it.
    #[error("the document could not take the action: {0}")]
    Document(String),
}
