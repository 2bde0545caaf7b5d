//! The record of a storm inspection: what two people on a house write down at once, offline,
//! so that it merges, stays, and can be checked by somebody who was never there.
//!
//! The rooms, from the ground up; a lower one never names a higher one: [`job`], [`trade`],
//! [`document`], [`photo`], `journal`, [`sync`], [`review`], [`drawing`], `packet`, `notebook`.
//! Beside them stand [`contain`], [`env`], [`limits`] and `sorted`.

#![cfg_attr(test, allow(clippy::unwrap_used, clippy::expect_used, clippy::panic))]

pub mod contain;
pub mod document;
pub mod drawing;
pub mod env;
pub mod job;
#[cfg(feature = "journal")]
pub mod journal;
pub mod limits;
#[cfg(all(feature = "journal", feature = "packet"))]
pub mod notebook;
#[cfg(feature = "packet")]
pub mod packet;
pub mod photo;
pub mod review;
mod sorted;
pub mod sync;
pub mod trade;
