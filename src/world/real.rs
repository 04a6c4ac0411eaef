//! The real world as the core sees it: one mailbox, and effects handed to the threads.
//!
//! Promises: carrying out an effect waits for nothing; when it is dropped, every unreleased hold is
//! sent, every store is finished and the terminal is as it was. Must not be here: any decision.

use super::clock::Clock;
use super::ends::Maker;
use super::files::FileJob;
use super::line::WorldLines;
use super::line::{EditMode, Lines, Outlets};
use super::mailbox::{Mailbox, held};
use super::painter::Paint;
use super::port::Port;
use super::ports::{self, Lister};
use super::raw_terminal::{self, Raw};
use super::screen::Screen;
use super::terminal::{self, Terminal};
use super::virtual_wire::VirtualBoard;
use super::writer::Writer;
use super::{drawing, files, helper, signals};
use crate::measure::time::Time;
use crate::record::files::Places;
use crate::seam::ui::{Tone, UiEvent};
use crate::seam::{Effect, Event, LineAsked, LineRead, OpenError, PortName, World};
use crate::virtual_board::Make;
use std::collections::BTreeMap;
use std::io;
use std::path::PathBuf;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::sync::mpsc::{Receiver, Sender, channel};
use std::sync::{Arc, Mutex};
use std::time::Duration;

/// How long the end waits for bytes, for the disk, and for the screen.
const LAST_BYTES: Duration = Duration::from_millis(400);
const LAST_STORES: Duration = Duration::from_secs(5);
const LAST_LINES: Duration = Duration::from_millis(500);

/// Baud rate where none is named.
pub const BAUD: u32 = 115_200;

/// What a world is made of.
#[derive(Debug)]
pub struct Setup {
    /// Folder that holds one folder a craft; see [`crate::record::folder::crafts`].
    pub crafts: PathBuf,
    /// The radio card in use, replaced where a store says so.
    pub radio_card: Option<PathBuf>,
    /// The recipe's name, written into the craft's lock.
    pub recipe: String,
    /// Of serial ports.
    pub baud: u32,
    /// Where typed lines are kept over sessions; `None`: they are kept until the session ends.
    pub history: Option<PathBuf>,
    /// Where a person sits; `None`: every question ends with the end of input, lines go to standard error.
    pub terminal: Option<Terminal>,
    /// Without a terminal, lines go to standard output instead: they are what was asked for.
    pub to_output: bool,
    /// What is started as a guardian of each wire outside this process; `None`: this session only looks.
    pub guardian: Option<PathBuf>,
}

/// See the module.
pub struct RealWorld {
    clock: Clock,
    mailbox: Mailbox,
    baud: u32,
    guardian: Option<PathBuf>,
    list: Lister,
    port: Option<Port>,
    /// Kept over closing and opening: a world goes on while nobody listens.
    worlds: BTreeMap<Option<String>, VirtualBoard>,
    /// What the virtual board without a name is made as, where it is not the Finch.
    played: Option<Arc<Make>>,
    files: Option<Sender<FileJob>>,
    files_ended: Receiver<()>,
    screen: Box<dyn Screen>,
    paint: Sender<(Time, Paint)>,
    painted: Receiver<()>,
    page: drawing::NewestPage,
    strip: drawing::NewestStrip,
    width: Arc<AtomicUsize>,
    over: Arc<AtomicBool>,
    world_lines: WorldLines,
    lines: Arc<Mutex<Lines>>,
    raw: Option<Arc<Raw>>,
    _signals: signals::Caught,
}

