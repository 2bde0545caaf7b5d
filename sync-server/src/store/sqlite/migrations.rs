//! Numbered layouts. Each is one file; a released one never changes.

use rusqlite::{Connection, TransactionBehavior};

use crate::store::StoreError;

const LAYOUTS: &[&str] = &[
    include_str!("0001_records.sql"),
    include_str!("0002_held.sql"),
    include_str!("0003_list.sql"),
];

/// Refuses a file of a newer version before anything is written to it.
pub(super) fn check(connection: &Connection) -> Result<(), StoreError> {
    let found = found(connection)?;
    if found > known() {
        return Err(StoreError::Newer {
            found,
            known: known(),
        });
    }
    Ok(())
}

/// Brings the file up to the newest layout, one layout a transaction.
pub(super) fn run(connection: &mut Connection) -> Result<(), StoreError> {
    loop {
        let transaction = connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
        let number = found(&transaction)?;
        let Some(layout) = LAYOUTS.get(number as usize) else {
            return Ok(());
        };
        transaction.execute_batch(layout)?;
        transaction.pragma_update(None, "user_version", number + 1)?;
        transaction.commit()?;
    }
}

fn known() -> u32 {
    LAYOUTS.len() as u32
}

fn found(connection: &Connection) -> Result<u32, StoreError> {
    Ok(connection.pragma_query_value(None, "user_version", |row| row.get(0))?)
}
