//! The office server as a library: storage, the hub between devices, pages and transports.
//!
//! The `chalkwalk` command stands on it. What is acknowledged to a device is on the disk.

#![cfg_attr(test, allow(clippy::unwrap_used, clippy::expect_used, clippy::panic))]

pub mod carry;
pub mod command;
pub mod enrol;
mod error;
mod folder;
pub mod hub;
pub mod judge;
pub mod limits;
pub mod office;
mod papers;
pub mod people;
pub mod press;
pub mod serve;
pub mod storage;
pub mod store;

pub use chalkwalk_link::{client, env, transport};
pub use error::ServerError;
