//! World lines over loopback TCP: one line in, its answer out.

use super::ServeError;
use super::lines::Lines;
use super::tcp;
use rustix::event::{PollFd, PollFlags};
use std::io::{ErrorKind, Read, Write};
use std::net::{SocketAddr, TcpListener, TcpStream};
use std::time::Duration;

/// Most connections at once; more are closed.
const MOST: usize = 8;
/// How long an answer may take to be taken.
const PATIENCE: Duration = Duration::from_millis(200);

/// The control port.
pub struct Control {
    listener: TcpListener,
    address: SocketAddr,
    clients: Vec<(TcpStream, Lines)>,
}

impl Control {
    /// Opens it.
    pub fn open(port: u16) -> Result<Self, ServeError> {
        let (listener, address) = tcp::listen(port)?;
        Ok(Self { listener, address, clients: Vec::new() })
    }

    pub fn address(&self) -> SocketAddr {
        self.address
    }

    pub fn fds(&self) -> impl Iterator<Item = PollFd<'_>> {
        let clients = self.clients.iter().map(|(client, _)| PollFd::new(client, PollFlags::IN));
        clients.chain([PollFd::new(&self.listener, PollFlags::IN)])
    }

    /// Takes new connections and answers the lines that have come. A refusal begins with `error: `.
    pub fn serve(&mut self, answer: &mut dyn FnMut(&str) -> Result<String, String>) {
        while let Ok((client, _)) = self.listener.accept() {
            let ready = client.set_nonblocking(true).and_then(|()| client.set_nodelay(true));
            if ready.is_ok() && self.clients.len() < MOST {
                self.clients.push((client, Lines::default()));
            }
        }
        self.clients.retain_mut(|(client, lines)| serve_one(client, lines, answer));
    }
}

/// Whether the connection goes on.
fn serve_one(
    client: &mut TcpStream,
    lines: &mut Lines,
    answer: &mut dyn FnMut(&str) -> Result<String, String>,
) -> bool {
    let mut bytes = [0; 4096];
    let (read, ended) = match client.read(&mut bytes) {
        Ok(0) => (0, true),
        Ok(read) => (read, false),
        Err(error) if matches!(error.kind(), ErrorKind::WouldBlock | ErrorKind::Interrupted) => return true,
        Err(_) => return false,
    };
    for line in lines.take(&bytes[..read], ended) {
        let text = match answer(&line) {
            Ok(answer) => format!("{answer}\n"),
            Err(refused) => format!("error: {refused}\n"),
        };
        if write_all(client, text.as_bytes()).is_err() {
            return false;
        }
    }
    !ended
}

fn write_all(client: &mut TcpStream, bytes: &[u8]) -> std::io::Result<()> {
    client.set_nonblocking(false)?;
    client.set_write_timeout(Some(PATIENCE))?;
    client.write_all(bytes)?;
    client.set_nonblocking(true)
}
