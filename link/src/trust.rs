//! Which servers a device believes to be who they say they are.

use std::sync::Arc;

use rustls::pki_types::CertificateDer;
use rustls::pki_types::pem::PemObject;
use rustls::{ClientConfig, RootCertStore};

/// What a TLS certificate of the office's server is checked against.
///
/// By default that is the list of public authorities that is built in (`webpki-roots`), the same
/// on every phone. An office with an authority of its own hands out that authority's certificate;
/// then that one alone counts.
#[derive(Clone, Debug, Default)]
pub struct Trust(Option<Vec<CertificateDer<'static>>>);

/// Certificates that do not read.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error("the text holds no certificate that can be used: give the authority's certificate as PEM")]
pub struct TrustError;

impl Trust {
    /// Trusts these authorities alone: one or more certificates as PEM.
    pub fn only(pem: &str) -> Result<Self, TrustError> {
        let certificates = CertificateDer::pem_slice_iter(pem.as_bytes())
            .collect::<Result<Vec<_>, _>>()
            .map_err(|_| TrustError)?;
        let trust = Self(Some(certificates));
        match &trust.0 {
            Some(certificates) if !certificates.is_empty() => {}
            _ => return Err(TrustError),
        }
        trust.roots()?;
        Ok(trust)
    }

    /// For ureq.
    pub(crate) fn for_http(&self) -> ureq::tls::TlsConfig {
        let roots = match &self.0 {
            None => ureq::tls::RootCerts::WebPki,
            Some(own) => {
                let own = own
                    .iter()
                    .map(|der| ureq::tls::Certificate::from_der(der).to_owned());
                ureq::tls::RootCerts::Specific(Arc::new(own.collect()))
            }
        };
        ureq::tls::TlsConfig::builder().root_certs(roots).build()
    }

    /// For a WebSocket.
    pub(crate) fn for_socket(
        &self,
    ) -> Result<ClientConfig, Box<dyn std::error::Error + Send + Sync>> {
        let provider = Arc::new(rustls::crypto::ring::default_provider());
        Ok(ClientConfig::builder_with_provider(provider)
            .with_safe_default_protocol_versions()?
            .with_root_certificates(self.roots()?)
            .with_no_client_auth())
    }

    fn roots(&self) -> Result<RootCertStore, TrustError> {
        let mut roots = RootCertStore::empty();
        match &self.0 {
            None => roots.extend(webpki_roots::TLS_SERVER_ROOTS.iter().cloned()),
            Some(own) => {
                for certificate in own {
                    roots.add(certificate.clone()).map_err(|_| TrustError)?;
                }
            }
        }
        Ok(roots)
    }
}
