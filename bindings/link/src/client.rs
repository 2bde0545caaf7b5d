//! What a device asks of the office outside a session: to be enrolled.

use std::fmt;
use std::str::FromStr;

use chalkwalk_core::job::{Certificate, CompanyId, DeviceId, Role, SignedCertificate, hex, unhex};
use ed25519_dalek::{SigningKey, VerifyingKey};

use crate::enrol::{EnrolAnswer, EnrolRequest, pin_of};
use crate::http::ask;
use crate::transport::{LinkError, Trust};

/// Where an office's server is: `https://HOST`, `http://HOST:PORT`, or `HOST:PORT` alone in the
/// clear, with `/at/NAME` for a further company on it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Address {
    tls: bool,
    rest: String,
}

impl Address {
    /// The address of a page or call.
    pub fn page(&self, path: &str) -> String {
        format!("{self}{path}")
    }

    /// The address of a WebSocket.
    pub fn socket(&self, path: &str) -> String {
        let scheme = if self.tls { "wss" } else { "ws" };
        format!("{scheme}://{}{path}", self.rest)
    }

    /// Whether TLS is spoken.
    pub fn is_tls(&self) -> bool {
        self.tls
    }

    /// The host, without the brackets of a version 6 address, and the port.
    pub(crate) fn host_and_port(&self) -> (&str, u16) {
        let usual = if self.tls { 443 } else { 80 };
        let host = self.rest.split('/').next().unwrap_or_default();
        if let Some((host, after)) = host.strip_prefix('[').and_then(|rest| rest.split_once(']')) {
            let port = after.strip_prefix(':').and_then(|port| port.parse().ok());
            return (host, port.unwrap_or(usual));
        }
        let split = host.rsplit_once(':');
        match split.and_then(|(name, port)| Some((name, port.parse().ok()?))) {
            Some(both) => both,
            None => (host, usual),
        }
    }
}

impl fmt::Display for Address {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let scheme = if self.tls { "https" } else { "http" };
        write!(f, "{scheme}://{}", self.rest)
    }
}

impl FromStr for Address {
    type Err = LinkError;
    fn from_str(text: &str) -> Result<Self, LinkError> {
        let error = || LinkError::Address(text.chars().take(80).collect());
        let (tls, rest) = [
            ("https://", true),
            ("wss://", true),
            ("http://", false),
            ("ws://", false),
        ]
        .iter()
        .find_map(|(scheme, tls)| Some((*tls, text.strip_prefix(scheme)?)))
        .unwrap_or((false, text));
        let rest = rest.trim_end_matches('/');
        let good = |b: u8| b.is_ascii_alphanumeric() || b".:-[]".contains(&b);
        let (host, path) = rest.split_at(rest.find('/').unwrap_or(rest.len()));
        let named = |slug: &str| {
            !slug.is_empty() && slug.bytes().all(|b| b.is_ascii_alphanumeric() || b == b'-')
        };
        let company = path.is_empty() || path.strip_prefix("/at/").is_some_and(named);
        if host.is_empty() || !host.bytes().all(good) || !company {
            return Err(error());
        }
        let rest = rest.to_owned();
        Ok(Self { tls, rest })
    }
}

/// Who asks to be enrolled.
#[derive(Clone, Debug)]
pub struct Applicant<'a> {
    /// The device's id.
    pub device: DeviceId,
    /// The device's key; only its public half leaves the device.
    pub key: &'a SigningKey,
    /// The person's name.
    pub person: &'a str,
    /// The device's name.
    pub device_name: &'a str,
    /// What the person does.
    pub role: Role,
}

/// What a device keeps of its enrolment.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Enrolment {
    /// The office's word on the device.
    pub certificate: SignedCertificate,
    /// The same, read and checked.
    pub contents: Certificate,
    /// The office's public key.
    pub office_key: VerifyingKey,
    /// The company.
    pub company: CompanyId,
    /// The company's name.
    pub company_name: String,
}

