//! Any order of records, cuts, crashes, losses and damage ends in equal replicas.

use proptest::prelude::*;

use super::{JOB, finished, net};
use crate::job::JobId;
use crate::sync::testing::{Fault, Net};

const OTHER: JobId = JobId::from_bytes([9; 16]);

#[derive(Clone, Debug)]
enum Step {
    Record(usize, bool),
    Photo(usize, u8),
    Connect(usize, usize, bool),
    Poll(usize, usize),
    Deliver(usize, usize),
    Run(usize),
    Fault(usize, usize, Fault),
    Cut(usize),
    Crash(usize),
}

fn step() -> impl Strategy<Value = Step> {
    let fault = prop_oneof![
        Just(Fault::Lose),
        Just(Fault::Repeat),
        Just(Fault::Swap),
        any::<usize>().prop_map(Fault::Flip),
    ];
    prop_oneof![
        6 => (any::<usize>(), any::<bool>()).prop_map(|(r, other)| Step::Record(r, other)),
        1 => (any::<usize>(), any::<u8>()).prop_map(|(r, seed)| Step::Photo(r, seed)),
        3 => (any::<usize>(), any::<usize>(), any::<bool>()).prop_map(|(a, b, live)| Step::Connect(a, b, live)),
        6 => (any::<usize>(), 0..2usize).prop_map(|(link, end)| Step::Poll(link, end)),
        8 => (any::<usize>(), 0..2usize).prop_map(|(link, end)| Step::Deliver(link, end)),
        3 => (1..12usize).prop_map(Step::Run),
        2 => (any::<usize>(), 0..2usize, fault).prop_map(|(link, end, fault)| Step::Fault(link, end, fault)),
        1 => any::<usize>().prop_map(Step::Cut),
        1 => any::<usize>().prop_map(Step::Crash),
    ]
}

fn take_photo(net: &mut Net, replica: usize, seed: u8) {
    let original: Vec<u8> = (0..200 + u16::from(seed))
        .map(|n| (n as u8) ^ seed)
        .collect();
    let photo = net.replicas[replica].take_photo(JOB, &original, &[seed; 30]);
    assert!(photo.is_ok());
    net.wake(replica, JOB);
}

fn apply(net: &mut Net, step: Step) {
    let replicas = net.replicas.len();
    let links = net.links.len();
    match step {
        Step::Record(replica, other) => {
            let job = if other { OTHER } else { JOB };
            assert!(net.record(replica % replicas, job, "a finding"));
        }
        Step::Photo(replica, seed) => take_photo(net, replica % replicas, seed),
        Step::Connect(a, b, live) if links < 4 => {
            let a = a % replicas;
            let b = (a + 1 + b % (replicas - 1)) % replicas;
            net.connect(a, b, live).unwrap();
        }
        Step::Poll(link, end) if links > 0 => {
            net.poll_one(link % links, end);
        }
        Step::Deliver(link, end) if links > 0 => {
            net.deliver(link % links, end);
        }
        Step::Run(frames) => {
            net.run(frames);
        }
        Step::Fault(link, end, fault) if links > 0 => {
            net.links[link % links].fault(end, fault);
        }
        Step::Cut(link) if links > 0 => net.cut(link % links),
        Step::Crash(replica) => net.crash(replica % replicas),
        _ => {}
    }
}

/// Meets all pairs on good links, as often as news need to get everywhere.
fn meet(net: &mut Net) {
    net.links.clear();
    let replicas = net.replicas.len();
    for _ in 0..2 {
        for a in 0..replicas {
            for b in a + 1..replicas {
                let link = net.connect(a, b, false).unwrap();
                assert!(net.run(10_000));
                finished(&net.links[link]);
                net.links.clear();
            }
        }
    }
}

fn converge(replicas: u8, steps: Vec<Step>) {
    let mut net = net(replicas);
    steps.into_iter().for_each(|step| apply(&mut net, step));
    meet(&mut net);
    for replica in &net.replicas[1..] {
        assert!(replica.same_content(&net.replicas[0]));
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 1200, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn two_replicas_converge(steps in prop::collection::vec(step(), 0..40)) {
        converge(2, steps);
    }

    #[test]
    fn three_replicas_converge(steps in prop::collection::vec(step(), 0..40)) {
        converge(3, steps);
    }

    /// On links that hold, in a chain of live sessions, no change comes twice to anybody.
    #[test]
    fn each_change_crosses_once(
        replicas in 2..4u8,
        before in prop::collection::vec(any::<usize>(), 0..6),
        steps in prop::collection::vec(
            prop_oneof![
                (any::<usize>(), any::<bool>()).prop_map(|(r, other)| Step::Record(r, other)),
                (any::<usize>(), 0..2usize).prop_map(|(link, end)| Step::Poll(link, end)),
                (any::<usize>(), 0..2usize).prop_map(|(link, end)| Step::Deliver(link, end)),
                (any::<usize>(), any::<u8>()).prop_map(|(r, seed)| Step::Photo(r, seed)),
                (1..12usize).prop_map(Step::Run),
            ],
            0..40,
        ),
    ) {
        let mut net = net(replicas);
        for replica in before {
            assert!(net.record(replica % usize::from(replicas), JOB, "before"));
        }
        for a in 1..usize::from(replicas) {
            net.connect(a - 1, a, true).unwrap();
        }
        steps.into_iter().for_each(|step| apply(&mut net, step));
        prop_assert!(net.run(100_000));
        for link in &net.links {
            prop_assert!(link.sessions.iter().all(|session| session.is_settled()));
        }
        for replica in &net.replicas {
            prop_assert!(replica.same_content(&net.replicas[0]));
            prop_assert!(replica.arrivals.values().all(|count| *count == 1));
            let own = replica.device().id;
            let others = [JOB, OTHER].into_iter().flat_map(|job| replica.changes(job).into_keys());
            let others = others.filter(|(author, _)| author.device != own).count();
            prop_assert_eq!(replica.arrivals.len(), others);
        }
    }
}
