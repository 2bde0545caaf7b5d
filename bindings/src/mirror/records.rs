//! The records as other languages see them. Each struct repeats the core's: one that differs does
//! not compile. All fields are optional: a record fills up as the crew works.

use chalkwalk_core::job::*;

use super::layers::*;
use super::values::{Bytes, Day};

/// The house and its owner; one a job.
#[uniffi::remote(Record)]
pub struct Property {
    /// Street and number.
    #[uniffi(default = None)]
    pub street: Option<String>,
    /// Town.
    #[uniffi(default = None)]
    pub town: Option<String>,
    /// State or province.
    #[uniffi(default = None)]
    pub state: Option<String>,
    /// Postal code.
    #[uniffi(default = None)]
    pub postal_code: Option<String>,
    /// Degrees north.
    #[uniffi(default = None)]
    pub latitude: Option<f64>,
    /// Degrees east.
    #[uniffi(default = None)]
    pub longitude: Option<f64>,
    /// Name of the time zone, as the IANA database writes it.
    #[uniffi(default = None)]
    pub time_zone: Option<String>,
    /// The homeowner.
    #[uniffi(default = None)]
    pub owner: Option<String>,
    /// How to reach the owner.
    #[uniffi(default = None)]
    pub owner_phone: Option<String>,
    /// How to reach the owner.
    #[uniffi(default = None)]
    pub owner_email: Option<String>,
    /// Storeys above grade.
    #[uniffi(default = None)]
    pub storeys: Option<u32>,
    /// Year the house was built.
    #[uniffi(default = None)]
    pub year_built: Option<u32>,
    /// True bearing that the front faces, degrees clockwise from north.
    #[uniffi(default = None)]
    pub front_bearing: Option<f64>,
    /// The day of the storm.
    #[uniffi(default = None)]
    pub date_of_loss: Option<Day>,
    /// Building code and edition in force, as the local authority names it.
    #[uniffi(default = None)]
    pub code_edition: Option<String>,
    /// Whether the local authority designates the area for an ice barrier.
    #[uniffi(default = None)]
    pub ice_barrier_designated: Option<Known>,
    /// Number of a bought measurement report.
    #[uniffi(default = None)]
    pub measurement_report: Option<String>,
    /// What storm reports near the address say, with their source.
    #[uniffi(default = None)]
    pub storm_reports: Option<String>,
}

/// What the owner said before the work; one a job.
#[uniffi::remote(Record)]
pub struct Interview {
    /// Leaks the owner knows of.
    #[uniffi(default = None)]
    pub interior_leaks: Option<Known>,
    /// Where and since when.
    #[uniffi(default = None)]
    pub leak_details: Option<String>,
    /// Repairs made earlier.
    #[uniffi(default = None)]
    pub earlier_repairs: Option<String>,
    /// Years since the roof was laid, as the owner says.
    #[uniffi(default = None)]
    pub roof_age_years: Option<u32>,
    /// Claims made earlier.
    #[uniffi(default = None)]
    pub earlier_claims: Option<String>,
    /// Pets on the lot.
    #[uniffi(default = None)]
    pub pets: Option<String>,
    /// Gates that are locked.
    #[uniffi(default = None)]
    pub locked_gates: Option<String>,
    /// The owner's leave to climb.
    #[uniffi(default = None)]
    pub may_climb: Option<Known>,
    /// Anything else.
    #[uniffi(default = None)]
    pub remarks: Option<String>,
}

/// What the owner was told at the end; one a job.
#[uniffi::remote(Record)]
pub struct Recap {
    /// What was found.
    #[uniffi(default = None)]
    pub found: Option<String>,
    /// What was there before.
    #[uniffi(default = None)]
    pub prior: Option<String>,
    /// What happens next.
    #[uniffi(default = None)]
    pub next: Option<String>,
    /// Milliseconds since 1970 when the talk took place.
    #[uniffi(default = None)]
    pub held_at: Option<i64>,
}

/// One stay of the crew at the house.
#[uniffi::remote(Record)]
pub struct Visit {
    /// The local day.
    #[uniffi(default = None)]
    pub day: Option<Day>,
    /// Milliseconds since 1970.
    #[uniffi(default = None)]
    pub arrived_at: Option<i64>,
    /// Who came.
    #[uniffi(default = None)]
    pub crew: Option<String>,
    /// Wind as entered by hand, miles an hour.
    #[uniffi(default = None)]
    pub wind_mph: Option<u32>,
    /// Air temperature as entered by hand, degrees Fahrenheit.
    #[uniffi(default = None)]
    pub temperature_f: Option<i64>,
    /// Light and sky in words.
    #[uniffi(default = None)]
    pub light: Option<String>,
    /// The cautions for ladder and roof were shown and read.
    #[uniffi(default = None)]
    pub cautions_read: Option<bool>,
}

