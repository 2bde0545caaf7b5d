//! One company with a job, people and devices, for tests that try every way in.

use std::path::Path;

use chalkwalk_core::job::{DeviceId, JobId, Millis, PhotoHash, RecordId, Role, Side};
use chalkwalk_sync_server::env::{SystemEnv, now};
use chalkwalk_sync_server::people::Secret;
use chalkwalk_sync_server::serve::{Route, Takes};
use chalkwalk_sync_server::store::{
    Accounts, Once, PersonId, Purpose, Share, ShareId, SignIn, SqliteAccounts,
};

use crate::stage::{Browser, Phone, Server};

/// An id of a record that no job holds.
const NO_RECORD: &str = "01KQ0000000000000000000000";

/// One company with a job, its people and devices.
pub(crate) struct Site {
    pub(crate) base: String,
    pub(crate) admin: Browser,
    pub(crate) crew: Browser,
    pub(crate) estimator: Browser,
    pub(crate) writer: String,
    pub(crate) device: DeviceId,
    pub(crate) job: JobId,
    pub(crate) hash: PhotoHash,
    pub(crate) photo: RecordId,
    pub(crate) accounts: SqliteAccounts,
    pub(crate) runtime: tokio::runtime::Runtime,
}

impl Site {
    pub(crate) fn open(server: &Server, base: &str, data: &Path, seed: u8) -> (Self, Phone) {
        let at = server.ready.listen;
        let enter = |name: &str, role| Browser::entered(at, base, data, name, role);
        let address = format!("{at}{base}");
        let mut phone = Phone::new("Ada");
        let code = chalkwalk_sync_server::enrol::invite(data, Role::Crew, "", crate::stage::HOUR);
        phone.enrol(&address, &code.unwrap().code, None).unwrap();
        let job = phone.begin();
        phone.photo(job, Side::Front, seed, 60);
        let config = phone.notebook.session(true, None, true).unwrap();
        let done = chalkwalk_sync_server::transport::sync_ws(
            &address,
            &mut phone.notebook,
            config,
            &mut |_| chalkwalk_sync_server::transport::Then::GoOn,
        );
        assert_eq!(done.unwrap().progress.originals_sent, 1);
        let runtime = tokio::runtime::Runtime::new().unwrap();
        let accounts = SqliteAccounts::open(&data.join("accounts.sqlite")).unwrap();
        let device = phone.notebook.identity().device;
        let photos = &phone.notebook.job(job).unwrap().records.photos;
        let photo = photos.keys().next().unwrap().clone();
        runtime
            .block_on(accounts.assign(job, device, true))
            .unwrap();
        let site = Self {
            base: base.to_owned(),
            admin: enter("Admin", Role::Admin),
            crew: enter("Crew", Role::Crew),
            estimator: enter("Estimator", Role::Estimator),
            writer: phone.token(at, base).unwrap(),
            device,
            job,
            photo,
            hash: PhotoHash::of(&phone.file(seed)),
            accounts,
            runtime,
        };
        (site, phone)
    }

    pub(crate) fn person(&self, name: &str) -> PersonId {
        let found = self.runtime.block_on(self.accounts.person_called(name));
        found.unwrap().unwrap().id
    }

    pub(crate) fn share(&self, expires_at: Millis, withdrawn_at: Option<Millis>) -> String {
        let secret = Secret::fresh(&mut SystemEnv);
        let hash = secret.hash();
        let share = Share {
            id: ShareId(hash[..16].try_into().unwrap()),
            hash,
            job: self.job,
            note: "adjuster".into(),
            made_by: self.person("Admin"),
            made_at: now(),
            expires_at,
            withdrawn_at,
        };
        self.runtime
            .block_on(self.accounts.put_share(&share))
            .unwrap();
        secret.reveal()
    }

    pub(crate) fn once(&self, purpose: Purpose, expires_at: Millis) -> String {
        let secret = Secret::fresh(&mut SystemEnv);
        let once = Once {
            hash: secret.hash(),
            purpose,
            made_at: now(),
            expires_at,
        };
        self.runtime
            .block_on(self.accounts.put_once(&once))
            .unwrap();
        secret.reveal()
    }

    pub(crate) fn old_cookie(&self) -> String {
        let secret = Secret::fresh(&mut SystemEnv);
        let old = now() - chalkwalk_sync_server::limits::SIGN_IN_LIFE_MS;
        let sign_in = SignIn {
            hash: secret.hash(),
            person: self.person("Admin"),
            made_at: old,
            seen_at: now(),
        };
        self.runtime
            .block_on(self.accounts.put_sign_in(&sign_in, 99))
            .unwrap();
        secret.reveal()
    }

    /// The route's path with this company's own job, photo, device and people in it.
    pub(crate) fn path(&self, route: &Route, token: &str) -> String {
        let path = route
            .path
            .replace("{hash}", &self.hash.to_string())
            .replace("{job}", &self.job.to_string())
            .replace("{device}", &self.device.to_string())
            .replace("{person}", &self.person("Crew").to_string())
            .replace("{photo}", self.photo.as_str())
            .replace("{share}", &ShareId([7; 16]).to_string())
            .replace("{token}", token)
            .replace("{file}", "icon.svg")
            .replace("{*file}", "findings.csv")
            .replace("{packet}", "1")
            .replace("{finding}", NO_RECORD)
            .replace("{question}", NO_RECORD)
            .replace("{record}", NO_RECORD)
            .replace("{kind}", "slope")
            .replace("{place}", NO_RECORD);
        assert!(!path.contains('{'), "{path}: say what goes there");
        let query = if route.takes == Takes::Device && route.path.contains("{hash}") {
            format!("?job={}", self.job)
        } else {
            String::new()
        };
        format!("{}{path}{query}", self.base)
    }

    pub(crate) fn body(&self, route: &Route) -> Option<Vec<u8>> {
        match (route.method.as_str(), route.path) {
            ("GET" | "HEAD", _) => None,
            (_, "/photos/lacking") => {
                Some(format!(r#"{{"job":"{}","hashes":[]}}"#, self.job).into_bytes())
            }
            _ => Some(Vec::new()),
        }
    }
}
