//! The core for a browser: jobs, checks, sync and photos, compiled to wasm.
//!
//! Nothing here stores anything. What must become durable is staged ([`staged`]), and the page
//! writes it before it says that anything was recorded, or sends a frame that acknowledges it. Where
//! that fails the page drops the engine and opens its jobs again from what it holds.

mod acts;
mod api;
mod arriving;
mod book;
mod env;
mod held;
mod identity;
mod meet;
mod read;
mod replica;
mod staged;
mod tools;

pub use api::*;
pub use book::Book;
pub use identity::{Enrolment, Identity};
