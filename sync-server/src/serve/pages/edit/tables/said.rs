//! What was asked, answered and noted. Words are never rewritten: they are withdrawn with a reason,
//! and said anew.

use chalkwalk_core::job::{Audience, Kind};

use super::super::spec::{Input, Sheet, sheet, spec, words};

const fn said(
    kind: Kind,
    groups: &'static [(&'static str, &'static [super::super::spec::Spec])],
) -> Sheet {
    Sheet {
        adds: false,
        edits: false,
        ..sheet(kind, groups)
    }
}

pub(super) const QUESTION: Sheet = said(
    Kind::Question,
    &[(
        "The question",
        &[spec("text", "Question", Input::Lines, "")],
    )],
);

pub(super) const ANSWER: Sheet = said(
    Kind::Answer,
    &[("The answer", &[spec("text", "Answer", Input::Lines, "")])],
);

pub(super) const NOTE: Sheet = said(
    Kind::Note,
    &[(
        "The note",
        &[
            spec("text", "Note", Input::Lines, ""),
            spec("audience", "Who may read it", words!(Audience), ""),
        ],
    )],
);
