//! From the folder to a database and a bucket.

use std::path::Path;
use std::sync::Arc;

use serde_json::json;

use super::check::{self, Check};
use super::files::Road;
use super::manifest::ACCOUNTS;
use super::{Carried, CarryError, Progress, named, people};
use crate::serve::companies;
use crate::storage::{BlobsAt, RecordsAt, Storage};
use crate::store::tables::{CHANGE, Row, Sum, TABLES, Table, as_bytes, as_number};
use crate::store::{Entry, PostgresRecords, StoreError, WholeFile};
use crate::{env, folder};

/// Moves the office of a data folder to another storage. The server must be stopped. What is in
/// the folder stays, as it was; a note beside it keeps a server from going on with it. The accounts
/// are not copied: people go on in the folder, and are only read through. Further companies of the
/// folder are moved first, each to its own part of the storage ([`Storage::of_company`]).
///
/// A move that was cut short goes on when it is run again.
///
/// # Errors
/// [`CarryError`]: until the move is done, the office is where it was.
pub async fn move_to(
    data: &Path,
    to: &Storage,
    progress: Progress<'_>,
) -> Result<Carried, CarryError> {
    let _lock = match data.join("records.sqlite").exists() {
        true => folder::Lock::take(data)?,
        false => return Err(nothing(data)),
    };
    folder::still_here(data)?;
    let mut all = Carried::default();
    for slug in companies::list(data)? {
        let company = folder::company(data, &slug);
        if company.join("records.sqlite").exists() && !folder::moved(&company).exists() {
            let moved = one(&company, &to.of_company(&slug)?, progress).await?;
            all.add(&moved);
        }
    }
    let moved = one(data, to, progress).await?;
    all.add(&moved);
    all.keys = moved.keys;
    Ok(all)
}

fn nothing(data: &Path) -> CarryError {
    CarryError::Nothing {
        path: data.to_owned(),
        words: "holds no office",
    }
}

/// Moves the office of one folder that no server runs on.
async fn one(data: &Path, to: &Storage, progress: Progress<'_>) -> Result<Carried, CarryError> {
    let RecordsAt::Postgres(place) = &to.records else {
        return Err(StoreError::Setting("say where to move to with --records".to_owned()).into());
    };
    let source = data.join("records.sqlite");
    let target = PostgresRecords::new(place.as_ref().clone())?;
    // Nobody writes to it from here on, not even a command.
    let records = tokio::task::spawn_blocking(move || WholeFile::still(&source)).await??;
    let (records, checked) = tokio::task::spawn_blocking(move || {
        let checked = check::records(&records);
        (records, checked)
    })
    .await?;
    let (mut carried, files) = checked?;
    let company = company_of(&records)?;
    let entry = target.enter(&company).await?;

    if to.blobs != BlobsAt::Folder {
        let scratch = folder::staging(data).join("moving");
        std::fs::create_dir_all(&scratch).map_err(named(&scratch))?;
        let road = Road {
            from: Storage::default().open_blobs(data)?,
            to: to.open_blobs(data)?,
            scratch: &scratch,
        };
        road.carry(&files, &mut carried, progress).await?;
        std::fs::remove_dir_all(&scratch).map_err(named(&scratch))?;
    }
    let records = Arc::new(std::sync::Mutex::new(records));
    for (done, table) in (0..).zip(TABLES) {
        progress("tables", done, TABLES.len() as u64);
        copy(&records, &entry, table).await?;
    }
    compare(&records, &entry, progress).await?;
    entry.finish().await?;
    carried.keys = folder::keys(data).join("office.key").exists();
    let accounts = data.join(ACCOUNTS);
    if accounts.exists() {
        people::count(&accounts, &mut carried)?;
    }
    note(data, to)?;
    Ok(carried)
}

