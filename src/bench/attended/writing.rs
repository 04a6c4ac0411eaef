//! The steps that change the board: write, store, restart, each with its three states.

use crate::bench::attended::job::RunJob;
use crate::bench::attended::run_state::RunState;
use crate::bench::operations::settings::Door;
use crate::bench::procedures::gesture::{BY_HAND, UNHEARD};
use crate::bench::session::context::SessionContext;
use crate::board::sheet::Settings;
use crate::board::signals::Identity;
use crate::board::value::SettingName;
use crate::interlock::craft::Facts;
use crate::interlock::signals::Signals;
use crate::language::setting_word::SettingWord;
use crate::plan::step::Write;
use crate::plan::titles;
use crate::record::WriteState;
use crate::record::ledger::RestartEvidence;
use crate::seam::fault::Fault;
use crate::seam::ui::{BoardChange, Gesture, Tone};
use std::time::Duration;

/// How long channels that come may take to be there.
const SOON: Duration = Duration::from_secs(1);

impl SessionContext {
    /// Writes a batch: intent, wire, read back, outcome.
    ///
    /// # Errors
    /// Not still, an arm switch inside the new band, the disk, the wire, or another value read back.
    pub async fn write_batch(
        &self,
        job: &RunJob,
        knows: &mut RunState,
        step: usize,
        writes: &[Write],
        door: &mut Door<'_>,
    ) -> Result<(), Fault> {
        self.clear_of_new_band(job, knows, writes).await?;
        self.journal_intent(job, step, writes).await?;
        let result = self.write_and_read(writes, door).await;
        let state = if result.is_ok() { WriteState::ReadBack } else { WriteState::Failed };
        self.journal_outcome(job, step, state, None, false).await?;
        result?;
        for write in writes {
            if knows.sheet.entry(SettingWord::Signal).is_some_and(|entry| entry.name == write.name) {
                knows.progress.signal_changed = true;
            }
        }
        // A band is closed first and opened last: only what stands in the end is told.
        let stands = |at: usize| !writes[at + 1..].iter().any(|later| later.name == writes[at].name);
        let last = (0..writes.len()).filter(|at| stands(*at)).map(|at| &writes[at]);
        let told: Vec<String> = last.map(|write| format!("{} = {}", write.setting, write.shown)).collect();
        self.line(Tone::Good, format!("{}  (read back)", told.join(", ")));
        self.take_facts(&job.title, &knows.sheet, &knows.identity)
    }

    /// The same; where a setting takes a `restart` to be in force, it is stored, unless the board does so by itself, and
    /// read after one.
    ///
    /// # Errors
    /// As for each of the three.
    pub async fn write_in_force(
        &self,
        job: &RunJob,
        knows: &mut RunState,
        step: usize,
        writes: &[Write],
        door: &mut Door<'_>,
        restart: bool,
    ) -> Result<(), Fault> {
        self.write_batch(job, knows, step, writes, door).await?;
        if !restart {
            return Ok(());
        }
        if !knows.sheet.stores_at_once {
            self.store_step(job, step, door).await?;
        }
        self.restart_step(job, knows, step, writes, door).await
    }

    async fn write_and_read(&self, writes: &[Write], door: &mut Door<'_>) -> Result<(), Fault> {
        let still = self.enter(door, of_writes(writes)).await?;
        self.write(&still, writes).await?;
        self.read_back(writes).await
    }

