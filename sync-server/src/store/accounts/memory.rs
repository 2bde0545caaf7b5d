//! The twin of the database, in memory.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::{Mutex, MutexGuard, PoisonError};

use async_trait::async_trait;
use chalkwalk_core::job::{DeviceId, JobId, Millis, Role};

use super::*;
use crate::limits;

/// Accounts in memory.
#[derive(Debug, Default)]
pub struct MemoryAccounts(Mutex<State>);

#[derive(Debug, Default)]
struct State {
    people: BTreeMap<PersonId, Person>,
    sign_ins: BTreeMap<[u8; 32], SignIn>,
    once: BTreeMap<[u8; 32], Once>,
    shares: Vec<Share>,
    access: BTreeMap<JobId, Access>,
    papers: BTreeMap<String, Vec<u8>>,
    deeds: Vec<Deed>,
    tries: BTreeMap<[u8; 32], (Millis, u64)>,
    answered: BTreeMap<[u8; 16], Millis>,
}

impl MemoryAccounts {
    fn state(&self) -> MutexGuard<'_, State> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl State {
    fn taken(&self, person: &Person) -> bool {
        let names = |p: &Person| -> BTreeSet<String> { logins(p).into_iter().collect() };
        let new = names(person);
        self.people.values().any(|p| !names(p).is_disjoint(&new))
    }

    fn add(&mut self, person: &Person) -> Result<Joined, StoreError> {
        if self.people.len() >= limits::PEOPLE {
            return Err(StoreError::Limit("people of one company"));
        }
        if self.taken(person) {
            return Ok(Joined::Taken);
        }
        self.people.insert(person.id, person.clone());
        Ok(Joined::Done)
    }

    fn with(&mut self, id: PersonId, change: impl FnOnce(&mut Person)) -> bool {
        self.people.get_mut(&id).map(change).is_some()
    }
}

#[async_trait]
impl Accounts for MemoryAccounts {
    async fn add_person(&self, person: &Person) -> Result<Joined, StoreError> {
        self.state().add(person)
    }

    async fn person(&self, id: PersonId) -> Result<Option<Person>, StoreError> {
        Ok(self.state().people.get(&id).cloned())
    }

    async fn person_called(&self, login: &str) -> Result<Option<Person>, StoreError> {
        let login = Person::folded(login);
        let called = |p: &&Person| {
            Person::folded(&p.name) == login
                || p.mail.as_deref().map(Person::folded).as_ref() == Some(&login)
        };
        Ok(self.state().people.values().find(called).cloned())
    }

    async fn people(&self) -> Result<Vec<Person>, StoreError> {
        Ok(self.state().people.values().cloned().collect())
    }

    async fn set_password(&self, id: PersonId, hash: &str) -> Result<bool, StoreError> {
        Ok(self
            .state()
            .with(id, |person| person.password = Some(hash.to_owned())))
    }

    async fn set_role(&self, id: PersonId, role: Role) -> Result<bool, StoreError> {
        Ok(self.state().with(id, |person| person.role = role))
    }

    async fn set_shut_out(&self, id: PersonId, at: Option<Millis>) -> Result<bool, StoreError> {
        let mut state = self.state();
        if at.is_some() {
            state.sign_ins.retain(|_, sign_in| sign_in.person != id);
        }
        Ok(state.with(id, |person| person.shut_out_at = at))
    }

    async fn put_sign_in(&self, sign_in: &SignIn, most: usize) -> Result<(), StoreError> {
        let mut state = self.state();
        state.sign_ins.insert(sign_in.hash, *sign_in);
        let mut own: Vec<SignIn> = state
            .sign_ins
            .values()
            .filter(|s| s.person == sign_in.person)
            .copied()
            .collect();
        own.sort_by_key(|s| (std::cmp::Reverse(s.seen_at), s.hash));
        for old in own.iter().skip(most) {
            state.sign_ins.remove(&old.hash);
        }
        Ok(())
    }

