//! What leaves the office on paper: the production sheet and the owner's account.

mod account;
mod production;

pub(in crate::serve) use account::{page as account, told};
pub(in crate::serve) use production::{page as production, sheet_with};