fn company_of(records: &WholeFile) -> Result<Vec<u8>, CarryError> {
    let mut company = Vec::new();
    for table in TABLES.iter().filter(|table| table.name == "company") {
        records.each(table, |row| {
            company = as_bytes(&row, 1).unwrap_or_default().to_vec();
            Ok::<_, StoreError>(())
        })?;
    }
    Ok(company)
}

type Source = Arc<std::sync::Mutex<WholeFile>>;

/// The pages of a table, read on a thread that may block.
fn pages(records: &Source, table: &'static Table) -> tokio::sync::mpsc::Receiver<Page> {
    let (give, take) = tokio::sync::mpsc::channel(2);
    let records = Arc::clone(records);
    tokio::task::spawn_blocking(move || {
        let records = records
            .lock()
            .unwrap_or_else(std::sync::PoisonError::into_inner);
        let read = records.pages(table, |page| {
            // Where nobody takes it, the work has failed already.
            give.blocking_send(Ok(page))
                .map_err(|_| StoreError::Corrupt("the copy was given up"))
        });
        if let Err(error) = read {
            let _ = give.blocking_send(Err(error));
        }
    });
    take
}

type Page = Result<Vec<Row>, StoreError>;

async fn copy(records: &Source, entry: &Entry, table: &'static Table) -> Result<(), CarryError> {
    let there = entry.prepare(table).await?;
    let mut pages = pages(records, table);
    while let Some(page) = pages.recv().await {
        let mut page = page?;
        if table.name == CHANGE.name {
            page.retain(|row| {
                let last = as_bytes(row, 0).and_then(|job| there.get(job));
                as_number(row, 1) > last.copied()
            });
        }
        if !page.is_empty() {
            entry.add(table, &page).await?;
        }
    }
    Ok(())
}

/// Reads everything again where it arrived, and holds it against where it came from.
async fn compare(
    records: &Source,
    entry: &Entry,
    progress: Progress<'_>,
) -> Result<(), CarryError> {
    let source = Arc::clone(records);
    let sent = tokio::task::spawn_blocking(move || {
        let records = source
            .lock()
            .unwrap_or_else(std::sync::PoisonError::into_inner);
        records.sums()
    })
    .await??;
    let mut check = Check::default();
    // Devices first: their keys tell whose signatures those of the changes are.
    let order = TABLES.iter().zip(&sent).rev();
    for (done, (table, sent)) in (0..).zip(order) {
        progress("tables compared", done, TABLES.len() as u64);
        let mut sum = Sum::new();
        let mut after: Option<Row> = None;
        loop {
            let page = entry.page(table, after.as_ref()).await?;
            let Some(last) = page.last() else { break };
            after = Some(last.clone());
            for row in &page {
                sum.add(row);
                match table.name {
                    "device" => check.device(row)?,
                    "change" => check.change(row)?,
                    _ => {}
                }
            }
        }
        if sum != *sent {
            return Err(CarryError::Differs(format!(
                "table {}: {} rows were sent and {} are there",
                table.name, sent.rows, sum.rows
            )));
        }
    }
    Ok(())
}

/// Keeps a server from going on with the copy in the folder.
fn note(data: &Path, to: &Storage) -> Result<(), CarryError> {
    let place = |at: &dyn std::fmt::Display| at.to_string();
    let records = match &to.records {
        RecordsAt::Folder => "this folder".to_owned(),
        RecordsAt::Postgres(at) => place(at),
    };
    let blobs = match &to.blobs {
        BlobsAt::Folder => "this folder".to_owned(),
        BlobsAt::Other(at) => at.display().to_string(),
        BlobsAt::Bucket(at) => place(at),
    };
    let text = json!({ "moved_at": env::now(), "records": records, "blobs": blobs });
    let path = folder::moved(data);
    let part = path.with_extension("part");
    std::fs::write(&part, format!("{text}\n")).map_err(named(&part))?;
    let file = std::fs::File::open(&part).map_err(named(&part))?;
    file.sync_all().map_err(named(&part))?;
    std::fs::rename(&part, &path).map_err(named(&path))?;
    super::manifest::sync(data)
}