    async fn sign_in(&self, hash: [u8; 32]) -> Result<Option<(SignIn, Person)>, StoreError> {
        let state = self.state();
        let found = state.sign_ins.get(&hash);
        Ok(found.and_then(|s| Some((*s, state.people.get(&s.person)?.clone()))))
    }

    async fn touch_sign_in(&self, hash: [u8; 32], at: Millis) -> Result<(), StoreError> {
        if let Some(sign_in) = self.state().sign_ins.get_mut(&hash) {
            sign_in.seen_at = sign_in.seen_at.max(at);
        }
        Ok(())
    }

    async fn end_sign_in(&self, hash: [u8; 32]) -> Result<(), StoreError> {
        self.state().sign_ins.remove(&hash);
        Ok(())
    }

    async fn end_sign_ins(&self, id: PersonId, but: Option<[u8; 32]>) -> Result<(), StoreError> {
        let mut state = self.state();
        state
            .sign_ins
            .retain(|hash, s| s.person != id || Some(*hash) == but);
        Ok(())
    }

    async fn put_once(&self, once: &Once) -> Result<(), StoreError> {
        self.state().once.insert(once.hash, *once);
        Ok(())
    }

    async fn once(&self, hash: [u8; 32]) -> Result<Option<Once>, StoreError> {
        Ok(self.state().once.get(&hash).copied())
    }

    async fn withdraw_once(&self, purpose: Purpose) -> Result<(), StoreError> {
        self.state().once.retain(|_, once| once.purpose != purpose);
        Ok(())
    }

    async fn use_once(&self, hash: [u8; 32], now: Millis) -> Result<Option<Once>, StoreError> {
        let mut state = self.state();
        if state.once.get(&hash).is_some_and(|o| now < o.expires_at) {
            return Ok(state.once.remove(&hash));
        }
        Ok(None)
    }

    async fn join(
        &self,
        hash: [u8; 32],
        person: &Person,
        now: Millis,
    ) -> Result<Joined, StoreError> {
        let mut state = self.state();
        if state.once.get(&hash).is_none_or(|o| now >= o.expires_at) {
            return Ok(Joined::NoLink);
        }
        let joined = state.add(person)?;
        if joined == Joined::Done {
            state.once.remove(&hash);
        }
        Ok(joined)
    }

    async fn put_share(&self, share: &Share) -> Result<(), StoreError> {
        let mut state = self.state();
        let of_job = state.shares.iter().filter(|s| s.job == share.job).count();
        if of_job >= limits::SHARES {
            return Err(StoreError::Limit("shared links of one job"));
        }
        state.shares.push(share.clone());
        Ok(())
    }

    async fn share(&self, hash: [u8; 32]) -> Result<Option<Share>, StoreError> {
        let state = self.state();
        Ok(state.shares.iter().find(|s| s.hash == hash).cloned())
    }

    async fn shares(&self, job: JobId) -> Result<Vec<Share>, StoreError> {
        let state = self.state();
        Ok(state
            .shares
            .iter()
            .filter(|s| s.job == job)
            .cloned()
            .collect())
    }

    async fn withdraw_share(
        &self,
        job: JobId,
        id: ShareId,
        at: Millis,
    ) -> Result<bool, StoreError> {
        let mut state = self.state();
        let found = state.shares.iter_mut().find(|s| s.job == job && s.id == id);
        Ok(found
            .map(|share| share.withdrawn_at = share.withdrawn_at.or(Some(at)))
            .is_some())
    }

    async fn access(&self, job: JobId) -> Result<Access, StoreError> {
        Ok(self.state().access.get(&job).cloned().unwrap_or_default())
    }

    async fn all_access(&self) -> Result<BTreeMap<JobId, Access>, StoreError> {
        let mut all = self.state().access.clone();
        all.retain(|_, access| *access != Access::default());
        Ok(all)
    }

