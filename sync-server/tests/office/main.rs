//! A real server in this process, on a port of its own: devices enrol, sync and meet, pages show
//! what came in.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod carry;
mod carry_accounts;
mod companies;
mod devices;
#[path = "../engines/mod.rs"]
mod engines;
mod enrolment;
mod exchange;
#[cfg(target_os = "linux")]
mod judging;
mod limits;
mod meeting;
mod nodes;
mod nodes_people;
mod operations;
mod pages;
mod people;
mod record;
mod routes;
mod shares;
mod site;
mod stage;
mod tls;
mod uploads;
