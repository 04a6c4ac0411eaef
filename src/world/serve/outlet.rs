//! The board's port as the outside sees it: there or gone, with a pace, and nothing kept for nobody.

use super::pty::{PortLink, Pty};
use super::tcp::TcpPort;
use super::{Port, Said, ServeError};
use rustix::event::{PollFd, PollFlags};
use std::collections::VecDeque;
use std::path::PathBuf;
use std::time::{Duration, Instant};

/// Bytes that wait for a program that reads slowly; beyond that they are lost, as on a serial port.
const MOST_WAITING: usize = 16 * 1024;
/// Pause between two portions on a paced wire.
const PORTION: Duration = Duration::from_millis(2);

enum Open {
    Terminal {
        // Before the terminal, so that the link goes first.
        _link: Option<PortLink>,
        pty: Pty,
    },
    Tcp(TcpPort),
}

/// The port.
pub struct Outlet {
    port: Port,
    open: Option<Open>,
    waiting: VecDeque<u8>,
    bytes_per_second: Option<f64>,
    /// Bytes that the pace allows now.
    credit: f64,
    paced: Instant,
}

impl Outlet {
    pub fn new(port: Port, baud: Option<u32>) -> Self {
        Self {
            port,
            open: None,
            waiting: VecDeque::new(),
            bytes_per_second: baud.map(|baud| f64::from(baud) / 10.0),
            credit: 0.0,
            paced: Instant::now(),
        }
    }

    /// Lets the port appear or vanish.
    pub fn be_present(&mut self, present: bool, say: &mut dyn FnMut(Said<'_>)) -> Result<(), ServeError> {
        if present == self.open.is_some() {
            return Ok(());
        }
        self.waiting.clear();
        if !present {
            self.open = None;
            say(Said::Gone);
            return Ok(());
        }
        match &mut self.port {
            Port::Terminal { link } => {
                let pty = Pty::open()?;
                let made = link.as_ref().map(|path| PortLink::make(path, &pty.path)).transpose()?;
                say(Said::Port { name: pty.path.display().to_string(), link: link.as_ref() });
                self.open = Some(Open::Terminal { _link: made, pty });
            }
            Port::Tcp { port } => {
                let tcp = TcpPort::open(*port)?;
                // A free port, once taken, stays the board's.
                *port = tcp.address.port();
                say(Said::Port { name: format!("tcp:{}", tcp.address), link: None::<&PathBuf> });
                self.open = Some(Open::Tcp(tcp));
            }
        }
        Ok(())
    }

    pub fn fds(&self) -> Vec<PollFd<'_>> {
        match &self.open {
            None => Vec::new(),
            Some(Open::Terminal { pty, .. }) => vec![PollFd::new(&pty.board, PollFlags::IN)],
            Some(Open::Tcp(tcp)) => tcp.fds().collect(),
        }
    }

    /// How long it can wait until it must send again.
    pub fn patience(&self) -> Duration {
        if self.waiting.is_empty() { Duration::MAX } else { PORTION }
    }

    /// Sends bytes as far as the pace and the program allow.
    pub fn send(&mut self, bytes: &[u8], now: Instant) {
        let there = match &mut self.open {
            None => false,
            Some(Open::Terminal { pty, .. }) => pty.is_open(),
            Some(Open::Tcp(tcp)) => tcp.is_open(),
        };
        let past = now.saturating_duration_since(self.paced);
        self.paced = now;
        if !there {
            self.waiting.clear();
            self.credit = 0.0;
            return;
        }
        if self.waiting.len() + bytes.len() > MOST_WAITING {
            self.waiting.clear();
            if let Some(Open::Terminal { pty, .. }) = &self.open {
                pty.forget();
            }
        }
        self.waiting.extend(bytes);
        let mut allowed = usize::MAX;
        if let Some(rate) = self.bytes_per_second {
            self.credit = (self.credit + past.as_secs_f64() * rate).min(rate / 20.0);
            allowed = usize::from(whole_bytes(self.credit));
        }
        while allowed > 0 && !self.waiting.is_empty() {
            let portion = self.waiting.make_contiguous();
            let portion = &portion[..portion.len().min(allowed)];
            let written = match &mut self.open {
                Some(Open::Terminal { pty, .. }) => rustix::io::write(&pty.board, portion).unwrap_or(0),
                Some(Open::Tcp(tcp)) => tcp.write(portion),
                None => 0,
            };
            if written == 0 {
                break;
            }
            self.waiting.drain(..written);
            allowed -= written;
            if self.bytes_per_second.is_some() {
                self.credit -= f64::from(u32::try_from(written).unwrap_or(u32::MAX));
            }
        }
    }

    /// The bytes that have come.
    pub fn take(&mut self) -> Vec<u8> {
        let mut bytes = vec![0; 4096];
        let read = match &mut self.open {
            None => 0,
            Some(Open::Terminal { pty, .. }) => rustix::io::read(&pty.board, &mut bytes).unwrap_or(0),
            Some(Open::Tcp(tcp)) => tcp.read(&mut bytes),
        };
        bytes.truncate(read);
        bytes
    }
}

#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "rounded down; the cast saturates")]
fn whole_bytes(credit: f64) -> u16 {
    credit as u16
}
