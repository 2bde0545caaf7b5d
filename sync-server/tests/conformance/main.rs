//! One suite that every implementation of storage passes: what `Records` and `Blobs` promise.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod accounts;
mod blobs;
mod bucket;
mod changes;
#[path = "../engines/mod.rs"]
mod engines;
mod feed;
mod nodes;
mod people;
mod photos;
mod postgres;
mod sample;
mod sqlite;

use std::path::Path;
use std::sync::{Arc, Mutex};

use engines::own_name;

use chalkwalk_sync_server::store::{
    Accounts, Blobs, BucketPlace, MemoryAccounts, MemoryBlobs, MemoryRecords, ObjectBlobs,
    PostgresPlace, PostgresRecords, Records, SqliteAccounts, SqliteRecords,
};

/// A place to keep things that can be closed and opened again.
struct Place<T: ?Sized> {
    folder: tempfile::TempDir,
    open: fn(&Path) -> Arc<T>,
    kept: Mutex<Option<Arc<T>>>,
    forgets: bool,
}

impl<T: ?Sized> Place<T> {
    fn new(open: fn(&Path) -> Arc<T>, forgets: bool) -> Self {
        Self {
            folder: tempfile::tempdir().unwrap(),
            open,
            kept: Mutex::new(None),
            forgets,
        }
    }

    /// Opens it, closing it first where it can be opened again.
    fn open(&self) -> Arc<T> {
        let mut kept = self.kept.lock().unwrap();
        if self.forgets {
            return Arc::clone(kept.get_or_insert_with(|| (self.open)(self.folder.path())));
        }
        (self.open)(self.folder.path())
    }
}

type RecordsPlace = Place<dyn Records>;
type BlobsPlace = Place<dyn Blobs>;
type AccountsPlace = Place<dyn Accounts>;

fn memory_records() -> Option<RecordsPlace> {
    Some(Place::new(|_| Arc::new(MemoryRecords::default()), true))
}

fn sqlite_records() -> Option<RecordsPlace> {
    let open = |at: &Path| -> Arc<dyn Records> {
        Arc::new(SqliteRecords::open(&at.join("records.sqlite")).unwrap())
    };
    Some(Place::new(open, false))
}

/// A schema of its own in the database that `tests/engines.py` started.
fn postgres_records() -> Option<RecordsPlace> {
    engines::postgres()?;
    let open = |at: &Path| -> Arc<dyn Records> {
        let place = PostgresPlace::parse(&engines::postgres().unwrap()).unwrap();
        let place = place.with_schema(&own_name(at)).unwrap();
        Arc::new(PostgresRecords::new(place).unwrap())
    };
    Some(Place::new(open, false))
}

fn memory_accounts() -> Option<AccountsPlace> {
    Some(Place::new(|_| Arc::new(MemoryAccounts::default()), true))
}

fn sqlite_accounts() -> Option<AccountsPlace> {
    let open = |at: &Path| -> Arc<dyn Accounts> {
        Arc::new(SqliteAccounts::open(&at.join("accounts.sqlite")).unwrap())
    };
    Some(Place::new(open, false))
}

/// A schema of its own in the database that `tests/engines.py` started.
fn postgres_accounts() -> Option<AccountsPlace> {
    engines::postgres()?;
    let open = |at: &Path| -> Arc<dyn Accounts> {
        let place = PostgresPlace::parse(&engines::postgres().unwrap()).unwrap();
        let place = place.with_schema(&own_name(at)).unwrap();
        Arc::new(PostgresRecords::new(place).unwrap().accounts())
    };
    Some(Place::new(open, false))
}

fn memory_blobs() -> Option<BlobsPlace> {
    Some(Place::new(|_| Arc::new(MemoryBlobs::default()), true))
}

fn folder_blobs() -> Option<BlobsPlace> {
    let open =
        |at: &Path| -> Arc<dyn Blobs> { Arc::new(ObjectBlobs::folder(&at.join("blobs")).unwrap()) };
    Some(Place::new(open, false))
}

/// A prefix of its own in the bucket that `tests/engines.py` started.
fn bucket_blobs() -> Option<BlobsPlace> {
    engines::bucket()?;
    let open = |at: &Path| -> Arc<dyn Blobs> {
        let place = BucketPlace::parse(&engines::bucket().unwrap()).unwrap();
        let place = place.with_prefix(&own_name(at)).unwrap();
        Arc::new(ObjectBlobs::bucket(&place).unwrap())
    };
    Some(Place::new(open, false))
}

