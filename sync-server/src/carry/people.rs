//! Accounts on their way to a backup: people, shared links, who sees which job, and what people did.

use std::path::Path;

use super::manifest::{ACCOUNTS, ACCOUNTS_PART};
use super::{Carried, CarryError, named};
use crate::store::{AccountsFile, AccountsHeld};

/// Reads again what a database gave, or writes a copy of one moment of the accounts of a folder
/// and reads that. `false` where there are none.
pub(super) fn back_up(
    data: Option<&Path>,
    out: &Path,
    carried: &mut Carried,
) -> Result<bool, CarryError> {
    let part = out.join(ACCOUNTS_PART);
    if !part.exists() {
        let source = data.map(|data| data.join(ACCOUNTS));
        let Some(source) = source.filter(|source| source.exists()) else {
            return Ok(false);
        };
        AccountsFile::read_only(&source)?.copy_to(&part)?;
    }
    count(&part, carried)?;
    std::fs::File::open(&part)
        .and_then(|file| file.sync_all())
        .map_err(named(&part))?;
    let copy = out.join(ACCOUNTS);
    std::fs::rename(&part, &copy).map_err(named(&copy))?;
    Ok(true)
}

/// Reads a file of accounts through and adds what it holds.
pub(super) fn count(file: &Path, carried: &mut Carried) -> Result<AccountsHeld, CarryError> {
    let held = AccountsFile::read_only(file)?.held()?;
    carried.accounts = true;
    carried.people = held.people;
    carried.shared_links = held.shares;
    carried.deeds = held.deeds;
    Ok(held)
}
