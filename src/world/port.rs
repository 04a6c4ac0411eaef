//! One wire: opened, read, written, lost, and found again.
//!
//! Promises: nothing here blocks the core; `Lost` is said once a wire; nothing is written that was not said by the core.
//! Must not be here: where a port that left is looked for (see `machines::port_search`), what the bytes mean.

use super::clock::Clock;
use super::ends::{Ends, Maker};
use super::guardian::{self, Child};
use super::mailbox::{Mailbox, held};
use super::ports::Lister;
use super::turn::turn;
use super::writer::{Writer, again};
use super::{helper, serial, tcp, udp};
use crate::machines::port_search::{Doing, KnownPort, Place, PortsSeen, Search};
use crate::measure::time::Time;
use crate::seam::guardian::GuardianOrder;
use crate::seam::{Event, OpenError, PortName};
use std::io::{self, Read};
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex};
use std::thread;
use std::time::Duration;

/// Between two looks whether an earlier guardian has let go.
const LOOK: Duration = Duration::from_millis(100);

/// The wire.
#[derive(Clone)]
pub(super) struct Port {
    name: PortName,
    baud: u32,
    maker: Option<Maker>,
    /// What is started as a guardian of each opening.
    guardian: Option<PathBuf>,
    /// The guardian of the opening before, which still may have the wire.
    earlier: Arc<Mutex<Option<Arc<Child>>>>,
    list: Lister,
    clock: Clock,
    mailbox: Mailbox,
    known: Arc<Mutex<KnownPort>>,
    wire: Arc<Mutex<Option<Wire>>>,
    /// Raised when the opening under way is no longer wanted.
    cancelled: Arc<AtomicBool>,
}

struct Wire {
    writer: Writer,
    closed: Arc<AtomicBool>,
    guardian: Option<Child>,
}

impl Port {
    pub(super) fn new(
        name: PortName,
        baud: u32,
        maker: Option<Maker>,
        list: Lister,
        clock: Clock,
        mailbox: Mailbox,
    ) -> Self {
        Self {
            name,
            baud,
            maker,
            guardian: None,
            earlier: Arc::default(),
            list,
            clock,
            mailbox,
            known: Arc::default(),
            wire: Arc::default(),
            cancelled: Arc::default(),
        }
    }

    /// With a guardian at each opening, for which this program is started; `before`: what had the wire until now.
    pub(super) fn guarded_by(mut self, guardian: Option<PathBuf>, before: Option<Self>) -> Self {
        self.guardian = guardian;
        self.earlier = before.map(|before| before.earlier).unwrap_or_default();
        self
    }

    /// Opens it; answered by [`Event::Opened`].
    pub(super) fn open(&mut self) {
        self.search(Search::first);
    }

    /// Looks for it until it is there again; answered by [`Event::Opened`].
    pub(super) fn reopen(&mut self) {
        held(&self.known).forget_silent();
        self.search(Search::again);
    }

    /// What is open is not it: looks on; answered by [`Event::Opened`].
    pub(super) fn not_this(&mut self, other: bool) {
        {
            let mut known = held(&self.known);
            if let Some(name) = known.info.as_ref().map(|info| info.name.clone()) {
                known.not_this(device(&name), other);
            }
        }
        self.search(Search::again);
    }

    fn search(&mut self, begin: fn(Time, String, &mut KnownPort) -> Search) {
        self.close();
        let search = begin(self.clock.now(), self.name.to_string(), &mut held(&self.known));
        self.cancelled = Arc::default();
        let opening = self.clone();
        if let Err(error) = thread::Builder::new().name("port".to_owned()).spawn(move || opening.run_search(search)) {
            let error = OpenError::Other { port: self.name.to_string(), cause: error.to_string() };
            self.mailbox.post(Event::Opened(Err(error)));
        }
    }

    /// Hands something to the writer, where there is one.
    pub(super) fn with_writer(&self, act: impl FnOnce(&Writer)) {
        if let Some(wire) = &*held(&self.wire) {
            act(&wire.writer);
        }
    }

    /// Tells its guardian, where there is one.
    pub(super) fn guard(&self, order: GuardianOrder) {
        if let Some(Wire { guardian: Some(guardian), .. }) = &*held(&self.wire) {
            guardian.order(order);
        }
    }

    /// Hands on what its guardian has said so far.
    pub(super) fn hear_guardian(&self) {
        if let Some(Wire { guardian: Some(guardian), .. }) = &*held(&self.wire) {
            guardian.hear();
        }
    }

    /// Waits until the guardian of a closed wire has let go of it, at most this long.
    pub(super) fn wait_for_guardian(&self, longest: Duration) {
        if let Some(earlier) = &*held(&self.earlier) {
            earlier.wait(longest);
        }
    }

    /// Closes it, whatever state it is in. Returns the writer, which may still have bytes to send.
    pub(super) fn close(&mut self) -> Option<Writer> {
        self.cancelled.store(true, Ordering::SeqCst);
        let wire = held(&self.wire).take()?;
        wire.closed.store(true, Ordering::SeqCst);
        wire.writer.close();
        if let Some(guardian) = wire.guardian {
            guardian.let_go();
            *held(&self.earlier) = Some(Arc::new(guardian));
        }
        Some(wire.writer)
    }
}

