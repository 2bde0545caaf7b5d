//! What an exchange does on a good link.

use super::{JOB, finished, net};
use crate::job::{BlobKind, JobId};
use crate::limits;
use crate::sync::testing::{MemoryReplica, Net, Office, change_chunk};
use crate::sync::{ChunkHead, Ending, Event};

fn fill(net: &mut Net, replica: usize, job: JobId, changes: usize) {
    for n in 0..changes {
        assert!(net.record(replica, job, &format!("change {n} of {replica}")));
    }
}

fn each_came_once(replica: &MemoryReplica) {
    assert!(replica.arrivals.values().all(|count| *count == 1));
}

#[test]
fn two_halves_meet_in_two_round_trips_after_the_handshake() {
    let mut net = net(2);
    fill(&mut net, 0, JOB, 300);
    fill(&mut net, 1, JOB, 200);
    let link = net.connect(0, 1, false).unwrap();
    let turns = net.run_in_turns(link, 50);
    finished(&net.links[link]);
    assert!(net.replicas[0].same_content(&net.replicas[1]));
    assert_eq!(net.replicas[0].changes(JOB).len(), 500);
    assert_eq!(net.replicas[0].arrivals.len(), 200);
    assert_eq!(net.replicas[1].arrivals.len(), 300);
    net.replicas.iter().for_each(each_came_once);
    // Greeting and proof are the handshake. Digests, tables, batches, acknowledgements: two round
    // trips. The word that all is done and the farewell wait for nothing that was asked for.
    let handshake = 2;
    assert!(turns <= handshake + 4 + 1, "{turns} turns");
    let kept = |event: &Event| matches!(event, Event::PeerKept { .. });
    assert!(
        net.links[link]
            .events
            .iter()
            .all(|events| events.iter().any(kept))
    );
}

#[test]
fn each_side_knows_what_the_other_holds() {
    let mut net = net(2);
    fill(&mut net, 0, JOB, 3);
    fill(&mut net, 1, JOB, 2);
    let link = net.connect(0, 1, false).unwrap();
    assert!(net.run(1000));
    finished(&net.links[link]);
    for (me, peer) in [(0, 1), (1, 0)] {
        let device = net.replicas[peer].device().id;
        let held = net.replicas[me].peer_holds(device, JOB);
        assert_eq!(held.values().map(|held| held.number).sum::<u64>(), 5);
    }
}

#[test]
fn a_reconnect_with_nothing_new_costs_less_than_two_hundred_bytes() {
    let mut net = net(2);
    fill(&mut net, 0, JOB, 30);
    let link = net.connect(0, 1, false).unwrap();
    assert!(net.run(1000));
    finished(&net.links[link]);
    let link = net.connect(0, 1, false).unwrap();
    // The handshake: a greeting and a proof each.
    for _ in 0..2 {
        for end in 0..2 {
            assert!(net.poll_one(link, end));
        }
        for end in 0..2 {
            assert!(net.deliver(link, end));
        }
    }
    let (handshake, frames) = (net.links[link].bytes, net.links[link].frames);
    assert_eq!(frames, [2, 2]);
    assert!(net.run(1000));
    finished(&net.links[link]);
    let link = &net.links[link];
    let bytes: u64 = (0..2).map(|end| link.bytes[end] - handshake[end]).sum();
    let frames: u64 = (0..2).map(|end| link.frames[end] - frames[end]).sum();
    let on_a_stream = bytes + 4 * frames;
    println!(
        "reconnect with nothing new: {bytes} bytes in {frames} frames, {on_a_stream} on a stream"
    );
    assert!(on_a_stream <= 200, "{on_a_stream} bytes");
}

#[test]
fn a_third_device_gets_relayed_changes_under_their_authors_names() {
    let mut net = net(3);
    fill(&mut net, 0, JOB, 20);
    let link = net.connect(0, 1, false).unwrap();
    assert!(net.run(1000));
    finished(&net.links[link]);
    fill(&mut net, 1, JOB, 5);
    let link = net.connect(1, 2, false).unwrap();
    assert!(net.run(1000));
    finished(&net.links[link]);
    assert!(net.replicas[2].same_content(&net.replicas[1]));
    each_came_once(&net.replicas[2]);
    let link = net.connect(2, 0, false).unwrap();
    assert!(net.run(1000));
    finished(&net.links[link]);
    assert!(net.replicas[2].same_content(&net.replicas[0]));
}

