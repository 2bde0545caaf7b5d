//! Packets as a whole.
