//! Everything that must stop turning motors does, at once, and nothing moves after it.

use super::stand::{CUT, Did, Hands, Played, Plot, SIGNAL, START, Stand, Then};
use quadjig::board::mavlink::FrameClass;
use quadjig::rehearsal::operator::Deed;
use quadjig::seam::fault::Fault;
use quadjig::seam::ui::{Gesture, UiEvent};
use quadjig::seam::{Event, Key, SystemSignal};
use quadjig::virtual_board::WorldConfig;
use std::time::Duration;

/// Motors of the Wren coast for this long at most after their outputs are at rest.
const COAST: Duration = Duration::from_secs(3);

/// Plays with this happening while motors turn; they did, and they stand at the end of what is watched.
#[track_caller]
fn while_turning(recipe: &str, then: Vec<Then>) -> Played {
    // The operator's hand reaches the switch half a second later.
    let mut stand =
        Stand::new(recipe).plot(Plot::turning(400, then)).plot(Plot::turning(900, vec![Then::Line("flip B 0")]));
    stand.after = Duration::from_secs(4);
    let played = stand.play();
    played.log.motors_turned();
    played.log.every_frame_is_known();
    assert_eq!(played.code(), 4, "{}", played.log.tail());
    played
}

#[track_caller]
fn stops(recipe: &str, event: Event) {
    let words = format!("{event:?}");
    let played = while_turning(recipe, vec![Then::Event(event)]);
    let log = &played.log;
    log.stop_is_as_promised();
    assert_eq!(log.stop().event, log.event(&words).event, "{}", log.tail());
    let driven = log.driven_until().unwrap().since(log.stop().at);
    assert!(driven <= Duration::from_millis(50), "driven for another {driven:?}\n{}", log.tail());
    let still = log.still_since().unwrap();
    assert!(still.since(log.stop().at) < COAST, "still at {still:?}\n{}", log.tail());
    assert!(matches!(played.fault(), Fault::Stopped { confirmed: true, .. }), "{}", log.tail());
    assert!(!log.says("is being sent already"), "the first of it: {}", log.tail());
}

#[test]
fn any_key_stops() {
    for key in [Key::Char(' '), Key::Char('q'), Key::Enter, Key::Backspace, Key::Escape, Key::Interrupt, Key::Other] {
        stops(START, Event::Key(key));
        stops(SIGNAL, Event::Key(key));
    }
}

#[test]
fn a_paste_and_a_closed_terminal_stop() {
    for recipe in [START, SIGNAL, CUT] {
        stops(recipe, Event::Paste);
        stops(recipe, Event::EndOfInput);
    }
}

/// A part of the program that breaks down does not leave motors to the rest of it.
#[test]
fn a_thread_that_ended_stops_and_at_rest_ends_the_run() {
    for name in ["keys", "writer", "reader", "screen", "files", "signals"] {
        stops(START, Event::ThreadEnded(name));
        stops(SIGNAL, Event::ThreadEnded(name));
    }
    let stand = Stand::new(START).plot(Plot::when(|_, _| true, 50, vec![Then::Event(Event::ThreadEnded("files"))]));
    let played = stand.play();
    played.log.nothing_turned();
    assert_eq!(played.fault(), &Fault::Broken("the program's files thread ended".to_owned()), "{}", played.log.tail());
    assert_eq!(played.code(), 70);
}

#[test]
fn every_signal_stops() {
    use SystemSignal::{HangUp, Interrupt, Quit, TerminalStop, Terminate};
    for signal in [Interrupt, Terminate, HangUp, Quit, TerminalStop] {
        stops(START, Event::Signal(signal));
        stops(SIGNAL, Event::Signal(signal));
    }
}

#[test]
fn a_signal_or_ctrl_c_at_rest_with_the_battery_in_stops_too() {
    for event in [|| Event::Signal(SystemSignal::Terminate), || Event::Key(Key::Interrupt)] {
        let mut stand = Stand::new(START).plot(Plot::when(
            |board, log| board.pack_volts() > 1.0 && log.says("The battery is in"),
            100,
            vec![Then::Event(event())],
        ));
        stand.after = Duration::from_secs(2);
        let played = stand.play();
        played.log.stop_is_as_promised();
        played.log.nothing_turned();
        assert_eq!(played.code(), 4);
    }
}