#[test]
fn live_sessions_carry_news_and_each_change_once() {
    let mut net = net(2);
    let link = net.connect(0, 1, true).unwrap();
    assert!(net.run(1000));
    assert!(
        net.links[link]
            .sessions
            .iter()
            .all(|s| s.is_settled() && !s.has_ended())
    );
    for round in 0..10 {
        fill(&mut net, 0, JOB, 3);
        fill(&mut net, 1, JOB, 2);
        assert!(net.run(1000), "round {round}");
        assert!(net.replicas[0].same_content(&net.replicas[1]));
        assert!(net.links[link].sessions.iter().all(|s| s.is_settled()));
    }
    net.replicas.iter().for_each(each_came_once);
    net.links[link].sessions[0].leave();
    assert!(net.run(1000));
    finished(&net.links[link]);
}

#[test]
fn photos_cross_after_the_changes_thumbnails_first() {
    let mut net = net(2);
    let mut hashes = Vec::new();
    for n in 0..40u8 {
        let original = vec![n; 300_000 + usize::from(n)];
        hashes.push(
            net.replicas[0]
                .take_photo(JOB, &original, &[n; 900])
                .unwrap(),
        );
    }
    let link = net.connect(0, 1, false).unwrap();
    assert!(net.run(10_000));
    finished(&net.links[link]);
    assert!(net.replicas[0].same_content(&net.replicas[1]));
    let came: Vec<_> = net.links[link].events[1]
        .iter()
        .filter_map(|event| match event {
            Event::TookFile { kind, hash, .. } => Some((*kind, *hash)),
            _ => None,
        })
        .collect();
    let expected: Vec<_> = [BlobKind::Thumbnail, BlobKind::Original]
        .into_iter()
        .flat_map(|kind| hashes.iter().map(move |hash| (kind, *hash)))
        .collect();
    assert_eq!(came, expected);
    assert_eq!(
        net.replicas[1].file_bytes,
        40 * 900 + 40 * 300_000 + (0..40).sum::<u64>()
    );
    let peer = net.replicas[1].device().id;
    assert!(
        hashes
            .iter()
            .all(|h| net.replicas[0].peer_holds_blob(peer, BlobKind::Original, *h))
    );
    let progress = net.links[link].sessions[1].progress();
    assert_eq!(
        (progress.thumbnails_taken, progress.originals_taken),
        (40, 40)
    );
    assert_eq!((progress.thumbnails_due, progress.originals_due), (0, 0));
}

#[test]
fn a_copied_device_is_found_out_on_both_sides() {
    let mut net = net(2);
    let link = net.connect(0, 1, false).unwrap();
    assert!(net.run(100));
    finished(&net.links[link]);
    // The second replica relays what a copy of the first has written.
    let mut copy = net.replicas[0].clone();
    fill(&mut net, 0, JOB, 2);
    copy.record(JOB, "something else").unwrap();
    let mut other = Net::new(vec![copy, net.replicas[1].clone()]);
    other.connect(0, 1, false).unwrap();
    assert!(other.run(100));
    net.replicas[1] = other.replicas.remove(1);
    let link = net.connect(0, 1, false).unwrap();
    assert!(net.run(100));
    let device = net.replicas[0].device().id;
    for events in &net.links[link].events {
        let forked = |event: &Event| matches!(event, Event::Ended(Ending { forked: Some((d, 1)), .. }) if *d == device);
        assert!(events.iter().any(forked), "{events:?}");
    }
}

