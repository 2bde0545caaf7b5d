//! What pages work out of a job and need again at the next click, kept as long as nothing is added
//! to the job; and who looked at which job a moment ago.

use std::any::{Any, TypeId};
use std::collections::{BTreeMap, HashMap};
use std::sync::{Arc, Mutex, OnceLock, PoisonError};
use std::time::{Duration, Instant};

use chalkwalk_core::job::{Capture, Job, JobId, Millis, RecordId};
use chalkwalk_core::limits as core_limits;

use super::shots::capture;
use super::walk::Walk;
use crate::limits;
use crate::store::PersonId;

/// What was worked out of the jobs looked at last.
#[derive(Default)]
pub(crate) struct Memo {
    worked: Mutex<BTreeMap<JobId, (Instant, Arc<Worked>)>>,
    looks: Mutex<BTreeMap<(PersonId, JobId), Millis>>,
}

/// What follows from one reading of a job.
pub(in crate::serve) struct Worked {
    of: Arc<Job>,
    walk: OnceLock<Walk>,
    captures: Mutex<HashMap<RecordId, Option<Arc<Capture>>>>,
    kept: Mutex<BTreeMap<(TypeId, String), Arc<dyn Any + Send + Sync>>>,
}

/// Most things kept of one reading: what it was worked out with may change by every click.
const KEPT: usize = 24;

impl Worked {
    /// What was worked out of this reading with `with`, if it was.
    pub(in crate::serve) fn found<T: Send + Sync + 'static>(&self, with: &str) -> Option<Arc<T>> {
        let kept = self.kept.lock().unwrap_or_else(PoisonError::into_inner);
        let known = kept.get(&(TypeId::of::<T>(), with.to_owned()))?;
        Arc::clone(known).downcast().ok()
    }

    /// Whether anything of this kind was worked out of this reading.
    pub(in crate::serve) fn has_any<T: 'static>(&self) -> bool {
        let kept = self.kept.lock().unwrap_or_else(PoisonError::into_inner);
        kept.keys().any(|(kind, _)| *kind == TypeId::of::<T>())
    }

    /// Keeps what was worked out of this reading with `with`.
    pub(in crate::serve) fn keep<T: Send + Sync + 'static>(&self, with: &str, made: T) -> Arc<T> {
        let made = Arc::new(made);
        let mut kept = self.kept.lock().unwrap_or_else(PoisonError::into_inner);
        if kept.len() >= KEPT {
            kept.clear();
        }
        let key = (TypeId::of::<T>(), with.to_owned());
        kept.insert(key, Arc::clone(&made) as Arc<dyn Any + Send + Sync>);
        made
    }

    /// What follows from this reading and `with`, worked out once.
    pub(in crate::serve) fn once<T: Send + Sync + 'static>(
        &self,
        with: &str,
        make: impl FnOnce(&Job) -> T,
    ) -> Arc<T> {
        match self.found(with) {
            Some(known) => known,
            None => self.keep(with, make(&self.of)),
        }
    }

    /// What the phone sealed of a photo of this reading, read once.
    pub(in crate::serve) fn capture(&self, id: &RecordId) -> Option<Arc<Capture>> {
        let mut known = self.captures.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(capture) = known.get(id) {
            return capture.clone();
        }
        let photo = self.of.records.photos.get(id)?;
        let read = capture(photo).map(Arc::new);
        known.insert(id.clone(), read.clone());
        read
    }

    /// Reads what the phones sealed of the photos that pages of the reading before showed.
    pub(in crate::serve) fn read_captures_of(&self, before: &Worked) {
        let known = before.captures.lock();
        let known = known.unwrap_or_else(PoisonError::into_inner);
        let shown: Vec<RecordId> = known.keys().cloned().collect();
        drop(known);
        for id in &shown {
            self.capture(id);
        }
    }

    /// The walk round the house.
    pub(in crate::serve) fn walk(&self) -> &Walk {
        self.walk.get_or_init(|| Walk::of(&self.of))
    }
}

