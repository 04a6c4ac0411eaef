//! After a stop, a lost wire or a restart that nobody asked for: is it the same board, what does it hold, may it be
//! written again?
//!
//! Promises: until the same board was seen disarmed, still and without its battery, nothing is written; what it
//! holds otherwise than before is said. Must not be here: the course of the session.

use crate::bench::interactive::session::{InteractiveSession, differing};
use crate::bench::operations::settings::ALIVE;
use crate::bench::session::Inquiry;
use crate::bench::session::context::SessionContext;
use crate::interlock::Phase;
use crate::interlock::signals::Pack;
use crate::language::setting_word::SettingWord;
use crate::plan::naming::Naming;
use crate::plan::titles::stand;
use crate::seam::Effect;
use crate::seam::fault::Fault;
use crate::seam::ui::Tone;
use std::time::Duration;

/// How long it may take until a board's armed flag is heard: it comes once a second from the slowest.
const FLAG_KNOWN: Duration = Duration::from_millis(1200);

impl InteractiveSession {
    /// Looks for a port that went away, for as long as the session lasts.
    pub(in crate::bench) fn look_for_it(&self) {
        let _of_before = self.bench.replies().opened.take();
        self.bench.act(Effect::Reopen);
        self.bench.line(
            Tone::Plain,
            "The session waits for the same board to come back; nothing goes on by itself. Leave with `leave`.",
        );
    }

    /// As [`Self::recover`], with what went wrong said.
    pub(in crate::bench) async fn recover_or_say(&self) {
        if let Err(fault) = self.recover().await {
            self.bench.interlock_mut().latch();
            self.say(&fault);
            if matches!(fault, Fault::AnotherBoard { .. }) {
                self.bench
                    .line(Tone::Warning, "Nothing is written to it. Unplug it, and plug in the board of this session.");
                self.warn_if_armed().await;
            }
        }
    }

    /// A craft that is not this session's may not be stopped from here, so its motors are the person's to mind.
    async fn warn_if_armed(&self) {
        let bench = &self.bench;
        let flag = |bench: &SessionContext| bench.look(|live| live.flag(bench.now()));
        if bench.until(bench.now() + FLAG_KNOWN, flag).await == Some(true) {
            bench.line(
                Tone::Warning,
                "IT IS ARMED, and is not stopped from here. Keep clear of it: its own switch first, then its battery.",
            );
        }
    }

    /// Reads again who the board is and all that it holds; allows writing only with the battery out.
    ///
    /// # Errors
    /// Silent, another board, or armed.
    pub(in crate::bench) async fn recover(&self) -> Result<(), Fault> {
        let bench = &self.bench;
        bench.interlock_mut().latch();
        self.settled.set(false);
        let Some((was, sheet, title)) =
            self.with(|state| (state.knows.identity.clone(), state.knows.sheet.clone(), state.title.clone()))
        else {
            return Ok(());
        };
        let now = bench.who_is_it(&self.job.port).await?;
        if !now.is_same_craft(&was) {
            return Err(Fault::AnotherBoard { was: was.told(), now: now.told() });
        }
        bench.request(Inquiry::List, "reading all settings").await?;
        let record = bench.open_record(&was).await?;
        self.with(|state| state.knows.record = record);
        self.compare();
        bench.take_facts(&title, &sheet, &was)?;
        bench.start_streams().await?;
        // A long list can keep its signs of life waiting; from here on silence counts.
        let alive = |bench: &SessionContext| bench.look(|live| live.flag(bench.now())).map(|_| ());
        if bench.until(bench.now() + ALIVE, alive).await.is_none() {
            let what = "waiting for a sign of life".to_owned();
            return Err(Fault::Board { what, why: "none came; check the cable".to_owned() });
        }
        bench.pack_told().await;
        if bench.look(|live| live.flag(bench.now())) == Some(true) {
            return Err(Fault::FoundArmed);
        }
        self.settled.set(true);
        if bench.pack() == Pack::Out {
            bench.watch_it().await?;
            bench.line(Tone::Good, "The same board, disarmed and at rest, with the battery out: the session goes on.");
        } else {
            bench.line(Tone::Warning, "The same board. Nothing is written until its battery is out.");
        }
        Ok(())
    }

    /// Says what the board holds otherwise than when it was read last, and forgets what is not there any more.
    fn compare(&self) {
        let bench = &self.bench;
        let now = bench.look(|live| live.settings.clone());
        let broken_off = self.current.borrow_mut().take();
        if let Some(current) = broken_off {
            self.changed(&current.text, differing(&current.before, &now));
            self.log(&current.text, "broken off");
        }
        let told = self.with(|state| {
            let differs = differing(&state.held, &now);
            let naming = Naming { sheet: &state.knows.sheet, then: &now, now: &state.held };
            let lines: Vec<String> = differs
                .iter()
                .map(|(name, (was, now))| {
                    let (was, now) = (naming.show(name, *was), naming.show(name, *now));
                    format!("{}: {was} before, {now} now", naming.describe(name))
                })
                .collect();
            let _settled = bench.ledger.borrow_mut().saw(&now);
            let signal = state.knows.sheet.entry(SettingWord::Signal).map(|entry| &entry.name);
            state.knows.progress.signal_changed |= signal.is_some_and(|name| differs.contains_key(name));
            state.held.clone_from(&now);
            (lines, state.draft.fallen_away(&now))
        });
        let Some((lines, gone)) = told else { return };
        if !lines.is_empty() {
            bench.line(Tone::Warning, format!("{} otherwise than before: {}.", stand(lines.len()), lines.join("; ")));
        }
        for text in gone {
            bench.line(Tone::Warning, format!("Not on the board any more, and out of the recipe: {text}"));
        }
    }

    /// Has everything in place for writing: after a stop or a lost wire the battery comes out first.
    ///
    /// # Errors
    /// The board is not there, or cannot be written.
    pub(in crate::bench) async fn writable(&self) -> Result<(), Fault> {
        let bench = &self.bench;
        if !bench.link_up() {
            return Err(Fault::refused(
                "The link to the board is lost.",
                "Plug the same board in again; looking at what was read still works.",
            ));
        }
        if !self.settled.get() || !bench.interlock().is_session_craft_there() {
            self.recover().await?;
        }
        if bench.phase() == Phase::Still {
            return Ok(());
        }
        bench.line(Tone::Warning, "After a stop or a lost link the battery comes out before anything is written.");
        bench.battery_out().await?;
        self.recover().await?;
        if bench.phase() == Phase::Still {
            return Ok(());
        }
        Err(Fault::refused("Nothing may be written now.", "Take the battery out, and type the statement again."))
    }
}
