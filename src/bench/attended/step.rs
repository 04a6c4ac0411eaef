//! One step of a plan: hands it to its procedure and takes up what came of it.

use crate::bench::attended::arm_switch::arm_switch;
use crate::bench::attended::job::RunJob;
use crate::bench::attended::run_state::RunState;
use crate::bench::attended::writing::of_writes;
use crate::bench::operations::settings::Door;
use crate::bench::procedures::idle_search::idle_write;
use crate::bench::procedures::judged::proved_there;
use crate::bench::procedures::test_idle::of_each;
use crate::bench::session::context::SessionContext;
use crate::board::effect::Effect;
use crate::board::sheet::Settings;
use crate::board::{binding, convert};
use crate::interlock::Confirmed;
use crate::interlock::signals::Pack;
use crate::language::ceilings;
use crate::language::recipe::{Function, Stick};
use crate::language::setting_word::SettingWord;
use crate::language::units::Pulse;
use crate::measure::reliability;
use crate::measure::rounding::millis_up;
use crate::plan::door::StepDoor;
use crate::plan::facts::{LINK_LOSS, held, idle_depends_on, level_depends_on, names, voltage_depends_on};
use crate::plan::motor_layout::Puttable;
use crate::plan::motor_order::run_pulse;
use crate::plan::step::{Action, Guard, IdlePlan, Step};
use crate::plan::titles::title;
use crate::record::ProofSubject;
use crate::seam::fault::Fault;
use crate::seam::ui::{BoardChange, IdleFound, MotorStep, StartSeen, Tone};
use std::time::Duration;

/// How long a signal that a guard needs may be late.
const LATE: Duration = Duration::from_secs(3);

impl SessionContext {
    /// Carries out one step. `true`: the rest has to be planned again.
    ///
    /// # Errors
    /// What ended it.
    pub async fn carry_out(&self, job: &RunJob, knows: &mut RunState, step: &Step) -> Result<bool, Fault> {
        self.interlock_mut().step_on_props();
        if step.act.door() == StepDoor::Looks {
            self.enter_look(&step.guards).await?;
        }
        let mut confirmed = self.confirm_change(step).await?;
        let turns_motors = step.effect == Effect::TurnsMotors;
        let door = &mut Door { guards: &step.guards, turns_motors, confirmed: confirmed.as_mut() };
        match &step.act {
            // The step's own title quotes it.
            Action::Note(_) => {}
            Action::Pause(text) => self.pause(text).await?,
            Action::AttestPropsOff => self.ensure_props_off().await?,
            Action::AttestAntenna => self.require_antenna().await?,
            Action::Attest(text) => self.require_attested(text).await?,
            Action::RequireThrottleLow => self.require_throttle_low().await?,
            Action::RequireDisarmed => self.require_disarmed()?,
            Action::RequireLevel(most) => self.require_level(*most).await?,
            Action::RequireBatteryAtLeast { per_cell, cells } => self.require_battery_at_least(*per_cell, *cells)?,
            Action::RequireSwitch { switch, position, .. } => {
                let entry = knows.switch(switch)?;
                self.require_switch(switch, &entry, *position).await?;
            }
            Action::Expect { name, value, setting, shown } => {
                let found = self.read(name).await?;
                if !found.same(*value) {
                    let fault =
                        Fault::Unexpected { setting: setting.clone(), found: found.to_string(), wanted: shown.clone() };
                    return Err(fault);
                }
                self.line(Tone::Measured, format!("{setting} is {shown}, as the recipe expects."));
            }
            Action::BatteryIn => self.battery_in_step(job, knows, step.number, &step.guards).await?,
            Action::BatteryOut { cycle: true } => self.battery_out_for_a_cycle().await?,
            Action::BatteryOut { cycle: false } => self.battery_out().await?,
            Action::Write(writes) => self.write_batch(job, knows, step.number, writes, door).await?,
            Action::Store => self.store_step(job, step.number, door).await?,
            Action::Restart { expect } => self.restart_step(job, knows, step.number, expect, door).await?,
            Action::FindSwitch { switch, positions, momentary, known } => {
                self.find_switch_step(job, knows, (switch, *positions, *momentary, *known), &step.guards).await?;
                return Ok(true);
            }
            Action::FindSticks { known } => {
                self.find_sticks_step(job, knows, *known, &step.guards).await?;
            }
            Action::CalibrateLevel { .. } | Action::CalibrateBattery { .. } => {
                self.calibrate_step(job, knows, step).await?;
                return Ok(true);
            }
            Action::FindLinkLoss => {
                self.find_link_loss_step(job, knows, &step.guards).await?;
                return Ok(true);
            }
            Action::Later { what } => {
                return Err(Fault::Plan(format!("This step was never planned to its end: {what}")));
            }
            Action::IdleSearch(plan) | Action::IdleByHand(plan) => {
                self.idle_step(job, knows, step, plan).await?;
                return Ok(true);
            }
            Action::OrderMotors(plan) => {
                self.order_step(job, knows, step, plan).await?;
                return Ok(true);
            }
            Action::TryOnUsb { .. } | Action::TryMotorRun { .. } | Action::TryCable { .. } => {
                self.try_claim(job, knows, step).await?;
            }
            Action::TestIdle { .. }
            | Action::TestArm { .. }
            | Action::TestCut { .. }
            | Action::TestFailsafe { .. }
            | Action::TestBuzzer { .. }
            | Action::TestMotors(_)
            | Action::TestSticks(_)
            | Action::TestAttitude
            | Action::ProveSignal { .. } => {
                self.prove(job, knows, step).await?;
            }
        }
        Ok(false)
    }

