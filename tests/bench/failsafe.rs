//! The test of the failsafe: shown on a board that cuts, and ended in time by the tool on one that does not.

use super::stand::{Did, FAILSAFE, Hands, Played, Plot, Stand, Then};
use quadjig::language::recipe::Switch;
use quadjig::rehearsal::operator::Deed;
use quadjig::report::screen::motor_facts;
use quadjig::seam::fault::Fault;
use quadjig::seam::ui::{About, Gesture, UiEvent};
use quadjig::seam::{Event, Key};
use quadjig::virtual_board::{OnLoss, World, WorldConfig};
use std::time::Duration;

/// What is so at a moment.
type Moment = fn(&World) -> bool;

/// The ceiling of one turning, and the flag's own lateness.
const LONGEST: Duration = Duration::from_millis(5100);

fn radio_is_off(world: &World) -> bool {
    world.truth()["radio"]["on"] == false
}

/// How long the craft was armed at the longest, in truth.
fn armed_for(played: &Played) -> Duration {
    let stretches = played.log.truth.chunk_by(|one, next| one.armed == next.armed);
    let armed = stretches.filter(|stretch| stretch[0].armed);
    armed.map(|stretch| stretch[stretch.len() - 1].at.since(stretch[0].at)).max().unwrap()
}

/// Starts of the motors, in truth.
fn starts(played: &Played) -> usize {
    played.log.truth.windows(2).filter(|pair| !pair[0].armed && pair[1].armed).count()
}

fn proof(played: &Played) -> Option<serde_json::Value> {
    let file = played.disk.craft.iter().find(|(path, _)| path.ends_with("proofs.jsonl"))?.1;
    let lines = std::str::from_utf8(file).unwrap().lines().map(|line| serde_json::from_str(line).unwrap());
    lines.into_iter().find(|proof: &serde_json::Value| proof["subject"]["what"] == "failsafe")
}

#[test]
fn a_board_that_cuts_is_shown_to() {
    let mut lost = None;
    let mut cut = None;
    let played = Stand::new(FAILSAFE)
        .plot(Plot::when(
            |board, _| {
                // The board counts from the moment at which its receiver tells it.
                let silent = board.armed() && radio_is_off(board);
                if silent && lost.is_none() {
                    lost = Some(board.now());
                }
                if lost.is_some() && cut.is_none() && !board.armed() {
                    cut = Some(board.now());
                }
                false
            },
            0,
            vec![],
        ))
        .play();
    let log = &played.log;
    assert_eq!(played.result, Some(Ok(())), "{}", log.tail());
    log.motors_turned();
    log.every_frame_is_known();
    assert!(log.shown(|shown| matches!(shown, UiEvent::StopBegins { .. })).is_none());
    assert_eq!(starts(&played), 2, "one to see a disarm obeyed, one to lose the radio\n{}", log.tail());
    assert!(log.says("obeys a disarm over the link"));
    assert!(log.says("Radio back with switch B still on: nothing started."));
    let proof = proof(&played).unwrap();
    let (least, most) = (proof["subject"]["least_ms"].as_f64().unwrap(), proof["subject"]["most_ms"].as_f64().unwrap());
    // From the radio itself, before its receiver noticed: the interval holds it, and is not wide.
    let truth = cut.unwrap().since(lost.unwrap()).as_secs_f64() * 1e3;
    assert!(least <= truth && most >= truth && most - least <= 250.0, "{least} to {most} of {truth}");
    assert!(least <= 500.0, "the recipe sets 500 ms from when the board is told: {least}");
    for name in ["LOSS_ACTION", "LOSS_WAIT_MS", "ARM_CHANNEL", "ARM_FROM", "ARM_TO", "IDLE_US"] {
        assert!(!proof["depends_on"][name].is_null(), "{name} in {proof}");
    }
}

/// A receiver that is slow to notice: motors turn on for longer than the board counts, and that is what is judged.
#[test]
fn the_time_counts_from_the_radio_and_not_from_when_the_board_was_told() {
    for (notices, jitter, within, shown) in
        [(900, 0.7, "3 s", true), (900, 0.7, "1 s", false), (900, 0.0, "1 s", false)]
    {
        let mut config = WorldConfig::default();
        config.receiver.notices_after = Duration::from_millis(notices);
        // Without noise no frame moves, and the hand's signal is all there is.
        config.radio.jitter = jitter;
        let recipe =
            FAILSAFE.replace("after 500 ms", "after 300 ms").replace("within 3 s", &format!("within {within}"));
        let played = Stand::on(&recipe, config).play();
        assert_eq!(played.result == Some(Ok(())), shown, "{within}, {jitter}: {}", played.log.tail());
        let from = if jitter > 0.0 { "from its last frame that moved to rest" } else { "the hand included" };
        assert!(played.log.says(from), "{within}, {jitter}: {}", played.log.tail());
        assert!(played.log.says("from when the board was told"));
        if let Some(proof) = proof(&played) {
            let most = proof["subject"]["most_ms"].as_f64().unwrap();
            assert!((1200.0..1350.0).contains(&most), "900 ms to notice and 300 ms to cut: {most}");
        }
    }
}

