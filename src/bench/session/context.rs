//! The bench as a procedure sees it: live signals, waits, requests, questions, stores.
//!
//! Procedures are linear `async fn`; the session polls them after each event, without a runtime.
//! No borrow of shared state lives across an await. Must not be here: guards, watch, words.

use crate::bench::operations::heat::Heat;
use crate::bench::session::prompt::{Answer, Prompt};
use crate::board::sheet::Sheet;
use crate::board::signals::{Done, Identity, Request, Ticket};
use crate::board::value::SettingName;
use crate::interlock::craft::Facts;
use crate::interlock::guardian::Guardian;
use crate::interlock::signals::{Live, Pack};
use crate::interlock::state::Mode;
use crate::measure::time::Time;
use crate::record::{CraftRecord, RecordError, StoreJob};
use crate::seam::fault::Fault;
use crate::seam::ui::Declined;
use crate::seam::ui::{Gesture, Question, Tone, UiEvent};
use crate::seam::{Effect, LineRead, OpenError, PortId, PortInfo, StoreTicket};
use std::cell::{Cell, RefCell};
use std::collections::{BTreeMap, VecDeque};
use std::future::Future;
use std::path::PathBuf;
use std::rc::Rc;
use std::task::Poll;
use std::time::Duration;

/// Every link ends what it was asked before this.
const ANSWERED_WITHIN: Duration = Duration::from_secs(120);
/// Requests under way at a time, where their order does not matter.
const TOGETHER: usize = 8;

/// The one wire of a session.
pub const PORT: PortId = PortId(0);

/// Shared between the session and its script. See the module.
#[derive(Debug)]
pub struct SessionContext {
    pub(in crate::bench) now: Cell<Time>,
    pub(in crate::bench) wake: Cell<Time>,
    pub(in crate::bench) live: RefCell<Live>,
    pub(in crate::bench) facts: RefCell<Option<Facts>>,
    pub(in crate::bench) mode: RefCell<Mode>,
    pub(in crate::bench) guardian: RefCell<Guardian>,
    pub(in crate::bench) effects: RefCell<VecDeque<Effect>>,
    pub(in crate::bench) requests: RefCell<VecDeque<(Ticket, Request)>>,
    pub(in crate::bench) done: RefCell<BTreeMap<Ticket, Done>>,
    pub(in crate::bench) prompt: RefCell<Option<Prompt>>,
    pub(in crate::bench) answer: RefCell<Option<Answer>>,
    /// A line is being typed.
    pub(in crate::bench) line_open: Cell<bool>,
    pub(in crate::bench) line: RefCell<Option<LineRead>>,
    pub(in crate::bench) opened: RefCell<Option<Result<PortInfo, OpenError>>>,
    /// Whether anything came over the wire since it was opened.
    pub(in crate::bench) noise: Cell<bool>,
    /// Id of the board that the facts are of.
    pub(in crate::bench) board_id: RefCell<Option<String>>,
    /// What the system tells of the port that was opened last.
    pub(in crate::bench) port: RefCell<Option<PortInfo>>,
    pub(in crate::bench) stored: RefCell<BTreeMap<StoreTicket, Result<(), RecordError>>>,
    pub(in crate::bench) record: RefCell<Option<Result<CraftRecord, RecordError>>>,
    pub(in crate::bench) link_up: Cell<bool>,
    pub(in crate::bench) restart_expected_until: Cell<Time>,
    pub(in crate::bench) encoding_proved: Cell<bool>,
    pub(in crate::bench) attested_out: Cell<bool>,
    pub(in crate::bench) props_attested: Cell<Option<Time>>,
    pub(in crate::bench) antenna_attested: Cell<bool>,
    pub(in crate::bench) journal_failed: Cell<bool>,
    /// The terminal was closed: nobody is there to answer or to stop anything.
    pub(in crate::bench) terminal_gone: Cell<bool>,
    pub(in crate::bench) heat: RefCell<Heat>,
    pub(in crate::bench) stop_wanted: RefCell<Option<String>>,
    /// The board on the wire was asked who it is, and is the one that this session knows.
    pub(in crate::bench) ours: Cell<bool>,
    /// The system told the program to end.
    pub(in crate::bench) told_to_end: Cell<bool>,
    pub(in crate::bench) battery_invited: Cell<bool>,
    pub(in crate::bench) open_intent: Cell<bool>,
    /// What this run wrote and did not keep yet, by the board's name, as `setting = value`.
    pub(in crate::bench) not_kept: RefCell<BTreeMap<SettingName, String>>,
    /// The board said that it stored all of these, and was not seen again after a restart.
    pub(in crate::bench) stored_unseen: Cell<bool>,
    /// The snapshot taken at the beginning of this run.
    pub(in crate::bench) way_back: RefCell<Option<PathBuf>>,
    pub(in crate::bench) sheet: RefCell<Option<Rc<Sheet>>>,
    /// The live page stands on the screen: a key ends it, and a lost link is waited for on it.
    pub(in crate::bench) page_open: Cell<bool>,
    /// A key came while the page stood.
    pub(in crate::bench) page_key: Cell<bool>,
    /// Since when the wire is gone, while the page stands.
    pub(in crate::bench) page_lost: Cell<Option<Time>>,
    /// Who was seen on the page, to know the board again after a lost link.
    pub(in crate::bench) page_board: RefCell<Option<Identity>>,
    /// Frames heard and lost so far, where the link counts them.
    pub(in crate::bench) frames: Cell<Option<(u64, u64)>>,
    tickets: Cell<u32>,
    stores: Cell<u32>,
}

