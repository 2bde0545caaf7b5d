//! A server, notebooks and pictures.

use std::net::SocketAddr;
use std::path::{Path, PathBuf};
use std::sync::{OnceLock, mpsc};
use std::thread::JoinHandle;
use std::time::Duration;

use chalkwalk_core::job::{
    Audience, Cause, Component, Condition, Finding, JobId, PhotoRole, Property, RecordRef, Role,
    Side,
};
use chalkwalk_core::notebook::{Enrolment, NewIdentity, Notebook, PhotoNote};
use chalkwalk_core::sync::Event;
use chalkwalk_sync_server::ServerError;
use chalkwalk_sync_server::client::{self, Applicant, EnrolFailure};
use chalkwalk_sync_server::enrol::{Invitation, invite_on};
use chalkwalk_sync_server::env::SystemEnv;
use chalkwalk_sync_server::serve::{Pages, Ready, ServeConfig, serve};
use chalkwalk_sync_server::storage::Storage;
use chalkwalk_sync_server::transport::{LinkError, Outcome, Then, sync_ws};
use tokio::sync::oneshot;

pub(crate) const HOUR: Duration = Duration::from_secs(3_600);

pub(crate) struct Server {
    pub(crate) ready: Ready,
    pub(crate) data: PathBuf,
    storage: Storage,
    admin: OnceLock<Browser>,
    stop: oneshot::Sender<()>,
    thread: JoinHandle<Result<(), ServerError>>,
}

impl Server {
    pub(crate) fn start(data: &Path) -> Self {
        Self::with_pages(data, Pages::ThisMachine)
    }

    pub(crate) fn with_pages(data: &Path, pages: Pages) -> Self {
        let config = ServeConfig {
            data: data.to_owned(),
            listen: SocketAddr::from(([127, 0, 0, 1], 0)),
            pages,
            company: Some("Alder Roofing".into()),
            ..ServeConfig::default()
        };
        Self::run(config).unwrap()
    }

    /// A node on shared storage.
    pub(crate) fn on(data: &Path, storage: Storage) -> Self {
        let config = ServeConfig {
            data: data.to_owned(),
            storage,
            listen: SocketAddr::from(([127, 0, 0, 1], 0)),
            pages: Pages::ThisMachine,
            company: Some("Alder Roofing".into()),
            ..ServeConfig::default()
        };
        Self::run(config).unwrap()
    }

    pub(crate) fn run(config: ServeConfig) -> Result<Self, ServerError> {
        let (stop, stopped) = oneshot::channel();
        let (tell, told) = mpsc::channel();
        let data = config.data.clone();
        let storage = config.storage.clone();
        let thread = std::thread::spawn(move || {
            let runtime = tokio::runtime::Runtime::new().unwrap();
            let shutdown = async {
                let _ = stopped.await;
            };
            runtime.block_on(serve(
                config,
                move |ready| tell.send(ready).unwrap(),
                shutdown,
            ))
        });
        match told.recv() {
            Ok(ready) => Ok(Self {
                ready,
                data,
                storage,
                admin: OnceLock::new(),
                stop,
                thread,
            }),
            Err(_) => Err(thread.join().unwrap().unwrap_err()),
        }
    }

    pub(crate) fn address(&self) -> String {
        self.ready.listen.to_string()
    }

    pub(crate) fn stop(self) {
        let _ = self.stop.send(());
        self.thread.join().unwrap().unwrap();
    }

    pub(crate) fn invite(&self, role: Role) -> Invitation {
        invite_on(&self.data, &self.storage, role, "", HOUR).unwrap()
    }

    /// A page's status, content type and text, as an admin sees it.
    pub(crate) fn page(&self, path: &str) -> (u16, String, String) {
        let (code, headers, body) = self.admin().get(path);
        let kind = headers["content-type"].to_str().unwrap().to_owned();
        (code, kind, String::from_utf8(body).unwrap())
    }

    /// The browser of an admin who is signed in.
    pub(crate) fn admin(&self) -> &Browser {
        self.admin
            .get_or_init(|| self.browser("Test admin", Role::Admin))
    }

    /// A browser in which somebody is signed in.
    pub(crate) fn browser(&self, name: &str, role: Role) -> Browser {
        let (at, link) = (self.ready.pages.unwrap(), self.link(name, role));
        Browser::by(at, &link)
    }

    /// The path of a one-time link that signs somebody in.
    pub(crate) fn link(&self, name: &str, role: Role) -> String {
        let link = chalkwalk_sync_server::people::entry_link_on;
        link(&self.data, &self.storage, name, role).unwrap().path()
    }
}

/// A browser with the cookie of one sign-in.
#[derive(Clone, Debug)]
pub(crate) struct Browser {
    pub(crate) at: SocketAddr,
    pub(crate) cookie: String,
}

