//! From the document to plain structs.

use std::collections::BTreeMap;

use automerge::{Automerge, ObjId, ObjType, ROOT, ReadDoc, ScalarValueRef, Value, ValueRef};

use super::genesis::{KEY_CREW, KEY_JOB, KEY_SCHEMA, SCHEMA};
use super::stamps::Stamps;
use crate::job::{
    Conflict, CrewMember, DeviceId, FieldRead, Job, JobId, Kind, Record, RecordId, RecordRef,
    Records, Scalar, ScalarRef, Statement, Struck, TakeField,
};
use crate::sorted::{Keyed, Sorted};

pub(super) const KEY_STRUCK: &str = "struck";
pub(super) const PREFIX_TALLY: &str = "tally:";
pub(super) const PREFIX_SHOWS: &str = "on:";

/// The objects of the collections, found once.
#[derive(Clone, Debug, Default)]
pub(super) struct Collections {
    pub(super) by_kind: BTreeMap<Kind, ObjId>,
    pub(super) crew: Option<ObjId>,
}

impl Collections {
    pub(super) fn of(doc: &Automerge) -> Self {
        let object = |key: &str| match doc.get(ROOT, key) {
            Ok(Some((Value::Object(ObjType::Map), id))) => Some(id),
            _ => None,
        };
        let by_kind = Kind::ALL
            .iter()
            .filter_map(|kind| Some((*kind, object(kind.collection())?)))
            .keyed();
        Self {
            by_kind,
            crew: object(KEY_CREW),
        }
    }
}

/// Reads everything.
pub(super) fn hydrate(doc: &Automerge, collections: &Collections, stamps: &Stamps) -> Job {
    let mut records = Records::default();
    for (kind, object) in &collections.by_kind {
        let list = records.list_mut(*kind);
        for item in doc.map_range(object, ..) {
            let ValueRef::Object(ObjType::Map) = item.value else {
                continue;
            };
            if let Ok(id) = item.key.parse::<RecordId>() {
                let at = item.id();
                list.put(id, &mut |take| read_record(doc, stamps, &at, take));
            }
        }
    }
    let mut job = Job {
        id: None,
        schema: SCHEMA,
        crew: BTreeMap::new(),
        records,
    };
    read_root(doc, collections, &mut job);
    job
}

/// Reads one record again; false where it is not in the document.
pub(super) fn rehydrate(
    doc: &Automerge,
    collections: &Collections,
    stamps: &Stamps,
    job: &mut Job,
    at: &RecordRef,
) -> bool {
    let Some(object) = collections.by_kind.get(&at.kind) else {
        return false;
    };
    let list = job.records.list_mut(at.kind);
    if let Ok(Some((Value::Object(ObjType::Map), object))) = doc.get(object, at.id.as_str()) {
        list.put(at.id.clone(), &mut |take| {
            read_record(doc, stamps, &object, take)
        });
        true
    } else {
        list.remove(&at.id);
        false
    }
}

/// The job that a document says it is of.
pub(super) fn job_id(doc: &Automerge) -> Option<JobId> {
    let (value, _) = doc.get(ROOT, KEY_JOB).ok()??;
    value.as_str().and_then(|text| text.parse().ok())
}

/// Reads the job's id, the layout's version and the crew.
pub(super) fn read_root(doc: &Automerge, collections: &Collections, job: &mut Job) {
    job.id = job_id(doc);
    if let Ok(Some((value, _))) = doc.get(ROOT, KEY_SCHEMA) {
        job.schema = value
            .as_i64()
            .and_then(|v| v.try_into().ok())
            .unwrap_or(SCHEMA);
    }
    let Some(crew) = &collections.crew else {
        return;
    };
    // As reading the whole document does: a member that can no longer be read is none.
    job.crew.clear();
    for item in doc.map_range(crew, ..) {
        let Ok(device) = item.key.parse::<DeviceId>() else {
            continue;
        };
        let ValueRef::Scalar(ScalarValueRef::Bytes(bytes)) = &item.value else {
            continue;
        };
        if let Ok(member) = rmp_serde::from_slice::<CrewMember>(bytes) {
            job.crew.insert(device, member);
        }
    }
}

