//! The seal: whose it is, and that the manifests are those it was set on.

use std::fs::File;
use std::io::Read;
use std::path::Path;

use ed25519_dalek::VerifyingKey;

use super::super::bag::Sums;
use super::super::seal::{Held, SEAL, SEAL_KEY, SEAL_SIGNATURE, pem, read, vouched};
use super::Report;
use super::structure::text;
use crate::job::hex;

const TAG_MANIFEST: &str = "tagmanifest-sha256.txt";
/// An Ed25519 signature, and one byte to tell that there is more.
const SIGNATURE: u64 = 65;

/// Checks the seal; the answer is what it says of the document.
pub(super) fn check(
    folder: &Path,
    office: Option<&VerifyingKey>,
    report: &mut Report,
    sums: &std::collections::BTreeMap<String, Sums>,
) -> Option<Held> {
    // A file that is missing is named already.
    let said = text(folder, SEAL).ok()?;
    let mut signature = Vec::new();
    let file = File::open(folder.join(SEAL_SIGNATURE)).ok()?;
    file.take(SIGNATURE).read_to_end(&mut signature).ok()?;
    let seal = match read(&said, &signature) {
        Ok(seal) => seal,
        Err(reason) => {
            report.fail(SEAL, reason);
            return None;
        }
    };
    if text(folder, SEAL_KEY).is_ok_and(|said| said != pem(&seal.key)) {
        report.fail(
            SEAL_KEY,
            "was altered: it is not the key that seal.txt names",
        );
    }
    match office.map(|office| vouched(&seal, office)) {
        Some(Ok(())) => report.sealed = true,
        Some(Err(reason)) => report.fail(SEAL, reason),
        None => report.notes.push(
            "The seal is good for the key it names, and nobody vouches for that key.".to_owned(),
        ),
    }
    match sums.get(TAG_MANIFEST) {
        Some(is) if is.sha256 != seal.manifest => report.fail(
            TAG_MANIFEST,
            format!(
                "was written anew after the bag was sealed: something was taken out, added or \
                 changed (seal.txt says {}, it is {})",
                short(&seal.manifest),
                short(&is.sha256)
            ),
        ),
        _ => {}
    }
    seal.held
}

fn short(sum: &[u8; 32]) -> String {
    hex(sum).chars().take(12).collect()
}
