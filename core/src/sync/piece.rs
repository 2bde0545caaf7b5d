//! Pieces of files: what a sound one is.

use super::message::Piece;
use crate::document::Refusal;
use crate::job::BlobKind;
use crate::limits;

/// The largest file of a kind, bytes.
pub(crate) fn largest(kind: BlobKind) -> u64 {
    match kind {
        BlobKind::Thumbnail => limits::THUMBNAIL_BYTES,
        BlobKind::Original => limits::ORIGINAL_BYTES,
    }
}

/// Checks that pieces together fit a frame.
pub(crate) fn check_pieces(pieces: &[Piece]) -> Result<(), Refusal> {
    let bytes: usize = pieces.iter().map(|piece| piece.bytes.len()).sum();
    if bytes > limits::PHOTO_CHUNK || pieces.len() > limits::WANT_PAGE {
        return Err(Refusal::Limit("a piece of a file is too large".into()));
    }
    Ok(())
}

/// Checks that a piece lies within its file and its file within the limits. Only the end of a file
/// may be a piece of no bytes.
pub(crate) fn check_piece(piece: &Piece) -> Result<(), Refusal> {
    if piece.size > largest(piece.kind) {
        return Err(Refusal::Limit("a file is too large".into()));
    }
    let end = piece.offset.checked_add(piece.bytes.len() as u64);
    let idle = piece.bytes.is_empty() && piece.offset != piece.size;
    if idle || end.is_none_or(|end| end > piece.size) {
        return Err(Refusal::Malformed("a piece lies outside its file".into()));
    }
    Ok(())
}
