//! A board sheet, read: how one kind of board names, limits, reads, writes and stores each setting.
//!
//! Built only by the strict reader (`sheet_file`); everything here holds what it promises.

use super::console::sheet::{Capability, ConsoleSheet};
use super::effect::Effect;
use super::packets::PacketSheet;
use super::signals::Stream;
use super::value::{Number, SettingName};
use crate::language::quantity::QuantityError;
use crate::language::recipe::{Function, Stick, Turning};
use crate::language::setting_word::SettingWord;
use crate::language::units::{Current, Decimal, Pulse, Quantity, Unit};
use crate::measure::motor_permutation::ReversalOf;
use crate::measure::words::words;
use std::collections::BTreeMap;
use std::time::Duration;

/// One sheet.
#[derive(Debug, Clone, PartialEq)]
pub struct Sheet {
    /// The board's name, as a recipe's `board` line gives it.
    pub board: String,
    /// Where the sheet came from, for messages.
    pub origin: String,
    /// Hex SHA-256 of the sheet's text.
    pub hash: String,
    /// The text.
    pub text: std::sync::Arc<str>,
    /// The link that it is for.
    pub link: LinkKind,
    /// Kind name that the board must give, if the sheet asks for one.
    pub kind: Option<String>,
    /// Settings that must exist on the board.
    pub must_have: Vec<SettingName>,
    /// Whether USB power feeds the receiver.
    pub usb_feeds_receiver: bool,
    /// Whether USB power can turn motors.
    pub usb_feeds_motors: bool,
    /// The throttle must be below this for the board to arm.
    pub throttle_below: Pulse,
    /// Whether sticks alone can arm.
    pub sticks_can_arm: bool,
    /// Whether the board arms with the battery out.
    pub arms_on_usb: bool,
    /// Whether the motors sound the buzzer.
    pub motors_sound_buzzer: bool,
    /// Whether every write outlives a restart by itself.
    pub stores_at_once: bool,
    /// Whether storing needs a restart to be proved in force.
    pub store_restarts: bool,
    /// How one motor is run by command; `None`: not at all.
    pub motor_run: Option<MotorRun>,
    /// Corners in the order of the outputs.
    pub corners: Vec<Corner>,
    /// Which way the motors turn on this board's crafts, where it says so.
    pub turning: Option<Turning>,
    /// The setting that holds each motor's output, in the order of the motors; empty: the order is by plugs alone.
    pub order: Vec<SettingName>,
    /// The settings that hold which way each turns; `None`: that is by wires alone.
    pub reversal: Option<Reversal>,
    /// Motor constant in rpm per volt, where known.
    pub kv: Option<u32>,
    /// Most current of all motors at idle without propellers.
    pub most_current: Option<Current>,
    /// Whether the board sends motor speeds.
    pub speed_telemetry: bool,
    /// The sticks of the first four channels, on a board that cannot be told another order; `None`: it has settings.
    pub channel_order: Option<[Stick; 4]>,
    /// Settings by word of the vocabulary.
    pub settings: BTreeMap<&'static str, SettingEntry>,
    /// The board's own names without a word.
    pub raw: BTreeMap<SettingName, SettingEntry>,
    /// How functions are bound to switches.
    pub binding: Binding,
}

impl Sheet {
    /// The entry and word of a board's own name, if a word of the vocabulary covers it.
    #[must_use]
    pub fn word_of(&self, name: &SettingName) -> Option<(&'static str, &SettingEntry)> {
        self.settings.iter().find(|(_, entry)| entry.name == *name).map(|(word, entry)| (*word, entry))
    }

    /// The sticks of the first four channels on a board that cannot be told another order, as a recipe writes them.
    #[must_use]
    pub fn told_order(&self) -> String {
        self.channel_order.iter().flatten().map(|stick| stick.word()).collect::<Vec<_>>().join(", ")
    }

    /// How the board holds a word's setting, if it has it.
    #[must_use]
    pub fn entry(&self, word: SettingWord) -> Option<&SettingEntry> {
        self.settings.get(word.word())
    }

    /// The console that the sheet describes, if its board has one.
    #[must_use]
    pub fn console(&self) -> Option<&ConsoleSheet> {
        match &self.link {
            LinkKind::Mavlink | LinkKind::Packets(_) => None,
            LinkKind::Console(console) => Some(console),
        }
    }

