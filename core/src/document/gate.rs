//! What a peer sends is judged before it is kept: under limits, on a scratch copy, with the
//! signatures of its authors.

use std::collections::{BTreeMap, BTreeSet};

use automerge::{Automerge, Change, ChangeHash, ObjId, ReadDoc, legacy};
use ed25519_dalek::{Signature, Signer, SigningKey, VerifyingKey};

use super::stamps::{self, Stamps};
use super::{Author, ChangeRow, Document, Refusal, hydrate, office, shape};
use crate::contain::contained;
use crate::job::{DeviceId, Job, JobId, Kind, RecordRef, Role};
use crate::limits;

/// Up to this many changes, only what they touched is read again, however small the document.
pub(super) const FEW: usize = 64;
/// Changes admitted on a partial check before the whole document is proven again, where that is
/// not less than half of all: proving a job again and again costs a multiple of recording it once
/// at most, however long it grows.
const PROVE_EVERY: usize = 256;
/// Changes that are applied at once: more of them take more memory, and a fifth more time.
const APPLY_AT_ONCE: usize = 256;

const CHANGE_CONTEXT: &[u8] = b"chalkwalk change v1\0";
/// What a change chunk starts with: the magic bytes of the format, then a checksum, then its type.
const MAGIC: [u8; 4] = [0x85, 0x6f, 0x4a, 0x83];
const TYPE_CHANGE: u8 = 1;

/// The device's signature over the hash of a change.
pub fn sign_change(key: &SigningKey, hash: &[u8; 32]) -> [u8; 64] {
    key.sign(&signed_bytes(hash)).to_bytes()
}

/// Whether the device with this key signed the change with this hash.
pub fn check_change_signature(key: &VerifyingKey, hash: &[u8; 32], signature: &[u8; 64]) -> bool {
    key.verify_strict(&signed_bytes(hash), &Signature::from_bytes(signature))
        .is_ok()
}

fn signed_bytes(hash: &[u8; 32]) -> Vec<u8> {
    let mut bytes = CHANGE_CONTEXT.to_vec();
    bytes.extend_from_slice(hash);
    bytes
}

/// Reads the author, number and hash of a change chunk, under limits. The change is not applied.
pub fn parse_change(bytes: &[u8]) -> Result<ChangeRow, Refusal> {
    contained(|| parse(bytes).map(|(row, _)| row)).map_err(|_| cannot_be_read())?
}

fn cannot_be_read() -> Refusal {
    Refusal::Malformed("a change that cannot be read".to_owned())
}

fn parse(bytes: &[u8]) -> Result<(ChangeRow, Change), Refusal> {
    if bytes.len() > limits::CHANGE_BYTES {
        return Err(Refusal::Limit(format!(
            "a change of more than {} bytes",
            limits::CHANGE_BYTES
        )));
    }
    let magic = bytes.get(..4) == Some(&MAGIC);
    if !magic || bytes.get(8) != Some(&TYPE_CHANGE) {
        return Err(Refusal::Malformed("not an uncompressed change".to_owned()));
    }
    let change = Change::from_bytes(bytes.to_vec())
        .map_err(|error| Refusal::Malformed(error.to_string()))?;
    // The header's checksum is the start of the hash; the hash itself is of what follows it.
    if bytes.get(4..8) != change.hash().0.get(..4) {
        return Err(Refusal::Malformed(
            "a checksum that does not match".to_owned(),
        ));
    }
    if change.len() > limits::CHANGE_OPS {
        return Err(Refusal::Limit(format!(
            "more than {} operations",
            limits::CHANGE_OPS
        )));
    }
    let author = Author::from_bytes(change.actor_id().to_bytes())
        .filter(|author| author.device != DeviceId::GENESIS)
        .ok_or_else(|| Refusal::Malformed("an author that is no device".to_owned()))?;
    let row = ChangeRow {
        author,
        number: change.seq(),
        hash: change.hash().0,
        bytes: change.raw_bytes().to_vec(),
        signature: None,
    };
    Ok((row, change))
}

/// A batch that passed the gate: the document with it, and what is to be made durable.
#[derive(Debug)]
pub struct Admitted {
    /// The document with the batch applied.
    pub document: Document,
    /// The changes that are new, in causal order.
    pub rows: Vec<ChangeRow>,
    /// The records they touched; empty where there were too many to tell.
    pub touched: Vec<RecordRef>,
}

