//! The records as other languages see them. Each struct repeats the core's: one that differs does
//! not compile. All fields are optional: a record fills up as the crew works.

mod found;
mod house;
mod measured;
mod places;
mod scope;
