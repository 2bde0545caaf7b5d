//! From the folder to a database and a bucket.

use std::path::Path;
use std::sync::Arc;

use serde_json::json;

use super::check::{self, Check};
use super::files::Road;
use super::manifest::ACCOUNTS;
use super::{Carried, CarryError, Progress, named, people};
use crate::env::SystemEnv;
use crate::office::Office;
use crate::serve::companies;
use crate::storage::{BlobsAt, RecordsAt, Storage};
use crate::store::tables::{
    self, CHANGE, DEED, Row, Sum, TABLES, Table, Value, as_bytes, as_number,
};
use crate::store::{Entry, PostgresRecords, StoreError, WholeFile};
use crate::{env, folder};

/// Moves the office of a data folder to another storage: its records and files, people, shared
/// links and who sees which job. The server must be stopped. What is in the folder stays, as it
/// was; a note beside it keeps a server from going on with it. Further companies of the folder are
/// moved first, each to its own part of the storage ([`Storage::of_company`]).
///
/// Where the records were moved before and people are still in the folder, people alone are moved.
/// A move that was cut short goes on when it is run again.
///
/// # Errors
/// [`CarryError`]: until the move is done, the office is where it was.
pub async fn move_to(
    data: &Path,
    to: &Storage,
    progress: Progress<'_>,
) -> Result<Carried, CarryError> {
    let _lock = match left(data) {
        Left::Nothing if data.join("records.sqlite").exists() => {
            folder::still_here(data)?;
            return Err(nothing(data));
        }
        Left::Nothing => return Err(nothing(data)),
        Left::People | Left::Office => folder::Lock::take(data)?,
    };
    let mut all = Carried::default();
    for slug in companies::list(data)? {
        let company = folder::company(data, &slug);
        let part = to.of_company(&slug)?;
        match left(&company) {
            Left::Office => all.add(&one(&company, &part, progress).await?),
            Left::People => all.add(&people_alone(&company, &part, progress).await?),
            Left::Nothing => {}
        }
    }
    let moved = match left(data) {
        Left::Office => one(data, to, progress).await?,
        _ => people_alone(data, to, progress).await?,
    };
    all.add(&moved);
    all.keys = moved.keys;
    Ok(all)
}

/// What of a folder was not moved yet.
enum Left {
    Office,
    People,
    Nothing,
}

fn left(data: &Path) -> Left {
    if data.join("records.sqlite").exists() && !folder::moved(data).exists() {
        return Left::Office;
    }
    match folder::people_moved_away(data) {
        Ok(()) => Left::Nothing,
        Err(_) => Left::People,
    }
}

fn nothing(data: &Path) -> CarryError {
    CarryError::Nothing {
        path: data.to_owned(),
        words: "holds no office",
    }
}

fn target_of(to: &Storage) -> Result<PostgresRecords, CarryError> {
    let RecordsAt::Postgres(place) = &to.records else {
        return Err(StoreError::Setting("say where to move to with --records".to_owned()).into());
    };
    Ok(PostgresRecords::new(place.as_ref().clone())?)
}

/// Moves the office of one folder that no server runs on.
async fn one(data: &Path, to: &Storage, progress: Progress<'_>) -> Result<Carried, CarryError> {
    let target = target_of(to)?;
    let source = data.join("records.sqlite");
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
    carry(&records, &entry, (TABLES, None), progress).await?;
    let accounts = data.join(ACCOUNTS);
    let people = accounts.exists();
    if people {
        let source = still_accounts(&accounts).await?;
        carry(&source, &entry, (tables::ACCOUNTS, None), progress).await?;
    }
    entry.finish().await?;
    carried.keys = folder::keys(data).join("office.key").exists();
    if people {
        people::count(&accounts, &mut carried)?;
        note(&folder::people_moved(data), data, to)?;
    }
    note(&folder::moved(data), data, to)?;
    Ok(carried)
}

