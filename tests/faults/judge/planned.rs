//! What a recipe's lines allow to be written and asked, and what a craft does after a run that ended well: by hand, from the
//! lines themselves.
//!
//! Must not be here: the program's own plans.

use super::{Judge, highest};
use crate::faults::fork::REST;
use crate::faults::typed::Speech;
use quadjig::measure::time::Time;
use quadjig::virtual_board::{Encoding, World as Craft};
use serde_json::Value;
use std::collections::BTreeMap;
use std::ops::RangeInclusive;
use std::time::Duration;

/// Where the three positions of switch B rest in every recipe here, and how far a board's own numbers for a channel go.
const RESTS: [f64; 3] = [1000.0, 1500.0, 2000.0];
const ENDS: RangeInclusive<f64> = 800.0..=2200.0;
/// No idle is ever higher (safety.md: built-in ceilings).
const CEILING: f64 = 1250.0;
/// Both ends of a band that nothing opens: the least that these boards take.
const SHUT: f64 = 850.0;
/// What is asked at the end of a session.
const LEAVES: &str = "Leave the bench?";
/// By then a switch that was put somewhere, or a board that started, has done what comes of it.
const SETTLES: Duration = Duration::from_millis(1500);
const STARTS: Duration = Duration::from_secs(4);
/// A link loss that cuts does so within this.
const CUTS: Duration = Duration::from_secs(3);

/// See the module.
#[derive(Debug, Default)]
pub struct Planned {
    may: Vec<(String, RangeInclusive<f64>)>,
    /// What stood there before: what may be put back.
    before: [Vec<(String, RangeInclusive<f64>)>; 2],
    /// Which of them was met.
    pub craft: usize,
    /// On each of the two crafts, either of which may be met: what the settings of the arm band are called, and whether whole
    /// numbers travel as reals.
    arms: [&'static str; 2],
    as_reals: [bool; 2],
    asked: BTreeMap<String, u32>,
    /// Whether lines bind arm, and have a link loss cut.
    binds: bool,
    cuts: bool,
}

impl Planned {
    /// On these crafts, as they are before anything.
    pub fn on(crafts: &[Craft; 2], speech: Speech) -> Self {
        let settings = [&crafts[0], &crafts[1]].map(|craft| craft.truth()["settings"].clone());
        let values = |(name, value): (&String, &Value)| {
            let value = value["working"].as_f64()?;
            Some((name.clone(), value..=value))
        };
        let as_reals = |craft: &Craft| speech == Speech::Lines || craft.config().encoding == Encoding::Cast;
        Self {
            before: [&settings[0], &settings[1]]
                .map(|all| all.as_object().into_iter().flatten().filter_map(values).collect()),
            arms: [&settings[0], &settings[1]].map(|all| if all["ARM_CHANNEL"].is_null() { "ROW1" } else { "ARM" }),
            as_reals: [as_reals(&crafts[0]), as_reals(&crafts[1])],
            ..Self::default()
        }
    }

    /// What was there before may be put back, a band while it is shut.
    pub fn may_put_back(&mut self) {
        self.may.append(&mut self.before[self.craft]);
        self.may_shut();
    }

    fn may_shut(&mut self) {
        for (end, value) in [("FROM", SHUT), ("TO", SHUT), ("FUNC", 0.0), ("CHANNEL", 0.0)] {
            self.may.extend(self.arms.map(|arm| (format!("{arm}_{end}"), value..=value)));
        }
    }

    /// What may be written there may be written here.
    pub fn goes_on(&mut self, run: &Self) {
        self.may.extend(run.may.iter().cloned());
    }

    /// This value may be written.
    pub fn may_write(&mut self, name: &str, value: &Value) {
        self.may.extend(value.as_f64().map(|value| (name.to_owned(), value..=value)));
    }

    /// A line of a recipe, or one that is typed: what it asks for may be written.
    pub fn line(&mut self, line: &str) {
        let words: Vec<&str> = line.split_whitespace().collect();
        let number = |word: &str| word.parse::<f64>().unwrap_or_else(|_| panic!("{line}"));
        let mut may = |name: &str, values: RangeInclusive<f64>| self.may.push((name.to_owned(), values));
        let mut just = |name: &str, value: f64| may(name, value..=value);
        match words[..] {
            ["at", "zero", "throttle", "spin"] => just("SPIN_AT_ZERO", 1.0),
            ["idle", "at", pulse] => just("IDLE_US", number(pulse)),
            // A search that finds none puts back what was there.
            ["idle", "start", "at", first, ..] => {
                may("IDLE_US", number(first)..=CEILING);
                self.may.extend(self.before.iter().flatten().filter(|(name, _)| name == "IDLE_US").cloned());
            }
            ["signal", "dshot300", "at", "4", "kHz"] => {
                just("MOTOR_SIGNAL", 3.0);
                just("LOOP_HZ", 4000.0);
            }
            ["failsafe", "cut", "motors", "after", wait, "ms"] => {
                just("LOSS_ACTION", 1.0);
                just("LOSS_WAIT_MS", number(wait));
                self.cuts = true;
            }
            ["bind", "arm", "to", "switch", "B", "position", position] => {
                let at = position.parse::<usize>().unwrap();
                let below = at.checked_sub(1).map_or(*ENDS.start(), |below| RESTS[below] + 1.0);
                let above = RESTS.get(at + 1).map_or(*ENDS.end(), |above| above - 1.0);
                for (end, values) in [
                    ("FUNC", 1.0..=1.0),
                    ("CHANNEL", 6.0..=6.0),
                    ("FROM", below..=RESTS[at]),
                    ("TO", RESTS[at]..=above),
                ] {
                    self.may.extend(self.arms.map(|arm| (format!("{arm}_{end}"), values.clone())));
                }
                self.may_shut();
                self.binds |= at == 2;
            }
            ["undo"] => self.may_put_back(),
            _ => {}
        }
    }

