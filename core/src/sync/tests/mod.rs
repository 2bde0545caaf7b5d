//! Tests of whole exchanges.

mod basic;

use super::testing::{MemoryReplica, Net, Office};
use crate::job::JobId;

pub(super) const JOB: JobId = JobId::from_bytes([7; 16]);

/// A network of so many devices of one office.
pub(super) fn net(devices: u8) -> Net {
    let office = Office::new(1);
    Net::new(
        (1..=devices)
            .map(|number| MemoryReplica::new(office.device(number).unwrap(), u64::from(number)))
            .collect(),
    )
}
