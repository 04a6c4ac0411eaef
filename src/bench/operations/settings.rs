//! Reading and changing settings: the door, the wire, then read back.
//!
//! Every write, store and restart takes a [`Stillness`]. "Accepted", "read back" and "still there after a restart" are
//! three states. Must not be here: which settings, and in which order; guards.

use crate::bench::session::context::SessionContext;
use crate::bench::session::{Change, Inquiry};
use crate::board::console::Capability;
use crate::board::signals::{Done, Identity, Stream};
use crate::board::value::{Number, SettingName};
use crate::interlock::guards::RATES;
use crate::interlock::signals::Pack;
use crate::interlock::{BACK_WITHIN, ChangeStep, Confirmed, RestartSeen, Stillness};
use crate::plan::step::{Guard, Write};
use crate::record::ledger::RestartEvidence;
use crate::seam::Effect;
use crate::seam::fault::Fault;
use crate::seam::ui::{BoardChange, Tone};
use std::collections::BTreeMap;
use std::time::Duration;

/// How long a sign of life may take.
pub const ALIVE: Duration = Duration::from_secs(6);
/// A board that restarts may be dark for so long.
const DARK: Duration = Duration::from_secs(3);
/// How long it may take until the pack is measured.
const PACK_KNOWN: Duration = Duration::from_secs(3);
/// How long a wire that stays may take to go, and a clock to show that it started anew.
const WIRE_GOES: Duration = Duration::from_secs(3);
/// How long a door is waited at.
const DOOR: Duration = Duration::from_secs(60);

/// What stands at the door of a change.
#[derive(Debug, Default)]
pub struct Door<'d> {
    /// What the plan says must hold.
    pub guards: &'d [Guard],
    /// Whether it can turn motors.
    pub turns_motors: bool,
    /// The answer to its question, where it had one.
    pub confirmed: Option<&'d mut Confirmed>,
}

impl SessionContext {
    /// Waits at the door of a change until it opens, inviting to put things in place while it does not.
    ///
    /// # Errors
    /// It did not open in time.
    pub async fn enter(&self, door: &mut Door<'_>, change: BoardChange) -> Result<Stillness, Fault> {
        let mut told = false;
        let deadline = self.now() + DOOR;
        let began = self.now();
        loop {
            let step = ChangeStep { guards: door.guards, change: change.clone(), turns_motors: door.turns_motors };
            let fault = match self.interlock_mut().enter_change(step, door.confirmed.as_deref_mut()) {
                Ok(still) => return Ok(still),
                Err(fault) => fault,
            };
            let for_good = matches!(fault, Fault::AnotherBoard { .. } | Fault::StaleAnswer);
            if for_good || self.now() >= deadline || !self.phase().takes_changes() {
                return Err(fault);
            }
            self.sleep(Duration::from_millis(100)).await;
            // A moment for the signals to come in, and to be at rest, before anything is said.
            if !told && self.now().since(began) > Duration::from_millis(2500) {
                told = true;
                self.line(Tone::Warning, format!("Waiting: {fault}"));
            }
        }
    }

    /// Waits until the craft has been at rest for a second, disarmed, with its switch off.
    ///
    /// # Errors
    /// It did not come to rest in time.
    pub async fn wait_still(&self) -> Result<(), Fault> {
        self.enter(&mut Door::default(), BoardChange::default()).await.map(|_| ())
    }

    /// Writes in the order given; each is answered with the value that the board has then. Several are under way at a
    /// time only where their order does not matter, and all of them have been answered before any other leaves.
    ///
    /// # Errors
    /// Refused, silent, or another value than the one written.
    pub async fn write(&self, still: &Stillness, writes: &[Write]) -> Result<(), Fault> {
        let what = |write: &Write| format!("writing {} as {}", write.name, write.to);
        let mut rest = writes;
        while let [write, others @ ..] = rest {
            let together = rest.iter().take_while(|write| !write.ordered).count();
            if together > 0 {
                let (run, after) = rest.split_at(together);
                let all = run.iter().map(|write| (Change::WriteUnordered(write.name.clone(), write.to), what(write)));
                self.change_all(still, all).await?;
                rest = after;
            } else {
                self.change(still, Change::Write(write.name.clone(), write.to), &what(write)).await?;
                rest = others;
            }
        }
        Ok(())
    }

