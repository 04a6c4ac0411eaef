//! Claims of a sheet tried on the craft: does it arm on USB alone, does a motor turn then, does a run by command stop by
//! itself.
//!
//! Promises: each is one confirmed start under the watch like any other; what is claimed is believed by nothing meanwhile.
//! Must not be here: guards, the plan of a trial, what is said of it in the end.

use crate::bench::procedures::arm_switch::ArmSwitch;
use crate::bench::procedures::single_run::{ANSWERS, SingleRun};
use crate::bench::procedures::test_arm::{FLAG_DOWN, FOLLOWS, RARE};
use crate::bench::session::context::SessionContext;
use crate::board::sheet::Sheet;
use crate::interlock::signals::{Pack, Signals, at_rest};
use crate::interlock::{Breaks, INVITATION};
use crate::language::units::{Pulse, time};
use crate::measure::time::Time;
use crate::plan::step::Guard;
use crate::seam::fault::Fault;
use crate::seam::ui::{About, Gesture, MotorStep, MotorTest, Motors, Placement, Reply};
use std::fmt;
use std::time::Duration;

/// How long it stays armed for the eye.
const LOOKS: Duration = Duration::from_millis(1500);
/// The longest that it is to be armed.
const LONGEST: Duration = Duration::from_secs(2);
/// A run that lasts this much longer than it was asked to did not stop by itself.
const OVER: Duration = Duration::from_millis(250);

/// What came of one claim.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ClaimOutcome {
    /// The line of the sheet.
    pub line: &'static str,
    /// What the sheet says.
    pub says: String,
    /// What was seen.
    pub seen: String,
    /// What the sheet should say instead, where what was seen is otherwise.
    pub instead: Option<&'static str>,
}

impl fmt::Display for ClaimOutcome {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { line, says, seen, instead } = self;
        match instead {
            Some(instead) => write!(f, "CONTRADICTED: {line}: by the sheet {says}; seen: {seen}. Write {instead}"),
            None => write!(f, "{line}: the sheet says {says}; seen: {seen}"),
        }
    }
}

fn arms_on_usb(sheet: &Sheet, armed: bool, seen: String) -> ClaimOutcome {
    let says = sheet.arms_on_usb;
    let instead = if armed { "`arms-on-usb = true` under [arming]" } else { "`arms-on-usb = false` under [arming]" };
    let instead = (says != armed).then_some(instead);
    ClaimOutcome { line: "arming.arms-on-usb", says: says.to_string(), seen, instead }
}

/// A motor that turned speaks against `false`; one that did not is no proof of it.
fn turns_on_usb(sheet: &Sheet, turned: bool, seen: &str) -> ClaimOutcome {
    let says = sheet.usb_feeds_motors;
    let instead = (turned && !says).then_some("`motors = true` under [usb]");
    ClaimOutcome { line: "usb.motors", says: says.to_string(), seen: seen.to_owned(), instead }
}

pub(super) fn ends_by_itself(sheet: &Sheet, contradicts: bool, seen: String) -> ClaimOutcome {
    let longest = sheet.motor_run.as_ref().map_or(Duration::ZERO, |run| run.longest);
    let instead =
        contradicts.then_some("no [motor-run] until its run ends by itself in time, whatever becomes of the link");
    ClaimOutcome { line: "motor-run", says: format!("up to {}", time(longest)), seen, instead }
}

