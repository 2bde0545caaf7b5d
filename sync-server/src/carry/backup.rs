//! A backup: a folder laid out as the default storage is, with a manifest. The office may run.

use std::path::Path;

use super::files::Road;
use super::manifest::{self, ACCOUNTS, ACCOUNTS_PART, KEYS, MANIFEST, PHOTOS, RECORDS, SUMMARY};
use super::{Carried, CarryError, Progress, check, named, people};
use crate::storage::{RecordsAt, Storage};
use crate::store::tables::{self, Row, TABLES, Table};
use crate::store::{BlobEntry, ObjectBlobs, PostgresRecords, Still, StoreError, WholeFile};
use crate::{env, folder};

/// Writes a backup of an office: its records as of one moment, every file that they name as whole,
/// people and what they may see, and
/// the keys of the data folder where there is one. A backup that was cut short goes on in the
/// same folder.
///
/// The backup holds the office's private keys and all that the office holds: keep it as such.
///
/// # Errors
/// [`CarryError`]; what is in `out` then is no backup.
pub async fn backup(
    data: Option<&Path>,
    storage: &Storage,
    out: &Path,
    progress: Progress<'_>,
) -> Result<Carried, CarryError> {
    if out.join(MANIFEST).exists() {
        return Err(CarryError::Taken {
            path: out.to_owned(),
            words: "holds a backup already: name another folder",
        });
    }
    strangers(out)?;
    manifest::private_folder(out)?;
    let part = out.join("records.part");
    // Of an earlier try: only where people are in a database does this one make it first.
    match std::fs::remove_file(out.join(ACCOUNTS_PART)) {
        Err(error) if error.kind() != std::io::ErrorKind::NotFound => return Err(error.into()),
        _ => {}
    }
    match &storage.records {
        RecordsAt::Folder => from_folder(data, &part).await?,
        RecordsAt::Postgres(place) => {
            let records = PostgresRecords::new(place.as_ref().clone())?;
            if let Some(data) = data {
                folder::people_moved_away(data)?;
            }
            from_database(&records, &part, &out.join(ACCOUNTS_PART), progress).await?;
        }
    }
    let read = part.clone();
    let (mut carried, files) = tokio::task::spawn_blocking(move || {
        let records = WholeFile::read_only(&read)?;
        check::records(&records)
    })
    .await??;

    let scratch = out.join("scratch");
    std::fs::create_dir_all(&scratch).map_err(named(&scratch))?;
    let road = Road {
        // Only where files are in the folder is the folder needed.
        from: storage.open_blobs(data.unwrap_or(out))?,
        to: std::sync::Arc::new(ObjectBlobs::folder(&out.join(PHOTOS))?),
        scratch: &scratch,
    };
    road.carry(&files, &mut carried, progress).await?;
    std::fs::remove_dir_all(&scratch).map_err(named(&scratch))?;
    let out = out.to_owned();
    let data = data.map(Path::to_owned);
    tokio::task::spawn_blocking(move || finish(data.as_deref(), &out, carried, &files)).await?
}

/// Only what an earlier try left may be there.
fn strangers(out: &Path) -> Result<(), CarryError> {
    const OURS: &[&str] = &[
        "records.part",
        "records.part-journal",
        ACCOUNTS_PART,
        "accounts.part-journal",
        "scratch",
        "manifest.part",
        RECORDS,
        ACCOUNTS,
        PHOTOS,
        KEYS,
        SUMMARY,
    ];
    if !out.exists() {
        return Ok(());
    }
    for entry in std::fs::read_dir(out).map_err(named(out))? {
        let name = entry.map_err(named(out))?.file_name();
        if !OURS.iter().any(|ours| name == *ours) {
            return Err(CarryError::Taken {
                path: out.to_owned(),
                words: "holds other files: name an empty folder",
            });
        }
    }
    Ok(())
}

async fn from_folder(data: Option<&Path>, part: &Path) -> Result<(), CarryError> {
    let data = data.unwrap_or(Path::new("office"));
    let source = data.join("records.sqlite");
    if !source.exists() {
        return Err(CarryError::Nothing {
            path: data.to_owned(),
            words: "holds no office",
        });
    }
    folder::still_here(data)?;
    let part = part.to_owned();
    tokio::task::spawn_blocking(move || WholeFile::read_only(&source)?.copy_to(&part)).await??;
    Ok(())
}

async fn from_database(
    records: &PostgresRecords,
    part: &Path,
    accounts: &Path,
    progress: Progress<'_>,
) -> Result<(), CarryError> {
    let (path, people) = (part.to_owned(), accounts.to_owned());
    let made = move || {
        let people = WholeFile::create_accounts(&people)?;
        Ok::<_, StoreError>((WholeFile::create(&path)?, people))
    };
    let (file, people) = tokio::task::spawn_blocking(made).await??;
    // Both of one moment.
    let still = records.still().await?;
    copy(&still, file, TABLES.to_vec(), progress).await?;
    let tables = tables::ACCOUNTS.iter().filter(|table| !table.opens());
    copy(&still, people, tables.copied().collect(), progress).await?;
    still.end().await?;
    Ok(())
}

async fn copy(
    still: &Still,
    mut file: WholeFile,
    tables: Vec<&'static Table>,
    progress: Progress<'_>,
) -> Result<(), CarryError> {
    let total = tables.len() as u64;
    for (done, table) in (0..).zip(tables) {
        progress("tables", done, total);
        let mut after: Option<Row> = None;
        loop {
            let page = still.page(table, after.as_ref()).await?;
            let Some(last) = page.last() else { break };
            after = Some(last.clone());
            file = tokio::task::spawn_blocking(move || {
                file.add(table, &page)?;
                Ok::<_, StoreError>(file)
            })
            .await??;
        }
    }
    Ok(())
}

fn finish(
    data: Option<&Path>,
    out: &Path,
    mut carried: Carried,
    files: &[BlobEntry],
) -> Result<Carried, CarryError> {
    let mut names = vec![RECORDS.to_owned(), SUMMARY.to_owned()];
    let records = out.join(RECORDS);
    let part = out.join("records.part");
    std::fs::File::open(&part)
        .and_then(|file| file.sync_all())
        .map_err(named(&part))?;
    std::fs::rename(&part, &records).map_err(named(&records))?;
    for name in ["office.key", "server.key"] {
        let Some(key) = data.map(|data| folder::keys(data).join(name)) else {
            continue;
        };
        if key.exists() {
            manifest::private_folder(&out.join(KEYS))?;
            let sum = chalkwalk_core::job::hex(&manifest::sum(&key)?);
            manifest::copy(&key, &out.join(KEYS).join(name), &sum, true)?;
            names.push(format!("{KEYS}/{name}"));
            carried.keys |= name == "office.key";
        }
    }
    if people::back_up(data, out, &mut carried)? {
        names.push(ACCOUNTS.to_owned());
    }
    let summary = serde_json::json!({ "made_at": env::now(), "holds": carried });
    let path = out.join(SUMMARY);
    std::fs::write(&path, format!("{summary:#}\n")).map_err(named(&path))?;
    std::fs::File::open(&path)
        .and_then(|file| file.sync_all())
        .map_err(named(&path))?;
    names.extend(files.iter().map(manifest::photo));
    names.sort_unstable();
    manifest::write(out, &names)?;
    Ok(carried)
}
