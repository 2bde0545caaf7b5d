//! One-time links: the first admin's, invitations, entry without a password, a new password.

use std::path::Path;

use chalkwalk_core::env::Env;
use chalkwalk_core::job::{Millis, Role};

use super::Secret;
use crate::ServerError;
use crate::env::SystemEnv;
use crate::limits;
use crate::storage::Storage;
use crate::store::{
    Accounts, Actor, Deed, DeedKind, Joined, Once, Person, PersonId, Purpose, StoreError,
};

/// A link as it is handed out once.
#[derive(Clone, Debug)]
pub struct OneTime {
    secret: Secret,
    /// The first moment at which it no longer counts.
    pub expires_at: Millis,
}

impl OneTime {
    /// The path below the company's address. Whoever knows it may use it.
    pub fn path(&self) -> String {
        format!("/once/{}", self.secret.reveal())
    }
}

/// Whether a server without an admin shows the first link.
#[derive(Clone, Debug)]
pub enum FirstLink {
    /// Somebody is admin already.
    NotNeeded,
    /// Nobody is.
    Link(OneTime),
}

/// Makes a link that counts once.
pub async fn make_once(
    accounts: &dyn Accounts,
    purpose: Purpose,
    by: Actor,
    env: &mut dyn Env,
) -> Result<OneTime, StoreError> {
    let secret = Secret::fresh(env);
    let now = env.now();
    let (lasts, about) = match purpose {
        Purpose::Join(role) => (limits::INVITATION_MS, role.code().to_owned()),
        Purpose::FirstAdmin => (limits::INVITATION_MS, "first admin".to_owned()),
        Purpose::Enter(id) => (limits::ENTRY_MS, format!("entry of {id}")),
        Purpose::Password(id) => (limits::ENTRY_MS, format!("password of {id}")),
    };
    let expires_at = now.saturating_add(lasts);
    let once = Once {
        hash: secret.hash(),
        purpose,
        made_at: now,
        expires_at,
    };
    accounts.put_once(&once).await?;
    let deed = Deed {
        at: now,
        who: by,
        what: DeedKind::LinkMade,
        job: None,
        about,
    };
    accounts.note(&deed).await?;
    Ok(OneTime { secret, expires_at })
}

/// The link for a first admin, where nobody is admin. An earlier one no longer counts.
pub async fn first_link(
    accounts: &dyn Accounts,
    env: &mut dyn Env,
) -> Result<FirstLink, StoreError> {
    let admin = |person: &Person| person.role == Role::Admin && person.shut_out_at.is_none();
    if accounts.people().await?.iter().any(admin) {
        return Ok(FirstLink::NotNeeded);
    }
    accounts.withdraw_once(Purpose::FirstAdmin).await?;
    let link = make_once(accounts, Purpose::FirstAdmin, Actor::Office, env).await?;
    Ok(FirstLink::Link(link))
}

/// As [`first_link`], of the office of a data folder. Blocks; not to be called from asynchronous
/// code.
pub fn first_link_on(data: &Path, storage: &Storage) -> Result<FirstLink, ServerError> {
    with_accounts(data, storage, async |accounts| {
        first_link(accounts, &mut SystemEnv).await
    })
}

/// A link with which somebody joins the office of a data folder; the server may run meanwhile.
/// Blocks; not to be called from asynchronous code.
pub fn invitation_link(data: &Path, role: Role) -> Result<OneTime, ServerError> {
    invitation_link_on(data, &Storage::default(), role)
}

/// As [`invitation_link`], on this storage.
pub fn invitation_link_on(
    data: &Path,
    storage: &Storage,
    role: Role,
) -> Result<OneTime, ServerError> {
    with_accounts(data, storage, async |accounts| {
        make_once(accounts, Purpose::Join(role), Actor::Office, &mut SystemEnv).await
    })
}

/// A link that signs somebody in without a password. A person of this name and role is made where
/// there is none. Blocks; not to be called from asynchronous code.
pub fn entry_link(data: &Path, name: &str, role: Role) -> Result<OneTime, ServerError> {
    entry_link_on(data, &Storage::default(), name, role)
}

/// As [`entry_link`], on this storage.
pub fn entry_link_on(
    data: &Path,
    storage: &Storage,
    name: &str,
    role: Role,
) -> Result<OneTime, ServerError> {
    with_accounts(data, storage, async |accounts| {
        let id = match accounts.person_called(name).await? {
            Some(person) => person.id,
            None => {
                let mut id = [0; 16];
                SystemEnv.random(&mut id);
                let person = Person {
                    id: PersonId(id),
                    name: name.to_owned(),
                    mail: None,
                    role,
                    password: None,
                    made_at: SystemEnv.now(),
                    shut_out_at: None,
                };
                if accounts.add_person(&person).await? != Joined::Done {
                    return Err(StoreError::Contradiction("a name that is taken"));
                }
                person.id
            }
        };
        make_once(accounts, Purpose::Enter(id), Actor::Office, &mut SystemEnv).await
    })
}

/// A link with which a person of this name or mail address sets a new password; `None` where
/// there is no such person. Blocks; not to be called from asynchronous code.
pub fn password_link(data: &Path, login: &str) -> Result<Option<OneTime>, ServerError> {
    password_link_on(data, &Storage::default(), login)
}

/// As [`password_link`], on this storage.
pub fn password_link_on(
    data: &Path,
    storage: &Storage,
    login: &str,
) -> Result<Option<OneTime>, ServerError> {
    with_accounts(data, storage, async |accounts| {
        let Some(person) = accounts.person_called(login).await? else {
            return Ok(None);
        };
        let purpose = Purpose::Password(person.id);
        make_once(accounts, purpose, Actor::Office, &mut SystemEnv)
            .await
            .map(Some)
    })
}

fn with_accounts<T>(
    data: &Path,
    storage: &Storage,
    work: impl AsyncFnOnce(&dyn Accounts) -> Result<T, StoreError>,
) -> Result<T, ServerError> {
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .build()
        .map_err(ServerError::Stopped)?;
    runtime.block_on(async {
        let accounts = storage.open_accounts(data).await?;
        Ok(work(&*accounts).await?)
    })
}

#[cfg(test)]
mod tests {
    use chalkwalk_core::env::SeededEnv;
    use chalkwalk_core::job::Role;

    use super::*;
    use crate::store::{MemoryAccounts, PersonId};

    #[tokio::test]
    async fn a_link_counts_as_long_as_its_purpose_says() {
        let accounts = MemoryAccounts::default();
        let person = PersonId([7; 16]);
        for (purpose, lasts) in [
            (Purpose::Join(Role::Crew), limits::INVITATION_MS),
            (Purpose::FirstAdmin, limits::INVITATION_MS),
            (Purpose::Enter(person), limits::ENTRY_MS),
            (Purpose::Password(person), limits::ENTRY_MS),
        ] {
            let mut env = SeededEnv::new(1, 1_000, 0);
            let link = make_once(&accounts, purpose, Actor::Office, &mut env)
                .await
                .unwrap();
            assert_eq!(link.expires_at, 1_000 + lasts, "{purpose:?}");
        }
    }
}
