//! Two notebooks and what they must keep.