#[test]
fn a_broken_guard_stops() {
    let cases = [
        ("radio off", ["radio"; 2]),
        // The board's mixer may raise the outputs before the channel is heard.
        ("stick throttle -60%", ["throttle", "is driven at"]),
        ("tilt 6.4 -0.2", ["moved", "is driven at"]),
        ("tilt 0.3 5.9", ["moved", "is driven at"]),
        ("battery out", ["battery"; 2]),
    ];
    for (line, [why, or]) in cases {
        let played = while_turning(START, vec![Then::Line(line)]);
        played.log.stop_is_as_promised();
        let Fault::Stopped { reason, .. } = played.fault() else { panic!("{line}\n{}", played.log.tail()) };
        assert!(reason.contains(why) || reason.contains(or), "{line}: {reason}");
    }
}

#[test]
fn a_guard_that_breaks_is_seen_in_time() {
    for (line, most) in [("stick throttle -60%", 100), ("tilt 6.4 -0.2", 150), ("radio off", 300)] {
        let mut broke = None;
        let played = {
            let stand = Stand::new(START)
                .plot(Plot::turning(400, vec![Then::Line(line)]))
                .plot(Plot::turning(900, vec![Then::Line("flip B 0")]))
                .plot(Plot::when(
                    |board, _| {
                        let truth = board.truth();
                        let off = truth["radio"]["on"] == false;
                        let up = truth["radio"]["sticks"]["throttle"].as_f64().unwrap() > 1100.0;
                        let tilted = truth["attitude"]["roll"].as_f64().unwrap() > 6.0;
                        if (off || up || tilted) && broke.is_none() && truth["speeds"][0].as_f64().unwrap() > 1000.0 {
                            broke = Some(board.now());
                        }
                        false
                    },
                    0,
                    vec![],
                ));
            stand.play()
        };
        let took = played.log.stop().at.since(broke.unwrap());
        assert!(took <= Duration::from_millis(most), "{line}: {took:?}");
    }
}

#[test]
fn the_cable_pulled_while_motors_turn_leaves_the_large_words() {
    let played = while_turning(START, vec![Then::Line("usb out")]);
    let log = &played.log;
    assert!(matches!(played.fault(), Fault::Stopped { confirmed: false, .. }), "{}", log.tail());
    let words = log.shown(|shown| matches!(shown, UiEvent::PullTheBattery)).unwrap();
    let took = words.at.since(log.stop().at);
    assert!(took <= Duration::from_millis(350), "{took:?}");
    assert!(log.says("pull the battery"), "{}", log.tail());
}

#[test]
fn a_stop_that_works_at_once_needs_neither_force_nor_large_words() {
    // The operator's hand is at the switch: off 200 ms after the key.
    for (recipe, line) in [(START, Some("flip B 0")), (SIGNAL, None)] {
        let mut stand = Stand::new(recipe).plot(Plot::turning(400, vec![Then::Event(Event::Key(Key::Char(' ')))]));
        stand.plots.extend(line.map(|line| Plot::turning(600, vec![Then::Line(line)])));
        let played = stand.play();
        let log = &played.log;
        assert!(matches!(played.fault(), Fault::Stopped { confirmed: true, .. }), "{}", log.tail());
        assert!(!forced(&played), "{}", log.tail());
        assert!(log.shown(|shown| matches!(shown, UiEvent::PullTheBattery)).is_none(), "{}", log.tail());
        let confirmed = log.shown(|shown| matches!(shown, UiEvent::StopConfirmed)).unwrap();
        let still = log.still_since().unwrap();
        assert!(confirmed.at.since(still) >= Duration::from_millis(900), "still {still:?}, {:?}", confirmed.at);
    }
}

/// Hands that arm when invited and leave the switch on when a stop asks for it.
fn left_on() -> Hands<'static> {
    Hands::willing(&WorldConfig::default()).who_follows(|gesture| match gesture {
        Gesture::SwitchTo { position: 0, .. } => Some(Vec::new()),
        _ => None,
    })
}

fn forced(played: &Played) -> bool {
    played.log.entries.iter().any(|entry| matches!(entry.did, Did::Frame { forced: true, .. }))
}

