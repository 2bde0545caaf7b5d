//! One action becomes one change.

use std::collections::HashMap;

use automerge::hydrate::Value as Hydrated;
use automerge::transaction::{CommitOptions, Transactable, Transaction};
use automerge::{Automerge, AutomergeError, ObjId, ObjType, ROOT, ReadDoc, ScalarValue, Value};

use super::genesis::{KEY_CREW, KEY_JOB};
use super::hydrate::{Collections, KEY_STRUCK, PREFIX_SHOWS, PREFIX_TALLY};
use super::{Action, ActionError, scope_change};
use crate::job::{
    AnyFields, CrewMember, DeviceId, FieldRead, FieldValue, Job, Kind, Millis, RecordRef, Scalar,
};
use crate::limits;

impl From<AutomergeError> for ActionError {
    fn from(error: AutomergeError) -> Self {
        ActionError::Document(error.to_string())
    }
}

/// Checks an action against the job as it stands. What passes here is applied whole.
pub(super) fn check(job: &Job, action: &Action) -> Result<(), ActionError> {
    let target = action.target();
    let header = job.records.header(&target);
    scope_change::check(job, action)?;
    match action {
        Action::Begin { job: id, property } => {
            if job.id.is_some_and(|known| known != *id) {
                return Err(ActionError::OtherJob);
            }
            check_fields(job, &AnyFields::Property(property.clone()))?;
        }
        Action::Add {
            record,
            hits,
            shows,
            ..
        } => {
            if header.is_some() {
                return Err(ActionError::Exists(target));
            }
            if hits.is_some() {
                check_counted(&target)?;
            }
            check_fields(job, record)?;
            for shown in shows {
                check_exists(job, shown)?;
            }
        }
        Action::Amend { set, clear, .. } => {
            check_stands(job, &target)?;
            check_fields(job, set)?;
            for field in clear {
                check_field_name(target.kind, field)?;
            }
            check_settled(job, &target, set, clear)?;
            check_units(job, &target, set)?;
        }
        Action::Strike { reason, .. } => {
            check_stands(job, &target)?;
            if reason.trim().is_empty() {
                return Err(ActionError::NoReason);
            }
            check_text(KEY_STRUCK, reason)?;
        }
        Action::Reinstate { .. } => check_exists(job, &target)?,
        Action::Count { .. } => {
            check_counted(&target)?;
            check_stands(job, &target)?;
        }
        Action::Attach { to, .. } => {
            check_stands(job, &target)?;
            check_exists(job, to)?;
        }
        Action::Detach { .. } => check_stands(job, &target)?,
        Action::Settle { field, value, .. } => {
            check_exists(job, &target)?;
            check_field_name(target.kind, field)?;
            let known = header.is_some_and(|h| h.conflicts.iter().any(|c| c.field == *field));
            if !known {
                return Err(ActionError::NoConflict(field.clone()));
            }
            if let Some(value) = value {
                let mut probe = AnyFields::empty(target.kind);
                if probe.read(field, value.as_ref()) != FieldRead::Taken {
                    let (kind, field) = (target.kind, field.clone());
                    return Err(ActionError::WrongValue { kind, field });
                }
                check_fields(job, &probe)?;
            }
        }
    }
    Ok(())
}

fn check_exists(job: &Job, at: &RecordRef) -> Result<(), ActionError> {
    match job.records.header(at) {
        Some(_) => Ok(()),
        None => Err(ActionError::NoSuchRecord(at.clone())),
    }
}

fn check_stands(job: &Job, at: &RecordRef) -> Result<(), ActionError> {
    match job.records.header(at) {
        Some(header) if header.struck.is_some() => Err(ActionError::IsStruck(at.clone())),
        Some(_) => Ok(()),
        None => Err(ActionError::NoSuchRecord(at.clone())),
    }
}

fn check_counted(at: &RecordRef) -> Result<(), ActionError> {
    if matches!(at.kind, Kind::Finding | Kind::TestSquare) {
        Ok(())
    } else {
        Err(ActionError::NotCounted(at.clone()))
    }
}

fn check_field_name(kind: Kind, field: &str) -> Result<(), ActionError> {
    if kind.keys().contains(&field) {
        Ok(())
    } else {
        Err(ActionError::NoSuchField {
            kind,
            field: field.to_owned(),
        })
    }
}

fn check_text(field: &str, text: &str) -> Result<(), ActionError> {
    let limit = limits::TEXT_BYTES;
    if text.len() > limit {
        return Err(ActionError::TooLong {
            field: field.to_owned(),
            limit,
        });
    }
    Ok(())
}

/// Tables read from files may be longer than what a person writes.
fn bytes_limit(kind: Kind) -> usize {
    match kind {
        Kind::MeasurementReport | Kind::OtherScope => limits::TABLE_BYTES,
        _ => limits::TEXT_BYTES,
    }
}

