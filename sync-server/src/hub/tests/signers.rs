//! Certificates that a session keeps in mind.

use chalkwalk_core::job::Role;

use super::crew::{Phone, office};
use crate::hub::signers::Proven;
use crate::limits::PROVEN_CERTIFICATES as KEPT;

#[test]
fn what_was_proven_is_known_again_and_what_was_not_is_refused_each_time() {
    let office = office(1);
    let mut proven = Proven::default();
    let phones: Vec<Phone> = (1..)
        .take(KEPT + 2)
        .map(|n| Phone::new(n, &office, Role::Crew))
        .collect();
    for _ in 0..2 {
        for phone in &phones {
            let (certificate, key) = proven.of(&office, &phone.signed).unwrap();
            assert_eq!(*certificate, phone.certificate);
            assert_eq!(key, phone.key.verifying_key());
        }
        assert_eq!(proven.len(), KEPT);
    }
    let mut forged = phones[KEPT].signed.clone();
    forged.signature[3] ^= 1;
    assert!(proven.of(&office, &forged).is_none());
    assert!(proven.of(&office, &forged).is_none());
    let other = Phone::new(3, &super::crew::office(2), Role::Crew);
    assert!(proven.of(&office, &other.signed).is_none());
    assert_eq!(proven.len(), KEPT);
}
