//! What each packet shows. This is the one place that decides it.
//!
//! Shared, and nothing else: findings, notes and photos that are not office-only and not struck;
//! the parts of the house, measurements, eave openings, test squares and counts.
//!
//! A photo is left out of the shared packet where it is office-only or struck; where all it shows
//! is left out (an office-only or struck finding, a question of the office); where it belongs to
//! nothing, so that nobody has said yet what it is; and where it was taken in a room without
//! showing a shared finding, because the inside of a home is nobody's business beyond that. The
//! owner alone sees the inside of the owner's home.
//! Interview, recap, signature, contact data, questions and answers stay in the archive.

use std::collections::{BTreeMap, BTreeSet};

use super::{Choices, PacketKind};
use crate::job::*;
use crate::review::findings_list::{FindingsList, findings_list};
use crate::review::{Reader, office_only_finding, office_only_note, office_only_photo};
use crate::sorted::{Keyed, Sorted};

/// A photo that a packet shows.
pub(super) struct Shown<'a> {
    pub(super) id: &'a RecordId,
    pub(super) photo: &'a Record<Photo>,
    pub(super) signed: Option<SignedCapture>,
    pub(super) capture: Option<Capture>,
}

/// What one packet shows of a job.
pub struct Selection<'a> {
    job: &'a Job,
    kind: PacketKind,
    photos: Vec<Shown<'a>>,
}

impl<'a> Selection<'a> {
    /// What a packet shows, its photos in the given order; photos that are not named there follow
    /// by time.
    pub fn new(job: &'a Job, kind: PacketKind, order: &[RecordId]) -> Self {
        let mut selection = Self {
            job,
            kind,
            photos: Vec::new(),
        };
        let rank: BTreeMap<&RecordId, usize> = order
            .iter()
            .rev()
            .enumerate()
            .map(|(i, id)| (id, order.len() - i))
            .keyed();
        let mut photos: Vec<Shown<'a>> = job
            .records
            .photos
            .iter()
            .filter(|(_, photo)| selection.shows_photo(photo))
            .map(|(id, photo)| {
                let bytes = photo.capture.as_ref();
                let signed = bytes.and_then(|bytes| SignedCapture::from_bytes(bytes).ok());
                let capture = signed.as_ref().and_then(|signed| signed.capture().ok());
                Shown {
                    id,
                    photo,
                    signed,
                    capture,
                }
            })
            .collect();
        photos.order_by_key(|shown| {
            let time = shown
                .capture
                .as_ref()
                .map_or(shown.photo.made.at, Capture::order_time);
            (
                rank.get(shown.id).copied().unwrap_or(usize::MAX),
                time,
                shown.id,
            )
        });
        selection.photos = photos;
        selection
    }

    /// The photos of the packet, in order.
    pub fn photo_ids(&self) -> impl Iterator<Item = &RecordId> {
        self.photos.iter().map(|shown| shown.id)
    }

    /// Whether the packet shows a record at all.
    pub fn shows_record(&self, at: &RecordRef) -> bool {
        let records = &self.job.records;
        let Some(header) = records.header(at) else {
            return false;
        };
        if self.for_office() {
            return true;
        }
        if header.struck.is_some() {
            return false;
        }
        match at.kind {
            Kind::Finding => records
                .findings
                .get(&at.id)
                .is_some_and(|finding| !office_only_finding(finding)),
            Kind::Note => self.shows_note(at),
            Kind::Photo => records
                .photos
                .get(&at.id)
                .is_some_and(|photo| self.shows_photo(photo)),
            Kind::Room => self.room_is_shown(at),
            Kind::Property
            | Kind::Interview
            | Kind::Recap
            | Kind::Signature
            | Kind::Question
            | Kind::Answer
            | Kind::ScopeChange
            | Kind::OtherScope
            | Kind::ScopeMatch => false,
            Kind::Visit
            | Kind::Elevation
            | Kind::Slope
            | Kind::Edge
            | Kind::Structure
            | Kind::Component
            | Kind::Measurement
            | Kind::EaveOpening
            | Kind::TestSquare
            | Kind::Departure
            | Kind::StormReport
            | Kind::Plan
            | Kind::MeasurementReport => true,
        }
    }

    /// Which packet it is for.
    pub(super) fn kind(&self) -> PacketKind {
        self.kind
    }

