//! The idle search: the lowest pulse at which every motor starts every time and turns evenly, plus
//! the margin; which value comes next says `measure::bracket`.
//!
//! Never past `at most`; a value that failed is never kept; without a result the old value is put
//! back. Must not be here: how a start is guarded (see `turn`), how a motor is judged (see `measure`).

use crate::bench::procedures::arm_switch::ArmSwitch;
use crate::bench::procedures::judged::{driven, drives_it, judge};
use crate::bench::procedures::voided::advice;
use crate::bench::session::context::SessionContext;
use crate::interlock::{Confirmed, guards};
use crate::language::units::Pulse;
use crate::measure::bracket::Next;
use crate::measure::catching;
use crate::plan::step::{Guard, IdlePlan, Write};
use crate::seam::fault::Fault;
use crate::seam::ui::{About, BoardChange, IdleFound, MotorStep, OVERTIME, Reply, StartSeen, Tone, UiEvent};

/// So many starts of one value that the stabiliser voided end the search.
const VOID_TRIES: u32 = 4;
/// How one value did.
pub(in crate::bench) enum Value {
    /// Every motor turned in every start of it.
    Proved,
    /// This start failed.
    Failed(StartSeen),
}

impl SessionContext {
    /// Runs the search. `change` writes one value of the idle with its intent in the journal.
    ///
    /// # Errors
    /// A guard, a declined question, or [`Fault::NotFound`] with the corner that failed.
    pub async fn search_idle(
        &self,
        plan: &IdlePlan,
        guards: &[Guard],
        arm: &ArmSwitch,
        change: &mut impl AsyncFnMut(Pulse, &mut Confirmed) -> Result<(), Fault>,
    ) -> Result<IdleFound, Fault> {
        let (mut plan, mut bracket, mut starts) = self.so_far.borrow_mut().search(plan);
        let plan = &mut plan;
        let values: Vec<i32> = plan.values.iter().map(|value| value.0).collect();
        let mut failed: Option<StartSeen> = None;
        while let Some(next) = bracket.next(&values) {
            self.so_far.borrow_mut().searches(plan, &bracket, &starts);
            let tried = match next {
                Next::Prove(place) => {
                    self.prove_value(plan.values[place], plan, guards, arm, (&mut starts, change)).await
                }
                Next::One(place) => {
                    let value = plan.values[place];
                    self.line(Tone::Plain, format!("One start at {value}, to find out near which value to look."));
                    let seen = self.starts_at(value, 1, plan, guards, arm, (&mut starts, change)).await;
                    seen.map(|failed| failed.map_or(Value::Proved, Value::Failed))
                }
            };
            match (tried, next) {
                (Ok(Value::Proved), Next::Prove(place)) => {
                    return self.keep_idle(plan.values[place], plan, starts, false, change).await;
                }
                (Ok(Value::Proved), Next::One(_)) => bracket.tried(next, true),
                (Ok(Value::Failed(seen)), _) => {
                    bracket.tried(next, false);
                    let idle = drives_it(&seen);
                    failed = Some(seen);
                    // No other value tells more of motors that the board leaves at rest.
                    if !idle {
                        break;
                    }
                }
                (Err(fault), _) => {
                    // A typed no or a search without a result; after anything else nothing more is written.
                    let ends = matches!(
                        fault,
                        Fault::Declined { .. } | Fault::NotFound(_) | Fault::TimedOut { .. } | Fault::Hand(_)
                    );
                    if ends {
                        self.so_far.borrow_mut().search = None;
                        self.put_back(plan, change).await;
                    }
                    return Err(fault);
                }
            }
        }
        self.so_far.borrow_mut().search = None;
        self.put_back(plan, change).await;
        self.show(UiEvent::Idle(self.none_found(plan, starts)));
        Err(Fault::NotFound(not_found(plan, failed.as_ref())))
    }

