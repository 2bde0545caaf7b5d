//! The drawing of the house from its record.

use chalkwalk_core::drawing::house_marks::house_of_job;
use chalkwalk_core::job::Job;

use super::found::Found;
use crate::hub::job_title;

/// The drawing, as SVG.
pub(super) fn drawn(job: &Job, found: &Found<'_>) -> String {
    let title = format!("{} from above", job_title(job));
    house_of_job(job, title, &|place| found.at(place))
}
