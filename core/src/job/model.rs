//! The hydrated job: what the document says, as plain structs.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::*;

/// Who did something, with what, and when. It is taken from the signed change, never from a
/// field that a device could write.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct Stamp {
    /// The device.
    pub device: DeviceId,
    /// Milliseconds since 1970 by that device's clock.
    pub at: Millis,
}

/// A record that was withdrawn. It stays in the job.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Struck {
    /// Why.
    pub reason: String,
    /// Who and when.
    pub by: Stamp,
}

/// One of the values that two people gave the same field without knowing of each other.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Statement {
    /// The value; `None` where the field was emptied.
    pub value: Option<Scalar>,
    /// Who and when.
    pub by: Stamp,
}

/// A field with more than one statement. The record shows one of them until it is settled.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Conflict {
    /// The field.
    pub field: String,
    /// The statements, by time and device.
    pub statements: Vec<Statement>,
}

/// One record: its fields and what all records have in common.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Record<F> {
    /// Who made it and when.
    pub made: Stamp,
    /// Set where it was withdrawn.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub struck: Option<Struck>,
    /// Hits counted, by the device of the person who counted.
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
    pub tally: BTreeMap<DeviceId, u32>,
    /// For a photo: the records it shows.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub shows: Vec<RecordRef>,
    /// Fields with more than one statement.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub conflicts: Vec<Conflict>,
    /// Keys of a newer version or with a value this version cannot read. They stay in the document.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub unread: Vec<String>,
    /// The fields.
    pub fields: F,
}

impl<F: Default> Record<F> {
    /// A record with no fields.
    pub fn new(made: Stamp) -> Self {
        Self {
            made,
            struck: None,
            tally: BTreeMap::new(),
            shows: Vec::new(),
            conflicts: Vec::new(),
            unread: Vec::new(),
            fields: F::default(),
        }
    }
}

impl<F> Record<F> {
    /// True unless it was struck.
    pub fn stands(&self) -> bool {
        self.struck.is_none()
    }

    /// All hits counted; `None` where nobody counted.
    pub fn hits(&self) -> Option<u32> {
        self.header().hits()
    }

    /// The same record with other fields.
    pub fn with<G>(self, fields: G) -> Record<G> {
        Record {
            made: self.made,
            struck: self.struck,
            tally: self.tally,
            shows: self.shows,
            conflicts: self.conflicts,
            unread: self.unread,
            fields,
        }
    }

    /// What all records have in common.
    pub fn header(&self) -> RecordHeader<'_> {
        RecordHeader {
            made: self.made,
            struck: self.struck.as_ref(),
            tally: &self.tally,
            conflicts: &self.conflicts,
            unread: &self.unread,
            shows: &self.shows,
        }
    }
}

impl<F> std::ops::Deref for Record<F> {
    type Target = F;
    fn deref(&self) -> &F {
        &self.fields
    }
}

/// What all records have in common, borrowed.
#[derive(Clone, Copy, Debug)]
pub struct RecordHeader<'a> {
    /// Who made it and when.
    pub made: Stamp,
    /// Set where it was withdrawn.
    pub struck: Option<&'a Struck>,
    /// Hits counted, by the device of the person who counted.
    pub tally: &'a BTreeMap<DeviceId, u32>,
    /// Fields with more than one statement.
    pub conflicts: &'a [Conflict],
    /// Keys this version cannot read.
    pub unread: &'a [String],
    /// For a photo: the records it shows.
    pub shows: &'a [RecordRef],
}

impl RecordHeader<'_> {
    /// All hits counted; `None` where nobody counted.
    pub fn hits(&self) -> Option<u32> {
        if self.tally.is_empty() {
            return None;
        }
        let counts = self.tally.values();
        Some(counts.fold(0u32, |sum, n| sum.saturating_add(*n)))
    }
}

/// A person with a device on this job.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct CrewMember {
    /// The person's name.
    pub person: String,
    /// What the person does.
    pub role: Role,
    /// The device's name.
    pub device_name: String,
    /// The device's public key.
    #[serde(with = "serde_bytes")]
    pub key: Vec<u8>,
}

