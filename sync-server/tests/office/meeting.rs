//! Two phones on one network, with no server.

use chalkwalk_core::job::Side;
use chalkwalk_sync_server::transport::{LinkError, Then, sync_tcp, tcp_connect, tcp_listen};

use crate::stage::{Phone, Server};

#[test]
fn two_phones_exchange_both_ways() {
    let folder = tempfile::tempdir().unwrap();
    let server = Server::start(folder.path());
    let (mut rep, mut helper) = (
        Phone::enrolled("Ada", &server),
        Phone::enrolled("Ben", &server),
    );
    server.stop();
    let job = rep.begin();
    for seed in 1..=4 {
        rep.photo(job, Side::Front, seed, 700);
    }
    let other = helper.begin();
    for seed in 5..=8 {
        helper.photo(other, Side::Rear, seed, 700);
    }
    let meeting = tcp_listen("127.0.0.1:0").unwrap();
    let address = meeting.address().unwrap().to_string();
    let waiting = helper.notebook.session(false, None, true).unwrap();
    let waiter = std::thread::spawn(move || {
        let stream = meeting.meet().unwrap();
        let outcome = sync_tcp(stream, &mut helper.notebook, waiting, &mut |_| Then::GoOn);
        (helper, outcome.unwrap())
    });
    let coming = rep.notebook.session(true, None, true).unwrap();
    let stream = tcp_connect(&address).unwrap();
    let outcome = sync_tcp(stream, &mut rep.notebook, coming, &mut |_| Then::GoOn).unwrap();
    let (mut helper, at_helper) = waiter.join().unwrap();
    assert_eq!(
        (
            outcome.progress.originals_sent,
            outcome.progress.originals_taken
        ),
        (4, 4)
    );
    assert_eq!(at_helper.progress.originals_taken, 4);
    for job in [job, other] {
        assert_eq!(helper.heads(job), rep.heads(job));
        assert!(rep.notebook.missing_originals(job).unwrap().is_empty());
        assert!(helper.notebook.missing_originals(job).unwrap().is_empty());
    }
}

#[test]
fn a_link_that_breaks_is_said_to_be_broken() {
    let folder = tempfile::tempdir().unwrap();
    let server = Server::start(folder.path());
    let mut rep = Phone::enrolled("Ada", &server);
    server.stop();
    let meeting = tcp_listen("127.0.0.1:0").unwrap();
    let address = meeting.address().unwrap().to_string();
    let waiter = std::thread::spawn(move || drop(meeting.meet().unwrap()));
    let config = rep.notebook.session(true, None, true).unwrap();
    let stream = tcp_connect(&address).unwrap();
    let outcome = sync_tcp(stream, &mut rep.notebook, config, &mut |_| Then::GoOn);
    assert!(matches!(outcome, Err(LinkError::Broken)), "{outcome:?}");
    waiter.join().unwrap();
    assert!(matches!(
        tcp_connect(&address),
        Err(LinkError::Unreachable { .. })
    ));
}
