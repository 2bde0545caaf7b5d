//! What is written about changes: the company, its devices, codes, jobs, photos and the audit.

use chalkwalk_core::document::Table;
use chalkwalk_core::job::{
    BlobKind, CompanyId, DeviceId, JobId, Millis, PhotoHash, PhotoRole, Role, SignedCertificate,
};
use chrono::NaiveDate;

/// The office whose key signs the devices.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Company {
    /// Its id, which every certificate names.
    pub id: CompanyId,
    /// Its name as pages show it.
    pub name: String,
    /// The office's Ed25519 public key.
    pub office_key: [u8; 32],
    /// When the server was first started.
    pub founded_at: Millis,
}

/// A device that was enrolled, or became known by a certificate of this office.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Device {
    /// The device.
    pub id: DeviceId,
    /// Its Ed25519 public key.
    pub key: [u8; 32],
    /// The office's word on it.
    pub certificate: SignedCertificate,
    /// When it became known here.
    pub known_since: Millis,
    /// Set where it may no longer write or connect.
    pub revoked_at: Option<Millis>,
}

/// A one-time enrolment code as it is kept: never the code itself.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Code {
    /// Hash of the code.
    pub hash: [u8; 32],
    /// What the person will be allowed to do.
    pub role: Role,
    /// Who it was made for.
    pub person: String,
    /// When it was made.
    pub made_at: Millis,
    /// The first moment at which it no longer counts.
    pub expires_at: Millis,
}

/// What became of an enrolment.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Enrolled {
    /// The code is used up and the device is known.
    Done,
    /// The same device used this code before: the certificate it was given then.
    Before(SignedCertificate),
    /// Nothing was changed.
    Refused(CodeRefusal),
}

/// Why a code does not count.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum CodeRefusal {
    /// No such code was made.
    #[error("there is no such code: check each letter, or ask the office for a new one")]
    Unknown,
    /// Its time is over.
    #[error("the code's time is over: ask the office for a new one")]
    Expired,
    /// Another device used it.
    #[error("the code was used already: ask the office for a new one")]
    Used,
    /// The device is already known with another key.
    #[error("a device of this id is already enrolled with another key")]
    DeviceTaken,
}

/// What a batch of changes did.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Appended {
    /// Changes that were not here before.
    pub new_changes: usize,
}

/// A compacted document, for quick opening. It may always be thrown away.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Snapshot {
    /// The changes it holds.
    pub table: Table,
    /// The document's heads.
    pub heads: Vec<[u8; 32]>,
    /// The document.
    pub bytes: Vec<u8>,
    /// When it was made.
    pub made_at: Millis,
}

/// A photo as a job names it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PhotoEntry {
    /// Hash of the original.
    pub hash: PhotoHash,
    /// Bytes of the original.
    pub size: u64,
    /// What it is for.
    pub role: Option<PhotoRole>,
}

/// A file that is whole, checked and durable.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct BlobEntry {
    /// Which file of the photo.
    pub kind: BlobKind,
    /// Hash of the original.
    pub hash: PhotoHash,
    /// Bytes of this file.
    pub size: u64,
}

/// Room for a file on its way in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Room {
    /// The file.
    pub file: BlobEntry,
    /// This moment.
    pub now: Millis,
    /// The first moment at which the room is free again, where the file did not come.
    pub ends: Millis,
}

/// What a job's list line says. It can always be made anew from the changes.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Summary {
    /// The address, or what stands for it.
    pub title: String,
    /// The homeowner, by whom a job is looked for.
    pub owner: Option<String>,
    /// The day of the storm.
    pub date_of_loss: Option<NaiveDate>,
    /// Findings that stand.
    pub findings: u32,
    /// Photos that stand.
    pub photos: u32,
    /// Questions of the office that nobody has answered.
    pub questions: u32,
    /// How far the crew has come.
    pub crew: Crew,
    /// How many changes it was read from: where the job has more, it is to be made anew.
    pub changes: u64,
}

/// How far the crew has come with a job, as its record says.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub enum Crew {
    /// Nobody has come to the house.
    #[default]
    Expected,
    /// Somebody has come, and has not left for good.
    AtHouse,
    /// The crew has left the site.
    Left,
}

impl Crew {
    /// The number that is stored.
    pub(crate) const fn number(self) -> i64 {
        match self {
            Crew::Expected => 0,
            Crew::AtHouse => 1,
            Crew::Left => 2,
        }
    }

    /// What a stored number says; a number of a newer version counts as the first.
    pub(crate) const fn of_number(number: i64) -> Self {
        match number {
            1 => Crew::AtHouse,
            2 => Crew::Left,
            _ => Crew::Expected,
        }
    }
}

/// How a job stands here.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct JobStatus {
    /// The job.
    pub job: JobId,
    /// Changes held.
    pub changes: u64,
    /// When the first change came.
    pub first_news: Millis,
    /// When the last new change came.
    pub last_news: Millis,
    /// What was last read from it.
    pub summary: Option<Summary>,
    /// Photos the job names.
    pub photos: u64,
    /// How many of their thumbnails are whole.
    pub thumbnails: u64,
    /// How many of their originals are whole.
    pub originals: u64,
}

impl JobStatus {
    /// Whether what was last read from it is of all its changes.
    pub fn is_described(&self) -> bool {
        let summary = self.summary.as_ref();
        summary.is_some_and(|summary| summary.changes == self.changes)
    }
}

/// What a device said that it holds of a job.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PeerHolds {
    /// The device.
    pub device: DeviceId,
    /// What it holds.
    pub table: Table,
    /// When it said so.
    pub at: Millis,
}

impl PeerHolds {
    /// Adds what the device said later.
    pub(crate) fn add(&mut self, later: &PeerHolds) {
        for (author, held) in &later.table {
            let known = self.table.entry(*author).or_insert(*held);
            if held.number > known.number {
                *known = *held;
            }
        }
        self.at = self.at.max(later.at);
    }
}

/// Something worth remembering that is in no job's history.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct AuditEntry {
    /// When.
    pub at: Millis,
    /// What happened.
    pub what: AuditKind,
    /// The device it is about.
    pub device: Option<DeviceId>,
    /// The job it is about.
    pub job: Option<JobId>,
    /// In a few words, without personal data.
    pub detail: String,
}

/// What the audit remembers.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
#[non_exhaustive]
pub enum AuditKind {
    /// The office was set up.
    Founded,
    /// A code was made.
    CodeMade,
    /// A device was enrolled.
    Enrolled,
    /// A device was shut out.
    Revoked,
    /// A device was let in again.
    Reinstated,
    /// A batch was refused.
    Refused,
}

impl AuditKind {
    /// Every kind.
    pub const ALL: &'static [AuditKind] = &[
        AuditKind::Founded,
        AuditKind::CodeMade,
        AuditKind::Enrolled,
        AuditKind::Revoked,
        AuditKind::Reinstated,
        AuditKind::Refused,
    ];

    /// The word that is stored.
    pub const fn code(self) -> &'static str {
        match self {
            AuditKind::Founded => "founded",
            AuditKind::CodeMade => "code_made",
            AuditKind::Enrolled => "enrolled",
            AuditKind::Revoked => "revoked",
            AuditKind::Reinstated => "reinstated",
            AuditKind::Refused => "refused",
        }
    }

    /// The kind with this word.
    pub fn from_code(code: &str) -> Option<Self> {
        Self::ALL.iter().copied().find(|kind| kind.code() == code)
    }
}
