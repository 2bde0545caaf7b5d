//! draft
