//! What the gate refuses, and how often it proves a document.

use super::*;

#[test]
fn the_gate_refuses_what_is_not_the_authors_word() {
    let (mut rep, helper) = (Device::new(1), Device::new(2));
    let both = keys(&[&rep, &helper]);
    rep.add("dents", dents(Condition::Damaged));
    rep.add("screen", dents(Condition::Unsure));
    let refuse = |batch: &[ChangeRow], keys: &BTreeMap<_, _>| {
        let before = (helper.document.heads(), helper.document.job().clone());
        let refusal = helper
            .document
            .admit(batch, &Gate::of_keys(keys))
            .unwrap_err();
        assert_eq!(
            before,
            (helper.document.heads(), helper.document.job().clone())
        );
        refusal
    };
    let mut unsigned = rep.rows.clone();
    unsigned[1].signature = None;
    assert!(matches!(refuse(&unsigned, &both), Refusal::Unsigned(_)));
    let mut wrong = rep.rows.clone();
    wrong[1].signature = Some(sign_change(&helper.key, &wrong[1].hash));
    assert!(matches!(refuse(&wrong, &both), Refusal::Unsigned(_)));
    assert!(matches!(
        refuse(&rep.rows, &keys(&[&helper])),
        Refusal::Unsigned(_)
    ));
    assert_eq!(refuse(&rep.rows[1..], &both), Refusal::Gap);
    let mut altered = rep.rows.clone();
    let end = altered[1].bytes.len() - 1;
    altered[1].bytes[end] ^= 1;
    assert!(matches!(refuse(&altered, &both), Refusal::Malformed(_)));
    let mut whole = rep.rows.clone();
    whole[1].bytes = rep.document.export();
    assert!(matches!(refuse(&whole, &both), Refusal::Malformed(_)));
    // Only the last change of an author needs to bear a signature.
    let mut last_only = rep.rows.clone();
    last_only[0].signature = None;
    assert_eq!(
        helper
            .document
            .admit(&last_only, &Gate::of_keys(&both))
            .unwrap()
            .rows
            .len(),
        2
    );
}

#[test]
fn a_change_of_one_operation_too_many_is_refused() {
    use automerge::transaction::Transactable;

    let change_of = |operations: usize| {
        let mut doc = genesis::genesis().unwrap();
        doc.set_actor(ActorId::from(&[7u8; 24][..]));
        doc.transact(|tx| {
            (0..operations).try_for_each(|n| tx.put(automerge::ROOT, format!("key {n}"), 1))
        })
        .unwrap();
        doc.get_last_local_change().unwrap().raw_bytes().to_vec()
    };
    let most = crate::limits::CHANGE_OPS;
    assert_eq!(parse_change(&change_of(most)).unwrap().number, 1);
    let refused = parse_change(&change_of(most + 1));
    assert!(matches!(refused, Err(Refusal::Limit(_))), "{refused:?}");
}

/// What a fuzz target found: the member's entry of a device written over with other bytes.
#[test]
fn a_member_that_cannot_be_read_is_gone_at_once() {
    use automerge::transaction::Transactable;

    let (mut rep, mut helper) = (Device::new(1), Device::new(2));
    let both = keys(&[&rep, &helper]);
    let member = CrewMember {
        person: "Ada".to_owned(),
        role: crate::job::Role::Crew,
        device_name: "phone".to_owned(),
        key: Vec::new(),
    };
    let joined = rep.document.join(rep.author, &rep.key, &member, 5).unwrap();
    helper.take(&[joined.row], &both);
    assert!(helper.document.has_member(rep.author.device));
    let doc = &mut rep.document.doc;
    let crew = rep.document.collections.crew.clone().unwrap();
    let key = rep.author.device.to_string();
    doc.transact(|tx| tx.put(&crew, key, automerge::ScalarValue::Bytes(vec![1, 2, 3])))
        .unwrap();
    let hostile = doc.get_last_local_change().unwrap();
    let mut row = parse_change(hostile.raw_bytes()).unwrap();
    row.signature = Some(sign_change(&rep.key, &row.hash));
    helper.take(&[row], &both);
    assert!(!helper.document.has_member(rep.author.device));
}

#[test]
fn a_copied_device_is_noticed() {
    let (mut rep, mut copy, mut helper) = (Device::new(1), Device::new(1), Device::new(2));
    let keys = keys(&[&rep, &helper]);
    rep.add("dents", dents(Condition::Damaged));
    copy.add("screen", dents(Condition::Unsure));
    helper.take(&rep.rows, &keys);
    let refusal = helper
        .document
        .admit(&copy.rows, &Gate::of_keys(&keys))
        .unwrap_err();
    assert_eq!(
        refusal,
        Refusal::Forked {
            device: rep.author.device,
            number: 1
        }
    );
}

#[test]
fn a_document_is_proven_in_proportion_to_what_a_batch_brings() {
    let mut rep = Device::new(1);
    for n in 0..625 {
        rep.add(&format!("note{n}"), Note::default());
    }
    let keys = BTreeMap::from([(rep.author.device, rep.key.verifying_key())]);
    let mut office = Document::new().unwrap();
    let mut unproven = Vec::new();
    for batch in [0..300, 300..365, 365..430, 430..495, 495..560, 560..625] {
        office = office
            .admit(&rep.rows[batch], &Gate::of_keys(&keys))
            .unwrap()
            .document;
        assert_kept_in_step(&office);
        unproven.push(office.unproven);
    }
    // A first batch is proven; small ones once they come to half of all.
    assert_eq!(unproven, [0, 65, 130, 195, 260, 0]);
    assert_eq!(office.heads(), rep.document.heads());
}
