//! Moving, backing up and restoring an office.

use std::path::{Path, PathBuf};
use std::sync::Mutex;

use super::args::{BackupArgs, MoveArgs, RestoreArgs, StorageArgs};
use super::output::{Failure, Output};
use super::server::storage;
use crate::carry::{self, Carried, CarryError};

pub(super) fn move_to(args: &MoveArgs, out: Output) -> Result<(), Failure> {
    let to = storage(&args.storage)?;
    let carried = run(out, async |progress| {
        carry::move_to(&args.data, &to, progress).await
    })?;
    out.give(&carried, || {
        let keys = if carried.keys {
            format!(
                "\nEach node needs a copy of the folder {} in its own --data folder.",
                args.data.join("keys").display()
            )
        } else {
            String::new()
        };
        format!(
            "Moved and read again where it arrived: {}.\nStart the server with the same --data, \
             --records and --blobs. The copy in {} is left as it was.{keys}",
            in_words(&carried),
            args.data.display()
        )
    })
}

pub(super) fn backup(args: &BackupArgs, out: Output) -> Result<(), Failure> {
    let from = storage(&args.storage)?;
    let data = data_of(args.data.as_deref(), &args.storage);
    let carried = run(out, async |progress| {
        carry::backup(data.as_deref(), &from, &args.out, progress).await
    })?;
    out.give(&carried, || {
        let keys = if carried.keys {
            "It holds the office's private keys: keep it where only the office can read it."
        } else {
            "It does not hold the office's keys: name the folder that has them with --data, or \
             keep a copy of that folder's keys."
        };
        let accounts = if carried.accounts {
            "Sign-ins and unused one-time links are left out: people sign in again."
        } else {
            "It holds no people and no shared links: name the folder that has them with --data."
        };
        let companies = data.as_deref().map(further).unwrap_or_default();
        format!(
            "Backed up and checked: {}.\n{keys}\n{accounts}{companies}",
            in_words(&carried)
        )
    })
}

pub(super) fn restore(args: &RestoreArgs, out: Output) -> Result<(), Failure> {
    let bar = Mutex::new(out.bar(0, "restoring"));
    let carried = carry::restore(&args.from, &args.data, &|what, done, of| {
        show(&bar, what, done, of);
    })
    .map_err(in_order)?;
    out.give(&carried, || {
        let keys = if carried.keys {
            ""
        } else {
            "\nThe backup holds no keys: put the office's keys into the folder `keys` there."
        };
        format!("Restored and checked: {}.{keys}", in_words(&carried))
    })
}

/// That further companies are backed up one by one.
fn further(data: &Path) -> String {
    let companies = crate::serve::companies::list(data).unwrap_or_default();
    if companies.is_empty() {
        return String::new();
    }
    format!(
        "\nFurther companies are not in it. Back each up with --data {}/companies/NAME, where \
         NAME is: {}",
        data.display(),
        companies.join(", ")
    )
}

/// The folder that a backup reads: needed unless records and files are both elsewhere.
fn data_of(named: Option<&Path>, storage: &StorageArgs) -> Option<PathBuf> {
    let elsewhere = storage.records.is_some() && storage.blobs.is_some();
    named
        .map(Path::to_owned)
        .or_else(|| (!elsewhere).then(|| PathBuf::from("office")))
}

fn run(
    out: Output,
    work: impl AsyncFnOnce(carry::Progress<'_>) -> Result<Carried, CarryError>,
) -> Result<Carried, Failure> {
    let runtime = tokio::runtime::Builder::new_multi_thread()
        .enable_all()
        .build()?;
    let bar = Mutex::new(out.bar(0, "carrying"));
    let progress = |what: &'static str, done: u64, of: u64| show(&bar, what, done, of);
    runtime.block_on(work(&progress)).map_err(in_order)
}

fn show(bar: &Mutex<indicatif::ProgressBar>, what: &'static str, done: u64, of: u64) {
    let bar = bar
        .lock()
        .unwrap_or_else(std::sync::PoisonError::into_inner);
    bar.set_message(what);
    bar.set_length(of);
    bar.set_position(done);
}

/// What was checked and is not in order has an exit code of its own.
fn in_order(error: CarryError) -> Failure {
    match error {
        CarryError::NotInOrder(_) | CarryError::Differs(_) => {
            Failure::not_in_order(error.to_string())
        }
        other => Failure::new(other.to_string()),
    }
}

fn in_words(carried: &Carried) -> String {
    let there = if carried.files_there > 0 {
        format!(" ({} files were there already)", carried.files_there)
    } else {
        String::new()
    };
    format!(
        "{} jobs, {} changes, {} devices, {} originals and {} thumbnails of {} bytes{there}, \
         {} people, {} shared links",
        carried.jobs,
        carried.changes,
        carried.devices,
        carried.originals,
        carried.thumbnails,
        carried.file_bytes,
        carried.people,
        carried.shared_links
    )
}
