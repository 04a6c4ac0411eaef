//! Proof of the idle that stands on the board, by real starts, without searching.

use crate::bench::procedures::judged::judge;
use crate::bench::procedures::start::ArmSwitch;
use crate::bench::session::context::SessionContext;
use crate::language::units::Pulse;
use crate::measure::reliability::at_least;
use crate::plan::step::Guard;
use crate::seam::fault::Fault;
use crate::seam::ui::{MotorStep, OVERTIME, StartSeen, Tone, UiEvent};
use std::time::Duration;

impl SessionContext {
    /// Starts all motors `starts` times at the idle on the board.
    ///
    /// # Errors
    /// [`Fault::Unproved`] with the corner that failed, or a guard.
    pub async fn test_idle(
        &self,
        pulse: Pulse,
        starts: u32,
        dwell: Duration,
        guards: &[Guard],
        arm: &ArmSwitch,
    ) -> Result<Vec<StartSeen>, Fault> {
        let mut seen = Vec::new();
        let step =
            arm.step("test of the idle", pulse, dwell, starts, "every motor: does it start at once, and turn evenly?");
        let mut ok = self.confirm_in_place(&step, arm).await?;
        let (mut start, mut voids) = (1, 0);
        while start <= starts {
            self.arm_switch_off(arm).await?;
            self.wait_still().await?;
            self.mind_the_heat(dwell + OVERTIME).await?;
            self.still_confirmed(&mut ok, arm).await?;
            let heard = match self.start_by_switch(&mut ok, guards, arm, dwell, (start, starts)).await? {
                Ok(heard) => heard,
                Err(none) => {
                    self.arm_switch_off(arm).await?;
                    if !self.made_again(&mut ok, &mut voids, none).await? {
                        let rest = MotorStep { starts: starts - start + 1, ..step.clone() };
                        ok = self.confirm_in_place(&rest, arm).await?;
                    }
                    continue;
                }
            };
            let facts = self.facts()?;
            self.keep_samples_of_start(&heard, &facts.corners);
            let judged = judge(&heard, &facts, pulse, start);
            let Some(judged) = self.told_of_turning(judged).await? else {
                let rest = MotorStep { starts: starts - start + 1, ..step.clone() };
                ok = self.confirm_in_place(&rest, arm).await?;
                continue;
            };
            self.show(UiEvent::Start(judged.clone()));
            let bad: Vec<String> = judged
                .motors
                .iter()
                .filter(|motor| !motor.turns)
                .map(|motor| format!("{}: {}", motor.corner, motor.judged))
                .collect();
            seen.push(judged);
            if heard.pushed.is_some() || !bad.is_empty() {
                self.arm_switch_off(arm).await?;
                let why = heard.pushed.map_or_else(|| bad.join(", "), |push| self.why_pushed(&push));
                return Err(unproved(pulse, &format!("start {start} of {starts}: {why}")));
            }
            start += 1;
        }
        self.arm_switch_off(arm).await?;
        let said = if seen.iter().any(StartSeen::is_told) { ", as you said" } else { "" };
        if seen.iter().any(StartSeen::is_unseen) && !self.all_smooth(pulse, true, !said.is_empty()).await? {
            return Err(unproved(pulse, "a motor started late, or was rough, as told"));
        }
        let share = at_least(starts, 1);
        self.line(
            Tone::Good,
            format!("Idle {pulse}: {starts} of {starts} starts{said}. So a start probability of at least {share} % (95 %), without propellers."),
        );
        Ok(seen)
    }
}

/// A value that failed is on the board all the same, and whoever flies next meets it.
fn unproved(pulse: Pulse, why: &str) -> Fault {
    let why = why.trim_end_matches('.');
    Fault::Unproved(format!(
        "idle {pulse}: {why}. The board still has {pulse}, which did not do: search a higher idle before the propellers \
         go on, or put the old one back with `restore`"
    ))
}
