//! What may be asked of a board, changed on it, or driven: three kinds of request, of which two need a token.
//!
//! Must not be here: what lets a request leave (see `interlock`).

use crate::bench::session::context::SessionContext;
use crate::board::signals::{Done, Request, Stream, Ticket};
use crate::board::value::{Number, SettingName};
use crate::interlock::{Clearance, Stillness};
use crate::seam::Effect;
use crate::seam::fault::Fault;
use crate::seam::ui::UiEvent;
use std::collections::BTreeSet;
use std::time::Duration;

/// Every link ends what it was asked before this.
const ANSWERED_WITHIN: Duration = Duration::from_secs(120);
/// Requests under way at a time, where their order does not matter.
const TOGETHER: usize = 8;

/// Asks, and changes nothing but how often the board tells.
#[derive(Debug, Clone, PartialEq)]
pub enum Inquiry {
    /// Who the board is.
    Identify,
    /// All settings.
    List,
    /// One setting.
    Read(SettingName),
    /// A stream at a rate; `None` puts back what the board had before.
    Stream(Stream, Option<u32>),
}

/// Changes the board. Takes a `Stillness`.
#[derive(Debug, Clone, PartialEq)]
pub enum Change {
    /// Writes a setting.
    Write(SettingName, Number),
    /// Writes a setting whose place among others does not matter.
    WriteUnordered(SettingName, Number),
    /// Stores settings.
    Store,
    /// Restarts the board.
    Restart,
}

/// Drives motors, or ends that. Takes a `Clearance`.
#[derive(Debug, Clone, PartialEq)]
pub enum Drive {
    /// Runs one motor for a bounded time.
    RunMotor {
        /// Motor from 1.
        motor: u8,
        /// Pulse width in µs.
        pulse: u16,
        /// The board's own time limit, milliseconds.
        lease_ms: u32,
    },
    /// Disarms, ordinarily.
    Disarm,
}

impl From<Inquiry> for Request {
    fn from(inquiry: Inquiry) -> Self {
        match inquiry {
            Inquiry::Identify => Self::Identify,
            Inquiry::List => Self::ListSettings,
            Inquiry::Read(name) => Self::ReadSetting(name),
            Inquiry::Stream(stream, rate) => Self::Stream(stream, rate),
        }
    }
}

impl From<Change> for Request {
    fn from(change: Change) -> Self {
        match change {
            Change::Write(name, to) => Self::WriteSetting(name, to),
            Change::WriteUnordered(name, to) => Self::WriteUnordered(name, to),
            Change::Store => Self::Store,
            Change::Restart => Self::Restart,
        }
    }
}

impl From<Drive> for Request {
    fn from(drive: Drive) -> Self {
        match drive {
            Drive::RunMotor { motor, pulse, lease_ms } => Self::RunMotor { motor, pulse, lease_ms },
            Drive::Disarm => Self::Disarm { force: false },
        }
    }
}

/// Requests to the board.
impl SessionContext {
    /// Asks something and waits for its end; `what` says in words what was asked.
    ///
    /// # Errors
    /// Refused, or silent.
    pub async fn request(&self, inquiry: Inquiry, what: &str) -> Result<(), Fault> {
        outcome(self.answer_to(inquiry).await, what)
    }

    /// Asks something and waits for its end; what was open when the wire went away is never answered.
    pub(in crate::bench) async fn answer_to(&self, inquiry: Inquiry) -> Done {
        if matches!(inquiry, Inquiry::List) {
            self.news().lacking.clear();
            self.interlock_mut().list_begins();
        }
        self.end_of(self.post(inquiry.into())).await
    }

    /// Changes something on the board and waits for its end.
    ///
    /// ```compile_fail,E0061
    /// # use quadjig::bench::session::Change;
    /// # use quadjig::bench::session::context::SessionContext;
    /// # async fn changed(bench: &SessionContext, change: Change) {
    /// let done = bench.change(change, "storing").await;
    /// # }
    /// ```
    /// ```compile_fail,E0624
    /// # use quadjig::bench::session::Change;
    /// # use quadjig::bench::session::context::SessionContext;
    /// # fn changed(bench: &SessionContext, change: Change) {
    /// let ticket = bench.post(change.into());
    /// # }
    /// ```
    ///
    /// # Errors
    /// Refused, silent, or the value differs.
    pub async fn change(&self, _still: &Stillness, change: Change, what: &str) -> Result<(), Fault> {
        outcome(self.end_of(self.post(change.into())).await, what)
    }

    /// As [`SessionContext::change`], for whoever tells a refusal from a silence.
    pub(in crate::bench) async fn end_of_change(&self, _still: &Stillness, change: Change) -> Done {
        self.end_of(self.post(change.into())).await
    }

