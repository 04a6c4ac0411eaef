//! What was repaired or exchanged on a craft, and what of that which was shown no longer counts because of it.
//!
//! Promises: a repair stands among the proofs by their number, so that no clock decides which came first; a line of it
//! that is damaged voids whatever it may have voided. Must not be here: settings that changed (a proof names its own).

use crate::language::recipe::Frame;
use crate::record::lines::{self, Verdict};
use crate::record::{Damage, ProofSubject, RecordError, StoreJob};
use serde::{Deserialize, Serialize};
use std::path::Path;

/// Written into every line.
pub const SCHEMA: &str = "quadjig.repair/1";

/// The repairs' file in the craft's folder.
pub const FILE: &str = "repairs.jsonl";

/// What is shown at the bench, of whichever value.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum ProofKind {
    /// Every motor starts and turns evenly.
    Idle,
    /// Arm works where it should.
    Arm,
    /// The switch cuts in time.
    Cut,
    /// A lost link cuts in time.
    Failsafe,
    /// The buzzer is heard.
    Buzzer,
    /// Speed controllers take the motor signal.
    Signal,
    /// Every motor sits and turns as it should.
    Motors,
    /// The sticks are as asked.
    Sticks,
    /// A tilt and a turn are seen as they are.
    Attitude,
    /// Level is level.
    Level,
    /// The voltage is shown as it is.
    Voltage,
}

impl ProofKind {
    /// All of them, in the order in which they are told.
    pub const ALL: [Self; 11] = [
        Self::Arm,
        Self::Cut,
        Self::Failsafe,
        Self::Idle,
        Self::Signal,
        Self::Motors,
        Self::Buzzer,
        Self::Sticks,
        Self::Attitude,
        Self::Level,
        Self::Voltage,
    ];

    /// What a proof shows.
    #[must_use]
    pub fn of(subject: &ProofSubject) -> Self {
        match subject {
            ProofSubject::Idle { .. } => Self::Idle,
            ProofSubject::Arm => Self::Arm,
            ProofSubject::Cut { .. } => Self::Cut,
            ProofSubject::Failsafe { .. } => Self::Failsafe,
            ProofSubject::Buzzer => Self::Buzzer,
            ProofSubject::Signal { .. } => Self::Signal,
            ProofSubject::Motors { .. } => Self::Motors,
            ProofSubject::Sticks => Self::Sticks,
            ProofSubject::Attitude => Self::Attitude,
            ProofSubject::Level => Self::Level,
            ProofSubject::Voltage => Self::Voltage,
        }
    }

    /// Its word.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Idle => "idle",
            Self::Arm => "arm",
            Self::Cut => "cut",
            Self::Failsafe => "failsafe",
            Self::Buzzer => "buzzer",
            Self::Signal => "signal",
            Self::Motors => "motors",
            Self::Sticks => "sticks",
            Self::Attitude => "attitude",
            Self::Level => "level",
            Self::Voltage => "voltage",
        }
    }
}

/// A part of a craft.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Part {
    /// One motor, by its corner.
    Motor(String),
    /// A speed controller: of one motor, or of all.
    SpeedController(Option<String>),
    /// The receiver, or the way it is wired.
    Receiver,
    /// The transmitter, or its set-up.
    Radio,
    /// The board.
    Board,
}

/// A text that names no part.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error(
    "write `motor CORNER`, `speed controller`, `speed controller CORNER`, `receiver`, `radio` or `board`; a corner is one \
     of the craft's frame, such as front left"
)]
pub struct NotAPart;

impl Part {
    /// Reads it from words.
    ///
    /// # Errors
    /// What can be written.
    pub fn read(words: &[String]) -> Result<Self, NotAPart> {
        let text = words.join(" ").to_ascii_lowercase().replace('-', " ");
        let text = text.split_whitespace().collect::<Vec<_>>().join(" ");
        let corner = |rest: &str| {
            Frame::ALL.iter().any(|frame| frame.place(rest).is_some()).then(|| rest.to_owned()).ok_or(NotAPart)
        };
        match text.as_str() {
            "receiver" => Ok(Self::Receiver),
            "radio" => Ok(Self::Radio),
            "board" => Ok(Self::Board),
            "speed controller" | "speed controllers" => Ok(Self::SpeedController(None)),
            other => match (other.strip_prefix("motor "), other.strip_prefix("speed controller ")) {
                (Some(rest), _) => corner(rest).map(Self::Motor),
                (_, Some(rest)) => corner(rest).map(|corner| Self::SpeedController(Some(corner))),
                _ => Err(NotAPart),
            },
        }
    }

