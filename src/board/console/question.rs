//! Questions to a board: what each is for, its line, and what may be done with it after no answer.

use super::super::motor_run::BoundedRun;
use super::super::refusal::Common;
use super::super::signals::{Done, LinkEvent, Outgoing, Stream, Ticket};
use super::super::value::{Number, SettingName};
use super::ConsoleSheet;
use super::refusal::Refusal;
use super::sheet::Capability;
use super::template::{self, Place, ValueError};
use crate::measure::time::Time;
use std::collections::BTreeSet;

/// The tables of the sheet.
pub(super) const LINK: &str = "console";

/// What a question is for.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Purpose {
    Poll(Stream),
    Identify(Ticket),
    List(Ticket),
    Read(Ticket, SettingName),
    Write(Ticket, SettingName, Number),
    Store(Ticket),
    Restart(Ticket),
    Run(Ticket),
    Disarm(Ticket),
    /// Sent by a stop; its answer tells that the line is free again.
    Stop,
    /// Leaves the console; no prompt follows its answer.
    Leave(Ticket),
}

impl Purpose {
    pub(super) fn ticket(&self) -> Option<Ticket> {
        match self {
            Self::Poll(_) | Self::Stop => None,
            Self::Identify(ticket)
            | Self::List(ticket)
            | Self::Read(ticket, _)
            | Self::Write(ticket, ..)
            | Self::Store(ticket)
            | Self::Restart(ticket)
            | Self::Run(ticket)
            | Self::Disarm(ticket)
            | Self::Leave(ticket) => Some(*ticket),
        }
    }

    pub(super) fn need(&self) -> Option<Capability> {
        Some(match self {
            Self::Poll(stream) => Capability::of(*stream),
            Self::Identify(_) => Capability::Identity,
            Self::List(_) => Capability::List,
            Self::Read(..) => Capability::Read,
            Self::Write(..) => Capability::Write,
            Self::Store(_) => Capability::Store,
            Self::Restart(_) => Capability::Restart,
            Self::Run(_) => Capability::RunMotor,
            Self::Disarm(_) | Self::Stop => Capability::Stop,
            Self::Leave(_) => return None,
        })
    }

    /// Whether it may be sent again: it only reads, or it only stops.
    pub(super) fn repeats(&self) -> bool {
        matches!(self, Self::Identify(_) | Self::List(_) | Self::Read(..) | Self::Disarm(_))
    }

    /// Whether it changes the board.
    pub(super) fn changes(&self) -> bool {
        matches!(self, Self::Write(..) | Self::Store(_) | Self::Restart(_))
    }

    /// Whether it goes before whatever waits.
    pub(super) fn urgent(&self) -> bool {
        matches!(self, Self::Disarm(_) | Self::Run(_))
    }

    /// Whether a stop takes it away for good: nothing that could start, change or store goes on after one.
    pub(super) fn overtaken(&self) -> bool {
        self.changes() || matches!(self, Self::Run(_))
    }
}

/// A question, to be sent or sent.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Question {
    pub(super) what: Purpose,
    pub(super) line: String,
    /// What its line does.
    pub(super) does: Outgoing,
    /// How often it was sent.
    pub(super) sent: u8,
}

/// The question that waits for its answer.
#[derive(Debug)]
pub(super) struct Open {
    pub(super) question: Question,
    /// The echo of its line was heard: what follows is the answer.
    pub(super) echoed: bool,
    /// A line of the answer was heard.
    pub(super) answered: bool,
    /// An answer later than this is none.
    pub(super) due: Time,
    /// When it was sent.
    pub(super) sent_at: Time,
    /// How it ends, once its prompt comes.
    pub(super) end: Option<Done>,
    /// The first line that the sheet does not know.
    pub(super) strange: Option<String>,
    /// The line before was one that the sheet does not know.
    pub(super) stray: bool,
    /// For a list: it may have been a piece of a setting's line, so that the other piece is no setting either.
    pub(super) torn: bool,
    /// For a list: settings heard, and how many the board says that there are.
    pub(super) heard: u32,
    pub(super) total: Option<u32>,
    /// For a list: the names so far, and those that stood there before.
    pub(super) names: BTreeSet<SettingName>,
    pub(super) twice: BTreeSet<SettingName>,
    /// What it tells, once it is whole.
    pub(super) told: Vec<LinkEvent>,
}

impl Open {
    pub(super) fn new(question: Question, echo: bool, sent_at: Time, due: Time) -> Self {
        Self {
            question,
            echoed: !echo,
            answered: false,
            due,
            sent_at,
            end: None,
            strange: None,
            stray: false,
            torn: false,
            heard: 0,
            total: None,
            names: BTreeSet::new(),
            twice: BTreeSet::new(),
            told: Vec::new(),
        }
    }
}

/// The line of a need, with its values.
///
/// # Errors
/// The sheet has none, or a value cannot stand in it.
pub(super) fn line(sheet: &ConsoleSheet, need: Capability, values: &[(Place, String)]) -> Result<String, Refusal> {
    let exchange = sheet.exchange(need).ok_or(Common::NotGiven { link: LINK, need })?;
    let line = exchange.send.fill(values);
    // What was checked as it was read and put in is checked once more as it leaves.
    if template::is_line(&line) { Ok(line) } else { Err(Refusal::Value(ValueError::Name(line_name(&line)))) }
}

fn line_name(line: &str) -> String {
    line.chars().take(40).collect()
}

/// The places and values of a motor run.
pub(super) fn run(run: BoundedRun) -> Vec<(Place, String)> {
    vec![
        (Place::Motor, run.motor().to_string()),
        (Place::Pulse, run.pulse().to_string()),
        (Place::Milliseconds, run.lease().as_millis().to_string()),
    ]
}
