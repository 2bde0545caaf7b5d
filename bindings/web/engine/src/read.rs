//! What the page shows, as JSON: small pieces of a job, never the whole of a large one.

use std::collections::{BTreeMap, BTreeSet};

use chalkwalk_core::job::{
    AnyFields, BlobKind, Capture, Condition, DeviceId, Job, JobId, Kind, Mark, PhotoRole, RecordId,
    RecordRef, SignedCapture, hex,
};
use chalkwalk_core::review::account::owners_account;
use chalkwalk_core::review::{Facts, leave_site, places_in_walk_order};
use serde::Serialize;
use serde_json::{Map, Value, json};

use crate::book::Book;

/// Kinds that the page shows as lists of their own at the house.
const AT_HOUSE: &[Kind] = &[
    Kind::Interview,
    Kind::Recap,
    Kind::Visit,
    Kind::Signature,
    Kind::Departure,
    Kind::Question,
    Kind::Answer,
];

#[derive(Clone, Copy, Debug, Default, Serialize)]
struct Counts {
    damaged: u32,
    other: u32,
    cleared: u32,
    photos: u32,
    overviews: u32,
    by_others: u32,
}

impl Book {
    /// The heads of a job, as one text: equal on two devices exactly when they hold the same.
    pub(crate) fn heads(&self, job: JobId) -> Result<Value, String> {
        let document = &self.job(job)?.document;
        let heads: BTreeSet<String> = document.heads().iter().map(|head| hex(head)).collect();
        Ok(json!({"heads": heads, "changes": document.changes()}))
    }

    /// The house: who, what is there, how far each place is.
    pub(crate) fn house(&self, id: JobId) -> Result<Value, String> {
        let document = &self.job(id)?.document;
        let job = document.job();
        let me = self.identity.device;
        let counts = counts(job, me);
        let places: Vec<Value> = places_in_walk_order(job)
            .into_iter()
            .map(|place| {
                json!({
                    "at": place,
                    "name": job.place_name(&place),
                    "fields": fields_value(job, &place),
                    "counts": counts.get(&Some(place.clone())).copied().unwrap_or_default(),
                })
            })
            .collect();
        let crew: Vec<Value> = job
            .crew
            .iter()
            .map(|(device, member)| {
                json!({"person": member.person, "device": device, "me": *device == me})
            })
            .collect();
        let mut lists = Map::new();
        for kind in AT_HOUSE {
            let all = all_of(job, *kind)
                .map(|at| record_value(job, &at, me))
                .collect();
            lists.insert(kind.code().to_owned(), Value::Array(all));
        }
        let property = RecordRef::new(Kind::Property, Job::only());
        let unplaced = counts.get(&None).copied().unwrap_or_default();
        Ok(json!({
            "id": id,
            "property": fields_value(job, &property),
            "crew": crew,
            "changes": document.changes(),
            "places": places,
            "lists": lists,
            "unplaced": unplaced,
            "conflicts": job.conflicts().len(),
        }))
    }

    /// One place: what stands there and what was found.
    pub(crate) fn place(&self, id: JobId, place: &RecordRef) -> Result<Value, String> {
        let job = self.job(id)?.document.job();
        let me = self.identity.device;
        let of = |kind: Kind| -> Vec<Value> {
            all_of(job, kind)
                .filter(|at| place_of(job, at).as_ref() == Some(place))
                .map(|at| record_value(job, &at, me))
                .collect()
        };
        Ok(json!({
            "at": place,
            "name": job.place_name(place),
            "record": record_value(job, place, me),
            "findings": of(Kind::Finding),
            "parts": of(Kind::Component),
            "measurements": of(Kind::Measurement),
            "squares": of(Kind::TestSquare),
            "notes": of(Kind::Note),
            "photos": of(Kind::Photo),
        }))
    }

    /// One record, with the photos that show it.
    pub(crate) fn record(&self, id: JobId, at: &RecordRef) -> Result<Value, String> {
        let job = self.job(id)?.document.job();
        let me = self.identity.device;
        let photos: Vec<Value> = job
            .photos_of(at)
            .map(|(id, _)| record_value(job, &RecordRef::new(Kind::Photo, id.clone()), me))
            .collect();
        Ok(json!({"record": record_value(job, at, me), "photos": photos}))
    }