/// A whole job as plain structs.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Job {
    /// Its id; `None` before the first action.
    pub id: Option<JobId>,
    /// Version of the document's layout.
    pub schema: u32,
    /// The people who recorded, by device.
    pub crew: BTreeMap<DeviceId, CrewMember>,
    /// Everything they recorded.
    pub records: Records,
}

impl Job {
    /// The id of the records that exist once a job.
    pub fn only() -> RecordId {
        RecordId::fixed("house")
    }

    /// The id that a record of these fields has in every job; `None` where each has its own.
    pub fn fixed_id(fields: &AnyFields) -> Option<RecordId> {
        match fields {
            AnyFields::Property(_) | AnyFields::Interview(_) | AnyFields::Recap(_) => {
                Some(Self::only())
            }
            AnyFields::Elevation(elevation) => elevation.side.map(|side| RecordRef::side(side).id),
            _ => None,
        }
    }

    /// The house and its owner.
    pub fn property(&self) -> Option<&Record<Property>> {
        self.records.properties.get(&Self::only())
    }

    /// What the owner said before the work.
    pub fn interview(&self) -> Option<&Record<Interview>> {
        self.records.interviews.get(&Self::only())
    }

    /// What the owner was told at the end.
    pub fn recap(&self) -> Option<&Record<Recap>> {
        self.records.recaps.get(&Self::only())
    }

    /// One of the four sides.
    pub fn elevation(&self, side: Side) -> Option<&Record<Elevation>> {
        self.records.elevations.get(&RecordRef::side(side).id)
    }

    /// The name of the person with a device, or the device's id.
    pub fn who(&self, device: DeviceId) -> String {
        if device == DeviceId::GENESIS {
            return "every job".to_owned();
        }
        match self.crew.get(&device) {
            Some(member) => member.person.clone(),
            None => format!("device {device}"),
        }
    }

    /// All fields with more than one statement.
    pub fn conflicts(&self) -> Vec<(RecordRef, &Conflict)> {
        self.records
            .headers()
            .flat_map(|(at, header)| header.conflicts.iter().map(move |c| (at.clone(), c)))
            .collect()
    }

    /// The records of findings that were not struck.
    pub fn standing_findings(&self) -> impl Iterator<Item = (&RecordId, &Record<Finding>)> {
        self.records
            .findings
            .iter()
            .filter(|(_, finding)| finding.stands())
    }

    /// The photos that show a record and were not struck.
    pub fn photos_of<'a>(
        &'a self,
        shown: &'a RecordRef,
    ) -> impl Iterator<Item = (&'a RecordId, &'a Record<Photo>)> {
        self.records
            .photos
            .iter()
            .filter(move |(_, photo)| photo.stands() && photo.shows.contains(shown))
    }

    /// A name of a place that people understand.
    pub fn place_name(&self, place: &Place) -> String {
        let records = &self.records;
        let name = match place.kind {
            Kind::Elevation => records.elevations.get(&place.id).map(|elevation| {
                match (elevation.side, &elevation.name) {
                    (Some(side), _) => format!("{side} elevation"),
                    (None, Some(name)) => name.clone(),
                    (None, None) => "a wall without a name".to_owned(),
                }
            }),
            Kind::Slope => {
                records
                    .slopes
                    .get(&place.id)
                    .map(|slope| match (&slope.name, slope.side) {
                        (Some(name), _) => format!("{name} slope"),
                        (None, Some(side)) => format!("{side} slope"),
                        (None, None) => "a slope without a name".to_owned(),
                    })
            }
            Kind::Room => records.rooms.get(&place.id).map(|room| {
                room.name
                    .clone()
                    .unwrap_or_else(|| "a room without a name".to_owned())
            }),
            Kind::Structure => records.structures.get(&place.id).map(|structure| {
                match (&structure.name, structure.kind) {
                    (Some(name), _) => name.clone(),
                    (None, Some(kind)) => kind.label().to_owned(),
                    (None, None) => "a structure without a name".to_owned(),
                }
            }),
            Kind::EaveOpening => records
                .eave_openings
                .get(&place.id)
                .map(|eave| match eave.side {
                    Some(side) => format!("eave, {side}"),
                    None => "eave".to_owned(),
                }),
            _ => None,
        };
        name.unwrap_or_else(|| place.to_string())
    }
}
