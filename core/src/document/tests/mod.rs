//! Merging, conflicts and striking.

mod gate;
mod random;

use std::collections::BTreeMap;

use automerge::transaction::Transactable;
use ed25519_dalek::{SigningKey, VerifyingKey};

use super::*;
use crate::job::*;

struct Device {
    author: Author,
    key: SigningKey,
    document: Document,
    rows: Vec<ChangeRow>,
    clock: i64,
}

impl Device {
    fn new(n: u8) -> Self {
        let author = Author {
            device: DeviceId::from_bytes([n; 16]),
            nonce: [n; 8],
        };
        let document = Document::new().unwrap();
        let key = SigningKey::from_bytes(&[n; 32]);
        Self {
            author,
            key,
            document,
            rows: Vec::new(),
            clock: 1_000 * i64::from(n),
        }
    }

    fn act(&mut self, action: &Action) -> Result<Option<Applied>, ActionError> {
        self.clock += 10;
        let applied = self
            .document
            .apply(self.author, &self.key, action, self.clock)?;
        if let Some(applied) = &applied {
            self.rows.push(applied.row.clone());
        }
        assert_kept_in_step(&self.document);
        Ok(applied)
    }

    fn add(&mut self, id: &str, record: impl Into<AnyFields>) -> RecordRef {
        let record = record.into();
        let at = RecordRef::new(record.kind(), id.parse().unwrap());
        let action = Action::Add {
            id: at.id.clone(),
            record,
            hits: None,
            shows: vec![],
        };
        self.act(&action).unwrap().unwrap();
        at
    }

    fn take(&mut self, batch: &[ChangeRow], keys: &BTreeMap<DeviceId, VerifyingKey>) {
        let admitted = self.document.admit(batch, &Gate::of_keys(keys)).unwrap();
        self.rows.extend(admitted.rows.clone());
        self.document = admitted.document;
        assert_kept_in_step(&self.document);
    }
}

/// The structs kept in memory are those that a fresh walk gives.
fn assert_kept_in_step(document: &Document) {
    let again = Document::load(&document.save()).unwrap();
    assert_eq!(again.job, document.job);
    assert_eq!(again.table(), document.table());
}

fn keys(devices: &[&Device]) -> BTreeMap<DeviceId, VerifyingKey> {
    devices
        .iter()
        .map(|d| (d.author.device, d.key.verifying_key()))
        .collect()
}

fn dents(condition: Condition) -> Finding {
    Finding {
        place: Some(RecordRef::side(Side::Front)),
        component: Some(Component::Gutter),
        condition: Some(condition),
        ..Finding::default()
    }
}

#[test]
fn different_statements_are_a_conflict_until_settled() {
    let (mut rep, mut helper) = (Device::new(1), Device::new(2));
    let keys = keys(&[&rep, &helper]);
    let at = rep.add("dents", dents(Condition::Damaged));
    helper.take(&rep.rows, &keys);
    let say = |cause| Action::Amend {
        id: at.id.clone(),
        set: Finding {
            cause: Some(cause),
            ..Finding::default()
        }
        .into(),
        clear: vec![],
    };
    rep.act(&say(Cause::Hail)).unwrap();
    helper.act(&say(Cause::Mechanical)).unwrap();
    let (from_rep, from_helper) = (rep.rows.clone(), helper.rows[1..].to_vec());
    rep.take(&from_helper, &keys);
    helper.take(&from_rep, &keys);
    assert_eq!(rep.document.heads(), helper.document.heads());
    assert_eq!(rep.document.job(), helper.document.job());
    let conflicts = rep.document.job().conflicts();
    assert_eq!(conflicts.len(), 1);
    let (where_, conflict) = &conflicts[0];
    assert_eq!((where_, conflict.field.as_str()), (&at, "cause"));
    let said: Vec<_> = conflict
        .statements
        .iter()
        .map(|s| (s.by.device, s.value.clone()))
        .collect();
    assert_eq!(
        said,
        [
            (rep.author.device, Some(Scalar::Str("hail".into()))),
            (helper.author.device, Some(Scalar::Str("mechanical".into()))),
        ]
    );
    assert_eq!(
        rep.act(&say(Cause::Wind)).unwrap_err(),
        ActionError::Unsettled("cause".into())
    );
    // Either value may be chosen, the one shown included.
    for chosen in ["hail", "mechanical"] {
        let mut settled = Device {
            document: rep.document.clone(),
            rows: vec![],
            ..Device::new(1)
        };
        settled.author.nonce = [9; 8];
        let action = Action::Settle {
            at: at.clone(),
            field: "cause".into(),
            value: Some(Scalar::Str(chosen.into())),
        };
        settled.act(&action).unwrap().expect("settling is a change");
        assert!(settled.document.job().conflicts().is_empty());
        let cause = settled.document.job().records.findings[&at.id].cause;
        assert_eq!(cause.map(Cause::code), Some(chosen));
        assert_eq!(
            settled.act(&action).unwrap_err(),
            ActionError::NoConflict("cause".into())
        );
    }
}

