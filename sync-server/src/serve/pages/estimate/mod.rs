//! The scope of a job: its lines with what they rest on, what an estimator changes, sets and
//! prices.

mod change;
mod clash;
mod files;
mod inputs;
mod inputs_form;
mod line;
mod list;
mod prices;
mod reckoned;
mod stands;

pub(in crate::serve) use change::post as change;
pub(in crate::serve) use change::reason;
pub(in crate::serve) use clash::NotDone;
pub(in crate::serve) use files::{csv, given, json};
pub(in crate::serve) use inputs::{page as inputs_page, post as set_inputs};
pub(in crate::serve) use line::{add as add_page, page as line_page};
pub(in crate::serve) use list::page;
pub(in crate::serve) use prices::{page as prices_page, post as put_prices};
pub(in crate::serve) use reckoned::{Reckoned, aside, inputs_of, money, scope_with};
