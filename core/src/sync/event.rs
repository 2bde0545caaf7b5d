//! What a session tells its shell.

use crate::document::{Author, Refusal};
use crate::job::{BlobKind, Certificate, DeviceId, JobId, PhotoHash};

use super::frame::FrameError;
use super::message::Bye;
use crate::limits;

/// Something that a shell may want to show or act on.
#[derive(Clone, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub enum Event {
    /// The peer has proved who it is.
    Connected {
        /// What the office says of it.
        peer: Certificate,
    },
    /// Changes from the peer are durable here. Other live sessions want to be woken.
    Took {
        /// The job.
        job: JobId,
        /// Whose changes they are.
        authors: Vec<Author>,
        /// How many were new here.
        new_changes: usize,
    },
    /// The peer holds changes durably that this side has sent.
    PeerKept {
        /// The job.
        job: JobId,
        /// How many.
        changes: usize,
    },
    /// A file from the peer is whole, checked and durable here.
    TookFile {
        /// The job.
        job: JobId,
        /// Which file.
        kind: BlobKind,
        /// The photo.
        hash: PhotoHash,
    },
    /// The peer holds a file whole and durably.
    PeerKeptFile {
        /// Which file.
        kind: BlobKind,
        /// The photo.
        hash: PhotoHash,
    },
    /// A file was not taken, here or by the peer: what came is not the photo of that name.
    FileRefused {
        /// Which file.
        kind: BlobKind,
        /// The photo.
        hash: PhotoHash,
        /// The peer refused what this side sent.
        by_peer: bool,
    },
    /// A file that is said to be complete here could not be read.
    FileUnreadable {
        /// Which file.
        kind: BlobKind,
        /// The photo.
        hash: PhotoHash,
    },
    /// A job is left out: one side may not exchange it with the other.
    Declined {
        /// The job.
        job: JobId,
        /// The peer said so.
        by_peer: bool,
    },
    /// More jobs than one session takes; the oldest are left out. Name the jobs to reach them.
    JobsLeftOut {
        /// How many.
        count: usize,
    },
    /// Figures have moved: see [`Progress`].
    Progress(Progress),
    /// All is exchanged: nothing to send, and nothing wanted that the peer has.
    Settled,
    /// The session is over. It takes and gives nothing more, once its last frame is sent.
    Ended(Ending),
}

/// Figures of a session so far.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Progress {
    /// Changes sent.
    pub changes_sent: u64,
    /// Of those, how many the peer holds durably.
    pub changes_kept_by_peer: u64,
    /// Changes received and durable.
    pub changes_taken: u64,
    /// Thumbnails that the peer received whole.
    pub thumbnails_sent: u64,
    /// Thumbnails received whole.
    pub thumbnails_taken: u64,
    /// Thumbnails asked for and still to come.
    pub thumbnails_due: u64,
    /// Originals that the peer received whole.
    pub originals_sent: u64,
    /// Originals received whole.
    pub originals_taken: u64,
    /// Originals asked for and still to come.
    pub originals_due: u64,
    /// Bytes of frames sent.
    pub bytes_sent: u64,
    /// Bytes of frames received.
    pub bytes_received: u64,
}

/// How a session ended.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Ending {
    /// The peer ended it.
    pub by_peer: bool,
    /// The reason.
    pub reason: Reason,
    /// The reason in words, for a log.
    pub words: String,
    /// The device and number that stand twice, where the reason is [`Reason::Forked`].
    pub forked: Option<(DeviceId, u64)>,
}

impl Ending {
    pub(crate) fn new(reason: Reason, words: impl Into<String>) -> Self {
        Self {
            by_peer: false,
            reason,
            words: words.into(),
            forked: None,
        }
    }

    /// The copied device as a refusal, where that was the reason.
    pub fn refusal(&self) -> Option<Refusal> {
        self.forked
            .map(|(device, number)| Refusal::Forked { device, number })
    }

