//! How a device proves its key to the office outside a session, for calls over HTTP.

use ed25519_dalek::{Signature, Signer, SigningKey, VerifyingKey};

use crate::job::CompanyId;

const CONTEXT: &[u8] = b"chalkwalk http token v1\0";

/// A device's answer to the office's challenge: its signature over context, company and
/// challenge.
pub fn answer_challenge(key: &SigningKey, company: CompanyId, challenge: &[u8]) -> [u8; 64] {
    key.sign(&signed(company, challenge)).to_bytes()
}

/// Whether the device with this key answered the challenge.
pub fn check_answer(
    key: &VerifyingKey,
    company: CompanyId,
    challenge: &[u8],
    answer: &[u8; 64],
) -> bool {
    key.verify_strict(&signed(company, challenge), &Signature::from_bytes(answer))
        .is_ok()
}

fn signed(company: CompanyId, challenge: &[u8]) -> Vec<u8> {
    let mut bytes = CONTEXT.to_vec();
    bytes.extend_from_slice(company.as_bytes());
    bytes.extend_from_slice(challenge);
    bytes
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_answer_counts_for_one_key_company_and_challenge() {
        let (key, other) = (
            SigningKey::from_bytes(&[1; 32]),
            SigningKey::from_bytes(&[2; 32]),
        );
        let company = CompanyId::from_bytes([3; 16]);
        let answer = answer_challenge(&key, company, b"challenge");
        let check = |key: &SigningKey, company, challenge: &[u8]| {
            check_answer(&key.verifying_key(), company, challenge, &answer)
        };
        assert!(check(&key, company, b"challenge"));
        assert!(!check(&other, company, b"challenge"));
        assert!(!check(&key, CompanyId::from_bytes([4; 16]), b"challenge"));
        assert!(!check(&key, company, b"challenge2"));
    }
}
