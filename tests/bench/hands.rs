//! Hands that are early, late or slow: recognised, never judged, and nothing of the run is lost by them.

use super::stand::{CUT, Deeds, Did, Hands, IDLE, Played, START, Stand};
use quadjig::rehearsal::operator::Deed;
use quadjig::seam::Key;
use quadjig::seam::fault::Fault;
use quadjig::seam::ui::{About, Gesture, Question, UiEvent};
use quadjig::virtual_board::WorldConfig;
use std::cell::Cell;
use std::time::Duration;

/// Moves of the world, each after so many milliseconds.
fn moves<const N: usize>(lines: [(u64, &str); N]) -> Deeds {
    lines.into_iter().map(|(after, line)| (Duration::from_millis(after), Deed::World(line.to_owned()))).collect()
}

/// An operator who follows the invitations to arm otherwise; `arms` is told which it is, from 1.
fn arming<'a>(config: &WorldConfig, mut arms: impl FnMut(u32) -> Option<Deeds> + 'a) -> Hands<'a> {
    let mut invited = 0;
    Hands::willing(config).who_follows(move |gesture| {
        let Gesture::SwitchTo { position: 2, .. } = gesture else { return None };
        invited += 1;
        arms(invited)
    })
}

/// What is pressed when it is asked whether something is tried again.
fn pressing(question: &Question, key: char) -> Option<Deeds> {
    (question.about == About::Again).then(|| vec![(Duration::from_millis(900), Deed::Key(Key::Char(key)))])
}

fn asked_again(played: &Played) -> usize {
    played.log.questions().iter().filter(|question| question.about == About::Again).count()
}

fn said(played: &Played, what: &str) -> usize {
    played.log.lines().iter().filter(|line| line.contains(what)).count()
}

/// What was shown and asked, for a test that fails.
fn story(played: &Played) -> String {
    let entries = played.log.entries.iter().filter_map(|entry| {
        let what = match &entry.did {
            Did::UiEvent(UiEvent::Plan(_) | UiEvent::Cautions) => return None,
            Did::UiEvent(UiEvent::Invite(_, sentence, _)) => sentence.clone(),
            Did::UiEvent(shown) => format!("{shown:?}"),
            Did::Asked(question) => format!("? {} {:?}", question.title, question.lines),
            _ => return None,
        };
        Some(format!("{:>7} {}\n", entry.at.0 / 1000, what.chars().take(220).collect::<String>()))
    });
    let told: Vec<String> = entries.collect();
    told[told.len().saturating_sub(45)..].concat()
}

#[track_caller]
fn stops_nothing(played: &Played) {
    let stopped = played.log.shown(|shown| matches!(shown, UiEvent::StopSent { .. }));
    assert!(stopped.is_none(), "{}", story(played));
}

fn kept(played: &Played) -> serde_json::Value {
    played.board.truth()["settings"]["IDLE_US"]["stored"].clone()
}

/// `safety.md`, prompts that are read: a hand that is off too early voids the start; not judged; the next invitation under
/// the same word; at most two voids a value.
#[test]
fn a_switch_off_too_early_voids_its_start_and_the_search_finds_what_steady_hands_find() {
    let config = WorldConfig::default();
    let steady = Stand::new(IDLE).play();
    assert_eq!(steady.code(), 0, "{}", story(&steady));
    // Off while it settles, in the middle of the dwell, and in its last moments.
    for off in [200, 500, 900, 1700, 2400] {
        let mut stand = Stand::new(IDLE);
        stand.hands = arming(&config, |number| {
            [2, 4, 5].contains(&number).then(|| moves([(350, "flip B 2"), (350 + off, "flip B 0")]))
        });
        let played = stand.play();
        assert_eq!(played.code(), 0, "{off}: {}", story(&played));
        assert_eq!(kept(&played), kept(&steady), "{off}");
        assert_eq!(said(&played, "no motor is judged by it"), 3, "{off}: {}", story(&played));
        assert_eq!(asked_again(&played), 0);
        assert_eq!(played.log.motor_questions().len(), steady.log.motor_questions().len(), "under the same word");
    }
}

