//! Numbered layouts of a schema. Each is one file; a released one never changes.

use super::pool::Lease;
use crate::store::StoreError;

const LAYOUTS: &[&str] = &[
    include_str!("0001_records.sql"),
    include_str!("0002_accounts.sql"),
    include_str!("0003_held.sql"),
    include_str!("0004_list.sql"),
    include_str!("0005_papers.sql"),
    include_str!("0006_deeds.sql"),
];

/// Brings the schema up to the newest layout, one layout a transaction. Several nodes may start
/// at once: one does it, the others wait.
pub(super) async fn run(db: &Lease) -> Result<(), StoreError> {
    durable(db).await?;
    loop {
        db.begin_locked(db.lock_of(&[b"layout"])).await?;
        match step(db).await {
            Ok(done) => {
                db.commit().await?;
                if done {
                    return Ok(());
                }
            }
            Err(error) => return db.roll_back(error).await,
        }
    }
}

async fn step(db: &Lease) -> Result<bool, StoreError> {
    db.batch(
        "CREATE SCHEMA IF NOT EXISTS #;
        CREATE TABLE IF NOT EXISTS @layout (number int8 PRIMARY KEY);",
    )
    .await?;
    let row = db
        .one("SELECT coalesce(max(number), 0) FROM @layout", &[])
        .await?;
    let found: i64 = row.try_get(0).map_err(super::error::read)?;
    let known = LAYOUTS.len();
    let number = usize::try_from(found).unwrap_or(usize::MAX);
    if number > known {
        return Err(StoreError::Newer {
            found: u32::try_from(found).unwrap_or(u32::MAX),
            known: u32::try_from(known).unwrap_or(u32::MAX),
        });
    }
    let Some(layout) = LAYOUTS.get(number) else {
        return Ok(true);
    };
    db.batch(layout).await?;
    db.batch(&format!("INSERT INTO @layout VALUES ({})", number + 1))
        .await?;
    Ok(false)
}

/// What a call confirms is durable: a database that was told not to care is refused.
async fn durable(db: &Lease) -> Result<(), StoreError> {
    for (name, bad) in [
        ("synchronous_commit", "off"),
        ("fsync", "off"),
        ("full_page_writes", "off"),
    ] {
        let row = db
            .one(&format!("SELECT current_setting('{name}')"), &[])
            .await?;
        let set: String = row.try_get(0).map_err(super::error::read)?;
        if set == bad {
            return Err(StoreError::Setting(format!(
                "the database is set to {name} = {bad}, so that a crash loses what it confirmed: \
                 set it to on"
            )));
        }
    }
    Ok(())
}
