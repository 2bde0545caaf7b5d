//! Exchange between two replicas: a session that takes frames in and gives frames out, and knows
//! nothing of sockets, clocks or storage.

mod replica;

pub use replica::*;