macro_rules! conformance {
    ($(mod $name:ident = $place:path, runs $suite:ident { $($case:ident),* $(,)? })*) => {$(
        mod $name {
            $(
                #[tokio::test]
                async fn $case() {
                    if let Some(place) = $place() {
                        crate::$suite::$case(&place).await;
                    }
                }
            )*
        }
    )*};
}

macro_rules! records_conformance {
    ($($place:ident as ($changes:ident, $people:ident, $photos:ident)),*) => {$(
        conformance! {
            mod $changes = crate::$place, runs changes {
                nothing_is_held_at_first,
                what_is_appended_is_held_after_opening_again,
                appending_twice_is_harmless,
                a_signature_that_was_lacking_is_added,
                another_hash_at_the_same_number_is_a_fork,
                a_gap_is_refused_whole,
                one_change_under_two_numbers_is_refused,
                jobs_do_not_mix,
                lacking_gives_causal_order,
                lacking_ends_where_every_author_is_signed,
                lacking_keeps_to_the_bytes,
                lacking_gives_one_signed_run_past_the_bytes,
                lacking_walks_to_the_end_in_steps,
                lacking_reports_a_fork,
                batches_from_many_tasks_all_land,
                one_author_too_many_is_refused,
                a_snapshot_replaces_the_one_before,
                peers_are_kept_by_device,
            }
            mod $people = crate::$place, runs people {
                the_first_company_stands,
                a_code_enrols_one_device,
                the_same_device_may_ask_again,
                an_expired_code_enrols_nobody,
                an_enrolled_device_keeps_its_key,
                of_two_at_once_one_is_enrolled,
                a_device_is_shut_out_and_let_in,
                devices_come_with_their_changes_or_not_at_all,
                the_audit_is_newest_first,
            }
            mod $photos = crate::$place, runs photos {
                photos_stand_in_their_order_once,
                whole_files_are_counted_for_each_job,
                a_summary_replaces_the_one_before,
                a_description_of_less_is_passed_over,
                jobs_are_known_by_id_and_by_who_wrote,
                bytes_held_are_counted_once_for_each_file,
                room_is_set_aside_up_to_the_quota_and_no_further,
            }
        }
    )*};
}

records_conformance!(
    memory_records as (memory_changes, memory_people, memory_photos),
    sqlite_records as (sqlite_changes, sqlite_people, sqlite_photos),
    postgres_records as (postgres_changes, postgres_people, postgres_photos)
);

conformance! {
    mod memory_files = crate::memory_blobs, runs blobs {
        a_file_reads_back_in_ranges, putting_twice_is_harmless, files_are_listed_by_key,
        a_file_of_many_parts_reads_back, what_is_not_there_is_said,
        of_two_thumbnails_the_first_stands, an_original_of_another_size_is_refused,
        a_file_is_taken_away_or_copied,
    }
    mod folder_files = crate::folder_blobs, runs blobs {
        a_file_reads_back_in_ranges, putting_twice_is_harmless, files_are_listed_by_key,
        a_file_of_many_parts_reads_back, what_is_not_there_is_said,
        of_two_thumbnails_the_first_stands, an_original_of_another_size_is_refused,
        a_file_is_taken_away_or_copied,
    }
    mod bucket_files = crate::bucket_blobs, runs blobs {
        a_file_reads_back_in_ranges, putting_twice_is_harmless, files_are_listed_by_key,
        a_file_of_many_parts_reads_back, what_is_not_there_is_said,
        of_two_thumbnails_the_first_stands, an_original_of_another_size_is_refused,
        a_file_is_taken_away_or_copied,
    }
}

macro_rules! accounts_conformance {
    ($($place:ident as $name:ident),*) => {$(
        conformance! {
            mod $name = crate::$place, runs accounts {
                a_name_and_a_mail_address_open_one_account,
                what_is_said_of_a_person_is_kept,
                sign_ins_end_one_by_one_and_all,
                the_longest_unused_sign_in_ends,
                a_link_counts_once_and_in_time,
                joining_uses_the_link_up_or_changes_nothing,
                shared_links_are_kept_by_job,
                one_shared_link_too_many_is_refused,
                one_person_too_many_is_refused,
                who_sees_a_job_is_kept,
                a_paper_is_replaced_only_by_whoever_saw_the_one_before,
                jobs_that_a_device_does_not_see_are_named,
                tries_are_counted_in_their_window,
                a_challenge_is_answered_once,
                deeds_come_newest_first_in_pages,
                deeds_are_narrowed_where_they_are_kept,
                sweeping_removes_what_ended_and_nothing_else,
            }
        }
    )*};
}

accounts_conformance!(
    memory_accounts as memory_people_of_pages,
    sqlite_accounts as sqlite_people_of_pages,
    postgres_accounts as postgres_people_of_pages
);
