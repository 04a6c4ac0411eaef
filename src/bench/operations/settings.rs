//! Reading and changing settings: intent on the disk first, then the wire, then read back.
//!
//! Every write, store and restart takes a [`Stillness`]. "Accepted", "read back" and "still there
//! after a restart" are three states. Must not be here: which settings, and in which order.

use crate::bench::session::context::{PORT, SessionContext};
use crate::board::binding;
use crate::board::console::Capability;
use crate::board::signals::{Done, Identity, Request, Stream};
use crate::board::value::{Number, SettingName};
use crate::interlock::guards;
use crate::interlock::signals::Pack;
use crate::interlock::state::Mode;
use crate::language::recipe::Function;
use crate::measure::time::Time;
use crate::plan::free;
use crate::plan::step::Write;
use crate::record::ledger::RestartEvidence;
use crate::seam::Effect;
use crate::seam::fault::Fault;
use crate::seam::ui::Tone;
use std::collections::BTreeMap;
use std::marker::PhantomData;
use std::time::Duration;

/// How long a planned restart may take.
pub const BACK_WITHIN: Duration = Duration::from_secs(30);
/// How long a sign of life may take.
pub const ALIVE: Duration = Duration::from_secs(6);
/// How long it may take until the pack is measured again after a restart.
const PACK_KNOWN: Duration = Duration::from_secs(3);
/// Rates that the guards need, in hertz.
pub const RATES: &[(Stream, u32)] = &[
    (Stream::Alive, 10),
    (Stream::Channels, 50),
    (Stream::Outputs, 50),
    (Stream::Attitude, 20),
    (Stream::Power, 10),
    (Stream::Speeds, 20),
];

/// Proof that nothing turns and nothing is armed; made anew for every change.
#[derive(Debug)]
pub struct Stillness<'b>(PhantomData<&'b SessionContext>);

