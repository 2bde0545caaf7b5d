//! Two devices on one network: frames with their length before them, on a plain TCP stream. The
//! session itself proves who is who; it does not hide what is said.

use std::io::{ErrorKind, Read, Write};
use std::net::{Shutdown, SocketAddr, TcpListener, TcpStream, ToSocketAddrs};
use std::sync::mpsc;
use std::thread;
use std::time::Duration;

use chalkwalk_core::contain::contained;
use chalkwalk_core::sync::{Event, FrameReader, Replica, SessionConfig, encode_stream};

use super::{
    Close, Control, Link, LinkError, Outcome, PATIENCE, QUEUE, Signal, Then, run, run_with,
};

/// How often one who waits looks whether the wait was stopped.
const LOOK: Duration = Duration::from_millis(50);

/// Waits at an address for another device.
#[derive(Debug)]
pub struct TcpMeeting(TcpListener);

/// Waits at an address for another device; port 0 takes a free one.
pub fn tcp_listen(address: impl ToSocketAddrs) -> Result<TcpMeeting, LinkError> {
    Ok(TcpMeeting(TcpListener::bind(address)?))
}

impl TcpMeeting {
    /// Where it waits.
    pub fn address(&self) -> Result<SocketAddr, LinkError> {
        Ok(self.0.local_addr()?)
    }

    /// The next device that comes.
    pub fn meet(&self) -> Result<TcpStream, LinkError> {
        self.0.set_nonblocking(false)?;
        Ok(self.0.accept()?.0)
    }

    /// The next device that comes, unless the wait is stopped.
    ///
    /// # Errors
    /// [`LinkError::Stopped`] where it was.
    pub fn meet_unless(&self, control: &Control) -> Result<TcpStream, LinkError> {
        self.0.set_nonblocking(true)?;
        loop {
            match self.0.accept() {
                Ok((stream, _)) => {
                    stream.set_nonblocking(false)?;
                    return Ok(stream);
                }
                Err(error) if error.kind() == ErrorKind::WouldBlock => {}
                Err(error) => return Err(error.into()),
            }
            if control.is_stopped() {
                return Err(LinkError::Stopped);
            }
            thread::sleep(LOOK);
        }
    }
}

/// Goes to a device that waits.
pub fn tcp_connect(address: &str) -> Result<TcpStream, LinkError> {
    let unreachable = |cause: std::io::Error| LinkError::Unreachable {
        address: address.to_owned(),
        cause: cause.into(),
    };
    let mut last = std::io::Error::from(std::io::ErrorKind::AddrNotAvailable);
    for at in address.to_socket_addrs().map_err(unreachable)? {
        match TcpStream::connect_timeout(&at, PATIENCE) {
            Ok(stream) => return Ok(stream),
            Err(error) => last = error,
        }
    }
    Err(unreachable(last))
}

/// Exchanges with a device over a stream, to the end of the session. Blocks.
pub fn sync_tcp(
    stream: TcpStream,
    replica: &mut dyn Replica,
    config: SessionConfig,
    told: &mut dyn FnMut(&Event) -> Then,
) -> Result<Outcome, LinkError> {
    run(link(stream)?, replica, config, told)
}

/// As [`sync_tcp`], while other threads may stop it or tell it of news.
pub fn sync_tcp_with(
    stream: TcpStream,
    control: &Control,
    replica: &mut dyn Replica,
    config: SessionConfig,
    told: &mut dyn FnMut(&Event) -> Then,
) -> Result<Outcome, LinkError> {
    run_with(link(stream)?, control, replica, config, told)
}

fn link(stream: TcpStream) -> Result<Link, LinkError> {
    stream.set_nodelay(true)?;
    stream.set_write_timeout(Some(PATIENCE))?;
    let (outgoing, to_send) = mpsc::sync_channel::<Vec<u8>>(QUEUE);
    let (came, inbox) = mpsc::sync_channel(QUEUE);
    let (reading, writing) = (stream.try_clone()?, stream.try_clone()?);
    let (room, door) = (came.clone(), came.clone());
    let writer = thread::Builder::new()
        .name("link writer".to_owned())
        .spawn(move || write_all(writing, &to_send, &room))?;
    thread::Builder::new()
        .name("link reader".to_owned())
        .spawn(move || {
            if contained(|| read_all(reading, &came)).is_err() {
                drop(came.send(Signal::Gone));
            }
        })?;
    Ok(Link::new(outgoing, inbox, door, move |how| {
        if how == Close::Cut {
            // Already gone where this fails.
            let _ = stream.shutdown(Shutdown::Both);
        }
        // The last frames leave before this side goes; the reader ends when the peer does.
        let _ = writer.join();
        let _ = stream.shutdown(Shutdown::Write);
        let _ = stream.set_read_timeout(Some(PATIENCE));
    }))
}

fn write_all(
    mut stream: TcpStream,
    frames: &mpsc::Receiver<Vec<u8>>,
    room: &mpsc::SyncSender<Signal>,
) {
    while let Ok(frame) = frames.recv() {
        // A full inbox wakes the session as well.
        let _ = room.try_send(Signal::Room);
        if stream.write_all(&encode_stream(&frame)).is_err() {
            // Wakes the reader, which tells the session.
            let _ = stream.shutdown(Shutdown::Both);
            return;
        }
    }
}

/// Reads until the peer closes. Frames that come once the session is over are passed over: a
/// stream that is closed unread would take the last words with it.
fn read_all(mut stream: TcpStream, inbox: &mpsc::SyncSender<Signal>) {
    let mut reader = FrameReader::new();
    let mut buffer = vec![0; 64 << 10];
    while let Ok(read @ 1..) = stream.read(&mut buffer) {
        reader.push(&buffer[..read]);
        let mut sound = true;
        while sound {
            match reader.pop() {
                // An error means that the session is over.
                Ok(Some(frame)) => drop(inbox.send(Signal::Frame(frame))),
                Ok(None) => break,
                Err(_) => sound = false,
            }
        }
        if !sound {
            break;
        }
    }
    drop(inbox.send(Signal::Gone));
}
