//! A record of any kind: one line a kind.

use std::collections::BTreeMap;

use chalkwalk_core::job::*;

use crate::views::RecordView;

macro_rules! kinds {
    ($($doc:literal $kind:ident: $fields:ident in $records:ident;)*) => {
        /// The kinds of record a job holds.
        #[uniffi::remote(Enum)]
        pub enum Kind {
            $(#[doc = $doc] $kind,)*
        }

        /// The fields of a record of any kind.
        #[derive(Clone, Debug, PartialEq, uniffi::Enum)]
        pub enum Fields {
            $(
                #[doc = $doc]
                $kind {
                    /// The fields.
                    fields: $fields,
                },
            )*
        }

        impl From<Fields> for AnyFields {
            fn from(fields: Fields) -> Self {
                match fields {
                    $(Fields::$kind { fields } => AnyFields::$kind(fields),)*
                }
            }
        }

        impl From<AnyFields> for Fields {
            fn from(fields: AnyFields) -> Self {
                match fields {
                    $(AnyFields::$kind(fields) => Fields::$kind { fields },)*
                }
            }
        }

        /// All records of one kind, by id.
        pub(crate) fn of_kind(records: &Records, kind: Kind) -> Vec<RecordView> {
            match kind {
                $(Kind::$kind => views(kind, &records.$records),)*
            }
        }

        /// One record; nothing where there is none.
        pub(crate) fn one(records: &Records, at: &RecordRef) -> Option<RecordView> {
            match at.kind {
                $(Kind::$kind => Some(view(at.clone(), records.$records.get(&at.id)?)),)*
            }
        }
    };
}

kinds! {
    "Property." Property: Property in properties;
    "Owner interview." Interview: Interview in interviews;
    "Recap." Recap: Recap in recaps;
    "Visit." Visit: Visit in visits;
    "Elevation." Elevation: Elevation in elevations;
    "Slope." Slope: Slope in slopes;
    "Edge." Edge: Edge in edges;
    "Room." Room: Room in rooms;
    "Other structure." Structure: Structure in structures;
    "Component." Component: ComponentCount in components;
    "Finding." Finding: Finding in findings;
    "Photo." Photo: Photo in photos;
    "Measurement." Measurement: Measurement in measurements;
    "Eave opening." EaveOpening: EaveOpening in eave_openings;
    "Test square." TestSquare: TestSquare in test_squares;
    "Note." Note: Note in notes;
    "Question." Question: Question in questions;
    "Answer." Answer: Answer in answers;
    "Signature." Signature: Signature in signatures;
    "Leaving the site." Departure: Departure in departures;
    "Storm report." StormReport: StormReport in storm_reports;
    "Plan." Plan: Plan in plans;
    "Measurement report." MeasurementReport: MeasurementReport in measurement_reports;
    "Change to the scope." ScopeChange: ScopeChange in scope_changes;
    "Scope of another." OtherScope: OtherScope in other_scopes;
    "Match with another scope." ScopeMatch: ScopeMatch in scope_matches;
}

fn views<F: Clone + Into<AnyFields>>(
    kind: Kind,
    records: &BTreeMap<RecordId, Record<F>>,
) -> Vec<RecordView> {
    let records = records.iter();
    records
        .map(|(id, record)| view(RecordRef::new(kind, id.clone()), record))
        .collect()
}

fn view<F: Clone + Into<AnyFields>>(at: RecordRef, record: &Record<F>) -> RecordView {
    RecordView::of(at, record, record.fields.clone().into())
}