    /// Reads these back, each by its own request, several at a time, and compares.
    ///
    /// # Errors
    /// [`Fault::NotAsWritten`], or no answer.
    pub async fn read_back(&self, writes: &[Write]) -> Result<(), Fault> {
        // A name may stand twice, where a band is closed first and opened last: its last value counts.
        let last: BTreeMap<&SettingName, &Write> = writes.iter().map(|write| (&write.name, write)).collect();
        self.read_anew(last.keys().copied()).await?;
        for write in last.into_values() {
            let found = self.found(&write.name)?;
            if !found.same(write.to) {
                return Err(Fault::NotAsWritten {
                    setting: write.name.to_string(),
                    found: found.to_string(),
                    wanted: write.to.to_string(),
                });
            }
        }
        Ok(())
    }

    /// Reads these, each by its own request, several at a time; what was heard of them before is no answer.
    ///
    /// # Errors
    /// What the first that failed would give by itself.
    pub async fn read_anew(&self, names: impl Iterator<Item = &SettingName>) -> Result<(), Fault> {
        let names: Vec<&SettingName> = names.collect();
        let forget = |name: &SettingName| self.interlock_mut().forget_setting(name);
        // After one that fails no further one is asked for: none is left as it was heard before.
        for name in &names {
            forget(name);
        }
        let all = names.iter().map(|name| {
            // Once more as it is asked for: only what was quiet until then is shown by its answer.
            forget(name);
            (Inquiry::Read((*name).clone()), format!("reading {name}"))
        });
        let read = self.inquire(all).await;
        // After a silence it may have been another that told them: first that is answered.
        let proved = |bench: &Self| (!bench.interlock().is_unproved()).then_some(());
        if self.until(self.now() + ALIVE, proved).await.is_some() {
            return read;
        }
        for name in names {
            forget(name);
        }
        read.and(self.interlock().surely_there())
    }

    /// Reads one setting.
    ///
    /// # Errors
    /// No answer.
    pub async fn read(&self, name: &SettingName) -> Result<Number, Fault> {
        self.read_anew(std::iter::once(name)).await?;
        self.found(name)
    }

    /// What a setting was read as.
    fn found(&self, name: &SettingName) -> Result<Number, Fault> {
        self.look(|signals| signals.settings.get(name).copied())
            .ok_or_else(|| Fault::Board { what: format!("reading {name}"), why: "no value came".to_owned() })
    }

    /// Has the board store its settings.
    ///
    /// # Errors
    /// Refused or silent.
    pub async fn store_settings(&self, still: &Stillness) -> Result<(), Fault> {
        self.interlock_mut().store_begins(still)?;
        let stored = self.change(still, Change::Store, "storing the settings").await;
        self.interlock_mut().store_ended();
        stored
    }

    /// Restarts the board and waits until the same board is back with its streams, and at rest.
    ///
    /// # Errors
    /// Not back in time, another board, armed, or a link that fails.
    pub async fn restart(&self, still: Stillness, was: &Identity) -> Result<RestartEvidence, Fault> {
        let until = self.now() + BACK_WITHIN;
        let measured = self.look(|signals| signals.pack(self.now())) != Pack::Unknown;
        self.interlock_mut().restart_begins(&still, was)?;
        let sent = self.end_of_change(&still, Change::Restart).await;
        drop(still);
        if self.link_up() {
            // Only a refusal says that it did not restart; an answer that was lost says nothing.
            if let Done::Refused(why) = sent {
                self.interlock_mut().restart_ends();
                self.watch_it().await?;
                return Err(Fault::Board { what: "restarting the board".to_owned(), why });
            }
            // A port that stays, as a network wire does, gives no sign: then the board is simply asked again.
            self.until(self.now() + WIRE_GOES, |bench| (!bench.link_up()).then_some(())).await;
        }
        let back = self.back_again(was, until, measured).await;
        let seen = self.interlock_mut().restart_ends();
        back?;
        self.watch_it().await?;
        Ok(evidence(seen))
    }

    /// Waits until the pack is measured, as what comes next may depend on it: one that is out is only known after a second.
    pub(in crate::bench) async fn pack_told(&self) {
        let known = |bench: &Self| bench.look(|signals| signals.pack(bench.now()) != Pack::Unknown).then_some(());
        self.until(self.now() + PACK_KNOWN, known).await;
    }

    async fn back_again(&self, was: &Identity, until: crate::measure::time::Time, measured: bool) -> Result<(), Fault> {
        self.interlock_mut().expects_anew();
        self.come_back(was, until).await?;
        self.start_streams().await?;
        if measured {
            self.pack_told().await;
        }
        let shown = |bench: &Self| bench.interlock().restart_is_seen().then_some(());
        self.until(self.now() + WIRE_GOES, shown).await;
        Ok(())
    }

