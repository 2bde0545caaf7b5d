//! An invented house whose record is complete, for the tests: no rule finds anything in it, so
//! that a test changes one thing and sees what comes of it.

use std::collections::BTreeMap;

use super::Facts;
use crate::job::*;

pub(crate) const NOON: Millis = 1_781_449_200_000;
pub(crate) const MINUTE: Millis = 60_000;

pub(crate) fn device() -> DeviceId {
    DeviceId::from_bytes([7; 16])
}

pub(crate) fn id(word: &str) -> RecordId {
    word.parse().unwrap()
}

pub(crate) fn at(kind: Kind, word: &str) -> RecordRef {
    RecordRef::new(kind, id(word))
}

pub(crate) fn record<F: Default>(fields: F) -> Record<F> {
    let mut record = Record::new(Stamp {
        device: device(),
        at: NOON,
    });
    record.fields = fields;
    record
}

/// A job under construction and what is known of it.
#[derive(Clone)]
pub(crate) struct House {
    pub(crate) job: Job,
    pub(crate) facts: Facts,
    shots: i64,
}

impl House {
    pub(crate) fn empty() -> Self {
        let crew = BTreeMap::from([(
            device(),
            CrewMember {
                person: "Robin Vale".into(),
                role: Role::Crew,
                device_name: "rep phone".into(),
                key: vec![0; 32],
            },
        )]);
        Self {
            job: Job {
                id: None,
                schema: 1,
                crew,
                records: Records::default(),
            },
            facts: Facts {
                now: NOON + 120 * MINUTE,
                ..Facts::default()
            },
            shots: 0,
        }
    }

    /// Adds a photo a minute after the last one.
    pub(crate) fn photo(
        &mut self,
        word: &str,
        role: PhotoRole,
        place: Option<Place>,
        shows: &[RecordRef],
    ) {
        self.shots += 1;
        let capture = Capture {
            version: Capture::VERSION,
            hash: PhotoHash::of(word.as_bytes()),
            sha256: vec![0; 32],
            size: 4,
            format: PictureFormat::Jpeg,
            width: 4000,
            height: 3000,
            orientation: 1,
            file_name: format!("{word}.jpg"),
            local_time: Some(NOON + self.shots * MINUTE - 5 * 3_600_000),
            utc_offset_min: Some(-300),
            place: None,
            bearing: None,
            bearing_from: None,
            camera: None,
            usability: None,
            device: device(),
            taken_in_at: NOON + self.shots * MINUTE,
        };
        let signed = SignedCapture {
            body: rmp_serde::to_vec_named(&capture).unwrap(),
            signature: vec![0; 64],
        };
        let mut photo = record(Photo {
            capture: Some(serde_bytes::ByteBuf::from(signed.to_bytes().unwrap())),
            role: Some(role),
            place,
            ..Photo::default()
        });
        photo.shows = shows.to_vec();
        self.job.records.photos.insert(id(word), photo);
    }

    pub(crate) fn part(
        &mut self,
        word: &str,
        place: Option<Place>,
        part: Component,
        how: Condition,
    ) {
        let count = record(ComponentCount {
            place,
            component: Some(part),
            condition: Some(how),
            count: Some(if how == Condition::NotPresent { 0 } else { 4 }),
            ..ComponentCount::default()
        });
        self.job.records.components.insert(id(word), count);
    }

    pub(crate) fn finding(&mut self, word: &str, finding: Finding) -> &mut Record<Finding> {
        self.job.records.findings.insert(id(word), record(finding));
        self.job.records.findings.get_mut(&id(word)).unwrap()
    }

    /// The complete house.
    pub(crate) fn complete() -> Self {
        let mut house = Self::empty();
        house.visit();
        house.sides();
        house.damage();
        house.roof();
        house.interior();
        house
    }

    fn visit(&mut self) {
        let records = &mut self.job.records;
        records.properties.insert(
            Job::only(),
            record(Property {
                street: Some("14 Larkspur Row".into()),
                date_of_loss: chrono::NaiveDate::from_ymd_opt(2026, 6, 3),
                ice_barrier_designated: Some(Known::No),
                storeys: Some(2),
                ..Property::default()
            }),
        );
        records.interviews.insert(
            Job::only(),
            record(Interview {
                interior_leaks: Some(Known::No),
                may_climb: Some(Known::Yes),
                ..Interview::default()
            }),
        );
        records.recaps.insert(
            Job::only(),
            record(Recap {
                held_at: Some(NOON + 100 * MINUTE),
                ..Recap::default()
            }),
        );
        records.visits.insert(
            id("visit"),
            record(Visit {
                arrived_at: Some(NOON),
                cautions_read: Some(true),
                ..Visit::default()
            }),
        );
        records.signatures.insert(
            id("signature"),
            record(Signature {
                strokes: Some("M0 0L10 10".into()),
                ..Signature::default()
            }),
        );
        records.structures.insert(
            id("fence"),
            record(Structure {
                kind: Some(StructureKind::Fence),
                walked: Some(true),
                ..Structure::default()
            }),
        );
    }

