//! What a form about a record changes: only what the person changed, and only where the record
//! still says what the person was shown.

use std::collections::BTreeMap;

use chalkwalk_core::document::{Action, ActionError};
use chalkwalk_core::job::{AnyFields, DeviceId, Job, RecordRef};

use super::fields::{in_a_sentence, plain, read, text_of, whole};
use super::spec::{Input, Sheet, Spec, may_strike};
use crate::hub::PenError;

/// The field of hits that a person counted.
pub(super) const HITS: &str = "hits";

/// What was typed, by the names of the form.
#[derive(Clone, Debug, Default, PartialEq)]
pub(in crate::serve) struct Typed(BTreeMap<String, String>);

impl Typed {
    /// The first value of each name counts.
    pub(in crate::serve) fn of(pairs: Vec<(String, String)>) -> Self {
        let mut typed = BTreeMap::new();
        for (name, value) in pairs {
            typed.entry(name).or_insert_with(|| plain(&value));
        }
        Self(typed)
    }

    pub(in crate::serve) fn get(&self, name: &str) -> Option<&str> {
        self.0.get(name).map(String::as_str)
    }

    /// What the person was shown in a field, or has seen of another's change and decided to
    /// replace.
    fn shown(&self, key: &str) -> Option<&str> {
        match self.get(&format!("take-{key}")) {
            Some("mine") => self.get(&format!("seen-{key}")),
            _ => self.get(&format!("was-{key}")),
        }
    }

    fn leaves_to_the_other(&self, key: &str) -> bool {
        self.get(&format!("take-{key}")) == Some("theirs")
    }
}

/// Why nothing was written.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Refused {
    /// There is no such record.
    Gone,
    /// Somebody changed these fields meanwhile.
    Clash(Vec<&'static str>),
    /// What was typed cannot be read, by field.
    Wrong(BTreeMap<&'static str, String>),
    /// The record did not take it.
    Pen(PenError),
}

impl From<PenError> for Refused {
    fn from(error: PenError) -> Self {
        Refused::Pen(error)
    }
}

impl Refused {
    /// What can be said beside a field is said there.
    pub(super) fn beside(self, sheet: &Sheet) -> Self {
        let Refused::Pen(PenError::Action(action)) = &self else {
            return self;
        };
        let field = match action {
            ActionError::TooLong { field, .. }
            | ActionError::WrongValue { field, .. }
            | ActionError::Unsettled(field) => field.as_str(),
            ActionError::UnitsOverTotal { .. } => "units",
            ActionError::NoSuchRecord(at) | ActionError::NotAPlace(at)
                if *at != RecordRef::new(sheet.kind, at.id.clone()) =>
            {
                if sheet.spec("place").is_some() {
                    "place"
                } else {
                    "slope"
                }
            }
            _ => return self,
        };
        match sheet.spec(field) {
            Some(spec) => Refused::Wrong(BTreeMap::from([(spec.key, in_a_sentence(action))])),
            None => self,
        }
    }
}

/// The actions of an edit.
pub(super) fn edit(
    job: &Job,
    of: &RecordRef,
    sheet: &Sheet,
    typed: &Typed,
) -> Result<Vec<Action>, Refused> {
    let fields = job.records.fields(of).ok_or(Refused::Gone)?;
    let mut set = AnyFields::empty(of.kind);
    let (mut clear, mut clash, mut wrong) = (Vec::new(), Vec::new(), BTreeMap::new());
    for spec in sheet.specs() {
        let Some(new) = changed(&fields, spec, typed) else {
            continue;
        };
        if typed.shown(spec.key) != Some(&text_of(&fields, spec)) {
            clash.push(spec.key);
        } else if let Some(conflict) = disputed(job, of, spec) {
            wrong.insert(spec.key, conflict);
        } else if new.is_empty() {
            clear.push(spec.key.to_owned());
        } else if let Err(words) = read(&mut set, spec, new) {
            wrong.insert(spec.key, words);
        }
    }
    if !clash.is_empty() {
        return Err(Refused::Clash(clash));
    }
    if wrong.is_empty() {
        if clear.is_empty() && set == AnyFields::empty(of.kind) {
            return Ok(Vec::new());
        }
        let after = after(fields, &set, &clear);
        wrong.extend((sheet.whole)(&after).map(|(key, words)| (key, words.to_owned())));
    }
    if !wrong.is_empty() {
        return Err(Refused::Wrong(wrong));
    }
    let id = of.id.clone();
    Ok(vec![Action::Amend { id, set, clear }])
}

/// The record as it would stand.
fn after(mut fields: AnyFields, set: &AnyFields, clear: &[String]) -> AnyFields {
    for key in clear {
        fields.clear(key);
    }
    set.each(&mut |key, value| {
        fields.read(key, value.as_ref());
    });
    fields
}

/// The new text of a field, where the person changed it and it is not what stands there anyway.
fn changed<'a>(fields: &AnyFields, spec: &Spec, typed: &'a Typed) -> Option<&'a str> {
    let new = typed.get(spec.key)?;
    let was = typed.get(&format!("was-{}", spec.key))?;
    let same = new == was || new == text_of(fields, spec);
    (!same && !typed.leaves_to_the_other(spec.key)).then_some(new)
}

