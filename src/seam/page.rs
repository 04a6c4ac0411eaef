//! The live page as values: everything that is known of a craft at one moment, ready to be drawn.
//!
//! Built from the live signals, and from sheet and radio card where there are any. Promises: what is too old to be
//! believed is left out, never shown as if it were now; whole numbers, so that two pages can be told apart.
//! Must not be here: layout, judgement, anything that is sent.

use std::time::Duration;

/// How old a signal may be to stand on the page.
pub const SHOWN_AGE: Duration = Duration::from_secs(2);
/// A link that gave nothing for this long is silent.
pub const SILENT_AFTER: Duration = Duration::from_millis(2500);

/// What is written above the page, and what the page is told from outside the signals.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Title {
    /// The craft's name, where it has one.
    pub craft: Option<String>,
    /// Name of the port.
    pub port: String,
}

/// See the module.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Page {
    /// The craft's name, else the board's kind, else its number on the wire.
    pub craft: String,
    /// Name of the port.
    pub port: String,
    /// A virtual board: nothing here proves anything about a craft.
    pub is_virtual: bool,
    /// What is known of bands, corners and sticks, and why not more.
    pub sheet: SheetSeen,
    /// Armed or not.
    pub armed: Armed,
    /// The wire.
    pub wire: Wire,
    /// Frames lost on the wire of late, thousandths; `None`: not known.
    pub loss: Option<u32>,
    /// The radio, as the receiver hears it.
    pub radio: Radio,
    /// Channels that the receiver gives.
    pub channels: Vec<Channel>,
    /// Functions bound to a channel that the receiver does not give: name, and where it is bound.
    pub unheard: Vec<Band>,
    /// Motor outputs, in their order.
    pub motors: Vec<Motor>,
    /// Roll (right side down) and pitch (nose up) in tenths of a degree.
    pub attitude: Option<(i32, i32)>,
    /// The battery.
    pub battery: Battery,
    /// The board's last words, the newest last.
    pub said: Vec<BoardText>,
    /// Another station talks on this wire: its number, and whether it gives commands.
    pub stranger: Option<(u8, bool)>,
}

/// The armed flag.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Armed {
    /// Armed.
    Yes,
    /// Disarmed by its flag, and an output is driven all the same: one motor is run, or the flag lies.
    Driven,
    /// Disarmed.
    No,
    /// Not heard, or too long ago.
    NotKnown,
}

/// The wire to the board.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Wire {
    /// Open, and something was heard this long ago.
    Heard(Duration),
    /// Open, and nothing came for this long.
    Silent(Duration),
    /// Gone for this long; it is looked for.
    Lost(Duration),
}

/// The radio.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Radio {
    /// Channels come.
    Heard,
    /// The board says that its receiver hears no radio.
    Lost,
    /// The board sends no channels.
    NotKnown,
}

/// What is known from a board sheet.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum SheetSeen {
    /// The sheet of this board.
    Known(String),
    /// The board is being asked who it is.
    Asking,
    /// All settings are being read for it.
    Reading(Listing),
    /// None is for this board: no bands, no names.
    None,
}

/// One receiver channel.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Channel {
    /// From 1.
    pub number: u32,
    /// Pulse in µs.
    pub pulse: Option<u16>,
    /// What works it, where that is known: a stick or a switch.
    pub worked_by: Option<WorkedBy>,
    /// Functions bound to it.
    pub bands: Vec<Band>,
}

/// What works a channel.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum WorkedBy {
    /// A stick, by what it does.
    Stick(String),
    /// A switch.
    Switch {
        /// Its name.
        name: String,
        /// The position in which it rests now, if it rests near one.
        position: Option<u32>,
        /// Where each position rests in µs, from position 0 on.
        rests: Vec<i32>,
    },
}

/// A band of a function: on while `from <= pulse < to`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Band {
    /// The function.
    pub function: String,
    /// Channel from 1.
    pub channel: u32,
    /// Lower end in µs, inside.
    pub from: i32,
    /// Upper end in µs, outside.
    pub to: i32,
    /// Whether the pulse stands inside now; `None` where there is none.
    pub inside: Option<bool>,
}

/// One motor output.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Motor {
    /// Corner, else `output 1`.
    pub name: String,
    /// Commanded pulse in µs; `None`: not heard, 0: no pulse.
    pub pulse: Option<u16>,
    /// Speed in rpm.
    pub rpm: Option<u32>,
    /// Whether it is commanded to turn, or turns.
    pub turning: bool,
}

/// The battery as measured.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Battery {
    /// Whether it is in, where that is known.
    pub inside: Option<bool>,
    /// Pack in mV.
    pub millivolts: Option<u16>,
    /// Cells as the board has them.
    pub cells: Option<u32>,
    /// Current in hundredths of an ampere.
    pub centiamps: Option<i16>,
}

impl Battery {
    /// Volts of one cell in mV, where the cells are known and the pack is seen to be in.
    #[must_use]
    pub fn cell_millivolts(&self) -> Option<u32> {
        let cells = self.cells.filter(|cells| *cells > 0)?;
        let pack = self.millivolts.filter(|_| self.inside == Some(true))?;
        Some((u32::from(pack) + cells / 2) / cells)
    }
}

/// Something that the board said, untrusted.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct BoardText {
    /// Its words.
    pub text: String,
    /// How long ago it said them the last time.
    pub ago: Duration,
    /// How often in a row.
    pub times: u32,
}

/// How far a reading of all settings is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Listing {
    /// Settings read so far.
    pub have: u16,
    /// Settings that the board announced.
    pub of: u16,
    /// How long the rest will take, once that can be said.
    pub left: Option<Duration>,
}

/// `210 of 900, about 6 s left`; under half a second nothing is said of the time.
impl std::fmt::Display for Listing {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{} of {}", self.have, self.of)?;
        match self.left.map(|left| left.as_secs_f64().round()) {
            Some(seconds) if seconds >= 1.0 => write!(f, ", about {seconds} s left"),
            _ => Ok(()),
        }
    }
}