    /// The packets that the sheet describes, if its board speaks in them.
    #[must_use]
    pub fn packets(&self) -> Option<&PacketSheet> {
        match &self.link {
            LinkKind::Mavlink | LinkKind::Console(_) => None,
            LinkKind::Packets(packets) => Some(packets),
        }
    }

    /// Whether a run by command can be told just this pulse: some boards count in steps of several microseconds.
    #[must_use]
    pub fn tells_run_pulse(&self, pulse: Pulse) -> bool {
        let put = self.packets().and_then(|packets| packets.exchange(Capability::RunMotor)?.put.get("pulse"));
        put.is_none_or(|field| field.holds_measure(f64::from(pulse.0)))
    }

    /// Whether the sheet itself says what is sent to the board and what it answers.
    #[must_use]
    pub fn says_what_is_sent(&self) -> bool {
        self.link != LinkKind::Mavlink
    }

    /// Whether the board says nothing when it starts, as far as the sheet knows.
    #[must_use]
    pub fn starts_silently(&self) -> bool {
        match &self.link {
            LinkKind::Mavlink => false,
            LinkKind::Console(console) => console.banner.is_none(),
            LinkKind::Packets(packets) => packets.banner.is_none(),
        }
    }

    /// Whether the link can give a need: over MAVLink the standard has them all, and the board is asked.
    #[must_use]
    pub fn provides(&self, need: Capability) -> bool {
        match &self.link {
            LinkKind::Mavlink => true,
            LinkKind::Console(console) => console.exchange(need).is_some(),
            LinkKind::Packets(packets) => packets.provides(need),
        }
    }

    /// Whether the link can give a signal; see [`Self::provides`].
    #[must_use]
    pub fn gives(&self, stream: Stream) -> bool {
        self.provides(Capability::of(stream))
    }
}

/// Links that a sheet can be for.
#[derive(Debug, Clone, PartialEq)]
pub enum LinkKind {
    /// The open MAVLink standard.
    Mavlink,
    /// Lines of text, as the sheet describes them.
    Console(Box<ConsoleSheet>),
    /// Small binary packets, as the sheet describes them.
    Packets(Box<PacketSheet>),
}

impl LinkKind {
    /// As a sheet writes it, and the table that describes it.
    #[must_use]
    pub const fn word(&self) -> &'static str {
        match self {
            Self::Mavlink => "mavlink",
            Self::Console(_) => "console",
            Self::Packets(_) => "packets",
        }
    }
}

/// Where a motor sits, seen from above.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Corner(pub String);

/// How the direction of motors is held: 0 as they are wired, 1 reversed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Reversal {
    /// By what it is counted.
    pub of: ReversalOf,
    /// The settings, from the first on.
    pub names: Vec<SettingName>,
}

/// How one motor is run by command; disarming stops it, and the board by itself.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct MotorRun {
    /// Longest time that the board bounds by itself.
    pub longest: Duration,
}

/// How one setting is held.
#[derive(Debug, Clone, PartialEq)]
pub struct SettingEntry {
    /// The board's own name.
    pub name: SettingName,
    /// What its number means.
    pub form: Form,
    /// Least and most that the board takes, in board numbers.
    pub range: Option<(f64, f64)>,
    /// Whether a change takes a restart.
    pub restart: bool,
    /// Whether it belongs to the single craft (never carried to another).
    pub craft_own: bool,
    /// Effect, raised by the sheet or of the word.
    pub effect: Effect,
}

/// What a setting's number means.
#[derive(Debug, Clone, PartialEq)]
pub enum Form {
    /// A whole number of `unit`s.
    Whole {
        /// What one step of the board's number is, as written in the sheet: `us`, `0.01 %`; empty for a bare
        /// number. See [`Measure::read`].
        unit: String,
        /// The only values allowed, if listed.
        only: Vec<i64>,
    },
    /// A real.
    Real {
        /// As for a whole number.
        unit: String,
    },
    /// One of some words.
    Words(BTreeMap<String, i64>),
}

/// What one step of a board's number is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Measure {
    /// How many units one step is.
    pub step: Decimal,
    /// The unit; `None` for a bare number.
    pub unit: Option<Unit>,
}

