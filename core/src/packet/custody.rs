//! Who recorded what, when, on which device: what the documents of both packets say of it.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::Selection;
use super::when::utc;
use crate::document::Deed;
use crate::job::{DeviceId, Job, SignedCertificate, hex};
use crate::sorted::Keyed;

/// One thing a person did, with the signature of the device it was done on.
#[derive(Clone, Debug, PartialEq)]
pub struct CustodyEntry {
    /// What was done.
    pub deed: Deed,
    /// The device's signature over the change; `None` where a later change of the same author
    /// carries it, because that change's hash covers this one.
    pub signature: Option<[u8; 64]>,
}

/// Who recorded what, when, on which device.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Custody {
    /// In causal order.
    pub entries: Vec<CustodyEntry>,
    /// The office's certificates of the devices, as far as they are known.
    pub certificates: Vec<SignedCertificate>,
}

/// A certificate as a packet carries it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct CertificateFile {
    /// The signed bytes, hexadecimal.
    pub(super) body: String,
    /// The office's signature, hexadecimal.
    pub(super) signature: String,
    /// The same for reading.
    pub(super) device: String,
    pub(super) person: String,
    pub(super) device_name: String,
}

/// One line of custody as a packet carries it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct CustodyLine {
    /// When, by the device's clock.
    pub(super) at: String,
    /// The device.
    pub(super) device: String,
    /// Its person.
    pub(super) person: String,
    /// The record.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) record: Option<String>,
    /// What was done; in the archive only, since words may name what stays in the office.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) what: Option<String>,
    /// Number among the changes of its author.
    pub(super) number: u64,
    /// Hash of the change.
    pub(super) change: String,
    /// The device's signature over the change, where it carries one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) signature: Option<String>,
}

/// `custody.json`.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct CustodyFile {
    /// The key of the office, hexadecimal, as the office states it.
    pub(super) office_key: Option<String>,
    pub(super) certificates: Vec<CertificateFile>,
    pub(super) entries: Vec<CustodyLine>,
}

/// The certificates that can be read, by device.
pub(super) fn certificates(custody: &Custody) -> BTreeMap<DeviceId, CertificateFile> {
    custody
        .certificates
        .iter()
        .filter_map(|signed| {
            let certificate: crate::job::Certificate = rmp_serde::from_slice(&signed.body).ok()?;
            let file = CertificateFile {
                body: hex(&signed.body),
                signature: hex(&signed.signature),
                device: certificate.device.to_string(),
                person: certificate.person,
                device_name: certificate.device_name,
            };
            Some((certificate.device, file))
        })
        .keyed()
}

/// What `custody.json` of a packet says: the archive all of it, the shared one the entries of
/// records that are shown, without words.
pub(super) fn custody_file(
    job: &Job,
    custody: &Custody,
    selection: &Selection<'_>,
    office_key: Option<String>,
) -> CustodyFile {
    let office = selection.for_office();
    let entries: Vec<&CustodyEntry> = custody
        .entries
        .iter()
        .filter(|entry| {
            office
                || entry
                    .deed
                    .at
                    .as_ref()
                    .is_some_and(|at| selection.shows_record(at))
        })
        .collect();
    let mut known = certificates(custody);
    if !office {
        let used = selection.devices();
        known.retain(|device, _| {
            used.contains(device) || entries.iter().any(|entry| entry.deed.by.device == *device)
        });
    }
    CustodyFile {
        office_key,
        certificates: known.into_values().collect(),
        entries: entries
            .into_iter()
            .map(|entry| CustodyLine {
                at: utc(entry.deed.by.at),
                device: entry.deed.by.device.to_string(),
                person: job.who(entry.deed.by.device),
                record: entry.deed.at.as_ref().map(ToString::to_string),
                what: office.then(|| entry.deed.what.clone()),
                number: entry.deed.number,
                change: entry.deed.change.clone(),
                signature: entry.signature.map(|signature| hex(&signature)),
            })
            .collect(),
    }
}
