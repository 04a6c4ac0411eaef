//! The seam between the core and the world: events in, effects out.
//!
//! The core never reads a wire, a clock, a file or a terminal; the world hands it one event at a
//! time and carries out its effects in order. The same core runs under a simulated world and under
//! threads on real ports. Must not be here: any decision.

pub mod exit;
pub mod fault;
pub mod guardian;
pub mod page;
mod question;
pub mod sheet_trial;
pub mod strip;
pub mod ui;

use crate::board::signals::Identity;
use crate::language::Reading;
use crate::language::known::Known;
use crate::measure::time::Time;
use crate::record::{CraftRecord, RecordError, StoreJob};
use crate::seam::guardian::{GuardianEvent, GuardianOrder};
use crate::seam::ui::{Question, UiEvent};
use std::ops::Range;
use std::path::PathBuf;

/// Number of something asked of the world, such as a file to be stored.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Default)]
pub struct StoreTicket(pub u32);

/// How a port is named by the operator.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub enum PortName {
    /// A serial port or pseudo-terminal.
    Serial(PathBuf),
    /// A TCP server.
    Tcp(String),
    /// A UDP address: of this machine, where the board's datagrams come in, or of the board.
    Udp(String),
    /// The virtual board in this process.
    Virtual(Option<String>),
}

impl std::fmt::Display for PortName {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Serial(path) => write!(f, "{}", path.display()),
            Self::Tcp(address) => write!(f, "tcp:{address}"),
            Self::Udp(address) => write!(f, "udp:{address}"),
            Self::Virtual(None) => f.write_str("virtual"),
            Self::Virtual(Some(name)) => write!(f, "virtual:{name}"),
        }
    }
}

/// What the system tells of a port.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct PortInfo {
    /// Path or address.
    pub name: String,
    /// USB product name, if any.
    pub product: Option<String>,
    /// USB maker name, if any.
    pub maker: Option<String>,
    /// USB serial number, if any.
    pub serial: Option<String>,
    /// USB vendor and product id, if any.
    pub usb: Option<(u16, u16)>,
    /// A guardian process stands ready beside this opening.
    pub guarded: bool,
}

/// Why a port could not be opened. Each becomes a sentence with what to do.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum OpenError {
    /// No such port.
    #[error("there is no port {0}")]
    Missing(String),
    /// Not allowed; `hint` names the group or rule.
    #[error("the system does not let you open {port}")]
    Denied {
        /// Which.
        port: String,
        /// What to do on this system.
        hint: String,
    },
    /// It was there, and went while it was being opened.
    #[error("{0} was there a moment ago and is gone")]
    Vanished(String),
    /// Somebody else has it.
    #[error("{port} is in use by {}", by.as_deref().unwrap_or("another program"))]
    Busy {
        /// Which.
        port: String,
        /// Who, where the system tells.
        by: Option<String>,
    },
    /// The guardian of a run that was killed or stopped is at it.
    #[error("an earlier run's guardian is still stopping the motors over {0}")]
    StillStopping(String),
    /// Not a serial port.
    #[error("{0} is not a serial port")]
    NotAPort(String),
    /// Nobody listens at a TCP address.
    #[error("nothing answers at {0}")]
    Refused(String),
    /// Anything else the system says.
    #[error("{port} could not be opened: {cause}")]
    Other {
        /// Which.
        port: String,
        /// The system's words.
        cause: String,
    },
}

impl OpenError {
    /// What to do, where that is known.
    #[must_use]
    pub fn hint(&self) -> Option<String> {
        let words = match self {
            Self::Denied { hint, .. } => hint,
            Self::Missing(_) => "see what is plugged in with `quadjig ports`",
            Self::Vanished(_) => "put the board back on its cable, or on another one, then start again",
            Self::Busy { .. } => "end the program that has it open, then start again",
            Self::StillStopping(_) => {
                "see that the motors stand; it leaves the port within ten seconds, or once the stopped run has ended"
            }
            Self::NotAPort(_) => "name the board's port; `quadjig ports` lists what is plugged in",
            Self::Refused(_) => "check the address and the number, and that the board's side has been started",
            Self::Other { .. } => return None,
        };
        Some(words.to_owned())
    }
}

/// A key as the terminal gives it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[expect(missing_docs, reason = "named after the keys")]
pub enum Key {
    Char(char),
    Enter,
    Backspace,
    Escape,
    Interrupt,
    Other,
}

/// A signal from the system.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[expect(missing_docs, reason = "named after the signals")]
pub enum SystemSignal {
    Interrupt,
    Terminate,
    HangUp,
    Quit,
    TerminalStop,
}