impl Measure {
    /// Reads the text of a sheet's `unit`: a unit, a step with a unit such as `0.01 %`, a bare step, or nothing.
    ///
    /// # Errors
    /// Neither a unit nor a quantity.
    pub fn read(text: &str) -> Result<Self, QuantityError> {
        const ONE: Decimal = Decimal { millionths: 1_000_000 };
        let text = text.trim();
        if text.is_empty() {
            return Ok(Self { step: ONE, unit: None });
        }
        if text.starts_with(|c: char| c.is_ascii_digit() || c == '-' || c == '.') {
            let Quantity { number, unit } = text.parse()?;
            return Ok(Self { step: number, unit });
        }
        let unit = Unit::of(text).ok_or_else(|| QuantityError::UnknownUnit(text.to_owned()))?;
        Ok(Self { step: ONE, unit: Some(unit) })
    }
}

/// The two ways of binding a function to a switch.
#[derive(Debug, Clone, PartialEq)]
pub struct Binding {
    /// Lowest end of a band.
    pub least: Pulse,
    /// Highest end of a band.
    pub most: Pulse,
    /// Ends are `least + n × granularity`.
    pub granularity: i32,
    /// Channel number that means unbound.
    pub channel_unbound: i64,
    /// The pair of ends that closes a band.
    pub closed: (i64, i64),
    /// Whether the lower end of a band lies inside it.
    pub from_inside: bool,
    /// Whether the upper one does.
    pub to_inside: bool,
    /// How.
    pub way: BindingLayout,
}

impl Binding {
    /// Whether a number can be the end of a band, or closes one.
    #[must_use]
    pub fn is_end(&self, number: i64) -> bool {
        let all = i64::from(self.least.0)..=i64::from(self.most.0);
        all.contains(&number) || [self.closed.0, self.closed.1].contains(&number)
    }

    /// Ends as the board counts them, as a lower end that lies inside and an upper one that does not.
    #[must_use]
    pub fn half_open(&self, (from, to): (i64, i64)) -> (i64, i64) {
        (from.saturating_add((!self.from_inside).into()), to.saturating_add(self.to_inside.into()))
    }
}

/// See [`Binding`].
#[derive(Debug, Clone, PartialEq)]
pub enum BindingLayout {
    /// Three settings a function.
    Direct(BTreeMap<Function, BandNames>),
    /// A table of rows.
    Rows {
        /// Number of each function in a row.
        functions: BTreeMap<Function, i64>,
        /// Number that means a free row.
        free: i64,
        /// Names of each row's settings.
        rows: Vec<BandNames>,
    },
}

impl BindingLayout {
    /// Every band.
    pub fn bands(&self) -> impl Iterator<Item = &BandNames> {
        let (direct, rows) = match self {
            Self::Direct(bands) => (Some(bands.values()), None),
            Self::Rows { rows, .. } => (None, Some(rows)),
        };
        direct.into_iter().flatten().chain(rows.into_iter().flatten())
    }
}

words! {
    /// What a setting of a band is for.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[expect(missing_docs, reason = "each is the setting that it names")]
    pub enum BandPart, word {
        Function = "function",
        Channel = "channel",
        From = "from",
        To = "to",
    }
}

/// Names of the settings of one band; `function` only where bands are rows.
#[derive(Debug, Clone, PartialEq, Eq)]
#[expect(missing_docs, reason = "see `BandPart`")]
pub struct BandNames {
    pub function: Option<SettingName>,
    pub channel: SettingName,
    pub from: SettingName,
    pub to: SettingName,
}

impl BandNames {
    /// Each with what it is for.
    pub fn parts(&self) -> impl Iterator<Item = (BandPart, &SettingName)> {
        let rest = [(BandPart::Channel, &self.channel), (BandPart::From, &self.from), (BandPart::To, &self.to)];
        self.function.iter().map(|name| (BandPart::Function, name)).chain(rest)
    }

    /// Each.
    pub fn names(&self) -> impl Iterator<Item = &SettingName> {
        self.parts().map(|(_, name)| name)
    }

    /// What a setting is for in this band, if it is one of its.
    #[must_use]
    pub fn part_of(&self, name: &SettingName) -> Option<BandPart> {
        self.parts().find(|(_, is)| *is == name).map(|(part, _)| part)
    }
}

/// What the board has, by its own names: a reading of all settings.
pub type Settings = BTreeMap<SettingName, Number>;