    /// All starts that prove a value, and the operator's word that they were smooth.
    pub(in crate::bench) async fn prove_value(
        &self,
        value: Pulse,
        plan: &mut IdlePlan,
        guards: &[Guard],
        arm: &ArmSwitch,
        (seen, change): (&mut Vec<StartSeen>, &mut impl AsyncFnMut(Pulse, &mut Confirmed) -> Result<(), Fault>),
    ) -> Result<Value, Fault> {
        if let Some(failed) = self.starts_at(value, plan.starts, plan, guards, arm, (seen, change)).await? {
            return Ok(Value::Failed(failed));
        }
        let of_value = || seen.iter().filter(|start| start.pulse == value);
        let (unseen, told) = (of_value().any(StartSeen::is_unseen), of_value().any(StartSeen::is_told));
        if self.all_smooth(value, unseen, told).await? {
            return Ok(Value::Proved);
        }
        let last =
            seen.last().cloned().unwrap_or(StartSeen { pulse: value, start: 0, driven: None, motors: Vec::new() });
        Ok(Value::Failed(last))
    }

    /// So many starts of one value, confirmed by its typed pulse; ends at the first that failed, and gives it. They get
    /// shorter where a stabiliser winds up before they are over, and the operator says so.
    pub(in crate::bench) async fn starts_at(
        &self,
        value: Pulse,
        starts: u32,
        plan: &mut IdlePlan,
        guards: &[Guard],
        arm: &ArmSwitch,
        (seen, change): (&mut Vec<StartSeen>, &mut impl AsyncFnMut(Pulse, &mut Confirmed) -> Result<(), Fault>),
    ) -> Result<Option<StartSeen>, Fault> {
        let mut start = 1;
        let (mut voided, mut left_alone) = (0, false);
        let mut voids = 0;
        let mut ok = None;
        while start <= starts {
            self.ready_for_start(plan, guards, arm).await?;
            if ok.is_none() {
                let look_at = "every motor: does it start at once, and turn evenly?";
                let mut step = arm.step("idle search", value, plan.dwell, starts - start + 1, look_at);
                let changes = self.idle_now(plan) != Some(value);
                if changes {
                    step.change = idle_change(plan, value);
                }
                let mut confirmed = self.confirm(step).await?;
                // Nothing of it reaches the board before its word was typed: a changed idle can turn motors.
                if changes {
                    change(value, &mut confirmed).await?;
                }
                ok = Some(confirmed);
                self.ready_for_start(plan, guards, arm).await?;
            }
            let Some(confirmed) = ok.as_mut() else { continue };
            let heard = match self.start_by_switch(confirmed, guards, arm, plan.dwell, (start, starts)).await {
                Ok(Ok(heard)) => heard,
                Ok(Err(none)) => {
                    if !self.made_again(arm, (confirmed, &mut voids), none).await? {
                        ok = None;
                    }
                    continue;
                }
                // Something took longer than the answer stands: nothing turned, it is asked again.
                Err(Fault::StaleAnswer) => {
                    ok = None;
                    continue;
                }
                Err(fault) => return Err(fault),
            };
            if let Some(push) = &heard.pushed {
                voided += 1;
                let why = self.why_pushed(push);
                self.line(Tone::Warning, format!("This start does not count: {why}"));
                self.arm_switch_off(arm).await?;
                // The same again would come to the same.
                let again = voided < VOID_TRIES
                    && (self.changed_something(&mut left_alone).await? || self.shorter(push, &mut plan.dwell).await?);
                if !again {
                    let why = crate::bench::session::context::capital(&why);
                    let advice = advice(push, self.shortest());
                    return Err(Fault::NotFound(format!(
                        "The stabiliser kept driving the motors apart at {value}. {why}{advice}"
                    )));
                }
                // The confirmed number of starts is used up by one that did not count.
                ok = None;
                continue;
            }
            let facts = self.facts()?;
            self.keep_samples_of_start(&heard, &facts.corners);
            let judged = judge(&heard, &facts, value, start);
            let Some(judged) = self.told_of_turning(judged).await? else {
                // The answer to its word is used up by a start that counts for nothing.
                ok = None;
                continue;
            };
            self.show(UiEvent::Start(judged.clone()));
            seen.push(judged.clone());
            if judged.motors.iter().any(|motor| !motor.turns) {
                self.arm_switch_off(arm).await?;
                return Ok(Some(judged));
            }
            start += 1;
        }
        self.arm_switch_off(arm).await?;
        Ok(None)
    }

