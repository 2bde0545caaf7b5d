//! The core for phone apps and scripts, in Kotlin, Swift and Python.
//!
//! [`Notebook`] is the way in. Calls block and may come from any thread; what a call confirms is
//! on the disk when it returns. Times are milliseconds since 1970 UTC. A failure is one
//! [`ChalkwalkError`], with words that can be shown to a person. Nothing here knows of the trade
//! or of storage: those are the core's.
//!
//! What works on a notebook goes through `Inner::with`; what reads or computes anything else goes
//! through `guarded`. Both run it on a thread of the library's (`enclosure`).

#![cfg_attr(test, allow(clippy::unwrap_used, clippy::expect_used, clippy::panic))]

mod enclosure;
mod error;
mod house;
mod inner;
mod log;
mod mirror;
mod network;
mod notebook;
mod others;
mod packets;
mod recap;
mod reckon;
mod review;
mod roll;
mod session;
mod shared;
mod uploads;
mod views;

pub use error::*;
pub use house::*;
pub use inner::{Clock, ListenerFailure};
pub use log::*;
pub use mirror::*;
pub use network::*;
pub use notebook::*;
pub use others::*;
pub use packets::*;
pub use recap::*;
pub use reckon::*;
pub use review::*;
pub use roll::*;
pub use session::*;
pub use uploads::*;
pub use views::*;

uniffi::setup_scaffolding!("chalkwalk");
