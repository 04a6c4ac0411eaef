//! Motors one by one: where each sits and which way it turns, as the operator sees it.
//!
//! Every motor is run until two answers agree, the whole once more from the beginning in another order, and only the same
//! map twice is believed. Must not be here: what is put right (see `order_motors`), and when answers agree (see
//! `measure::motor_survey`).

use crate::bench::procedures::single_run::{ANSWERS, SingleRun};
use crate::bench::session::context::SessionContext;
use crate::language::units::Pulse;
use crate::measure::motor_permutation::{Correctable, Correction, Turn, correct};
use crate::measure::motor_survey::{MotorAnswer, Survey, Towards, edges};
use crate::plan::motor_layout::MotorLayout;
use crate::plan::motor_order::HIGHEST;
use crate::plan::step::{Guard, MotorsPlan};
use crate::seam::fault::Fault;
use crate::seam::ui::{About, PropSeen, Reply, Tone, Turned, UiEvent};
use std::time::Duration;

/// What was said of one start.
enum Seen {
    Turned(MotorAnswer),
    /// Nothing that could be told.
    Again,
    /// No motor turned.
    Nothing,
}

impl SessionContext {
    /// Finds where every motor sits and which way it turns, and compares that with what is wanted.
    ///
    /// # Errors
    /// [`Fault::Unproved`] with what is not as it should be, or where the answers do not agree; or a guard.
    pub async fn test_motors(&self, plan: &MotorsPlan, guards: &[Guard]) -> Result<Vec<Turn>, Fault> {
        let found = self.show_motors(plan, guards, 0).await?;
        self.line(Tone::Plain, "Once more from the beginning, in another order: what was said before does not count.");
        let again = self.show_motors(plan, guards, 1).await?;
        same_twice(&found, &again)?;
        self.prop_map(&plan.layout, &found);
        let Some(wrong) = wrong(&plan.layout, &found, Correctable::default()) else {
            self.line(Tone::Good, "Every motor sits and turns as it should, as you said twice.");
            return Ok(found);
        };
        if let Some(line) = as_found(&plan.layout, &found) {
            self.line(
                Tone::Plain,
                format!("If the motors are plugged in as they should be, the sheet's line for them is: {line}"),
            );
        }
        Err(Fault::Unproved(format!("motors: {}", wrong.join("; "))))
    }

    /// One showing: every motor until its answers agree.
    ///
    /// # Errors
    /// They never do, a motor does not turn, declined, or a guard.
    pub(in crate::bench) async fn show_motors(
        &self,
        plan: &MotorsPlan,
        guards: &[Guard],
        showing: usize,
    ) -> Result<Vec<Turn>, Fault> {
        let layout = &plan.layout;
        let bearings: Vec<u16> = layout.places.iter().map(|place| place.bearing).collect();
        let mut survey = Survey::new(&bearings, showing);
        let mut pulses = vec![plan.pulse; bearings.len()];
        loop {
            let next = survey.next().map_err(|unsettled| {
                let motors: Vec<String> = unsettled.motors.iter().map(|motor| (motor + 1).to_string()).collect();
                Fault::Unproved(format!("motors: what was said of motor {} does not agree", motors.join(", ")))
            })?;
            let Some(motor) = next else { break };
            let round = survey.round(motor).map_or("one more".to_owned(), |(at, of)| format!("round {at} of {of}"));
            match self.look_at_one(layout, (motor, &round), pulses[motor], guards).await? {
                Seen::Turned(said) => {
                    if !survey.ran(motor, Some(said)) {
                        self.line(Tone::Warning, "These do not fit each other, so this start is asked of again.");
                    }
                }
                Seen::Again => {
                    survey.ran(motor, None);
                }
                Seen::Nothing if pulses[motor] < HIGHEST => {
                    self.line(
                        Tone::Warning,
                        format!("Motor {}: still at {}; next at {HIGHEST}.", motor + 1, pulses[motor]),
                    );
                    pulses[motor] = HIGHEST;
                    survey.ran(motor, None);
                }
                Seen::Nothing => {
                    let why = format!("motors: motor {} does not turn, not even at {HIGHEST}", motor + 1);
                    return Err(Fault::Unproved(why));
                }
            }
        }
        survey.map().ok_or_else(|| Fault::Unproved("motors: the answers do not agree".to_owned()))
    }

