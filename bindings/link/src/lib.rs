//! A device's side of the network: enrolment, tokens, and sessions over WebSocket and TCP. The
//! office's server, the `chalkwalk` command and phones use the same.
//!
//! Calls block; none of them needs a runtime of the caller's.

#![cfg_attr(test, allow(clippy::unwrap_used, clippy::expect_used, clippy::panic))]

pub mod client;
mod enrol;
pub mod env;
mod http;
mod ticket;
pub mod token;
pub mod transport;

pub use enrol::{EnrolAnswer, EnrolRequest, pin_of};
pub use ticket::{Ticket, TicketError};
pub use transport::{Trust, TrustError};
