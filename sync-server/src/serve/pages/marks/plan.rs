//! What the form of marks changes.

use chalkwalk_core::document::Action;
use chalkwalk_core::job::{Job, Mark, Photo, RecordId};
use chalkwalk_core::packet::marks_of;
use maud::{Markup, html};
use serde_bytes::ByteBuf;

use super::super::counted;
use super::super::fields::Fields;
use super::label;
use crate::hub::PenError;

/// Most marks beside one photo.
const MOST: usize = 200;
/// Longest words of a mark, characters.
const LONGEST: usize = 120;
const SIZE: &str = "3";

/// Why nothing was drawn.
#[derive(Debug, PartialEq)]
pub(super) enum Refused {
    /// Somebody changed the marks meanwhile.
    Clash,
    /// What was typed cannot be read.
    Wrong(String),
    /// The record did not take it.
    Pen(PenError),
}

impl From<PenError> for Refused {
    fn from(error: PenError) -> Self {
        Refused::Pen(error)
    }
}

/// The action that puts the marks of the rows beside the photo, or adds them to those that stand.
pub(super) fn plan(
    job: &Job,
    of: &RecordId,
    rows: &[Row],
    seen: &str,
    both: bool,
) -> Result<Vec<Action>, Refused> {
    let photo = job.records.photos.get(of);
    let photo = photo.ok_or(Refused::Pen(PenError::NoSuchJob))?;
    let mut marks = if both { marks_of(photo) } else { Vec::new() };
    for (number, row) in (1..).zip(rows).filter(|(_, row)| !row.is_empty()) {
        let mark = row
            .read()
            .map_err(|words| Refused::Wrong(format!("Mark {number}: {words}")))?;
        if !marks.contains(&mark) {
            marks.push(mark);
        }
    }
    if marks == marks_of(photo) {
        return Ok(Vec::new());
    }
    if digest(photo) != seen {
        return Err(Refused::Clash);
    }
    if marks.len() > MOST {
        return Err(Refused::Wrong(format!(
            "At most {MOST} marks stand beside a photo."
        )));
    }
    let bytes = rmp_serde::to_vec(&marks).map_err(|error| Refused::Wrong(error.to_string()))?;
    let none = marks.is_empty();
    let set = Photo {
        marks: (!none).then(|| ByteBuf::from(bytes)),
        ..Photo::default()
    };
    Ok(vec![Action::Amend {
        id: of.clone(),
        set: set.into(),
        clear: none.then(|| "marks".to_owned()).into_iter().collect(),
    }])
}

/// What the marks of a photo come to; empty where there are none.
pub(super) fn digest(photo: &Photo) -> String {
    let bytes = photo.marks.as_ref();
    bytes.map_or_else(String::new, |bytes| {
        blake3::hash(bytes).to_hex()[..32].to_owned()
    })
}

/// Marks as people count them: `2 rings, 1 arrow`.
pub(in crate::serve) fn in_words(marks: &[Mark]) -> String {
    let of = |word: &str| marks.iter().filter(|mark| label(mark) == word).count() as u64;
    let parts: Vec<String> = [("ring", "rings"), ("arrow", "arrows"), ("words", "words")]
        .into_iter()
        .filter(|(one, _)| of(one) > 0)
        .map(|(one, many)| counted(of(one), one, many))
        .collect();
    if parts.is_empty() {
        "no marks".to_owned()
    } else {
        parts.join(", ")
    }
}

/// One mark as it was typed.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Row {
    kind: String,
    x: String,
    y: String,
    size: String,
    to_x: String,
    to_y: String,
    words: String,
}

impl Row {
    /// A mark as the form shows it.
    pub(super) fn of(mark: &Mark) -> Self {
        let percent = |thousandths: u16| (f64::from(thousandths) / 10.0).to_string();
        let kind = label(mark).to_owned();
        let at = |x: u16, y: u16| Self {
            kind,
            x: percent(x),
            y: percent(y),
            ..Self::default()
        };
        match mark {
            Mark::Ring { x, y, r } => Self {
                size: percent(*r),
                ..at(*x, *y)
            },
            Mark::Arrow { from, to } => Self {
                to_x: percent(to.0),
                to_y: percent(to.1),
                ..at(from.0, from.1)
            },
            Mark::Text { x, y, text } => Self {
                words: text.clone(),
                ..at(*x, *y)
            },
        }
    }