    /// One start of one motor, and what was seen of it.
    async fn look_at_one(
        &self,
        layout: &MotorLayout,
        (motor, round): (usize, &str),
        pulse: Pulse,
        guards: &[Guard],
    ) -> Result<Seen, Fault> {
        let name = format!("motor {}", motor + 1);
        let look_at = "all motors from above, the nose ahead: one turns. Which, and which way? A flag of tape helps.";
        let purpose = "find where this motor sits, and which way it turns";
        let run = SingleRun { purpose, name: &name, index: motor, pulse, look_at, sooner: Duration::ZERO, test: None };
        let rpm = self.run_single(&run, guards).await?;
        if rpm.is_some_and(|rpm| rpm < ANSWERS) {
            return Ok(Seen::Nothing);
        }
        let corners: Vec<&'static str> = layout.places.iter().map(|place| place.corner).collect();
        let digits = (0..corners.len()).filter_map(|at| char::from_digit(u32::try_from(at).ok()? + 1, 10));
        let mut choices: Vec<(char, String)> = digits.zip(corners.iter().map(|&corner| corner.to_owned())).collect();
        choices.push(('n', "none of them".to_owned()));
        // Keys are corners: on many a board motor 1 sits elsewhere than the first of them.
        let title = format!("Where did a motor turn? ({round})");
        let Some(key) = self.ask_turned(Turned::Corner(corners), &title, choices).await? else {
            return Ok(Seen::Again);
        };
        let corner = key.to_digit(10).and_then(|digit| usize::try_from(digit).ok()?.checked_sub(1));
        let Some((corner, place)) = corner.and_then(|corner| Some((corner, *layout.places.get(corner)?))) else {
            return Ok(Seen::Nothing);
        };
        let ways = vec![('c', "clockwise".to_owned()), ('o', "the other way, anticlockwise".to_owned())];
        let Some(clock) = self.ask_turned(Turned::Clock, "Which way did it turn, seen from above?", ways).await? else {
            return Ok(Seen::Again);
        };
        let title = format!("Which way did the outer edge of the {} one move?", place.corner);
        let ways: Vec<(char, String)> = edges(place.bearing).into_iter().map(key_of).collect();
        let Some(edge) = self.ask_turned(Turned::Edge(place), &title, ways).await? else { return Ok(Seen::Again) };
        let edge = edges(place.bearing).into_iter().find(|way| key_of(*way).0 == edge);
        Ok(edge.map_or(Seen::Again, |edge| Seen::Turned(MotorAnswer { corner, clockwise: clock == 'c', edge })))
    }

    /// One question about what was seen; `None`: again.
    async fn ask_turned(
        &self,
        about: Turned,
        title: &str,
        mut choices: Vec<(char, String)>,
    ) -> Result<Option<char>, Fault> {
        choices.push(('a', "again: run it once more".to_owned()));
        let question = self.question(About::Turned(about), title, Vec::new(), Reply::Choice(choices));
        let key = self.ask_choice(question, "which motor turned, and which way").await?;
        Ok((key != 'a').then_some(key))
    }

    /// Shows the motors from above, as they were found.
    pub(in crate::bench) fn prop_map(&self, layout: &MotorLayout, found: &[Turn]) {
        let seen = |(motor, turn): (usize, &Turn)| {
            let right = layout.wanted.get(motor) == Some(turn);
            Some(PropSeen {
                place: *layout.places.get(turn.corner)?,
                motor: motor + 1,
                clockwise: turn.clockwise,
                right,
            })
        };
        self.show(UiEvent::PropMap(found.iter().enumerate().filter_map(seen).collect()));
        for (motor, turn) in found.iter().enumerate() {
            let way = if turn.clockwise { "clockwise" } else { "anticlockwise" };
            self.line(
                Tone::Attested,
                format!("Motor {} sits {} and turns {way}.", motor + 1, layout.corner(turn.corner)),
            );
        }
    }
}

/// What two showings differ in is not known.
pub(in crate::bench) fn same_twice(one: &[Turn], other: &[Turn]) -> Result<(), Fault> {
    let differ: Vec<String> =
        (0..one.len()).filter(|at| one[*at] != other[*at]).map(|at| (at + 1).to_string()).collect();
    if differ.is_empty() {
        return Ok(());
    }
    Err(Fault::Unproved(format!(
        "motors: of motor {} it was said one thing first and another then, so neither is believed; start again, and look \
         from above with the nose ahead",
        differ.join(", ")
    )))
}

/// The sheet's line for motors that were found at other corners than it says, ready to be written there.
fn as_found(layout: &MotorLayout, found: &[Turn]) -> Option<String> {
    let other = found.iter().zip(&layout.wanted).any(|(found, wanted)| found.corner != wanted.corner);
    let corners: Vec<String> = found.iter().map(|turn| format!("\"{}\"", layout.corner(turn.corner))).collect();
    other.then(|| format!("corners = [{}]", corners.join(", ")))
}

/// What is not as it should be, and what would put it right; `None`: nothing is wrong.
pub(in crate::bench) fn wrong(layout: &MotorLayout, found: &[Turn], can: Correctable) -> Option<Vec<String>> {
    let correction = correct(found, &layout.wanted, can)?;
    (!correction.is_nothing()).then(|| words(layout, found, &correction))
}

/// A correction in words: a direction by its corner, as numbers may be exchanged before it.
pub(in crate::bench) fn words(layout: &MotorLayout, found: &[Turn], correction: &Correction) -> Vec<String> {
    let how = if correction.exchange_by_setting { "by setting" } else { "by plugs" };
    let exchanges = correction.exchange.iter().map(|(a, b)| format!("exchange motors {} and {} {how}", a + 1, b + 1));
    let reverse = correction.reverse.iter().filter_map(|motor| found.get(*motor));
    let reverse = reverse.map(|turn| format!("reverse the {} motor by setting", layout.corner(turn.corner)));
    let wires = correction.swap_wires.iter().map(|place| {
        format!(
            "swap any two of the {} motor's three wires, or reverse it in its speed controller",
            layout.corner(*place)
        )
    });
    exchanges.chain(reverse).chain(wires).collect()
}

fn key_of(way: Towards) -> (char, String) {
    let (key, words) = match way {
        Towards::Nose => ('n', "towards the nose"),
        Towards::Tail => ('t', "towards the tail"),
        Towards::Left => ('l', "to the left"),
        Towards::Right => ('r', "to the right"),
    };
    (key, words.to_owned())
}
