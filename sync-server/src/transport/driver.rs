//! Driving one session over one link, to its end.

use std::sync::mpsc::{RecvTimeoutError, TryRecvError};
use std::time::Duration;

use chalkwalk_core::job::Millis;
use chalkwalk_core::sync::{Ending, Event, Progress, Replica, Session, SessionConfig};

use super::{Close, Link, LinkError};
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
    let session = Session::new(config, now())?;
    let mut drive = Drive {
        session,
        ending: None,
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

struct Drive {
    session: Session,
    ending: Option<Ending>,
}

impl Drive {
    fn finish(
        &mut self,
        link: &Link,
        replica: &mut dyn Replica,
        told: &mut dyn FnMut(&Event) -> Then,
    ) -> Result<Then, LinkError> {
        loop {
            // Take what has come before making more, so that acknowledgements are heard early.
            let came = match link.incoming.try_recv() {
                Ok(frame) => Some(frame),
                Err(TryRecvError::Empty) => None,
                Err(TryRecvError::Disconnected) if self.session.has_ended() => {
                    return Ok(Then::Leave);
                }
                Err(TryRecvError::Disconnected) => return Err(LinkError::Broken),
            };
            if let Some(frame) = came {
                self.session.receive(replica, &frame, now());
            } else if let Some(frame) = self.session.poll_outgoing(replica) {
                let sent = link.outgoing.send(frame);
                if sent.is_err() && !self.session.has_ended() {
                    return Err(LinkError::Broken);
                }
            } else if self.session.has_ended() {
                return Ok(Then::Leave);
            } else {
                self.wait(link, replica)?;
            }
            if self.tell(told) == Then::Cut {
                return Ok(Then::Cut);
            }
        }
    }

    fn wait(&mut self, link: &Link, replica: &mut dyn Replica) -> Result<(), LinkError> {
        let due = self.session.poll_timeout().unwrap_or_else(now);
        match link.incoming.recv_timeout(until(due)) {
            Ok(frame) => self.session.receive(replica, &frame, now()),
            Err(RecvTimeoutError::Timeout) => self.session.handle_timeout(now()),
            Err(RecvTimeoutError::Disconnected) => return Err(LinkError::Broken),
        }
        Ok(())
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
