//! Which records are the office's, and who may write them.
//!
//! The crew records what it sees; the office asks and decides. A decision that a phone could sign
//! would be worth nothing, so every replica refuses one, by the signer of the change and not by
//! who brings it.

use std::collections::{BTreeMap, BTreeSet};

use automerge::legacy::{Key, ObjectId};
use automerge::{Automerge, Change, ExpandedChange, ObjId, ObjType, ReadDoc};

use super::hydrate::Collections;
use super::{Author, ChangeRow, Document, Refusal};
use crate::job::{DeviceId, Kind, Role};

/// The kinds of record that only the office writes, each with the reason.
pub const OFFICE_KINDS: &[(Kind, &str)] = &[
    (Kind::Question, "the office asks, the crew answers"),
    (
        Kind::ScopeChange,
        "what the scope says is the estimator's to decide",
    ),
    (
        Kind::OtherScope,
        "papers of others come to the office, not to the house",
    ),
    (
        Kind::ScopeMatch,
        "comparing with another scope is the estimator's work",
    ),
];

/// Whether somebody in this part may write records of this kind.
pub fn may_write(role: Role, kind: Kind) -> bool {
    match role {
        Role::Estimator | Role::Admin => true,
        Role::Crew => !OFFICE_KINDS.iter().any(|(office, _)| *office == kind),
        // The office's server keeps and passes on; it records nothing.
        Role::Office => false,
    }
}

impl Document {
    /// Sees that no change of a batch writes what its author may not. The batch is in this
    /// document already; `roles` names the part of each author's person.
    ///
    /// # Errors
    /// [`Refusal::Forbidden`] naming the device and the kind of record.
    pub fn check_writers(
        &self,
        rows: &[ChangeRow],
        roles: &BTreeMap<DeviceId, Role>,
    ) -> Result<(), Refusal> {
        let mut decoded = Vec::new();
        for row in rows {
            if roles.get(&row.author.device) == Some(&Role::Crew) {
                let change = Change::from_bytes(row.bytes.clone())
                    .map_err(|error| Refusal::Malformed(error.to_string()))?;
                decoded.push(change.decode());
            }
        }
        check_decoded(&self.doc, &self.collections, &decoded, roles)
    }
}

/// The same of changes that were decoded already.
pub(super) fn check_decoded(
    doc: &Automerge,
    collections: &Collections,
    changes: &[ExpandedChange],
    roles: &BTreeMap<DeviceId, Role>,
) -> Result<(), Refusal> {
    let device = |change: &ExpandedChange| {
        Some(Author::from_bytes(change.actor_id.to_bytes())?.device)
            .filter(|device| roles.get(device) == Some(&Role::Crew))
    };
    if !changes.iter().any(|change| device(change).is_some()) {
        return Ok(());
    }
    let office = office_objects(doc, collections);
    for change in changes {
        let Some(device) = device(change) else {
            continue;
        };
        for op in &change.operations {
            let kind = match (&op.obj, &op.key) {
                (ObjectId::Id(id), _) => {
                    office.get(&(id.counter(), id.actor().to_bytes().to_vec()))
                }
                // A collection itself is never put anew.
                (ObjectId::Root, Key::Map(key)) => Kind::from_collection(key)
                    .and_then(|kind| OFFICE_KINDS.iter().find(|(k, _)| *k == kind))
                    .map(|(kind, _)| kind),
                (ObjectId::Root, Key::Seq(_)) => None,
            };
            if let Some(kind) = kind {
                return Err(Refusal::Forbidden(format!(
                    "{} is the office's to write, and device {device} is a crew's",
                    kind.one(),
                )));
            }
        }
    }
    Ok(())
}

/// Every object inside the office's collections, the collections included.
fn office_objects(doc: &Automerge, collections: &Collections) -> BTreeMap<(u64, Vec<u8>), Kind> {
    let mut found = BTreeMap::new();
    for (kind, _) in OFFICE_KINDS {
        if let Some(collection) = collections.by_kind.get(kind) {
            let mut objects = BTreeSet::new();
            gather(doc, collection, &mut objects);
            found.extend(objects.into_iter().map(|object| (object, *kind)));
        }
    }
    found
}

