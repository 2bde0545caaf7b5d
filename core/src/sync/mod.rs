//! Exchange between two replicas: a session that takes frames in and gives frames out, and knows
//! nothing of sockets, clocks or storage.
//!
//! [`Session`] is the engine and states its contract; [`Replica`] is what it needs of the place
//! where changes and photos are kept; [`FrameReader`] and [`encode_stream`] cut frames on a byte
//! stream; [`wire`] describes the protocol. Transports live in the shells.

mod batch;
pub mod bundle;
mod chunk;
mod event;
mod frame;
mod handshake;
mod http;
mod message;
mod piece;
mod replica;
mod session;
mod table;
#[cfg(any(test, feature = "testing"))]
pub mod testing;
#[cfg(test)]
mod tests;

#[doc = include_str!("WIRE.md")]
pub mod wire {}

pub use chunk::ChunkHead;
pub use event::{Ending, Event, Progress, Reason};
pub use frame::{FrameError, FrameReader, WIRE_VERSION, encode_stream};
pub use http::{answer_challenge, check_answer};
pub use replica::*;
pub use session::{Session, SessionConfig, SessionError};
pub use table::table_digest;
