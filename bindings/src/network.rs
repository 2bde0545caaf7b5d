//! Enrolment, and exchanges with the office and with other devices, over ready-made links.

use std::sync::{Arc, Mutex};

use chalkwalk_core::job::JobId;
use chalkwalk_core::notebook::Enrolment;
use chalkwalk_core::sync::{Reason, SessionConfig};
use chalkwalk_link::client::{Applicant, enrol_by};
use chalkwalk_link::transport::{
    Control, LinkError, Outcome, TcpMeeting, Then, sync_tcp_with, sync_ws_with, tcp_connect,
    tcp_listen,
};
use chalkwalk_link::{Ticket, Trust};

use crate::inner::{ListenerFailure, guarded, lock};
use crate::notebook::some_jobs;
use crate::shared::Shared;
use crate::{Answer, ChalkwalkError, Notebook, SyncEvent, SyncProgress};

/// Told what an exchange does, on the thread that called it. It may call the notebook.
#[uniffi::export(with_foreign)]
pub trait SyncListener: Send + Sync {
    /// Something happened. A failure stops the exchange.
    fn on_event(&self, event: SyncEvent) -> Result<(), ListenerFailure>;
}

/// What is to be exchanged.
#[derive(Clone, Debug, PartialEq, Eq, uniffi::Record)]
pub struct SyncOptions {
    /// The jobs to speak of; empty for all.
    #[uniffi(default = [])]
    pub jobs: Vec<JobId>,
    /// Originals of others are wanted here. They go to the other side in any case where it wants
    /// them.
    #[uniffi(default = false)]
    pub originals: bool,
    /// Stay connected and exchange news as they come, until stopped. Both sides must say so.
    #[uniffi(default = false)]
    pub live: bool,
}

/// What an exchange came to.
#[derive(Clone, Debug, PartialEq, Eq, uniffi::Record)]
pub struct SyncOutcome {
    /// Its figures.
    pub progress: SyncProgress,
    /// The app stopped it.
    pub stopped: bool,
}

/// One exchange: made before it begins, so that another thread can stop it.
#[derive(uniffi::Object)]
pub struct Exchange(pub(crate) Arc<Control>);

#[uniffi::export]
impl Exchange {
    /// An exchange that has not begun.
    #[uniffi::constructor]
    pub fn new() -> Arc<Self> {
        Arc::new(Self(Arc::new(Control::default())))
    }

    /// Ends it politely, soon, from any thread. What was acknowledged is safe. It counts for this
    /// exchange for good.
    pub fn stop(&self) {
        self.0.stop();
    }
}

/// Waits on the local network for another device.
#[derive(uniffi::Object)]
pub struct Meeting {
    address: String,
    /// One waits at a time.
    waiting: Mutex<TcpMeeting>,
}

#[uniffi::export]
impl Meeting {
    /// Waits at an address of this device, such as `0.0.0.0:0` for any and a free port.
    #[uniffi::constructor]
    pub fn listen(address: String) -> Answer<Arc<Self>> {
        let meeting = tcp_listen(address.as_str())?;
        Ok(Arc::new(Self {
            address: meeting.address()?.to_string(),
            waiting: Mutex::new(meeting),
        }))
    }

    /// Where it waits, as HOST:PORT: to be told to the other device, as text or picture.
    pub fn address(&self) -> String {
        self.address.clone()
    }
}

#[uniffi::export]
impl Notebook {
    /// Trusts these authorities alone where the way to the office is TLS: certificates as PEM.
    /// Empty for whom the system trusts (on Android: the public authorities that are built in).
    /// To be said after each opening.
    pub fn trust_only(&self, pem: Option<String>) -> Answer<()> {
        let trust = match pem {
            None => Trust::default(),
            Some(pem) => guarded(|| Trust::only(&pem).map_err(ChalkwalkError::input))?,
        };
        *lock(&self.inner.trust) = trust;
        Ok(())
    }

    /// Enrols this device with the office whose picture (QR code) was read. Asks the office; may
    /// take 30 seconds. The name of the company.
    pub fn enrol(&self, picture_text: String) -> Answer<String> {
        let ticket = ticket(&picture_text)?;
        self.enrol_by_hand(ticket.address, ticket.code, Some(ticket.pin))
    }

    /// Enrols this device with an address and a code that were typed. With the pin it trusts the
    /// office that showed it alone.
    #[uniffi::method(default(pin = None))]
    pub fn enrol_by_hand(
        &self,
        address: String,
        code: String,
        pin: Option<String>,
    ) -> Answer<String> {
        let me = self.inner.with(|core| Ok(core.identity().clone()))?;
        let applicant = Applicant {
            device: me.device,
            key: &me.key,
            person: &me.person,
            device_name: &me.device_name,
            role: me.role,
        };
        let trust = self.inner.trust();
        let answer = guarded(|| {
            Ok(enrol_by(
                &trust,
                &address,
                &code,
                pin.as_deref(),
                &applicant,
            )?)
        })?;
        let company_name = answer.company_name.clone();
        self.inner.with(|core| {
            Ok(core.enrol(Enrolment {
                company: answer.company,
                company_name: answer.company_name,
                office_key: answer.office_key.to_bytes().to_vec(),
                certificate: answer.certificate,
                address,
            })?)
        })?;
        tracing::info!("the device is enrolled");
        Ok(company_name)
    }

