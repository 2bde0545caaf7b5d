//! A batch with all that is needed to judge it.

use std::collections::BTreeMap;

use chalkwalk_core::document::{Admitted, ChangeRow, Document, Gate, Refusal};
use chalkwalk_core::job::{CompanyId, DeviceId, JobId, Role};
use ed25519_dalek::VerifyingKey;

/// Whose document: a job of a company.
pub(crate) type Place = (CompanyId, JobId);

/// A batch, who may sign it, and what they are.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Case<'a> {
    pub(crate) job: JobId,
    pub(crate) batch: &'a [ChangeRow],
    pub(crate) keys: &'a BTreeMap<DeviceId, VerifyingKey>,
    pub(crate) roles: &'a BTreeMap<DeviceId, Role>,
}

impl Case<'_> {
    /// Judges the batch on the document, which comes back as it was where the batch is refused.
    /// `whole` also proves that what it makes of the document reads back.
    pub(crate) fn judge(
        &self,
        document: Document,
        whole: bool,
    ) -> Result<Admitted, (Box<Document>, Refusal)> {
        let gate = Gate {
            whole,
            ..Gate::of_job(self.job, self.keys, self.roles)
        };
        document.admit_into(self.batch, &gate)
    }
}
