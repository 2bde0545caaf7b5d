//! A job's read model as bytes, each record's fields by key as the document has them.
//!
//! One form serves every kind of record: forms of their own would be the most of a phone's library.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use crate::job::{
    Conflict, CrewMember, DeviceId, FieldRead, Job, JobId, Kind, Record, RecordId, RecordRef,
    Records, Scalar, ScalarRef, Stamp, Struck, TakeField,
};

/// The bytes of a read model.
pub(super) fn write(job: &Job) -> Result<Vec<u8>, rmp_serde::encode::Error> {
    let mut kinds = Vec::new();
    for kind in Kind::ALL {
        let mut rows = Vec::new();
        job.records.each_of(*kind, &mut |id, header, fields| {
            let mut kept = Vec::new();
            fields.each_field(&mut |key, value| kept.push((key, value)));
            let (made, struck, tally) = (header.made, header.struck, header.tally);
            let (shows, conflicts, unread) = (header.shows, header.conflicts, header.unread);
            let row = Written(made, struck, tally, shows, conflicts, unread, kept);
            rows.push((id, row));
        });
        kinds.push((*kind, rows));
    }
    rmp_serde::to_vec(&(job.id, job.schema, &job.crew, kinds))
}

/// The read model of these bytes; `None` where they are not one, or of another version.
pub(super) fn read(bytes: &[u8]) -> Option<Job> {
    let (id, schema, crew, kinds): Kept<'_> = rmp_serde::from_slice(bytes).ok()?;
    let mut records = Records::default();
    let mut whole = true;
    for (kind, rows) in kinds {
        let list = records.list_mut(kind);
        for (id, mut row) in rows {
            list.put(id, &mut |take| row.open(take, &mut whole));
        }
    }
    if !whole {
        return None;
    }
    Some(Job {
        id,
        schema,
        crew,
        records,
    })
}

type Tally = BTreeMap<DeviceId, u32>;
type Kept<'a> = (
    Option<JobId>,
    u32,
    BTreeMap<DeviceId, CrewMember>,
    Vec<(Kind, Vec<(RecordId, Row<'a>)>)>,
);

/// A record to be written.
#[derive(Serialize)]
struct Written<'a>(
    Stamp,
    Option<&'a Struck>,
    &'a Tally,
    &'a [RecordRef],
    &'a [Conflict],
    &'a [String],
    Vec<(&'static str, Scalar)>,
);

/// A record as it was written.
#[derive(Deserialize)]
struct Row<'a>(
    Stamp,
    Option<Struck>,
    Tally,
    Vec<RecordRef>,
    Vec<Conflict>,
    Vec<String>,
    #[serde(borrow)] Vec<(&'a str, ScalarRef<'a>)>,
);

impl Row<'_> {
    /// The record without its fields, which are given to `take`; they are whole where it takes
    /// them all.
    fn open(&mut self, take: TakeField<'_>, whole: &mut bool) -> Record<()> {
        for (key, value) in &self.6 {
            *whole &= take(key, *value) == FieldRead::Taken;
        }
        Record {
            made: self.0,
            struck: self.1.take(),
            tally: std::mem::take(&mut self.2),
            shows: std::mem::take(&mut self.3),
            conflicts: std::mem::take(&mut self.4),
            unread: std::mem::take(&mut self.5),
            fields: (),
        }
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::review::random_jobs::random_job;

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(64))]

        #[test]
        fn every_kind_of_record_reads_back(seed in prop::collection::vec(any::<u32>(), 1..400)) {
            let job = random_job(&seed);
            prop_assert_eq!(read(&write(&job).unwrap()), Some(job));
        }

        #[test]
        fn bytes_that_are_no_model_are_none_or_a_job(bytes in prop::collection::vec(any::<u8>(), 0..200)) {
            let _ = read(&bytes);
        }
    }

    #[test]
    fn a_model_of_another_version_is_none() {
        let job = random_job(&[3, 1, 4, 1, 5]);
        assert_eq!(read(&rmp_serde::to_vec_named(&job).unwrap()), None);
        let bytes = write(&job).unwrap();
        assert_eq!(read(&bytes[..bytes.len() - 1]), None);
    }
}
