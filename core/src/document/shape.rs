//! What a change of a peer may write: exactly what the actions write, and nothing else.
//!
//! The CRDT itself would take more: a change that deletes a collection, puts a list where a map
//! stands, or counts in another's name. Such a change is refused whole, whoever signed it.

use std::collections::BTreeSet;

use automerge::legacy::{Key, ObjectId, OpType};
use automerge::{Automerge, ExpandedChange, ObjId, ObjType, ReadDoc, ScalarValue};

use super::genesis::KEY_JOB;
use super::hydrate::{Collections, PREFIX_TALLY};
use super::{Author, Refusal};
use crate::job::RecordId;
use crate::sorted::Keyed;

/// An operation's name: its number and author.
type OpName = (u64, Vec<u8>);

/// Sees that changes, in causal order, write only what actions write.
pub(super) fn check(
    doc: &Automerge,
    collections: &Collections,
    changes: &[ExpandedChange],
) -> Result<(), Refusal> {
    let shape = Shape::of(collections);
    // Records that the batch itself makes.
    let mut made: BTreeSet<OpName> = BTreeSet::new();
    for change in changes {
        let actor = change.actor_id.to_bytes();
        let author = Author::from_bytes(actor)
            .ok_or_else(|| refuse("an author that is no device"))?
            .device
            .to_string();
        for (number, op) in (change.start_op.get()..).zip(&change.operations) {
            let Key::Map(key) = &op.key else {
                return Err(refuse("a list"));
            };
            if op.insert {
                return Err(refuse("a list"));
            }
            let value = match &op.action {
                OpType::Put(value) => Some(value),
                OpType::Make(ObjType::Map) => None,
                // Settling for the statement that is shown takes the others away.
                OpType::Delete if op.pred.iter().next().is_some() => Some(&ScalarValue::Null),
                other => {
                    return Err(refuse(&format!(
                        "{}, which no action does",
                        name_of_work(other)
                    )));
                }
            };
            let sound = match (&op.obj, value) {
                (ObjectId::Root, Some(ScalarValue::Str(_))) => key == KEY_JOB,
                (ObjectId::Root, _) => false,
                (ObjectId::Id(id), value) => {
                    let name = (id.counter(), id.actor().to_bytes().to_vec());
                    if shape.crew.as_ref() == Some(&name) {
                        matches!(value, Some(ScalarValue::Bytes(_))) && *key == author
                    } else if shape.collections.contains(&name) {
                        let fresh = value.is_none() && op.pred.iter().next().is_none();
                        made.insert((number, actor.to_vec()));
                        fresh && key.parse::<RecordId>().is_ok()
                    } else {
                        let record =
                            made.contains(&name) || shape.is_record(doc, id.counter(), id.actor());
                        record && value.is_some_and(|value| may_stand(key, value, &author))
                    }
                }
            };
            if !sound {
                return Err(refuse("a place or value that no action writes"));
            }
        }
    }
    Ok(())
}

/// A field's value. Hits are counted in one's own name only.
fn may_stand(key: &str, value: &ScalarValue, author: &str) -> bool {
    if key
        .strip_prefix(PREFIX_TALLY)
        .is_some_and(|device| device != author)
    {
        return false;
    }
    matches!(
        value,
        ScalarValue::Str(_)
            | ScalarValue::Bytes(_)
            | ScalarValue::Int(_)
            | ScalarValue::F64(_)
            | ScalarValue::Boolean(_)
            | ScalarValue::Null
    )
}

fn name_of_work(work: &OpType) -> &'static str {
    match work {
        OpType::Make(_) => "a list or text",
        OpType::Delete => "a deletion",
        OpType::Increment(_) => "an increment",
        OpType::Put(_) => "a value",
        OpType::MarkBegin(_) | OpType::MarkEnd(_) => "a mark",
    }
}

struct Shape {
    collections: BTreeSet<OpName>,
    crew: Option<OpName>,
}

impl Shape {
    fn of(collections: &Collections) -> Self {
        Self {
            collections: collections.by_kind.values().filter_map(name_of).keyed(),
            crew: collections.crew.as_ref().and_then(name_of),
        }
    }

    /// Whether an object of the document is a record: a map right below a collection.
    fn is_record(&self, doc: &Automerge, counter: u64, actor: &automerge::ActorId) -> bool {
        let object = ObjId::Id(counter, actor.clone(), 0);
        let Ok(mut parents) = doc.parents(&object) else {
            return false;
        };
        let above = parents.next().and_then(|parent| name_of(&parent.obj));
        above.is_some_and(|above| self.collections.contains(&above))
    }
}

fn name_of(object: &ObjId) -> Option<OpName> {
    match object {
        ObjId::Id(counter, actor, _) => Some((*counter, actor.to_bytes().to_vec())),
        ObjId::Root => None,
    }
}

fn refuse(what: &str) -> Refusal {
    Refusal::Malformed(format!("a change that writes {what}"))
}