    /// The battery goes in; a board that came up with it is read anew.
    ///
    /// # Errors
    /// It did not go in, or something is otherwise than it was left.
    pub(super) async fn battery_in_step(
        &self,
        job: &RunJob,
        knows: &mut RunState,
        step: usize,
        guards: &[Guard],
    ) -> Result<(), Fault> {
        let was_out = self.pack() != Pack::In;
        let wanted = self.wanted_after_restart(&[]);
        if let Some(evidence) = self.battery_in(guards).await? {
            self.take_facts(&job.title, &knows.sheet, &knows.identity)?;
            if !wanted.is_empty() {
                self.read_over_restart(job, knows, step, &wanted, evidence).await?;
            }
        }
        // Speed controllers choose their signal when the battery goes in.
        knows.progress.signal_changed &= !was_out;
        Ok(())
    }

    /// The door of a step that changes and drives nothing: a signal that is late is waited for a little.
    async fn enter_look(&self, guards: &[Guard]) -> Result<(), Fault> {
        let holds = |bench: &Self| bench.interlock().enter_look(guards).ok();
        self.until(self.now() + LATE, holds).await;
        self.interlock().enter_look(guards)
    }

    /// A change that can turn motors is confirmed by its word, like every other motor step.
    async fn confirm_change(&self, step: &Step) -> Result<Option<Confirmed>, Fault> {
        let (word, change) = match &step.act {
            Action::Write(writes) => ("write", of_writes(writes)),
            Action::Store => ("store", BoardChange { store: true, ..BoardChange::default() }),
            Action::Restart { .. } => ("restart", BoardChange { restart: true, ..BoardChange::default() }),
            _ => return Ok(None),
        };
        if !step.guards.contains(&Guard::Confirmed) {
            return Ok(None);
        }
        let idle = self.facts()?.idle.unwrap_or(ceilings::PULSE);
        let motor = MotorStep::of_change(title(&step.act), idle, word.to_owned(), change);
        self.confirm(motor).await.map(Some)
    }