    fn sides(&mut self) {
        for side in Side::ALL {
            let place = RecordRef::side(*side);
            self.job.records.elevations.insert(
                place.id.clone(),
                record(Elevation {
                    side: Some(*side),
                    walked: Some(true),
                    ..Elevation::default()
                }),
            );
            self.photo(
                &format!("overview-{side}"),
                PhotoRole::Overview,
                Some(place.clone()),
                &[],
            );
            for (word, part) in [
                ("gutter", Component::Gutter),
                ("downspout", Component::Downspout),
                ("window", Component::Window),
                ("screen", Component::Screen),
            ] {
                let word = format!("{word}-{side}");
                self.part(&word, Some(place.clone()), part, Condition::Cleared);
            }
        }
        self.part(
            "guards",
            None,
            Component::GutterGuard,
            Condition::NotPresent,
        );
    }

    /// One finding of hail damage on the front gutter, with its pair.
    fn damage(&mut self) {
        self.job.records.components.remove(&id("gutter-front"));
        let finding = self.finding(
            "dents",
            Finding {
                place: Some(RecordRef::side(Side::Front)),
                component: Some(Component::Gutter),
                condition: Some(Condition::Damaged),
                cause: Some(Cause::Hail),
                cause_reason: Some("round dents of like size, spread evenly".into()),
                finish: Some(Finish::Factory),
                extent_length: Some(Length::feet_inches(24, 0)),
                ..Finding::default()
            },
        );
        finding.tally.insert(device(), 9);
        let dents = at(Kind::Finding, "dents");
        let front = Some(RecordRef::side(Side::Front));
        self.photo(
            "far",
            PhotoRole::Standoff,
            front.clone(),
            std::slice::from_ref(&dents),
        );
        self.photo("near", PhotoRole::CloseUp, front, &[dents]);
        self.job.records.measurements.insert(
            id("width"),
            record(Measurement {
                of: Some(MeasuredThing::GutterWidth),
                length: Some(Length::inches(5)),
                method: Some(MeasureMethod::Tape),
                ..Measurement::default()
            }),
        );
        let width = at(Kind::Measurement, "width");
        self.photo("tape", PhotoRole::Measurement, None, &[width]);
    }

    fn roof(&mut self) {
        let slope = at(Kind::Slope, "main");
        self.job.records.slopes.insert(
            id("main"),
            record(Slope {
                name: Some("main, front".into()),
                side: Some(Side::Front),
                roofing: Some(Material::LaminatedShingle),
                layers: Some(1),
                report_pitch: Pitch::from_rise(6.0),
                walked: Some(true),
                ..Slope::default()
            }),
        );
        self.job.records.measurements.insert(
            id("pitch"),
            record(Measurement {
                place: Some(slope.clone()),
                of: Some(MeasuredThing::Pitch),
                pitch: Pitch::from_rise(6.0),
                method: Some(MeasureMethod::Gauge),
                ..Measurement::default()
            }),
        );
        let mut square = record(TestSquare {
            slope: Some(slope.clone()),
            width: Some(Length::feet_inches(10, 0)),
            height: Some(Length::feet_inches(10, 0)),
            ..TestSquare::default()
        });
        square.tally.insert(device(), 0);
        self.job.records.test_squares.insert(id("square"), square);
        self.job.records.eave_openings.insert(
            id("eave"),
            record(EaveOpening {
                slope: Some(slope.clone()),
                side: Some(Side::Front),
                beside_valley: Some(true),
                starter: Some(Layer::Seen(StarterKind::ProperStrip)),
                drip_edge: Some(Layer::SeenAbsent),
                gutter_apron: Some(Layer::SeenAbsent),
                underlayment: Some(Layer::Seen(Underlayment::Felt15)),
                ice_barrier: Some(Layer::CouldNotSee),
                deck: Some(Layer::Seen(DeckKind::Plywood)),
                valley_lining: Some(Layer::Seen(ValleyLining::ClosedCut)),
                roofing_layers: Some(1),
                reason: Some("the felt is nailed down".into()),
                ..EaveOpening::default()
            }),
        );
        self.job.records.edges.insert(
            id("valley"),
            record(Edge {
                kind: Some(EdgeKind::Valley),
                slope: Some(slope.clone()),
                lining: Some(Layer::Seen(ValleyLining::ClosedCut)),
                ..Edge::default()
            }),
        );
        let shown = at(Kind::EaveOpening, "eave");
        self.photo("layers", PhotoRole::Layer, Some(shown.clone()), &[shown]);
        let pitch = at(Kind::Measurement, "pitch");
        self.photo(
            "gauge",
            PhotoRole::Measurement,
            Some(slope.clone()),
            &[pitch],
        );
        let square = at(Kind::TestSquare, "square");
        self.photo("square", PhotoRole::CloseUp, Some(slope.clone()), &[square]);
        self.photo("turn", PhotoRole::Panorama, Some(slope.clone()), &[]);
        for (word, part) in [
            ("dish", Component::SatelliteDish),
            ("solar", Component::SolarPanel),
            ("mast", Component::Mast),
            ("tar", Component::TarPatch),
            ("skylight", Component::Skylight),
        ] {
            self.part(word, Some(slope.clone()), part, Condition::NotPresent);
        }
        self.part(
            "boots",
            Some(slope.clone()),
            Component::PipeBoot,
            Condition::Cleared,
        );
        self.part("vents", Some(slope), Component::BoxVent, Condition::Cleared);
    }

    fn interior(&mut self) {
        let room = at(Kind::Room, "bedroom");
        self.job.records.rooms.insert(
            id("bedroom"),
            record(Room {
                name: Some("upper bedroom".into()),
                ..Room::default()
            }),
        );
        self.photo("ceiling", PhotoRole::Overview, Some(room), &[]);
    }
}
