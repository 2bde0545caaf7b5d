//! Which jobs a device sees.
//!
//! The office's devices, an estimator's or an admin's, see every job of the company. A crew's
//! device sees a job it has written to or is assigned to, and a job that nobody is assigned to
//! while that job is open: two crews may then help each other out without asking, and the office
//! narrows it by assigning. A job that is not here yet may be begun by any device.

use chalkwalk_core::job::{DeviceId, JobId, Role};

use super::Hub;
use crate::store::{Access, StoreError};

/// Whether somebody in this part sees every job.
pub fn office_role(role: Role) -> bool {
    match role {
        Role::Estimator | Role::Admin => true,
        Role::Crew | Role::Office => false,
    }
}

/// Whether anybody in a crew sees a job, whatever the device.
pub(crate) fn open_to_all(access: &Access) -> bool {
    access.devices.is_empty() && access.closed_at.is_none()
}

impl Hub {
    /// Whether a device sees a job.
    pub async fn sees(&self, device: DeviceId, role: Role, job: JobId) -> Result<bool, StoreError> {
        if office_role(role) {
            return Ok(true);
        }
        let access = self.accounts().access(job).await?;
        if open_to_all(&access) || access.devices.contains(&device) {
            return Ok(true);
        }
        self.has_written(device, job).await
    }

    /// The jobs that are here and that a device sees, by id.
    pub async fn jobs_of(&self, device: DeviceId, role: Role) -> Result<Vec<JobId>, StoreError> {
        let jobs = self.records().jobs().await?;
        let mut seen = Vec::with_capacity(jobs.len());
        let all = if office_role(role) {
            Default::default()
        } else {
            self.accounts().all_access().await?
        };
        for status in jobs {
            let job = status.job;
            let free = all
                .get(&job)
                .is_none_or(|access| open_to_all(access) || access.devices.contains(&device));
            if free || self.has_written(device, job).await? {
                seen.push(job);
            }
        }
        Ok(seen)
    }

    /// Whether a person in this part sees a job on the pages. A crew's people see what any crew
    /// sees: whose device is whose, the pages do not know.
    pub(crate) async fn person_sees(&self, role: Role, job: JobId) -> Result<bool, StoreError> {
        Ok(office_role(role) || open_to_all(&self.accounts().access(job).await?))
    }

    async fn has_written(&self, device: DeviceId, job: JobId) -> Result<bool, StoreError> {
        let table = self.records().table(job).await?;
        Ok(table.keys().any(|author| author.device == device))
    }
}
