//! Packets as a whole: what they hold, what they hide, and that every tampering is named.

mod canary;
mod contents;
mod site;
mod tampering;
