//! Logs, to a listener of the app's. No text names a person, an address or a house.

use std::fmt::Write;
use std::sync::{Arc, Mutex, OnceLock};

use tracing::field::{Field, Visit};
use tracing::span::{Attributes, Id, Record};
use tracing::{Event, Metadata, Subscriber};

use crate::inner::{ListenerFailure, lock};
use crate::{Answer, ChalkwalkError};

/// How much a line of the log matters.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, uniffi::Enum)]
pub enum LogLevel {
    /// Something failed that should not.
    Error,
    /// Something did not work out.
    Warn,
    /// Something happened.
    Info,
    /// For whoever looks for a mistake.
    Debug,
}

/// Hears the log.
#[uniffi::export(with_foreign)]
pub trait LogListener: Send + Sync {
    /// A line. It may come from any thread; it must not call the library.
    fn on_line(&self, level: LogLevel, line: String) -> Result<(), ListenerFailure>;
}

type Hearer = Option<(Arc<dyn LogListener>, LogLevel)>;
static HEARER: Mutex<Hearer> = Mutex::new(None);
static BEGUN: OnceLock<bool> = OnceLock::new();

/// Sends lines of at least this level to the listener, or to nobody. Fails where the process sends
/// its log elsewhere already.
#[uniffi::export]
pub fn listen_to_log(listener: Option<Arc<dyn LogListener>>, level: LogLevel) -> Answer<()> {
    *lock(&HEARER) = listener.map(|listener| (listener, level));
    let ours = *BEGUN.get_or_init(|| tracing::subscriber::set_global_default(Lines).is_ok());
    if ours {
        Ok(())
    } else {
        let words = "the log of this process goes elsewhere already";
        Err(ChalkwalkError::input(words))
    }
}

struct Lines;

impl Subscriber for Lines {
    fn enabled(&self, metadata: &Metadata<'_>) -> bool {
        metadata.is_event() && metadata.target().starts_with("chalkwalk")
    }

    fn new_span(&self, _: &Attributes<'_>) -> Id {
        Id::from_u64(1)
    }

    fn record(&self, _: &Id, _: &Record<'_>) {}

    fn record_follows_from(&self, _: &Id, _: &Id) {}

    fn event(&self, event: &Event<'_>) {
        let level = match *event.metadata().level() {
            tracing::Level::ERROR => LogLevel::Error,
            tracing::Level::WARN => LogLevel::Warn,
            tracing::Level::INFO => LogLevel::Info,
            _ => LogLevel::Debug,
        };
        // The lock is let go before the listener is called.
        let hearer = lock(&HEARER).clone();
        if let Some((listener, least)) = hearer.filter(|(_, least)| level <= *least) {
            let _ = least;
            let mut line = Line(String::new());
            event.record(&mut line);
            // A log that cannot be written is no reason to fail.
            let _ = listener.on_line(level, line.0);
        }
    }

    fn enter(&self, _: &Id) {}

    fn exit(&self, _: &Id) {}
}

struct Line(String);

impl Visit for Line {
    fn record_debug(&mut self, field: &Field, value: &dyn std::fmt::Debug) {
        let _ = if field.name() == "message" {
            write!(self.0, "{value:?}")
        } else {
            write!(self.0, " {}={value:?}", field.name())
        };
    }
}