/// An opening under way, on a thread of its own.
impl Port {
    /// Does what the search says, until it is over or nobody wants it any more.
    fn run_search(&self, mut search: Search) {
        // An open description makes a port come back under another name; while its guardian fires, nobody else stops.
        let earlier = held(&self.earlier).clone();
        while earlier.as_ref().is_some_and(|earlier| !earlier.wait(LOOK)) && !self.cancelled.load(Ordering::SeqCst) {}
        while !self.cancelled.load(Ordering::SeqCst) {
            let now = self.clock.now();
            match search.next(now) {
                Doing::Look(devices) => search.looked(now, &self.look(devices)),
                Doing::Wait(until) => thread::sleep(until.since(now)),
                Doing::GiveUp(error) => return self.refused(error),
                Doing::Open(place) => match self.place(&place) {
                    // It may have taken seconds.
                    Ok(_) if self.cancelled.load(Ordering::SeqCst) => return,
                    Ok(ends) => return self.install(ends, search),
                    Err(error) => search.refused(self.clock.now(), error),
                },
            }
        }
    }

    /// It could not be opened; nobody is told who does not want it any more.
    fn refused(&self, error: OpenError) {
        if !self.cancelled.load(Ordering::SeqCst) {
            self.mailbox.post(Event::Opened(Err(error)));
        }
    }

    fn look(&self, mut devices: Vec<String>) -> PortsSeen {
        devices.retain(|device| !Path::new(device).exists());
        let listed = if matches!(self.name, PortName::Serial(_)) { (self.list)() } else { Vec::new() };
        let ports = listed.into_iter().map(|port| port.info).collect();
        PortsSeen { ports, device: device(&self.name.to_string()), gone: devices }
    }

    fn place(&self, place: &Place) -> Result<Ends, OpenError> {
        if let Some(maker) = &self.maker {
            return maker();
        }
        match (&self.name, place) {
            (_, Place::Path(path)) => self.serial(Path::new(path)),
            (PortName::Serial(path), Place::AsNamed) => self.serial(path),
            (PortName::Tcp(address), _) => tcp::open(address),
            (PortName::Udp(address), _) => udp::open(address, self.clock),
            (PortName::Virtual(_), _) => Err(OpenError::Missing(self.name.to_string())),
        }
    }

    /// Opens a serial port, for its guardian first: once it is ours alone nobody opens it a second time.
    fn serial(&self, path: &Path) -> Result<Ends, OpenError> {
        let second = self.guardian.as_ref().and_then(|_| guardian::open(path));
        let ends = serial::open(path, self.baud, &self.list)?;
        Ok(Ends { guard: second.filter(|second| guardian::same(second, path)), ..ends })
    }

    /// Starts the guardian of a wire, where this session has them and the wire is outside this process.
    fn start_guardian(&self, ends: &mut Ends) -> io::Result<Option<Child>> {
        let Some(program) = self.guardian.as_ref().filter(|_| self.maker.is_none()) else { return Ok(None) };
        let wire = ends.guard.take().ok_or_else(|| io::Error::other("it cannot be opened for a guardian as well"))?;
        ends.info.guarded = true;
        Child::start(program, wire, self.mailbox.clone()).map(Some)
    }

    /// Starts the wire's threads, then says that it is open; bytes come only after that.
    fn install(&self, mut ends: Ends, search: Search) {
        let closed = Arc::new(AtomicBool::new(false));
        let lost = {
            let (mailbox, closed) = (self.mailbox.clone(), closed.clone());
            move || {
                // A wire that we closed ourselves is not lost, and none is lost twice.
                if !closed.swap(true, Ordering::SeqCst) {
                    mailbox.post(Event::Lost);
                }
            }
        };
        let failed = |error: &io::Error| {
            self.refused(OpenError::Other { port: self.name.to_string(), cause: error.to_string() });
        };
        let guardian = match self.start_guardian(&mut ends) {
            Ok(guardian) => guardian,
            Err(error) => return failed(&error),
        };
        let (reader_gate, start) = std::sync::mpsc::channel::<Writer>();
        let reader = {
            let (mailbox, closed, lost) = (self.mailbox.clone(), closed.clone(), lost.clone());
            let mut input = ends.input;
            move || {
                // Without a writer the wire was never opened.
                let Ok(writer) = start.recv() else { return true };
                read(&mut *input, &mailbox, &closed);
                lost();
                writer.close();
                true
            }
        };
        if let Err(error) = helper::start("reader", &self.mailbox, reader) {
            return failed(&error);
        }
        let writer = match Writer::start(self.clock, &self.mailbox, ends.output, lost) {
            Ok(writer) => writer,
            Err(error) => return failed(&error),
        };
        {
            // Under one lock with closing, so that a wire nobody wants is not installed.
            let mut wire = held(&self.wire);
            if self.cancelled.load(Ordering::SeqCst) {
                writer.close();
                // Never told to hold, its guardian leaves at once.
                return;
            }
            *wire = Some(Wire { writer: writer.clone(), closed, guardian });
        }
        *held(&self.known) = search.found(ends.info.clone());
        self.mailbox.post(Event::Opened(Ok(ends.info)));
        // A reader that is gone already has nothing to read.
        let _ = reader_gate.send(writer);
    }
}

/// A device's own name, links followed.
fn device(path: &str) -> String {
    Path::new(path).canonicalize().map_or_else(|_| path.to_owned(), |real| real.display().to_string())
}

/// Reads until the wire is lost or closed.
fn read(input: &mut dyn Read, mailbox: &Mailbox, closed: &AtomicBool) {
    let mut bytes = [0; 1024];
    while !closed.load(Ordering::SeqCst) {
        turn();
        match input.read(&mut bytes) {
            Ok(0) => return,
            Ok(count) => {
                if !closed.load(Ordering::SeqCst) {
                    mailbox.post_bytes(Event::Bytes(bytes[..count].to_vec()), closed);
                }
            }
            Err(error) if again(&error) => {}
            Err(error) if udp::is_another_peer(&error) => {
                if !closed.load(Ordering::SeqCst) {
                    mailbox.post(Event::AnotherPeer);
                }
            }
            Err(_) => return,
        }
    }
}
