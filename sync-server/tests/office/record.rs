//! Changing the record at the pages: what is refused, and that nothing typed is lost by it.

use chalkwalk_core::job::{Role, Side};
use chalkwalk_sync_server::limits;

use crate::stage::{Answer, Browser, Phone, Server, ask};

struct Stage {
    server: Server,
    estimator: Browser,
    phone: Phone,
    job: chalkwalk_core::job::JobId,
    path: String,
    _folder: tempfile::TempDir,
}

/// A job with one finding at an office with an estimator.
fn stage() -> Stage {
    let folder = tempfile::tempdir().unwrap();
    let server = Server::start(folder.path());
    let mut phone = Phone::enrolled("Ada", &server);
    let job = phone.begin();
    let finding = phone.finding(job, Side::Front, "hail on the gutter");
    phone.sync(&server);
    let estimator = server.browser("Ines", Role::Estimator);
    Stage {
        path: format!("/jobs/{job}/records/finding/{}", finding.id),
        server,
        estimator,
        phone,
        job,
        _folder: folder,
    }
}

fn words(answer: &Answer) -> String {
    String::from_utf8_lossy(&answer.2).into_owned()
}

fn signed_out(stage: &Stage, path: &str, form: &str) -> Answer {
    let nobody = Browser {
        at: stage.estimator.at,
        cookie: String::new(),
    };
    nobody.post(path, form)
}

#[test]
fn a_change_at_the_page_is_signed_and_comes_to_the_phone() {
    let mut stage = stage();
    let form = "cause=wind&was-cause=hail&text=hail+on+the+gutter&was-text=hail+on+the+gutter";
    let changed = stage.estimator.post(&stage.path, form);
    assert_eq!(changed.0, 303, "{}", words(&changed));
    // The same form again finds another value than it was shown with.
    let late = "cause=mechanical&was-cause=hail&text=typed+%3Cb%3E&was-text=hail+on+the+gutter";
    let clash = stage.estimator.post(&stage.path, late);
    assert_eq!(clash.0, 409);
    let page = words(&clash);
    assert!(
        page.contains("typed &lt;b&gt;") && page.contains("Ines (estimator"),
        "{page}"
    );
    stage.phone.sync(&stage.server);
    let held = stage.phone.notebook.job(stage.job).unwrap().clone();
    let (_, finding) = held.standing_findings().next().unwrap();
    assert_eq!(finding.cause.unwrap().code(), "wind");
    assert_eq!(finding.text.as_deref(), Some("hail on the gutter"));
    let history = stage.phone.notebook.history(stage.job).unwrap();
    assert_eq!(held.who(history.last().unwrap().by.device), "Ines");
    stage.server.stop();
}

#[test]
fn a_form_without_a_sign_in_is_kept_and_names_no_password() {
    let stage = stage();
    let typed = "text=line+one%0D%0A%22%3E%3Cscript%3E&was-text=old";
    let kept = signed_out(&stage, &stage.path, typed);
    assert_eq!(kept.0, 401);
    let page = words(&kept);
    assert!(
        page.contains("name=\"text\" value=\"line one\r\n&quot;&gt;&lt;script&gt;\""),
        "{page}"
    );
    assert!(
        page.contains("name=\"was-text\"") && !page.contains("<script>"),
        "{page}"
    );
    let wrong = format!("{typed}&sign-in-login=Ines&sign-in-password=guessed+wrongly");
    let again = signed_out(&stage, &stage.path, &wrong);
    assert_eq!(again.0, 401);
    let page = words(&again);
    assert!(
        page.contains("do not go together") && page.contains("line one"),
        "{page}"
    );
    assert!(!page.contains("guessed"), "{page}");
    // A form of passwords is never laid into a page.
    let secret = signed_out(
        &stage,
        "/account/password",
        "current=hush-hush&password=a&again=a",
    );
    assert_eq!(secret.0, 401);
    assert!(!words(&secret).contains("hush-hush"));
    stage.server.stop();
}