impl SessionContext {
    /// Has the craft armed once by its switch with the battery out, and asks whether a motor turned. `sheet`: as it is
    /// written.
    ///
    /// # Errors
    /// Declined, the switch not worked, or a guard.
    pub async fn try_on_usb(
        &self,
        sheet: &Sheet,
        guards: &[Guard],
        arm: &ArmSwitch,
        idle: Pulse,
    ) -> Result<Vec<ClaimOutcome>, Fault> {
        if self.look(|live| live.pack(self.now())) == Pack::Out {
            // What the sensor shows says nothing of motors that USB feeds past it.
            self.ask_battery_out("USB may feed the motors, so this is asked although no pack voltage is measured.")
                .await?;
        }
        let look_at = "every motor: does one turn or twitch? If one goes on, pull the USB cable.";
        let step = MotorStep {
            motors: Motors::None,
            on_usb: true,
            test: Some(MotorTest::Usb),
            ..arm.step("try whether it arms, and a motor turns, on USB alone", idle, LONGEST, 1, look_at)
        };
        let mut ok = self.confirm_in_place(&step, arm).await?;
        let began = self.now();
        let armed = self.turn(&mut ok, guards, Breaks::default(), async |clearance| {
            let on = Gesture::SwitchTo { switch: arm.switch.clone(), position: arm.first_on() };
            self.invite(on, format!("Put switch {} to position {}.", arm.switch.0, arm.first_on()), INVITATION);
            let mut since = None;
            let told = self.until(self.now() + INVITATION, |bench| bench.arms_or_not(arm, &mut since)).await;
            if told.ok_or_else(|| self.not_armed(arm))? {
                self.sleep(LOOKS).await;
                self.switch_off(clearance, arm, Placement::Printed).await?;
                return Ok(true);
            }
            self.arm_switch_off(arm).await?;
            // One that takes its time may have armed before the hand was back.
            Ok(self.interlock().start().is_some_and(|start| start.armed_at.is_some()))
        });
        if !armed.await? {
            let seen = format!("it did not arm with switch {} on and the throttle low", arm.switch.0);
            let motors = "nothing, as it did not arm; measure at a motor's plug of the controller";
            return Ok(vec![arms_on_usb(sheet, false, seen), turns_on_usb(sheet, false, motors)]);
        }
        let turned = self.ask_turned_on_usb().await?;
        let raised = self.look(|live| live.outputs.since(began).any(|outputs| !at_rest(&outputs.value)));
        let seen = match turned {
            Some(true) => "a motor turned with the battery out, as you said",
            Some(false) if raised => "no motor turned at idle, as you said; under 0.5 V at a motor's plug settles it",
            Some(false) => "nothing, as its outputs stayed at rest; measure at a motor's plug of the controller",
            None => "nothing, as nobody looked",
        };
        let armed = arms_on_usb(sheet, true, "it armed with the battery out".to_owned());
        let motors = turns_on_usb(sheet, turned == Some(true), seen);
        Ok([armed, motors].into_iter().chain(self.flag_lied(began)).collect())
    }

    /// Speaks against a flag that comes often and did not rise with the outputs since then.
    fn flag_lied(&self, began: Time) -> Option<ClaimOutcome> {
        let limit = self.look(Signals::flag_limit);
        let raised = self.ran_for(began).is_some_and(|ran| ran > limit + FOLLOWS);
        (raised && !self.flag_rose(began) && self.look(Signals::flag_limit) <= RARE).then(|| ClaimOutcome {
            line: "the armed flag",
            says: "where it stands".to_owned(),
            seen: FLAG_DOWN.to_owned(),
            instead: Some("where the board's own stands"),
        })
    }

    /// Whether it armed, once that is told: not, where the switch stood on for as long as the flag may take. `since`: when it
    /// went on.
    fn arms_or_not(&self, arm: &ArmSwitch, since: &mut Option<Time>) -> Option<bool> {
        if self.interlock().start().is_some_and(|start| start.armed_at.is_some()) {
            return Some(true);
        }
        let on = self.position_of(&arm.entry).is_some_and(|at| arm.on.contains(&at));
        *since = since.or(Some(self.now())).filter(|_| on);
        let from = (*since)? + FOLLOWS + self.look(Signals::flag_limit);
        self.look(|live| live.armed.last().is_some_and(|flag| flag.at >= from)).then_some(false)
    }