    /// No switch may stand inside an arm band that is about to be made.
    async fn clear_of_new_band(&self, job: &RunJob, knows: &RunState, writes: &[Write]) -> Result<(), Fault> {
        let mut settings = self.look(|live| live.settings.clone());
        for write in writes {
            settings.insert(write.name.clone(), write.to);
        }
        let virtual_board = knows.identity.is_virtual();
        let then = Facts::read(&job.title, virtual_board, &knows.sheet, &settings)
            .map_err(|error| Fault::Plan(error.to_string()))?;
        if then.arm_bands == self.facts()?.arm_bands {
            return Ok(());
        }
        self.heard_before_a_band(&then).await?;
        let outside = |bench: &Self| bench.look(|live| outside_all(live, &then));
        if !outside(self) {
            let on = |channel| then.arm_bands.iter().any(|band| band.channel == channel);
            let named = knows.card.switches.iter().find(|(_, entry)| on(entry.channel));
            let which = named.map_or("the switch".to_owned(), |(switch, _)| format!("switch {}", switch.0));
            self.line(
                Tone::Warning,
                format!("Arm is not bound while {which} stands inside the new band: it would arm at once."),
            );
            let gesture = named.map_or(Gesture::AllSwitches { last: false }, |(switch, _)| Gesture::SwitchTo {
                switch: switch.clone(),
                position: 0,
            });
            self.gesture(gesture, &format!("Put {which} to position 0."), BY_HAND, outside).await?;
        }
        self.interlock_mut().writes_arm_bands(then.arm_bands);
        Ok(())
    }

    /// Unheard, nobody knows where the switch stands, and the gate lets no arm band be opened.
    async fn heard_before_a_band(&self, then: &Facts) -> Result<(), Fault> {
        if then.arm_bands.is_empty() || !then.usb_feeds_receiver {
            return Ok(());
        }
        let heard = |bench: &Self| !bench.heard_channels().is_empty();
        // After a restart they take a moment to come.
        if self.until(self.now() + SOON, |bench| heard(bench).then_some(())).await.is_some() {
            return Ok(());
        }
        self.line(Tone::Warning, format!("Arm is not bound while its switch is not heard. {UNHEARD}"));
        self.gesture(Gesture::Radio { on: true }, "Switch the radio on.", BY_HAND, heard).await
    }

    /// Has the board store its settings.
    ///
    /// # Errors
    /// Not still, refused, or the disk.
    pub async fn store_step(&self, job: &RunJob, step: usize, door: &mut Door<'_>) -> Result<(), Fault> {
        self.journal_intent(job, step, &[]).await?;
        let still = self.enter(door, BoardChange { store: true, ..BoardChange::default() }).await?;
        self.store_settings(&still).await?;
        self.journal_outcome(job, step, WriteState::Stored, None, false).await
    }

    /// Restarts the board and reads back what must have outlived it: what is expected, and all else that is not settled.
    ///
    /// # Errors
    /// Not back, another board, or another value.
    pub async fn restart_step(
        &self,
        job: &RunJob,
        knows: &mut RunState,
        step: usize,
        expect: &[Write],
        door: &mut Door<'_>,
    ) -> Result<(), Fault> {
        let wanted = self.wanted_after_restart(expect);
        let still = self.enter(door, BoardChange { restart: true, ..BoardChange::default() }).await?;
        let evidence = self.restart(still, &knows.identity).await?;
        self.read_over_restart(job, knows, step, &wanted, evidence).await
    }

    /// Reads back what must have outlived a restart, of which so much was seen.
    ///
    /// # Errors
    /// Another value, or the disk.
    pub async fn read_over_restart(
        &self,
        job: &RunJob,
        knows: &mut RunState,
        step: usize,
        wanted: &Settings,
        evidence: RestartEvidence,
    ) -> Result<(), Fault> {
        let (read, result) = self.read_after_restart(wanted).await;
        let (state, read) = match (evidence.restarted(), &result) {
            (true, Ok(())) => (WriteState::KeptOverRestart, Some(read)),
            (true, Err(_)) => (WriteState::Failed, Some(read)),
            // What was read may be what stood there all the time.
            (false, Ok(())) => (WriteState::Accepted, None),
            (false, Err(_)) => (WriteState::Failed, None),
        };
        if result.is_err() {
            self.say_not_as_written(wanted);
        }
        let by_silence = evidence == RestartEvidence::Silence;
        self.journal_outcome(job, step, state, read, by_silence).await?;
        result?;
        let (tone, words) = after_restart(evidence, wanted.len(), knows.identity.is_unique());
        self.line(tone, words);
        if !evidence.restarted() {
            // Whatever else is shown on the way: no craft is finished of which nobody knows what it holds after a restart.
            knows.unproved.push("that the board restarted, and what it holds after a restart".to_owned());
        }
        let silence = "That the board restarted is shown by its silence alone.";
        if by_silence && !knows.measured.iter().any(|said| said == silence) {
            knows.measured.push(silence.to_owned());
        }
        self.take_facts(&job.title, &knows.sheet, &knows.identity)
    }

