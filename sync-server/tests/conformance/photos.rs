//! The photos that a job names, and which files are whole.

use chalkwalk_core::job::{BlobKind, PhotoHash, PhotoRole};
use chalkwalk_sync_server::store::{BlobEntry, BlobKey, Crew, PhotoEntry, Room, Summary};

use crate::RecordsPlace;
use crate::sample::{author, job, row};

fn photo(n: u8) -> PhotoEntry {
    PhotoEntry {
        hash: PhotoHash::from_bytes([n; 32]),
        size: u64::from(n) * 1_000,
        role: (n > 1).then_some(PhotoRole::CloseUp),
    }
}

fn file(kind: BlobKind, n: u8, size: u64) -> BlobEntry {
    let hash = photo(n).hash;
    BlobEntry { kind, hash, size }
}

pub(crate) async fn photos_stand_in_their_order_once(place: &RecordsPlace) {
    let store = place.open();
    let named = [photo(3), photo(1), photo(3), photo(2)];
    store
        .describe(job(1), &Summary::default(), &named)
        .await
        .unwrap();
    let photos = place.open().photos(job(1)).await.unwrap();
    assert_eq!(photos, [photo(3), photo(1), photo(2)]);
    store
        .describe(job(1), &Summary::default(), &[photo(2), photo(3)])
        .await
        .unwrap();
    assert_eq!(store.photos(job(1)).await.unwrap(), [photo(2), photo(3)]);
    assert!(store.photos(job(2)).await.unwrap().is_empty());
    assert_eq!(
        store.photo(job(1), photo(3).hash).await.unwrap(),
        Some(photo(3))
    );
    assert_eq!(store.photo(job(1), photo(1).hash).await.unwrap(), None);
    assert_eq!(store.photo(job(2), photo(3).hash).await.unwrap(), None);
}

pub(crate) async fn whole_files_are_counted_for_each_job(place: &RecordsPlace) {
    let store = place.open();
    for (n, photos) in [(1, vec![photo(1), photo(2)]), (2, vec![photo(2), photo(3)])] {
        store
            .append(job(n), &[row(author(1), 1, true)], &[], 70)
            .await
            .unwrap();
        store
            .describe(job(n), &Summary::default(), &photos)
            .await
            .unwrap();
    }
    let files = [
        file(BlobKind::Thumbnail, 1, 10),
        file(BlobKind::Thumbnail, 2, 20),
        file(BlobKind::Original, 2, 2_000),
        file(BlobKind::Original, 9, 9_000),
    ];
    for file in files {
        store.complete(&file, 80).await.unwrap();
    }
    store
        .complete(&file(BlobKind::Thumbnail, 1, 99), 90)
        .await
        .unwrap();
    let store = place.open();
    let counts = store.jobs().await.unwrap();
    let counts: Vec<_> = counts
        .iter()
        .map(|job| (job.photos, job.thumbnails, job.originals))
        .collect();
    assert_eq!(counts, [(2, 2, 1), (2, 1, 1)]);
    let key = BlobKey {
        kind: BlobKind::Thumbnail,
        hash: photo(1).hash,
    };
    assert_eq!(store.blob(key).await.unwrap(), Some(files[0]));
    let mut whole = store.blobs(job(1)).await.unwrap();
    whole.sort_by_key(|file| (file.kind, file.hash));
    assert_eq!(whole, files[..3]);
}

pub(crate) async fn a_summary_replaces_the_one_before(place: &RecordsPlace) {
    let store = place.open();
    store
        .append(job(1), &[row(author(1), 1, true)], &[], 70)
        .await
        .unwrap();
    assert_eq!(store.job(job(1)).await.unwrap().unwrap().summary, None);
    let summary = |findings: u32| Summary {
        title: "12 Alder Way".into(),
        owner: Some("Odalys Fenn".into()),
        date_of_loss: chrono::NaiveDate::from_ymd_opt(2026, 5, 2),
        findings,
        photos: 4,
        questions: 2,
        crew: Crew::Left,
        changes: 1,
    };
    store
        .describe(job(1), &Summary::default(), &[])
        .await
        .unwrap();
    store.describe(job(1), &summary(3), &[]).await.unwrap();
    let status = place.open().job(job(1)).await.unwrap().unwrap();
    assert_eq!(status.summary, Some(summary(3)));
}

