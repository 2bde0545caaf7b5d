//! Files: resumed, lacking, wrong, and behind changes.

use super::{JOB, ended, finished, net};
use crate::job::{BlobKind, PhotoHash};
use crate::limits;
use crate::sync::{Event, Reason};

fn picture(seed: u8, size: usize) -> Vec<u8> {
    (0..size).map(|n| (n % 251) as u8 ^ seed).collect()
}

#[test]
fn a_cut_upload_goes_on_where_it_stood() {
    let mut net = net(2);
    let size = 10 * limits::PHOTO_CHUNK + 77;
    let hash = net.replicas[0]
        .take_photo(JOB, &picture(1, size), &[1; 50])
        .unwrap();
    net.connect(0, 1, false).unwrap();
    // Frames are moved one by one until about half is through.
    while net.replicas[1].file_bytes < size as u64 / 2 {
        for end in 0..2 {
            net.poll_one(0, end);
            net.deliver(0, end);
        }
    }
    let held = net.replicas[1].file_bytes;
    net.crash(1);
    let link = net.connect(1, 0, false).unwrap();
    assert!(net.run(1000));
    finished(&net.links[link]);
    assert!(net.replicas[1].blob(BlobKind::Original, hash).is_some());
    // The thumbnail and each byte of the original, once.
    assert!(held > 50 && held < size as u64);
    assert_eq!(net.replicas[1].file_bytes, size as u64 + 50);
}

#[test]
fn changes_go_before_the_next_piece_of_a_file() {
    let mut net = net(2);
    net.replicas[0]
        .take_photo(JOB, &picture(1, 12 * limits::PHOTO_CHUNK), &[1; 50])
        .unwrap();
    let link = net.connect(0, 1, true).unwrap();
    while net.replicas[1].file_bytes < 3 * limits::PHOTO_CHUNK as u64 {
        for end in 0..2 {
            net.poll_one(link, end);
            net.deliver(link, end);
        }
    }
    let before = net.replicas[1].file_bytes;
    let author = net.replicas[0].author();
    assert!(net.record(0, JOB, "found meanwhile"));
    while !net.replicas[1].changes(JOB).contains_key(&(author, 2)) {
        for end in 0..2 {
            net.poll_one(link, end);
            net.deliver(link, end);
        }
    }
    let ahead = (net.replicas[1].file_bytes - before) / limits::PHOTO_CHUNK as u64;
    assert!(
        ahead <= limits::PHOTO_WINDOW as u64,
        "{ahead} pieces went first"
    );
    assert!(net.run(1000));
    assert!(
        net.links[link]
            .sessions
            .iter()
            .all(|session| session.is_settled())
    );
}

#[test]
fn no_more_pieces_are_on_their_way_than_the_window() {
    let mut net = net(2);
    net.replicas[0]
        .take_photo(JOB, &picture(1, 12 * limits::PHOTO_CHUNK), &[])
        .unwrap();
    let link = net.connect(0, 1, false).unwrap();
    while net.replicas[1].file_bytes == 0 {
        for end in 0..2 {
            net.poll_one(link, end);
            net.deliver(link, end);
        }
    }
    while net.deliver(link, 0) || net.deliver(link, 1) {}
    for _ in 0..limits::PHOTO_WINDOW {
        net.poll(link, 0);
    }
    assert!(net.links[link].wires[0].len() <= limits::PHOTO_WINDOW);
    assert!(net.run(1000));
    finished(&net.links[link]);
}

#[test]
fn what_the_peer_lacks_is_no_hindrance_and_comes_when_it_is_there() {
    let mut net = net(3);
    let original = picture(3, 5000);
    let hash = net.replicas[0]
        .take_photo(JOB, &original, &[3; 40])
        .unwrap();
    // The second replica has the record and the thumbnail, not the original.
    let link = net
        .connect_with(0, 1, |config| config.originals = false)
        .unwrap();
    assert!(net.run(1000));
    finished(&net.links[link]);
    assert!(net.replicas[1].blob(BlobKind::Thumbnail, hash).is_some());
    assert!(net.replicas[1].blob(BlobKind::Original, hash).is_none());
    net.links.clear();
    let link = net.connect(1, 2, true).unwrap();
    assert!(net.run(1000));
    assert!(
        net.links[link]
            .sessions
            .iter()
            .all(|session| session.is_settled())
    );
    assert!(net.replicas[2].blob(BlobKind::Original, hash).is_none());
    // The original arrives at the second replica by another way, and reaches the third.
    let other = net.connect(0, 1, false).unwrap();
    assert!(net.run(1000));
    finished(&net.links[other]);
    assert_eq!(
        net.replicas[2].blob(BlobKind::Original, hash),
        Some(original.as_slice())
    );
    assert!(
        net.links[link]
            .sessions
            .iter()
            .all(|session| session.is_settled())
    );
}