    /// Every photo, each with whether the office holds its original.
    pub(crate) fn photos(&self, id: JobId) -> Result<Value, String> {
        let job = self.job(id)?.document.job();
        let mut list = Vec::new();
        for (id, capture) in captures(job) {
            list.push(json!({
                "id": id,
                "hash": capture.hash,
                "size": capture.size,
                "mine": capture.device == self.identity.device,
                "here": self.has(BlobKind::Original, capture.hash),
                "safe": self.safe(capture.hash),
            }));
        }
        Ok(Value::Array(list))
    }

    /// Fields that two people stated differently.
    pub(crate) fn conflicts(&self, id: JobId) -> Result<Value, String> {
        let job = self.job(id)?.document.job();
        let list = job.conflicts().into_iter().map(|(at, conflict)| {
            let statements: Vec<Value> = conflict
                .statements
                .iter()
                .map(|statement| {
                    let words = statement
                        .value
                        .as_ref()
                        .and_then(|value| at.kind.value_in_words(&conflict.field, value.as_ref()));
                    json!({
                        "value": statement.value,
                        "words": words,
                        "who": job.who(statement.by.device),
                        "at": statement.by.at,
                    })
                })
                .collect();
            json!({"at": at, "field": conflict.field, "statements": statements})
        });
        Ok(Value::Array(list.collect()))
    }

    /// The check before leaving.
    pub(crate) fn check(&mut self, id: JobId) -> Result<Value, String> {
        let now = self.now();
        let job = self.job(id)?.document.job();
        let mut facts = Facts::of_record(job, now);
        for (photo, capture) in captures(job) {
            // What the other phone holds does not lack here.
            let mine = capture.device == self.identity.device;
            if let Some(known) = facts.photos.get_mut(&photo) {
                known.here = mine.then(|| self.has(BlobKind::Original, capture.hash));
                known.at_office = self.office.is_some().then(|| self.safe(capture.hash));
            }
        }
        let points = leave_site::check(job, &facts);
        let points = points.into_iter().map(|point| {
            let leads = point.triggered_by.first().map(|at| {
                let place = if at.is_place() {
                    Some(at.clone())
                } else {
                    place_of(job, at)
                };
                json!({"at": at, "place": place})
            });
            json!({"point": point, "leads": leads})
        });
        Ok(Value::Array(points.collect()))
    }

    /// The plain account for the owner.
    pub(crate) fn account(&self, id: JobId) -> Result<Value, String> {
        let account = owners_account(self.job(id)?.document.job());
        serde_json::to_value(account).map_err(|error| error.to_string())
    }

    fn safe(&self, hash: chalkwalk_core::job::PhotoHash) -> bool {
        let offices = self.peers.iter().filter(|(_, (_, office))| *office);
        let mut held = offices.map(|(device, _)| (*device, BlobKind::Original, hash));
        held.any(|key| self.files_at.contains(&key))
    }
}

fn captures(job: &Job) -> impl Iterator<Item = (RecordId, Capture)> {
    job.records.photos.iter().filter_map(|(id, photo)| {
        let bytes = photo.capture.as_ref()?;
        let capture = SignedCapture::from_bytes(bytes).ok()?.capture().ok()?;
        Some((id.clone(), capture))
    })
}

fn all_of(job: &Job, kind: Kind) -> impl Iterator<Item = RecordRef> {
    let all = job.records.headers().map(|(at, _)| at);
    all.filter(move |at| at.kind == kind)
}

/// The place that a record names; for a note, of what it is about.
fn place_of(job: &Job, at: &RecordRef) -> Option<RecordRef> {
    let records = &job.records;
    match at.kind {
        Kind::Finding => records.findings.get(&at.id)?.place.clone(),
        Kind::Component => records.components.get(&at.id)?.place.clone(),
        Kind::Photo => records.photos.get(&at.id)?.place.clone(),
        Kind::Measurement => records.measurements.get(&at.id)?.place.clone(),
        Kind::TestSquare => records.test_squares.get(&at.id)?.slope.clone(),
        Kind::Note => records.notes.get(&at.id)?.about.clone(),
        _ => None,
    }
}

