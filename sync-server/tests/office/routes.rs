//! Every route of the table, with every wrong credential and with the right one.

use std::collections::{BTreeMap, BTreeSet};
use std::net::SocketAddr;
use std::path::Path;

use chalkwalk_core::job::{DeviceId, Millis, Role, hex};
use chalkwalk_sync_server::env::{SystemEnv, now};
use chalkwalk_sync_server::people::Secret;
use chalkwalk_sync_server::serve::{ROUTES, Route, ServeConfig, Takes, companies, description};
use chalkwalk_sync_server::store::{Accounts, Purpose};

use crate::site::Site;
use crate::stage::{Answer, Browser, Phone, Server, ask};

/// Routes that ask for nothing: a further one must be listed here, with a reason.
const OPEN: &[(&str, &str)] = &[
    ("/health", "a watching program has no credentials"),
    ("/ready", "a watching program has no credentials"),
    ("/openapi.json", "it says what the source says"),
    (
        "/field",
        "the crew's page holds nothing until its phone is enrolled",
    ),
    ("/field/", "as /field"),
    ("/field/{*file}", "as /field"),
    ("/style.css", "the page to sign in needs it"),
    ("/assets/{file}", "the page to sign in needs its letters"),
    ("/sign-in", "signing in begins here"),
];
/// Routes that check what stands in the request: a code, or a proof of the device's key.
const PROVEN_WITHIN: &[&str] = &["/enrol", "/sync", "/token/challenge", "/token"];

fn call(at: SocketAddr, site: &Site, route: &Route, token: &str, held: &[(&str, &str)]) -> Answer {
    let path = site.path(route, token);
    let body = site.body(route);
    let mut headers = held.to_vec();
    if !held.iter().any(|(name, _)| *name == "sec-fetch-site") {
        headers.push(("sec-fetch-site", "same-origin"));
    }
    if route.path != "/photos/lacking" {
        headers.push(("content-type", "application/x-www-form-urlencoded"));
    }
    headers.push(("upload-offset", "0"));
    ask(route.method.as_str(), at, &path, &headers, body.as_deref())
}

/// A token as the server of a data folder would make it, with another end.
fn crafted(data: &Path, company: &[u8; 16], device: DeviceId, ends: Millis) -> String {
    let mut secret = std::fs::read(data.join("keys/server.key")).unwrap();
    secret.extend_from_slice(company);
    let key = blake3::derive_key("chalkwalk http token key v1", &secret);
    let mut body = device.as_bytes().to_vec();
    body.extend_from_slice(&ends.to_be_bytes());
    body.extend_from_slice(&[7; 16]);
    let mut hasher = blake3::Hasher::new_keyed(&key);
    hasher.update(b"token\0").update(&body);
    body.extend_from_slice(hasher.finalize().as_bytes());
    hex(&body)
}

