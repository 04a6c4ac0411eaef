//! Proof of the failsafe: armed at idle, radio off, and every output at rest in time; radio on again
//! with the switch still on, and nothing starts.
//!
//! While the radio is off the operator's switch stops nothing, so the way out that is left, a disarm over the link, is
//! seen to work on the armed craft before. Must not be here: what the watch lets pass (see `watch`).

use crate::bench::procedures::arm_switch::ArmSwitch;
use crate::bench::procedures::gesture::BY_HAND;
use crate::bench::procedures::streams::{ToldBoth, driven};
use crate::bench::session::context::SessionContext;
use crate::interlock::Clearance;
use crate::interlock::signals::{Channels, Signals};
use crate::interlock::{Breaks, Tested};
use crate::language::units::Pulse;
use crate::measure::intervals::{self, Against, IntervalError, Moment, Took};
use crate::measure::rounding::millis_up;
use crate::measure::time::Time;
use crate::plan::step::Guard;
use crate::seam::fault::Fault;
use crate::seam::ui::{Gesture, MotorStep, MotorTest, Placement, Tone};
use std::time::Duration;

/// How long an armed craft may take to obey a disarm, and for its switch to be heard on after it, beside what its flag
/// takes to tell.
const OBEYS: Duration = Duration::from_millis(1500);
/// How long the motors turn before the radio is asked off.
const TURNS: Duration = Duration::from_secs(1);
/// Longest start: a second, the hand, and a wait of at most 2 s; with its overtime it fills the ceiling of 5 s.
const LONGEST: Duration = Duration::from_secs(3);
/// What is left to the ordinary disarm before the deadline of the start.
const LAST: Duration = Duration::from_millis(300);
/// How much later than the limit what was in time may be heard.
const HEARD_LATE: Duration = Duration::from_millis(200);
/// How long the radio is back, the switch still on, without a start.
const STAYS: Duration = Duration::from_secs(2);
/// How long a hand has to a switch that is not heard.
const UNSEEN: Duration = Duration::from_secs(3);
/// The receiver's health may be told as much later than it was so, at its rate of ten a second.
const HEALTH_LATE: Duration = Duration::from_millis(100);
/// Frames that rest for so long are none that move.
const MOVES: Duration = Duration::from_millis(250);
/// Channels that are older than this do not come any more.
const SILENT: Duration = Duration::from_millis(500);

impl SessionContext {
    /// Loses the radio once; gives the time from its loss to rest as an interval.
    ///
    /// # Errors
    /// [`Fault::Unproved`] with the figure, or a guard.
    pub async fn test_failsafe(
        &self,
        within: Duration,
        guards: &[Guard],
        arm: &ArmSwitch,
        idle: Pulse,
    ) -> Result<Took, Fault> {
        // What the link cannot show turns no motor.
        self.can_show(within).await.map_err(unproved)?;
        let took = self.lost_in_time(within, guards, arm, idle).await;
        self.tested(Tested::Failsafe, &took);
        took
    }

    /// Loses the radio until a hand was quick enough, or gives up: what it was late for says nothing of the board.
    async fn lost_in_time(
        &self,
        within: Duration,
        guards: &[Guard],
        arm: &ArmSwitch,
        idle: Pulse,
    ) -> Result<Took, Fault> {
        loop {
            let (fault, first) = match self.loses_it(within, guards, arm, idle).await? {
                Ok(took) => return Ok(took),
                Err(Missed::Radio) => (
                    unproved(
                        "the radio was not seen to go off in time: it was switched off too late, or its receiver goes on \
                         by itself and the board never learns of the loss",
                    ),
                    "a hand at the radio's own switch first",
                ),
                Err(Missed::Switch) => (
                    Fault::Hand(format!(
                        "switch {} was not seen on from before a disarm over the link until after it, or the motors \
                         stopped before, so nobody knows what stopped them",
                        arm.switch.0
                    )),
                    "the switch stays where it is until it is asked back",
                ),
            };
            self.again_or(fault, &format!("{first}; the question of the test comes once more")).await?;
        }
    }

