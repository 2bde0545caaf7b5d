//! Driving one session over one link, to its end.

use std::sync::mpsc::{RecvTimeoutError, TryRecvError, TrySendError};
use std::time::Duration;

use chalkwalk_core::job::Millis;
use chalkwalk_core::sync::{Ending, Event, Progress, Replica, Session, SessionConfig};

use super::{Close, Control, Link, LinkError, PATIENCE, Signal};
use crate::env::now;

/// What is to happen after an event.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Then {
    /// Go on.
    GoOn,
    /// Say goodbye and end.
    Leave,
    /// Drop the link without a word, as when the signal is lost.
    Cut,
}

/// What an exchange came to.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Outcome {
    /// How it ended; `None` where the own side cut the link.
    pub ending: Option<Ending>,
    /// Its figures.
    pub progress: Progress,
}

/// Drives a session over a link to its end. `told` hears every event and says how to go on.
///
/// # Errors
/// [`LinkError::Broken`] where the link broke before the session ended.
pub fn run(
    link: Link,
    replica: &mut dyn Replica,
    config: SessionConfig,
    told: &mut dyn FnMut(&Event) -> Then,
) -> Result<Outcome, LinkError> {
    run_with(link, &Control::default(), replica, config, told)
}

/// As [`run`], while other threads may stop it or tell it of news.
pub fn run_with(
    link: Link,
    control: &Control,
    replica: &mut dyn Replica,
    config: SessionConfig,
    told: &mut dyn FnMut(&Event) -> Then,
) -> Result<Outcome, LinkError> {
    control.listen_at(link.door.clone());
    let session = Session::new(config, now())?;
    let mut drive = Drive {
        control,
        session,
        ending: None,
        pending: None,
        mute: false,
    };
    let (how, result) = match drive.finish(&link, replica, told) {
        Ok(Then::Cut) => (Close::Cut, Ok(())),
        Ok(_) => (Close::Politely, Ok(())),
        Err(error) => (Close::Cut, Err(error)),
    };
    link.close(how);
    result.map(|()| Outcome {
        ending: drive.ending,
        progress: drive.session.progress(),
    })
}

struct Drive<'a> {
    control: &'a Control,
    session: Session,
    ending: Option<Ending>,
    /// A frame that found no room yet.
    pending: Option<Vec<u8>>,
    /// The link takes no more frames; what the peer said last may still come.
    mute: bool,
}

impl Drive<'_> {
    fn finish(
        &mut self,
        link: &Link,
        replica: &mut dyn Replica,
        told: &mut dyn FnMut(&Event) -> Then,
    ) -> Result<Then, LinkError> {
        loop {
            self.heed();
            // Take what has come before making more, so that acknowledgements are heard early.
            let went_on = self.hear(link, replica)? || self.say(link, replica)?;
            if self.tell(told) == Then::Cut {
                return Ok(Then::Cut);
            }
            if went_on {
                continue;
            }
            if self.session.has_ended() && self.pending.is_none() {
                return Ok(Then::Leave);
            }
            self.wait(link, replica)?;
            if self.tell(told) == Then::Cut {
                return Ok(Then::Cut);
            }
        }
    }

    /// Does what other threads said.
    fn heed(&mut self) {
        for job in self.control.take_news() {
            self.session.wake(job);
        }
        if self.control.is_stopped() && !self.session.has_ended() {
            self.session.leave();
        }
    }

    /// Takes one frame that is there already; false where there is none.
    fn hear(&mut self, link: &Link, replica: &mut dyn Replica) -> Result<bool, LinkError> {
        match link.inbox.try_recv() {
            Ok(Signal::Frame(frame)) => self.session.receive(replica, &frame, now()),
            Ok(Signal::Room) => {}
            Err(TryRecvError::Empty) => return Ok(false),
            Ok(Signal::Gone) | Err(TryRecvError::Disconnected) => return self.gone(),
        }
        Ok(true)
    }

    /// Makes a frame and hands it to the link; false where there is none, or no room for it.
    fn say(&mut self, link: &Link, replica: &mut dyn Replica) -> Result<bool, LinkError> {
        if self.mute {
            return Ok(false);
        }
        let frame = self.pending.take();
        let Some(frame) = frame.or_else(|| self.session.poll_outgoing(replica)) else {
            return Ok(false);
        };
        match link.outgoing.try_send(frame) {
            Ok(()) => Ok(true),
            Err(TrySendError::Full(frame)) => {
                self.pending = Some(frame);
                Ok(false)
            }
            Err(TrySendError::Disconnected(_)) => {
                self.mute = true;
                Ok(false)
            }
        }
    }

    fn wait(&mut self, link: &Link, replica: &mut dyn Replica) -> Result<(), LinkError> {
        let due = self.session.poll_timeout();
        let patience = due.map_or(PATIENCE, until);
        match link.inbox.recv_timeout(patience) {
            Ok(Signal::Frame(frame)) => self.session.receive(replica, &frame, now()),
            Ok(Signal::Room) => {}
            Err(RecvTimeoutError::Timeout) if due.is_some() => self.session.handle_timeout(now()),
            Err(RecvTimeoutError::Timeout) => self.pending = None,
            Ok(Signal::Gone) | Err(RecvTimeoutError::Disconnected) => {
                self.gone()?;
            }
        }
        Ok(())
    }

    /// The link is gone: no harm once the session is over.
    fn gone(&mut self) -> Result<bool, LinkError> {
        self.pending = None;
        if self.session.has_ended() {
            Ok(false)
        } else {
            Err(LinkError::Broken)
        }
    }

    fn tell(&mut self, told: &mut dyn FnMut(&Event) -> Then) -> Then {
        let mut then = Then::GoOn;
        while let Some(event) = self.session.poll_event() {
            if let Event::Ended(ending) = &event {
                self.ending = Some(ending.clone());
            }
            match told(&event) {
                Then::GoOn => {}
                Then::Leave => self.session.leave(),
                Then::Cut => then = Then::Cut,
            }
        }
        then
    }
}

fn until(due: Millis) -> Duration {
    Duration::from_millis(u64::try_from(due - now()).unwrap_or(0).max(1))
}