    /// Exchanges with the office over WebSocket, to the end or until stopped. The crew can record
    /// meanwhile: what they record goes along.
    #[uniffi::method(default(listener = None, options))]
    pub fn sync_with_office(
        &self,
        exchange: &Exchange,
        options: SyncOptions,
        listener: Option<Arc<dyn SyncListener>>,
    ) -> Answer<SyncOutcome> {
        let office = self.office()?.ok_or_else(|| {
            ChalkwalkError::from(chalkwalk_core::notebook::NotebookError::NotEnrolled)
        })?;
        let trust = self.inner.trust();
        self.exchange(exchange, true, options, listener, |run| {
            sync_ws_with(
                &office.address,
                &trust,
                run.control,
                run.replica,
                run.config,
                run.told,
            )
        })
    }

    /// Exchanges with a device of the same office that waits on the local network, at HOST:PORT.
    /// The two prove who they are; what they say can be read on that network.
    #[uniffi::method(default(listener = None, options))]
    pub fn sync_with_device(
        &self,
        exchange: &Exchange,
        address: String,
        options: SyncOptions,
        listener: Option<Arc<dyn SyncListener>>,
    ) -> Answer<SyncOutcome> {
        self.exchange(exchange, true, options, listener, |run| {
            let stream = tcp_connect(address.strip_prefix("tcp://").unwrap_or(&address))?;
            sync_tcp_with(stream, run.control, run.replica, run.config, run.told)
        })
    }

    /// Waits for the next device of the same office and exchanges with it.
    #[uniffi::method(default(listener = None, options))]
    pub fn sync_with_next(
        &self,
        exchange: &Exchange,
        meeting: &Meeting,
        options: SyncOptions,
        listener: Option<Arc<dyn SyncListener>>,
    ) -> Answer<SyncOutcome> {
        // The lock is this thread's own: one that is stopped would keep it.
        let stream = lock(&meeting.waiting).meet_unless(&exchange.0)?;
        self.exchange(exchange, false, options, listener, |run| {
            sync_tcp_with(stream, run.control, run.replica, run.config, run.told)
        })
    }
}

struct Run<'a> {
    control: &'a Control,
    replica: &'a mut Shared,
    config: SessionConfig,
    told: &'a mut (dyn FnMut(&chalkwalk_core::sync::Event) -> Then + Send),
}

impl Notebook {
    fn exchange(
        &self,
        exchange: &Exchange,
        initiator: bool,
        options: SyncOptions,
        listener: Option<Arc<dyn SyncListener>>,
        run: impl FnOnce(Run<'_>) -> Result<Outcome, LinkError> + Send,
    ) -> Answer<SyncOutcome> {
        let mut config = self.session_config(initiator, &options)?;
        config.live = options.live;
        self.inner.follow(&exchange.0);
        let mut told = |event: &chalkwalk_core::sync::Event| {
            let said = SyncEvent::of(event).zip(listener.as_ref());
            match said.map(|(event, listener)| listener.on_event(event)) {
                Some(Err(_)) => {
                    exchange.0.stop();
                    Then::Leave
                }
                _ => Then::GoOn,
            }
        };
        let mut replica = Shared(Arc::clone(&self.inner));
        let outcome = guarded(|| {
            Ok(run(Run {
                control: &exchange.0,
                replica: &mut replica,
                config,
                told: &mut told,
            })?)
        })
        .inspect_err(|error| tracing::warn!(%error, "an exchange failed"))?;
        let ending = outcome.ending.as_ref();
        if let Some(ending) = ending.filter(|ending| ending.reason != Reason::Finished) {
            tracing::warn!(reason = ?ending.reason, "an exchange ended early");
            return Err(crate::session::ended_early(ending));
        }
        tracing::info!("an exchange ended well");
        Ok(SyncOutcome {
            progress: outcome.progress.into(),
            stopped: exchange.0.is_stopped(),
        })
    }

    pub(crate) fn session_config(
        &self,
        initiator: bool,
        options: &SyncOptions,
    ) -> Answer<SessionConfig> {
        let jobs = some_jobs(options.jobs.clone());
        self.inner
            .with(|core| Ok(core.session(initiator, jobs, options.originals)?))
    }
}

/// What the text of an enrolment picture says, for a screen that asks before it enrols.
#[derive(Clone, Debug, PartialEq, Eq, uniffi::Record)]
pub struct EnrolmentPicture {
    /// Where the office is reached.
    pub address: String,
    /// Thirty-two digits that stand for its key.
    pub pin: String,
    /// The one-time code.
    pub code: String,
}

/// Reads the text of an enrolment picture (QR code).
#[uniffi::export]
pub fn read_enrolment_picture(text: String) -> Answer<EnrolmentPicture> {
    let ticket = ticket(&text)?;
    Ok(EnrolmentPicture {
        address: ticket.address,
        pin: ticket.pin,
        code: ticket.code,
    })
}

fn ticket(text: &str) -> Answer<Ticket> {
    guarded(|| text.parse().map_err(ChalkwalkError::input))
}
