//! The office server.