pub(crate) async fn a_description_of_less_is_passed_over(place: &RecordsPlace) {
    let store = place.open();
    store
        .append(job(1), &[row(author(1), 1, true)], &[], 70)
        .await
        .unwrap();
    let summary = |changes: u64, findings: u32| Summary {
        title: "12 Alder Way".into(),
        findings,
        changes,
        ..Summary::default()
    };
    store
        .describe(job(1), &summary(5, 3), &[photo(1), photo(2)])
        .await
        .unwrap();
    store
        .describe(job(1), &summary(4, 2), &[photo(1)])
        .await
        .unwrap();
    let status = place.open().job(job(1)).await.unwrap().unwrap();
    assert_eq!(status.summary, Some(summary(5, 3)));
    assert_eq!(store.photos(job(1)).await.unwrap(), [photo(1), photo(2)]);
    store
        .describe(job(1), &summary(5, 4), &[photo(2)])
        .await
        .unwrap();
    assert_eq!(store.photos(job(1)).await.unwrap(), [photo(2)]);
}

pub(crate) async fn jobs_are_known_by_id_and_by_who_wrote(place: &RecordsPlace) {
    let store = place.open();
    for (n, by) in [(3, 1), (1, 1), (2, 2), (1, 255)] {
        store
            .append(job(n), &[row(author(by), 1, true)], &[], 70)
            .await
            .unwrap();
    }
    // Described, but without a change.
    store
        .describe(job(9), &Summary::default(), &[photo(1)])
        .await
        .unwrap();
    let store = place.open();
    assert_eq!(store.job_ids().await.unwrap(), [job(1), job(2), job(3)]);
    assert_eq!(store.count_jobs().await.unwrap(), 3);
    for (by, jobs) in [
        (1, vec![job(1), job(3)]),
        (2, vec![job(2)]),
        (255, vec![job(1)]),
        (7, vec![]),
    ] {
        let device = author(by).device;
        let written = store.jobs_written_by(device).await.unwrap();
        assert_eq!(written.into_iter().collect::<Vec<_>>(), jobs, "{by}");
        for n in 1..=4 {
            let wrote = store.has_written(device, job(n)).await.unwrap();
            assert_eq!(wrote, jobs.contains(&job(n)), "{by} {n}");
        }
    }
}

pub(crate) async fn bytes_held_are_counted_once_for_each_file(place: &RecordsPlace) {
    let store = place.open();
    assert_eq!(store.bytes_held().await.unwrap(), 0);
    for n in 1..=40 {
        let one = file(BlobKind::Original, n, 100);
        store.complete(&one, 70).await.unwrap();
        store.complete(&one, 71).await.unwrap();
    }
    let small = file(BlobKind::Thumbnail, 1, 7);
    store.complete(&small, 70).await.unwrap();
    assert_eq!(place.open().bytes_held().await.unwrap(), 4_007);
}

pub(crate) async fn room_is_set_aside_up_to_the_quota_and_no_further(place: &RecordsPlace) {
    let store = place.open();
    let room = |n, size, now| Room {
        file: file(BlobKind::Original, n, size),
        now,
        ends: now + 100,
    };
    store
        .complete(&file(BlobKind::Original, 1, 400), 5)
        .await
        .unwrap();
    assert!(store.set_aside(&room(2, 300, 10), 1_000).await.unwrap());
    assert!(!store.set_aside(&room(3, 301, 10), 1_000).await.unwrap());
    assert!(store.set_aside(&room(3, 300, 10), 1_000).await.unwrap());
    let store = place.open();
    assert!(!store.set_aside(&room(4, 1, 10), 1_000).await.unwrap());
    // The same file again takes no more room.
    assert!(store.set_aside(&room(2, 300, 50), 1_000).await.unwrap());
    // A file that is whole counts as such, once.
    store
        .complete(&file(BlobKind::Original, 2, 300), 60)
        .await
        .unwrap();
    assert!(!store.set_aside(&room(4, 1, 60), 1_000).await.unwrap());
    // One that did not come gives its room back.
    assert!(!store.set_aside(&room(4, 300, 109), 1_000).await.unwrap());
    assert!(store.set_aside(&room(4, 300, 110), 1_000).await.unwrap());
    // Of many at once, as many as there is room for.
    let many = (10..30).map(|n| {
        let (store, room) = (place.open(), room(n, 100, 500));
        tokio::spawn(async move { store.set_aside(&room, 1_000).await.unwrap() })
    });
    let mut taken = 0;
    for one in many.collect::<Vec<_>>() {
        taken += usize::from(one.await.unwrap());
    }
    assert_eq!(taken, 3);
}
