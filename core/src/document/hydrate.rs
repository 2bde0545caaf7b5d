//! From the document to plain structs.

use std::collections::BTreeMap;

use automerge::{Automerge, ObjId, ObjType, ROOT, ReadDoc, ScalarValueRef, Value, ValueRef};

use super::genesis::{KEY_CREW, KEY_JOB, KEY_SCHEMA, SCHEMA};
use super::stamps::Stamps;
use crate::job::{
    Conflict, CrewMember, DeviceId, FieldRead, Fields, Job, JobId, Kind, KindVisitor, Record,
    RecordId, RecordRef, Records, Scalar, ScalarRef, Statement, Struck,
};

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
            .collect();
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
        records.with_kind(
            *kind,
            &mut ReadAll {
                doc,
                stamps,
                object,
            },
        );
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
    let mut read = ReadOne {
        doc,
        stamps,
        object,
        id: &at.id,
        found: false,
    };
    job.records.with_kind(at.kind, &mut read);
    read.found
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

struct ReadAll<'a> {
    doc: &'a Automerge,
    stamps: &'a Stamps,
    object: &'a ObjId,
}

impl KindVisitor for ReadAll<'_> {
    fn visit<F: Fields>(&mut self, _: Kind, records: &mut BTreeMap<RecordId, Record<F>>) {
        // The document gives keys in order, so the map is built in one go.
        records.extend(self.doc.map_range(self.object, ..).filter_map(|item| {
            let ValueRef::Object(ObjType::Map) = item.value else {
                return None;
            };
            let id = item.key.parse::<RecordId>().ok()?;
            Some((id, read_record(self.doc, self.stamps, &item.id())))
        }));
    }
}

struct ReadOne<'a> {
    doc: &'a Automerge,
    stamps: &'a Stamps,
    object: &'a ObjId,
    id: &'a RecordId,
    found: bool,
}

impl KindVisitor for ReadOne<'_> {
    fn visit<F: Fields>(&mut self, _: Kind, records: &mut BTreeMap<RecordId, Record<F>>) {
        if let Ok(Some((Value::Object(ObjType::Map), object))) =
            self.doc.get(self.object, self.id.as_str())
        {
            records.insert(self.id.clone(), read_record(self.doc, self.stamps, &object));
            self.found = true;
        } else {
            records.remove(self.id);
        }
    }
}

fn read_record<F: Fields>(doc: &Automerge, stamps: &Stamps, object: &ObjId) -> Record<F> {
    let mut fields = F::default();
    let mut take = |key: &str, value: ScalarRef<'_>| fields.read(key, value);
    read_common(doc, stamps, object, &mut take).with(fields)
}

/// Reads what is the same for every kind; the fields are given to `take`.
fn read_common(
    doc: &Automerge,
    stamps: &Stamps,
    object: &ObjId,
    take: &mut dyn FnMut(&str, ScalarRef<'_>) -> FieldRead,
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
    statements.sort_by(|a, b| a.by.at.cmp(&b.by.at).then(a.by.device.cmp(&b.by.device)));
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
