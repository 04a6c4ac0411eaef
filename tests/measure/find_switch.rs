//! The search for a switch over many synthetic radios: never a wrong card, an answer wherever one is possible.

use super::dice::Dice;
use super::radio::{Motion, Radio, well_worked};
use quadjig::measure::find_switch::{NotFound, SwitchFound, SwitchSearch, find};

/// Radios looked at here; 20,000 of the same generator hold as well and take ten seconds.
const RADIOS: u64 = 3000;

struct Truth {
    channel: u32,
    rests: Vec<i64>,
    dragged: Vec<u32>,
}

/// Rest pulses, position 0 first: 2 to 6, spread over most of the travel, every second one reversed.
fn rests(dice: &mut Dice) -> Vec<i64> {
    let positions = dice.between(2, 6);
    let (low, high) = (dice.between(980, 1060), dice.between(1900, 2020));
    let mut rests: Vec<i64> = (0..positions)
        .map(|p| {
            let even = low + (high - low) * p / (positions - 1);
            let inner = p > 0 && p < positions - 1;
            if inner { even + dice.between(-25, 25) } else { even }
        })
        .collect();
    if dice.once_in(2) {
        rests.reverse();
    }
    rests
}

fn radio(seed: u64) -> (Radio, Truth, Dice) {
    let mut dice = Dice::new(seed);
    let rests = rests(&mut dice);
    let own = usize::try_from(dice.between(4, 11)).unwrap();
    let mut channels: Vec<Motion> = (0..12).map(|c| Motion::Still(if c == 2 { 1000 } else { 1500 })).collect();
    for (index, other) in channels.iter_mut().enumerate().skip(4) {
        if index != own && dice.once_in(2) {
            *other = Motion::Still([1000, 1500, 2000][usize::try_from(dice.between(0, 2)).unwrap()]);
        }
    }
    let worked = well_worked(rests.len(), &mut dice);
    let total: i64 = worked.iter().map(|w| w.1).sum();
    let mut dragged = Vec::new();
    if dice.once_in(3) {
        channels[2] = Motion::Mix { rest: 1000, pulses: rests.clone(), weight: dice.between(130, 500) };
        dragged.push(3);
    }
    for stick in [0, 1, 3] {
        if dice.once_in(4) {
            let sign = if dice.once_in(2) { -1 } else { 1 };
            let (height, lasts) = (sign * dice.between(60, 400), dice.between(80, 900));
            channels[stick] = Motion::Bump { rest: 1500, height, from: dice.between(0, total - lasts), lasts };
        }
    }
    channels[own] = Motion::Switch(rests.clone());
    let radio = Radio { channels, jitter: dice.between(0, 5), missing: 10, worked };
    let channel = u32::try_from(own).unwrap() + 1;
    (radio, Truth { channel, rests, dragged }, dice)
}

fn right(found: &SwitchFound, truth: &Truth) -> bool {
    let near = |(rest, wanted): (&f64, &i64)| (rest - f64::from(i32::try_from(*wanted).unwrap())).abs() <= 3.0;
    found.channel == truth.channel
        && found.rests.len() == truth.rests.len()
        && found.rests.iter().zip(&truth.rests).all(near)
        && found.reversed == (truth.rests.first() > truth.rests.last())
}

#[test]
fn never_a_wrong_card_and_nearly_always_an_answer() {
    let mut unanswered: Vec<(u64, NotFound)> = Vec::new();
    let mut also_wrong = 0;
    for seed in 0..RADIOS {
        let (radio, truth, mut dice) = radio(seed);
        let (quiet, worked) = radio.frames(&mut dice);
        let expected = seed.is_multiple_of(2).then_some(truth.rests.len());
        match find(&SwitchSearch { quiet: &quiet, worked: &worked, expected, ..SwitchSearch::default() }) {
            Ok(found) => {
                assert!(right(&found, &truth), "radio {seed}: {found:?}, truth {:?}", truth.rests);
                assert!(truth.dragged.iter().all(|c| found.also.contains(c)), "radio {seed}: {:?}", found.also);
                also_wrong += u64::from(found.also != truth.dragged);
                assert!(found.noise <= 9.0, "radio {seed}: {}", found.noise);
            }
            Err(reason) => unanswered.push((seed, reason)),
        }
    }
    assert!(u64::try_from(unanswered.len()).unwrap() * 1000 <= RADIOS, "{unanswered:?}");
    // A stick touched in the very moments of change looks like a mix; it is a remark, not the card.
    assert!(also_wrong * 1000 <= RADIOS, "{also_wrong} radios with a wrong remark about a mix");
}

/// Badly worked: positions hurried through, left out, begun or ended in the wrong place. Any answer must be the truth.
#[test]
fn a_badly_worked_switch_never_gives_a_wrong_card() {
    let mut answered = 0;
    for seed in 0..RADIOS / 2 {
        let (mut radio, truth, mut dice) = radio(100_000 + seed);
        match dice.between(0, 3) {
            0 => radio.worked.iter_mut().for_each(|w| w.1 = dice.between(60, 260)),
            1 => {
                // One position is hurried through every time.
                let hurried = usize::try_from(dice.between(1, 5)).unwrap() % truth.rests.len();
                radio.worked.iter_mut().filter(|w| w.0 == hurried).for_each(|w| w.1 = dice.between(60, 140));
            }
            2 => drop(radio.worked.drain(0..2)),
            _ => radio.worked.truncate(radio.worked.len() - 1),
        }
        let (quiet, worked) = radio.frames(&mut dice);
        if let Ok(found) = find(&SwitchSearch { quiet: &quiet, worked: &worked, ..SwitchSearch::default() }) {
            assert!(right(&found, &truth), "radio {seed}: {found:?}, truth {:?} {:?}", truth.rests, radio.worked);
            answered += 1;
        }
    }
    assert!(answered < RADIOS / 4, "most of these leave no answer, but {answered} were given");
}

/// A mix as strong as the switch itself: the two channels can't be told apart, and no card may come of it.
#[test]
fn a_twin_channel_is_never_guessed_at() {
    for seed in 0..200 {
        let (mut radio, truth, mut dice) = radio(200_000 + seed);
        radio.channels[2] = Motion::Mix { rest: 1000, pulses: truth.rests.clone(), weight: dice.between(700, 1000) };
        let (quiet, worked) = radio.frames(&mut dice);
        let answer = find(&SwitchSearch { quiet: &quiet, worked: &worked, ..SwitchSearch::default() });
        assert!(matches!(&answer, Err(NotFound::Several { channels }) if channels.contains(&3)), "{seed}: {answer:?}");
        let known = find(&SwitchSearch { quiet: &quiet, worked: &worked, excluded: &[3], ..SwitchSearch::default() });
        assert!(known.is_ok_and(|found| right(&found, &truth)), "{seed}: a known stick is left out");
    }
}
