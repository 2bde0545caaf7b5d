//! A file of accounts as a whole: copied, and read through.

use std::path::Path;

use rusqlite::{Connection, OpenFlags, TransactionBehavior};

use super::{BUSY, LAYOUTS, access, lay_out, layout, people};
use crate::store::{DeedsOf, StoreError, WholeFile};

/// What a file of accounts holds, each row of it read.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) struct AccountsHeld {
    pub(crate) people: u64,
    pub(crate) shares: u64,
    pub(crate) deeds: u64,
    /// Jobs that are closed, assigned or marked.
    pub(crate) jobs: u64,
}

/// A file of accounts that nothing is written to.
#[derive(Debug)]
pub(crate) struct AccountsFile(Connection);

impl AccountsFile {
    pub(crate) fn read_only(path: &Path) -> Result<Self, StoreError> {
        let file = Connection::open_with_flags(path, OpenFlags::SQLITE_OPEN_READ_ONLY)?;
        file.busy_timeout(BUSY)?;
        let (found, known) = (layout(&file)?, LAYOUTS.len() as u32);
        if found > known {
            return Err(StoreError::Newer { found, known });
        }
        if found == 0 {
            return Err(StoreError::Corrupt("a file of people without any table"));
        }
        Ok(Self(file))
    }

    /// Writes a copy of one moment to a new file; the office may go on meanwhile. Sign-ins and
    /// one-time links are left out: restored later, they would count again.
    pub(crate) fn copy_to(&self, path: &Path) -> Result<(), StoreError> {
        clear(path)?;
        let name = path
            .to_str()
            .ok_or_else(|| StoreError::Setting("the folder's name is not plain text".to_owned()))?;
        self.0.execute("VACUUM INTO ?1", [name])?;
        let copy = Connection::open_with_flags(path, OpenFlags::SQLITE_OPEN_READ_WRITE)?;
        copy.execute_batch(
            "PRAGMA synchronous = FULL; PRAGMA secure_delete = ON;
             BEGIN; DELETE FROM sign_in; DELETE FROM once; COMMIT; VACUUM;",
        )?;
        Ok(())
    }

    /// Reads every row, after SQLite's own check of the file.
    pub(crate) fn held(&mut self) -> Result<AccountsHeld, StoreError> {
        let damaged = || StoreError::Corrupt("SQLite finds the file of people damaged");
        let file = &mut self.0;
        let word: String = file.query_row("PRAGMA integrity_check(1)", [], |row| row.get(0))?;
        if word != "ok" || file.prepare("PRAGMA foreign_key_check")?.exists([])? {
            return Err(damaged());
        }
        let tx = file.transaction_with_behavior(TransactionBehavior::Deferred)?;
        let mut held = AccountsHeld {
            people: people::all(&tx)?.len() as u64,
            shares: access::count_shares(&tx)?,
            jobs: access::all(&tx)?.len() as u64,
            deeds: 0,
        };
        let mut before = None;
        loop {
            let page = access::deeds(&tx, DeedsOf::ALL, before, PAGE)?;
            let Some((last, _)) = page.last() else { break };
            before = Some(*last);
            held.deeds += page.len() as u64;
        }
        Ok(held)
    }
}

impl WholeFile {
    /// A new file of accounts with the newest layout. One that is there is replaced.
    pub(crate) fn create_accounts(path: &Path) -> Result<Self, StoreError> {
        clear(path)?;
        let mut file = Connection::open(path)?;
        file.pragma_update(None, "synchronous", "FULL")?;
        lay_out(&mut file)?;
        Ok(Self::over(file))
    }

    /// A file of accounts that nobody else writes to until this is dropped, brought up to the
    /// newest layout.
    pub(crate) fn still_accounts(path: &Path) -> Result<Self, StoreError> {
        drop(AccountsFile::read_only(path)?);
        let mut file = Connection::open_with_flags(path, OpenFlags::SQLITE_OPEN_READ_WRITE)?;
        file.busy_timeout(BUSY)?;
        lay_out(&mut file)?;
        file.execute_batch("BEGIN IMMEDIATE")?;
        Ok(Self::over(file))
    }
}

fn clear(path: &Path) -> Result<(), StoreError> {
    match std::fs::remove_file(path) {
        Err(error) if error.kind() != std::io::ErrorKind::NotFound => Err(error.into()),
        _ => Ok(()),
    }
}

/// Deeds read at once.
const PAGE: usize = 1_000;