    /// Of a hand that was late or early nothing was seen, and the motors were stopped.
    async fn loses_it(
        &self,
        within: Duration,
        guards: &[Guard],
        arm: &ArmSwitch,
        idle: Pulse,
    ) -> Result<Result<Took, Missed>, Fault> {
        let look_at = "the motors: they stop by themselves when the radio goes off.";
        let step = MotorStep {
            test: Some(MotorTest::Failsafe),
            ..arm.step("test of the failsafe", idle, LONGEST, 2, look_at)
        };
        let mut ok = self.confirm_in_place(&step, arm).await?;
        // An answer to a disarm shows nothing: an armed craft has to be seen to obey it, while the switch still would stop it.
        let obeys = async |clearance: &mut Clearance| self.obeys_a_disarm(clearance, arm).await;
        if !self.turn(&mut ok, guards, Breaks::default(), obeys).await? {
            return Ok(Err(Missed::Switch));
        }
        self.before_next(&mut ok, arm, LONGEST).await?;
        let breaks = Breaks { radio: true, ..Breaks::default() };
        let seen = self
            .turn(&mut ok, guards, breaks, async |clearance| {
                let Some(took) = self.lose_the_radio(clearance, arm, within).await? else { return Ok(None) };
                self.line(Tone::Measured, format!("Radio off: {}.", took.words()));
                self.radio_returns(arm).await?;
                Ok(Some(took))
            })
            .await;
        match &seen {
            Ok(None) | Err(Fault::Unproved(_)) => self.put_the_radio_back(arm).await,
            Err(Fault::TimedOut { .. }) if !self.hears_radio() => {
                self.line(
                    Tone::Warning,
                    format!("Put switch {} to position 0 before the radio goes on.", arm.switch.0),
                );
            }
            _ => {}
        }
        let Some(seen) = seen? else { return Ok(Err(Missed::Radio)) };
        let took = seen.from_radio;
        if took.against(within) != Against::Within {
            return Err(unproved(format!("{}; {} ms allowed", seen.words(), within.as_millis())));
        }
        let (most, allowed) = (millis_up(took.most), within.as_millis());
        self.line(Tone::Good, format!("Failsafe: at rest in {most} ms at most, {allowed} ms allowed."));
        Ok(Ok(took))
    }

    /// Armed by the switch, disarmed over the link, and seen to obey with the switch still on; whether it was.
    async fn obeys_a_disarm(&self, clearance: &mut Clearance, arm: &ArmSwitch) -> Result<bool, Fault> {
        let (switch, on, entered) = (&arm.switch.0, arm.first_on(), self.now());
        let sentence = format!("Switch {switch} to position {on} and leave it: a disarm over the link comes.");
        self.switched_on(clearance, arm, sentence, Placement::Printed).await?;
        self.sleep(TURNS).await;
        // That it answers says nothing; what counts is what is seen.
        let _answered = self.disarm(clearance).await;
        let obeyed = |bench: &Self| {
            let gone = bench.went_off(arm, entered).is_some();
            bench.interlock().obeys_disarm().then_some(true).or(gone.then_some(false))
        };
        let tells = self.look(Signals::flag_limit);
        match self.until(self.now() + tells + OBEYS, obeyed).await {
            Some(true) => {
                self.line(Tone::Measured, "The board obeys a disarm over the link: seen on the armed craft.");
                Ok(true)
            }
            Some(false) => Ok(false),
            // At rest, and the switch was not seen on all the while: that shows nothing of either.
            None if self.look(Signals::last_at_rest) == Some(true) => Ok(false),
            None => {
                Err(unproved("the armed craft did not obey a disarm over the link, so its radio is not switched off"))
            }
        }
    }

