//! Whole files: put once, read in ranges, never changed.

use std::io::Write;

use chalkwalk_core::job::{BlobKind, PhotoHash};
use chalkwalk_sync_server::store::{BlobKey, StoreError};
use tempfile::NamedTempFile;

use crate::BlobsPlace;

fn key(kind: BlobKind, bytes: &[u8]) -> BlobKey {
    let hash = PhotoHash::of(bytes);
    BlobKey { kind, hash }
}

fn file(bytes: &[u8]) -> NamedTempFile {
    let mut file = NamedTempFile::new().unwrap();
    file.write_all(bytes).unwrap();
    file
}

pub(crate) async fn a_file_reads_back_in_ranges(place: &BlobsPlace) {
    let bytes = b"what the camera wrote";
    let key = key(BlobKind::Original, bytes);
    place.open().put(key, file(bytes).path()).await.unwrap();
    let store = place.open();
    assert_eq!(store.size(key).await.unwrap(), Some(21));
    assert_eq!(store.range(key, 0, 100).await.unwrap(), bytes);
    assert_eq!(store.range(key, 9, 6).await.unwrap(), b"camera");
    assert_eq!(store.range(key, 20, 10).await.unwrap(), b"e");
    assert_eq!(store.range(key, 21, 10).await.unwrap(), b"");
    assert_eq!(store.range(key, u64::MAX, usize::MAX).await.unwrap(), b"");
}

pub(crate) async fn putting_twice_is_harmless(place: &BlobsPlace) {
    let store = place.open();
    let key = key(BlobKind::Original, b"eave");
    for _ in 0..2 {
        store.put(key, file(b"eave").path()).await.unwrap();
    }
    assert_eq!(store.list().await.unwrap(), [(key, 4)]);
    assert_eq!(store.range(key, 0, 10).await.unwrap(), b"eave");
}

pub(crate) async fn files_are_listed_by_key(place: &BlobsPlace) {
    let store = place.open();
    let mut put = Vec::new();
    for (kind, bytes) in [
        (BlobKind::Original, b"one".as_slice()),
        (BlobKind::Thumbnail, b"one"),
        (BlobKind::Original, b"three"),
    ] {
        store
            .put(key(kind, bytes), file(bytes).path())
            .await
            .unwrap();
        put.push((key(kind, bytes), bytes.len() as u64));
    }
    put.sort_unstable();
    assert_eq!(place.open().list().await.unwrap(), put);
}

pub(crate) async fn a_file_of_many_parts_reads_back(place: &BlobsPlace) {
    let bytes: Vec<u8> = (0..20_000_003_u32).map(|n| (n % 251) as u8).collect();
    let key = key(BlobKind::Original, &bytes);
    place.open().put(key, file(&bytes).path()).await.unwrap();
    let store = place.open();
    assert_eq!(store.size(key).await.unwrap(), Some(bytes.len() as u64));
    let read = store.range(key, 0, usize::MAX).await.unwrap();
    assert_eq!(PhotoHash::of(&read), key.hash);
    let cut = 8 << 20;
    assert_eq!(
        store.range(key, cut - 5, 10).await.unwrap(),
        bytes[cut as usize - 5..][..10]
    );
}

pub(crate) async fn what_is_not_there_is_said(place: &BlobsPlace) {
    let store = place.open();
    let key = key(BlobKind::Thumbnail, b"nothing");
    assert_eq!(store.size(key).await.unwrap(), None);
    assert!(matches!(
        store.range(key, 0, 1).await,
        Err(StoreError::Corrupt(_))
    ));
    assert!(store.list().await.unwrap().is_empty());
    assert!(
        store
            .put(key, std::path::Path::new("no such file"))
            .await
            .is_err()
    );
    assert_eq!(store.size(key).await.unwrap(), None);
}

pub(crate) async fn of_two_thumbnails_the_first_stands(place: &BlobsPlace) {
    let key = key(BlobKind::Thumbnail, b"an original");
    let (one, two) = (file(b"small"), file(b"a little larger"));
    let (first, second) = (place.open(), place.open());
    let (one, two) = tokio::join!(first.put(key, one.path()), second.put(key, two.path()));
    let (one, two) = (one.unwrap(), two.unwrap());
    assert_eq!(one, two);
    let stands = place.open().range(key, 0, 100).await.unwrap();
    assert_eq!(stands.len() as u64, one);
    assert!([b"small".as_slice(), b"a little larger"].contains(&stands.as_slice()));
    assert_eq!(
        place.open().put(key, file(b"later").path()).await.unwrap(),
        one
    );
    assert_eq!(place.open().range(key, 0, 100).await.unwrap(), stands);
}

pub(crate) async fn an_original_of_another_size_is_refused(place: &BlobsPlace) {
    let key = key(BlobKind::Original, b"eave");
    let store = place.open();
    assert_eq!(store.put(key, file(b"eave").path()).await.unwrap(), 4);
    let error = store.put(key, file(b"eaves").path()).await.unwrap_err();
    assert!(matches!(error, StoreError::Corrupt(_)), "{error:?}");
    assert_eq!(store.range(key, 0, 10).await.unwrap(), b"eave");
}

pub(crate) async fn a_file_is_taken_away_or_copied(place: &BlobsPlace) {
    let key = key(BlobKind::Original, b"ridge");
    let store = place.open();
    let source = file(b"ridge");
    assert_eq!(store.take(key, source.path()).await.unwrap(), 5);
    assert_eq!(place.open().range(key, 0, 10).await.unwrap(), b"ridge");
    // Again, and under the name of another.
    let again = file(b"ridge");
    assert_eq!(store.take(key, again.path()).await.unwrap(), 5);
    let error = store.take(key, file(b"ridges").path()).await.unwrap_err();
    assert!(matches!(error, StoreError::Corrupt(_)), "{error:?}");
    assert_eq!(store.list().await.unwrap(), [(key, 5)]);
}