/// One side of the house.
#[uniffi::remote(Record)]
pub struct Elevation {
    /// One of the four sides; empty for a further wall such as a court.
    #[uniffi(default = None)]
    pub side: Option<Side>,
    /// A name for a further wall.
    #[uniffi(default = None)]
    pub name: Option<String>,
    /// True bearing it faces, degrees clockwise from north.
    #[uniffi(default = None)]
    pub bearing: Option<f64>,
    /// Storeys on this side.
    #[uniffi(default = None)]
    pub storeys: Option<u32>,
    /// Grade to eave.
    #[uniffi(default = None)]
    pub eave_height: Option<Length>,
    /// Length of the wall.
    #[uniffi(default = None)]
    pub wall_length: Option<Length>,
    /// What the wall is covered with.
    #[uniffi(default = None)]
    pub cladding: Option<Material>,
    /// The crew worked this side from left to right.
    #[uniffi(default = None)]
    pub walked: Option<bool>,
    /// What keeps the side from being seen whole.
    #[uniffi(default = None)]
    pub blocked_by: Option<String>,
}

/// One plane of the roof.
#[uniffi::remote(Record)]
pub struct Slope {
    /// A name such as "main, front".
    #[uniffi(default = None)]
    pub name: Option<String>,
    /// The side of the house below it.
    #[uniffi(default = None)]
    pub side: Option<Side>,
    /// True bearing it faces, degrees clockwise from north.
    #[uniffi(default = None)]
    pub bearing: Option<f64>,
    /// What it is covered with.
    #[uniffi(default = None)]
    pub roofing: Option<Material>,
    /// Layers of roofing counted.
    #[uniffi(default = None)]
    pub layers: Option<u32>,
    /// Pitch in the measurement report.
    #[uniffi(default = None)]
    pub report_pitch: Option<Pitch>,
    /// Area in the measurement report.
    #[uniffi(default = None)]
    pub report_area: Option<Area>,
    /// Area from the crew's own measures.
    #[uniffi(default = None)]
    pub measured_area: Option<Area>,
    /// Years since it was laid, as far as known.
    #[uniffi(default = None)]
    pub age_years: Option<u32>,
    /// The crew walked it or saw all of it.
    #[uniffi(default = None)]
    pub walked: Option<bool>,
}

/// A line where slopes end or meet.
#[uniffi::remote(Record)]
pub struct Edge {
    /// What kind of line.
    #[uniffi(default = None)]
    pub kind: Option<EdgeKind>,
    /// A slope it belongs to.
    #[uniffi(default = None)]
    pub slope: Option<RecordRef>,
    /// The other slope, for ridge, hip and valley.
    #[uniffi(default = None)]
    pub other_slope: Option<RecordRef>,
    /// Its length.
    #[uniffi(default = None)]
    pub length: Option<Length>,
    /// For a valley, how it is lined.
    #[uniffi(default = None)]
    pub lining: Option<ValleyLayerSeen>,
}

/// A room.
#[uniffi::remote(Record)]
pub struct Room {
    /// Its name.
    #[uniffi(default = None)]
    pub name: Option<String>,
    /// Storey, 1 at grade.
    #[uniffi(default = None)]
    pub storey: Option<u32>,
    /// Longer side.
    #[uniffi(default = None)]
    pub length: Option<Length>,
    /// Shorter side.
    #[uniffi(default = None)]
    pub width: Option<Length>,
    /// Floor to ceiling.
    #[uniffi(default = None)]
    pub height: Option<Length>,
}

/// A structure on the lot apart from the house.
#[uniffi::remote(Record)]
// JNA has a `Structure` of its own.
#[uniffi(name = "OtherStructure")]
pub struct Structure {
    /// What it is.
    #[uniffi(default = None)]
    pub kind: Option<StructureKind>,
    /// A name such as "rear fence".
    #[uniffi(default = None)]
    pub name: Option<String>,
    /// What it is made of.
    #[uniffi(default = None)]
    pub material: Option<Material>,
    /// Length along the ground.
    #[uniffi(default = None)]
    pub length: Option<Length>,
    /// Height.
    #[uniffi(default = None)]
    pub height: Option<Length>,
    /// The crew looked at it.
    #[uniffi(default = None)]
    pub walked: Option<bool>,
}

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
    /// A `SignedCapture`, encoded.
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
    /// Marks drawn beside the picture, never in it: an encoded list of `Mark`.
    #[uniffi(default = None)]
    pub marks: Option<Bytes>,
}

