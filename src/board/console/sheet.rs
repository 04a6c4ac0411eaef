//! What a sheet says of a console: its prompt, and for each need the line to send and the answer to expect.
//!
//! Built only by the strict reader (`sheet_file::console`).

use super::super::signals::Stream;
use super::super::value::SettingName;
use super::template::{Pattern, Place, Template};
use std::collections::{BTreeMap, BTreeSet};
use std::time::Duration;

/// A console.
#[derive(Debug, Clone, PartialEq)]
pub struct ConsoleSheet {
    /// What stands where a line can be typed.
    pub prompt: String,
    /// Whether what is typed comes back.
    pub echo: bool,
    /// Ends a line that is sent.
    pub line_end: String,
    /// Throws a half-typed line or an open page away; `None`: nothing does.
    pub interrupt: Option<String>,
    /// Where answers come in pages: what stands at a page's end, and what asks for the next.
    pub more: Option<(String, String)>,
    /// A line that the board shows when it starts.
    pub banner: Option<Pattern>,
    /// A line that it says unasked; group `text`.
    pub note: Option<Pattern>,
    /// An answer that means no; group `why`.
    pub refusal: Pattern,
    /// Whether the board arms while the console is open.
    pub arms_while_open: bool,
    /// Leaves the console.
    pub leave: Option<String>,
    /// An answer takes no longer than this.
    pub answer_within: Duration,
    /// What the board gives, and how it is asked.
    pub exchanges: BTreeMap<Capability, Exchange>,
    /// Every setting that the sheet names.
    pub names: BTreeSet<SettingName>,
}

/// One question and its answer.
#[derive(Debug, Clone, PartialEq)]
pub struct Exchange {
    /// The line.
    pub send: Template,
    /// A line of the answer.
    pub answer: Pattern,
    /// For a list: its last line, with the number of settings; group `count`.
    pub total: Option<Pattern>,
}

impl ConsoleSheet {
    /// How a need is met, if it is.
    #[must_use]
    pub fn exchange(&self, need: Capability) -> Option<&Exchange> {
        self.exchanges.get(&need)
    }

    /// Whether the board gives a signal.
    #[must_use]
    pub fn gives(&self, stream: Stream) -> bool {
        self.exchanges.contains_key(&Capability::of(stream))
    }
}

macro_rules! capabilities {
    ($($need:ident = $key:literal, $words:literal;)*) => {
        /// What a board can be asked for.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
        #[expect(missing_docs, reason = "each is the table of the sheet that it is named after")]
        pub enum Capability {
            $($need,)*
        }

        impl Capability {
            /// All, in the order in which a sheet lists them.
            pub const ALL: [Self; [$($key),*].len()] = [$(Self::$need),*];

            /// The key of its table, under `console` or `packets`.
            #[must_use]
            pub const fn key(self) -> &'static str {
                match self {
                    $(Self::$need => $key,)*
                }
            }

            /// What it gives, in words that follow "no".
            #[must_use]
            pub const fn words(self) -> &'static str {
                match self {
                    $(Self::$need => $words,)*
                }
            }
        }
    };
}

capabilities! {
    Identity = "identity", "who it is";
    List = "list", "all settings";
    Read = "read", "a single setting";
    Write = "write", "way to change a setting";
    Store = "store", "way to keep settings";
    Restart = "restart", "restart";
    Armed = "armed", "the armed flag";
    Channels = "channels", "receiver channels";
    Outputs = "outputs", "motor outputs";
    Attitude = "attitude", "attitude";
    Power = "power", "pack voltage";
    Speeds = "speeds", "motor speeds";
    RunMotor = "run-motor", "motor run by command";
    Stop = "stop", "stop over the link";
}

impl Capability {
    /// The need behind a signal.
    #[must_use]
    pub const fn of(stream: Stream) -> Self {
        match stream {
            Stream::Alive => Self::Armed,
            Stream::Channels => Self::Channels,
            Stream::Outputs => Self::Outputs,
            Stream::Attitude => Self::Attitude,
            Stream::Power => Self::Power,
            Stream::Speeds => Self::Speeds,
        }
    }

    /// The signal of a need, if it is one.
    #[must_use]
    pub fn stream(self) -> Option<Stream> {
        Stream::ALL.into_iter().find(|stream| Self::of(*stream) == self)
    }

    /// The places that its line has.
    #[must_use]
    pub const fn places(self) -> &'static [Place] {
        match self {
            Self::Read => &[Place::Name],
            Self::Write => &[Place::Name, Place::Value],
            Self::RunMotor => &[Place::Motor, Place::Pulse, Place::Milliseconds],
            _ => &[],
        }
    }

    /// The groups that its answer must have, and those that it may have besides.
    #[must_use]
    pub const fn groups(self) -> (&'static [&'static str], &'static [&'static str]) {
        match self {
            Self::Identity => (&["id"], &["kind", "firmware"]),
            Self::List | Self::Read | Self::Write => (&["name", "value"], &[]),
            Self::Armed => (&["armed", "disarmed"], &[]),
            Self::Channels | Self::Outputs => (&["pulses"], &[]),
            Self::Attitude => (&["roll", "pitch"], &["yaw"]),
            Self::Power => (&["volts"], &["amps"]),
            Self::Speeds => (&["rpm"], &[]),
            Self::Store | Self::Restart | Self::RunMotor | Self::Stop => (&[], &[]),
        }
    }
}