#[test]
fn equal_statements_are_no_conflict_and_tallies_add_up() {
    let (mut rep, mut helper) = (Device::new(1), Device::new(2));
    let keys = keys(&[&rep, &helper]);
    let at = rep.add("dents", dents(Condition::Damaged));
    helper.take(&rep.rows, &keys);
    for (device, hits) in [(&mut rep, 3), (&mut helper, 4)] {
        let set = Finding {
            cause: Some(Cause::Hail),
            ..Finding::default()
        }
        .into();
        device
            .act(&Action::Amend {
                id: at.id.clone(),
                set,
                clear: vec![],
            })
            .unwrap();
        device
            .act(&Action::Count {
                at: at.clone(),
                hits,
            })
            .unwrap();
    }
    rep.take(&helper.rows[1..], &keys);
    assert!(rep.document.job().conflicts().is_empty());
    assert_eq!(rep.document.job().records.findings[&at.id].hits(), Some(7));
}

#[test]
fn a_struck_record_keeps_what_another_device_wrote_meanwhile() {
    let (mut rep, mut helper) = (Device::new(1), Device::new(2));
    let keys = keys(&[&rep, &helper]);
    let at = rep.add("dents", dents(Condition::Damaged));
    helper.take(&rep.rows, &keys);
    let unexplained = Action::Strike {
        at: at.clone(),
        reason: " ".into(),
    };
    assert_eq!(rep.act(&unexplained).unwrap_err(), ActionError::NoReason);
    rep.act(&Action::Strike {
        at: at.clone(),
        reason: "a shadow".into(),
    })
    .unwrap();
    let set = Finding {
        text: Some("three dents".into()),
        ..Finding::default()
    }
    .into();
    helper
        .act(&Action::Amend {
            id: at.id.clone(),
            set,
            clear: vec![],
        })
        .unwrap();
    rep.take(&helper.rows[1..], &keys);
    let finding = &rep.document.job().records.findings[&at.id];
    assert_eq!(finding.text.as_deref(), Some("three dents"));
    let struck = finding.struck.clone().unwrap();
    assert_eq!(
        (struck.reason.as_str(), struck.by.device),
        ("a shadow", rep.author.device)
    );
    let set = Finding {
        storey: Some(1),
        ..Finding::default()
    }
    .into();
    let amend = Action::Amend {
        id: at.id.clone(),
        set,
        clear: vec![],
    };
    assert_eq!(
        rep.act(&amend).unwrap_err(),
        ActionError::IsStruck(at.clone())
    );
    rep.act(&Action::Reinstate { at }).unwrap();
    rep.act(&amend).unwrap();
}

