//! Who did what when, read from the changes themselves.

use std::collections::BTreeMap;

use automerge::{ObjId, ROOT, ReadDoc, ValueRef};
use serde::{Deserialize, Serialize};

use super::{Author, Document};
use crate::job::{Kind, RecordId, RecordRef, ScalarRef, Stamp, hex};

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
    /// Everything that was done, in causal order, the genesis change left out.
    pub fn history(&self) -> Vec<Deed> {
        let objects = self.record_objects();
        let mut deeds = Vec::new();
        for change in self.doc.get_changes(&[]) {
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
