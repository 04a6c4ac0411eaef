//! Proof of the idle that stands on the board, by real starts, without searching.

use crate::bench::procedures::arm_switch::ArmSwitch;
use crate::bench::procedures::judged::{driven, judge, proved_there};
use crate::bench::procedures::voided::advice;
use crate::bench::session::context::SessionContext;
use crate::language::units::Pulse;
use crate::measure::reliability::shows;
use crate::plan::step::Guard;
use crate::seam::fault::Fault;
use crate::seam::ui::{StartSeen, Tone, UiEvent};
use std::time::Duration;

impl SessionContext {
    /// Starts all motors `starts` times at the idle on the board, and gives what was seen with how long each start was: a
    /// stabiliser that winds up may have made them shorter.
    ///
    /// # Errors
    /// [`Fault::Unproved`] with the corner that failed, or a guard.
    pub async fn test_idle(
        &self,
        pulse: Pulse,
        starts: u32,
        mut dwell: Duration,
        guards: &[Guard],
        arm: &ArmSwitch,
    ) -> Result<(Vec<StartSeen>, Duration), Fault> {
        let mut seen = Vec::new();
        let asked = dwell;
        let look_at = "every motor: does it start at once, and turn evenly?";
        let left =
            |start: u32, dwell: Duration| arm.step("test of the idle", pulse, dwell, starts - start + 1, look_at);
        let mut ok = self.confirm_in_place(&left(1, dwell), arm).await?;
        let (mut start, mut voids) = (1, 0);
        while start <= starts {
            self.before_next(&mut ok, arm, dwell).await?;
            let heard = match self.start_by_switch(&mut ok, guards, arm, dwell, (start, starts)).await? {
                Ok(heard) => heard,
                Err(none) => {
                    if !self.made_again(arm, (&mut ok, &mut voids), none).await? {
                        ok = self.confirm_in_place(&left(start, dwell), arm).await?;
                    }
                    continue;
                }
            };
            if let Some(push) = &heard.pushed {
                self.arm_switch_off(arm).await?;
                let why = self.why_pushed(push);
                if self.shorter(push, &mut dwell).await? {
                    // What was shown by longer starts is shown of shorter ones as well.
                    ok = self.confirm_in_place(&left(start, dwell), arm).await?;
                    continue;
                }
                return Err(Fault::Unproved(format!(
                    "idle {pulse}: start {start} of {starts} tells nothing: {why}{}",
                    advice(push, self.shortest())
                )));
            }
            let facts = self.facts()?;
            self.keep_samples_of_start(&heard, &facts.corners);
            let judged = judge(&heard, &facts, pulse, start);
            let Some(judged) = self.told_of_turning(judged).await? else {
                ok = self.confirm_in_place(&left(start, dwell), arm).await?;
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
            if !bad.is_empty() {
                self.arm_switch_off(arm).await?;
                return Err(unproved(pulse, &format!("start {start} of {starts}: {}", bad.join(", "))));
            }
            start += 1;
        }
        self.arm_switch_off(arm).await?;
        let said = if seen.iter().any(StartSeen::is_told) { ", as you said" } else { "" };
        if seen.iter().any(StartSeen::is_unseen) && !self.all_smooth(pulse, true, !said.is_empty()).await? {
            return Err(unproved(pulse, "a motor started late, or was rough, as told"));
        }
        let shown = shows(starts, 1, &proved_there(pulse, driven(seen.iter())));
        self.line(
            Tone::Good,
            format!(
                "Idle {pulse}: {starts} of {starts} starts{}{said}, without propellers: {shown}.",
                of_each(dwell, asked)
            ),
        );
        Ok((seen, dwell))
    }
}

/// How long each start was, where it was not what was asked.
pub(in crate::bench) fn of_each(dwell: Duration, asked: Duration) -> String {
    if dwell == asked { String::new() } else { format!(" of {} s, as the stabiliser winds up", dwell.as_secs_f64()) }
}

/// A value that failed is on the board all the same, and whoever flies next meets it.
fn unproved(pulse: Pulse, why: &str) -> Fault {
    let why = why.trim_end_matches('.');
    Fault::Unproved(format!(
        "idle {pulse}: {why}. The board still has {pulse}, which did not do: search a higher idle before the propellers \
         go on, or put the old one back with `restore`"
    ))
}
