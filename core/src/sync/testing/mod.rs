//! What tests of an exchange need: an office with devices, a replica in memory, and a network
//! that cuts, loses, repeats and damages frames. For tests here and in other packages only.

mod net;
mod office;
mod replica;
mod store;

pub use net::{Fault, Link, Net};
pub use office::{Office, TestDevice, change_chunk, photo_words};
pub use replica::MemoryReplica;
