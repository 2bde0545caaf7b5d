//! Who recorded what, when, on which device, with the signatures that are held here.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::PoisonError;

use chalkwalk_core::document::{
    Author, ChangeRow, Deed, Document, Held, Refusal, Table, check_change_signature, short_hash,
};
use chalkwalk_core::job::{Certificate, DeviceId, Job, JobId, unhex};
use chalkwalk_core::limits;
use chalkwalk_core::packet::{Custody, CustodyEntry};

use super::Hub;
use crate::store::here::wait_for;

/// A job with its history, as packets and the page of custody are made from it.
pub(crate) struct InCustody {
    /// The record.
    pub(crate) job: Job,
    /// The document as other readers of its format expect it.
    pub(crate) document: Vec<u8>,
    /// Who recorded what, in causal order.
    pub(crate) custody: Custody,
    /// By whose word each entry stands, in the order of the custody's entries.
    pub(crate) vouched: Vec<Vouched>,
    /// The devices that wrote, with what the office says of them.
    pub(crate) devices: BTreeMap<DeviceId, Option<Certificate>>,
}

/// By whose word an entry stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Vouched {
    /// The device's own signature over it, checked.
    Signed,
    /// A later change of the same author is signed, and its hash holds this one.
    ByLater,
    /// No signature that is held here holds it.
    Nobody,
    /// The signature does not match the device's key.
    Wrong,
}

impl Hub {
    /// The job with its custody, every signature checked against the device's certificate, and
    /// that against the office's key. `None` where nothing is held of it.
    pub(crate) async fn in_custody(&self, job: JobId) -> Result<Option<InCustody>, Refusal> {
        if self.records().job(job).await?.is_none() {
            return Ok(None);
        }
        let (hub, runtime) = (self.clone(), tokio::runtime::Handle::current());
        let work = move || {
            let (read, document, deeds) = {
                let desk = hub.0.desks.of(job);
                let mut desk = desk.lock().unwrap_or_else(PoisonError::into_inner);
                let document: Document = wait_for(&runtime, hub.take_document(&mut desk, job))?;
                let read = (
                    document.job().clone(),
                    document.export(),
                    document.history(),
                );
                *desk = Some(document);
                read
            };
            let mut signed = Signed::default();
            let mut table = Table::new();
            loop {
                let batch = hub.records().lacking(job, &table, limits::BATCH_BYTES);
                let rows = wait_for(&runtime, batch)?;
                if rows.is_empty() {
                    break;
                }
                signed.take(&rows, &mut table);
            }
            let ids: BTreeSet<DeviceId> = deeds.iter().map(|deed| deed.by.device).collect();
            let ids: Vec<DeviceId> = ids.into_iter().collect();
            let certificates = wait_for(&runtime, hub.records().certificates(&ids))?;
            let mut devices: BTreeMap<DeviceId, Option<Certificate>> =
                ids.into_iter().map(|id| (id, None)).collect();
            for certificate in &certificates {
                if let Ok(known) = hub.office().verify(certificate) {
                    devices.insert(known.device, Some(known));
                }
            }
            let vouched = deeds
                .iter()
                .map(|deed| signed.vouched(deed, &devices))
                .collect();
            let entries = deeds.into_iter().map(|deed| {
                let signature =
                    hash_of(&deed).and_then(|hash| signed.signatures.get(&hash).copied());
                CustodyEntry { deed, signature }
            });
            Ok(Some(InCustody {
                job: read,
                document,
                custody: Custody {
                    entries: entries.collect(),
                    certificates,
                },
                vouched,
                devices,
            }))
        };
        let done = tokio::task::spawn_blocking(work).await;
        done.map_err(|error| Refusal::Storage(error.to_string()))?
    }
}

fn hash_of(deed: &Deed) -> Option<[u8; 32]> {
    unhex(&deed.change)?.try_into().ok()
}

/// What signatures are held, and which changes they hold.
#[derive(Default)]
struct Signed {
    signatures: BTreeMap<[u8; 32], [u8; 64]>,
    /// Author and number of each change.
    written: BTreeMap<[u8; 32], (Author, u64)>,
    /// Numbers of each author's signed changes, with their hashes.
    by_author: BTreeMap<Author, BTreeMap<u64, [u8; 32]>>,
}

impl Signed {
    fn take(&mut self, rows: &[ChangeRow], table: &mut Table) {
        for row in rows {
            self.written.insert(row.hash, (row.author, row.number));
            if let Some(signature) = row.signature {
                self.signatures.insert(row.hash, signature);
                let of_author = self.by_author.entry(row.author).or_default();
                of_author.insert(row.number, row.hash);
            }
            let held = Held {
                number: row.number,
                short_hash: short_hash(&row.hash),
            };
            table.insert(row.author, held);
        }
    }

    fn vouched(&self, deed: &Deed, devices: &BTreeMap<DeviceId, Option<Certificate>>) -> Vouched {
        let hash = hash_of(deed);
        let Some(hash) = hash.filter(|hash| self.written.contains_key(hash)) else {
            return Vouched::Nobody;
        };
        let good = |hash: &[u8; 32]| {
            let certificate = devices.get(&deed.by.device)?.as_ref()?;
            let key = certificate.verifying_key().ok()?;
            let signature = self.signatures.get(hash)?;
            Some(check_change_signature(&key, hash, signature))
        };
        if self.signatures.contains_key(&hash) {
            return match good(&hash) {
                Some(true) => Vouched::Signed,
                Some(false) => Vouched::Wrong,
                None => Vouched::Nobody,
            };
        }
        let later = self.written.get(&hash).and_then(|(author, number)| {
            let of_author = self.by_author.get(author)?;
            of_author.range(number..).next().map(|(_, hash)| *hash)
        });
        match later.and_then(|later| good(&later)) {
            Some(true) => Vouched::ByLater,
            Some(false) => Vouched::Wrong,
            None => Vouched::Nobody,
        }
    }
}
