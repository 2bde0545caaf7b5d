//! Replicas and the links between them, moved frame by frame.

use std::collections::VecDeque;

use super::replica::MemoryReplica;
use crate::job::{JobId, Millis};
use crate::sync::{Event, Session, SessionConfig, SessionError};

/// What happens to the next frame of a direction.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Fault {
    /// It never arrives.
    Lose,
    /// It arrives twice.
    Repeat,
    /// It arrives after the one behind it.
    Swap,
    /// One bit is altered.
    Flip(usize),
}

/// One link: two sessions, and the frames on their way.
pub struct Link {
    /// The replicas at the two ends; the first one opened the link.
    pub ends: [usize; 2],
    /// Their sessions.
    pub sessions: [Session; 2],
    /// Frames on their way from the first end, and from the second.
    pub wires: [VecDeque<Vec<u8>>; 2],
    /// Events of the two sessions so far.
    pub events: [Vec<Event>; 2],
    /// Bytes of frames that have left each end.
    pub bytes: [u64; 2],
    /// Frames that have left each end.
    pub frames: [u64; 2],
}

impl Link {
    /// Whether both sessions are over and no frame is on its way.
    pub fn is_over(&self) -> bool {
        self.sessions.iter().all(Session::has_ended) && self.wires.iter().all(VecDeque::is_empty)
    }

    /// Alters what is on its way from an end; `false` where nothing is.
    pub fn fault(&mut self, from: usize, fault: Fault) -> bool {
        let wire = &mut self.wires[from];
        match fault {
            Fault::Lose => wire.pop_front().is_some(),
            Fault::Repeat => {
                let first = wire.front().cloned();
                let came = first.is_some();
                first.into_iter().for_each(|frame| wire.push_front(frame));
                came
            }
            Fault::Swap if wire.len() > 1 => {
                wire.swap(0, 1);
                true
            }
            Fault::Swap => false,
            Fault::Flip(at) => match wire.front_mut().filter(|frame| !frame.is_empty()) {
                Some(frame) => {
                    let at = at % (frame.len() * 8);
                    frame[at / 8] ^= 1 << (at % 8);
                    true
                }
                None => false,
            },
        }
    }
}

/// Replicas and the links between them.
#[derive(Default)]
pub struct Net {
    /// The replicas.
    pub replicas: Vec<MemoryReplica>,
    /// The links; a cut one is gone.
    pub links: Vec<Link>,
    /// The time.
    pub now: Millis,
    nonce: u64,
}

impl Net {
    /// A network of these replicas, without links.
    pub fn new(replicas: Vec<MemoryReplica>) -> Self {
        Self {
            replicas,
            links: Vec::new(),
            now: 1_700_000_000_000,
            nonce: 0,
        }
    }

    /// Links two replicas.
    pub fn connect(&mut self, a: usize, b: usize, live: bool) -> Result<usize, SessionError> {
        self.connect_with(a, b, |config| config.live = live)
    }

    /// Links two replicas with sessions that differ from the usual ones; returns the link's place.
    pub fn connect_with(
        &mut self,
        a: usize,
        b: usize,
        alter: impl Fn(&mut SessionConfig),
    ) -> Result<usize, SessionError> {
        self.nonce += 1;
        let session = |end: usize, initiator| {
            let mut config = self.replicas[end].device().config(initiator, self.nonce);
            alter(&mut config);
            Session::new(config, self.now)
        };
        let sessions = [session(a, true)?, session(b, false)?];
        self.links.push(Link {
            ends: [a, b],
            sessions,
            wires: Default::default(),
            events: Default::default(),
            bytes: [0; 2],
            frames: [0; 2],
        });
        Ok(self.links.len() - 1)
    }

    /// Lets an end of a link say all that it has to say.
    pub fn poll(&mut self, link: usize, end: usize) {
        while self.poll_one(link, end) {}
    }

    /// Lets an end of a link say one frame; `false` where it has nothing to say.
    pub fn poll_one(&mut self, link: usize, end: usize) -> bool {
        let link = &mut self.links[link];
        let replica = &mut self.replicas[link.ends[end]];
        let frame = link.sessions[end].poll_outgoing(replica);
        let spoke = frame.is_some();
        if let Some(frame) = frame {
            link.bytes[end] += frame.len() as u64;
            link.frames[end] += 1;
            link.wires[end].push_back(frame);
        }
        self.gather();
        spoke
    }

    /// Gathers events, and wakes the other links of a replica that has news.
    fn gather(&mut self) {
        let mut news: Vec<(usize, usize, JobId)> = Vec::new();
        for (at, link) in self.links.iter_mut().enumerate() {
            for end in 0..2 {
                while let Some(event) = link.sessions[end].poll_event() {
                    if let Event::Took { job, .. } | Event::TookFile { job, .. } = &event {
                        news.push((at, link.ends[end], *job));
                    }
                    link.events[end].push(event);
                }
            }
        }
        for (from, replica, job) in news {
            for (at, link) in self.links.iter_mut().enumerate() {
                for end in 0..2 {
                    if at != from && link.ends[end] == replica {
                        link.sessions[end].wake(job);
                    }
                }
            }
        }
    }

    /// Delivers the next frame from an end; `false` where none is on its way.
    pub fn deliver(&mut self, link: usize, from: usize) -> bool {
        let place = &mut self.links[link];
        let Some(frame) = place.wires[from].pop_front() else {
            return false;
        };
        let to = 1 - from;
        let replica = &mut self.replicas[place.ends[to]];
        place.sessions[to].receive(replica, &frame, self.now);
        self.gather();
        true
    }

    /// Records a change, and wakes the replica's sessions.
    pub fn record(&mut self, replica: usize, job: JobId, words: &str) -> bool {
        let recorded = self.replicas[replica].record(job, words).is_ok();
        self.wake(replica, job);
        recorded
    }

    /// Tells the sessions of a replica that a job has news.
    pub fn wake(&mut self, replica: usize, job: JobId) {
        for link in &mut self.links {
            for end in 0..2 {
                if link.ends[end] == replica {
                    link.sessions[end].wake(job);
                }
            }
        }
    }

    /// Cuts a link: sessions and frames on their way are gone.
    pub fn cut(&mut self, link: usize) {
        self.links.remove(link);
    }

    /// Power lost at a replica: its links are cut, and only what was durable is left.
    pub fn crash(&mut self, replica: usize) {
        self.links.retain(|link| !link.ends.contains(&replica));
        self.replicas[replica].crash();
    }

    /// Moves frames on all links until nothing is left to say, or for so many frames. `true` when
    /// it is quiet.
    pub fn run(&mut self, most: usize) -> bool {
        let mut moved = 0;
        loop {
            let before = moved;
            for link in 0..self.links.len() {
                for end in 0..2 {
                    self.poll(link, end);
                    while self.deliver(link, end) {
                        moved += 1;
                        if moved > most {
                            return false;
                        }
                    }
                }
            }
            if moved == before {
                return true;
            }
        }
    }

    /// Moves frames in turns: in each, both ends say all they have, then hear it all. Returns how
    /// many turns brought something: a round trip is two.
    pub fn run_in_turns(&mut self, link: usize, most: usize) -> usize {
        for turn in 0..most {
            self.poll(link, 0);
            self.poll(link, 1);
            let due = [
                self.links[link].wires[0].len(),
                self.links[link].wires[1].len(),
            ];
            if due == [0, 0] {
                return turn;
            }
            for (end, count) in due.into_iter().enumerate() {
                for _ in 0..count {
                    self.deliver(link, end);
                }
            }
        }
        most
    }
}
