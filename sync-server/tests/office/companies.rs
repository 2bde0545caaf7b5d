//! Two companies on one server have nothing in common but the machine.

use chalkwalk_core::job::{Role, Side};
use chalkwalk_core::sync::Reason;
use chalkwalk_sync_server::enrol::invite;
use chalkwalk_sync_server::serve::{ServeConfig, companies};
use chalkwalk_sync_server::transport::{Then, sync_ws};

use crate::stage::{Browser, HOUR, Phone, Server, get};

#[test]
fn each_company_has_its_own_key_jobs_devices_and_people() {
    let folder = tempfile::tempdir().unwrap();
    let data = folder.path().join("office");
    let other_data = data.join("companies/other");
    companies::add(&data, "other", "Other Roofing").unwrap();
    let config = ServeConfig {
        data: data.clone(),
        company: Some("Alder Roofing".into()),
        ..ServeConfig::default()
    };
    let server = Server::run(config).unwrap();
    let at = server.ready.listen;
    assert_eq!(server.ready.first_links.len(), 2);
    assert!(server.ready.first_links[1].starts_with("/at/other/once/"));
    let theirs_at = format!("http://{at}/at/other");

    // A code of one company counts nothing at the other.
    let code = invite(&other_data, Role::Crew, "", HOUR).unwrap();
    let mut cy = Phone::new("Cy");
    assert!(cy.enrol(&server.address(), &code.code, None).is_err());
    let joined = cy.enrol(&theirs_at, &code.code, Some(&code.pin)).unwrap();
    assert_eq!(joined.company_name, "Other Roofing");
    assert_ne!(code.pin, server.ready.pin);

    let mut ada = Phone::enrolled("Ada", &server);
    let (ours, theirs) = (ada.begin(), cy.begin());
    ada.photo(ours, Side::Front, 1, 60);
    ada.sync(&server);
    let mut sync = |address: &str| {
        let config = cy.notebook.session(true, None, true).unwrap();
        let then = &mut |_: &chalkwalk_core::sync::Event| Then::GoOn;
        sync_ws(address, &mut cy.notebook, config, then).unwrap()
    };
    let done = sync(&theirs_at);
    assert_eq!(done.ending.unwrap().reason, Reason::Finished);
    assert_eq!(
        sync(&server.address()).ending.unwrap().reason,
        Reason::Identity
    );

    let boss = Browser::entered(at, "/at/other", &other_data, "Boss", Role::Admin);
    let list = boss.text("/at/other/");
    assert!(list.contains("Other Roofing") && list.contains(&theirs.to_string()));
    assert!(!list.contains(&ours.to_string()));
    for link in ["href=\"/\"", "href=\"/jobs", "action=\"/sign-out\""] {
        assert!(
            !list.contains(link),
            "{link} leads out of the company: {list}"
        );
    }
    assert_eq!(boss.get(&format!("/at/other/jobs/{theirs}")).0, 200);
    assert_eq!(boss.get(&format!("/at/other/jobs/{ours}")).0, 404);
    assert_eq!(boss.get("/").0, 303);
    assert_eq!(boss.get("/at/other/devices").0, 200);
    let theirs_of_ours = server.admin().get("/at/other/");
    assert_eq!(theirs_of_ours.0, 303);
    assert_eq!(
        theirs_of_ours.1["location"].to_str().unwrap(),
        "/at/other/sign-in?to=/at/other/"
    );
    let token = ada.token(at, "").unwrap();
    assert!(cy.token(at, "").is_err());
    let bearer = format!("Bearer {token}");
    let path = format!("/at/other/photos/{}?job={ours}", "0".repeat(64));
    assert_eq!(get(at, &path, &[("authorization", &bearer)]).0, 401);
    assert_eq!(get(at, "/at/nobody/", &[]).0, 404);
    // Whoever watches the server asks at the root.
    assert_eq!(
        (
            get(at, "/metrics", &[]).0,
            get(at, "/at/other/metrics", &[]).0
        ),
        (200, 404)
    );
    server.stop();
}

#[test]
fn a_company_that_is_added_stands_without_a_restart() {
    let folder = tempfile::tempdir().unwrap();
    let data = folder.path().join("office");
    let server = Server::start(&data);
    let at = server.ready.listen;
    assert_eq!(get(at, "/at/late/health", &[]).0, 404);
    companies::add(&data, "late", "Late Roofing").unwrap();
    let began = std::time::Instant::now();
    while get(at, "/at/late/health", &[]).0 != 200 {
        assert!(began.elapsed() < std::time::Duration::from_secs(20));
        std::thread::sleep(std::time::Duration::from_millis(100));
    }
    let late = data.join("companies/late");
    let boss = Browser::entered(at, "/at/late", &late, "Boss", Role::Admin);
    assert!(boss.text("/at/late/").contains("Late Roofing"));
    assert_eq!(boss.get("/").0, 303);
    let code = invite(&late, Role::Crew, "", HOUR).unwrap();
    let mut cy = Phone::new("Cy");
    let address = format!("http://{at}/at/late");
    cy.enrol(&address, &code.code, Some(&code.pin)).unwrap();
    cy.begin();
    let config = cy.notebook.session(true, None, true).unwrap();
    let then = &mut |_: &chalkwalk_core::sync::Event| Then::GoOn;
    let done = sync_ws(&address, &mut cy.notebook, config, then).unwrap();
    assert_eq!(done.ending.unwrap().reason, Reason::Finished);
    assert_eq!(get(at, "/at/late/metrics", &[]).0, 404);
    assert_eq!(get(at, "/at/later/health", &[]).0, 404);
    // It ends in order although somebody is there.
    server.stop();
}
