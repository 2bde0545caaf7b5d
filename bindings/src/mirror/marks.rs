//! Marks drawn on a photo.

use chalkwalk_core::job::Mark as CoreMark;

use crate::mirror::values::Bytes;
use crate::{Answer, ChalkwalkError};

/// A mark drawn beside a photo, in thousandths of the upright picture's width and height.
#[derive(Clone, Debug, PartialEq, Eq, uniffi::Enum)]
pub enum Mark {
    /// A ring round a hit.
    Ring {
        /// Centre, from the left.
        x: u16,
        /// Centre, from the top.
        y: u16,
        /// Radius in thousandths of the width.
        radius: u16,
    },
    /// An arrow.
    Arrow {
        /// Start, from the left.
        start_x: u16,
        /// Start, from the top.
        start_y: u16,
        /// Tip, from the left.
        tip_x: u16,
        /// Tip, from the top.
        tip_y: u16,
    },
    /// Words.
    Text {
        /// Place, from the left.
        x: u16,
        /// Place, from the top.
        y: u16,
        /// The words.
        text: String,
    },
}

/// Marks as a photo's record holds them. They replace those drawn before.
#[uniffi::export]
pub fn photo_marks(marks: Vec<Mark>) -> Answer<Bytes> {
    let marks: Vec<CoreMark> = marks.into_iter().map(CoreMark::from).collect();
    let bytes = CoreMark::to_bytes(&marks).map_err(ChalkwalkError::input)?;
    Ok(Bytes::from(bytes))
}

/// The marks that a photo's record holds.
#[uniffi::export]
pub fn read_photo_marks(marks: Bytes) -> Answer<Vec<Mark>> {
    let read = CoreMark::from_bytes(&marks).ok_or_else(|| {
        ChalkwalkError::input("these marks cannot be read: a newer version drew them")
    })?;
    Ok(read.into_iter().map(Mark::from).collect())
}

impl From<Mark> for CoreMark {
    fn from(mark: Mark) -> Self {
        match mark {
            Mark::Ring { x, y, radius: r } => CoreMark::Ring { x, y, r },
            Mark::Arrow {
                start_x,
                start_y,
                tip_x,
                tip_y,
            } => CoreMark::Arrow {
                from: (start_x, start_y),
                to: (tip_x, tip_y),
            },
            Mark::Text { x, y, text } => CoreMark::Text { x, y, text },
        }
    }
}

impl From<CoreMark> for Mark {
    fn from(mark: CoreMark) -> Self {
        match mark {
            CoreMark::Ring { x, y, r: radius } => Mark::Ring { x, y, radius },
            CoreMark::Arrow { from, to } => Mark::Arrow {
                start_x: from.0,
                start_y: from.1,
                tip_x: to.0,
                tip_y: to.1,
            },
            CoreMark::Text { x, y, text } => Mark::Text { x, y, text },
        }
    }
}
