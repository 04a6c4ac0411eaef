//! Proof of the cut: armed at idle, switch off, and every output at rest in time. The worst counts.
//!
//! Commanded output decides; coasting is only told.

use crate::bench::procedures::start::ArmSwitch;
use crate::bench::procedures::streams::{BEFORE, driven};
use crate::bench::session::context::SessionContext;
use crate::interlock::signals::{Channels, at_rest};
use crate::interlock::{Breaks, INVITATION};
use crate::language::units::Pulse;
use crate::measure::intervals::{self, Against, Took};
use crate::measure::time::Time;
use crate::plan::step::Guard;
use crate::seam::fault::Fault;
use crate::seam::ui::{Gesture, OVERTIME, Tone};
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
        let step = arm.step(
            "test of the cut",
            idle,
            TURNS + BY_HAND,
            REPEATS,
            "the motors: they stop when the switch goes off.",
        );
        let mut ok = self.confirm_in_place(&step, arm).await?;
        let mut cuts = Vec::new();
        for repeat in 1..=REPEATS {
            self.arm_switch_off(arm).await?;
            self.wait_still().await?;
            self.mind_the_heat(TURNS + BY_HAND + OVERTIME).await?;
            self.still_confirmed(&mut ok, arm).await?;
            let cut = self.one_cut(&mut ok, guards, arm, repeat).await?;
            self.line(Tone::Measured, format!("Cut {repeat} of {REPEATS}: {cut} from switch to rest."));
            cuts.push(cut);
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
        repeat: u32,
    ) -> Result<Took, Fault> {
        self.turn(ok, guards, Breaks::default(), async |clearance| {
            let on = Gesture::SwitchTo { switch: arm.switch.clone(), position: arm.first_on() };
            self.invite(
                on,
                format!("Cut {repeat} of {REPEATS}: switch {} to position {}.", arm.switch.0, arm.first_on()),
                INVITATION,
            );
            self.armed(clearance).await?;
            self.sleep(TURNS).await;
            let from = self.now();
            let off = Gesture::SwitchTo { switch: arm.switch.clone(), position: 0 };
            self.invite(off, format!("Now switch {} back to position 0.", arm.switch.0), BY_HAND);
            let rested = self
                .until(self.now() + BY_HAND + Duration::from_secs(1), |bench| {
                    bench.look(|live| live.outputs.last().is_some_and(|s| at_rest(&s.value))).then_some(())
                })
                .await;
            if rested.is_none() {
                self.disarm(clearance).await?;
                return Err(Fault::Unproved("cut: the outputs did not come to rest by the switch".to_owned()));
            }
            // Channels and outputs come on streams of their own: both must have shown the change.
            self.sleep(Duration::from_millis(200)).await;
            self.cut_interval(arm, from)
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
        Ok(intervals::between(cause, effect).widened(told.doubt))
    }
}

fn unclear(error: intervals::IntervalError) -> Fault {
    Fault::Unproved(format!("cut: {error}"))
}
