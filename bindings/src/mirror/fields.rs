//! A record of any kind.

use chalkwalk_core::job::*;
use chalkwalk_core::job::{AnyFields, Kind, Record, RecordRef, Records};

use crate::views::RecordView;

/// The kinds of record a job holds.
#[uniffi::remote(Enum)]
pub enum Kind {
    /// Property.
    Property,
    /// Owner interview.
    Interview,
    /// Recap.
    Recap,
    /// Visit.
    Visit,
    /// Elevation.
    Elevation,
    /// Slope.
    Slope,
    /// Edge.
    Edge,
    /// Room.
    Room,
    /// Other structure.
    Structure,
    /// Component.
    Component,
    /// Finding.
    Finding,
    /// Photo.
    Photo,
    /// Measurement.
    Measurement,
    /// Eave opening.
    EaveOpening,
    /// Test square.
    TestSquare,
    /// Note.
    Note,
    /// Question.
    Question,
    /// Answer.
    Answer,
    /// Signature.
    Signature,
    /// Leaving the site.
    Departure,
    /// Storm report.
    StormReport,
    /// Plan.
    Plan,
    /// Measurement report.
    MeasurementReport,
    /// Change to the scope.
    ScopeChange,
    /// Scope of another.
    OtherScope,
    /// Match with another scope.
    ScopeMatch,
}

/// The fields of a record of any kind.
#[derive(Clone, Debug, PartialEq, uniffi::Enum)]
pub enum Fields {
    /// Property.
    Property {
        /// The fields.
        fields: Property,
    },
    /// Owner interview.
    Interview {
        /// The fields.
        fields: Interview,
    },
    /// Recap.
    Recap {
        /// The fields.
        fields: Recap,
    },
    /// Visit.
    Visit {
        /// The fields.
        fields: Visit,
    },
    /// Elevation.
    Elevation {
        /// The fields.
        fields: Elevation,
    },
    /// Slope.
    Slope {
        /// The fields.
        fields: Slope,
    },
    /// Edge.
    Edge {
        /// The fields.
        fields: Edge,
    },
    /// Room.
    Room {
        /// The fields.
        fields: Room,
    },
    /// Other structure.
    Structure {
        /// The fields.
        fields: Structure,
    },
    /// Component.
    Component {
        /// The fields.
        fields: ComponentCount,
    },
    /// Finding.
    Finding {
        /// The fields.
        fields: Finding,
    },
    /// Photo.
    Photo {
        /// The fields.
        fields: Photo,
    },
    /// Measurement.
    Measurement {
        /// The fields.
        fields: Measurement,
    },
    /// Eave opening.
    EaveOpening {
        /// The fields.
        fields: EaveOpening,
    },
    /// Test square.
    TestSquare {
        /// The fields.
        fields: TestSquare,
    },
    /// Note.
    Note {
        /// The fields.
        fields: Note,
    },
    /// Question.
    Question {
        /// The fields.
        fields: Question,
    },
    /// Answer.
    Answer {
        /// The fields.
        fields: Answer,
    },
    /// Signature.
    Signature {
        /// The fields.
        fields: Signature,
    },
    /// Leaving the site.
    Departure {
        /// The fields.
        fields: Departure,
    },
    /// Storm report.
    StormReport {
        /// The fields.
        fields: StormReport,
    },
    /// Plan.
    Plan {
        /// The fields.
        fields: Plan,
    },
    /// Measurement report.
    MeasurementReport {
        /// The fields.
        fields: MeasurementReport,
    },
    /// Change to the scope.
    ScopeChange {
        /// The fields.
        fields: ScopeChange,
    },
    /// Scope of another.
    OtherScope {
        /// The fields.
        fields: OtherScope,
    },
    /// Match with another scope.
    ScopeMatch {
        /// The fields.
        fields: ScopeMatch,
    },
}

impl From<Fields> for AnyFields {
    fn from(fields: Fields) -> Self {
        match fields {
            Fields::Property { fields } => AnyFields::Property(fields),
            Fields::Interview { fields } => AnyFields::Interview(fields),
            Fields::Recap { fields } => AnyFields::Recap(fields),
            Fields::Visit { fields } => AnyFields::Visit(fields),
            Fields::Elevation { fields } => AnyFields::Elevation(fields),
            Fields::Slope { fields } => AnyFields::Slope(fields),
            Fields::Edge { fields } => AnyFields::Edge(fields),
            Fields::Room { fields } => AnyFields::Room(fields),
            Fields::Structure { fields } => AnyFields::Structure(fields),
            Fields::Component { fields } => AnyFields::Component(fields),
            Fields::Finding { fields } => AnyFields::Finding(fields),
            Fields::Photo { fields } => AnyFields::Photo(fields),
            Fields::Measurement { fields } => AnyFields::Measurement(fields),
            Fields::EaveOpening { fields } => AnyFields::EaveOpening(fields),
            Fields::TestSquare { fields } => AnyFields::TestSquare(fields),
            Fields::Note { fields } => AnyFields::Note(fields),
            Fields::Question { fields } => AnyFields::Question(fields),
            Fields::Answer { fields } => AnyFields::Answer(fields),
            Fields::Signature { fields } => AnyFields::Signature(fields),
            Fields::Departure { fields } => AnyFields::Departure(fields),
            Fields::StormReport { fields } => AnyFields::StormReport(fields),
            Fields::Plan { fields } => AnyFields::Plan(fields),
            Fields::MeasurementReport { fields } => AnyFields::MeasurementReport(fields),
            Fields::ScopeChange { fields } => AnyFields::ScopeChange(fields),
            Fields::OtherScope { fields } => AnyFields::OtherScope(fields),
            Fields::ScopeMatch { fields } => AnyFields::ScopeMatch(fields),
        }
    }
}

