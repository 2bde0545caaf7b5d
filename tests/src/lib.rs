//! What the tests and benches share.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

pub mod sim;
pub mod yard;
