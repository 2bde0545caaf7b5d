//! A record of any kind: one line a kind.

use chalkwalk_core::job::*;

use crate::views::RecordView;

macro_rules! kinds {
    ($($doc:literal $kind:ident: $fields:ident;)*) => {
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
    };
}

kinds! {
    "Property." Property: Property;
    "Owner interview." Interview: Interview;
    "Recap." Recap: Recap;
    "Visit." Visit: Visit;
    "Elevation." Elevation: Elevation;
    "Slope." Slope: Slope;
    "Edge." Edge: Edge;
    "Room." Room: Room;
    "Other structure." Structure: Structure;
    "Component." Component: ComponentCount;
    "Finding." Finding: Finding;
    "Photo." Photo: Photo;
    "Measurement." Measurement: Measurement;
    "Eave opening." EaveOpening: EaveOpening;
    "Test square." TestSquare: TestSquare;
    "Note." Note: Note;
    "Question." Question: Question;
    "Answer." Answer: Answer;
    "Signature." Signature: Signature;
    "Leaving the site." Departure: Departure;
    "Storm report." StormReport: StormReport;
    "Plan." Plan: Plan;
    "Measurement report." MeasurementReport: MeasurementReport;
    "Change to the scope." ScopeChange: ScopeChange;
    "Scope of another." OtherScope: OtherScope;
    "Match with another scope." ScopeMatch: ScopeMatch;
}

/// All records of one kind, by id.
pub(crate) fn of_kind(records: &Records, kind: Kind) -> Vec<RecordView> {
    let mut views = Vec::new();
    records.each_of(kind, &mut |id, header, fields| {
        let at = RecordRef::new(kind, id.clone());
        views.push(RecordView::of(at, header, fields.to_any()));
    });
    views
}

/// One record; nothing where there is none.
pub(crate) fn one(records: &Records, at: &RecordRef) -> Option<RecordView> {
    let header = records.header(at)?;
    Some(RecordView::of(at.clone(), header, records.fields(at)?))
}
