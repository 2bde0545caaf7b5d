//! Tokens of minutes for devices: a challenge, signed with the device's key, for a token that is
//! looked up against revocation each time it is used.
//!
//! Neither is stored: both bear the server's own seal, so that every node of a company takes them,
//! whichever gave them. That a challenge was answered is stored with the accounts, so that no other
//! node takes the answer once more.

use axum::Json;
use axum::body::Bytes;
use axum::extract::{ConnectInfo, State};
use axum::http::{HeaderMap, StatusCode};
use axum::response::{IntoResponse, Response};
use chalkwalk_core::env::Env;
use chalkwalk_core::job::{Certificate, DeviceId, Millis, hex, unhex};
use chalkwalk_core::sync::check_answer;
use serde::{Deserialize, Serialize};

use super::Shared;
use super::front::Peer;
use super::guard::{call_unwell, refusal, too_many};
use super::tries::network;
use crate::env::SystemEnv;
use crate::hub::Hub;
use crate::limits;
use crate::store::{Actor, DeedKind, StoreError};

const CHALLENGE: &[u8] = b"challenge";
const TOKEN: &[u8] = b"token";
/// Device, end, nonce.
const BODY: usize = 16 + 8 + 16;

/// What a challenge or token says.
#[derive(Debug, PartialEq, Eq)]
struct Sealed {
    device: DeviceId,
    ends: Millis,
    nonce: [u8; 16],
}

/// Seals and reads what devices hold for minutes.
pub(crate) struct Tokens([u8; 32]);

impl Tokens {
    /// Those of one company: its server's key and its id go into the seal.
    pub(crate) fn of(hub: &Hub) -> Self {
        let office = hub.office();
        let mut secret = office.server_key().to_bytes().to_vec();
        secret.extend_from_slice(office.company().id.as_bytes());
        Self(blake3::derive_key("chalkwalk http token key v1", &secret))
    }

    fn make(&self, what: &[u8], device: DeviceId, ends: Millis) -> String {
        let mut nonce = [0; 16];
        SystemEnv.random(&mut nonce);
        let mut body = device.as_bytes().to_vec();
        body.extend_from_slice(&ends.to_be_bytes());
        body.extend_from_slice(&nonce);
        let seal = self.seal(what, &body);
        body.extend_from_slice(seal.as_bytes());
        hex(&body)
    }

    fn seal(&self, what: &[u8], body: &[u8]) -> blake3::Hash {
        let mut hasher = blake3::Hasher::new_keyed(&self.0);
        hasher.update(what).update(b"\0").update(body);
        hasher.finalize()
    }

    /// The device, where the seal is this company's and the time is not over.
    fn read(&self, what: &[u8], text: &str, now: Millis) -> Option<Sealed> {
        let bytes = unhex(text).filter(|bytes| bytes.len() == BODY + 32)?;
        let (body, seal) = bytes.split_at(BODY);
        let seal: [u8; 32] = seal.try_into().ok()?;
        // Hashes are compared in constant time.
        if self.seal(what, body) != blake3::Hash::from_bytes(seal) {
            return None;
        }
        let ends = Millis::from_be_bytes(body[16..24].try_into().ok()?);
        let device = DeviceId::from_bytes(body[..16].try_into().ok()?);
        let nonce = body[24..].try_into().ok()?;
        (now < ends).then_some(Sealed {
            device,
            ends,
            nonce,
        })
    }

    /// The device whose token this is, where it counts still.
    pub(crate) fn device(&self, token: &str, now: Millis) -> Option<DeviceId> {
        self.read(TOKEN, token, now).map(|sealed| sealed.device)
    }
}

