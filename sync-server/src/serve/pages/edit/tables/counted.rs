//! What is counted and measured: parts, measures, test squares.

use chalkwalk_core::job::{
    AnyFields, Component, Condition, Finish, Kind, Material, MeasureMethod, MeasuredThing,
    Placement,
};

use super::super::spec::{Input, Sheet, Wrong, needed, sheet, spec, words};

pub(super) const COMPONENT: Sheet = sheet(
    Kind::Component,
    &[
        (
            "What and where",
            &[
                spec(
                    "place",
                    "Place",
                    Input::Place,
                    "Left open, it speaks for the whole house.",
                ),
                needed("component", "Part", words!(Component)),
                spec("count", "How many there are", Input::Count, ""),
                spec(
                    "length",
                    "Length or width",
                    Input::Length,
                    "Such as 42' 6\".",
                ),
            ],
        ),
        (
            "State and make",
            &[
                spec(
                    "condition",
                    "All of them, as a whole",
                    words!(Condition),
                    "What is damaged has a finding of its own.",
                ),
                spec("material", "Material", words!(Material), ""),
                spec("finish", "Finish", words!(Finish), ""),
                spec(
                    "details",
                    "Details",
                    Input::Lines,
                    "Size, profile, how it is held.",
                ),
            ],
        ),
    ],
);

pub(super) const MEASUREMENT: Sheet = Sheet {
    whole: measure,
    ..sheet(
        Kind::Measurement,
        &[(
            "The measure",
            &[
                needed("place", "Place", Input::Place),
                needed("of", "What was measured", words!(MeasuredThing)),
                spec("pitch", "Pitch", Input::Pitch, "For a pitch, such as 6/12."),
                spec(
                    "length",
                    "Length",
                    Input::Length,
                    "For everything else, such as 5\" or 12' 6-1/2\".",
                ),
                needed("method", "How it was taken", words!(MeasureMethod)),
                spec("remarks", "Remarks", Input::Lines, ""),
            ],
        )],
    )
};

/// A pitch is stated as a pitch, and the rest as a length.
fn measure(fields: &AnyFields) -> Option<Wrong> {
    let AnyFields::Measurement(measure) = fields else {
        return None;
    };
    match (measure.of?, measure.pitch, measure.length) {
        (MeasuredThing::Pitch, None, _) => Some(("pitch", "State the pitch that was measured.")),
        (MeasuredThing::Pitch, _, Some(_)) => Some((
            "length",
            "A pitch has no length: empty this, or choose what was measured.",
        )),
        (MeasuredThing::Pitch, ..) => None,
        (_, Some(_), _) => Some((
            "pitch",
            "Only a pitch has one: empty this, or choose what was measured.",
        )),
        (_, _, None) => Some(("length", "State the length that was measured.")),
        _ => None,
    }
}

pub(super) const TEST_SQUARE: Sheet = Sheet {
    counts: true,
    whole: square,
    ..sheet(
        Kind::TestSquare,
        &[(
            "The square",
            &[
                needed("slope", "Slope", Input::Slope),
                needed("placement", "How its spot was chosen", words!(Placement)),
                spec("width", "Width", Input::Length, "As a rule 10'."),
                spec(
                    "height",
                    "Height along the slope",
                    Input::Length,
                    "As a rule 10'.",
                ),
                spec("remarks", "Remarks", Input::Lines, ""),
            ],
        )],
    )
};

/// A square has two sides.
fn square(fields: &AnyFields) -> Option<Wrong> {
    let AnyFields::TestSquare(square) = fields else {
        return None;
    };
    let none =
        |side: Option<chalkwalk_core::job::Length>| side.is_some_and(|side| side.as_64ths() <= 0);
    match (square.width, square.height) {
        (width, _) if none(width) => Some(("width", "A side is longer than nothing.")),
        (_, height) if none(height) => Some(("height", "A side is longer than nothing.")),
        (Some(_), None) => Some(("height", "State both sides, or neither.")),
        (None, Some(_)) => Some(("width", "State both sides, or neither.")),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use chalkwalk_core::job::{Length, Measurement, Pitch, TestSquare};

    use super::*;

    #[test]
    fn a_pitch_is_a_pitch_and_a_length_a_length() {
        let beside = |of, rise: Option<f64>, inches: Option<i64>| {
            let measured = Measurement {
                of: Some(of),
                pitch: rise.and_then(Pitch::from_rise),
                length: inches.map(Length::inches),
                ..Measurement::default()
            };
            measure(&measured.into()).map(|(key, _)| key)
        };
        assert_eq!(beside(MeasuredThing::Pitch, Some(6.0), None), None);
        assert_eq!(beside(MeasuredThing::Overhang, None, Some(12)), None);
        assert_eq!(beside(MeasuredThing::Pitch, None, Some(12)), Some("pitch"));
        assert_eq!(
            beside(MeasuredThing::Pitch, Some(6.0), Some(1)),
            Some("length")
        );
        assert_eq!(
            beside(MeasuredThing::Overhang, Some(6.0), Some(1)),
            Some("pitch")
        );
        assert_eq!(beside(MeasuredThing::Overhang, None, None), Some("length"));
    }

    #[test]
    fn a_square_has_both_sides_or_neither() {
        let beside = |width: Option<i64>, height: Option<i64>| {
            let sides = TestSquare {
                width: width.map(Length::inches),
                height: height.map(Length::inches),
                ..TestSquare::default()
            };
            square(&sides.into()).map(|(key, _)| key)
        };
        assert_eq!(beside(Some(120), Some(120)), None);
        assert_eq!(beside(None, None), None);
        assert_eq!(beside(Some(120), None), Some("height"));
        assert_eq!(beside(Some(0), Some(120)), Some("width"));
    }
}
