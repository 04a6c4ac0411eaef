//! Proof of the arm switch: disarmed in every position but the bound ones, armed in those, refused
//! with the throttle raised, and never armed by a switch that stood on already.

use crate::bench::procedures::gesture::BY_HAND;
use crate::bench::procedures::start::ArmSwitch;
use crate::bench::session::context::SessionContext;
use crate::interlock::Clearance;
use crate::interlock::guards;
use crate::interlock::signals::{Pack, Signals};
use crate::interlock::{Breaks, INVITATION};
use crate::language::units::Pulse;
use crate::plan::step::Guard;
use crate::seam::fault::Fault;
use crate::seam::ui::{BoardChange, Gesture, MotorStep, Motors, StartedBy, Tone};
use std::time::Duration;

/// How long the flag may take to follow a switch.
const FOLLOWS: Duration = Duration::from_millis(600);
/// How long a board may take to tell its flag again.
const TELLS: Duration = Duration::from_millis(2500);
/// Longest armed time in one position.
const LONGEST: Duration = Duration::from_secs(3);

impl SessionContext {
    /// Walks all positions of the arm switch.
    ///
    /// # Errors
    /// [`Fault::Unproved`] with the position, or a guard.
    pub async fn test_arm(&self, guards: &[Guard], arm: &ArmSwitch, idle: Pulse) -> Result<(), Fault> {
        let powered = self.pack() != Pack::Out;
        let step = arm_step(arm, idle, powered);
        let breaks = Breaks { arms_again: true, throttle: !powered, ..Breaks::default() };
        let mut ok = self.confirm_in_place(&step, arm).await?;
        let walked = self.turn(&mut ok, guards, breaks, async |clearance| {
            self.walk_positions(clearance, arm).await?;
            if !powered {
                self.refused_with_throttle(arm).await?;
            }
            Ok(())
        });
        let walked = walked.await;
        if walked.is_ok() || matches!(walked, Err(Fault::Unproved(_))) {
            self.interlock_mut().arm_tested(walked.is_ok());
        }
        walked?;
        self.line(Tone::Good, format!("Switch {} arms in {} and nowhere else.", arm.switch.0, positions(&arm.on)));
        Ok(())
    }

    async fn walk_positions(&self, clearance: &mut Clearance, arm: &ArmSwitch) -> Result<(), Fault> {
        let count = u32::try_from(arm.entry.rests.len()).unwrap_or(0);
        let mut ever = false;
        for position in (0..count).chain([0]) {
            let gesture = Gesture::SwitchTo { switch: arm.switch.clone(), position };
            let sentence = format!("Put switch {} to position {position}.", arm.switch.0);
            self.invite_again(clearance);
            self.invite(gesture, sentence.clone(), INVITATION);
            let there = self
                .until(self.now() + INVITATION, |bench| (bench.position_of(&arm.entry) == Some(position)).then_some(()))
                .await;
            there.ok_or(Fault::TimedOut { what: sentence, seconds: INVITATION.as_secs() })?;
            let want = arm.on.contains(&position);
            if want && !ever {
                self.armed(clearance, arm).await?;
                ever = true;
            }
            let armed = self.flag_after(FOLLOWS).await;
            if armed != Some(want) {
                let is = if armed == Some(true) { "armed" } else { "not armed" };
                return Err(Fault::Unproved(format!(
                    "arm: with switch {} in position {position} the board is {is}",
                    arm.switch.0
                )));
            }
            self.line(Tone::Measured, format!("Position {position}: {}.", if want { "armed" } else { "not armed" }));
        }
        Ok(())
    }

    /// The flag as the board tells it once it had time to follow a switch, and for as long as what it tells may be late:
    /// on a board that tells it rarely, the next one.
    async fn flag_after(&self, follows: Duration) -> Option<bool> {
        let from = self.now() + follows + self.look(Signals::flag_limit);
        let told = move |bench: &Self| {
            bench.look(|live| live.armed.last().filter(|flag| flag.at >= from).map(|flag| flag.value))
        };
        self.until(from + TELLS, told).await
    }

    /// With the battery out only: a raised throttle must keep the board from arming.
    async fn refused_with_throttle(&self, arm: &ArmSwitch) -> Result<(), Fault> {
        let facts = self.facts()?;
        let up = |bench: &Self| {
            let now = bench.now();
            bench.look(|live| guards::throttle_low(live, &facts, now).is_err())
        };
        self.gesture(Gesture::ThrottleUp, "Raise the throttle stick by a quarter and hold it.", BY_HAND, up).await?;
        let on = arm.first_on();
        self.switch_to(&arm.switch, &arm.entry, on).await?;
        if self.flag_after(FOLLOWS).await != Some(false) {
            return Err(Fault::Unproved("arm: the board armed with the throttle raised".to_owned()));
        }
        // Now down again with the switch still on: that must not arm either.
        let low = |bench: &Self| !up(bench);
        self.gesture(Gesture::ThrottleDown, "Pull the throttle stick down; leave the switch on.", BY_HAND, low).await?;
        if self.flag_after(FOLLOWS).await != Some(false) {
            return Err(Fault::Unproved("arm: a switch that stood on already armed the board".to_owned()));
        }
        self.line(Tone::Measured, "Refused with the throttle raised, and by a switch that stood on already.");
        self.switch_to(&arm.switch, &arm.entry, 0).await
    }
}

fn positions(on: &[u32]) -> String {
    let list: Vec<String> = on.iter().map(u32::to_string).collect();
    format!("{} {}", if on.len() == 1 { "position" } else { "positions" }, list.join(", "))
}

fn arm_step(arm: &ArmSwitch, idle: Pulse, powered: bool) -> MotorStep {
    MotorStep {
        purpose: "test of the arm switch".to_owned(),
        pulse: idle,
        longest: LONGEST,
        motors: if powered { Motors::All } else { Motors::None },
        starts: 1,
        by: StartedBy::Switch { switch: arm.switch.clone(), on: arm.first_on(), off: 0 },
        look_at: if powered {
            "the motors: they turn in the armed positions only.".to_owned()
        } else {
            "the battery: it stays out; the armed flag is measured.".to_owned()
        },
        radio_off: false,
        change: BoardChange::default(),
    }
}
