//! The chalkwalk command.
fn main() {}