#[test]
fn a_change_head_reads_as_the_document_library_reads_it() {
    // Source of the layout: automerge.org, "Binary Document Format". The library is the judge.
    let author = crate::document::Author {
        device: Office::new(1).device(1).unwrap().id,
        nonce: [9; 8],
    };
    let long = "long ".repeat(40);
    for (number, words) in [(1, ""), (2, "a note"), (300, long.as_str())] {
        let bytes = change_chunk(author, number, &[[3; 32], [4; 32]], words);
        let head = ChunkHead::read(&bytes).unwrap();
        let change = automerge::Change::from_bytes(bytes).unwrap();
        assert_eq!(change.actor_id().to_bytes(), author.to_bytes());
        assert_eq!((head.author, head.number), (author, change.seq()));
        assert_eq!(head.hash, change.hash().0);
        let builds_on: Vec<[u8; 32]> = change.deps().iter().map(|hash| hash.0).collect();
        assert_eq!(head.builds_on, builds_on);
    }
    let mut document = automerge::AutoCommit::new().with_actor(author.to_bytes().to_vec().into());
    use automerge::transaction::Transactable;
    document.put(automerge::ROOT, "eave", "seen").unwrap();
    let change = document.get_last_local_change().unwrap();
    let head = ChunkHead::read(change.raw_bytes()).unwrap();
    assert_eq!(
        (head.author, head.number, head.hash),
        (author, 1, change.hash().0)
    );
    assert!(change.raw_bytes().len() < limits::CHANGE_BYTES);
}

#[test]
fn a_session_may_be_about_some_jobs_only() {
    let mut net = net(2);
    let other = JobId::from_bytes([8; 16]);
    for replica in 0..2 {
        fill(&mut net, replica, JOB, 2);
        fill(&mut net, replica, other, 2);
    }
    let only = Some([JOB].into());
    let link = net.connect_with(0, 1, |config| {
        if config.initiator {
            config.jobs = only.clone();
        }
    });
    assert!(net.run(1000));
    finished(&net.links[link.unwrap()]);
    assert_eq!(net.replicas[0].changes(JOB).len(), 4);
    assert_eq!(net.replicas[1].changes(JOB).len(), 4);
    assert_eq!(net.replicas[0].changes(other).len(), 2);
    assert_eq!(net.replicas[1].changes(other).len(), 2);
}

#[test]
fn a_job_that_is_not_exchanged_is_left_out_and_the_rest_goes_on() {
    let mut net = net(2);
    let other = JobId::from_bytes([8; 16]);
    fill(&mut net, 0, JOB, 2);
    fill(&mut net, 0, other, 2);
    net.replicas[1].forbidden.insert(other);
    let link = net.connect(0, 1, false).unwrap();
    assert!(net.run(1000));
    finished(&net.links[link]);
    assert_eq!(net.replicas[1].changes(JOB).len(), 2);
    assert_eq!(net.replicas[1].changes(other).len(), 0);
    let declined = |by_peer| Event::Declined {
        job: other,
        by_peer,
    };
    assert!(net.links[link].events[0].contains(&declined(true)));
    assert!(net.links[link].events[1].contains(&declined(false)));
}

#[test]
fn a_device_with_an_older_copy_of_its_store_gets_its_own_changes_back() {
    let mut net = net(2);
    fill(&mut net, 0, JOB, 3);
    let older = net.replicas[0].clone();
    fill(&mut net, 0, JOB, 3);
    let link = net.connect(0, 1, false).unwrap();
    assert!(net.run(1000));
    finished(&net.links[link]);
    net.replicas[0] = older;
    net.replicas[0].set_nonce(99);
    fill(&mut net, 0, JOB, 2);
    let link = net.connect(0, 1, false).unwrap();
    assert!(net.run(1000));
    finished(&net.links[link]);
    assert!(net.replicas[0].same_content(&net.replicas[1]));
    assert_eq!(net.replicas[0].changes(JOB).len(), 8);
}

#[test]
fn many_small_jobs_cross_in_one_session() {
    let mut net = net(2);
    for n in 0..600u16 {
        let mut id = [0; 16];
        id[..2].copy_from_slice(&n.to_be_bytes());
        fill(&mut net, usize::from(n % 2), JobId::from_bytes(id), 1);
    }
    let link = net.connect(0, 1, false).unwrap();
    let turns = net.run_in_turns(link, 100);
    finished(&net.links[link]);
    assert!(net.replicas[0].same_content(&net.replicas[1]));
    assert!(turns <= 11, "{turns} turns");
}
