//! Test vectors for other clients, in `fixtures/wire/vectors.json`: made here, replayed here, and
//! replayed by another client in `tests/outside`.

use automerge::legacy::{Key, ObjectId, OpType};
use automerge::{Automerge, Change, ScalarValue};
use ed25519_dalek::SigningKey;
use serde_json::{Value, json};

use super::wire::every_message;
use crate::document::{Action, Author, ChangeRow, Document, Held, Table};
use crate::job::*;
use crate::sync::batch::{pack_batch, unpack_batch};
use crate::sync::handshake::Handshake;
use crate::sync::message::{Message, pack};
use crate::sync::{answer_challenge, check_answer, table_digest};

const NOW: Millis = 1_777_777_777_000;

fn path() -> std::path::PathBuf {
    std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../fixtures/wire/vectors.json")
}

fn key(number: u8) -> SigningKey {
    SigningKey::from_bytes(&[number; 32])
}

fn device(number: u8) -> DeviceId {
    DeviceId::from_bytes([number; 16])
}

const COMPANY: CompanyId = CompanyId::from_bytes([0xc0; 16]);

fn frames() -> Vec<Value> {
    let vector = |(name, message): (&str, Message)| {
        let frame = message.encode(1).unwrap();
        // The number 1 and the type are one byte each, behind version and checksum.
        json!({ "name": name, "number": 1, "type": frame[6], "frame": hex(&frame) })
    };
    every_message().into_iter().map(vector).collect()
}

fn handshake_of(number: u8, initiator: bool) -> Handshake {
    let certificate = Certificate {
        company: COMPANY,
        device: device(number),
        key: key(number).verifying_key().to_bytes().to_vec(),
        person: format!("Person {number}"),
        role: Role::Crew,
        device_name: format!("phone {number}"),
        issued_at: NOW,
    };
    let signed = SignedCertificate::sign(&certificate, &key(9)).unwrap();
    let office = key(9).verifying_key();
    Handshake::new(signed, key(number), office, [number; 32], initiator, false).unwrap()
}

fn handshake() -> Value {
    let (first, second) = (handshake_of(1, true), handshake_of(2, false));
    let (hello, answer) = (first.hello().unwrap(), second.hello().unwrap());
    let jobs = std::collections::BTreeSet::from([JobId::from_bytes([7; 16])]);
    let proves = [
        (&first, &answer, Some(&jobs), 1u8, true),
        (&second, &hello, None, 2, false),
    ];
    let proves: Vec<Value> = proves
        .iter()
        .map(|(side, theirs, only, number, by_initiator)| {
            let prove = side.prove(theirs, *only).unwrap();
            let jobs = only.map(|jobs| jobs.iter().map(|j| hex(j.as_bytes())).collect::<Vec<_>>());
            json!({
                "secret": hex(&[*number; 32]), "by_initiator": by_initiator, "jobs": jobs,
                "signature": hex(prove.signature.as_slice()),
            })
        })
        .collect();
    let (peer, _) = first.check_hello(&answer).unwrap();
    let prove = second.prove(&hello, None).unwrap();
    assert_eq!(first.check_prove(&answer, &peer, &prove), Ok(None));
    json!({
        "office_secret": hex(&[9; 32]),
        "hellos": [hex(&pack(&hello).unwrap()), hex(&pack(&answer).unwrap())],
        "proves": proves,
    })
}

fn digests() -> Vec<Value> {
    let held = |number, byte| Held {
        number,
        short_hash: [byte; 8],
    };
    let author = |number: u8| Author {
        device: device(number),
        nonce: [number; 8],
    };
    let tables = [
        Table::new(),
        Table::from([(author(1), held(3, 0xaa)), (author(2), held(70_000, 0xbb))]),
    ];
    let vector = |table: &Table| {
        let lines: Vec<Value> = table
            .iter()
            .map(|(a, h)| json!([hex(&a.to_bytes()), h.number, hex(&h.short_hash)]))
            .collect();
        json!({ "table": lines, "digest": hex(&table_digest(table)) })
    };
    tables.iter().map(vector).collect()
}

fn recorded() -> Vec<ChangeRow> {
    let author = Author {
        device: device(1),
        nonce: [5; 8],
    };
    let member = CrewMember {
        person: "Person 1".to_owned(),
        role: Role::Crew,
        device_name: "phone 1".to_owned(),
        key: key(1).verifying_key().to_bytes().to_vec(),
    };
    let property = Property {
        street: Some("9 Quarry Lane".to_owned()),
        town: Some("Harrow Creek".to_owned()),
        latitude: Some(33.25),
        storeys: Some(2),
        ..Property::default()
    };
    let finding = Finding {
        place: Some(RecordRef::side(Side::Front)),
        component: Some(Component::Gutter),
        units: Some(1),
        units_total: Some(300),
        ..Finding::default()
    };
    let visit = Visit {
        cautions_read: Some(true),
        temperature_f: Some(-3),
        ..Visit::default()
    };
    let add = |number: u8, record: AnyFields, hits| Action::Add {
        id: RecordId::new(NOW, [number; 10]),
        record,
        hits,
        shows: Vec::new(),
    };
    let actions = [
        Action::Begin {
            job: JobId::from_bytes([7; 16]),
            property,
        },
        add(1, finding.into(), Some(7)),
        add(2, visit.into(), None),
    ];
    let mut document = Document::new().unwrap();
    let mut rows = vec![document.join(author, &key(1), &member, NOW).unwrap().row];
    for action in &actions {
        let applied = document.apply(author, &key(1), action, NOW).unwrap();
        rows.push(applied.unwrap().row);
    }
    rows
}