#[test]
fn each_route_refuses_each_wrong_credential() {
    let folder = tempfile::tempdir().unwrap();
    let data = folder.path().join("office");
    chalkwalk_sync_server::serve::companies::add(&data, "other", "Other Roofing").unwrap();
    let config = ServeConfig {
        data: data.clone(),
        company: Some("Alder Roofing".into()),
        ..ServeConfig::default()
    };
    let server = Server::run(config).unwrap();
    let at = server.ready.listen;
    let (ours, phone) = Site::open(&server, "", &data, 1);
    let (theirs, _) = Site::open(&server, "/at/other", &data.join("companies/other"), 2);
    let later = now() + 3_600_000;

    // Another crew's device, which sees neither job; one that is shut out; one whose time is over.
    let stranger = Phone::enrolled("Ben", &server).token(at, "").unwrap();
    let lost = Phone::enrolled("Cy", &server);
    let revoked = lost.token(at, "").unwrap();
    let company = *phone.notebook.office().unwrap().company.as_bytes();
    let expired = crafted(&data, &company, ours.device, now() - 1);
    let good_enough = crafted(&data, &company, ours.device, later);
    assert_eq!(
        server
            .admin()
            .post(
                &format!("/devices/{}/revoke", lost.notebook.identity().device),
                ""
            )
            .0,
        303
    );
    let shut_out = server.browser("Gone", Role::Admin);
    let gone = ours.person("Gone");
    ours.runtime
        .block_on(ours.accounts.set_shut_out(gone, Some(now())))
        .unwrap();

    let share = ours.share(later, None);
    let secret_of = |browser: &Browser| browser.cookie.split('=').nth(1).unwrap().to_owned();
    let as_ours = |secret: &str| format!("chalkwalk={secret}");
    let old = ours.old_cookie();
    let mut seen = BTreeSet::new();
    for route in ROUTES {
        seen.insert(route.path);
        let refused = |what: &str, token: &str, held: &[(&str, &str)], codes: &[u16]| {
            let answer = call(at, &ours, route, token, held);
            let to = answer.1.get("location").and_then(|to| to.to_str().ok());
            let signed_out = answer.0 != 303 || to.is_some_and(|to| to.starts_with("/sign-in"));
            assert!(
                codes.contains(&answer.0) && signed_out,
                "{route:?} {what}: {answer:?}"
            );
        };
        match route.takes {
            Takes::Nothing | Takes::Form => {
                assert!(
                    OPEN.iter().any(|(path, _)| *path == route.path),
                    "{route:?} is open"
                );
            }
            Takes::Code | Takes::DeviceKey => {
                assert!(PROVEN_WITHIN.contains(&route.path), "{route:?}");
                refused("nothing", "", &[], &[400, 426]);
            }
            Takes::Device => {
                let bearer = |token: &str| format!("Bearer {token}");
                for (what, token, code) in [
                    ("garbage", "00", 401),
                    ("expired", expired.as_str(), 401),
                    ("revoked", revoked.as_str(), 403),
                    ("another crew's", stranger.as_str(), 403),
                    ("another company's", theirs.writer.as_str(), 401),
                    ("a shared link", share.as_str(), 401),
                ] {
                    refused(what, "", &[("authorization", &bearer(token))], &[code]);
                }
                refused("none", "", &[], &[401]);
                refused("a person's", "", &[("cookie", &ours.admin.cookie)], &[401]);
            }
            Takes::Person(least) => {
                let out: &[u16] = if route.method == "GET" {
                    &[303]
                } else {
                    &[401]
                };
                refused("none", "", &[], out);
                for (what, secret) in [
                    ("expired", old.clone()),
                    ("shut out", secret_of(&shut_out)),
                    ("another company's", secret_of(&theirs.admin)),
                    ("a shared link", share.clone()),
                    ("a device's", ours.writer.clone()),
                ] {
                    refused(what, "", &[("cookie", &as_ours(&secret))], out);
                }
                let bearer = format!("Bearer {}", ours.writer);
                refused("a device's token", "", &[("authorization", &bearer)], out);
                if least != Role::Crew {
                    refused("a crew's", "", &[("cookie", &ours.crew.cookie)], &[403]);
                }
                if least == Role::Admin {
                    refused(
                        "an estimator's",
                        "",
                        &[("cookie", &ours.estimator.cookie)],
                        &[403],
                    );
                }
                if route.path.starts_with("/jobs/") && least == Role::Crew {
                    refused(
                        "another crew's",
                        "",
                        &[("cookie", &ours.crew.cookie)],
                        &[404],
                    );
                }
                if route.method != "GET" {
                    let held = [
                        ("cookie", ours.admin.cookie.as_str()),
                        ("sec-fetch-site", "cross-site"),
                    ];
                    refused("another site's form", "", &held, &[403]);
                }
            }
            Takes::Link => {
                let used = ours.once(Purpose::Join(Role::Crew), later);
                let spent = ours.runtime.block_on(ours.accounts.use_once(
                    chalkwalk_sync_server::people::hash_of(&used).unwrap(),
                    now(),
                ));
                assert!(spent.unwrap().is_some());
                for (what, token) in [
                    ("unknown", Secret::fresh(&mut SystemEnv).reveal()),
                    ("no secret", "none".into()),
                    ("used", used),
                    ("expired", ours.once(Purpose::Join(Role::Crew), now() - 1)),
                    (
                        "another company's",
                        theirs.once(Purpose::Join(Role::Crew), later),
                    ),
                    ("a shared link", share.clone()),
                ] {
                    refused(what, &token, &[("cookie", &ours.admin.cookie)], &[410]);
                }
            }
            Takes::Share => {
                for (what, token) in [
                    ("unknown", Secret::fresh(&mut SystemEnv).reveal()),
                    ("no secret", "none".into()),
                    ("expired", ours.share(now() - 1, None)),
                    ("withdrawn", ours.share(later, Some(now()))),
                    ("another company's", theirs.share(later, None)),
                    (
                        "a one-time link",
                        ours.once(Purpose::Join(Role::Crew), later),
                    ),
                ] {
                    refused(what, &token, &[("cookie", &ours.admin.cookie)], &[410]);
                }
            }
            Takes::Operator => {
                refused("passed on", "", &[("x-forwarded-for", "192.0.2.1")], &[403]);
                let token = format!("Bearer {}", ours.writer);
                refused("a device's", "", &[("authorization", &token)], &[403]);
            }
        }
    }
    for (path, _) in OPEN {
        assert!(seen.contains(path), "{path} is no route any more");
    }
    // The right ones are let in: else the refusals above would say nothing.
    let last = ["/sign-out", "/sign-out/everywhere"];
    let (ends, stays): (Vec<&Route>, Vec<&Route>) =
        ROUTES.iter().partition(|route| last.contains(&route.path));
    for route in stays.into_iter().chain(ends) {
        let bearer = format!("Bearer {good_enough}");
        let fresh = server.browser("Fresh admin", Role::Admin);
        let token = match route.takes {
            Takes::Link => ours.once(Purpose::Join(Role::Crew), later),
            _ => share.clone(),
        };
        let held: &[(&str, &str)] = match route.takes {
            Takes::Device => &[("authorization", &bearer)],
            Takes::Person(_) => &[("cookie", &fresh.cookie)],
            _ => &[],
        };
        let answer = call(at, &ours, route, &token, held);
        let in_words = String::from_utf8_lossy(&answer.2).into_owned();
        let out = answer
            .1
            .get("location")
            .is_some_and(|to| to.to_str().unwrap().contains("/sign-in?"));
        let proven = PROVEN_WITHIN.contains(&route.path) || route.takes == Takes::Form;
        assert!(
            !out && (proven || ![401, 403, 410, 429, 500].contains(&answer.0)),
            "{route:?}: {} {in_words}",
            answer.0
        );
        assert!(
            route.answers.contains(&answer.0),
            "{route:?} does not list {}",
            answer.0
        );
    }
    server.stop();
}