/// A line that the operator may type, edited at the terminal, while nothing can turn.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LineAsked {
    /// What stands before it.
    pub prompt: String,
    /// What was typed before it was asked for: it stands in the line, and nothing comes of it before Enter.
    pub typed: String,
    /// For completion and hints.
    pub known: Known,
}

/// A recipe that was named at the prompt.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RecipeAsked {
    /// Its file.
    pub file: PathBuf,
    /// Values of its parameters.
    pub with: Vec<(String, String)>,
}

/// What came of [`Effect::ReadLine`].
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum LineRead {
    /// A line, or several where one goes on in the next.
    Typed(String),
    /// Thrown away (Ctrl-C).
    Abandoned,
    /// The operator wants to leave (Ctrl-D on an empty line).
    End,
}

/// What the world hands to the core, one at a time.
#[derive(Debug)]
pub enum Event {
    /// Bytes from the wire.
    Bytes(Vec<u8>),
    /// The wire is gone: unplugged, closed by the other side, failed.
    Lost,
    /// Whoever is at the far end of the link has changed; what comes from now on is of the new one.
    AnotherPeer,
    /// The guardian of the wire says something.
    Guardian(GuardianEvent),
    /// The port was opened, or not.
    Opened(Result<PortInfo, OpenError>),
    /// A store is on the disk, or failed.
    Stored(StoreTicket, Result<(), RecordError>),
    /// A craft's record is open and locked for us, or not.
    Record(Box<Result<CraftRecord, RecordError>>),
    /// A recipe was read, or not: its findings say why.
    Recipe(Box<Reading>),
    /// A key, at the moment it came.
    Key(Key),
    /// A paste that the terminal marked as one begins, or more of it came: its text is nobody's answer.
    Paste,
    /// The line that was asked for.
    Line(LineRead),
    /// The terminal is closed, or there is none.
    EndOfInput,
    /// A signal from the system.
    Signal(SystemSignal),
    /// A thread of the world ended without having been told to; its name.
    ThreadEnded(&'static str),
    /// The time asked for has come, nothing else.
    Tick,
}

/// What the core wants done, in order.
#[derive(Debug)]
pub enum Effect {
    /// Open a port, as the only wire that there is. Answered by [`Event::Opened`].
    Open(PortName),
    /// Close it.
    Close,
    /// Look for the port that left and came back, by USB serial number where there is one, else under the
    /// same name or as another USB port of its kind; then open it. Answered by [`Event::Opened`] once it is
    /// there; asked again on failure.
    Reopen,
    /// What was opened again is not it, or gives no sign of life: leave it, and go on looking. `other`: another
    /// board answered, which is left alone from now on. Answered as [`Effect::Reopen`] is.
    NotThis {
        /// Whether another board answered.
        other: bool,
    },
    /// Bytes for the wire, after what is queued.
    Send {
        /// What.
        bytes: Vec<u8>,
        /// Must have begun to leave by then, else they are dropped.
        by: Time,
    },
    /// Bytes that overtake everything queued, which is thrown away.
    Stop(Vec<u8>),
    /// Dead man's hold: through this time, unless renewed or released before, the writer itself sends these bytes, again
    /// and again.
    Hold(Vec<u8>, Range<Time>),
    /// Ends the hold.
    Release,
    /// Something for the guardian of the wire, where it has one.
    Guard(GuardianOrder),
    /// Put something on the disk, with fsync. Answered by [`Event::Stored`].
    Store(StoreTicket, StoreJob),
    /// Open and lock the record of this craft. Answered by [`Event::Record`].
    OpenRecord(Identity),
    /// Read a recipe with all that it uses. Answered by [`Event::Recipe`].
    ReadRecipe(RecipeAsked),
    /// Show a question; nothing else is shown until [`Effect::Asked`].
    Ask(Box<Question>),
    /// What was typed so far at the open question.
    Echo(String),
    /// The question is closed; `true` if it was answered.
    Asked(bool),
    /// Have the operator type a line, or go on with the open one behind a new prompt. Answered by [`Event::Line`]; what is shown meanwhile stands above it, and no
    /// question is asked until it was answered.
    ReadLine(Box<LineAsked>),
    /// Show something.
    Show(UiEvent),
}

/// A world: real threads around one mailbox, or a simulation.
pub trait World {
    /// The next event, at the latest [`Event::Tick`] at `until`.
    fn next(&mut self, until: Time) -> (Time, Event);
    /// Carries out one effect. Must not block on a wire, a disk or a terminal.
    fn act(&mut self, effect: Effect);
}
