//! The table of record kinds. Adding a kind is one line here and one `record!` in `records`.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::*;

macro_rules! kinds {
    ($( $variant:ident, $fields:ident, $code:ident, $many:ident, $label:literal; )*) => {
        /// The kinds of record a job holds.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
        #[serde(rename_all = "snake_case")]
        pub enum Kind {
            $( #[doc = $label] $variant, )*
        }

        impl Kind {
            /// Every kind, in the order of the table.
            pub const ALL: &'static [Kind] = &[$( Kind::$variant ),*];

            /// The word stored in pointers.
            pub const fn code(self) -> &'static str {
                match self { $( Kind::$variant => stringify!($code) ),* }
            }

            /// The key of the collection in the document.
            pub const fn collection(self) -> &'static str {
                match self { $( Kind::$variant => stringify!($many) ),* }
            }

            /// The words that people read.
            pub const fn label(self) -> &'static str {
                match self { $( Kind::$variant => $label ),* }
            }

            /// One of the kind, as a sentence has it: "a finding", "an eave opening".
            pub fn one(self) -> String {
                let label = self.label();
                let article = if label.starts_with(['a', 'e', 'i', 'o', 'u']) { "an" } else { "a" };
                format!("{article} {label}")
            }

            /// The kind with this word.
            pub fn from_code(code: &str) -> Option<Self> {
                match code { $( stringify!($code) => Some(Kind::$variant), )* _ => None }
            }

            /// The kind of a collection.
            pub fn from_collection(key: &str) -> Option<Self> {
                match key { $( stringify!($many) => Some(Kind::$variant), )* _ => None }
            }

            /// The fields a record of this kind may have.
            pub const fn keys(self) -> &'static [&'static str] {
                match self { $( Kind::$variant => <$fields as Fields>::KEYS ),* }
            }

            /// A stored value of one field as a person reads it.
            pub fn value_in_words(self, key: &str, value: ScalarRef<'_>) -> Option<String> {
                match self { $( Kind::$variant => <$fields as Fields>::value_in_words(key, value) ),* }
            }
        }

        /// The fields of a record of any kind.
        #[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
        #[serde(rename_all = "snake_case")]
        pub enum AnyFields {
            $( #[doc = $label] $variant($fields), )*
        }

        impl AnyFields {
            /// Empty fields of a kind.
            pub fn empty(kind: Kind) -> Self {
                match kind { $( Kind::$variant => AnyFields::$variant($fields::default()) ),* }
            }

            /// The kind of record.
            pub const fn kind(&self) -> Kind {
                match self { $( AnyFields::$variant(_) => Kind::$variant ),* }
            }

            /// Calls `put` for each field that has a value.
            pub fn each(&self, put: &mut dyn FnMut(&'static str, Scalar)) {
                match self { $( AnyFields::$variant(fields) => fields.each(put) ),* }
            }

            /// Reads one key.
            pub fn read(&mut self, key: &str, value: ScalarRef<'_>) -> FieldRead {
                match self { $( AnyFields::$variant(fields) => fields.read(key, value) ),* }
            }

            /// Empties one field; false where there is no such field.
            pub fn clear(&mut self, key: &str) -> bool {
                match self { $( AnyFields::$variant(fields) => fields.clear(key) ),* }
            }
        }

        $(
            impl From<$fields> for AnyFields {
                fn from(fields: $fields) -> Self {
                    AnyFields::$variant(fields)
                }
            }
        )*

        /// Every record of a job, by kind and id.
        #[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
        #[serde(default)]
        pub struct Records {
            $(
                #[doc = $label]
                #[serde(skip_serializing_if = "BTreeMap::is_empty")]
                pub $many: BTreeMap<RecordId, Record<$fields>>,
            )*
        }

        /// Work that is the same for every kind of record, whatever its fields.
        pub trait KindVisitor {
            /// Called once for a kind, with the collection of its records.
            fn visit<F: Fields>(&mut self, kind: Kind, records: &mut BTreeMap<RecordId, Record<F>>);
        }

        impl Records {
            /// Calls the visitor with the collection of one kind.
            pub fn with_kind<V: KindVisitor>(&mut self, kind: Kind, visitor: &mut V) {
                match kind { $( Kind::$variant => visitor.visit(kind, &mut self.$many) ),* }
            }

            /// The records of one kind, to be filled.
            pub fn list_mut(&mut self, kind: Kind) -> &mut dyn RecordList {
                match kind { $( Kind::$variant => &mut self.$many ),* }
            }

            /// What all records have in common, for one record.
            pub fn header(&self, at: &RecordRef) -> Option<RecordHeader<'_>> {
                match at.kind { $( Kind::$variant => self.$many.get(&at.id).map(Record::header) ),* }
            }

            /// The headers of all records, by kind and id.
            pub fn headers(&self) -> impl Iterator<Item = (RecordRef, RecordHeader<'_>)> {
                let mut all = Vec::new();
                for kind in Kind::ALL {
                    self.each_of(*kind, &mut |id, header, _| {
                        all.push((RecordRef::new(*kind, id.clone()), header));
                    });
                }
                all.into_iter()
            }

            /// Calls `see` for each record of one kind, by id.
            pub fn each_of<'a>(&'a self, kind: Kind, see: SeeRecord<'a, '_>) {
                match kind { $( Kind::$variant => each(&self.$many, see) ),* }
            }

            /// The fields of one record.
            pub fn fields(&self, at: &RecordRef) -> Option<AnyFields> {
                match at.kind {
                    $( Kind::$variant => {
                        let record = self.$many.get(&at.id)?;
                        Some(AnyFields::$variant(record.fields.clone()))
                    } )*
                }
            }

            /// One field of a record as a person reads it.
            pub fn words(&self, at: &RecordRef, key: &str) -> Option<String> {
                match at.kind { $( Kind::$variant => self.$many.get(&at.id)?.fields.words(key) ),* }
            }
        }
    };
}

