//! Boards behind a TCP server.
//!
//! Promises: small frames leave at once; a silent host is given up after five seconds a try.
//! Must not be here: retries.

use super::ends::Ends;
use super::guardian::GuardWire;
use super::writer::WireOut;
use crate::seam::{OpenError, PortInfo};
use rustix::net::{SendFlags, send};
use std::io;
use std::net::{TcpStream, ToSocketAddrs};
use std::time::Duration;

const CONNECT: Duration = Duration::from_secs(5);
const READ: Duration = Duration::from_millis(50);

/// Connects to `HOST:PORT`.
pub(super) fn open(address: &str) -> Result<Ends, OpenError> {
    let name = format!("tcp:{address}");
    let other = |error: &io::Error| OpenError::Other { port: name.clone(), cause: error.to_string() };
    let mut refused = OpenError::Missing(name.clone());
    for socket in address.to_socket_addrs().map_err(|error| other(&error))? {
        match TcpStream::connect_timeout(&socket, CONNECT) {
            Ok(stream) => return ends(stream, &name).map_err(|error| other(&error)),
            Err(error) if matches!(error.kind(), io::ErrorKind::ConnectionRefused | io::ErrorKind::TimedOut) => {
                refused = OpenError::Refused(name.clone());
            }
            Err(error) => refused = other(&error),
        }
    }
    Err(refused)
}

fn ends(stream: TcpStream, name: &str) -> io::Result<Ends> {
    stream.set_nodelay(true)?;
    stream.set_read_timeout(Some(READ))?;
    let input = Box::new(stream.try_clone()?);
    let info = PortInfo { name: name.to_owned(), ..PortInfo::default() };
    let guard = Some(GuardWire::new(stream.try_clone()?));
    Ok(Ends { input, output: Box::new(Out(stream)), info, guard })
}

struct Out(TcpStream);

impl WireOut for Out {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        Ok(send(&self.0, bytes, SendFlags::DONTWAIT)?)
    }

    fn spare(&self) -> io::Result<Box<dyn WireOut>> {
        Ok(Box::new(Self(self.0.try_clone()?)))
    }
}