impl Default for SessionContext {
    fn default() -> Self {
        Self {
            now: Cell::default(),
            wake: Cell::new(Time::NEVER),
            live: RefCell::default(),
            facts: RefCell::default(),
            mode: RefCell::new(Mode::Looking),
            guardian: RefCell::default(),
            effects: RefCell::default(),
            requests: RefCell::default(),
            done: RefCell::default(),
            prompt: RefCell::default(),
            answer: RefCell::default(),
            line_open: Cell::new(false),
            line: RefCell::default(),
            opened: RefCell::default(),
            noise: Cell::new(false),
            board_id: RefCell::default(),
            port: RefCell::default(),
            stored: RefCell::default(),
            record: RefCell::default(),
            link_up: Cell::new(false),
            restart_expected_until: Cell::new(Time(0)),
            encoding_proved: Cell::new(false),
            attested_out: Cell::new(false),
            props_attested: Cell::new(None),
            antenna_attested: Cell::new(false),
            journal_failed: Cell::new(false),
            terminal_gone: Cell::new(false),
            heat: RefCell::default(),
            stop_wanted: RefCell::default(),
            ours: Cell::new(false),
            told_to_end: Cell::new(false),
            battery_invited: Cell::new(false),
            open_intent: Cell::new(false),
            not_kept: RefCell::default(),
            stored_unseen: Cell::new(false),
            way_back: RefCell::default(),
            sheet: RefCell::default(),
            page_open: Cell::new(false),
            page_key: Cell::new(false),
            page_lost: Cell::new(None),
            page_board: RefCell::default(),
            frames: Cell::new(None),
            tickets: Cell::new(0),
            stores: Cell::new(0),
        }
    }
}

impl SessionContext {
    /// The moment of the event being handled.
    #[must_use]
    pub fn now(&self) -> Time {
        self.now.get()
    }

    /// Looks at the live signals.
    pub fn look<T>(&self, look: impl FnOnce(&Live) -> T) -> T {
        look(&self.live.borrow())
    }

    /// The facts of the craft, once a sheet was matched and settings were read.
    ///
    /// # Errors
    /// Before that.
    pub fn facts(&self) -> Result<Facts, Fault> {
        self.facts
            .borrow()
            .clone()
            .ok_or_else(|| Fault::refused("Nothing is known of this craft yet.", "The settings have to be read first."))
    }

    /// Whether the battery is in, as measured; else as attested.
    #[must_use]
    pub fn pack(&self) -> Pack {
        match self.look(|live| live.pack(self.now())) {
            Pack::Unknown if self.attested_out.get() => Pack::Out,
            pack => pack,
        }
    }

