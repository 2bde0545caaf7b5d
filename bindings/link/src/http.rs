//! One small call to the office over HTTP: JSON there, JSON back. Blocks.

use std::time::Duration;

use serde::Serialize;
use serde::de::DeserializeOwned;

use crate::client::{Address, EnrolFailure};
use crate::transport::{Trust, not_opened};

const PATIENCE: Duration = Duration::from_secs(30);
/// An answer is a certificate and two names, or a token.
const ANSWER_BYTES: u64 = 64 << 10;

#[derive(serde::Deserialize)]
struct No {
    error: String,
}

pub(crate) fn ask<Q: Serialize, A: DeserializeOwned>(
    address: &Address,
    path: &str,
    trust: &Trust,
    question: &Q,
) -> Result<A, EnrolFailure> {
    let mut config = ureq::Agent::config_builder()
        .timeout_global(Some(PATIENCE))
        .http_status_as_error(false)
        .max_redirects(0);
    if address.is_tls() {
        config = config.tls_config(trust.ureq()?).https_only(true);
    }
    let agent = ureq::Agent::new_with_config(config.build());
    let sent = agent.post(address.page(path)).send_json(question);
    let mut response = sent.map_err(|cause| match cause {
        // Neither is a source of the error that it is in.
        ureq::Error::Rustls(cause) => not_opened(address, cause.into()),
        ureq::Error::Io(cause) => not_opened(address, cause.into()),
        cause => not_opened(address, cause.into()),
    })?;
    let ok = response.status().is_success();
    let body = response
        .body_mut()
        .with_config()
        .limit(ANSWER_BYTES)
        .read_to_vec()
        .map_err(|_| EnrolFailure::NotAnOffice)?;
    if ok {
        return serde_json::from_slice(&body).map_err(|_| EnrolFailure::NotAnOffice);
    }
    let no: No = serde_json::from_slice(&body).map_err(|_| EnrolFailure::NotAnOffice)?;
    Err(EnrolFailure::Refused(no.error))
}
