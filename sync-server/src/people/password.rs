//! Passwords: what makes one too weak, and Argon2id, a few at a time and never on the threads
//! that serve requests.

use std::collections::BTreeSet;
use std::sync::Arc;
use std::time::Duration;

use argon2::password_hash::{PasswordHash, SaltString};
use argon2::{Algorithm, Argon2, Params, PasswordHasher, PasswordVerifier, Version};
use chalkwalk_core::env::Env;
use tokio::sync::{OnceCell, Semaphore};

use crate::env::SystemEnv;
use crate::limits;

/// Memory, KiB. With two passes and one lane this is the first choice of OWASP's Password Storage
/// Cheat Sheet for Argon2id (RFC 9106), as read in 2024.
const MEMORY_KIB: u32 = 19_456;
const PASSES: u32 = 2;
const LANES: u32 = 1;
const HASH_BYTES: usize = 32;

/// Why a password is not checked or kept.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum PasswordError {
    /// Too many are being checked.
    #[error("many people sign in just now: try again in a moment")]
    Busy,
    /// It may not be used.
    #[error("{0}")]
    Weak(String),
    /// The hash could not be made or read.
    #[error("the password could not be checked")]
    Failed,
}

/// Checks passwords and makes their hashes. Clones share their turns.
#[derive(Clone, Debug)]
pub struct Passwords {
    turns: Arc<Semaphore>,
    wait: Duration,
    /// Checked where there is no account, so that nobody learns from the time it takes.
    nobody: Arc<OnceCell<String>>,
}

impl Default for Passwords {
    fn default() -> Self {
        Self {
            turns: Arc::new(Semaphore::new(limits::PASSWORDS_AT_ONCE)),
            wait: Duration::from_millis(limits::PASSWORD_WAIT_MS),
            nobody: Arc::default(),
        }
    }
}

impl Passwords {
    /// Hash of a new password, in PHC form.
    pub async fn hash(&self, password: &str) -> Result<String, PasswordError> {
        let password = password.to_owned();
        self.work(move || make(&password)).await
    }

    /// Whether a password is the one with this hash. With no hash it takes as long and is false.
    pub async fn check(&self, password: &str, hash: Option<&str>) -> Result<bool, PasswordError> {
        if password.len() > limits::PASSWORD_BYTES {
            return Ok(false);
        }
        let (known, hash) = match hash {
            Some(hash) => (true, hash.to_owned()),
            None => {
                let made = self
                    .nobody
                    .get_or_try_init(|| self.hash("the password of nobody"))
                    .await?;
                (false, made.clone())
            }
        };
        let password = password.to_owned();
        let right = self
            .work(move || {
                let hash = PasswordHash::new(&hash).map_err(|_| PasswordError::Failed)?;
                Ok(argon()?.verify_password(password.as_bytes(), &hash).is_ok())
            })
            .await?;
        Ok(known && right)
    }

    async fn work<T: Send + 'static>(
        &self,
        work: impl FnOnce() -> Result<T, PasswordError> + Send + 'static,
    ) -> Result<T, PasswordError> {
        let turn = tokio::time::timeout(self.wait, Arc::clone(&self.turns).acquire_owned());
        let turn = turn
            .await
            .map_err(|_| PasswordError::Busy)?
            .map_err(|_| PasswordError::Busy)?;
        tokio::task::spawn_blocking(move || {
            let done = work();
            drop(turn);
            done
        })
        .await
        .map_err(|_| PasswordError::Failed)?
    }
}

fn argon() -> Result<Argon2<'static>, PasswordError> {
    let params = Params::new(MEMORY_KIB, PASSES, LANES, Some(HASH_BYTES))
        .map_err(|_| PasswordError::Failed)?;
    Ok(Argon2::new(Algorithm::Argon2id, Version::V0x13, params))
}

fn make(password: &str) -> Result<String, PasswordError> {
    let mut salt = [0; 16];
    SystemEnv.random(&mut salt);
    let salt = SaltString::encode_b64(&salt).map_err(|_| PasswordError::Failed)?;
    let hash = argon()?
        .hash_password(password.as_bytes(), &salt)
        .map_err(|_| PasswordError::Failed)?;
    Ok(hash.to_string())
}