/// What a batch is judged by.
#[derive(Clone, Copy, Debug)]
pub struct Gate<'a> {
    /// The key of each device whose certificate the caller accepts for this job.
    pub keys: &'a BTreeMap<DeviceId, VerifyingKey>,
    /// What devices are in the company; one that is not named is not limited.
    pub roles: &'a BTreeMap<DeviceId, Role>,
    /// The job that the changes must be of; `None` for whichever they name.
    pub job: Option<JobId>,
    /// Also sees that what is made of the document reads back; for who was told so by another
    /// judge, that is left out.
    pub whole: bool,
}

static NOBODY: BTreeMap<DeviceId, Role> = BTreeMap::new();

impl<'a> Gate<'a> {
    /// The whole gate for one job, whose authors are limited by what they are.
    pub fn of_job(
        job: JobId,
        keys: &'a BTreeMap<DeviceId, VerifyingKey>,
        roles: &'a BTreeMap<DeviceId, Role>,
    ) -> Self {
        Self {
            keys,
            roles,
            job: Some(job),
            whole: true,
        }
    }

    /// The whole gate for whatever job these devices write, none of them limited.
    pub fn of_keys(keys: &'a BTreeMap<DeviceId, VerifyingKey>) -> Self {
        Self {
            keys,
            roles: &NOBODY,
            job: None,
            whole: true,
        }
    }
}

/// A document with a batch applied, before anybody took it.
struct Next {
    doc: Automerge,
    stamps: Stamps,
    /// The whole job, where it was read anew.
    job: Option<Job>,
    touched: Vec<RecordRef>,
}

impl Document {
    /// Judges a batch of a peer. The document itself is left as it is; the caller makes the rows
    /// durable and only then takes the admitted document.
    ///
    /// # Errors
    /// What the gate has against the batch.
    pub fn admit(&self, batch: &[ChangeRow], gate: &Gate<'_>) -> Result<Admitted, Refusal> {
        self.clone()
            .admit_into(batch, gate)
            .map_err(|(_, refusal)| refusal)
    }

    /// As [`Document::admit`], without a copy of all its structs: the document is taken, and comes
    /// back as it was where the batch is refused. A caller that cannot make the rows durable reads
    /// the document anew.
    ///
    /// # Errors
    /// The document as it was, and the refusal.
    pub fn admit_into(
        mut self,
        batch: &[ChangeRow],
        gate: &Gate<'_>,
    ) -> Result<Admitted, (Box<Self>, Refusal)> {
        match self.take_in(batch, gate) {
            Ok((rows, touched)) => Ok(Admitted {
                document: self,
                rows,
                touched,
            }),
            Err(refusal) => Err((Box::new(self), refusal)),
        }
    }

    fn take_in(
        &mut self,
        batch: &[ChangeRow],
        gate: &Gate<'_>,
    ) -> Result<(Vec<ChangeRow>, Vec<RecordRef>), Refusal> {
        if batch.len() > limits::BATCH_CHANGES {
            return Err(Refusal::Limit(format!(
                "more than {} changes",
                limits::BATCH_CHANGES
            )));
        }
        let (rows, changes) =
            contained(|| self.sort_out(batch)).map_err(|_| cannot_be_read())??;
        check_signatures(&rows, &changes, gate.keys)?;
        let unproven = self.unproven + rows.len();
        let total = usize::try_from(self.changes()).unwrap_or(usize::MAX) + rows.len();
        let many = rows.len() > FEW && rows.len() > total / 4;
        let due = many || unproven > PROVE_EVERY.max(total / 2);
        let prove = gate.whole && due;
        let next = contained(|| self.next(&rows, changes, gate, (many, prove)))
            .map_err(|_| contradicts())??;
        let doc = std::mem::replace(&mut self.doc, next.doc);
        let stamps = std::mem::replace(&mut self.stamps, next.stamps);
        if let Some(job) = next.job {
            self.job = job;
        } else if contained(|| self.catch_up_on(&next.touched)).is_err() {
            (self.doc, self.stamps) = (doc, stamps);
            let before = hydrate::hydrate(&self.doc, &self.collections, &self.stamps);
            // Half changed: not even to be dropped.
            std::mem::forget(std::mem::replace(&mut self.job, before));
            return Err(contradicts());
        }
        self.unproven = if prove { 0 } else { unproven };
        Ok((rows, next.touched))
    }

