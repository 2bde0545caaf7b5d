//! Tests of whole exchanges.

mod basic;
mod bundle;
mod converge;
mod cost;
mod hostile;
mod limits;
mod photos;
mod vectors;
mod victim;
mod wire;

use super::testing::{Link, MemoryReplica, Net, Office};
use super::{Event, Reason};
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

/// Both sides of a link settled and said goodbye.
pub(super) fn finished(link: &Link) {
    for (end, events) in link.events.iter().enumerate() {
        assert_eq!(
            ended(link, end),
            Some(Reason::Finished),
            "end {end}: {events:?}"
        );
        assert!(events.contains(&Event::Settled), "end {end} did not settle");
    }
}

/// Why a side ended.
pub(super) fn ended(link: &Link, end: usize) -> Option<Reason> {
    link.events[end].iter().find_map(|event| match event {
        Event::Ended(ending) => Some(ending.reason),
        _ => None,
    })
}