/// Moves people in beside records that were moved before: one transaction, all or nothing.
async fn people_alone(
    data: &Path,
    to: &Storage,
    progress: Progress<'_>,
) -> Result<Carried, CarryError> {
    let target = target_of(to)?;
    target.ready().await?;
    // Sees that it is the database of this office: by its key.
    Office::open(data, &target, None, &mut SystemEnv).await?;
    let accounts = data.join(ACCOUNTS);
    let source = still_accounts(&accounts).await?;
    let (entry, after) = target.enter_people().await?;
    carry(&source, &entry, (tables::ACCOUNTS, Some(after)), progress).await?;
    entry.finish_people().await?;
    let mut carried = Carried::default();
    people::count(&accounts, &mut carried)?;
    note(&folder::people_moved(data), data, to)?;
    Ok(carried)
}

async fn still_accounts(file: &Path) -> Result<Source, CarryError> {
    let file = file.to_owned();
    let file = tokio::task::spawn_blocking(move || WholeFile::still_accounts(&file)).await??;
    Ok(Arc::new(std::sync::Mutex::new(file)))
}

/// Tables to carry; where they come beside rows that are there, the number after which those of
/// deeds go on.
type Tables = (&'static [&'static Table], Option<i64>);

/// Copies tables, and reads them again where they arrived.
async fn carry(
    source: &Source,
    entry: &Entry,
    (tables, beside): Tables,
    progress: Progress<'_>,
) -> Result<(), CarryError> {
    for (done, table) in (0..).zip(tables) {
        progress("tables", done, tables.len() as u64);
        copy(source, entry, table, beside).await?;
    }
    compare(source, entry, (tables, beside), progress).await
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

async fn copy(
    records: &Source,
    entry: &Entry,
    table: &'static Table,
    beside: Option<i64>,
) -> Result<(), CarryError> {
    let there = match beside {
        None => entry.prepare(table).await?,
        Some(_) => Default::default(),
    };
    let mut pages = pages(records, table);
    while let Some(page) = pages.recv().await {
        let mut page = page?;
        if table.name == CHANGE.name {
            page.retain(|row| {
                let last = as_bytes(row, 0).and_then(|job| there.get(job));
                as_number(row, 1) > last.copied()
            });
        }
        if table.name == DEED.name {
            page.iter_mut()
                .for_each(|row| renumber(row, beside.unwrap_or(0)));
        }
        if !page.is_empty() {
            entry.add(table, &page).await?;
        }
    }
    Ok(())
}

fn renumber(row: &mut Row, by: i64) {
    if let Some(Value::Number(number)) = row.first_mut() {
        *number += by;
    }
}

/// Reads everything again where it arrived, and holds it against where it came from.
async fn compare(
    records: &Source,
    entry: &Entry,
    (tables, beside): Tables,
    progress: Progress<'_>,
) -> Result<(), CarryError> {
    let after_deed = beside.unwrap_or(0);
    let source = Arc::clone(records);
    let sent = tokio::task::spawn_blocking(move || {
        let records = source
            .lock()
            .unwrap_or_else(std::sync::PoisonError::into_inner);
        records.sums(tables)
    })
    .await??;
    let mut check = Check::default();
    // Devices first: their keys tell whose signatures those of the changes are.
    let order = tables.iter().zip(&sent).rev();
    for (done, (table, sent)) in (0..).zip(order) {
        progress("tables compared", done, tables.len() as u64);
        let mut sum = Sum::new();
        let deeds = table.name == DEED.name;
        let mut after: Option<Row> = deeds.then(|| vec![Value::Number(after_deed)]);
        loop {
            let mut page = entry.page(table, after.as_ref()).await?;
            let Some(last) = page.last() else { break };
            after = Some(last.clone());
            if deeds {
                page.iter_mut().for_each(|row| renumber(row, -after_deed));
            }
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
fn note(path: &Path, data: &Path, to: &Storage) -> Result<(), CarryError> {
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
    let part = path.with_extension("part");
    std::fs::write(&part, format!("{text}\n")).map_err(named(&part))?;
    let file = std::fs::File::open(&part).map_err(named(&part))?;
    file.sync_all().map_err(named(&part))?;
    std::fs::rename(&part, path).map_err(named(path))?;
    super::manifest::sync(data)
}
