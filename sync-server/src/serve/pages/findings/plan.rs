//! What a form about a finding changes: only what the person changed, and only where the record
//! still says what the person was shown.

use std::collections::BTreeMap;

use chalkwalk_core::document::{Action, ActionError};
use chalkwalk_core::job::{AnyFields, Finding, Job, Kind, Record, RecordId};

use super::fields::{Spec, plain, read, specs, text_of};
use crate::hub::PenError;

/// What was typed, by the names of the form.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Typed(BTreeMap<String, String>);

impl Typed {
    /// The first value of each name counts.
    pub(super) fn of(pairs: Vec<(String, String)>) -> Self {
        let mut typed = BTreeMap::new();
        for (name, value) in pairs {
            typed.entry(name).or_insert_with(|| plain(&value));
        }
        Self(typed)
    }

    pub(super) fn get(&self, name: &str) -> Option<&str> {
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
    /// There is no such finding.
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
        // What can be said beside a field is said there.
        let PenError::Action(action) = &error else {
            return Refused::Pen(error);
        };
        let field = match action {
            ActionError::TooLong { field, .. }
            | ActionError::WrongValue { field, .. }
            | ActionError::Unsettled(field) => field.as_str(),
            ActionError::UnitsOverTotal { .. } => "units",
            ActionError::NoSuchRecord(_) | ActionError::NotAPlace(_) => "place",
            _ => return Refused::Pen(error),
        };
        match specs().find(|spec| spec.key == field) {
            Some(spec) => Refused::Wrong(BTreeMap::from([(spec.key, in_a_sentence(action))])),
            None => Refused::Pen(error),
        }
    }
}

/// An error's words as a sentence.
pub(in crate::serve) fn in_a_sentence(error: &dyn std::fmt::Display) -> String {
    format!("{}.", super::super::words::capital(&error.to_string()))
}

/// The actions of an edit.
pub(super) fn edit(job: &Job, id: &RecordId, typed: &Typed) -> Result<Vec<Action>, Refused> {
    let finding = job.records.findings.get(id).ok_or(Refused::Gone)?;
    let mut set = AnyFields::empty(Kind::Finding);
    let (mut clear, mut clash, mut wrong) = (Vec::new(), Vec::new(), BTreeMap::new());
    for spec in specs() {
        let Some(new) = changed(finding, spec, typed) else {
            continue;
        };
        let now = text_of(finding, spec);
        if typed.shown(spec.key) != Some(&now) {
            clash.push(spec.key);
        } else if let Some(conflict) = disputed(finding, spec) {
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
    if !wrong.is_empty() {
        return Err(Refused::Wrong(wrong));
    }
    if clear.is_empty() && set == AnyFields::empty(Kind::Finding) {
        return Ok(Vec::new());
    }
    let id = id.clone();
    Ok(vec![Action::Amend { id, set, clear }])
}

/// The new text of a field, where the person changed it and it is not what stands there anyway.
fn changed<'a>(finding: &Finding, spec: &Spec, typed: &'a Typed) -> Option<&'a str> {
    let new = typed.get(spec.key)?;
    let was = typed.get(&format!("was-{}", spec.key))?;
    let same = new == was || new == text_of(finding, spec);
    (!same && !typed.leaves_to_the_other(spec.key)).then_some(new)
}

fn disputed(finding: &Record<Finding>, spec: &Spec) -> Option<String> {
    let two = finding
        .conflicts
        .iter()
        .any(|conflict| conflict.field == spec.key);
    two.then(|| {
        "Two people stated this differently. Settle it on Open points before it is changed."
            .to_owned()
    })
}

/// The action of a new finding. Sent twice, it is added once.
pub(super) fn add(job: &Job, id: &RecordId, typed: &Typed) -> Result<Vec<Action>, Refused> {
    if job.records.findings.contains_key(id) {
        return Ok(Vec::new());
    }
    let mut record = AnyFields::empty(Kind::Finding);
    let mut wrong = BTreeMap::new();
    for spec in specs() {
        match typed.get(spec.key).unwrap_or_default() {
            "" if spec.needed => {
                wrong.insert(spec.key, "Choose one of the list.".to_owned());
            }
            "" => {}
            text => {
                if let Err(words) = read(&mut record, spec, text) {
                    wrong.insert(spec.key, words);
                }
            }
        }
    }
    if !wrong.is_empty() {
        return Err(Refused::Wrong(wrong));
    }
    Ok(vec![Action::Add {
        id: id.clone(),
        record,
        hits: None,
        shows: Vec::new(),
    }])
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use chalkwalk_core::job::{
        Cause, Conflict, DeviceId, Records, Scalar, Severity, Stamp, Statement,
    };

    use super::*;

    const STAMP: Stamp = Stamp {
        device: DeviceId::from_bytes([1; 16]),
        at: 0,
    };

    fn id() -> RecordId {
        "01J00000000000000000000001".parse().unwrap()
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
        let over = PenError::Action(ActionError::UnitsOverTotal { units: 3, total: 2 });
        match Refused::from(over) {
            Refused::Wrong(wrong) => assert!(wrong["units"].starts_with("3 of 2")),
            other => panic!("{other:?}"),
        }
        let shut = PenError::NoSuchJob;
        assert_eq!(Refused::from(shut.clone()), Refused::Pen(shut));
    }
}
