//! What shells are shown of a job.

use std::collections::HashMap;

use chalkwalk_core::document::Deed as CoreDeed;
use chalkwalk_core::job::{
    AnyFields, CompanyId, Conflict as CoreConflict, DeviceId, Job, JobId, Kind, Length, PhotoHash,
    PhotoRole, Place, Property, RecordHeader, RecordId, RecordRef, Role, ScalarRef, Side,
};
use chalkwalk_core::notebook::{JobStatus as CoreStatus, PeerStatus as CorePeer};

use crate::Fields;

/// The device and its person.
#[derive(Clone, Debug, PartialEq, Eq, uniffi::Record)]
pub struct Identity {
    /// The device.
    pub device: DeviceId,
    /// The person.
    pub person: String,
    /// The device's name.
    pub device_name: String,
    /// What the person does.
    pub role: Role,
}

/// The office that vouches for this device.
#[derive(Clone, Debug, PartialEq, Eq, uniffi::Record)]
pub struct Office {
    /// The company.
    pub company: CompanyId,
    /// Its name.
    pub company_name: String,
    /// Where it is reached.
    pub address: String,
    /// Thirty-two digits that stand for its key, as the office shows them too.
    pub pin: String,
}

/// A job in a few words, for a list.
#[derive(Clone, Debug, PartialEq, uniffi::Record)]
pub struct JobCard {
    /// The job.
    pub id: JobId,
    /// The house in a few words.
    pub title: String,
    /// What is known of the house.
    pub property: Property,
    /// Findings that stand.
    pub findings: u32,
    /// Photos that stand.
    pub photos: u32,
    /// Fields with more than one statement.
    pub conflicts: u32,
}

impl JobCard {
    pub(crate) fn of(id: JobId, job: &Job) -> Self {
        let property = job.property().map(|p| p.fields.clone()).unwrap_or_default();
        let known = [&property.street, &property.town];
        let words: Vec<&str> = known.iter().filter_map(|word| word.as_deref()).collect();
        let title = if words.is_empty() {
            "a house without an address".to_owned()
        } else {
            words.join(", ")
        };
        let photos = job.records.photos.values().filter(|photo| photo.stands());
        Self {
            id,
            title,
            property,
            findings: count(job.standing_findings().count()),
            photos: count(photos.count()),
            conflicts: count(job.conflicts().len()),
        }
    }
}

/// A person with a device on a job.
#[derive(Clone, Debug, PartialEq, Eq, uniffi::Record)]
pub struct CrewMember {
    /// The device.
    pub device: DeviceId,
    /// The person.
    pub person: String,
    /// What the person does.
    pub role: Role,
    /// The device's name.
    pub device_name: String,
}

/// One record with all that is known of it.
#[derive(Clone, Debug, PartialEq, uniffi::Record)]
pub struct RecordView {
    /// Which record, as kind/id.
    pub at: RecordRef,
    /// Its id.
    pub id: RecordId,
    /// The device that made it.
    pub made_by: DeviceId,
    /// When, by that device's clock.
    pub made_at: i64,
    /// Why it was struck; empty where it stands.
    pub struck: Option<String>,
    /// Hits counted by all; empty where nobody counted.
    pub hits: Option<u32>,
    /// Hits by the device of the person who counted.
    pub tally: HashMap<DeviceId, u32>,
    /// For a photo: the records it shows.
    pub shows: Vec<RecordRef>,
    /// Fields with more than one statement; each shows one of them until it is settled.
    pub unsettled: Vec<String>,
    /// Fields of a newer version. They stay in the record.
    pub unread: Vec<String>,
    /// Its fields.
    pub fields: Fields,
}

impl RecordView {
    pub(crate) fn of(at: RecordRef, record: RecordHeader<'_>, fields: AnyFields) -> Self {
        Self {
            id: at.id.clone(),
            at,
            made_by: record.made.device,
            made_at: record.made.at,
            struck: record.struck.map(|struck| struck.reason.clone()),
            hits: record.hits(),
            tally: record.tally.clone().into_iter().collect(),
            shows: record.shows.to_vec(),
            unsettled: record.conflicts.iter().map(|c| c.field.clone()).collect(),
            unread: record.unread.to_vec(),
            fields: fields.into(),
        }
    }
}

