//! The program's side of its guardian: started with a wire, told, heard, and waited for.
//!
//! Promises: telling it never waits; one that does not take what it is told counts as gone; it is reaped once it has
//! ended. Must not be here: what it is told.

use super::machine::GuardianInput;
use super::orders::{self, ANSWER, Order, READY};
use super::second::{GuardWire, Peer};
use super::{WORD, boot};
use crate::seam::Event;
use crate::seam::guardian::{GuardianEvent, GuardianOrder};
use crate::world::mailbox::{Mailbox, held};
use rustix::event::{PollFd, PollFlags, poll};
use rustix::io::Errno;
use rustix::net::{RecvFlags, SendFlags, recv, send};
use std::io::{self, IsTerminal, Read};
use std::net::Shutdown;
use std::os::fd::OwnedFd;
use std::os::unix::net::UnixStream;
use std::os::unix::process::CommandExt;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Condvar, Mutex, PoisonError};
use std::time::{Duration, Instant};

/// How long it may take to start on a busy machine.
const STARTS_WITHIN: Duration = Duration::from_secs(3);

/// See the module.
pub struct Child {
    orders: UnixStream,
    answers: Arc<Mutex<Answers>>,
    peer: Mutex<Option<Peer>>,
    ended: Arc<(Mutex<bool>, Condvar)>,
    /// Raised when the wire is closed: what it says from then on is nobody's.
    let_go: Arc<AtomicBool>,
}

/// What it says, as it comes.
struct Answers {
    stream: UnixStream,
    came: Vec<u8>,
    say: Box<dyn Fn(GuardianEvent) + Send>,
}

impl Answers {
    /// Takes what has come; `false` once nothing more will.
    fn take(&mut self) -> bool {
        let mut bytes = [0; 64 * ANSWER];
        match recv(&self.stream, &mut bytes[..], RecvFlags::DONTWAIT) {
            Ok((0, _)) => return false,
            Ok((count, _)) => self.came.extend(&bytes[..count]),
            Err(Errno::WOULDBLOCK | Errno::INTR) => {}
            Err(_) => return false,
        }
        while let Some((answer, _)) = self.came.split_first_chunk::<ANSWER>() {
            let Some(event) = orders::answered(*answer) else { return false };
            self.came.drain(..ANSWER);
            (self.say)(event);
        }
        true
    }
}

impl Child {
    /// Starts the program anew as a guardian of this wire, and waits until it says that it holds it; what it says from
    /// then on comes as [`Event::Guardian`].
    ///
    /// # Errors
    /// Where the system gives no process, socket or thread, or what was started is no guardian.
    pub fn start(program: &Path, wire: GuardWire, mailbox: Mailbox) -> io::Result<Self> {
        let (orders, its) = UnixStream::pair()?;
        let mut answers = orders.try_clone()?;
        let words = if io::stderr().is_terminal() { Stdio::inherit() } else { Stdio::null() };
        let mut child = Command::new(program)
            .arg0("quadjig")
            .arg(WORD)
            .stdin(OwnedFd::from(its))
            .stdout(wire.wire)
            .stderr(words)
            .spawn()?;
        let mut ready = [0; ANSWER];
        answers.set_read_timeout(Some(STARTS_WITHIN))?;
        if answers.read_exact(&mut ready).is_err() || ready != READY {
            child.kill()?;
            child.wait()?;
            return Err(io::Error::other("its guardian process did not start"));
        }
        answers.set_read_timeout(None)?;
        let ended = Arc::new((Mutex::new(false), Condvar::new()));
        let over = ended.clone();
        let let_go = Arc::<AtomicBool>::default();
        let nobodys = let_go.clone();
        let say = move |event| {
            if !nobodys.load(Ordering::SeqCst) {
                mailbox.post(Event::Guardian(event));
            }
        };
        let answers = Arc::new(Mutex::new(Answers { stream: answers, came: Vec::new(), say: Box::new(say) }));
        let heard = answers.clone();
        let waits = orders.try_clone()?;
        let wait = move || {
            let mut readable = [PollFd::new(&waits, PollFlags::IN)];
            // A signal that comes in between is no end.
            while matches!(poll(&mut readable, None), Ok(_) | Err(Errno::INTR)) && held(&heard).take() {}
            let _ = child.wait();
            *held(&over.0) = true;
            over.1.notify_all();
            (held(&heard).say)(GuardianEvent::Gone);
        };
        std::thread::Builder::new().name("guardian".to_owned()).spawn(wait)?;
        Ok(Self { orders, answers, peer: Mutex::new(wire.peer), ended, let_go })
    }

    /// Tells it.
    pub fn order(&self, order: GuardianOrder) {
        let order = match order {
            GuardianOrder::Prepare(frames) => {
                // Whom the stops go to is whoever speaks when they are made.
                if let Some(peer) = held(&self.peer).as_ref().and_then(|peer| peer()) {
                    self.send(&Order::Peer(peer));
                }
                GuardianInput::Prepare(frames)
            }
            GuardianOrder::Renew(number) => GuardianInput::Renew(number, boot()),
            GuardianOrder::Release => GuardianInput::Release,
        };
        self.send(&Order::Heard(order));
    }

    /// Hands on what it has said so far, without waiting for the thread that does so on a machine with more to do.
    pub fn hear(&self) {
        held(&self.answers).take();
    }

    fn send(&self, order: &Order) {
        let Some(bytes) = orders::bytes(order) else { return };
        let sent = send(&self.orders, &bytes, SendFlags::DONTWAIT);
        if sent != Ok(bytes.len()) {
            // Half an order would be taken for another; without orders it fires, if it holds.
            self.end();
        }
    }

    /// Lets go of it with its wire: it ends, or, while it holds, fires.
    pub fn let_go(&self) {
        self.let_go.store(true, Ordering::SeqCst);
        self.end();
    }

    fn end(&self) {
        let _ = self.orders.shutdown(Shutdown::Write);
    }

    /// Waits until it has ended and let go of its wire, at most this long; whether it has.
    pub fn wait(&self, longest: Duration) -> bool {
        let until = Instant::now() + longest;
        let mut ended = held(&self.ended.0);
        while !*ended {
            let left = until.saturating_duration_since(Instant::now());
            if left.is_zero() {
                return false;
            }
            ended = self.ended.1.wait_timeout(ended, left).unwrap_or_else(PoisonError::into_inner).0;
        }
        true
    }
}

/// Nobody else ends it: a thread of ours keeps the other ends open.
impl Drop for Child {
    fn drop(&mut self) {
        self.let_go();
    }
}

/// The program that is running, by the system's own name for it: it stays the same when its file is replaced.
#[must_use]
pub fn own_program() -> PathBuf {
    if cfg!(target_os = "linux") {
        return "/proc/self/exe".into();
    }
    // Without a name nothing can be started, and the opening says so.
    std::env::current_exe().unwrap_or_default()
}
