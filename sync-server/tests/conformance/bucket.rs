//! What holds for the bucket alone.

use std::io::Write;

use chalkwalk_core::job::{BlobKind, PhotoHash};
use chalkwalk_sync_server::store::{BlobKey, Blobs, BucketPlace, ObjectBlobs};

use crate::{engines, own_name};

fn file(bytes: &[u8]) -> tempfile::NamedTempFile {
    let mut file = tempfile::NamedTempFile::new().unwrap();
    file.write_all(bytes).unwrap();
    file
}

#[tokio::test]
async fn two_offices_in_one_bucket_are_apart() {
    let Some(address) = engines::bucket() else {
        return;
    };
    let folder = tempfile::tempdir().unwrap();
    let office = |n: u8| {
        let prefix = format!("{}/{n}", own_name(folder.path()));
        let place = BucketPlace::parse(&address)
            .unwrap()
            .with_prefix(&prefix)
            .unwrap();
        ObjectBlobs::bucket(&place).unwrap()
    };
    let hash = PhotoHash::of(b"ridge");
    let key = BlobKey {
        kind: BlobKind::Original,
        hash,
    };
    office(1).put(key, file(b"ridge").path()).await.unwrap();
    assert_eq!(office(1).size(key).await.unwrap(), Some(5));
    assert_eq!(office(2).size(key).await.unwrap(), None);
    assert!(office(2).list().await.unwrap().is_empty());
}

#[tokio::test]
async fn wrong_credentials_are_an_error_that_tells_no_secret() {
    let Some(address) = engines::bucket() else {
        return;
    };
    let (right, _) = address.split_once("&secret_access_key=").unwrap();
    let place = BucketPlace::parse(&format!("{right}&secret_access_key=not-the-secret")).unwrap();
    let store = ObjectBlobs::bucket(&place).unwrap();
    let key = BlobKey {
        kind: BlobKind::Original,
        hash: PhotoHash::of(b"ridge"),
    };
    let error = store.put(key, file(b"ridge").path()).await.unwrap_err();
    let words = format!("{} {error:?}", error.chain());
    assert!(!words.contains("not-the-secret"), "{words}");
}

#[tokio::test]
async fn twenty_writers_of_one_original_leave_one_whole_file() {
    let Some(address) = engines::bucket() else {
        return;
    };
    let folder = tempfile::tempdir().unwrap();
    let place = BucketPlace::parse(&address).unwrap();
    let place = place.with_prefix(&own_name(folder.path())).unwrap();
    let bytes: Vec<u8> = (0..9_000_000_u32).map(|n| (n % 253) as u8).collect();
    for bytes in [&bytes[..100_000], &bytes[..]] {
        let key = BlobKey {
            kind: BlobKind::Original,
            hash: PhotoHash::of(bytes),
        };
        let writers = (0..20).map(|_| {
            let (place, file) = (place.clone(), file(bytes));
            tokio::spawn(async move {
                ObjectBlobs::bucket(&place)
                    .unwrap()
                    .put(key, file.path())
                    .await
                    .unwrap()
            })
        });
        for writer in writers.collect::<Vec<_>>() {
            assert_eq!(writer.await.unwrap(), bytes.len() as u64);
        }
        let store = ObjectBlobs::bucket(&place).unwrap();
        let read = store.range(key, 0, usize::MAX).await.unwrap();
        assert_eq!(PhotoHash::of(&read), key.hash);
    }
}
