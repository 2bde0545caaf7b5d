//! Which jobs a device sees.
//!
//! The office's devices, an estimator's or an admin's, see every job of the company. A crew's
//! device sees a job it has written to or is assigned to, and a job that nobody is assigned to
//! while that job is open: two crews may then help each other out without asking, and the office
//! narrows it by assigning. A job that is not here yet may be begun by any device.

use chalkwalk_core::job::{DeviceId, JobId, Role};

use super::{ELSEWHERE, Hub, News};
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
        self.records().has_written(device, job).await
    }

    /// The jobs that are here and that a device sees, by id.
    pub async fn jobs_of(&self, device: DeviceId, role: Role) -> Result<Vec<JobId>, StoreError> {
        if office_role(role) {
            return self.records().job_ids().await;
        }
        self.accounts().jobs_seen(self.records(), device).await
    }

    /// Assigns a device to a job, or takes it off. A device that is connected gets the job at once.
    pub async fn assign(&self, job: JobId, device: DeviceId, to: bool) -> Result<(), StoreError> {
        self.accounts().assign(job, device, to).await?;
        if to {
            self.tell(News::Job {
                job,
                session: ELSEWHERE,
                files: true,
            });
        }
        Ok(())
    }

    /// Whether a person in this part sees a job on the pages. A crew's people see what any crew
    /// sees: whose device is whose, the pages do not know.
    pub(crate) async fn person_sees(&self, role: Role, job: JobId) -> Result<bool, StoreError> {
        Ok(office_role(role) || open_to_all(&self.accounts().access(job).await?))
    }
}