impl RealWorld {
    /// Starts the threads.
    ///
    /// # Errors
    /// Where the system gives no thread or signal, or the terminal is none.
    pub fn new(setup: Setup, screen: Box<dyn Screen>) -> io::Result<Self> {
        let clock = Clock::start();
        let mailbox = Mailbox::new(clock);
        let signals = signals::start(&mailbox)?;
        let holder = files::holder(&setup.recipe);
        let places = Places { crafts: setup.crafts, radio_card: setup.radio_card, holder };
        let (files, files_ended) = files::start(places, mailbox.clone())?;
        let width = Arc::new(AtomicUsize::new(raw_terminal::WIDTH));
        let height = Arc::new(AtomicUsize::new(raw_terminal::HEIGHT));
        let (page, strip) = (drawing::NewestPage::default(), drawing::NewestStrip::default());
        let (over, world_lines) = (Arc::new(AtomicBool::new(false)), WorldLines::default());
        let (paint, paints) = channel();
        let redraws = screen.redraws();
        let outlets =
            Outlets { clock, mailbox: mailbox.clone(), paint: paint.clone(), world_lines: world_lines.clone() };
        let mode = EditMode { edited: redraws, colour: screen.colours() };
        let lines = Arc::new(Mutex::new(Lines::new(outlets, mode, setup.history)));
        let shared = terminal::Shared {
            lines: lines.clone(),
            clock,
            mailbox: mailbox.clone(),
            paint: paint.clone(),
            width: width.clone(),
            height: height.clone(),
            over: over.clone(),
            world_lines: world_lines.clone(),
        };
        let raw = setup.terminal.map(|terminal| terminal::start(terminal, redraws, shared)).transpose()?;
        if let Some(raw) = &raw {
            width.store(raw.size().0, Ordering::Relaxed);
        }
        let (done, painted) = channel();
        let drawing = drawing::Drawing {
            raw: raw.clone(),
            to_output: setup.to_output,
            redraws,
            pages: screen.pages(),
            width: width.clone(),
            height,
            page: page.clone(),
            strip: strip.clone(),
            mailbox: mailbox.clone(),
        };
        helper::start("screen", &mailbox, move || drawing::draw(drawing, &paints, &done))?;
        Ok(Self {
            clock,
            mailbox,
            baud: setup.baud,
            guardian: setup.guardian,
            list: Arc::new(ports::list),
            port: None,
            worlds: BTreeMap::new(),
            played: None,
            files: Some(files),
            files_ended,
            screen,
            paint,
            painted,
            page,
            strip,
            width,
            over,
            world_lines,
            lines,
            raw,
            _signals: signals,
        })
    }

    /// The same world with another list of ports, for a system that lists none of those that are there.
    #[must_use]
    pub fn listing(mut self, list: Lister) -> Self {
        self.list = list;
        self
    }

    /// The same world in which the virtual board without a name is made so.
    #[must_use]
    pub fn playing(mut self, make: Option<Arc<Make>>) -> Self {
        self.played = make;
        self
    }

    fn paint(&self, paint: Paint) {
        // The drawing thread ends only with us.
        let _ = self.paint.send((self.clock.now(), paint));
    }

    fn read_line(&self, asked: LineAsked, width: usize) {
        let Some(raw) = &self.raw else { return self.mailbox.post(Event::Line(LineRead::End)) };
        let mut lines = held(&self.lines);
        if let Some(trouble) = lines.trouble() {
            self.paint(Paint::UiEvent(self.screen.shown(&UiEvent::Line(Tone::Warning, trouble), width)));
        }
        lines.open(asked, raw);
    }

    fn open(&mut self, name: PortName) {
        let mut before = self.port.take();
        if let Some(before) = &mut before {
            before.close();
        }
        let maker = match &name {
            PortName::Virtual(world) => match self.world(world.as_deref()) {
                Ok(maker) => Some(maker),
                Err(error) => return self.mailbox.post(Event::Opened(Err(error))),
            },
            _ => None,
        };
        let mut port = Port::new(name, self.baud, maker, self.list.clone(), self.clock, self.mailbox.clone())
            .guarded_by(self.guardian.clone(), before);
        port.open();
        self.port = Some(port);
    }

    /// The virtual board of a name; from now on the world's line is its.
    fn world(&mut self, name: Option<&str>) -> Result<Maker, OpenError> {
        let key = name.map(str::to_owned);
        if !self.worlds.contains_key(&key) {
            let (clock, paint) = (self.clock, self.paint.clone());
            let board = VirtualBoard::start(name, self.played.clone(), clock, move |answers| {
                // The drawing thread ends only with the world.
                let _ = paint.send((clock.now(), Paint::WorldSays(answers)));
            })?;
            self.worlds.insert(key.clone(), board);
        }
        let board =
            self.worlds.get(&key).ok_or_else(|| OpenError::Missing(PortName::Virtual(key.clone()).to_string()))?;
        let lines = board
            .lines()
            .map_err(|error| OpenError::Other { port: PortName::Virtual(key).to_string(), cause: error.to_string() })?;
        *held(&self.world_lines) = Some(lines);
        Ok(board.maker())
    }