/// Why a device was not enrolled.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum EnrolFailure {
    /// The server did not answer.
    #[error(transparent)]
    Link(#[from] LinkError),
    /// The office refused, with its words.
    #[error("{0}")]
    Refused(String),
    /// The office is not the one whose pin was given.
    #[error("this is another office than the one that made the code: check the address")]
    OtherOffice,
    /// The answer is not what an office answers.
    #[error("what answered there is no office: check the address")]
    NotAnOffice,
}

/// Asks an office to enrol a device, believing whom the system believes. With `pin` it trusts that
/// office alone. Blocks.
pub fn enrol(
    address: &str,
    code: &str,
    pin: Option<&str>,
    applicant: &Applicant<'_>,
) -> Result<Enrolment, EnrolFailure> {
    enrol_by(&Trust::System, address, code, pin, applicant)
}

/// As [`enrol`], saying whom to believe where the address is `https`.
pub fn enrol_by(
    trust: &Trust,
    address: &str,
    code: &str,
    pin: Option<&str>,
    applicant: &Applicant<'_>,
) -> Result<Enrolment, EnrolFailure> {
    let address: Address = address.parse()?;
    let request = EnrolRequest {
        code: code.to_owned(),
        device: applicant.device,
        key: hex(&applicant.key.verifying_key().to_bytes()),
        person: applicant.person.to_owned(),
        device_name: applicant.device_name.to_owned(),
        role: applicant.role,
    };
    let answer = ask(&address, "/enrol", trust, &request)?;
    let enrolment = read(&answer).ok_or(EnrolFailure::NotAnOffice)?;
    let office = pin_of(&enrolment.office_key);
    if pin.is_some_and(|pin| !pin.eq_ignore_ascii_case(&office)) {
        return Err(EnrolFailure::OtherOffice);
    }
    let ours = enrolment.contents.device == applicant.device
        && enrolment.contents.key == applicant.key.verifying_key().to_bytes()
        && enrolment.contents.company == enrolment.company;
    if ours {
        Ok(enrolment)
    } else {
        Err(EnrolFailure::NotAnOffice)
    }
}

fn read(answer: &EnrolAnswer) -> Option<Enrolment> {
    let office_key: [u8; 32] = unhex(&answer.office_key)?.try_into().ok()?;
    let office_key = VerifyingKey::from_bytes(&office_key).ok()?;
    let certificate = SignedCertificate {
        body: unhex(&answer.certificate)?,
        signature: unhex(&answer.signature)?,
    };
    let contents = certificate.verify(&office_key).ok()?;
    Some(Enrolment {
        certificate,
        contents,
        office_key,
        company: answer.company.parse().ok()?,
        company_name: answer.company_name.clone(),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_address_says_how_and_where() {
        for (text, page, socket, host) in [
            (
                "192.0.2.7:80",
                "http://192.0.2.7:80/x",
                "ws://192.0.2.7:80/x",
                ("192.0.2.7", 80),
            ),
            ("http://a:1/", "http://a:1/x", "ws://a:1/x", ("a", 1)),
            ("https://a", "https://a/x", "wss://a/x", ("a", 443)),
            (
                "wss://a:8/at/b",
                "https://a:8/at/b/x",
                "wss://a:8/at/b/x",
                ("a", 8),
            ),
            (
                "https://[2001:db8::1]",
                "https://[2001:db8::1]/x",
                "wss://[2001:db8::1]/x",
                ("2001:db8::1", 443),
            ),
            (
                "ws://[::1]:9",
                "http://[::1]:9/x",
                "ws://[::1]:9/x",
                ("::1", 9),
            ),
        ] {
            let address: Address = text.parse().unwrap();
            assert_eq!(address.page("/x"), page);
            assert_eq!(address.socket("/x"), socket);
            assert_eq!(address.host_and_port(), host);
        }
        for text in [
            "",
            "https://",
            "ftp://a",
            "a b",
            "http://a/b",
            "http://u@a",
            "https://a/at/",
        ] {
            assert!(text.parse::<Address>().is_err(), "{text}");
        }
    }
}
