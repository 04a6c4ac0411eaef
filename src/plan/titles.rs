//! Steps, guards and effects in words, the same at the bench, in the dry run and in the record.
//!
//! Promises: words come from the very value that is executed. Text of recipes comes out as it is:
//! whoever shows it passes it through the output gate. Must not be here: layout.

use super::step::{Action, Guard, IdlePlan, SticksAsked};
use crate::board::effect::Effect;
use crate::language::recipe::{Function, Switch};
use crate::language::units::time;
use std::fmt::Display;

/// What a step does, in one line without a full stop.
#[must_use]
pub fn title(act: &Action) -> String {
    match act {
        Action::Note(text) => format!("The recipe says: \"{text}\""),
        Action::Pause(text) => format!("Pause; the recipe says: \"{text}\""),
        Action::AttestPropsOff => "Propellers off, and no other craft on this radio".to_owned(),
        Action::AttestAntenna => "Video antenna fitted".to_owned(),
        Action::Attest(text) => format!("Question; the recipe says: \"{text}\""),
        Action::RequireThrottleLow => "Throttle low".to_owned(),
        Action::RequireDisarmed => "Board not armed".to_owned(),
        Action::RequireLevel(angle) => format!("Level within {angle}"),
        Action::RequireBatteryAtLeast { per_cell, cells } => {
            format!("Battery at least {per_cell} per cell, {}", count(*cells, "cell"))
        }
        Action::RequireSwitch { switch, position, .. } => format!("Switch {} in position {position}", switch.0),
        Action::Expect { setting, shown, .. } => format!("{setting} is {shown}"),
        Action::BatteryIn => "Battery in".to_owned(),
        Action::BatteryOut { .. } => "Battery out".to_owned(),
        Action::Write(writes) => {
            let mut names: Vec<&str> = Vec::new();
            for write in writes {
                if !names.contains(&write.name.as_str()) {
                    names.push(write.name.as_str());
                }
            }
            format!("Write {} and read back", count(names.len(), "setting"))
        }
        Action::Store => "Store".to_owned(),
        Action::Restart { expect } if expect.is_empty() => "Restart".to_owned(),
        Action::Restart { expect } => format!("Restart, and read {} back", count(expect.len(), "setting")),
        Action::FindSwitch { switch: Switch(name), known: true, .. } => {
            format!("Confirm switch {name} by a live reading")
        }
        Action::FindSwitch { switch: Switch(name), positions: Some(positions), .. } => {
            format!("Find switch {name} with {positions} positions")
        }
        Action::FindSwitch { switch: Switch(name), .. } => format!("Find switch {name}"),
        Action::FindSticks { known: true } => "Confirm the sticks by a live reading".to_owned(),
        Action::FindSticks { known: false } => "Find which channel each stick moves, and which way".to_owned(),
        Action::TestSticks(SticksAsked { centre: (centre, close), ends: (low, high, within), .. }) => {
            format!("Test the sticks: centre {centre} within {close}, ends {low} to {high} within {within}")
        }
        Action::TestAttitude => "Test that the board sees the craft tilted and turned as it is".to_owned(),
        Action::CalibrateLevel { .. } => "Make the board's level the craft's".to_owned(),
        Action::CalibrateBattery { .. } => "Make the board's voltage what a multimeter shows".to_owned(),
        Action::FindLinkLoss => "Find what each channel does on link loss".to_owned(),
        Action::Later { what } => format!("Later: {what}"),
        Action::IdleSearch(plan) => idle_search(plan),
        Action::IdleByHand(plan) => idle_by_hand(plan),
        Action::TestIdle { starts, dwell, .. } => {
            format!("Test the idle in {} of {}", count(*starts, "start"), time(*dwell))
        }
        Action::TestArm { arm, .. } => format!("Test arm on switch {}, {}", arm.switch.0, positions(&arm.positions)),
        Action::TestCut { within, arm, .. } => {
            format!("Test that switch {} stops the motors within {}", arm.switch.0, time(*within))
        }
        Action::TestFailsafe { within, .. } => {
            format!("Test that the board stops the motors within {} of the radio going off", time(*within))
        }
        Action::TestBuzzer { buzzer, by_motors } => {
            let by_what = if *by_motors { ": the motors sound it" } else { "" };
            format!("Test the buzzer on switch {}, {}{}", buzzer.switch.0, positions(&buzzer.positions), by_what)
        }
        Action::TestMotors(plan) => {
            format!(
                "Run each of {} by command, and say where it sits and which way it turns",
                count(plan.layout.wanted.len(), "motor")
            )
        }
        Action::OrderMotors(plan) => format!(
            "Run each of {} by command, put their order and directions right, and show them again",
            count(plan.motors.layout.wanted.len(), "motor")
        ),
        Action::TryOnUsb { arm, .. } => format!(
            "Try the sheet: with the battery out, does switch {} in {} arm the board, and does a motor turn?",
            arm.switch.0,
            positions(&arm.positions)
        ),
        Action::TryMotorRun { .. } => {
            "Try the sheet: does motor 1, run once by command, stop by itself after its time?".to_owned()
        }
        Action::TryCable { .. } => {
            "Try the sheet: does motor 1, run once more, stop by itself where you pull the cable out meanwhile?"
                .to_owned()
        }
        Action::ProveSignal { signal, corners } => {
            format!("Run each of {} once by command, to test the signal {signal}", count(corners.len(), "motor"))
        }
    }
}