    /// Drives a motor, or ends that, and waits for the answer.
    ///
    /// ```compile_fail,E0061
    /// # use quadjig::bench::session::Drive;
    /// # use quadjig::bench::session::context::SessionContext;
    /// # async fn driven(bench: &SessionContext, drive: Drive) {
    /// let done = bench.drive(drive, "running a motor").await;
    /// # }
    /// ```
    ///
    /// # Errors
    /// Refused or silent.
    pub async fn drive(&self, _clearance: &mut Clearance, drive: Drive, what: &str) -> Result<(), Fault> {
        outcome(self.end_of(self.post(drive.into())).await, what)
    }

    async fn end_of(&self, ticket: Ticket) -> Done {
        let gone = |bench: &Self| (!bench.link_up()).then_some(Done::Silent);
        let done = self.until(self.now() + ANSWERED_WITHIN, |bench| {
            bench.show_progress(ticket);
            bench.replies().done.remove(&ticket).or_else(|| gone(bench))
        });
        done.await.unwrap_or(Done::Silent)
    }

    /// Shows how far the board is with a request that takes it a while.
    fn show_progress(&self, ticket: Ticket) {
        let Some((_, percent)) = self.news().progress.take_if(|(of, _)| *of == ticket) else { return };
        let far = percent.map_or_else(|| ".".to_owned(), |percent| format!(": {percent} % done."));
        self.show(UiEvent::Passing(format!("The board is at it{far}")));
    }

    /// Asks in their order, several at a time, and waits until all of them have ended.
    ///
    /// # Errors
    /// What the first that failed would give by itself; after it no further one is sent.
    pub(in crate::bench) async fn inquire(&self, all: impl Iterator<Item = (Inquiry, String)>) -> Result<(), Fault> {
        self.together(all.map(|(inquiry, what)| (inquiry.into(), what))).await
    }

    /// Changes whose order does not matter, several at a time. Each is judged as it leaves.
    ///
    /// # Errors
    /// As [`SessionContext::inquire`].
    pub(in crate::bench) async fn change_all(
        &self,
        _still: &Stillness,
        all: impl Iterator<Item = (Change, String)>,
    ) -> Result<(), Fault> {
        self.together(all.map(|(change, what)| (change.into(), what))).await
    }

    async fn together(&self, mut all: impl Iterator<Item = (Request, String)>) -> Result<(), Fault> {
        let mut under_way: Vec<(Ticket, String)> = Vec::new();
        let mut result = Ok(());
        loop {
            while under_way.len() < TOGETHER
                && result.is_ok()
                && let Some((request, what)) = all.next()
            {
                under_way.push((self.post(request), what));
            }
            if under_way.is_empty() {
                return result;
            }
            let ended = self
                .until(self.now() + ANSWERED_WITHIN, |bench| {
                    let done = &mut bench.replies().done;
                    let found =
                        under_way.iter().enumerate().find_map(|(at, (ticket, _))| Some((at, done.remove(ticket)?)));
                    found.or_else(|| (!bench.link_up()).then_some((0, Done::Silent)))
                })
                .await;
            let (at, done) = ended.unwrap_or((0, Done::Silent));
            let (_, what) = under_way.remove(at);
            result = result.and(outcome(done, &what));
        }
    }

    /// Sends a request without waiting. Nobody but the sinks above and the session itself.
    pub(super) fn post(&self, request: Request) -> Ticket {
        let ticket = Ticket(self.tickets.get() + 1);
        self.tickets.set(ticket.0);
        self.requests.borrow_mut().push_back((ticket, request));
        ticket
    }

    pub(super) fn next_request(&self) -> Option<(Ticket, Request)> {
        self.requests.borrow_mut().pop_front()
    }

    /// What was not sent yet is forgotten.
    pub(super) fn forget_requests(&self) {
        self.requests.borrow_mut().clear();
    }

    /// A stop: what the script had not sent yet is forgotten, with whatever else it had begun.
    pub(super) fn keep_requests(&self, own: &BTreeSet<Ticket>) {
        self.requests.borrow_mut().retain(|(ticket, _)| own.contains(ticket));
        let unsent = std::mem::take(&mut *self.effects.borrow_mut());
        // A line that was to be read and never was is not open: it has to be asked for again after the stop.
        if unsent.iter().any(|effect| matches!(effect, Effect::ReadLine(_))) {
            self.dialogue().line_open = false;
        }
    }
}

/// What a request's end means to whoever waited for it; `what` says in words what was asked.
fn outcome(done: Done, what: &str) -> Result<(), Fault> {
    let why = match done {
        Done::Ok => return Ok(()),
        Done::Refused(why) => why,
        Done::Differs(value) => format!("the board keeps {value}"),
        Done::Silent => "the board did not answer; check the cable, then start again".to_owned(),
    };
    Err(Fault::Board { what: what.to_owned(), why })
}
