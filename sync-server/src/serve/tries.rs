//! How often somebody may be wrong: counted by network or account, a window at a time.
//!
//! Each node counts in memory. Where several share their accounts, enrolment codes and passwords
//! are counted there as well, so that somebody who goes from node to node has no more tries. Tokens
//! are counted by node alone: 256 bits are not guessed, and every photo asks.

use std::collections::BTreeMap;
use std::net::{IpAddr, Ipv6Addr};
use std::sync::{Mutex, MutexGuard, PoisonError};

use chalkwalk_core::job::Millis;
use chalkwalk_core::limits as shared;

use super::Shared;
use crate::limits;
use crate::store::{StoreError, Window};

const MINUTE: Millis = 60_000;
/// Accounts that are counted at a time.
const ACCOUNTS: u32 = 10_000;

/// Counts wrong tries by key. It never grows past the limit for all.
pub(crate) struct Tries<K> {
    window: Millis,
    of_one: u32,
    of_all: u32,
    counts: Mutex<Counts<K>>,
}

struct Counts<K> {
    since: Millis,
    all: u32,
    by_key: BTreeMap<K, u32>,
}

impl<K: Ord> Tries<K> {
    fn new(window: Millis, of_one: u32, of_all: u32) -> Self {
        Self {
            window,
            of_one,
            of_all,
            counts: Mutex::new(Counts {
                since: 0,
                all: 0,
                by_key: BTreeMap::new(),
            }),
        }
    }

    /// Whether another try may be made.
    pub(crate) fn may_try(&self, key: &K, now: Millis) -> bool {
        let counts = self.counts(now);
        let here = counts.by_key.get(key).copied().unwrap_or(0);
        here < self.of_one && counts.all < self.of_all
    }

    /// Counts a wrong try, or one whose end is not known yet.
    pub(crate) fn count(&self, key: K, now: Millis) {
        let mut counts = self.counts(now);
        counts.all = counts.all.saturating_add(1);
        let here = counts.by_key.entry(key).or_default();
        *here = here.saturating_add(1);
    }

    /// Takes a try back that was right after all.
    pub(crate) fn take_back(&self, key: &K, now: Millis) {
        let mut counts = self.counts(now);
        if let Some(here) = counts.by_key.get_mut(key) {
            *here = here.saturating_sub(1);
            counts.all = counts.all.saturating_sub(1);
        }
    }

    fn counts(&self, now: Millis) -> MutexGuard<'_, Counts<K>> {
        let mut counts = self.counts.lock().unwrap_or_else(PoisonError::into_inner);
        if now - counts.since >= self.window || now < counts.since {
            counts.since = now;
            counts.all = 0;
            counts.by_key.clear();
        }
        counts
    }
}

/// All that the server counts.
pub(crate) struct AllTries {
    /// Enrolment codes, by network.
    pub(crate) codes: Tries<IpAddr>,
    /// Passwords, by network.
    pub(crate) passwords: Tries<IpAddr>,
    /// Passwords, by a hash of company and account.
    pub(crate) accounts: Tries<[u8; 32]>,
    /// Tokens and challenges, by network.
    pub(crate) tokens: Tries<IpAddr>,
}

impl Default for AllTries {
    fn default() -> Self {
        Self {
            codes: Tries::new(MINUTE, shared::ENROL_TRIES, shared::ENROL_TRIES_OF_ALL),
            passwords: Tries::new(MINUTE, limits::SIGN_IN_TRIES, limits::SIGN_IN_TRIES_OF_ALL),
            accounts: Tries::new(limits::ACCOUNT_WINDOW_MS, limits::ACCOUNT_TRIES, ACCOUNTS),
            tokens: Tries::new(MINUTE, limits::TOKEN_TRIES, limits::TOKEN_TRIES_OF_ALL),
        }
    }
}

/// Something that is guessed, and by whom or at what.
#[derive(Clone, Copy, Debug)]
pub(crate) enum Guess {
    /// An enrolment code, by network.
    Code(IpAddr),
    /// A password, by network.
    Password(IpAddr),
    /// A password, by a hash of company and account.
    Account([u8; 32]),
}

impl Shared {
    /// Whether another try may be made.
    pub(crate) async fn may_try(&self, guess: Guess, now: Millis) -> Result<bool, StoreError> {
        let tries = &self.house.tries;
        let here = match guess {
            Guess::Code(network) => tries.codes.may_try(&network, now),
            Guess::Password(network) => tries.passwords.may_try(&network, now),
            Guess::Account(account) => tries.accounts.may_try(&account, now),
        };
        if !here || !self.accounts().between_nodes() {
            return Ok(here);
        }
        let (_, of_one) = guess.limits();
        let counted = self.accounts().tries(self.name_of(guess), now).await?;
        Ok(counted < u64::from(of_one))
    }

    /// Counts a try, before or after it is known to be wrong. False where it is one too many,
    /// which tries at other nodes meanwhile may have made it.
    pub(crate) async fn count_try(&self, guess: Guess, now: Millis) -> Result<bool, StoreError> {
        let tries = &self.house.tries;
        match guess {
            Guess::Code(network) => tries.codes.count(network, now),
            Guess::Password(network) => tries.passwords.count(network, now),
            Guess::Account(account) => tries.accounts.count(account, now),
        }
        if !self.accounts().between_nodes() {
            return Ok(true);
        }
        let (_, of_one) = guess.limits();
        Ok(self.add_tries(guess, now, 1).await? <= u64::from(of_one))
    }