    /// Applies changes to a copy, and judges what comes of it. Where they are many the job is read
    /// anew, and where it is to be proven the whole document is.
    fn next(
        &self,
        rows: &[ChangeRow],
        changes: Vec<Change>,
        gate: &Gate<'_>,
        (many, prove): (bool, bool),
    ) -> Result<Next, Refusal> {
        let decoded: Vec<_> = changes.iter().map(Change::decode).collect();
        shape::check(&self.doc, &self.collections, &decoded)?;
        let (mut doc, mut stamps) = (self.doc.clone(), self.stamps.clone());
        for change in &changes {
            stamps.add(change);
        }
        let mut coming = changes.into_iter();
        loop {
            let part: Vec<Change> = coming.by_ref().take(APPLY_AT_ONCE).collect();
            if part.is_empty() {
                break;
            }
            doc.apply_changes(part)
                .map_err(|error| Refusal::Malformed(error.to_string()))?;
        }
        for row in rows {
            if stamps.number_of(row.author) < row.number {
                return Err(Refusal::Gap);
            }
        }
        let id = hydrate::job_id(&doc);
        if gate.job.is_some_and(|job| id.is_some_and(|id| id != job)) {
            let words = "the changes are of another job".to_owned();
            return Err(Refusal::Malformed(words));
        }
        office::check_decoded(&doc, &self.collections, &decoded, gate.roles)?;
        let next = Next {
            touched: if many {
                Vec::new()
            } else {
                touched(&doc, &decoded)
            },
            job: (many || prove).then(|| hydrate::hydrate(&doc, &self.collections, &stamps)),
            doc,
            stamps,
        };
        match &next.job {
            Some(job) if prove => proven(&next.doc, job)?,
            _ if gate.whole => gives_back(&next.doc, &self.doc.get_heads(), rows)?,
            _ => {}
        }
        Ok(next)
    }

    /// Parses the batch, leaves out what is held, and sees that nothing is missing before it.
    fn sort_out(&self, batch: &[ChangeRow]) -> Result<(Vec<ChangeRow>, Vec<Change>), Refusal> {
        let mut rows = Vec::with_capacity(batch.len());
        let mut changes = Vec::with_capacity(batch.len());
        // Each change that comes with its last operation.
        let mut coming: BTreeMap<[u8; 32], u64> = BTreeMap::new();
        let mut numbers: BTreeMap<Author, u64> = BTreeMap::new();
        for given in batch {
            let (mut row, change) = parse(&given.bytes)?;
            row.signature = given.signature;
            let held = numbers
                .get(&row.author)
                .copied()
                .unwrap_or_else(|| self.stamps.number_of(row.author));
            if row.number <= held {
                let known = coming.contains_key(&row.hash) || self.holds(&row.hash);
                if known {
                    continue;
                }
                let (device, number) = (row.author.device, row.number);
                return Err(Refusal::Forked { device, number });
            }
            if row.number != held + 1 {
                return Err(Refusal::Gap);
            }
            let mut below = 0;
            for dep in change.deps() {
                let last = coming.get(&dep.0).copied().or_else(|| self.last_op(dep));
                below = below.max(last.ok_or(Refusal::Gap)?);
            }
            check_operations(&change, below)?;
            coming.insert(row.hash, change.max_op());
            numbers.insert(row.author, row.number);
            rows.push(row);
            changes.push(change);
        }
        if self.changes() + rows.len() as u64 > limits::JOB_CHANGES {
            return Err(Refusal::Limit(format!(
                "a job of more than {} changes",
                limits::JOB_CHANGES
            )));
        }
        Ok((rows, changes))
    }

    pub(super) fn holds(&self, hash: &[u8; 32]) -> bool {
        self.doc
            .get_change_meta_by_hash(&ChangeHash(*hash))
            .is_some()
    }

    /// The number of a change's last operation; `None` where the change is not held.
    fn last_op(&self, change: &ChangeHash) -> Option<u64> {
        Some(self.doc.get_change_meta_by_hash(change)?.max_op)
    }
}

fn contradicts() -> Refusal {
    Refusal::Malformed("the changes contradict the document".to_owned())
}

/// Sees that a document gives back the changes that came since, to the byte: what it would save is
/// then what it was given.
fn gives_back(doc: &Automerge, since: &[ChangeHash], rows: &[ChangeRow]) -> Result<(), Refusal> {
    let back: BTreeMap<[u8; 32], Change> = doc
        .get_changes(since)
        .into_iter()
        .map(|change| (change.hash().0, change))
        .collect();
    let same = |row: &ChangeRow| {
        back.get(&row.hash)
            .is_some_and(|change| change.raw_bytes() == row.bytes)
    };
    if rows.iter().all(same) {
        Ok(())
    } else {
        Err(Refusal::Malformed(
            "a change that the document does not give back".to_owned(),
        ))
    }
}