/// A measure.
#[uniffi::remote(Record)]
pub struct Measurement {
    /// Where.
    #[uniffi(default = None)]
    pub place: Option<RecordRef>,
    /// What was measured.
    #[uniffi(default = None)]
    pub of: Option<MeasuredThing>,
    /// The pitch, for a pitch.
    #[uniffi(default = None)]
    pub pitch: Option<Pitch>,
    /// The length, for the rest.
    #[uniffi(default = None)]
    pub length: Option<Length>,
    /// How it was taken.
    #[uniffi(default = None)]
    pub method: Option<MeasureMethod>,
    /// Anything else, such as how guards are held.
    #[uniffi(default = None)]
    pub remarks: Option<String>,
}

/// What lies under the first course at an eave, layer by layer. Nothing may be broken to look.
#[uniffi::remote(Record)]
pub struct EaveOpening {
    /// The slope above.
    #[uniffi(default = None)]
    pub slope: Option<RecordRef>,
    /// The side of the house.
    #[uniffi(default = None)]
    pub side: Option<Side>,
    /// It lies beside a valley.
    #[uniffi(default = None)]
    pub beside_valley: Option<bool>,
    /// What starts the first course.
    #[uniffi(default = None)]
    pub starter: Option<StarterLayerSeen>,
    /// Metal over the deck's edge.
    #[uniffi(default = None)]
    pub drip_edge: Option<MetalLayerSeen>,
    /// Metal from the deck into the gutter.
    #[uniffi(default = None)]
    pub gutter_apron: Option<MetalLayerSeen>,
    /// What lies between deck and roofing.
    #[uniffi(default = None)]
    pub underlayment: Option<UnderlaymentLayerSeen>,
    /// Self-adhered membrane.
    #[uniffi(default = None)]
    pub ice_barrier: Option<IceBarrierLayerSeen>,
    /// What the roofing is nailed to.
    #[uniffi(default = None)]
    pub deck: Option<DeckLayerSeen>,
    /// Widest gap between boards.
    #[uniffi(default = None)]
    pub widest_gap: Option<Length>,
    /// How the valley beside it is lined.
    #[uniffi(default = None)]
    pub valley_lining: Option<ValleyLayerSeen>,
    /// Layers of roofing.
    #[uniffi(default = None)]
    pub roofing_layers: Option<u32>,
    /// Why something could not be seen, or from what it was inferred.
    #[uniffi(default = None)]
    pub reason: Option<String>,
}

