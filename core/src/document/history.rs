//! Who did what when, read from the changes themselves.

use std::collections::{BTreeMap, BTreeSet};

use automerge::{Change, ObjId, ROOT, ReadDoc, ValueRef};
use serde::{Deserialize, Serialize};

use super::{Author, Document};
use crate::job::{Kind, RecordId, RecordRef, ScalarRef, Stamp, hex};
use crate::sorted::Keyed;

/// One thing that a person did.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Deed {
    /// Hash of the change, hexadecimal.
    pub change: String,
    /// Who and when.
    pub by: Stamp,
    /// Number among the changes of that author.
    pub number: u64,
    /// What was done, in a few words.
    pub what: String,
    /// The record it was done to.
    pub at: Option<RecordRef>,
    /// The fields it wrote, with the values as people read them.
    pub wrote: Vec<(String, String)>,
}

impl Document {
    /// Everything that was done, in causal order and otherwise by time, the genesis change left
    /// out. The order is the same on every device.
    pub fn history(&self) -> Vec<Deed> {
        let objects = self.record_objects();
        let mut deeds = Vec::new();
        for change in in_one_order(self.doc.get_changes(&[])) {
            let Some(author) = Author::from_bytes(change.actor_id().to_bytes()) else {
                continue;
            };
            if author == Author::GENESIS {
                continue;
            }
            let mut deed = Deed {
                change: hex(&change.hash().0),
                by: Stamp {
                    device: author.device,
                    at: change.timestamp(),
                },
                number: change.seq(),
                what: change.message().unwrap_or("").to_owned(),
                at: None,
                wrote: Vec::new(),
            };
            for op in change.decode().operations {
                let automerge::legacy::ObjectId::Id(object) = &op.obj else {
                    continue;
                };
                let name = (object.counter(), object.actor().to_bytes().to_vec());
                let Some(at) = objects.get(&name) else {
                    continue;
                };
                deed.at.get_or_insert_with(|| at.clone());
                let automerge::legacy::Key::Map(key) = &op.key else {
                    continue;
                };
                let value = op
                    .primitive_value()
                    .map(|value| words(at.kind, key, &value));
                deed.wrote
                    .push((key.to_string(), value.unwrap_or_default()));
            }
            deeds.push(deed);
        }
        deeds
    }

    /// The record that each object of the document is.
    fn record_objects(&self) -> BTreeMap<(u64, Vec<u8>), RecordRef> {
        let mut objects = BTreeMap::new();
        for item in self.doc.map_range(ROOT, ..) {
            let Some(kind) = Kind::from_collection(&item.key) else {
                continue;
            };
            for record in self.doc.map_range(item.id(), ..) {
                let (ValueRef::Object(_), Ok(id)) = (&record.value, record.key.parse::<RecordId>())
                else {
                    continue;
                };
                if let ObjId::Id(counter, actor, _) = record.id() {
                    let name = (counter, actor.to_bytes().to_vec());
                    objects.insert(name, RecordRef::new(kind, id));
                }
            }
        }
        objects
    }
}

/// Changes in causal order, and among those that do not know of each other by time, then hash.
fn in_one_order(changes: Vec<Change>) -> Vec<Change> {
    let place: BTreeMap<[u8; 32], usize> = changes
        .iter()
        .enumerate()
        .map(|(i, change)| (change.hash().0, i))
        .keyed();
    let mut waits: Vec<usize> = vec![0; changes.len()];
    let mut then: Vec<Vec<usize>> = vec![Vec::new(); changes.len()];
    for (i, change) in changes.iter().enumerate() {
        for dep in change.deps() {
            if let Some(before) = place.get(&dep.0) {
                then[*before].push(i);
                waits[i] += 1;
            }
        }
    }
    let name = |i: usize| (changes[i].timestamp(), changes[i].hash().0, i);
    let mut ready: BTreeSet<_> = (0..changes.len())
        .filter(|i| waits[*i] == 0)
        .map(name)
        .keyed();
    let mut order = Vec::with_capacity(changes.len());
    while let Some((_, _, i)) = ready.pop_first() {
        order.push(i);
        for next in &then[i] {
            waits[*next] -= 1;
            if waits[*next] == 0 {
                ready.insert(name(*next));
            }
        }
    }
    let mut slots: Vec<Option<Change>> = changes.into_iter().map(Some).collect();
    order.into_iter().filter_map(|i| slots[i].take()).collect()
}

fn words(kind: Kind, key: &str, value: &automerge::ScalarValue) -> String {
    use automerge::ScalarValue as S;
    let scalar = match value {
        S::Str(v) => ScalarRef::Str(v),
        S::Int(v) => ScalarRef::Int(*v),
        S::Boolean(v) => ScalarRef::Bool(*v),
        S::F64(v) => ScalarRef::Num(*v),
        S::Bytes(v) => ScalarRef::Bytes(v),
        S::Null => return "emptied".to_owned(),
        _ => return String::new(),
    };
    kind.value_in_words(key, scalar)
        .unwrap_or_else(|| match scalar {
            ScalarRef::Str(v) => v.to_owned(),
            ScalarRef::Int(v) => v.to_string(),
            ScalarRef::Bool(v) => if v { "yes" } else { "no" }.to_owned(),
            ScalarRef::Num(v) => v.to_string(),
            ScalarRef::Bytes(v) => format!("{} bytes", v.len()),
        })
}