    pub(crate) fn to_bye(&self) -> Bye {
        Bye {
            code: self.reason.code(),
            words: shortened(&self.words),
            fork: self
                .forked
                .map(|(device, number)| (serde_bytes::ByteArray::new(*device.as_bytes()), number)),
        }
    }

    pub(crate) fn from_bye(bye: &Bye) -> Self {
        Self {
            by_peer: true,
            reason: Reason::from_code(bye.code),
            words: shortened(&bye.words),
            forked: bye
                .fork
                .map(|(device, number)| (DeviceId::from_bytes(device.into_array()), number)),
        }
    }
}

fn shortened(words: &str) -> String {
    let mut end = words.len().min(limits::WORDS_BYTES);
    while !words.is_char_boundary(end) {
        end -= 1;
    }
    words
        .get(..end)
        .unwrap_or_default()
        .chars()
        .filter(|c| !c.is_control())
        .collect()
}

macro_rules! reasons {
    ($($code:literal $name:ident: $doc:literal,)*) => {
        /// Why a session ended.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
        #[non_exhaustive]
        pub enum Reason {
            $(#[doc = $doc] $name,)*
            /// A reason that this version does not know.
            Other(u8),
        }

        impl Reason {
            pub(crate) fn code(self) -> u8 {
                match self {
                    $(Reason::$name => $code,)*
                    Reason::Other(code) => code,
                }
            }

            pub(crate) fn from_code(code: u8) -> Self {
                match code {
                    $($code => Reason::$name,)*
                    other => Reason::Other(other),
                }
            }
        }
    };
}

reasons! {
    0 Finished: "All that was wanted is exchanged, or the shell ended it.",
    1 Protocol: "A frame came that has no place there.",
    2 Version: "The sides speak different versions.",
    3 Damaged: "A frame was damaged, lost, repeated or out of turn. Connect again.",
    4 Identity: "The peer did not prove that it is a device of this office.",
    5 SameDevice: "Both sides are the same device: one is a copy.",
    6 Limit: "A limit was passed.",
    7 Malformed: "A change, table or batch does not read.",
    8 Unsigned: "A signature or certificate does not match.",
    9 Forked: "A device has written one number twice: it was copied or restored while in use.",
    10 Forbidden: "Not permitted.",
    11 Gap: "Changes came before those they build on.",
    12 Storage: "A side could not store or read.",
    13 Idle: "Nothing was heard for too long.",
}

impl From<Refusal> for Ending {
    fn from(refusal: Refusal) -> Self {
        let reason = match refusal {
            Refusal::Limit(_) => Reason::Limit,
            Refusal::Malformed(_) => Reason::Malformed,
            Refusal::Unsigned(_) => Reason::Unsigned,
            Refusal::Forked { .. } => Reason::Forked,
            Refusal::Forbidden(_) => Reason::Forbidden,
            Refusal::Gap => Reason::Gap,
            Refusal::Storage(_) => Reason::Storage,
        };
        let mut ending = Self::new(reason, refusal.to_string());
        if let Refusal::Forked { device, number } = refusal {
            ending.forked = Some((device, number));
        }
        ending
    }
}

impl From<FrameError> for Ending {
    fn from(error: FrameError) -> Self {
        let reason = match error {
            FrameError::Version(_) => Reason::Version,
            FrameError::TooLong(_) => Reason::Limit,
            FrameError::Short | FrameError::Damaged | FrameError::OutOfTurn { .. } => {
                Reason::Damaged
            }
            FrameError::Unreadable(_) => Reason::Protocol,
        };
        Self::new(reason, error.to_string())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_reason_of_one_byte_too_many_is_cut_between_letters() {
        let most = "a".repeat(limits::WORDS_BYTES);
        assert_eq!(shortened(&most), most);
        assert_eq!(shortened(&format!("{most}b")), most);
        let wide = format!("{}é", &most[1..]);
        assert_eq!(shortened(&wide), most[1..]);
        assert_eq!(shortened("a\u{7}b\nc"), "abc");
    }
}
