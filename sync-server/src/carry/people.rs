//! The accounts of a data folder: people, shared links, who sees which job, and what people did.

use std::path::Path;

use super::manifest::ACCOUNTS;
use super::{Carried, CarryError, named};
use crate::store::{AccountsFile, AccountsHeld};

/// Writes a copy of one moment of the accounts, and reads it again. `false` where the folder has
/// none.
pub(super) fn back_up(data: &Path, out: &Path, carried: &mut Carried) -> Result<bool, CarryError> {
    let source = data.join(ACCOUNTS);
    if !source.exists() {
        return Ok(false);
    }
    let part = out.join("accounts.part");
    AccountsFile::read_only(&source)?.copy_to(&part)?;
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
