//! Who is on the other side: each shows its certificate and signs what both have said.

use std::collections::BTreeSet;

use ed25519_dalek::{SigningKey, VerifyingKey};
use serde_bytes::{ByteArray, ByteBuf};

use super::event::{Ending, Reason};
use super::message::{Hello, Prove, pack};
use crate::job::{Certificate, JobId, SealError, SignedCertificate, check_seal, seal};
use crate::limits;
use crate::sorted::Keyed;

const CONTEXT: &[u8] = b"chalkwalk session v1\0";

/// The handshake of one side.
pub(crate) struct Handshake {
    initiator: bool,
    live: bool,
    nonce: [u8; 32],
    signed: SignedCertificate,
    me: Certificate,
    key: SigningKey,
    office: VerifyingKey,
}

impl Handshake {
    pub(crate) fn new(
        signed: SignedCertificate,
        key: SigningKey,
        office: VerifyingKey,
        nonce: [u8; 32],
        initiator: bool,
        live: bool,
    ) -> Result<Self, SealError> {
        let me = signed.verify(&office)?;
        if me.verifying_key()? != key.verifying_key() {
            return Err(SealError::Mismatch);
        }
        Ok(Self {
            initiator,
            live,
            nonce,
            signed,
            me,
            key,
            office,
        })
    }

    pub(crate) fn me(&self) -> &Certificate {
        &self.me
    }

    pub(crate) fn hello(&self) -> Result<Hello, Ending> {
        Ok(Hello {
            initiator: self.initiator,
            live: self.live,
            nonce: ByteArray::new(self.nonce),
            certificate: ByteBuf::from(self.signed.body.clone()),
            certificate_signature: ByteArray::new(signature_of(&self.signed.signature)?),
        })
    }

    /// The peer's certificate, if the office vouches for it and it is another device of the same
    /// company.
    pub(crate) fn check_hello(
        &self,
        hello: &Hello,
    ) -> Result<(Certificate, SignedCertificate), Ending> {
        if hello.certificate.len() > limits::CERTIFICATE_BYTES {
            return Err(Ending::new(Reason::Limit, "a certificate is too large"));
        }
        let signed = SignedCertificate {
            body: hello.certificate.to_vec(),
            signature: hello.certificate_signature.to_vec(),
        };
        let peer = signed.verify(&self.office).map_err(|_| {
            identity("its certificate is not signed by this office: enrol the device again")
        })?;
        if peer.company != self.me.company {
            return Err(identity("it belongs to another company"));
        }
        if peer.device == self.me.device {
            return Err(Ending::new(
                Reason::SameDevice,
                "both sides are the same device: one is a copy, enrol it as a device of its own",
            ));
        }
        if hello.initiator == self.initiator {
            return Err(Ending::new(
                Reason::Protocol,
                "both sides began, or neither did",
            ));
        }
        Ok((peer, signed))
    }

    pub(crate) fn prove(
        &self,
        theirs: &Hello,
        only: Option<&BTreeSet<JobId>>,
    ) -> Result<Prove, Ending> {
        let only: Option<Vec<JobId>> = only.map(|jobs| jobs.iter().copied().collect());
        let said = self.said(&self.hello()?, theirs, self.initiator, only.as_ref())?;
        let signature = signature_of(&seal(&self.key, CONTEXT, &said))?;
        Ok(Prove {
            only,
            signature: ByteArray::new(signature),
        })
    }

    /// Checks the peer's signature; the jobs it wants to speak of, `None` for all.
    pub(crate) fn check_prove(
        &self,
        theirs: &Hello,
        peer: &Certificate,
        prove: &Prove,
    ) -> Result<Option<BTreeSet<JobId>>, Ending> {
        let said = self.said(&self.hello()?, theirs, !self.initiator, prove.only.as_ref())?;
        peer.verifying_key()
            .and_then(|key| check_seal(&key, CONTEXT, &said, prove.signature.as_slice()))
            .map_err(|_| identity("it does not hold the key of its certificate"))?;
        match &prove.only {
            Some(jobs) if jobs.len() > limits::SESSION_JOBS => {
                Err(Ending::new(Reason::Limit, "too many jobs are named"))
            }
            jobs => Ok(jobs.as_ref().map(|jobs| jobs.iter().copied().keyed())),
        }
    }

    /// What a side signs: both greetings, the initiator's first, which side signs, and its jobs.
    fn said(
        &self,
        mine: &Hello,
        theirs: &Hello,
        by_initiator: bool,
        only: Option<&Vec<JobId>>,
    ) -> Result<Vec<u8>, Ending> {
        let (first, second) = if self.initiator {
            (mine, theirs)
        } else {
            (theirs, mine)
        };
        Ok(pack(&(first, second, by_initiator, only))?)
    }
}

fn signature_of(bytes: &[u8]) -> Result<[u8; 64], Ending> {
    bytes
        .try_into()
        .map_err(|_| identity("a signature has sixty-four bytes"))
}

fn identity(words: &str) -> Ending {
    Ending::new(
        Reason::Identity,
        format!("the device on the other side is not known: {words}"),
    )
}
