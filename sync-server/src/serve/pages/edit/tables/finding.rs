//! Findings.

use chalkwalk_core::job::{
    Audience, Cause, Component, Condition, Finish, Kind, Material, Severity,
};

use super::super::spec::{Input, Sheet, needed, sheet, spec, words};

pub(super) const FINDING: Sheet = Sheet {
    counts: true,
    ..sheet(
        Kind::Finding,
        &[
            (
                "What and where",
                &[
                    needed("place", "Place", Input::Place),
                    needed("component", "Part", words!(Component)),
                    spec(
                        "unit_name",
                        "Which one",
                        Input::Line,
                        "Number or name, such as screen 2 of 3.",
                    ),
                    spec("storey", "Storey", Input::Count, "1 at grade."),
                    spec(
                        "from_left",
                        "Place from the left",
                        Input::Count,
                        "1 at the left end as one faces the side.",
                    ),
                    spec(
                        "height",
                        "Height above grade",
                        Input::Length,
                        "Such as 3' 6\".",
                    ),
                ],
            ),
            (
                "State and cause",
                &[
                    needed("condition", "Condition", words!(Condition)),
                    spec("cause", "Cause", words!(Cause), ""),
                    spec(
                        "severity",
                        "Does it still do its work?",
                        words!(Severity),
                        "Cosmetic: it does.",
                    ),
                    spec(
                        "cause_reason",
                        "Why the cause is taken to be so",
                        Input::Lines,
                        "What was observed or measured.",
                    ),
                ],
            ),
            (
                "How much",
                &[
                    spec("units", "Units damaged", Input::Count, ""),
                    spec("units_total", "Units there are", Input::Count, ""),
                    spec(
                        "extent_length",
                        "Length damaged",
                        Input::Length,
                        "Such as 12' 6\".",
                    ),
                    spec(
                        "extent_area",
                        "Area damaged",
                        Input::Area,
                        "Such as 40 sq ft or 1.5 SQ.",
                    ),
                ],
            ),
            (
                "What it is made of",
                &[
                    spec("material", "Material", words!(Material), ""),
                    spec("finish", "Finish", words!(Finish), ""),
                ],
            ),
            (
                "Words",
                &[
                    spec(
                        "text",
                        "The finding in words",
                        Input::Lines,
                        "What was observed, measured or counted.",
                    ),
                    spec(
                        "audience",
                        "Who may read it",
                        words!(Audience),
                        "Left open, it counts as shared: the owner and the adjuster read it.",
                    ),
                ],
            ),
        ],
    )
};
