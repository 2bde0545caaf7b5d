//! What is said of a photo. The picture and its capture are sealed by the phone that took it.

use chalkwalk_core::job::{Audience, Kind, PhotoRole};

use super::super::spec::{Input, Sheet, sheet, spec, words};

pub(super) const PHOTO: Sheet = Sheet {
    adds: false,
    ..sheet(
        Kind::Photo,
        &[(
            "The photo",
            &[
                spec("place", "Taken at", Input::Place, ""),
                spec("role", "What it is for", words!(PhotoRole), ""),
                spec(
                    "from_left",
                    "Place from the left",
                    Input::Count,
                    "1 at the left end as one faces the side.",
                ),
                spec(
                    "audience",
                    "Who may see it",
                    words!(Audience),
                    "Left open, it counts as shared: the owner and the adjuster see it.",
                ),
                spec("caption", "Words below it", Input::Lines, ""),
            ],
        )],
    )
};
