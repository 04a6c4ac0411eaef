//! The compiler: walks the statements once, in order, and lays down steps.
//!
//! Promises: pure and deterministic; statements keep their order; every refusal is collected with its
//! place; nothing is left out silently. Must not be here: how one kind of statement becomes steps (see
//! `batch`, `motor`, `search`, `requires`).

use super::fingerprint;
use super::inputs::Inputs;
use super::motor_layout;
use super::predicted::{Known, PredictedState};
use super::problem::{PlanError, Problem};
use super::step::{Action, Change, Guard, Plan, Remark, Step, Unknown};
use super::titles;
use super::wanted::Batch;
use crate::board::effect::Effect;
use crate::board::identity;
use crate::board::value::SettingName;
use crate::language::recipe::{Form, Part, Recipe, Statement, StatementKind};
use crate::language::span::{Place, Span};
use crate::record::Proof;
use std::collections::BTreeMap;

/// Makes the plan of a recipe for one board.
///
/// # Errors
/// Everything that keeps the recipe from being carried out on this board, each with its place.
pub fn compile(inputs: &Inputs) -> Result<Plan, Vec<PlanError>> {
    let mut planner = Planner::new(inputs);
    planner.head();
    for (index, statement) in inputs.recipe.statements.iter().enumerate() {
        planner.declare(index, statement);
        if index >= inputs.progress.next {
            planner.statement(index, statement);
        }
        planner.bound_by(statement);
    }
    planner.finish()
}

/// Where the recipe asks for something.
#[derive(Debug, Clone)]
pub(super) struct Spot {
    pub statement: usize,
    pub at: Place,
}

pub(super) struct Planner<'a> {
    pub inputs: &'a Inputs<'a>,
    pub ahead: PredictedState,
    pub batch: Batch,
    pub steps: Vec<Step>,
    pub errors: Vec<PlanError>,
    pub unknown: Vec<Unknown>,
    pub remarks: Vec<Remark>,
    /// The place that changed a setting last.
    pub changed_at: BTreeMap<SettingName, Place>,
    /// Proofs that made a search needless.
    pub proofs: Vec<&'a Proof>,
}

impl<'a> Planner<'a> {
    fn new(inputs: &'a Inputs<'a>) -> Self {
        let mut planner = Self {
            inputs,
            ahead: PredictedState::new(inputs),
            batch: Batch::default(),
            steps: Vec::new(),
            errors: Vec::new(),
            unknown: Vec::new(),
            remarks: Vec::new(),
            changed_at: BTreeMap::new(),
            proofs: Vec::new(),
        };
        // What the board has no more, as after a change of its firmware, can't be stored either.
        for (name, number) in inputs.progress.unsaved.iter().filter_map(|name| inputs.settings.get_key_value(name)) {
            let write = planner.write_of(name, *number);
            planner.ahead.unsaved.insert(name.clone(), Some(write));
        }
        planner
    }

