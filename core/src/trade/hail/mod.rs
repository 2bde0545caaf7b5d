//! Hail: how its size is told, how fast it falls, what it strikes with, and at which sizes damage
//! was observed to begin.
//!
//! Sizes are diameters in inches. Nothing here says that a part is or is not damaged: a table of
//! sizes helps a person to know where to look and what to doubt.

mod fall;
mod onset;
mod scales;
mod words;

pub use fall::{FALL_SPEED_NOTE, Fall, FallModel, HailError, IMPACT_CLASSES, ImpactClass, fall};
pub use onset::{DAMAGE_ONSET, Onset, SMALL_HAIL_NOTE, onset_of, stone_from_splash};
pub use scales::{
    ANELFA, AnelfaClass, Severe, TORRO, TorroClass, anelfa, severe_thresholds, torro,
};
pub use words::{NearestWord, SIZE_WORDS, SizeReading, SizeWord, inches_from_word, words_for};