#[test]
fn a_photo_taken_while_the_session_is_live_follows_its_record() {
    let mut net = net(2);
    let link = net.connect(0, 1, true).unwrap();
    assert!(net.run(1000));
    for seed in 0..3 {
        let hash = net.replicas[0]
            .take_photo(JOB, &picture(seed, 3000), &[seed; 40])
            .unwrap();
        net.wake(0, JOB);
        assert!(net.run(1000));
        assert!(net.replicas[1].blob(BlobKind::Original, hash).is_some());
        assert!(
            net.links[link]
                .sessions
                .iter()
                .all(|session| session.is_settled())
        );
    }
}

#[test]
fn a_file_that_is_not_its_photo_is_refused_and_the_rest_comes() {
    let mut net = net(2);
    let bad = net.replicas[0]
        .take_photo(JOB, &picture(1, 3 * limits::PHOTO_CHUNK), &[1; 40])
        .unwrap();
    let good = net.replicas[0]
        .take_photo(JOB, &picture(2, 4000), &[2; 40])
        .unwrap();
    net.replicas[0].put_blob(
        BlobKind::Original,
        bad,
        &picture(9, 3 * limits::PHOTO_CHUNK),
    );
    let link = net.connect(0, 1, false).unwrap();
    assert!(net.run(1000));
    finished(&net.links[link]);
    assert!(net.replicas[1].blob(BlobKind::Original, bad).is_none());
    assert!(net.replicas[1].blob(BlobKind::Original, good).is_some());
    let refused = |by_peer| Event::FileRefused {
        kind: BlobKind::Original,
        hash: bad,
        by_peer,
    };
    assert!(net.links[link].events[0].contains(&refused(true)));
    assert!(net.links[link].events[1].contains(&refused(false)));
    let peer = net.replicas[1].device().id;
    assert!(!net.replicas[0].peer_holds_blob(peer, BlobKind::Original, bad));
}

#[test]
fn pages_of_wishes_reach_every_file() {
    let mut net = net(2);
    let count = 2 * limits::WANT_PAGE + 10;
    for n in 0..count {
        let original = format!("picture {n}");
        net.replicas[0]
            .take_photo(JOB, original.as_bytes(), b"small")
            .unwrap();
    }
    // Every third original is not here.
    for n in (0..count).step_by(3) {
        let hash = PhotoHash::of(format!("picture {n}").as_bytes());
        net.replicas[0].remove_blob(BlobKind::Original, hash);
    }
    let link = net.connect(0, 1, false).unwrap();
    assert!(net.run(10_000));
    finished(&net.links[link]);
    assert_eq!(
        net.replicas[1].blobs_complete(),
        2 * count - count.div_ceil(3)
    );
}

#[test]
fn a_full_disk_ends_the_session_and_nothing_is_said_to_be_kept() {
    let mut net = net(2);
    assert!(net.record(0, JOB, "one"));
    net.replicas[1].fail_next_accept = true;
    let link = net.connect(0, 1, false).unwrap();
    assert!(net.run(1000));
    for end in 0..2 {
        assert_eq!(ended(&net.links[link], end), Some(Reason::Storage));
    }
    let peer = net.replicas[1].device().id;
    assert!(net.replicas[0].peer_holds(peer, JOB).is_empty());
    let link = net.connect(0, 1, false).unwrap();
    assert!(net.run(1000));
    finished(&net.links[link]);
    assert_eq!(net.replicas[0].peer_holds(peer, JOB).len(), 1);
}

#[test]
fn a_word_lost_with_the_link_is_asked_for_again() {
    let mut net = net(2);
    let hash = net.replicas[0]
        .take_photo(JOB, &picture(1, 5000), &[1; 40])
        .unwrap();
    let link = net.connect(0, 1, false).unwrap();
    let kind = BlobKind::Original;
    loop {
        net.poll_one(link, 0);
        net.deliver(link, 0);
        if net.replicas[1].blob(kind, hash).is_some() {
            break;
        }
        net.poll_one(link, 1);
        net.deliver(link, 1);
    }
    // The file is there, and the link breaks before the sender hears of it.
    net.cut(link);
    let peer = net.replicas[1].device().id;
    assert!(!net.replicas[0].peer_holds_blob(peer, kind, hash));
    let came = net.replicas[1].file_bytes;
    let link = net.connect(1, 0, false).unwrap();
    assert!(net.run(1000));
    finished(&net.links[link]);
    for kind in [BlobKind::Thumbnail, kind] {
        assert!(net.replicas[0].peer_holds_blob(peer, kind, hash));
    }
    assert_eq!(net.replicas[1].file_bytes, came);
    let kept = Event::PeerKeptFile { kind, hash };
    assert!(net.links[link].events[1].contains(&kept));
}
