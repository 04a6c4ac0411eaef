//! The search for a switch over many synthetic radios: never a wrong card, an answer wherever one is possible.

use super::dice::Dice;
use super::radio::{Motion, PERIOD_MS, QUIET_MS, Radio, well_worked};
use quadjig::measure::find_switch::{NotFound, SwitchFound, SwitchSearch, find};
use quadjig::measure::frame::ChannelFrame;

/// How many radios are looked at: `QUADJIG_SWITCHES=10000 cargo test --release --test all measure::find_switch -- --nocapture`.
fn radios() -> u64 {
    std::env::var("QUADJIG_SWITCHES").ok().and_then(|count| count.parse().ok()).unwrap_or(3000)
}

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
#[expect(clippy::print_stdout, reason = "figures are printed")]
fn never_a_wrong_card_and_nearly_always_an_answer() {
    let mut unanswered: Vec<(u64, NotFound)> = Vec::new();
    let mut also_wrong = 0;
    for seed in 0..radios() {
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
    println!("{} radios: no wrong card, {} without an answer", radios(), unanswered.len());
    assert!(u64::try_from(unanswered.len()).unwrap() * 1000 <= radios(), "{unanswered:?}");
    // A stick touched in the very moments of change looks like a mix; it is a remark, not the card.
    assert!(also_wrong * 1000 <= radios(), "{also_wrong} radios with a wrong remark about a mix");
}

/// Badly worked: positions hurried through, left out, begun or ended in the wrong place. Any answer must be the truth.
#[test]
fn a_badly_worked_switch_never_gives_a_wrong_card() {
    let mut answered = 0;
    for seed in 0..radios() / 2 {
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
    assert!(answered < radios() / 4, "most of these leave no answer, but {answered} were given");
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

/// What a careless bench does to a search, one thing a radio.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Hazard {
    /// A channel made from the switch's, with fewer rests.
    Derived,
    /// Another switch is touched.
    Touched,
    /// Two rests nearly together.
    Close,
    /// A switch of small travel, and a mix of it over the full travel.
    Small,
    /// The switch is hurried, and another is touched.
    HurriedAndTouched,
}

fn hazard(seed: u64) -> (Radio, Truth, Dice, Hazard) {
    let (mut radio, mut truth, mut dice) = radio(300_000 + seed);
    let own = usize::try_from(truth.channel).unwrap() - 1;
    let total: i64 = radio.worked.iter().map(|w| w.1).sum();
    let index = |dice: &mut Dice, low, high| usize::try_from(dice.between(low, high)).unwrap();
    let other = [4, 5, 6, 7, 8, 9, 10, 11].into_iter().filter(|c| *c != own).nth(index(&mut dice, 0, 6)).unwrap();
    // A mix on a stick beside all that is another test's.
    radio.channels[2] = Motion::Still(1000);
    let flips = |dice: &mut Dice| {
        let mut at: Vec<i64> = (0..dice.between(1, 6)).map(|_| dice.between(0, total)).collect();
        at.sort_unstable();
        Motion::Flipped { pulses: if dice.once_in(2) { [1000, 2000] } else { [2000, 1000] }, at }
    };
    let hazard = [Hazard::Derived, Hazard::Touched, Hazard::Close, Hazard::Small, Hazard::HurriedAndTouched]
        [index(&mut dice, 0, 4)];
    match hazard {
        Hazard::Derived => {
            let cut = index(&mut dice, 1, i64::try_from(truth.rests.len()).unwrap() - 1);
            let pulses = (0..truth.rests.len()).map(|p| if p < cut { 1000 } else { 2000 }).collect();
            radio.channels[other] = Motion::Switch(pulses);
        }
        Hazard::Touched => radio.channels[other] = flips(&mut dice),
        Hazard::HurriedAndTouched => {
            radio.channels[other] = flips(&mut dice);
            radio.worked.iter_mut().for_each(|w| w.1 = dice.between(60, 260));
        }
        Hazard::Close => {
            let place = index(&mut dice, 0, i64::try_from(truth.rests.len()).unwrap() - 2);
            let off = if truth.rests[0] < truth.rests[1] { 1 } else { -1 } * dice.between(14, 60);
            truth.rests[place + 1] = truth.rests[place] + off;
            radio.channels[own] = Motion::Switch(truth.rests.clone());
        }
        Hazard::Small => {
            let (low, travel) = (dice.between(1200, 1400), dice.between(120, 600));
            let (first, span) = (
                truth.rests[0].min(*truth.rests.last().unwrap()),
                (truth.rests[0] - truth.rests.last().unwrap()).abs(),
            );
            truth.rests.iter_mut().for_each(|rest| *rest = low + (*rest - first) * travel / span);
            radio.channels[own] = Motion::Switch(truth.rests.clone());
            let onto = if dice.once_in(2) { other } else { 2 };
            let weight = 1000 * dice.between(700, 1000) / travel;
            radio.channels[onto] = Motion::Mix { rest: 1000, pulses: truth.rests.clone(), weight };
        }
    }
    (radio, truth, dice, hazard)
}

/// Whether the frames that came leave one answer, by the radio's own truth: the switch stood long enough in each of its
/// positions, twice at least, its rests far enough apart (procedures: 150 ms, 60 µs), and no other channel that jumps
/// could be the worked one: it stands at another number of pulses than the recipe says. Without a count any could be.
fn possible(radio: &Radio, truth: &Truth, worked: &[ChannelFrame], expected: Option<usize>) -> bool {
    let own = usize::try_from(truth.channel).unwrap() - 1;
    let heard: Vec<i64> = worked.iter().map(|f| i64::try_from(f.at.0).unwrap() / 1000 - QUIET_MS).collect();
    let stays: Vec<&[i64]> = heard.chunk_by(|a, b| radio.position(*a) == radio.position(*b)).collect();
    let long = |stay: &&[i64]| stay[stay.len() - 1] - stay[0] + PERIOD_MS >= 150;
    let twice = |position| stays.iter().filter(|stay| radio.position(stay[0]) == position).count() >= 2;
    let mut rests = truth.rests.clone();
    rests.sort_unstable();
    let seen = stays.iter().all(long)
        && (0..rests.len()).all(twice)
        && rests.windows(2).all(|pair| pair[1] - pair[0] > 60)
        && [stays.first(), stays.last()].iter().all(|stay| stay.is_some_and(|stay| radio.position(stay[0]) == 0));
    let rival = |motion: &Motion| {
        let mut pulses: Vec<i64> = heard.iter().map(|at| radio.clean(motion, *at)).collect();
        pulses.push(radio.clean(motion, -1));
        pulses.sort_unstable();
        pulses.dedup();
        pulses.len() > 1 && expected.is_none_or(|count| count == pulses.len())
    };
    let jumps = |motion: &Motion| !matches!(motion, Motion::Still(_) | Motion::Bump { .. });
    seen && !radio.channels.iter().enumerate().any(|(at, motion)| at != own && jumps(motion) && rival(motion))
}

/// Never a wrong card, whatever else moved (10,000 radios of the same generator hold as well), with the count of the switch's
/// positions and without; and an answer in at least 99.5 of 100 of those in which one is possible.
#[test]
#[expect(clippy::print_stdout, reason = "figures are printed")]
fn whatever_else_moved_there_is_no_wrong_card() {
    let (mut of_possible, mut of_others, mut derived) = ([0, 0], [0, 0], [0, 0]);
    let mut unanswered = Vec::new();
    for seed in 0..radios() {
        let (radio, truth, mut dice, hazard) = hazard(seed);
        let (quiet, worked) = radio.frames(&mut dice);
        let expected = seed.is_multiple_of(2).then_some(truth.rests.len());
        let answer = find(&SwitchSearch { quiet: &quiet, worked: &worked, expected, ..SwitchSearch::default() });
        if let Ok(found) = &answer {
            assert!(
                right(found, &truth),
                "radio {seed}, {hazard:?}: {found:?}, truth {} {:?}",
                truth.channel,
                truth.rests
            );
        }
        if possible(&radio, &truth, &worked, expected) {
            of_possible[usize::from(answer.is_ok())] += 1;
            unanswered.extend(answer.clone().err().map(|reason| (seed, hazard, reason)));
        } else {
            of_others[usize::from(answer.is_ok())] += 1;
        }
        // What has fewer rests than the recipe says is not the switch.
        if hazard == Hazard::Derived && expected.is_some_and(|count| count > 2) {
            derived[usize::from(answer.is_ok())] += 1;
        }
    }
    let ([missed, answered], [refused, beyond]) = (of_possible, of_others);
    println!(
        "{} radios with something else: no wrong card; {answered} answers where one was possible, {missed} not; of the others \
         {beyond} answers, {refused} refused",
        radios()
    );
    assert!(answered > radios() / 10, "{answered}");
    assert!(missed * 200 <= answered + missed, "{missed} of {}: {unanswered:?}", answered + missed);
    // Whatever is answered beyond that was right, and hardly anything may be: the truth says that it could not be told.
    assert!(beyond * 200 <= radios(), "{beyond} answers where none was possible");
    assert!(
        derived[1] > 100 && derived[1] > 100 * derived[0],
        "with the count the switch of a derived channel is told: {derived:?}"
    );
}

#[test]
fn a_derived_channel_is_not_taken_for_the_switch() {
    let order = [0, 1, 2, 1, 0, 1, 2, 1, 0];
    let mut channels: Vec<Motion> = vec![Motion::Still(1500); 10];
    channels[5] = Motion::Switch(vec![1000, 1500, 2000]);
    channels[9] = Motion::Switch(vec![1000, 2000, 2000]);
    let radio = Radio { channels, jitter: 1, missing: 10, worked: order.iter().map(|p| (*p, 500)).collect() };
    let (quiet, worked) = radio.frames(&mut Dice::new(1));
    let search = SwitchSearch { quiet: &quiet, worked: &worked, ..SwitchSearch::default() };
    assert_eq!(find(&search), Err(NotFound::Several { channels: vec![6, 10] }));
    let counted = find(&SwitchSearch { expected: Some(3), ..search }).unwrap();
    assert_eq!((counted.channel, counted.whole_rests(), counted.also), (6, vec![1000, 1500, 2000], vec![10]));
}
