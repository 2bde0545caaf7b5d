//! Two devices on one network: frames with their length before them, on a plain TCP stream. The
//! session itself proves who is who; it does not hide what is said.

use std::io::{Read, Write};
use std::net::{Shutdown, SocketAddr, TcpListener, TcpStream, ToSocketAddrs};
use std::sync::mpsc;
use std::thread;

use chalkwalk_core::sync::{Event, FrameReader, Replica, SessionConfig, encode_stream};

use super::{Close, Link, LinkError, Outcome, PATIENCE, QUEUE, Then, run};

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
        Ok(self.0.accept()?.0)
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

fn link(stream: TcpStream) -> Result<Link, LinkError> {
    stream.set_nodelay(true)?;
    stream.set_write_timeout(Some(PATIENCE))?;
    let (outgoing, to_send) = mpsc::sync_channel::<Vec<u8>>(QUEUE);
    let (came, incoming) = mpsc::sync_channel::<Vec<u8>>(QUEUE);
    let (reading, writing) = (stream.try_clone()?, stream.try_clone()?);
    let writer = thread::Builder::new()
        .name("link writer".to_owned())
        .spawn(move || write_all(writing, &to_send))?;
    thread::Builder::new()
        .name("link reader".to_owned())
        .spawn(move || read_all(reading, &came))?;
    Ok(Link::new(outgoing, incoming, move |how| {
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

fn write_all(mut stream: TcpStream, frames: &mpsc::Receiver<Vec<u8>>) {
    while let Ok(frame) = frames.recv() {
        if stream.write_all(&encode_stream(&frame)).is_err() {
            // Wakes the reader, which tells the session.
            let _ = stream.shutdown(Shutdown::Both);
            return;
        }
    }
}

fn read_all(mut stream: TcpStream, frames: &mpsc::SyncSender<Vec<u8>>) {
    let mut reader = FrameReader::new();
    let mut buffer = vec![0; 64 << 10];
    loop {
        let read = match stream.read(&mut buffer) {
            Ok(0) | Err(_) => return,
            Ok(read) => read,
        };
        reader.push(&buffer[..read]);
        loop {
            match reader.pop() {
                Ok(Some(frame)) => {
                    if frames.send(frame).is_err() {
                        return;
                    }
                }
                Ok(None) => break,
                Err(_) => return,
            }
        }
    }
}
