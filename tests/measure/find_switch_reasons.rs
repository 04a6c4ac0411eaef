//! Each reason for which a search for a switch ends without an answer, on radios made for it.

use super::dice::Dice;
use super::radio::{Motion, Radio};
use quadjig::measure::find_switch::{NotFound, SwitchFound, SwitchSearch, find};

const THREE: [i64; 3] = [1000, 1500, 2000];

/// Channels 1–4 are sticks, 6 is the switch, noise 2 µs.
fn channels(switch: Motion) -> Vec<Motion> {
    let mut all: Vec<Motion> = [1500, 1500, 1000, 1500, 1000].into_iter().map(Motion::Still).collect();
    all.push(switch);
    all
}

fn search(channels: Vec<Motion>, order: &[usize], stay: i64, expected: Option<usize>) -> Result<SwitchFound, NotFound> {
    let worked = order.iter().map(|p| (*p, stay)).collect();
    let radio = Radio { channels, jitter: 2, missing: 10, worked };
    let (quiet, worked) = radio.frames(&mut Dice::new(7));
    find(&SwitchSearch { quiet: &quiet, worked: &worked, excluded: &[], expected })
}

const TWICE: [usize; 9] = [0, 1, 2, 1, 0, 1, 2, 1, 0];

#[test]
fn a_three_position_switch_is_found() {
    let found = search(channels(Motion::Switch(THREE.to_vec())), &TWICE, 400, Some(3)).unwrap();
    assert_eq!((found.channel, found.whole_rests(), found.reversed), (6, vec![1000, 1500, 2000], false));
    let other_way = search(channels(Motion::Switch(vec![2000, 1500, 1000])), &TWICE, 400, None).unwrap();
    assert_eq!((other_way.whole_rests(), other_way.reversed), (vec![2000, 1500, 1000], true));
}

#[test]
fn nothing_moved() {
    let answer = search(channels(Motion::Still(1000)), &TWICE, 400, None);
    assert_eq!(answer, Err(NotFound::NothingMoved { excluded_moved: vec![] }));
    // 100 µs of range is not yet a movement.
    let small = search(channels(Motion::Switch(vec![1000, 1040, 1090])), &TWICE, 400, None);
    assert_eq!(small, Err(NotFound::NothingMoved { excluded_moved: vec![] }));
}

#[test]
fn an_excluded_channel_is_named_but_not_taken() {
    let worked = TWICE.iter().map(|p| (*p, 400)).collect();
    let radio = Radio { channels: channels(Motion::Switch(THREE.to_vec())), jitter: 2, missing: 10, worked };
    let (quiet, worked) = radio.frames(&mut Dice::new(7));
    let answer = find(&SwitchSearch { quiet: &quiet, worked: &worked, excluded: &[6], expected: None });
    assert_eq!(answer, Err(NotFound::NothingMoved { excluded_moved: vec![6] }));
}

#[test]
fn seen_only_once() {
    let answer = search(channels(Motion::Switch(THREE.to_vec())), &[0, 1, 2, 1, 0], 400, None);
    let Err(NotFound::SeenOnce { channel: 6, rests }) = answer else { panic!("{answer:?}") };
    assert!(rests.len() == 1 && (rests[0] - 2000.0).abs() < 2.0);
}

#[test]
fn started_in_the_middle_and_ended_elsewhere() {
    let middle = search(channels(Motion::Switch(THREE.to_vec())), &[1, 2, 1, 0, 1, 2, 1, 0, 1], 400, None);
    assert!(matches!(middle, Err(NotFound::StartedInTheMiddle { channel: 6, .. })), "{middle:?}");
    let elsewhere = search(channels(Motion::Switch(THREE.to_vec())), &[0, 1, 2, 1, 0, 1, 2], 400, None);
    assert!(matches!(elsewhere, Err(NotFound::EndedElsewhere { channel: 6, .. })), "{elsewhere:?}");
}

#[test]
fn hurried() {
    let answer = search(channels(Motion::Switch(THREE.to_vec())), &TWICE, 90, None);
    assert!(matches!(answer, Err(NotFound::PassedTooQuickly { channel: 6, .. })), "{answer:?}");
}

