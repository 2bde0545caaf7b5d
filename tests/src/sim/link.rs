//! Two sessions and the frames between them.

use std::collections::VecDeque;

use chalkwalk_core::job::{JobId, Millis};
use chalkwalk_core::sync::{Event, Replica, Session};
use chalkwalk_sync_server::hub::HubReplica;

use super::device::Device;
use super::hostile::Hostile;

/// Who is at one end of a link.
pub(super) enum End {
    Device(usize),
    Node(usize, HubReplica),
    Hostile(Box<Hostile>),
}

/// Who an end is, without what it needs.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Who {
    Device(usize),
    Node(usize),
    Hostile,
}

pub(super) struct Link {
    pub(super) ends: [End; 2],
    pub(super) sessions: [Session; 2],
    pub(super) wires: [VecDeque<Vec<u8>>; 2],
    /// How the sessions ended, in words.
    pub(super) endings: Vec<String>,
}

/// Frames that one end may say before the other hears.
const AHEAD: usize = 64;

impl Link {
    pub(super) fn new(ends: [End; 2], sessions: [Session; 2]) -> Self {
        Self {
            ends,
            sessions,
            wires: Default::default(),
            endings: Vec::new(),
        }
    }

    pub(super) fn who(&self, end: usize) -> Who {
        match &self.ends[end] {
            End::Device(n) => Who::Device(*n),
            End::Node(n, _) => Who::Node(*n),
            End::Hostile(_) => Who::Hostile,
        }
    }

    pub(super) fn touches(&self, who: Who) -> bool {
        self.who(0) == who || self.who(1) == who
    }

    pub(super) fn is_over(&self) -> bool {
        self.sessions.iter().all(Session::has_ended)
    }

    pub(super) fn quiet(&self) -> bool {
        self.wires.iter().all(VecDeque::is_empty)
    }

    /// An end says what it has to say; the jobs that it took something of.
    pub(super) fn speak(&mut self, end: usize, devices: &mut [Device]) -> Vec<JobId> {
        let replica = replica(&mut self.ends[end], devices);
        while self.wires[end].len() < AHEAD {
            let Some(frame) = self.sessions[end].poll_outgoing(replica) else {
                break;
            };
            self.wires[end].push_back(frame);
        }
        if let End::Hostile(hostile) = &mut self.ends[end] {
            hostile.spoil(&mut self.wires[end]);
        }
        self.news(end)
    }

    /// The next frame from an end is heard at the other; `None` where none is on its way.
    pub(super) fn deliver(
        &mut self,
        from: usize,
        devices: &mut [Device],
        now: Millis,
    ) -> Option<Vec<JobId>> {
        let frame = self.wires[from].pop_front()?;
        let to = 1 - from;
        let now = match &self.ends[to] {
            End::Device(n) => devices[*n].watch.now(),
            End::Node(..) | End::Hostile(_) => now,
        };
        let replica = replica(&mut self.ends[to], devices);
        self.sessions[to].receive(replica, &frame, now);
        Some(self.news(to))
    }

    pub(super) fn tell_time(&mut self, devices: &[Device], now: Millis) {
        for end in 0..2 {
            let now = match &self.ends[end] {
                End::Device(n) => devices[*n].watch.now(),
                End::Node(..) | End::Hostile(_) => now,
            };
            if self.sessions[end]
                .poll_timeout()
                .is_some_and(|due| due <= now)
            {
                self.sessions[end].handle_timeout(now);
            }
        }
    }

    fn news(&mut self, end: usize) -> Vec<JobId> {
        let mut news = Vec::new();
        while let Some(event) = self.sessions[end].poll_event() {
            match event {
                Event::Took { job, .. } | Event::TookFile { job, .. } => news.push(job),
                Event::Ended(ending) => self
                    .endings
                    .push(format!("{:?}: {ending:?}", self.who(end))),
                _ => {}
            }
        }
        news
    }
}

fn replica<'a>(end: &'a mut End, devices: &'a mut [Device]) -> &'a mut dyn Replica {
    match end {
        End::Device(n) => &mut devices[*n].notebook,
        End::Node(_, replica) => replica,
        End::Hostile(hostile) => hostile.as_mut(),
    }
}