    /// In words.
    #[must_use]
    pub fn words(&self) -> String {
        match self {
            Self::Motor(corner) => format!("the motor {corner}"),
            Self::SpeedController(None) => "the speed controllers".to_owned(),
            Self::SpeedController(Some(corner)) => format!("the speed controller {corner}"),
            Self::Receiver => "the receiver".to_owned(),
            Self::Radio => "the radio".to_owned(),
            Self::Board => "the board".to_owned(),
        }
    }

    /// The table: whether a change of this part voids what was shown. A part voids all in whose chain it stands, from
    /// the stick to the motor that turned or stopped.
    #[must_use]
    pub fn voids(&self, kind: ProofKind) -> bool {
        match self {
            // The buzzer too, as motors may be what sounds it.
            Self::Motor(_) => {
                matches!(kind, ProofKind::Idle | ProofKind::Signal | ProofKind::Motors | ProofKind::Buzzer)
            }
            Self::SpeedController(_) => {
                matches!(
                    kind,
                    ProofKind::Cut
                        | ProofKind::Failsafe
                        | ProofKind::Idle
                        | ProofKind::Signal
                        | ProofKind::Motors
                        | ProofKind::Buzzer
                )
            }
            Self::Receiver | Self::Radio => {
                matches!(
                    kind,
                    ProofKind::Arm | ProofKind::Cut | ProofKind::Failsafe | ProofKind::Buzzer | ProofKind::Sticks
                )
            }
            Self::Board => true,
        }
    }

    /// Whether what each channel does without the radio has to be found anew.
    #[must_use]
    pub fn voids_link_loss(&self) -> bool {
        matches!(self, Self::Receiver | Self::Radio | Self::Board)
    }
}

/// One repair.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Repair {
    /// [`SCHEMA`].
    pub schema: String,
    /// When it was noted, RFC 3339.
    pub at: String,
    /// What was repaired or exchanged.
    pub part: Part,
    /// How many lines the proofs' file had then: those are the ones before it.
    pub proofs: usize,
}

impl Repair {
    /// Noted now.
    #[must_use]
    pub fn new(at: String, part: Part, proofs: usize) -> Self {
        Self { schema: SCHEMA.to_owned(), at, part, proofs }
    }

    /// The line for the disk.
    ///
    /// # Errors
    /// [`RecordError::Other`] for a value that JSON can't hold.
    pub fn store(&self) -> Result<StoreJob, RecordError> {
        lines::append(FILE, self)
    }
}

/// What voids proofs: a repair, or a line that may have been any.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Voiding {
    /// `None`: a damaged line.
    pub repair: Option<Repair>,
    /// It voids proofs in the lines before this one, from 0.
    pub before: usize,
}

impl Voiding {
    /// Whether it voids what was shown in this line of the proofs' file, from 0.
    #[must_use]
    pub fn voids(&self, line: usize, kind: ProofKind) -> bool {
        line < self.before && self.repair.as_ref().is_none_or(|repair| repair.part.voids(kind))
    }

    /// What it was, in words.
    #[must_use]
    pub fn words(&self) -> String {
        match &self.repair {
            Some(repair) => format!("{} was changed {}", repair.part.words(), repair.at),
            None => "a damaged line of the repairs may say so".to_owned(),
        }
    }
}

/// Reads the repairs of a file's bytes.
///
/// # Errors
/// [`RecordError::Unreadable`] with the first line that another version wrote.
pub fn parse(file: &Path, bytes: &[u8]) -> Result<(Vec<Voiding>, Vec<Damage>), RecordError> {
    let judge = |repair: &Repair, summed| Verdict::of(repair.schema == SCHEMA, summed);
    let lines::Read { lines, torn } = lines::read(file, bytes, judge)?;
    let mut damage: Vec<Damage> = lines
        .iter()
        .filter_map(|line| line.as_ref().err().map(|line| Damage::Line { file: FILE, line: *line }))
        .collect();
    damage.extend(torn.then_some(Damage::Torn(FILE)));
    // Where a damaged one stood among the proofs is known by the next that is whole.
    let mut before = usize::MAX;
    let mut voiding = Vec::new();
    for line in lines.into_iter().rev() {
        if let Ok(repair) = &line {
            before = repair.proofs;
        }
        voiding.push(Voiding { repair: line.ok(), before });
    }
    voiding.reverse();
    Ok((voiding, damage))
}
