//! What an estimator's change to a line of the scope has to say before it is taken.

use super::{Action, ActionError};
use crate::job::{AnyFields, Job, Kind, Scalar, ScopeChange, ScopeChangeKind};
use crate::limits;

/// Checks an action on a change to the scope; others pass.
pub(super) fn check(job: &Job, action: &Action) -> Result<(), ActionError> {
    match action {
        Action::Add {
            record: AnyFields::ScopeChange(change),
            ..
        } => complete(change),
        Action::Amend {
            id,
            set: AnyFields::ScopeChange(set),
            clear,
        } => {
            let Some(standing) = job.records.scope_changes.get(id) else {
                return Ok(());
            };
            let mut change = standing.fields.clone();
            for field in clear {
                crate::job::Fields::clear(&mut change, field);
            }
            overlay(&mut change, set);
            complete(&change)
        }
        Action::Settle { at, field, value } if at.kind == Kind::ScopeChange => {
            let Some(standing) = job.records.scope_changes.get(&at.id) else {
                return Ok(());
            };
            let mut change = standing.fields.clone();
            crate::job::Fields::clear(&mut change, field);
            if let Some(value) = value {
                crate::job::Fields::read(&mut change, field, value.as_ref());
            }
            complete(&change)
        }
        _ => Ok(()),
    }
}

fn overlay(change: &mut ScopeChange, set: &ScopeChange) {
    let mut values: Vec<(&'static str, Scalar)> = Vec::new();
    crate::job::Fields::each(set, &mut |key, value| values.push((key, value)));
    for (key, value) in values {
        crate::job::Fields::read(change, key, value.as_ref());
    }
}

fn complete(change: &ScopeChange) -> Result<(), ActionError> {
    if is_blank(&change.reason) {
        return Err(ActionError::NoChangeReason);
    }
    let lacks = |what| Err(ActionError::ScopeChangeLacks(what));
    match change.kind {
        None => return lacks("what is done to the line: amended, left out or added"),
        Some(ScopeChangeKind::Added) if is_blank(&change.item) => {
            return lacks("the item that is added, in trade words");
        }
        Some(ScopeChangeKind::Amended | ScopeChangeKind::LeftOut) if is_blank(&change.line) => {
            return lacks("the line by its key, as the scope lists it");
        }
        Some(_) => {}
    }
    if change
        .quantity
        .is_some_and(|value| !(0.0..=limits::SCOPE_QUANTITY).contains(&value))
    {
        return lacks("a quantity from 0 to 10,000,000");
    }
    Ok(())
}

fn is_blank(text: &Option<String>) -> bool {
    text.as_deref().is_none_or(|text| text.trim().is_empty())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::document::{Author, Document};
    use crate::job::{DeviceId, RecordId, RecordRef};
    use ed25519_dalek::SigningKey;

    fn amended() -> ScopeChange {
        ScopeChange {
            line: Some("elevation/front|gutter|remove_and_replace".into()),
            kind: Some(ScopeChangeKind::Amended),
            quantity: Some(24.0),
            reason: Some("the run was measured again".into()),
            ..ScopeChange::default()
        }
    }

    fn act(document: &mut Document, action: &Action) -> Result<(), ActionError> {
        let author = Author {
            device: DeviceId::from_bytes([1; 16]),
            nonce: [1; 8],
        };
        let key = SigningKey::from_bytes(&[1; 32]);
        document.apply(author, &key, action, 1).map(|_| ())
    }

    fn add(change: ScopeChange) -> Result<(), ActionError> {
        let action = Action::Add {
            id: RecordId::fixed("change"),
            record: change.into(),
            hits: None,
            shows: vec![],
        };
        act(&mut Document::new().unwrap(), &action)
    }

    #[test]
    fn a_change_without_a_reason_is_refused() {
        for reason in [None, Some(String::new()), Some("  ".into())] {
            let error = add(ScopeChange {
                reason,
                ..amended()
            })
            .unwrap_err();
            assert_eq!(error.to_string(), "say why the line is changed");
        }
        add(amended()).unwrap();
    }

    #[test]
    fn a_change_says_what_is_done_to_what() {
        let lacks = |change: ScopeChange, words: &str| {
            let error = add(change).unwrap_err().to_string();
            assert!(error.contains(words), "{error}");
        };
        lacks(
            ScopeChange {
                kind: None,
                ..amended()
            },
            "amended, left out or added",
        );
        lacks(
            ScopeChange {
                line: None,
                ..amended()
            },
            "by its key",
        );
        let added = ScopeChange {
            kind: Some(ScopeChangeKind::Added),
            line: None,
            ..amended()
        };
        lacks(added.clone(), "in trade words");
        add(ScopeChange {
            item: Some("crane".into()),
            ..added
        })
        .unwrap();
        for quantity in [-1.0, limits::SCOPE_QUANTITY + 1.0] {
            lacks(
                ScopeChange {
                    quantity: Some(quantity),
                    ..amended()
                },
                "a quantity from 0",
            );
        }
    }

    #[test]
    fn the_reason_cannot_be_taken_away_later() {
        let mut document = Document::new().unwrap();
        let id = RecordId::fixed("change");
        act(
            &mut document,
            &Action::Add {
                id: id.clone(),
                record: amended().into(),
                hits: None,
                shows: vec![],
            },
        )
        .unwrap();
        let amend = |set: ScopeChange, clear: &[&str]| Action::Amend {
            id: id.clone(),
            set: set.into(),
            clear: clear.iter().map(|field| (*field).to_owned()).collect(),
        };
        for action in [
            amend(ScopeChange::default(), &["reason"]),
            amend(
                ScopeChange {
                    reason: Some(" ".into()),
                    ..ScopeChange::default()
                },
                &[],
            ),
        ] {
            let refused = act(&mut document, &action);
            assert_eq!(refused, Err(ActionError::NoChangeReason));
        }
        let better = ScopeChange {
            reason: Some("better words".into()),
            ..ScopeChange::default()
        };
        act(&mut document, &amend(better, &[])).unwrap();
        let at = RecordRef::new(Kind::ScopeChange, id);
        assert!(document.job().records.header(&at).is_some());
    }
}
