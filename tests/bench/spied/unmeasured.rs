//! Boards without a voltage sensor: the battery is in by a typed word, and the word switches nothing off.

use super::{demands, did_not_leave_them_turning, once_turning, stopped_at_once};
use crate::bench::stand::{Hands, keys};
use crate::spy::{Act, Craft, Do, Played, Scene};
use quadjig::rehearsal::operator::{Deed, typed};
use quadjig::seam::Key;
use quadjig::seam::fault::Fault;
use quadjig::seam::ui::{About, Declined, Question};
use quadjig::virtual_board::{BoardKind, Conduct, WorldConfig};
use std::time::Duration;

const START: &str = "require battery in\ntest idle in 1 start\n";
const TAKEN_BACK: &str = "Do NOT plug the battery in; if it is in, take it out at once.";

fn blind(board: BoardKind) -> WorldConfig {
    let conduct = Conduct { voltage_sensor: false, ..Conduct::default() };
    WorldConfig { board, conduct, ..WorldConfig::default() }
}

fn answering<'a>(config: &WorldConfig, answer: impl Fn() -> Vec<(Duration, Deed)> + 'a) -> Hands<'a> {
    Hands::willing(config).who_answers(move |question| (question.about == About::BatteryIn).then(&answer))
}

fn asked(played: &Played) -> Vec<Question> {
    played.log.questions().into_iter().filter(|(_, q)| q.about == About::BatteryIn).map(|(_, q)| q.clone()).collect()
}

#[track_caller]
fn nothing_was_started(played: &Played, what: &str) {
    let starts = played.log.invitations().iter().filter(|(_, text)| text.starts_with("Start ")).count();
    assert_eq!(starts, 0, "{what}\n{}", played.log.tail());
    assert!(played.flat().contains(TAKEN_BACK), "{what}\n{}", played.screen);
    assert!(played.log.fastest(Craft::A) < 1000.0, "{what}\n{}", played.log.tail());
}

#[test]
fn the_word_is_asked_once_and_kept_as_a_word() {
    for board in [BoardKind::Finch, BoardKind::FinchC] {
        let played = Scene::on_bound(&blind(board), START).play();
        assert_eq!(played.result, Ok(()), "{board:?}\n{}", played.log.tail());
        assert_eq!(asked(&played).len(), 1, "{board:?}");
        assert!(played.flat().contains("you said: The battery is in."), "{board:?}\n{}", played.screen);
        assert!(!played.flat().contains("The battery is in:"), "{board:?}: volts, unmeasured\n{}", played.screen);
    }
}

/// What hands do at a question.
type Answering = Box<dyn Fn() -> Vec<(Duration, Deed)>>;

#[test]
fn what_is_no_word_by_hand_starts_nothing() {
    let config = blind(BoardKind::Finch);
    let word = || "battery in".chars().map(Key::Char).chain([Key::Enter]);
    let cases: [(&str, Answering, usize, Declined); 4] = [
        ("Enter alone", Box::new(|| typed("")), 3, Declined::EnterAlone),
        ("another word", Box::new(|| typed("yes")), 3, Declined::WrongWord("yes".to_owned())),
        ("a paste", Box::new(move || keys(900, 3, word())), 3, Declined::Pasted),
        ("escape", Box::new(|| keys(900, 70, [Key::Char('b'), Key::Escape])), 1, Declined::Refused),
    ];
    for (what, answer, times, why) in cases {
        let mut scene = Scene::on_bound(&config, START);
        scene.hands = answering(&config, answer);
        let played = scene.play();
        assert!(
            matches!(&played.result, Err(Fault::Declined { why: said, .. }) if *said == why),
            "{what}: {:?}",
            played.result
        );
        assert_eq!(asked(&played).len(), times, "{what}");
        nothing_was_started(&played, what);
    }
}

/// What makes a plug-in safe is judged while the question stands, and the word comes too late.
#[test]
fn a_guard_that_breaks_while_the_word_is_asked_takes_the_question_back() {
    let config = blind(BoardKind::Finch);
    for (what, moved) in [("throttle", "stick throttle 20%"), ("switch", "flip B 2")] {
        let mut scene =
            Scene::on_bound(&config, START).act(Act::said("Is the battery in?", 1000, vec![Do::Line(moved)]));
        scene.hands = answering(&config, || {
            let mut word = typed("battery in");
            for (at, _) in &mut word {
                *at += Duration::from_secs(2);
            }
            word
        });
        let played = scene.play();
        assert!(played.result.is_err(), "{what}");
        assert_eq!(asked(&played).len(), 1, "{what}");
        let at = played.log.when(moved).expect("it moved");
        let said = played.log.when(TAKEN_BACK).unwrap_or_else(|| {
            // An arming is a stop at once, and the large words are its own.
            assert!(played.log.stopped(), "{what}\n{}", played.log.tail());
            at
        });
        assert!(said.since(at) < Duration::from_millis(400), "{what}: {:?}", said.since(at));
        let starts = played.log.invitations().iter().filter(|(_, text)| text.starts_with("Start ")).count();
        assert_eq!(starts, 0, "{what}");
    }
}

/// A word tells no volts: what needs them is refused by name.
#[test]
fn what_needs_volts_is_refused_by_name() {
    for board in [BoardKind::Finch, BoardKind::FinchC] {
        let played = Scene::on_bound(
            &blind(board),
            "battery 1 cell land at 3.4 V per cell warn at 3.6 V per cell\nrequire battery at least 3.5 V per cell\n",
        )
        .play();
        let refused = matches!(&played.result, Err(Fault::Refused { guard, .. }) if guard.contains("pack voltage"));
        assert!(refused, "{board:?}: {:?}", played.result);
    }
}

#[test]
fn everything_stops_what_a_word_let_begin() {
    for (what, demand) in demands() {
        let played = Scene::on_bound(&blind(BoardKind::Finch), START).act(once_turning(demand)).play();
        assert!(played.log.fastest(Craft::A) > 1000.0, "{what}: nothing turned\n{}", played.log.tail());
        stopped_at_once(&played, what, &demand());
        did_not_leave_them_turning(&played, what);
    }
}

/// The word that it is out again is asked, not measured for ever.
#[test]
fn it_is_out_again_by_a_word() {
    let config = blind(BoardKind::Finch);
    let played = Scene::on_bound(&config, "require battery in\nrequire battery out\nkeep\n").play();
    assert_eq!(played.result, Ok(()), "{}", played.log.tail());
    let out = played.log.questions().iter().filter(|(_, question)| question.about == About::BatteryOut).count();
    assert_eq!(out, 1);
}
