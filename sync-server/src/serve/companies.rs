//! Further companies on one server: each in a folder of its own below `companies`, with its own
//! key, database, people, devices and photos, under `/at/NAME`. A folder is laid out like the one
//! of the company at the root, so that every verb works on it with `--data`.

use std::path::Path;

use crate::office::Office;
use crate::serve::open_hub_on;
use crate::storage::Storage;
use crate::{ServerError, folder, limits};

/// The names of the further companies, in order.
///
/// # Errors
/// [`ServerError::TooManyCompanies`] past the limit.
pub fn list(data: &Path) -> Result<Vec<String>, ServerError> {
    let at = folder::companies(data);
    if !at.exists() {
        return Ok(Vec::new());
    }
    let mut slugs = Vec::new();
    for entry in std::fs::read_dir(at).map_err(ServerError::Folder)? {
        let entry = entry.map_err(ServerError::Folder)?;
        let name = entry.file_name().to_string_lossy().into_owned();
        if is_slug(&name) && folder::holds_office(&entry.path()) {
            slugs.push(name);
        }
    }
    slugs.sort();
    // The one at the root counts too.
    if slugs.len() >= limits::COMPANIES {
        return Err(ServerError::TooManyCompanies(limits::COMPANIES));
    }
    Ok(slugs)
}

/// Adds a company under a name for its address; the value is its office. A running server shows
/// it within seconds. Blocks; not to be called from asynchronous code.
pub fn add(data: &Path, slug: &str, company: &str) -> Result<Office, ServerError> {
    add_on(data, &Storage::default(), slug, company)
}

/// As [`add`], on the server's storage.
pub fn add_on(
    data: &Path,
    storage: &Storage,
    slug: &str,
    company: &str,
) -> Result<Office, ServerError> {
    if !is_slug(slug) {
        return Err(ServerError::Slug(slug.chars().take(80).collect()));
    }
    let known = list(data)?;
    if known.iter().any(|other| other == slug) {
        return Err(ServerError::CompanyExists(slug.to_owned()));
    }
    if known.len() + 1 >= limits::COMPANIES {
        return Err(ServerError::TooManyCompanies(limits::COMPANIES));
    }
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .build()
        .map_err(ServerError::Stopped)?;
    let storage = storage.of_company(slug)?;
    let at = folder::company(data, slug);
    let hub = runtime.block_on(open_hub_on(&at, &storage, Some(company)))?;
    Ok(hub.office().clone())
}

/// Small letters, digits and dashes, beginning with a letter or digit.
fn is_slug(name: &str) -> bool {
    let letter = |b: u8| b.is_ascii_lowercase() || b.is_ascii_digit();
    name.len() <= limits::SLUG_LETTERS
        && name.bytes().next().is_some_and(letter)
        && name.bytes().all(|b| letter(b) || b == b'-')
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_that_stand_in_addresses() {
        let longest = "a".repeat(limits::SLUG_LETTERS);
        for good in ["alder", "7-oaks", longest.as_str()] {
            assert!(is_slug(good), "{good}");
        }
        let too_long = longest.clone() + "a";
        for bad in [
            "",
            "-a",
            "Alder",
            "a/b",
            "..",
            "a b",
            "ä",
            too_long.as_str(),
        ] {
            assert!(!is_slug(bad), "{bad}");
        }
    }

    #[test]
    fn one_company_too_many_is_refused() {
        let folder = tempfile::tempdir().unwrap();
        for n in 2..limits::COMPANIES {
            let at = folder::company(folder.path(), &format!("c{n}"));
            std::fs::create_dir_all(&at).unwrap();
            std::fs::write(at.join("records.sqlite"), "").unwrap();
        }
        assert_eq!(list(folder.path()).unwrap().len(), limits::COMPANIES - 2);
        add(folder.path(), "last", "Last Roofing").unwrap();
        let again = add(folder.path(), "last", "Last Roofing").map(|_| ());
        assert!(matches!(again, Err(ServerError::CompanyExists(_))));
        let more = add(folder.path(), "more", "More Roofing").map(|_| ());
        assert!(matches!(more, Err(ServerError::TooManyCompanies(_))));
        let at = folder::company(folder.path(), "more");
        std::fs::create_dir_all(&at).unwrap();
        std::fs::write(at.join("records.sqlite"), "").unwrap();
        let listed = list(folder.path());
        assert!(matches!(listed, Err(ServerError::TooManyCompanies(_))));
    }
}