/// One of the values that two people gave the same field without knowing of each other.
#[derive(Clone, Debug, PartialEq, uniffi::Record)]
pub struct Statement {
    /// The person.
    pub who: String,
    /// The device.
    pub device: DeviceId,
    /// When, by that device's clock.
    pub at: i64,
    /// The value as people read it; empty where the field was emptied.
    pub value: Option<String>,
}

/// A field with more than one statement. Settle it by the number of a statement, from 0.
#[derive(Clone, Debug, PartialEq, uniffi::Record)]
pub struct Conflict {
    /// The record.
    pub at: RecordRef,
    /// The field.
    pub field: String,
    /// The statements.
    pub statements: Vec<Statement>,
}

impl Conflict {
    pub(crate) fn of(job: &Job, at: &RecordRef, conflict: &CoreConflict) -> Self {
        let words = |value: ScalarRef<'_>| {
            let words = at.kind.value_in_words(&conflict.field, value);
            words.unwrap_or_else(|| "a value of a newer version".to_owned())
        };
        let statements = conflict.statements.iter().map(|statement| Statement {
            who: job.who(statement.by.device),
            device: statement.by.device,
            at: statement.by.at,
            value: statement.value.as_ref().map(|value| words(value.as_ref())),
        });
        Self {
            at: at.clone(),
            field: conflict.field.clone(),
            statements: statements.collect(),
        }
    }
}

/// A field and its value as people read them.
#[derive(Clone, Debug, PartialEq, Eq, uniffi::Record)]
pub struct FieldWords {
    /// The field.
    pub field: String,
    /// The value.
    pub value: String,
}

/// One thing that a person did.
#[derive(Clone, Debug, PartialEq, uniffi::Record)]
pub struct Deed {
    /// Hash of the change.
    pub change: String,
    /// The person.
    pub who: String,
    /// The device.
    pub device: DeviceId,
    /// When, by that device's clock.
    pub at: i64,
    /// What was done, in a few words.
    pub what: String,
    /// The record it was done to.
    pub record: Option<RecordRef>,
    /// The fields it wrote.
    pub wrote: Vec<FieldWords>,
}

impl Deed {
    pub(crate) fn of(job: &Job, deed: CoreDeed) -> Self {
        let wrote = deed.wrote.into_iter();
        Self {
            change: deed.change,
            who: job.who(deed.by.device),
            device: deed.by.device,
            at: deed.by.at,
            what: deed.what,
            record: deed.at,
            wrote: wrote
                .map(|(field, value)| FieldWords { field, value })
                .collect(),
        }
    }
}

/// What one recorded action left behind.
#[derive(Clone, Debug, PartialEq, Eq, uniffi::Record)]
pub struct Receipt {
    /// The record it touched.
    pub record: RecordRef,
    /// The hash of the change; empty where the action changed nothing.
    pub change: Option<String>,
}

/// What the crew says of a photo when it is added.
#[derive(Clone, Debug, Default, PartialEq, uniffi::Record)]
pub struct PhotoNote {
    /// What it is for.
    #[uniffi(default = None)]
    pub role: Option<PhotoRole>,
    /// Where it was taken.
    #[uniffi(default = None)]
    pub place: Option<Place>,
    /// Words below it.
    #[uniffi(default = None)]
    pub caption: Option<String>,
    /// The office alone may see it.
    #[uniffi(default = false)]
    pub office_only: bool,
    /// Place from left to right as one faces the side, 1 at the left end.
    #[uniffi(default = None)]
    pub from_left: Option<u32>,
    /// The records it shows.
    #[uniffi(default = [])]
    pub shows: Vec<RecordRef>,
}

