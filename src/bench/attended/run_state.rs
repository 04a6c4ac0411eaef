//! What a run knows as it goes: settings, radio card, record, and where it stands.
//!
//! The plan is made from it, and made again after each find and each search.

use crate::bench::attended::job::{RunJob, Task};
use crate::bench::session::context::SessionContext;
use crate::board::radio_card::{RadioCard, SwitchEntry};
use crate::board::sheet::Sheet;
use crate::board::signals::Identity;
use crate::interlock::signals::Pack;
use crate::language::recipe::{Recipe, StatementKind, Switch};
use crate::plan::compile::compile;
use crate::plan::inputs::{Battery, Inputs, Progress};
use crate::plan::restore;
use crate::plan::step::{Plan, Unknown};
use crate::record::CraftRecord;
use crate::seam::fault::Fault;
use std::rc::Rc;

/// See the module.
#[derive(Debug, Clone)]
pub struct RunState {
    /// The sheet chosen.
    pub sheet: Rc<Sheet>,
    /// Who the board is.
    pub identity: Identity,
    /// The radio card with what was found since.
    pub card: RadioCard,
    /// The craft's record with what was proved since.
    pub record: CraftRecord,
    /// Where the run stands.
    pub progress: Progress,
    /// Ranges that were approved at the beginning.
    pub approved: Vec<Unknown>,
    /// What the recipe asked to be proved, and was not.
    pub unproved: Vec<String>,
    /// What the trial of a sheet saw otherwise than the sheet says.
    pub contradicted: Vec<String>,
    /// Sentences for the closing: what was measured.
    pub measured: Vec<String>,
}

impl RunState {
    /// Plans what is still to do.
    ///
    /// # Errors
    /// The recipe cannot be planned for this board as it is now, or a value left the approved range.
    pub fn plan(&mut self, bench: &SessionContext, job: &RunJob) -> Result<Plan, Fault> {
        bench.watches().knows(&self.card);
        self.progress.battery = match bench.pack() {
            Pack::In => Battery::In,
            Pack::Out => Battery::Out,
            Pack::Unknown => Battery::Unknown,
        };
        self.progress.more_follows = matches!(job.task, Task::Statement(_));
        self.progress.props_off = bench.interlock().props_off();
        self.progress.antenna_on = bench.interlock().antenna_on();
        self.progress.unsaved = bench.ledger.borrow().names();
        let settings = bench.look(|live| live.settings.clone());
        let recipe = match &job.task {
            Task::Recipe(recipe) | Task::FromPrompt(recipe) | Task::Statement(recipe) => recipe,
            Task::Trial(tried) => return self.plan_trial(bench, tried),
            Task::TakeBack(wanted) => {
                return restore::take_back(wanted, &self.sheet, &self.identity, &settings, &self.radio(bench))
                    .map_err(|errors| Fault::Plan(restore::refusals(&errors)));
            }
            Task::Restore(snapshot) => {
                let open = &self.progress.unsaved;
                return restore::plan(snapshot, &self.sheet, &self.identity, &settings, &self.radio(bench), open)
                    .map_err(|errors| Fault::Plan(restore::refusals(&errors)));
            }
        };
        let inputs = Inputs {
            recipe,
            sheet: &self.sheet,
            card: &self.card,
            record: &self.record,
            identity: &self.identity,
            settings: &settings,
            progress: self.progress.clone(),
            by_hand: matches!(job.task, Task::Statement(_) | Task::FromPrompt(_)),
        };
        let plan = compile(&inputs).map_err(Fault::Unplanned)?;
        self.within_approved(&plan)?;
        Ok(plan)
    }

    /// What is known of the radio now, for judging where a copy would bind arm.
    pub(super) fn radio(&self, bench: &SessionContext) -> restore::Radio<'_> {
        restore::Radio { card: &self.card, link_loss: &self.record.link_loss, heard: Some(bench.heard_channels()) }
    }

    fn within_approved(&self, plan: &Plan) -> Result<(), Fault> {
        for change in &plan.changes {
            let Some(range) = self.approved.iter().find(|unknown| unknown.setting == change.setting) else { continue };
            let to = change.to.real();
            if to < range.least || to > range.most {
                return Err(Fault::Plan(format!(
                    "{} would become {}, outside the {} to {} {} of the plan that was shown.",
                    change.setting, change.shown_to, range.least, range.most, range.unit
                )));
            }
        }
        Ok(())
    }

    /// What is known of a switch: found, on the card, or declared.
    ///
    /// # Errors
    /// Nothing is.
    pub fn switch(&self, switch: &Switch) -> Result<SwitchEntry, Fault> {
        self.card.switches.get(switch).cloned().ok_or_else(|| {
            Fault::Plan(format!("Nothing is known of switch {}: it is neither found nor declared.", switch.0))
        })
    }

    /// Channels of the sticks, where known.
    #[must_use]
    pub fn sticks(&self) -> Vec<u32> {
        self.card.sticks.values().map(|stick| stick.channel).collect()
    }

    /// Channels of other switches, as they were found in this run, or as the recipe itself says (of which no noise is known).
    pub fn taken_channels(&self, but: &Switch) -> Vec<(Switch, u32)> {
        let others = self.card.switches.iter().filter(|(switch, entry)| {
            *switch != but && (self.progress.found.contains(*switch) || entry.noise.is_none())
        });
        others.map(|(switch, entry)| (switch.clone(), entry.channel)).collect()
    }
}

/// The card with the switches that a recipe declares itself.
#[must_use]
pub fn with_declared(card: &RadioCard, recipe: Option<&Recipe>) -> RadioCard {
    let mut card = card.clone();
    for statement in recipe.into_iter().flat_map(|recipe| &recipe.statements) {
        if let StatementKind::DeclareSwitch { switch, channel, rests, momentary, on_loss } = &statement.what {
            let (channel, momentary, on_loss) = (*channel, *momentary, *on_loss);
            let entry = SwitchEntry { channel, rests: rests.clone(), noise: None, momentary, on_loss };
            card.switches.insert(switch.clone(), entry);
        }
    }
    card
}