impl SessionContext {
    /// Proves stillness at this moment.
    ///
    /// # Errors
    /// What does not hold.
    pub fn stillness(&self) -> Result<Stillness<'_>, Fault> {
        let now = self.now();
        if !matches!(*self.mode(), Mode::Still) || self.terminal_gone.get() {
            return Err(Fault::refused("Nothing may be written now.", "Take the battery out, then start again."));
        }
        self.same_board()?;
        if !self.encoding_proved.get() {
            return Err(Fault::refused(
                "How this board writes numbers is not known for sure.",
                "Read all settings first.",
            ));
        }
        self.look(|live| guards::alone(live).and_then(|()| guards::disarmed(live, now)))?;
        if self.pack() == Pack::Out {
            return Ok(Stillness(PhantomData));
        }
        let facts = self.facts()?;
        self.look(|live| -> Result<(), Fault> {
            guards::outputs_at_rest(live, now)?;
            guards::throttle_low(live, &facts, now)?;
            guards::arm_switch_off(live, &facts, now)
        })?;
        Ok(Stillness(PhantomData))
    }

    /// Whether whoever answers is still the board that the facts are of, as far as it said.
    fn same_board(&self) -> Result<(), Fault> {
        let now = self.look(|live| live.identity.as_ref().map(|now| now.id.clone()));
        match (&*self.board_id.borrow(), now) {
            (Some(was), Some(now)) if *was != now => Err(Fault::AnotherBoard { was: was.clone(), now }),
            _ => Ok(()),
        }
    }

    /// Whether a write leaves every arm band away from where its channel stands now.
    pub(in crate::bench) fn band_stays_clear(&self, now: Time, name: &SettingName, to: Number) -> Result<(), String> {
        let Some(sheet) = self.sheet.borrow().clone() else { return Ok(()) };
        let arm = Function("arm".to_owned());
        if !binding::settings_of(&sheet, &arm).contains(name) {
            return Ok(());
        }
        let live = self.live.borrow();
        let mut settings = live.settings.clone();
        settings.insert(name.clone(), to);
        let bands = binding::bound_now(&sheet, &settings, &arm).map_err(|error| error.to_string())?;
        let channels = live.channels.fresh(now, guards::STREAM_AGE);
        for band in bands {
            let Some(channels) = channels else {
                return Err("the receiver channels are not heard, so no arm band is opened".to_owned());
            };
            if let Some(pulse) = channels.of(band.channel).filter(|pulse| *pulse >= band.from && *pulse < band.to) {
                return Err(format!(
                    "channel {} stands at {pulse}, inside the arm band that this would make",
                    band.channel
                ));
            }
        }
        Ok(())
    }

    /// Waits until everything is still, inviting to switch off while it is not.
    ///
    /// # Errors
    /// It did not become still in time.
    pub async fn wait_still(&self) -> Result<Stillness<'_>, Fault> {
        let mut told = false;
        let deadline = self.now() + Duration::from_secs(60);
        loop {
            let fault = match self.stillness() {
                Ok(still) => return Ok(still),
                Err(fault) => fault,
            };
            let over = self.now() >= deadline || matches!(fault, Fault::AnotherBoard { .. });
            if over || !matches!(*self.mode(), Mode::Still) {
                return Err(fault);
            }
            // A moment for the signals to come in before anything is said.
            self.sleep(Duration::from_millis(if told { 100 } else { 600 })).await;
            if !told && self.stillness().is_err() {
                told = true;
                self.line(Tone::Warning, format!("Waiting: {fault}"));
            }
        }
    }

    /// Writes in the order given; each is answered with the value that the board has then. Several are under way at a
    /// time only where their order does not matter, and all of them have been answered before any other leaves.
    ///
    /// # Errors
    /// Refused, silent, or another value than the one written.
    pub async fn write(&self, _still: &Stillness<'_>, writes: &[Write]) -> Result<(), Fault> {
        let what = |write: &Write| format!("writing {} as {}", write.name, write.to);
        let free = free::free(self.sheet.borrow().as_deref(), writes);
        let mut rest = writes;
        while let [write, others @ ..] = rest {
            let before = writes.len() - rest.len();
            let together = free[before..].iter().take_while(|free| **free).count();
            if together > 0 {
                let (run, after) = rest.split_at(together);
                let all = run.iter().map(|write| (Request::WriteUnordered(write.name.clone(), write.to), what(write)));
                let done = self.requests(all).await;
                // That says more than whatever became of the writes.
                self.same_board()?;
                done?;
                rest = after;
            } else {
                let done = self.request(Request::WriteSetting(write.name.clone(), write.to), &what(write)).await;
                self.same_board()?;
                done?;
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
        let all = last.keys().map(|name| {
            self.live.borrow_mut().settings.remove(*name);
            (Request::ReadSetting((*name).clone()), format!("reading {name}"))
        });
        self.requests(all).await?;
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

    /// Reads one setting.
    ///
    /// # Errors
    /// No answer.
    pub async fn read(&self, name: &SettingName) -> Result<Number, Fault> {
        self.live.borrow_mut().settings.remove(name);
        self.request(Request::ReadSetting(name.clone()), &format!("reading {name}")).await?;
        self.found(name)
    }

    /// What a setting was read as.
    fn found(&self, name: &SettingName) -> Result<Number, Fault> {
        self.look(|live| live.settings.get(name).copied())
            .ok_or_else(|| Fault::Board { what: format!("reading {name}"), why: "no value came".to_owned() })
    }

    /// Has the board store its settings.
    ///
    /// # Errors
    /// Refused or silent.
    pub async fn store_settings(&self, _still: &Stillness<'_>) -> Result<(), Fault> {
        self.request(Request::Store, "storing the settings").await
    }

    /// Restarts the board and waits until the same board is back with its streams.
    ///
    /// # Errors
    /// Not back in time, another board, armed, or a link that fails.
    pub async fn restart(&self, _still: Stillness<'_>, was: &Identity) -> Result<RestartEvidence, Fault> {
        let until = self.now() + BACK_WITHIN;
        let measured = self.look(|live| live.pack(self.now())) != Pack::Unknown;
        self.restart_expected_until.set(until);
        let sent = self.request(Request::Restart, "restarting the board").await;
        if self.link_up.get() {
            if sent.is_err() {
                // What comes now is no planned restart any more.
                self.restart_expected_until.set(self.now());
            }
            sent?;
            // A port that stays, as a network wire does, gives no sign: then the board is simply asked again.
            self.until(self.now() + Duration::from_secs(3), |bench| (!bench.link_up.get()).then_some(())).await;
        }
        self.live.borrow_mut().forget(self.now());
        let back = self.come_back(was, until).await;
        self.restart_expected_until.set(self.now());
        back?;
        self.start_streams().await?;
        if measured {
            // What comes next may depend on it: a battery that is out is only known after a second of it.
            let known = |bench: &Self| bench.look(|live| live.pack(bench.now()) != Pack::Unknown).then_some(());
            self.until(self.now() + PACK_KNOWN, known).await;
        }
        Ok(RestartEvidence::Shown)
    }

    /// Asks who the board is.
    ///
    /// # Errors
    /// Silent, or refused.
    pub async fn identify(&self) -> Result<Identity, Fault> {
        let what = "asking who the board is".to_owned();
        if !self.link_up.get() {
            self.reopen(BACK_WITHIN).await?;
            self.until(self.now() + ALIVE, |bench| bench.look(|live| live.armed.fresh(bench.now(), ALIVE))).await;
        }
        self.live.borrow_mut().identity = None;
        let why = match self.answer_to(Request::Identify).await {
            Done::Refused(why) => why,
            _ if !self.link_up.get() => return Err(Fault::LinkLost),
            _ => match self.look(|live| live.identity.clone()) {
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
        for (stream, rate) in RATES {
            // What the sheet gives no line for is refused by name where it is needed.
            if self.look(|live| live.lacks.needs.contains(&Capability::of(*stream))) {
                continue;
            }
            let asked = self.request(Request::Stream(*stream, Some(*rate)), &format!("asking for {stream:?}")).await;
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
            let _gone = self.request(Request::Stream(*stream, None), "putting streams back").await;
        }
    }

    /// Closes the wire.
    pub fn close(&self) {
        self.act(Effect::Close(PORT));
    }
}