/// A photo that was added.
#[derive(Clone, Debug, PartialEq, uniffi::Record)]
pub struct AddedPhoto {
    /// Its record.
    pub record: RecordRef,
    /// The hash of its file.
    pub hash: PhotoHash,
    /// Bytes of its file.
    pub size: u64,
    /// What may be wrong with it, in words.
    pub warnings: Vec<String>,
    /// The job had this very file already: its record is given and nothing was added.
    pub known: bool,
}

/// What is fixed of a photo since it was taken in.
#[derive(Clone, Debug, PartialEq, uniffi::Record)]
pub struct PhotoFile {
    /// Its record.
    pub record: RecordRef,
    /// The hash of its file.
    pub hash: PhotoHash,
    /// Bytes of its file.
    pub size: u64,
    /// Width as stored, pixels; 0 where it could not be read.
    pub width: u32,
    /// Height as stored, pixels.
    pub height: u32,
    /// Name of the file when it was taken in.
    pub file_name: String,
    /// When it was taken, where time and offset are known.
    pub taken_at: Option<i64>,
    /// Degrees north.
    pub latitude: Option<f64>,
    /// Degrees east.
    pub longitude: Option<f64>,
    /// The device that took it in.
    pub device: DeviceId,
    /// Where the original lies on this device; empty where it is not here.
    pub original: Option<String>,
    /// The office acknowledged the original: this device may free it.
    pub safe_at_office: bool,
}

/// What a device said it holds durably of a job.
#[derive(Clone, Debug, PartialEq, Eq, uniffi::Record)]
pub struct PeerStatus {
    /// The device.
    pub device: DeviceId,
    /// Its name, where its certificate is known.
    pub name: String,
    /// It is the office.
    pub office: bool,
    /// Changes that it holds.
    pub changes: u64,
    /// Thumbnails that it holds.
    pub thumbnails: u32,
    /// Originals that it holds.
    pub originals: u32,
}

/// Where the parts of a job are safe. Only what a device acknowledged counts.
#[derive(Clone, Debug, PartialEq, Eq, uniffi::Record)]
pub struct JobStatus {
    /// Changes recorded here.
    pub changes: u64,
    /// Photos the job knows.
    pub photos: u32,
    /// Thumbnails here.
    pub thumbnails_here: u32,
    /// Originals here.
    pub originals_here: u32,
    /// Other devices.
    pub peers: Vec<PeerStatus>,
    /// Everything, changes and originals, is acknowledged by the office.
    pub safe_at_office: bool,
}

impl From<CoreStatus> for JobStatus {
    fn from(status: CoreStatus) -> Self {
        Self {
            changes: status.changes,
            photos: count(status.photos),
            thumbnails_here: count(status.here.thumbnails),
            originals_here: count(status.here.originals),
            peers: status.peers.into_iter().map(PeerStatus::from).collect(),
            safe_at_office: status.safe_at_office,
        }
    }
}

impl From<CorePeer> for PeerStatus {
    fn from(peer: CorePeer) -> Self {
        Self {
            device: peer.device,
            name: peer.name,
            office: peer.office,
            changes: peer.changes,
            thumbnails: count(peer.photos.thumbnails),
            originals: count(peer.photos.originals),
        }
    }
}

/// The elevation of one of the four sides, which every job has from its start.
#[uniffi::export]
pub fn elevation_of(side: Side) -> RecordRef {
    RecordRef::side(side)
}

/// A pointer to a record from its kind and id.
#[uniffi::export]
pub fn pointer_to(kind: Kind, id: RecordId) -> RecordRef {
    RecordRef::new(kind, id)
}

/// A length from inches, to the sixty-fourth: written like 12' 6-1/2".
#[uniffi::export]
pub fn length_from_inches(inches: f64) -> Length {
    Length::from_inches_f64(inches)
}

/// A length in inches.
#[uniffi::export]
pub fn length_in_inches(length: Length) -> f64 {
    length.to_inches()
}

pub(crate) fn count(of: usize) -> u32 {
    u32::try_from(of).unwrap_or(u32::MAX)
}