#[test]
fn a_switch_left_on_keeps_a_stop_from_being_confirmed() {
    // The operator does nothing about the switch: it stays on, the board disarmed by command.
    let mut stand = Stand::new(START).plot(Plot::turning(400, vec![Then::Event(Event::Key(Key::Char(' ')))]));
    stand.hands = left_on();
    stand.after = Duration::from_secs(1);
    let played = stand.play();
    let log = &played.log;
    assert!(matches!(played.fault(), Fault::Stopped { confirmed: false, .. }), "{}", log.tail());
    assert!(log.shown(|shown| matches!(shown, UiEvent::StopConfirmed)).is_none());
    assert!(
        log.shown(|shown| matches!(shown, UiEvent::Invite(Gesture::SwitchTo { position: 0, .. }, text, ..) if text.contains("still on"))).is_some(),
        "{}",
        log.tail()
    );

    let mut stand = Stand::new(START)
        .plot(Plot::turning(400, vec![Then::Event(Event::Key(Key::Char(' ')))]))
        .plot(Plot::turning(4000, vec![Then::Line("flip B 0")]));
    stand.hands = left_on();
    let played = stand.play();
    assert!(matches!(played.fault(), Fault::Stopped { confirmed: true, .. }), "{}", played.log.tail());
    let confirmed = played.log.shown(|shown| matches!(shown, UiEvent::StopConfirmed)).unwrap();
    assert!(confirmed.at.since(played.log.stop().at) >= Duration::from_millis(4500));
}

#[test]
fn a_board_that_arms_again_leaves_the_large_words_and_is_forced_late() {
    let config = WorldConfig { rearms: true, ..WorldConfig::default() };
    let mut stand = Stand::on(START, config)
        .plot(Plot::turning(400, vec![Then::Event(Event::Key(Key::Char(' ')))]))
        .plot(Plot::turning(4000, vec![Then::Line("flip B 0")]));
    stand.hands = left_on();
    let played = stand.play();
    let log = &played.log;
    log.stop_is_as_promised();
    // It ends only with the switch off: nothing is given up while motors are driven.
    assert!(matches!(played.fault(), Fault::Stopped { confirmed: true, .. }), "{}", log.tail());
    assert!(log.shown(|shown| matches!(shown, UiEvent::PullTheBattery)).is_some());
    let stop = log.stop().at;
    let first = log.entries.iter().find(|entry| matches!(entry.did, Did::Frame { forced: true, .. })).unwrap();
    assert!(first.at.since(stop) >= Duration::from_millis(300), "forced after {:?}", first.at.since(stop));
}

#[test]
fn an_operator_who_never_switches_off_is_disarmed_by_command_and_goes_on() {
    let mut offs = 0;
    let mut stand = Stand::new(START);
    stand.hands = Hands::willing(&WorldConfig::default()).who_follows(|gesture| match gesture {
        Gesture::SwitchTo { position: 0, .. } => {
            offs += 1;
            // The hand is slow each first time, and follows when asked again.
            (offs % 2 == 1).then(Vec::new)
        }
        _ => None,
    });
    let played = stand.play();
    let log = &played.log;
    log.motors_turned();
    assert_eq!(played.result, Some(Ok(())), "{}", log.tail());
    assert!(log.shown(|shown| matches!(shown, UiEvent::StopBegins { .. })).is_none());
    let disarms = log.sent(FrameClass::Stop);
    assert!(disarms.len() >= 2, "{}", log.tail());
    assert!(disarms.iter().all(|e| matches!(e.did, Did::Frame { overtaking: false, forced: false, .. })));
    assert!(log.says("Disarmed by command"));
}

#[test]
fn a_cut_by_a_switch_that_stays_on_is_bounded_too() {
    let mut stand = Stand::new(CUT);
    stand.hands = Hands::willing(&WorldConfig::default()).who_follows(|gesture| match gesture {
        Gesture::SwitchTo { position: 0, .. } => Some(Vec::new()),
        _ => None,
    });
    stand.after = Duration::from_secs(5);
    let played = stand.play();
    let armed: Vec<_> = played.log.truth.iter().filter(|truth| truth.armed).collect();
    let longest = armed.last().unwrap().at.since(armed[0].at);
    // One second of turning, 1.5 s for the hand, at most two over, and the flag's own lateness.
    assert!(longest <= Duration::from_millis(4700), "armed for {longest:?}\n{}", played.log.tail());
    assert_ne!(played.code(), 0);
}

