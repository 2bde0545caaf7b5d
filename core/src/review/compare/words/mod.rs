//! What somebody else's words mean: items, actions, units, sizes and places.
//!
//! A word that can mean two things means neither: it is left to a person.

mod action;
mod item;
mod kind;
mod place;
mod side;
mod text;
mod unit;

pub(super) use action::{ActionWords, action_of};
pub(super) use item::{ItemWords, Items, item_of};
pub(super) use kind::{kinds_in, size_in};
pub(super) use place::{Cover, Places};
pub(super) use text::{Phrase, tokens};
pub(super) use unit::unit_of;
