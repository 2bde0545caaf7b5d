//! Devices from the office's side: pictures, shutting out at once, lost phones, who sees what.

use std::time::{Duration, Instant};

use chalkwalk_core::job::{Question, Role, Side};
use chalkwalk_core::notebook::NotebookError;
use chalkwalk_core::sync::{Event, Reason};
use chalkwalk_sync_server::enrol::Ticket;
use chalkwalk_sync_server::serve::open_hub;
use chalkwalk_sync_server::transport::{Then, sync_ws};

use crate::stage::{Phone, Server};

#[test]
fn a_device_joins_by_the_picture() {
    let folder = tempfile::tempdir().unwrap();
    let server = Server::start(folder.path());
    let page = server.admin().post("/devices/invite", "role=crew");
    let page = String::from_utf8(page.2).unwrap();
    assert!(page.contains("<svg "), "{page}");
    let from = page.find("chalkwalk:enrol?").unwrap();
    let text: String = page[from..].chars().take_while(|c| *c != '\'').collect();
    let ticket: Ticket = text.replace("&amp;", "&").parse().unwrap();
    assert_eq!(ticket.address, format!("http://{}", server.ready.listen));
    let mut phone = Phone::new("Ada");
    let joined = phone
        .enrol(&ticket.address, &ticket.code, Some(&ticket.pin))
        .unwrap();
    assert_eq!(joined.contents.role, Role::Crew);
    assert!(server.page("/devices").2.contains("Ada"));
    // An estimator's code is no way to an admin's device.
    let estimator = server.browser("Esti", Role::Estimator);
    assert_eq!(estimator.post("/devices/invite", "role=admin").0, 403);
    assert_eq!(estimator.post("/devices/invite", "role=estimator").0, 200);
    server.stop();
}

/// A live session that is ended by `end`: the reason, and how long that took.
fn ended(server: &Server, phone: Phone, end: impl FnOnce()) -> (Reason, Duration) {
    let mut phone = phone;
    let mut config = phone.notebook.session(true, None, true).unwrap();
    config.live = true;
    let address = server.address();
    let (told, settled) = std::sync::mpsc::channel();
    let session = std::thread::spawn(move || {
        sync_ws(&address, &mut phone.notebook, config, &mut |event| {
            if matches!(event, Event::Settled) {
                told.send(()).unwrap();
            }
            Then::GoOn
        })
    });
    settled.recv().unwrap();
    let began = Instant::now();
    end();
    let ending = session.join().unwrap().unwrap().ending.unwrap();
    (ending.reason, began.elapsed())
}

#[test]
fn shutting_out_ends_live_sessions_at_once_also_from_another_process() {
    let folder = tempfile::tempdir().unwrap();
    let server = Server::start(folder.path());
    let ada = Phone::enrolled("Ada", &server);
    let device = ada.notebook.identity().device;
    let (_, took) = ended(&server, ada, || {
        let path = format!("/devices/{device}/revoke");
        assert_eq!(server.admin().post(&path, "").0, 303);
    });
    assert!(took < Duration::from_secs(5), "{took:?}");

    let ben = Phone::enrolled("Ben", &server);
    let device = ben.notebook.identity().device;
    // As a command does: through the folder, with a hub of its own.
    let (_, took) = ended(&server, ben, || {
        let runtime = tokio::runtime::Runtime::new().unwrap();
        runtime.block_on(async {
            let hub = open_hub(&server.data, None).await.unwrap();
            assert!(hub.revoke(device).await.unwrap());
        });
    });
    assert!(took < Duration::from_secs(8), "{took:?}");
    server.stop();
}

#[test]
fn a_lost_phone_is_shut_out_and_what_it_had_is_said() {
    let folder = tempfile::tempdir().unwrap();
    let server = Server::start(folder.path());
    let mut rep = Phone::enrolled("Ada", &server);
    let job = rep.begin();
    rep.photo(job, Side::Front, 1, 60);
    rep.sync_changes(&server);
    let device = rep.notebook.identity().device;
    let page = server.admin().post(&format!("/devices/{device}/lost"), "");
    let page = String::from_utf8(page.2).unwrap();
    for part in [
        "12 Alder Way",
        "shut out",
        "<dt>Code</dt>",
        "Originals not handed in",
    ] {
        assert!(page.contains(part), "{part}: {page}");
    }
    let after = rep.sync(&server);
    assert_eq!(after.ending.unwrap().reason, Reason::Forbidden);
    assert!(rep.token(server.ready.listen, "").is_err());
    assert_eq!(
        server
            .admin()
            .post(&format!("/devices/{device}/reinstate"), "")
            .0,
        303
    );
    assert_eq!(rep.sync(&server).ending.unwrap().reason, Reason::Finished);
    let audit = server.page("/audit").2;
    for deed in [
        "reported a device lost",
        "let a device in again",
        "made a code for a device",
    ] {
        assert!(audit.contains(deed), "{deed}");
    }
    server.stop();
}

#[test]
fn a_crew_sees_its_jobs_and_asks_no_question_of_the_office() {
    let folder = tempfile::tempdir().unwrap();
    let server = Server::start(folder.path());
    let (mut rep, mut other) = (
        Phone::enrolled("Ada", &server),
        Phone::enrolled("Ben", &server),
    );
    let job = rep.begin();
    rep.sync(&server);
    let device = rep.notebook.identity().device;
    let form = format!("device={device}");
    assert_eq!(
        server.admin().post(&format!("/jobs/{job}/assign"), &form).0,
        303
    );
    other.sync(&server);
    assert!(other.notebook.jobs().unwrap().is_empty());
    let crew = server.browser("Crew", Role::Crew);
    assert_eq!(crew.get(&format!("/jobs/{job}")).0, 404);
    assert!(!crew.text("/").contains(&job.to_string()));
    assert_eq!(
        server
            .admin()
            .post(&format!("/jobs/{job}/assign"), "device=x")
            .0,
        422
    );
    assert_eq!(
        server
            .admin()
            .post(&format!("/jobs/{job}/unassign"), &form)
            .0,
        303
    );
    other.sync(&server);
    assert_eq!(other.notebook.jobs().unwrap(), [job]);
    assert_eq!(crew.get(&format!("/jobs/{job}")).0, 200);
    assert_eq!(
        server.admin().post(&format!("/jobs/{job}/close"), "").0,
        303
    );
    assert_eq!(crew.get(&format!("/jobs/{job}")).0, 404);
    assert_eq!(server.admin().post(&format!("/jobs/{job}/open"), "").0, 303);

    let asked = rep.notebook.add(job, Question::default());
    assert!(
        matches!(asked, Err(NotebookError::OfficeOnly(_))),
        "{asked:?}"
    );
    server.stop();
}