/// Reads one record; its fields are given to `take`.
fn read_record(
    doc: &Automerge,
    stamps: &Stamps,
    object: &ObjId,
    take: TakeField<'_>,
) -> Record<()> {
    let mut record = Record::<()>::new(stamps.stamp(object));
    for item in doc.map_range(object, ..) {
        let key: &str = &item.key;
        let value = match &item.value {
            ValueRef::Scalar(scalar) => borrowed(scalar),
            ValueRef::Object(_) => None,
        };
        let emptied = matches!(item.value, ValueRef::Scalar(ScalarValueRef::Null));
        if key == KEY_STRUCK {
            if let Some(ScalarRef::Str(reason)) = value {
                let by = stamps.stamp(&item.id());
                record.struck = Some(Struck {
                    reason: reason.to_owned(),
                    by,
                });
            }
            continue;
        }
        if let Some(device) = key.strip_prefix(PREFIX_TALLY) {
            match (device.parse::<DeviceId>(), value) {
                (Ok(device), Some(ScalarRef::Int(hits))) => {
                    record
                        .tally
                        .insert(device, hits.clamp(0, i64::from(u32::MAX)) as u32);
                }
                _ => record.unread.push(key.to_owned()),
            }
            continue;
        }
        if let Some(shown) = key.strip_prefix(PREFIX_SHOWS) {
            match (shown.parse::<RecordRef>(), value) {
                (Ok(shown), Some(ScalarRef::Bool(yes))) => {
                    if yes {
                        record.shows.push(shown);
                    }
                }
                _ => record.unread.push(key.to_owned()),
            }
            continue;
        }
        match value.map(|value| take(key, value)) {
            Some(FieldRead::Taken) => {}
            Some(FieldRead::Mistyped | FieldRead::Unknown) => record.unread.push(key.to_owned()),
            None if emptied => {}
            None => record.unread.push(key.to_owned()),
        }
        if item.conflict
            && let Some(conflict) = read_conflict(doc, stamps, object, key)
        {
            record.conflicts.push(conflict);
        }
    }
    record
}

/// The statements of a field, where they differ.
fn read_conflict(doc: &Automerge, stamps: &Stamps, object: &ObjId, key: &str) -> Option<Conflict> {
    let values = doc.get_all(object, key).ok()?;
    let mut statements: Vec<Statement> = values
        .into_iter()
        .map(|(value, op)| Statement {
            value: value.as_scalar().and_then(owned),
            by: stamps.stamp(&op),
        })
        .collect();
    let first = statements.first()?.value.clone();
    if statements.iter().all(|statement| statement.value == first) {
        return None;
    }
    statements.order_by(|a, b| a.by.at.cmp(&b.by.at).then(a.by.device.cmp(&b.by.device)));
    Some(Conflict {
        field: key.to_owned(),
        statements,
    })
}

fn borrowed<'a>(scalar: &'a ScalarValueRef<'_>) -> Option<ScalarRef<'a>> {
    match scalar {
        ScalarValueRef::Str(v) => Some(ScalarRef::Str(v)),
        ScalarValueRef::Int(v) => Some(ScalarRef::Int(*v)),
        ScalarValueRef::Boolean(v) => Some(ScalarRef::Bool(*v)),
        ScalarValueRef::F64(v) => Some(ScalarRef::Num(*v)),
        ScalarValueRef::Bytes(v) => Some(ScalarRef::Bytes(v)),
        _ => None,
    }
}

fn owned(scalar: &automerge::ScalarValue) -> Option<Scalar> {
    use automerge::ScalarValue as S;
    match scalar {
        S::Str(v) => Some(Scalar::Str(v.to_string())),
        S::Int(v) => Some(Scalar::Int(*v)),
        S::Boolean(v) => Some(Scalar::Bool(*v)),
        S::F64(v) => Some(Scalar::Num(*v)),
        S::Bytes(v) => Some(Scalar::Bytes(v.clone())),
        _ => None,
    }
}
