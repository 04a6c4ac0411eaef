//! Motors asked about by people who err: no wrong map is believed, and every survey ends.
//!
//! `QUADJIG_MAPS=100000 cargo test --release --test all measure::motor_survey` asks so many people about each frame; the
//! suite a share of them.

use super::dice::Dice;
use quadjig::language::recipe::{Frame, Turning};
use quadjig::measure::motor_permutation::{Correctable, Turn, correct};
use quadjig::measure::motor_survey::{MOST_STARTS, MotorAnswer, Survey, Towards, edges};

/// Which way an outer edge really moves, from the rotation itself: on a body that turns by `w` a point at `r` moves by
/// w × r (any text of mechanics), seen from above with the nose ahead.
fn really(bearing: u16, clockwise: bool) -> (f64, f64) {
    let at = (f64::from(bearing) / 10.0).to_radians();
    let (ahead, right) = (at.cos(), at.sin());
    let turn = if clockwise { 1.0 } else { -1.0 };
    (-turn * right, turn * ahead)
}

#[test]
fn an_edge_moves_as_the_rotation_has_it() {
    for frame in Frame::ALL {
        for place in frame.places() {
            for (way, clockwise) in edges(place.bearing).into_iter().zip([true, false]) {
                let (ahead, right) = really(place.bearing, clockwise);
                let along = match way {
                    Towards::Nose => ahead,
                    Towards::Tail => -ahead,
                    Towards::Right => right,
                    Towards::Left => -right,
                };
                assert!(along > 0.7, "{frame:?} {} {way:?}", place.corner);
            }
        }
    }
}

/// On the common quad, seen from above, the front left propeller that sweeps towards the nose at its outside turns
/// clockwise, its neighbours against it.
#[test]
fn neighbours_turn_against_each_other() {
    for frame in Frame::ALL {
        for turning in [Turning::Inward, Turning::Outward] {
            let ways: Vec<bool> = (0..frame.motors()).map(|place| turning.clockwise(place)).collect();
            assert_eq!(ways[0], turning == Turning::Inward);
            assert!((0..ways.len()).all(|at| ways[at] != ways[(at + 1) % ways.len()]), "{frame:?}");
        }
    }
    assert_eq!(edges(Frame::QuadX.places()[0].bearing)[0], Towards::Nose);
}

/// How a person errs: how often, and how often a mistake is made a second time in a row, per cent; a whole start is seen
/// wrong, or single answers are.
#[derive(Debug, Clone, Copy)]
struct Errs {
    often: i64,
    again: i64,
    whole: bool,
}

/// What a person says of starts, with mistakes.
struct Person<'a> {
    bearings: &'a [u16],
    truth: &'a [Turn],
    errs: Errs,
    dice: Dice,
    /// By motor: the mistake that is made once more.
    before: Vec<Option<(usize, bool, bool)>>,
    /// Starts that were looked at.
    starts: u64,
}

impl Person<'_> {
    /// Corner said, and whether clock and edge are told the wrong way round.
    fn mistake(&mut self, motor: usize) -> Option<(usize, bool, bool)> {
        if let Some(again) = self.before[motor].take() {
            return Some(again);
        }
        let (right, count) = (self.truth[motor].corner, self.bearings.len());
        let mut errs = || self.dice.between(0, 99) < self.errs.often;
        let (corner, clock, edge) = (errs(), errs(), errs());
        if !(corner || clock || edge && !self.errs.whole) {
            return None;
        }
        let other = (right + usize::try_from(self.dice.between(1, i64::try_from(count).unwrap() - 1)).unwrap()) % count;
        let edge = if self.errs.whole { clock } else { edge };
        let mistake = (if corner { other } else { right }, clock, edge);
        self.before[motor] = (self.dice.between(0, 99) < self.errs.again).then_some(mistake);
        Some(mistake)
    }

    fn says(&mut self, motor: usize) -> MotorAnswer {
        let Turn { corner: right, clockwise } = self.truth[motor];
        let (corner, clock, edge) = self.mistake(motor).unwrap_or((right, false, false));
        // The edge of the motor that turned, in the two words that fit the corner that was named.
        let (ahead, aside) = really(self.bearings[right], clockwise);
        let [one, other] = edges(self.bearings[corner]);
        let along = |way: Towards| match way {
            Towards::Nose => ahead,
            Towards::Tail => -ahead,
            Towards::Right => aside,
            Towards::Left => -aside,
        };
        let seen = if along(one) >= along(other) { [one, other] } else { [other, one] };
        MotorAnswer { corner, clockwise: clockwise != clock, edge: seen[usize::from(edge)] }
    }

    /// One showing.
    fn shows(&mut self, showing: usize) -> Option<Vec<Turn>> {
        let mut survey = Survey::new(self.bearings, showing);
        let mut last = None;
        loop {
            match survey.next() {
                Err(_) => return None,
                Ok(None) => return survey.map(),
                Ok(Some(motor)) => {
                    assert!(last != Some(motor) || (0..self.truth.len()).any(|other| survey.starts(other) > 0));
                    last = Some(motor);
                    let said = self.says(motor);
                    self.starts += 1;
                    survey.ran(motor, Some(said));
                    assert!(survey.starts(motor) <= MOST_STARTS);
                }
            }
        }
    }
}