#[test]
fn an_arming_after_the_invitation_is_a_stop() {
    // The hand comes to the switch around the invitation's end, 20 s after it was given.
    let mut late = 0;
    for reach in (19_600..20_700).step_by(60) {
        let mut stand = Stand::new(START);
        stand.hands = Hands::willing(&WorldConfig::default()).who_follows(move |gesture| match gesture {
            Gesture::SwitchTo { position: 2, .. } => {
                Some(vec![(Duration::from_millis(reach), Deed::World("flip B 2".to_owned()))])
            }
            _ => None,
        });
        stand = stand.plot(Plot::when(|board, _| board.armed(), 700, vec![Then::Line("flip B 0")]));
        let played = stand.play();
        let log = &played.log;
        let armed = log.truth.iter().any(|truth| truth.armed);
        let start = log.shown(|shown| matches!(shown, UiEvent::Start(_))).is_some();
        if armed && !start {
            late += 1;
            log.stop_is_as_promised();
        }
        assert!(armed || matches!(played.fault(), Fault::TimedOut { .. }), "{reach} ms\n{}", log.tail());
    }
    assert!(late >= 5, "only {late} came late");
}

#[test]
fn an_invitation_that_nobody_takes_ends_the_run_without_a_stop() {
    let mut stand = Stand::new(START);
    stand.hands = Hands::willing(&WorldConfig::default())
        .who_follows(|gesture| matches!(gesture, Gesture::SwitchTo { position: 2, .. }).then(Vec::new));
    let played = stand.play();
    assert!(matches!(played.fault(), Fault::TimedOut { .. }));
    assert_eq!(played.code(), 4);
    played.log.nothing_turned();
}

#[test]
fn an_arming_that_nobody_asked_for_is_stopped_within_50_ms() {
    // While the motor question stands, and in a quiet moment before it.
    for moment in ["question", "quiet"] {
        let mut stand = Stand::new(START).plot(Plot::when(
            move |board, log| {
                board.pack_volts() > 1.0
                    && if moment == "quiet" { log.says("The battery is in") } else { !log.motor_questions().is_empty() }
            },
            300,
            vec![Then::Line("flip B 2")],
        ));
        stand = stand.plot(Plot::when(|board, _| board.armed(), 500, vec![Then::Line("flip B 0")]));
        stand.after = Duration::from_secs(4);
        let played = stand.play();
        let log = &played.log;
        log.stop_is_as_promised();
        let armed = log.truth.iter().find(|truth| truth.armed).unwrap().at;
        let took = log.stop().at.since(armed);
        assert!(took <= Duration::from_millis(50), "{moment}: {took:?}\n{}", log.tail());
        assert_eq!(played.code(), 4);
    }
}

#[test]
fn found_armed_at_connect_is_only_looked_at() {
    let bound = Stand::new(START).play();
    assert_eq!(bound.result, Some(Ok(())));
    let mut board = bound.board;
    let now = board.now();
    board.line(now, "flip B 2").unwrap();
    board.advance(now + Duration::from_secs(1));
    let mut stand = Stand::new(START);
    stand.board = board;
    stand.after = Duration::from_secs(1);
    let played = stand.play();
    assert!(played.log.truth[0].armed, "the craft was not armed");
    assert_eq!(played.fault(), &Fault::FoundArmed);
    assert_eq!(played.code(), 4);
    let classes: Vec<_> = played.log.spied.iter().flat_map(|(_, bytes)| super::stand::classed(bytes)).collect();
    // Not even a sign of life: some boards start something of their own on hearing one.
    for (class, ..) in classes {
        assert!(matches!(class, Some(FrameClass::Looks)), "{class:?}");
    }
    assert!(played.board.armed(), "it was disarmed");
}

#[test]
fn ctrl_c_at_a_craft_found_armed_only_closes() {
    let mut board = Stand::new(START).play().board;
    let now = board.now();
    board.line(now, "flip B 2").unwrap();
    board.advance(now + Duration::from_secs(1));
    let mut stand = Stand::new(START).plot(Plot::when(
        |_, log| !log.sent(FrameClass::Looks).is_empty(),
        50,
        vec![Then::Event(Event::Key(Key::Interrupt))],
    ));
    stand.board = board;
    let played = stand.play();
    assert_eq!(played.code(), 4);
    assert_eq!(played.log.sent(FrameClass::Stop).len(), 0);
    assert!(played.board.armed());
}