impl Memo {
    /// What was worked out of the reading of a job at which somebody looked a moment ago.
    pub(in crate::serve) fn of_late(&self, id: JobId, now: Millis) -> Option<Arc<Worked>> {
        let looks = self.looks.lock().unwrap_or_else(PoisonError::into_inner);
        let looked = looks
            .iter()
            .any(|((_, job), at)| *job == id && fresh(*at, now));
        drop(looks);
        let worked = self.worked.lock().unwrap_or_else(PoisonError::into_inner);
        let (_, worked) = worked.get(&id).filter(|_| looked)?;
        Some(Arc::clone(worked))
    }

    /// What follows from this reading of a job.
    pub(in crate::serve) fn of(&self, id: JobId, job: &Arc<Job>) -> Arc<Worked> {
        let mut worked = self.worked.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some((at, known)) = worked.get_mut(&id)
            && Arc::ptr_eq(&known.of, job)
        {
            *at = Instant::now();
            return Arc::clone(known);
        }
        if worked.len() >= core_limits::OPEN_DOCUMENTS {
            worked.clear();
        }
        let new = Arc::new(Worked {
            of: Arc::clone(job),
            walk: OnceLock::new(),
            captures: Mutex::default(),
            kept: Mutex::default(),
        });
        worked.insert(id, (Instant::now(), Arc::clone(&new)));
        new
    }

    /// Lets go of what nobody has looked at for so long.
    pub(in crate::serve) fn close_idle(&self, idle: Duration) {
        let mut worked = self.worked.lock().unwrap_or_else(PoisonError::into_inner);
        worked.retain(|_, (at, _)| at.elapsed() < idle);
    }

    /// Whether a look is a new one: the same person's next pages of the same job within
    /// [`limits::SAME_LOOK_MS`] belong to the look before.
    pub(crate) fn is_new_look(&self, person: PersonId, job: JobId, now: Millis) -> bool {
        let looks = self.looks.lock().unwrap_or_else(PoisonError::into_inner);
        looks.get(&(person, job)).is_none_or(|at| !fresh(*at, now))
    }

    /// Remembers a look that was written down.
    pub(crate) fn looked(&self, person: PersonId, job: JobId, now: Millis) {
        let mut looks = self.looks.lock().unwrap_or_else(PoisonError::into_inner);
        looks.retain(|_, at| fresh(*at, now));
        looks.insert((person, job), now);
    }
}

fn fresh(at: Millis, now: Millis) -> bool {
    (0..limits::SAME_LOOK_MS).contains(&(now - at))
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    #[test]
    fn pages_of_one_look_are_one_look() {
        let memo = Memo::default();
        let (ada, ben) = (PersonId([1; 16]), PersonId([2; 16]));
        let job = |n| JobId::from_bytes([n; 16]);
        assert!(memo.is_new_look(ada, job(1), 1_000));
        memo.looked(ada, job(1), 1_000);
        assert!(!memo.is_new_look(ada, job(1), 1_000 + limits::SAME_LOOK_MS - 1));
        assert!(memo.is_new_look(ben, job(1), 1_000) && memo.is_new_look(ada, job(2), 1_000));
        assert!(memo.is_new_look(ada, job(1), 1_000 + limits::SAME_LOOK_MS));
        // A clock that was set back hides no look.
        assert!(memo.is_new_look(ada, job(1), 500));
    }

    #[test]
    fn what_is_worked_out_ahead_is_of_jobs_looked_at_lately() {
        let memo = Memo::default();
        let id = JobId::from_bytes([1; 16]);
        let document = chalkwalk_core::document::Document::new().unwrap();
        let read = Arc::new(document.job().clone());
        assert!(memo.of_late(id, 0).is_none());
        let worked = memo.of(id, &read);
        worked.once("some", |job| job.schema);
        assert!(memo.of_late(id, 0).is_none(), "nobody looked");
        memo.looked(PersonId([1; 16]), id, 0);
        let late = memo.of_late(id, 1).unwrap();
        assert!(Arc::ptr_eq(&late, &worked));
        assert!(late.has_any::<u32>() && !late.has_any::<u64>());
        assert!(memo.of_late(id, limits::SAME_LOOK_MS).is_none());
    }
}