impl Browser {
    /// Signs in by a one-time link at a company.
    pub(crate) fn entered(at: SocketAddr, base: &str, data: &Path, name: &str, role: Role) -> Self {
        let link = chalkwalk_sync_server::people::entry_link(data, name, role).unwrap();
        Self::by(at, &format!("{base}{}", link.path()))
    }

    /// Signs in by the path of a one-time link.
    pub(crate) fn by(at: SocketAddr, path: &str) -> Self {
        let nobody = Self {
            at,
            cookie: String::new(),
        };
        let (code, headers, body) = nobody.post(path, "");
        assert_eq!(code, 303, "{}", String::from_utf8_lossy(&body));
        let cookie = cookie_of(&headers);
        Self { at, cookie }
    }

    pub(crate) fn get(&self, path: &str) -> Answer {
        ask("GET", self.at, path, &[("cookie", &self.cookie)], None)
    }

    /// Sends a form from the server's own page.
    pub(crate) fn post(&self, path: &str, form: &str) -> Answer {
        let headers = [
            ("cookie", self.cookie.as_str()),
            ("sec-fetch-site", "same-origin"),
            ("content-type", "application/x-www-form-urlencoded"),
        ];
        ask("POST", self.at, path, &headers, Some(form.as_bytes()))
    }

    /// A page's text.
    pub(crate) fn text(&self, path: &str) -> String {
        let (code, _, body) = self.get(path);
        let text = String::from_utf8(body).unwrap();
        assert_eq!(code, 200, "{path}: {text}");
        text
    }
}

/// The cookie that an answer sets, as a browser sends it back.
pub(crate) fn cookie_of(headers: &ureq::http::HeaderMap) -> String {
    let set = headers["set-cookie"].to_str().unwrap();
    set.split(';').next().unwrap().to_owned()
}

/// Any request.
pub(crate) fn ask(
    method: &str,
    at: SocketAddr,
    path: &str,
    headers: &[(&str, &str)],
    body: Option<&[u8]>,
) -> Answer {
    let mut request = ureq::http::Request::builder()
        .method(method)
        .uri(format!("http://{at}{path}"));
    for (name, value) in headers.iter().filter(|(_, value)| !value.is_empty()) {
        request = request.header(*name, *value);
    }
    let response = match body {
        Some(body) => agent().run(request.body(body).unwrap()),
        None => agent().run(request.body(()).unwrap()),
    };
    answer(response.unwrap_or_else(|error| panic!("{method} {path}: {error}")))
}

/// An answer: status, headers, body.
pub(crate) type Answer = (u16, ureq::http::HeaderMap, Vec<u8>);

pub(crate) fn get(at: SocketAddr, path: &str, headers: &[(&str, &str)]) -> Answer {
    let mut request = agent().get(format!("http://{at}{path}"));
    for (name, value) in headers {
        request = request.header(*name, *value);
    }
    answer(request.call().unwrap())
}

pub(crate) fn post(at: SocketAddr, path: &str, body: &str) -> Answer {
    answer(
        agent()
            .post(format!("http://{at}{path}"))
            .send(body)
            .unwrap(),
    )
}

fn agent() -> ureq::Agent {
    let config = ureq::Agent::config_builder()
        .http_status_as_error(false)
        .max_redirects(0)
        .allow_non_standard_methods(true)
        .build();
    ureq::Agent::new_with_config(config)
}

fn answer(mut response: ureq::http::Response<ureq::Body>) -> Answer {
    let body = response.body_mut().read_to_vec().unwrap();
    (response.status().as_u16(), response.headers().clone(), body)
}

/// A notebook in a folder of its own.
pub(crate) struct Phone {
    pub(crate) notebook: Notebook,
    pub(crate) folder: tempfile::TempDir,
}

impl Phone {
    pub(crate) fn new(person: &str) -> Self {
        let folder = tempfile::tempdir().unwrap();
        let who = NewIdentity {
            person: person.into(),
            device_name: format!("{person}'s phone"),
            role: Role::Crew,
        };
        let at = folder.path().join("notebook");
        let notebook = Notebook::create(&at, who, Box::new(SystemEnv)).unwrap();
        Self { notebook, folder }
    }

    /// A notebook that belongs to the office.
    pub(crate) fn enrolled(person: &str, server: &Server) -> Self {
        let mut phone = Self::new(person);
        let invitation = server.invite(Role::Crew);
        phone
            .enrol(&server.address(), &invitation.code, Some(&invitation.pin))
            .unwrap();
        phone
    }

    pub(crate) fn enrol(
        &mut self,
        address: &str,
        code: &str,
        pin: Option<&str>,
    ) -> Result<client::Enrolment, EnrolFailure> {
        let identity = self.notebook.identity().clone();
        let applicant = Applicant {
            device: identity.device,
            key: &identity.key,
            person: &identity.person,
            device_name: &identity.device_name,
            role: identity.role,
        };
        let answer = client::enrol(address, code, pin, &applicant)?;
        let kept = Enrolment {
            company: answer.company,
            company_name: answer.company_name.clone(),
            office_key: answer.office_key.to_bytes().to_vec(),
            certificate: answer.certificate.clone(),
            address: address.to_owned(),
        };
        self.notebook.enrol(kept).unwrap();
        Ok(answer)
    }