#[test]
fn the_question_says_that_the_switch_will_not_stop_them() {
    let played = Stand::new(FAILSAFE).play();
    let [question] = played.log.start_questions()[..] else { panic!("{}", played.log.tail()) };
    let About::Motor(step) = &question.about else { unreachable!() };
    let facts: Vec<String> = motor_facts(step).into_iter().map(|(name, text)| format!("{name}: {text}")).collect();
    let text = facts.join("\n");
    for words in
        ["the radio: switched off", "YOUR SWITCH WILL NOT STOP THEM", "any key: a disarm over the link", "battery plug"]
    {
        assert!(text.contains(words), "{words} in\n{text}");
    }
    assert!(!text.contains("position 0 stops"), "{text}");
    assert!(text.contains("longest time: 5 s a start"), "{text}");
    // No other start has its word.
    assert_eq!(step.word(), "1150 radio off");
}

#[test]
fn a_board_that_holds_is_disarmed_by_command_in_time() {
    let recipe = FAILSAFE.replace("failsafe cut motors after 500 ms\n", "");
    let mut played = Stand::new(&recipe);
    played.after = Duration::from_secs(2);
    let played = played.play();
    let log = &played.log;
    assert!(
        matches!(played.fault(), Fault::Unproved(why) if why.contains("after the radio was lost")),
        "{}",
        log.tail()
    );
    assert_eq!(played.code(), 6);
    log.motors_turned();
    assert!(log.says("Disarmed by command"), "{}", log.tail());
    assert!(armed_for(&played) <= LONGEST, "{:?}", armed_for(&played));
    assert_eq!(starts(&played), 2);
    assert!(proof(&played).is_none());
    // The switch went off before the radio came back.
    let invited = |gesture: &Gesture| {
        let invites = |did: &Did| matches!(did, Did::UiEvent(UiEvent::Invite(asked, ..)) if asked == gesture);
        log.entries.iter().rfind(|entry| invites(&entry.did)).unwrap().at
    };
    let off = Gesture::SwitchTo { switch: Switch("B".to_owned()), position: 0 };
    assert!(log.shown(|s| matches!(s, UiEvent::Invite(asked, ..) if *asked == off)).is_some());
    assert!(invited(&Gesture::Radio { on: true }) > invited(&off), "{}", log.tail());
    assert_eq!(played.board.truth()["radio"]["on"], true);
}

/// What was shown not to stop by itself, or by its switch, starts nothing more; what turns nothing goes on.
#[test]
fn nothing_is_started_after_a_test_of_what_stops_it_failed() {
    let after = "test idle in 2 starts\ntest cut within 900 ms\nnote \"Propellers on.\"\n";
    let noted = |shown: &UiEvent| matches!(shown, UiEvent::StepBegins { title, .. } if title.contains("Propellers on"));
    let failsafe = FAILSAFE.replace("failsafe cut motors after 500 ms\n", "") + after;
    // The cut stands below the failsafe: it may still be tested.
    let played = Stand::new(&failsafe).play();
    let log = &played.log;
    assert_eq!(played.code(), 6, "{}", log.tail());
    assert!(log.says("Left out. The last test of the failsafe was not passed"), "{}", log.tail());
    assert!(log.says("Cut: at worst"), "{}", log.tail());
    assert!(log.says("the propellers stay off") && log.shown(noted).is_none(), "{}", log.tail());
    assert_eq!(starts(&played), 2 + 3, "two of the failsafe, three of the cut\n{}", log.tail());

    let cut = FAILSAFE
        .replace("test failsafe within 3 s\n", &format!("test cut within 200 ms\n{after}"))
        .replace("test cut within 900 ms\n", "test failsafe within 3 s\n");
    let mut config = WorldConfig::default();
    config.conduct.cuts_after = Duration::from_millis(400);
    let played = Stand::on(&cut, config).play();
    let log = &played.log;
    assert_eq!(played.code(), 6, "{}", log.tail());
    assert!(log.says("Left out. The last test of the cut was not passed"), "{}", log.tail());
    assert_eq!(starts(&played), 3, "{}", log.tail());
}