impl From<AnyFields> for Fields {
    fn from(fields: AnyFields) -> Self {
        match fields {
            AnyFields::Property(fields) => Fields::Property { fields },
            AnyFields::Interview(fields) => Fields::Interview { fields },
            AnyFields::Recap(fields) => Fields::Recap { fields },
            AnyFields::Visit(fields) => Fields::Visit { fields },
            AnyFields::Elevation(fields) => Fields::Elevation { fields },
            AnyFields::Slope(fields) => Fields::Slope { fields },
            AnyFields::Edge(fields) => Fields::Edge { fields },
            AnyFields::Room(fields) => Fields::Room { fields },
            AnyFields::Structure(fields) => Fields::Structure { fields },
            AnyFields::Component(fields) => Fields::Component { fields },
            AnyFields::Finding(fields) => Fields::Finding { fields },
            AnyFields::Photo(fields) => Fields::Photo { fields },
            AnyFields::Measurement(fields) => Fields::Measurement { fields },
            AnyFields::EaveOpening(fields) => Fields::EaveOpening { fields },
            AnyFields::TestSquare(fields) => Fields::TestSquare { fields },
            AnyFields::Note(fields) => Fields::Note { fields },
            AnyFields::Question(fields) => Fields::Question { fields },
            AnyFields::Answer(fields) => Fields::Answer { fields },
            AnyFields::Signature(fields) => Fields::Signature { fields },
            AnyFields::Departure(fields) => Fields::Departure { fields },
            AnyFields::StormReport(fields) => Fields::StormReport { fields },
            AnyFields::Plan(fields) => Fields::Plan { fields },
            AnyFields::MeasurementReport(fields) => Fields::MeasurementReport { fields },
            AnyFields::ScopeChange(fields) => Fields::ScopeChange { fields },
            AnyFields::OtherScope(fields) => Fields::OtherScope { fields },
            AnyFields::ScopeMatch(fields) => Fields::ScopeMatch { fields },
        }
    }
}

/// All records of one kind, by id.
pub(crate) fn of_kind(records: &Records, kind: Kind) -> Vec<RecordView> {
    match kind {
        Kind::Property => view(Kind::Property, &records.properties),
        Kind::Interview => view(Kind::Interview, &records.interviews),
        Kind::Recap => view(Kind::Recap, &records.recaps),
        Kind::Visit => view(Kind::Visit, &records.visits),
        Kind::Elevation => view(Kind::Elevation, &records.elevations),
        Kind::Slope => view(Kind::Slope, &records.slopes),
        Kind::Edge => view(Kind::Edge, &records.edges),
        Kind::Room => view(Kind::Room, &records.rooms),
        Kind::Structure => view(Kind::Structure, &records.structures),
        Kind::Component => view(Kind::Component, &records.components),
        Kind::Finding => view(Kind::Finding, &records.findings),
        Kind::Photo => view(Kind::Photo, &records.photos),
        Kind::Measurement => view(Kind::Measurement, &records.measurements),
        Kind::EaveOpening => view(Kind::EaveOpening, &records.eave_openings),
        Kind::TestSquare => view(Kind::TestSquare, &records.test_squares),
        Kind::Note => view(Kind::Note, &records.notes),
        Kind::Question => view(Kind::Question, &records.questions),
        Kind::Answer => view(Kind::Answer, &records.answers),
        Kind::Signature => view(Kind::Signature, &records.signatures),
        Kind::Departure => view(Kind::Departure, &records.departures),
        Kind::StormReport => view(Kind::StormReport, &records.storm_reports),
        Kind::Plan => view(Kind::Plan, &records.plans),
        Kind::MeasurementReport => view(Kind::MeasurementReport, &records.measurement_reports),
        Kind::ScopeChange => view(Kind::ScopeChange, &records.scope_changes),
        Kind::OtherScope => view(Kind::OtherScope, &records.other_scopes),
        Kind::ScopeMatch => view(Kind::ScopeMatch, &records.scope_matches),
    }
}

fn view<F: Clone + Into<AnyFields>>(
    kind: Kind,
    records: &std::collections::BTreeMap<RecordId, Record<F>>,
) -> Vec<RecordView> {
    records
        .iter()
        .map(|(id, record)| {
            let at = RecordRef::new(kind, id.clone());
            RecordView::of(at, record, record.fields.clone().into())
        })
        .collect()
}
