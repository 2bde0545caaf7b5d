//! Altered changes that their author signed: the worst a device of the office can send.

use std::collections::BTreeMap;

use chalkwalk_core::document::{
    Action, ChangeRow, Document, Gate, Refusal, parse_change, sign_change,
};
use chalkwalk_core::env::EnvIds;
use chalkwalk_core::job::{
    AnyFields, Component, Condition, CrewMember, DeviceId, Finding, JobId, Kind, Property,
    RecordRef, Role, Side,
};
use ed25519_dalek::VerifyingKey;
use sha2::{Digest, Sha256};

use crate::large::{Recorder, photo};

/// What became of one hostile change.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Verdict {
    /// The gate refused it.
    Refused,
    /// It is a sound change, and the document with it reads back as it is.
    Sound,
    /// The gate took it and the document with it does not read back, or honest changes no longer
    /// fit on it.
    Spoiled,
}

/// A job of two devices, and the moments at which a change comes.
pub struct Changes {
    recorders: [Recorder; 2],
    rows: Vec<ChangeRow>,
    /// Documents before each of some of the rows.
    before: Vec<(usize, Document)>,
    keys: BTreeMap<DeviceId, VerifyingKey>,
}

impl Changes {
    /// The same job each time.
    #[allow(clippy::new_without_default)]
    pub fn new() -> Self {
        let mut recorders = [Recorder::new(1), Recorder::new(2)];
        let job = JobId::from_bytes([7; 16]);
        for recorder in &mut recorders {
            let member = CrewMember {
                person: "somebody".to_owned(),
                role: Role::Crew,
                device_name: "phone".to_owned(),
                key: recorder.key.verifying_key().to_bytes().to_vec(),
            };
            let joined = recorder
                .document
                .join(recorder.author, &recorder.key, &member, 5)
                .unwrap();
            recorder.rows.push(joined.row);
            let property = Property {
                street: Some("14 Larkmeadow Lane".to_owned()),
                ..Property::default()
            };
            recorder.act(&Action::Begin { job, property });
        }
        let mut rows = Vec::new();
        // They record apart and meet, three times.
        for _ in 0..3 {
            for recorder in &mut recorders {
                work(recorder);
            }
            let [one, other] = &mut recorders;
            let (from_one, from_other) = (one.rows.split_off(0), other.rows.split_off(0));
            one.document.replay(&from_other).unwrap();
            other.document.replay(&from_one).unwrap();
            rows.extend(from_one);
            rows.extend(from_other);
        }
        let keys = recorders
            .iter()
            .map(|r| (r.author.device, r.key.verifying_key()))
            .collect();
        let mut before = Vec::new();
        let mut document = Document::new().unwrap();
        for (i, row) in rows.iter().enumerate() {
            before.push((i, document.clone()));
            document.replay(std::slice::from_ref(row)).unwrap();
        }
        Self {
            recorders,
            rows,
            before,
            keys,
        }
    }

    /// The honest changes.
    pub fn rows(&self) -> &[ChangeRow] {
        &self.rows
    }

    /// The document with all of them.
    pub fn document(&self) -> &Document {
        &self.recorders[0].document
    }

    /// Sends one altered change to a document that waits for the honest one.
    pub fn send_altered(&self, random: &mut fastrand::Rng) -> Verdict {
        let (next, document) = &self.before[random.usize(..self.before.len())];
        let honest = &self.rows[*next];
        let mut chunk = honest.bytes.clone();
        alter(&mut chunk, random);
        mend(&mut chunk);
        self.send(document, *next, chunk)
    }

    /// Sends this chunk with its head mended, signed by its author as far as it names one of the
    /// two, to a document that holds half of the job.
    pub fn send_chunk(&self, mut chunk: Vec<u8>) -> Verdict {
        mend(&mut chunk);
        let at = self.before.len() / 2;
        let (next, document) = &self.before[at];
        self.send(document, *next, chunk)
    }

