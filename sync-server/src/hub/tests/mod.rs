//! The hub, with documents of real actions and storage in memory.

mod access;
mod crew;
mod files;
mod gate;
mod nodes;
mod pen;
mod room;
