//! Who may read an entry. In doubt it stays in the office.

use serde::Serialize;

use crate::job::{Audience, FieldValue, Finding, Note, Photo, Record};

/// Who a list or a packet is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Reader {
    /// The homeowner, the insurer's adjuster, anybody: nothing office-only, nothing struck.
    Anyone,
    /// The office: everything, marked.
    Office,
}

/// True where the office alone may read the finding.
pub fn office_only_finding(finding: &Record<Finding>) -> bool {
    office_only(finding, finding.audience)
}

/// True where the office alone may read the note.
pub fn office_only_note(note: &Record<Note>) -> bool {
    office_only(note, note.audience)
}

/// True where the office alone may see the photo.
pub fn office_only_photo(photo: &Record<Photo>) -> bool {
    office_only(photo, photo.audience)
}

/// One of two statements that says "office only" is enough, and so is a word of a newer version.
fn office_only<F>(record: &Record<F>, audience: Option<Audience>) -> bool {
    const FIELD: &str = "audience";
    let disputed = record
        .conflicts
        .iter()
        .filter(|conflict| conflict.field == FIELD)
        .flat_map(|conflict| &conflict.statements)
        .filter_map(|said| said.value.as_ref())
        .any(|value| Audience::from_scalar(value.as_ref()) != Some(Audience::Shared));
    audience == Some(Audience::OfficeOnly)
        || disputed
        || record.unread.iter().any(|key| key == FIELD)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::job::{Conflict, DeviceId, Scalar, Stamp, Statement};

    fn finding() -> Record<Finding> {
        Record::new(Stamp {
            device: DeviceId::from_bytes([1; 16]),
            at: 0,
        })
    }

    #[test]
    fn in_doubt_it_stays_in_the_office() {
        let mut plain = finding();
        assert!(!office_only_finding(&plain));
        plain.fields.audience = Some(Audience::Shared);
        assert!(!office_only_finding(&plain));

        let mut disputed = plain.clone();
        disputed.conflicts.push(Conflict {
            field: "audience".into(),
            statements: ["shared", "office_only"]
                .map(|code| Statement {
                    value: Some(Scalar::Str(code.into())),
                    by: disputed.made,
                })
                .to_vec(),
        });
        assert!(office_only_finding(&disputed));

        let mut newer = finding();
        newer.unread.push("audience".into());
        assert!(office_only_finding(&newer));
    }
}