    /// Whether it is of the band of arm.
    pub(super) fn is_of_arm(&self, name: &str) -> bool {
        self.arms.iter().any(|arm| name.starts_with(arm))
    }

    /// What this many bits are as a number, as this craft takes it.
    #[expect(clippy::cast_possible_wrap, reason = "so does the board")]
    pub(super) fn value(&self, craft: usize, bits: u32) -> f64 {
        if self.as_reals[craft] { f32::from_bits(bits).into() } else { f64::from(bits as i32) }
    }
}

impl Judge {
    /// A write leaves: of what some line asks for, and nothing else (S3).
    pub(super) fn writes(&mut self, now: Time, name: &str, bits: u32) {
        self.meet("S3");
        let value = self.planned.value(self.meant.unwrap_or(0), bits);
        let right = |(known, values): &(String, RangeInclusive<f64>)| known == name && values.contains(&value);
        if !self.planned.may.iter().any(right) {
            let may: Vec<_> = self.planned.may.iter().filter(|(known, _)| known == name).map(|(_, may)| may).collect();
            let what = format!("{name} is written as {value}, and the lines ask for {may:?}");
            self.breaks("S3", now, what);
        }
    }

    /// Whoever leaves may have all put back.
    pub(super) fn is_asked(&mut self, title: &str) {
        if title == LEAVES {
            self.planned.may_put_back();
        }
        *self.planned.asked.entry(title.to_owned()).or_default() += 1;
    }

    /// The program ended in 0: whatever the switch, with the radio and without, before a restart and after it, motors turn
    /// only where arm was bound, and a link loss cuts where it is to (S7).
    pub fn ends_well(&mut self, now: Time, crafts: &[Craft; 2]) {
        let Some(craft) = self.meant.map(|meant| &crafts[meant]) else { return };
        self.meet("S7");
        for restarts in [false, true] {
            let mut before = craft.clone();
            let rest = ["stick throttle -100%", "radio on", "usb in", "tilt 0 0", "flip B 0", "battery in"];
            for line in rest.into_iter().chain(restarts.then_some("restart")) {
                let _as_it_is = before.line(before.now(), line);
            }
            before.advance(before.now() + STARTS);
            for position in 0..RESTS.len() {
                let mut copy = before.clone();
                let _known = copy.line(copy.now(), &format!("flip B {position}"));
                copy.advance(copy.now() + SETTLES);
                let is_bound = position == 2 || self.bound_besides.contains(&position);
                let (armed, turns) = (copy.armed(), highest(&copy) > REST);
                if (armed || turns) && !is_bound {
                    self.breaks("S7", now, format!("it arms at position {position}, restarted: {restarts}"));
                }
                if self.planned.binds && !self.prompt && !armed && position == 2 {
                    self.breaks("S7", now, format!("it does not arm at position 2, restarted: {restarts}"));
                }
                let _known = copy.line(copy.now(), "radio off");
                copy.advance(copy.now() + CUTS);
                if self.planned.cuts && !self.prompt && highest(&copy) > REST {
                    self.breaks("S7", now, format!("its link loss cuts nothing, restarted: {restarts}"));
                }
            }
        }
    }

    /// Without any fault, what is asked is what these lines need, and nothing twice (S13, L4).
    pub fn asked_as_planned(&mut self, now: Time, recipe: &str) {
        let (props, out, could) = ("Are the propellers off?", "Is the battery out?", "Motors could turn");
        let (will, smooth) = ("Motors will turn", "Did all motors sound and look smooth?");
        let planned: &[(&str, u32)] = match recipe {
            "keep\n" => &[(props, 1), (out, 0), (could, 2), (will, 0)],
            "keep\ntest arm\n" => &[(props, 1), (out, 0), (could, 2), (will, 1)],
            "signal dshot300 at 4 kHz\nkeep\npower cycle\n" => &[(props, 1), (out, 1), (could, 2), (will, 4)],
            "require battery in\ntest idle in 2 starts\n" | "require battery in\ntest cut within 900 ms\n" => {
                &[(props, 1), (out, 0), (could, 0), (will, 1)]
            }
            "failsafe cut motors after 500 ms\nkeep\nrequire battery in\ntest failsafe within 3 s\n" => {
                &[(props, 1), (out, 0), (could, 1), (will, 1)]
            }
            "search" => &[(props, 1), (out, 0), (smooth, 1)],
            "prompt" => &[(props, 1), (out, 1), (LEAVES, 1)],
            _ => return,
        };
        self.meet("S13");
        for (title, times) in planned {
            let asked = self.planned.asked.get(*title).copied().unwrap_or(0);
            if asked != *times {
                self.breaks("S13", now, format!("{title:?} was asked {asked} times, not {times}"));
            }
        }
    }
}