/// What makes a password too weak, in words; `None` where it may be used. `names` are those that
/// anybody would try first. No rule asks for kinds of characters: length counts (common practice).
pub fn weakness(password: &str, names: &[&str]) -> Option<String> {
    if password.len() > limits::PASSWORD_BYTES {
        let most = limits::PASSWORD_BYTES;
        return Some(format!(
            "The password has more than {most} bytes: shorten it."
        ));
    }
    let letters = password.chars().count();
    let least = limits::PASSWORD_CHARS;
    if letters < least {
        return Some(format!(
            "The password has {letters} characters: use at least {least}, such as four words."
        ));
    }
    let kinds: BTreeSet<char> = password.chars().collect();
    if kinds.len() < limits::PASSWORD_KINDS {
        return Some("The password repeats a few characters: choose another.".to_owned());
    }
    let folded = password.to_lowercase();
    let close = |name: &&&str| {
        let name = name.trim().to_lowercase();
        name.chars().count() >= 4 && folded.contains(&name) && letters < least + name.len()
    };
    if names.iter().any(|name| close(&name)) {
        return Some(
            "The password is little more than a name that others know: choose another.".to_owned(),
        );
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;

    #[tokio::test]
    async fn a_password_is_known_again() {
        let passwords = Passwords::default();
        let hash = passwords.hash("chalk lines on slate").await.unwrap();
        assert!(
            hash.starts_with("$argon2id$v=19$m=19456,t=2,p=1$"),
            "{hash}"
        );
        assert!(
            passwords
                .check("chalk lines on slate", Some(&hash))
                .await
                .unwrap()
        );
        assert!(
            !passwords
                .check("chalk lines on slatE", Some(&hash))
                .await
                .unwrap()
        );
        assert!(!passwords.check("chalk lines on slate", None).await.unwrap());
        assert!(
            !passwords
                .check("the password of nobody", None)
                .await
                .unwrap()
        );
        let again = passwords.hash("chalk lines on slate").await.unwrap();
        assert_ne!(hash, again);
        let damaged = passwords.check("x", Some("no hash at all")).await;
        assert!(matches!(damaged, Err(PasswordError::Failed)));
    }

    /// RFC 9106, section 5.3: the Argon2id test vector, through the same library.
    #[test]
    fn argon2id_gives_the_vector_of_the_rfc() {
        let params = argon2::ParamsBuilder::new()
            .m_cost(32)
            .t_cost(3)
            .p_cost(4)
            .data(argon2::AssociatedData::new(&[4; 12]).unwrap())
            .build()
            .unwrap();
        let argon =
            Argon2::new_with_secret(&[3; 8], Algorithm::Argon2id, Version::V0x13, params).unwrap();
        let mut tag = [0; 32];
        argon
            .hash_password_into(&[1; 32], &[2; 16], &mut tag)
            .unwrap();
        assert_eq!(
            chalkwalk_core::job::hex(&tag),
            "0d640df58d78766c08c037a34a8b53c9d01ef0452d75b65eb52520e96b01e659"
        );
    }

    #[tokio::test]
    async fn one_too_many_at_a_time_waits_and_is_told() {
        let passwords = Passwords {
            wait: Duration::from_millis(20),
            ..Passwords::default()
        };
        let turns = limits::PASSWORDS_AT_ONCE as u32;
        let all = Arc::clone(&passwords.turns)
            .acquire_many_owned(turns)
            .await
            .unwrap();
        let told = passwords.check("chalk lines on slate", Some("$")).await;
        assert!(matches!(told, Err(PasswordError::Busy)));
        drop(all);
    }

    #[test]
    fn one_short_of_each_limit_is_weak() {
        let letters: String = ('a'..='z').cycle().take(limits::PASSWORD_CHARS).collect();
        assert_eq!(weakness(&letters, &[]), None);
        assert!(weakness(&letters[1..], &[]).unwrap().contains("characters"));
        let of_kinds = |kinds| -> String {
            let few: Vec<char> = ('a'..='z').take(kinds).collect();
            few.into_iter()
                .cycle()
                .take(2 * limits::PASSWORD_CHARS)
                .collect()
        };
        assert_eq!(weakness(&of_kinds(limits::PASSWORD_KINDS), &[]), None);
        let repeats = weakness(&of_kinds(limits::PASSWORD_KINDS - 1), &[]);
        assert!(repeats.unwrap().contains("repeats"));
    }

    #[test]
    fn weak_ones_are_named() {
        let good = "a".repeat(8) + "bcde";
        assert_eq!(weakness(&good, &[]), None);
        assert!(weakness(&good[1..], &[]).unwrap().contains("11 characters"));
        assert!(weakness("abababababab", &[]).unwrap().contains("repeats"));
        let long = "abcdefgh".repeat(limits::PASSWORD_BYTES / 8);
        assert_eq!(weakness(&long, &[]), None);
        assert!(weakness(&(long + "a"), &[]).unwrap().contains("shorten"));
        let name = weakness("alderroofing1", &["Alder", "alderroofing"]);
        assert!(name.unwrap().contains("name"));
        assert_eq!(weakness("seven alder trees by the brook", &["Alder"]), None);
    }

    #[tokio::test]
    async fn one_byte_too_long_is_never_right() {
        let passwords = Passwords::default();
        let long = "abcdefgh".repeat(limits::PASSWORD_BYTES / 8);
        let hash = passwords.hash(&long).await.unwrap();
        assert!(passwords.check(&long, Some(&hash)).await.unwrap());
        assert!(!passwords.check(&(long + "a"), Some(&hash)).await.unwrap());
    }
}
