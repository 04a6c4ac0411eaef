//! The board's port on loopback TCP: one program at a time, as with a serial port.

use super::ServeError;
use rustix::event::{PollFd, PollFlags};
use std::io::{ErrorKind, Read, Write};
use std::net::{Ipv4Addr, SocketAddr, TcpListener, TcpStream};

/// A port that listens, and the program that has it open.
pub struct TcpPort {
    listener: TcpListener,
    pub address: SocketAddr,
    program: Option<TcpStream>,
}

/// Listens on a port of this computer, without waiting for anybody.
pub(super) fn listen(port: u16) -> Result<(TcpListener, SocketAddr), ServeError> {
    let opened = TcpListener::bind((Ipv4Addr::LOCALHOST, port)).and_then(|listener| {
        listener.set_nonblocking(true)?;
        let address = listener.local_addr()?;
        Ok((listener, address))
    });
    opened.map_err(|source| ServeError::Tcp { port, source })
}

impl TcpPort {
    pub fn open(port: u16) -> Result<Self, ServeError> {
        let (listener, address) = listen(port)?;
        Ok(Self { listener, address, program: None })
    }

    pub fn fds(&self) -> impl Iterator<Item = PollFd<'_>> {
        let program = self.program.iter().map(|program| PollFd::new(program, PollFlags::IN));
        program.chain([PollFd::new(&self.listener, PollFlags::IN)])
    }

    /// Whether a program is connected; a second one is turned away.
    pub fn is_open(&mut self) -> bool {
        while let Ok((program, _)) = self.listener.accept() {
            let ready = program.set_nonblocking(true).and_then(|()| program.set_nodelay(true));
            if ready.is_ok() && self.program.is_none() {
                self.program = Some(program);
            }
        }
        self.program.is_some()
    }

    pub fn read(&mut self, into: &mut [u8]) -> usize {
        let Some(program) = &mut self.program else { return 0 };
        match program.read(into) {
            Ok(read) if read > 0 => read,
            Err(error) if matches!(error.kind(), ErrorKind::WouldBlock | ErrorKind::Interrupted) => 0,
            _ => {
                self.program = None;
                0
            }
        }
    }

    /// Bytes that were taken; 0 where the program reads too slowly or has gone.
    pub fn write(&mut self, bytes: &[u8]) -> usize {
        let Some(program) = &mut self.program else { return 0 };
        match program.write(bytes) {
            Ok(written) => written,
            Err(error) if matches!(error.kind(), ErrorKind::WouldBlock | ErrorKind::Interrupted) => 0,
            Err(_) => {
                self.program = None;
                0
            }
        }
    }
}