    pub fn recipe(&self) -> &'a Recipe {
        self.inputs.recipe
    }

    pub fn spot(&self, statement: usize) -> Spot {
        let statements = &self.recipe().statements;
        let span =
            statements.get(statement).or_else(|| statements.last()).map_or(&self.recipe().title.span, |s| &s.span);
        Spot { statement, at: self.recipe().place(span) }
    }

    pub fn refuse_at(&mut self, span: &Span, problem: Problem) {
        let error = PlanError { at: self.recipe().place(span), problem };
        if !self.errors.contains(&error) {
            self.errors.push(error);
        }
    }

    pub fn refuse(&mut self, statement: usize, problem: Problem) {
        self.refuse_part(statement, None, problem);
    }

    pub fn refuse_part(&mut self, statement: usize, part: Option<Part>, problem: Problem) {
        let recipe = self.recipe();
        let Some(found) = recipe.statements.get(statement).or_else(|| recipe.statements.last()) else {
            return self.refuse_at(&recipe.title.span, problem);
        };
        self.refuse_at(part.map_or(&found.span, |part| found.part(part)), problem);
    }

    /// A remark on the plan as a whole.
    pub fn remark(&mut self, text: String) {
        self.note(Remark { line: None, text });
    }

    /// A remark on a statement's line.
    pub fn remark_at(&mut self, statement: usize, text: String) {
        self.note(Remark { line: Some(self.spot(statement).at.line), text });
    }

    fn note(&mut self, remark: Remark) {
        if !self.remarks.contains(&remark) {
            self.remarks.push(remark);
        }
    }

    pub fn push(&mut self, spot: &Spot, act: Action, effect: Effect, guards: Vec<Guard>) {
        let number = self.steps.len() + 1;
        self.steps.push(Step { number, statement: spot.statement, act, effect, guards, at: spot.at.clone() });
    }

    /// Whether recipe, sheet and board belong together at all.
    fn head(&mut self) {
        let Inputs { recipe, sheet, card, identity, settings, .. } = *self.inputs;
        if recipe.is_part {
            self.refuse_at(&recipe.title.span, Problem::Part);
        }
        if let Some((frame, span)) = recipe.craft.as_ref().map(|craft| (craft.value.frame, &craft.span)) {
            let (corners, motors) = (sheet.corners.len(), frame.motors());
            if corners != motors {
                self.refuse_at(span, Problem::MotorCount { corners, motors });
            } else if let Err(error) = motor_layout::corners(frame, sheet) {
                self.refuse_at(span, Problem::Layout(error));
            }
        }
        if let Some(first) = recipe.boards.first()
            && !recipe.boards.iter().any(|board| board.value == sheet.board)
        {
            let wanted = recipe.boards.iter().map(|board| board.value.clone()).collect();
            self.refuse_at(&first.span, Problem::OtherBoard { wanted, found: sheet.board.clone() });
        }
        if let Some(first) = recipe.firmware.first()
            && !recipe.firmware.iter().any(|wanted| firmware_matches(&wanted.value.0, &identity.firmware))
        {
            let wanted = recipe.firmware.iter().map(|firmware| firmware.value.0.clone()).collect();
            self.refuse_at(&first.span, Problem::Firmware { wanted, found: identity.firmware.clone() });
        }
        if card.is_virtual && !identity.is_virtual() {
            self.refuse_at(&recipe.title.span, Problem::VirtualCard(card.radio.clone()));
        }
        if let Err(mismatch) = identity::matches(sheet, identity, settings) {
            let span = recipe.boards.first().map_or(&recipe.title.span, |board| &board.span);
            self.refuse_at(span, Problem::SheetMismatch(mismatch));
        }
    }

    /// What a statement declares for all that follow, whether it is still to do or done.
    fn declare(&mut self, index: usize, statement: &Statement) {
        match &statement.what {
            StatementKind::Require(require) => self.rule(require),
            StatementKind::DeclareSwitch { switch, channel, rests, momentary, on_loss } => {
                let (rests, momentary, on_loss) = (rests.clone(), *momentary, *on_loss);
                if let Some(said) = on_loss {
                    self.loss_seen_otherwise(index, *channel, said);
                }
                self.declare_switch(switch, Known { channel: *channel, rests, noise: None, momentary, on_loss });
            }
            StatementKind::FindSwitch { switch, anew, .. } => self.find_ahead(index, switch, *anew),
            StatementKind::Battery { cells, .. } => self.ahead.rules.cells = Some(*cells),
            StatementKind::Signal { .. } => self.ahead.signal_stated = true,
            _ => {}
        }
    }

    fn statement(&mut self, index: usize, statement: &Statement) {
        let what = &statement.what;
        if self.setting(index, what) {
            return;
        }
        match what {
            StatementKind::Note(text) => {
                let spot = self.spot(index);
                self.push(&spot, Action::Note(text.clone()), Effect::Looks, Vec::new());
                return;
            }
            StatementKind::DeclareSwitch { .. } => return,
            _ => self.close_batch(),
        }
        match what {
            StatementKind::Require(require) => self.require(index, require),
            StatementKind::Expect { setting, value } => self.expect(index, setting, value),
            StatementKind::FindSwitch { switch, positions, momentary, .. } => {
                self.find_switch(index, switch, *positions, *momentary);
            }
            StatementKind::FindSticks { anew } => self.find_sticks(index, *anew),
            StatementKind::TestSticks { centre, ends } => self.test_sticks(index, *centre, *ends),
            StatementKind::FindLinkLoss { anew } => self.find_link_loss(index, *anew),
            StatementKind::IdleSearch(search) => self.idle_search(index, search),
            StatementKind::TestIdle { starts } => self.test_idle(index, *starts),
            StatementKind::PowerCycle => self.power_cycle(index),
            StatementKind::TestMotors => self.test_motors(index),
            StatementKind::OrderMotors => self.order_motors(index),
            StatementKind::TestAttitude => self.test_attitude(index),
            StatementKind::CalibrateLevel => self.calibrate_level(index),
            StatementKind::CalibrateBattery => self.calibrate_battery(index),
            StatementKind::TestArm => self.test_arm(index),
            StatementKind::TestCut { within } => self.test_cut(index, *within),
            StatementKind::TestFailsafe { within } => self.test_failsafe(index, *within),
            StatementKind::TestBuzzer => self.test_buzzer(index),
            StatementKind::Keep => self.keep(index),
            StatementKind::Pause(text) => {
                let spot = self.spot(index);
                self.push(&spot, Action::Pause(text.clone()), Effect::Asks, Vec::new());
            }
            StatementKind::Waiting { form, names, .. } => {
                self.refuse(index, Problem::Waiting { form: form.words(), names: names.clone() });
            }
            // Taken into the open batch above, or said before it was closed.
            StatementKind::Note(_)
            | StatementKind::DeclareSwitch { .. }
            | StatementKind::Receiver { .. }
            | StatementKind::Channels(_)
            | StatementKind::Bind { .. }
            | StatementKind::Unbind(_)
            | StatementKind::AtZeroThrottle(_)
            | StatementKind::IdleAt(_)
            | StatementKind::Signal { .. }
            | StatementKind::BoardTurned(_)
            | StatementKind::Failsafe(_)
            | StatementKind::Battery { .. }
            | StatementKind::Set { .. } => {}
        }
    }

    fn finish(mut self) -> Result<Plan, Vec<PlanError>> {
        self.close_batch();
        // Nobody else's is stored by who has nothing of their own to keep.
        if !self.inputs.progress.more_follows && self.has_own_to_keep() {
            self.keep(self.recipe().statements.len());
        }
        self.signal_carried();
        if !self.errors.is_empty() {
            return Err(causes(self.errors, self.inputs.recipe));
        }
        self.judge_cycles();
        let changes = self.changes();
        let Inputs { recipe, sheet, identity, .. } = *self.inputs;
        Ok(Plan {
            title: recipe.title.value.clone(),
            board: sheet.board.clone(),
            identity: identity.clone(),
            fingerprint: fingerprint::of(self.inputs, &self.proofs),
            steps: self.steps,
            changes,
            unknown: self.unknown,
            remarks: self.remarks,
        })
    }

    fn changes(&self) -> Vec<Change> {
        let mut changes: Vec<Change> = Vec::new();
        for (name, to) in &self.ahead.settings {
            let Some(from) = self.inputs.settings.get(name).filter(|from| !from.same(*to)) else { continue };
            let Some(at) = self.changed_at.get(name).filter(|_| !self.ahead.open.contains(name)) else { continue };
            changes.push(self.naming().change(name, *from, *to, at));
        }
        changes.sort_by(|a, b| (&a.at, &a.on_board).cmp(&(&b.at, &b.on_board)));
        changes
    }

    /// A remark where the battery goes in more often than the recipe needs.
    fn judge_cycles(&mut self) {
        let ins: Vec<&Step> = self.steps.iter().filter(|step| matches!(step.act, Action::BatteryIn)).collect();
        let cycles = self.recipe().statements.iter().filter(|s| matches!(s.what, StatementKind::PowerCycle)).count();
        if ins.len() > cycles.max(1) {
            let again: Vec<String> = ins.iter().map(|step| step.at.line.to_string()).collect();
            let text = format!(
                "The battery goes in {} (lines {}), and every time it was out the propellers are asked again: \
                 move `find link loss` and `require battery out` above the first step that needs the battery.",
                titles::count(ins.len(), "time"),
                again.join(", ")
            );
            self.remark(text);
        }
    }
}

/// Refusals that have a cause of their own: without those that a statement which waits for a value may mend, and each
/// value that is missing once.
fn causes(mut errors: Vec<PlanError>, recipe: &Recipe) -> Vec<PlanError> {
    let waits = |wanted: Form| {
        recipe.statements.iter().any(|s| matches!(s.what, StatementKind::Waiting { form, .. } if form == wanted))
    };
    let mut told: Vec<Vec<String>> = Vec::new();
    errors.retain(|error| match &error.problem {
        Problem::ArmNotBound | Problem::NotBound(_) | Problem::BoundElsewhere { .. } => !waits(Form::Bind),
        Problem::NoSwitch(_) => !waits(Form::DeclareSwitch) && !waits(Form::FindSwitch),
        Problem::NoCells(_) => !waits(Form::Battery),
        Problem::Waiting { names, .. } => {
            let first = !told.contains(names);
            told.push(names.clone());
            first
        }
        _ => true,
    });
    errors
}

/// `2.4` matches 2.4 and 2.4.x; three numbers match exactly.
fn firmware_matches(wanted: &str, found: &str) -> bool {
    found == wanted
        || (wanted.split('.').count() == 2 && found.strip_prefix(wanted).is_some_and(|rest| rest.starts_with('.')))
}
