//! One session with one peer.

mod changes;
mod config;
mod doubt;
mod give;
mod pull;
mod settle;

use std::collections::VecDeque;

use self::changes::Changes;
pub use self::config::{SessionConfig, SessionError};
use self::doubt::Doubt;
use self::give::Give;
use self::pull::Pull;
use self::settle::Settle;
use super::Replica;
use super::event::{Ending, Event, Progress, Reason};
use super::frame::FrameError;
use super::handshake::Handshake;
use super::message::{Bye, Hello, Message};
use crate::job::{Certificate, JobId, Millis};
use crate::limits;

/// A session: frames in, frames out. It opens no socket, reads no clock and keeps nothing on disk.
///
/// **Contract.** Hand in whole frames in the order in which they came ([`Session::receive`]), the
/// time when it is due ([`Session::handle_timeout`] at [`Session::poll_timeout`]) and word of
/// local news ([`Session::wake`]). After any of these, and once at the start, call
/// [`Session::poll_outgoing`] until it gives nothing and [`Session::poll_event`] until it gives
/// nothing, and send the frames in that order over a link that keeps order. A shell that sends
/// slowly may leave frames unpolled meanwhile: they are made when asked for. Pass the same replica
/// each time. A session never panics, whatever comes in; after [`Event::Ended`] send the frames
/// that are left, close the link and drop the session. A link that breaks needs no word: drop the
/// session, and a new one goes on where the replicas stand.
pub struct Session {
    handshake: Handshake,
    config: config::Wishes,
    phase: Phase,
    number_out: u64,
    number_in: u64,
    control: VecDeque<Message>,
    changes: Changes,
    pull: Pull,
    give: Give,
    doubt: Doubt,
    settle: Settle,
    events: VecDeque<Event>,
    progress: Progress,
    progress_told: Progress,
    now: Millis,
    heard_at: Millis,
    spoke_at: Millis,
}

enum Phase {
    Greeting,
    Proving(Box<Hello>, Box<Peer>),
    Open(Box<Peer>),
    Ended,
}

struct Peer {
    certificate: Certificate,
    signed: crate::job::SignedCertificate,
    live: bool,
}

impl Session {
    /// A session at its start: its greeting is the first outgoing frame.
    ///
    /// Errors: the certificate is not signed by the office, or not for this key.
    pub fn new(config: SessionConfig, now: Millis) -> Result<Self, SessionError> {
        let (handshake, wishes) = config.divide()?;
        let mut session = Self {
            changes: Changes::new(wishes.jobs.clone()),
            pull: Pull::new(wishes.thumbnails, wishes.originals),
            handshake,
            config: wishes,
            phase: Phase::Greeting,
            number_out: 0,
            number_in: 0,
            control: VecDeque::new(),
            give: Give::default(),
            doubt: Doubt::default(),
            settle: Settle::default(),
            events: VecDeque::new(),
            progress: Progress::default(),
            progress_told: Progress::default(),
            now,
            heard_at: now,
            spoke_at: now,
        };
        match session.handshake.hello() {
            Ok(hello) => session.control.push_back(Message::Hello(hello)),
            Err(ending) => session.end(ending),
        }
        Ok(session)
    }

    /// Takes one frame from the peer.
    pub fn receive(&mut self, replica: &mut dyn Replica, frame: &[u8], now: Millis) {
        self.set_now(now);
        if self.has_ended() {
            return;
        }
        self.heard_at = now;
        self.progress.bytes_received += frame.len() as u64;
        if let Err(ending) = self.take(replica, frame) {
            self.end(ending);
        }
    }

    /// The next frame to send; `None` when there is nothing to say for now.
    pub fn poll_outgoing(&mut self, replica: &mut dyn Replica) -> Option<Vec<u8>> {
        loop {
            let message = match self.next_message(replica) {
                Ok(message) => message?,
                Err(ending) => {
                    self.end(ending);
                    continue;
                }
            };
            match message.encode(self.number_out) {
                Ok(frame) => {
                    self.number_out += 1;
                    self.spoke_at = self.now;
                    self.progress.bytes_sent += frame.len() as u64;
                    return Some(frame);
                }
                Err(error) => self.end(error.into()),
            }
        }
    }

    /// The next event; `None` when there is none.
    pub fn poll_event(&mut self) -> Option<Event> {
        if let Some(event) = self.events.pop_front() {
            return Some(event);
        }
        let moved = |p: Progress| Progress {
            bytes_sent: 0,
            bytes_received: 0,
            ..p
        };
        if moved(self.progress) == moved(self.progress_told) {
            return None;
        }
        self.progress_told = self.progress;
        Some(Event::Progress(self.progress))
    }

