//! How a node learns what others wrote to a store that they share.

use std::collections::BTreeSet;
use std::time::Duration;

use async_trait::async_trait;
use chalkwalk_core::job::{DeviceId, JobId};

use super::StoreError;

/// What other nodes did.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Heard {
    /// Jobs that have changes or files that were not there before. A job may be named again.
    pub jobs: BTreeSet<JobId>,
    /// Devices that were shut out.
    pub shut_out: BTreeSet<DeviceId>,
    /// So much may have happened that every job is to be looked at.
    pub everything: bool,
}

/// What other nodes write, from the moment at which the feed was made. Nothing is left out,
/// whatever order it was committed in and however long the store was out of reach.
#[async_trait]
pub trait Feed: Send {
    /// Waits for a hint, at most so long, and looks.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`] where the store does not answer: nothing is lost, ask again.
    async fn next(&mut self, longest: Duration) -> Result<Heard, StoreError>;
}