#[test]
fn a_limit_ends_the_wait_before_the_ceiling_does() {
    let recipe = FAILSAFE.replace("after 500 ms", "after 2 s").replace("within 3 s", "within 600 ms");
    let played = Stand::new(&recipe).play();
    assert_eq!(played.code(), 6, "{}", played.log.tail());
    // A second of turning, the hand, the receiver's notice, 600 ms and what may be heard late.
    assert!(armed_for(&played) <= Duration::from_millis(3200), "{:?}", armed_for(&played));
    assert_eq!(starts(&played), 2);
}

#[test]
fn a_limit_that_the_link_cannot_show_turns_nothing() {
    let recipe = FAILSAFE.replace("within 3 s", "within 20 ms");
    let played = Stand::new(&recipe).play();
    assert!(
        matches!(played.fault(), Fault::Unproved(why) if why.contains("the least that can is")),
        "{}",
        played.log.tail()
    );
    assert_eq!(played.code(), 6);
    played.log.nothing_turned();
}

#[test]
fn a_radio_that_stays_on_shows_nothing_and_is_bounded() {
    let mut stand = Stand::new(FAILSAFE);
    stand.hands = Hands::willing(&WorldConfig::default())
        .who_follows(|gesture| matches!(gesture, Gesture::Radio { on: false }).then(Vec::new));
    let played = stand.play();
    assert!(
        matches!(played.fault(), Fault::Unproved(why) if why.contains("not seen to go off")),
        "{}",
        played.log.tail()
    );
    assert!(armed_for(&played) <= LONGEST, "{:?}", armed_for(&played));
}

/// A hand that is late at the radio's switch says nothing of the board: the test comes again, with its question.
#[test]
fn a_hand_that_is_late_at_the_radio_is_asked_again() {
    let off = std::cell::Cell::new(0);
    let config = WorldConfig::default();
    let mut stand = Stand::new(FAILSAFE);
    stand.hands = Hands::willing(&config)
        .who_follows(|gesture| {
            let Gesture::Radio { on: false } = gesture else { return None };
            off.set(off.get() + 1);
            let late = vec![(Duration::from_secs(5), Deed::World("radio off".to_owned()))];
            (off.get() == 1).then_some(late)
        })
        .who_answers(|question| {
            let again = question.about == About::Again;
            again.then(|| vec![(Duration::from_millis(900), Deed::Key(Key::Char('a')))])
        });
    let played = stand.play();
    assert_eq!(played.code(), 0, "{}", played.log.tail());
    assert_eq!((off.get(), starts(&played)), (2, 4), "{}", played.log.tail());
    assert!(armed_for(&played) <= LONGEST, "{:?}", armed_for(&played));
    assert!(proof(&played).is_some());
}

#[test]
fn a_receiver_that_never_tells_the_board_shows_nothing() {
    let mut config = WorldConfig::default();
    config.receiver.on_loss = OnLoss::Hold;
    let played = Stand::on(FAILSAFE, config).play();
    assert!(matches!(played.fault(), Fault::Unproved(why) if why.contains("never learns")), "{}", played.log.tail());
    assert!(armed_for(&played) <= LONGEST, "{:?}", armed_for(&played));
    assert_eq!(starts(&played), 2);
}

#[test]
fn motors_stopped_by_the_switch_are_no_failsafe() {
    for then in [None, Some(Deed::World("radio off".to_owned()))] {
        let mut stand = Stand::new(FAILSAFE);
        let then = &then;
        stand.hands = Hands::willing(&WorldConfig::default()).who_follows(move |gesture| match gesture {
            Gesture::Radio { on: false } => {
                let mut deeds = vec![(Duration::from_millis(300), Deed::World("flip B 0".to_owned()))];
                deeds.extend(then.clone().map(|deed| (Duration::from_millis(320), deed)));
                Some(deeds)
            }
            _ => None,
        });
        let played = stand.play();
        assert!(matches!(played.fault(), Fault::Unproved(_)), "{}", played.log.tail());
        assert_eq!(played.code(), 6);
        assert!(proof(&played).is_none());
    }
}

#[test]
fn a_board_that_starts_again_when_the_radio_returns_is_stopped() {
    let config = WorldConfig { rearms: true, ..WorldConfig::default() };
    let mut stand = Stand::on(FAILSAFE, config);
    stand.after = Duration::from_secs(4);
    let played = stand.play();
    let log = &played.log;
    let Fault::Stopped { reason, .. } = played.fault() else { panic!("{}", log.tail()) };
    assert!(reason.contains("a second time") || reason.contains("driven"), "{reason}");
    log.stop_is_as_promised();
    let again = log.truth.windows(2).filter(|pair| !pair[0].armed && pair[1].armed).nth(1).unwrap()[1].at;
    let took = log.stop().at.since(again);
    assert!(took <= Duration::from_millis(50), "{took:?}\n{}", log.tail());
    assert!(proof(&played).is_none());
}