    /// When [`Session::handle_timeout`] wants to be called; `None` once the session is over.
    pub fn poll_timeout(&self) -> Option<Millis> {
        let idle = self.heard_at.saturating_add(limits::IDLE_MS);
        let alive = self.spoke_at.saturating_add(limits::KEEP_ALIVE_MS);
        (!self.has_ended()).then(|| idle.min(alive))
    }

    /// Tells the session the time. Calling it early does no harm.
    pub fn handle_timeout(&mut self, now: Millis) {
        self.set_now(now);
        if self.has_ended() {
            return;
        }
        if now >= self.heard_at.saturating_add(limits::IDLE_MS) {
            self.end(Ending::new(
                Reason::Idle,
                "nothing was heard for too long: connect again",
            ));
        } else if now >= self.spoke_at.saturating_add(limits::KEEP_ALIVE_MS) {
            self.control.push_back(Message::Ping);
            self.spoke_at = now;
        }
    }

    /// The replica has news of a job that did not come through this session: changes of its own
    /// or from another peer, or files. What is new goes out with the next polls.
    pub fn wake(&mut self, job: JobId) {
        self.wake_changes(job);
        self.pull.refresh(job);
        self.give.wake(job);
    }

    /// As [`Session::wake`], for changes that name no photo: which files are here and wanted is
    /// what it was.
    pub fn wake_changes(&mut self, job: JobId) {
        self.changes.wake(job);
    }

    /// Ends the session from this side, with a word to the peer.
    pub fn leave(&mut self) {
        self.end(Ending::new(Reason::Finished, ""));
    }

    /// Figures so far.
    pub fn progress(&self) -> Progress {
        self.progress
    }

    /// What the office says of the peer, once it has proved who it is.
    pub fn peer(&self) -> Option<&Certificate> {
        match &self.phase {
            Phase::Open(peer) => Some(&peer.certificate),
            _ => None,
        }
    }

    /// Whether all is exchanged at this moment.
    pub fn is_settled(&self) -> bool {
        self.settle.is_settled()
    }

    /// Whether the session is over, but for frames that are still to be polled.
    pub fn has_ended(&self) -> bool {
        matches!(self.phase, Phase::Ended)
    }

    fn set_now(&mut self, now: Millis) {
        if now < self.now {
            // The clock was set back: the waits begin anew.
            self.heard_at = self.heard_at.min(now);
            self.spoke_at = self.spoke_at.min(now);
        }
        self.now = now;
    }

    fn end(&mut self, ending: Ending) {
        if self.has_ended() {
            return;
        }
        self.phase = Phase::Ended;
        if ending.reason != Reason::Finished {
            self.control.clear();
        }
        if !ending.by_peer {
            self.control.push_back(Message::Bye(ending.to_bye()));
        }
        self.events.push_back(Event::Ended(ending));
    }

    fn take(&mut self, replica: &mut dyn Replica, frame: &[u8]) -> Result<(), Ending> {
        let (number, message) = Message::decode(frame)?;
        if number != self.number_in {
            let expected = self.number_in;
            return Err(FrameError::OutOfTurn {
                expected,
                got: number,
            }
            .into());
        }
        self.number_in += 1;
        match (&mut self.phase, message) {
            (_, Message::Bye(bye)) => self.on_bye(&bye),
            (_, Message::PassedOver | Message::Ping) | (Phase::Ended, _) => {}
            (Phase::Greeting, Message::Hello(hello)) => {
                let (certificate, signed) = self.handshake.check_hello(&hello)?;
                let prove = self.handshake.prove(&hello, self.config.jobs.as_ref())?;
                self.control.push_back(Message::Prove(prove));
                let peer = Peer {
                    certificate,
                    signed,
                    live: hello.live,
                };
                self.phase = Phase::Proving(Box::new(hello), Box::new(peer));
            }
            (Phase::Proving(hello, peer), Message::Prove(prove)) => {
                let only = self
                    .handshake
                    .check_prove(hello, &peer.certificate, &prove)?;
                let peer = Peer {
                    certificate: peer.certificate.clone(),
                    signed: peer.signed.clone(),
                    live: peer.live,
                };
                self.events.push_back(Event::Connected {
                    peer: peer.certificate.clone(),
                });
                self.open(replica, peer, only)?;
            }
            (Phase::Open(_), message) => self.take_open(replica, message)?,
            _ => return Err(out_of_place()),
        }
        Ok(())
    }

    fn on_bye(&mut self, bye: &Bye) {
        self.end(Ending::from_bye(bye));
    }
}

/// The ending for a frame that has no place where it came.
fn out_of_place() -> Ending {
    Ending::new(Reason::Protocol, "a frame came that has no place there")
}
