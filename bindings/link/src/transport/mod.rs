//! Carrying frames between two sessions: over WebSocket to the office, over TCP between two
//! devices on one network.
//!
//! A [`Link`] is a pair of queues with threads behind them; [`run`] drives a session over one.
//! A session never waits for room without hearing what comes, so that two sides that send at once
//! do not wait for each other.

mod control;
mod driver;
mod tcp;
mod trust;
mod ws;

use std::sync::mpsc;
use std::time::Duration;

pub use control::Control;
pub use driver::{Outcome, Then, run, run_with};
pub use tcp::{TcpMeeting, sync_tcp, sync_tcp_with, tcp_connect, tcp_listen};
pub use trust::{Trust, TrustError};
pub(crate) use ws::not_opened;
pub use ws::{sync_ws, sync_ws_by, sync_ws_with};

use chalkwalk_core::sync::SessionError;

/// Frames in a queue before whoever fills it waits: more than a session sends ahead of its
/// acknowledgements.
pub const QUEUE: usize = 32;
/// How long a link may take to come about or to take a frame.
pub const PATIENCE: Duration = Duration::from_secs(30);

/// Why an exchange did not come to its end.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum LinkError {
    /// The address cannot be used.
    #[error(
        "\"{0}\" is not an address of a server: write it like https://office.example or http://192.0.2.7:8080"
    )]
    Address(String),
    /// The authorities to believe cannot be used.
    #[error("the certificates to check the office's server with cannot be used: {0}")]
    Trust(String),
    /// The server there cannot show that it is the one of that name.
    #[error(
        "the server at {address} is not believed: {cause}. Check the address; where the office has \
         an authority of its own, name its file with --ca or in CHALKWALK_CA"
    )]
    NotBelieved {
        /// The address.
        address: String,
        /// What is wrong with its certificate.
        cause: String,
    },
    /// Nobody answers there.
    #[error("nobody answers at {address}: check the address and the network")]
    Unreachable {
        /// The address.
        address: String,
        /// What the system says.
        #[source]
        cause: Box<dyn std::error::Error + Send + Sync>,
    },
    /// The link broke. What was acknowledged is safe, and the next exchange goes on from there.
    #[error("the link broke: what was acknowledged is safe; sync again to go on")]
    Broken,
    /// The shell stopped it before it came about.
    #[error("the exchange was stopped: what was acknowledged is safe")]
    Stopped,
    /// The session could not begin.
    #[error(transparent)]
    Session(#[from] SessionError),
    /// The machine gives no thread or socket.
    #[error("the network cannot be used")]
    System(#[from] std::io::Error),
}

/// A link that carries whole frames in order, both ways.
pub struct Link {
    /// Where the own side knocks.
    door: mpsc::SyncSender<Signal>,
    outgoing: mpsc::SyncSender<Vec<u8>>,
    inbox: mpsc::Receiver<Signal>,
    farewell: Box<dyn FnOnce(Close) + Send>,
}

/// What a link's threads tell the session.
pub(crate) enum Signal {
    /// A frame came.
    Frame(Vec<u8>),
    /// A frame went, so that there may be room for another.
    Room,
    /// Nothing more will come.
    Gone,
}

/// How a link ends.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Close {
    /// What was queued is sent first.
    Politely,
    /// At once, as when the power fails.
    Cut,
}

impl Link {
    /// A link from its queues. `farewell` ends it once the outgoing queue is closed.
    pub(crate) fn new(
        outgoing: mpsc::SyncSender<Vec<u8>>,
        inbox: mpsc::Receiver<Signal>,
        door: mpsc::SyncSender<Signal>,
        farewell: impl FnOnce(Close) + Send + 'static,
    ) -> Self {
        Self {
            door,
            outgoing,
            inbox,
            farewell: Box::new(farewell),
        }
    }

    fn close(self, how: Close) {
        let Self {
            outgoing, farewell, ..
        } = self;
        drop(outgoing);
        farewell(how);
    }
}
