//! What the tests and benches share.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

pub mod decoders;
pub mod large;
pub mod sim;
pub mod yard;
