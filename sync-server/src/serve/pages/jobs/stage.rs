//! How far a job has come: what its record says, what is still on its way, and the office's own
//! word, which is kept beside the record.

use maud::{Markup, html};

use super::super::super::icons::icon;
use super::missing::Missing;
use crate::store::{Access, Crew, JobStatus, Mark};

/// How far a job has come.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(in crate::serve) enum Stage {
    /// Prepared; nobody has come to the house.
    Expected,
    /// The crew is at it.
    AtHouse,
    /// The crew has left, and not all of it is here.
    Arriving,
    /// The office asked something.
    Waiting,
    /// All of it is here, and nobody at the office has said that it is ready.
    ToLookThrough,
    /// The office says that it is ready.
    Ready,
    /// The office has handed it on.
    HandedOn,
}

struct Look {
    stage: Stage,
    code: &'static str,
    words: &'static str,
    icon: &'static str,
    class: &'static str,
}

const LOOKS: &[Look] = &[
    look(
        Stage::Expected,
        "expected",
        "crew expected",
        "calendar",
        "quiet",
    ),
    look(
        Stage::AtHouse,
        "at_house",
        "in progress",
        "hard-hat",
        "comes",
    ),
    look(Stage::Arriving, "arriving", "arriving", "radio", "comes"),
    look(
        Stage::Waiting,
        "waiting",
        "waiting for an answer",
        "message-circle-question-mark",
        "asks",
    ),
    look(
        Stage::ToLookThrough,
        "to_look_through",
        "to look through",
        "footprints",
        "asks",
    ),
    look(Stage::Ready, "ready", "ready", "circle-check", "done"),
    look(
        Stage::HandedOn,
        "handed_on",
        "handed on",
        "arrow-right",
        "quiet",
    ),
];

const fn look(
    stage: Stage,
    code: &'static str,
    words: &'static str,
    icon: &'static str,
    class: &'static str,
) -> Look {
    Look {
        stage,
        code,
        words,
        icon,
        class,
    }
}

impl Stage {
    /// Every stage, in the order of a job's life.
    pub(in crate::serve) fn all() -> impl Iterator<Item = Stage> {
        LOOKS.iter().map(|look| look.stage)
    }

    /// What a job's line says of it.
    pub(in crate::serve) fn of(status: &JobStatus, access: &Access, missing: Missing) -> Self {
        let summary = status.summary.as_ref();
        let mark = access.marked.map(|marked| marked.mark);
        if mark == Some(Mark::HandedOn) {
            return Stage::HandedOn;
        }
        if summary.is_some_and(|summary| summary.questions > 0) {
            return Stage::Waiting;
        }
        if mark == Some(Mark::Ready) {
            return Stage::Ready;
        }
        match summary.map_or(Crew::Expected, |summary| summary.crew) {
            Crew::Expected => Stage::Expected,
            Crew::AtHouse => Stage::AtHouse,
            Crew::Left if missing.nothing() => Stage::ToLookThrough,
            Crew::Left => Stage::Arriving,
        }
    }

    /// The word in addresses.
    pub(in crate::serve) fn code(self) -> &'static str {
        self.look().map_or("", |look| look.code)
    }

    /// The stage with this word.
    pub(in crate::serve) fn from_code(code: &str) -> Option<Self> {
        LOOKS
            .iter()
            .find(|look| look.code == code)
            .map(|look| look.stage)
    }

    fn look(self) -> Option<&'static Look> {
        LOOKS.iter().find(|look| look.stage == self)
    }

    /// A shape, a word and a colour.
    pub(in crate::serve) fn shown(self) -> Markup {
        html! {
            @if let Some(look) = self.look() {
                span class={ "stage-word " (look.class) } { (icon(look.icon)) (look.words) }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::store::{Marked, PersonId, Summary};
    use chalkwalk_core::job::JobId;

    fn status(crew: Crew, questions: u32, photos: u64, originals: u64) -> JobStatus {
        JobStatus {
            job: JobId::from_bytes([1; 16]),
            changes: 1,
            first_news: 0,
            last_news: 0,
            summary: Some(Summary {
                crew,
                questions,
                ..Summary::default()
            }),
            photos,
            thumbnails: photos,
            originals,
        }
    }

    fn said(mark: Option<Mark>) -> Access {
        let marked = mark.map(|mark| Marked {
            mark,
            by: PersonId([1; 16]),
            at: 0,
        });
        Access {
            marked,
            ..Access::default()
        }
    }

    #[test]
    fn the_record_and_the_offices_word_are_read_together() {
        let of = |status: &JobStatus, mark| Stage::of(status, &said(mark), Missing::files(status));
        let whole = status(Crew::Left, 0, 4, 4);
        assert_eq!(of(&status(Crew::Expected, 0, 0, 0), None), Stage::Expected);
        assert_eq!(of(&status(Crew::AtHouse, 0, 4, 1), None), Stage::AtHouse);
        assert_eq!(of(&status(Crew::Left, 0, 4, 3), None), Stage::Arriving);
        assert_eq!(of(&whole, None), Stage::ToLookThrough);
        assert_eq!(of(&whole, Some(Mark::Ready)), Stage::Ready);
        // A question asked since is not hidden by the word that all was ready.
        assert_eq!(
            of(&status(Crew::Left, 1, 4, 4), Some(Mark::Ready)),
            Stage::Waiting
        );
        assert_eq!(
            of(&status(Crew::Left, 1, 4, 3), Some(Mark::HandedOn)),
            Stage::HandedOn
        );
    }

    #[test]
    fn each_stage_has_its_word_and_its_shape() {
        let all: Vec<Stage> = Stage::all().collect();
        let of = |word: fn(&Look) -> &'static str| {
            let words: std::collections::BTreeSet<&str> = LOOKS.iter().map(word).collect();
            words.len()
        };
        assert_eq!(of(|look| look.icon), all.len());
        assert_eq!(of(|look| look.words), all.len());
        for stage in all {
            assert_eq!(Stage::from_code(stage.code()), Some(stage));
            assert!(stage.shown().into_string().contains("svg"));
        }
    }
}
