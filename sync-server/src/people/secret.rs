//! Secrets that browsers and links hold: 256 random bits, of which the server keeps a hash alone.

use chalkwalk_core::env::Env;
use chalkwalk_core::job::{hex, unhex};

const CONTEXT: &str = "chalkwalk bearer secret v1";

/// A secret as it is handed out once.
#[derive(Clone, PartialEq, Eq)]
pub struct Secret([u8; 32]);

impl Secret {
    /// A fresh one.
    pub fn fresh(env: &mut dyn Env) -> Self {
        let mut bytes = [0; 32];
        env.random(&mut bytes);
        Self(bytes)
    }

    /// What is kept of it.
    pub fn hash(&self) -> [u8; 32] {
        blake3::derive_key(CONTEXT, &self.0)
    }

    /// The secret as text: 64 hexadecimal digits.
    pub fn reveal(&self) -> String {
        hex(&self.0)
    }
}

/// Shows nothing of it, so that no log does.
impl std::fmt::Debug for Secret {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("Secret")
    }
}

/// What would be kept of a secret that somebody shows; `None` where it is none.
pub fn hash_of(text: &str) -> Option<[u8; 32]> {
    let bytes: [u8; 32] = unhex(text)?.try_into().ok()?;
    Some(Secret(bytes).hash())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::env::SystemEnv;

    #[test]
    fn a_secret_is_known_again_by_its_hash() {
        let secret = Secret::fresh(&mut SystemEnv);
        assert_eq!(hash_of(&secret.reveal()), Some(secret.hash()));
        assert_ne!(Secret::fresh(&mut SystemEnv), secret);
        assert_eq!(hash_of("no secret"), None);
        assert_eq!(hash_of(&secret.reveal()[2..]), None);
        assert!(!format!("{secret:?}").contains(&secret.reveal()));
    }
}