    /// The rows of a form, in order.
    pub(super) fn all(typed: &Fields) -> Vec<Self> {
        let column = |name| typed.all(name).map(str::to_owned).collect::<Vec<String>>();
        let columns = ["kind", "x", "y", "size", "to-x", "to-y", "words"].map(column);
        let rows = columns[0].len().min(MOST * 2);
        let cell =
            |column: usize, row: usize| columns[column].get(row).cloned().unwrap_or_default();
        (0..rows)
            .map(|row| Self {
                kind: cell(0, row),
                x: cell(1, row),
                y: cell(2, row),
                size: cell(3, row),
                to_x: cell(4, row),
                to_y: cell(5, row),
                words: cell(6, row),
            })
            .collect()
    }

    /// No mark, or one that is taken away.
    pub(super) fn is_empty(&self) -> bool {
        self.kind.is_empty()
    }

    fn read(&self) -> Result<Mark, String> {
        let (x, y) = (
            part(&self.x, "from the left")?,
            part(&self.y, "from the top")?,
        );
        match self.kind.as_str() {
            "ring" => {
                let size = if self.size.is_empty() {
                    SIZE
                } else {
                    &self.size
                };
                let r = part(size, "as its size")?;
                Ok(Mark::Ring { x, y, r: r.max(1) })
            }
            "arrow" => Ok(Mark::Arrow {
                from: (x, y),
                to: (
                    part(&self.to_x, "from the left for its tip")?,
                    part(&self.to_y, "from the top for its tip")?,
                ),
            }),
            "words" if self.words.is_empty() => Err("write its words.".to_owned()),
            "words" if self.words.chars().count() > LONGEST => Err(format!(
                "at most {LONGEST} letters; a note or caption takes more."
            )),
            "words" => Ok(Mark::Text {
                x,
                y,
                text: self.words.clone(),
            }),
            _ => Err("choose what it is from the list.".to_owned()),
        }
    }

    /// The row in the form.
    pub(super) fn shown(&self, number: usize) -> Markup {
        let line = |name: &str, label: &str, value: &str, of: &str| {
            let id = format!("{name}-{number}");
            html! { div.field data-of=(of) {
                label for=(id) { (label) }
                input id=(id) name=(name) type="text" inputmode="decimal" value=(value);
            } }
        };
        let id = format!("kind-{number}");
        html! {
            fieldset.mark data-mark {
                legend { "Mark " (number) }
                div.field {
                    label for=(id) { "What" }
                    select id=(id) name="kind" {
                        option value="" selected[self.kind.is_empty()] { "none" }
                        @for (kind, words) in [("ring", "ring round a hit"), ("arrow", "arrow"), ("words", "words")] {
                            option value=(kind) selected[self.kind == kind] { (words) }
                        }
                    }
                }
                (line("x", "From the left, %", &self.x, "ring arrow words"))
                (line("y", "From the top, %", &self.y, "ring arrow words"))
                (line("size", "Ring: size, %", &self.size, "ring"))
                (line("to-x", "Arrow: tip from the left, %", &self.to_x, "arrow"))
                (line("to-y", "Arrow: tip from the top, %", &self.to_y, "arrow"))
                div.field.wide data-of="words" {
                    label for={ "words-" (number) } { "Words" }
                    input id={ "words-" (number) } name="words" type="text" value=(self.words) maxlength=(LONGEST);
                }
            }
        }
    }
}

