//! How a run can end other than well: few kinds, each with its exit code decided in one place.
//!
//! Must not be here: words on how to go on (the report's), or codes of other commands.

use crate::plan::problem::PlanError;
use crate::record::RecordError;
use crate::seam::OpenError;
use crate::seam::exit::Exit;
use crate::seam::ui::Declined;

/// Why nothing more is done.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum Fault {
    /// The operator said no.
    #[error("{}: {why}", .what.trim_end_matches('?'))]
    Declined {
        /// What was asked.
        what: String,
        /// How it was declined.
        why: Declined,
    },
    /// A guard does not hold, with what to do.
    #[error("{guard} {hint}")]
    Refused {
        /// What does not hold, a sentence.
        guard: String,
        /// What to do, a sentence.
        hint: String,
    },
    /// The operator did not do in time what was asked for.
    #[error("nothing happened for {seconds} s: {what}")]
    TimedOut {
        /// What was waited for.
        what: String,
        /// How long.
        seconds: u64,
    },
    /// Hands did something else than what was asked for; nothing is judged by it.
    #[error("{0}")]
    Hand(String),
    /// A confirmation grew too old before its start, or was used up: nothing turned, it is asked again.
    #[error(
        "the answer came more than 10 s before the start, or the bench was not at rest three times, so nothing was started; put everything in place, then start again"
    )]
    StaleAnswer,
    /// A port could not be opened.
    #[error(transparent)]
    Open(#[from] OpenError),
    /// Nobody answers on the port.
    #[error("{port} is open{}, but no board answers on it", if *noise { " and something comes in" } else { "" })]
    Silent {
        /// Which.
        port: String,
        /// A system that is heard there all the same, and is not the craft that was asked for, or no craft.
        heard: Option<u8>,
        /// Whether anything at all comes.
        noise: bool,
    },
    /// Several vehicles answer, and none was chosen.
    #[error("{}", several(.port, .senders))]
    Several {
        /// Where.
        port: String,
        /// System and component of each, in order.
        senders: Vec<(u8, u8)>,
    },
    /// Signatures do not fit the key that was given, or the lack of one.
    #[error("{port}: {trouble}")]
    Untrusted {
        /// Where.
        port: String,
        /// What does not fit.
        trouble: KeyTrouble,
    },
    /// It is not known any more who is on the wire, or what happened there: nothing goes on by itself.
    #[error("{0}")]
    ContactOver(String),
    /// Part of the program itself broke down.
    #[error("{0}; this is a mistake in quadjig itself")]
    Broken(String),
    /// The link went away without being asked to.
    #[error("the link to the board was lost")]
    LinkLost,
    /// The board did not come back after a restart.
    #[error("the board did not come back within {0} s after its restart")]
    NotBack(u64),
    /// Another board than the one the run began with.
    #[error("another board answers now: {now} instead of {was}")]
    AnotherBoard {
        /// Id before.
        was: String,
        /// Id now.
        now: String,
    },
    /// The board did not answer a request, or refused it.
    #[error("{what}: {why}")]
    Board {
        /// What was asked of it.
        what: String,
        /// What came back, in words.
        why: String,
    },
    /// The board was found armed.
    #[error(
        "the board is armed: it may be flying, or about to. Nothing was written to it, and no stop was sent. Disarm it, then start again."
    )]
    FoundArmed,
    /// What stands on the board is not what was written.
    #[error("{setting} reads {found} on the board, {wanted} was written")]
    NotAsWritten {
        /// The board's own name.
        setting: String,
        /// What was read.
        found: String,
        /// What was wanted.
        wanted: String,
    },
    /// A proof that the recipe asked for was not given.
    #[error("not shown: {0}")]
    Unproved(String),
    /// A trial of a sheet saw otherwise than the sheet says; with what it should say.
    #[error("{0}")]
    Contradicted(String),
    /// The recipe's expectation does not hold on this board.
    #[error("the recipe expects {setting} to be {wanted}, and it is {found}")]
    Unexpected {
        /// In vocabulary words.
        setting: String,
        /// On the board.
        found: String,
        /// In the recipe.
        wanted: String,
    },
    /// Nothing fits: a search or find ended without a result.
    #[error("{0}")]
    NotFound(String),
    /// A statement, by where it stands, cannot be planned from what is on the board and known now.
    #[error("{}", .0.iter().map(refusal).collect::<Vec<_>>().join("\n"))]
    Unplanned(Vec<PlanError>),
    /// What else was to be done cannot be, or leaves what was approved.
    #[error("{0}")]
    Plan(String),
    /// The system did not give what every run needs: a terminal, a thread.
    #[error("the terminal or the system's threads could not be had: {0}")]
    System(String),
    /// A record could not be read or written; nothing is written to the board any more.
    #[error(transparent)]
    Record(#[from] RecordError),
    /// Ended by the operator while nothing was turning; nothing was sent.
    #[error("interrupted by the operator")]
    Interrupted,
    /// A stop.
    #[error("stopped: {reason}")]
    Stopped {
        /// Why.
        reason: String,
        /// Whether the motors were seen at rest after it.
        confirmed: bool,
        /// A hand at the switch, the throttle or the plug made it, before anything was asked for.
        by_hand: bool,
    },
}

impl Fault {
    /// A guard that does not hold.
    pub fn refused(guard: impl Into<String>, hint: impl Into<String>) -> Self {
        Self::Refused { guard: guard.into(), hint: hint.into() }
    }

