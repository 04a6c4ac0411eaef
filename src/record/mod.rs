//! What is kept of a craft: snapshots, journal, measurements. Plain JSON and JSON lines.
//!
//! Must not know links. The world reads and writes the files; here stands what is in them.

pub mod accepted;
pub mod crafts;
pub mod files;
pub mod folder;
pub mod journal;
pub mod ledger;
pub(crate) mod lines;
pub mod link_loss;
pub mod proof;
pub mod provenance;
pub mod recovery;
pub mod review;
pub mod run_log;
pub mod series;
pub mod snapshot;

use crate::board::sheet::Settings;
use crate::board::signals::Identity;
use crate::board::value::{NoValue, Number, SettingName};
use crate::language::recipe::OnLoss;
use crate::language::units::Pulse;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::path::PathBuf;

/// Something for the disk: written, synced, and only then answered.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StoreJob {
    /// Where.
    pub place: StorePlace,
    /// What; a journal line ends with a newline.
    pub bytes: Vec<u8>,
    /// Added at the end; else the file is replaced as one.
    pub append: bool,
}

/// Where a store goes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum StorePlace {
    /// A file in the craft's folder, relative to it.
    Craft(PathBuf),
    /// A file in the craft's folder that is named after its content: one that is there stays.
    Once(PathBuf),
    /// The radio card in use.
    RadioCard,
    /// A file that the operator named, and that is not there yet: nothing is replaced.
    New(PathBuf),
}

/// Why a record could not be read or written. Each becomes a sentence with what to do.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum RecordError {
    /// Another run holds this craft.
    #[error("another run holds this craft: {0}")]
    Held(String),
    /// The folder of a craft has the journal of another one's board.
    #[error("{folder} is the folder of {own}, and what is kept there is of another craft: {other}")]
    AnothersRecord {
        /// Which folder.
        folder: PathBuf,
        /// The craft on the wire.
        own: String,
        /// The craft of the last run.
        other: String,
    },
    /// The disk is full.
    #[error("the disk is full: {0} could not be written")]
    Full(PathBuf),
    /// A file that was to be new is there already.
    #[error("{0} is there already, and is not replaced")]
    Exists(PathBuf),
    /// Not allowed.
    #[error("the system does not let you write {0}")]
    Denied(PathBuf),
    /// The file system locks nothing, as on some shares of a network.
    #[error("{0} lies where nothing can be locked, so that another program could write into this record meanwhile")]
    NoLocks(PathBuf),
    /// A line that another version wrote.
    #[error("{file}, line {line}, is not a record this version can read")]
    Unreadable {
        /// Which file.
        file: PathBuf,
        /// Line from 1.
        line: usize,
    },
    /// The board gives no id of its own, so nothing tells its record from another's.
    #[error(
        "this board gives no id that tells it from others: its craft must be named before anything is kept of it, \
         and only `quadjig run` and `quadjig bench` ask for its name"
    )]
    Unnamed,
    /// The board's id is none that a folder may be named after.
    #[error("the board's id is not 16 lower-case hex digits: {}", .0.escape_debug())]
    BadId(String),
    /// Neither `XDG_DATA_HOME` nor `HOME` says where records belong.
    #[error("there is no place for craft records: set HOME or XDG_DATA_HOME, or give --records DIR")]
    Nowhere,
    /// Anything else the system says.
    #[error("{file} could not be read or written: {cause}")]
    Other {
        /// Which file.
        file: PathBuf,
        /// The system's words.
        cause: String,
    },
}

impl RecordError {
    /// What to do, where that is known and not said already.
    #[must_use]
    pub fn hint(&self) -> Option<&'static str> {
        match self {
            Self::Held(_) => {
                Some("wait until it has ended, or end it; two runs on one craft would spoil each other's work")
            }
            Self::AnothersRecord { .. } => Some(
                "give that folder its own name again, the id of its board or `named-` and what was typed for it, and start \
                 again; throw nothing of it away, as it may say what a run left half written on that craft",
            ),
            Self::Full(_) => Some("make room on that disk, or name a folder on another one with --records DIR"),
            Self::Exists(_) => Some("choose another name, or move that file away"),
            Self::Denied(_) => Some("make the folder yours, or name another one with --records DIR"),
            Self::NoLocks(_) => {
                Some("keep records on a disk of this computer, and name their folder with --records DIR")
            }
            Self::Unreadable { .. } => Some(
                "use the version that wrote it; do not move it away, as it may say what a run left half written on the craft",
            ),
            Self::Unnamed | Self::BadId(_) | Self::Nowhere | Self::Other { .. } => None,
        }
    }
}

/// A craft's record as it stands when a run begins.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct CraftRecord {
    /// Its folder.
    pub folder: PathBuf,
    /// Lines of the journal.
    pub journal: Vec<JournalLine>,
    /// Proofs that may still stand: no repair has voided them.
    pub proofs: Vec<Proof>,
    /// What was shown last of each kind, and was voided by a repair.
    pub voided: Vec<crafts::shown::Shown>,
    /// What was repaired or exchanged, the first one first.
    pub repairs: Vec<crafts::repair::Repair>,
    /// What each channel does on link loss, by channel from 1, if found.
    pub link_loss: Vec<ChannelOnLoss>,
    /// Text of the craft's own radio card, if it has one.
    pub radio_card: Option<String>,
    /// What could not be read of its files.
    pub damage: Vec<Damage>,
    /// Where it was opened for work: files of runs that were cut off, relative to the folder (see `recovery`).
    pub at_hand: BTreeMap<PathBuf, Vec<u8>>,
}

