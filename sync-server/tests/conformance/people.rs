//! The company, devices, codes and the audit.

use chalkwalk_core::job::CompanyId;
use chalkwalk_sync_server::store::{
    AuditEntry, AuditKind, CodeRefusal, Company, Enrolled, StoreError,
};

use crate::RecordsPlace;
use crate::sample::{author, code, device, job, row};

pub(crate) async fn the_first_company_stands(place: &RecordsPlace) {
    let company = |n: u8| Company {
        id: CompanyId::from_bytes([n; 16]),
        name: format!("Office {n}"),
        office_key: [n; 32],
        founded_at: 4,
    };
    let store = place.open();
    assert_eq!(store.company().await.unwrap(), None);
    assert_eq!(store.found(&company(1)).await.unwrap(), company(1));
    assert_eq!(store.found(&company(2)).await.unwrap(), company(1));
    assert_eq!(place.open().company().await.unwrap(), Some(company(1)));
}

pub(crate) async fn a_code_enrols_one_device(place: &RecordsPlace) {
    let store = place.open();
    store.put_code(&code(1, 100)).await.unwrap();
    assert_eq!(store.code([1; 32]).await.unwrap(), Some(code(1, 100)));
    assert_eq!(store.code([2; 32]).await.unwrap(), None);
    assert_eq!(
        store.enrol([1; 32], &device(1), 99).await.unwrap(),
        Enrolled::Done
    );
    let store = place.open();
    assert_eq!(store.device(device(1).id).await.unwrap(), Some(device(1)));
    let second = store.enrol([1; 32], &device(2), 99).await.unwrap();
    assert_eq!(second, Enrolled::Refused(CodeRefusal::Used));
    let unknown = store.enrol([2; 32], &device(2), 99).await.unwrap();
    assert_eq!(unknown, Enrolled::Refused(CodeRefusal::Unknown));
    assert_eq!(store.devices().await.unwrap(), [device(1)]);
}

pub(crate) async fn the_same_device_may_ask_again(place: &RecordsPlace) {
    let store = place.open();
    store.put_code(&code(1, 100)).await.unwrap();
    store.enrol([1; 32], &device(1), 50).await.unwrap();
    let mut again = device(1);
    again.certificate.body = vec![8; 3];
    let answer = store.enrol([1; 32], &again, 500).await.unwrap();
    assert_eq!(answer, Enrolled::Before(device(1).certificate));
    again.key = [9; 32];
    let answer = store.enrol([1; 32], &again, 50).await.unwrap();
    assert_eq!(answer, Enrolled::Refused(CodeRefusal::Used));
}

pub(crate) async fn an_expired_code_enrols_nobody(place: &RecordsPlace) {
    let store = place.open();
    store.put_code(&code(1, 100)).await.unwrap();
    let answer = store.enrol([1; 32], &device(1), 100).await.unwrap();
    assert_eq!(answer, Enrolled::Refused(CodeRefusal::Expired));
    assert!(store.devices().await.unwrap().is_empty());
}

pub(crate) async fn an_enrolled_device_keeps_its_key(place: &RecordsPlace) {
    let store = place.open();
    for n in [1, 2] {
        store.put_code(&code(n, 100)).await.unwrap();
    }
    store.enrol([1; 32], &device(1), 50).await.unwrap();
    let mut other = device(1);
    other.key = [9; 32];
    let answer = store.enrol([2; 32], &other, 50).await.unwrap();
    assert_eq!(answer, Enrolled::Refused(CodeRefusal::DeviceTaken));
    assert_eq!(store.device(device(1).id).await.unwrap(), Some(device(1)));
    assert_eq!(
        store.enrol([2; 32], &device(2), 50).await.unwrap(),
        Enrolled::Done
    );
}

pub(crate) async fn of_two_at_once_one_is_enrolled(place: &RecordsPlace) {
    let store = place.open();
    store.put_code(&code(1, 100)).await.unwrap();
    let (one, two) = (device(1), device(2));
    let (one, two) = tokio::join!(
        store.enrol([1; 32], &one, 50),
        store.enrol([1; 32], &two, 50)
    );
    let mut answers = [one.unwrap(), two.unwrap()];
    answers.sort_by_key(|answer| *answer != Enrolled::Done);
    assert_eq!(
        answers,
        [Enrolled::Done, Enrolled::Refused(CodeRefusal::Used)]
    );
    assert_eq!(store.devices().await.unwrap().len(), 1);
}

pub(crate) async fn a_device_is_shut_out_and_let_in(place: &RecordsPlace) {
    let store = place.open();
    store.put_code(&code(1, 100)).await.unwrap();
    store.enrol([1; 32], &device(1), 50).await.unwrap();
    let id = device(1).id;
    assert!(store.set_revoked(id, Some(60)).await.unwrap());
    assert_eq!(
        place.open().device(id).await.unwrap().unwrap().revoked_at,
        Some(60)
    );
    assert!(store.set_revoked(id, None).await.unwrap());
    assert_eq!(store.device(id).await.unwrap().unwrap().revoked_at, None);
    assert!(!store.set_revoked(device(2).id, Some(60)).await.unwrap());
}

pub(crate) async fn devices_come_with_their_changes_or_not_at_all(place: &RecordsPlace) {
    let store = place.open();
    let gap = [row(author(1), 2, true)];
    store
        .append(job(1), &gap, &[device(1)], 70)
        .await
        .unwrap_err();
    assert!(store.devices().await.unwrap().is_empty());
    store
        .append(job(1), &[row(author(1), 1, true)], &[device(1)], 70)
        .await
        .unwrap();
    let mut later = device(1);
    later.revoked_at = Some(5);
    store.append(job(1), &gap, &[later], 71).await.unwrap();
    assert_eq!(store.device(device(1).id).await.unwrap(), Some(device(1)));
    let asked = [device(3).id, device(1).id];
    assert_eq!(
        store.certificates(&asked).await.unwrap(),
        [device(1).certificate]
    );
    let mut other = device(1);
    other.key = [9; 32];
    let error = store
        .append(job(1), &[row(author(1), 3, true)], &[device(2), other], 72)
        .await;
    assert!(matches!(error, Err(StoreError::Contradiction(_))));
    assert_eq!(store.devices().await.unwrap(), [device(1)]);
    assert_eq!(store.table(job(1)).await.unwrap()[&author(1)].number, 2);
}

pub(crate) async fn the_audit_is_newest_first(place: &RecordsPlace) {
    let store = place.open();
    let entries: Vec<_> = AuditKind::ALL
        .iter()
        .zip(1..)
        .map(|(what, at)| AuditEntry {
            at,
            what: *what,
            device: (at % 2 == 0).then_some(device(1).id),
            job: (at % 3 == 0).then_some(job(1)),
            detail: format!("entry {at}"),
        })
        .collect();
    for entry in &entries {
        store.note(entry).await.unwrap();
    }
    let newest: Vec<_> = entries.iter().rev().take(3).cloned().collect();
    assert_eq!(place.open().audit(3).await.unwrap(), newest);
    assert_eq!(store.audit(100).await.unwrap().len(), entries.len());
}
