//! What was measured and counted, and what others measured or reported.

use chalkwalk_core::job::*;

use crate::mirror::layers::*;
use crate::mirror::values::{Bytes, Day};

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
    /// What was read from the file; made and read by the library.
    #[uniffi(default = None)]
    pub rows: Option<Bytes>,
}