    async fn lose_the_radio(
        &self,
        clearance: &mut Clearance,
        arm: &ArmSwitch,
        within: Duration,
    ) -> Result<Option<Loss>, Fault> {
        let (switch, on) = (&arm.switch.0, arm.first_on());
        let sentence = format!("Switch {switch} to position {on}.");
        let end =
            self.switched_on(clearance, arm, sentence, Placement::Printed).await? + clearance.step().bound() - LAST;
        self.sleep(TURNS).await;
        let from = self.now();
        let sentence = format!("Now switch the radio off, and leave switch {switch} at position {on}.");
        self.invite(Gesture::Radio { on: false }, sentence, end.since(from));
        let mut lost = None;
        let rested = self
            .until(end, |bench| {
                let now = bench.now();
                if bench.look(Signals::last_at_rest) == Some(true) {
                    return Some(true);
                }
                if !bench.hears_radio() {
                    lost.get_or_insert(now);
                }
                lost.is_some_and(|lost| now.since(lost) > within + HEARD_LATE).then_some(false)
            })
            .await;
        if rested != Some(true) {
            self.disarm(clearance).await?;
            self.line(Tone::Warning, "Disarmed by command: the motors were still driven.");
            let Some(lost) = lost else { return Ok(None) };
            let ms = self.now().since(lost).as_millis();
            return Err(unproved(format!(
                "the motors were still driven {ms} ms after the radio was lost, and were disarmed by command"
            )));
        }
        // Channels and outputs come on streams of their own: both must have shown the change.
        self.sleep(HEARD_LATE).await;
        self.loss_interval(arm, from).map(Some)
    }

    /// From the loss of the radio to every output at rest: since the hand, or the last frame that still moved, and since
    /// the board was told.
    fn loss_interval(&self, arm: &ArmSwitch, from: Time) -> Result<Loss, Fault> {
        let (facts, now) = (self.facts()?, self.now());
        let before = from - TURNS;
        let channel = arm.entry.channel;
        let (healthy, switch_on) = self.look(|live| {
            let switch_on =
                live.last_heard.and_then(|heard| heard.of(channel)).is_some_and(|p| facts.arms_at(channel, p));
            let healthy = live.power.since(before).filter_map(|s| Some((s.at, s.value.receiver?)));
            (healthy.collect::<Vec<(Time, bool)>>(), switch_on)
        });
        let (told, came) = (self.told_since(before), self.came_since(before));
        let rests = |told: &ToldBoth| intervals::ended(&driven(&told.second)).map_err(unproved);
        let rest = rests(&told)?;
        let by_channels = lost(&told.first, &[], now);
        let earliest = lost(&came.first, &healthy, now).map_err(|_| {
            unproved("the motors stopped, but the board never said that its radio was lost, so something else did it")
        })?;
        let (lost, rested, doubt) = match by_channels {
            Ok(lost_by) if lost(&came.first, &[], now) == Ok(earliest) => (lost_by, rest, told.doubt),
            // Health carries no time of the board's: it is held against arrivals.
            _ => (earliest, rests(&came)?, came.doubt + HEALTH_LATE),
        };
        if !switch_on || rested.after <= lost.before {
            return Err(unproved(format!("switch {} was not left on until the radio was off", arm.switch.0)));
        }
        let from_told = intervals::between(lost, rested).widened(doubt);
        let alive = last_moving(&told.first, from).max(from);
        let most = rest.after.since(alive) + told.doubt;
        let from_radio = Took { least: from_told.least, most };
        let zero = if alive > from { "the radio's last frame that moved" } else { "the radio is asked off" };
        let name = format!("channel of switch {}", arm.switch.0);
        self.keep_samples_to_rest((alive, zero), from_radio, (&name, &told.first), channel, &told.second);
        Ok(Loss { from_radio, from_told, moved: alive > from })
    }