    /// What each setting must be read as: as it was read since it was written, whatever was heard of it meanwhile.
    pub fn wanted_after_restart(&self, expect: &[Write]) -> Settings {
        let ledger = self.ledger.borrow();
        let heard = |name: &SettingName| self.look(|live| Some((name.clone(), *live.settings.get(name)?)));
        let mut wanted: Settings = ledger.open().filter_map(|(name, _)| heard(name)).collect();
        // A name may stand twice, where a band is closed first and opened last: its last value counts.
        wanted.extend(expect.iter().map(|write| (write.name.clone(), write.to)));
        wanted.extend(ledger.open().filter_map(|(name, entry)| Some((name.clone(), entry.read()?))));
        wanted
    }

    /// Names all that reads otherwise than it was written.
    fn say_not_as_written(&self, wanted: &Settings) {
        let other: Vec<_> = self.look(|live| {
            let now = |name: &SettingName| live.settings.get(name).copied();
            let other = wanted.iter().filter_map(|(name, wanted)| Some((name, *wanted, now(name)?)));
            other.filter(|(_, wanted, now)| !now.same(*wanted)).map(|(name, _, now)| (name.clone(), now)).collect()
        });
        if !other.is_empty() {
            let other = self.stand(&other);
            self.line(Tone::Warning, format!("Read after the restart, and not as it was written: {other}."));
        }
    }

    /// What was read, as far as it was, and whether all of it is as wanted.
    async fn read_after_restart(&self, wanted: &Settings) -> (Settings, Result<(), Fault>) {
        let mut result = self.read_anew(wanted.keys()).await;
        // Another may have taken its place since it came back: whose it was that was read is asked once more.
        if self.interlock().who().is_some_and(Identity::is_unique)
            && let Err(fault) = self.prove_link().await
        {
            for name in wanted.keys() {
                self.interlock_mut().forget_setting(name);
            }
            return (Settings::new(), result.and(Err(fault)));
        }
        let read: Settings = self.look(|live| {
            wanted.keys().filter_map(|name| live.settings.get(name).map(|value| (name.clone(), *value))).collect()
        });
        let other = wanted.iter().find_map(|(name, wanted)| {
            let found = read.get(name).filter(|found| !found.same(*wanted))?;
            Some(Fault::NotAsWritten {
                setting: name.to_string(),
                found: found.to_string(),
                wanted: wanted.to_string(),
            })
        });
        if let Some(other) = other.filter(|_| result.is_ok()) {
            result = Err(other);
        }
        (read, result)
    }
}

/// Writes as they come to their question and their door.
#[must_use]
pub fn of_writes(writes: &[Write]) -> BoardChange {
    let writes = writes.iter().map(|write| (write.name.clone(), write.to)).collect();
    BoardChange { writes, ..BoardChange::default() }
}

/// What may be said after a restart at which so many settings read as they should. `unique`: its id tells the board from
/// every other.
pub fn after_restart(evidence: RestartEvidence, count: usize, unique: bool) -> (Tone, String) {
    let settings = titles::count(count, "setting");
    let who = if unique { "the same board" } else { "a board that has no id of its own" };
    match evidence {
        RestartEvidence::Shown => (Tone::Good, format!("Restarted; {who} is back, {settings} still there.")),
        RestartEvidence::Silence => {
            (Tone::Good, format!("Restarted, as far as silence shows; the same board answers, {settings} still there."))
        }
        RestartEvidence::Accepted => (
            Tone::Warning,
            format!(
                "The restart was accepted, not shown: {settings} read as written, and whether they outlive a restart \
                 is unknown. Unplug the board and plug it in again, then read them."
            ),
        ),
    }
}

/// Whether every channel with an arm band is heard and outside it.
fn outside_all(live: &Signals, then: &Facts) -> bool {
    let Some(channels) = live.channels.last() else { return then.arm_bands.is_empty() };
    !channels.value.turn_on(&then.arm_bands)
}