/// A map that is believed: both showings, and the same; and after how many starts.
fn believed(frame: Frame, truth: &[Turn], errs: Errs, seed: u64) -> (Option<Vec<Turn>>, u64) {
    let bearings: Vec<u16> = frame.places().iter().map(|place| place.bearing).collect();
    let before = vec![None; truth.len()];
    let mut person = Person { bearings: &bearings, truth, errs, dice: Dice::new(seed), before, starts: 0 };
    let first = person.shows(0);
    let map = first.filter(|first| person.shows(1).as_ref() == Some(first));
    (map, person.starts)
}

fn permutations(count: usize) -> Vec<Vec<usize>> {
    if count == 0 {
        return vec![Vec::new()];
    }
    let shorter = permutations(count - 1);
    let insert = |at: usize| {
        shorter.iter().map(move |rest| {
            let mut all = rest.clone();
            all.insert(at, count - 1);
            all
        })
    };
    (0..count).flat_map(insert).collect()
}

#[test]
fn every_wiring_is_found_by_who_does_not_err() {
    const NEVER: Errs = Errs { often: 0, again: 0, whole: false };
    for (frame, orders) in [(Frame::QuadX, 24), (Frame::QuadPlus, 24), (Frame::HexX, 720)] {
        let all = permutations(frame.motors());
        assert_eq!(all.len(), orders);
        for order in all {
            for ways in 0..1_u32 << order.len() {
                let turn = |(at, corner): (usize, &usize)| Turn { corner: *corner, clockwise: ways >> at & 1 == 1 };
                let truth: Vec<Turn> = order.iter().enumerate().map(turn).collect();
                let (map, starts) = believed(frame, &truth, NEVER, 1);
                assert_eq!(map.as_ref(), Some(&truth), "{frame:?}");
                // The price of who does not err.
                let each = if frame.motors() > 4 { 6 } else { 5 };
                assert_eq!(starts, each * truth.len() as u64, "{frame:?}");
                let wanted: Vec<Turn> = (0..order.len())
                    .map(|corner| Turn { corner, clockwise: Turning::Inward.clockwise(corner) })
                    .collect();
                let can = Correctable { order: true, reversal: true };
                assert!(correct(&truth, &wanted, can).is_some());
            }
        }
    }
}

/// How many of so many people end with the right map, refused, and with a wrong one; and all their starts.
fn told(frame: Frame, errs: Errs, seeds: u64) -> [u64; 4] {
    let mut told = [0; 4];
    for seed in 1..=seeds {
        let mut dice = Dice::new(seed ^ 0x5eed);
        let mut corners: Vec<usize> = (0..frame.motors()).collect();
        for last in (1..corners.len()).rev() {
            corners.swap(last, usize::try_from(dice.between(0, i64::try_from(last).unwrap())).unwrap());
        }
        let truth: Vec<Turn> = corners.into_iter().map(|corner| Turn { corner, clockwise: dice.once_in(2) }).collect();
        let (map, starts) = believed(frame, &truth, errs, seed);
        told[3] += starts;
        match map {
            Some(map) if map == truth => told[0] += 1,
            None => told[1] += 1,
            Some(_) => told[2] += 1,
        }
    }
    told
}

#[test]
#[expect(clippy::print_stdout, clippy::cast_precision_loss, reason = "the figures, for whoever asks for many")]
fn no_wrong_map_is_believed_of_who_errs() {
    let seeds = std::env::var("QUADJIG_MAPS").ok().and_then(|count| count.parse().ok()).unwrap_or(2000);
    for frame in [Frame::QuadX, Frame::QuadPlus, Frame::HexX, Frame::OctoX] {
        for (often, again) in [(5, 0), (5, 50), (5, 100)] {
            let errs = Errs { often, again, whole: false };
            let [right, refused, wrong, starts] = told(frame, errs, seeds);
            let each = starts as f64 / (seeds * frame.motors() as u64) as f64;
            println!("{frame:?} {errs:?}: {right} right, {refused} refused, {wrong} wrong, {each:.2} starts a motor");
            assert_eq!(wrong, 0, "{frame:?} {errs:?}");
            assert!(right * 2 > seeds, "{frame:?} {errs:?}: {right} of {seeds}");
        }
        // Who sees a whole start the wrong way round tells it the same in both ways: of a twentieth five times running,
        // and never otherwise, a few in ten million for each motor.
        let errs = Errs { often: 5, again: 0, whole: true };
        let [right, refused, wrong, starts] = told(frame, errs, seeds);
        let each = starts as f64 / (seeds * frame.motors() as u64) as f64;
        println!("{frame:?} {errs:?}: {right} right, {refused} refused, {wrong} wrong, {each:.2} starts a motor");
        assert_eq!(wrong, 0, "{frame:?} {errs:?}");
    }
}

#[test]
fn who_never_says_the_same_is_refused() {
    let bearings: Vec<u16> = Frame::QuadX.places().iter().map(|place| place.bearing).collect();
    let mut survey = Survey::new(&bearings, 0);
    let mut runs = 0_usize;
    while let Ok(Some(motor)) = survey.next() {
        let corner = runs % 4;
        survey.ran(motor, Some(MotorAnswer { corner, clockwise: true, edge: edges(bearings[corner])[0] }));
        runs += 1 + runs % 3;
        assert!(runs < 1000);
    }
    assert!(survey.map().is_none() || survey.next().is_ok());
    let mut again = Survey::new(&bearings, 0);
    let mut starts = 0;
    while let Ok(Some(motor)) = again.next() {
        again.ran(motor, None);
        starts += 1;
    }
    assert!(again.next().is_err() && starts <= 4 * MOST_STARTS, "{starts}");
}