    fn with_writer(&self, act: impl FnOnce(&Writer)) {
        if let Some(port) = &self.port {
            port.with_writer(act);
        }
    }

    fn file(&self, job: FileJob) {
        if self.files.as_ref().is_none_or(|files| files.send(job).is_err()) {
            self.mailbox.post(Event::ThreadEnded("files"));
        }
    }
}

impl World for RealWorld {
    fn next(&mut self, until: Time) -> (Time, Event) {
        // A guardian that has answered in time is not to be found silent because a thread of ours was.
        let hear = || self.port.iter().for_each(Port::hear_guardian);
        hear();
        let (now, event) = self.mailbox.take(until);
        if !matches!(event, Event::Tick) {
            return (now, event);
        }
        hear();
        self.mailbox.take(now)
    }

    fn act(&mut self, effect: Effect) {
        let width = self.width.load(Ordering::Relaxed);
        match effect {
            Effect::Open(name) => self.open(name),
            Effect::Close => drop(self.port.take().and_then(|mut port| port.close())),
            Effect::Reopen => {
                if let Some(port) = &mut self.port {
                    port.reopen();
                }
            }
            Effect::NotThis { other } => {
                if let Some(port) = &mut self.port {
                    port.not_this(other);
                }
            }
            Effect::Send { bytes, by } => self.with_writer(|writer| writer.send(bytes, by)),
            Effect::Stop(bytes) => self.with_writer(|writer| writer.stop(bytes)),
            Effect::Hold(bytes, through) => self.with_writer(|writer| writer.hold(bytes, through)),
            Effect::Release => self.with_writer(Writer::release),
            Effect::Guard(order) => {
                if let Some(port) = &self.port {
                    port.guard(order);
                }
            }
            Effect::Store(ticket, job) => self.file(FileJob::Store(ticket, job)),
            Effect::OpenRecord(identity) => self.file(FileJob::OpenRecord(identity)),
            Effect::ReadRecipe(asked) => self.file(FileJob::ReadRecipe(asked)),
            Effect::Ask(question) => {
                if let Some(raw) = &self.raw {
                    held(&self.lines).abandon(raw);
                }
                let lines = self.screen.question(&question, width);
                self.paint(Paint::Question(lines, self.screen.prompt(&question, width)));
                if self.raw.is_none() {
                    self.mailbox.post(Event::EndOfInput);
                }
            }
            Effect::Echo(text) => self.paint(Paint::Echo(self.screen.safe(&text))),
            Effect::Asked(answered) => self.paint(Paint::Asked(self.screen.closed(answered))),
            Effect::ReadLine(asked) => self.read_line(*asked, width),
            Effect::Show(UiEvent::Page(page)) => {
                let waits = super::mailbox::held(&self.page).replace(page).is_some();
                if !waits {
                    self.paint(Paint::Page);
                }
            }
            Effect::Show(shown @ UiEvent::Strip(_)) => {
                let drawn = self.screen.shown(&shown, width);
                if held(&self.strip).replace(drawn).is_none() {
                    self.paint(Paint::Strip);
                }
            }
            Effect::Show(shown) => self.paint(Paint::UiEvent(self.screen.shown(&shown, width))),
        }
    }
}

impl Drop for RealWorld {
    fn drop(&mut self) {
        // First what could keep a motor from stopping, then the disk, then the screen.
        let writers: Vec<Writer> = self.port.iter_mut().filter_map(Port::close).collect();
        for writer in &writers {
            writer.wait_end(LAST_BYTES);
        }
        // One that fires goes on by itself.
        self.port.iter().for_each(|port| port.wait_for_guardian(LAST_BYTES));
        self.files = None;
        let _ = self.files_ended.recv_timeout(LAST_STORES);
        held(&self.lines).close();
        self.paint(Paint::End);
        let _ = self.painted.recv_timeout(LAST_LINES);
        self.over.store(true, Ordering::SeqCst);
        if let Some(raw) = &self.raw {
            raw.leave();
        }
        *held(&self.world_lines) = None;
    }
}
