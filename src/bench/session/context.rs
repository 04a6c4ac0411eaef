//! The session as a procedure sees it: the interlock to ask, live signals, waits, requests, questions, stores.
//!
//! Procedures are linear `async fn`; the session polls them after each event, without a runtime. No borrow of shared
//! state lives across an await. Each kind of state belongs to somebody: the craft and every guard to the interlock, the
//! open question to the dialogue, the page to the monitor. Must not be here: guards, watch, words.

use crate::bench::attended::SoFar;
use crate::bench::monitor::page_state::Monitor;
use crate::bench::session::dialogue::Dialogue;
use crate::bench::session::inbox::{News, Replies};
use crate::bench::session::timings::Timings;
use crate::bench::session::watched::Watched;
use crate::bench::session::witness::Witness;
use crate::board::sheet::{Settings, Sheet};
use crate::board::signals::{Request, Stream, Ticket};
use crate::interlock::craft::Facts;
use crate::interlock::guards::RATES;
use crate::interlock::signals::{Pack, Signals};
use crate::interlock::{Interlock, Phase};
use crate::language::Reading;
pub use crate::language::characters::capital;
use crate::measure::time::Time;
use crate::record::ledger::Ledger;
use crate::record::{RecordError, StoreJob};
use crate::seam::fault::Fault;
use crate::seam::ui::{Beside, Tone, UiEvent};
use crate::seam::{Effect, PortInfo, RecipeAsked, StoreTicket};
use std::cell::{Cell, Ref, RefCell, RefMut};
use std::collections::VecDeque;
use std::future::Future;
use std::rc::Rc;
use std::task::Poll;
use std::time::Duration;

/// No stream is asked for more rarely than this, hertz, nor is its usual rate halved more often.
const LEAST_RATE: u32 = 8;
const HALVED_MOST: u32 = 2;

/// Shared between the session and its script. See the module.
#[derive(Debug, Default)]
pub struct SessionContext {
    now: Cell<Time>,
    /// Until when the script waits at most.
    wake: Cell<Option<Time>>,
    interlock: RefCell<Interlock>,
    pub(super) effects: RefCell<VecDeque<Effect>>,
    pub(super) requests: RefCell<VecDeque<(Ticket, Request)>>,
    replies: RefCell<Replies>,
    dialogue: RefCell<Dialogue>,
    news: RefCell<News>,
    timings: RefCell<Timings>,
    /// How often the usual rates of the streams were halved.
    halved: Cell<u32>,
    /// When they were asked for last.
    streams_asked: Cell<Time>,
    monitor: RefCell<Monitor>,
    /// What the system tells of the port that was opened last.
    pub(in crate::bench) port: RefCell<Option<PortInfo>>,
    pub(in crate::bench) journal_failed: Cell<bool>,
    /// What is known of every setting that was written and is not settled.
    pub(in crate::bench) ledger: RefCell<Ledger>,
    /// What of it was settled by the reading at the beginning, and is still to be noted.
    pub(in crate::bench) settled: RefCell<Settings>,
    witness: RefCell<Witness>,
    pub(in crate::bench) beside: RefCell<Option<Beside>>,
    /// How far a run has come.
    pub(in crate::bench) so_far: RefCell<SoFar>,
    watched: RefCell<Watched>,
    pub(super) tickets: Cell<u32>,
    stores: Cell<u32>,
}