/// The names of an object and of all within it. Objects within records are few and not deep.
fn gather(doc: &Automerge, object: &ObjId, found: &mut BTreeSet<(u64, Vec<u8>)>) {
    let mut open = vec![object.clone()];
    while let Some(object) = open.pop() {
        let ObjId::Id(counter, actor, _) = &object else {
            continue;
        };
        if !found.insert((*counter, actor.to_bytes().to_vec())) {
            continue;
        }
        if !matches!(doc.object_type(&object), Ok(ObjType::Map)) {
            continue;
        }
        let keys: Vec<String> = doc.keys(&object).collect();
        for key in keys {
            // All values of a key: an object that lost to another still counts.
            for (value, id) in doc.get_all(&object, key.as_str()).unwrap_or_default() {
                if value.is_object() {
                    open.push(id);
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use ed25519_dalek::SigningKey;

    use super::*;
    use crate::document::{Action, Author};
    use crate::job::{
        AnyFields, Finding, JobId, Note, Property, Question, RecordId, RecordRef, ScopeChange,
        ScopeChangeKind,
    };

    const CREW: DeviceId = DeviceId::from_bytes([1; 16]);
    const DESK: DeviceId = DeviceId::from_bytes([2; 16]);

    struct Site {
        document: Document,
        rows: Vec<ChangeRow>,
    }

    impl Site {
        fn begun() -> Self {
            let mut site = Self {
                document: Document::new().unwrap(),
                rows: Vec::new(),
            };
            let job = JobId::from_bytes([7; 16]);
            let property = Property::default();
            site.act(CREW, &Action::Begin { job, property });
            site.rows.clear();
            site
        }

        fn act(&mut self, device: DeviceId, action: &Action) {
            let author = Author {
                device,
                nonce: [device.as_bytes()[0]; 8],
            };
            let key = SigningKey::from_bytes(&[device.as_bytes()[0]; 32]);
            let applied = self.document.apply(author, &key, action, 5).unwrap();
            self.rows.extend(applied.map(|applied| applied.row));
        }

        fn add(&mut self, device: DeviceId, id: &str, record: impl Into<AnyFields>) {
            let action = Action::Add {
                id: id.parse().unwrap(),
                record: record.into(),
                hits: None,
                shows: Vec::new(),
            };
            self.act(device, &action);
        }

        fn judged(&self) -> Result<(), Refusal> {
            let roles = BTreeMap::from([(CREW, Role::Crew), (DESK, Role::Estimator)]);
            self.document.check_writers(&self.rows, &roles)
        }
    }

    fn id() -> &'static str {
        "01J00000000000000000000001"
    }

    #[test]
    fn the_crew_records_and_the_office_asks() {
        let mut site = Site::begun();
        site.add(CREW, id(), Finding::default());
        site.add(CREW, "01J00000000000000000000002", Note::default());
        site.add(DESK, "01J00000000000000000000003", Question::default());
        assert_eq!(site.judged(), Ok(()));
    }

    /// A change to the scope that says what is done, to what, and why.
    fn left_out() -> ScopeChange {
        ScopeChange {
            line: Some("elevation/front|gutter|remove_and_replace".to_owned()),
            kind: Some(ScopeChangeKind::LeftOut),
            reason: Some("it was replaced last year".to_owned()),
            ..ScopeChange::default()
        }
    }

    fn real(kind: Kind) -> AnyFields {
        match kind {
            Kind::ScopeChange => left_out().into(),
            other => AnyFields::empty(other),
        }
    }

    #[test]
    fn a_crew_device_may_not_write_what_is_the_offices() {
        for (kind, _) in OFFICE_KINDS {
            let mut site = Site::begun();
            site.add(CREW, id(), real(*kind));
            let refused = site.judged().unwrap_err().to_string();
            assert!(refused.contains(kind.label()), "{refused}");
        }
    }

    #[test]
    fn nor_amend_or_strike_it() {
        let at = RecordRef::new(Kind::ScopeChange, id().parse::<RecordId>().unwrap());
        let strike = Action::Strike {
            at,
            reason: "no".to_owned(),
        };
        let amend = Action::Amend {
            id: id().parse().unwrap(),
            set: AnyFields::from(ScopeChange {
                reason: Some("cheaper".to_owned()),
                ..ScopeChange::default()
            }),
            clear: Vec::new(),
        };
        for action in [strike, amend] {
            let mut site = Site::begun();
            site.add(DESK, id(), left_out());
            site.rows.clear();
            site.act(CREW, &action);
            assert!(matches!(site.judged(), Err(Refusal::Forbidden(_))));
            let mut site = Site::begun();
            site.add(DESK, id(), left_out());
            site.act(DESK, &action);
            assert_eq!(site.judged(), Ok(()));
        }
    }

    #[test]
    fn every_kind_has_its_writers() {
        for kind in Kind::ALL {
            assert!(may_write(Role::Estimator, *kind) && may_write(Role::Admin, *kind));
            assert!(!may_write(Role::Office, *kind));
            let office = OFFICE_KINDS.iter().any(|(k, _)| k == kind);
            assert_eq!(may_write(Role::Crew, *kind), !office);
        }
    }
}
