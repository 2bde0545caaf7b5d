//! Crews, an office and a bad network, from one seed.
//!
//! The notebooks, the journal, the gate, the sessions and the office's hub are the real ones, on
//! real files; people, time, links and power are simulated. Two to six devices record in one to
//! three jobs. Frames are lost, repeated, swapped, damaged and delayed, links are cut, devices and
//! office nodes lose power in mid write, disks are full, clocks jump, old copies are restored, and
//! one peer of the same office is hostile. [`model`] says what must be there whatever happens.
//!
//! The same seed plays the same story, but for ids that the office's own random source makes.

mod clock;
mod device;
mod disk;
mod hostile;
mod link;
mod model;
mod office;
mod story;
mod world;

pub use story::{Failure, Tally, run};
