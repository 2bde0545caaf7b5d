//! A job's read model as bytes, each record's fields by key as the document has them.
//!
//! One form serves every kind of record: forms of their own would be the most of a phone's library.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use crate::job::{
    Conflict, CrewMember, DeviceId, FieldRead, Fields, Job, JobId, Kind, KindVisitor, Record,
    RecordId, RecordRef, Records, Scalar, ScalarRef, Stamp, Struck,
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
            rows.push(Written(
                id, made, struck, tally, shows, conflicts, unread, kept,
            ));
        });
        kinds.push((*kind, rows));
    }
    rmp_serde::to_vec(&(job.id, job.schema, &job.crew, kinds))
}

/// The read model of these bytes; `None` where they are not one, or of another version.
pub(super) fn read(bytes: &[u8]) -> Option<Job> {
    let (id, schema, crew, kinds): Kept<'_> = rmp_serde::from_slice(bytes).ok()?;
    let mut records = Records::default();
    for (kind, rows) in kinds {
        let mut filled = Filled { rows, whole: true };
        records.with_kind(kind, &mut filled);
        if !filled.whole {
            return None;
        }
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
    Vec<(Kind, Vec<Row<'a>>)>,
);

/// A record to be written.
#[derive(Serialize)]
struct Written<'a>(
    &'a RecordId,
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
    RecordId,
    Stamp,
    Option<Struck>,
    Tally,
    Vec<RecordRef>,
    Vec<Conflict>,
    Vec<String>,
    #[serde(borrow)] Vec<(&'a str, ScalarRef<'a>)>,
);

impl Row<'_> {
    /// The record without its fields, which are given to `take`; `None` where one is not taken.
    fn open(
        self,
        take: &mut dyn FnMut(&str, ScalarRef<'_>) -> FieldRead,
    ) -> Option<(RecordId, Record<()>)> {
        let Self(id, made, struck, tally, shows, conflicts, unread, kept) = self;
        for (key, value) in kept {
            if take(key, value) != FieldRead::Taken {
                return None;
            }
        }
        let fields = ();
        let record = Record {
            made,
            struck,
            tally,
            shows,
            conflicts,
            unread,
            fields,
        };
        Some((id, record))
    }
}

struct Filled<'a> {
    rows: Vec<Row<'a>>,
    whole: bool,
}

impl KindVisitor for Filled<'_> {
    fn visit<F: Fields>(&mut self, _: Kind, records: &mut BTreeMap<RecordId, Record<F>>) {
        for row in std::mem::take(&mut self.rows) {
            let mut fields = F::default();
            match row.open(&mut |key, value| fields.read(key, value)) {
                Some((id, record)) => {
                    records.insert(id, record.with(fields));
                }
                None => self.whole = false,
            }
        }
    }
}