/// Takes the fields of one record, key by key.
pub type TakeField<'a> = &'a mut dyn FnMut(&str, ScalarRef<'_>) -> FieldRead;

/// The records of one kind, without a word on which: what fills them is there once for all kinds.
pub trait RecordList {
    /// Puts a record there, or in the place of the one with this id. `read` gives the fields to
    /// what it is called with, and returns the rest of the record.
    fn put(&mut self, id: RecordId, read: &mut dyn FnMut(TakeField<'_>) -> Record<()>);
    /// Takes a record away.
    fn remove(&mut self, id: &RecordId);
}

impl<F: Fields> RecordList for BTreeMap<RecordId, Record<F>> {
    fn put(&mut self, id: RecordId, read: &mut dyn FnMut(TakeField<'_>) -> Record<()>) {
        let mut fields = F::default();
        let record = read(&mut |key, value| fields.read(key, value));
        self.insert(id, record.with(fields));
    }

    fn remove(&mut self, id: &RecordId) {
        // Nothing is ever deleted, so this is rare: made anew, as taking out of a tree is a
        // thousand lines of machine code for each kind.
        let all = std::mem::take(self);
        self.extend(all.into_iter().filter(|(known, _)| known != id));
    }
}

/// What is done with one record of any kind.
pub type SeeRecord<'a, 'b> = &'b mut dyn FnMut(&'a RecordId, RecordHeader<'a>, &'a dyn FieldList);

fn each<'a, F: Fields + Into<AnyFields>>(
    records: &'a BTreeMap<RecordId, Record<F>>,
    see: SeeRecord<'a, '_>,
) {
    for (id, record) in records {
        see(id, record.header(), &record.fields);
    }
}

kinds! {
    Property, Property, property, properties, "property";
    Interview, Interview, interview, interviews, "owner interview";
    Recap, Recap, recap, recaps, "recap";
    Visit, Visit, visit, visits, "visit";
    Elevation, Elevation, elevation, elevations, "elevation";
    Slope, Slope, slope, slopes, "slope";
    Edge, Edge, edge, edges, "edge";
    Room, Room, room, rooms, "room";
    Structure, Structure, structure, structures, "other structure";
    Component, ComponentCount, component, components, "component";
    Finding, Finding, finding, findings, "finding";
    Photo, Photo, photo, photos, "photo";
    Measurement, Measurement, measurement, measurements, "measurement";
    EaveOpening, EaveOpening, eave_opening, eave_openings, "eave opening";
    TestSquare, TestSquare, test_square, test_squares, "test square";
    Note, Note, note, notes, "note";
    Question, Question, question, questions, "question";
    Answer, Answer, answer, answers, "answer";
    Signature, Signature, signature, signatures, "signature";
    Departure, Departure, departure, departures, "leaving the site";
    StormReport, StormReport, storm_report, storm_reports, "storm report";
    Plan, Plan, plan, plans, "plan";
    MeasurementReport, MeasurementReport, measurement_report, measurement_reports, "measurement report";
    ScopeChange, ScopeChange, scope_change, scope_changes, "change to the scope";
    OtherScope, OtherScope, other_scope, other_scopes, "scope of another";
    ScopeMatch, ScopeMatch, scope_match, scope_matches, "match with another scope";
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_kind_stands_in_a_sentence() {
        assert_eq!(Kind::Finding.one(), "a finding");
        assert_eq!(Kind::EaveOpening.one(), "an eave opening");
    }
}
