use super::super::house::*;
use super::*;

fn json(job: &Job) -> String {
    serde_json::to_string_pretty(&owners_account(job)).unwrap()
}

fn bump(word: &str, audience: Option<Audience>) -> Finding {
    let text = |at: &str| Some(format!("canary-{word}-{at}"));
    Finding {
        place: Some(RecordRef::side(Side::Left)),
        component: Some(Component::Mailbox),
        condition: Some(Condition::Damaged),
        cause: Some(Cause::Mechanical),
        cause_reason: text("reason"),
        unit_name: text("unit"),
        text: text("text"),
        audience,
        ..Finding::default()
    }
}

#[test]
fn nothing_for_the_office_reaches_the_owner() {
    let mut house = House::complete();
    house.finding("ladder", bump("office", Some(Audience::OfficeOnly)));
    // One of two people called it office-only.
    let disputed = house.finding("disputed", bump("disputed", Some(Audience::Shared)));
    let by = disputed.made;
    disputed.conflicts.push(Conflict {
        field: "audience".into(),
        statements: vec![Statement {
            value: Some(Scalar::Str("office_only".into())),
            by,
        }],
    });
    // A word of a newer version.
    let newer = house.finding("newer", bump("newer", None));
    newer.unread.push("audience".into());
    let struck = house.finding("struck", bump("struck", None));
    struck.struck = Some(Struck {
        reason: "canary-reason".into(),
        by,
    });
    // Photos: office-only of a shared finding, and shared of an office-only one.
    let dents = at(Kind::Finding, "dents");
    let ladder = at(Kind::Finding, "ladder");
    house.photo(
        "canary-office-photo",
        PhotoRole::CloseUp,
        None,
        std::slice::from_ref(&dents),
    );
    let photos = &mut house.job.records.photos;
    let hidden = photos.get_mut(&id("canary-office-photo")).unwrap();
    hidden.fields.audience = Some(Audience::OfficeOnly);
    house.photo("canary-both", PhotoRole::CloseUp, None, &[dents, ladder]);
    let note = record(Note {
        text: Some("canary-note".into()),
        audience: Some(Audience::OfficeOnly),
        ..Note::default()
    });
    house.job.records.notes.insert(id("note"), note);
    let property = house.job.records.properties.get_mut(&Job::only()).unwrap();
    property.fields.owner_phone = Some("canary-phone".into());
    property.fields.storm_reports = Some("canary-reports".into());
    let interview = house.job.records.interviews.get_mut(&Job::only()).unwrap();
    interview.fields.remarks = Some("canary-remarks".into());
    interview.fields.earlier_claims = Some("canary-claims".into());

    let text = json(&house.job);
    assert!(!text.contains("canary"), "{text}");
    assert!(text.contains("\"near\""), "the shared photo is there");
    // The canaries do show where they are shared.
    house.finding("ladder", bump("office", Some(Audience::Shared)));
    let text = json(&house.job);
    assert!(text.contains("canary-office-reason") && text.contains("canary-office-unit"));
}

#[test]
fn the_account_promises_nothing_of_an_insurer() {
    let mut house = House::complete();
    let recap = house.job.records.recaps.get_mut(&Job::only()).unwrap();
    recap.fields.next = Some("Your insurance will pay for all of it.".into());
    let dents = house.job.records.findings.get_mut(&id("dents")).unwrap();
    dents.fields.cause_reason = Some("round dents, this is covered".into());
    let account = owners_account(&house.job);
    assert_eq!(
        account.held_back,
        [at(Kind::Finding, "dents"), at(Kind::Recap, "house")]
    );
    // Every word of the account but the closing sentence and the signature's, which promise
    // nothing, is free of cover and payment.
    let mut said: Vec<&str> = account.next.iter().map(String::as_str).collect();
    said.extend(account.cautions);
    let places = account.observed.iter().flat_map(|place| &place.lines);
    let lines = places
        .chain(&account.looked_at)
        .chain(&account.before)
        .chain(&account.unsure);
    said.extend(lines.map(|line| line.text.as_str()));
    assert!(said.len() > 12);
    for words in said {
        assert!(!speaks_of_cover(words), "{words}");
    }
    assert!(
        account
            .no_promise
            .contains("does not say what an insurer will decide")
    );
    assert!(account.signature.means.contains("promises nothing"));
}

#[test]
fn the_owner_reads_what_was_observed_before_and_unsure() {
    let mut house = House::complete();
    house.finding(
        "stain",
        Finding {
            place: Some(at(Kind::Room, "bedroom")),
            component: Some(Component::Ceiling),
            condition: Some(Condition::Worn),
            cause: Some(Cause::Prior),
            ..Finding::default()
        },
    );
    house.finding(
        "mark",
        Finding {
            place: Some(RecordRef::side(Side::Rear)),
            component: Some(Component::Siding),
            condition: Some(Condition::Unsure),
            ..Finding::default()
        },
    );
    let account = owners_account(&house.job);
    let front = &account.observed[0];
    assert_eq!(front.name, "front elevation");
    assert_eq!(
        front.lines[0].text,
        "Gutter: damage observed, 9 hits counted. The crew puts it down to hail. Why the crew \
         thinks so: round dents of like size, spread evenly."
    );
    assert_eq!(front.lines[0].photos, [id("far"), id("near")]);
    assert!(
        front.lines[1]
            .text
            .starts_with("Looked at and in order: downspout")
    );
    let slope = &account.observed[1];
    assert_eq!(
        slope.lines[0].text,
        "Test square (10' by 10'): 0 hits counted."
    );
    assert_eq!(
        account.before[0].text,
        "upper bedroom: ceiling: wear observed. It was there before."
    );
    assert!(account.unsure[0].text.contains("the crew is unsure"));
    // The ice barrier that could not be seen.
    assert!(
        account.unsure[1]
            .text
            .contains("ice barrier could not be seen")
    );
    assert!(account.cautions[0].contains("do not climb"));
    assert!(
        account.looked_at[0]
            .text
            .contains("front of the house was walked")
    );
}

#[test]
fn words_of_cover_are_known() {
    for text in [
        "the Insurer agreed",
        "your claim",
        "This is COVERED.",
        "they owe: owed",
        "policy",
        "approved",
    ] {
        assert!(speaks_of_cover(text), "{text}");
    }
    for text in [
        "paint is cracked",
        "recovered vent",
        "the cover plate",
        "freeze",
        "hanging free",
    ] {
        assert!(!speaks_of_cover(text), "{text}");
    }
}