    async fn prove(&self, job: &RunJob, knows: &mut RunState, step: &Step) -> Result<(), Fault> {
        let guards = step.guards.as_slice();
        let facts = self.facts()?;
        let subject = match &step.act {
            Action::TestIdle { starts, dwell, pulse, .. } => {
                let arm = arm_switch(&facts, &knows.card)?;
                self.self_level_off(knows, &arm.switch).await?;
                let (seen, shown) = self.test_idle(*pulse, *starts, *dwell, guards, &arm).await?;
                knows.measured.push(format!(
                    "Idle {pulse} shown by {} of {starts} starts{}{}, without propellers.",
                    seen.len(),
                    of_each(shown, *dwell),
                    told(&seen)
                ));
                idle_subject(*pulse, None, shown, *starts)
            }
            Action::TestArm { pulse, .. } => {
                let arm = arm_switch(&facts, &knows.card)?;
                self.test_arm(guards, &arm, *pulse).await?;
                knows.measured.push(format!("Arm on switch {} tested in every position.", arm.switch.0));
                ProofSubject::Arm
            }
            Action::TestCut { within, pulse, .. } => {
                let arm = arm_switch(&facts, &knows.card)?;
                let worst = self.test_cut(*within, guards, &arm, *pulse).await?;
                knows.measured.push(format!("Cut in {} ms at worst.", millis_up(worst.most)));
                ProofSubject::Cut { least_ms: worst.least.as_secs_f64() * 1e3, most_ms: worst.most.as_secs_f64() * 1e3 }
            }
            Action::TestFailsafe { within, pulse, .. } => {
                let arm = arm_switch(&facts, &knows.card)?;
                let took = self.test_failsafe(*within, guards, &arm, *pulse).await?;
                knows.measured.push(format!("Radio off: motors cut in {} ms at most.", millis_up(took.most)));
                ProofSubject::Failsafe {
                    least_ms: took.least.as_secs_f64() * 1e3,
                    most_ms: took.most.as_secs_f64() * 1e3,
                }
            }
            Action::TestBuzzer { by_motors, .. } => {
                let (switch, entry, on, off) = self.bound_switch(knows, "buzzer")?;
                if *by_motors {
                    self.sound_motors(guards, &switch, &entry, (on, off)).await?;
                } else {
                    self.test_buzzer(&switch, &entry, on, off).await?;
                }
                knows.measured.push(format!("Buzzer heard on switch {}.", switch.0));
                ProofSubject::Buzzer
            }
            Action::TestMotors(plan) => {
                let found = self.test_motors(plan, guards).await?;
                knows.measured.push("Every motor sits and turns as it should, as you said twice.".to_owned());
                let (corners, clockwise) = plan.layout.told(&found);
                ProofSubject::Motors { corners, clockwise }
            }
            Action::TestSticks(asked) => {
                knows.measured.push(self.test_sticks(asked, guards).await?);
                ProofSubject::Sticks
            }
            Action::TestAttitude => {
                let told = held(&knows.sheet, &self.look(|live| live.settings.clone()), SettingWord::BoardTurn)
                    .and_then(|(entry, number)| convert::amount(entry, number));
                self.test_attitude(told).await?;
                knows.measured.push("The board sees the craft tilted and turned as it is.".to_owned());
                ProofSubject::Attitude
            }
            Action::ProveSignal { signal, corners } => {
                let corners: Vec<String> = corners.iter().map(|corner| corner.0.clone()).collect();
                self.prove_signal(signal, &corners, run_pulse(facts.idle, &knows.sheet), guards).await?;
                knows.measured.push(format!("All motors answer to {signal}."));
                ProofSubject::Signal { signal: signal.clone() }
            }
            other => return Err(unsaid(other)),
        };
        self.proved(job, knows, subject).await
    }

    async fn idle_step(&self, job: &RunJob, knows: &mut RunState, step: &Step, plan: &IdlePlan) -> Result<(), Fault> {
        let arm = arm_switch(&self.facts()?, &knows.card)?;
        self.self_level_off(knows, &arm.switch).await?;
        // What the step asks of a start, level and pack, is judged at the start.
        let guards: Vec<Guard> = step.guards.iter().filter(|guard| !guard.is_of_a_start()).cloned().collect();
        let mut change = async |value: Pulse, confirmed: &mut Confirmed| -> Result<(), Fault> {
            let write = [idle_write(plan, value)];
            let door = &mut Door { guards: &guards, turns_motors: true, confirmed: Some(confirmed) };
            self.write_in_force(job, knows, step.number, &write, door, plan.restart).await
        };
        let (found, searched) = if matches!(step.act, Action::IdleByHand(_)) {
            // Values below the one that was chosen may never have been tried: no search proved it.
            (self.idle_by_hand(plan, &step.guards, &arm, &mut change).await?, None)
        } else {
            (self.search_idle(plan, &step.guards, &arm, &mut change).await?, Some(plan))
        };
        let subject = idle_subject(found.kept, searched, found.dwell, found.proved_starts);
        self.proved(job, knows, subject).await?;
        knows.measured.push(idle_words(&found, plan.dwell));
        Ok(())
    }

