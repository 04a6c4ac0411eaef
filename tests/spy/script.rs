//! What the spy does, and when: a script of conditions on what was seen and what truly is.
//!
//! Plain data; must not be here: how it is done.

use super::frames::{Class, Heard};
use super::log::Log;
use quadjig::measure::time::Time;
use quadjig::seam::Event;
use quadjig::virtual_board::World as VirtualWorld;
use std::time::Duration;

/// Whether it is one of those that are meant.
pub type Of<T> = fn(&T) -> bool;

/// What the spy does.
pub enum Do {
    /// Moves the world of the craft on the wire.
    Line(&'static str),
    /// An event for the session: a key, a signal, the end of its terminal.
    Event(Event),
    /// The other craft speaks on the wire from now on; nothing tells the session.
    Swap,
    /// The other craft speaks and hears on the same wire as well, beside the first.
    Join,
    /// The wire is lost, and after so many milliseconds it is back with the other craft at its end.
    Replug(u64),
    /// Nothing passes either way any more, or again; the wire stays open.
    Silent(bool),
    /// Everything takes so many milliseconds longer, each way.
    Lag(u64),
    /// The next frames to the board of which this says so are lost: so many.
    Lose(usize, Of<Class>),
    /// The next such frames from the board are lost: so many.
    LoseHeard(usize, Of<Heard>),
    /// The program's core does nothing for so many milliseconds; its writer's hold goes on.
    Freeze(u64),
    /// The whole computer sleeps for so many seconds; the hold with it.
    Suspend(u64),
}

/// What a condition may look at.
pub struct View<'v> {
    pub now: Time,
    /// The craft on the wire.
    pub board: &'v VirtualWorld,
    /// The writer holds stop bytes.
    pub held: bool,
    pub log: &'v Log,
}

impl View<'_> {
    /// The fastest motor of the craft on the wire, rpm.
    pub fn fastest(&self) -> f64 {
        self.board.speeds().into_iter().fold(0.0, f64::max)
    }

    /// Whether this was shown or asked.
    pub fn said(&self, text: &str) -> bool {
        self.log.when(text).is_some()
    }
}

/// Something that happens once, some time after a condition first holds.
pub struct Act<'a> {
    pub(super) when: Box<dyn FnMut(&View<'_>) -> bool + 'a>,
    pub(super) after: Duration,
    pub(super) since: Option<Time>,
    pub(super) what: Vec<Do>,
}

impl<'a> Act<'a> {
    pub fn when(when: impl FnMut(&View<'_>) -> bool + 'a, after_ms: u64, what: Vec<Do>) -> Self {
        Self { when: Box::new(when), after: Duration::from_millis(after_ms), since: None, what }
    }

    /// Once this was shown or asked.
    pub fn said(text: &'static str, after_ms: u64, what: Vec<Do>) -> Self {
        Self::when(move |view| view.said(text), after_ms, what)
    }

    /// Once a motor turns.
    pub fn turning(after_ms: u64, what: Vec<Do>) -> Self {
        Self::when(|view| view.fastest() > 1000.0, after_ms, what)
    }

    /// Once a motor question stands: its first, second, … from 0.
    pub fn motor_question(number: usize, after_ms: u64, what: Vec<Do>) -> Self {
        Self::when(move |view| view.log.motor_questions().len() > number, after_ms, what)
    }
}

/// What happens to every frame.
#[derive(Debug, Clone, Copy, Default)]
pub struct Weather {
    pub seed: u64,
    /// Share of frames that are lost, each way.
    pub loss: f64,
    /// Share of frames that come twice.
    pub doubled: f64,
    /// A frame may come so much later; order stays.
    pub jitter: Duration,
}
