//! Which bucket, and what opens it.

use std::fmt;
use std::str::FromStr;
use std::sync::Arc;

use object_store::aws::{AmazonS3Builder, AmazonS3ConfigKey};
use object_store::path::Path;
use object_store::prefix::PrefixStore;
use object_store::{BackoffConfig, ClientOptions, ObjectStore, RetryConfig};
use url::Url;

use super::{StoreError, limits};

/// A bucket that is spoken to by S3's protocol, and the prefix in it that holds one office.
///
/// `s3://BUCKET/PREFIX?endpoint=https://HOST&region=REGION`. Credentials are taken from
/// `access_key_id` and `secret_access_key` there, else from the environment as every S3 client
/// takes them (`AWS_ACCESS_KEY_ID`, `AWS_SECRET_ACCESS_KEY`, a role of the machine). An endpoint of
/// `http://` is spoken to in the clear.
#[derive(Clone, PartialEq, Eq)]
pub struct BucketPlace {
    bucket: String,
    prefix: String,
    /// What the address says beside bucket and prefix. May hold a secret.
    settings: Vec<(AmazonS3ConfigKey, String)>,
}

/// What an address of a bucket may say after the question mark.
const SETTINGS: &[&str] = &[
    "endpoint",
    "region",
    "access_key_id",
    "secret_access_key",
    "session_token",
    "virtual_hosted_style_request",
];

const HOW: &str = "the address of the bucket is not understood: write \
     s3://BUCKET/PREFIX?endpoint=https://HOST&region=REGION";

impl BucketPlace {
    /// Reads an address.
    ///
    /// # Errors
    /// [`StoreError::Setting`], without the address: it may hold a secret.
    pub fn parse(address: &str) -> Result<Self, StoreError> {
        let wrong = |words: &str| StoreError::Setting(words.to_owned());
        let url = Url::parse(address).map_err(|_| wrong(HOW))?;
        let bucket = url.host_str().unwrap_or_default().to_owned();
        let plain = url.username().is_empty() && url.password().is_none() && url.port().is_none();
        if url.scheme() != "s3" || bucket.is_empty() || !plain {
            return Err(wrong(HOW));
        }
        let mut settings = Vec::new();
        for (name, value) in url.query_pairs() {
            let known = SETTINGS.contains(&name.as_ref());
            let key = AmazonS3ConfigKey::from_str(&name).ok().filter(|_| known);
            let key = key.ok_or_else(|| {
                let known = SETTINGS.join(", ");
                StoreError::Setting(format!("the address of a bucket may say: {known}"))
            })?;
            settings.push((key, value.into_owned()));
        }
        let prefix = url.path().trim_matches('/').to_owned();
        let place = Self {
            bucket,
            prefix: String::new(),
            settings,
        };
        place.with_prefix(&prefix)
    }

    /// The same bucket with another prefix: one office each.
    ///
    /// # Errors
    /// [`StoreError::Setting`] where the prefix is not of small letters, digits, `-`, `_` and `/`.
    pub fn with_prefix(mut self, prefix: &str) -> Result<Self, StoreError> {
        let plain = |b: u8| b.is_ascii_alphanumeric() || matches!(b, b'-' | b'_' | b'/');
        if !prefix.bytes().all(plain) || prefix.contains("//") {
            return Err(StoreError::Setting(
                "a prefix in the bucket has letters, digits, -, _ and / only".to_owned(),
            ));
        }
        prefix.clone_into(&mut self.prefix);
        Ok(self)
    }

    /// The same bucket with a prefix below this one.
    ///
    /// # Errors
    /// As [`BucketPlace::with_prefix`].
    pub fn below(self, prefix: &str) -> Result<Self, StoreError> {
        let prefix = if self.prefix.is_empty() {
            prefix.to_owned()
        } else {
            format!("{}/{prefix}", self.prefix)
        };
        self.with_prefix(&prefix)
    }

    /// The store behind it. Nothing is connected yet.
    pub(super) fn open(&self) -> Result<Arc<dyn ObjectStore>, StoreError> {
        // The client's own TLS asks for one; where one is set already, that one holds.
        let _ = rustls::crypto::ring::default_provider().install_default();
        let clear = self.settings.iter().any(|(key, value)| {
            *key == AmazonS3ConfigKey::Endpoint && value.starts_with("http://")
        });
        let options = ClientOptions::new()
            .with_allow_http(clear)
            .with_connect_timeout(limits::CONNECT)
            .with_timeout(limits::BUCKET_REQUEST);
        let retry = RetryConfig {
            backoff: BackoffConfig::default(),
            max_retries: 5,
            retry_timeout: limits::BUCKET_TRIES,
        };
        let mut builder = AmazonS3Builder::from_env()
            .with_bucket_name(&self.bucket)
            .with_client_options(options)
            .with_retry(retry);
        for (key, value) in &self.settings {
            builder = builder.with_config(*key, value);
        }
        let store = builder.build().map_err(|error| {
            StoreError::Setting(format!(
                "the bucket {} cannot be used: {error}",
                self.bucket
            ))
        })?;
        if self.prefix.is_empty() {
            return Ok(Arc::new(store));
        }
        Ok(Arc::new(PrefixStore::new(
            store,
            Path::from(self.prefix.as_str()),
        )))
    }
}

/// The place without what opens it.
impl fmt::Display for BucketPlace {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "s3://{}/{}", self.bucket, self.prefix)
    }
}

impl fmt::Debug for BucketPlace {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{self}")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_address_gives_bucket_and_prefix_and_hides_its_secret() {
        let place = BucketPlace::parse(
            "s3://photos/alder/one?endpoint=http://127.0.0.1:9000&region=here\
             &access_key_id=known&secret_access_key=hidden",
        )
        .unwrap();
        assert_eq!(place.to_string(), "s3://photos/alder/one");
        assert!(!format!("{place:?}").contains("hidden"));
        assert_eq!(place.settings.len(), 4);
        let other = place.with_prefix("birch").unwrap();
        assert_eq!(other.to_string(), "s3://photos/birch");
    }

    #[test]
    fn what_is_no_address_is_refused_without_repeating_it() {
        for wrong in [
            "http://photos/a?secret_access_key=hidden",
            "s3:///a?secret_access_key=hidden",
            "s3://user:hidden@photos/a",
            "s3://photos/a?skip_signature=true&secret_access_key=hidden",
            "s3://photos/a%20b?secret_access_key=hidden",
            "not an address, hidden",
        ] {
            let error = BucketPlace::parse(wrong).unwrap_err().to_string();
            assert!(!error.contains("hidden"), "{error}");
        }
    }
}