#[test]
fn a_key_stops_it_with_the_radio_on_off_and_back() {
    let moments: [(&str, Moment); 3] = [
        ("on", |board| board.armed() && !radio_is_off(board)),
        ("off", |board| board.armed() && radio_is_off(board)),
        ("cut", |board| !board.armed() && radio_is_off(board)),
    ];
    for (name, when) in moments {
        let mut stand = Stand::new(FAILSAFE).plot(Plot::when(
            move |board, _| when(board),
            300,
            vec![Then::Event(Event::Key(Key::Char(' ')))],
        ));
        stand.after = Duration::from_secs(2);
        let played = stand.play();
        let log = &played.log;
        log.motors_turned();
        log.stop_is_as_promised();
        assert_eq!(played.code(), 4, "{name}");
        assert!(matches!(played.fault(), Fault::Stopped { confirmed: true, .. }), "{name}\n{}", log.tail());
        if let Some(driven) = log.driven_until().filter(|at| *at > log.stop().at) {
            let took = driven.since(log.stop().at);
            assert!(took <= Duration::from_millis(50), "{name}: driven for another {took:?}");
        }
    }
}

#[test]
fn a_stop_is_not_confirmed_while_nobody_knows_how_the_switch_stands() {
    // The radio stays off, and so does the hand stay away from the switch.
    let mut stand = Stand::new(FAILSAFE).plot(Plot::when(
        |board, _| board.armed() && radio_is_off(board),
        300,
        vec![Then::Event(Event::Key(Key::Char(' ')))],
    ));
    let mut away = false;
    stand.hands = Hands::willing(&WorldConfig::default()).who_follows(move |gesture| {
        away |= *gesture == Gesture::Radio { on: false };
        let ignored = matches!(gesture, Gesture::SwitchTo { position: 0, .. } | Gesture::Radio { on: true });
        (away && ignored).then(Vec::new)
    });
    let played = stand.play();
    let log = &played.log;
    assert!(matches!(played.fault(), Fault::Stopped { confirmed: false, .. }), "{}", log.tail());
    for gesture in [Gesture::SwitchTo { switch: Switch("B".to_owned()), position: 0 }, Gesture::Radio { on: true }] {
        let asked = log
            .entries
            .iter()
            .filter(|entry| entry.at >= log.stop().at)
            .any(|entry| matches!(&entry.did, Did::UiEvent(UiEvent::Invite(asked, ..)) if *asked == gesture));
        assert!(asked, "{gesture:?}\n{}", log.tail());
    }
}

#[test]
fn everything_else_still_stops_while_the_radio_is_off() {
    for line in ["tilt 6.4 -0.2", "battery out"] {
        let stand = Stand::new(FAILSAFE).plot(Plot::when(
            |board, _| board.armed() && radio_is_off(board),
            200,
            vec![Then::Line(line)],
        ));
        let played = stand.play();
        assert!(matches!(played.fault(), Fault::Stopped { .. }), "{line}\n{}", played.log.tail());
        played.log.stop_is_as_promised();
    }
}

#[test]
fn the_radio_may_not_go_before_the_motors_turn() {
    let mut stand = Stand::new(FAILSAFE);
    stand.hands = Hands::willing(&WorldConfig::default()).who_follows(|gesture| match gesture {
        Gesture::SwitchTo { position: 2, .. } => {
            Some(vec![(Duration::from_millis(300), Deed::World("radio off".to_owned()))])
        }
        _ => None,
    });
    let played = stand.play();
    let Fault::Stopped { reason, .. } = played.fault() else { panic!("{}", played.log.tail()) };
    assert!(reason.contains("lost the radio"), "{reason}");
    played.log.nothing_turned();
}

#[test]
fn a_switch_moved_before_the_radio_is_back_leaves_it_open() {
    let mut stand = Stand::new(FAILSAFE);
    stand.hands = Hands::willing(&WorldConfig::default()).who_follows(|gesture| match gesture {
        Gesture::Radio { on: true } => Some(vec![
            (Duration::from_millis(300), Deed::World("flip B 0".to_owned())),
            (Duration::from_millis(600), Deed::World("radio on".to_owned())),
        ]),
        _ => None,
    });
    let played = stand.play();
    assert!(matches!(played.fault(), Fault::Unproved(why) if why.contains("was not seen on")), "{}", played.log.tail());
    assert!(proof(&played).is_none());
}
