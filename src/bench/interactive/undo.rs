//! Takes back the last statement that changed the board: planned, shown and verified like any change.
//!
//! Must not be here: the order of its writes (see `plan::restore`).

use crate::bench::attended::{Task, steps};
use crate::bench::interactive::draft::Kept;
use crate::bench::interactive::session::{Changed, InteractiveSession};
use crate::board::sheet::Settings;
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
        let Some((title, mut knows)) = self.title_and_knows() else { return Ok(()) };
        let job = self.run_job(&title, Task::TakeBack(wanted));
        let plan = knows.plan(bench, &job)?;
        bench.show(UiEvent::Plan(Rc::new(plan.clone())));
        let result = steps(bench, &job, &mut knows, plan, &mut ()).await;
        if result.is_err() {
            self.say_what_broke_off().await;
        }
        let held = bench.look(|live| live.settings.clone());
        self.with(|state| {
            state.knows = knows;
            state.held = held;
        });
        self.note_kept();
        result?;
        self.taken_back(&last);
        Ok(())
    }

    /// What a statement that failed left on the board.
    pub(in crate::bench) async fn say_what_broke_off(&self) {
        let bench = &self.bench;
        let said = bench.read_what_broke_off().await;
        for line in bench.what_is_unread().into_iter().chain(said) {
            bench.line(Tone::Warning, line);
        }
    }

    fn taken_back(&self, last: &Changed) {
        self.log("undo", format!("took back: {}", last.text));
        self.with(|state| {
            state.changes.pop();
            let since: Vec<Kept> = state.draft.kept.iter().filter(|kept| !last.stood.contains(kept)).cloned().collect();
            state.draft.kept.clone_from(&last.stood);
            state.draft.kept.extend(since.into_iter().filter(outlives));
        });
        let kept_otherwise = self.bench.ledger.borrow().open().any(|(name, _)| last.values.contains_key(name));
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
