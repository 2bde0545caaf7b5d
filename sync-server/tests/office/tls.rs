//! The command speaks TLS to an office, and only to one whose certificate is in order.

use std::path::{Path, PathBuf};

use chalkwalk_core::job::{Role, Side};
use chalkwalk_core::notebook::Enrolment;
use chalkwalk_core::sync::Reason;
use chalkwalk_sync_server::client::{Applicant, EnrolFailure, enrol_by};
use chalkwalk_sync_server::serve::{ServeConfig, Way};
use chalkwalk_sync_server::transport::{LinkError, Then, Trust, sync_ws_by};
use rcgen::{BasicConstraints, CertificateParams, CertifiedIssuer, IsCa, KeyPair};

use crate::stage::{Phone, Server};

/// An authority of the office's own, and a server with a certificate from it for `localhost`.
fn office(folder: &Path) -> (Server, PathBuf) {
    let mut params = CertificateParams::new(Vec::new()).unwrap();
    params.is_ca = IsCa::Ca(BasicConstraints::Unconstrained);
    let authority = CertifiedIssuer::self_signed(params, KeyPair::generate().unwrap()).unwrap();
    let key = KeyPair::generate().unwrap();
    let params = CertificateParams::new(vec!["localhost".to_owned()]).unwrap();
    let certificate = params.signed_by(&key, &authority).unwrap();
    let (ca, certificates, key_file) = (
        folder.join("ca.pem"),
        folder.join("cert.pem"),
        folder.join("key.pem"),
    );
    std::fs::write(&ca, authority.pem()).unwrap();
    std::fs::write(&certificates, certificate.pem()).unwrap();
    std::fs::write(&key_file, key.serialize_pem()).unwrap();
    let config = ServeConfig {
        data: folder.join("office"),
        company: Some("Alder Roofing".into()),
        way: Way::Tls {
            certificates,
            key: key_file,
        },
        ..ServeConfig::default()
    };
    (Server::run(config).unwrap(), ca)
}

fn join(
    phone: &mut Phone,
    trust: &Trust,
    address: &str,
    code: &str,
    pin: &str,
) -> Result<(), EnrolFailure> {
    let identity = phone.notebook.identity().clone();
    let applicant = Applicant {
        device: identity.device,
        key: &identity.key,
        person: &identity.person,
        device_name: &identity.device_name,
        role: identity.role,
    };
    let answer = enrol_by(trust, address, code, Some(pin), &applicant)?;
    let kept = Enrolment {
        company: answer.company,
        company_name: answer.company_name,
        office_key: answer.office_key.to_bytes().to_vec(),
        certificate: answer.certificate,
        address: address.to_owned(),
    };
    phone.notebook.enrol(kept).unwrap();
    Ok(())
}

#[test]
fn a_device_joins_and_syncs_over_tls_by_the_offices_own_authority() {
    let folder = tempfile::tempdir().unwrap();
    let (server, ca) = office(folder.path());
    let address = format!("https://localhost:{}", server.ready.listen.port());
    let code = server.invite(Role::Crew);
    let mut ada = Phone::new("Ada");
    let own = Trust::Authority(ca);
    // Not believed: an authority that the system does not know; then another name.
    let stranger = join(&mut ada, &Trust::System, &address, &code.code, &code.pin);
    let words = stranger.unwrap_err().to_string();
    assert!(
        words.contains("is not believed") && words.contains("--ca"),
        "{words}"
    );
    let by_number = format!("https://{}", server.ready.listen);
    let other = join(&mut ada, &own, &by_number, &code.code, &code.pin).unwrap_err();
    assert!(
        matches!(other, EnrolFailure::Link(LinkError::NotBelieved { .. })),
        "{other}"
    );
    // The pin still says whose office it is.
    let wrong_pin = "0".repeat(32);
    let other = join(&mut ada, &own, &address, &code.code, &wrong_pin).unwrap_err();
    assert!(matches!(other, EnrolFailure::OtherOffice), "{other}");
    join(&mut ada, &own, &address, &code.code, &code.pin).unwrap();

    let job = ada.begin();
    ada.photo(job, Side::Front, 1, 200);
    let mut sync = |trust: &Trust, address: &str| {
        let config = ada.notebook.session(true, None, true).unwrap();
        sync_ws_by(trust, address, &mut ada.notebook, config, &mut |_| {
            Then::GoOn
        })
    };
    let done = sync(&own, &address).unwrap();
    assert_eq!(done.ending.unwrap().reason, Reason::Finished);
    assert_eq!(done.progress.originals_sent, 1);
    let wss = address.replace("https", "wss");
    assert_eq!(sync(&own, &wss).unwrap().progress.changes_sent, 0);
    let stranger = sync(&Trust::System, &address).unwrap_err();
    assert!(
        matches!(stranger, LinkError::NotBelieved { .. }),
        "{stranger}"
    );
    // In the clear, to a server that speaks TLS alone.
    let clear = address.replace("https", "http");
    assert!(sync(&own, &clear).is_err());
    server.stop();
}

#[test]
fn an_authority_that_is_none_is_said_so() {
    let folder = tempfile::tempdir().unwrap();
    let mut ada = Phone::new("Ada");
    let missing = Trust::Authority(folder.path().join("nothing.pem"));
    let empty = folder.path().join("empty.pem");
    std::fs::write(&empty, "not a certificate").unwrap();
    for trust in [missing, Trust::Authority(empty)] {
        let error = join(&mut ada, &trust, "https://localhost:1", "0", "0").unwrap_err();
        assert!(
            matches!(error, EnrolFailure::Link(LinkError::Trust(_))),
            "{error}"
        );
    }
}
