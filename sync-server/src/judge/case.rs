//! A batch with all that is needed to judge it.

use std::collections::BTreeMap;

use chalkwalk_core::document::{Admitted, ChangeRow, Document, Refusal};
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
    /// Judges the batch on a copy of the document. `whole` also proves that what it makes of the
    /// document reads back.
    pub(crate) fn judge(&self, document: &Document, whole: bool) -> Result<Admitted, Refusal> {
        let admitted = document.admit_with_check(self.batch, self.keys, whole)?;
        if admitted.document.job().id.is_some_and(|id| id != self.job) {
            return Err(Refusal::Malformed(
                "the changes are of another job".to_owned(),
            ));
        }
        admitted
            .document
            .check_writers(&admitted.rows, self.roles)?;
        Ok(admitted)
    }
}