fn values(plan: &IdlePlan) -> String {
    match (plan.values.first(), plan.values.last()) {
        (Some(first), Some(last)) if first != last => format!("from {first} to {last} ({} values)", plan.values.len()),
        (Some(only), _) => format!("at {only}"),
        _ => "without a value".to_owned(),
    }
}

fn idle_by_hand(plan: &IdlePlan) -> String {
    format!(
        "Step the idle by hand {}, one start of {} each; the one that is chosen is proved by {}, then {} is added",
        values(plan),
        time(plan.dwell),
        count(plan.starts, "start"),
        plan.margin
    )
}

fn idle_search(plan: &IdlePlan) -> String {
    format!(
        "Search the idle {}, {} of {} each, then add {}",
        values(plan),
        count(plan.starts, "start"),
        time(plan.dwell),
        plan.margin
    )
}

/// `1 start`, `3 starts`.
#[must_use]
pub fn count(number: impl Copy + Display + PartialEq + From<u8>, what: &str) -> String {
    if number == 1.into() { format!("1 {what}") } else { format!("{number} {what}s") }
}

/// `1 setting stands`, `3 settings stand`.
#[must_use]
pub fn stand(settings: usize) -> String {
    format!("{} stand{}", count(settings, "setting"), if settings == 1 { "s" } else { "" })
}

/// `position 2`, `positions 1, 2`.
#[must_use]
pub fn positions(positions: &[u32]) -> String {
    let list: Vec<String> = positions.iter().map(u32::to_string).collect();
    let word = if list.len() == 1 { "position" } else { "positions" };
    format!("{word} {}", list.join(", "))
}

/// The statement that binds a function.
#[must_use]
pub fn bind(function: &Function, switch: &Switch, on: &[u32]) -> String {
    format!("bind {} to switch {} {}", function.0, switch.0, positions(on))
}

/// A guard in a few words.
#[must_use]
pub fn guard(guard: &Guard) -> String {
    match guard {
        Guard::PropsOff => "props off".to_owned(),
        Guard::Antenna => "antenna on".to_owned(),
        Guard::Confirmed => "confirmed by its word".to_owned(),
        Guard::Disarmed => "disarmed".to_owned(),
        Guard::ThrottleLow => "throttle low".to_owned(),
        Guard::ArmSwitchOff => "arm switch off".to_owned(),
        Guard::OutputsAtRest => "outputs at rest".to_owned(),
        Guard::Fresh => "signals fresh".to_owned(),
        Guard::Level(angle) => format!("level within {angle}"),
        Guard::BatteryAtLeast(voltage, _) => format!("battery at least {voltage} per cell"),
        Guard::BatteryIn => "battery in".to_owned(),
        Guard::BatteryOut => "battery out".to_owned(),
        Guard::EncodingProved => "encoding proved".to_owned(),
    }
}

/// An effect in a word or two.
#[must_use]
pub fn effect(effect: Effect) -> &'static str {
    if effect == Effect::TurnsMotors { "turns motors" } else { effect.word() }
}