    fn send(&self, document: &Document, next: usize, chunk: Vec<u8>) -> Verdict {
        let honest = &self.rows[next];
        let (author, number, hash) = match parse_change(&chunk) {
            Ok(row) => (row.author, row.number, row.hash),
            Err(_) => return Verdict::Refused,
        };
        let signer = self
            .recorders
            .iter()
            .find(|r| r.author.device == author.device);
        let key = &signer.unwrap_or(&self.recorders[0]).key;
        let row = ChangeRow {
            author,
            number,
            hash,
            bytes: chunk,
            signature: Some(sign_change(key, &hash)),
        };
        let (heads, job) = (document.heads(), document.job().clone());
        let admitted = document.admit(std::slice::from_ref(&row), &Gate::of_keys(&self.keys));
        if document.heads() != heads || *document.job() != job {
            return Verdict::Spoiled;
        }
        let Ok(admitted) = admitted else {
            return Verdict::Refused;
        };
        let sound = reads_back(&admitted.document)
            && self.honest_changes_fit(&admitted.document, &row, honest);
        if sound {
            Verdict::Sound
        } else {
            Verdict::Spoiled
        }
    }

    /// The changes of the other device, which knows nothing of it, still fit.
    fn honest_changes_fit(&self, with: &Document, row: &ChangeRow, honest: &ChangeRow) -> bool {
        let others: Vec<ChangeRow> = self
            .rows
            .iter()
            .filter(|other| other.author != honest.author && other.author != row.author)
            .cloned()
            .map(|mut other| {
                let key = &self
                    .recorders
                    .iter()
                    .find(|r| r.author == other.author)
                    .unwrap_or(&self.recorders[0])
                    .key;
                other.signature = Some(sign_change(key, &other.hash));
                other
            })
            .collect();
        // As many as do not build on what the author would have said.
        for other in others {
            match with.admit(std::slice::from_ref(&other), &Gate::of_keys(&self.keys)) {
                Ok(next) if !reads_back(&next.document) => return false,
                Ok(_) => return true,
                Err(Refusal::Gap) => {}
                Err(_) => return false,
            }
        }
        true
    }
}

fn reads_back(document: &Document) -> bool {
    match Document::load(&document.export()) {
        Ok(again) => again.heads() == document.heads() && again.job() == document.job(),
        Err(_) => false,
    }
}

/// Magic, type and checksum as they must be for what follows.
fn mend(chunk: &mut [u8]) {
    let hash: [u8; 32] = Sha256::digest(chunk.get(8..).unwrap_or_default()).into();
    if chunk.len() > 8 {
        chunk[..4].copy_from_slice(&[0x85, 0x6f, 0x4a, 0x83]);
        chunk[4..8].copy_from_slice(&hash[..4]);
    }
}

/// Bytes behind the head altered; the length of the chunk is mended where it can be.
fn alter(chunk: &mut Vec<u8>, random: &mut fastrand::Rng) {
    // Magic, checksum, type; then the length as a LEB128 number.
    let mut start = 9;
    while chunk.get(start).is_some_and(|byte| byte & 0x80 != 0) {
        start += 1;
    }
    start += 1;
    let mut body = chunk.split_off(start.min(chunk.len()));
    super::mutate(&mut body, random);
    chunk.truncate(9);
    let mut length = body.len();
    while length >= 0x80 {
        chunk.push((length & 0x7f) as u8 | 0x80);
        length >>= 7;
    }
    chunk.push(length as u8);
    chunk.extend_from_slice(&body);
}

/// A few of each thing a person does.
fn work(recorder: &mut Recorder) {
    let id = recorder.env.record_id();
    let at = RecordRef::new(Kind::Finding, id.clone());
    let finding = Finding {
        place: Some(RecordRef::side(Side::Front)),
        component: Some(Component::Gutter),
        condition: Some(Condition::Damaged),
        units: Some(3),
        text: Some("round dents, bright rims".to_owned()),
        ..Finding::default()
    };
    recorder.act(&Action::Add {
        id: id.clone(),
        record: AnyFields::Finding(finding),
        hits: Some(4),
        shows: vec![],
    });
    let record = photo(recorder, 1).into();
    let photo_id = recorder.env.record_id();
    recorder.act(&Action::Add {
        id: photo_id,
        record,
        hits: None,
        shows: vec![at.clone()],
    });
    let set = Finding {
        text: Some("as a person writes it again".to_owned()),
        ..Finding::default()
    };
    recorder.act(&Action::Amend {
        id,
        set: AnyFields::Finding(set),
        clear: vec!["units".to_owned()],
    });
    recorder.act(&Action::Count {
        at: at.clone(),
        hits: 9,
    });
    recorder.act(&Action::Strike {
        at,
        reason: "a shadow".to_owned(),
    });
}
