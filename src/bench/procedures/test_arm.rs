//! Proof of the arm switch: disarmed in every position but the bound ones, armed in those, refused
//! with the throttle raised, and never armed by a switch that stood on already.

use crate::bench::procedures::arm_switch::ArmSwitch;
use crate::bench::procedures::gesture::{BY_HAND, SETTLED, wrong_position};
use crate::bench::procedures::start::LAST;
use crate::bench::session::context::SessionContext;
use crate::interlock::Clearance;
use crate::interlock::guards;
use crate::interlock::signals::{Channels, Pack, Signals, at_rest};
use crate::interlock::{Breaks, INVITATION, Tested};
use crate::language::units::Pulse;
use crate::measure::time::Time;
use crate::plan::step::Guard;
use crate::seam::fault::Fault;
use crate::seam::ui::{Gesture, MotorStep, MotorTest, Motors, Tone};
use std::time::Duration;

/// How long the flag may take to follow a switch.
pub(super) const FOLLOWS: Duration = Duration::from_millis(600);
/// How long a board may take to tell its flag again.
const TELLS: Duration = Duration::from_millis(2500);
/// A flag of which more than this may pass between two is no word against outputs.
pub(super) const RARE: Duration = Duration::from_secs(1);
/// Said of a flag that is not the board's.
pub(super) const FLAG_DOWN: &str = "the outputs are up, and the armed flag says disarmed: the sheet reads another flag than the \
                                    board's, and nothing that hangs on it can be believed";
/// Longest armed time in one position.
const LONGEST: Duration = Duration::from_secs(3);
/// The same with the battery measured out, where nothing turns, and a hand may take its time: with its overtime no longer
/// than an invitation. By a word alone, what is armed counts as heat.
const LONGEST_UNPOWERED: Duration = Duration::from_secs(18);
const LONGEST_BY_WORD: Duration = Duration::from_secs(7);

impl SessionContext {
    /// Walks all positions of the arm switch.
    ///
    /// # Errors
    /// [`Fault::Unproved`] with the position, [`Fault::Hand`] where the hand went elsewhere, or a guard.
    pub async fn test_arm(&self, guards: &[Guard], arm: &ArmSwitch, idle: Pulse) -> Result<(), Fault> {
        let powered = self.pack() != Pack::Out;
        let longest = match self.look(|live| live.pack(self.now())) {
            _ if powered => LONGEST,
            Pack::Out => LONGEST_UNPOWERED,
            Pack::In | Pack::Unknown => LONGEST_BY_WORD,
        };
        let step = arm_step(arm, idle, powered, longest);
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
        self.tested(Tested::Arm, &walked);
        if let Err(Fault::Hand(_) | Fault::TimedOut { .. }) = walked {
            self.arm_switch_off(arm).await?;
        }
        walked?;
        self.line(Tone::Good, format!("Switch {} arms in {} and nowhere else.", arm.switch.0, positions(&arm.on)));
        Ok(())
    }

    /// Tells the interlock how a test of what stops this craft ended, where it came to an answer.
    pub(super) fn tested<T>(&self, test: Tested, ended: &Result<T, Fault>) {
        if ended.is_ok() || matches!(ended, Err(Fault::Unproved(_))) {
            self.interlock_mut().tested(test, ended.is_ok());
        }
    }

    async fn walk_positions(&self, clearance: &mut Clearance, arm: &ArmSwitch) -> Result<(), Fault> {
        let count = u32::try_from(arm.entry.rests.len()).unwrap_or(0);
        let mut ever = false;
        for position in (0..count).chain([0]) {
            let want = arm.on.contains(&position);
            let mut began = self.position_of(&arm.entry);
            let armed = loop {
                self.walk_to(clearance, arm, position, began).await?;
                if want && !ever {
                    self.armed(clearance, arm).await?;
                    ever = true;
                }
                if let Some(armed) = self.flag_in(clearance, arm, position).await? {
                    break armed;
                }
                // It left before the flag had told of it: wherever it stands now is not where it was asked.
                began = None;
            };
            if armed != want {
                let is = if armed { "armed" } else { "not armed" };
                return Err(Fault::Unproved(format!(
                    "arm: with switch {} in position {position} the board is {is}",
                    arm.switch.0
                )));
            }
            self.noted(Tone::Measured, format!("Position {position}: {}.", if want { "armed" } else { "not armed" }));
        }
        Ok(())
    }

    /// Waits until the switch rests in a position; one that rests elsewhere is named, and where that arms, the walk ends.
    /// `began`: where it stood before it was asked.
    async fn walk_to(
        &self,
        clearance: &mut Clearance,
        arm: &ArmSwitch,
        position: u32,
        began: Option<u32>,
    ) -> Result<(), Fault> {
        let gesture = Gesture::SwitchTo { switch: arm.switch.clone(), position };
        let sentence = format!("Put switch {} to position {position}.", arm.switch.0);
        self.invite_again(clearance);
        self.invite(gesture, sentence.clone(), INVITATION);
        let deadline = self.now() + INVITATION;
        let (mut at, mut since, mut told) = (began, self.now(), began);
        while self.now() < deadline {
            let now = self.now();
            let stands = self.position_of(&arm.entry);
            if stands != at {
                (at, since) = (stands, now);
            }
            let rests = now.since(since) >= SETTLED;
            if rests && at == Some(position) {
                return Ok(());
            }
            if let Some(at) = at.filter(|at| rests && Some(*at) != began && *at != position) {
                overshot(arm, at, position)?;
                if told.replace(at) != Some(at) {
                    self.line(Tone::Warning, wrong_position(&arm.switch, at, position).unwrap_or_default());
                }
            }
            self.armed_too_long(clearance, arm)?;
            self.sleep(Duration::from_millis(20)).await;
        }
        Err(Fault::TimedOut { what: sentence, seconds: INVITATION.as_secs() })
    }