    async fn hidden(&self, device: DeviceId) -> Result<BTreeSet<JobId>, StoreError> {
        let state = self.state();
        let hidden = state.access.iter().filter(|(_, access)| {
            let restricted = access.closed_at.is_some() || !access.devices.is_empty();
            restricted && !access.devices.contains(&device)
        });
        Ok(hidden.map(|(job, _)| *job).collect())
    }

    async fn assign(&self, job: JobId, device: DeviceId, to: bool) -> Result<(), StoreError> {
        let mut state = self.state();
        let devices = &mut state.access.entry(job).or_default().devices;
        if to {
            devices.insert(device);
        } else {
            devices.remove(&device);
        }
        Ok(())
    }

    async fn set_closed(&self, job: JobId, at: Option<Millis>) -> Result<(), StoreError> {
        self.state().access.entry(job).or_default().closed_at = at;
        Ok(())
    }

    async fn set_mark(&self, job: JobId, marked: Option<Marked>) -> Result<(), StoreError> {
        self.state().access.entry(job).or_default().marked = marked;
        Ok(())
    }

    async fn paper(&self, name: &str) -> Result<Option<Vec<u8>>, StoreError> {
        Ok(self.state().papers.get(name).cloned())
    }

    async fn replace_paper(&self, name: &str, was: &str, bytes: &[u8]) -> Result<bool, StoreError> {
        let mut state = self.state();
        let before = state.papers.get(name).map(Vec::as_slice);
        if paper_mark(before) != was {
            return Ok(false);
        }
        if before.is_none() && state.papers.len() >= limits::PAPERS {
            return Err(StoreError::Limit("papers of the office"));
        }
        state.papers.insert(name.to_owned(), bytes.to_vec());
        Ok(true)
    }

    async fn papers_held(&self) -> Result<(u64, u64), StoreError> {
        let papers = &self.state().papers;
        let bytes = papers.values().map(|paper| paper.len() as u64).sum();
        Ok((papers.len() as u64, bytes))
    }

    async fn note(&self, deed: &Deed) -> Result<(), StoreError> {
        self.state().deeds.push(deed.clone());
        Ok(())
    }

    async fn deeds(
        &self,
        of: DeedsOf,
        before: Option<u64>,
        max: usize,
    ) -> Result<Vec<(u64, Deed)>, StoreError> {
        let state = self.state();
        Ok((1u64..)
            .zip(&state.deeds)
            .filter(|(number, deed)| before.is_none_or(|before| *number < before) && of.takes(deed))
            .map(|(number, deed)| (number, deed.clone()))
            .collect::<Vec<_>>()
            .into_iter()
            .rev()
            .take(max)
            .collect())
    }

    async fn tries(&self, key: [u8; 32], now: Millis) -> Result<u64, StoreError> {
        let state = self.state();
        let found = state.tries.get(&key).filter(|(ends, _)| *ends > now);
        Ok(found.map_or(0, |(_, count)| *count))
    }

    async fn count_tries(&self, key: [u8; 32], window: Window, by: i64) -> Result<u64, StoreError> {
        let mut state = self.state();
        state.tries.retain(|_, (ends, _)| *ends > window.now);
        let (_, count) = state.tries.entry(key).or_insert((window.ends(), 0));
        *count = count.saturating_add_signed(by);
        Ok(*count)
    }

    async fn answer(&self, nonce: [u8; 16], ends: Millis, now: Millis) -> Result<bool, StoreError> {
        let mut state = self.state();
        state.answered.retain(|_, ends| *ends > now);
        Ok(state.answered.insert(nonce, ends).is_none())
    }

    async fn sweep(&self, now: Millis) -> Result<Swept, StoreError> {
        let mut state = self.state();
        let before = (state.sign_ins.len(), state.once.len());
        state.sign_ins.retain(|_, s| s.counts(now));
        state.once.retain(|_, once| now < once.expires_at);
        Ok(Swept {
            sign_ins: (before.0 - state.sign_ins.len()) as u64,
            links: (before.1 - state.once.len()) as u64,
        })
    }
}
