//! What an exchange of real changes costs on the wire.

use automerge::transaction::{CommitOptions, Transactable};
use automerge::{AutoCommit, ObjType, ROOT};

use super::{JOB, finished, net};
use crate::sync::testing::Net;

/// So many findings of a crew member, each one change, as a record of a dozen fields.
fn record_half(net: &mut Net, replica: usize, findings: u32) -> Vec<u8> {
    let author = net.replicas[replica].author();
    let mut document = AutoCommit::new().with_actor(author.to_bytes().to_vec().into());
    let mut raw = Vec::new();
    for n in 0..findings {
        let seed = blake3::hash(&[n.to_be_bytes().as_slice(), &[replica as u8]].concat());
        let id = crate::job::RecordId::new(1_700_000_000_000 + i64::from(n) * 40_000, {
            let mut random = [0; 10];
            random.copy_from_slice(&seed.as_bytes()[..10]);
            random
        });
        let pick = |at: usize, words: &[&str]| {
            words[usize::from(seed.as_bytes()[at]) % words.len()].to_owned()
        };
        let record = document
            .put_object(ROOT, format!("finding/{id}"), ObjType::Map)
            .unwrap();
        for (key, words) in [
            (
                "component",
                ["shingle", "gutter", "screen", "fascia", "soft metal"].as_slice(),
            ),
            ("mark", &["hit", "crease", "tear", "dent", "split"]),
            ("cause", &["hail", "wind", "wear", "mechanical"]),
            ("side", &["front", "right", "rear", "left"]),
            ("certainty", &["seen", "likely", "unsure"]),
        ] {
            document
                .put(
                    &record,
                    key,
                    pick(usize::from(key.as_bytes()[0] % 20), words),
                )
                .unwrap();
        }
        document
            .put(&record, "count", i64::from(seed.as_bytes()[25] % 12))
            .unwrap();
        document
            .put(&record, "mm", f64::from(seed.as_bytes()[26]) / 4.0)
            .unwrap();
        document
            .put(
                &record,
                "note",
                format!(
                    "about {} in from the {}",
                    seed.as_bytes()[27],
                    pick(28, &["eave", "rake", "ridge"])
                ),
            )
            .unwrap();
        let message = format!(
            "recorded a finding on the {}",
            pick(29, &["front", "right", "rear", "left"])
        );
        let time = 1_700_000_000 + i64::from(n) * 40;
        document.commit_with(
            CommitOptions::default()
                .with_message(message)
                .with_time(time),
        );
        let change = document.get_last_local_change().unwrap();
        raw.extend_from_slice(change.raw_bytes());
        net.replicas[replica]
            .record_chunk(JOB, change.raw_bytes().to_vec())
            .unwrap();
    }
    raw
}

#[test]
fn two_halves_cost_at_most_a_tenth_more_than_their_compressed_changes() {
    let mut net = net(2);
    let mut baseline = 0;
    for replica in 0..2 {
        // Each direction is one stream; the level is the library's default.
        let raw = record_half(&mut net, replica, 300);
        baseline += zstd::bulk::compress(&raw, 3).unwrap().len() as u64;
    }
    let link = net.connect(0, 1, false).unwrap();
    assert!(net.run(1000));
    finished(&net.links[link]);
    assert!(net.replicas[0].same_content(&net.replicas[1]));
    let bytes: u64 = net.links[link].bytes.iter().sum();
    let ratio = bytes as f64 / baseline as f64;
    println!(
        "two halves of 300 findings: {bytes} bytes in all, compressed changes {baseline}, ratio {ratio:.3}"
    );
    assert!(ratio <= 1.1, "{ratio:.3}");
}
