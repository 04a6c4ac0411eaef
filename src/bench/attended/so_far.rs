//! How far a run and a search have come, kept outside of what a stop drops, for going on from there.
//!
//! Must not be here: whether anything goes on (see `tried_again`).

use crate::bench::attended::run_state::RunState;
use crate::board::sheet::Settings;
use crate::board::value::SettingName;
use crate::language::units::Pulse;
use crate::measure::bracket::Bracket;
use crate::measure::time::Time;
use crate::plan::step::IdlePlan;
use crate::seam::ui::StartSeen;
use std::collections::BTreeSet;

/// What of it is under way.
#[derive(Debug, Default)]
pub struct SoFar {
    /// The run.
    pub run: Option<RunSoFar>,
    /// The idle search of its step.
    pub search: Option<SearchSoFar>,
    /// After a stop the battery was asked out, for going on.
    pub battery_asked_out: bool,
    /// A motor was seen to turn whose cable is to be pulled out.
    pub turns_on_a_cable: bool,
    /// The cable went while a motor turned, as it was to; until when that might turn.
    pub without_cable_until: Option<Time>,
}

/// How far a run has come.
#[derive(Debug, Clone)]
pub struct RunSoFar {
    /// All settings, and what earlier runs had written and not kept, at its beginning.
    pub before: Settings,
    /// See [`RunSoFar::before`].
    pub unsaved_before: BTreeSet<SettingName>,
    /// What it knew as the step under way began.
    pub knows: RunState,
    /// The first statement that is not done.
    pub next: usize,
}

/// How far an idle search has come.
#[derive(Debug, Clone)]
pub struct SearchSoFar {
    plan: IdlePlan,
    /// Before the value under way.
    bracket: Bracket,
    /// Every start before it.
    seen: Vec<StartSeen>,
    /// It is gone on with, and not begun anew.
    goes_on: bool,
}

impl SoFar {
    /// A search comes to a value.
    pub fn searches(&mut self, plan: &IdlePlan, bracket: &Bracket, seen: &[StartSeen]) {
        let (plan, bracket, seen) = (plan.clone(), bracket.clone(), seen.to_vec());
        self.search = Some(SearchSoFar { plan, bracket, seen, goes_on: false });
    }

    /// The search of this step is gone on with, if there is one.
    pub fn goes_on(&mut self) {
        self.search.iter_mut().for_each(|search| search.goes_on = true);
    }

    /// The plan, how far it has come and what was seen till then: of the same search where that is gone on with. What was on
    /// the board before is what was there before it began.
    pub fn search(&mut self, plan: &IdlePlan) -> (IdlePlan, Bracket, Vec<StartSeen>) {
        let before = |search: &SearchSoFar| -> Pulse { search.plan.before };
        // Starts may have become shorter on the way.
        let dwell = |search: &SearchSoFar| search.plan.dwell.min(plan.dwell);
        let same = |search: &SearchSoFar| {
            search.plan == IdlePlan { before: before(search), dwell: dwell(search), ..plan.clone() }
        };
        match self.search.take().filter(|search| search.goes_on && same(search)) {
            Some(search) => (search.plan, search.bracket, search.seen),
            None => (plan.clone(), Bracket::default(), Vec::new()),
        }
    }
}