    /// Takes a try back that was right after all.
    pub(crate) async fn take_back_try(&self, guess: Guess, now: Millis) -> Result<(), StoreError> {
        let tries = &self.house.tries;
        match guess {
            Guess::Code(network) => tries.codes.take_back(&network, now),
            Guess::Password(network) => tries.passwords.take_back(&network, now),
            Guess::Account(account) => tries.accounts.take_back(&account, now),
        }
        if self.accounts().between_nodes() {
            self.add_tries(guess, now, -1).await?;
        }
        Ok(())
    }

    async fn add_tries(&self, guess: Guess, now: Millis, by: i64) -> Result<u64, StoreError> {
        let (lasts, _) = guess.limits();
        let window = Window { now, lasts };
        let key = self.name_of(guess);
        self.accounts().count_tries(key, window, by).await
    }

    /// What stands for a guess in the store: no address, and nothing that one is read from without
    /// the server's key.
    fn name_of(&self, guess: Guess) -> [u8; 32] {
        let (word, about) = match guess {
            Guess::Code(network) => (1, network.to_string().into_bytes()),
            Guess::Password(network) => (2, network.to_string().into_bytes()),
            Guess::Account(account) => (3, account.to_vec()),
        };
        let secret = self.hub.office().server_key().to_bytes();
        let key = blake3::derive_key("chalkwalk tries at all nodes v1", &secret);
        let mut hasher = blake3::Hasher::new_keyed(&key);
        hasher.update(&[word]).update(&about);
        *hasher.finalize().as_bytes()
    }
}

impl Guess {
    /// The window, milliseconds, and the tries of one in it.
    fn limits(self) -> (Millis, u32) {
        match self {
            Guess::Code(_) => (MINUTE, shared::ENROL_TRIES),
            Guess::Password(_) => (MINUTE, limits::SIGN_IN_TRIES),
            Guess::Account(_) => (limits::ACCOUNT_WINDOW_MS, limits::ACCOUNT_TRIES),
        }
    }
}

/// One household has many version 6 addresses and one network of 64 bits.
pub(crate) fn network(address: IpAddr) -> IpAddr {
    match address.to_canonical() {
        IpAddr::V6(v6) => IpAddr::V6(Ipv6Addr::from_bits(v6.to_bits() >> 64 << 64)),
        v4 => v4,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn wrong_codes_are_counted_by_network_and_minute() {
        let tries = AllTries::default().codes;
        let at = |address: &str| network(address.parse().unwrap());
        let (home, beside) = (at("2001:db8:1:2::7"), at("2001:db8:1:2:ffff::1"));
        for _ in 0..shared::ENROL_TRIES {
            assert!(tries.may_try(&home, 1_000_000));
            tries.count(home, 1_000_000);
        }
        assert!(!tries.may_try(&home, 1_000_000));
        assert!(!tries.may_try(&beside, 1_059_999));
        assert!(tries.may_try(&at("192.0.2.9"), 1_059_999));
        tries.take_back(&home, 1_059_999);
        assert!(tries.may_try(&home, 1_059_999));
        assert!(tries.may_try(&home, 1_060_000));
    }

    #[test]
    fn wrong_tokens_and_passwords_of_one_network_have_limits() {
        let all = AllTries::default();
        let home: IpAddr = "192.0.2.9".parse().unwrap();
        let cases = [
            (&all.tokens, limits::TOKEN_TRIES),
            (&all.passwords, limits::SIGN_IN_TRIES),
        ];
        for (tries, most) in cases {
            for _ in 0..most {
                assert!(tries.may_try(&home, 5));
                tries.count(home, 5);
            }
            assert!(!tries.may_try(&home, 6));
            assert!(tries.may_try(&"192.0.2.10".parse().unwrap(), 6));
        }
    }

    #[test]
    fn all_wrong_tries_together_have_a_limit() {
        let all = AllTries::default();
        let cases = [
            (&all.codes, shared::ENROL_TRIES_OF_ALL),
            (&all.passwords, limits::SIGN_IN_TRIES_OF_ALL),
            (&all.tokens, limits::TOKEN_TRIES_OF_ALL),
        ];
        for (tries, most) in cases {
            for n in 0..most {
                let address = IpAddr::V4(std::net::Ipv4Addr::from_bits(n));
                assert!(tries.may_try(&address, 5));
                tries.count(address, 5);
            }
            assert!(!tries.may_try(&"192.0.2.9".parse().unwrap(), 6));
        }
    }

    #[test]
    fn one_account_has_a_limit_of_its_own() {
        let tries = AllTries::default().accounts;
        let began = 3 * limits::ACCOUNT_WINDOW_MS;
        for _ in 0..limits::ACCOUNT_TRIES {
            assert!(tries.may_try(&[1; 32], began));
            tries.count([1; 32], began);
        }
        assert!(!tries.may_try(&[1; 32], began + limits::ACCOUNT_WINDOW_MS - 1));
        assert!(tries.may_try(&[2; 32], began));
        assert!(tries.may_try(&[1; 32], began + limits::ACCOUNT_WINDOW_MS));
    }
}