/// The certificate of a device that may speak here; `None` where it is unknown or shut out.
pub(crate) async fn admitted(
    hub: &Hub,
    device: DeviceId,
) -> Result<Option<Certificate>, StoreError> {
    let Some(known) = hub.records().device(device).await? else {
        return Ok(None);
    };
    if known.revoked_at.is_some() {
        return Ok(None);
    }
    Ok(hub.office().verify(&known.certificate).ok())
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct AskChallenge {
    device: DeviceId,
}

#[derive(Serialize)]
struct Challenge {
    challenge: String,
    expires_at: Millis,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct AskToken {
    challenge: String,
    signature: String,
}

#[derive(Serialize)]
struct Token {
    token: String,
    expires_at: Millis,
}

/// `POST /token/challenge`. Any device is given one, known or not: who is known is nobody's
/// business.
pub(super) async fn challenge(State(shared): State<Shared>, body: Bytes) -> Response {
    let Ok(asked) = serde_json::from_slice::<AskChallenge>(&body) else {
        return refusal(
            StatusCode::BAD_REQUEST,
            "name the device, as {\"device\": ID}",
        );
    };
    let expires_at = shared.hub.now().saturating_add(limits::CHALLENGE_MS);
    let challenge = Tokens::of(&shared.hub).make(CHALLENGE, asked.device, expires_at);
    Json(Challenge {
        challenge,
        expires_at,
    })
    .into_response()
}

/// `POST /token`.
pub(super) async fn token(
    State(shared): State<Shared>,
    ConnectInfo(peer): ConnectInfo<Peer>,
    headers: HeaderMap,
    body: Bytes,
) -> Response {
    let now = shared.hub.now();
    let from = network(shared.house.front.client(&headers, peer));
    let tries = &shared.house.tries.tokens;
    if !tries.may_try(&from, now) {
        return too_many("too many wrong answers from your network: wait a minute");
    }
    let wrong = |words: &str| {
        tries.count(from, now);
        refusal(StatusCode::FORBIDDEN, words)
    };
    let Ok(asked) = serde_json::from_slice::<AskToken>(&body) else {
        let words = "send {\"challenge\": TEXT, \"signature\": HEX}";
        return refusal(StatusCode::BAD_REQUEST, words);
    };
    let tokens = Tokens::of(&shared.hub);
    let Some(Sealed {
        device,
        ends,
        nonce,
    }) = tokens.read(CHALLENGE, &asked.challenge, now)
    else {
        return wrong("the challenge is not one of this office, or its time is over");
    };
    let certificate = match admitted(&shared.hub, device).await {
        Ok(Some(certificate)) => certificate,
        Ok(None) => return wrong("this device is not known here, or the office has shut it out"),
        Err(error) => return call_unwell(&error),
    };
    let answer = unhex(&asked.signature).and_then(|bytes| <[u8; 64]>::try_from(bytes).ok());
    let challenge = unhex(&asked.challenge).unwrap_or_default();
    let company = shared.hub.office().company().id;
    let right = certificate.verifying_key().ok().zip(answer);
    if !right.is_some_and(|(key, answer)| check_answer(&key, company, &challenge, &answer)) {
        return wrong("the challenge is not signed with this device's key");
    }
    match shared.accounts().answer(nonce, ends, now).await {
        Ok(true) => {}
        Ok(false) => return wrong("the challenge was answered before: ask for another"),
        Err(error) => return call_unwell(&error),
    }
    let given = shared.note(Actor::Device(device), DeedKind::TokenGiven, None, "");
    if let Err(error) = given.await {
        return call_unwell(&error);
    }
    let expires_at = now.saturating_add(limits::TOKEN_MS);
    let token = tokens.make(TOKEN, device, expires_at);
    Json(Token { token, expires_at }).into_response()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_token_counts_for_its_company_kind_and_time() {
        let (ours, theirs) = (Tokens([1; 32]), Tokens([2; 32]));
        let device = DeviceId::from_bytes([3; 16]);
        let token = ours.make(TOKEN, device, 1_000);
        assert_eq!(ours.device(&token, 999), Some(device));
        assert_eq!(ours.device(&token, 1_000), None);
        assert_eq!(theirs.device(&token, 999), None);
        assert_eq!(ours.read(CHALLENGE, &token, 999), None);
        for at in [0, 17, 30, BODY + 1] {
            let mut bytes = unhex(&token).unwrap();
            bytes[at] ^= 1;
            assert_eq!(ours.device(&hex(&bytes), 999), None);
        }
        for text in ["", "zz", &token[2..], &format!("{token}00")] {
            assert_eq!(ours.device(text, 999), None);
        }
    }
}