#[test]
fn a_third_early_hand_at_one_value_is_asked_about_and_its_word_is_typed_anew() {
    let config = WorldConfig::default();
    for (early, questions, key, code) in [(2, 1, 'a', 0), (3, 2, 'a', 0), (3, 1, 'g', 4)] {
        let mut stand = Stand::new(START);
        let hands =
            arming(&config, move |number| (number <= early).then(|| moves([(350, "flip B 2"), (1300, "flip B 0")])));
        stand.hands = hands.who_answers(move |question| pressing(question, key));
        let played = stand.play();
        assert_eq!(played.code(), code, "{early} {key}: {}", story(&played));
        assert_eq!(played.log.start_questions().len(), questions, "{early} {key}: {}", story(&played));
        assert_eq!(asked_again(&played), usize::from(early == 3));
        stops_nothing(&played);
    }
}

/// On a board whose flag comes once a second, hands of every speed: what they are slow by costs time of the motors, never
/// the run, and a switch that is off is not said to be on.
#[test]
fn a_slow_hand_loses_no_run_where_the_flag_comes_once_a_second() {
    for flag_ms in [1000, 100] {
        for reaction in [200, 600, 1000, 1300, 1600, 1900, 4000] {
            let mut config = WorldConfig::default();
            config.conduct.flag_every = Duration::from_millis(flag_ms);
            for recipe in [IDLE, START, CUT] {
                let mut stand = Stand::on(recipe, config.clone());
                let slow = Cell::new(0);
                stand.hands = Hands::willing(&config)
                    .who_follows(|gesture| {
                        let Gesture::SwitchTo { position: 0, .. } = gesture else { return None };
                        slow.set(slow.get() + 1);
                        Some(moves([(reaction, "flip B 0")]))
                    })
                    .who_answers(|question| pressing(question, if recipe == CUT { 'g' } else { 'a' }));
                let played = stand.play();
                // A cut needs its hand in time: it is not judged without, and given up in the end.
                let code = if recipe == CUT && reaction == 4000 { 4 } else { 0 };
                assert_eq!(played.code(), code, "{flag_ms} {reaction} {recipe}: {}", story(&played));
                stops_nothing(&played);
                if reaction < 1300 {
                    assert_eq!(said(&played, "it was still on"), 0, "{flag_ms} {reaction}: {}", story(&played));
                }
            }
        }
    }
}

/// A cut whose hand is early or does not come says nothing of the board.
#[test]
fn a_cut_is_never_judged_by_its_hand() {
    let config = WorldConfig::default();
    let mut stand = Stand::new(CUT);
    stand.hands = arming(&config, |number| (number == 1).then(|| moves([(350, "flip B 2"), (900, "flip B 0")])));
    let played = stand.play();
    assert_eq!(played.code(), 0, "{}", story(&played));
    assert_eq!(said(&played, "no motor is judged by it"), 1);

    let mut stand = Stand::new(CUT);
    let off = Cell::new(0);
    stand.hands = Hands::willing(&config).who_follows(|gesture| {
        let Gesture::SwitchTo { position: 0, .. } = gesture else { return None };
        off.set(off.get() + 1);
        // The first that is asked for while something turns.
        (off.get() == 1).then(|| moves([(5000, "flip B 0")]))
    });
    let played = stand.play();
    assert_eq!(played.code(), 0, "{}", story(&played));
    assert_eq!(said(&played, "not switched off in time"), 1, "{}", story(&played));
}

/// A deadline that passed asks: again, or give up; what was done before stays done.
#[test]
fn a_missed_invitation_is_asked_about_and_loses_nothing() {
    let config = WorldConfig::default();
    for recipe in [IDLE, START, CUT] {
        for (key, code) in [('a', 0), ('g', 4)] {
            let mut stand = Stand::new(recipe);
            let hands = arming(&config, |number| (number == 2).then(Vec::new));
            stand.hands = hands.who_answers(move |question| pressing(question, key));
            let played = stand.play();
            assert_eq!(asked_again(&played), 1, "{recipe}: {}", story(&played));
            assert_eq!(played.code(), code, "{recipe}: {}", story(&played));
            if code == 4 {
                assert!(matches!(played.fault(), Fault::TimedOut { .. }), "{}", story(&played));
            }
            stops_nothing(&played);
        }
    }
}