fn check_fields(job: &Job, fields: &AnyFields) -> Result<(), ActionError> {
    let mut result = Ok(());
    fields.each(&mut |field, value| {
        let checked = match &value {
            Scalar::Str(text) => check_text(field, text).and_then(|()| {
                let pointer = matches!(
                    field,
                    "place" | "slope" | "other_slope" | "about" | "question" | "visit" | "other"
                ) || (field == "photo" && fields.kind() == Kind::Answer);
                if !pointer {
                    return Ok(());
                }
                let Some(at) = RecordRef::from_scalar(value.as_ref()) else {
                    return Ok(());
                };
                if matches!(field, "place" | "slope" | "other_slope") && !at.is_place() {
                    return Err(ActionError::NotAPlace(at));
                }
                check_exists(job, &at)
            }),
            Scalar::Bytes(bytes) if bytes.len() > bytes_limit(fields.kind()) => {
                Err(ActionError::TooLong {
                    field: field.to_owned(),
                    limit: bytes_limit(fields.kind()),
                })
            }
            Scalar::Num(number) if !number.is_finite() => Err(ActionError::WrongValue {
                kind: fields.kind(),
                field: field.to_owned(),
            }),
            _ => Ok(()),
        };
        if result.is_ok() {
            result = checked;
        }
    });
    result?;
    if let AnyFields::Finding(finding) = fields
        && let (Some(units), Some(total)) = (finding.units, finding.units_total)
        && units > total
    {
        return Err(ActionError::UnitsOverTotal { units, total });
    }
    Ok(())
}

/// A field with two statements is changed by settling it, so that nobody's word is lost unseen.
fn check_settled(
    job: &Job,
    at: &RecordRef,
    set: &AnyFields,
    clear: &[String],
) -> Result<(), ActionError> {
    let Some(header) = job.records.header(at) else {
        return Ok(());
    };
    let mut named: Vec<&str> = clear.iter().map(String::as_str).collect();
    set.each(&mut |field, _| named.push(field));
    match header
        .conflicts
        .iter()
        .find(|c| named.contains(&c.field.as_str()))
    {
        Some(conflict) => Err(ActionError::Unsettled(conflict.field.clone())),
        None => Ok(()),
    }
}

/// Damaged and total may be stated at different times.
fn check_units(job: &Job, at: &RecordRef, set: &AnyFields) -> Result<(), ActionError> {
    let AnyFields::Finding(set) = set else {
        return Ok(());
    };
    let Some(finding) = job.records.findings.get(&at.id) else {
        return Ok(());
    };
    let units = set.units.or(finding.units);
    let total = set.units_total.or(finding.units_total);
    match (units, total) {
        (Some(units), Some(total)) if units > total => {
            Err(ActionError::UnitsOverTotal { units, total })
        }
        _ => Ok(()),
    }
}

/// Writes a checked action. False: it changes nothing, and no change was made.
pub(super) fn write(
    doc: &mut Automerge,
    collections: &Collections,
    action: &Action,
    device: DeviceId,
    now: Millis,
) -> Result<bool, ActionError> {
    let mut tx = doc.transaction();
    let wrote = write_ops(&mut tx, collections, action, device);
    match wrote {
        Ok(()) if tx.pending_ops() > 0 => {
            tx.commit_with(
                CommitOptions::default()
                    .with_time(now)
                    .with_message(action.message()),
            );
            Ok(true)
        }
        Ok(()) => {
            tx.rollback();
            Ok(false)
        }
        Err(error) => {
            tx.rollback();
            Err(error)
        }
    }
}

/// Writes who records with this device.
pub(super) fn write_member(
    doc: &mut Automerge,
    device: DeviceId,
    member: &CrewMember,
    now: Millis,
) -> Result<(), ActionError> {
    let bytes =
        rmp_serde::to_vec(member).map_err(|error| ActionError::Document(error.to_string()))?;
    let mut tx = doc.transaction();
    let crew = match tx.get(ROOT, KEY_CREW)? {
        Some((Value::Object(ObjType::Map), id)) => id,
        _ => return Err(ActionError::Document("the crew list is missing".to_owned())),
    };
    tx.put(&crew, device.to_string(), ScalarValue::Bytes(bytes))?;
    tx.commit_with(CommitOptions::default().with_time(now).with_message("join"));
    Ok(())
}

