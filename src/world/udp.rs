//! Boards over UDP.
//!
//! An address of this machine that is free is listened on, and whoever speaks first is the board; any other address
//! is spoken to. So a board that sends to this machine is met, and one that waits to be spoken to as well. Promises:
//! bytes that leave together travel in one datagram; datagrams of other senders are left out; that another address of
//! the same host speaks after a silence is said before its bytes. Nothing here ever says that the wire is lost: silence
//! is judged by those who listen. *Common practice* of the MAVLink standard's users.
//! Must not be here: retries.

use super::clock::Clock;
use super::ends::Ends;
use super::guardian::GuardWire;
use super::mailbox::held;
use super::writer::WireOut;
use crate::measure::time::Time;
use crate::seam::{OpenError, PortInfo};
use rustix::io::Errno;
use rustix::net::{SendFlags, sendto};
use std::io::{self, ErrorKind, Read};
use std::net::{Ipv4Addr, Ipv6Addr, SocketAddr, ToSocketAddrs, UdpSocket};
use std::sync::{Arc, Mutex};
use std::time::Duration;

/// How long a read waits before it looks whether the wire is to be closed.
const READ: Duration = Duration::from_millis(50);
/// Longest datagram (RFC 768: 65,535 bytes with its header of 8, in a packet with one of 20).
const LONGEST: usize = 65_507;
/// A board that starts anew may speak from another port of the same host, once it was silent for this long.
const SILENT: Duration = Duration::from_secs(2);

/// Another peer speaks: what is read next is its own.
#[derive(Debug, thiserror::Error)]
#[error("another peer speaks")]
pub(super) struct AnotherPeer;

/// Whether a read ended so.
pub(super) fn is_another_peer(error: &io::Error) -> bool {
    matches!(error.get_ref(), Some(inner) if inner.is::<AnotherPeer>())
}

/// Whom bytes come from and go to, and when it was last heard; nobody yet where the first to speak is waited for.
type Peer = Arc<Mutex<Option<(SocketAddr, Time)>>>;

/// Opens `HOST:PORT`.
pub(super) fn open(address: &str, clock: Clock) -> Result<Ends, OpenError> {
    let name = format!("udp:{address}");
    let other = |error: &io::Error| OpenError::Other { port: name.clone(), cause: error.to_string() };
    let mut refused = OpenError::Missing(name.clone());
    for host in address.to_socket_addrs().map_err(|error| other(&error))? {
        if host.ip().is_multicast() || matches!(host.ip(), std::net::IpAddr::V4(ip) if ip.is_broadcast()) {
            refused = OpenError::Other {
                port: name.clone(),
                cause: "it stands for many hosts at once, and commands go to one board alone".to_owned(),
            };
            continue;
        }
        match bind(host).and_then(|(socket, peer)| ends(&socket, peer, &name, clock)) {
            Ok(ends) => return Ok(ends),
            Err(error) => refused = other(&error),
        }
    }
    Err(refused)
}

/// A socket that listens at the address, or one that speaks to it.
fn bind(host: SocketAddr) -> io::Result<(UdpSocket, Option<SocketAddr>)> {
    match UdpSocket::bind(host) {
        Ok(socket) => Ok((socket, None)),
        // Not of this machine, or somebody listens there already: then that is who is meant.
        Err(error) if matches!(error.kind(), ErrorKind::AddrNotAvailable | ErrorKind::AddrInUse) => {
            let any: SocketAddr =
                if host.is_ipv4() { (Ipv4Addr::UNSPECIFIED, 0).into() } else { (Ipv6Addr::UNSPECIFIED, 0).into() };
            Ok((UdpSocket::bind(any)?, Some(host)))
        }
        Err(error) => Err(error),
    }
}

fn ends(socket: &UdpSocket, peer: Option<SocketAddr>, name: &str, clock: Clock) -> io::Result<Ends> {
    socket.set_read_timeout(Some(READ))?;
    let peer: Peer = Arc::new(Mutex::new(peer.map(|peer| (peer, clock.now()))));
    let input = In { socket: socket.try_clone()?, peer: peer.clone(), clock, datagram: vec![0; LONGEST], rest: 0..0 };
    let spoken_to = peer.clone();
    let guard = GuardWire::to(socket.try_clone()?, move || held(&spoken_to).map(|(peer, _)| peer));
    let output = Out { socket: socket.try_clone()?, peer };
    let info = PortInfo { name: name.to_owned(), ..PortInfo::default() };
    Ok(Ends { input: Box::new(input), output: Box::new(output), info, guard: Some(guard) })
}

/// Whose datagram it is.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Whose {
    Board,
    /// The board's, or that of another, from now on.
    AnotherPeer,
    Nobody,
}

struct In {
    socket: UdpSocket,
    peer: Peer,
    clock: Clock,
    datagram: Vec<u8>,
    /// What of the datagram was not handed on yet.
    rest: std::ops::Range<usize>,
}

impl In {
    /// Whether a sender is the board; the first to speak becomes it.
    fn whose(&self, sender: SocketAddr) -> Whose {
        let now = self.clock.now();
        let mut peer = held(&self.peer);
        let whose = match *peer {
            None => Whose::Board,
            Some((known, _)) if known == sender => Whose::Board,
            Some((known, heard)) if known.ip() == sender.ip() && now.since(heard) >= SILENT => Whose::AnotherPeer,
            Some(_) => Whose::Nobody,
        };
        if whose != Whose::Nobody {
            *peer = Some((sender, now));
        }
        whose
    }
}

impl Read for In {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        if self.rest.is_empty() {
            let (count, sender) = match self.socket.recv_from(&mut self.datagram) {
                // Nobody is there to hear what was sent: not yet, or not while the board starts anew.
                Err(error) if error.kind() == ErrorKind::ConnectionRefused => return Err(ErrorKind::WouldBlock.into()),
                received => received?,
            };
            // An empty datagram is no end.
            if count == 0 {
                return Err(ErrorKind::WouldBlock.into());
            }
            match self.whose(sender) {
                Whose::Board => self.rest = 0..count,
                Whose::AnotherPeer => {
                    self.rest = 0..count;
                    return Err(io::Error::other(AnotherPeer));
                }
                Whose::Nobody => return Err(ErrorKind::WouldBlock.into()),
            }
        }
        let count = self.rest.len().min(into.len());
        into[..count].copy_from_slice(&self.datagram[self.rest.start..self.rest.start + count]);
        self.rest.start += count;
        Ok(count)
    }
}

struct Out {
    socket: UdpSocket,
    peer: Peer,
}

impl WireOut for Out {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        // Before anybody spoke there is nobody to send to, as on a wire whose far end hangs in the air.
        let Some((peer, _)) = *held(&self.peer) else { return Ok(bytes.len()) };
        for _ in 0..2 {
            match sendto(&self.socket, bytes, SendFlags::DONTWAIT, &peer) {
                // Told of an earlier datagram that nobody took; this one has not left yet.
                Err(Errno::CONNREFUSED) => {}
                // A network that is gone for a moment loses datagrams; it does not end the wire.
                Err(Errno::NETUNREACH | Errno::HOSTUNREACH) => break,
                sent => return Ok(sent?),
            }
        }
        Ok(bytes.len())
    }

    fn spare(&self) -> io::Result<Box<dyn WireOut>> {
        Ok(Box::new(Self { socket: self.socket.try_clone()?, peer: self.peer.clone() }))
    }

    fn at_once(&self) -> usize {
        LONGEST
    }
}