    /// Whether a motor turned; `None`: nobody looked.
    async fn ask_turned_on_usb(&self) -> Result<Option<bool>, Fault> {
        let choices =
            vec![('n', "none did".to_owned()), ('y', "one did, or twitched".to_owned()), ('u', "not seen".to_owned())];
        let title = "Did any motor turn while it was armed?";
        let question = self.question(About::Choice, title, vec![], Reply::Choice(choices));
        let key = self.ask_choice(question, "whether a motor turned").await?;
        Ok((key != 'u').then_some(key == 'y'))
    }

    /// Runs one motor once by command, sends nothing more for it, and sees when it comes to rest. `sheet`: as it is
    /// written.
    ///
    /// # Errors
    /// Declined, a guard, or a stop where it goes on.
    pub async fn try_motor_run(&self, sheet: &Sheet, guards: &[Guard], pulse: Pulse) -> Result<ClaimOutcome, Fault> {
        let run = SingleRun {
            purpose: "try whether a run by command stops by itself",
            name: "motor 1",
            index: 0,
            pulse,
            look_at: "the one motor that turns: it stops by itself, though nothing more is sent for it.",
            sooner: self.ends_before().1,
            test: Some(MotorTest::Silence),
        };
        let began = self.now();
        self.run_single(&run, guards).await?;
        let asked = self.ends_before().0;
        let none = || ends_by_itself(sheet, true, "no output rose when motor 1 was run".to_owned());
        Ok(self.ran_for(began).map_or_else(none, |ran| {
            let (lasted, asked_for) = (ran.as_secs_f64(), asked.as_secs_f64());
            let seen = format!("it ran for {asked_for:.1} s, as it was asked to, and stopped by itself");
            let otherwise = format!("it stopped by itself after {lasted:.1} s, and {asked_for:.1} s were asked for");
            // One that was shorter shows no end in time, and no want of one.
            let in_time = ran <= asked + OVER && ran + OVER >= asked;
            ends_by_itself(sheet, ran > asked + OVER, if in_time { seen } else { otherwise })
        }))
    }

    /// After which time a motor that is tried is to stop by itself, and how much sooner that is than its run is stopped: what
    /// is a little late, or heard late, is no lie.
    fn ends_before(&self) -> (Duration, Duration) {
        let longest = self.facts().ok().and_then(|facts| facts.motor_run).unwrap_or(Duration::ZERO);
        let longest = longest.min(SingleRun::LONGEST);
        (longest * 3 / 4, longest / 4)
    }

    /// How long an output was raised since then.
    fn ran_for(&self, began: Time) -> Option<Duration> {
        self.look(|live| {
            let mut raised =
                live.outputs.since(began).filter(|outputs| !at_rest(&outputs.value)).map(|outputs| outputs.at);
            let first = raised.next()?;
            Some(raised.next_back().unwrap_or(first).since(first))
        })
    }

    /// What a trial showed that a stop ended: of a start on USB, or of a run by command.
    pub(in crate::bench) fn seen_until_the_stop(&self, sheet: &Sheet, on_usb: bool, began: Time) -> Vec<ClaimOutcome> {
        if on_usb {
            let armed = self.look(|live| live.armed.since(began).any(|flag| flag.value));
            let turned = self.look(|live| {
                live.speeds.since(began).any(|speeds| speeds.value.iter().flatten().any(|rpm| *rpm > ANSWERS))
            });
            let armed = armed.then(|| arms_on_usb(sheet, true, "it armed with the battery out".to_owned()));
            let turned =
                turned.then(|| turns_on_usb(sheet, true, "a motor turned with the battery out, and was stopped"));
            return armed.into_iter().chain(turned).chain(self.flag_lied(began)).collect();
        }
        let over = self.ran_for(began).filter(|ran| *ran > self.ends_before().0 + OVER);
        let over =
            over.map(|_| ends_by_itself(sheet, true, "it went on after its time, until it was stopped".to_owned()));
        over.into_iter().collect()
    }
}