fn counts(job: &Job, me: DeviceId) -> BTreeMap<Option<RecordRef>, Counts> {
    let mut counts: BTreeMap<Option<RecordRef>, Counts> = BTreeMap::new();
    let mut add = |condition: Option<Condition>, place: &Option<RecordRef>, by: DeviceId| {
        let at = counts.entry(place.clone()).or_default();
        match condition {
            Some(Condition::Damaged) => at.damaged += 1,
            Some(Condition::Cleared | Condition::NotPresent) => at.cleared += 1,
            _ => at.other += 1,
        }
        at.by_others += u32::from(by != me);
    };
    for finding in job
        .records
        .findings
        .values()
        .filter(|finding| finding.stands())
    {
        add(finding.condition, &finding.place, finding.made.device);
    }
    for part in job.records.components.values().filter(|part| part.stands()) {
        add(part.condition, &part.place, part.made.device);
    }
    for photo in job.records.photos.values().filter(|photo| photo.stands()) {
        let at = counts.entry(photo.place.clone()).or_default();
        at.photos += 1;
        at.overviews += u32::from(photo.role == Some(PhotoRole::Overview));
        at.by_others += u32::from(photo.made.device != me);
    }
    counts
}

fn fields_value(job: &Job, at: &RecordRef) -> Value {
    let Some(mut fields) = job.records.fields(at) else {
        return Value::Null;
    };
    if let AnyFields::Photo(photo) = &mut fields {
        photo.capture = None;
        photo.marks = None;
    }
    // Fields stand below the word of their kind.
    match serde_json::to_value(fields) {
        Ok(Value::Object(named)) => named.into_iter().next().map_or(Value::Null, |(_, v)| v),
        _ => Value::Null,
    }
}

/// One record with what all have in common; for a photo its file's hash instead of its capture.
fn record_value(job: &Job, at: &RecordRef, me: DeviceId) -> Value {
    let Some(header) = job.records.header(at) else {
        return Value::Null;
    };
    let mut value = json!({
        "at": at,
        "fields": fields_value(job, at),
        "who": job.who(header.made.device),
        "mine": header.made.device == me,
        "made_at": header.made.at,
        "struck": header.struck.map(|struck| struck.reason.as_str()),
        "unsettled": header.conflicts.iter().map(|c| c.field.as_str()).collect::<Vec<_>>(),
    });
    let tally = match at.kind {
        Kind::Finding => job
            .records
            .findings
            .get(&at.id)
            .map(|r| (&r.tally, r.hits())),
        Kind::TestSquare => job
            .records
            .test_squares
            .get(&at.id)
            .map(|r| (&r.tally, r.hits())),
        _ => None,
    };
    if let Some((tally, hits)) = tally {
        value["hits"] = json!(hits);
        value["my_hits"] = json!(tally.get(&me));
    }
    if let Some(photo) = job
        .records
        .photos
        .get(&at.id)
        .filter(|_| at.kind == Kind::Photo)
    {
        let capture = photo
            .capture
            .as_ref()
            .and_then(|bytes| SignedCapture::from_bytes(bytes).ok()?.capture().ok());
        value["hash"] = json!(capture.as_ref().map(|capture| capture.hash));
        value["taken_at"] = json!(capture.as_ref().map(Capture::order_time));
        value["placed"] = json!(
            capture
                .as_ref()
                .is_some_and(|capture| capture.place.is_some())
        );
        value["tall"] = json!(capture.as_ref().map(height_for_width));
        let marks = photo.marks.as_ref();
        value["marks"] =
            json!(marks.and_then(|kept| rmp_serde::from_slice::<Vec<Mark>>(kept).ok()));
        value["shows"] = json!(photo.shows);
    }
    value
}

/// Height of the upright picture as a part of its width.
fn height_for_width(capture: &Capture) -> f64 {
    let (width, height) = match capture.orientation {
        5..=8 => (capture.height, capture.width),
        _ => (capture.width, capture.height),
    };
    if width == 0 || height == 0 {
        return 1.0;
    }
    f64::from(height) / f64::from(width)
}