    /// The settings that a proof depends on, with the values they have now.
    pub(super) fn depends_on(&self, knows: &RunState, subject: &ProofSubject) -> Settings {
        let sheet = &*knows.sheet;
        let band_of = |function: &str| binding::settings_of(sheet, &Function(function.to_owned()));
        let names = match subject {
            ProofSubject::Buzzer => band_of("buzzer"),
            ProofSubject::Sticks => names(sheet, &Stick::ALL.map(Stick::channel_word)),
            ProofSubject::Attitude => names(sheet, &[SettingWord::BoardTurn]),
            ProofSubject::Level => level_depends_on(sheet),
            ProofSubject::Voltage => voltage_depends_on(sheet),
            ProofSubject::Arm => band_of("arm"),
            ProofSubject::Idle { .. } => idle_depends_on(sheet),
            // What the idle is has nothing to do with whether the speed controllers answer.
            ProofSubject::Signal { .. } => names(sheet, &[SettingWord::Signal]),
            ProofSubject::Motors { .. } => Puttable::of(sheet).names().cloned().collect(),
            ProofSubject::Cut { .. } => [idle_depends_on(sheet), band_of("arm")].concat(),
            ProofSubject::Failsafe { .. } => {
                [idle_depends_on(sheet), names(sheet, &LINK_LOSS), band_of("arm")].concat()
            }
        };
        self.look(|live| {
            names.into_iter().filter_map(|name| live.settings.get(&name).map(|value| (name.clone(), *value))).collect()
        })
    }
}

/// Of a step that comes where nobody has said how it is done.
pub(super) fn unsaid(act: &Action) -> Fault {
    Fault::Plan(format!("Nobody has said how this step is done: {}", title(act)))
}

fn idle_subject(pulse: Pulse, plan: Option<&IdlePlan>, dwell: Duration, starts: u32) -> ProofSubject {
    ProofSubject::Idle {
        pulse: pulse.0,
        start: plan.and_then(|plan| plan.values.first()).map(|value| value.0),
        step: plan.and_then(|plan| plan.values.get(1).map(|second| second.0 - plan.values[0].0)),
        at_most: plan.map(|plan| plan.at_most.0),
        margin: plan.map(|plan| plan.margin.0),
        dwell_ms: u64::try_from(dwell.as_millis()).unwrap_or(u64::MAX),
        starts,
    }
}

/// What stands apart of starts whose speeds nobody measured.
fn told(starts: &[StartSeen]) -> &'static str {
    if starts.iter().any(StartSeen::is_told) { ", as you said: this board told no speeds" } else { "" }
}

fn idle_words(found: &IdleFound, asked: Duration) -> String {
    let word = if found.chosen { "chosen" } else { "lowest" };
    let lowest = found.lowest.map_or_else(String::new, |lowest| format!("{word} {lowest} in "));
    let there = proved_there(found.lowest.unwrap_or(found.kept), found.driven);
    format!(
        "Idle {}: {lowest}{} of {} starts{}, {} {} values at most: {}; margin {}, no propellers{}.",
        found.kept,
        found.proved_starts,
        found.proved_starts,
        of_each(found.dwell, asked),
        if found.chosen { "chosen among" } else { "the first to pass of" },
        found.among,
        // The first value to pass was looked for: each that was tried could have passed by chance.
        reliability::shows(found.proved_starts, found.among, &there),
        found.margin,
        told(&found.starts),
    )
}
