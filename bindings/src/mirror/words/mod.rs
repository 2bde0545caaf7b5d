//! The words of the trade as other languages see them. Each enum repeats the core's: one that
//! differs does not compile.

mod layers;
mod measures;
mod parts;
mod places;
mod state;
mod work;