/// Saves, reloads and reads a whole document, and compares.
fn proven(doc: &Automerge, job: &Job) -> Result<(), Refusal> {
    let again = Automerge::load(&doc.save_nocompress())
        .map_err(|error| Refusal::Malformed(error.to_string()))?;
    if again.get_heads() != doc.get_heads() {
        return Err(Refusal::Malformed(
            "the document does not read back".to_owned(),
        ));
    }
    if Document::around(again).job == *job {
        Ok(())
    } else {
        Err(Refusal::Malformed(
            "the document reads back differently".to_owned(),
        ))
    }
}

/// A change does something, builds on what came before it, and numbers its operations from the
/// last of those on. A document holds other ones in memory, and does not read back from the disk.
fn check_operations(change: &Change, below: u64) -> Result<(), Refusal> {
    let refuse = |words: &str| Err(Refusal::Malformed(words.to_owned()));
    if change.deps().is_empty() {
        return refuse("a change that builds on nothing");
    }
    if change.is_empty() {
        return refuse("a change that does nothing");
    }
    if change.start_op().get() != below + 1 {
        return refuse("operations that are out of number");
    }
    Ok(())
}

/// Each change must be vouched for by its own author: the author's signature stands on it or on a
/// later change of the same author in the batch that builds on it.
fn check_signatures(
    rows: &[ChangeRow],
    changes: &[Change],
    keys: &BTreeMap<DeviceId, VerifyingKey>,
) -> Result<(), Refusal> {
    let mut last: BTreeMap<Author, usize> = BTreeMap::new();
    for (i, row) in rows.iter().enumerate() {
        last.insert(row.author, i);
    }
    let by_hash: BTreeMap<[u8; 32], usize> = rows
        .iter()
        .enumerate()
        .map(|(i, row)| (row.hash, i))
        .collect();
    for (author, end) in last {
        let device = author.device;
        let key = keys
            .get(&device)
            .ok_or_else(|| Refusal::Unsigned(format!("no certificate for device {device}")))?;
        let signature = rows[end]
            .signature
            .ok_or_else(|| Refusal::Unsigned(format!("the last change of {device} bears none")))?;
        if !check_change_signature(key, &rows[end].hash, &signature) {
            return Err(Refusal::Unsigned(format!(
                "the signature of {device} is of another"
            )));
        }
        let vouched = ancestors(end, changes, &by_hash);
        let stray = rows
            .iter()
            .enumerate()
            .find(|(i, r)| r.author == author && !vouched[*i]);
        if let Some((_, row)) = stray {
            return Err(Refusal::Unsigned(format!(
                "change {} of {device}",
                row.number
            )));
        }
    }
    Ok(())
}

fn ancestors(end: usize, changes: &[Change], by_hash: &BTreeMap<[u8; 32], usize>) -> Vec<bool> {
    let mut reached = vec![false; changes.len()];
    let mut open = vec![end];
    while let Some(i) = open.pop() {
        if std::mem::replace(&mut reached[i], true) {
            continue;
        }
        open.extend(
            changes[i]
                .deps()
                .iter()
                .filter_map(|dep| by_hash.get(&dep.0).copied()),
        );
    }
    reached
}

/// The records that changes touch, told from their operations: patches leave out a statement
/// that loses to another.
pub(super) fn touched(doc: &Automerge, changes: &[automerge::ExpandedChange]) -> Vec<RecordRef> {
    let mut found = BTreeSet::new();
    // Operations on one object come one after another.
    let mut last = (None, Vec::new());
    for op in changes.iter().flat_map(|change| &change.operations) {
        let legacy::ObjectId::Id(id) = &op.obj else {
            continue;
        };
        if last.0 != Some(id) {
            let object = ObjId::Id(id.counter(), id.actor().clone(), 0);
            let parents = doc.parents(&object).into_iter().flatten();
            let path: Vec<String> = parents.map(|parent| parent.prop.to_string()).collect();
            last = (Some(id), path);
        }
        let path = &last.1;
        let (collection, record) = match (path.as_slice(), &op.key) {
            ([record, collection], _) => (collection.clone(), record.clone()),
            ([collection], legacy::Key::Map(record)) => (collection.clone(), record.to_string()),
            _ => continue,
        };
        if let (Some(kind), Ok(id)) = (Kind::from_collection(&collection), record.parse()) {
            found.insert(RecordRef::new(kind, id));
        }
    }
    found.into_iter().collect()
}

/// The first eight bytes of a hash, as tables carry them.
pub fn short_hash(hash: &[u8; 32]) -> [u8; 8] {
    stamps::short(hash)
}
