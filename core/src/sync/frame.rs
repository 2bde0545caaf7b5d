//! Frames: a version, a checksum and a number around MessagePack, and their cut on a stream.
//!
//! What the MessagePack says lives in `message`.

use crate::limits;

/// The version of the wire protocol that this code speaks.
pub const WIRE_VERSION: u8 = 1;

/// Bytes before the MessagePack: the version and the checksum.
const HEAD: usize = 5;

/// Why bytes are not a frame.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum FrameError {
    /// The peer speaks another version.
    #[error(
        "the other side speaks version {0} of the exchange and this one version {WIRE_VERSION}: \
         bring both up to date"
    )]
    Version(u8),
    /// Longer than [`limits::FRAME_BYTES`].
    #[error("a frame of {0} bytes is over the limit of {limit}", limit = limits::FRAME_BYTES)]
    TooLong(usize),
    /// Shorter than any frame.
    #[error("a frame was cut short")]
    Short,
    /// The checksum does not match the content.
    #[error("a frame was damaged on the way")]
    Damaged,
    /// The content is not what its type says.
    #[error("a frame does not read: {0}")]
    Unreadable(String),
    /// A frame is missing, came twice or out of turn.
    #[error("frame {got} came where frame {expected} was due: the link lost or repeated one")]
    OutOfTurn {
        /// The number that was due.
        expected: u64,
        /// The number that came.
        got: u64,
    },
}

/// Puts the version and the checksum before a body.
pub(crate) fn seal_frame(body: &[u8]) -> Vec<u8> {
    let mut frame = Vec::with_capacity(HEAD + body.len());
    frame.push(WIRE_VERSION);
    frame.extend_from_slice(&checksum(body));
    frame.extend_from_slice(body);
    frame
}

/// The body of a frame, after its length, version and checksum were checked.
pub(crate) fn open_frame(frame: &[u8]) -> Result<&[u8], FrameError> {
    if frame.len() > limits::FRAME_BYTES {
        return Err(FrameError::TooLong(frame.len()));
    }
    let (version, rest) = frame.split_first().ok_or(FrameError::Short)?;
    if *version != WIRE_VERSION {
        return Err(FrameError::Version(*version));
    }
    let (sum, body) = rest.split_at_checked(HEAD - 1).ok_or(FrameError::Short)?;
    if sum != checksum(body) {
        return Err(FrameError::Damaged);
    }
    Ok(body)
}

fn checksum(body: &[u8]) -> [u8; 4] {
    let hash = blake3::hash(body);
    let [a, b, c, d, ..] = *hash.as_bytes();
    [a, b, c, d]
}

/// A frame as a byte stream (TCP, a file) carries it: its length in four bytes, most significant
/// first, and the frame. A transport with messages of its own (WebSocket) carries the bare frame.
pub fn encode_stream(frame: &[u8]) -> Vec<u8> {
    let length = u32::try_from(frame.len()).unwrap_or(u32::MAX);
    let mut bytes = Vec::with_capacity(4 + frame.len());
    bytes.extend_from_slice(&length.to_be_bytes());
    bytes.extend_from_slice(frame);
    bytes
}

/// Cuts a byte stream into frames: push what came, pop what is whole.
///
/// It holds at most one frame over what was pushed, and takes no memory for a length that is only
/// announced.
#[derive(Debug, Default)]
pub struct FrameReader {
    buffer: Vec<u8>,
    start: usize,
}

impl FrameReader {
    /// A reader at the start of a stream.
    pub fn new() -> Self {
        Self::default()
    }

    /// Takes bytes as they come, in pieces of any size.
    pub fn push(&mut self, bytes: &[u8]) {
        if self.start > 0 {
            self.buffer.drain(..self.start);
            self.start = 0;
        }
        self.buffer.extend_from_slice(bytes);
    }

    /// The next whole frame; `None` until more bytes come. After an error the stream is of no
    /// further use.
    pub fn pop(&mut self) -> Result<Option<Vec<u8>>, FrameError> {
        let pending = self.buffer.get(self.start..).unwrap_or_default();
        let Some((length, rest)) = pending.split_first_chunk::<4>() else {
            return Ok(None);
        };
        let length = usize::try_from(u32::from_be_bytes(*length)).unwrap_or(usize::MAX);
        if length > limits::FRAME_BYTES {
            return Err(FrameError::TooLong(length));
        }
        let Some(frame) = rest.get(..length) else {
            return Ok(None);
        };
        let frame = frame.to_vec();
        self.start += 4 + length;
        Ok(Some(frame))
    }

    /// Bytes pushed that are not a whole frame yet. At the end of a stream anything but 0 means
    /// that it was cut.
    pub fn pending(&self) -> usize {
        self.buffer.len() - self.start
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_frame_opens_only_unaltered() {
        let frame = seal_frame(b"gutter");
        assert_eq!(open_frame(&frame), Ok(&b"gutter"[..]));
        for at in 0..frame.len() {
            let mut altered = frame.clone();
            altered[at] ^= 0x10;
            let expected = if at == 0 {
                FrameError::Version(0x11)
            } else {
                FrameError::Damaged
            };
            assert_eq!(open_frame(&altered), Err(expected));
        }
        assert_eq!(open_frame(&[]), Err(FrameError::Short));
        assert_eq!(open_frame(&[1, 2, 3]), Err(FrameError::Short));
    }

    #[test]
    fn one_byte_over_the_limit_is_refused() {
        let most = vec![7; limits::FRAME_BYTES - HEAD];
        assert!(open_frame(&seal_frame(&most)).is_ok());
        let over = vec![7; limits::FRAME_BYTES - HEAD + 1];
        let expected = FrameError::TooLong(limits::FRAME_BYTES + 1);
        assert_eq!(open_frame(&seal_frame(&over)), Err(expected.clone()));

        let mut reader = FrameReader::new();
        reader.push(
            &u32::try_from(limits::FRAME_BYTES + 1)
                .unwrap()
                .to_be_bytes(),
        );
        assert_eq!(reader.pop(), Err(expected));
    }

    #[test]
    fn a_stream_in_pieces_of_any_size_gives_the_same_frames() {
        let frames: Vec<Vec<u8>> = (0..5u8)
            .map(|n| seal_frame(&vec![n; usize::from(n) * 9]))
            .collect();
        let stream: Vec<u8> = frames.iter().flat_map(|f| encode_stream(f)).collect();
        for piece in [1, 2, 3, 7, 64, stream.len()] {
            let mut reader = FrameReader::new();
            let mut got = Vec::new();
            for bytes in stream.chunks(piece) {
                reader.push(bytes);
                while let Some(frame) = reader.pop().unwrap() {
                    got.push(frame);
                }
            }
            assert_eq!(got, frames);
            assert_eq!(reader.pending(), 0);
        }
    }
}