    /// Starts the streams and waits until the board is seen disarmed and at rest, so that it may be worked on.
    ///
    /// # Errors
    /// Found armed, or signals missing.
    pub async fn watch_it(&self) -> Result<(), Fault> {
        // Without its outputs a board is never seen at rest, and so nothing is done at it.
        self.look(|signals| crate::interlock::guards::given(signals, Capability::Outputs))?;
        self.start_streams().await?;
        let began = self.now();
        let mut refused = Fault::FoundArmed;
        let seen = self
            .until(began + AT_REST, |bench| {
                if bench.look(|signals| signals.armed.since(began).any(|flag| flag.value)) {
                    return Some(Err(Fault::FoundArmed));
                }
                match bench.interlock_mut().may_work() {
                    Ok(()) => Some(Ok(())),
                    Err(fault) => {
                        refused = fault;
                        None
                    }
                }
            })
            .await;
        seen.unwrap_or(Err(refused))
    }

    /// Whether a sign of life came so lately that the board is there.
    pub(in crate::bench) fn shows_life(&self) -> bool {
        self.look(|signals| signals.armed.fresh(self.now(), DARK).is_some())
    }

    /// Asks who the board is.
    ///
    /// # Errors
    /// Silent, or refused.
    pub async fn identify(&self) -> Result<Identity, Fault> {
        let what = "asking who the board is".to_owned();
        if !self.link_up() {
            self.reopen(BACK_WITHIN).await?;
            self.until(self.now() + ALIVE, |bench| bench.look(|s| s.armed.fresh(bench.now(), ALIVE))).await;
        }
        self.interlock_mut().forget_identity();
        let began = self.now();
        let mut answer = self.answer_to(Inquiry::Identify).await;
        let asked = self.now();
        let says_nothing = !matches!(answer, Done::Refused(_)) && self.look(|signals| signals.identity.is_none());
        // One that may have been dark all the while, as it restarts, was not asked.
        if self.link_up() && says_nothing && asked.since(began) < DARK {
            let back = |bench: &Self| bench.look(|signals| signals.armed.since(asked).next().map(|_| ()));
            if self.until(asked + ALIVE, back).await.is_some() {
                answer = self.answer_to(Inquiry::Identify).await;
            }
        }
        let why = match answer {
            Done::Refused(why) => why,
            _ if !self.link_up() => return Err(Fault::LinkLost),
            _ => match self.look(|signals| signals.identity.clone()) {
                Some(identity) => return Ok(identity),
                None => "it gives signs of life, but does not say who it is; without that its settings are not read, \
                         as they could not be told from another board's"
                    .to_owned(),
            },
        };
        Err(Fault::Board { what, why })
    }

    /// Asks for the streams that the guards need.
    ///
    /// # Errors
    /// A stream that the guards cannot do without is refused.
    pub async fn start_streams(&self) -> Result<(), Fault> {
        for (stream, rate) in self.asks_streams() {
            // What the sheet gives no line for is refused by name where it is needed.
            if self.look(|signals| signals.lacks.needs.contains(&Capability::of(stream))) {
                continue;
            }
            let asked = self.request(Inquiry::Stream(stream, Some(rate)), &format!("asking for {stream:?}")).await;
            if !matches!(stream, Stream::Speeds) {
                asked?;
            }
        }
        Ok(())
    }

    /// Puts the streams back as they were found.
    pub async fn put_streams_back(&self) {
        for (stream, _) in RATES {
            // A board that does not answer here has gone; there is nothing to put back then.
            let _gone = self.request(Inquiry::Stream(*stream, None), "putting streams back").await;
        }
    }

    /// Closes the wire.
    pub fn close(&self) {
        self.act(Effect::Close);
    }
}

/// What may be said of a restart that showed itself so.
pub(in crate::bench) fn evidence(seen: Option<RestartSeen>) -> RestartEvidence {
    match seen {
        Some(RestartSeen::Wire | RestartSeen::Clock | RestartSeen::Banner) => RestartEvidence::Shown,
        Some(RestartSeen::Silence) => RestartEvidence::Silence,
        None => RestartEvidence::Accepted,
    }
}

/// How long the board may take to be seen at rest.
pub(in crate::bench) const AT_REST: Duration = Duration::from_secs(6);