    /// The findings that the packet shows, place by place.
    pub(super) fn findings(&self) -> FindingsList {
        let mut list = findings_list(self.job, self.reader());
        list.groups.retain(|group| {
            let closed_room = |at: &RecordRef| at.kind == Kind::Room && !self.shows_record(at);
            !group.place.as_ref().is_some_and(closed_room)
        });
        list
    }

    pub(super) fn job(&self) -> &'a Job {
        self.job
    }

    pub(super) fn reader(&self) -> Reader {
        match self.kind {
            PacketKind::Shared | PacketKind::Owner | PacketKind::Production => Reader::Anyone,
            PacketKind::Archive => Reader::Office,
        }
    }

    pub(super) fn for_office(&self) -> bool {
        self.kind == PacketKind::Archive
    }

    /// Whether the packet says where photos were taken. The office's always does.
    pub(super) fn tells_places(&self, choices: &Choices) -> bool {
        self.for_office() || !choices.without_places
    }

    pub(super) fn photos(&self) -> &[Shown<'a>] {
        &self.photos
    }

    /// The devices that took in the photos of the packet or recorded its findings.
    pub(super) fn devices(&self) -> BTreeSet<DeviceId> {
        let photos = self.photos.iter().flat_map(|shown| {
            let taken_in = shown.capture.as_ref().map(|capture| capture.device);
            taken_in.into_iter().chain([shown.photo.made.device])
        });
        let findings = self
            .job
            .records
            .findings
            .iter()
            .filter(|(id, _)| self.shows_record(&RecordRef::new(Kind::Finding, (*id).clone())))
            .map(|(_, finding)| finding.made.device);
        photos.chain(findings).keyed()
    }

    fn shows_photo(&self, photo: &Record<Photo>) -> bool {
        if self.for_office() {
            return true;
        }
        if !photo.stands() || office_only_photo(photo) {
            return false;
        }
        // A photo that points to a photo or a note says nothing of what it shows.
        let shown: Vec<&RecordRef> = photo
            .shows
            .iter()
            .filter(|at| !matches!(at.kind, Kind::Photo | Kind::Note))
            .filter(|at| self.job.records.header(at).is_some())
            .collect();
        let named_room = |at: &RecordRef| at.kind == Kind::Room;
        let inside = photo.place.as_ref().is_some_and(named_room)
            || shown
                .iter()
                .any(|at| named_room(at) || self.lies_in_room(at));
        if inside && self.kind != PacketKind::Owner {
            return shown
                .iter()
                .any(|at| at.kind == Kind::Finding && self.shows_record(at));
        }
        // All it was said to show may be hidden or gone; then the place alone does not open it.
        if photo.shows.is_empty() {
            photo.place.as_ref().is_some_and(|at| self.shows_record(at))
        } else {
            shown.iter().any(|at| self.shows_record(at))
        }
    }

    /// A place in the record is a place to anybody, except rooms without a shared finding.
    fn room_is_shown(&self, room: &RecordRef) -> bool {
        if self.kind == PacketKind::Owner {
            return true;
        }
        self.job.standing_findings().any(|(_, finding)| {
            finding.place.as_ref() == Some(room) && !office_only_finding(finding)
        })
    }

    fn lies_in_room(&self, at: &RecordRef) -> bool {
        let records = &self.job.records;
        let place = match at.kind {
            Kind::Finding => records.findings.get(&at.id).and_then(|f| f.place.as_ref()),
            Kind::Component => records
                .components
                .get(&at.id)
                .and_then(|c| c.place.as_ref()),
            Kind::Measurement => records
                .measurements
                .get(&at.id)
                .and_then(|m| m.place.as_ref()),
            _ => None,
        };
        place.is_some_and(|place| place.kind == Kind::Room)
    }

    /// A note is as secret as what it is about; a chain of notes is followed to its end.
    fn shows_note(&self, at: &RecordRef) -> bool {
        let records = &self.job.records;
        let mut seen = BTreeSet::new();
        let mut next = Some(at.clone());
        while let Some(at) = next {
            if at.kind != Kind::Note {
                // A note about what nobody shows stays with it. One about the house as a whole
                // is for the house.
                return at.kind == Kind::Property || self.shows_record(&at);
            }
            let Some(note) = records.notes.get(&at.id) else {
                return false;
            };
            if !note.stands() || office_only_note(note) || !seen.insert(at.clone()) {
                return false;
            }
            next = note.about.clone();
        }
        true
    }
}