/// What is whose.
impl SessionContext {
    /// The interlock, to be asked.
    pub(in crate::bench) fn interlock(&self) -> Ref<'_, Interlock> {
        self.interlock.borrow()
    }

    /// The interlock, to be told.
    pub(in crate::bench) fn interlock_mut(&self) -> RefMut<'_, Interlock> {
        self.interlock.borrow_mut()
    }

    pub(in crate::bench) fn replies(&self) -> RefMut<'_, Replies> {
        self.replies.borrow_mut()
    }

    pub(in crate::bench) fn dialogue(&self) -> RefMut<'_, Dialogue> {
        self.dialogue.borrow_mut()
    }

    /// Streams with the rates at which this link carries them, hertz, as they are asked for now.
    pub(in crate::bench) fn asks_streams(&self) -> impl Iterator<Item = (Stream, u32)> + use<> {
        self.streams_asked.set(self.now());
        self.rates()
    }

    /// For how long streams have been asked for at these rates.
    pub(in crate::bench) fn streams_for(&self) -> Duration {
        self.now().since(self.streams_asked.get())
    }

    /// Streams with the rates at which this link carries them, hertz.
    pub(in crate::bench) fn rates(&self) -> impl Iterator<Item = (Stream, u32)> + use<> {
        let halved = self.halved.get();
        // The flag costs least, and most hangs on it.
        let of = move |stream, rate: u32| if stream == Stream::Alive { rate } else { (rate >> halved).max(LEAST_RATE) };
        RATES.iter().map(move |(stream, rate)| (*stream, of(*stream, *rate)))
    }

    /// Asks for streams at half the rate from now on; `None`: they are as rare as they may be.
    pub(in crate::bench) fn halve_rates(&self) -> Option<()> {
        let halved = self.halved.get();
        (halved < HALVED_MOST).then(|| self.halved.set(halved + 1))
    }

    /// Channels and outputs of late, as they came.
    pub(in crate::bench) fn timings(&self) -> RefMut<'_, Timings> {
        self.timings.borrow_mut()
    }

    pub(in crate::bench) fn news(&self) -> RefMut<'_, News> {
        self.news.borrow_mut()
    }

    pub(in crate::bench) fn monitor(&self) -> RefMut<'_, Monitor> {
        self.monitor.borrow_mut()
    }

    pub(in crate::bench) fn witness(&self) -> RefMut<'_, Witness> {
        self.witness.borrow_mut()
    }

    pub(in crate::bench) fn watches(&self) -> RefMut<'_, Watched> {
        self.watched.borrow_mut()
    }

    /// The moment of the event being handled.
    #[must_use]
    pub fn now(&self) -> Time {
        self.now.get()
    }

    pub(in crate::bench) fn begins_event(&self, now: Time) {
        self.now.set(now);
    }

    pub(in crate::bench) fn wake(&self) -> Time {
        self.wake.get().unwrap_or(Time::NEVER)
    }

    /// Until the script says when, nobody waits for anything.
    pub(in crate::bench) fn sleeps(&self) {
        self.wake.set(None);
    }

    /// Looks at the live signals.
    pub fn look<T>(&self, look: impl FnOnce(&Signals) -> T) -> T {
        look(self.interlock.borrow().signals())
    }

    /// The facts of the craft, once a sheet was matched and settings were read.
    ///
    /// # Errors
    /// Before that.
    pub fn facts(&self) -> Result<Facts, Fault> {
        self.interlock.borrow().facts().cloned()
    }

    /// The sheet of the craft, once one was matched.
    pub(in crate::bench) fn sheet(&self) -> Option<Rc<Sheet>> {
        self.interlock.borrow().sheet().cloned()
    }

    /// Where the bench stands with the craft.
    pub fn phase(&self) -> Phase {
        self.interlock.borrow().phase()
    }

    /// Whether the wire is open.
    pub(in crate::bench) fn link_up(&self) -> bool {
        self.interlock.borrow().link_up()
    }

    /// The pack as measured last.
    pub(in crate::bench) fn volts(&self) -> Option<f64> {
        self.look(|live| live.power.last().and_then(|power| power.value.millivolts)).map(|mv| f64::from(mv) / 1000.0)
    }

    /// Whether the battery is in, as measured; else as attested.
    #[must_use]
    pub fn pack(&self) -> Pack {
        self.interlock.borrow().pack()
    }
}

/// Waiting and showing.
impl SessionContext {
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
            self.wake.set(Some(self.wake().min(deadline)));
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

    pub(in crate::bench) fn next_effect(&self) -> Option<Effect> {
        self.effects.borrow_mut().pop_front()
    }

    /// Shows something.
    pub fn show(&self, shown: UiEvent) {
        self.sees(&shown);
        if let UiEvent::Plan(plan) = &shown {
            self.dialogue().plan = Some(Rc::clone(plan));
        }
        self.act(Effect::Show(shown));
    }

    /// What has to be known of all that is shown.
    pub(in crate::bench) fn sees(&self, shown: &UiEvent) {
        if let UiEvent::CableOut(within) = shown {
            self.so_far.borrow_mut().without_cable_until = Some(self.now() + *within);
        }
        self.witness().sees(self.now(), shown);
        self.watches().shows(self.now(), shown);
    }

    /// Shows a line.
    pub fn line(&self, tone: Tone, text: impl Into<String>) {
        self.show(UiEvent::Line(tone, text.into()));
    }

    /// Keeps a line for the record that a screen needs no row for.
    pub fn noted(&self, tone: Tone, text: impl Into<String>) {
        self.show(UiEvent::Noted(tone, text.into()));
    }
}

/// The disk and the operator.
impl SessionContext {
    /// Puts something on the disk and waits until it is there. A failure ends all writing.
    ///
    /// # Errors
    /// The disk's reason.
    pub async fn store(&self, job: StoreJob) -> Result<(), Fault> {
        let stored = self.store_aside(job).await;
        if stored.is_err() {
            self.journal_failed.set(true);
            self.interlock_mut().end_writing();
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
            self.until(self.now() + Duration::from_secs(60), |bench| bench.replies().stored.remove(&ticket)).await;
        let result = stored.unwrap_or_else(|| {
            Err(RecordError::Other { file: "the record".into(), cause: "the disk did not answer for 60 s".to_owned() })
        });
        Ok(result?)
    }

    /// Reads a recipe and all it uses.
    ///
    /// # Errors
    /// The disk does not answer.
    pub(in crate::bench) async fn read_recipe(&self, asked: RecipeAsked) -> Result<Reading, Fault> {
        let _of_before = self.replies().recipe.take();
        let file = asked.file.clone();
        self.act(Effect::ReadRecipe(asked));
        let reading = self.until(self.now() + Duration::from_secs(60), |bench| bench.replies().recipe.take()).await;
        reading.ok_or_else(|| RecordError::Other { file, cause: "the disk did not answer for 60 s".to_owned() }.into())
    }
}
