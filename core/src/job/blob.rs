//! The two files of a photo.

/// Which file of a photo.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum BlobKind {
    /// The small upright picture.
    Thumbnail,
    /// The file as the camera wrote it.
    Original,
}

/// How much of a file a replica holds on disk.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct BlobProgress {
    /// Bytes from the start that are durable.
    pub held: u64,
    /// The whole file is there, its hash was checked, and it is durable.
    pub complete: bool,
}
