//! A token of minutes for calls over HTTP, such as a phone's own upload in the background.

use chalkwalk_core::job::{CompanyId, DeviceId, Millis, hex, unhex};
use chalkwalk_core::sync::answer_challenge;
use ed25519_dalek::SigningKey;
use serde::{Deserialize, Serialize};

use crate::Trust;
use crate::client::{Address, EnrolFailure};
use crate::http::ask;

/// What the office lets a device speak with for some minutes.
#[derive(Clone, PartialEq, Eq, Deserialize)]
pub struct Token {
    /// Goes into `Authorization: Bearer TOKEN`. It is a secret.
    pub token: String,
    /// The first moment at which it no longer counts, by the office's clock.
    pub expires_at: Millis,
}

impl std::fmt::Debug for Token {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Token")
            .field("expires_at", &self.expires_at)
            .finish_non_exhaustive()
    }
}

#[derive(Serialize)]
struct AskChallenge {
    device: DeviceId,
}

#[derive(Deserialize)]
struct Challenge {
    challenge: String,
}

#[derive(Serialize)]
struct AskToken {
    challenge: String,
    signature: String,
}

/// Asks the office for a token: its challenge, answered with the device's key. Blocks.
pub fn token(
    address: &str,
    trust: &Trust,
    device: DeviceId,
    company: CompanyId,
    key: &SigningKey,
) -> Result<Token, EnrolFailure> {
    let address: Address = address.parse()?;
    let given: Challenge = ask(
        &address,
        "/token/challenge",
        trust,
        &AskChallenge { device },
    )?;
    let challenge = unhex(&given.challenge).ok_or(EnrolFailure::NotAnOffice)?;
    let signature = hex(&answer_challenge(key, company, &challenge));
    let answer = AskToken {
        challenge: given.challenge,
        signature,
    };
    ask(&address, "/token", trust, &answer)
}