#[test]
fn forms_of_other_sites_and_forms_past_the_limit_change_nothing() {
    let stage = stage();
    for cookie in [stage.estimator.cookie.as_str(), ""] {
        for site in ["cross-site", "same-site", "none"] {
            let headers = [
                ("cookie", cookie),
                ("sec-fetch-site", site),
                ("content-type", "application/x-www-form-urlencoded"),
            ];
            let path = format!("{}/strike", stage.path);
            let answer = ask(
                "POST",
                stage.estimator.at,
                &path,
                &headers,
                Some(b"reason=typed"),
            );
            assert_eq!(answer.0, 403, "{site}");
            assert!(
                !words(&answer).contains("typed"),
                "nothing is given back to another site"
            );
        }
    }
    let large = format!("text={}", "a".repeat(limits::RECORD_FORM_BYTES + (8 << 10)));
    assert_eq!(stage.estimator.post(&stage.path, &large).0, 413);
    assert_eq!(signed_out(&stage, &stage.path, &large).0, 413);
    // A text past the record's own limit is refused beside its field, with what was typed.
    let long = "b".repeat(chalkwalk_core::limits::TEXT_BYTES + 1);
    let form = format!("text={long}&was-text=hail+on+the+gutter");
    let refused = stage.estimator.post(&stage.path, &form);
    assert_eq!(refused.0, 422);
    let page = words(&refused);
    assert!(page.contains("is longer than") && page.contains(&long));
    let shown = stage.estimator.text(&stage.path);
    assert!(shown.contains("hail on the gutter") && !shown.contains("Reinstate"));
    stage.server.stop();
}

/// A form with files as browsers send it: (name, file name, content).
fn with_files(parts: &[(&str, &str, &[u8])]) -> Vec<u8> {
    let mut body = Vec::new();
    for (name, file, content) in parts {
        let file = match *file {
            "" => String::new(),
            file => format!("; filename=\"{file}\""),
        };
        let head =
            format!("--edge\r\nContent-Disposition: form-data; name=\"{name}\"{file}\r\n\r\n");
        body.extend_from_slice(head.as_bytes());
        body.extend_from_slice(content);
        body.extend_from_slice(b"\r\n");
    }
    body.extend_from_slice(b"--edge--\r\n");
    body
}

fn send_files(stage: &Stage, path: &str, body: &[u8]) -> Answer {
    let headers = [
        ("cookie", stage.estimator.cookie.as_str()),
        ("sec-fetch-site", "same-origin"),
        ("content-type", "multipart/form-data; boundary=edge"),
    ];
    ask("POST", stage.estimator.at, path, &headers, Some(body))
}

#[test]
fn a_job_that_cannot_be_assigned_is_not_begun() {
    let stage = stage();
    // Assignments fail: was the job there before them, every crew would see it now.
    let accounts = stage._folder.path().join("accounts.sqlite");
    let accounts = rusqlite::Connection::open(accounts).unwrap();
    let device = stage.phone.notebook.identity().device.to_string();
    let prepare = |street: &str| {
        let parts = [
            ("street", "", street.as_bytes()),
            ("device", "", device.as_bytes()),
        ];
        send_files(&stage, "/jobs/new", &with_files(&parts))
    };
    accounts
        .execute_batch("ALTER TABLE assigned RENAME TO away")
        .unwrap();
    let refused = prepare("1 Kiln Road");
    assert_ne!(refused.0, 303);
    assert!(words(&refused).contains("1 Kiln Road"), "what was typed");
    accounts
        .execute_batch("ALTER TABLE away RENAME TO assigned")
        .unwrap();
    assert_eq!(prepare("2 Kiln Road").0, 303);
    let shown = stage.estimator.text("/");
    assert!(shown.contains("2 Kiln Road") && !shown.contains("1 Kiln Road"));
    stage.server.stop();
}

#[test]
fn files_and_reasons_past_their_limits_are_refused_in_words() {
    let stage = stage();
    let large = vec![b'a'; limits::FILE_FORM_BYTES + 1];
    let prices = with_files(&[("file", "prices.csv", &large)]);
    let refused = send_files(&stage, "/prices", &prices);
    assert!(matches!(refused.0, 413 | 422), "{}", words(&refused));
    let shown = stage.estimator.text("/prices");
    assert!(!shown.contains("aaaa"), "nothing was put in place");
    let large = vec![b'a'; limits::PREPARE_BYTES + 1];
    let report = with_files(&[("report", "report.csv", &large)]);
    assert_eq!(send_files(&stage, "/jobs/new", &report).0, 413);
    // One file of storm reports too many, each of them small.
    let storms = vec![("storms", "storms.csv", b"a,b\n".as_slice()); limits::STORM_FILES + 1];
    let refused = send_files(&stage, "/jobs/new", &with_files(&storms));
    assert_eq!(refused.0, 422, "{}", words(&refused));
    assert!(words(&refused).contains(&limits::STORM_FILES.to_string()));

    let path = format!("/jobs/{}/scope/change", stage.job);
    let line =
        "do=add&key=&seen=&quantity=1&unit=EA&action=replace&audience=shared&place=&item=gutter";
    let long = "b".repeat(limits::REASON_BYTES + 1);
    let refused = stage
        .estimator
        .post(&path, &format!("{line}&reason={long}"));
    assert_eq!(refused.0, 422, "{}", words(&refused));
    let said = format!("at most {} bytes", limits::REASON_BYTES);
    assert!(words(&refused).contains(&said));
    stage.server.stop();
}
