//! Whom a device believes at the other end of TLS. Beside this, the office key's pin says whose
//! office it is: a certificate only says whose machine.

use std::path::PathBuf;
use std::sync::Arc;

use rustls::crypto::ring;
use rustls::pki_types::CertificateDer;
use rustls::pki_types::pem::PemObject;
use rustls::{ClientConfig, RootCertStore};
use ureq::tls::{Certificate, RootCerts, TlsConfig, TlsProvider};

use super::LinkError;

/// Whom a device believes at the other end of TLS.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub enum Trust {
    /// Whom the system believes. On Android that is the list of public authorities that is built
    /// in, as the system's own is only for code that runs in its virtual machine.
    #[default]
    System,
    /// The authorities in this PEM file alone, such as the office's own.
    Authority(PathBuf),
    /// These authorities alone, as [`Trust::only`] reads them.
    Certificates(Vec<CertificateDer<'static>>),
}

/// A text with certificates that does not read.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error("the text holds no certificate that can be used: give the authority's certificate as PEM")]
pub struct TrustError;

impl Trust {
    /// The authorities of a file, or those of the system where none is named.
    pub fn of(authority: Option<PathBuf>) -> Self {
        authority.map_or(Trust::System, Trust::Authority)
    }

    /// These authorities alone: one or more certificates as PEM.
    pub fn only(pem: &str) -> Result<Self, TrustError> {
        let read: Vec<_> = CertificateDer::pem_slice_iter(pem.as_bytes())
            .collect::<Result<_, _>>()
            .map_err(|_| TrustError)?;
        if read.is_empty() {
            return Err(TrustError);
        }
        roots(&read).map_err(|_| TrustError)?;
        Ok(Trust::Certificates(read))
    }

    /// For a WebSocket.
    pub(super) fn rustls(&self) -> Result<Arc<ClientConfig>, LinkError> {
        let unusable = |error: rustls::Error| LinkError::Trust(error.to_string());
        let builder = ClientConfig::builder_with_provider(Arc::new(ring::default_provider()))
            .with_safe_default_protocol_versions()
            .map_err(unusable)?;
        let builder = match self.authorities()? {
            Some(known) => builder.with_root_certificates(roots(&known).map_err(unusable)?),
            #[cfg(not(target_os = "android"))]
            None => rustls_platform_verifier::BuilderVerifierExt::with_platform_verifier(builder)
                .map_err(unusable)?,
            #[cfg(target_os = "android")]
            None => builder.with_root_certificates(RootCertStore::empty()),
        };
        Ok(Arc::new(builder.with_no_client_auth()))
    }

    /// For a call.
    pub(crate) fn ureq(&self) -> Result<TlsConfig, LinkError> {
        let roots = match self.authorities()? {
            None => RootCerts::PlatformVerifier,
            Some(known) => {
                let known: Vec<Certificate<'static>> = known
                    .iter()
                    .map(|der| Certificate::from_der(der).to_owned())
                    .collect();
                RootCerts::Specific(Arc::new(known))
            }
        };
        Ok(TlsConfig::builder()
            .provider(TlsProvider::Rustls)
            .unversioned_rustls_crypto_provider(Arc::new(ring::default_provider()))
            .root_certs(roots)
            .build())
    }

    /// Those that are named; `None` where the system is asked.
    fn authorities(&self) -> Result<Option<Vec<CertificateDer<'static>>>, LinkError> {
        let file = match self {
            Trust::System => return Ok(built_in()),
            Trust::Certificates(known) => return Ok(Some(known.clone())),
            Trust::Authority(file) => file,
        };
        let unread = |cause: &dyn std::fmt::Display| {
            LinkError::Trust(format!("{}: {cause}", file.display()))
        };
        let read = CertificateDer::pem_file_iter(file).map_err(|error| unread(&error))?;
        let read: Vec<_> = read
            .collect::<Result<_, _>>()
            .map_err(|error| unread(&error))?;
        if read.is_empty() {
            return Err(unread(&"it holds no certificate"));
        }
        Ok(Some(read))
    }
}

fn roots(known: &[CertificateDer<'static>]) -> Result<RootCertStore, rustls::Error> {
    let mut roots = RootCertStore::empty();
    for certificate in known {
        roots.add(certificate.clone())?;
    }
    Ok(roots)
}

#[cfg(target_os = "android")]
fn built_in() -> Option<Vec<CertificateDer<'static>>> {
    Some(webpki_root_certs::TLS_SERVER_ROOT_CERTS.to_vec())
}

#[cfg(not(target_os = "android"))]
fn built_in() -> Option<Vec<CertificateDer<'static>>> {
    None
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_text_with_certificates_is_trusted_and_another_is_refused() {
        let made = rcgen::generate_simple_self_signed(["office.example".to_owned()]).unwrap();
        let pem = made.cert.pem();
        let trust = Trust::only(&pem.repeat(2)).unwrap();
        assert!(matches!(&trust, Trust::Certificates(known) if known.len() == 2));
        trust.rustls().unwrap();
        trust.ureq().unwrap();
        let hollow = "-----BEGIN CERTIFICATE-----\nAAAA\n-----END CERTIFICATE-----\n";
        for text in ["", "no certificate", &pem[..pem.len() / 2], hollow] {
            assert_eq!(Trust::only(text), Err(TrustError), "{text}");
        }
    }
}