    /// Level, switch off, heat: what must be so before each start, waited for disarmed.
    async fn ready_for_start(&self, plan: &IdlePlan, guards: &[Guard], arm: &ArmSwitch) -> Result<(), Fault> {
        self.arm_switch_off(arm).await?;
        self.wait_still().await?;
        self.mind_the_heat(plan.dwell + OVERTIME).await?;
        let now = self.now();
        if self.look(|live| guards::level(live, plan.level, now)).is_err() {
            self.require_level(plan.level).await?;
        }
        self.interlock().all_hold(&without_answer(guards), None)
    }

    /// Asks what no signal tells. `unseen`: nor did the link show that every motor caught at once; `told`: nor any speed.
    pub(in crate::bench) async fn all_smooth(&self, value: Pulse, unseen: bool, told: bool) -> Result<bool, Fault> {
        let how = if told { "as you said of each start" } else { "and kept its speed, as measured" };
        let mut lines = vec![format!("Every motor turned every time at {value}, {how}.")];
        if let Some(every) = self.speeds_every() {
            // Half the rate of the samples (Shannon 1949, doi 10.1109/JRPROC.1949.232969).
            let hertz = (0.5 / every.as_secs_f64()).floor();
            lines.push(format!("What hunts faster than {hertz} times a second speeds can't show: listen for it."));
        }
        let (title, smooth, rough) = if unseen {
            let ms = catching::AT_ONCE.as_millis();
            lines
                .push(format!("The link is too slow to show whether each caught within {ms} ms of the others' start."));
            (
                "Did all motors start at once, and look smooth?",
                "at once and smooth, all of them",
                "one was late or rough",
            )
        } else {
            ("Did all motors sound and look smooth?", "all smooth", "one was rough")
        };
        let choices = vec![('s', smooth.to_owned()), ('r', format!("{rough}: the next value"))];
        let question = self.question(About::Smooth { pulse: value }, title, lines, Reply::Choice(choices));
        let smooth = self.ask_choice(question, "whether the motors were smooth").await? == 's';
        if smooth {
            let started = if unseen { "started at once and were" } else { "were" };
            self.noted(Tone::Attested, format!("All motors {started} smooth at {value}."));
        }
        Ok(smooth)
    }

    pub(in crate::bench) async fn keep_idle(
        &self,
        lowest: Pulse,
        plan: &IdlePlan,
        starts: Vec<StartSeen>,
        chosen: bool,
        change: &mut impl AsyncFnMut(Pulse, &mut Confirmed) -> Result<(), Fault>,
    ) -> Result<IdleFound, Fault> {
        let of_lowest: Vec<&StartSeen> = starts.iter().filter(|start| start.pulse == lowest).collect();
        let driven = driven(of_lowest.into_iter());
        // Less than what was proved is not kept, however small the margin.
        let proved = driven.map_or(lowest, |driven| driven.max(lowest));
        let kept = Pulse((lowest.0 + plan.margin.0).max(proved.0).min(plan.at_most.0));
        self.change_idle(plan, kept, "keeping the idle with its margin", change).await?;
        let none = self.none_found(plan, starts);
        let found = IdleFound { lowest: Some(lowest), kept, proved_starts: plan.starts, driven, chosen, ..none };
        self.show(UiEvent::Idle(found.clone()));
        self.margin(&found);
        self.full_pack(lowest, kept);
        Ok(found)
    }