/// The router is built from the table alone: nowhere else is a route added.
#[test]
fn no_route_stands_beside_the_table() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut open = vec![folder];
    let mut adding = Vec::new();
    while let Some(folder) = open.pop() {
        for entry in std::fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                open.push(path);
            } else {
                let text = std::fs::read_to_string(&path).unwrap_or_default();
                let adds = [".route(", ".nest(", ".route_service(", ".nest_service("];
                if adds.iter().any(|add| text.contains(add)) {
                    adding.push(path.file_name().unwrap().to_string_lossy().into_owned());
                }
            }
        }
    }
    assert_eq!(adding, ["routes.rs"]);
}

#[test]
fn the_description_names_each_route_once() {
    let described = description();
    let mut operations = BTreeSet::new();
    let paths = described["paths"].as_object().unwrap();
    let mut count = 0;
    for (path, methods) in paths {
        for (method, operation) in methods.as_object().unwrap() {
            count += 1;
            let id = operation["operationId"].as_str().unwrap();
            assert!(operations.insert(id.to_owned()), "{id} twice");
            assert!(
                !operation["summary"].as_str().unwrap().is_empty(),
                "{method} {path}"
            );
        }
    }
    assert_eq!(count, ROUTES.len());
    let by_path: BTreeMap<&str, usize> = ROUTES.iter().fold(BTreeMap::new(), |mut all, route| {
        *all.entry(route.path).or_default() += 1;
        all
    });
    assert_eq!(by_path.len(), paths.len());
    assert!(companies::list(Path::new("nowhere")).unwrap().is_empty());
}