fn disputed(job: &Job, of: &RecordRef, spec: &Spec) -> Option<String> {
    let header = job.records.header(of)?;
    let two = header
        .conflicts
        .iter()
        .any(|conflict| conflict.field == spec.key);
    two.then(|| {
        "Two people stated this differently. Settle it on Open points before it is changed."
            .to_owned()
    })
}

/// The action of a new record. Sent twice, it is added once.
pub(super) fn add(
    job: &Job,
    of: &RecordRef,
    sheet: &Sheet,
    typed: &Typed,
) -> Result<Vec<Action>, Refused> {
    if job.records.header(of).is_some() {
        return Ok(Vec::new());
    }
    let mut record = AnyFields::empty(of.kind);
    let mut wrong = BTreeMap::new();
    for spec in sheet.specs() {
        match typed.get(spec.key).unwrap_or_default() {
            "" if spec.needed => {
                wrong.insert(spec.key, missing(spec).to_owned());
            }
            "" => {}
            text => {
                if let Err(words) = read(&mut record, spec, text) {
                    wrong.insert(spec.key, words);
                }
            }
        }
    }
    if wrong.is_empty() {
        wrong.extend((sheet.whole)(&record).map(|(key, words)| (key, words.to_owned())));
    }
    let mut hits = None;
    if sheet.counts_new() {
        match typed.get(HITS).unwrap_or_default() {
            "" => {}
            text => match whole(text) {
                Ok(count) => hits = Some(count),
                Err(words) => {
                    wrong.insert(HITS, words);
                }
            },
        }
    }
    if !wrong.is_empty() {
        return Err(Refused::Wrong(wrong));
    }
    let id = of.id.clone();
    Ok(vec![Action::Add {
        id,
        record,
        hits,
        shows: Vec::new(),
    }])
}

const fn missing(spec: &Spec) -> &'static str {
    match spec.input {
        Input::Place | Input::Slope | Input::Word(_) | Input::Tick => "Choose one of the list.",
        _ => "Fill this in.",
    }
}

/// The action of a person's own count. Hits are added up by person: nobody changes another's.
pub(super) fn count(
    job: &Job,
    of: &RecordRef,
    own: DeviceId,
    typed: &Typed,
) -> Result<Vec<Action>, Refused> {
    let header = job.records.header(of).ok_or(Refused::Gone)?;
    let now = header
        .tally
        .get(&own)
        .map(u32::to_string)
        .unwrap_or_default();
    let text = typed.get(HITS).unwrap_or_default();
    if text == now {
        return Ok(Vec::new());
    }
    if typed.shown(HITS) != Some(&now) {
        return Err(Refused::Clash(vec![HITS]));
    }
    let hits = whole(text).map_err(|words| Refused::Wrong(BTreeMap::from([(HITS, words)])))?;
    let at = of.clone();
    Ok(vec![Action::Count { at, hits }])
}