impl CraftRecord {
    /// The board of the last run.
    #[must_use]
    pub fn last_board(&self) -> Option<&Identity> {
        self.journal.iter().rev().find_map(|line| match line {
            JournalLine::Begin { board, .. } => Some(board),
            _ => None,
        })
    }
}

/// Something in a craft's files that could not be read. The rest was.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum Damage {
    /// The last line was cut off while it was written; nothing acted on it.
    #[error("the last line of {0} was cut off while it was written; nothing was done about it yet")]
    Torn(&'static str),
    /// A line is not as it was written.
    #[error("line {line} of {file} is damaged and was left out; what it said is unknown")]
    Line {
        /// Which file.
        file: &'static str,
        /// Line from 1.
        line: usize,
    },
    /// A whole file is not as it was written.
    #[error("{0} is damaged and was left out")]
    File(&'static str),
}

/// A copy of all settings.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Snapshot {
    /// `quadjig.snapshot/1`.
    pub schema: String,
    /// When, RFC 3339.
    pub taken: String,
    /// Of which board.
    pub board: Identity,
    /// Every setting by the board's own name.
    #[serde(deserialize_with = "snapshot::by_name")]
    pub settings: Settings,
    /// Settings that the board has and of which no value is here: such a copy is not whole.
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty", deserialize_with = "snapshot::by_name")]
    pub lacking: BTreeMap<SettingName, NoValue>,
}

/// What one channel does when the link is lost.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct ChannelOnLoss {
    /// From 1.
    pub channel: u32,
    /// `None`: the board is told, the value counts as nowhere.
    pub does: LossSeen,
}

/// See [`ChannelOnLoss`].
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum LossSeen {
    /// Stays where it was.
    Holds,
    /// Goes to this pulse width in µs.
    Fixed(i32),
    /// The board is told.
    Flagged,
}

impl From<LossSeen> for OnLoss {
    fn from(seen: LossSeen) -> Self {
        match seen {
            LossSeen::Holds => Self::Holds,
            LossSeen::Fixed(pulse) => Self::Rests(Pulse(pulse)),
            LossSeen::Flagged => Self::Flagged,
        }
    }
}

/// One line of the journal.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", tag = "event")]
#[expect(missing_docs, reason = "the fields are named for the reader of the file")]
pub enum JournalLine {
    /// A run begins.
    Begin {
        schema: String,
        run: String,
        at: String,
        recipe: String,
        fingerprint: String,
        snapshot: String,
        board: Identity,
        /// None in the journals of versions before.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        provenance: Option<Box<provenance::Provenance>>,
    },
    /// These are about to be written.
    Intent { at: String, step: usize, writes: Vec<Intent> },
    /// What became of them. `read`: what was read and is known to be stored, as after a restart that was shown.
    Outcome {
        at: String,
        step: usize,
        state: WriteState,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        read: Option<Settings>,
        /// The restart is shown by the board's silence alone. Left out: it is not, or there was none.
        #[serde(default, skip_serializing_if = "std::ops::Not::not")]
        by_silence: bool,
    },
    /// A run ends. `snapshot`: all settings as they were read then.
    End {
        at: String,
        outcome: String,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        snapshot: Option<String>,
    },
    /// Not a line of a file: one that stands there, and is not as it was written.
    #[serde(skip)]
    Damaged { line: usize },
}

/// One setting about to be written.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Intent {
    /// The board's own name.
    pub name: String,
    /// What it was; `None`: nobody knows.
    pub from: Option<Number>,
    /// What it is to be.
    pub to: Number,
}

/// The three states of a write, and its failures.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum WriteState {
    /// Answered, not yet read back.
    Accepted,
    /// Read back as written.
    ReadBack,
    /// The board accepted a storage command.
    Stored,
    /// Still there after a restart.
    KeptOverRestart,
    /// Not as written.
    Failed,
}

/// A proof given at the bench, with all that it depends on.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Proof {
    /// `quadjig.proof/1`.
    pub schema: String,
    /// When, RFC 3339.
    pub at: String,
    /// What was proved.
    pub subject: ProofSubject,
    /// Board id and firmware.
    pub board: Identity,
    /// Settings it depends on, with the values they had.
    pub depends_on: Settings,
    /// Pack voltage in volts, if measured.
    pub volts: Option<f64>,
}

/// See [`Proof`].
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", tag = "what")]
#[expect(missing_docs, reason = "the fields are named for the reader of the file")]
pub enum ProofSubject {
    /// An idle found by a search (its start, step, limit, margin in µs) or tested as it stood.
    Idle {
        pulse: i32,
        start: Option<i32>,
        step: Option<i32>,
        at_most: Option<i32>,
        margin: Option<i32>,
        dwell_ms: u64,
        starts: u32,
    },
    /// Arm works where it should.
    Arm,
    /// Cut in time; worst of the repeats in milliseconds, as an interval.
    Cut { least_ms: f64, most_ms: f64 },
    /// The board cut in time when the radio went off, and did not start again when it was back; in milliseconds,
    /// as an interval.
    Failsafe { least_ms: f64, most_ms: f64 },
    /// The buzzer was heard.
    Buzzer,
    /// Where each motor sits and whether it turns clockwise, seen from above, by the board's numbers: as somebody said twice.
    Motors { corners: Vec<String>, clockwise: Vec<bool> },
    /// The sticks were as asked.
    Sticks,
    /// The board sees a tilt and a turn as they are.
    Attitude,
    /// The board's level is the craft's.
    Level,
    /// The board shows the pack's voltage as a meter does.
    Voltage,
    /// The motor signal was proved after a power cycle.
    Signal { signal: String },
}
