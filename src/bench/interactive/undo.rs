//! Takes back the last statement that changed the board: planned, shown and verified like any change.
//!
//! Must not be here: the order of its writes (see `plan::restore`).

use crate::bench::attended::{Task, steps};
use crate::bench::interactive::draft::Kept;
use crate::bench::interactive::session::{Changed, InteractiveSession};
use crate::board::sheet::Settings;
use crate::board::value::SettingName;
use crate::language::recipe::StatementKind;
use crate::seam::fault::Fault;
use crate::seam::ui::{Tone, UiEvent};
use std::rc::Rc;

/// What no undo takes back.
const STAYS: &str = "Starts, tests, what was found of the radio, and a power cycle cannot be taken back.";

impl InteractiveSession {
    /// Takes the last change back.
    ///
    /// # Errors
    /// What ended it before its end.
    pub(in crate::bench) async fn undo(&self) -> Result<(), Fault> {
        let bench = &self.bench;
        if self.with(|state| state.changes.is_empty()) == Some(false) {
            self.writable().await?;
        }
        let Some(Some(last)) = self.with(|state| state.changes.last().cloned()) else {
            bench.line(Tone::Plain, format!("Nothing that this session wrote is left to take back. {STAYS}"));
            return Ok(());
        };
        bench.line(Tone::Plain, format!("Taking back: {}", last.text));
        let wanted: Settings = last.values.iter().map(|(name, (before, _))| (name.clone(), *before)).collect();
        let Some((title, mut knows)) = self.with(|state| (state.title.clone(), state.knows.clone())) else {
            return Ok(());
        };
        let job = self.run_job(&title, Task::TakeBack(wanted));
        let plan = knows.plan(bench, &job)?;
        bench.show(UiEvent::Plan(Rc::new(plan.clone())));
        self.may_be_stored(&plan);
        let result = steps(bench, &job, &mut knows, plan).await;
        let held = bench.look(|live| live.settings.clone());
        self.with(|state| {
            state.knows = knows;
            state.held = held;
        });
        self.as_stored();
        self.note_kept();
        result?;
        self.taken_back(&last);
        Ok(())
    }

    /// What stands on the board as it is stored needs no `keep`.
    fn as_stored(&self) {
        let bench = &self.bench;
        self.with(|state| {
            let stored = |name: &SettingName| {
                state.stored.get(name).zip(state.held.get(name)).is_some_and(|(stored, held)| stored.same(*held))
            };
            bench.not_kept.borrow_mut().retain(|name, _| !stored(name));
            state.knows.progress.unsaved.retain(|name| !stored(name));
        });
    }

    fn taken_back(&self, last: &Changed) {
        self.log("undo", format!("took back: {}", last.text));
        self.with(|state| {
            state.changes.pop();
            let since: Vec<Kept> = state.draft.kept.iter().filter(|kept| !last.stood.contains(kept)).cloned().collect();
            state.draft.kept.clone_from(&last.stood);
            state.draft.kept.extend(since.into_iter().filter(outlives));
        });
        let kept_otherwise = self.bench.not_kept.borrow().keys().any(|name| last.values.contains_key(name));
        if last.kept && kept_otherwise {
            self.bench.line(
                Tone::Warning,
                "It had been kept: after a restart the board has it again, unless you type `keep` now.",
            );
        }
        self.bench.line(Tone::Plain, STAYS);
    }
}

/// Whether a later statement stands by itself, whatever was taken back before it.
fn outlives(kept: &Kept) -> bool {
    kept.left.is_empty()
        && matches!(
            kept.statement.what,
            StatementKind::Require(_)
                | StatementKind::FindSwitch { .. }
                | StatementKind::DeclareSwitch { .. }
                | StatementKind::FindLinkLoss { .. }
                | StatementKind::FindSticks { .. }
                | StatementKind::Note(_)
        )
}
