//! The engines that `tests/engines.py` starts, for the tests that need them.

/// The database's address; `None` where no engine was started and none is required.
pub(crate) fn postgres() -> Option<String> {
    engine("CHALKWALK_POSTGRES")
}

/// The same database over TLS, with its authority.
#[allow(dead_code)]
pub(crate) fn postgres_tls() -> Option<String> {
    engine("CHALKWALK_POSTGRES_TLS")
}

/// The bucket's address.
pub(crate) fn bucket() -> Option<String> {
    engine("CHALKWALK_S3")
}

/// A name that no other test has, of small letters: a schema, or a prefix in the bucket.
#[allow(dead_code)]
pub(crate) fn own_name(folder: &std::path::Path) -> String {
    let name = blake3::hash(folder.as_os_str().as_encoded_bytes());
    format!("test_{}", &name.to_hex()[..20])
}

fn engine(variable: &str) -> Option<String> {
    if let Ok(address) = std::env::var(variable) {
        return Some(address);
    }
    let how = format!(
        "{variable} is not set: run the tests as `tests/engines.py cargo nextest run`, which \
         starts PostgreSQL and an S3 server for them"
    );
    let required = std::env::var("CHALKWALK_ENGINES").is_ok_and(|word| word == "required");
    assert!(!required, "{how}");
    eprintln!("not tested: {how}");
    None
}