    /// Ends the walk before the board was armed for longer than its question says.
    fn armed_too_long(&self, clearance: &Clearance, arm: &ArmSwitch) -> Result<(), Fault> {
        let bound = clearance.step().bound();
        let since = self.interlock().start().and_then(|start| start.armed_at.filter(|_| start.disarmed_at.is_none()));
        if self.is_over() || since.is_none_or(|since| self.now().since(since) + LAST < bound) {
            return Ok(());
        }
        let (switch, seconds) = (&arm.switch.0, bound.as_secs_f64());
        Err(Fault::Hand(format!(
            "switch {switch} stood on for {seconds} s, which is all that was asked for: the walk ended there, and says \
             nothing of the board"
        )))
    }

    /// Whether the board is armed in a position, once that is told; `None`: the switch left it before.
    async fn flag_in(&self, clearance: &Clearance, arm: &ArmSwitch, position: u32) -> Result<Option<bool>, Fault> {
        let began = self.now();
        let from = began + FOLLOWS + self.look(Signals::flag_limit);
        let want = arm.on.contains(&position);
        let told = move |bench: &Self| {
            if bench.position_of(&arm.entry).is_some_and(|at| at != position) {
                return Some(Ok(None));
            }
            // Outputs that stay up tell of an arming before a flag that comes rarely does. One that comes often has to rise.
            let (up, rose) = (bench.up_for(FOLLOWS), bench.flag_rose(began));
            let rare = bench.look(Signals::flag_limit) > RARE;
            if want && bench.now().since(began) >= FOLLOWS && up && (rose || rare) {
                return Some(Ok(Some(true)));
            }
            let flag = bench.look(|live| live.armed.last().filter(|flag| flag.at >= from).map(|flag| flag.value));
            if want && up && flag == Some(false) {
                return Some(Err(Fault::Unproved(format!("arm: {FLAG_DOWN}"))));
            }
            flag.map(|armed| Ok(Some(armed))).or_else(|| bench.armed_too_long(clearance, arm).err().map(Err))
        };
        let unheard = || Fault::TimedOut { what: "the board did not say whether it is armed".to_owned(), seconds: 3 };
        self.until(from + TELLS, told).await.unwrap_or_else(|| Err(unheard()))
    }

    /// Whether the flag said armed since then.
    pub(super) fn flag_rose(&self, since: Time) -> bool {
        self.look(|live| live.armed.since(since).any(|flag| flag.value))
    }

    /// Whether outputs have been raised for so long.
    fn up_for(&self, time: Duration) -> bool {
        self.look(|live| {
            let mut outputs = live.outputs.since(self.now() - time).peekable();
            outputs.peek().is_some() && outputs.all(|outputs| !at_rest(&outputs.value))
        })
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
        let (on, since) = (arm.first_on(), self.now());
        self.switch_to(&arm.switch, &arm.entry, on).await?;
        let refused = self.flag_after(FOLLOWS).await == Some(false);
        let low = |channels: &Channels| {
            let pulse = facts.throttle_channel.and_then(|channel| channels.of(channel));
            pulse.is_some_and(|pulse| pulse < facts.throttle_below)
        };
        if self.look(|live| live.channels.since(since).any(|sample| low(&sample.value))) {
            return Err(Fault::Hand(
                "the throttle came down before the board had said whether it arms with it raised, so nothing was shown"
                    .to_owned(),
            ));
        }
        if !refused {
            return Err(Fault::Unproved("arm: the board armed with the throttle raised".to_owned()));
        }
        // Now down again with the switch still on: that must not arm either.
        let (since, low) = (self.now(), |bench: &Self| !up(bench));
        self.gesture(Gesture::ThrottleDown, "Pull the throttle stick down; leave the switch on.", BY_HAND, low).await?;
        let refused = self.flag_after(FOLLOWS).await == Some(false);
        if self.went_off(arm, since).is_some() {
            let switch = &arm.switch.0;
            return Err(Fault::Hand(format!(
                "switch {switch} was to be left on while the throttle came down, and went off, so nothing was shown"
            )));
        }
        if !refused {
            return Err(Fault::Unproved("arm: a switch that stood on already armed the board".to_owned()));
        }
        self.line(Tone::Measured, "Refused with the throttle raised, and by a switch already on.");
        self.switch_to(&arm.switch, &arm.entry, 0).await
    }
}

/// Ends the walk where the switch stands in a position that arms, and another was asked.
fn overshot(arm: &ArmSwitch, at: u32, asked: u32) -> Result<(), Fault> {
    if !arm.on.contains(&at) || arm.on.contains(&asked) {
        return Ok(());
    }
    let switch = &arm.switch.0;
    Err(Fault::Hand(format!(
        "switch {switch} is at {at}, {asked} was asked, and {at} arms: the walk ended there, and says nothing of the \
         board"
    )))
}

fn positions(on: &[u32]) -> String {
    let list: Vec<String> = on.iter().map(u32::to_string).collect();
    format!("{} {}", if on.len() == 1 { "position" } else { "positions" }, list.join(", "))
}

fn arm_step(arm: &ArmSwitch, idle: Pulse, powered: bool, longest: Duration) -> MotorStep {
    let (motors, look_at) = if powered {
        (Motors::All, "the motors: they turn in the armed positions only.")
    } else {
        (Motors::None, "the battery: it stays out; the armed flag is measured.")
    };
    let step = arm.step("test of the arm switch", idle, longest, 1, look_at);
    MotorStep { motors, test: Some(MotorTest::Arm), ..step }
}