#[test]
fn another_count_than_the_recipe_says() {
    let answer = search(channels(Motion::Switch(vec![1000, 2000])), &[0, 1, 0, 1, 0], 400, Some(3));
    assert!(
        matches!(&answer, Err(NotFound::CountDiffers { rests, expected: 3, .. }) if rests.len() == 2),
        "{answer:?}"
    );
}

#[test]
fn too_close_and_too_many() {
    let close = search(channels(Motion::Switch(vec![1000, 1050, 1200])), &TWICE, 400, None);
    assert!(matches!(close, Err(NotFound::TooClose { channel: 6, .. })), "{close:?}");
    let seven: Vec<i64> = (0..7).map(|p| 1000 + p * 150).collect();
    let there_and_back: Vec<usize> = (0..7).chain((0..6).rev()).chain(1..7).chain((0..6).rev()).collect();
    let many = search(channels(Motion::Switch(seven)), &there_and_back, 400, None);
    assert_eq!(many, Err(NotFound::TooMany { channel: 6, count: 7 }));
}

#[test]
fn a_stick_is_not_a_switch() {
    let mut all = channels(Motion::Still(1000));
    all[1] = Motion::Bump { rest: 1500, height: 450, from: 300, lasts: 1200 };
    let answer = search(all, &[0, 0, 0, 0, 0], 400, None);
    assert_eq!(answer, Err(NotFound::StickLike { channels: vec![2] }));
}

#[test]
fn a_touched_stick_beside_the_switch_does_no_harm() {
    let mut all = channels(Motion::Switch(THREE.to_vec()));
    all[1] = Motion::Bump { rest: 1500, height: 450, from: 300, lasts: 1200 };
    assert_eq!(search(all, &TWICE, 400, None).map(|found| found.channel), Ok(6));
}

#[test]
fn too_little_heard() {
    let none = find(&SwitchSearch::default());
    assert_eq!(none, Err(NotFound::TooFewFrames { heard: 0, needed: 20 }));
    let worked = TWICE.iter().map(|p| (*p, 400)).collect();
    let radio = Radio { channels: channels(Motion::Switch(THREE.to_vec())), jitter: 2, missing: 10, worked };
    let (quiet, worked) = radio.frames(&mut Dice::new(7));
    let short = find(&SwitchSearch { quiet: &quiet[..40], worked: &worked, ..SwitchSearch::default() });
    assert!(matches!(short, Err(NotFound::QuietTooShort { needed_ms: 1500, .. })), "{short:?}");
    let seldom: Vec<_> = worked.iter().copied().step_by(5).collect();
    let slow = find(&SwitchSearch { quiet: &quiet, worked: &seldom, ..SwitchSearch::default() });
    assert!(matches!(slow, Err(NotFound::TooSlow { .. })), "{slow:?}");
    let torn: Vec<_> = worked.iter().copied().enumerate().filter(|(i, _)| !(50..80).contains(i)).map(|f| f.1).collect();
    let gap = find(&SwitchSearch { quiet: &quiet, worked: &torn, ..SwitchSearch::default() });
    assert!(matches!(gap, Err(NotFound::Gap { .. })), "{gap:?}");
}

#[test]
fn moved_while_hands_were_to_be_off() {
    let worked = TWICE.iter().map(|p| (*p, 400)).collect();
    let radio = Radio { channels: channels(Motion::Switch(THREE.to_vec())), jitter: 2, missing: 1000, worked };
    let (mut quiet, worked) = radio.frames(&mut Dice::new(7));
    quiet[30].pulses[5] = Some(2000);
    let answer = find(&SwitchSearch { quiet: &quiet, worked: &worked, ..SwitchSearch::default() });
    assert!(matches!(answer, Err(NotFound::NotQuiet { channel: 6, .. })), "{answer:?}");
}

#[test]
fn every_reason_says_what_to_do() {
    let sentence = NotFound::SeenOnce { channel: 6, rests: vec![1500.0, 2000.0] }.to_string();
    assert_eq!(sentence, "channel 6 rested only once at 1500, 2000 µs; go through all positions at least twice");
    let known = NotFound::NothingMoved { excluded_moved: vec![3] }.to_string();
    assert!(known.ends_with("(moved, but known as something else: channel 3)"), "{known}");
}
