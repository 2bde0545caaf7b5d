//! The scope of the demo visit, built from the same files of actions that the demo plays: two
//! devices record apart, then their documents are merged.

use std::path::Path;

use ed25519_dalek::SigningKey;
use serde_json::Value;

use super::*;
use crate::document::{Action, Author, Document};

struct Person {
    author: Author,
    key: SigningKey,
    document: Document,
}

impl Person {
    fn new(number: u8, name: &str) -> Self {
        let author = Author {
            device: DeviceId::from_bytes([number; 16]),
            nonce: [number; 8],
        };
        let mut person = Self {
            author,
            key: SigningKey::from_bytes(&[number; 32]),
            document: Document::new().unwrap(),
        };
        let member = CrewMember {
            person: name.to_owned(),
            role: Role::Crew,
            device_name: format!("{name}'s phone"),
            key: person.key.verifying_key().to_bytes().to_vec(),
        };
        person
            .document
            .join(author, &person.key, &member, 1)
            .unwrap();
        person
    }

    fn act(&mut self, action: &Action, at: Millis) {
        let done = self.document.apply(self.author, &self.key, action, at);
        done.unwrap_or_else(|error| panic!("{error}: {action:?}"));
    }

    fn play(&mut self, file: &str) {
        for mut entry in entries(file) {
            let map = entry.as_object_mut().unwrap();
            let at = map.remove("at").unwrap();
            let at = chrono::DateTime::parse_from_rfc3339(at.as_str().unwrap()).unwrap();
            let action = match map.get("photo") {
                Some(photo) => photo_of(photo),
                None => serde_json::from_value(entry).unwrap(),
            };
            self.act(&action, at.timestamp_millis());
        }
    }

    /// Takes over what the other recorded. What both wrote apart is concurrent.
    fn take(&mut self, other: &Document) {
        self.document.replay(&other.rows()).unwrap();
    }
}

fn read(file: &str) -> Value {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../fixtures/visit");
    serde_json::from_slice(&std::fs::read(folder.join(file)).unwrap()).unwrap()
}

fn entries(file: &str) -> Vec<Value> {
    serde_json::from_value(read(file)).unwrap()
}

fn photo_of(photo: &Value) -> Action {
    let field = |key: &str| photo.get(key).cloned().unwrap_or(Value::Null);
    Action::Add {
        id: serde_json::from_value(field("id")).unwrap(),
        record: AnyFields::Photo(Photo {
            role: serde_json::from_value(field("role")).unwrap(),
            place: serde_json::from_value(field("place")).unwrap(),
            audience: serde_json::from_value(field("audience")).unwrap(),
            ..Photo::default()
        }),
        hits: None,
        shows: serde_json::from_value(field("shows")).unwrap(),
    }
}

/// The job after the visit.
pub(super) fn demo_job() -> Job {
    let mut rep = Person::new(1, "Wren Halloran");
    let mut helper = Person::new(2, "Tobias Quill");
    let begin = Action::Begin {
        job: JobId::from_bytes([5; 16]),
        property: serde_json::from_value(read("property.json")).unwrap(),
    };
    rep.act(&begin, 1_777_327_200_000);
    rep.play("prepare.json");
    helper.take(&rep.document);
    rep.play("rep.json");
    helper.play("helper.json");
    rep.take(&helper.document);
    rep.play("later.json");
    rep.play("finish.json");
    rep.document.job().clone()
}

/// The scope in a form that a person can read line by line.
fn in_words(scope: &Scope) -> String {
    let mut out = String::new();
    let mut line_of = |line: &ScopeLine| {
        let quantity = match line.quantity {
            Some(quantity) => quantity.to_string(),
            None => "quantity not known".to_owned(),
        };
        out += &format!(
            "{} | {} | {} | {quantity}\n    how: {}\n    rests on: {}\n",
            line.place_words,
            line.item_words,
            line.action,
            line.how,
            line.findings
                .iter()
                .chain(&line.records)
                .map(ToString::to_string)
                .chain([format!("{} photos", line.photos.len())])
                .collect::<Vec<_>>()
                .join(", "),
        );
        if let Basis::Requirement {
            section,
            edition,
            words,
        } = &line.basis
        {
            out += &format!("    asked by {edition}, {section}: {words}\n");
        }
        for doubt in &line.unsure {
            out += &format!("    unsure: {doubt}\n");
        }
    };
    scope.lines.iter().for_each(&mut line_of);
    out += "\nno line:\n";
    for held in &scope.withheld {
        out += &format!("    {} [{}] {}\n", held.finding, held.audience, held.words);
    }
    out += "\ntotals:\n";
    for total in &scope.totals {
        out += &format!(
            "    {} | {} | {} in {} lines, {} without quantity\n",
            total.item, total.action, total.quantity, total.lines, total.without_quantity
        );
    }
    out
}

#[test]
fn the_demo_house_has_the_scope_that_an_estimator_reads() {
    let scope = scope(&demo_job(), &ScopeInputs::default());
    insta::assert_snapshot!("demo_scope", in_words(&scope));
}