/// A square of 10 ft by 10 ft in which hits were counted; the hits are the record's tally.
#[uniffi::remote(Record)]
pub struct TestSquare {
    /// The slope.
    #[uniffi(default = None)]
    pub slope: Option<RecordRef>,
    /// Width.
    #[uniffi(default = None)]
    pub width: Option<Length>,
    /// Height along the slope.
    #[uniffi(default = None)]
    pub height: Option<Length>,
    /// How its spot was chosen.
    #[uniffi(default = None)]
    pub placement: Option<Placement>,
    /// Anything else.
    #[uniffi(default = None)]
    pub remarks: Option<String>,
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

/// A signature that the visit took place; it promises nothing else.
#[uniffi::remote(Record)]
pub struct Signature {
    /// Who signed.
    #[uniffi(default = None)]
    pub signer: Option<String>,
    /// In which part: owner, rep.
    #[uniffi(default = None)]
    pub signs_as: Option<String>,
    /// The sentence that was signed.
    #[uniffi(default = None)]
    pub statement: Option<String>,
    /// The strokes as an SVG path in a box of 1000 by 400.
    #[uniffi(default = None)]
    pub strokes: Option<String>,
}

/// The crew leaves the site. The change that adds it seals all that came before it.
#[uniffi::remote(Record)]
pub struct Departure {
    /// The visit it ends.
    #[uniffi(default = None)]
    pub visit: Option<RecordRef>,
    /// Open points the crew knows of, in words.
    #[uniffi(default = None)]
    pub known_open: Option<String>,
}

/// A report of hail or wind near the house, from a public file or a person.
#[uniffi::remote(Record)]
pub struct StormReport {
    /// Hail or wind.
    #[uniffi(default = None)]
    pub kind: Option<StormKind>,
    /// Milliseconds since 1970.
    #[uniffi(default = None)]
    pub at: Option<i64>,
    /// Degrees north.
    #[uniffi(default = None)]
    pub latitude: Option<f64>,
    /// Degrees east.
    #[uniffi(default = None)]
    pub longitude: Option<f64>,
    /// Largest stone.
    #[uniffi(default = None)]
    pub size: Option<Length>,
    /// The reporter's own word for the size, such as "golf ball".
    #[uniffi(default = None)]
    pub size_word: Option<String>,
    /// Gust, miles an hour.
    #[uniffi(default = None)]
    pub gust_mph: Option<f64>,
    /// The gust was measured, not estimated.
    #[uniffi(default = None)]
    pub gust_measured: Option<bool>,
    /// Where, in the reporter's words.
    #[uniffi(default = None)]
    pub where_said: Option<String>,
    /// The file and row it was read from, or who said it.
    #[uniffi(default = None)]
    pub source: Option<String>,
    /// Anything else.
    #[uniffi(default = None)]
    pub remarks: Option<String>,
}

/// The outline of the house with the pitch and form of each side, from which roof planes are
/// worked out.
#[uniffi::remote(Record)]
pub struct Plan {
    /// A name such as "house" or "garage".
    #[uniffi(default = None)]
    pub name: Option<String>,
    /// The outline and its sides, as JSON: what is said of a roof worked out from its plan tells how.
    #[uniffi(default = None)]
    pub outline: Option<String>,
    /// How it was measured.
    #[uniffi(default = None)]
    pub method: Option<MeasureMethod>,
    /// Anything else.
    #[uniffi(default = None)]
    pub remarks: Option<String>,
}

/// A bought report of areas, pitches and edge lengths.
#[uniffi::remote(Record)]
pub struct MeasurementReport {
    /// Its number or name.
    #[uniffi(default = None)]
    pub name: Option<String>,
    /// The day it was made.
    #[uniffi(default = None)]
    pub day: Option<Day>,
    /// BLAKE3 hash of the file, in hexadecimal.
    #[uniffi(default = None)]
    pub file_hash: Option<String>,
    /// What was read from the file: an encoded list of rows.
    #[uniffi(default = None)]
    pub rows: Option<Bytes>,
}

/// An estimator's change to a line of the scope. The line worked out from the record stays
/// readable below it.
#[uniffi::remote(Record)]
pub struct ScopeChange {
    /// The key of the line; for an added line a key of its own.
    #[uniffi(default = None)]
    pub line: Option<String>,
    /// What is done to the line.
    #[uniffi(default = None)]
    pub kind: Option<ScopeChangeKind>,
    /// Where, for an added line.
    #[uniffi(default = None)]
    pub place: Option<RecordRef>,
    /// The item in trade words, for an added line.
    #[uniffi(default = None)]
    pub item: Option<String>,
    /// The work, where it changes.
    #[uniffi(default = None)]
    pub action: Option<WorkAction>,
    /// The quantity, where it changes.
    #[uniffi(default = None)]
    pub quantity: Option<f64>,
    /// Its unit.
    #[uniffi(default = None)]
    pub unit: Option<Unit>,
    /// Why.
    #[uniffi(default = None)]
    pub reason: Option<String>,
    /// Who may read it; empty counts as shared.
    #[uniffi(default = None)]
    pub audience: Option<Audience>,
}

/// A scope that somebody else wrote, such as the insurer's.
#[uniffi::remote(Record)]
pub struct OtherScope {
    /// Whose it is, in words.
    #[uniffi(default = None)]
    pub name: Option<String>,
    /// The file's name.
    #[uniffi(default = None)]
    pub file_name: Option<String>,
    /// BLAKE3 hash of the file, in hexadecimal.
    #[uniffi(default = None)]
    pub file_hash: Option<String>,
    /// Which column means what, as JSON.
    #[uniffi(default = None)]
    pub columns: Option<String>,
    /// What was read from the file: an encoded list of rows.
    #[uniffi(default = None)]
    pub rows: Option<Bytes>,
}

/// An estimator's word on which row of another scope stands for which line of ours.
#[uniffi::remote(Record)]
pub struct ScopeMatch {
    /// The other scope.
    #[uniffi(default = None)]
    pub other: Option<RecordRef>,
    /// The row in its file, 1 for the first below the head.
    #[uniffi(default = None)]
    pub row: Option<u32>,
    /// The key of our line; empty where ours has no such line.
    #[uniffi(default = None)]
    pub line: Option<String>,
    /// Why.
    #[uniffi(default = None)]
    pub reason: Option<String>,
}