fn write_ops(
    tx: &mut Transaction<'_>,
    collections: &Collections,
    action: &Action,
    device: DeviceId,
) -> Result<(), ActionError> {
    let target = action.target();
    match action {
        Action::Begin { job, property } => {
            put_changed(tx, &ROOT, KEY_JOB, Some(ScalarValue::from(job.to_string())))?;
            let object = record_object(tx, collections, &target)?;
            put_fields(tx, &object, &AnyFields::Property(property.clone()))?;
        }
        Action::Add {
            id,
            record,
            hits,
            shows,
        } => {
            let mut map: HashMap<String, Hydrated> = HashMap::new();
            record.each(&mut |key, value| {
                map.insert(key.to_owned(), Hydrated::Scalar(stored(value)));
            });
            if let Some(hits) = hits {
                let key = format!("{PREFIX_TALLY}{device}");
                map.insert(key, Hydrated::Scalar(ScalarValue::Int(i64::from(*hits))));
            }
            for shown in shows {
                let key = format!("{PREFIX_SHOWS}{shown}");
                map.insert(key, Hydrated::Scalar(ScalarValue::Boolean(true)));
            }
            let collection = collection(collections, target.kind)?;
            let value = Hydrated::Map(map.into());
            tx.batch_create_object(collection, id.as_str(), &value, false)?;
        }
        Action::Amend { set, clear, .. } => {
            let object = record_object(tx, collections, &target)?;
            put_fields(tx, &object, set)?;
            for field in clear {
                put_changed(tx, &object, field, None)?;
            }
        }
        Action::Strike { reason, .. } => {
            let object = record_object(tx, collections, &target)?;
            tx.put(&object, KEY_STRUCK, reason.as_str())?;
        }
        Action::Reinstate { .. } => {
            let object = record_object(tx, collections, &target)?;
            put_changed(tx, &object, KEY_STRUCK, None)?;
        }
        Action::Count { hits, .. } => {
            let object = record_object(tx, collections, &target)?;
            let key = format!("{PREFIX_TALLY}{device}");
            put_changed(tx, &object, &key, Some(ScalarValue::Int(i64::from(*hits))))?;
        }
        Action::Attach { to, .. } => {
            let object = record_object(tx, collections, &target)?;
            let key = format!("{PREFIX_SHOWS}{to}");
            put_changed(tx, &object, &key, Some(ScalarValue::Boolean(true)))?;
        }
        Action::Detach { from, .. } => {
            let object = record_object(tx, collections, &target)?;
            let key = format!("{PREFIX_SHOWS}{from}");
            put_changed(tx, &object, &key, Some(ScalarValue::Boolean(false)))?;
        }
        Action::Settle { field, value, .. } => {
            let object = record_object(tx, collections, &target)?;
            let value = value.clone().map_or(ScalarValue::Null, stored);
            tx.put(&object, field.as_str(), value)?;
        }
    }
    Ok(())
}

fn collection(collections: &Collections, kind: Kind) -> Result<&ObjId, ActionError> {
    collections.by_kind.get(&kind).ok_or_else(|| {
        ActionError::Document(format!("the list of {} is missing", kind.collection()))
    })
}

fn record_object(
    tx: &Transaction<'_>,
    collections: &Collections,
    at: &RecordRef,
) -> Result<ObjId, ActionError> {
    match tx.get(collection(collections, at.kind)?, at.id.as_str())? {
        Some((Value::Object(ObjType::Map), id)) => Ok(id),
        _ => Err(ActionError::NoSuchRecord(at.clone())),
    }
}

fn put_fields(
    tx: &mut Transaction<'_>,
    object: &ObjId,
    fields: &AnyFields,
) -> Result<(), ActionError> {
    let mut values = Vec::new();
    fields.each(&mut |key, value| values.push((key, value)));
    for (key, value) in values {
        put_changed(tx, object, key, Some(stored(value)))?;
    }
    Ok(())
}

/// Writes a value where it differs from what stands, or where statements differ.
fn put_changed(
    tx: &mut Transaction<'_>,
    object: &ObjId,
    key: &str,
    value: Option<ScalarValue>,
) -> Result<(), ActionError> {
    let standing = tx.get_all(object, key)?;
    let same = match (standing.as_slice(), &value) {
        ([], None) => true,
        ([(Value::Scalar(old), _)], Some(new)) => old.as_ref() == new,
        ([(Value::Scalar(old), _)], None) => matches!(old.as_ref(), ScalarValue::Null),
        _ => false,
    };
    if !same {
        tx.put(object, key, value.unwrap_or(ScalarValue::Null))?;
    }
    Ok(())
}

fn stored(value: Scalar) -> ScalarValue {
    match value {
        Scalar::Bool(v) => ScalarValue::Boolean(v),
        Scalar::Int(v) => ScalarValue::Int(v),
        Scalar::Num(v) => ScalarValue::F64(v),
        Scalar::Str(v) => ScalarValue::Str(v.into()),
        Scalar::Bytes(v) => ScalarValue::Bytes(v),
    }
}
