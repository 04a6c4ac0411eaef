//! Proof of the cut: armed at idle, switch off, and every output at rest in time. The worst counts.
//!
//! Commanded output decides; coasting is only told.

use crate::bench::procedures::again::NoStart;
use crate::bench::procedures::arm_switch::ArmSwitch;
use crate::bench::procedures::ended_early::Early;
use crate::bench::procedures::streams::{BEFORE, driven};
use crate::bench::session::context::SessionContext;
use crate::interlock::signals::{Channels, Signals};
use crate::interlock::{Breaks, Tested};
use crate::language::units::Pulse;
use crate::measure::intervals::{self, Against, Took};
use crate::measure::time::Time;
use crate::plan::step::Guard;
use crate::seam::fault::Fault;
use crate::seam::ui::{Gesture, MotorStep, MotorTest, Placement, Tone, UiEvent};
use std::time::Duration;

/// How often it is repeated.
const REPEATS: u32 = 3;
/// How long the motors turn before the switch is asked off.
const TURNS: Duration = Duration::from_secs(1);
/// How long the operator may take.
const BY_HAND: Duration = Duration::from_millis(1500);

impl SessionContext {
    /// Cuts three times; gives the worst as an interval.
    ///
    /// # Errors
    /// [`Fault::Unproved`] with the figure, or a guard.
    pub async fn test_cut(
        &self,
        within: Duration,
        guards: &[Guard],
        arm: &ArmSwitch,
        idle: Pulse,
    ) -> Result<Took, Fault> {
        // What the link cannot show turns no motor.
        self.can_show(within).await.map_err(unclear)?;
        let cut = self.cuts(within, guards, arm, idle).await;
        self.tested(Tested::Cut, &cut);
        cut
    }

    async fn cuts(&self, within: Duration, guards: &[Guard], arm: &ArmSwitch, idle: Pulse) -> Result<Took, Fault> {
        let look_at = "the motors: they stop when the switch goes off.";
        let step = arm.step("test of the cut", idle, TURNS + BY_HAND, REPEATS, look_at);
        let step = MotorStep { test: Some(MotorTest::Cut), ..step };
        let mut ok = self.confirm_in_place(&step, arm).await?;
        let mut cuts = Vec::new();
        let (mut repeat, mut voids) = (1, 0);
        while repeat <= REPEATS {
            self.before_next(&mut ok, arm, TURNS + BY_HAND).await?;
            match self.one_cut(&mut ok, guards, arm, (repeat, within)).await? {
                Ok(cut) => {
                    let measured = format!("Cut {repeat} of {REPEATS}: {cut} from switch to rest");
                    self.noted(Tone::Measured, format!("{measured}."));
                    cuts.push(cut);
                    repeat += 1;
                    if repeat <= REPEATS {
                        self.show(UiEvent::Passing(format!("{measured}; wait for cut {repeat}.")));
                    }
                }
                Err(none) => {
                    if !self.made_again(arm, (&mut ok, &mut voids), none).await? {
                        let rest = MotorStep { starts: REPEATS - repeat + 1, ..step.clone() };
                        ok = self.confirm_in_place(&rest, arm).await?;
                    }
                }
            }
        }
        self.arm_switch_off(arm).await?;
        let worst = intervals::worst(&cuts).ok_or_else(|| Fault::Unproved("cut: nothing was measured".to_owned()))?;
        if worst.against(within) != Against::Within {
            return Err(Fault::Unproved(format!("cut: at worst {worst}, {} ms allowed", within.as_millis())));
        }
        self.line(Tone::Good, format!("Cut: at worst {worst}, {} ms allowed.", within.as_millis()));
        Ok(worst)
    }

    async fn one_cut(
        &self,
        ok: &mut crate::interlock::Confirmed,
        guards: &[Guard],
        arm: &ArmSwitch,
        (repeat, within): (u32, Duration),
    ) -> Result<Result<Took, NoStart>, Fault> {
        self.turn(ok, guards, Breaks::default(), async |clearance| {
            let entered = self.now();
            let told = Placement::first(repeat);
            let sentence =
                format!("Cut {repeat} of {REPEATS}: switch {} to position {}.", arm.switch.0, arm.first_on());
            let armed = match self.switched_on(clearance, arm, sentence, told).await {
                Ok(armed) => armed,
                Err(missed) => return Ok(Err(NoStart::Missed(missed))),
            };
            if let Some(early) = self.until(armed + TURNS, |bench| bench.ended_early(arm, entered, armed)).await {
                self.comes_off(clearance, arm).await?;
                return Ok(Err(early.words(arm, armed, TURNS)));
            }
            let from = self.now();
            let off = Gesture::SwitchTo { switch: arm.switch.clone(), position: 0 };
            let by_hand = self.start_ends_at(clearance);
            let sentence = format!("Now switch {} back to position 0.", arm.switch.0);
            self.invite_told(off, sentence, by_hand.since(from), told);
            let rested =
                self.until(by_hand, |bench| (bench.look(Signals::last_at_rest) == Some(true)).then_some(())).await;
            if rested.is_none() {
                let (ended, off) = (self.now(), self.went_off(arm, entered));
                self.disarm(clearance).await?;
                // A hand that came too late for the limit, or went back, says nothing of the board.
                if off.is_some_and(|off| ended.since(off) > within) && !self.went_on_again(arm, entered) {
                    return Err(Fault::Unproved("cut: the outputs did not come to rest by the switch".to_owned()));
                }
                let switch = &arm.switch.0;
                let late = format!("Disarmed by command: switch {switch} was not switched off in time to measure it.");
                return Ok(Err(NoStart::Voided(late)));
            }
            // Channels and outputs come on streams of their own: both must have shown the change.
            self.sleep(Duration::from_millis(200)).await;
            if self.went_on_again(arm, entered) {
                self.disarm(clearance).await?;
                return Ok(Err(NoStart::Voided(format!("Switch {} went on again at once.", arm.switch.0))));
            }
            // What the switch did before it was asked for came only now.
            match self.went_off(arm, entered).filter(|off| *off < from) {
                Some(off) => Ok(Err(Early::Hand(off).words(arm, armed, TURNS))),
                None => self.cut_interval(arm, from).map(Ok),
            }
        })
        .await
    }

    /// From the switch leaving the armed band, as the channels show it, to every output at rest.
    fn cut_interval(&self, arm: &ArmSwitch, from: Time) -> Result<Took, Fault> {
        let facts = self.facts()?;
        let channel = arm.entry.channel;
        let told = self.told_since(from - BEFORE);
        let on = |c: &Channels| c.of(channel).is_some_and(|pulse| facts.arms_at(channel, pulse));
        let switch: Vec<(Time, bool)> = told.first.iter().map(|(at, channels)| (*at, on(channels))).collect();
        let cause = intervals::ended(&switch).map_err(unclear)?;
        let effect = intervals::ended(&driven(&told.second)).map_err(unclear)?;
        let took = intervals::between(cause, effect).widened(told.doubt);
        let zero = (cause.before, "the switch leaves the armed band, at the earliest");
        let name = format!("channel of switch {}", arm.switch.0);
        self.keep_samples_to_rest(zero, took, (&name, &told.first), channel, &told.second);
        Ok(took)
    }
}

fn unclear(error: intervals::IntervalError) -> Fault {
    Fault::Unproved(format!("cut: {error}"))
}