fn value_of(value: &ScalarValue) -> Value {
    match value {
        ScalarValue::Str(text) => json!(text.as_str()),
        ScalarValue::Int(number) => json!(number),
        ScalarValue::F64(number) => json!(number),
        ScalarValue::Boolean(yes) => json!(yes),
        ScalarValue::Bytes(bytes) => json!({ "bytes": hex(bytes) }),
        other => panic!("no action writes {other:?}"),
    }
}

fn changes(rows: &[ChangeRow]) -> Vec<Value> {
    let vector = |row: &ChangeRow| {
        let change = Change::from_bytes(row.bytes.clone()).unwrap();
        let actor = row.author.to_bytes();
        let ops: Vec<Value> = change
            .decode()
            .operations
            .iter()
            .map(|op| {
                let object = match &op.obj {
                    ObjectId::Root => Value::Null,
                    ObjectId::Id(id) => {
                        let own = id.actor().to_bytes() == actor;
                        json!([id.counter(), if own { "own" } else { "genesis" }])
                    }
                };
                let Key::Map(key) = &op.key else {
                    panic!("a list")
                };
                let value = match &op.action {
                    OpType::Put(value) => value_of(value),
                    _ => json!({ "map": true }),
                };
                json!([object, key, value])
            })
            .collect();
        json!({
            "secret": hex(&[1; 32]), "actor": hex(&actor), "seq": row.number,
            "start_op": change.start_op().get(),
            "deps": change.deps().iter().map(|dep| hex(&dep.0)).collect::<Vec<_>>(),
            "time": change.timestamp(), "message": change.message(), "ops": ops,
            "chunk": hex(&row.bytes), "hash": hex(&row.hash),
            "signature": hex(&row.signature.unwrap()),
        })
    };
    rows.iter().map(vector).collect()
}

fn vectors() -> Value {
    let first = Automerge::load(&Document::new().unwrap().export()).unwrap();
    let first = first.get_changes(&[]).remove(0);
    let rows = recorded();
    let batch = pack_batch(rows.clone(), Vec::new()).unwrap();
    let challenge = [0xcc; 40];
    let office = key(9).verifying_key().to_bytes();
    let pin = blake3::derive_key("chalkwalk office pin v1", &office);
    json!({
        "about": "Made by the core (core/src/sync/tests/vectors.rs). Bytes are hexadecimal; secrets are those of the examples alone.",
        "genesis": { "chunk": hex(first.raw_bytes()), "hash": hex(&first.hash().0) },
        "frames": frames(),
        "handshake": handshake(),
        "digests": digests(),
        "changes": changes(&rows),
        "batch": { "zstd": hex(&batch), "inflated": hex(&zstd::decode_all(batch.as_slice()).unwrap()) },
        "token": {
            "secret": hex(&[1; 32]), "company": hex(COMPANY.as_bytes()), "challenge": hex(&challenge),
            "signature": hex(&answer_challenge(&key(1), COMPANY, &challenge)),
        },
        "pin": { "office_key": hex(&office), "pin": hex(&pin[..16]) },
    })
}

/// `CHALKWALK_WRITE_VECTORS=1` writes the file anew; a change of it is a change of the wire.
#[test]
fn the_vectors_are_what_the_core_makes() {
    let mut made = vectors();
    if std::env::var_os("CHALKWALK_WRITE_VECTORS").is_some() {
        let mut text = serde_json::to_string_pretty(&made).unwrap();
        text.push('\n');
        std::fs::create_dir_all(path().parent().unwrap()).unwrap();
        std::fs::write(path(), text).unwrap();
    }
    let kept: Value = serde_json::from_slice(&std::fs::read(path()).unwrap()).unwrap();
    // Another version of the compressor may write other bytes that say the same.
    made["batch"]["zstd"] = kept["batch"]["zstd"].clone();
    assert_eq!(made, kept);
}

#[test]
fn the_vectors_are_read() {
    let kept: Value = serde_json::from_slice(&std::fs::read(path()).unwrap()).unwrap();
    let bytes = |value: &Value| unhex(value.as_str().unwrap()).unwrap();
    for (vector, (name, message)) in kept["frames"]
        .as_array()
        .unwrap()
        .iter()
        .zip(every_message())
    {
        assert_eq!(vector["name"], name);
        assert_eq!(Message::decode(&bytes(&vector["frame"])), Ok((1, message)));
    }
    let batch = unpack_batch(&bytes(&kept["batch"]["zstd"])).unwrap();
    assert_eq!(batch.rows.len(), 4);
    let mut document = Document::new().unwrap();
    document.replay(&batch.rows).unwrap();
    assert_eq!(document.job().standing_findings().count(), 1);
    let token = &kept["token"];
    let signature = bytes(&token["signature"]).try_into().unwrap();
    let challenge = bytes(&token["challenge"]);
    let verifying = key(1).verifying_key();
    assert!(check_answer(&verifying, COMPANY, &challenge, &signature));
}
