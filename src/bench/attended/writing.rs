//! The steps that change the board: write, store, restart, each with its three states.

use crate::bench::attended::job::RunJob;
use crate::bench::attended::run_state::RunState;
use crate::bench::operations::settings::Door;
use crate::bench::procedures::gesture::BY_HAND;
use crate::bench::session::context::SessionContext;
use crate::interlock::ChangeStep;
use crate::interlock::craft::Facts;
use crate::interlock::signals::Signals;
use crate::plan::step::Write;
use crate::record::WriteState;
use crate::seam::fault::Fault;
use crate::seam::ui::{Gesture, Tone};

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
        door: Door<'_>,
    ) -> Result<(), Fault> {
        self.clear_of_new_band(job, knows, writes).await?;
        self.journal_intent(job, step, writes).await?;
        let result = self.write_and_read(writes, door).await;
        let state = if result.is_ok() { WriteState::ReadBack } else { WriteState::Failed };
        for write in writes {
            knows.progress.unsaved.insert(write.name.clone());
        }
        self.journal_outcome(job, step, state).await?;
        result?;
        for write in writes {
            let words = format!("{} = {}", write.setting, write.shown);
            self.not_kept.borrow_mut().insert(write.name.clone(), words);
            if knows.sheet.settings.get("signal").is_some_and(|entry| entry.name == write.name) {
                knows.progress.signal_changed = true;
            }
        }
        for (index, write) in writes.iter().enumerate() {
            // A band is closed first and opened last: only what stands in the end is told.
            if !writes[index + 1..].iter().any(|later| later.name == write.name) {
                self.line(Tone::Good, format!("{} = {}  (read back)", write.setting, write.shown));
            }
        }
        self.take_facts(&job.title, &knows.sheet, &knows.identity)
    }

    async fn write_and_read(&self, writes: &[Write], door: Door<'_>) -> Result<(), Fault> {
        let intent = writes.iter().map(|write| (write.name.clone(), write.to)).collect();
        let still = self.enter(door, ChangeStep { intent, ..door.step() }).await?;
        self.stored_unseen.set(false);
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
        let outside = |bench: &Self| bench.look(|live| outside_all(live, &then));
        if outside(self) {
            return Ok(());
        }
        let named =
            knows.card.switches.iter().find(|(_, entry)| then.arm_bands.iter().any(|band| band.0 == entry.channel));
        let which = named.map_or("the switch".to_owned(), |(switch, _)| format!("switch {}", switch.0));
        self.line(
            Tone::Warning,
            format!("Arm is not bound while {which} stands inside the new band: it would arm at once."),
        );
        let gesture = named.map_or(Gesture::AllSwitches { last: false }, |(switch, _)| Gesture::SwitchTo {
            switch: switch.clone(),
            position: 0,
        });
        self.gesture(gesture, &format!("Put {which} to position 0."), BY_HAND, outside).await
    }

    /// Has the board store its settings.
    ///
    /// # Errors
    /// Not still, refused, or the disk.
    pub async fn store_step(&self, job: &RunJob, step: usize, door: Door<'_>) -> Result<(), Fault> {
        self.journal_intent(job, step, &[]).await?;
        let still = self.enter(door, ChangeStep { store: true, ..door.step() }).await?;
        self.store_settings(&still).await?;
        self.stored_unseen.set(true);
        self.journal_outcome(job, step, WriteState::Stored).await
    }

    /// Restarts the board and reads back what must have outlived it.
    ///
    /// # Errors
    /// Not back, another board, or another value.
    pub async fn restart_step(
        &self,
        job: &RunJob,
        knows: &mut RunState,
        step: usize,
        expect: &[Write],
        door: Door<'_>,
    ) -> Result<(), Fault> {
        let still = self.enter(door, ChangeStep { restart: true, ..door.step() }).await?;
        self.restart(still, &knows.identity).await?;
        let result = self.read_back(expect).await;
        let state = if result.is_ok() { WriteState::KeptOverRestart } else { WriteState::Failed };
        self.journal_outcome(job, step, state).await?;
        result?;
        knows.progress.unsaved.clear();
        self.not_kept.borrow_mut().clear();
        self.stored_unseen.set(false);
        let there = crate::plan::titles::count(expect.len(), "setting");
        self.line(Tone::Good, format!("Restarted; the same board is back, {there} still there."));
        self.take_facts(&job.title, &knows.sheet, &knows.identity)
    }
}

/// Whether every channel with an arm band is heard and outside it.
fn outside_all(live: &Signals, then: &Facts) -> bool {
    let Some(channels) = live.channels.last() else { return then.arm_bands.is_empty() };
    then.arm_bands
        .iter()
        .all(|(channel, ..)| channels.value.of(*channel).is_none_or(|pulse| !then.arms_at(*channel, pulse)))
}