    /// Radio on again with the switch still on: nothing may start; the watch stops a board that does.
    async fn radio_returns(&self, arm: &ArmSwitch) -> Result<(), Fault> {
        let (switch, on) = (&arm.switch.0, arm.first_on());
        let sentence = format!(
            "Switch the radio on again with switch {switch} left at position {on}; if the radio warns of the switch, \
             go past its warning. Nothing may start."
        );
        self.gesture(Gesture::Radio { on: true }, &sentence, BY_HAND, Self::hears_radio).await?;
        let off = |bench: &Self| bench.position_of(&arm.entry) != Some(on);
        if self.until(self.now() + STAYS, |bench| off(bench).then_some(())).await.is_some() {
            return Err(unproved(format!(
                "switch {switch} was not seen on for {} s after the radio was back, so nobody knows whether the board \
                 starts again by itself",
                STAYS.as_secs()
            )));
        }
        self.line(Tone::Measured, format!("Radio back with switch {switch} still on: nothing started."));
        self.arm_switch_off(arm).await
    }

    /// After a test that did not end well: the switch off first, unseen, and only then the radio on.
    async fn put_the_radio_back(&self, arm: &ArmSwitch) {
        if !self.hears_radio() {
            let off = Gesture::SwitchTo { switch: arm.switch.clone(), position: 0 };
            self.invite(off, format!("Put switch {} to position 0, before the radio goes on.", arm.switch.0), UNSEEN);
            self.sleep(UNSEEN).await;
            let on = Gesture::Radio { on: true };
            // What is not done here is asked for, or refused, by the guards of the next step.
            let _late = self.gesture(on, "Now switch the radio on again.", BY_HAND, Self::hears_radio).await;
        }
        let _late = self.arm_switch_off(arm).await;
    }
}

/// What a hand missed.
enum Missed {
    /// The radio was not seen to go off before the motors had to be stopped.
    Radio,
    /// The switch was not seen on until after a disarm had come.
    Switch,
}

/// How long motors were driven in a loss of the radio.
struct Loss {
    /// From its loss: after the last frame that moved, else after it was asked off.
    from_radio: Took,
    /// From when the board was told.
    from_told: Took,
    /// Whether frames moved, so that the hand's own time is no part of it.
    moved: bool,
}

impl Loss {
    fn words(&self) -> String {
        let from = if self.moved { "its last frame that moved" } else { "when it was asked off, the hand included," };
        let most = millis_up(self.from_radio.most);
        format!("at most {most} ms from {from} to rest; {} from when the board was told", self.from_told)
    }
}

/// When the radio was lost: by the channels, or by the receiver's health where that shows it earlier or alone.
fn lost(channels: &[(Time, Channels)], healthy: &[(Time, bool)], now: Time) -> Result<Moment, IntervalError> {
    let mut counted: Vec<(Time, bool)> = channels.iter().map(|(at, channels)| (*at, channels.count > 0)).collect();
    if counted.last().is_some_and(|(at, _)| now.since(*at) > SILENT) {
        counted.push((now, false));
    }
    match (intervals::ended(&counted), intervals::ended(healthy)) {
        (Ok(channels), Ok(health)) if health.after <= channels.before => Ok(health),
        (Err(_), Ok(health)) => Ok(health),
        (channels, _) => channels,
    }
}

/// The last of the moments in which frames still moved as they did in the second before the radio was asked off: noise
/// and hands move some channel in nearly every frame, a receiver without its radio repeats the last, and what it sets
/// after a while is no radio.
fn last_moving(channels: &[(Time, Channels)], from: Time) -> Time {
    let moves = channels.windows(2).filter(|pair| pair[1].1.count > 0 && pair[0].1 != pair[1].1);
    let changes: Vec<Time> = moves.map(|pair| pair[1].0).collect();
    let usual = changes.windows(2).filter(|pair| pair[1] <= from).map(|pair| pair[1].since(pair[0])).max();
    let Some(longest) = usual.map(|usual| usual * 3).filter(|longest| *longest <= MOVES) else { return Time(0) };
    let still = changes.windows(2).position(|pair| pair[1].since(pair[0]) > longest);
    changes.get(still.unwrap_or(changes.len().saturating_sub(1))).copied().unwrap_or(Time(0))
}

fn unproved(why: impl std::fmt::Display) -> Fault {
    Fault::Unproved(format!("failsafe: {why}"))
}