/// The action of striking a record; the kind says whether it is one that goes.
pub(super) fn strike(of: &RecordRef, reason: &str) -> Result<Vec<Action>, PenError> {
    if !may_strike(of) {
        return Err(PenError::Action(ActionError::Document(
            "the house and its four sides stay".to_owned(),
        )));
    }
    let (at, reason) = (of.clone(), reason.to_owned());
    Ok(vec![Action::Strike { at, reason }])
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use chalkwalk_core::job::{
        Cause, Conflict, Finding, Kind, Length, MeasuredThing, Measurement, Pitch, Record,
        RecordId, Records, Scalar, Severity, Stamp, Statement, TestSquare,
    };

    use super::super::tables::sheet_of;
    use super::*;

    const STAMP: Stamp = Stamp {
        device: DeviceId::from_bytes([1; 16]),
        at: 0,
    };

    fn id() -> RecordId {
        "01J00000000000000000000001".parse().unwrap()
    }

    fn finding(id: &RecordId) -> RecordRef {
        RecordRef::new(Kind::Finding, id.clone())
    }

    fn edit(job: &Job, id: &RecordId, typed: &Typed) -> Result<Vec<Action>, Refused> {
        super::edit(job, &finding(id), sheet_of(Kind::Finding).unwrap(), typed)
    }

    fn add(job: &Job, id: &RecordId, typed: &Typed) -> Result<Vec<Action>, Refused> {
        super::add(job, &finding(id), sheet_of(Kind::Finding).unwrap(), typed)
    }

    fn job() -> Job {
        let mut finding = Record::new(STAMP);
        finding.fields = Finding {
            cause: Some(Cause::Hail),
            units: Some(1),
            text: Some("two\nlines".into()),
            ..Finding::default()
        };
        let mut job = Job {
            id: None,
            schema: 1,
            crew: BTreeMap::new(),
            records: Records::default(),
        };
        job.records.findings.insert(id(), finding);
        job
    }

    fn typed(pairs: &[(&str, &str)]) -> Typed {
        let own = |(name, value): &(&str, &str)| ((*name).to_owned(), (*value).to_owned());
        Typed::of(pairs.iter().map(own).collect())
    }

    fn amended(actions: &[Action]) -> (Finding, Vec<String>) {
        match actions {
            [
                Action::Amend {
                    set: AnyFields::Finding(set),
                    clear,
                    ..
                },
            ] => (set.clone(), clear.clone()),
            other => panic!("{other:?}"),
        }
    }

    #[test]
    fn only_what_the_person_changed_is_written() {
        let same = [
            ("cause", "hail"),
            ("was-cause", "hail"),
            ("text", "two\r\nlines "),
            ("was-text", "two\nlines"),
        ];
        assert_eq!(edit(&job(), &id(), &typed(&same)), Ok(vec![]));
        let one = [
            ("cause", "wind"),
            ("was-cause", "hail"),
            ("units", ""),
            ("was-units", "1"),
        ];
        let (set, clear) = amended(&edit(&job(), &id(), &typed(&one)).unwrap());
        let only = Finding {
            cause: Some(Cause::Wind),
            ..Finding::default()
        };
        assert_eq!((set, clear), (only, vec!["units".to_owned()]));
        // A field without the value that was shown is not the form's to change.
        assert_eq!(
            edit(&job(), &id(), &typed(&[("cause", "wind")])),
            Ok(vec![])
        );
    }

    #[test]
    fn what_another_changed_meanwhile_is_never_overwritten_unseen() {
        let mine = [
            ("cause", "wind"),
            ("was-cause", "prior"),
            ("units", "2"),
            ("was-units", "1"),
        ];
        let refused = edit(&job(), &id(), &typed(&mine)).unwrap_err();
        assert_eq!(refused, Refused::Clash(vec!["cause"]));
        // The same word by chance is no clash.
        let agreed = [("cause", "hail"), ("was-cause", "prior")];
        assert_eq!(edit(&job(), &id(), &typed(&agreed)), Ok(vec![]));
        let decided = |take: &'static str, seen: &'static str| {
            typed(
                &[
                    mine.as_slice(),
                    &[("take-cause", take), ("seen-cause", seen)],
                ]
                .concat(),
            )
        };
        let (set, _) = amended(&edit(&job(), &id(), &decided("mine", "hail")).unwrap());
        assert_eq!((set.cause, set.units), (Some(Cause::Wind), Some(2)));
        let (set, _) = amended(&edit(&job(), &id(), &decided("theirs", "hail")).unwrap());
        assert_eq!((set.cause, set.units), (None, Some(2)));
        // And if it changed once more since the person decided, they are asked once more.
        let again = edit(&job(), &id(), &decided("mine", "mechanical")).unwrap_err();
        assert_eq!(again, Refused::Clash(vec!["cause"]));
    }

    #[test]
    fn a_disputed_field_is_settled_first_and_wrong_text_is_named() {
        let mut job = job();
        let finding = job.records.findings.get_mut(&id()).unwrap();
        finding.conflicts.push(Conflict {
            field: "severity".into(),
            statements: ["cosmetic", "functional"]
                .map(|code| Statement {
                    value: Some(Scalar::Str(code.into())),
                    by: STAMP,
                })
                .to_vec(),
        });
        finding.fields.severity = Some(Severity::Cosmetic);
        let tried = [
            ("severity", "functional"),
            ("was-severity", "cosmetic"),
            ("units", "many"),
            ("was-units", "1"),
        ];
        match edit(&job, &id(), &typed(&tried)).unwrap_err() {
            Refused::Wrong(wrong) => {
                assert_eq!(wrong.keys().collect::<Vec<_>>(), [&"severity", &"units"]);
            }
            other => panic!("{other:?}"),
        }
        let gone = "01J00000000000000000000009".parse().unwrap();
        assert_eq!(edit(&job, &gone, &typed(&tried)), Err(Refused::Gone));
    }

    #[test]
    fn a_new_finding_needs_part_place_and_condition_and_is_added_once() {
        let fresh: RecordId = "01J00000000000000000000002".parse().unwrap();
        match add(&job(), &fresh, &typed(&[("units", "x")])).unwrap_err() {
            Refused::Wrong(wrong) => {
                let keys: Vec<_> = wrong.into_keys().collect();
                assert_eq!(keys, ["component", "condition", "place", "units"]);
            }
            other => panic!("{other:?}"),
        }
        let good = [
            ("component", "gutter"),
            ("condition", "damaged"),
            ("place", "elevation/front"),
        ];
        assert_eq!(add(&job(), &fresh, &typed(&good)).unwrap().len(), 1);
        assert_eq!(add(&job(), &id(), &typed(&good)), Ok(vec![]));
    }

    #[test]
    fn what_the_record_refuses_is_said_beside_its_field() {
        let sheet = sheet_of(Kind::Finding).unwrap();
        let refused = |error: PenError| Refused::from(error).beside(sheet);
        let over = PenError::Action(ActionError::UnitsOverTotal { units: 3, total: 2 });
        match refused(over) {
            Refused::Wrong(wrong) => assert!(wrong["units"].starts_with("3 of 2")),
            other => panic!("{other:?}"),
        }
        let gone = PenError::Action(ActionError::NoSuchRecord(finding(&id())));
        for whole in [PenError::NoSuchJob, gone] {
            assert_eq!(refused(whole.clone()), Refused::Pen(whole));
        }
    }

    #[test]
    fn a_change_is_judged_by_the_record_that_it_leaves() {
        let mut job = job();
        let mut measure = Record::new(STAMP);
        measure.fields = Measurement {
            of: Some(MeasuredThing::Overhang),
            length: Some(Length::inches(14)),
            ..Measurement::default()
        };
        job.records.measurements.insert(id(), measure);
        let of = RecordRef::new(Kind::Measurement, id());
        let edit = |pairs: &[(&str, &str)]| {
            super::edit(
                &job,
                &of,
                sheet_of(Kind::Measurement).unwrap(),
                &typed(pairs),
            )
        };
        let as_pitch = [("of", "pitch"), ("was-of", "overhang")];
        match edit(&as_pitch).unwrap_err() {
            Refused::Wrong(wrong) => assert!(wrong["pitch"].contains("State the pitch")),
            other => panic!("{other:?}"),
        }
        let whole = [
            ("of", "pitch"),
            ("was-of", "overhang"),
            ("pitch", "6/12"),
            ("was-pitch", ""),
            ("length", ""),
            ("was-length", "1' 2\""),
        ];
        match edit(&whole).unwrap().as_slice() {
            [
                Action::Amend {
                    set: AnyFields::Measurement(set),
                    clear,
                    ..
                },
            ] => {
                assert_eq!(set.pitch, Pitch::from_rise(6.0));
                assert_eq!(clear, &["length"]);
            }
            other => panic!("{other:?}"),
        }
    }

    #[test]
    fn a_count_is_ones_own_and_never_another_s() {
        let mut job = job();
        let (mine, theirs) = (DeviceId::from_bytes([1; 16]), DeviceId::from_bytes([2; 16]));
        let mut square: Record<TestSquare> = Record::new(STAMP);
        square.tally.insert(theirs, 9);
        job.records.test_squares.insert(id(), square);
        let of = RecordRef::new(Kind::TestSquare, id());
        let said = |job: &Job, hits, was| {
            let pairs = [("hits", hits), ("was-hits", was)];
            count(job, &of, mine, &typed(&pairs))
        };
        let first = said(&job, "12", "").unwrap();
        assert_eq!(
            first,
            [Action::Count {
                at: of.clone(),
                hits: 12
            }]
        );
        let square = job.records.test_squares.get_mut(&id()).unwrap();
        square.tally.insert(mine, 12);
        assert_eq!(
            said(&job, "12", ""),
            Ok(vec![]),
            "sent twice it is written once"
        );
        assert_eq!(said(&job, "10", ""), Err(Refused::Clash(vec!["hits"])));
        assert_eq!(said(&job, "10", "12").unwrap().len(), 1);
        assert!(matches!(said(&job, "many", "12"), Err(Refused::Wrong(_))));
    }

    #[test]
    fn a_square_is_added_with_its_count_and_the_four_sides_stay() {
        let fresh = RecordRef::new(Kind::TestSquare, id());
        let sheet = sheet_of(Kind::TestSquare).unwrap();
        let add = |hits| {
            let pairs = [
                ("slope", "slope/01J00000000000000000000005"),
                ("placement", "random"),
                ("hits", hits),
            ];
            super::add(&job(), &fresh, sheet, &typed(&pairs))
        };
        match add("7").unwrap().as_slice() {
            [Action::Add { hits, .. }] => assert_eq!(*hits, Some(7)),
            other => panic!("{other:?}"),
        }
        assert!(matches!(add("-7"), Err(Refused::Wrong(_))));
        for stays in ["elevation/front", "property/house", "interview/house"] {
            assert!(strike(&stays.parse().unwrap(), "why").is_err(), "{stays}");
        }
        assert!(strike(&fresh, "a shadow").is_ok());
    }
}