    /// Waits until `look` finds something, at most until `deadline`; looked at after every event.
    pub fn until<'b, T: 'b>(
        &'b self,
        deadline: Time,
        mut look: impl FnMut(&Self) -> Option<T> + 'b,
    ) -> impl Future<Output = Option<T>> + 'b {
        std::future::poll_fn(move |_| {
            if let Some(found) = look(self) {
                return Poll::Ready(Some(found));
            }
            if self.now() >= deadline {
                return Poll::Ready(None);
            }
            self.wake.set(self.wake.get().min(deadline));
            Poll::Pending
        })
    }

    /// Waits.
    pub async fn sleep(&self, wait: Duration) {
        self.until(self.now() + wait, |_| None::<()>).await;
    }

    pub(in crate::bench) fn act(&self, effect: Effect) {
        self.effects.borrow_mut().push_back(effect);
    }

    /// Shows something.
    pub fn show(&self, shown: UiEvent) {
        self.act(Effect::Show(shown));
    }

    /// Shows a line.
    pub fn line(&self, tone: Tone, text: impl Into<String>) {
        self.show(UiEvent::Line(tone, text.into()));
    }

    /// Invites to something done by hand, with the sentence to show and the time it may take.
    pub fn invite(&self, gesture: Gesture, sentence: impl Into<String>, within: Duration) {
        self.show(UiEvent::Invite(gesture, sentence.into(), within));
    }

    /// Sends a request and waits for its end.
    ///
    /// # Errors
    /// Refused, silent, or the value differs; `what` says in words what was asked.
    pub async fn request(&self, request: Request, what: &str) -> Result<(), Fault> {
        outcome(self.answer_to(request).await, what)
    }

    /// Sends a request and waits for its end; what was open when the wire went away is never answered.
    pub(in crate::bench) async fn answer_to(&self, request: Request) -> Done {
        let ticket = self.post(request);
        let gone = |bench: &Self| (!bench.link_up.get()).then_some(Done::Silent);
        let done = self.until(self.now() + ANSWERED_WITHIN, |bench| {
            bench.show_progress(ticket);
            bench.done.borrow_mut().remove(&ticket).or_else(|| gone(bench))
        });
        done.await.unwrap_or(Done::Silent)
    }

    /// Shows how far the board is with a request that takes it a while.
    fn show_progress(&self, ticket: Ticket) {
        let Some((_, percent)) = self.live.borrow_mut().progress.take_if(|(of, _)| *of == ticket) else { return };
        let far = percent.map_or_else(|| ".".to_owned(), |percent| format!(": {percent} % done."));
        self.show(UiEvent::Passing(format!("The board is at it{far}")));
    }

    /// Sends requests in their order, several at a time, and waits until all of them have ended. Each is judged as it
    /// leaves; after the first that fails no further one does.
    ///
    /// # Errors
    /// What the first that failed would give by itself.
    pub(in crate::bench) async fn requests(
        &self,
        mut all: impl Iterator<Item = (Request, String)>,
    ) -> Result<(), Fault> {
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
                    let mut done = bench.done.borrow_mut();
                    let found =
                        under_way.iter().enumerate().find_map(|(at, (ticket, _))| Some((at, done.remove(ticket)?)));
                    found.or_else(|| (!bench.link_up.get()).then_some((0, Done::Silent)))
                })
                .await;
            let (at, done) = ended.unwrap_or((0, Done::Silent));
            let (_, what) = under_way.remove(at);
            result = result.and(outcome(done, &what));
        }
    }

    /// Sends a request without waiting.
    pub(in crate::bench) fn post(&self, request: Request) -> Ticket {
        let ticket = Ticket(self.tickets.get() + 1);
        self.tickets.set(ticket.0);
        self.requests.borrow_mut().push_back((ticket, request));
        ticket
    }

    /// Puts something on the disk and waits until it is there. A failure ends all writing.
    ///
    /// # Errors
    /// The disk's reason.
    pub async fn store(&self, job: StoreJob) -> Result<(), Fault> {
        let stored = self.store_aside(job).await;
        if stored.is_err() {
            self.journal_failed.set(true);
        }
        stored
    }

    /// Puts something on the disk that no write to the board depends on, and waits until it is there.
    ///
    /// # Errors
    /// The disk's reason.
    pub async fn store_aside(&self, job: StoreJob) -> Result<(), Fault> {
        let ticket = StoreTicket(self.stores.get() + 1);
        self.stores.set(ticket.0);
        self.act(Effect::Store(ticket, job));
        let stored =
            self.until(self.now() + Duration::from_secs(60), |bench| bench.stored.borrow_mut().remove(&ticket)).await;
        let result = stored.unwrap_or_else(|| {
            Err(RecordError::Other { file: "the record".into(), cause: "the disk did not answer for 60 s".to_owned() })
        });
        Ok(result?)
    }

    /// Asks a question and waits for its end. Only one question is open at a time.
    pub async fn ask(&self, question: Question) -> Answer {
        if self.terminal_gone.get() {
            return Answer::Declined(Declined::EndOfInput);
        }
        *self.answer.borrow_mut() = None;
        self.act(Effect::Ask(Box::new(question.clone())));
        *self.prompt.borrow_mut() = Some(Prompt::open(question, self.now()));
        let answer = self.until(Time::NEVER, |bench| bench.answer.borrow_mut().take()).await;
        answer.unwrap_or(Answer::Declined(Declined::EndOfInput))
    }

    /// Asks for a typed word; a wrong word or a paste is asked again twice, saying why.
    ///
    /// # Errors
    /// [`Fault::Declined`].
    pub async fn ask_word(&self, question: Question) -> Result<Time, Fault> {
        let what = question.title.clone();
        let mut tries = 0;
        loop {
            match self.ask(question.clone()).await {
                Answer::Yes { at } => return Ok(at),
                Answer::Declined(why @ (Declined::WrongWord(_) | Declined::Pasted)) if tries < 2 => {
                    tries += 1;
                    self.line(Tone::Warning, format!("{}. Nothing was done. Asked again.", capital(&why.to_string())));
                }
                Answer::Declined(why) => return Err(Fault::Declined { what, why }),
                Answer::Chosen(_) => return Err(Fault::Declined { what, why: Declined::Refused }),
            }
        }
    }

    /// Asks the session for a stop: what a procedure saw that the watch does not judge.
    pub(in crate::bench) fn demand_stop(&self, reason: impl Into<String>) {
        *self.stop_wanted.borrow_mut() = Some(reason.into());
    }

    pub(in crate::bench) fn mode(&self) -> std::cell::Ref<'_, Mode> {
        self.mode.borrow()
    }

    pub(in crate::bench) fn set_mode(&self, mode: Mode) {
        *self.mode.borrow_mut() = mode;
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

/// A sentence with a capital first letter.
#[must_use]
pub fn capital(text: &str) -> String {
    let mut chars = text.chars();
    chars.next().map_or_else(String::new, |first| first.to_uppercase().chain(chars).collect())
}
