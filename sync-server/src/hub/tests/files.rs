//! Photo files on their way in.

use chalkwalk_core::document::Refusal;
use chalkwalk_core::job::{BlobKind, BlobProgress, PhotoHash, Role};
use chalkwalk_core::limits;
use chalkwalk_core::sync::Replica;

use super::crew::{Bench, Phone, job};
use super::small_picture;
use crate::hub::{HubReplica, News};
use crate::store::{BlobKey, Blobs, Records};

const THUMBNAIL: BlobKind = BlobKind::Thumbnail;
const ORIGINAL: BlobKind = BlobKind::Original;

fn with_photos(bench: &Bench, files: &[&[u8]]) -> HubReplica {
    let mut phone = Phone::new(1, &bench.office, Role::Crew);
    let mut batch = phone.begin(job(1));
    batch.extend(files.iter().map(|file| phone.photo(file)));
    let mut replica = bench.replica();
    let shown = [phone.signed.clone()];
    replica
        .accept(&phone.certificate, job(1), batch, &shown)
        .unwrap();
    replica
}

fn partly(held: u64) -> BlobProgress {
    BlobProgress {
        held,
        complete: false,
    }
}

#[test]
fn a_file_comes_in_pieces_and_goes_on_after_a_cut() {
    let bench = Bench::new();
    let file = b"a picture of the front elevation".as_slice();
    let hash = PhotoHash::of(file);
    let mut replica = with_photos(&bench, &[file]);
    assert_eq!(replica.wanted(job(1), ORIGINAL).unwrap(), [(hash, 0)]);
    assert_eq!(
        replica
            .write_blob(job(1), ORIGINAL, hash, 32, 0, &file[..10])
            .unwrap(),
        partly(10)
    );
    // A new session, as after a cut.
    let mut replica = with_photos(&bench, &[file]);
    assert_eq!(replica.wanted(job(1), ORIGINAL).unwrap(), [(hash, 10)]);
    assert_eq!(replica.blob_size(ORIGINAL, hash).unwrap(), None);
    let gap = replica.write_blob(job(1), ORIGINAL, hash, 32, 20, &file[20..]);
    assert_eq!(gap, Err(Refusal::Gap));
    // Bytes that are held come again and are skipped.
    assert_eq!(
        replica
            .write_blob(job(1), ORIGINAL, hash, 32, 5, &file[5..20])
            .unwrap(),
        partly(20)
    );
    let mut news = bench.hub.news();
    let whole = replica
        .write_blob(job(1), ORIGINAL, hash, 32, 20, &file[20..])
        .unwrap();
    let complete = true;
    assert_eq!(whole, BlobProgress { held: 32, complete });
    assert!(matches!(news.try_recv().unwrap(), News::Job { .. }));
    assert!(replica.wanted(job(1), ORIGINAL).unwrap().is_empty());
    assert_eq!(replica.wanted(job(1), THUMBNAIL).unwrap(), [(hash, 0)]);
    assert_eq!(replica.blob_size(ORIGINAL, hash).unwrap(), Some(32));
    assert_eq!(replica.read_blob(ORIGINAL, hash, 2, 7).unwrap(), b"picture");
    // Once more does no harm.
    let again = replica
        .write_blob(job(1), ORIGINAL, hash, 32, 0, file)
        .unwrap();
    assert_eq!(again, BlobProgress { held: 32, complete });
}

#[test]
fn a_file_that_is_not_the_photo_is_thrown_away() {
    let bench = Bench::new();
    let file = b"the gutter, close".as_slice();
    let hash = PhotoHash::of(file);
    let mut replica = with_photos(&bench, &[file]);
    let mut altered = file.to_vec();
    altered[3] ^= 1;
    let size = file.len() as u64;
    let refusal = replica.write_blob(job(1), ORIGINAL, hash, size, 0, &altered);
    assert!(matches!(refusal, Err(Refusal::Malformed(_))), "{refusal:?}");
    assert_eq!(replica.wanted(job(1), ORIGINAL).unwrap(), [(hash, 0)]);
    assert!(bench.run(bench.blobs.list()).unwrap().is_empty());
    assert!(
        replica
            .write_blob(job(1), ORIGINAL, hash, size, 0, file)
            .unwrap()
            .complete
    );
    let kept = bench
        .run(bench.blobs.range(
            BlobKey {
                kind: ORIGINAL,
                hash,
            },
            0,
            99,
        ))
        .unwrap();
    assert_eq!(kept, file);
}

#[test]
fn only_files_of_the_right_name_and_size_are_taken() {
    let bench = Bench::new();
    let file = b"ridge".as_slice();
    let hash = PhotoHash::of(file);
    let mut replica = with_photos(&bench, &[file]);
    let mut refused = |kind, hash, size, bytes: &[u8]| {
        let refusal = replica.write_blob(job(1), kind, hash, size, 0, bytes);
        assert!(matches!(refusal, Err(Refusal::Malformed(_))), "{refusal:?}");
    };
    refused(ORIGINAL, PhotoHash::of(b"unnamed"), 7, b"unnamed");
    refused(ORIGINAL, hash, 6, b"ridge");
    refused(ORIGINAL, hash, 5, b"ridge and more");
    refused(THUMBNAIL, hash, 0, b"");
    refused(THUMBNAIL, hash, limits::THUMBNAIL_BYTES + 1, b"large");
    let size = limits::THUMBNAIL_BYTES;
    refused(THUMBNAIL, hash, 5, b"words");
    let largest = small_picture(size as usize);
    assert!(
        replica
            .write_blob(job(1), THUMBNAIL, hash, size, 0, &largest)
            .unwrap()
            .complete
    );
}

#[test]
fn an_original_past_the_limit_is_not_asked_for() {
    let bench = Bench::new();
    let file = b"ridge".as_slice();
    let mut replica = with_photos(&bench, &[file]);
    let mut photos = bench.run(bench.records.photos(job(1))).unwrap();
    photos[0].size = limits::ORIGINAL_BYTES + 1;
    let summary = bench
        .run(bench.records.job(job(1)))
        .unwrap()
        .unwrap()
        .summary
        .unwrap();
    bench
        .run(bench.records.describe(job(1), &summary, &photos))
        .unwrap();
    assert!(replica.wanted(job(1), ORIGINAL).unwrap().is_empty());
    assert_eq!(replica.wanted(job(1), THUMBNAIL).unwrap().len(), 1);
    photos[0].size = limits::ORIGINAL_BYTES;
    bench
        .run(bench.records.describe(job(1), &summary, &photos))
        .unwrap();
    assert_eq!(replica.wanted(job(1), ORIGINAL).unwrap().len(), 1);
}