    /// How it stands in a craft's record: nothing there is of another craft.
    #[must_use]
    pub fn of_this_craft(&self) -> String {
        match self {
            Self::AnotherBoard { .. } => "another board answered".to_owned(),
            other => other.to_string(),
        }
    }

    /// What to do, where that is known and not said already.
    #[must_use]
    pub fn hint(&self) -> Option<String> {
        match self {
            Self::Open(error) => error.hint(),
            Self::Record(error) => error.hint().map(str::to_owned),
            Self::System(_) => Some(
                "it is not the recipe: end other programs, and start again; report it if it comes back".to_owned(),
            ),
            Self::Silent { heard: Some(system), .. } => Some(format!(
                "only system {system} is heard there, which is another craft than was asked for, or no craft; check --system-id"
            )),
            Self::Several { senders, .. } if one_system(senders) => {
                Some("take all but one of them off the link, or give each its own number".to_owned())
            }
            Self::Several { .. } => Some("say which one with --system-id N".to_owned()),
            Self::Untrusted { trouble, .. } => Some(trouble.hint().to_owned()),
            Self::Silent { noise: true, .. } => Some(
                "what comes in is not understood: check the speed of the port, and that the board speaks there what its \
                 sheet says, MAVLink where no sheet says otherwise; `quadjig listen` shows it, split by a sheet with --sheet, and \
                 `quadjig check-sheet --port` says which checksum fits packets whose own is not the sheet's"
                    .to_owned(),
            ),
            Self::Silent { heard: None, .. } => Some(
                "check that it is the right port, that the board has power, and that it speaks there, at this speed, what \
                 its sheet says, MAVLink where no sheet says otherwise"
                    .to_owned(),
            ),
            _ => None,
        }
    }

    /// How a run ends that ends so.
    #[must_use]
    pub fn exit(&self) -> Exit {
        match self {
            Self::Unplanned(_) | Self::Plan(_) => Exit::Document,
            Self::Declined { .. }
            | Self::Refused { .. }
            | Self::TimedOut { .. }
            | Self::Hand(_)
            | Self::StaleAnswer
            | Self::Interrupted
            | Self::FoundArmed
            | Self::Stopped { .. } => Exit::Stopped,
            Self::Open(_)
            | Self::Silent { .. }
            | Self::Several { .. }
            | Self::Untrusted { .. }
            | Self::LinkLost
            | Self::ContactOver(_)
            | Self::NotBack(_)
            | Self::AnotherBoard { .. }
            | Self::Board { .. }
            | Self::Record(_) => Exit::Link,
            Self::NotAsWritten { .. }
            | Self::Unproved(_)
            | Self::Contradicted(_)
            | Self::Unexpected { .. }
            | Self::NotFound(_) => Exit::Unproved,
            Self::System(_) | Self::Broken(_) => Exit::Bug,
        }
    }
}

/// How signatures and keys do not fit together.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum KeyTrouble {
    /// A key is given, and the board does not sign.
    #[error(
        "a board is heard there, but it does not sign its frames, and with a signing key no unsigned frame is taken"
    )]
    Unsigned,
    /// The board signs with another key.
    #[error("a board is heard there, but it signs its frames with another key")]
    Another,
    /// The key is right, the times are not.
    #[error(
        "frames signed with the right key are heard there, but they are more than a minute behind this computer's clock, or were sent before"
    )]
    Old,
    /// The board signs, no key is given, and it does not answer.
    #[error("the board there signs its frames and does not answer: it may take only signed ones")]
    Needed,
}

impl KeyTrouble {
    /// From what was not taken; `None` if nothing was. What is signed at all says most.
    #[must_use]
    pub fn of(unsigned: u64, foreign: u64, old: u64) -> Option<Self> {
        match (unsigned, foreign, old) {
            (0, 0, 0) => None,
            (_, 0, 0) => Some(Self::Unsigned),
            (_, 0, _) => Some(Self::Old),
            _ => Some(Self::Another),
        }
    }

    /// What to do.
    #[must_use]
    pub fn hint(self) -> &'static str {
        match self {
            Self::Unsigned => "give the board its key first, or leave --signing-key out",
            Self::Another => "name the file with this board's own key with --signing-key",
            Self::Old => "check this computer's clock, and wait until the board has taken up its time",
            Self::Needed => "name the file with its key with --signing-key",
        }
    }
}

fn refusal(error: &PlanError) -> String {
    format!("{error}. {}", error.problem.hint())
}

fn one_system(senders: &[(u8, u8)]) -> bool {
    senders.windows(2).all(|pair| pair[0].0 == pair[1].0)
}

fn several(port: &str, senders: &[(u8, u8)]) -> String {
    let listed = |numbers: Vec<u8>| {
        let words: Vec<String> = numbers.iter().map(ToString::to_string).collect();
        match words.split_last() {
            Some((last, rest)) if !rest.is_empty() => format!("{} and {last}", rest.join(", ")),
            _ => words.concat(),
        }
    };
    if one_system(senders) {
        let system = senders.first().map_or(0, |sender| sender.0);
        let components = listed(senders.iter().map(|sender| sender.1).collect());
        return format!("several boards answer on {port} as vehicle {system}: components {components}");
    }
    let mut systems: Vec<u8> = senders.iter().map(|sender| sender.0).collect();
    systems.dedup();
    format!("several vehicles answer on {port}: {}", listed(systems))
}