    pub(crate) fn begin(&mut self) -> JobId {
        let property = Property {
            street: Some("12 Alder Way <b>".into()),
            date_of_loss: chrono::NaiveDate::from_ymd_opt(2026, 5, 2),
            ..Property::default()
        };
        self.notebook.begin(None, property).unwrap()
    }

    pub(crate) fn finding(&mut self, job: JobId, side: Side, text: &str) -> RecordRef {
        let finding = Finding {
            place: Some(RecordRef::side(side)),
            component: Some(Component::Gutter),
            condition: Some(Condition::Damaged),
            cause: Some(Cause::Hail),
            audience: Some(Audience::OfficeOnly),
            text: Some(text.into()),
            ..Finding::default()
        };
        self.notebook.add(job, finding).unwrap()
    }

    /// Adds a picture of noise: about two bytes a pixel.
    pub(crate) fn photo(&mut self, job: JobId, side: Side, seed: u8, pixels: u32) {
        let file = self.folder.path().join(format!("{seed}.jpg"));
        std::fs::write(&file, picture(seed, pixels)).unwrap();
        let note = PhotoNote {
            role: Some(PhotoRole::Overview),
            place: Some(RecordRef::side(side)),
            caption: Some(format!("picture {seed}")),
            ..PhotoNote::default()
        };
        assert!(!self.notebook.add_photo(job, &file, note).unwrap().known);
    }

    pub(crate) fn sync(&mut self, server: &Server) -> Outcome {
        self.sync_until(server, &mut |_| Then::GoOn).unwrap()
    }

    pub(crate) fn sync_until(
        &mut self,
        server: &Server,
        told: &mut dyn FnMut(&Event) -> Then,
    ) -> Result<Outcome, LinkError> {
        let config = self.notebook.session(true, None, true).unwrap();
        sync_ws(&server.address(), &mut self.notebook, config, told)
    }

    /// Hands in changes alone: the link is cut once the office has them.
    pub(crate) fn sync_changes(&mut self, server: &Server) {
        let told = &mut |event: &Event| match event {
            Event::PeerKept { .. } => Then::Cut,
            _ => Then::GoOn,
        };
        self.sync_until(server, told).unwrap();
    }

    /// The file of a picture that was added with this seed.
    pub(crate) fn file(&self, seed: u8) -> Vec<u8> {
        std::fs::read(self.folder.path().join(format!("{seed}.jpg"))).unwrap()
    }

    /// A token for HTTP, got by proving the device's key.
    pub(crate) fn token(&self, at: SocketAddr, base: &str) -> Result<String, u16> {
        let asked = self.answer_to_challenge(at, base);
        token_for(at, base, &asked)
    }

    /// The device's answer to a challenge that it was given there.
    pub(crate) fn answer_to_challenge(&self, at: SocketAddr, base: &str) -> String {
        let device = self.notebook.identity().device;
        let asked = format!(r#"{{"device":"{device}"}}"#);
        let (_, _, body) = post(at, &format!("{base}/token/challenge"), &asked);
        let said: serde_json::Value = serde_json::from_slice(&body).unwrap();
        let challenge = said["challenge"].as_str().unwrap();
        let company = self.notebook.office().unwrap().company;
        let bytes = chalkwalk_core::job::unhex(challenge).unwrap();
        let key = &self.notebook.identity().key;
        let signature = chalkwalk_core::sync::answer_challenge(key, company, &bytes);
        let signature = chalkwalk_core::job::hex(&signature);
        format!(r#"{{"challenge":"{challenge}","signature":"{signature}"}}"#)
    }

    pub(crate) fn heads(&mut self, job: JobId) -> Vec<[u8; 32]> {
        self.notebook.document(job).unwrap().heads()
    }
}

/// The token for a device's answer to a challenge.
pub(crate) fn token_for(at: SocketAddr, base: &str, answer: &str) -> Result<String, u16> {
    let answer = post(at, &format!("{base}/token"), answer);
    if answer.0 != 200 {
        return Err(answer.0);
    }
    let said: serde_json::Value = serde_json::from_slice(&answer.2).unwrap();
    Ok(said["token"].as_str().unwrap().to_owned())
}

fn picture(seed: u8, side: u32) -> Vec<u8> {
    let mut bytes = vec![0; (side * side * 3) as usize];
    blake3::Hasher::new_keyed(&[seed; 32])
        .finalize_xof()
        .fill(&mut bytes);
    let picture = image::RgbImage::from_raw(side, side, bytes).unwrap();
    let mut file = Vec::new();
    image::codecs::jpeg::JpegEncoder::new_with_quality(&mut file, 95)
        .encode_image(&picture)
        .unwrap();
    file
}