#[test]
fn mistakes_are_named_and_change_nothing() {
    let mut rep = Device::new(1);
    let at = rep.add("shutters", dents(Condition::Damaged));
    let heads = rep.document.heads();
    let set = |finding: Finding| Action::Amend {
        id: at.id.clone(),
        set: finding.into(),
        clear: vec![],
    };
    let nine_of_eight = Finding {
        units: Some(9),
        units_total: Some(8),
        ..Finding::default()
    };
    let nowhere = Finding {
        place: "slope/none".parse().ok(),
        ..Finding::default()
    };
    let no_place = Finding {
        place: Some(at.clone()),
        ..Finding::default()
    };
    let long = Finding {
        text: Some("x".repeat(crate::limits::TEXT_BYTES + 1)),
        ..Finding::default()
    };
    let long_table = OtherScope {
        rows: Some(serde_bytes::ByteBuf::from(vec![
            0;
            crate::limits::TABLE_BYTES
                + 1
        ])),
        ..OtherScope::default()
    };
    let long_table = Action::Add {
        id: RecordId::fixed("theirs"),
        record: long_table.into(),
        hits: None,
        shows: vec![],
    };
    let clear = Action::Amend {
        id: at.id.clone(),
        set: Finding::default().into(),
        clear: vec!["colour".into()],
    };
    let cases = [
        (
            set(nine_of_eight),
            "9 of 8 cannot be damaged: check both numbers",
        ),
        (
            set(nowhere),
            "there is no slope/none in this job: check its id with the list of records",
        ),
        (
            set(no_place),
            "finding/shutters is not a place: name an elevation, slope, room, structure or eave opening",
        ),
        (
            set(long),
            "the text of \"text\" is longer than 32768 bytes: split it into notes",
        ),
        (
            long_table,
            "the text of \"rows\" is longer than 262144 bytes: split it into notes",
        ),
        (clear, "a finding has no field \"colour\""),
    ];
    for (action, words) in cases {
        assert_eq!(rep.act(&action).unwrap_err().to_string(), words);
        assert_eq!(rep.document.heads(), heads);
    }
    let same = set(Finding {
        condition: Some(Condition::Damaged),
        ..Finding::default()
    });
    assert!(
        rep.act(&same).unwrap().is_none(),
        "a value that stands is written again"
    );
}

#[test]
fn keys_of_a_newer_version_survive() {
    let mut rep = Device::new(1);
    let at = rep.add("dents", dents(Condition::Damaged));
    let findings = rep.document.collections.by_kind[&Kind::Finding].clone();
    let mut tx = rep.document.doc.transaction();
    let (_, object) = automerge::ReadDoc::get(&tx, &findings, at.id.as_str())
        .unwrap()
        .unwrap();
    tx.put(&object, "moisture", 12).unwrap();
    tx.put(&object, "severity", "catastrophic").unwrap();
    tx.put(&object, "units", "three").unwrap();
    tx.commit();
    let read = Document::load(&rep.document.save()).unwrap();
    let finding = &read.job().records.findings[&at.id];
    assert_eq!(finding.unread, ["moisture", "severity", "units"]);
    assert_eq!(finding.condition, Some(Condition::Damaged));
}

#[test]
fn history_tells_who_did_what() {
    let mut rep = Device::new(1);
    let at = rep.add("dents", dents(Condition::Damaged));
    rep.act(&Action::Count {
        at: at.clone(),
        hits: 3,
    })
    .unwrap();
    let history = rep.document.history();
    assert_eq!(history.len(), 2);
    assert_eq!(history[0].what, "add finding");
    assert_eq!(history[0].at, Some(at.clone()));
    assert_eq!(
        history[0].by,
        Stamp {
            device: rep.author.device,
            at: 1010
        }
    );
    let mut wrote = history[0].wrote.clone();
    wrote.sort();
    let pair = |a: &str, b: &str| (a.to_owned(), b.to_owned());
    assert_eq!(
        wrote,
        [
            pair("component", "gutter"),
            pair("condition", "damaged"),
            pair("place", "elevation/front"),
        ]
    );
    assert_eq!(
        (history[1].what.as_str(), history[1].number),
        ("count hits, finding", 2)
    );
}
