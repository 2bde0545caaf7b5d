//! Whom a device believes at the other end of TLS. Beside this, the office key's pin says whose
//! office it is: a certificate only says whose machine.

use std::path::PathBuf;
use std::sync::Arc;

use rustls::crypto::ring;
use rustls::pki_types::CertificateDer;
use rustls::pki_types::pem::PemObject;
use rustls::{ClientConfig, RootCertStore};
use rustls_platform_verifier::BuilderVerifierExt;
use ureq::tls::{Certificate, RootCerts, TlsConfig, TlsProvider};

use super::LinkError;

/// Whom a device believes at the other end of TLS.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub enum Trust {
    /// Whom the system believes.
    #[default]
    System,
    /// The authorities in this PEM file alone, such as the office's own.
    Authority(PathBuf),
}

impl Trust {
    /// The authorities of a file, or those of the system where none is named.
    pub fn of(authority: Option<PathBuf>) -> Self {
        authority.map_or(Trust::System, Trust::Authority)
    }

    /// For a WebSocket.
    pub(super) fn rustls(&self) -> Result<Arc<ClientConfig>, LinkError> {
        let builder = ClientConfig::builder_with_provider(Arc::new(ring::default_provider()))
            .with_safe_default_protocol_versions()
            .map_err(|error| LinkError::Trust(error.to_string()))?;
        let builder = match self {
            Trust::System => builder
                .with_platform_verifier()
                .map_err(|error| LinkError::Trust(error.to_string()))?,
            Trust::Authority(_) => {
                let mut roots = RootCertStore::empty();
                for certificate in self.authorities()? {
                    roots
                        .add(certificate)
                        .map_err(|error| LinkError::Trust(error.to_string()))?;
                }
                builder.with_root_certificates(roots)
            }
        };
        Ok(Arc::new(builder.with_no_client_auth()))
    }

    /// For a call.
    pub(crate) fn ureq(&self) -> Result<TlsConfig, LinkError> {
        let roots = match self {
            Trust::System => RootCerts::PlatformVerifier,
            Trust::Authority(_) => {
                let known = self.authorities()?;
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

    fn authorities(&self) -> Result<Vec<CertificateDer<'static>>, LinkError> {
        let Trust::Authority(file) = self else {
            return Ok(Vec::new());
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
        Ok(read)
    }
}
