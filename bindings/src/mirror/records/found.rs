//! What was found, and what is said of it.

use chalkwalk_core::job::*;

use crate::mirror::values::Bytes;

/// How many of a part stand at a place and what state they are in as a whole. A part that
/// is in order is *cleared* here, without a photo.
#[uniffi::remote(Record)]
pub struct ComponentCount {
    /// Where.
    #[uniffi(default = None)]
    pub place: Option<RecordRef>,
    /// What.
    #[uniffi(default = None)]
    pub component: Option<Component>,
    /// How many there are.
    #[uniffi(default = None)]
    pub count: Option<u32>,
    /// Length or width for parts that have one.
    #[uniffi(default = None)]
    pub length: Option<Length>,
    /// State of all of them; damaged ones have findings of their own.
    #[uniffi(default = None)]
    pub condition: Option<Condition>,
    /// What they are made of.
    #[uniffi(default = None)]
    pub material: Option<Material>,
    /// How they got their colour.
    #[uniffi(default = None)]
    pub finish: Option<Finish>,
    /// Size, profile, how it is held, in words.
    #[uniffi(default = None)]
    pub details: Option<String>,
}

/// One thing found: what, where, in which state, from which cause and why.
#[uniffi::remote(Record)]
pub struct Finding {
    /// Where.
    #[uniffi(default = None)]
    pub place: Option<RecordRef>,
    /// What.
    #[uniffi(default = None)]
    pub component: Option<Component>,
    /// Storey, 1 at grade.
    #[uniffi(default = None)]
    pub storey: Option<u32>,
    /// Place from left to right as one faces the side, 1 at the left end.
    #[uniffi(default = None)]
    pub from_left: Option<u32>,
    /// Number or name of the panel or unit.
    #[uniffi(default = None)]
    pub unit_name: Option<String>,
    /// Height above grade, where low hits matter.
    #[uniffi(default = None)]
    pub height: Option<Length>,
    /// State.
    #[uniffi(default = None)]
    pub condition: Option<Condition>,
    /// Cause.
    #[uniffi(default = None)]
    pub cause: Option<Cause>,
    /// Why the crew thinks so.
    #[uniffi(default = None)]
    pub cause_reason: Option<String>,
    /// Units damaged.
    #[uniffi(default = None)]
    pub units: Option<u32>,
    /// Units there are.
    #[uniffi(default = None)]
    pub units_total: Option<u32>,
    /// Length damaged.
    #[uniffi(default = None)]
    pub extent_length: Option<Length>,
    /// Area damaged.
    #[uniffi(default = None)]
    pub extent_area: Option<Area>,
    /// What it is made of.
    #[uniffi(default = None)]
    pub material: Option<Material>,
    /// How it got its colour.
    #[uniffi(default = None)]
    pub finish: Option<Finish>,
    /// Whether it still does its work.
    #[uniffi(default = None)]
    pub severity: Option<Severity>,
    /// Who may read it; empty counts as shared.
    #[uniffi(default = None)]
    pub audience: Option<Audience>,
    /// The finding in words.
    #[uniffi(default = None)]
    pub text: Option<String>,
}

/// One photo: the signed bytes of its capture, and what the crew says of it.
#[uniffi::remote(Record)]
pub struct Photo {
    /// What was signed when it was taken in; the list of a job's photos says what it tells.
    #[uniffi(default = None)]
    pub capture: Option<Bytes>,
    /// What it is for.
    #[uniffi(default = None)]
    pub role: Option<PhotoRole>,
    /// Where it was taken.
    #[uniffi(default = None)]
    pub place: Option<RecordRef>,
    /// Words below it.
    #[uniffi(default = None)]
    pub caption: Option<String>,
    /// Who may see it; empty counts as shared.
    #[uniffi(default = None)]
    pub audience: Option<Audience>,
    /// Place from left to right as one faces the side, 1 at the left end.
    #[uniffi(default = None)]
    pub from_left: Option<u32>,
    /// Marks drawn beside the picture, never in it: made and read by functions of their own.
    #[uniffi(default = None)]
    pub marks: Option<Bytes>,
}

/// A note. Notes are added, never rewritten.
#[uniffi::remote(Record)]
pub struct Note {
    /// What it is about.
    #[uniffi(default = None)]
    pub about: Option<RecordRef>,
    /// The note.
    #[uniffi(default = None)]
    pub text: Option<String>,
    /// Who may read it; empty counts as shared.
    #[uniffi(default = None)]
    pub audience: Option<Audience>,
}

/// A question of the office to the crew.
#[uniffi::remote(Record)]
pub struct Question {
    /// What it is about.
    #[uniffi(default = None)]
    pub about: Option<RecordRef>,
    /// The question.
    #[uniffi(default = None)]
    pub text: Option<String>,
}

/// An answer to a question.
#[uniffi::remote(Record)]
pub struct Answer {
    /// The question.
    #[uniffi(default = None)]
    pub question: Option<RecordRef>,
    /// The answer.
    #[uniffi(default = None)]
    pub text: Option<String>,
    /// A photo that shows it.
    #[uniffi(default = None)]
    pub photo: Option<RecordRef>,
}