/// Percent of the picture as the thousandths that the record holds.
fn part(text: &str, what: &str) -> Result<u16, String> {
    let number = text.trim().trim_end_matches('%').trim().parse::<f64>().ok();
    let number = number.filter(|number| (0.0..=100.0).contains(number));
    let number = number.ok_or_else(|| format!("write a number from 0 to 100 {what}."))?;
    Ok((number * 10.0).round() as u16)
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use chalkwalk_core::job::{AnyFields, DeviceId, Record, Records, Stamp};

    use super::*;

    const RING: Mark = Mark::Ring {
        x: 105,
        y: 200,
        r: 30,
    };
    const ARROW: Mark = Mark::Arrow {
        from: (0, 0),
        to: (1000, 999),
    };

    fn id() -> RecordId {
        "01J00000000000000000000001".parse().unwrap()
    }

    fn job(marks: &[Mark]) -> Job {
        let made = Stamp {
            device: DeviceId::from_bytes([1; 16]),
            at: 0,
        };
        let mut photo: Record<Photo> = Record::new(made);
        photo.fields.marks = (!marks.is_empty()).then(|| rmp_serde::to_vec(marks).unwrap().into());
        let mut records = Records::default();
        records.photos.insert(id(), photo);
        Job {
            id: None,
            schema: 1,
            crew: std::collections::BTreeMap::new(),
            records,
        }
    }

    fn seen(marks: &[Mark]) -> String {
        digest(&job(marks).records.photos[&id()])
    }

    fn written(actions: &[Action]) -> Vec<Mark> {
        match actions {
            [
                Action::Amend {
                    set: AnyFields::Photo(photo),
                    ..
                },
            ] => marks_of(photo),
            other => panic!("{other:?}"),
        }
    }

    #[test]
    fn a_mark_is_typed_as_it_is_shown() {
        let words = Mark::Text {
            x: 5,
            y: 6,
            text: "slipped <b>".to_owned(),
        };
        for mark in [RING, ARROW, words] {
            assert_eq!(Row::of(&mark).read(), Ok(mark));
        }
        let wrong = |row: Row| row.read().unwrap_err();
        let ring = Row::of(&RING);
        assert!(
            wrong(Row {
                x: "101".into(),
                ..ring.clone()
            })
            .contains("from the left")
        );
        assert!(
            wrong(Row {
                y: "-1".into(),
                ..ring.clone()
            })
            .contains("from the top")
        );
        assert!(
            wrong(Row {
                size: "NaN".into(),
                ..ring.clone()
            })
            .contains("size")
        );
        assert!(
            wrong(Row {
                kind: "words".into(),
                ..ring.clone()
            })
            .contains("words")
        );
        assert!(
            wrong(Row {
                kind: "blob".into(),
                ..ring
            })
            .contains("list")
        );
    }

    #[test]
    fn marks_are_put_in_place_of_those_that_were_seen() {
        let rows = [Row::of(&RING), Row::default(), Row::of(&ARROW)];
        let put = |job: &Job, seen: &str, both| plan(job, &id(), &rows, seen, both);
        assert_eq!(written(&put(&job(&[]), "", false).unwrap()), [RING, ARROW]);
        assert_eq!(
            put(&job(&[RING, ARROW]), "", false),
            Ok(vec![]),
            "sent twice"
        );
        let theirs = Mark::Ring { x: 1, y: 1, r: 1 };
        let meanwhile = job(std::slice::from_ref(&theirs));
        assert_eq!(put(&meanwhile, "", false), Err(Refused::Clash));
        assert_eq!(put(&meanwhile, "", true), Err(Refused::Clash));
        let known = seen(std::slice::from_ref(&theirs));
        assert_eq!(
            written(&put(&meanwhile, &known, true).unwrap()),
            [theirs, RING, ARROW]
        );
        match plan(&job(&[RING]), &id(), &[], &seen(&[RING]), false)
            .unwrap()
            .as_slice()
        {
            [Action::Amend { clear, .. }] => assert_eq!(clear, &["marks"]),
            other => panic!("{other:?}"),
        }
        assert_eq!(in_words(&[RING, RING, ARROW]), "2 rings, 1 arrow");
    }
}