    /// The starts of a search, and no idle.
    fn none_found(&self, plan: &IdlePlan, starts: Vec<StartSeen>) -> IdleFound {
        IdleFound {
            starts,
            lowest: None,
            margin: plan.margin,
            kept: plan.before,
            proved_starts: 0,
            dwell: plan.dwell,
            driven: None,
            among: u32::try_from(plan.values.len()).unwrap_or(u32::MAX),
            volts: self.volts(),
            chosen: false,
        }
    }

    /// Puts the old value back after a search without a result; says so where even that fails.
    pub(in crate::bench) async fn put_back(
        &self,
        plan: &IdlePlan,
        change: &mut impl AsyncFnMut(Pulse, &mut Confirmed) -> Result<(), Fault>,
    ) {
        if self.change_idle(plan, plan.before, "putting the old idle back", change).await.is_ok() {
            self.line(Tone::Plain, format!("The old idle of {} is back on the board.", plan.before));
        } else {
            self.line(Tone::Warning, format!("The old idle of {} could not be put back.", plan.before));
        }
    }

    /// The idle as the board has it.
    fn idle_now(&self, plan: &IdlePlan) -> Option<Pulse> {
        self.look(|live| live.settings.get(&plan.name).copied()).and_then(|number| plan.scale.pulse(number))
    }

    /// Another idle without a start: with the battery in it is confirmed by its own word, as it could turn motors.
    async fn change_idle(
        &self,
        plan: &IdlePlan,
        to: Pulse,
        purpose: &str,
        change: &mut impl AsyncFnMut(Pulse, &mut Confirmed) -> Result<(), Fault>,
    ) -> Result<(), Fault> {
        if self.idle_now(plan) == Some(to) {
            return Ok(());
        }
        let step = MotorStep::of_change(purpose.to_owned(), to, format!("write {}", to.0), idle_change(plan, to));
        let mut confirmed = self.confirm(step).await?;
        change(to, &mut confirmed).await
    }
}

/// The guards that hold before the question is asked.
fn without_answer(guards: &[Guard]) -> Vec<Guard> {
    guards
        .iter()
        .filter(|guard| !matches!(guard, Guard::Confirmed | Guard::PropsOff | Guard::Antenna))
        .cloned()
        .collect()
}

/// One idle value as it comes to its question: written, and kept over a restart where it takes one.
fn idle_change(plan: &IdlePlan, value: Pulse) -> BoardChange {
    let Write { name, to, restart, .. } = idle_write(plan, value);
    BoardChange { writes: vec![(name, to)], store: restart, restart }
}

/// The write of one idle value.
#[must_use]
pub fn idle_write(plan: &IdlePlan, value: Pulse) -> Write {
    Write {
        name: plan.name.clone(),
        to: plan.scale.number(value),
        setting: "idle".to_owned(),
        shown: value.to_string(),
        restart: plan.restart,
        ordered: true,
    }
}

fn not_found(plan: &IdlePlan, failed: Option<&StartSeen>) -> String {
    let last = plan.values.last().copied().unwrap_or(plan.before);
    let corners: Vec<String> = failed
        .iter()
        .flat_map(|seen| seen.motors.iter().filter(|motor| !motor.turns))
        .map(|motor| format!("{} ({})", motor.corner, motor.judged))
        .collect();
    if let Some((seen, driven)) = failed.filter(|seen| !drives_it(seen)).and_then(|seen| Some((seen, seen.driven?))) {
        return format!(
            "No start says anything of the idle: armed at {}, the board drove no motor above {driven}. Either its motors rest \
             at zero throttle, or the sheet gives another setting as the idle or as what happens at zero throttle.",
            seen.pulse
        );
    }
    let which = if corners.is_empty() { "a motor judged rough by the operator".to_owned() } else { corners.join(", ") };
    format!(
        "No idle up to {last} starts every motor: at the last value it was {which}. Common causes: a bearing, a screw that \
         is too long and touches the winding, a broken winding, the speed controller's start-up setting, or a strike. \
         The recipe's limit is {} with the margin.",
        plan.at_most
    )
}
